"""What ``stetline flats`` and ``stetline realign`` do.

The automatic part of colouring, for a folder of pages; and what a page has of its own, moved to
where its drawing lies on another scan.
"""

import argparse
import time
from itertools import count
from pathlib import Path

from app.commands import say
from app.commands.asked import cores_of, reading_of
from app.commands.status import ALL_DONE, SOME_FAILED
from app.filters.flats import Flats
from app.kinds import KINDS
from app.pages.listing import book_pages, list_pages
from app.pages.lists import read_list
from app.pages.renditions import Flat, Layered
from app.pages.whole import replace_file
from app.replay.book import plan_job
from app.replay.crew import LocalCrew
from app.replay.job import Job, JobPage, read_job, write_job
from app.replay.journal import Journal
from app.replay.progress import Tally
from app.replay.rescan import realigned
from app.replay.run import run
from core.fault import Fault, Refused
from core.steps.fields import checked
from core.steps.steplist import StepList


def flat_pages(request: argparse.Namespace) -> int:
    """Lay flats on every page; one that fails is named and the rest go on."""
    step = Flats(gap=request.gap, trap=request.trap, smallest=request.smallest)
    faults = checked(step, "stetline flats")
    if faults:
        raise Refused(faults)
    steps = read_list(request.list, KINDS)
    reading = reading_of(request)
    pages, unread = book_pages(request.pages, reading.limits)
    own = StepList("flats", (step,))
    job = Job(
        pages=tuple(JobPage.of(at, own) for at in pages),
        lists=(steps,), into=request.into, reading=reading, report=False,
        renditions=(Layered(request.layered_form), Flat("png"), Flat("tiff")),
    )
    say.faults(unread)
    return SOME_FAILED if _run(request, job) or unread else ALL_DONE


def _run(request: argparse.Namespace, job: Job) -> bool:
    """Do the job; gives whether something failed."""
    planned = plan_job(job, KINDS)
    tally = Tally(len(planned), time.monotonic)
    with Journal(job.into) as journal, LocalCrew(cores_of(request)) as crew:
        journal.begin({"lists": [steps.name for steps in job.lists]})
        with say.progress(tally, quiet=request.quiet, as_json=request.json) as told:
            for event in run(planned, crew, journal=journal, again=request.again):
                told(event)
        say.faults(journal.faults)
        return bool(tally.failed or journal.faults)


def realign_page(request: argparse.Namespace) -> int:
    """Let a page's own steps follow its drawing to another scan, and say what was done."""
    job = read_job(request.job, KINDS)
    number = _number(job, request.page)
    scans, faults = list_pages([request.scan], job.reading.limits)
    if faults:
        raise Refused(faults)
    if len(scans) != 1 and not 1 <= request.number <= len(scans):
        raise Refused(Fault(f"it has {len(scans)} pages", str(request.scan),
                            "say which with --number"))
    scan = scans[max(request.number, 1) - 1]
    made = realigned(job, number, scan)
    kept = _kept(request.job)
    write_job(request.job, made)
    page = made.pages[number - 1]
    own = page.steps
    say.lines([f"Page {number} is now {page.place}; the job as it was is in {kept}."])
    say.numbered(own.sentences() if own else ())
    if page.by_hand:
        say.lines([_unmoved(page)])
    return ALL_DONE


def _unmoved(page: JobPage) -> str:
    """That what was made on the page by hand, of how it lies, does not follow the drawing."""
    words = [{"crop": "crop", "straighten": "angle"}[kind] for kind in page.by_hand]
    one = len(words) == 1
    was = "is as it was" if one else "are as they were"
    return (f"The {' and '.join(words)} made on it by hand {was}"
            f" on the other scan: look whether {'it still fits' if one else 'they still fit'}.")


def _number(job: Job, page: str) -> int:
    """The number of a page of the job that is named by its number or its file.

    The file's name may be without its ending, where no other page's is the same.
    """
    if page.isascii() and page.isdigit():
        found = [int(page)] if 1 <= int(page) <= len(job.pages) else []
    else:
        wanted = Path(page)
        found = [number for number, known in enumerate(job.pages, start=1)
                 if known.path == wanted.absolute() or known.path.name == page]
        found = found or [number for number, known in enumerate(job.pages, start=1)
                          if known.path.stem == page]
    if len(found) != 1:
        raise Refused(Fault(f"{len(found) or 'none'} of the job's {len(job.pages)} pages is so "
                            "named", page, "give its number in the job, from 1"))
    return found[0]


def _kept(job: Path) -> Path:
    """A copy of the job's file beside it, under a name that is free."""
    names = (job.with_name(f"{job.stem}-before-{number}{job.suffix}") for number in count(1))
    copy = next(name for name in names if not name.exists())
    replace_file(copy, job.read_bytes())
    return copy
