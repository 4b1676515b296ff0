"""What a run would do, how large it would be and how long it would take; nothing is written."""

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from app.pages.scan import place_of
from app.replay.book import Planned
from app.replay.crew import Crew
from app.replay.journal import Journal
from app.replay.page import Request
from app.replay.run import Outcome, standing
from app.replay.worker import Answer, Task
from core.fault import Fault

_MOST_MEASURED = 20  # pages of an earlier run


@dataclass(frozen=True)
class Prospect:
    """One page: what would become of it. ``state`` is "to do", "unchanged" or "failed"."""

    name: str
    state: str
    outputs: tuple[Path, ...] = ()
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class Forecast:
    """All pages, and the sums over those to do, in bytes and seconds.

    ``writes`` and ``seconds`` are None where nothing could be measured; ``measured`` says on
    what they rest.
    """

    pages: tuple[Prospect, ...]
    reads: int
    writes: int | None
    seconds: float | None
    measured: str


@dataclass(frozen=True)
class _Measured:
    """Bytes read and written, and the seconds of one worker that it took."""

    reads: int
    writes: int
    seconds: float
    where: str


def forecast(planned: Planned, crew: Crew, journal: Journal, *, again: bool = False) -> Forecast:
    """Look ahead: sizes by what earlier runs gave, or by doing one page in a folder of its own."""
    together = frozenset(item.page.path for item in planned)
    ends = [standing(item, journal, together, again=again) for item in planned]
    waiting = [item for item, end in zip(planned, ends, strict=True)
               if isinstance(item, Request) and end is None]
    pages = tuple(_prospect(item, end) for item, end in zip(planned, ends, strict=True))
    reads = sum(_size(item.page.path) // item.page.count for item in waiting)
    measured = _earlier(planned, journal) or _by_trial(waiting, crew)
    if measured is None or not measured.reads:
        return Forecast(pages, reads, None, None, "nothing to measure by")
    share = reads / measured.reads
    abreast = max(1, min(crew.size, len(waiting)))
    return Forecast(
        pages, reads, round(measured.writes * share), measured.seconds * share / abreast,
        measured.where,
    )


def _prospect(item: Request | Outcome, end: Outcome | None) -> Prospect:
    page = item.page
    name = place_of(page.path, page.number, page.count)
    outputs = tuple(path for _, path in item.outputs) if isinstance(item, Request) else ()
    if end is None:
        return Prospect(name, "to do", outputs)
    return Prospect(name, end.status, () if end.failed else outputs, end.faults)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _earlier(planned: Planned, journal: Journal) -> _Measured | None:
    """The sums over pages that the journal knows to be done in this way."""
    found = list(_records(planned, journal))
    if not found:
        return None
    return _Measured(
        sum(each.reads for each in found), sum(each.writes for each in found),
        sum(each.seconds for each in found), f"measured on {len(found)} pages done before",
    )


def _records(planned: Planned, journal: Journal) -> Iterator[_Measured]:
    left = _MOST_MEASURED
    for item in planned:
        if not left:
            return
        if not isinstance(item, Request) or not journal.is_done(item):
            continue
        record = journal.record(item.page)
        left -= 1
        yield _Measured(
            record["scan"]["size"] // item.page.count,
            sum(stamp["size"] for _, stamp in record["outputs"]), record["seconds"], "",
        )


def _by_trial(waiting: list[Request], crew: Crew) -> _Measured | None:
    """Do the first page that can be done, in a folder that goes away."""
    for request in waiting[:3]:
        with tempfile.TemporaryDirectory(prefix="stetline-") as folder:
            trial = replace(request, outputs=tuple(
                (form, Path(folder) / path.name) for form, path in request.outputs
            ))
            for event in crew.work([Task(0, trial, durable=False)]):
                if isinstance(event, Answer) and event.done is not None:
                    return _Measured(
                        _size(request.page.path) // request.page.count,
                        sum(stamp.size for stamp in event.outputs), event.seconds,
                        f"measured on {request.place} just now",
                    )
    return None
