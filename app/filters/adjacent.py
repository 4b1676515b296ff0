"""Which pieces of a page lie side by side, and which of them are one area.

After Pedro F. Felzenszwalb and Daniel P. Huttenlocher, "Efficient graph-based image
segmentation" (International Journal of Computer Vision 59(2), 2004), section 3: from the faintest
edge on, two pieces join if the line between them is no heavier than the lines within either,
with an allowance that shrinks as a piece grows. So the gaps of hatching join one another, and
stop at an outline. An area that is too wide to lie between hatching lines joins another such
only over a long edge that is hardly drawn. What is left and smaller than stated joins the
neighbour with which it shares the longest edge.
"""

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from core.sheet import Plane
from core.units import px_to_mm

Numbers = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float32]

_OUTLINE = 0.9  # of the length of all edges beside wide areas: an outline is heavier than those
_LIGHTEST_MM, _HEAVIEST_MM = 0.05, 0.35  # within which an outline is sought
_ALIKE = 1.5  # times as heavy as the lines within two groups, a line may be one of them
_ALIKE_WIDE = 1.15  # the same where the other is no piece of hatching
_ALLOWED = 3.0  # outlines for each mm2: what a small piece may be parted by and yet join
_BESIDE_WIDE = 0.3  # of that, where the other is no piece of hatching
_FAINT = 0.18  # of an outline: a line that light hardly parts two wide areas
_DOORS = 3.0  # gaps; an edge must be longer than that, or it may be a gap that was shut


@dataclass(frozen=True)
class Edges:
    """Each pair of pieces that touch, ``low`` < ``high``.

    With each the edge's length in pixels and the mean weight of the line along it, in mm of
    full black.
    """

    low: Numbers
    high: Numbers
    length: Numbers
    weight: npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Weight:
    """How heavy the line is.

    ``half`` (H, W) float32 is how far a pixel lies from its edge in pixels, ``cells`` (H, W)
    uint8 how dark it is, ``side`` the mm of a pixel.
    """

    half: Floats
    cells: npt.NDArray[np.uint8]
    side: float

    def at(self, places: Numbers) -> Floats:
        """The weight at flat places, in mm of full black."""
        width = np.maximum(2 * self.half.ravel()[places] - 1, 0)
        return np.asarray(width * self.cells.ravel()[places] * (self.side / 255), np.float32)


def edges_of(labels: Plane, line: Weight) -> Edges:
    """The edges between the pieces of a page without holes, (H, W).

    >>> weight = Weight(np.array([[0, 1, 0]], np.float32), np.array([[0, 255, 0]], np.uint8), 0.5)
    >>> edges = edges_of(np.array([[1, 1, 2]], np.uint16), weight)
    >>> edges.low.tolist(), edges.high.tolist(), edges.length.tolist(), edges.weight.tolist()
    ([1], [2], [1], [0.5])
    """
    keys, weights = [], []
    count = int(labels.max()) + 1
    flat = labels.ravel()
    for step, pairs in ((1, (np.s_[:, :-1], np.s_[:, 1:])),
                        (labels.shape[1], (np.s_[:-1], np.s_[1:]))):
        differ = np.zeros(labels.shape, np.bool_)
        np.not_equal(labels[pairs[0]], labels[pairs[1]], out=differ[pairs[0]])
        at = np.flatnonzero(differ)
        one, other = flat[at].astype(np.uint32), flat[at + step].astype(np.uint32)
        keys.append(np.minimum(one, other) * np.uint32(count) + np.maximum(one, other))
        weights.append(np.maximum(line.at(at), line.at(at + step)))
    key, place = np.unique(np.concatenate(keys), return_inverse=True)
    length = np.bincount(place, minlength=len(key))
    total = np.bincount(place, np.concatenate(weights), minlength=len(key))
    low, high = np.divmod(key.astype(np.int64), count)
    return Edges(low, high, length, total / np.maximum(length, 1))


def joined(labels: Plane, wide: npt.NDArray[np.bool_], line: Weight, smallest: float,
           gap: float, ppi: float) -> Numbers:
    """For each piece (from 0, which is none) the piece in whose area it lies.

    ``wide`` says which pieces are too wide to lie between hatching lines; ``smallest`` is in
    mm2, ``gap`` in mm.
    """
    edges = edges_of(labels, line)
    grouping = _Grouping(labels, wide, edges, gap, px_to_mm(1, ppi))
    order = np.argsort(edges.weight, kind="stable")
    for low, high, length, weight in zip(
        edges.low[order].tolist(), edges.high[order].tolist(), edges.length[order].tolist(),
        edges.weight[order].tolist(), strict=True,
    ):
        grouping.weigh(low, high, length, weight)
    _join_small(grouping, edges, smallest)
    return np.array([grouping.root(piece) for piece in range(len(wide))], np.int64)


