"""Thin dark pieces, measured along their length, and joined end to end across what hides them."""

import itertools
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask, cells_of
from app.filters.pieces import find_pieces
from app.filters.specks import Bits, Ground, cell_of, disc
from app.filters.strips import Strip, both, side_by_side, strips
from core.sheet import Plane, full_scale
from core.units import mm_to_px

_PALEST = 0.7  # of the way from the paper to the lightest mark: hairs are paler than marks,
_PALEST_KEPT = 0.4  # and where the paper was taken away, its grain is no longer taken for them
_PEAK_MM = 0.17  # so near to a pixel, the darkest may be no more than twice as dark
_BESIDE_MM, _CROWDED = 0.4, 0.3  # so near to a pixel, so much is dark only in a mark or a tone
_SKIRT = 1.7  # times as wide as its dark middle is a thin line with its pale edge
_EDGE_MM = 0.2  # so far from its dark middle, that may reach
_ABOUT_MM = 2.0  # so near to a piece lies what is drawn with it
_NEAR_MM, _OF_KIND, _THICKER = 10.0, 2.0, 1.25  # so near, so alike in tone, thicker: drawn alike,
_LONG_MM, _WIDEST_MM = 0.5, 0.3  # if it is so long, and a line
_TOGETHER = 64  # groups of pieces whose surroundings are looked at together
_RIM_MM = 0.13  # so near to firm ink is the ink's edge
_PARTS = (0.1, 0.9)  # of it is darker than its dark parts, and than its pale ones
_END_MM, _TURNED = 0.4, 0.33  # within that of an end, the rest lies so far aside, of that
_GAP_MM = 2.0  # at most between ends that go on in each other
_IN_LINE = 0.65  # the cosine by which an end may turn
_ALIKE = 1.7  # times as dark: no more is one than the other
_HIDDEN = 0.7  # of what lies between them is marked,
_OPEN_MM = 0.5  # unless it is no more than that
_COURSE_MM, _SLENDER = 0.6, 0.3  # what has a direction is so long, and no wider for its length
_PARALLEL = 0.96  # the cosine by which the strokes of hatching may differ
_AS_LONG = 0.4  # of a stroke's length is at least that of one beside it
_SPACED_MM = 0.2, 2.5  # and so far apart they lie
_LEAST_DARK = 1e-3
_STRAIGHT_MM, _STRAIGHT = 0.03, 0.02  # and for each mm of its half: what is ruled strays less
_RULED = 0.99  # the cosine by which the pieces of a ruled line differ
_ENOUGH = 600  # pixels tell where the ends are
_BEND_MM = 1.5  # farther away is as good as straighter by one

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Strands:
    """Thin connected pieces, one row each; lengths in mm, darkness 0-1.

    ``labels`` (H, W) is the row of each pixel, 0 for none; ``box`` (n, 5) are left, top, width,
    height and area in pixels, ``middle`` (n, 2) its row and column in mm. ``dark`` and ``pale``
    are its dark and its pale parts; ``width`` is that of its dark middle in mm, ``thickness``
    that of a line as dark as its dark parts all across, which is as heavy as it with its pale
    edges. ``course`` (n, 4) is its middle, row and column in mm, and half its length in mm along
    its direction, down and across; nothing for what is too short to have one. ``stray`` is how
    far its pixels lie aside of that, in mm, as a standard deviation. ``along`` is how much of it
    lies along firm ink, 0-1. ``lines`` are the rows of what is long and narrow, from the top of
    the page downwards. ``sums`` are those of all that is marked, over cells of ``cell`` pixels.
    """

    labels: npt.NDArray[np.int32]
    box: npt.NDArray[np.int32]
    middle: Floats
    length: Floats
    width: Floats
    thickness: Floats
    dark: Floats
    pale: Floats
    course: Floats
    stray: Floats
    along: Floats
    lines: Places
    sums: Floats
    cell: int

    def others(self, rows: Places, ppi: float) -> float:
        """How much is marked of all that lies about some pieces, but for themselves; 0-1."""
        left, top, width, height, area = self.box[rows].T
        reach = mm_to_px(_ABOUT_MM, ppi)
        (up, low), (west, east) = (
            np.clip(np.rint(np.array([start.min() - reach, stop.max() + reach]) / self.cell),
                    0, extent - 1).astype(np.int64)
            for start, stop, extent in zip(
                (top, left), (top + height, left + width), self.sums.shape, strict=True)
        )
        marked = (self.sums[low, east] - self.sums[up, east]
                  - self.sums[low, west] + self.sums[up, west])
        own = _SKIRT * area.sum() / self.cell**2
        return float(max(marked - own, 0) / max((low - up) * (east - west), 1))

    def near(self, groups: list[Places]) -> tuple[Floats, Floats]:
        """How long all is that is about as dark near each group of pieces; how long what is thin.

        That is as thin as they are or a little thicker; in mm, (groups,).
        """
        rows, owner = np.concatenate(groups), np.repeat(
            np.arange(len(groups)), [len(group) for group in groups])
        length = np.bincount(owner, self.length[rows])
        down, across, dark, thickness = (
            np.bincount(owner, self.length[rows] * of[rows]) / length
            for of in (*self.middle.T, self.dark, self.thickness))
        own = np.full(len(self.length), -1)
        own[rows] = owner
        alike, as_thin = np.zeros((2, len(groups)))
        order = np.argsort(down, kind="stable")
        for start in range(0, len(groups), _TOGETHER):
            some = order[start : start + _TOGETHER]
            first, last = np.searchsorted(
                self.middle[self.lines, 0], down[some[[0, -1]]] + (-_NEAR_MM, _NEAR_MM))
            others, here = self.lines[first:last], some[:, None]
            far = np.hypot(*(axis[others] - at[here] for axis, at in zip(
                self.middle.T, (down, across), strict=True)))
            kin = self.length[others] * (
                (far < _NEAR_MM) & (own[others] != here)
                & _as_dark(self.dark[others], dark[here]))
            thin = _as_thin(self.thickness[others], thickness[here])
            alike[some], as_thin[some] = kin.sum(axis=1), (kin * thin).sum(axis=1)
        return alike, as_thin

    def has_fellow(self, rows: Places) -> bool:
        """Whether one as thin and as dark runs beside the longest of some pieces, as strokes do.

        It may be shorter, but no scrap.
        """
        way, half = self.course[:, 2:], np.hypot(*self.course[:, 2:].T)
        one = rows[np.argmax(half[rows])]
        if not half[one]:
            return False
        onward = way[one] / half[one]
        apart = self.course[:, :2] - self.course[one, :2]
        ahead, aside = np.abs(apart @ onward), np.abs(apart @ np.array([-onward[1], onward[0]]))
        fellows = (
            (half > _AS_LONG * half[one]) & (np.abs(way @ onward) > _PARALLEL * half)
            & (ahead <= half + half[one])
            & (aside > _SPACED_MM[0]) & (aside < _SPACED_MM[1])
            & _as_thin(self.thickness, self.thickness[one])
            & _as_dark(self.dark, self.dark[one])
        )
        fellows[rows] = False
        return bool(fellows.any())

    def is_ruled(self, rows: Places) -> bool:
        """Whether some pieces lie straight in one line, as if they were ruled."""
        way, half = self.course[rows, 2:], np.hypot(*self.course[rows, 2:].T)
        onward = way[half.argmax()] / max(half.max(), 1e-9)
        straight = self.stray[rows] <= _STRAIGHT_MM + _STRAIGHT * half
        return bool((straight & (np.abs(way @ onward) >= _RULED * half)).all())

    def places(self, row: int) -> Floats:
        """The pixels of one piece; (n, 2) as row, column."""
        (down, across), own = self.piece(row, 0)
        return np.asarray(np.argwhere(own) + np.array([down.start, across.start]), np.float64)

    def piece(self, row: int, rim: int) -> tuple[tuple[slice, slice], Bits]:
        """The part of the page that holds one piece and a rim of pixels; 1 on the piece there."""
        left, top, width, height = (int(side) for side in self.box[row, :4])
        here = (slice(max(top - rim, 0), top + height + rim),
                slice(max(left - rim, 0), left + width + rim))
        return here, (self.labels[here] == row).view(np.uint8)


