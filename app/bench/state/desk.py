"""All that the bench shows, as one frozen value, and what may become of it."""

from dataclasses import dataclass, field, replace
from typing import Literal

from app.bench.state.grounds import PAPER_WHITE
from app.bench.state.history import History
from app.bench.state.picture import Ground
from app.bench.state.scale import View
from app.replay.job import Job, JobPage
from core.steps.steplist import StepList

Side = Literal["split", "before", "after"]


@dataclass(frozen=True)
class Looking:
    """How pages are looked at; it is no part of the job and is not undone.

    ``aside`` is the panel beside the page; ``hatch`` shows what would print, ``printed`` the page
    as the press would make it, ``trim`` where it is cut.
    """

    view: View | None = None
    side: Side = "split"
    divider: float = 0.5
    ground: Ground = PAPER_WHITE
    log: bool = True
    aside: str = "steps"
    hatch: bool = False
    printed: bool = False
    trim: bool = False

    def beside(self, name: str) -> "Looking":
        """Another panel beside the page; what would print is hatched while the proof stands there.

        >>> Looking().beside("proof").hatch, Looking().beside("proof").beside("colour").hatch
        (True, False)
        """
        return replace(self, aside=name, hatch=name == "proof" or (
            self.hatch and self.aside != "proof"))

    def flipped(self) -> "Looking":
        """The scan alone if the line art was seen, the line art alone if the scan was."""
        return replace(self, side="after" if self.side == "before" else "before")


@dataclass(frozen=True)
class Desk:
    """The job with its history, which page is in hand, which are chosen, and which step.

    ``draft`` is the list while something is dragged: shown, not yet a change.
    """

    job: History[Job] = field(default_factory=lambda: History(Job()))
    current: int | None = None
    chosen: frozenset[int] = frozenset()
    step: int | None = None
    draft: StepList | None = None
    looking: Looking = Looking()

    @property
    def page(self) -> JobPage | None:
        """The page in hand."""
        pages = self.job.now.pages
        return pages[self.current] if self.current is not None else None

    @property
    def held(self) -> int | None:
        """The chosen step, where it is set on the page: beside the proof the page is looked at.

        >>> Desk(step=2).held, Desk(step=2, looking=Looking(aside="proof")).held
        (2, None)
        """
        return None if self.looking.aside == "proof" else self.step

    def on_page(self, number: int | None) -> "Desk":
        """Another page taken in hand; it alone is then chosen."""
        chosen = frozenset() if number is None else frozenset({number})
        return replace(self, current=number, chosen=chosen, step=None, draft=None)

    def then(self, job: Job, name: str) -> "Desk":
        """One change of the job, with its name."""
        return replace(self, job=self.job.then(job, name), draft=None).mended()

    def undone(self) -> "Desk":
        """The last change undone, and gone to where it was made."""
        return self._travelled(self.job.undone())

    def redone(self) -> "Desk":
        """The undone change done again, and gone to where it was made."""
        return self._travelled(self.job.redone())

    def _travelled(self, job: History[Job]) -> "Desk":
        old, new = self.job.now.pages, job.now.pages
        moved = replace(self, job=job, draft=None)
        if len(old) == len(new):
            where = [n for n, (a, b) in enumerate(zip(old, new, strict=True)) if a != b]
            if where and self.current not in where:
                return moved.on_page(where[0])
        return moved.mended()

    def mended(self) -> "Desk":
        """The desk with no page in hand or chosen that is not there."""
        count = len(self.job.now.pages)
        if not count:
            return replace(self, current=None, chosen=frozenset(), step=None)
        current = 0 if self.current is None else min(self.current, count - 1)
        chosen = frozenset(n for n in self.chosen if n < count) or frozenset({current})
        return replace(self, current=current, chosen=chosen)
