"""A page seen coarsely: cells of a stated size, means, holes filled; discs to look about with."""

import math
from typing import TypeVar

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.strips import side_by_side
from core.sheet import Plane

Grid = npt.NDArray[np.floating]
"""A small plane (h, w) of floats, one value a cell."""

Mask = npt.NDArray[np.bool_]
"""A small plane (h, w) of bool."""

_ENOUGH = 20_000  # cells are enough to measure a page by
T = TypeVar("T", np.uint8, np.floating)
C = TypeVar("C", bound=np.generic)

Places = npt.NDArray[np.intp]
"""Places of cells in a flattened plane."""

_STRIP_CELLS = 64
_FINE = 256  # parts of a tone that the mean of 8-bit pixels is kept to


def cells_of(plane: Plane, side: int) -> npt.NDArray[np.float32]:
    """Means of square cells of ``side`` pixels: (h, w) or (h, w, 3), in the plane's code values.

    The last cells of each way stand for what is left of the page there.

    >>> cells_of(np.array([[10, 20, 40]], np.uint8), 2).tolist()
    [[15.0, 40.0]]
    """
    return _cells(plane, side, np.float32)


def reduced(plane: Plane, side: int) -> Plane:
    """Means of square cells of ``side`` pixels, rounded: a smaller plane of the same depth.

    >>> reduced(np.array([[10, 21, 40]], np.uint8), 2).tolist()
    [[16, 40]]
    """
    return plane if side == 1 else _cells(plane, side, plane.dtype.type)


def _cells(plane: Plane, side: int, kind: type[C]) -> npt.NDArray[C]:
    """Means of square cells as numbers of a kind, rounded if it has whole ones only."""
    rows, columns = (math.ceil(length / side) for length in plane.shape[:2])
    out = np.empty((rows, columns, *plane.shape[2:]), kind)

    def strip(top: int) -> None:
        part = plane[top * side : (top + _STRIP_CELLS) * side]
        short, narrow = -part.shape[0] % side, columns * side - part.shape[1]
        if short or narrow:
            part = np.pad(part, ((0, short), (0, narrow), (0, 0))[: part.ndim], mode="edge")
        means = _means(part, side)
        out[top : top + _STRIP_CELLS] = means if kind is np.float32 else np.rint(means)

    side_by_side(strip, range(0, rows, _STRIP_CELLS))
    return out


def _means(part: Plane, side: int) -> npt.NDArray[np.floating] | Plane:
    """The means over whole square cells, to a 256th of a tone at either depth."""
    rows, columns = (length // side for length in part.shape[:2])
    if part.dtype == np.uint16:
        means = cv2.resize(part, (columns, rows), interpolation=cv2.INTER_AREA)
        return np.asarray(means, np.uint16)
    down = part.reshape(rows, side, *part.shape[1:])
    room = np.uint16 if side <= _FINE else np.uint32
    slim = np.add.reduce(down, axis=1, dtype=room).reshape(rows, columns, side, *part.shape[2:])
    mean = slim[:, :, 0].astype(np.float32)
    for column in range(1, side):
        mean += slim[:, :, column]
    mean *= np.float32(_FINE)
    mean *= np.float32(1) / np.float32(side * side)
    np.rint(mean, out=mean)
    mean /= np.float32(_FINE)
    return np.asarray(mean)


def fill_squares(plane: npt.NDArray[C], places: Places, side: int, value: int) -> None:
    """Set a plane (H, W) or (H, W, 3) to a value in some of its squares of ``side`` pixels.

    >>> plane = np.zeros((2, 3), np.uint8)
    >>> fill_squares(plane, np.array([1]), 2, 7)
    >>> plane.tolist()
    [[0, 0, 7], [0, 0, 7]]
    """
    down, across = np.divmod(places, -(-plane.shape[1] // side))
    for row, column in np.ndindex(side, side):
        # the last squares of each way may be cut off
        plane[np.minimum(down * side + row, plane.shape[0] - 1),
              np.minimum(across * side + column, plane.shape[1] - 1)] = value


def disc(pixels: float) -> npt.NDArray[np.uint8]:
    """A disc that reaches so many pixels, one at least, from its middle, as OpenCV takes it.

    >>> disc(0.4).tolist()
    [[0, 1, 0], [1, 1, 1], [0, 1, 0]]
    """
    side = 2 * max(1, round(pixels)) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side)), np.uint8)


def square(cells: float) -> npt.NDArray[np.uint8]:
    """A square that reaches so many cells, one at least, from its middle, as OpenCV takes it.

    >>> square(0.4).shape
    (3, 3)
    """
    return np.ones((2 * max(1, round(cells)) + 1,) * 2, np.uint8)


def box(grid: Grid, reach: int) -> Grid:
    """The mean over a square of 2 ``reach`` + 1 cells; the edge's value goes on beyond it.

    >>> box(np.array([[0.0, 3.0, 3.0, 3.0]]), 1).tolist()
    [[1.0, 2.0, 3.0, 3.0]]
    """
    size = (2 * reach + 1, 2 * reach + 1)
    return np.asarray(cv2.blur(grid, size, borderType=cv2.BORDER_REPLICATE))


def sums_about(
    plane: npt.NDArray[np.uint8], at: tuple[npt.NDArray[np.int64], ...], reach: int,
) -> npt.NDArray[np.float64]:
    """The sums of a plane (h, w) over ``reach`` cells each way from places (rows, columns); (n,).

    Nothing lies beyond the plane.

    >>> plane = np.array([[1, 2, 4], [8, 16, 32]], np.uint8)
    >>> sums_about(plane, (np.array([0, 1]), np.array([0, 2])), 1).tolist()
    [27.0, 54.0]
    """
    sums = cv2.integral(plane, sdepth=cv2.CV_64F)  # whole numbers: exact
    (top, bottom), (left, right) = (
        (np.maximum(axis - reach, 0), np.minimum(axis + reach + 1, extent))
        for axis, extent in zip(at, plane.shape, strict=True)
    )
    return np.asarray(
        sums[bottom, right] - sums[top, right] - sums[bottom, left] + sums[top, left], np.float64)


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


def pairs(grid: npt.NDArray[T]) -> npt.NDArray[T]:
    """Sums over two by two cells; an odd last row or column stands alone.

    >>> pairs(np.ones((3, 4))).tolist()
    [[4.0, 4.0], [2.0, 2.0]]
    """
    height, width = grid.shape
    if height % 2 or width % 2:
        grid = np.pad(grid, ((0, height % 2), (0, width % 2)))
    rows = np.add(grid[::2], grid[1::2])
    return np.asarray(np.add(rows[:, ::2], rows[:, 1::2]), grid.dtype)


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


def some(there: Mask) -> Places:
    """The places of cells that are there: all, or a spread of enough of them to measure by.

    >>> some(np.array([[False, True], [False, True]])).tolist()
    [1, 3]
    """
    places = np.flatnonzero(there)
    return places[:: max(1, len(places) // _ENOUGH)]
