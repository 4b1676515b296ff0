"""What ``stetline flats`` does: the automatic part of colouring, for a folder of pages."""

import argparse
import time

from app import say
from app.asked import cores_of, reading_of
from app.filters.flats import Flats
from app.kinds import KINDS
from app.pages.listing import list_pages
from app.pages.lists import read_list
from app.pages.renditions import Flat, Layered
from app.replay.book import plan_job
from app.replay.crew import LocalCrew
from app.replay.job import Job, JobPage
from app.replay.journal import Journal
from app.replay.progress import Tally
from app.replay.run import run
from core.fault import Fault, Refused
from core.steps.fields import checked
from core.steps.steplist import StepList

ALL_DONE, SOME_FAILED = 0, 1


def flat_pages(request: argparse.Namespace) -> int:
    """Lay flats on every page; one that fails is named and the rest go on."""
    step = Flats(gap=request.gap, trap=request.trap, smallest=request.smallest)
    faults = checked(step, "stetline flats")
    if faults:
        raise Refused(faults)
    steps = read_list(request.list, KINDS)
    reading = reading_of(request)
    pages, unread = list_pages(request.pages, reading.limits)
    if not pages:
        raise Refused(unread or (Fault("there is no page to do", str(request.list)),))
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