class _Grouping:
    """Pieces in groups, which only grow: each group is known by one of its pieces."""

    def __init__(self, labels: Plane, wide: npt.NDArray[np.bool_], edges: Edges, gap: float,
                 side: float) -> None:
        count = len(wide)
        self.parent = list(range(count))
        around = np.bincount(edges.low, edges.length, count)
        around += np.bincount(edges.high, edges.length, count)
        area = np.bincount(labels.ravel(), minlength=count) * side**2
        self.area: list[float] = area.tolist()
        self.around: list[float] = (around * side).tolist()
        self.wide: list[bool] = wide.tolist()
        self.drawn = [0.0] * count  # length of the lines within a group, in mm
        self.weight = [0.0] * count  # and their weight times their length
        self._side = side
        self._door = _DOORS * gap
        self._outline = _outline(edges, wide)

    def root(self, piece: int) -> int:
        """The piece by which its group is known."""
        while self.parent[piece] != piece:
            self.parent[piece] = self.parent[self.parent[piece]]
            piece = self.parent[piece]
        return piece

    def weigh(self, one: int, other: int, length: int, weight: float) -> None:
        """Join the groups of two pieces if the line between them is no outline."""
        edge = length * self._side
        one, other = self.root(one), self.root(other)
        if one != other:
            if not self._may_join(one, other, edge, weight):
                return
            one = self.join(one, other)
        self.around[one] -= 2 * edge
        self.drawn[one] += edge
        self.weight[one] += edge * weight

    def _may_join(self, one: int, other: int, edge: float, weight: float) -> bool:
        if self.wide[one] and self.wide[other]:
            return weight <= _FAINT * self._outline and edge > self._door
        beside = self.wide[one] or self.wide[other]
        allowed = _ALLOWED * self._outline * (_BESIDE_WIDE if beside else 1.0)
        alike = _ALIKE_WIDE if beside else _ALIKE
        return all(
            weight <= alike * self._within(group) + allowed / self._breadth(group)
            for group in (one, other) if not self.wide[group]
        )

    def _within(self, group: int) -> float:
        """The mean weight of the lines within a group, in mm of full black."""
        return self.weight[group] / max(self.drawn[group], 1e-6)

    def _breadth(self, group: int) -> float:
        """The square of a group's width, in mm2: of a long piece much less than its area."""
        around = max(self.around[group], 1e-6)
        return max(16 * self.area[group] ** 2 / around**2, 1e-6)

    def join(self, one: int, other: int) -> int:
        """Make two groups one; gives the piece by which it is known."""
        keep, gone = (one, other) if self.area[one] >= self.area[other] else (other, one)
        self.parent[gone] = keep
        self.area[keep] += self.area[gone]
        self.around[keep] += self.around[gone]
        self.wide[keep] |= self.wide[gone]
        self.drawn[keep] += self.drawn[gone]
        self.weight[keep] += self.weight[gone]
        return keep


def _outline(edges: Edges, wide: npt.NDArray[np.bool_]) -> float:
    """The weight of the page's outlines, in mm of full black."""
    beside = np.flatnonzero(wide[edges.low] | wide[edges.high])
    beside = beside[np.argsort(edges.weight[beside], kind="stable")]
    lengths = np.cumsum(edges.length[beside])
    if not lengths.size:
        return _LIGHTEST_MM
    at = beside[int(np.searchsorted(lengths, _OUTLINE * lengths[-1]))]
    return min(max(float(edges.weight[at]), _LIGHTEST_MM), _HEAVIEST_MM)


def _join_small(grouping: _Grouping, edges: Edges, smallest: float) -> None:
    """Small groups, the smallest first, each with the neighbour of its longest edge."""
    shared: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for low, high, length in zip(edges.low, edges.high, edges.length, strict=True):
        one, other = grouping.root(int(low)), grouping.root(int(high))
        if one != other and 0 not in (low, high):
            shared[one][other] += int(length)
            shared[other][one] += int(length)
    for group in sorted(shared, key=lambda group: grouping.area[group]):
        mine = grouping.root(group)
        if mine != group or grouping.area[group] >= smallest or not shared[group]:
            continue
        near: Any = max(shared[group], key=lambda other: (shared[group][other], -other))
        kept = grouping.join(mine, near)
        _move(shared, near if kept == group else group, kept)


def _move(shared: dict[int, dict[int, int]], gone: int, kept: int) -> None:
    """Let the edges of one group be another's."""
    for other, length in shared.pop(gone).items():
        shared[other].pop(gone, None)
        if other != kept:
            shared[kept][other] += length
            shared[other][kept] += length
