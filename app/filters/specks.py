"""Telling dust from small drawn marks.

A speck is dust by what stands round it, not by its size alone: a full stop, an i-dot, the
crumbs at the end of a dry stroke and the dots of a stippled tone have marks of their own kind
near by, and dust lies where it fell.
"""

from dataclasses import dataclass
from typing import TypeVar

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask
from core.histogram import Counts, Peaks, count_tones, find_peaks
from core.sheet import Plane, full_scale
from core.units import mm_to_px

RIM_MM = 0.17
"""Of blurred, pale edge about anything dark."""

_CELL_MM = 0.25
_STEPS = 200  # of darkness
_FIRM = 0.45  # of full black: as dark as that no dust is that touches a mark
_BLUR_MM = 0.13  # of pale edge that firm ink has
_GRAIN_MM, _GRAIN_MM2 = 0.5, 0.02  # so near to a mark and so small, it is the mark's own grain
_KIN_MM = 1.6  # so near, marks of about one strength belong together
_STRONG_MM = 3.2  # so near, a dot as dark as the ink belongs to it: a stop, the dot of an i
_STRONG = 0.55  # of full black: a dot darker than that is drawn in ink
_PALER = 2.2  # times as dark as the speck: a mark darker than that is of another kind
_FELLOWS = 3  # others of its kind within reach of it make it part of a line or a tone
_CRUMBS = 3  # others of any kind: grain comes in crowds
_HALO_MM = 0.25  # of paper that anything dark may have kept about it
_NEAR_MM, _AWAY_MM = 0.5, 1.5  # so far from a speck, pale parts of a faint mark may show,
_PALE = 0.007  # if they are so much of what lies there
_WHITE_SHARE = 0.02  # of the page exactly white, and hardly any of it
_BESIDE = 20  # times less, all but white: its paper has been taken away before
_CLEAR = 3.0  # deviations of the paper's noise by which a mark is darker than the paper
_DARKEST_PAPER = 100.0  # of 255
_LEAST = 8.0  # tones by which it is darker at least

Floats = npt.NDArray[np.float32]
P = TypeVar("P", bound=Plane)


@dataclass(frozen=True)
class Ground:
    """The paper's tone, the tone below which something lies on it, both in code values.

    ``taken`` is whether most of the paper is exact white already.
    """

    paper: float
    limit: int
    taken: bool


