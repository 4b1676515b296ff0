"""Hairs and lint, also those that touch or cross drawn marks, told by how they lie.

A hair lies on the paper. It is thin, and as dark at one end as at the other whatever the tooth
does under it, where a pencil line so pale is broken by the tooth into pieces that lie in line.
It passes over bare paper without regard to what is drawn, so that it is bare on both sides. It
weighs little for its length: the shorter a mark is, the more often grain is as thin and even.
"""

import itertools

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask
from app.filters.specks import CLEAR, Bits, Ground, disc
from app.filters.strips import Strip, side_by_side, strips
from core.sheet import Plane
from core.units import mm_to_px

_PALEST = 0.7  # of the way from the paper to the lightest mark: hairs are paler than marks
_LEAST_PPI = 100.0  # below that a hair is thinner than a third of a pixel
_BESIDE_MM, _CROWDED = 0.4, 0.3  # so near to a pixel, so much is marked only in a mark or a tone
_SHORTEST_MM, _LONGEST_MM = 0.85, 8.0
_WIDEST_MM = 0.22  # as the scan shows it, its blurred rim with it
_HEAVIEST_MM = 0.06  # of full black: its darkness, gathered across its width,
_HEAVY = 0.02  # for each mm of its length
_LIGHTER = 0.5  # times as heavy for each end in line with which something goes on
_EVEN = 0.56  # of its dark parts' darkness its pale parts have, but for the paper's noise
_PARTS = (0.1, 0.9)  # of it is darker than its dark parts, and than its pale ones
_ABOUT_MM, _BARE = 0.5, 0.15  # so near to it, no more may be marked that is not firm ink
_RIM_MM, _ALONG = 0.13, 0.5  # so near to firm ink, no more of it may lie: that is the ink's edge
_SCRAP = 0.33  # of its size: what is smaller may be a piece that came off it
_END_MM = 0.8  # of it tells which way its end points
_AHEAD_MM, _ASIDE = 1.2, 0.4  # so far ahead of an end, and so far aside for each mm of it
_STROKE_MM, _MOST = 0.3, 0.7  # so near to the line ahead, so much of the ink lies: a stroke
_RAGGED_MM = 0.17  # of its own edge that may be too pale or too crowded to count as it
_FELLOWS, _KIN_MM = 2, 2.0  # others of its kind so near make it a line of hatching

Floats = npt.NDArray[np.float64]


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
    side = mm_to_px(1, ppi)
    soft, loose = _thin_marks(plane, ppi, ground, firm)
    _, labels, stats, middle = cv2.connectedComponentsWithStats(loose, connectivity=8)
    long = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]) / side
    thin = stats[:, cv2.CC_STAT_AREA] / side**2 < _WIDEST_MM * long
    fit = (long >= _SHORTEST_MM) & (long <= _LONGEST_MM) & thin
    fit[0] = False
    found = np.flatnonzero(loose.view(np.bool_))
    owner = labels.ravel()[found]
    found, owner = found[fit[owner]], owner[fit[owner]]
    even, weight = _evenness_and_weight(plane, ground, loose, found, owner, len(fit))
    heaviest = np.minimum(_HEAVIEST_MM, _HEAVY * long) * long * side**2
    fit &= even & (weight < heaviest)
    for number in np.flatnonzero(fit):
        box = _box(stats[number], round(_AHEAD_MM * side), plane.shape)
        lighter = _lies_free(labels[box] == number, soft[box], firm[box], ppi)
        fit[number] = weight[number] < lighter * heaviest[number]
    hairs = np.flatnonzero(fit)
    fit[hairs[_others(middle[hairs] / np.float64(side)) >= _FELLOWS]] = False
    out = np.zeros(plane.shape, np.uint8)
    out.ravel()[found[fit[owner]]] = 1
    return out


def _thin_marks(plane: Plane, ppi: float, ground: Ground, firm: Bits) -> tuple[Bits, Bits]:
    """1 on all that is not firm, pale as it is; 1 on what of it is not crowded: maybe hairs."""
    limit = round(ground.paper - _PALEST * (ground.paper - ground.limit))
    size = 2 * max(1, round(mm_to_px(_BESIDE_MM, ppi))) + 1
    soft, loose = np.empty_like(firm), np.empty_like(firm)

    def tell(strip: Strip) -> None:
        rows, wide, inner = strip
        free = np.greater(plane[wide] < limit, firm[wide].view(np.bool_)).view(np.uint8)
        share = cv2.blur(255 * free, (size, size), borderType=cv2.BORDER_REPLICATE)
        soft[rows] = free[inner]
        loose[rows] = (free & (share < round(255 * _CROWDED)))[inner]

    side_by_side(tell, strips(len(plane), size))
    return soft, loose


