"""Which specks are dust.

A speck is dust by what stands round it, not by its size alone: a full stop, an i-dot, the
crumbs at the end of a dry stroke and the dots of a stippled tone have marks of their own kind
near by, and dust lies where it fell.
"""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters import grid
from app.filters.grid import Mask
from app.filters.specks import CELL_MM, Bits, Floats, Ground, Specks, cell_of, disc, folded
from app.filters.strips import ROWS, Strip, side_by_side, strips
from core.sheet import Plane, full_scale
from core.units import mm_to_px

_STEPS = 200  # of darkness
_KIN_MM = 1.6  # so near, marks of about one strength belong together
_STRONG_MM = 3.2  # so near, a dot as dark as the ink belongs to it: a stop, the dot of an i
_STRONG = 0.55  # of full black: a dot darker than that is drawn in ink
_PALER = 2.2  # times as dark as the speck: a mark darker than that is of another kind,
_DARKER = 2.0  # and a speck so many times as dark as all that is near
_WEAK, _BROAD = 3.0, 0.05  # times as dark as the lightest mark; mm2: no darker, though so large,
_RELIEF = 6.0  # and so many times paler than the marks about it are on average: it is paper
_GROUP, _CRUMBS_MM = 5, 1.0  # so many specks, each so near another, are a tone or a dry stroke
_SMALLER, _NO_PALER = 0.3, 0.6  # than a group of dots of ink, in the middle, its strays may be
_ROW_MM, _EVEN, _SIZED = 3.0, 0.15, 1.8  # dots so near, so evenly spaced, so alike are a row
_HALO_MM = 0.25  # of paper that anything dark may have kept about it
_NEAR_MM, _AWAY_MM = 0.5, 1.5  # so far from a speck, pale parts of a faint mark may show,
_PALE = 0.007  # if they are so much of what lies there

Cells = tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]


