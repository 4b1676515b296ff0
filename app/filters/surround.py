"""What a scan shows beyond the sheet: lid, bed or table round it, and through binding holes."""

from itertools import combinations

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import disc
from app.filters.noise import DARKEST, STEPS, Ground, Levels, blur, patches
from app.filters.outline import Mask

_CELL_MM = 0.34
_TOOTH_MM = 0.15  # finer than that, paper and whatever lies beyond it are told apart
_ABOUT_MM = 0.5
_FLATTER = 0.55  # of the paper's own fine swing: what has less of it is no paper
_LEAST_SWING = 8.0  # levels: a sheet with less than that shows no tooth to go by
_NARROWEST_MM = 0.9  # from its middle out: no stroke is so wide
_ALONG = 0.85  # of a side lies outside, if the sheet ends there
_FROM_CORNER = 0.3  # of a side at least, where the sheet lies askew
_SLIM = 0.1  # of its length: as deep as that a strip from a corner may be
_DEEPEST = 0.35  # of the page
_SMOOTH_MM = 24.0  # along an edge, by which its course is judged
_OFF_MM, _MOST_OFF = 2.5, 0.15  # so far from its course, on so much of its length: it was drawn
_ABOVE_MM = 0.7  # a sheet's edge stands at most so far out from its course
_RIM_MM = 0.5  # of ragged edge that goes with what lies beyond it
_EDGE_MM = 0.75  # of an edge, within which it may be told
_SHADOW_MM = 2.4  # of shadow that may lie between, darker than paper all the way
_ALL_ALONG = 0.25  # of an edge may have less of a shadow than is taken for one
_LIGHTER = 0.3  # of the way from a lid at the border to paper: what is lighter still is drawn
_DARK_LID = 0.5  # of what lies beyond the sheet would be taken for marks: no shadow shows on it
_SEEN = 0.5  # of an edge must be seen, or nothing says that the sheet ends there
_HOLE_MM = (4.5, 7.5)  # across; ISO 838 has 6 (from memory)
_PER_TONE = 16  # steps to a tone
_NO_INK = 0.5  # of the paper's tone: what is darker may be a blot
_DARK = 0.4  # of the paper's tone: as a black lid is, seen through a hole
_HOLE_CORE_MM = 1.3  # from its middle out: narrower stretches beside it fall away
_HOLE_RIM_MM = 0.9  # in which the edge shows, all round
_ROUND = 0.12  # by which a hole may miss the measures of a circle
_RING_MM, _FREE = (1.3, 2.4), 0.4  # round a hole, hardly any of which is drawn on
_FROM_EDGE_MM = 18.0
_ALIKE_MM = 1.6  # by which a hole may miss its fellow's place
_SAME_MM = 0.36  # by which the sizes of two holes may differ, and how far in they lie
_FELLOW = 0.75  # of the middle of that place must be plain

Cells = npt.NDArray[np.uint8]
Depths = npt.NDArray[np.int64]
Place = npt.NDArray[np.float64]


def outside_sheet(ground: Ground, support: Mask) -> npt.NDArray[np.bool_]:
    """Where a page shows no sheet, its edge's shadow with it; at the ground's resolution (h, w).

    What lies beyond the sheet has no tooth, reaches the scan's border along a whole side (or
    from a corner, as a slim strip) and ends on a smooth course. What is drawn to the border
    leaves paper beside it, or ends where the drawing has it. ``support`` as ``find_support``
    gives it.

    >>> from app.filters.noise import measure_ground
    >>> page = np.full((400, 300), 230, np.uint8)
    >>> page[:60] = 40
    >>> ground = measure_ground(page, 150)
    >>> away = outside_sheet(ground, np.where(page < 99, np.uint8(255), np.uint8(0)))
    >>> bool(away[50, 150]), bool(away[70, 150])
    (True, False)
    """
    plain = _wide(_toothless(ground, ground.levels) | _solid(ground), _NARROWEST_MM)
    some = (support > 0).astype(np.uint8)
    marks = np.asarray(cv2.resize(some, plain.shape[::-1], interpolation=cv2.INTER_AREA), np.uint8)
    tone = _cells_of(ground.tone, ground)
    away = _holes(plain, marks) | _beyond_sides(plain, marks, tone, ground.paper)
    away |= _holes(_wide(_grey(ground), _HOLE_CORE_MM), np.zeros_like(marks), _cells(_HOLE_RIM_MM))
    away |= _punched(_wide((tone < _DARK * ground.paper).astype(np.uint8), _HOLE_CORE_MM))
    if not away.any():
        return np.zeros(support.shape, np.bool_)
    wide = cv2.resize(away, support.shape[::-1], interpolation=cv2.INTER_LINEAR)
    shadow = cv2.dilate(wide, disc(ground.pixels(_RIM_MM))) > 0
    return np.asarray(shadow)


