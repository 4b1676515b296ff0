"""Scraps that were kept with the marks: bare paper, relief, and what lies there all alone.

The relief of rough paper may swing, in the one spot in a thousand, as far as a faint mark does.
What gives it away is what was drawn about it: ink so much darker was not laid by a hand that
then touched the paper once, as lightly as that. A crumb of rubber or a thread is as long as a
mark; but no mark so short is alone on bare paper and paler than the page's ink.
"""

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask
from app.filters.pieces import Pieces, find_pieces
from app.filters.specks import SQUARE_MM, Bits, Floats, Ground, folded
from app.filters.strips import ROWS, Strip, side_by_side, strips
from core.sheet import Plane, full_scale
from core.units import mm_to_px

_BARE_MM = 1.2  # at most of a piece with no mark on it
_RELIEF_MM, _ABOUT_MM = 1.6, 3.2  # at most of a piece of relief; about its middle
_PALE, _PALER = 4.0, 2.5  # times the lightest mark at most; so many times paler than what is about
_EMPTY_MM = 5.0  # about what lies alone, where nothing else does
_LONG_MM, _DARK, _AS_DARK = 5.0, 0.9, 0.8  # marks so long; that share is no darker; so dark at most
_STEPS = 200  # of darkness


def clear_scraps(
    cleared: Mask, plane: Plane, ground: Ground, ppi: float, alone: float,
) -> None:
    """Mark as ``cleared`` (H, W), too, what is a scrap of paper on a plane (H, W) without its dust.

    Pieces are told by squares that touch: what lies within one of a mark goes with that. What is
    no longer than ``alone`` mm goes if nothing lies about it.

    >>> page = np.full((200, 200), 255, np.uint8)
    >>> page[40:160, 40:44] = page[40:160, 56:60] = 30
    >>> page[100:104, 80:84] = 215
    >>> cleared = np.zeros(page.shape, bool)
    >>> clear_scraps(cleared, page, Ground(230.0, 220, taken=True), 300, 2.4)
    >>> bool(cleared[102, 82]), bool(cleared[102, 42])
    (True, False)
    """
    side = max(1, round(mm_to_px(SQUARE_MM, ppi)))
    kept = _kept(_least(cleared, plane, side), full_scale(plane), ground, mm_to_px(1, ppi) / side)
    scrap = kept.is_bare() | kept.is_relief() | kept.is_alone(alone)
    scrap[0] = False
    down, across = np.nonzero(scrap[kept.pieces.labels])
    for row, column in np.ndindex(side, side):
        cleared[np.minimum(down * side + row, len(plane) - 1),
                np.minimum(across * side + column, plane.shape[1] - 1)] = True


def _least(cleared: Mask, plane: Plane, side: int) -> Plane:
    """The darkest tone in each square, but for what is cleared."""
    full = full_scale(plane)
    least = np.empty([-(-extent // side) for extent in plane.shape], plane.dtype)

    def tell(strip: Strip) -> None:
        rows = strip[0]
        rest = plane[rows] | (cleared[rows] * plane.dtype.type(full))
        least[rows.start // side : -(-rows.stop // side)] = folded(np.minimum, rest, side, full)

    side_by_side(tell, strips(len(plane), rows=max(ROWS // side, 1) * side))
    return least


@dataclass(frozen=True, eq=False)
class _Kept:
    """The pieces that were kept, by squares of which ``mm`` are a millimetre.

    ``steps`` (h, w) is how dark each square is, ``darkest`` (n,) each piece, in 200ths of black;
    ``lightest`` the same of the lightest mark; ``marked`` (n,) is whether a mark lies on it.
    """

    pieces: Pieces
    steps: Bits
    darkest: Bits
    lightest: float
    marked: Mask
    mm: float

    @cached_property
    def size(self) -> Floats:
        """How long each is, in mm."""
        return np.asarray(self.pieces.longest / self.mm, np.float32)

    def is_bare(self) -> Mask:
        """Which are small and bear no mark."""
        return np.asarray(~self.marked & (self.size <= _BARE_MM))

    def is_relief(self) -> Mask:
        """Which are pale, and far paler than what lies about them."""
        rows = np.flatnonzero(
            self.marked & (self.size <= _RELIEF_MM) & (self.darkest <= _PALE * self.lightest))
        dark, many = self._about(rows, _ABOUT_MM)
        return self._only(rows[dark >= _PALER * self.darkest[rows] * np.maximum(many, 1)])

    def is_alone(self, longest: float) -> Mask:
        """Which lie alone, paler than the long marks of the page and no longer than so many mm."""
        squares = self.steps.ravel()[self.pieces.place]
        long = squares[(self.size > _LONG_MM)[self.pieces.owner]]
        most = _AS_DARK * float(np.quantile(long, _DARK)) if long.size else 0.0
        rows = np.flatnonzero(self.marked & (self.size <= longest) & (self.darkest <= most))
        return self._only(rows[self._about(rows, _EMPTY_MM)[1] == 0])

    def _only(self, rows: npt.NDArray[np.intp]) -> Mask:
        found = np.zeros(len(self.marked), np.bool_)
        found[rows] = True
        return found

    def _about(self, rows: npt.NDArray[np.intp], reach: float) -> tuple[Floats, Floats]:
        """How dark the other squares within ``reach`` mm of some pieces are, summed; how many."""
        size = (2 * round(reach * self.mm) + 1,) * 2
        middle = tuple(np.rint(self.pieces.middle[rows]).astype(np.int64).T)
        # sums of whole numbers are exact in 32 bits
        dark, many = (
            cv2.boxFilter(of, cv2.CV_32F, size, normalize=False,
                          borderType=cv2.BORDER_CONSTANT)[middle]
            for of in (self.steps, (self.pieces.labels > 0).view(np.uint8)))
        owner, place = self.pieces.owner, self.pieces.place
        own = np.bincount(owner, self.steps.ravel()[place], len(self.marked))[rows]
        return (np.asarray(dark - own, np.float32),
                np.asarray(many - self.pieces.area[rows], np.float32))


def _kept(least: Plane, full: int, ground: Ground, mm: float) -> _Kept:
    """What was kept, by the darkest tone in each square."""
    pieces = find_pieces((least < full).view(np.uint8))
    steps = np.ceil(_STEPS * np.clip(1 - least / np.float32(ground.paper), 0, 1)).astype(np.uint8)
    darkest, marked = np.zeros(len(pieces.box), np.uint8), np.zeros(len(pieces.box), np.bool_)
    np.maximum.at(darkest, pieces.owner, steps.ravel()[pieces.place])
    marked[pieces.owner[least.ravel()[pieces.place] < ground.limit]] = True
    lightest = _STEPS * (1 - ground.limit / ground.paper)
    return _Kept(pieces, steps, darkest, lightest, marked, mm)
