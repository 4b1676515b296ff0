"""What every kind of step is."""

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from core.sheet import Paper, Rgb, Sheet
from core.steps.fields import Record, flag, text
from core.tone import Table


@dataclass(frozen=True, kw_only=True)
class Step(Record):
    """One adjustment: its kind, its parameters, whether it is on, and a note.

    A kind of step is a subclass with a ``kind`` of its own, an ``edition`` that rises when
    a change alters any pixel, ``words``, fields made by ``core.steps.fields``, and ``apply``.
    """

    kind: ClassVar[str]
    edition: ClassVar[int]
    whole: ClassVar[bool] = False
    """Whether it looks around, so that it needs the whole page and not a band of rows."""

    in_place: ClassVar[bool] = True
    """Whether every drawn mark still lies where it was scanned after it."""
    one_page: ClassVar[bool] = False
    """Whether it is for one page alone, by places on it, and does not go on to another."""
    on_ink: ClassVar[bool] = False
    """Whether it works on ink that has been lifted, and so stands behind the lift."""
    clears: ClassVar[bool] = False
    """Whether it takes off the page what a later step may bring back."""
    restores: ClassVar[bool] = False
    """Whether it brings back what was taken off; ``replay`` then calls ``restore`` instead."""

    on: bool = flag("on", True, yes="on", no="off")
    note: str = text("note", 1000)

    @property
    def needs_paper(self) -> bool:
        """Whether it needs the page's own paper measured before it."""
        return False

    @property
    def lifts_in(self) -> Rgb | None:
        """The ink's colour, where its table turns grey into the alpha of one ink."""
        return None

    def settle(self, paper: Paper) -> "Step":  # noqa: ARG002 - most steps are fixed already
        """The step with everything that follows the page's own paper made a number."""
        return self

    def fitted(self, sheet: Sheet) -> "Step":  # noqa: ARG002 - most steps look for nothing
        """The step with what it looks for on the page itself made a number; only if ``whole``."""
        return self

    def after(self, paper: Paper) -> Paper | None:
        """The paper as it lies after the step; None where it must be measured anew."""
        table = self.table(65535)
        if table is None or self.lifts_in is not None:
            return paper
        tones = np.interp(
            [paper.peak * 257, (paper.peak - paper.noise) * 257], np.arange(65536), table / 257,
        )
        return replace(paper, peak=float(tones[0]), noise=float(tones[0] - tones[1]))

    def table(self, full: int) -> Table | None:  # noqa: ARG002 - most steps have no table
        """Grey to grey (or to alpha, where it lifts) as a table of ``full`` + 1 values, or None."""
        return None

    def restore(self, sheet: Sheet, source: Sheet) -> Sheet:  # noqa: ARG002
        """``sheet`` with what ``source`` still has: the page without the steps that clear."""
        raise TypeError  # pragma: no cover - only for steps that restore

    def apply(self, sheet: Sheet) -> Sheet:  # noqa: ARG002 - each kind has its own
        """The sheet after the step; a band of it unless ``whole``. Never changes its input."""
        raise TypeError  # pragma: no cover - a step has a table or its own apply
