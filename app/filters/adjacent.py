"""Which pieces of a page lie side by side, and what is drawn between them and within them."""

from dataclasses import dataclass, fields

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.strips import strips
from app.filters.strokes import Strokes, usual_strength
from core.sheet import Plane
from core.units import MM_PER_INCH, mm_to_px

Numbers = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

UNCROSSED = 1e6
"""Strength of a cut: nothing joins over it."""

_LOOSE = 2.4  # what a stroke that ends within an area counts for, of one between two pieces
_STROKE_MM = 0.25  # the width that a stroke is taken to have
_CLEAR_MM = 0.35  # beyond a line's half width: a stroke so far within a piece ends there
_NEAR_MM = 1.0  # within which a line's width is sought
_SOLID_MM, _SOLID = 0.5, 4.0  # half a width from which ink is solid, and its strength
_INK = 0.05
_WEIGHT_MM, _LIGHTEST = 0.15, 0.03  # how softly a line's weight is seen, and the least there is
_STEPS = 128


@dataclass(frozen=True, eq=False)
class Edges:
    """Each pair of pieces that touch, ``low`` < ``high``.

    ``length`` in mm; ``strength`` (against that of the page's strokes), ``odds`` of an outline
    and ``weight`` of the line (the logarithm of how much ink lies across it) are sums along it,
    mm by mm.
    """

    low: Numbers
    high: Numbers
    length: Floats
    strength: Floats
    odds: Floats
    weight: Floats

    def taken(self, which: npt.NDArray[np.bool_] | slice) -> "Edges":
        """Some of them."""
        return Edges(*(getattr(self, field.name)[which] for field in fields(Edges)))

    def and_also(self, more: "Edges") -> "Edges":
        """These, and then others."""
        return Edges(*(np.concatenate([getattr(self, field.name), getattr(more, field.name)])
                       for field in fields(Edges)))

    def summed(self, count: int) -> "Edges":
        """One edge for each pair, where there may be several, of so many pieces."""
        key, place = np.unique(self.low * count + self.high, return_inverse=True)
        low, high = np.divmod(key, count)
        return Edges(low, high, *(
            np.asarray(np.bincount(place, values, len(key)), np.float64)
            for values in (self.length, self.strength, self.odds, self.weight)))


@dataclass(frozen=True, eq=False)
class Pieces:
    """What is known of pieces.

    ``area`` in mm2, ``ink`` in mm2 of black, ``turns`` (n, 8) how much of it runs in each
    direction; ``within`` and ``drawn`` are the strokes within it, mm and strength times mm;
    ``inner`` and ``weight`` are the mm and the weight of those that were edges once; ``around`` is
    how long all its edges are, in mm, ``wide`` says which are too wide to lie between hatching
    lines.
    """

    wide: npt.NDArray[np.bool_]
    area: Floats
    ink: Floats
    turns: Floats
    within: Floats
    drawn: Floats
    inner: Floats
    weight: Floats
    around: Floats

    def take_in(self, within: Numbers, edges: Edges) -> None:
        """What were edges now lies within a piece, ``within`` by edge."""
        for values, more in ((self.within, edges.length), (self.drawn, edges.strength),
                             (self.inner, edges.length), (self.weight, edges.weight),
                             (self.around, -2 * edges.length)):
            np.add.at(values, within, more)


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
    side = MM_PER_INCH / ppi
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
    along = strength, odds, _weights(lines.cells, ppi, places)
    edges = _edges(pairs, upright, along, (int(labels.max()) + 1, side))
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


def _weights(cells: Plane, ppi: float, places: Numbers) -> Floats:
    """The weight of the line at flat pixels: of the heaviest that is as near as its width."""
    spread = mm_to_px(_WEIGHT_MM, ppi)
    side = 2 * max(1, round(spread)) + 1
    soft = cv2.dilate(cv2.GaussianBlur(cells, (0, 0), spread), np.ones((side, side), np.uint8))
    levels = np.log(np.maximum(np.arange(256) / 255, _LIGHTEST))
    table: Floats = np.rint(levels * _STEPS) / _STEPS
    return np.asarray(table[soft.ravel()[places]])


def _edges(pairs: Numbers, upright: npt.NDArray[np.bool_], along: tuple[Floats, ...],
           scale: tuple[int, float]) -> Edges:
    """Sums over the cracks of each pair; an edge that runs aslant has fewer mm than cracks."""
    count, side = scale
    key, place = np.unique(pairs, return_inverse=True)
    level = np.bincount(place, ~upright, len(key))
    cracks = np.bincount(place, minlength=len(key))
    length = np.hypot(level, cracks - level) * side
    low, high = np.divmod(key, count)
    each = length / np.maximum(cracks, 1)
    return Edges(low, high, length,
                 *(np.bincount(place, values, len(key)) * each for values in along))


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
    nothing = np.zeros(count)
    made = (size, ink, turns, within, weighed, nothing, nothing.copy(), around)
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
