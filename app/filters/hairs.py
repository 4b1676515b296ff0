"""Hairs and lint, also those that touch or cross drawn marks, told by how they lie.

A hair lies on the paper. It is thin, and as dark at one end as at the other whatever the tooth
does under it, where a pencil line so pale is broken by the tooth into pieces that lie in line.
It passes over bare paper without regard to what is drawn, so that it is bare on both sides, and
goes on beyond a line that it crosses. It weighs little for its length: the shorter a mark is, the
more often grain is as thin and even.
"""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask
from app.filters.specks import CLEAR, Bits, Ground, disc
from app.filters.strands import Ends, Strands, ends_of, find_strands
from core.sheet import Plane
from core.units import mm_to_px

_LEAST_PPI = 100.0  # below that a hair is thinner than a third of a pixel
_SHORTEST_MM, _LONGEST_MM, _WIDEST_MM = 0.25, 10.0, 0.21  # of a piece, by its dark middle
_NARROW_MM, _PALE_MM = 0.165, 0.025  # only a pale one may be wider: by the paper's noise
_SLENDER, _HEAVIEST_MM = 2.6, 0.09
_EDGE = 0.35  # of it that lies along firm ink: more is the ink's own edge
_TOO_LITTLE = -2.0  # speaks for it where all about it is bare
_LEAST_MM = 0.6  # of a hair's pieces together
# What speaks for a hair, as a logarithm of odds, fitted on drawn pages whose dust is known:
_BEFORE = -5.0
_EVENNESS = 6.2  # how dark its pale parts are by its dark ones, but for the paper's noise
_LENGTH, _LIGHT = -5.0, -1.88  # logarithm of mm; that by the logarithm of mm of black
_CROWD, _ALONG = -5.1, -1.3  # root of what is marked about it; how much lies along firm ink
_OTHERS, _HEAVY = -12.8, -2.86  # root of what else is marked near; that by its weight's logarithm
_AMONG = 0.14  # of what lies near is as pale as it: faint strokes lie among others
_GOES_ON, _STROKE = -1.42, -4.0  # each end in line with which something goes on, or a stroke
_SKIRT_MM = 0.13  # of pale edge beyond its dark middle
_RAGGED_MM = 0.17  # of its own edge that may be too pale or too crowded to count as it
_SCRAP = 0.33  # of its size: what is smaller may be a piece that came off it
_AHEAD_MM, _ASIDE = 1.2, 0.4  # so far ahead of an end, and so far aside for each mm of it
_STROKE_MM, _MOST = 0.3, 0.7  # so near to the line ahead, so much of the ink lies: a stroke
_RULED_MM = 5.0  # what is so long and straight was ruled
_FELLOWS, _KIN_MM = 2, 2.0  # others of its kind so near make it a line of hatching

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.int64]


def find_hairs(
    plane: Plane, ppi: float, ground: Ground, firm: Bits,
) -> Bits:
    """1 on the hairs of a plane (H, W), also those that run into a mark; 0 elsewhere.

    ``firm`` is 1 on firm ink and its blurred edge, where no hair is sought.

    >>> page = np.full((120, 120), 230, np.uint8)
    >>> page[30:90, 60] = 190
    >>> found = find_hairs(page, 300, Ground(230.0, 222, taken=False), np.zeros_like(page))
    >>> int(found.sum()), int(found[30:90, 60].sum())
    (60, 60)
    """
    if ppi < _LEAST_PPI:
        return np.zeros(plane.shape, np.uint8)
    strands, soft = find_strands(plane, ppi, ground, firm)
    noise = (1 - ground.limit / ground.paper) / CLEAR
    rows = _likely(strands, noise, ppi)
    ends = ends_of(strands, rows, (soft | firm) > 0, ppi)
    found, apart = [], []
    for hair in _chains(rows, ends):
        speaks = _of_chain(strands, hair, noise, ppi)
        if speaks > 0:
            speaks += _onward(strands, hair, ends, soft, firm, ppi)
        if speaks > 0:
            found.append(hair)
            apart.append(not _is_drawn(strands, hair, ppi))
    middle = np.array([strands.middle[hair].mean(axis=0) for hair in found]).reshape(-1, 2)
    alone = _others(middle / mm_to_px(1, ppi)) < _FELLOWS
    chosen = np.zeros(len(strands.length), np.uint8)
    for hair, is_hair in zip(found, alone & np.array(apart, np.bool_), strict=True):
        chosen[hair] = is_hair
    return _with_skirts(chosen[strands.labels], soft, ppi)


def _is_drawn(strands: Strands, hair: Places, ppi: float) -> bool:
    """Whether these pieces are a stroke among strokes as pale, or are ruled and long."""
    _, among = strands.others_together(hair, ppi)
    long = strands.length[hair].sum() >= _RULED_MM
    return bool(among >= _AMONG or strands.has_fellow(hair)
                or (long and strands.is_ruled(hair)))


def _likely(strands: Strands, noise: float, ppi: float) -> Places:
    """The rows of what may be a hair, or a piece of one as long again."""
    fit = (
        (strands.length >= _SHORTEST_MM) & (strands.length <= _LONGEST_MM)
        & (strands.width <= np.minimum(_WIDEST_MM, strands.length / _SLENDER))
        & ((strands.width <= _NARROW_MM) | (strands.weight <= _PALE_MM))
        & (strands.weight <= _HEAVIEST_MM) & (strands.along <= _EDGE)
    )
    fit[0] = False
    rows = np.flatnonzero(fit)
    lone = np.zeros(len(rows))
    rows = rows[_if_longer(strands, rows, noise, lone) > _TOO_LITTLE]
    return rows[_if_longer(strands, rows, noise, strands.others(rows, ppi)) > 0]


