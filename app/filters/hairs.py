"""Hairs and lint, also those that touch or cross drawn marks, told by how they lie.

A hair lies on the paper. It is as dark at one end as at the other whatever the tooth does under
it, where a pencil line so pale is broken by the tooth into pieces that lie in line. It passes
over bare paper without regard to what is drawn, and goes on beyond a line that it crosses; it is
neither quite straight nor ragged. Above all it is thin, and alone in that: a point that draws
lines as thin and as pale draws many, near one another.
"""

import math

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.specks import CLEAR, Bits, Ground, disc
from app.filters.strands import Ends, Strands, ends_of, find_strands
from core.sheet import Plane
from core.units import mm_to_px

_LEAST_PPI = 100.0  # below that a hair is thinner than a third of a pixel
_SHORTEST_MM, _LONGEST_MM, _WIDEST_MM = 0.25, 12.0, 0.26  # of a piece, by its dark middle
_SLENDER, _THICKEST_MM = 2.0, 0.3
_EDGE = 0.7  # of it that lies along firm ink: more is the ink's own edge
_LEAST_MM = 0.8  # of a hair's pieces together
_TOO_LITTLE = -3.0  # speaks for a piece, if it were all and lay alone
_STRAYS = 0.05  # of its length a hair strays, as far as is known of a piece with no course
# What speaks for a hair, as a logarithm of odds, fitted on drawn pages whose dust is known:
_BEFORE = -9.6
_ALIKE, _AS_THIN = -0.41, -0.94  # logarithms of mm of what is as dark near by, and as thin too
_MOST_MM = 10.0  # as thin near by: where there is more, it is drawn with a fine point
_AMONG = -5.5  # root of how much is marked about it, by its length in mm
_EVENNESS = 7.45  # how dark its pale parts are by its dark ones, but for the paper's noise
_WIDTH, _STRAY, _BENT = -9.06, 3.32, -70.8  # logarithms of mm; how far it strays, by its length
_USUAL, _UNUSUAL = 0.165, -1.0  # how dark hairs are; the square of the logarithm of times as dark
_STROKE = -6.6  # each end in line with which a stroke goes on
_MORE_MM, _LEAST_STRAY_MM = 0.5, 0.01  # so little counts for nothing
_SKIRT_MM = 0.13  # of pale edge beyond its dark middle
_AHEAD_MM = 1.2  # so far ahead of an end
_STROKE_MM, _MOST = 0.3, 0.7  # so near to the line ahead, so much of the ink lies: a stroke
_HEAVIEST_MM, _WRITTEN = 0.065, 0.4  # of black across, and how dark: nearly every hair is less
_BRANCHES, _ALONE = 3, 0.01  # ends of one piece; a share of what is about it that is marked
_RULED_MM, _RULED = 4.0, -2.2  # each mm more than that of what lies straight: it was ruled

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
    rows = _likely(strands, noise)
    chosen = np.zeros(len(strands.length), np.bool_)
    if len(rows):
        ends = ends_of(strands, rows, soft | firm, ppi)
        chains = _chains(rows, ends)
        for hair, against in zip(chains, _among_kin(strands, chains), strict=True):
            speaks = _speaks(strands, hair, noise, ppi) + against
            if speaks > 0 and not (
                strands.has_fellow(hair) or _is_written(strands, hair, ends, ppi)
            ):
                speaks += _onward(hair, ends, firm, ppi)
                chosen[hair] = speaks > 0
    return _with_skirts(strands, np.flatnonzero(chosen), soft, ppi)


def _is_written(strands: Strands, hair: Places, ends: Ends, ppi: float) -> bool:
    """Whether these pieces are as dark and as heavy as a pen's line, and not one that lies alone.

    Alone, such a line is a thick hair; but no hair branches, as a letter does.
    """
    heavy = strands.thickness[hair] * strands.dark[hair] > _HEAVIEST_MM
    if not (heavy & (strands.dark[hair] > _WRITTEN)).any():
        return False
    branches = np.bincount(ends.owner, minlength=len(strands.dark))[hair] >= _BRANCHES
    return bool(branches.any() or strands.others(hair, ppi) > _ALONE)