def _as_dark(dark: Floats, than: Floats) -> Mask:
    """Whether others are about as dark as these: what one pen or pencil draws."""
    return np.asarray(
        np.abs(np.log(np.maximum(dark, _LEAST_DARK) / than)) <= np.log(_OF_KIND))


def _as_thin(thickness: Floats, than: Floats) -> Mask:
    """Whether others are as thin as these or a little thicker."""
    return np.asarray(thickness <= _THICKER * than)


def find_strands(plane: Plane, ppi: float, ground: Ground, firm: Bits) -> tuple[Strands, Bits]:
    """The thin pieces of a plane (H, W); 1 on all that is marked and not firm, pale as it is.

    Of a piece only the middle counts, at least half as dark as the darkest of it near by.
    """
    soft, loose, along = _thin_marks(plane, ppi, ground, firm)
    pieces, side = find_pieces(loose), mm_to_px(1, ppi)
    labels, place, owner, box = pieces.labels, pieces.place, pieces.owner, pieces.box
    middle = pieces.middle / side

    def sums(of: npt.NDArray[np.generic]) -> Floats:
        return np.bincount(owner, of, len(box)).astype(np.float64)

    (darkest, edge), dark_of = both(
        lambda: _surroundings(plane, loose, place),
        lambda: _gathered(plane, labels, soft, ground.paper, ppi, len(box)))
    area = pieces.area.astype(np.float64)
    # half of Cauchy and Crofton's perimeter in four directions, less the width at the ends
    length = sums(edge) * (np.pi / 16)
    length = np.maximum(length - area / np.maximum(length, 1), 1) / side
    width = area / length / side**2
    dark, pale = _dark_and_pale(darkest, ground.paper, owner, area)
    weight = dark_of / length / side**2
    has_course = (length >= _COURSE_MM) & (width <= _SLENDER * length)
    lines = np.flatnonzero((length >= _LONG_MM) & (width < _WIDEST_MM) & (area > 0))
    lines = lines[np.argsort(middle[lines, 0], kind="stable")]
    cell = cell_of(ppi)
    return Strands(
        labels, box, middle, length, width,
        weight / np.maximum(dark, _LEAST_DARK), dark, pale,
        *_courses(place, plane.shape[1], owner, has_course, side),
        sums(along) / np.maximum(area, 1), lines,
        np.asarray(cv2.integral(cells_of(soft | firm, cell), sdepth=cv2.CV_64F), np.float64), cell,
    ), soft


