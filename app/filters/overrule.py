"""The hand overrules: what stands inside an outline or as one connected mark, or goes."""

from dataclasses import dataclass, replace
from typing import ClassVar

import cv2
import numpy as np

from app.filters.grid import Mask
from app.filters.specks import ground_of
from core.readings import grey_plane
from core.sheet import Plane, Sheet, full_scale
from core.steps.fields import Record, either, number
from core.steps.places import Place, point, polygon
from core.steps.step import Step
from core.units import mm_to_px

_NEAR_MM = 1.0  # so near a point, a mark is the one that was meant
_BLUR_MM = 0.12  # joins the grain of a faint mark
_RIM_MM = 0.17  # of pale edge that belongs to a mark
_SUBPIXEL = 4  # bits after the point of an outline's corners

_SQUARE: tuple[Place, ...] = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))


@dataclass(frozen=True, kw_only=True)
class Outline(Record):
    """An area drawn round by hand; beyond its edge it fades out over ``soft``."""

    words: ClassVar[str] = "inside an outline ({corners}; edge soft by {soft})"

    corners: tuple[Place, ...] = polygon("outline", _SQUARE)
    soft: float = number("soft edge", "mm", 0, 10, 0)


@dataclass(frozen=True, kw_only=True)
class Mark(Record):
    """The connected mark at a point or, at most 1 mm from it, the nearest."""

    words: ClassVar[str] = "of the one connected mark at {at}"

    at: Place = point("point")


@dataclass(frozen=True, kw_only=True)
class LetStand(Step):
    """Bring back, as scanned, what steps before took off the page; for one page alone."""

    kind: ClassVar[str] = "let stand"
    edition: ClassVar[int] = 1
    whole: ClassVar[bool] = True
    one_page: ClassVar[bool] = True
    restores: ClassVar[bool] = True
    words: ClassVar[str] = "Let all stand as scanned {area}."

    area: Outline | Mark = either("area", Outline, Mark)

    def restore(self, sheet: Sheet, source: Sheet) -> Sheet:
        """``sheet`` with what ``source`` has in the area; both of one shape and with one plane.

        >>> blank = Sheet(ppi=254, grey=np.full((30, 30), 255, np.uint8))
        >>> drawn = Sheet(ppi=254, grey=np.full((30, 30), 80, np.uint8))
        >>> corners = ((1.0, 1.0), (2.0, 1.0), (2.0, 2.0), (1.0, 2.0))
        >>> step = LetStand(area=Outline(corners=corners))
        >>> int((step.restore(blank, drawn).grey == 80).sum())
        121
        """
        return _mixed(sheet, source, area_weight(self.area, source))

    def apply(self, sheet: Sheet) -> Sheet:
        """The sheet as it is: alone, with nothing taken off before it, all stands already."""
        return sheet


@dataclass(frozen=True, kw_only=True)
class TakeOut(Step):
    """Turn all to paper; for one page alone."""

    kind: ClassVar[str] = "take out"
    edition: ClassVar[int] = 1
    whole: ClassVar[bool] = True
    one_page: ClassVar[bool] = True
    clears: ClassVar[bool] = True
    words: ClassVar[str] = "Take out all {area}."

    area: Outline | Mark = either("area", Outline, Mark)

    def apply(self, sheet: Sheet) -> Sheet:
        """The sheet with exact white, or no ink, in the area.

        >>> page = np.full((300, 300), 255, np.uint8)
        >>> page[100:103, 50:250] = page[200:203, 50:250] = 40
        >>> step = TakeOut(area=Mark(at=(12.0, 8.6)))
        >>> out = step.apply(Sheet(ppi=300, grey=page)).grey
        >>> int(out[101, 60]), int(out[201, 60])
        (255, 40)
        """
        def blank(plane: Plane | None, value: int) -> Plane | None:
            return None if plane is None else np.full_like(plane, value)

        white = replace(
            sheet, grey=blank(sheet.grey, sheet.full), alpha=blank(sheet.alpha, 0),
            # the colour of clear pixels is the ink's, so that scaling leaves no fringe
            colour=blank(sheet.colour, sheet.full) if sheet.alpha is None else sheet.colour,
        )
        return _mixed(sheet, white, area_weight(self.area, sheet))


def area_weight(area: Outline | Mark, sheet: Sheet) -> Plane:
    """How much of each pixel belongs to the area: uint8 (H, W), 255 is all of it.

    >>> sheet = Sheet(ppi=254, grey=np.full((3, 30), 255, np.uint8))
    >>> area_weight(Mark(at=(1.0, 0.1)), sheet).any()
    np.False_
    """
    if isinstance(area, Mark):
        return _mark_at(grey_plane(sheet), area.at, sheet.ppi).astype(np.uint8) * np.uint8(255)
    inside = np.zeros(sheet.shape, np.uint8)
    scale = mm_to_px(1, sheet.ppi)
    # a place in mm counts from the edge of the first pixel, not from its middle
    corners = np.rint((np.array(area.corners) * scale - 0.5) * (1 << _SUBPIXEL)).astype(np.int32)
    cv2.fillPoly(inside, [corners], 255, shift=_SUBPIXEL)
    if area.soft == 0 or not inside.any():
        return inside
    away = cv2.distanceTransform(255 - inside, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(np.rint(np.clip(1 - away / (area.soft * scale), 0, 1) * 255), np.uint8)


def _mark_at(grey: Plane, at: Place, ppi: float) -> Mask:
    """The connected mark at a place in mm, its pale rim with it; bool (H, W)."""
    blur = mm_to_px(_BLUR_MM, ppi)
    smooth = cv2.GaussianBlur(grey, (0, 0), blur) if blur > 0.5 else grey
    marked = (smooth < ground_of(grey).limit).astype(np.uint8)
    count, labels = cv2.connectedComponents(marked, connectivity=8)
    column, row = (round(mm_to_px(length, ppi) - 0.5) for length in at)
    near = round(mm_to_px(_NEAR_MM, ppi))
    top, left = max(row - near, 0), max(column - near, 0)
    about = labels[top : max(row + near + 1, 0), left : max(column + near + 1, 0)]
    rows, columns = np.nonzero(about)
    if count == 1 or not rows.size:
        return np.zeros(grey.shape, np.bool_)
    nearest = int(np.argmin((rows + top - row) ** 2 + (columns + left - column) ** 2))
    mine = (labels == about[rows[nearest], columns[nearest]]).astype(np.uint8)
    rim = max(1, round(mm_to_px(_RIM_MM, ppi)))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * rim + 1, 2 * rim + 1))
    return np.asarray((cv2.dilate(mine, disc) > 0) & ((labels == 0) | (mine > 0)))


def _mixed(sheet: Sheet, other: Sheet, weight: Plane) -> Sheet:
    """The sheet where the weight is 0, the other where it is 255, and their mean between."""
    def mix(plane: Plane | None, into: Plane | None) -> Plane | None:
        if plane is None or into is None:
            return plane
        out = plane.copy()
        some = weight > 0
        share = weight[some].astype(np.int64)
        share = share[:, None] if plane.ndim == 3 else share
        full = full_scale(weight)
        mean = (plane[some] * (full - share) + into[some] * share + full // 2) // full
        out[some] = mean.astype(plane.dtype)
        return out

    grey = None if sheet.grey is None else grey_plane(other)
    return replace(sheet, grey=mix(sheet.grey, grey), colour=mix(sheet.colour, other.colour),
                   alpha=mix(sheet.alpha, other.alpha))