def _cells_of(plane: npt.NDArray[np.generic], ground: Ground) -> npt.NDArray[np.float32]:
    shape = [max(1, round(side / ground.pixels(_CELL_MM))) for side in plane.shape]
    return np.asarray(cv2.resize(
        plane.astype(np.float32), shape[::-1], interpolation=cv2.INTER_AREA), np.float32)


def _solid(ground: Ground) -> Cells:
    """1 in each cell that is as dark as can be told."""
    return (_cells_of(ground.levels >= DARKEST, ground) > 0.5).astype(np.uint8)


def _grey(ground: Ground) -> Cells:
    """1 in each cell without tooth that is lighter than ink: as a lid is, seen through shading."""
    tones = np.rint(ground.tone * np.float32(_PER_TONE)).astype(np.int16)
    light = _cells_of(ground.tone, ground) > _NO_INK * ground.paper
    return _toothless(ground, tones) & light


def _toothless(ground: Ground, tones: Levels) -> Cells:
    """1 in each cell where tones have no tooth, if the sheet has any to go by."""
    fine = np.abs(tones - blur(tones, ground.pixels(_TOOTH_MM)))
    swing = cv2.blur(_cells_of(fine, ground), (3, 3), borderType=cv2.BORDER_REPLICATE)
    usual = float(np.mean(patches(fine, ground.bare, ground.side), dtype=np.float64))
    per_noise = STEPS if tones is ground.levels else _PER_TONE * ground.noise
    if usual < _LEAST_SWING * per_noise / STEPS or ground.clipped:
        return np.zeros(swing.shape, np.uint8)
    return (swing < _FLATTER * usual).astype(np.uint8)


def _wide(cells: Cells, least: float) -> Cells:
    """The cells in stretches of such that are twice ``least`` mm wide; the border goes on."""
    reach = _cells(least)
    wide = np.pad(cells, 2 * reach, mode="edge")
    opened = cv2.morphologyEx(wide, cv2.MORPH_OPEN, disc(reach))
    return np.asarray(opened[2 * reach : -2 * reach, 2 * reach : -2 * reach], np.uint8)


def _beyond_sides(
    plain: Cells, marks: Cells, tone: npt.NDArray[np.float32], paper: float,
) -> Cells:
    """1 in each cell that lies beyond one of the sheet's four sides."""
    away = np.zeros_like(plain)
    for turned in range(4):
        # each side in its turn lies at the left, so that a row runs inward from it
        here, seen = np.rot90(plain, turned), np.rot90(marks, turned)
        depth = _sheet_edge(here, seen)
        if not depth.any():
            # where pencil reaches the edge it is as plain as a dark lid, but lighter
            tones = np.rot90(tone, turned)
            lid = float(np.median(tones[:, 0]))
            dark = tones < lid + _LIGHTER * (paper - lid)
            depth = _sheet_edge(np.where(dark, here, np.uint8(0)), seen)
        inside = np.arange(here.shape[1])[None, :] < depth[:, None]
        away |= np.rot90(inside.astype(np.uint8), -turned)
    return away


