"""The tone strip: the histogram's shape, where the handles stand, and the live readings."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from core.histogram import Counts, Peaks, fold_counts
from core.readings import BARE, MAY_PRINT
from core.sheet import Paper, Plane, full_scale
from core.steps.tone import Following, Tone
from core.tone import Table

Which = Literal["black", "middle", "white"]
HANDLES: tuple[Which, ...] = ("black", "middle", "white")
RESET = {"black": 0.0, "middle": 50.0, "white": 255.0}


@dataclass(frozen=True)
class Points:
    """Black point and white point in tone 0-255, the middle in % of the way between them."""

    black: float = 0.0
    white: float = 255.0
    middle: float = 50.0

    @property
    def middle_tone(self) -> float:
        """The tone that becomes 50 % grey.

        >>> Points(50, 250, 25).middle_tone
        100.0
        """
        return self.black + (self.white - self.black) * self.middle / 100

    def tone(self, which: Which) -> float:
        """Where a handle stands on the ramp."""
        return {"black": self.black, "white": self.white, "middle": self.middle_tone}[which]

    def value(self, which: Which) -> float:
        """The number in the handle's field."""
        return {"black": self.black, "white": self.white, "middle": self.middle}[which]

    def moved_to(self, which: Which, tone: float) -> "Points":
        """A handle put on a tone, as whole tones or whole percents; never past its neighbour.

        >>> Points(50.0, 250.0).moved_to("white", 12.2).white
        51.0
        """
        if which == "middle":
            share = 100 * (tone - self.black) / (self.white - self.black)
            return self.set_to("middle", float(round(share)))
        return self.set_to(which, float(round(tone)))

    def set_to(self, which: Which, value: float) -> "Points":
        """A number typed for a handle, held within what it may be."""
        if which == "black":
            return replace(self, black=min(max(value, 0.0), self.white - 1, 254.0))
        if which == "white":
            return replace(self, white=max(min(value, 255.0), self.black + 1, 1.0))
        return replace(self, middle=min(max(value, 1.0), 99.0))


def points_of(step: Tone, paper: Paper) -> Points:
    """Where a tone step's points lie on a page of this paper.

    >>> from core.steps.tone import Following
    >>> paper = Paper(peak=207, noise=3)
    >>> points_of(Tone(points=Following(black=40.0, white=220.0, paper=230.0)), paper).white
    198.0
    """
    fixed = step.settle(paper)
    return Points(fixed.points.black, fixed.points.white, fixed.middle)


def with_points(step: Tone, points: Points, paper: Paper) -> Tone:
    """The tone step, on, so that its points lie there on a page of this paper.

    >>> with_points(Tone(), Points(10, 226, 40), Paper(230, 3)).points.white
    226.0
    """
    inner = step.points
    share = inner.paper / paper.peak if isinstance(inner, Following) else 1.0
    inner = replace(inner, black=round(points.black * share, 4),
                    white=min(round(points.white * share, 4), 255.0))
    return replace(step, points=inner, middle=points.middle, on=True)


def tone_near(grey: Plane, column: int, row: int) -> float | None:
    """The median tone of the 5 x 5 pixels round a place; None beside the page.

    >>> tone_near(np.full((9, 9), 231, np.uint8), 4, 4)
    231.0
    """
    height, width = grey.shape
    if not (0 <= row < height and 0 <= column < width):
        return None
    near = grey[max(row - 2, 0) : row + 3, max(column - 2, 0) : column + 3]
    return float(np.median(near)) * 255 / full_scale(grey)


def heights(counts: Counts, *, log: bool = True) -> tuple[float, ...]:
    """256 heights of 0-1; by the logarithm, or the paper peak would hide all ink.

    >>> heights(np.array([0] * 255 + [9]))[254:]
    (0.0, 1.0)
    """
    tones = fold_counts(counts).astype(np.float64)
    scaled = np.log1p(tones) if log else tones
    return tuple(float(value) for value in scaled / max(scaled.max(), 1e-9))


def percent_black(tone: float) -> float:
    """A tone as the share of black that it would print as.

    >>> percent_black(255.0), percent_black(0.0)
    (0.0, 100.0)
    """
    return 100 - tone / 2.55


@dataclass(frozen=True)
class Readings:
    """Shares of 0-1 that the points decide.

    ``printing``: of the bare paper, how much would still print. ``solid``: of all that is
    darker than bare paper, how much comes to full ink. ``lost``: of the same, how much
    goes with the paper. ``veil``: what becomes of a veil of 2 % cover in the steps behind.
    """

    printing: float
    solid: float
    lost: float
    veil: float


VEIL = 0.02


def readings(
    grey: Counts, peaks: Peaks, bare: Peaks, alpha_of: Table, after: Table,
) -> Readings:
    """Read the shares off exact counts: no pixel is looked at again, so a drag can show them.

    ``grey`` counts the page before its tones are set, whose peaks are ``peaks``; ``bare`` are
    the peaks before anything was cleared off it, by which drawn marks are told. ``alpha_of``
    gives each grey's alpha, ``after`` what the steps behind the points make of alpha; all
    of one depth.
    """
    full = len(grey) - 1
    paper, drawn = _is_paper(peaks, full), ~_is_paper(bare, full)
    prints = grey[paper & (alpha_of >= MAY_PRINT * full)].sum() / max(grey[paper].sum(), 1)
    marks = max(grey[drawn].sum(), 1)
    solid = grey[drawn & (alpha_of == full)].sum() / marks
    lost = grey[drawn & (alpha_of < MAY_PRINT * full)].sum() / marks
    veil = after[round(VEIL * full)] / full
    return Readings(float(prints), float(solid), float(lost), float(veil))


def _is_paper(peaks: Peaks, full: int) -> npt.NDArray[np.bool_]:
    """Which values count as bare paper, as ``measure_cover`` counts them."""
    limit = (peaks.paper - BARE * max(peaks.noise, 0.5)) * full / 255
    return np.asarray(np.arange(full + 1) >= limit, np.bool_)


def share(value: float) -> str:
    """A share as people write it: two figures, and never a nought that is not one.

    >>> share(0.0), share(0.0421), share(0.00004), share(0.6)
    ('0 %', '4.2 %', '< 0.01 %', '60 %')
    """
    percent = 100 * value
    if percent == 0:
        return "0 %"
    if percent < 0.01:
        return "< 0.01 %"
    places = 2 if percent < 1 else 1 if percent < 10 else 0
    return f"{percent:.{places}f} %"
