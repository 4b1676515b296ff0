"""Connected cells as regions: where they lie, how large they are, how dark they print."""

from dataclasses import dataclass
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


@dataclass(frozen=True, eq=False)
class Labels:
    """Connected cells: the label of each cell (0 is none), and figures of each label.

    ``pixels`` and ``alpha`` are sums of the tally; ``boxes`` (n, 4) are columns and rows of
    cells: left, top, width, height. Index 0 belongs to no region.
    """

    cells: npt.NDArray[np.int32]
    pixels: Counts
    alpha: Counts
    boxes: npt.NDArray[np.int32]

    def any_of(self, mask: Mask) -> Mask:
        """For each label whether some cell of it is in the mask; (n,)."""
        found = np.zeros(len(self.pixels), np.bool_)
        found[self.cells[mask]] = True
        found[0] = False
        return found


def label(mask: Mask, counted: Tally) -> Labels:
    """Regions of cells that touch by side or corner, with the tally summed over each.

    >>> mask = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 0], [1, 0, 0]], bool)
    >>> labels = label(mask, Tally(mask.astype(np.int64) * 2, mask.astype(np.int64) * 9))
    >>> labels.pixels.tolist()
    [0, 4, 2]
    """
    count, cells, stats, _ = cv2.connectedComponentsWithStats(
        mask.astype(np.uint8), connectivity=8, ltype=cv2.CV_32S)
    inside = np.flatnonzero(mask)
    which = cells.ravel()[inside]
    pixels, alpha = (
        np.rint(np.bincount(which, part.ravel()[inside], count)).astype(np.int64)
        for part in (counted.pixels, counted.alpha)
    )
    return Labels(np.asarray(cells, np.int32), pixels, alpha, np.asarray(stats[:, :4], np.int32))


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
