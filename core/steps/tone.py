"""The tone step: black point, white point, middle."""

from dataclasses import dataclass, replace
from typing import ClassVar

from core.sheet import Paper
from core.steps.fields import Record, either, number
from core.steps.step import Step
from core.tone import Table, tone_table


@dataclass(frozen=True, kw_only=True)
class Fixed(Record):
    """The points as they are."""

    words: ClassVar[str] = "{black} and darker become black, {white} and lighter become paper"

    black: float = number("black point", "tone", 0, 254, 0)
    white: float = number("white point", "tone", 1, 255, 255)

    def faults(self) -> tuple[str, ...]:
        """Black lies below white."""
        return _order(self.black, self.white)


@dataclass(frozen=True, kw_only=True)
class Following(Record):
    """The points as they were set on a page whose paper peak was at ``paper``.

    On a page with lighter or darker paper both shift in proportion to its own peak, as a
    change of exposure shifts every tone.
    """

    words: ClassVar[str] = (
        "{black} and darker become black, {white} and lighter become paper, where the paper "
        "lies at {paper}, and in proportion where it does not"
    )

    black: float = number("black point", "tone", 0, 254, 0)
    white: float = number("white point", "tone", 1, 255, 255)
    paper: float = number("paper peak", "tone", 1, 255, 230)

    def faults(self) -> tuple[str, ...]:
        """Black lies below white."""
        return _order(self.black, self.white)


def _order(black: float, white: float) -> tuple[str, ...]:
    return () if black < white else ("the black point does not lie below the white point",)


@dataclass(frozen=True, kw_only=True)
class Tone(Step):
    """Stretch the tones between a black point and a white point, and bend them.

    Before the lift it changes grey; after it, the darkness that alpha stands for.
    """

    kind: ClassVar[str] = "tone"
    edition: ClassVar[int] = 1
    words: ClassVar[str] = "Set the tones: {points}; 50 % grey lies {middle} of the way."

    points: Fixed | Following = either("points", Fixed, Following)
    middle: float = number("middle", "%", 1, 99, 50)

    @property
    def needs_paper(self) -> bool:
        """Following points do."""
        return isinstance(self.points, Following)

    def settle(self, paper: Paper) -> "Tone":
        """Following points become fixed ones.

        >>> paper = Paper(peak=207, noise=3)
        >>> settled = Tone(points=Following(black=40, white=220, paper=230)).settle(paper)
        >>> settled.points
        Fixed(black=36.0, white=198.0)
        """
        if not isinstance(self.points, Following):
            return self
        share = paper.peak / self.points.paper
        white = min(max(self.points.white * share, 1.0), 255.0)
        black = min(self.points.black * share, max(white - 1.0, 0.0))
        return replace(self, points=Fixed(black=black, white=white))

    def table(self, full: int) -> Table:
        """Grey to grey."""
        if not isinstance(self.points, Fixed):
            raise TypeError("a following step is settled before it is used")
        return tone_table(full, self.points.black, self.points.white, self.middle)
