"""Which pieces of a page lie side by side, and which of them are one area.

The two most alike join first, then the next, and what parts two areas is the mean along the whole
edge that they share, as in Pablo Arbelaez, Michael Maire, Charless Fowlkes and Jitendra Malik,
"Contour detection and hierarchical image segmentation" (IEEE Transactions on Pattern Analysis and
Machine Intelligence 33(5), 2011), section 4.2: so an outline holds though the hatching that runs
up to it is as dark in places. An edge parts two areas the more, the more its strokes stand out
and look like outlines, against the strokes that lie within either; the broader the areas are; and
the more the directions of their strokes differ. What is left and smaller than stated joins the
neighbour with which it shares the longest edge.
"""

import math
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from operator import add

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.strips import strips
from app.filters.strokes import TURNS, Strokes, usual_strength
from core.sheet import Plane

Numbers = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

UNCROSSED = 1e6
"""Strength of a cut: nothing joins over it."""

# Fitted by random steps uphill to the named areas of the demo pages and of five of the same
# drawings by other tools on other papers: no page was held back.
_BASE, _STRENGTH, _OUTLINE, _WITHIN = -2.66, 1.34, 0.19, 0.51
_NARROW, _BROAD, _TURNS, _TONE, _SHARE = 0.40, 0.53, 0.90, 0.67, 0.99
_LOOSE = 2.4  # what a stroke that ends within an area counts for, of one between two pieces
_STROKE_MM = 0.25  # the width that a stroke is taken to have
_MOST_WAITING = 0.7  # a pair that parts more by its pieces alone never joins
_EQUAL = 1e-9
_LEAST, _FEW = 0.05, 0.05
_SIDES = (0.3, 0.6)  # of what surrounds a gap in hatching: one of its two long sides
_NOTHING = math.log(_LEAST)
_BREADTHS = (0.02, 400.0)  # mm2
_CLEAR_MM = 0.35  # beyond a line's half width: a stroke so far within a piece ends there
_NEAR_MM = 1.0  # within which a line's width is sought
_SOLID_MM, _SOLID = 0.5, 4.0  # half a width from which ink is solid, and its strength
_INK = 0.05
_STEPS = 128
_DOORS = 3.0  # gaps; an edge must be longer than that, or it may be a gap that was shut
_OPEN = 0.5  # of a stroke: an edge that weak may be a gap
_POINT_MM = 0.3  # drawn edges shorter than that are but the crossing of two lines
_CLEAN = 0.1  # mm of usual stroke in a mm2: what has less than that is parted by any line


@dataclass(frozen=True)
class Edges:
    """Each pair of pieces that touch, ``low`` < ``high``.

    ``length`` in mm; ``strength`` (against that of the page's strokes) and ``odds`` of an
    outline are sums along it, mm by mm.
    """

    low: Numbers
    high: Numbers
    length: Floats
    strength: Floats
    odds: Floats


@dataclass(frozen=True, eq=False)
class Pieces:
    """What is known of pieces.

    ``area`` in mm2, ``ink`` in mm2 of black, ``turns`` (n, 8) how much of it runs in each
    direction; ``within`` and ``drawn`` are the strokes within it, mm and strength times mm;
    ``around`` is how long all its edges are, in mm, ``wide`` says which are too wide to lie
    between hatching lines.
    """

    wide: npt.NDArray[np.bool_]
    area: Floats
    ink: Floats
    turns: Floats
    within: Floats
    drawn: Floats
    around: Floats


@dataclass(frozen=True, eq=False)
class Lines:
    """What lies between pieces: planes of a page, (H, W).

    ``cells`` uint8 is its ink, ``bare`` 1 where there is no line, ``solid`` how far each pixel
    lies within one, in mm, ``cut`` 1 where pieces were cut apart.
    """

    cells: Plane
    bare: npt.NDArray[np.uint8]
    solid: npt.NDArray[np.float32]
    cut: npt.NDArray[np.uint8]


