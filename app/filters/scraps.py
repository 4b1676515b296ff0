"""Scraps of paper that were kept with the marks: nothing is drawn on them, or they are relief.

The relief of rough paper may swing, in the one spot in a thousand, as far as a faint mark does.
What gives it away is what was drawn about it: ink so much darker was not laid by a hand that
then touched the paper once, as lightly as that.
"""

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
_STEPS = 200  # of darkness


def clear_scraps(cleared: Mask, plane: Plane, ground: Ground, ppi: float) -> None:
    """Mark as ``cleared`` (H, W), too, what is a scrap of paper on a plane (H, W) without its dust.

    Pieces are told by squares that touch: what lies within one of a mark goes with that.

    >>> page = np.full((200, 200), 255, np.uint8)
    >>> page[40:160, 40:44] = page[40:160, 56:60] = 30
    >>> page[100:104, 80:84] = 215
    >>> cleared = np.zeros(page.shape, bool)
    >>> clear_scraps(cleared, page, Ground(230.0, 220, taken=True), 300)
    >>> bool(cleared[102, 82]), bool(cleared[102, 42])
    (True, False)
    """
    side = max(1, round(mm_to_px(SQUARE_MM, ppi)))
    least = _least(cleared, plane, side)
    pieces = find_pieces((least < full_scale(plane)).view(np.uint8))
    scrap = _are_scraps(pieces, least, ground, mm_to_px(1, ppi) / side)
    down, across = np.nonzero(scrap[pieces.labels])
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


def _are_scraps(pieces: Pieces, least: Plane, ground: Ground, mm: float) -> Mask:
    """Which pieces of squares are scraps, by the darkest tone in each square; (n,).

    ``mm`` is a millimetre in squares.
    """
    tones = least.ravel()[pieces.place]
    marked, size = np.zeros(len(pieces.box), np.bool_), pieces.longest / mm
    marked[pieces.owner[tones < ground.limit]] = True
    steps = np.ceil(_STEPS * np.clip(1 - least / np.float32(ground.paper), 0, 1)).astype(np.uint8)
    darkest = np.zeros(len(marked), np.uint8)
    np.maximum.at(darkest, pieces.owner, steps.ravel()[pieces.place])
    pale = darkest <= _PALE * _STEPS * (1 - ground.limit / ground.paper)
    rows = np.flatnonzero(marked & pale & (size <= _RELIEF_MM))
    scrap = ~marked & (size <= _BARE_MM)
    scrap[rows] = _about(pieces, steps, rows, 2 * round(_ABOUT_MM * mm) + 1) >= (
        _PALER * darkest[rows])
    scrap[0] = False
    return scrap


def _about(pieces: Pieces, steps: Bits, rows: npt.NDArray[np.intp], size: int) -> Floats:
    """How dark, on average, the other squares are that were kept about some pieces; (rows,)."""
    middle = np.rint(pieces.middle[rows]).astype(np.int64)
    # sums of whole numbers are exact in 32 bits
    dark, many = (
        cv2.boxFilter(of, cv2.CV_32F, (size, size), normalize=False,
                      borderType=cv2.BORDER_CONSTANT)[tuple(middle.T)]
        for of in (steps, (pieces.labels > 0).view(np.uint8)))
    own = np.bincount(pieces.owner, steps.ravel()[pieces.place], len(pieces.box))[rows]
    return np.asarray((dark - own) / np.maximum(many - pieces.area[rows], 1), np.float32)