def _gathered(
    plane: Plane, labels: npt.NDArray[np.int32], soft: Bits, paper: float, ppi: float, count: int,
) -> Floats:
    """The darkness of each label's pixels and of the pale edge about them, added up; (count,)."""
    about = disc(_EDGE_MM, ppi)
    # the numbers of labels are exact in 32 bits up to 16 million
    kind = np.uint16 if count <= 1 << 16 else np.float32
    found: dict[int, Floats] = {}

    def gather(strip: Strip) -> None:
        rows, wide, inner = strip
        near = cv2.dilate(labels[wide].astype(kind), about)[inner]
        here = soft[rows].view(np.bool_)
        owner = np.asarray(near[here]).astype(np.int64)
        found[rows.start] = np.bincount(
            owner, 1 - plane[rows][here] / paper, count).astype(np.float64)

    side_by_side(gather, strips(len(plane), len(about)))
    return np.asarray(np.sum([found[top] for top in sorted(found)], axis=0), np.float64)


def _thin_marks(
    plane: Plane, ppi: float, ground: Ground, firm: Bits,
) -> tuple[Bits, Bits, Bits]:
    """1 on all that is not firm, pale as it is; 1 on the dark middle of what of it is thin.

    Then, for each pixel of the latter, 1 along firm ink.
    """
    palest = _PALEST_KEPT if ground.taken else _PALEST
    limit = round(ground.paper - palest * (ground.paper - ground.limit))
    size = 2 * max(1, round(mm_to_px(_BESIDE_MM, ppi))) + 1
    near = np.ones((2 * max(1, round(mm_to_px(_PEAK_MM, ppi))) + 1,) * 2, np.uint8)
    full, half, rim = full_scale(plane), int(ground.paper) // 2, disc(_RIM_MM, ppi)
    soft, loose = np.empty_like(firm), np.empty_like(firm)
    about: dict[int, Bits] = {}

    def tell(strip: Strip) -> None:
        rows, wide, inner = strip
        free = np.greater(plane[wide] < limit, firm[wide].view(np.bool_)).view(np.uint8)
        least = cv2.erode(plane[wide] | ((1 - free) * plane.dtype.type(full)), near)
        middle = free & (plane[wide] <= least // 2 + half).view(np.uint8)
        share = np.asarray(cv2.blur(
            255 * middle, (size, size), borderType=cv2.BORDER_REPLICATE), np.uint8)[inner]
        soft[rows] = free[inner]
        loose[rows] = middle[inner] & (share < round(255 * _CROWDED)).view(np.uint8)
        here = loose[rows].view(np.bool_)
        beside = np.asarray(cv2.dilate(firm[wide], rim), np.uint8)
        about[rows.start] = beside[inner][here]

    side_by_side(tell, strips(len(plane), size))
    return soft, loose, np.concatenate([about[top] for top in sorted(about)])


def _surroundings(plane: Plane, loose: Bits, place: Places) -> tuple[Plane, Floats]:
    """The darkest of each place and of its neighbours that are marked too; how open its edge is.

    A side that is open counts 1, a corner 1 over the root of 2; both (n,).
    """
    rows, columns = np.divmod(place, plane.shape[1])
    darkest, edge = plane.ravel()[place], np.zeros(len(place))
    for down, across in itertools.product((-1, 0, 1), repeat=2):
        at = (np.clip(rows + down, 0, plane.shape[0] - 1),
              np.clip(columns + across, 0, plane.shape[1] - 1))
        marked = loose[at] > 0
        darkest = np.minimum(darkest, np.where(marked, plane[at], darkest))
        edge += ~marked * (np.sqrt(0.5) if down and across else 1.0)
    return np.asarray(darkest), edge


def _courses(
    place: Places, across: int, owner: npt.NDArray[np.int32], has_course: Mask, side: float,
) -> tuple[Floats, Floats]:
    """Each owner's middle and half its length along its direction, (n, 4); how it strays, (n,)."""
    mine, size = has_course[owner], len(has_course)
    owner = owner[mine]
    row, column = (axis / side for axis in np.divmod(place[mine], across))
    many = np.maximum(np.bincount(owner, minlength=size), 1)
    middle = [np.bincount(owner, axis, size) / many for axis in (row, column)]
    row, column = row - middle[0][owner], column - middle[1][owner]
    down, aside, both = (
        np.bincount(owner, product, size) / many
        for product in (row * row, column * column, row * column)
    )
    angle, part = np.arctan2(2 * both, aside - down) / 2, np.hypot(aside - down, 2 * both)
    # places spread evenly over a line lie its half length over the root of 3 from its middle
    half = np.sqrt(1.5 * (down + aside + part))
    course = np.stack([*middle, half * np.sin(angle), half * np.cos(angle)], axis=1)
    return course, np.sqrt(np.maximum(down + aside - part, 0) / 2)


def _dark_and_pale(
    darkest: Plane, paper: float, owner: npt.NDArray[np.int32], area: Floats,
) -> tuple[Floats, Floats]:
    """How dark the dark and the pale parts of each owner's tones (n,) are."""
    if not len(darkest):
        return np.zeros(len(area)), np.zeros(len(area))
    # values are less than 65536: sorted by owner, then by tone
    tones = np.sort((owner.astype(np.int64) << 16) | darkest) & 0xFFFF
    first = np.cumsum(area) - area
    dark, pale = (
        1 - tones[np.minimum(first + share * area, len(tones) - 1).astype(np.int64)] / paper
        for share in _PARTS
    )
    return dark, pale


@dataclass(frozen=True, eq=False)
class Ends:
    """The ends of strands: the row of each, where it is, the way it points; (n,), (n, 2), (n, 2).

    ``joined`` is the end in which each goes on, -1 for none.
    """

    owner: Places
    place: Floats
    way: Floats
    joined: Places


def ends_of(
    strands: Strands, rows: Places, hidden: Bits, ppi: float,
) -> Ends:
    """The ends of some strands, joined where they go on in each other beneath what is hidden.

    ``hidden`` (H, W) is 1 where something is marked.
    """
    reach = mm_to_px(_END_MM, ppi)
    found = [(row, *end) for row in rows for end in _ends(strands.places(row), reach)]
    owner = np.array([row for row, _, _ in found], np.int64)
    place, way = (np.array([end[part] for end in found], np.float64).reshape(-1, 2)
                  for part in (1, 2))
    joined = _joined(owner, place, way, strands.dark[owner], hidden, ppi)
    return Ends(owner, place, way, joined)


def _ends(strand: Floats, reach: float) -> list[tuple[Floats, Floats]]:
    """Where the ends of a strand's pixels (n, 2) are, and the way that each points, (2,) each.

    At an end all that is near lies on one side. A ring has none.
    """
    strand = strand[:: len(strand) // _ENOUGH + 1]
    near = np.hypot(*(strand[:, None] - strand[None]).transpose(2, 0, 1)) <= reach
    aside = strand - near @ strand / near.sum(axis=1)[:, None]
    far = np.hypot(*aside.T)
    ends = []
    while far.max() > _TURNED * reach:
        at = int(far.argmax())
        ends.append((strand[at], aside[at] / np.hypot(*aside[at])))
        far[near[at]] = 0.0
    return ends


def _joined(
    owner: Places, place: Floats, way: Floats, dark: Floats, hidden: Bits, ppi: float,
) -> Places:
    """The end in which each goes on, -1 for none: the straightest and nearest, for both of them."""
    best, gap = np.full(len(owner), -1), mm_to_px(_GAP_MM, ppi)
    order = np.argsort(place[:, 0], kind="stable")
    down = place[order, 0]
    first, last = np.searchsorted(down, place[:, 0] - gap), np.searchsorted(down, place[:, 0] + gap)
    for end in range(len(owner)):
        near = order[first[end] : last[end]]
        near = near[(np.abs(place[near, 1] - place[end, 1]) <= gap) & (owner[near] != owner[end])]
        across = place[near] - place[end]
        far = np.hypot(*across.T)
        along = across / np.maximum(far, 1e-9)[:, None]
        turn, back = along @ way[end], -(along * way[near]).sum(axis=1)
        fit = (
            (far <= gap) & (np.minimum(turn, back) > _IN_LINE)
            & (np.abs(np.log(dark[near] / dark[end])) < np.log(_ALIKE))
        )
        cost = far / mm_to_px(_BEND_MM, ppi) - turn - back
        for at in np.flatnonzero(fit)[np.argsort(cost[fit], kind="stable")]:
            open_gap = far[at] <= mm_to_px(_OPEN_MM, ppi)
            if open_gap or _is_hidden(place[end], place[near[at]], hidden):
                best[end] = near[at]
                break
    mutual = best[best] == np.arange(len(best))
    return np.where((best >= 0) & mutual, best, -1)


def _is_hidden(one: Floats, other: Floats, hidden: Bits) -> bool:
    """Whether most of what lies between two places is hidden (H, W)."""
    steps = np.linspace(0, 1, max(int(np.hypot(*(other - one))), 2) + 1)[1:-1, None]
    rows, columns = np.rint(one + steps * (other - one)).astype(np.int64).T
    return bool(hidden[rows, columns].mean() >= _HIDDEN)
