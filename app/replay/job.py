"""The job: which pages, through which lists, into which renditions, under which names.

One frozen value and one JSON file, from which ``stetline replay BOOK.json`` does everything.
"""

import json
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from app.pages.listing import PageAt
from app.pages.renditions import Line, Pdf, Rendition
from app.pages.resolution import Resolution
from app.pages.scan import place_of
from app.pages.small import read_small
from app.pages.whole import replace_file
from app.replay.figures import Look
from app.replay.naming import Naming
from app.replay.page import Reading
from app.replay.printing import PrintedAs, Printing
from app.replay.records import dump, load
from core.colours import Palette
from core.fault import Fault, Refused
from core.steps.document import MOST_BYTES, Kinds, parse_json
from core.steps.fields import Json, Reader, shown, specs
from core.steps.step import Step
from core.steps.steplist import StepList

FORMAT = "stetline job"
VERSION = 1
_MOST_BYTES = 64 * MOST_BYTES
_CALLED = "the job"
_BY_HAND = "settle the page by hand again"

ByHand = Literal["crop", "straighten"]
"""Kinds of step that may be set on one page by hand, and then stay with it."""


@dataclass(frozen=True)
class OwnValue:
    """A page's own value for one field of a step of its list; ``step`` counts from 1.

    ``kind`` guards against a list that has changed: where the step is of another kind by now,
    the value has lost its place and the page is held back with a fault.
    """

    step: int
    kind: str
    field: str
    value: Json


@dataclass(frozen=True)
class JobPage:
    """A page, and what it goes through: its list, its own values in it, its own steps after.

    ``list`` names one of the job's lists; empty is the first, the book's. ``given`` is its
    resolution, where its file states none. ``count`` is the number of pages in its file. ``size``
    is its own print size, where it has another than the book. ``turned`` says that which way up
    it lies was settled on the page itself, ``by_hand`` which other steps were: they are kept
    whatever list it gets.
    """

    path: Path
    number: int = 1
    count: int = 1
    list: str = ""
    values: tuple[OwnValue, ...] = ()
    steps: StepList | None = None
    given: Resolution | None = None
    size: PrintedAs | None = None
    turned: bool = False
    by_hand: tuple[ByHand, ...] = ()

    def __post_init__(self) -> None:
        if not 1 <= self.number <= self.count:
            raise Refused(Fault(f"page {self.number} is not among the {self.count} of its file",
                                remedy=f"give one from 1 to {self.count}"))

    @classmethod
    def of(cls, at: PageAt, steps: StepList | None = None) -> "JobPage":
        """A page as it was found in its file, with steps of its own."""
        return cls(at.path, at.number, at.count, steps=steps)

    @property
    def at(self) -> PageAt:
        """Where the page is."""
        return PageAt(self.path, self.number, self.count)

    @property
    def place(self) -> str:
        """How a fault names the page."""
        return place_of(self.path, self.number, self.count)

    @property
    def has_own(self) -> bool:
        """Whether it was settled by hand."""
        return bool(self.values or (self.steps and self.steps.steps))

    def own(self) -> tuple[str, ...]:
        """What differs from the book's list, in words."""
        said = [f"its own {value.field} in step {value.step}" for value in self.values]
        return (*said, *(self.steps.sentences() if self.steps else ()))


@dataclass(frozen=True)
class RecordedOn:
    """How the page looked that a list was made on."""

    list: str
    look: Look


@dataclass(frozen=True)
class Job:
    """A book: its pages, lists and outputs.

    ``into`` is the folder of the outputs; ``leave_out`` holds back pages that stand apart from
    the others; ``report`` writes the report; ``printing`` says how it is printed.
    """

    pages: tuple[JobPage, ...] = ()
    lists: tuple[StepList, ...] = ()
    renditions: tuple[Rendition, ...] = (Line(),)
    into: Path = Path("lineart")
    naming: Naming = Naming()
    reading: Reading = Reading()
    recorded_on: tuple[RecordedOn, ...] = ()
    leave_out: bool = False
    report: bool = True
    name: str = ""
    printing: Printing = Printing()
    palette: Palette = Palette()

    def __post_init__(self) -> None:
        names = [steps.name for steps in self.lists]
        if len(set(names)) < len(names):
            raise Refused(Fault("two lists of the job have one name", "lists",
                                "call one of them otherwise"))

    def list_of(self, page: JobPage) -> StepList:
        """The list that the page names; Refused where there is none of that name."""
        if not page.list:
            return self.lists[0] if self.lists else StepList()
        for steps in self.lists:
            if steps.name == page.list:
                return steps
        known = ", ".join(steps.name for steps in self.lists) or "none"
        raise Refused(Fault(f"the job has no list called {page.list}", page.place,
                            f"its lists are: {known}"))

    def steps_of(self, page: JobPage, kinds: Kinds) -> StepList:
        """What the page goes through; Refused where an own value has lost its place."""
        book = self.list_of(page)
        steps = list(book.steps)
        for value in page.values:
            steps[value.step - 1] = _with_value(page, steps, value, kinds)
        own = page.steps.steps if page.steps else ()
        if not steps and not own:
            raise Refused(Fault("no step list has been kept for it", page.place,
                                "keep one for it, or give the job a list"))
        return StepList(book.name or (page.steps.name if page.steps else ""), (*steps, *own))

    def printing_of(self, page: JobPage) -> Printing:
        """How a page is printed: as the book, at its own size where it has one."""
        return self.printing if page.size is None else replace(self.printing, size=page.size)

    def reading_of(self, page: JobPage) -> Reading:
        """How a page's scan is read."""
        return replace(self.reading, given=page.given) if page.given else self.reading

    def with_steps(self, steps: StepList) -> "Job":
        """The job with another list in the place of the book's; what pages own stays."""
        return replace(self, lists=(steps, *self.lists[1:]))


