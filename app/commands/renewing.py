"""``stetline renew``: a step list or a job of an older program, brought up to date."""

import argparse
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TypeVar

from app.commands import say
from app.commands.status import ALL_DONE
from app.kinds import KINDS
from app.pages.lists import read_list, write_list
from app.pages.names import check_target
from app.replay.job import FORMAT as JOB
from app.replay.job import is_job_file, read_job, write_job
from core.steps.document import FORMAT as LIST
from core.steps.outdated import renewing

T = TypeVar("T")


def renew(request: argparse.Namespace) -> int:
    """Write the file anew with today's editions; what else it says stays."""
    if is_job_file(request.file):
        return _renewed(request, JOB, read_job, write_job)
    return _renewed(request, LIST, read_list, write_list)


def _renewed(
    request: argparse.Namespace, kind: str, read: Callable[..., T],
    write: Callable[[Path, T], None],
) -> int:
    check_target(request.out, kind, "--out", [request.file])
    found, outdated = renewing(partial(read, request.file, KINDS))
    if outdated is None:
        say.lines([f"{request.file} is up to date, so nothing was written."])
        return ALL_DONE
    write(request.out, found)
    said = "says the same and is up to date. What it does may differ: look at a page before it is"
    say.lines([f"{request.out} {said} printed."])
    return ALL_DONE