def measured(labels: Plane, lines: Lines, ppi: float) -> tuple[Edges, Pieces]:
    """The edges and the pieces of a page without holes, (H, W) from 1."""
    side = 25.4 / ppi
    strokes = Strokes.of(lines.cells, ppi)
    places, pairs, upright = _cracks(labels)
    found = strokes.at(places)
    usual = usual_strength(strokes.strength().ravel()[found])
    seen, back = np.unique(found, return_inverse=True)
    # in steps, so that what machines make of the last bits decides nothing
    odds: Floats = (np.rint(strokes.outlines(seen, ppi, usual) * _STEPS) / _STEPS)[back]
    stands = strokes.strength().ravel()[found] * (_STEPS / usual)
    strength: Floats = np.rint(stands.astype(np.float64)) / _STEPS
    beside = np.where(upright, 1, labels.shape[1]) + places
    bare = (lines.bare.ravel()[places] & lines.bare.ravel()[beside]) > 0
    firm = lines.solid.ravel()[places] >= _SOLID_MM
    strength[bare], odds[bare] = 0, -4
    strength[firm], odds[firm] = np.maximum(strength[firm], _SOLID), 4
    strength[lines.cut.ravel()[places] > 0] = UNCROSSED
    edges = _edges(pairs, upright, strength, odds, (int(labels.max()) + 1, side))
    ends = _ends_within(strokes, lines.solid, places, side)
    pieces = _pieces(labels, lines.cells, strokes, (edges, usual, ends), side)
    return edges, pieces


def _cracks(labels: Plane) -> tuple[Numbers, Numbers, npt.NDArray[np.bool_]]:
    """Flat pixels whose right or lower neighbour is of another piece, the pair, and which."""
    count = np.int64(int(labels.max()) + 1)
    flat = labels.ravel()
    places, pairs, upright = [], [], []
    for step, (one, other) in ((1, (np.s_[:, :-1], np.s_[:, 1:])),
                               (labels.shape[1], (np.s_[:-1], np.s_[1:]))):
        differ = np.zeros(labels.shape, np.bool_)
        np.not_equal(labels[one], labels[other], out=differ[one])
        at = np.flatnonzero(differ)
        first, second = flat[at].astype(np.int64), flat[at + step].astype(np.int64)
        places.append(at)
        pairs.append(np.minimum(first, second) * count + np.maximum(first, second))
        upright.append(np.full(len(at), step == 1))
    return np.concatenate(places), np.concatenate(pairs), np.concatenate(upright)


def _edges(pairs: Numbers, upright: npt.NDArray[np.bool_], strength: Floats,
           odds: Floats, scale: tuple[int, float]) -> Edges:
    """Sums over the cracks of each pair; an edge that runs aslant has fewer mm than cracks."""
    count, side = scale
    key, place = np.unique(pairs, return_inverse=True)
    level = np.bincount(place, ~upright, len(key))
    cracks = np.bincount(place, minlength=len(key))
    length = np.hypot(level, cracks - level) * side
    low, high = np.divmod(key, count)
    each = length / np.maximum(cracks, 1)
    return Edges(low, high, length, np.bincount(place, strength, len(key)) * each,
                 np.bincount(place, odds, len(key)) * each)


def _pieces(labels: Plane, cells: Plane, strokes: Strokes,
            known: tuple[Edges, float, Numbers], side: float) -> Pieces:
    edges, usual, loose = known
    count = int(labels.max()) + 1
    size, ink = _sums(labels, cells, count)
    size, ink = size * side**2, ink * (side**2 / 255)
    coarse = 2 * strokes.side
    height, width = strokes.ink.shape
    few = labels[::coarse, ::coarse][:height, :width].ravel()
    cell = (coarse * side) ** 2
    turns = np.stack([np.bincount(few, (turn * strokes.ink).ravel(), count)
                      for turn in strokes.turns], axis=1) * cell
    drawn = strokes.ink.ravel()[loose] * (_LOOSE * cell / _STROKE_MM)
    strength = strokes.coarse_strength().ravel()[loose] / usual
    around = np.bincount(edges.low, edges.length, count)
    around += np.bincount(edges.high, edges.length, count)
    within = np.bincount(few[loose], drawn, count)
    weighed = np.bincount(few[loose], drawn * strength, count)
    made = (size, ink, turns, within, weighed, around)
    figures = [np.asarray(values, np.float64) for values in made]
    return Pieces(np.zeros(count, np.bool_), *figures)


def _sums(labels: Plane, cells: Plane, count: int) -> tuple[Floats, Floats]:
    """The pixels of each piece, and the ink of them: whole numbers, so that no order matters."""
    size, ink = np.zeros(count), np.zeros(count)
    for rows, _, _ in strips(len(labels)):
        piece, tone = labels[rows].ravel(), cells[rows].ravel()
        size += np.bincount(piece, minlength=count)
        inked = np.flatnonzero(tone)
        ink += np.bincount(piece[inked], tone[inked], count)
    return size, ink