def _if_longer(strands: Strands, rows: Places, noise: float, others: Floats) -> Floats:
    """How much would speak for each of these rows being part of a hair twice as long; (n,)."""
    length = np.maximum(2 * strands.length, strands.length + _LEAST_MM)[rows]
    even = (strands.pale[rows] + noise) / strands.dark[rows]
    return _speaks(length, strands.weight[rows], even, strands.crowd[rows], strands.along[rows],
                   others)


def _speaks(
    length: Floats, weight: Floats, even: Floats, crowd: Floats, along: Floats, others: Floats,
) -> Floats:
    """How much speaks for a hair, of several; what something goes on in line is left out."""
    long, heavy = np.log(length), np.log(weight)
    return np.asarray(
        _BEFORE + _LENGTH * long + _LIGHT * long * heavy + _EVENNESS * even
        + _CROWD * np.sqrt(crowd) + _ALONG * along + (_OTHERS + _HEAVY * heavy) * np.sqrt(others))


def _of_chain(strands: Strands, hair: Places, noise: float, ppi: float) -> float:
    """How much speaks for these rows together being a hair."""
    length = strands.length[hair]
    total = length.sum()
    if not _LEAST_MM <= total <= _LONGEST_MM:
        return -np.inf
    weight, crowd, along = (
        length @ of[hair] / total for of in (strands.weight, strands.crowd, strands.along))
    even = (strands.pale[hair].min() + noise) / strands.dark[hair].max()
    others, _ = strands.others_together(hair, ppi)
    figures = (total, weight, even, crowd, along, others)
    return float(_speaks(*(np.array([figure]) for figure in figures))[0])


def _chains(rows: Places, ends: Ends) -> list[Places]:
    """The rows, those together whose ends are joined."""
    chain = {int(row): [int(row)] for row in rows}
    for end in np.flatnonzero(ends.joined >= 0):
        one, other = (chain[int(ends.owner[at])] for at in (end, ends.joined[end]))
        if one is not other:
            one += other
            chain.update(dict.fromkeys(other, one))
    return [np.array(sorted(whole), np.int64)
            for row, whole in chain.items() if row == min(whole)]


def _onward(
    strands: Strands, hair: Places, ends: Ends, soft: Bits, firm: Bits, ppi: float,
) -> float:
    """What speaks against a hair in line with whose free ends something goes on.

    That is as pale as it, or a stroke. What else ink hides counts for nothing: hairs cross ink.
    """
    free = np.isin(ends.owner, hair) & (ends.joined < 0)
    rim = round(mm_to_px(_AHEAD_MM + _RAGGED_MM, ppi))
    size = int(strands.box[hair, cv2.CC_STAT_AREA].sum())
    speaks = 0.0
    for place, onward in zip(ends.place[free], ends.way[free], strict=True):
        top, left = (max(int(at) - rim, 0) for at in place)
        box = np.s_[top : int(place[0]) + rim + 1, left : int(place[1]) + rim + 1]
        own = np.isin(strands.labels[box], hair).view(np.uint8)
        end = place - (top, left)
        others = _without_scraps(
            np.greater(soft[box], cv2.dilate(own, disc(_RAGGED_MM, ppi))), size)
        ink = np.argwhere(firm[box]).astype(np.float64)
        if _is_stroke(ink - end, onward, ppi):
            speaks += _STROKE
        elif _nearest(others - end, onward, ppi) < _nearest(ink - end, onward, ppi):
            speaks += _GOES_ON
    return speaks


def _without_scraps(others: Mask, size: int) -> Floats:
    """The places (n, 2) of what lies near a hair of so many pixels, but what came off it itself.

    What the edge of the square cuts may be larger than it looks.
    """
    _, labels, stats, _ = cv2.connectedComponentsWithStats(others.view(np.uint8), connectivity=8)
    large = stats[:, cv2.CC_STAT_AREA] >= _SCRAP * size
    for edge in (labels[0], labels[-1], labels[:, 0], labels[:, -1]):
        large[edge] = True
    return np.asarray(np.argwhere(others & large[labels]), np.float64)


def _nearest(places: Floats, onward: Floats, ppi: float) -> float:
    """How far ahead the nearest of these places is, seen from an end (n, 2), that lies onward.

    At most as far as ends are looked from.
    """
    ahead = places @ onward
    aside = np.abs(places @ np.array([-onward[1], onward[0]]))
    seen = ahead[(ahead > 1) & (aside <= _ASIDE * ahead + 1)]
    return float(min(seen.min(initial=np.inf), mm_to_px(_AHEAD_MM, ppi)))


def _is_stroke(ink: Floats, onward: Floats, ppi: float) -> bool:
    """Whether hardly any ink lies ahead of an end (n, 2) but a stroke that goes its way."""
    reach = mm_to_px(_AHEAD_MM, ppi)
    ahead = ink @ onward
    aside = np.abs(ink @ np.array([-onward[1], onward[0]]))
    near = aside[(ahead > 0) & (ahead < reach) & (aside < reach)]
    in_line = np.count_nonzero(near <= mm_to_px(_STROKE_MM, ppi))
    return bool(in_line > _MOST * len(near))


def _others(place: Floats) -> Places:
    """How many others are near each place; (n, 2) in mm."""
    near = [np.hypot(*(place - one).T) <= _KIN_MM for one in place]
    return np.array([row.sum() - 1 for row in near], np.int64)


def _with_skirts(middle: Bits, soft: Bits, ppi: float) -> Bits:
    """Hairs with the pale edge of their dark middle, as far as it is marked."""
    if not middle.any():
        return middle
    return np.minimum(cv2.dilate(middle, disc(_SKIRT_MM, ppi)), soft, dtype=np.uint8)
