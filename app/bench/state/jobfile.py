"""Job files on the bench, where each page carries its whole list with it."""

from dataclasses import replace
from pathlib import Path

from app.kinds import KINDS
from app.replay.job import Job, JobPage, read_job
from core.fault import Refused
from core.steps.steplist import StepList

SUFFIX = ".json"


def open_job(path: Path, *, renew: bool = False) -> Job:
    """The job in a file; Refused where it cannot be read, Outdated where it may be renewed.

    What a page goes through is put together for it, the book's list with its own values and
    steps; replayed, the job writes the same.
    """
    job = read_job(path, KINDS, renew=renew)
    pages = tuple(_with_its_list(job, page) for page in job.pages)
    return replace(job, pages=pages, lists=(), recorded_on=())


def _with_its_list(job: Job, page: JobPage) -> JobPage:
    given = page.given or job.reading.given
    try:
        steps: StepList | None = job.steps_of(page, KINDS)
    except Refused:  # it has none, or values that fit none: the bench proposes one
        steps = page.steps
    return replace(page, list="", values=(), steps=steps, given=given)
