"""Where the guillotine cuts a scanned page: found by its borders, corner marks or edges."""

from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
import numpy.typing as npt

from app.pages.bitmap import resized
from app.pages.refusing import refuse
from core.fault import Fault
from core.sheet import Plane
from core.units import mm_to_px, px_to_mm

Frame = tuple[float, float, float, float]
"""Left, top, width, height, in mm of the scan."""

By = Literal["borders", "corners", "sheet"]

_WORK_PPI = 150
_INK = 128
_BORDER_SHARE = 0.3  # of the page's side that a panel border runs along, at least
_STRAIGHT_MM = 8.0  # a piece of a border
_MARK_MM = (3.0, 20.0)  # a corner mark's length
_MARK_ZONE = 0.3  # of the page, from each edge, in which corner marks lie
_AT_MM = 0.5  # just inside and just outside the cut
_SLANT_MM = 2.0  # how far along the cut a slanted line may have moved at the bleed

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class TrimRule:
    """How every page of a book is trimmed: chosen once.

    ``by`` names what the trim is centred on: the outermost panel ``borders``, the ``corners``
    marked on the sheet, or the ``sheet`` as it lies after its steps. ``width`` and ``height`` in
    mm; None is what was found. ``nudge`` moves the trim right and down, in mm; on a left page it
    moves left instead of right where the book is ``mirrored``. A book keeps its rule in mm of the
    print, ``find_trim`` takes one in mm of the scan.
    """

    by: By = "sheet"
    width: float | None = None
    height: float | None = None
    nudge: tuple[float, float] = (0.0, 0.0)
    mirrored: bool = False

    def __post_init__(self) -> None:
        sides = [side for side in (self.width, self.height) if side is not None]
        if not all(1 <= side <= 50_000 for side in sides):
            raise refuse("a trim is at least 1 mm wide and high", "give its size in mm")
        if not all(abs(move) <= 50_000 for move in self.nudge):
            raise refuse("a trim is moved by 50000 mm at most", "give the way in mm")

    def on_scan(self, scale: float) -> "TrimRule":
        """A rule in mm of the print as one in mm of a scan that is printed at ``scale``.

        >>> TrimRule("sheet", 148, 210, (1.0, 0.0)).on_scan(0.5)
        TrimRule(by='sheet', width=296.0, height=420.0, nudge=(2.0, 0.0), mirrored=False)
        """
        across, down = self.nudge
        return replace(
            self, width=None if self.width is None else self.width / scale,
            height=None if self.height is None else self.height / scale,
            nudge=(across / scale, down / scale),
        )


@dataclass(frozen=True)
class Trimmed:
    """The trim of one page, or None and why it could not be found."""

    frame: Frame | None
    why: str = ""

    def fault(self, place: str) -> Fault:
        """That it could not be found, as a fault of the page."""
        return Fault(f"its trim is not placed: {self.why}", place,
                     "choose another way to find it, or leave the page out")


def find_trim(
    alpha: Plane, ppi: float, rule: TrimRule, *, left_page: bool = False,
) -> Trimmed:
    """The trim of a page whose ink is ``alpha`` (H, W).

    >>> page = np.zeros((1754, 1240), np.uint8)
    >>> page[200:1500, 200:206] = page[200:1500, 1000:1006] = 255
    >>> page[200:206, 200:1006] = page[1494:1500, 200:1006] = 255
    >>> [round(side, 1) for side in find_trim(page, 150, TrimRule("borders")).frame]
    [33.9, 33.9, 136.5, 220.1]
    """
    small = _at_work(alpha, ppi)
    box = _anchor(small, rule.by)
    if box is None:
        what = "panel borders" if rule.by == "borders" else "corner marks"
        return Trimmed(None, f"its {what} were not found on all four sides; "
                             "place the trim by hand")
    row, column = (px_to_mm(side, ppi) / count  # in mm, exact though the sides were rounded
                   for side, count in zip(alpha.shape, small.shape, strict=True))
    found = [box[0] * column, box[1] * row, (box[2] - box[0]) * column, (box[3] - box[1]) * row]
    across, down = rule.nudge
    if rule.mirrored and left_page:
        across = -across
    wide, high = rule.width or found[2], rule.height or found[3]
    return Trimmed((found[0] + (found[2] - wide) / 2 + across,
                    found[1] + (found[3] - high) / 2 + down, wide, high))


