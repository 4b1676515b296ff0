"""A page in cells of about a sixth of a millimetre: how much of each would print, exactly.

Marks and dirt are told apart at this grain, and pixels nearer to each other than a cell belong
to one region.
"""

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from core.matte import to_depth
from core.sheet import Each, Plane, spans
from core.units import mm_to_px

CELL_MM = 0.17

Mask = npt.NDArray[np.bool_]
Counts = npt.NDArray[np.signedinteger[Any]]

_COUNT = 1 << 16  # one pixel counted, in a sum whose lower part adds up alphas
_LARGEST_SIDE = 8  # all that a cell's pixels add up to is a whole number that float32 holds
_STRIP_ROWS = 32


def side_of(ppi: float) -> int:
    """Pixels along a cell at that resolution: 1, 2, 4 or 8, whose sums are exact in any case.

    >>> side_of(600), side_of(100)
    (4, 1)
    """
    power = round(math.log2(max(mm_to_px(CELL_MM, ppi), 1)))
    return min(1 << power, _LARGEST_SIDE)


def grid_of(shape: tuple[int, int], side: int) -> tuple[int, int]:
    """Rows and columns of cells of a page (height, width); the last ones may hang over its edge."""
    return -(-shape[0] // side), -(-shape[1] // side)


@dataclass(frozen=True, eq=False)
class Tally:
    """Per cell: how many pixels reach a limit, and what their alphas (0-255) add up to."""

    pixels: Counts
    alpha: Counts


def tally(alpha: Plane, least: int, side: int, each: Each = map) -> Tally:
    """Count the pixels of ``alpha`` (H, W; read at 8 bits) that are ``least`` or more, by cells.

    ``side`` is 1, 2, 4 or 8. ``each`` may work on several strips at once.

    >>> cells = tally(np.array([[0, 3, 9], [0, 2, 0]], np.uint8), 3, 2)
    >>> cells.pixels.tolist(), cells.alpha.tolist()
    ([[1, 1]], [[3, 9]])
    """
    height, width = grid_of((alpha.shape[0], alpha.shape[1]), side)
    codes = np.arange(256, dtype=np.float32)
    table = np.where(codes >= least, codes + _COUNT, 0).astype(np.float32)
    sums = np.empty((height, width), np.int32)

    def count(span: tuple[int, int]) -> None:
        top, bottom = span
        part = to_depth(alpha[top * side : bottom * side], 8)
        sums[top:bottom] = _sums(np.ascontiguousarray(part), table, side, width)

    for _ in each(count, spans(height, _STRIP_ROWS)):
        pass
    return Tally(sums >> 16, sums & (_COUNT - 1))


def _sums(part: Plane, table: npt.NDArray[np.float32], side: int, width: int) -> Counts:
    """Sums of the table's values over the cells of some rows."""
    weights = cv2.LUT(part, table)
    down, across = -len(part) % side, width * side - part.shape[1]
    if down or across:
        weights = cv2.copyMakeBorder(weights, 0, down, 0, across, cv2.BORDER_CONSTANT, value=0)
    if side > 1:
        size = (width, len(weights) // side)
        weights = cv2.resize(weights, size, interpolation=cv2.INTER_AREA) * np.float32(side**2)
    return np.rint(weights).astype(np.int32)


def widened(mask: Mask, reach: int) -> Mask:
    """The mask and all cells within ``reach`` cells of it.

    >>> widened(np.array([[0, 0, 0, 1]], bool), 1).tolist()
    [[False, False, True, True]]
    """
    if reach < 1:
        return mask
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    return np.asarray(cv2.dilate(mask.astype(np.uint8), disc) > 0)


def regrid(mask: Mask, grid: tuple[int, int]) -> Mask:
    """The mask on a grid of another fineness over the same page: the nearest cell counts."""
    if mask.shape == grid:
        return mask
    fitted = cv2.resize(mask.astype(np.uint8), grid[::-1], interpolation=cv2.INTER_NEAREST)
    return np.asarray(fitted > 0)


def spread(cells: Mask, side: int, shape: tuple[int, int]) -> Mask:
    """A mask of cells as one of the pixels (height, width) that lie in them.

    >>> spread(np.array([[True, False]]), 2, (1, 3)).tolist()
    [[True, True, False]]
    """
    fitted = regrid(cells, grid_of(shape, side)).astype(np.uint8)
    size = fitted.shape[1] * side, fitted.shape[0] * side
    wide = cv2.resize(fitted, size, interpolation=cv2.INTER_NEAREST)
    return np.asarray(wide[: shape[0], : shape[1]] > 0)
