"""Small connected marks, loose or touching a larger one, and the paper they lie on."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import cv2
import numpy as np
import numpy.typing as npt

from app.filters import grid
from app.filters.grid import Mask
from app.filters.pieces import find_pieces
from app.filters.strips import ROWS, Strip, side_by_side, strips
from core.histogram import Counts, Peaks, count_tones, find_peaks
from core.sheet import Plane, full_scale
from core.units import mm_to_px

RIM_MM = 0.17
"""Of blurred, pale edge about anything dark."""

CELL_MM = 0.25
"""The side of the cells in which what stands round a speck is looked at."""

SQUARE_MM = 0.17
"""The side of the squares by which it is told what of a page was kept."""

STEPS = 200
"""Steps of darkness, from the paper to black, where darkness is told in whole numbers."""

CLEAR = 3.0
"""Deviations of the paper's noise by which a mark is darker than the paper."""

FIRM = 0.45
"""Of full black: as dark as that no dust is that touches a mark."""

BLUR_MM = 0.13
"""Of pale edge, by the lens, that firm ink has."""

_WHITE_SHARE = 0.02  # of the page exactly white, and hardly any of it
_BESIDE = 20  # times less, all but white: its paper has been taken away before
_DARKEST_PAPER = 100.0  # of 255
_LEAST = 8.0  # tones by which it is darker at least

Floats = npt.NDArray[np.float32]
Bits = npt.NDArray[np.uint8]
P = TypeVar("P", bound=Plane)


@dataclass(frozen=True)
class Ground:
    """The paper's tone, the tone below which something lies on it, both in code values.

    ``taken`` is whether most of the paper is exact white already.
    """

    paper: float
    limit: int
    taken: bool

    def steps(self, plane: Plane) -> Bits:
        """How dark each value of a plane's depth is, 0 for paper to ``STEPS`` for black; (256,).

        Or (65536,), at 16 bits.
        """
        tones = np.arange(full_scale(plane) + 1, dtype=plane.dtype)
        dark = np.clip(1.0 - tones / np.float32(self.paper), 0.0, 1.0)
        return np.asarray(np.ceil(dark * STEPS).astype(np.uint8))