def _sheet_edge(plain: Cells, marks: Cells) -> Depths:
    """How many cells of each row, from the left, lie beyond the sheet; (h,)."""
    nowhere = np.zeros(len(plain), np.int64)
    ends = np.pad(plain, ((0, 0), (0, 1)))
    depth = np.argmin(ends, axis=1).astype(np.int64)
    run = _run_of(depth)
    found = depth[run]
    if not found.size:
        return nowhere
    course = _course(found)
    off = np.abs(np.minimum(found, course + _cells(_OFF_MM)) - course) > _cells(_OFF_MM) // 2
    deepest = float(np.median(course))
    slim = len(found) >= _ALONG * len(plain) or deepest <= _SLIM * len(found)
    if off.mean() > _MOST_OFF or deepest > _DEEPEST * plain.shape[1] or not slim:
        return nowhere
    nowhere[run] = np.minimum(found, course + _cells(_ABOVE_MM))
    if not _is_seen(nowhere, marks):
        return np.zeros_like(nowhere)
    beyond = np.arange(marks.shape[1])[None, :] < nowhere[:, None]
    if marks[beyond].mean() < _DARK_LID:
        nowhere[run] += _shadow(nowhere[run], marks[run])
    else:
        # something light on a table or a bed hides how far it goes; no sheet juts out like that
        nowhere[run] = np.where(found < course - _cells(_OFF_MM), course, nowhere[run])
    return nowhere


def _shadow(depth: Depths, marks: Cells) -> Depths:
    """How far a shadow goes on between an edge and a light lid, (h,).

    What reaches further in than it does nearly all along the edge is drawn.
    """
    reach = _cells(_SHADOW_MM)
    wide = np.pad(marks, ((0, 0), (0, reach)))
    dark = np.take_along_axis(wide, depth[:, None] + np.arange(reach)[None, :], axis=1) > 0
    dark[:, : _cells(_EDGE_MM)] = True
    length = np.argmin(np.pad(dark, ((0, 0), (0, 1))), axis=1).astype(np.int64)
    length[length <= _cells(_EDGE_MM)] = 0
    usual = _course(length, _ALL_ALONG)
    return np.asarray(np.minimum(length, np.where(usual > 0, usual + 1, 0)), np.int64)


def _cells(length: float) -> int:
    return max(1, round(length / _CELL_MM))


def _run_of(depth: Depths) -> slice:
    """The rows in which the sheet ends short of the border: nearly all, or all from a corner."""
    there = depth > 0
    if there.mean() >= _ALONG:
        return slice(0, len(depth))
    lengths = [int(np.argmin(np.append(way, False))) for way in (there, there[::-1])]
    if max(lengths) < _FROM_CORNER * len(depth):
        return slice(0, 0)
    if lengths[0] >= lengths[1]:
        return slice(0, lengths[0])
    return slice(len(depth) - lengths[1], len(depth))