def _likely(strands: Strands, noise: float) -> Places:
    """The rows of what may be a hair, or a piece of one."""
    fit = (
        (strands.length >= _SHORTEST_MM) & (strands.length <= _LONGEST_MM)
        & (strands.width <= np.minimum(_WIDEST_MM, strands.length / _SLENDER))
        & (strands.thickness <= _THICKEST_MM) & (strands.along <= _EDGE)
    )
    fit[0] = False
    rows = np.flatnonzero(fit)
    length = np.maximum(strands.length[rows], _LEAST_MM)
    has_course = strands.course[rows, 2:].any(axis=1)
    stray = np.where(has_course, strands.stray[rows], _STRAYS * length)
    even = (strands.pale[rows] + noise) / strands.dark[rows]
    speaks = _of_itself(length, strands.width[rows], stray, even, strands.dark[rows])
    rows = rows[speaks > _TOO_LITTLE]
    if not len(rows):
        return rows
    _, as_thin = strands.near(np.split(rows, len(rows)))
    # of that, other pieces of it may be as much as a hair is long
    return rows[as_thin <= _MOST_MM + _LONGEST_MM]


def _speaks(strands: Strands, hair: Places, noise: float, ppi: float) -> float:
    """How much speaks for these rows together being a hair; what goes on in line is left out."""
    length = strands.length[hair]
    total = length.sum()
    if not _LEAST_MM <= total <= _LONGEST_MM:
        return -np.inf
    width, stray, dark = (
        length @ of[hair] / total for of in (strands.width, strands.stray, strands.dark))
    even = (strands.pale[hair].min() + noise) / strands.dark[hair].max()
    speaks = _of_itself(total, width, stray, even, dark)
    speaks += _AMONG * math.sqrt(strands.others(hair, ppi)) / total
    return float(speaks + _RULED * max(total - _RULED_MM, 0) * strands.is_ruled(hair))


def _among_kin(strands: Strands, hairs: list[Places]) -> Floats:
    """What speaks against each being one where others as dark and as thin are near; (hairs,)."""
    alike, as_thin = strands.near(hairs)
    against = _ALIKE * np.log1p(alike / _MORE_MM) + _AS_THIN * np.log1p(as_thin / _MORE_MM)
    return np.where(as_thin > _MOST_MM, -np.inf, against)


def _of_itself(
    length: Floats, width: Floats, stray: Floats, even: Floats, dark: Floats,
) -> Floats:
    """How much speaks for hairs of this length if they lie alone."""
    return np.asarray(
        _BEFORE + _EVENNESS * even + _WIDTH * np.log(width)
        + _STRAY * np.log(stray + _LEAST_STRAY_MM) + _BENT * stray / length
        + _UNUSUAL * np.log(dark / _USUAL) ** 2)


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


def _onward(hair: Places, ends: Ends, firm: Bits, ppi: float) -> float:
    """What speaks against a hair in line with whose free ends a stroke goes on.

    What else ink hides counts for nothing: hairs cross ink.
    """
    free = np.isin(ends.owner, hair) & (ends.joined < 0)
    rim = round(mm_to_px(_AHEAD_MM, ppi))
    speaks = 0.0
    for place, onward in zip(ends.place[free], ends.way[free], strict=True):
        top, left = (max(int(at) - rim, 0) for at in place)
        box = np.s_[top : int(place[0]) + rim + 1, left : int(place[1]) + rim + 1]
        ink = np.argwhere(firm[box]).astype(np.float64)
        speaks += _STROKE * _is_stroke(ink - (place - (top, left)), onward, ppi)
    return speaks


def _is_stroke(ink: Floats, onward: Floats, ppi: float) -> bool:
    """Whether hardly any ink lies ahead of an end (n, 2) but a stroke that goes its way."""
    reach = mm_to_px(_AHEAD_MM, ppi)
    ahead = ink @ onward
    aside = np.abs(ink @ np.array([-onward[1], onward[0]]))
    near = aside[(ahead > 0) & (ahead < reach) & (aside < reach)]
    in_line = np.count_nonzero(near <= mm_to_px(_STROKE_MM, ppi))
    return bool(in_line > _MOST * len(near))


def _with_skirts(strands: Strands, hairs: Places, soft: Bits, ppi: float) -> Bits:
    """1 on the pieces of hairs with the pale edge of their dark middle, as far as it is marked."""
    found, about = np.zeros_like(soft), disc(_SKIRT_MM, ppi)
    for row in hairs:
        here, own = strands.piece(int(row), len(about))
        found[here] |= np.minimum(cv2.dilate(own, about), soft[here], dtype=np.uint8)
    return found
