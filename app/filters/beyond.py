"""Where a scan plainly shows something else than the sheet, before its light is known.

A lid or a bed has no tooth, reaches the scan's border along a side and ends in a sharp step on a
smooth course; the sheet inside is lighter, or has the tooth that the lid lacks. Nothing is
cleared by this: what it names is left out where paper is measured, so it does no harm that
black drawn up to the border looks the same.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.strips import side_by_side
from core.sheet import Plane
from core.units import px_to_mm

_CELL_MM = 0.34
_FINE = 256  # parts of a tone that the mean of 8-bit pixels is kept to
_BEND = np.array([[1, 0, -2, 0, 1]], np.float32)
_STEP, _OVER_NOISE = 0.03, 6.0  # of the tone, and times what is usual there: the least edge
_DARKEST = 8.0  # below that a bend is set against this tone
_ALONG_MM = 1.7  # over which tones are averaged along an edge
_BORDER_MM = 4.0  # in which a bend is called usual, and in which a lid may go unseen
_NARROWEST_MM = 1.0  # a strip less wide than this does no harm
_DEEPEST = 0.5  # of the page: what is further across than that lies at the other side
_SMOOTH_MM = 24.0  # along an edge, by which its course is judged
_OFF_MM, _MOST_OFF = 0.9, 0.25  # so far from its course, on so much of its length: no edge
_SIDE = 0.5  # of a side at least must end in an edge
_RIM_MM = 2.6  # of shadow and ragged edge
_INSIDE_MM = 14.0  # of the sheet that is set against what lies beyond it
_NEAR_MM = 1.7  # of what lies beyond that is set against all of it
_LIGHTS, _PAPER = 0.9, 0.6  # a share of cells no lighter than its lights, and of these: not ink
_DARK, _DARKER = 0.88, 0.96  # of those lights: surely darker, and darker if it has less tooth
_SOLID, _SHADOW_MM = 0.55, 20.0  # of the lights, where it is so wide that it may be a shadow
_LIGHTER, _ALL = 1.03, 0.99  # of what nearly all of the sheet is no lighter than
_SLOPES = 0.5  # of the step at the edge may a lid change towards it; a gutter changes more
_GOES_ON, _FALLS = 0.7, 0.97  # of the lights and of its tone before: so a gutter falls
_CALM = 0.25  # of the sheet's light cells swing no more than where nothing is drawn
_AS_CALM = 1.1  # times as much: paper round a tone on it swings more than that
_CLOUD_MM, _HALF = 3.0, 0.5  # over which a laid tone swings; so much of that must show plain
_ALL_ALONG = 0.9  # of its edge lies a sheet's shadow
_EVEN = 0.02  # of the step at its edge swings a sheet's own tone from place to place
_CALMEST = 0.01  # of the sheet's light cells swing no more than what stands for bare paper
_ABOUT_MM = 2.4  # about a cell, which its relief rises from
_NO_TOOTH, _LESS_TOOTH = 0.55, 0.9  # of that

Tones = npt.NDArray[np.float32]
Mask = npt.NDArray[np.bool_]
Depths = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class _Page:
    """Cells of a page, (h, w): their tone, its rise over the tones about them, their swing.

    Light that changes slowly is not in ``relief``; where anything is drawn it means nothing.
    """

    tone: Tones
    relief: Tones
    swing: Tones

    def turned(self, times: int) -> "_Page":
        return _Page(*(np.rot90(plane, times) for plane in (self.tone, self.relief, self.swing)))


def beyond_sheet(plane: Plane | Tones, ppi: float, rim: float = _RIM_MM) -> Mask:
    """Where a page (H, W) shows no sheet; (h, w) bool of cells of 0.34 mm.

    So many mm of ``rim`` of shadow and ragged edge go with it.

    >>> page = np.full((400, 400), 200, np.uint8)
    >>> page[:, :80] = 90
    >>> away = beyond_sheet(page, 300)
    >>> bool(away[50, 10]), bool(away[50, 60])
    (True, False)
    """
    side = px_to_mm(1, ppi) / _CELL_MM
    shape = [max(1, round(length * side)) for length in plane.shape]
    fine = plane.astype(np.uint16) * np.uint16(_FINE) if plane.dtype == np.uint8 else plane
    small = cv2.resize(fine, shape[::-1], interpolation=cv2.INTER_AREA).astype(np.float32)
    small /= np.float32(_FINE if plane.dtype == np.uint8 else 1)
    edges = [np.zeros(0, np.int64)] * 4

    def find_edge(times: int) -> None:
        edges[times] = _sheet_edge(np.rot90(small, times))

    side_by_side(find_edge, range(4))
    if not any(edge.any() for edge in edges):
        return np.zeros(small.shape, np.bool_)
    about = (_cells(_ABOUT_MM), _cells(_ABOUT_MM))
    relief = small - cv2.blur(small, about, borderType=cv2.BORDER_REPLICATE)
    page = _Page(small, np.asarray(relief, np.float32), _swing(small))
    # along another side a lid may lie that is too narrow to be seen
    border = [np.full(side, _cells(_BORDER_MM)) for side in (*small.shape, *small.shape)]
    within = ~_beyond([np.maximum(*pair) for pair in zip(edges, border, strict=True)],
                      [True] * 4, small.shape, _cells(_RIM_MM))
    lids = [
        _is_lid(page.turned(times), edge, np.rot90(within, times))
        for times, edge in enumerate(edges)
    ]
    return _beyond(edges, lids, small.shape, _cells(rim))


def at_size(away: Mask, shape: tuple[int, ...]) -> Mask:
    """A mask of cells at any other size (H, W) of the same page.

    >>> at_size(np.array([[True, False]]), (1, 4)).tolist()
    [[True, True, False, False]]
    """
    cells = away.astype(np.uint8)
    return np.asarray(cv2.resize(cells, shape[1::-1], interpolation=cv2.INTER_NEAREST) > 0)


def _cells(length: float) -> int:
    return max(1, round(length / _CELL_MM))


def _swing(tone: Tones) -> Tones:
    """How far cells lie from their neighbours, (h, w)."""
    fine = np.abs(tone - cv2.blur(tone, (3, 3), borderType=cv2.BORDER_REPLICATE))
    return np.asarray(cv2.blur(fine, (3, 3), borderType=cv2.BORDER_REPLICATE), np.float32)


def _sheet_edge(tone: Tones) -> Depths:
    """How many cells of each row, from the left, lie before the first edge; (h,), or all 0."""
    nowhere = np.zeros(len(tone), np.int64)
    deepest = _DEEPEST * tone.shape[1]
    # what bends further across is no edge of this side's
    tone = np.ascontiguousarray(tone[:, : int(deepest) + _cells(_BORDER_MM)])
    along = (1, _cells(_ALONG_MM) | 1)
    soft = cv2.blur(tone, along, borderType=cv2.BORDER_REPLICATE)
    bend = np.abs(cv2.filter2D(soft, -1, _BEND, borderType=cv2.BORDER_REPLICATE))
    bend /= np.maximum(soft, np.float32(_DARKEST))
    bend[:, :2] = 0
    usual = float(np.median(bend[:, 2 : 2 + _cells(_BORDER_MM)])) if bend.shape[1] > 2 else 0.0
    sharp = np.pad(bend > max(_STEP, _OVER_NOISE * usual), ((0, 0), (0, 1)))
    # an edge is felt two cells before it
    first = np.where(sharp.any(axis=1), np.argmax(sharp, axis=1) + 2, 0)
    rows = np.flatnonzero((first >= _cells(_NARROWEST_MM)) & (first <= deepest))
    if len(rows) < max(_SIDE * len(tone), 2):
        return nowhere
    found = first[rows]
    course = _course(found)
    if (np.abs(found - course) > _cells(_OFF_MM)).mean() > _MOST_OFF:
        return nowhere
    return np.rint(np.interp(np.arange(len(tone)), rows, course)).astype(np.int64)


def _course(depth: Depths) -> npt.NDArray[np.float64]:
    """The running median of an edge's depth."""
    reach = min(_cells(_SMOOTH_MM) // 2, (len(depth) - 1) // 2)
    rows = np.lib.stride_tricks.sliding_window_view(
        np.pad(depth, reach, mode="symmetric"), 2 * reach + 1)
    return np.asarray(np.median(rows, axis=1), np.float64)


def _beyond(
    edges: Sequence[Depths], sides: Sequence[bool], shape: tuple[int, ...], rim: int,
) -> Mask:
    """What lies beyond the edges of some sides, and a rim within them."""
    away = np.zeros(shape, np.bool_)
    for times, (edge, here) in enumerate(zip(edges, sides, strict=True)):
        if here and edge.any():
            column = np.arange(shape[(times + 1) % 2])[None, :]
            away |= np.rot90(column < edge[:, None] + rim, -times)
    return away


def _is_lid(page: _Page, edge: Depths, within: Mask) -> bool:
    """Whether what lies to the left of an edge is no sheet: of another tone, or without tooth."""
    column = np.arange(within.shape[1])[None, :]
    before = column < edge[:, None] - 2
    near = before & (column >= edge[:, None] - 2 - _cells(_NEAR_MM))
    beside = within & (column < edge[:, None] + _cells(_INSIDE_MM))
    if not edge.any() or not before.any() or not beside.any():
        return False
    lights = float(np.quantile(page.tone[beside], _LIGHTS))
    at_border = before & (column < _cells(_NEAR_MM))
    beyond, at_edge, at_end = (
        float(np.median(page.tone[part])) for part in (before, near, at_border))
    paper_goes_on = at_edge > _GOES_ON * lights
    if paper_goes_on and beyond < _FALLS * at_edge and at_end < _FALLS * beyond:
        return False  # light on paper, falling on to the border
    swing = float(np.median(page.swing[before]))
    light = within & (page.tone > _PAPER * lights)
    calmest = float(np.quantile(page.swing[light], _CALMEST))
    # drawn all over, a sheet is nowhere calm, but its lights still swing as paper does
    core = column < edge[:, None] - 2 - _cells(_ABOUT_MM) // 2
    tails = [_tail(plane[core if core.any() else before]) for plane in (page.tone, page.relief)]
    toothless = min(tails) < _NO_TOOTH * _tail(page.tone[within])
    if beyond > _LIGHTER * float(np.quantile(page.tone[within], _ALL)):
        return _is_sheet(page, edge, within, beside & light, (beyond, swing))
    if toothless and swing < _NO_TOOTH * calmest:
        return True
    slope = max(abs(at_edge - beyond), abs(at_end - beyond) if paper_goes_on else 0.0)
    if beyond > _DARKER * lights or slope > _SLOPES * (lights - at_edge):
        return False
    narrow = float(np.median(edge)) < _cells(_SHADOW_MM)
    return beyond < (_DARK if narrow else _SOLID) * lights or swing < _LESS_TOOTH * calmest


def _is_sheet(
    page: _Page, edge: Depths, within: Mask, beside: Mask, lid: tuple[float, float],
) -> bool:
    """Whether what lies ``beside`` an edge is a sheet, and no tone laid on paper up to a margin.

    ``lid`` is the tone and the swing of what lies beyond, which is lighter. Paper round a tone
    has the same tooth; a sheet without any is even and throws a shadow on the lid.
    """
    tone, swing = lid
    calm = float(np.quantile(page.swing[beside], _CALM)) if beside.any() else 0.0
    if swing < _NO_TOOTH * calm:
        return True
    if swing > _AS_CALM * calm:
        return False
    lights = float(np.quantile(page.tone[beside], _LIGHTS))
    shadow = _throws_shadow(page.tone, edge, within, lights)
    return shadow and _is_even(page.tone, beside, tone - lights)


def _throws_shadow(tone: Tones, edge: Depths, within: Mask, lights: float) -> bool:
    """Whether a line darker than the sheet runs all along its edge."""
    column = np.arange(tone.shape[1])[None, :]
    about = (column >= edge[:, None] - 2) & (column < edge[:, None] + _cells(_RIM_MM))
    least = np.where(about, tone, np.float32(np.inf)).min(axis=1)[within.any(axis=1)]
    return bool((least < _DARKER * lights).mean() >= _ALL_ALONG)


def _is_even(tone: Tones, part: Mask, step: float) -> bool:
    """Whether a part swings little beside a step of tone, whatever is drawn there left out.

    A sheet is of one tone; a wash that fills its frame to the margin is never laid so evenly.
    """
    lights = float(np.quantile(tone[part], _LIGHTS))
    plain = (part & (np.abs(tone - lights) < step / 2)).astype(np.float32)
    plain = cv2.erode(plain, np.ones((5, 5), np.uint8))
    means, many = [], []
    for across in (_CLOUD_MM, 4 * _CLOUD_MM):
        size = (_cells(across), _cells(across))
        many.append(cv2.blur(plain, size))
        means.append(cv2.blur(tone * plain, size) / np.maximum(many[-1], np.float32(1e-3)))
    seen = (plain > 0) & (many[0] > _HALF)
    return bool(seen.any()) and float((means[0] - means[1])[seen].std()) < _EVEN * step


def _tail(tones: Tones) -> float:
    """How far the lightest tones reach."""
    lights, all_of_it = np.quantile(tones, (_LIGHTS, _ALL))
    return float(all_of_it - lights)