def _with_value(
    page: JobPage, steps: Sequence[Step], value: OwnValue, kinds: Kinds,
) -> Step:
    place = f"{page.place}, its own {value.field}"
    step = steps[value.step - 1] if 1 <= value.step <= len(steps) else None
    if step is None or step.kind != value.kind or value.field not in specs(type(step)):
        raise Refused(Fault(
            f"step {value.step} of its list is no longer a {value.kind} step", place, _BY_HAND,
        ))
    reader = Reader(kinds)
    made = replace(
        step, **{value.field: specs(type(step))[value.field].load(value.value, place, reader)},
    )
    faults = [*reader.faults, *(Fault(what, place, _BY_HAND) for what in made.faults())]
    if faults:
        raise Refused(faults)
    return made


def dumps_job(job: Job) -> str:
    """The job as JSON text, ASCII only, the paths as they are."""
    return json.dumps({"format": FORMAT, "version": VERSION} | dump(job), indent=1) + "\n"


def loads_job(text: bytes, kinds: Kinds, place: str, *, renew: bool = False) -> Job:
    """The job of a JSON text; Refused with every fault and its place, as step lists are."""
    data = parse_json(text, place, _MOST_BYTES)
    if not _is_job(data):
        raise Refused(Fault("it is not a job", place,
                            f'a job says "format": "{FORMAT}" at its head'))
    if type(data.get("version")) is not int or data["version"] != VERSION:
        raise Refused(Fault(
            f"it has version {shown(data.get('version'))}, and this program reads {VERSION}",
            place, "open it with a newer program",
        ))
    reader = Reader(kinds, renew=renew)
    body = {name: value for name, value in data.items() if name not in ("format", "version")}
    job = load(Job, body, place, reader)
    reader.refuse_faults(place)
    if job is None:
        raise AssertionError("a fault says why there is no job")
    return job


def _is_job(data: Json) -> bool:
    return isinstance(data, dict) and data.get("format") == FORMAT


def is_job_file(path: Path) -> bool:
    """Whether a file says that it is a job; one that cannot be read does not."""
    try:
        text = read_small(path, _MOST_BYTES, _CALLED)
        return _is_job(parse_json(text, path.name, _MOST_BYTES))
    except Refused:
        return False


def read_job(path: Path, kinds: Kinds, *, renew: bool = False) -> Job:
    """The job in a file; its paths are taken from the file's folder, and come out whole."""
    text = read_small(path, _MOST_BYTES, _CALLED)
    job = loads_job(text, kinds, path.name, renew=renew)
    home = path.absolute().parent
    # by name, as they were made: ``..`` of a folder that is a link is where the link lies
    return _moved(job, lambda inside: Path(os.path.normpath(home / inside)))


def write_job(path: Path, job: Job) -> None:
    """Write the job; paths are kept from the file's folder, so that they may move together."""
    home = path.absolute().parent
    kept = _moved(job, lambda outside: _from(home, outside))
    replace_file(path, dumps_job(kept).encode("ascii"))


def _moved(job: Job, place: Callable[[Path], Path]) -> Job:
    """The job with every path in it put elsewhere."""
    return replace(
        job, into=place(job.into),
        pages=tuple(replace(page, path=place(page.path)) for page in job.pages),
        renditions=tuple(
            replace(form, profile=place(form.profile)) if isinstance(form, Pdf) and form.profile
            else form for form in job.renditions
        ),
    )


def _from(home: Path, path: Path) -> Path:
    try:
        return Path(os.path.relpath(path.absolute(), home))
    except ValueError:  # another drive
        return path.absolute()