def _ends_within(
    strokes: Strokes, solid: npt.NDArray[np.float32], cracks: Numbers, side: float,
) -> Numbers:
    """Flat coarse cells of strokes that part nothing: beyond the width of any line at an edge."""
    coarse = 2 * strokes.side
    height, width = strokes.ink.shape
    bare = np.ones(solid.shape, np.uint8)
    bare.ravel()[cracks] = 0
    clear = np.asarray(cv2.distanceTransform(bare, cv2.DIST_L2, cv2.DIST_MASK_3))
    clear = clear[::coarse, ::coarse][:height, :width] * side
    reach = 2 * round(_NEAR_MM / (coarse * side)) + 1
    body = cv2.dilate(np.ascontiguousarray(solid[::coarse, ::coarse][:height, :width]),
                      np.ones((reach, reach), np.uint8))
    return np.flatnonzero((clear > _CLEAR_MM + body) & (strokes.ink > _INK))


def joined(edges: Edges, pieces: Pieces, smallest: float, gap: float) -> Numbers:
    """For each piece (from 0, which is none) the piece in whose area it lies.

    ``smallest`` is in mm2, ``gap`` in mm.
    """
    grouping = Grouping(edges, pieces, _DOORS * gap)
    grouping.join_alike()
    grouping.join_slivers()
    grouping.join_small(smallest)
    return np.array([grouping.root(piece) for piece in range(len(pieces.area))], np.int64)


def _log(value: float) -> float:
    return math.log(max(value, _LEAST))


def _differ(turns: list[float], others: list[float]) -> float:
    """How far directions differ; a sum in a loop costs as much as all the rest of a cost."""
    a, b, c, d, e, f, g, h = turns
    i, j, k, m, n, o, p, q = others
    return (abs(a - i) + abs(b - j) + abs(c - k) + abs(d - m)
            + abs(e - n) + abs(f - o) + abs(g - p) + abs(h - q))