def is_dust(
    plane: Plane, ppi: float, ground: Ground, specks: Specks, size: float, hairs: Bits,
) -> Mask:
    """Which of the specks are dust: those no longer than ``size`` mm that belong to no mark; (n,).

    ``hairs`` (H, W) is 1 on hairs, which are no marks to which anything belongs.
    """
    side = cell_of(ppi)
    hair = specks.within(hairs)
    suspect = (specks.longest <= size) | hair
    if not suspect.any():
        return suspect
    marks = _strengths(plane, ground, specks, suspect, side, hairs)
    down, across = (specks.place // side).T
    cell = (down, across)
    dark = np.maximum(specks.darkest, 1e-3)
    kin = (_palest(marks, _KIN_MM)[cell] <= _PALER * dark) & (
        dark <= _DARKER * _darkest(marks, _KIN_MM)[cell])
    dots = suspect & (dark >= _STRONG)
    strong = dots & ~kin
    if strong.any():
        strong &= dark <= _DARKER * _darkest(marks, _STRONG_MM)[cell]
    drawn = kin | strong | _strung(cell, suspect & ~hair, marks.shape)
    drawn |= _scattered(cell, dots, suspect, dark, specks.area, marks.shape)
    lone = dots & ~drawn
    drawn[lone] = _in_rows(specks.place[lone] / mm_to_px(1, ppi), specks.area[lone])
    drawn &= ~_is_relief(marks, cell, dark, specks.area, 1 - ground.limit / ground.paper)
    dust = np.asarray(suspect & ~drawn)
    if ground.taken:
        dust[dust] = _pale_about(plane, ppi, specks.marked, specks.place[dust]) <= _PALE
    return dust


def _pale_about(
    plane: Plane, ppi: float, marked: Bits, places: npt.NDArray[np.int64],
) -> npt.NDArray[np.float64]:
    """How much away from each place is as pale as paper and was yet kept as a mark, 0-1; (n,).

    What may be the rim of something darker is left out. A faint mark shows as pale paper with
    a few dark peaks of the tooth in it: these are no specks.
    """
    full, halo = full_scale(plane), disc(_HALO_MM, ppi)
    near, away = (round(mm_to_px(reach, ppi)) for reach in (_NEAR_MM, _AWAY_MM))
    rim = away + len(halo)

    def count(row: int, column: int) -> int:
        top, left = max(row - rim, 0), max(column - rim, 0)
        about = np.s_[top : row + rim + 1, left : column + rim + 1]
        pale = (plane[about] < full) & (cv2.dilate(marked[about], halo) == 0)
        row, column = row - top, column - left
        inner, outer = (
            np.count_nonzero(pale[max(row - reach, 0) : row + reach + 1,
                                  max(column - reach, 0) : column + reach + 1])
            for reach in (near, away)
        )
        return int(outer - inner)

    found = np.array([count(int(row), int(column)) for row, column in places], np.int64)
    return np.asarray(found / mm_to_px(2 * _AWAY_MM, ppi) ** 2)


def _strengths(
    plane: Plane, ground: Ground, specks: Specks, suspect: Mask, side: int, hairs: Bits,
) -> Bits:
    """How dark the marks about each cell are, neither hairs nor suspect, in 200ths; 255: none."""
    full = full_scale(plane)
    tones = np.arange(full + 1, dtype=plane.dtype)
    dark = np.clip(1.0 - tones / np.float32(ground.paper), 0.0, 1.0)
    table = np.ceil(dark * _STEPS).astype(np.uint8)
    firm = np.greater(specks.marked, hairs).view(np.uint8)
    firm.ravel()[specks.pixels[suspect[specks.owner]]] = 0
    steps = np.empty(tuple(-(-extent // side) for extent in plane.shape), np.uint8)

    def weigh(strip: Strip) -> None:
        rows = strip[0]
        # exact white where it is not marked
        rest = plane[rows] | (firm[rows] - plane.dtype.type(1))
        least = folded(np.minimum, rest, side, full)
        steps[rows.start // side : -(-rows.stop // side)] = table[least]

    side_by_side(weigh, strips(len(plane), rows=max(ROWS // side, 1) * side))
    # a mark's pale rim is as strong as the mark
    strong = cv2.dilate(steps, np.ones((3, 3), np.uint8))
    return np.where(steps > 0, strong, np.uint8(255)).astype(np.uint8)


def _palest(marks: Bits, reach_mm: float) -> Floats:
    """The darkness of the palest mark within reach of each cell; 2 where there is none."""
    found = cv2.erode(marks, grid.disc(reach_mm / CELL_MM))
    return np.where(found == 255, np.float32(2), found / np.float32(_STEPS)).astype(np.float32)


def _darkest(marks: Bits, reach_mm: float) -> Floats:
    """The darkness of the darkest mark within reach of each cell; 0 where there is none."""
    found = cv2.dilate(marks * (marks < 255), grid.disc(reach_mm / CELL_MM))
    return np.asarray(found / np.float32(_STEPS), np.float32)


def _is_relief(marks: Bits, cell: Cells, dark: Floats, area: Floats, lightest: float) -> Mask:
    """Which specks are the paper's own relief: broad, and far paler than what draws about them.

    That would have left something darker in the middle of a speck so large. ``lightest`` is how
    dark the lightest mark is, 0-1.
    """
    size = (2 * round(_KIN_MM / CELL_MM) + 1,) * 2
    there = (marks < 255).view(np.uint8)
    # sums of whole numbers are exact in 32 bits
    total, count = (cv2.boxFilter(of, cv2.CV_32F, size, normalize=False)[cell]
                    for of in (marks * there, there))
    paler = total > _RELIEF * _STEPS * dark * count
    return np.asarray(paler & (area >= _BROAD) & (dark <= _WEAK * lightest))


def _strung(cell: Cells, among: Mask, shape: tuple[int, ...]) -> Mask:
    """Which of ``among`` lie in a group of several, each near another: a tone, or a dry stroke."""
    there = np.zeros(shape, np.uint8)
    there[tuple(axis[among] for axis in cell)] = 1
    near = grid.disc(_CRUMBS_MM / 2 / CELL_MM)
    _, groups = cv2.connectedComponents(cv2.dilate(there, near), connectivity=8)
    owner = np.where(among, groups[cell], 0)
    return np.asarray((np.bincount(owner) >= _GROUP)[owner] & among)


def _scattered(
    cell: Cells, dots: Mask, suspect: Mask, dark: Floats, area: Floats, shape: tuple[int, ...],
) -> Mask:
    """Which dots of ink belong to a stippled tone: those of its groups, and the strays about them.

    A tone fades by dots that lie farther and farther apart: each is near one that belongs to it.
    """
    inside = dots & (_crowd(cell, dots, shape, cell) > _GROUP)
    if not inside.any():
        return inside
    large = suspect & (area >= _SMALLER * np.median(area[inside]))
    large &= dark >= _NO_PALER * np.median(dark[inside])
    near = grid.disc(_STRONG_MM / CELL_MM)
    while True:
        there = np.zeros(shape, np.uint8)
        there[tuple(axis[inside] for axis in cell)] = 1
        strays = large & ~inside & (cv2.dilate(there, near)[cell] > 0)
        if not strays.any():
            return inside
        inside |= strays


def _in_rows(place: npt.NDArray[np.floating], area: Floats) -> Mask:
    """Which dots, at places (n, 2) in mm, stand three in an even row, as an ellipsis does."""
    found = np.zeros(len(area), np.bool_)
    order = np.argsort(place[:, 0], kind="stable")
    down = place[order, 0]
    first, last = (np.searchsorted(down, place[:, 0] + reach) for reach in (-_ROW_MM, _ROW_MM))
    for one in range(len(area)):
        near = order[first[one] : last[one]]
        apart = place[near] - place[one]
        far = np.hypot(*apart.T)
        alike = np.abs(np.log(area[near] / area[one])) < np.log(_SIZED)
        fellow = (far > 0) & (far <= _ROW_MM) & alike
        near, apart, far = near[fellow], apart[fellow], far[fellow]
        uneven = np.hypot(*(apart[:, None] + apart).transpose(2, 0, 1))
        ends = uneven <= _EVEN * far
        found[near] |= ends.any(axis=1)
        found[one] |= ends.any()
    return found


def _crowd(
    cell: Cells, among: Mask, shape: tuple[int, ...], at: Cells,
) -> npt.NDArray[np.int64]:
    """How many of ``among`` are near each of the cells ``at``."""
    there = np.zeros(shape, np.uint8)
    np.add.at(there, tuple(axis[among] for axis in cell), 1)
    sums = cv2.integral(there)
    reach = round(_KIN_MM / CELL_MM)
    (top, bottom), (left, right) = (
        (np.maximum(axis - reach, 0), np.minimum(axis + reach + 1, extent))
        for axis, extent in zip(at, shape, strict=True)
    )
    near = sums[bottom, right] - sums[top, right] - sums[bottom, left] + sums[top, left]
    return np.asarray(near, np.int64)