def ground_of(plane: Plane, known: tuple[float, float] | None = None) -> Ground:
    """The paper of a plane (H, W), and the tone below which something lies on it.

    ``known`` are that tone and the paper's as it was before it was taken away, 0-255. What is left
    of it about the marks tells no more than that something was: it is their own pale edge.

    >>> ground_of(np.full((50, 50), 230, np.uint8))
    Ground(paper=230.0, limit=222, taken=False)
    """
    full = full_scale(plane)
    white, beside = (
        int(np.count_nonzero(plane == tone)) for tone in (full, full - full // 255))
    taken = white > max(_WHITE_SHARE * plane.size, _BESIDE * beside)
    if known is not None and taken:
        limit, paper = known
    else:
        paper, noise = _paper_of(plane, taken=taken)
        limit = mark_limit(paper, noise) if known is None else known[0]
    paper = max(paper, limit, 1.0)
    return Ground(paper * full / 255, max(0, round(limit * full / 255)), taken)


def _paper_of(plane: Plane, *, taken: bool) -> tuple[float, float]:
    """The tone and the noise of the paper, or of what is left about the marks, 0-255."""
    counts = _counts(plane)
    if taken:
        counts[full_scale(plane)] = 0
    peaks = find_peaks(counts) if counts.any() else Peaks(0.0, 0.0)
    if taken and peaks.paper < _DARKEST_PAPER:
        return 255.0, 0.0  # none is left about the marks either
    return peaks.paper, peaks.noise


def _counts(plane: Plane) -> Counts:
    """``count_tones`` of a plane, on all threads."""
    found: list[Counts] = []
    side_by_side(lambda strip: found.append(count_tones(plane[strip[0]])), strips(len(plane)))
    return np.asarray(np.sum(found, axis=0), np.int64)


def mark_limit(paper: float, noise: float) -> float:
    """The tone below which something lies on paper of this tone and noise; all 0-255.

    >>> mark_limit(230, 4)
    218.0
    """
    return paper - max(CLEAR * noise, _LEAST)


@dataclass(frozen=True, eq=False)
class Specks:
    """Connected marks that are small, one row each; lengths in mm, darkness 0-1.

    ``place`` is a speck's middle in pixels, (n, 2) as row, column; ``pixels`` are the places of
    all their pixels in the flat plane, ``owner`` the row of each; ``marked`` (H, W) uint8 is 1
    wherever any mark is, ``firm`` on firm ink and its blurred edge; ``touching`` is whether a
    speck touches a long mark.
    """

    place: npt.NDArray[np.int64]
    longest: Floats
    area: Floats
    darkest: Floats
    pixels: npt.NDArray[np.int64]
    owner: npt.NDArray[np.int64]
    marked: Bits
    firm: Bits
    touching: Mask

    def within(self, mask: Bits) -> Mask:
        """Which specks lie for the most part where a mask (H, W) is 1; (n,)."""
        count = len(self.place)
        inside = np.bincount(self.owner, mask.ravel()[self.pixels], count)
        return np.asarray(2 * inside > np.bincount(self.owner, minlength=count))


@dataclass(frozen=True, eq=False)
class Marks:
    """All that is marked on a plane: 1 or 0, (H, W) uint8.

    ``marked`` wherever any mark is, ``long`` on long ones, ``firm`` on those parts of them that
    are firm ink and its blurred edge, ``loose`` on the rest of all.
    """

    marked: Bits
    long: Bits
    loose: Bits
    firm: Bits


def find_marks(plane: Plane, ppi: float, ground: Ground, longest: float) -> Marks:
    """The marks of a plane (H, W), of which those longer than ``longest`` mm are long.

    >>> page = np.full((60, 60), 230, np.uint8)
    >>> page[30:33, 30:33] = 60
    >>> marks = find_marks(page, 300, ground_of(page), 0.5)
    >>> int(marks.marked.sum()), int(marks.loose.sum()), int(marks.firm.sum())
    (9, 9, 0)
    """
    marked, long = _marks(plane, ground, longest * mm_to_px(1, ppi), cell_of(ppi))
    return Marks(marked, long, *_loose_marks(plane, marked, long, ground, ppi))


def find_specks(
    plane: Plane, ppi: float, ground: Ground, longest: float, marks: Marks | None = None,
) -> Specks:
    """The connected marks (by edge or corner) of a plane (H, W) no longer than ``longest`` mm.

    ``marks`` are what ``find_marks`` finds there, where that is known already.

    >>> page = np.full((60, 60), 230, np.uint8)
    >>> page[30:33, 30:33] = 60
    >>> specks = find_specks(page, 300, ground_of(page), 0.5)
    >>> specks.place.tolist(), len(specks.pixels)
    ([[31, 31]], 9)
    """
    side = mm_to_px(1, ppi)
    marks = marks or find_marks(plane, ppi, ground, longest)
    pieces = find_pieces(marks.loose)
    size = pieces.longest / side
    small = size <= longest
    small[0] = False
    number = np.flatnonzero(small)
    owner = np.where(small, np.cumsum(small) - 1, -1)[pieces.owner]
    pixels, owner = pieces.place[owner >= 0], owner[owner >= 0]
    dark = np.clip(1.0 - plane.ravel()[pixels] / np.float32(ground.paper), -1.0, 1.0)
    darkest = np.zeros(number.size, np.float32)
    np.maximum.at(darkest, owner, dark.astype(np.float32))
    return Specks(
        np.rint(pieces.middle[number]).astype(np.int64),
        size[number].astype(np.float32),
        (pieces.area[number] / side**2).astype(np.float32), darkest,
        pixels, owner, marks.marked, marks.firm,
        np.bincount(owner, marks.long.ravel()[pixels], number.size) > 0,
    )


def cell_of(ppi: float) -> int:
    """The side, in pixels, of the cells in which what stands round a speck is looked at.

    >>> cell_of(300)
    3
    """
    return max(1, round(mm_to_px(CELL_MM, ppi)))


def _marks(plane: Plane, ground: Ground, longest: float, side: int) -> tuple[Bits, Bits]:
    """1 on marks; 1 on those longer than so many pixels, told by squares of ``side`` that touch."""
    height, width = plane.shape
    marked = np.empty(plane.shape, np.uint8)
    squares = np.empty((-(-height // side), -(-width // side)), np.uint8)

    def mark(strip: Strip) -> None:
        rows = strip[0]
        np.less(plane[rows], ground.limit, out=marked[rows].view(np.bool_))
        squares[rows.start // side : -(-rows.stop // side)] = folded(
            np.maximum, marked[rows], side, 0)

    parts = strips(height, rows=max(ROWS // side, 1) * side)
    side_by_side(mark, parts)
    pieces = find_pieces(squares)
    far = pieces.longest * side > longest
    long = np.empty(plane.shape, np.uint8)

    def tell(strip: Strip) -> None:
        rows = strip[0]
        coarse = far[pieces.labels[rows.start // side : -(-rows.stop // side)]].view(np.uint8)
        fine = cv2.resize(coarse, (coarse.shape[1] * side, coarse.shape[0] * side),
                          interpolation=cv2.INTER_NEAREST)
        np.bitwise_and(fine[: rows.stop - rows.start, :width], marked[rows], out=long[rows])

    side_by_side(tell, parts)
    return marked, long


def by_squares(told: Callable[[slice], Bits], shape: tuple[int, ...], side: int) -> Bits:
    """1 in each square of ``side`` pixels in which any is told, of a page (H, W) told by rows.

    >>> page = np.array([[0, 0, 1], [0, 0, 0], [0, 1, 0]], np.uint8)
    >>> by_squares(lambda rows: page[rows], page.shape, 2).tolist()
    [[0, 1], [1, 0]]
    """
    squares = np.empty([-(-extent // side) for extent in shape], np.uint8)

    def tell(strip: Strip) -> None:
        rows = strip[0]
        squares[rows.start // side : -(-rows.stop // side)] = folded(
            np.maximum, told(rows), side, 0)

    side_by_side(tell, strips(shape[0], rows=max(ROWS // side, 1) * side))
    return squares


def folded(reduce: np.ufunc, plane: P, side: int, beyond: int) -> P:
    """Each square of ``side`` pixels reduced to one; ``beyond`` lies past the edges.

    >>> folded(np.minimum, np.array([[5, 3, 9], [4, 7, 8]], np.uint8), 2, 255).tolist()
    [[3, 8]]
    """
    height, width = plane.shape
    wide: npt.NDArray[np.unsignedinteger] = plane
    if height % side or width % side:
        wide = np.full((height + -height % side, width + -width % side), beyond, plane.dtype)
        wide[:height, :width] = plane
    rows: npt.NDArray[np.unsignedinteger] = wide[::side]
    for row in range(1, side):
        rows = reduce(rows, wide[row::side])
    found = rows[:, ::side]
    for column in range(1, side):
        found = reduce(found, rows[:, column::side])
    return np.asarray(found)  # type: ignore[return-value]


def _loose_marks(
    plane: Plane, marked: Bits, long: Bits, ground: Ground, ppi: float,
) -> tuple[Bits, Bits]:
    """1 on marks that are not firm ink; 1 on those parts of long marks that are, and their edge.

    What is left of a long mark is pale: a speck or a hair that touches it, or its own grain.
    """
    about, limit = disc(BLUR_MM, ppi), math.ceil(ground.paper * (1 - FIRM))
    loose, firm = np.empty_like(marked), np.empty_like(marked)

    def tell(strip: Strip) -> None:
        rows, wide, inner = strip
        dark = (plane[wide] < limit).view(np.uint8) & long[wide]
        firm[rows] = cv2.dilate(dark, about)[inner]
        np.greater(marked[rows], firm[rows], out=loose[rows].view(np.bool_))

    side_by_side(tell, strips(len(plane), len(about)))
    return loose, firm


def disc(reach: float, ppi: float) -> Bits:
    """A disc of ``reach`` mm, one pixel at least, as OpenCV takes it; (s, s) of 0 and 1.

    >>> disc(0.1, 300).tolist()
    [[0, 1, 0], [1, 1, 1], [0, 1, 0]]
    """
    return grid.disc(mm_to_px(reach, ppi))
