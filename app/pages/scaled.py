"""Area averages, exact to the last bit, of a page that comes in bands.

A pixel of the smaller picture is the mean of the area that it covers, parts of pixels
included. All sums are integers, so the result does not depend on how the page was cut
into bands, on the number of threads or on the machine.
"""

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from core.sheet import Plane, spans

Sums = npt.NDArray[np.int64]


class Cells:
    """The grid of ``small`` (height, width) cells laid over a page of ``shape``."""

    def __init__(self, shape: tuple[int, int], small: tuple[int, int]) -> None:
        if min(small) < 1 or small[0] > shape[0] or small[1] > shape[1]:
            raise ValueError("an average is at least one pixel and no larger than the page")
        self.shape = shape
        self.small = small
        self._columns, self._shares = np.divmod(
            np.arange(small[1] + 1, dtype=np.int64) * shape[1], small[1]
        )

    @property
    def area(self) -> int:
        """The sum of all weights in a cell: its area in parts of a pixel."""
        return self.shape[0] * self.shape[1]

    def span(self, top: int, bottom: int) -> tuple[int, int]:
        """The rows of cells that the page's rows ``top`` to ``bottom`` touch.

        >>> Cells((10, 10), (4, 4)).span(2, 6)
        (0, 3)
        """
        height, small = self.shape[0], self.small[0]
        return top * small // height, -(-bottom * small // height)

    def corners(self, top: int, bottom: int) -> tuple[npt.NDArray[np.bool_], Sums, Sums]:
        """The pixel at the top left of each cell: which rows of cells it is for, rows, columns."""
        first, last = self.span(top, bottom)
        rows = np.arange(first, last, dtype=np.int64) * self.shape[0] // self.small[0] - top
        inside = rows >= 0
        return inside, rows[inside], self._columns[:-1]

    def sums(self, plane: Plane, top: int) -> Sums:
        """Weighted sums of a band that starts at row ``top``: (rows of ``span``, columns).

        A row of cells that lies in two bands has a part of its sum in each; the parts add up.
        ``plane`` is uint8 or uint16.
        """
        if plane.dtype == np.uint16:
            high, low = plane >> 8, plane
            return self.sums(high.astype(np.uint8), top) * 256 + self.sums(
                low.astype(np.uint8), top
            )
        bottom = top + len(plane)
        first, last = self.span(top, bottom)
        table = _integral(plane)
        edges = np.arange(first, last + 1, dtype=np.int64) * self.shape[0]
        edges = np.clip(edges, top * self.small[0], bottom * self.small[0])
        rows, shares = np.divmod(edges - top * self.small[0], self.small[0])
        above = self._across(table[rows])
        below = self._across(table[np.minimum(rows + 1, len(plane))])
        share = shares[:, None]
        sums: Sums = np.diff(above * (self.small[0] - share) + below * share, axis=0)
        return sums

    def _across(self, table: npt.NDArray[Any]) -> Sums:
        """Sums over the columns of cells, of all that is above each row of ``table``."""
        left = table[:, self._columns].astype(np.int64)
        right = table[:, np.minimum(self._columns + 1, self.shape[1])].astype(np.int64)
        sums: Sums = np.diff(left * (self.small[1] - self._shares) + right * self._shares, axis=1)
        return sums

    def mean(self, sums: Sums, bits: int) -> Plane:
        """Sums to means, rounded to nearest, halves up.

        >>> Cells((1, 2), (1, 1)).mean(np.array([[255]]), 8).tolist()
        [[128]]
        """
        total = (sums + self.area // 2) // self.area
        return total.astype(np.uint8 if bits == 8 else np.uint16)


def _integral(plane: Plane) -> npt.NDArray[Any]:
    """Sums of all that is above and left: int32 where it holds them, else float64, exact too."""
    return np.asarray(
        cv2.integral(plane, sdepth=cv2.CV_32S if plane.size < 1 << 23 else cv2.CV_64F)
    )


class Gathering:
    """Rows of cells put together from consecutive bands."""

    def __init__(self, cells: Cells) -> None:
        self._cells = cells
        self._bottom = 0
        self._open: Sums | None = None

    def add(self, sums: Sums, height: int) -> Sums:
        """Add the sums of the next ``height`` rows of the page; give the rows now complete.

        ``sums`` is (..., rows of ``span``, columns).
        """
        first, _ = self._cells.span(self._bottom, self._bottom + height)
        self._bottom += height
        if self._open is not None:
            sums = sums.copy()
            sums[..., :1, :] += self._open
        complete = self._bottom * self._cells.small[0] // self._cells.shape[0] - first
        rest = sums[..., complete:, :]
        self._open = rest.copy() if rest.shape[-2] else None
        return sums[..., :complete, :]


def average(plane: Plane, height: int, width: int) -> Plane:
    """The plane (H, W), uint8 or uint16, averaged down to (height, width); exact.

    Raises ``ValueError`` where it would be enlarged.

    >>> average(np.array([[0, 255], [0, 255], [0, 255]], np.uint8), 2, 1).tolist()
    [[128], [128]]
    """
    cells = Cells((plane.shape[0], plane.shape[1]), (height, width))
    gathering = Gathering(cells)
    bits = plane.dtype.itemsize * 8
    done: Sequence[Plane] = [
        cells.mean(gathering.add(cells.sums(plane[top:bottom], top), bottom - top), bits)
        for top, bottom in spans(len(plane))
    ]
    return np.concatenate(done)