class Grouping:
    """Pieces in groups, which only grow: each group is known by one of its pieces.

    Plain lists and numbers, for one pair at a time is looked at, and many times.
    """

    def __init__(self, edges: Edges, pieces: Pieces, door: float) -> None:
        self._door, self._slivers = door, False
        self._into = list(range(len(pieces.area)))
        self._area: list[float] = pieces.area.tolist()
        self._ink: list[float] = pieces.ink.tolist()
        self._turns: list[list[float]] = pieces.turns.tolist()
        self._within: list[float] = pieces.within.tolist()
        self._drawn: list[float] = pieces.drawn.tolist()
        self._around: list[float] = pieces.around.tolist()
        self._wide: list[bool] = pieces.wide.tolist()
        self._seen = [self._seen_of(group) for group in range(len(self._into))]
        self._grown = [0] * len(self._into)
        self._near: list[dict[int, list[float]]] = [{} for _ in self._into]
        for low, high, *values in zip(
            edges.low.tolist(), edges.high.tolist(), edges.length.tolist(),
            edges.strength.tolist(), edges.odds.tolist(), strict=True,
        ):
            self._near[low][high] = self._near[high][low] = values

    def root(self, piece: int) -> int:
        """The piece by which its group is known."""
        while self._into[piece] != piece:
            self._into[piece] = self._into[self._into[piece]]
            piece = self._into[piece]
        return piece

    def join_alike(self) -> None:
        """Join pairs, the most alike first, until an outline parts all that are left.

        What a pair costs changes as its groups grow: one that has become dearer waits.
        """
        into, grown = self._into, self._grown
        queue = [
            (cost, low, high, grown[low] + grown[high])
            for low, near in enumerate(self._near) for high in near
            if low < high and (cost := self._cost(low, high, _MOST_WAITING)) <= _MOST_WAITING
        ]
        heapify(queue)
        while queue:
            cost, one, other, then = heappop(queue)
            if into[one] != one or into[other] != other:
                continue
            size = grown[one] + grown[other]
            now = self._cost(one, other, 0) if size != then else cost
            if now > 0:
                continue
            if now > cost + _EQUAL:
                heappush(queue, (now, one, other, size))
                continue
            changed, kept = self._join(one, other)
            for near in changed:
                now = self._cost(kept, near, 0)
                if now <= 0:
                    heappush(queue, (now, kept, near, grown[kept] + grown[near]))

    def join_slivers(self) -> None:
        """Join on, now that areas are known by their strokes, what was left between them."""
        self._slivers = True
        self.join_alike()

    def join_small(self, smallest: float) -> None:
        """Small groups, the smallest first, each join the neighbour of their longest edge."""
        groups = [group for group, into in enumerate(self._into) if group == into]
        for group in sorted(groups, key=lambda group: self._area[group]):
            near = self._near[group]
            if self._into[group] == group and near and self._area[group] < smallest:
                self._join(group, max(near, key=lambda other: (near[other][0], -other)))

    def _cost(self, one: int, other: int, most: float) -> float:
        """How much parts two groups: at 0 and below, they may join; infinite if over ``most``."""
        length, strength, odds = self._near[one][other]
        mean = strength / length
        if self._is_barred(one, other, length, mean):
            return math.inf
        within, narrow, turns, tone = self._seen[one]
        within_other, wide, turns_other, tone_other = self._seen[other]
        if self._slivers:  # what is narrow and holds no stroke takes the other's for its own
            if within <= _NOTHING and self._is_gap(one, length):
                within = within_other
            elif within_other <= _NOTHING and self._is_gap(other, length):
                within_other = within
        if narrow > wide:
            narrow, wide = wide, narrow
        drawn = _BASE + _STRENGTH * math.log(max(_LEAST, mean)) + _OUTLINE * odds / length
        tones = _TONE * abs(tone - tone_other)
        own = _WITHIN * min(within_other, within)
        thin, thick = _NARROW * narrow, _BROAD * wide
        share = _SHARE * length / (min(self._around[one], self._around[other]) or _EQUAL)
        if drawn + tones - own + thin + thick - share > most + _EQUAL:
            return math.inf  # the turns would only add to it
        return drawn + _TURNS * _differ(turns, turns_other) + tones - own + thin + thick - share

    def _is_gap(self, group: int, length: float) -> bool:
        """Whether it may be a gap between two lines of hatching, one of which is so long."""
        return not self._wide[group] and (
            _SIDES[0] * self._around[group] < length < _SIDES[1] * self._around[group])

    def _is_barred(self, one: int, other: int, length: float, strength: float) -> bool:
        """Whether two may not join whatever they are like."""
        both = self._wide[one] and self._wide[other]
        if strength < _OPEN:
            return both and length <= self._door
        return length < _POINT_MM or (
            both and self._drawn[one] < _CLEAN * self._area[one]
            and self._drawn[other] < _CLEAN * self._area[other]
        )

    def _seen_of(self, group: int) -> tuple[float, float, list[float], float]:
        """What costs ask of a group: strength within, breadth (both logarithms), turns, tone."""
        area, around = self._area[group], max(self._around[group], _EQUAL)
        breadth = min(max(16 * area**2 / around**2, _BREADTHS[0]), _BREADTHS[1])
        turns = self._turns[group]
        total = sum(turns) + TURNS * _FEW
        return (
            _log(self._drawn[group] / max(self._within[group], _EQUAL)), math.log(breadth) / 2,
            [(turn + _FEW) / total for turn in turns], self._ink[group] / max(area, _EQUAL),
        )

    def _join(self, one: int, other: int) -> tuple[list[int], int]:
        """Make two groups one: the neighbours that the smaller brought, and what it is now."""
        kept, gone = (one, other) if self._area[one] >= self._area[other] else (other, one)
        length, strength, _ = self._near[kept].pop(gone)
        self._into[gone] = kept
        for values in (self._area, self._ink, self._within, self._drawn, self._around):
            values[kept] += values[gone]
        self._turns[kept] = list(map(add, self._turns[kept], self._turns[gone]))
        self._within[kept] += length
        self._drawn[kept] += strength
        self._around[kept] -= 2 * length
        self._wide[kept] |= self._wide[gone]
        self._grown[kept] += 1
        self._seen[kept] = self._seen_of(kept)
        brought, self._near[gone] = self._near[gone], {}
        del brought[kept]
        mine = self._near[kept]
        for near, values in brought.items():
            del self._near[near][gone]
            mine[near] = list(map(add, mine[near], values)) if near in mine else values
            self._near[near][kept] = mine[near]
        return list(brought), kept
