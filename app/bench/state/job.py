"""The job on the bench: its pages and what each goes through, and its file."""

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from app.pages.listing import PageAt, list_pages
from app.pages.resolution import parse_resolution
from app.replay.page import Reading
from core.fault import Fault, Refused
from core.steps.document import MOST_BYTES, Kinds
from core.steps.fields import Reader
from core.steps.steplist import StepList, dump_steps, load_steps

FORMAT = "stetline job"
VERSION = 1
_MOST_BYTES = 64 * MOST_BYTES


@dataclass(frozen=True)
class Source:
    """Where a page's pixels come from: its file, and what the person said of its resolution.

    ``given`` is "300ppi", "A4" or another size as ``parse_resolution`` takes it; empty where
    the file's own word counts.
    """

    at: PageAt
    given: str = ""

    @property
    def reading(self) -> Reading:
        """How the scan is read; Refused where ``given`` is no resolution."""
        return Reading(given=parse_resolution(self.given) if self.given else None)


@dataclass(frozen=True)
class JobPage:
    """A page and its step list; None until one is kept, while only a proposal is shown."""

    at: PageAt
    steps: StepList | None = None
    given: str = ""

    @property
    def source(self) -> Source:
        """What the page is read by."""
        return Source(self.at, self.given)

    @property
    def name(self) -> str:
        """What the rack calls it.

        >>> JobPage(PageAt(Path("scans/book.tif"), 3, 40)).name
        'book.tif, 3'
        """
        return self.at.path.name if self.at.count == 1 else f"{self.at.path.name}, {self.at.number}"


@dataclass(frozen=True)
class Job:
    """The pages in the rack's order."""

    pages: tuple[JobPage, ...] = ()

    def with_pages(self, found: tuple[JobPage, ...]) -> "Job":
        """The job with further pages; one that is there already is not taken twice."""
        known = {(page.at.path.resolve(), page.at.number) for page in self.pages}
        fresh = tuple(p for p in found if (p.at.path.resolve(), p.at.number) not in known)
        return replace(self, pages=(*self.pages, *fresh))

    def without(self, numbers: frozenset[int]) -> "Job":
        """The job without some of its pages; the scans stay where they are."""
        return replace(self, pages=tuple(p for n, p in enumerate(self.pages) if n not in numbers))

    def with_given(self, numbers: frozenset[int], given: str) -> "Job":
        """The job with the resolution or sheet size of some of its pages said."""
        return replace(self, pages=tuple(
            replace(page, given=given) if n in numbers else page
            for n, page in enumerate(self.pages)
        ))

    def with_moved(self, old: Path, new: Path) -> "Job":
        """The job with a scan in another place; those that lay beside it are looked for there."""
        def moved(page: JobPage) -> JobPage:
            path = page.at.path
            beside = new.parent / path.name
            if path == old:
                return replace(page, at=replace(page.at, path=new))
            if path.parent == old.parent and not path.exists() and beside.exists():
                return replace(page, at=replace(page.at, path=beside))
            return page

        return replace(self, pages=tuple(moved(page) for page in self.pages))

    def with_steps(self, numbers: frozenset[int], steps: StepList | None) -> "Job":
        """The job with one list on some of its pages."""
        return replace(self, pages=tuple(
            replace(page, steps=steps) if n in numbers else page
            for n, page in enumerate(self.pages)
        ))


@dataclass(frozen=True)
class Found:
    """Pages found in what was dropped or named, faults of pages among them, and other faults."""

    pages: tuple[JobPage, ...]
    page_faults: tuple[tuple[PageAt, Fault], ...]
    others: tuple[Fault, ...]
    asked: tuple[Path, ...] = ()


def find_pages(paths: tuple[Path, ...]) -> Found:
    """The pages of files and folders; a file that cannot be read is a page with a fault."""
    pages: list[PageAt] = []
    faulty: list[tuple[PageAt, Fault]] = []
    others: list[Fault] = []
    for path in (named.absolute() for named in paths):
        found, faults = list_pages([path])
        pages += found
        for fault in faults:
            file = path / fault.where.partition(", page")[0] if path.is_dir() else path
            if file.is_file():
                faulty.append((PageAt(file, 1, 1), fault))
            else:
                others.append(fault)
    pages += [at for at, _ in faulty]
    return Found(tuple(JobPage(at) for at in pages), tuple(faulty), tuple(others),
                 tuple(path.absolute() for path in paths))


def dump_job(job: Job) -> str:
    """The job as JSON text."""
    pages = [
        {
            "path": str(page.at.path), "number": page.at.number, "count": page.at.count,
            "given": page.given,
            "steps": None if page.steps is None else dump_steps(page.steps),
        }
        for page in job.pages
    ]
    return json.dumps({"format": FORMAT, "version": VERSION, "pages": pages}, indent=1) + "\n"


def load_job(text: bytes, kinds: Kinds, place: str) -> Job:
    """The job of a JSON text; Refused with every fault and its place."""
    if len(text) > _MOST_BYTES:
        raise Refused(Fault("the job file is too long", place))
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        raise Refused(Fault("it is not JSON", place, "open another job")) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise Refused(Fault("it is not a job of this program", place, "open another job"))
    if data.get("version") != VERSION:
        raise Refused(Fault(
            f"it has another version than {VERSION}", place, "open it with a newer program",
        ))
    reader = Reader(kinds)
    items = data.get("pages")
    pages = [
        _load_page(item, f"{place}, page {number}", reader)
        for number, item in enumerate(items if isinstance(items, list) else [], start=1)
    ]
    if reader.faults or not isinstance(items, list):
        raise Refused(reader.faults or [Fault("it names no pages", place)])
    return Job(tuple(page for page in pages if page is not None))


def _load_page(item: Any, place: str, reader: Reader) -> JobPage | None:
    if not isinstance(item, dict):
        reader.fault(place, "it is not an object")
        return None
    path, number, count = item.get("path"), item.get("number"), item.get("count")
    if not isinstance(path, str) or not path or "\0" in path:
        reader.fault(place, "it names no file")
        return None
    if type(number) is not int or type(count) is not int or not 1 <= number <= count:
        reader.fault(place, "its number in the file is missing")
        return None
    given = item.get("given", "")
    if not isinstance(given, str) or not _is_resolution(given):
        reader.fault(f"{place}, given", "it is no resolution", "write 300ppi or A4")
        given = ""
    steps = item.get("steps")
    made = None if steps is None else load_steps(steps, place, reader)
    return JobPage(PageAt(Path(path), number, count), made, given)


def _is_resolution(text: str) -> bool:
    try:
        return not text or parse_resolution(text) is not None
    except Refused:
        return False
