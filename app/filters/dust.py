"""Which specks are dust.

A speck is dust by what stands round it, not by its size alone: a full stop, an i-dot, the
crumbs at the end of a dry stroke and the dots of a stippled tone have marks of their own kind
near by, and dust lies where it fell. A dot as dark as ink is judged by rules, since to lose one
costs a word or an eye; of pale specks there are thousands, and they are weighed by odds.
"""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters import grid
from app.filters.company import company
from app.filters.grid import Mask
from app.filters.in_line import lie_in_line
from app.filters.pieces import find_pieces
from app.filters.specks import (
    CELL_MM,
    FIRM,
    SQUARE_MM,
    STEPS,
    Bits,
    Floats,
    Ground,
    Specks,
    by_squares,
    cell_of,
    folded,
)
from app.filters.strips import ROWS, Strip, both, side_by_side, strips
from core.sheet import Plane, full_scale
from core.units import mm_to_px

_KIN_MM, _TIMES = 1.6, (0.02, 50.0)  # so near, marks are compared; how far that is told
_STRONG_MM = 3.2  # so near, a dot as dark as the ink belongs to it: a stop, the dot of an i
_STRONG = 0.55  # of full black: a dot darker than that is drawn in ink
_AKIN = 1.3  # times as dark as what is near, or paler than that: a pale speck was drawn with it
_DARKER = 2.0  # and no dot is so many times as dark as all that is near
_FELLOWS = float(np.log(3.5))  # three others of its kind, more than on bare paper: a dot is drawn
_ALIKE, _KIND = 2, 5  # rows of signs
_GROUP, _CRUMBS_MM = 5, 1.0  # so many specks, each so near another, are a tone or a dry stroke,
_TONE = float(np.log(6.0))  # unless so many times paler than the marks about them: then relief
_SMALLER, _NO_PALER = 0.3, 0.6  # than a group of dots of ink, in the middle, its strays may be
_ROW_MM, _EVEN, _SIZED = 3.0, 0.15, 1.8  # dots so near, so evenly spaced, so alike are a row
_BARE_MM, _FARTHEST_MM, _NO_MM = 2.0, 20.0, 0.1  # from any mark: bare paper; far is far; touching
_STROKE_MM = 3.0  # longer than a speck: a stroke that is as pale as the paper's own grain
# What speaks for a pale speck being dust, as a logarithm of odds, fitted on drawn pages whose
# dust is known: before and for each of its signs; if it lies by itself, if it is part of more
_LOOSE = -6.72, np.array(
    [0.915, -1.672, -1.507, -4.614, -0.646, 0.165, 1.105, 6.29, -1.283, 1.184, 0.15, -0.486])
_PART = -0.70, np.array(
    [1.402, -0.972, -1.126, -1.055, 3.235, 0.683, 0.6, 2.66, -0.811, -0.036, 0.743, -0.273])

PART_MM = 1.0
"""Longer than a speck with its rim: something more was kept, of which it is but a part."""

Cells = tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]


def is_dust(
    plane: Plane, ppi: float, ground: Ground, specks: Specks, size: float, hairs: Bits,
    more: Floats,
) -> Mask:
    """Which of the specks are dust: those no longer than ``size`` mm that belong to no mark; (n,).

    ``hairs`` (H, W) is 1 on hairs, which are no marks to which anything belongs; ``more`` (n,) is
    what ``more_about`` tells.
    """
    parts = more > PART_MM
    hair = specks.within(hairs)
    small = (specks.longest <= size) & ~hair
    if not small.any():
        return hair
    marks = _strengths(plane, ground, specks, small | hair, cell_of(ppi), hairs)
    dark = np.maximum(specks.darkest, 1e-3)
    dots = small & (dark >= _STRONG)
    cell = _cells(specks, ppi)
    signs, (strong, near, lettered) = both(
        lambda: _signs(specks, small, dark, marks, ground, ppi),
        lambda: (_darkest(marks, _STRONG_MM)[cell], _darkest(marks, _KIN_MM)[cell],
                 _by_letters(specks, small | hair, marks.shape, ppi)))
    drawn = _strung(cell, small, marks.shape) & ~parts & (signs[_KIND] < _TONE)
    drawn |= _scattered(cell, dots, small, dark, specks.area, marks.shape)
    drawn |= dots & ((dark <= _DARKER * strong) | (signs[_ALIKE] > _FELLOWS))
    lone = dots & ~drawn
    drawn[lone] = _in_rows(specks.place[lone] / mm_to_px(1, ppi), specks.area[lone])
    kin = _are_kin(near, dark, more, lettered)
    drawn |= ~dots & (kin | (_speaks(signs, parts) <= 0))
    drawn |= lie_in_line(specks, small & ~drawn & ~dots, ppi)
    return np.asarray(hair | (small & ~drawn))


