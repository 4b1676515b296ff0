"""The areas of the page as it is shown, read off its flats."""

import itertools
import math
from collections.abc import Iterator

import cv2
import numpy as np
import numpy.typing as npt

from app.bench.state.picture import Pixels
from app.bench.state.placing import Spot
from app.bench.state.scale import Box, Scale, View
from core.sheet import Plane, Rgb, Sheet
from core.units import mm_to_px

_GRAZED_MM = 0.3  # an area that a line touches for less was not meant
_LOOKED_AT = 1 << 20  # pixels in which areas are looked for by key


def area_at(sheet: Sheet, spot: Spot) -> int:
    """The number of the area at a spot of the page; 0 off it, on solid ink, and without flats."""
    column, row = math.floor(spot[0]), math.floor(spot[1])
    height, width = sheet.shape
    if sheet.flats is None or not (0 <= column < width and 0 <= row < height):
        return 0
    return int(sheet.flats[row, column])


def colour_at(sheet: Sheet, spot: Spot) -> Rgb | None:
    """The flat colour at a spot; None where no area lies."""
    area = area_at(sheet, spot)
    return sheet.palette[area] if area else None


def areas_along(sheet: Sheet, drawn: tuple[Spot, ...]) -> tuple[Spot, ...]:
    """A spot in each area that a line goes through, in its order; none without flats."""
    if sheet.flats is None or len(drawn) < 2:
        return ()
    spots = list(_steps_along(drawn))
    least = mm_to_px(_GRAZED_MM, sheet.ppi)
    found: list[Spot] = []
    runs = _runs([area_at(sheet, spot) for spot in spots])
    for area, first, last in runs:
        ends = first == 0 or last == len(spots)  # where the hand set out and where it arrived
        if area and (ends or last - first >= least):
            found.append(spots[(first + last) // 2])
    return tuple(found)


def _steps_along(drawn: tuple[Spot, ...]) -> Iterator[Spot]:
    """The line in steps of a pixel."""
    for (x, y), (x2, y2) in itertools.pairwise(drawn):
        count = max(1, math.ceil(math.hypot(x2 - x, y2 - y)))
        for step in range(count):
            yield x + (x2 - x) * step / count, y + (y2 - y) * step / count
    yield drawn[-1]


def _runs(numbers: list[int]) -> Iterator[tuple[int, int, int]]:
    """Each number that stands several times in a row, where it begins and where it has ended."""
    first = 0
    for place in range(1, len(numbers) + 1):
        if place == len(numbers) or numbers[place] != numbers[first]:
            yield numbers[first], first, place
            first = place


def seen_areas(flats: Plane, view: View) -> Plane:
    """The number of the area under each screen pixel of the seen part of the page.

    >>> from app.bench.state.scale import Scale
    >>> flats = np.array([[1, 1, 2, 2]] * 2, np.uint16)
    >>> seen_areas(flats, View((9, 9), (4, 2), Scale(block=2))).tolist()
    [[1, 2]]
    """
    seen, scale = view.seen, view.scale.value
    rows, columns = (
        np.minimum(((np.arange(first, last) + 0.5) / scale).astype(np.int64), most - 1)
        for first, last, most in ((seen.top, seen.bottom, flats.shape[0]),
                                  (seen.left, seen.right, flats.shape[1]))
    )
    if not (rows.size and columns.size):
        return np.zeros((rows.size, columns.size), flats.dtype)
    near = flats[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return np.asarray(near[rows - rows[0]][:, columns - columns[0]])


def rim_of(seen: Plane, area: int) -> npt.NDArray[np.uint8]:
    """Where the edge of an area lies among screen pixels: 2 just inside it, 1 just outside it.

    >>> rim_of(np.array([[1, 1, 1, 1, 2]], np.uint16), 1).tolist()
    [[0, 0, 2, 2, 1]]
    """
    inside = (seen == area).astype(np.uint8)
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    outer = np.asarray(cv2.dilate(inside, cross))
    inner = np.asarray(cv2.erode(inside, cross, iterations=2))
    return np.asarray(outer + inside - 2 * inner, np.uint8)


def largest_first(sheet: Sheet) -> tuple[int, ...]:
    """The numbers of the page's areas, the largest first; none without flats."""
    if sheet.flats is None:
        return ()
    counts = np.bincount(_few(sheet.flats)[0].ravel())
    counts[0] = 0
    order = np.argsort(-counts.astype(np.int64), kind="stable")
    return tuple(order[: np.count_nonzero(counts)].tolist())


def spot_in(sheet: Sheet, area: int) -> Spot:
    """The spot of an area of ``largest_first`` that lies farthest from its edge."""
    assert sheet.flats is not None
    few, every = _few(sheet.flats)
    row, column = _inside(few == area)
    return (column + 0.5) * every, (row + 0.5) * every


def spots_of_all(sheet: Sheet) -> dict[int, Spot]:
    """A spot well inside each area of ``largest_first``, the smallest area first.

    >>> spots_of_all(Sheet(ppi=9, alpha=np.zeros((3, 8), np.uint8),
    ...                    flats=np.repeat([[1, 2]], 4, axis=1).repeat(3, axis=0)))
    {1: (1.5, 1.5), 2: (6.5, 1.5)}
    """
    if sheet.flats is None:
        return {}
    few, every = _few(sheet.flats)
    counts = np.bincount(few.ravel())
    numbers = np.flatnonzero(counts)
    sizes = counts[numbers]
    firsts = np.cumsum(sizes) - sizes
    order = np.argsort(few.ravel(), kind="stable")
    away = _from_edges(few).ravel()[order]
    most = np.repeat(np.maximum.reduceat(away, firsts), sizes)
    there = np.flatnonzero(away == most)
    rows, columns = np.divmod(order[there[np.searchsorted(there, firsts)]], few.shape[1])
    return {
        int(numbers[n]): ((float(columns[n]) + 0.5) * every, (float(rows[n]) + 0.5) * every)
        for n in np.argsort(sizes, kind="stable") if numbers[n]
    }


def _from_edges(areas: Plane) -> npt.NDArray[np.float32]:
    """How far each pixel lies from where another area begins."""
    inner = np.ones(areas.shape, np.uint8)
    for one, other in ((np.s_[1:], np.s_[:-1]), (np.s_[:, 1:], np.s_[:, :-1])):
        same = areas[one] == areas[other]
        inner[one] &= same
        inner[other] &= same
    away = cv2.distanceTransform(np.pad(inner, 1), cv2.DIST_L2, cv2.DIST_MASK_3)
    return np.asarray(away[1:-1, 1:-1], np.float32)


def seen_box(flats: Plane, area: int, scale: Scale, seen: Box) -> Box:
    """The part of the seen pixels that an area lies in, and a little about it."""
    few, every = _few(flats)
    mine = few == area
    rows, columns = (np.flatnonzero(mine.any(axis=axis)) for axis in (1, 0))
    if not rows.size:
        return seen
    left, top, right, bottom = (
        math.floor(place * every * scale.value) for place in
        (columns[0] - 1, rows[0] - 1, columns[-1] + 2, rows[-1] + 2))
    left, right = (min(max(x, seen.left), seen.right) for x in (left, right + 1))
    top, bottom = (min(max(y, seen.top), seen.bottom) for y in (top, bottom + 1))
    return Box(left, top, right, bottom)


def _few(flats: Plane) -> tuple[Plane, int]:
    """Every so many-th pixel, enough of them to find areas in."""
    every = max(1, math.ceil(math.sqrt(flats.size / _LOOKED_AT)))
    return flats[every // 2 :: every, every // 2 :: every], every


def pixel_at(pixels: Pixels, view: View, spot: Spot) -> Rgb | None:
    """The colour that the screen shows at a spot; None where it shows none of the page."""
    seen, scale = view.seen, view.scale.value
    column, row = (math.floor(spot[0] * scale) - seen.left, math.floor(spot[1] * scale) - seen.top)
    height, width = pixels.shape
    if not (0 <= column < width and 0 <= row < height):
        return None
    value = int(pixels[row, column])
    return value >> 16 & 255, value >> 8 & 255, value & 255


def _inside(mask: npt.NDArray[np.bool_]) -> tuple[int, int]:
    """Row and column of the place in a mask that lies farthest from its edge."""
    left, top, width, height = cv2.boundingRect(mask.view(np.uint8))
    part = np.pad(mask[top : top + height, left : left + width].view(np.uint8), 1)
    away = np.asarray(cv2.distanceTransform(part, cv2.DIST_L2, cv2.DIST_MASK_3))
    row, column = np.unravel_index(int(np.argmax(away)), away.shape)
    return top + int(row) - 1, left + int(column) - 1
