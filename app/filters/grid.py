"""A page seen coarsely: cells of a stated size, means, holes filled."""

import math

import cv2
import numpy as np
import numpy.typing as npt

from core.sheet import Plane

Grid = npt.NDArray[np.float64]
"""A small plane (h, w) of float64, one value a cell."""

Mask = npt.NDArray[np.bool_]
"""A small plane (h, w) of bool."""

_STRIP_CELLS = 32
_FINE = 256  # parts of a tone that the mean of 8-bit pixels is kept to


def cells_of(plane: Plane, side: int) -> npt.NDArray[np.float32]:
    """Means of square cells of ``side`` pixels: (h, w) or (h, w, 3), in the plane's code values.

    The last cells of each way stand for what is left of the page there.

    >>> cells_of(np.array([[10, 20, 40]], np.uint8), 2).tolist()
    [[15.0, 40.0]]
    """
    height, width = plane.shape[:2]
    rows, columns = math.ceil(height / side), math.ceil(width / side)
    out = np.empty((rows, columns, *plane.shape[2:]), np.float32)
    for top in range(0, rows, _STRIP_CELLS):
        part = plane[top * side : (top + _STRIP_CELLS) * side]
        short, narrow = -part.shape[0] % side, columns * side - width
        if short or narrow:
            edge = ((0, short), (0, narrow), (0, 0))[: part.ndim]
            part = np.pad(part, edge, mode="edge")
        fine = part.astype(np.uint16) * np.uint16(_FINE) if part.dtype == np.uint8 else part
        size = (columns, part.shape[0] // side)
        out[top : top + _STRIP_CELLS] = cv2.resize(fine, size, interpolation=cv2.INTER_AREA)
    if plane.dtype == np.uint8:
        out /= np.float32(_FINE)
    return out


def box(grid: Grid, reach: int) -> Grid:
    """The mean over a square of 2 ``reach`` + 1 cells; the edge's value goes on beyond it.

    >>> box(np.array([[0.0, 3.0, 3.0, 3.0]]), 1).tolist()
    [[1.0, 2.0, 3.0, 3.0]]
    """
    size = (2 * reach + 1, 2 * reach + 1)
    return np.asarray(cv2.blur(grid, size, borderType=cv2.BORDER_REPLICATE), np.float64)


def beyond(grid: Grid, reach: int) -> Grid:
    """The grid with up to ``reach`` cells more on each side, going on as it slopes there.

    >>> beyond(np.array([[0.0, 1.0]]), 3).tolist()
    [[-1.0, 0.0, 1.0, 2.0]]
    """
    more = [(min(reach, side - 1),) * 2 for side in grid.shape]
    return np.asarray(np.pad(grid, more, mode="reflect", reflect_type="odd"))


def within(wide: Grid, grid: Grid) -> Grid:
    """The middle of a widened grid that lies over ``grid``.

    >>> within(beyond(np.array([[0.0, 1.0]]), 3), np.zeros((1, 2))).tolist()
    [[0.0, 1.0]]
    """
    down, across = ((w - g) // 2 for w, g in zip(wide.shape, grid.shape, strict=True))
    return wide[down : down + grid.shape[0], across : across + grid.shape[1]]


def pairs(grid: Grid) -> Grid:
    """Sums over two by two cells; an odd last row or column stands alone.

    >>> pairs(np.ones((3, 4))).tolist()
    [[4.0, 4.0], [2.0, 2.0]]
    """
    height, width = grid.shape
    even = np.pad(grid, ((0, height % 2), (0, width % 2)))
    return np.asarray((even[::2, ::2] + even[::2, 1::2]) + (even[1::2, ::2] + even[1::2, 1::2]))


def filled(grid: Grid, weight: Grid) -> Grid:
    """The weighted grid with its holes (weight 0) filled from what lies round them.

    Coarser and coarser means are made until no hole is left, then each hole takes the value
    of the coarser grid at its place. No weight at all: zeros.

    >>> filled(np.array([[1.0, 0, 0, 1.0]]), np.array([[1.0, 0, 0, 1.0]])).tolist()
    [[1.0, 1.0, 1.0, 1.0]]
    """
    height, width = grid.shape
    value = np.divide(grid, weight, out=np.zeros_like(grid), where=weight > 0)
    if height * width == 1 or bool((weight > 0).all()):
        return value
    below = filled(pairs(grid), pairs(weight))
    size = (width + width % 2, height + height % 2)
    above = cv2.resize(below, size, interpolation=cv2.INTER_LINEAR)[:height, :width]
    return np.where(weight > 0, value, above)
