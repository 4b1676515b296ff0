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

from app.filters.grid import disc
from core.matte import to_depth
from core.sheet import Each, Plane, spans
from core.tone import Table
from core.units import mm_to_px

CELL_MM = 0.17

Mask = npt.NDArray[np.bool_]
Counts = npt.NDArray[np.signedinteger[Any]]

_COUNT = 1 << 16  # one pixel counted, in a sum whose lower part adds up alphas
_LARGEST_SIDE = 8  # all that a cell's pixels add up to is a whole number that float32 holds
_STRIP_ROWS = 32
_SPARSE = 16  # fewer cells than one in so many are summed one by one


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


def tally(
    plane: Plane, least: int, side: int, each: Each = map, *, table: Table | None = None,
    within: Mask | None = None,
) -> Tally:
    """Count the alphas (H, W; read at 8 bits) that are ``least`` or more, by cells.

    ``table`` gives the alpha of each value of ``plane``, which then need not be made; without
    one the plane is alpha itself. ``side`` is 1, 2, 4 or 8. Cells that are not ``within`` are
    left at 0. ``each`` may work on several strips at once.

    >>> cells = tally(np.array([[0, 3, 9], [0, 2, 0]], np.uint8), 3, 2)
    >>> cells.pixels.tolist(), cells.alpha.tolist()
    ([[1, 1]], [[3, 9]])
    """
    height, width = grid_of((plane.shape[0], plane.shape[1]), side)
    codes = np.arange(256, dtype=np.uint8) if table is None else to_depth(table, 8)
    deep = codes if plane.dtype == np.uint16 and table is not None else None
    if deep is not None:  # looked up pixel by pixel: what then counts are alphas themselves
        codes = np.arange(256, dtype=np.uint8)
    weights = np.where(codes >= least, codes + np.float32(_COUNT), 0).astype(np.float32)
    counted = Tally(np.zeros((height, width), np.int32), np.zeros((height, width), np.int32))

    def count(span: tuple[int, int]) -> None:
        top, bottom = span
        part = plane[top * side : bottom * side]
        part = to_depth(part, 8) if deep is None else deep[part]
        wanted = _reached(part, weights > 0, side, width)
        if within is not None:
            wanted &= within[top:bottom]
        if wanted.any():
            sums = _sums_within(part, weights, side, wanted)
            counted.pixels[top:bottom] = sums >> 16
            counted.alpha[top:bottom] = sums & (_COUNT - 1)

    for _ in each(count, spans(height, _STRIP_ROWS)):
        pass
    return counted


def _reached(part: Plane, counts: Mask, side: int, width: int) -> Mask:
    """The cells of some rows in which some pixel's value counts."""
    values = np.flatnonzero(counts)
    if not values.size:
        return np.zeros((-(-len(part) // side), width), np.bool_)
    low, high = int(values[0]), int(values[-1])
    if high - low + 1 == values.size:  # one run of values, as of any tone curve: no looking up
        hit = cv2.inRange(part, low, high)
    else:
        hit = cv2.LUT(part, np.where(counts, np.uint8(255), np.uint8(0)))
    wide = _filled_up(hit, side, width, 0).view(f"u{side}")  # a cell's row is one number
    wide = wide.reshape(-1, side, width)
    return np.asarray(np.bitwise_or.reduce(wide, axis=1) != 0)


def _filled_up(rows: npt.NDArray[Any], side: int, width: int, value: int) -> npt.NDArray[Any]:
    """The rows with a ``value`` where the last cells hang over the page's edge."""
    down, across = -len(rows) % side, width * side - rows.shape[1]
    if not (down or across):
        return rows
    return np.asarray(
        cv2.copyMakeBorder(rows, 0, down, 0, across, cv2.BORDER_CONSTANT, value=value))


def _sums_within(
    part: Plane, weights: npt.NDArray[np.float32], side: int, wanted: Mask,
) -> Counts:
    """Sums of the weights over the wanted cells of some rows, 0 in the others."""
    found = int(np.count_nonzero(wanted))
    if found * _SPARSE < wanted.size and not weights.all():
        sums: Counts = np.zeros(wanted.shape, np.int32)
        sums[wanted] = _sums_of(part, weights, side, wanted)
        return sums
    sums = _sums(np.ascontiguousarray(part), weights, side, wanted.shape[1])
    return sums if found == wanted.size else sums * wanted


def _sums_of(
    part: Plane, weights: npt.NDArray[np.float32], side: int, cells: Mask,
) -> Counts:
    """Sums of the weights over a few cells of some rows, in their order."""
    height, width = cells.shape
    part = _filled_up(part, side, width, int(np.argmin(weights)))
    blocks = np.ascontiguousarray(part).view(f"u{side}").reshape(height, side, width)
    rows, columns = np.nonzero(cells)
    values = blocks[rows, :, columns].view(np.uint8)
    return np.asarray(weights[values].sum(axis=1, dtype=np.float64), np.int32)


def _sums(part: Plane, weights: npt.NDArray[np.float32], side: int, width: int) -> Counts:
    """Sums of the weights over the cells of some rows."""
    laid = _filled_up(cv2.LUT(part, weights), side, width, 0)
    if side > 1:
        size = (width, len(laid) // side)
        laid = cv2.resize(laid, size, interpolation=cv2.INTER_AREA) * np.float32(side**2)
    return np.asarray(np.rint(laid), np.int32)


def widened(mask: Mask, reach: int) -> Mask:
    """The mask and all cells within ``reach`` cells of it.

    >>> widened(np.array([[0, 0, 0, 1]], bool), 1).tolist()
    [[False, False, True, True]]
    """
    if reach < 1:
        return mask
    return np.asarray(cv2.dilate(mask.astype(np.uint8), disc(reach)) > 0)


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
