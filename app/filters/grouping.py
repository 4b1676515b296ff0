"""Which pieces of a page are one area: they join in rounds, the most alike first.

What parts two areas is the mean along the whole edge that they share, as in Pablo Arbelaez, Michael
Maire, Charless Fowlkes and Jitendra Malik, "Contour detection and hierarchical image segmentation"
(IEEE Transactions on Pattern Analysis and Machine Intelligence 33(5), 2011), section 4.2: so an
outline holds though the hatching that runs up to it is as dark in places. An edge parts two areas
the more, the more its strokes stand out and look like outlines, and the heavier they are, against
the strokes that lie within either; the broader the areas are; and the more the directions of their
strokes differ. In each round all those join that are the most alike to one another, so that whole
arrays are worked at once. Then whole regions are looked at once more: two that are both hatched
and alike are parted only by a line that is heavier than those within them. What is left and
smaller than stated joins the neighbour with which it shares the longest edge.
"""

from dataclasses import dataclass, fields, replace

import numpy as np
import numpy.typing as npt

from app.filters.adjacent import Edges, Pieces

Numbers = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

# What each term of a cost counts for, in the order of _terms; and in the last look at whole
# regions.
# Fitted by random steps uphill to the named areas of the demo pages, those of five of the same
# drawings by other tools on other papers, and what other drawings of each scene enclose. Held back
# were fourteen more pages of the demo drawings and another drawing of each scene.
_WEIGHTS = np.array([-2.73, 1.34, 0.19, -0.52, 0.42, 0.55, 0.85, 0.67, -1.04, 0.25, 0.6, 0.0])
_OF_WHOLES = np.array([-0.2, 0.0, 0.11, 0.0, 0.0, 0.0, 0.4, 0.0, -0.5, 0.0, 1.2, 0.1])

_STEPS = 4096  # in which costs are told apart, so that no machine's last bits decide
_LEAST, _FEW = 0.05, 0.05
_SIDES = (0.3, 0.6)  # of what surrounds a gap in hatching: one of its two long sides
_BREADTHS = (0.02, 400.0)  # mm2
_DOORS = 3.0  # gaps; an edge must be longer than that, or it may be a gap that was shut
_OPEN = 0.5  # of a stroke: an edge that weak may be a gap
_CUT = 100.0  # strength that no line has: there is a cut
_POINT_MM = 0.3  # drawn edges shorter than that are but the crossing of two lines
_CLEAN = 0.1  # mm of usual stroke in a mm2: what has less than that is parted by any line
_SOME_MM = 2.0  # so much line as heavy as the page's is taken to lie within a group anyway
_HATCHED, _HATCHED_MM = 0.4, 10.0  # mm of stroke in a mm2, and mm of former edges, at the least
_NONE = 1e-9


def joined(edges: Edges, pieces: Pieces, smallest: float, gap: float) -> Numbers:
    """For each piece (from 0, which is none) the first piece of the area in which it lies.

    ``smallest`` is in mm2, ``gap`` in mm.
    """
    groups = Groups(edges, pieces)
    rule = _Rule(_DOORS * gap, float(edges.weight.sum() / max(edges.length.sum(), _NONE)))
    groups.join_alike(rule)
    groups.join_alike(replace(rule, slivers=True))
    groups.join_alike(replace(rule, slivers=True, wholes=True))
    groups.join_small(smallest)
    return groups.into


@dataclass(frozen=True)
class _Rule:
    """What costs depend on besides the groups.

    ``door`` mm of an edge may be a gap; ``weight`` is the mean of the page's lines. With
    ``slivers``, what is narrow and holds no stroke takes its neighbour's for its own: areas are
    known by their strokes, and what was left between these can join them. With ``wholes``,
    regions are compared that are hatched on both sides of an edge, and no others join.
    """

    door: float
    weight: float
    slivers: bool = False
    wholes: bool = False


class Groups:
    """Pieces in groups, which only grow: each group is known by the first of its pieces.

    ``into`` is each piece's group, ``edges`` and ``pieces`` are those of groups.
    """

    def __init__(self, edges: Edges, pieces: Pieces) -> None:
        self.edges = edges
        self.pieces = Pieces(*(getattr(pieces, field.name).copy() for field in fields(Pieces)))
        self.into: Numbers = np.arange(len(pieces.area))

    def join_alike(self, rule: _Rule) -> None:
        """Join, round by round, the pairs each of which is the other's most alike."""
        costs = _costs(self.edges, self.pieces, rule)
        while True:
            chosen = _most_alike(self.edges, costs, len(self.into))
            if not chosen.size:
                return
            into = np.arange(len(self.into))
            into[self.edges.high[chosen]] = self.edges.low[chosen]
            same = self.join(into)
            new = _costs(self.edges.taken(np.s_[np.count_nonzero(same):]), self.pieces, rule)
            costs = np.concatenate([costs[same], new])

    def join_small(self, smallest: float) -> None:
        """Small groups, the smallest first, each join the neighbour of their longest edge."""
        while True:
            into = _longest_edge(self.edges, self.pieces.area, smallest)
            if (into == np.arange(len(into))).all():
                return
            self.join(into)

    def join(self, into: Numbers) -> Flags:
        """Let groups go into others, ``into`` by group; which edges are as they were: now first."""
        edges, pieces = self.edges, self.pieces
        gone = np.flatnonzero(into != np.arange(len(into)))
        changed = np.zeros(len(into), np.bool_)
        changed[gone] = changed[into[gone]] = True
        same: Flags = ~(changed[edges.low] | changed[edges.high])
        rest = edges.taken(~same)
        low, high = into[rest.low], into[rest.high]
        for field in fields(Pieces):
            values = getattr(pieces, field.name)
            add = np.logical_or if values.dtype == np.bool_ else np.add
            add.at(values, into[gone], values[gone])
        inner = low == high
        pieces.take_in(low[inner], rest.taken(inner))
        moved = replace(rest, low=np.minimum(low, high), high=np.maximum(low, high))
        self.edges = edges.taken(same).and_also(moved.taken(~inner).summed(len(into)))
        self.into = into[self.into]
        return same