def _evenness_and_weight(
    plane: Plane, ground: Ground, loose: Bits, place: npt.NDArray[np.int64],
    owner: npt.NDArray[np.int32], count: int,
) -> tuple[Mask, Floats]:
    """Which marks are about as dark all along their middle; their weight in pixels of full black.

    ``loose`` (H, W) is 1 on all marks, ``place`` the flat places of those asked about, ``owner``
    the row of each; the results are (count,).
    """
    area = np.bincount(owner, minlength=count)
    if not len(place):
        return area > 0, np.zeros(count)
    darkest = _darkest_about(plane, loose, place)
    # values are less than 65536: sorted by owner, then by tone
    middle = 1 - (np.sort((owner.astype(np.int64) << 16) | darkest) & 0xFFFF) / ground.paper
    first = np.cumsum(area) - area
    dark, pale = (
        middle[np.minimum(first + (share * area).astype(np.int64), len(place) - 1)]
        for share in _PARTS
    )
    noise = (1 - ground.limit / ground.paper) / CLEAR
    weight = np.bincount(owner, 1 - plane.ravel()[place] / ground.paper, count)
    return np.asarray(pale + noise >= _EVEN * dark), np.asarray(weight, np.float64)


def _darkest_about(plane: Plane, loose: Bits, place: npt.NDArray[np.int64]) -> Plane:
    """The darkest of each place of a mark and of its neighbours that are marked as well; (n,)."""
    rows, columns = np.divmod(place, plane.shape[1])
    darkest = plane.ravel()[place]
    for down, across in itertools.product((-1, 0, 1), repeat=2):
        at = (np.clip(rows + down, 0, plane.shape[0] - 1),
              np.clip(columns + across, 0, plane.shape[1] - 1))
        beside = np.where(loose[at] > 0, plane[at], darkest)
        darkest = np.minimum(darkest, beside)
    return np.asarray(darkest)


def _box(stats: npt.NDArray[np.int32], rim: int, shape: tuple[int, ...]) -> tuple[slice, slice]:
    left, top, width, height = (int(value) for value in stats[:4])
    return (slice(max(top - rim, 0), min(top + height + rim, shape[0])),
            slice(max(left - rim, 0), min(left + width + rim, shape[1])))


def _lies_free(own: Mask, soft: Bits, firm: Bits, ppi: float) -> float:
    """How heavy a hair may be, 0-1 of what it may be by itself, for what is marked about it.

    0 where much is, or where it lies along firm ink; less for each end in line with which
    something goes on, as pale as it or a stroke of ink. What else ink hides counts for nothing:
    hairs cross ink.
    """
    mine = own.view(np.uint8)
    ring = cv2.dilate(mine, disc(_ABOUT_MM, ppi)) > cv2.dilate(mine, np.ones((3, 3), np.uint8))
    if np.count_nonzero(soft[ring]) > _BARE * np.count_nonzero(ring & (firm == 0)):
        return 0.0
    beside = cv2.dilate(firm, disc(_RIM_MM, ppi))
    if np.count_nonzero(beside[own]) > _ALONG * np.count_nonzero(own):
        return 0.0
    others = _without_scraps(
        np.greater(soft, cv2.dilate(mine, disc(_RAGGED_MM, ppi))), int(own.sum()))
    ink = np.argwhere(firm).astype(np.float64)
    ends = _ends(np.argwhere(own).astype(np.float64), mm_to_px(_END_MM, ppi))
    return _LIGHTER ** sum(
        _nearest(others - end, onward, ppi) < _nearest(ink - end, onward, ppi)
        or _is_stroke(ink - end, onward, ppi)
        for end, onward in ends
    )


def _without_scraps(others: Mask, size: int) -> Floats:
    """The places (n, 2) of what lies near a hair of so many pixels, but what came off it itself.

    What the edge of the square cuts may be larger than it looks.
    """
    _, labels, stats, _ = cv2.connectedComponentsWithStats(others.view(np.uint8), connectivity=8)
    large = stats[:, cv2.CC_STAT_AREA] >= _SCRAP * size
    for edge in (labels[0], labels[-1], labels[:, 0], labels[:, -1]):
        large[edge] = True
    return np.asarray(np.argwhere(others & large[labels]), np.float64)


def _ends(hair: Floats, reach: float) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    """Where the two ends of a hair's pixels (n, 2) are, and the way that each points, (2,) each."""
    one = hair[np.hypot(*(hair - hair.mean(axis=0)).T).argmax()]
    other = hair[np.hypot(*(hair - one).T).argmax()]

    def way(end: Floats) -> Floats:
        along = end - hair[np.hypot(*(hair - end).T) <= reach].mean(axis=0)
        return np.asarray(along / np.hypot(*along))

    return (one, way(one)), (other, way(other))


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


def _others(place: Floats) -> npt.NDArray[np.int64]:
    """How many others are near each place; (n, 2) in mm."""
    near = [np.hypot(*(place - one).T) <= _KIN_MM for one in place]
    return np.array([row.sum() - 1 for row in near], np.int64)