def ground_of(plane: Plane, limit: float | None = None) -> Ground:
    """The paper of a plane (H, W); where it was taken away, what is left of it about the marks.

    ``limit`` is the tone, 0-255, below which something lies on it, if that is known.

    >>> ground_of(np.full((50, 50), 230, np.uint8))
    Ground(paper=230.0, limit=222, taken=False)
    """
    full = full_scale(plane)
    counts: Counts = count_tones(plane)
    beside = int(counts[full - full // 255])
    taken = int(counts[full]) > max(_WHITE_SHARE * plane.size, _BESIDE * beside)
    if taken:
        counts[full] = 0
    peaks = find_peaks(counts) if counts.any() else Peaks(0.0, 0.0)
    paper, noise = peaks.paper, peaks.noise
    if taken and paper < _DARKEST_PAPER:
        paper, noise = 255.0, 0.0  # none is left about the marks either
    if limit is None:
        limit = mark_limit(paper, noise)
    paper = max(paper, limit, 1.0)
    return Ground(paper * full / 255, max(0, round(limit * full / 255)), taken)


def mark_limit(paper: float, noise: float) -> float:
    """The tone below which something lies on paper of this tone and noise; all 0-255.

    >>> mark_limit(230, 4)
    218.0
    """
    return paper - max(_CLEAR * noise, _LEAST)


@dataclass(frozen=True, eq=False)
class Specks:
    """Connected marks that are small, one row each; lengths in mm, darkness 0-1.

    ``place`` is a speck's middle in pixels, (n, 2) as row, column; ``weight`` its darkness
    summed, in mm2 of full black. ``pixels`` are the places of all their pixels in the flat
    plane, ``owner`` the row of each; ``marked`` (H, W) uint8 is 1 wherever any mark is,
    ``firm`` on firm ink and its blurred edge; ``touching`` is whether a speck touches a long mark.
    """

    place: npt.NDArray[np.int64]
    longest: Floats
    area: Floats
    darkest: Floats
    weight: Floats
    pixels: npt.NDArray[np.int64]
    owner: npt.NDArray[np.int64]
    marked: npt.NDArray[np.uint8]
    firm: npt.NDArray[np.uint8]
    touching: Mask

    def within(self, mask: npt.NDArray[np.uint8]) -> Mask:
        """Which specks lie for the most part where a mask (H, W) is 1; (n,)."""
        count = len(self.place)
        inside = np.bincount(self.owner, mask.ravel()[self.pixels], count)
        return np.asarray(2 * inside > np.bincount(self.owner, minlength=count))


def find_specks(plane: Plane, ppi: float, ground: Ground, longest: float) -> Specks:
    """The connected marks (by edge or corner) of a plane (H, W) no longer than ``longest`` mm.

    >>> page = np.full((60, 60), 230, np.uint8)
    >>> page[30:33, 30:33] = 60
    >>> specks = find_specks(page, 300, ground_of(page), 0.5)
    >>> specks.place.tolist(), len(specks.pixels)
    ([[31, 31]], 9)
    """
    marked = (plane < ground.limit).astype(np.uint8)
    side = mm_to_px(1, ppi)
    long = _long_marks(marked, longest * side, _cell(ppi))
    firm = _firm_ink(plane, long, ground, ppi)
    loose = marked & (1 - firm)
    _, labels, stats, middle = cv2.connectedComponentsWithStats(loose, connectivity=8)
    size = np.maximum(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]) / side
    small = size <= longest
    small[0] = False
    number = np.flatnonzero(small)
    found = np.flatnonzero(loose)
    owner = np.where(small, np.cumsum(small) - 1, -1)[labels.ravel()[found]]
    pixels, owner = found[owner >= 0], owner[owner >= 0]
    dark = np.clip(1.0 - plane.ravel()[pixels] / np.float32(ground.paper), -1.0, 1.0)
    darkest = np.zeros(number.size, np.float32)
    np.maximum.at(darkest, owner, dark.astype(np.float32))
    return Specks(
        np.rint(middle[number][:, ::-1]).astype(np.int64),
        size[number].astype(np.float32),
        (stats[number, cv2.CC_STAT_AREA] / side**2).astype(np.float32), darkest,
        (np.bincount(owner, dark, number.size) / side**2).astype(np.float32),
        pixels, owner, marked, firm,
        np.bincount(owner, long.ravel()[pixels], number.size) > 0,
    )


def _cell(ppi: float) -> int:
    return max(1, round(mm_to_px(_CELL_MM, ppi)))


def _long_marks(
    marked: npt.NDArray[np.uint8], longest: float, side: int,
) -> npt.NDArray[np.uint8]:
    """1 on marks longer than so many pixels, told by squares of ``side`` pixels that touch."""
    squares = 1 - _least(1 - marked, side, 1)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(squares, connectivity=8)
    size = np.maximum(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    long = (size * side > longest).astype(np.uint8)
    long[0] = 0
    height, width = (count * side for count in squares.shape)
    wide = cv2.resize(long[labels], (width, height), interpolation=cv2.INTER_NEAREST)
    return np.asarray(wide[: marked.shape[0], : marked.shape[1]] & marked, np.uint8)


def _least(plane: P, side: int, beyond: int) -> P:
    """The least value of each square of ``side`` pixels; ``beyond`` lies past the edges."""
    height, width = plane.shape
    wide = np.full((height + -height % side, width + -width % side), beyond, plane.dtype)
    wide[:height, :width] = plane
    rows = wide.reshape(-1, side, wide.shape[1]).min(axis=1)
    return np.asarray(rows.reshape(len(rows), -1, side).min(axis=2))  # type: ignore[return-value]


def _firm_ink(
    plane: Plane, long: npt.NDArray[np.uint8], ground: Ground, ppi: float,
) -> npt.NDArray[np.uint8]:
    """1 on those parts of long marks that are firm ink, and on its blurred edge.

    What is left of such a mark is pale: a speck or a hair that touches it, or its own grain.
    """
    firm = (plane < ground.paper * (1 - _FIRM)).astype(np.uint8) & long
    return np.asarray(cv2.dilate(firm, disc(_BLUR_MM, ppi)), np.uint8)


def is_dust(
    plane: Plane, ppi: float, ground: Ground, specks: Specks, size: float,
    hairs: npt.NDArray[np.uint8],
) -> Mask:
    """Which of the specks are dust: those no longer than ``size`` mm that belong to no mark; (n,).

    ``hairs`` (H, W) is 1 on hairs, which are no marks to which anything belongs.
    """
    side = _cell(ppi)
    suspect = (specks.longest <= size) | specks.within(hairs)
    marks = _strengths(plane, ground, specks, suspect, side)
    cell = tuple((specks.place // side).T)
    dark = np.maximum(specks.darkest, 1e-3)
    kin = _palest(marks, _KIN_MM)[cell] <= _PALER * dark
    strong = (dark >= _STRONG) & (_palest(marks, _STRONG_MM)[cell] <= 1.0)
    close = specks.touching | (_palest(marks, _GRAIN_MM)[cell] <= 1.0)
    crumbs = _crowd(cell, suspect, marks.shape)[cell] - suspect
    grain = close & (specks.area < _GRAIN_MM2) & (crumbs >= _CRUMBS)
    drawn = kin | strong | grain | (_fellows(cell, dark, suspect, marks.shape) >= _FELLOWS)
    if ground.taken:
        drawn |= _pale_about(plane, ppi, specks) > _PALE
    return np.asarray(suspect & ~drawn)


def _pale_about(plane: Plane, ppi: float, specks: Specks) -> npt.NDArray[np.float64]:
    """How much away from each speck is as pale as paper and was yet kept as a mark, 0-1; (n,).

    What may be the rim of something darker is left out. A faint mark shows as pale paper with
    a few dark peaks of the tooth in it: these are no specks.
    """
    pale = (plane < full_scale(plane)).astype(np.uint8)
    pale &= 1 - np.asarray(cv2.dilate(specks.marked, disc(_HALO_MM, ppi)), np.uint8)
    near, away = (
        cv2.boxFilter(pale, cv2.CV_32S, (side, side), normalize=False,
                      borderType=cv2.BORDER_CONSTANT)[tuple(specks.place.T)]
        for side in (2 * round(mm_to_px(reach, ppi)) + 1 for reach in (_NEAR_MM, _AWAY_MM))
    )
    return np.asarray((away - near) / mm_to_px(2 * _AWAY_MM, ppi) ** 2)


def _strengths(
    plane: Plane, ground: Ground, specks: Specks, suspect: Mask, side: int,
) -> npt.NDArray[np.uint8]:
    """How dark the marks about each cell are that are not suspect, in 200ths; 255 for none."""
    full = full_scale(plane)
    rest = np.where(specks.marked, plane, plane.dtype.type(full))
    rest.ravel()[specks.pixels[suspect[specks.owner]]] = full
    dark = np.clip(1.0 - _least(rest, side, full) / np.float32(ground.paper), 0.0, 1.0)
    steps = np.ceil(dark * _STEPS).astype(np.uint8)
    # a mark's pale rim is as strong as the mark
    strong = cv2.dilate(steps, np.ones((3, 3), np.uint8))
    return np.where(steps > 0, strong, np.uint8(255)).astype(np.uint8)


def _palest(marks: npt.NDArray[np.uint8], reach_mm: float) -> Floats:
    """The darkness of the palest mark within reach of each cell; 2 where there is none."""
    reach = round(reach_mm / _CELL_MM)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    found = cv2.erode(marks, disc)
    return np.where(found == 255, np.float32(2), found / np.float32(_STEPS)).astype(np.float32)


def _fellows(
    cell: tuple[npt.NDArray[np.int64], ...], dark: Floats, among: Mask, shape: tuple[int, ...],
) -> npt.NDArray[np.int64]:
    """How many others of ``among``, to which it belongs, are near and about as dark as it."""
    found = np.zeros(len(dark), np.int64)
    kind = np.rint(np.log2(dark) * 2).astype(np.int64)
    for one in np.unique(kind):
        near = _crowd(cell, among & (np.abs(kind - one) <= 1), shape)
        mine = kind == one
        found[mine] = near[tuple(axis[mine] for axis in cell)] - 1
    return found


def _crowd(
    cell: tuple[npt.NDArray[np.int64], ...], among: Mask, shape: tuple[int, ...],
) -> npt.NDArray[np.int64]:
    """How many of ``among`` are near each cell."""
    there = np.zeros(shape, np.float32)
    np.add.at(there, tuple(axis[among] for axis in cell), 1)
    reach = 2 * round(_KIN_MM / _CELL_MM) + 1
    near = cv2.boxFilter(there, -1, (reach, reach), normalize=False,
                         borderType=cv2.BORDER_CONSTANT)
    return np.rint(near).astype(np.int64)


def disc(reach: float, ppi: float) -> npt.NDArray[np.uint8]:
    """A disc of ``reach`` mm, one pixel at least, as OpenCV takes it; (s, s) of 0 and 1.

    >>> disc(0.1, 300).tolist()
    [[0, 1, 0], [1, 1, 1], [0, 1, 0]]
    """
    pixels = max(1, round(mm_to_px(reach, ppi)))
    size = (2 * pixels + 1, 2 * pixels + 1)
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, size), np.uint8)
