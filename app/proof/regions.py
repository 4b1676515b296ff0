"""Connected cells as regions: where they lie, how large they are, how dark they print."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
import numpy.typing as npt

from app.proof.cells import Counts, Mask, Tally
from core.units import px_to_mm

Verdict = Literal["may print", "will print", "gone", "too pale", "too thin", "faint ink",
                  "not solid"]

Box = tuple[float, float, float, float]
"""Left, top, width, height, in mm on the page as it is scanned."""


@dataclass(frozen=True)
class Region:
    """One region of a page.

    ``box`` is in mm of the scan, so that a page can be turned to it; ``area`` the mm2 of its
    pixels on the *printed* sheet; ``cover`` their mean cover, 0-1. ``dust`` tells a speck from
    paper.
    """

    verdict: Verdict
    box: Box
    area: float
    cover: float
    dust: bool = False
    number: int = 0

    @property
    def middle(self) -> tuple[float, float]:
        """Its middle, mm from the left and from the top of the scan.

        >>> Region("may print", (10, 20, 4, 2), 1.0, 0.01).middle
        (12.0, 21.0)
        """
        left, top, width, height = self.box
        return left + width / 2, top + height / 2


def numbered(regions: Iterable[Region]) -> tuple[Region, ...]:
    """The regions with their numbers, from 1."""
    return tuple(replace(region, number=n) for n, region in enumerate(regions, start=1))


@dataclass(frozen=True, eq=False)
class Labels:
    """Connected cells and figures of each label; label 0 belongs to no region.

    ``grid`` are rows and columns of cells, ``inside`` (k,) the places in it, row by row, of the
    cells that have a label, or all places, ``which`` (k,) their labels. ``pixels`` and ``alpha``
    are sums of the tally; ``boxes`` (n, 4) are columns and rows of cells: left, top, width, height.
    """

    grid: tuple[int, int]
    inside: npt.NDArray[np.intp] | slice
    which: npt.NDArray[np.int32]
    pixels: Counts
    alpha: Counts
    boxes: npt.NDArray[np.int32]

    def any_of(self, mask: Mask) -> Mask:
        """For each label whether some cell of it is in the mask (h, w); (n,)."""
        found = np.zeros(len(self.pixels), np.bool_)
        found[self.which[mask.ravel()[self.inside]]] = True
        found[0] = False
        return found

    def spread(self, codes: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
        """The code (n,) of each label laid on its cells; (h, w), 0 elsewhere."""
        cells = np.zeros(self.grid, np.uint8)
        cells.ravel()[self.inside] = codes[self.which]
        return cells


_NOTHING = 1, np.zeros(0, np.int32), np.zeros((1, 5), np.int32)


def _components(mask: Mask) -> tuple[int, npt.NDArray[np.int32], npt.NDArray[np.int32]]:
    count, cells, stats, _ = cv2.connectedComponentsWithStats(
        mask.view(np.uint8), connectivity=8, ltype=cv2.CV_32S)
    return count, np.asarray(cells, np.int32), np.asarray(stats, np.int32)


def _added_up(which: npt.NDArray[np.int32], part: Counts, count: int) -> Counts:
    """What the parts of each label add up to; runs of one label are added first, which is fast."""
    if not which.size:
        return np.zeros(count, np.int64)
    starts = np.concatenate([[0], np.flatnonzero(which[1:] != which[:-1]) + 1])
    runs = np.add.reduceat(part, starts, dtype=np.int64)
    sums = np.rint(np.bincount(which[starts], runs, count)).astype(np.int64)
    sums[0] = 0
    return sums


def label(mask: Mask, counted: Tally) -> Labels:
    """Regions of cells that touch by side or corner, with the tally summed over each.

    >>> mask = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 0], [1, 0, 0]], bool)
    >>> labels = label(mask, Tally(mask.astype(np.int64) * 2, mask.astype(np.int64) * 9))
    >>> labels.pixels.tolist()
    [0, 4, 2]
    """
    places = np.flatnonzero(mask)
    count, cells, stats = _components(mask) if places.size else _NOTHING
    dense = places.size > mask.size // 4  # then taking all costs less than picking them out
    inside = slice(None) if dense else places
    which = cells.ravel()[inside]
    pixels, alpha = (_added_up(which, part.ravel()[inside], count)
                     for part in (counted.pixels, counted.alpha))
    return Labels((mask.shape[0], mask.shape[1]), inside, which, pixels, alpha, stats[:, :4])


@dataclass(frozen=True)
class Scale:
    """How cells become mm: pixels along a cell, the scan's resolution, and that in print."""

    side: int
    ppi: float
    ppi_printed: float

    def box(self, cells: npt.NDArray[np.int32]) -> Box:
        """A box of cells in mm of the scan."""
        left, top, width, height = (px_to_mm(int(n) * self.side, self.ppi) for n in cells)
        return left, top, width, height

    def area(self, pixels: float) -> float:
        """The printed mm2 of so many pixels."""
        return pixels * px_to_mm(1, self.ppi_printed) ** 2
