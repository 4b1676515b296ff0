"""What tells an outline from a stroke of hatching: how far each pixel's stroke stands out.

Strokes are sought in eight directions, each by a line's mean darkness less that of a broader band
along it, at two widths. From these come the cues, at places along the lines of a page: how strong
a stroke is, and against those about it; whether it runs in the direction that most strokes there
have; and how far tone and directions differ between its two sides. They are weighed by a logistic
function, after David R. Martin, Charless C. Fowlkes and Jitendra Malik, "Learning to detect natural
image boundaries using local brightness, color, and texture cues" (IEEE Transactions on Pattern
Analysis and Machine Intelligence 26(5), 2004). The weights were fitted to drawn pages (of other
seeds, or by other tools on other papers than the demo pages), whose script knows which stroke is an
outline and which is hatching.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.strips import Strip, side_by_side, strips
from core.sheet import Plane
from core.units import mm_to_px

Floats = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.int64]

TURNS = 8
"""Directions, from 0 along the rows, clockwise by 180 degrees / 8."""

_PPI = 150.0  # at which fine strokes are sought; broad ones and surroundings at half of that
_LONG_MM = 0.8  # a stroke is taken as straight over about so much to each side
_FINE_MM, _BROAD_MM = (0.2, 0.6), (0.4, 1.2)  # spread of a line, and of the band about it
_ABOUT_MM = 1.5  # the surroundings of a stroke
_SIDE_MM, _SIDE_SOFT_MM = 0.9, 0.6  # how far to its side one looks, and how softly
_DRAWN = 0.04  # strength from which on there is a stroke at all

_WEIGHTS = np.array([2.93, 1.76, -4.09, 2.35, 2.49, 2.21, 1.38, -3.59])


@dataclass(frozen=True, eq=False)
class Strokes:
    """The strokes of a page, in cells of ``side`` pixels and, coarsely, of twice that.

    ``fine`` and ``broad`` (h, w) are the strengths at the two widths, ``turn`` the strongest
    stroke's direction; ``turns`` (8, h', w') what strokes of each direction there are, ``ink``
    (h', w') how dark it is.
    """

    side: int
    width: int
    fine: Floats
    broad: Floats
    turn: npt.NDArray[np.uint8]
    turns: Floats
    ink: Floats

    @classmethod
    def of(cls, cells: Plane, ppi: float) -> "Strokes":
        """The strokes of a page, (H, W) uint8, 255 ink.

        >>> page = np.zeros((60, 60), np.uint8)
        >>> page[29:31, 5:55] = 255
        >>> int(Strokes.of(page, 150).turn[30, 30])
        0
        """
        side = max(1, round(ppi / _PPI))
        ink = _reduced(cells, side)
        coarse = _reduced(ink, 2)
        scale = mm_to_px(1, ppi) / side
        size = (ink.shape[1], ink.shape[0])
        fine, broad, most = (np.zeros(ink.shape, np.float32) for _ in range(3))
        turn = np.zeros(ink.shape, np.uint8)
        turns = np.empty((TURNS, *coarse.shape), np.float32)
        found: list[tuple[Floats, Floats]] = [(fine, broad)] * TURNS

        def seek(number: int) -> None:
            one = _along(ink, scale, number, _FINE_MM)
            other = _along(coarse, scale / 2, number, _BROAD_MM)
            found[number] = one, np.asarray(cv2.resize(other, size), np.float32)
            turns[number] = _reduced(one, 2)

        side_by_side(seek, range(TURNS))

        def gather(strip: Strip) -> None:
            rows = strip[0]
            for number, (one, other) in enumerate(found):
                either = np.maximum(one[rows], other[rows])
                turn[rows][either > most[rows]] = number
                for made, strength in ((fine, one[rows]), (broad, other[rows]), (most, either)):
                    np.maximum(made[rows], strength, out=made[rows])

        side_by_side(gather, strips(len(ink)))
        return cls(side, cells.shape[1], fine, broad, turn, turns, coarse / np.float32(255))

    def strength(self) -> Floats:
        """How strong the strongest stroke of each cell is, (h, w)."""
        return np.asarray(np.maximum(self.fine, self.broad), np.float32)

    def coarse_strength(self) -> Floats:
        """The same in coarse cells."""
        strength: Floats = self.strength()
        return _reduced(strength, 2)

    def at(self, places: Numbers) -> Numbers:
        """The flat cells in which flat pixels lie."""
        row, column = np.divmod(places, self.width)
        height, width = self.fine.shape
        return np.asarray(np.minimum(row // self.side, height - 1) * width
                          + np.minimum(column // self.side, width - 1), np.int64)

    def outlines(self, cells: Numbers, ppi: float, usual: float) -> Floats:
        """How far the strokes at flat cells look like outlines: log odds, within 4.

        ``usual`` is the strength that strokes of the page have.
        """
        odds = _expanded(self.cues(cells, ppi, usual)) @ _WEIGHTS
        return np.asarray(np.clip(odds, -4, 4), np.float32)

    def cues(self, cells: Numbers, ppi: float, usual: float) -> npt.NDArray[np.float64]:
        """What is seen at flat cells, (n, 6)."""
        scale = mm_to_px(1, ppi) / self.side / 2
        strength = self.strength()
        about = self._about(strength, scale)
        row, column = np.divmod(cells, strength.shape[1])
        row, column = row / 2, column / 2
        turn = self.turn.ravel()[cells]
        angle = turn * (np.pi / TURNS)
        aside = np.sin(angle) * _SIDE_MM * scale, np.cos(angle) * _SIDE_MM * scale
        here = self._coarse(row, column)
        one = self._coarse(row + aside[1], column - aside[0])
        other = self._coarse(row - aside[1], column + aside[0])
        sides = _soft(self.ink, 0.5 * scale).ravel()
        flat = self._soft_turns(_SIDE_SOFT_MM * scale)
        first, second = flat[:, one], flat[:, other]
        most = self._soft_turns(_ABOUT_MM * scale)[:, here]
        mine = np.take_along_axis(most, turn[None].astype(np.int64), axis=0)[0]
        return np.stack([
            self.fine.ravel()[cells] / usual, self.broad.ravel()[cells] / usual,
            np.minimum(strength.ravel()[cells] / (about.ravel()[here] + 0.02), 4),
            np.abs(sides[one] - sides[other]),
            np.abs(first - second).sum(axis=0) / (first + second + 0.05 / TURNS).sum(axis=0),
            mine / (most.sum(axis=0) + 0.01),
        ], axis=1)

    def _soft_turns(self, spread: float) -> Floats:
        """The strokes of each direction, softened: (8, h' w')."""
        made = np.empty_like(self.turns)

        def work(number: int) -> None:
            made[number] = _soft(self.turns[number], spread)

        side_by_side(work, range(TURNS))
        return made.reshape(TURNS, -1)

    def _about(self, strength: Floats, scale: float) -> Floats:
        """How strong the strokes about each coarse cell are, by their ink."""
        inked = _reduced(strength, 2) * self.ink
        squared = _reduced(strength * strength, 2) * self.ink
        spread = _ABOUT_MM * scale
        return np.asarray(_soft(squared, spread) / (_soft(inked, spread) + 1e-6), np.float32)

    def _coarse(self, row: npt.NDArray[np.float64], column: npt.NDArray[np.float64]) -> Numbers:
        """Flat coarse cells at places between them, those off the page at its edge."""
        height, width = self.ink.shape
        return np.asarray(np.clip(row.astype(np.int64), 0, height - 1) * width
                          + np.clip(column.astype(np.int64), 0, width - 1), np.int64)


def _expanded(cues: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """What the weights are for: (n, 8)."""
    fine, broad, against, tone, turns, own = cues.T
    return np.stack([np.sqrt(fine), np.sqrt(broad), against, against**2, tone, turns, own,
                     np.ones_like(fine)], axis=1)


def usual_strength(strengths: Floats) -> float:
    """The strength that strokes have: the median of those that are strokes.

    >>> usual_strength(np.array([0.0, 0.1, 0.2, 0.3], np.float32))
    0.2
    """
    drawn = strengths[strengths > _DRAWN]
    return round(float(np.median(drawn)), 6) if drawn.size else 1.0


def _along(ink: Floats, scale: float, number: int, spread: tuple[float, float]) -> Floats:
    """How far lines in a direction are darker than what lies along both their sides."""
    long, (line, band) = _LONG_MM * scale, spread
    reach = int(np.ceil(2 * max(_LONG_MM, band) * scale))
    down, right = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    angle = np.pi * number / TURNS
    along = np.exp(-0.5 * ((right * np.cos(angle) + down * np.sin(angle)) / long) ** 2)
    across = down * np.cos(angle) - right * np.sin(angle)
    inner, outer = (along * np.exp(-0.5 * (across / (width * scale)) ** 2)
                    for width in (line, band))
    kernel = (inner / inner.sum() - outer / outer.sum()).astype(np.float32) / 255
    return np.maximum(np.asarray(cv2.filter2D(ink, cv2.CV_32F, kernel)), 0)


def _soft(plane: Floats, spread: float) -> Floats:
    return np.asarray(cv2.GaussianBlur(plane, (0, 0), spread), np.float32)


def _reduced(plane: npt.NDArray[np.uint8 | np.float32], side: int) -> Floats:
    """Means of square cells; what is left over at the edge stands for a whole cell."""
    if side == 1:
        return np.asarray(plane, np.float32)
    height, width = (-(-length // side) for length in plane.shape)
    short, narrow = height * side - plane.shape[0], width * side - plane.shape[1]
    whole = cv2.copyMakeBorder(plane, 0, short, 0, narrow, cv2.BORDER_REPLICATE)
    reduced = cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA)
    return np.asarray(reduced, np.float32)
