"""What a hand reaches on a page: inside an outline, one mark, or under a brush.

Places are in mm of the scan, so that they stay on the drawing whatever is cut or turned.
"""

from dataclasses import dataclass
from typing import ClassVar

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask, disc
from app.filters.specks import ground_of
from core.placing import Places
from core.readings import grey_plane
from core.sheet import Sheet
from core.steps.fields import Record, number
from core.steps.paths import Path, paths
from core.steps.places import Place, point, polygon
from core.units import mm_to_px

Weight = npt.NDArray[np.uint8]
"""(H, W): how much of each pixel is reached; 255 is all of it."""

_NEAR_MM = 1.0  # so near a point, a mark is the one that was meant
_BLUR_MM = 0.12  # joins the grain of a faint mark
_RIM_MM = 0.17  # of pale edge that belongs to a mark
_SUBPIXEL = 4  # bits after the point of a drawn place

_NOT_DRAWN: tuple[Place, ...] = ((0.0, 0.0), (0.1, 0.0), (0.0, 0.1))
"""A speck in the scan's corner: what an outline is before it was drawn."""


@dataclass(frozen=True, kw_only=True)
class Outline(Record):
    """An area drawn round by hand; beyond its edge it fades out over ``soft``."""

    words: ClassVar[str] = "inside an outline ({corners}; edge soft by {soft})"

    corners: tuple[Place, ...] = polygon("outline", _NOT_DRAWN)
    soft: float = number("soft edge", "mm", 0, 10, 0)


@dataclass(frozen=True, kw_only=True)
class Mark(Record):
    """The connected mark at a point or, at most 1 mm from it, the nearest."""

    words: ClassVar[str] = "of the one connected mark at {at}"

    at: Place = point("point")


@dataclass(frozen=True, kw_only=True)
class Brush(Record):
    """Wherever a brush of ``width`` went; beyond its edge it fades out over ``soft``."""

    words: ClassVar[str] = "under a brush {width} wide ({strokes}; edge soft by {soft})"

    strokes: tuple[Path, ...] = paths("stroke", 1)
    width: float = number("width", "mm", 0.05, 500, 3)
    soft: float = number("soft edge", "mm", 0, 100, 1)


Area = Outline | Mark | Brush


