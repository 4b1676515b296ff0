"""A whole job: planned, held back where asked, done, and looked back upon."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from app.pages.listing import PageAt
from app.replay.compare import Flag, flags
from app.replay.crew import Crew
from app.replay.figures import Look
from app.replay.job import Job, RecordedOn
from app.replay.journal import Journal
from app.replay.naming import name_outputs
from app.replay.page import Request
from app.replay.records import load
from app.replay.run import Outcome
from app.replay.worker import Answer, Task
from core.fault import Fault, Refused
from core.steps.document import Kinds
from core.steps.fields import Reader
from core.steps.steplist import StepList

Planned = tuple[Request | Outcome, ...]


def plan_job(job: Job, kinds: Kinds) -> Planned:
    """A request for each page of the job, or the reason why it can have none; writes nothing."""
    made = [_steps(job, number, kinds) for number in range(len(job.pages))]
    names = [steps.name if isinstance(steps, StepList) else "" for steps in made]
    pages = [page.at for page in job.pages]
    targets = name_outputs(pages, names, job.renditions, job.into, job.naming)
    planned: list[Request | Outcome] = []
    for place, (page, steps, target) in enumerate(zip(job.pages, made, targets, strict=True)):
        if isinstance(steps, tuple) or isinstance(target, Fault):
            faults = steps if isinstance(steps, tuple) else ()
            faults += (target,) if isinstance(target, Fault) else ()
            planned.append(Outcome(page.at, None, faults))
            continue
        outputs = tuple(zip(job.renditions, target, strict=True))
        planned.append(Request(page.at, steps, outputs, job.reading_of(page), job.printing_of(page),
                               left_page=job.naming.side(place) == "left"))
    return tuple(planned)


def _steps(job: Job, number: int, kinds: Kinds) -> StepList | tuple[Fault, ...]:
    try:
        return job.steps_of(job.pages[number], kinds)
    except Refused as refused:
        return refused.faults


def names_of(job: Job) -> list[str]:
    """What the pages are called beside one another: with their folder, where two share a name.

    >>> from pathlib import Path
    >>> from app.replay.job import JobPage
    >>> names_of(Job(tuple(map(JobPage, map(Path, ("a/1.tif", "b/1.tif", "b/2.tif"))))))
    ['a/1.tif', 'b/1.tif', '2.tif']
    """
    places = [page.place for page in job.pages]
    met = Counter(places)
    return [place if met[place] == 1 else f"{page.path.absolute().parent.name}/{place}"
            for page, place in zip(job.pages, places, strict=True)]


def look_in(record: dict[str, Any]) -> Look | None:
    """The look that the journal has of a page; None where it has none that can be read."""
    figures = record.get("figures")
    if not isinstance(figures, dict):
        return None
    return load(Look, figures.get("look"), "", Reader({}))


def hold_back(job: Job, planned: Planned, crew: Crew, journal: Journal) -> Planned:
    """The plan without the pages that stand apart; each is then an ``Outcome`` that says why.

    Pages that the journal does not know are looked at first, which costs their decoding. Those
    that were settled by hand stay in.
    """
    looks = _looks(planned, crew, journal)
    found = flags(looks, recorded_look(job), names_of(job))
    return tuple(
        _left_out(item, why) if why and isinstance(item, Request) and not page.has_own else item
        for item, why, page in zip(planned, found, job.pages, strict=True)
    )


def _looks(planned: Planned, crew: Crew, journal: Journal) -> list[Look | None]:
    looks: list[Look | None] = [None] * len(planned)
    tasks = []
    for place, item in enumerate(planned):
        if not isinstance(item, Request):
            continue
        if journal.is_done(item):
            looks[place] = look_in(journal.record(item.page))
        if looks[place] is None:
            tasks.append(Task(place, item, survey=True))
    for event in crew.work(tasks):
        if isinstance(event, Answer):
            looks[event.place] = event.look
    return looks


def recorded_on(job: Job, page: PageAt, crew: Crew) -> Job:
    """The job with the look of the page that the book's list was made on; Refused if it has none.

    Its sketch is left out: it may well be one of the book's own pages.
    """
    book = job.lists[0]
    task = Task(0, Request(page, book, (), job.reading), survey=True)
    for event in crew.work([task]):
        if isinstance(event, Answer):
            if event.look is None:
                raise Refused(event.faults)
            look = replace(event.look, sketch="")
            others = tuple(made for made in job.recorded_on if made.list != book.name)
            return replace(job, recorded_on=(RecordedOn(book.name, look), *others))
    raise AssertionError("every task has an answer")


def recorded_look(job: Job) -> Look | None:
    """The look of the page that the book's list was made on, where the job has it."""
    book = job.lists[0].name if job.lists else ""
    return next((made.look for made in job.recorded_on if made.list == book), None)


def _left_out(item: Request, why: Sequence[Flag]) -> Outcome:
    return Outcome(item.page, None, (Fault(
        "it stands apart and was left out. " + " ".join(flag.why for flag in why).rstrip("."),
        item.place, "look at it, and settle it by hand",
    ),))


@dataclass(frozen=True)
class Row:
    """What there is to say of one page after a run; ``number`` counts the job's pages from 1.

    ``printing`` and ``ink`` are shares of 0-1, None where nothing was read off.
    """

    number: int
    name: str
    status: str
    flags: tuple[Flag, ...] = ()
    faults: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()
    own: tuple[str, ...] = ()
    outputs: tuple[str, ...] = ()
    look: Look | None = None
    ink: float | None = None
    printing: float | None = None
    not_clear: float | None = None
    seconds: float | None = None


def look_back(
    job: Job, outcomes: Sequence[Outcome], journal: Journal, unread: Sequence[Fault] = (),
) -> tuple[Row, ...]:
    """One row a page, in the job's order, flags included; figures come from the journal.

    ``unread`` are files that gave no page; they come last.
    """
    records = [
        {} if outcome.failed else journal.record(outcome.page) for outcome in outcomes
    ]
    looks, names = [look_in(record) for record in records], names_of(job)
    found = flags(looks, recorded_look(job), names)
    return tuple(
        _row((number, name), outcome, record, page.own(), (look, why))
        for number, (name, outcome, record, page, look, why) in enumerate(
            zip(names, outcomes, records, job.pages, looks, found, strict=True), start=1)
    ) + tuple(
        Row(number, fault.where, "failed", faults=(fault,))
        for number, fault in enumerate(unread, start=len(outcomes) + 1)
    )


def _row(
    called: tuple[int, str], outcome: Outcome, record: dict[str, Any], own: tuple[str, ...],
    seen: tuple[Look | None, tuple[Flag, ...]],
) -> Row:
    figures = record.get("figures") or {}
    return Row(
        *called, status=outcome.status, flags=seen[1], faults=outcome.faults,
        notes=tuple(record.get("notes", ())), own=own,
        outputs=tuple(name for name, _ in record.get("outputs", ())), look=seen[0],
        ink=figures.get("ink"), printing=figures.get("printing"),
        not_clear=figures.get("not_clear"), seconds=record.get("seconds"),
    )
