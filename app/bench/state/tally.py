"""Tones counted block by block, so that a page that is shown again need not be read again.

The sum of a table's results over a block is the sum over the block's tones of count times
result. Paper has few tones in a block: the counts are a small part of the page, and what
they give is exact in integers for any table.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from core.fault import Watch, unwatched
from core.sheet import Each, Plane, spans

MOST_BLOCK = 255
"""Largest side of a block whose counts fit into 16 bits, and whose sums a float32 holds."""

_STRIP_ROWS = 8  # rows of blocks whose counts stay in a core's cache together
_MOST = 0.4  # counts to a pixel: with more, the page is read as fast as its counts


@dataclass(frozen=True, eq=False)
class _Strip:
    """Some rows of blocks, the darkest block first: ``order`` says which place each has.

    Of each block its tones from the darkest, how often each comes, and where it begins in
    these two. Where a table gives one result for all light tones, no block that holds only
    such has to be looked at: most of a page is paper.
    """

    tones: npt.NDArray[np.uint8]
    counts: npt.NDArray[np.uint16]
    starts: npt.NDArray[np.intp]
    order: npt.NDArray[np.intp]

    def sums(self, results: "_Results", pixels: int) -> npt.NDArray[np.int32]:
        """The sum of the results over each block of so many pixels."""
        out = np.full(len(self.order), results.last * pixels, np.int32)
        mixed = int(np.searchsorted(self.tones[self.starts], results.even_from))
        if mixed:
            upto = None if mixed == len(self.order) else self.starts[mixed]
            each = np.asarray(cv2.LUT(self.tones[:upto], results.table), np.int32).reshape(-1)
            np.multiply(each, self.counts[:upto], out=each)
            out[self.order[:mixed]] = np.add.reduceat(each, self.starts[:mixed], dtype=np.int32)
        return out


@dataclass(frozen=True, eq=False)
class _Results:
    """A table as it is summed; from the tone ``even_from`` on it gives ``last``."""

    table: npt.NDArray[np.int32]
    even_from: int
    last: int

    @classmethod
    def of(cls, table: npt.NDArray[np.uint8]) -> "_Results":
        bends = np.flatnonzero(np.diff(table.astype(np.int32)))
        even_from = int(bends[-1]) + 1 if bends.size else 0
        return cls(table.astype(np.int32).reshape(1, 256), even_from, int(table[-1]))


@dataclass(frozen=True, eq=False)
class Tally:
    """The tones of every block of ``block`` by ``block`` pixels of an 8-bit ``plane`` (H, W)."""

    plane: Plane
    block: int
    strips: tuple[_Strip, ...]

    def of(self, plane: Plane, block: int) -> bool:
        """Whether it counts these blocks of this very plane."""
        return plane is self.plane and block == self.block

    def sums(
        self, table: npt.NDArray[np.uint8], first: int, last: int, each: Each = map,
    ) -> npt.NDArray[np.int32]:
        """What ``table`` (256,) sums to over each block of the rows ``first`` to ``last``.

        >>> page = np.array([[1, 1, 9, 9], [1, 2, 9, 9]], np.uint8)
        >>> counted = count_blocks(page, 2, most=1.0)
        >>> counted.sums(np.arange(256, dtype=np.uint8), 0, 1).tolist()
        [[5, 36]]
        """
        results, pixels = _Results.of(table), self.block**2
        columns = self.plane.shape[1] // self.block
        from_strip, upto_strip = first // _STRIP_ROWS, -(-last // _STRIP_ROWS)

        def sums(span: tuple[int, int]) -> npt.NDArray[np.int32]:
            return np.concatenate([s.sums(results, pixels) for s in self.strips[slice(*span)]])

        wanted = ((from_strip + a, from_strip + b) for a, b in spans(upto_strip - from_strip, 8))
        done = np.concatenate(list(each(sums, wanted))).reshape(-1, columns)
        skipped = from_strip * _STRIP_ROWS
        return done[first - skipped : last - skipped]


def count_blocks(
    plane: Plane, block: int, each: Each = map, watch: Watch = unwatched, *, most: float = _MOST,
) -> Tally | None:
    """Count an 8-bit plane; None where there are more than ``most`` counts to a pixel."""
    rows, columns = (side // block for side in plane.shape)
    places = np.repeat(np.arange(columns) << 8, block)

    def strip(span: tuple[int, int]) -> _Strip:
        counted = [
            _count_row(plane[row * block : (row + 1) * block, : columns * block], places)
            for row in range(*span)
        ]
        return _strip(*(np.concatenate(part) for part in zip(*counted, strict=True)))

    strips: list[_Strip] = []
    held = 0
    for one in each(strip, spans(rows, _STRIP_ROWS)):
        strips.append(one)
        held += len(one.tones)
        watch(min(len(strips) * _STRIP_ROWS, rows), rows)
        if held > most * plane.size:
            return None
    return Tally(plane, block, tuple(strips))


def _count_row(
    part: Plane, places: npt.NDArray[np.intp],
) -> tuple[npt.NDArray[np.uint8], npt.NDArray[np.uint16], npt.NDArray[np.intp]]:
    """One row of blocks in one go: tones, counts, and how many tones each block has."""
    columns = int(places[-1] >> 8) + 1
    counts = np.bincount((part + places).reshape(-1), minlength=columns << 8)
    at = np.flatnonzero(counts)
    lengths = np.bincount(at >> 8, minlength=columns)
    return at.astype(np.uint8), counts[at].astype(np.uint16), lengths


def _strip(
    tones: npt.NDArray[np.uint8], counts: npt.NDArray[np.uint16],
    lengths: npt.NDArray[np.intp],
) -> _Strip:
    """Blocks in order of their darkest tones."""
    starts = np.cumsum(lengths) - lengths
    order = np.argsort(tones[starts], kind="stable")
    moved = np.cumsum(lengths[order]) - lengths[order]
    at = np.repeat(starts[order] - moved, lengths[order]) + np.arange(len(tones))
    return _Strip(tones[at], counts[at], moved, order)