def reached(area: Area, sheet: Sheet) -> Weight:
    """How much of each pixel of the sheet the area reaches: (H, W), 255 is all of it.

    >>> sheet = Sheet(ppi=254, grey=np.full((3, 30), 255, np.uint8))
    >>> reached(Mark(at=(1.0, 0.1)), sheet).any()
    np.False_
    """
    placing = sheet.placing
    if isinstance(area, Mark):
        at = placing.on_page([area.at])[0]
        mark = _mark_at(sheet, (at[0], at[1]))
        return mark.astype(np.uint8) * np.uint8(255)
    if isinstance(area, Brush):
        return brushed(sheet, area)
    inside = np.zeros(sheet.shape, np.uint8)
    corners = _drawn(placing.on_page(area.corners), sheet.ppi)
    cv2.fillPoly(inside, [corners], 255, shift=_SUBPIXEL)
    if area.soft == 0 or not inside.any():
        return inside
    away = cv2.distanceTransform(255 - inside, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return _faded(np.asarray(away, np.float32), mm_to_px(area.soft, sheet.ppi))


def brushed(sheet: Sheet, brush: Brush) -> Weight:
    """How much of each pixel the brush covers: (H, W), 255 is all of it.

    >>> sheet = Sheet(ppi=254, alpha=np.zeros((1, 9), np.uint8))
    >>> brushed(sheet, Brush(strokes=(((0.05, 0.05),),), width=0.4, soft=0.3)).tolist()
    [[255, 255, 255, 170, 85, 0, 0, 0, 0]]
    """
    weight = np.zeros(sheet.shape, np.uint8)
    radius, soft = (mm_to_px(mm, sheet.ppi) for mm in (brush.width / 2, brush.soft))
    # a touch is a line too
    strokes = [_drawn(sheet.placing.on_page((*stroke, stroke[-1])), sheet.ppi)
               for stroke in brush.strokes]
    for group in _grouped(strokes, round(radius + soft) + 2, sheet.shape):
        _lay(weight, group, radius, soft)
    return weight


@dataclass(frozen=True, eq=False)
class _Group:
    """Strokes, and the rows and columns that they can reach: from top, left to bottom, right."""

    strokes: list[npt.NDArray[np.int32]]
    box: tuple[int, int, int, int]

    @classmethod
    def of(
        cls, strokes: list[npt.NDArray[np.int32]], reach: int, shape: tuple[int, int],
    ) -> "_Group":
        every = np.concatenate(strokes) >> _SUBPIXEL
        left, top = np.clip(every.min(axis=0) - reach, 0, shape[::-1])
        right, bottom = np.clip(every.max(axis=0) + reach + 1, 0, shape[::-1])
        return cls(strokes, (int(top), int(left), int(bottom), int(right)))

    @property
    def area(self) -> int:
        top, left, bottom, right = self.box
        return max(bottom - top, 0) * max(right - left, 0)


def _grouped(
    strokes: list[npt.NDArray[np.int32]], reach: int, shape: tuple[int, int],
) -> list[_Group]:
    """Strokes one by one where they lie apart, else all together: whichever is less to look at."""
    if not strokes:
        return []
    alone = [_Group.of([stroke], reach, shape) for stroke in strokes]
    together = _Group.of(strokes, reach, shape)
    return alone if sum(one.area for one in alone) < together.area else [together]


def _lay(weight: Weight, group: _Group, radius: float, soft: float) -> None:
    """The strokes laid where they weigh more than what lies there."""
    top, left, bottom, right = group.box
    box = np.s_[top:bottom, left:right]
    if not group.area:
        return
    middle = np.full(weight[box].shape, 255, np.uint8)
    corner = np.array([left, top], np.int32) << _SUBPIXEL
    cv2.polylines(middle, [stroke - corner for stroke in group.strokes], False, 0, 1, cv2.LINE_8,
                  _SUBPIXEL)
    if middle.all():  # all of it went past the page
        return
    away = cv2.distanceTransform(middle, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    laid = _faded(np.asarray(away, np.float32) - np.float32(radius), soft)
    np.maximum(weight[box], laid, out=weight[box])


def _drawn(places: Places, ppi: float) -> npt.NDArray[np.int32]:
    """Places in mm as OpenCV draws them; mm count from the first pixel's edge, not its middle."""
    pixels = np.rint((places * mm_to_px(1, ppi) - 0.5) * (1 << _SUBPIXEL))
    return np.asarray(pixels, np.int32)


def _faded(away: npt.NDArray[np.float32], soft: float) -> Weight:
    """255 up to the edge, and falling evenly to 0 over ``soft`` pixels beyond it."""
    return np.asarray(np.rint(np.clip(1 - away / max(soft, 1e-6), 0, 1) * 255), np.uint8)


def marked(sheet: Sheet) -> Weight:
    """Where marks lie on a sheet: (H, W), 1 in a mark, its pale rim left out, and 0 elsewhere.

    >>> marked(Sheet(ppi=72, grey=np.array([[255, 10, 255]], np.uint8))).tolist()
    [[0, 1, 0]]
    """
    grey = grey_plane(sheet)
    blur = mm_to_px(_BLUR_MM, sheet.ppi)
    smooth = cv2.GaussianBlur(grey, (0, 0), blur) if blur > 0.5 else grey
    return (smooth < ground_of(grey).limit).astype(np.uint8)


def nearest_mark(marks: Weight, at: Place, ppi: float) -> tuple[int, int] | None:
    """The row and column of a mark at a place of the page in mm, or nearest to it within 1 mm.

    >>> nearest_mark(np.array([[0, 0, 1]], np.uint8), (0.05, 0.05), 254), nearest_mark(
    ...     np.zeros((1, 3), np.uint8), (0.05, 0.05), 254)
    ((0, 2), None)
    """
    column, row = (round(mm_to_px(length, ppi) - 0.5) for length in at)
    near = round(mm_to_px(_NEAR_MM, ppi))
    top, left = max(row - near, 0), max(column - near, 0)
    rows, columns = np.nonzero(
        marks[top : max(row + near + 1, 0), left : max(column + near + 1, 0)])
    if not rows.size:
        return None
    nearest = int(np.argmin((rows + top - row) ** 2 + (columns + left - column) ** 2))
    return int(rows[nearest]) + top, int(columns[nearest]) + left


def _mark_at(sheet: Sheet, at: Place) -> Mask:
    """The connected mark at a place of the page in mm, its pale rim with it; bool (H, W)."""
    marks = marked(sheet)
    where = nearest_mark(marks, at, sheet.ppi)
    if where is None:
        return np.zeros(sheet.shape, np.bool_)
    _, labels = cv2.connectedComponents(marks, connectivity=8)
    mine = (labels == labels[where]).astype(np.uint8)
    about = cv2.dilate(mine, disc(mm_to_px(_RIM_MM, sheet.ppi))) > 0
    return np.asarray(about & ((labels == 0) | (mine > 0)))