def _at_work(alpha: Plane, ppi: float) -> Mask:
    if ppi > _WORK_PPI:
        height, width = (max(round(side * _WORK_PPI / ppi), 1) for side in alpha.shape)
        alpha = resized(alpha, height, width)
    return np.asarray(alpha >= _INK)


_Span = tuple[int, int, int, int]  # left, top, right, bottom in pixels


def _anchor(small: Mask, by: By) -> _Span | None:
    """What the trim is centred on, at the working resolution."""
    if by == "sheet":
        return 0, 0, small.shape[1], small.shape[0]
    return _borders(small) if by == "borders" else _corners(small)


def _straight(mask: Mask, length: int, *, across: bool) -> npt.NDArray[np.int32]:
    """Boxes (n, 4) of the mask's straight pieces along the rows, or down: left, top, right, end."""
    kernel = np.ones((1, length) if across else (length, 1), np.uint8)
    wide = np.ones((3, 1) if across else (1, 3), np.uint8)
    thick = cv2.dilate(mask.astype(np.uint8), wide)  # a line a little out of square stays whole
    lines = cv2.bitwise_and(cv2.morphologyEx(thick, cv2.MORPH_OPEN, kernel),
                            mask.astype(np.uint8))
    _, _, stats, _ = cv2.connectedComponentsWithStats(lines, connectivity=8)
    left, top, width, height = (stats[1:, n] for n in range(4))
    return np.stack([left, top, left + width, top + height], axis=1).astype(np.int32)


def _borders(mask: Mask) -> _Span | None:
    """The box of the outermost long lines; None where a side has none."""
    height, width = mask.shape
    piece = round(mm_to_px(_STRAIGHT_MM, _WORK_PPI))
    rows = _long(_straight(mask, piece, across=True), 0, _BORDER_SHARE * width)
    columns = _long(_straight(mask, piece, across=False), 1, _BORDER_SHARE * height)
    if not len(rows) or not len(columns):
        return None
    left, top = int(columns[:, 0].min()), int(rows[:, 1].min())
    right, bottom = int(columns[:, 2].max()), int(rows[:, 3].max())
    if right - left < width / 4 or bottom - top < height / 4:
        return None
    return left, top, right, bottom


def _long(boxes: npt.NDArray[np.int32], axis: int, least: float) -> npt.NDArray[np.int32]:
    return boxes[boxes[:, axis + 2] - boxes[:, axis] >= least]


def _corners(mask: Mask) -> _Span | None:
    """The box that the corner marks' lines make; None unless all four corners are marked."""
    height, width = mask.shape
    least, most = (round(mm_to_px(length, _WORK_PPI)) for length in _MARK_MM)
    rows, columns = (
        boxes[_is_mark(boxes, axis, least, most)]
        for axis, boxes in enumerate(_straight(mask, least, across=across)
                                     for across in (True, False))
    )
    edges: list[list[float]] = [[], [], [], []]
    for right in (False, True):
        for low in (False, True):
            zone = _in_zone(rows, right, low, width, height)
            zone_down = _in_zone(columns, right, low, width, height)
            if not len(zone) or not len(zone_down):
                return None
            y = (zone[:, 1] + zone[:, 3]) / 2
            x = (zone_down[:, 0] + zone_down[:, 2]) / 2
            edges[2 if right else 0].append(float(x.max() if right else x.min()))
            edges[3 if low else 1].append(float(y.max() if low else y.min()))
    left, top, right_edge, bottom = (round(sum(edge) / 2) for edge in edges)
    return left, top, right_edge, bottom


