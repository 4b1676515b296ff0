"""A step list over many pages, one after the other; a fault ends its page and no other."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from app.pages.listing import PageAt
from app.pages.names import plan_outputs
from app.pages.renditions import Rendition
from app.replay.page import Done, Reading, Request, replay_page
from core.fault import Fault, Refused, Watch, unwatched
from core.steps.steplist import StepList


@dataclass(frozen=True)
class Outcome:
    """One page's end: what was done, or why it was not."""

    page: PageAt
    done: Done | None
    faults: tuple[Fault, ...] = ()


def plan(
    pages: Sequence[PageAt], steps: StepList, renditions: Sequence[Rendition], folder: Path,
    reading: Reading,
) -> tuple[Request | Outcome, ...]:
    """A request for each page, or the reason why it can have none; writes nothing."""
    targets = plan_outputs(pages, renditions, folder)
    return tuple(
        Outcome(page, None, (target,)) if isinstance(target, Fault)
        else Request(page, steps, tuple(zip(renditions, target, strict=True)), reading)
        for page, target in zip(pages, targets, strict=True)
    )


def run(
    planned: Sequence[Request | Outcome], *, workers: int,
    watch_page: Callable[[PageAt], Watch] = lambda _: unwatched,
) -> Iterator[Outcome]:
    """Do the planned pages in order and say how each ended."""
    for item in planned:
        if isinstance(item, Outcome):
            yield item
            continue
        try:
            done = replay_page(item, workers=workers, watch=watch_page(item.page))
        except Refused as refused:
            yield Outcome(item.page, None, refused.faults)
        else:
            yield Outcome(item.page, done)