def more_about(plane: Plane, ppi: float, specks: Specks, ground: Ground) -> Floats:
    """How many mm longer than each speck is all that was kept about it; (n,).

    ``plane`` (H, W) is exact white where nothing was kept; what is kept is told by squares. 0
    where the paper was not taken.
    """
    if not ground.taken:
        return np.zeros(len(specks.place), np.float32)
    side = max(1, round(mm_to_px(SQUARE_MM, ppi)))
    pieces = find_pieces(by_squares(
        lambda rows: (plane[rows] < full_scale(plane)).view(np.uint8), plane.shape, side))
    first = np.zeros(len(specks.place), np.int64)
    first[specks.owner[::-1]] = specks.pixels[::-1]
    down, across = np.divmod(first, plane.shape[1])
    whole = pieces.longest[pieces.labels[down // side, across // side]] * side
    return np.asarray(whole / mm_to_px(1, ppi) - specks.longest, np.float32)


def _are_kin(near: Floats, dark: Floats, more: Floats, lettered: Mask) -> Mask:
    """Which pale specks are about as dark as the darkest that is near; (n,).

    Or nearly firm, beside what may be a letter: dots that the lens has paled. A part with
    nothing near is one of a stroke that is as pale as the paper's own grain.
    """
    kin = ((near <= _AKIN * dark) | (lettered & (dark >= FIRM))) & (dark <= _AKIN * near)
    return np.asarray(kin | ((more > _STROKE_MM) & (near == 0)))


def _by_letters(specks: Specks, but: Mask, shape: tuple[int, ...], ppi: float) -> Mask:
    """Which specks lie near others in ink, as long as letters, ``but`` (n,) for some; (n,)."""
    letters = ~but & (specks.darkest >= _STRONG)
    there, side = np.zeros(shape, np.uint8), cell_of(ppi)
    down, across = np.divmod(specks.pixels[letters[specks.owner]], specks.marked.shape[1])
    there[down // side, across // side] = 1
    near = cv2.dilate(there, grid.disc(_KIN_MM / CELL_MM))
    return np.asarray(near[_cells(specks, ppi)] > 0)


def _speaks(signs: Floats, parts: Mask) -> Floats:
    """What speaks for pale specks being dust, by their signs (s, n); (n,)."""
    loose, part = (before + speaks @ signs for before, speaks in (_LOOSE, _PART))
    return np.where(parts, part, loose)


def _signs(
    specks: Specks, small: Mask, dark: Floats, marks: Bits, ground: Ground, ppi: float,
) -> Floats:
    """What tells dust from crumbs and dots that were drawn, as logarithms; (s, n).

    How far from any mark a small speck lies, how many of them are near, how many of its kind
    round about, how large it is, how compact; how many times as dark as it the marks about it
    are and the square of that, since dust may be of any tone and what was drawn there is of one;
    how many times as dark as the lightest mark it is; and what the last three are together.
    """
    cell, side = _cells(specks, ppi), mm_to_px(1, ppi)
    away = cv2.distanceTransform((marks == 255).view(np.uint8), cv2.DIST_L2, 5) * CELL_MM
    far = np.minimum(away, _FARTHEST_MM)
    here = far[cell]
    near = np.maximum(_crowd(cell, small, marks.shape, cell) - 1, 0)
    alike = np.zeros(len(small))
    alike[small] = company(
        specks.place[small] / side, dark[small], specks.area[small], here[small] > _BARE_MM,
        float(np.count_nonzero(far > _BARE_MM)) * CELL_MM**2)
    size, shape = np.log(specks.area), np.log(specks.area / specks.longest**2)
    kind = _darker(marks, cell, dark)
    firm = np.log(dark / (1 - ground.limit / ground.paper))
    return np.stack([
        np.log(here + _NO_MM), np.log1p(near), np.log1p(alike), size, shape, kind, kind**2,
        firm, firm**2, size * firm, size * shape, size**2,
    ])


def _darker(marks: Bits, cell: Cells, dark: Floats) -> Floats:
    """How many times as dark as each speck the marks about it are on average, as a logarithm."""
    there = (marks < 255).view(np.uint8)
    total, count = (grid.sums_about(of, cell, round(_KIN_MM / CELL_MM))
                    for of in (marks * there, there))
    times = np.log(np.clip(total / np.maximum(STEPS * dark * count, 1e-6), *_TIMES))
    return np.where(count > 0, times, 0)


def _cells(specks: Specks, ppi: float) -> Cells:
    """The cell that each speck's middle lies in."""
    down, across = (specks.place // cell_of(ppi)).T
    return down, across


def _strengths(
    plane: Plane, ground: Ground, specks: Specks, suspect: Mask, side: int, hairs: Bits,
) -> Bits:
    """How dark the marks about each cell are, neither hairs nor suspect, in 200ths; 255: none."""
    full, table = full_scale(plane), ground.steps(plane)
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


def _darkest(marks: Bits, reach_mm: float) -> Floats:
    """The darkness of the darkest mark within reach of each cell; 0 where there is none."""
    found = cv2.dilate(marks * (marks < 255), grid.disc(reach_mm / CELL_MM))
    return np.asarray(found / np.float32(STEPS), np.float32)


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
    return np.asarray(grid.sums_about(there, at, round(_KIN_MM / CELL_MM)), np.int64)