def _is_mark(boxes: npt.NDArray[np.int32], axis: int, least: int, most: int) -> Mask:
    length = boxes[:, axis + 2] - boxes[:, axis]
    thick = boxes[:, 3 - axis] - boxes[:, 1 - axis]
    return np.asarray((length >= least) & (length <= most) & (thick <= least // 2))


def _in_zone(
    boxes: npt.NDArray[np.int32], right: bool, low: bool, width: int, height: int,
) -> npt.NDArray[np.int32]:
    x, y = (boxes[:, 0] + boxes[:, 2]) / 2 / width, (boxes[:, 1] + boxes[:, 3]) / 2 / height
    inside = ((x > 1 - _MARK_ZONE) if right else (x < _MARK_ZONE)) & (
        (y > 1 - _MARK_ZONE) if low else (y < _MARK_ZONE))
    return boxes[inside]


@dataclass(frozen=True)
class Crossing:
    """Ink at one side of the trim: mm of the scan that cross it, and that end before the bleed.

    ``short`` are the pieces of the side at which it ends before, in mm from the page's top, or
    from its left.
    """

    side: Literal["left", "top", "right", "bottom"]
    crosses: float
    stops: float
    short: tuple[tuple[float, float], ...] = ()


def ink_at_trim(alpha: Plane, ppi: float, frame: Frame, bleed: float) -> tuple[Crossing, ...]:
    """Where ink (half full or more) crosses the trim, and where it ends before the bleed does.

    ``bleed`` in mm of the scan. Sides that no ink crosses are left out.
    """
    small = _at_work(alpha, ppi)
    pixel = px_to_mm(1, min(ppi, _WORK_PPI))
    left, top, width, height = (side / pixel for side in frame)
    turned = {
        "left": (small, left, top, height), "right": (small[:, ::-1],
                 small.shape[1] - left - width, top, height),
        "top": (small.T, top, left, width), "bottom": (small[::-1].T,
                 small.shape[0] - top - height, left, width),
    }
    made = []
    for side, (mask, cut, start, length) in turned.items():
        crosses, stops = _crossing(mask, cut, (start, length), bleed / pixel)
        if crosses.any():
            first = round(max(start, 0))
            short = tuple(((first + run[0]) * pixel, (first + run[1]) * pixel)
                          for run in _runs(stops))
            made.append(Crossing(
                side, int(crosses.sum()) * pixel,  # type: ignore[arg-type]
                int(stops.sum()) * pixel, short))
    return tuple(made)


def _crossing(
    mask: Mask, cut: float, along: tuple[float, float], bleed: float,
) -> tuple[Mask, Mask]:
    """Rows at which ink crosses the column ``cut``, and at which it stops short to its left."""
    top, bottom = round(max(along[0], 0)), round(min(along[0] + along[1], len(mask)))
    near = max(round(mm_to_px(_AT_MM, _WORK_PPI)), 1)
    at = round(cut)
    inside = mask[top:bottom, max(at, 0) : max(at + near, 0)].any(axis=1)
    outside = mask[top:bottom, max(at - near, 0) : max(at, 0)].any(axis=1)
    crosses: Mask = np.logical_and(inside, outside if at > 0 else inside)
    edge = round(at - bleed)
    if edge < 0 or not crosses.any():
        return crosses, crosses
    reaches = np.asarray(mask[top:bottom, edge : edge + near].any(axis=1), np.bool_)
    near_by = _within(reaches, round(mm_to_px(_SLANT_MM, _WORK_PPI)))
    # a mark that leaves at up to 45 degrees may be further on, if it is the same mark
    goes_on = _goes_on(mask[:, edge : at + near], near)[top:bottom] & _within(
        reaches, round(bleed) + near)
    return crosses, np.logical_and(crosses, ~(near_by | goes_on))


def _within(mask: Mask, reach: int) -> Mask:
    """The rows (n,) within ``reach`` rows of one that is set."""
    spread = np.convolve(mask, np.ones(2 * reach + 1))
    return np.asarray(spread[reach : reach + len(mask)] > 0.5)


def _goes_on(strip: Mask, near: int) -> Mask:
    """Rows (h,) whose ink at the right of a strip is part of a mark that goes on to its left."""
    thick = cv2.dilate(strip.astype(np.uint8), np.ones((3, 3), np.uint8))  # over the paper's tooth
    _, labels = cv2.connectedComponents(thick, connectivity=8)
    there = np.setdiff1d(labels[:, :near], [0])
    return np.asarray(np.isin(labels[:, -2 * near :], there).any(axis=1))


def _runs(mask: Mask) -> list[tuple[int, int]]:
    """Where a mask (n,) is set: from, and up to but not including."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.view(np.uint8), [0]])))
    return [(int(first), int(end)) for first, end in edges.reshape(-1, 2)]
