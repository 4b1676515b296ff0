"""What the bench does to a job: pages found and put on its rack, and small edits of it."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from app.pages import listing
from app.pages.listing import PageAt
from app.pages.resolution import Resolution
from app.replay.job import Job, JobPage
from app.replay.page import Reading
from core.fault import Fault
from core.steps.steplist import StepList
from core.steps.turn import Turn

Numbers = frozenset[int]
"""Which pages, as they lie on the rack from 0."""


@dataclass(frozen=True)
class Source:
    """Where a page's pixels come from: its file, and what the person said of its resolution."""

    at: PageAt
    given: Resolution | None = None

    @property
    def reading(self) -> Reading:
        """How the scan is read."""
        return Reading(given=self.given)


def source_of(page: JobPage) -> Source:
    """What a page is read by."""
    return Source(page.at, page.given)


def name_of(page: JobPage) -> str:
    """What the rack calls a page.

    >>> name_of(JobPage(Path("scans/book.tif"), 3, 40))
    'book.tif, 3'
    """
    return page.path.name if page.count == 1 else f"{page.path.name}, {page.number}"


def is_set(page: JobPage) -> bool:
    """Whether somebody has decided about the page more than which way up it is."""
    return page.steps is not None and not all(isinstance(s, Turn) for s in page.steps.steps)


def with_pages(job: Job, found: tuple[JobPage, ...]) -> Job:
    """The job with further pages; one that is there already is not taken twice.

    What is put on an empty rack is another book: where the one before was exported is past.
    """
    if not job.pages:
        job = replace(job, into=Job().into)
    known = {(page.path.resolve(), page.number) for page in job.pages}
    fresh = tuple(page for page in found if (page.path.resolve(), page.number) not in known)
    return replace(job, pages=(*job.pages, *fresh))


def without_untouched(job: Job, folder: Path) -> Job:
    """The job without pages, where all are a folder's and nothing was done to any of them."""
    mere = all(page == JobPage(page.path, page.number, page.count) for page in job.pages)
    there = all(page.at.path.parent == folder for page in job.pages)
    return replace(job, pages=()) if mere and there else job


def without(job: Job, numbers: Numbers) -> Job:
    """The job without some of its pages; the scans stay where they are."""
    return replace(job, pages=tuple(p for n, p in enumerate(job.pages) if n not in numbers))


def number_of(job: Job, left: Iterable[PageAt]) -> int | None:
    """The page to begin with: that which was left last, else the first; None without any.

    ``left`` are the pages that were left in hand, the last one first.

    >>> job = Job((JobPage(Path("a.tif")), JobPage(Path("b.tif"))))
    >>> number_of(job, (PageAt(Path("c.tif"), 1, 1), PageAt(Path("b.tif"), 1, 1)))
    1
    """
    numbers = {(page.path, page.number): n for n, page in enumerate(job.pages)}
    found = (numbers.get((at.path, at.number)) for at in left)
    return next((n for n in found if n is not None), 0 if job.pages else None)


def with_given(job: Job, numbers: Numbers, given: Resolution) -> Job:
    """The job with the resolution or sheet size of some of its pages said."""
    return replace(job, pages=tuple(
        replace(page, given=given) if n in numbers else page for n, page in enumerate(job.pages)
    ))


def with_steps(job: Job, numbers: Numbers, steps: StepList | None) -> Job:
    """The job with one list on some of its pages; None leaves them to a proposal."""
    return replace(job, pages=tuple(
        replace(page, steps=steps) if n in numbers else page for n, page in enumerate(job.pages)
    ))


def with_page(job: Job, number: int, page: JobPage) -> Job:
    """The job with another page in the place of one."""
    return replace(job, pages=(*job.pages[:number], page, *job.pages[number + 1 :]))


def with_turned(job: Job, numbers: Numbers) -> Job:
    """The job with which way up some of its pages lie settled on them, whatever list comes."""
    return replace(job, pages=tuple(
        replace(page, turned=True) if n in numbers else page for n, page in enumerate(job.pages)
    ))


def with_moved(job: Job, old: Path, new: Path) -> Job:
    """The job with a scan in another place; those that lay beside it are looked for there."""
    def moved(page: JobPage) -> JobPage:
        beside = new.parent / page.path.name
        if page.path == old:
            return replace(page, path=new)
        if page.path.parent == old.parent and not page.path.exists() and beside.exists():
            return replace(page, path=beside)
        return page

    return replace(job, pages=tuple(moved(page) for page in job.pages))


@dataclass(frozen=True)
class Found:
    """Pages found in what was dropped or named, faults of pages among them, and other faults."""

    pages: tuple[JobPage, ...]
    page_faults: tuple[tuple[PageAt, Fault], ...]
    others: tuple[Fault, ...]
    asked: tuple[Path, ...] = ()


def find_pages(paths: tuple[Path, ...]) -> Found:
    """The pages of files and folders; a file that cannot be read is a page with a fault."""
    asked = tuple(path.absolute() for path in paths)
    found = list(listing.find_pages(asked))
    return Found(
        tuple(JobPage.of(each.page) for each in found if each.page),
        tuple((each.page, fault) for each in found if each.page for fault in each.faults),
        tuple(fault for each in found if not each.page for fault in each.faults), asked)
