"""Scraps that were kept with the marks: bare paper, relief, and what lies there all alone.

The relief of rough paper may swing, in the one spot in a thousand, as far as a faint mark does.
What gives it away is what was drawn about it: ink so much darker was not laid by a hand that
then touched the paper once, as lightly as that. A crumb of rubber or a thread is as long as a
mark; but no mark so short is alone on bare paper and paler than the page's ink.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask, fill_squares, sums_about
from app.filters.pieces import Pieces, find_pieces
from app.filters.specks import SQUARE_MM, STEPS, Bits, Floats, Ground, folded
from app.filters.strips import ROWS, Strip, both, side_by_side, strips
from core.sheet import Plane, full_scale
from core.units import mm_to_px

_BARE_MM = 1.2  # at most of a piece with no mark on it
_RELIEF_MM, _ABOUT_MM = 1.6, 3.2  # at most of a piece of relief; about its middle
_PALE, _PALER = 4.0, 2.5  # times the lightest mark at most; so many times paler than what is about
_EMPTY_MM = 5.0  # about what lies alone, where nothing else does
_LONG_MM, _DARK, _AS_DARK = 5.0, 0.9, 0.8  # marks so long; that share is no darker; so dark at most


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
    least, steps = _least(cleared, plane, ground, side)
    kept = _kept(least, steps, ground, mm_to_px(1, ppi) / side)
    relief, lone = both(kept.is_relief, lambda: kept.is_alone(alone))
    scrap = kept.is_bare() | relief | lone
    scrap[0] = False
    fill_squares(cleared, kept.pieces.place[scrap[kept.pieces.owner]], side, value=True)


def _least(cleared: Mask, plane: Plane, ground: Ground, side: int) -> tuple[Plane, Bits]:
    """The darkest tone in each square, but for what is cleared; how dark that is, in 200ths."""
    full, table = full_scale(plane), ground.steps(plane)
    shape = [-(-extent // side) for extent in plane.shape]
    least, steps = np.empty(shape, plane.dtype), np.empty(shape, np.uint8)

    def tell(strip: Strip) -> None:
        rows = strip[0]
        rest = plane[rows] | (cleared[rows] * plane.dtype.type(full))
        squares = slice(rows.start // side, -(-rows.stop // side))
        least[squares] = folded(np.minimum, rest, side, full)
        steps[squares] = table[least[squares]]

    side_by_side(tell, strips(len(plane), rows=max(ROWS // side, 1) * side))
    return least, steps


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
    def there(self) -> Bits:
        """1 in each square that was kept, (h, w)."""
        return (self.pieces.labels > 0).view(np.uint8)

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
        own = np.bincount(self.pieces.owner, self.steps.ravel()[self.pieces.place])
        many = self._about(self.there, rows, _ABOUT_MM) - self.pieces.area[rows]
        dark = self._about(self.steps, rows, _ABOUT_MM) - own[rows]
        return self._only(rows[dark >= _PALER * self.darkest[rows] * np.maximum(many, 1)])

    def is_alone(self, longest: float) -> Mask:
        """Which lie alone, paler than the long marks of the page and no longer than so many mm."""
        long = (self.size > _LONG_MM)[self.pieces.owner]
        many = np.cumsum(np.bincount(self.steps.ravel()[self.pieces.place[long]]))
        most = _AS_DARK * np.searchsorted(many, _DARK * many[-1]) if len(many) else 0
        rows = np.flatnonzero(self.marked & (self.size <= longest) & (self.darkest <= most))
        about = self._about(self.there, rows, _EMPTY_MM)
        return self._only(rows[about == self.pieces.area[rows]])

    def _only(self, rows: npt.NDArray[np.intp]) -> Mask:
        found = np.zeros(len(self.marked), np.bool_)
        found[rows] = True
        return found

    def _about(self, of: Bits, rows: npt.NDArray[np.intp], reach: float) -> Floats:
        """The sum of a plane within ``reach`` mm of the middle of some pieces; (rows,)."""
        left, top, width, height, _ = self.pieces.box[rows].astype(np.int64).T
        middle = top + height // 2, left + width // 2
        return np.asarray(sums_about(of, middle, round(reach * self.mm)), np.float32)


def _kept(least: Plane, steps: Bits, ground: Ground, mm: float) -> _Kept:
    """What was kept, by the darkest tone in each square and how dark that is."""
    pieces = find_pieces((least < full_scale(least)).view(np.uint8))
    darkest, marked = np.zeros(len(pieces.box), np.uint8), np.zeros(len(pieces.box), np.bool_)
    np.maximum.at(darkest, pieces.owner, steps.ravel()[pieces.place])
    marked[pieces.owner[least.ravel()[pieces.place] < ground.limit]] = True
    lightest = STEPS * (1 - ground.limit / ground.paper)
    return _Kept(pieces, steps, darkest, lightest, marked, mm)