def _course(depth: Depths, share: float = 0.5) -> Depths:
    """The running median of an edge's depth, or what a share of it about each place is below."""
    reach = min(_cells(_SMOOTH_MM) // 2, (len(depth) - 1) // 2)
    wide = np.pad(depth, reach, mode="symmetric")
    rows = np.lib.stride_tricks.sliding_window_view(wide, 2 * reach + 1)
    return np.quantile(rows, share, axis=1).astype(np.int64)


def _is_seen(depth: Depths, marks: Cells) -> bool:
    """Whether there is something beyond the edge, or at it, that would be taken for a mark."""
    column = np.arange(marks.shape[1])[None, :]
    near = (column < depth[:, None] + _cells(_EDGE_MM)) & (marks > 0)
    rows = depth > 0
    return bool(rows.any() and near[rows].any(axis=1).mean() >= _SEEN)


def _holes(plain: Cells, marks: Cells, rim: int = 0) -> Cells:
    """1 in the cells of binding holes: round, near an edge, a fellow at the mirrored place.

    So many cells of each hole's ``rim`` are not plain.
    """
    _, _, stats, middle = cv2.connectedComponentsWithStats(plain, connectivity=4)
    away = np.zeros_like(plain)
    for number in range(1, len(stats)):
        across = _round_across(stats[number], rim)
        if across and _stands_free(marks, middle[number], across):
            away |= _pair(plain, middle[number], across, rim)
    return away


def _punched(dark: Cells) -> Cells:
    """1 in the cells of holes that show a black lid, two as alike as no hand draws them.

    So they are known whatever is drawn round them.
    """
    _, _, stats, middle = cv2.connectedComponentsWithStats(dark, connectivity=4)
    found = [np.append(place, _round_across(row, 0))
             for row, place in zip(stats[1:], middle[1:], strict=True)]
    away = np.zeros_like(dark)
    for pair in combinations([hole for hole in found if hole[2]], 2):
        if _are_punched(*pair, dark.shape):
            for x, y, across in pair:
                away |= _disc_at(dark, (x, y), across / 2)
    return away


def _are_punched(hole: Place, other: Place, shape: tuple[int, ...]) -> bool:
    """Whether two round parts (x, y, across) are of one size and lie at mirrored places."""
    if abs(hole[2] - other[2]) > _SAME_MM / _CELL_MM:
        return False
    for along, side in ((1, shape[0]), (0, shape[1])):
        depth = np.array([hole[1 - along], other[1 - along]])
        apart = abs(hole[along] - other[along])
        mirrored = abs(hole[along] + other[along] - (side - 1)) <= _ALIKE_MM / _CELL_MM
        from_edge = np.minimum(depth, shape[along] - 1 - depth).max()
        if (mirrored and abs(depth[0] - depth[1]) <= _SAME_MM / _CELL_MM
                and apart > 2 * hole[2] and from_edge < _FROM_EDGE_MM / _CELL_MM):
            return True
    return False


def _round_across(row: npt.NDArray[np.int32], rim: int) -> float:
    """The diameter in cells of a part that is round and, with its rim, as wide as a hole; or 0."""
    width, height, area = (
        int(row[at]) for at in (cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT, cv2.CC_STAT_AREA)
    )
    across = (width + height) / 2
    low, high = (size / _CELL_MM for size in _HOLE_MM)
    even = abs(width - height) <= max(1.0, _ROUND * across)
    full = abs(area - np.pi / 4 * width * height) <= _ROUND * area
    return across if low <= across + 2 * rim <= high and even and full else 0.0


def _stands_free(cells: Cells, middle: npt.NDArray[np.float64], across: float) -> bool:
    """Whether hardly any of the cells are set in a ring round a hole."""
    place = (float(middle[0]), float(middle[1]))
    inner, outer = (across / 2 + _cells(gap) for gap in _RING_MM)
    ring = _disc_at(cells, place, outer) - _disc_at(cells, place, inner)
    return bool(cells[ring > 0].mean() <= _FREE) if ring.any() else False


def _pair(plain: Cells, middle: npt.NDArray[np.float64], across: float, rim: int) -> Cells:
    """1 on a hole and its fellow, if it has one beside the same edge, as far from the middle."""
    height, width = plain.shape
    x, y = float(middle[0]), float(middle[1])
    none = np.zeros_like(plain)
    reach = _FROM_EDGE_MM / _CELL_MM
    fellows = []
    if min(x, width - 1 - x) < reach:
        fellows.append((x, height - 1 - y))
    if min(y, height - 1 - y) < reach:
        fellows.append((width - 1 - x, y))
    for other in fellows:
        spot = _disc_at(plain, other, across / 2 - _cells(_ALIKE_MM) / 2)
        apart = abs(other[0] - x) + abs(other[1] - y)
        alone = _stands_free(plain, np.array(other), across)
        if alone and apart > 2 * across and plain[spot > 0].mean() > _FELLOW:
            radius = across / 2 + rim
            return _disc_at(plain, (x, y), radius) | _disc_at(plain, other, radius)
    return none


def _disc_at(plain: Cells, middle: tuple[float, float], radius: float) -> Cells:
    place = (round(middle[0]), round(middle[1]))
    drawn = cv2.circle(np.zeros_like(plain), place, max(1, round(radius)), 1, -1)
    return np.asarray(drawn, np.uint8)
