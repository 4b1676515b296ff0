"""A page that was scanned again: its own steps, whose places are mm of a scan, follow it."""

from dataclasses import replace

from app.filters.realign import find_placing, from_scan_to_scan, has_places, moved
from app.kinds import KINDS
from app.pages.listing import PageAt
from app.replay.digest import Stamp, digest_of, stamp_of
from app.replay.job import Job, JobPage
from app.replay.journal import Journal
from app.replay.page import lifted, read_page
from app.replay.records import load
from core.fault import Fault, Refused
from core.sheet import Sheet, whole
from core.steps.fields import Reader
from core.steps.fold import replay
from core.steps.steplist import StepList, dump_steps


def realigned(job: Job, number: int, scan: PageAt) -> Job:
    """The job with its page ``number``, from 1, taken from another scan of the same sheet.

    What the page has of its own keeps its places on the drawing: line art is made from both
    scans and laid one over the other. Refused where the drawing is not found again.
    """
    page = job.pages[number - 1]
    before = _line_art(job, page)
    page, after = _scanned_again(job, page, scan)
    found = find_placing(before, after)
    if found is None:
        raise Refused(Fault(
            f"the drawing of {job.pages[number - 1].place} is not found on it, so nothing was "
            "moved", page.place, "look whether it is a scan of the same page, the same way up",
        ))
    if page.steps is not None:
        placing = from_scan_to_scan(before.placing, found, after.placing)
        steps = tuple(moved(step, placing) for step in page.steps.steps)
        page = replace(page, steps=replace(page.steps, steps=steps))
    return replace(job, pages=(*job.pages[: number - 1], page, *job.pages[number:]))


def _scanned_again(job: Job, page: JobPage, scan: PageAt) -> tuple[JobPage, Sheet]:
    """The page on its new scan, with its line art.

    A resolution that was given for the old file holds only where the new one states none.
    """
    page = replace(page, path=scan.path, number=scan.number, count=scan.count)
    try:
        return replace(page, given=None), _line_art(job, replace(page, given=None))
    except Refused:
        if page.given is None:
            raise
        return page, _line_art(job, page)


def _line_art(job: Job, page: JobPage) -> Sheet:
    """The page's line art before any step of its own that holds places."""
    own = tuple(step for step in page.steps.steps if not has_places(step)) if page.steps else ()
    steps = job.steps_of(replace(page, steps=StepList("", own)), KINDS)
    return whole(lifted(replay(steps, read_page(page.at, job.reading_of(page)))).page)


def scanned_since(job: Job, journal: Journal) -> tuple[Fault, ...]:
    """Which pages' scans are others than those that their own steps were placed on.

    The journal has the digest of the scan from when the page was last done; one that was done
    with the same steps, and whose file has another content by now, is named.
    """
    return tuple(
        Fault("it was scanned again since its own steps were placed, and they may lie beside "
              "their marks", page.place,
              "move them with stetline realign, from the scan as it was to this one")
        for page in job.pages if _has_changed(page, journal)
    )


def _has_changed(page: JobPage, journal: Journal) -> bool:
    placed = [step for step in page.steps.steps if has_places(step)] if page.steps else []
    if not placed:
        return False
    record = journal.record(page.at)
    was = load(Stamp, record.get("scan"), "", Reader({}))
    done = record.get("settled")
    if was is None or not was.digest or not isinstance(done, dict):
        return False
    known = dump_steps(StepList("", tuple(placed)))["steps"]
    try:
        same = stamp_of(page.path)
        if (same.size, same.time) == (was.size, was.time):
            return False
        changed = digest_of(page.path) != was.digest
    except OSError:  # that it cannot be read is said where it is read
        return False
    return changed and all(step in done.get("steps", ()) for step in known)