def _most_alike(edges: Edges, costs: Floats, count: int) -> Numbers:
    """The edges over which two may join, and neither rather with another."""
    may = np.flatnonzero(costs <= 0)
    order = may[np.argsort(costs[may], kind="stable")]
    low, high, rank = edges.low[order], edges.high[order], np.arange(len(order))
    best = np.full(count, len(order))
    np.minimum.at(best, low, rank)
    np.minimum.at(best, high, rank)
    return np.asarray(order[(best[low] == rank) & (best[high] == rank)])


def _longest_edge(edges: Edges, area: Floats, smallest: float) -> Numbers:
    """For each group the one that it goes into: a small one into that of its longest edge.

    One that a smaller one goes into waits, until it has that one's edges too.
    """
    count = len(area)
    one = np.concatenate([edges.low, edges.high])
    other = np.concatenate([edges.high, edges.low])
    small = np.flatnonzero(area[one] < smallest)
    one, other = one[small], other[small]
    length = np.rint(np.tile(edges.length, 2)[small] * _STEPS)
    order = np.lexsort((other, -length, one))
    group, first = np.unique(one[order], return_index=True)
    target = other[order[first]]
    rank = np.empty(count, np.int64)
    rank[np.argsort(np.rint(area * _STEPS), kind="stable")] = np.arange(count)
    now = (area[target] >= smallest) | (rank[target] > rank[group])
    into = np.arange(count)
    into[group[now]] = target[now]
    while (into[into] != into).any():
        into = into[into]
    return into


@dataclass(frozen=True, eq=False)
class _Seen:
    """What costs ask of the group on one side of each edge."""

    within: Floats
    breadth: Floats
    turns: Floats
    tone: Floats
    weight: Floats
    density: Floats
    wide: Flags
    clean: Flags
    hatched: Flags
    around: Floats

    @classmethod
    def of(cls, pieces: Pieces, group: Numbers, rule: _Rule) -> "_Seen":
        """Logarithms of strength within, breadth and density; tone and turns as shares."""
        area, around = pieces.area[group], np.maximum(pieces.around[group], _NONE)
        drawn, within = pieces.drawn[group], np.maximum(pieces.within[group], _NONE)
        turns = pieces.turns[group] + _FEW
        weight, inner = pieces.weight[group] + _SOME_MM * rule.weight, pieces.inner[group]
        density = within / np.maximum(area, _NONE)
        return cls(
            np.log(np.maximum(drawn / within, _LEAST)),
            np.log(np.clip(16 * area**2 / around**2, *_BREADTHS)) / 2,
            turns / turns.sum(axis=1, keepdims=True),
            pieces.ink[group] / np.maximum(area, _NONE),
            weight / (inner + _SOME_MM),
            np.log(np.maximum(density, _LEAST)),
            pieces.wide[group], drawn < _CLEAN * area,
            (density >= _HATCHED) & (inner >= _HATCHED_MM), around,
        )

    def as_gap(self, other: "_Seen", length: Floats) -> "_Seen":
        """What is narrow and holds no stroke, with the other's strokes."""
        gap = (self.within <= np.log(_LEAST)) & ~self.wide
        gap &= (_SIDES[0] * self.around < length) & (length < _SIDES[1] * self.around)
        return replace(self, within=np.where(gap, other.within, self.within),
                       weight=np.where(gap, other.weight, self.weight))


def _costs(edges: Edges, pieces: Pieces, rule: _Rule) -> Floats:
    """How much parts the two groups of each edge: at 0 and below, they may join."""
    one = _Seen.of(pieces, edges.low, rule)
    other = _Seen.of(pieces, edges.high, rule)
    barred = _is_barred(one, other, edges, rule)
    if rule.slivers:
        one, other = one.as_gap(other, edges.length), other.as_gap(one, edges.length)
    cost = _terms(one, other, edges) @ (_OF_WHOLES if rule.wholes else _WEIGHTS)
    return np.where(barred, np.inf, np.rint(cost * _STEPS) / _STEPS)


def _terms(one: _Seen, other: _Seen, edges: Edges) -> Floats:
    """What the weights are for: (n, 12)."""
    weight = edges.weight / edges.length
    return np.stack([
        np.ones_like(weight),
        np.log(np.maximum(edges.strength / edges.length, _LEAST)),
        edges.odds / edges.length,
        np.minimum(one.within, other.within),
        np.minimum(one.breadth, other.breadth),
        np.maximum(one.breadth, other.breadth),
        np.abs(one.turns - other.turns).sum(axis=1),
        np.abs(one.tone - other.tone),
        edges.length / np.minimum(one.around, other.around),
        weight - np.maximum(one.weight, other.weight),
        weight - np.minimum(one.weight, other.weight),
        np.abs(one.density - other.density),
    ], axis=1)


def _is_barred(one: _Seen, other: _Seen, edges: Edges, rule: _Rule) -> Flags:
    """Whether two may not join whatever they are like."""
    length, strength = edges.length, edges.strength / edges.length
    wide = one.wide & other.wide
    barred = np.where(strength < _OPEN, wide & (length <= rule.door),
                      (length < _POINT_MM) | (wide & one.clean & other.clean))
    if rule.wholes:
        barred |= ~(one.hatched & other.hatched) | (strength >= _CUT)
    return barred
