"""A step list over many pages: planned, then done; a fault ends its page and no other."""

from collections.abc import Collection, Generator, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from app.pages.listing import PageAt
from app.pages.whole import telling
from app.replay.crew import Begun, Crew
from app.replay.journal import Journal
from app.replay.leftovers import remove_leftovers
from app.replay.page import Done, Request
from app.replay.worker import Answer, Rows, Task
from core.fault import Fault, Refused


@dataclass(frozen=True)
class Outcome:
    """One page's end: what was done, or why it was not.

    ``unchanged`` pages were done by an earlier run and not again. ``seconds`` is what a worker
    took for it.
    """

    page: PageAt
    done: Done | None
    faults: tuple[Fault, ...] = ()
    unchanged: bool = False
    seconds: float = 0.0

    @property
    def failed(self) -> bool:
        """Whether the page has no outputs to show."""
        return self.done is None and not self.unchanged

    @property
    def status(self) -> str:
        """The page's end in a word."""
        return "failed" if self.failed else "unchanged" if self.unchanged else "done"


@dataclass(frozen=True)
class Moved:
    """How far the page in hand is: ``done`` of ``total`` rows."""

    page: PageAt
    done: int
    total: int


def run(
    planned: Sequence[Request | Outcome], crew: Crew, *, journal: Journal | None = None,
    again: bool = False, check: bool = False, durable: bool = True, figures: bool = True,
) -> Generator[Moved | Outcome]:
    """Do the planned pages; each ends in an ``Outcome``, and these come in order.

    A page that the ``journal`` knows to be done and unchanged is not done again, and one whose
    outputs would replace files that it does not know is not done, unless
    ``again`` asks for it; ``check`` reads contents to be sure. Close the iterator to give up what
    is left; what was done stands. ``durable`` waits until the disk has each file; ``figures``
    reads each page off on its way.
    """
    ended: dict[int, Outcome] = {}
    tasks: list[Task] = []
    together = frozenset(item.page.path for item in planned)
    for place, item in enumerate(planned):
        end = standing(item, journal, together, again=again, check=check)
        if end is not None:
            ended[place] = end
        elif isinstance(item, Request):
            tasks.append(Task(place, item, durable=durable, figures=figures))
    tasks = list(_with_folders(tasks, ended))
    remove_leftovers(output for task in tasks for _, output in task.request.outputs)
    if journal is not None:
        journal.intend(task.request for task in tasks)
    try:
        with closing(crew.work(tasks)) as events:
            yield from _in_order(planned, ended, events, journal)
    finally:
        if journal is not None:
            journal.settle()


def standing(
    item: Request | Outcome, journal: Journal | None, together: Collection[Path] = (), *,
    again: bool = False, check: bool = False,
) -> Outcome | None:
    """How a planned page ends without being done; None if it is to be done.

    It is held back, was done before, or the name of an output is taken by a file that is not
    the journal's, or is that of another scan which is not done ``together`` with it; ``again``
    does it over those three.
    """
    if isinstance(item, Outcome):
        return item
    if again or journal is None:
        return None
    if journal.is_done(item, check=check):
        return Outcome(item.page, None, unchanged=True)
    taken = journal.taken(item, together)
    return Outcome(item.page, None, taken) if taken else None


def _with_folders(tasks: Sequence[Task], ended: dict[int, Outcome]) -> Iterator[Task]:
    """The tasks whose folders are there, or could be made."""
    made: dict[Path, tuple[Fault, ...]] = {}
    for task in tasks:
        faults: tuple[Fault, ...] = ()
        for _, output in task.request.outputs:
            if output.parent not in made:
                made[output.parent] = _make(output.parent)
            faults += made[output.parent]
        if faults:
            ended[task.place] = Outcome(task.request.page, None, tuple(dict.fromkeys(faults)))
        else:
            yield task


def _make(folder: Path) -> tuple[Fault, ...]:
    try:
        with telling(folder):
            folder.mkdir(parents=True, exist_ok=True)
    except Refused as refused:
        return refused.faults
    return ()


def _in_order(
    planned: Sequence[Request | Outcome], ended: dict[int, Outcome],
    events: Iterator[Begun | Rows | Answer], journal: Journal | None,
) -> Iterator[Moved | Outcome]:
    """Outcomes in the order of the pages; what ends early waits for its turn."""
    turn = 0
    while turn in ended:
        yield ended.pop(turn)
        turn += 1
    for event in events:
        request = planned[event.place]
        assert isinstance(request, Request)
        if isinstance(event, Answer):
            if journal is not None:
                journal.add(request, event)
            ended[event.place] = Outcome(
                request.page, event.done, event.faults, seconds=event.seconds,
            )
        elif isinstance(event, Rows):
            yield Moved(request.page, event.done, event.total)
        else:
            yield Moved(request.page, 0, 1)
        while turn in ended:
            yield ended.pop(turn)
            turn += 1
