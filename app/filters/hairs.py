"""Hairs and lint, also those that touch or cross drawn marks, told by how they lie.

A hair lies on the paper. It is thin, and as dark at one end as at the other whatever the tooth
does under it, where a pencil line so pale is broken by the tooth into pieces that lie in line.
It passes over bare paper without regard to what is drawn, so that it is bare on both sides.
"""

import itertools

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask
from app.filters.specks import Bits, Ground, disc
from app.filters.strips import Strip, side_by_side, strips
from core.sheet import Plane
from core.units import mm_to_px

_PALEST = 0.7  # of the way from the paper to the lightest mark: hairs are paler than marks
_LEAST_PPI = 100.0  # below that a hair is thinner than a third of a pixel
_BESIDE_MM, _CROWDED = 0.4, 0.3  # so near to a pixel, so much is marked only in a mark or a tone
_SHORTEST_MM, _LONGEST_MM = 0.7, 8.0
_WIDEST_MM = 0.22  # as the scan shows it, its blurred rim with it
_HEAVIEST_MM = 0.06  # of full black: its darkness, gathered across its width
_EVEN = 0.56  # of its dark parts' darkness its pale parts have
_PARTS = (0.1, 0.9)  # of it is darker than its dark parts, and than its pale ones
_ABOUT_MM, _BARE = 0.5, 0.2  # so near to it, no more may be marked
_AHEAD_MM, _ASIDE = 1.2, 0.4  # so far ahead of an end, and so far aside for each mm of it
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
    marked, loose = _thin_marks(plane, ppi, ground, firm)
    _, labels, stats, middle = cv2.connectedComponentsWithStats(loose, connectivity=8)
    long = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]) / side
    thin = stats[:, cv2.CC_STAT_AREA] / side**2 < _WIDEST_MM * long
    fit = (long >= _SHORTEST_MM) & (long <= _LONGEST_MM) & thin
    fit[0] = False
    found = np.flatnonzero(loose.view(np.bool_))
    owner = labels.ravel()[found]
    found, owner = found[fit[owner]], owner[fit[owner]]
    heaviest = _HEAVIEST_MM * long * side**2
    fit &= _are_even_and_light(plane, ground.paper, loose, found, owner, heaviest)
    for number in np.flatnonzero(fit):
        box = _box(stats[number], round(_AHEAD_MM * side), plane.shape)
        fit[number] = _lies_free(labels[box] == number, marked[box], ppi)
    hairs = np.flatnonzero(fit)
    fit[hairs[_others(middle[hairs] / np.float64(side)) >= _FELLOWS]] = False
    out = np.zeros(plane.shape, np.uint8)
    out.ravel()[found[fit[owner]]] = 1
    return out


def _thin_marks(plane: Plane, ppi: float, ground: Ground, firm: Bits) -> tuple[Bits, Bits]:
    """1 on all that may be a hair, pale as it is; 1 on what of it is not firm and not crowded."""
    limit = round(ground.paper - _PALEST * (ground.paper - ground.limit))
    size = 2 * max(1, round(mm_to_px(_BESIDE_MM, ppi))) + 1
    marked, loose = np.empty_like(firm), np.empty_like(firm)

    def tell(strip: Strip) -> None:
        rows, wide, inner = strip
        dark = plane[wide] < limit
        free = np.greater(dark, firm[wide].view(np.bool_)).view(np.uint8)
        share = cv2.blur(255 * free, (size, size), borderType=cv2.BORDER_REPLICATE)
        marked[rows] = dark[inner]
        loose[rows] = (free & (share < round(255 * _CROWDED)))[inner]

    side_by_side(tell, strips(len(plane), size))
    return marked, loose


def _are_even_and_light(
    plane: Plane, paper: float, loose: Bits, place: npt.NDArray[np.int64],
    owner: npt.NDArray[np.int32], heaviest: Floats,
) -> Mask:
    """Which marks are about as dark all along their middle, and no heavier than stated; (n,).

    ``loose`` (H, W) is 1 on all marks, ``place`` the flat places of those asked about, ``owner``
    the row of each, ``heaviest`` (n,) in pixels of full black.
    """
    count = np.bincount(owner, minlength=len(heaviest))
    if not len(place):
        return count > 0
    darkest = _darkest_about(plane, loose, place)
    # values are less than 65536: sorted by owner, then by tone
    middle = 1 - (np.sort((owner.astype(np.int64) << 16) | darkest) & 0xFFFF) / paper
    first = np.cumsum(count) - count
    dark, pale = (
        middle[np.minimum(first + (share * count).astype(np.int64), len(place) - 1)]
        for share in _PARTS
    )
    weight = np.bincount(owner, 1 - plane.ravel()[place] / paper, len(count))
    return np.asarray((pale >= _EVEN * dark) & (weight < heaviest))


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


def _lies_free(own: Mask, marked: Bits, ppi: float) -> bool:
    """Whether hardly anything is marked beside a hair, and nothing in line with both its ends."""
    mine = own.view(np.uint8)
    about = cv2.dilate(mine, disc(_ABOUT_MM, ppi)) > cv2.dilate(mine, np.ones((3, 3), np.uint8))
    if np.count_nonzero(marked[about]) > _BARE * np.count_nonzero(about):
        return False
    hair = np.argwhere(own).astype(np.float64)
    others = np.argwhere(marked > cv2.dilate(mine, disc(_RAGGED_MM, ppi)))
    way = np.linalg.eigh(np.cov(hair.T))[1][:, 1]
    along = hair @ way
    ends = ((hair[along.argmax()], way), (hair[along.argmin()], -way))
    return not all(_runs_on(others - end, onward, ppi) for end, onward in ends)


def _runs_on(others: Floats, onward: Floats, ppi: float) -> bool:
    """Whether any of these pixels, seen from an end (n, 2), lies onward from it."""
    ahead = others @ onward
    aside = np.abs(others @ np.array([-onward[1], onward[0]]))
    near = (ahead > 1) & (ahead < mm_to_px(_AHEAD_MM, ppi))
    return bool((near & (aside <= _ASIDE * ahead + 1)).any())


def _others(place: Floats) -> npt.NDArray[np.int64]:
    """How many others are near each place; (n, 2) in mm."""
    near = [np.hypot(*(place - one).T) <= _KIN_MM for one in place]
    return np.array([row.sum() - 1 for row in near], np.int64)
