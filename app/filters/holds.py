"""Colour holds: the ink itself takes a colour, and keeps its grain."""

from dataclasses import dataclass, replace
from typing import ClassVar

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.flats import lifted
from app.filters.overrule import Mark, Outline, area_weight
from core.sheet import Plane, Rgb, Sheet, full_scale
from core.steps.fields import Record, colour, either, number
from core.steps.paths import Path, one_path
from core.steps.places import Place
from core.steps.step import Step
from core.units import mm_to_px

_RIM_PX = 2  # of clear ground beside held ink that carries its colour: scaling draws no fringe
_SUBPIXEL = 4  # bits after the point of a brush's path


@dataclass(frozen=True, kw_only=True)
class Everywhere(Record):
    """All ink of the page."""

    words: ClassVar[str] = "everywhere"


@dataclass(frozen=True, kw_only=True)
class Brush(Record):
    """Wherever a brush of ``width`` went; beyond its edge it fades out over ``soft``."""

    words: ClassVar[str] = "under a brush {width} wide ({path}; edge soft by {soft})"

    path: Path = one_path("path", ((0.0, 0.0),))
    width: float = number("width", "mm", 0.05, 500, 3)
    soft: float = number("soft edge", "mm", 0, 100, 1)


@dataclass(frozen=True, kw_only=True)
class Replaces(Record):
    """The colour takes the place of whatever was laid before."""

    words: ClassVar[str] = "in place of what was laid before"


@dataclass(frozen=True, kw_only=True)
class Builds(Record):
    """A share of the colour is laid over the ink's; laid again it comes nearer."""

    words: ClassVar[str] = "over what was laid before, {share} of it"

    share: float = number("share", "%", 0, 100, 50)


@dataclass(frozen=True, kw_only=True)
class Hold(Step):
    """Give the ink a colour, for one page alone; places are in mm of the scan.

    Alpha stays as it is, bit for bit, and where it is 0 nothing comes to be. All ink held in
    one colour is ink of that colour; held elsewhere, each pixel has its own.
    """

    kind: ClassVar[str] = "hold"
    edition: ClassVar[int] = 1
    whole: ClassVar[bool] = True
    one_page: ClassVar[bool] = True
    on_ink: ClassVar[bool] = True
    words: ClassVar[str] = "Hold the ink in {colour} {area}, {laying}."

    colour: Rgb = colour("colour", (160, 30, 30))
    area: Everywhere | Outline | Mark | Brush = either("area", Everywhere, Outline, Mark, Brush)
    laying: Replaces | Builds = either("laying", Replaces, Builds)

    def apply(self, sheet: Sheet) -> Sheet:
        """The sheet with its ink coloured; one that was not lifted is lifted in black.

        >>> page = Sheet(ppi=254, alpha=np.array([[0, 9, 200, 0, 0, 0, 7]], np.uint8))
        >>> hold = Hold(colour=(200, 0, 0), area=Brush(path=((0.1, 0.05),), width=0.4, soft=0))
        >>> held = hold.apply(page)
        >>> held.colour[0, :, 0].tolist(), held.held.tolist()
        ([200, 200, 200, 200, 0, 0, 0], [[0, 255, 255, 0, 0, 0, 0]])
        """
        sheet = lifted(sheet)
        share = 255 if isinstance(self.laying, Replaces) else round(self.laying.share * 255 / 100)
        if isinstance(self.area, Everywhere) and share == 255:
            return replace(sheet, ink=self.colour, colour=None, held=None)
        weight = self._weight(sheet)
        if share < 255:
            weight = np.rint(np.arange(256) * share / 255).astype(np.uint8)[weight]
        return _painted(sheet, weight, self.colour)

    def _weight(self, sheet: Sheet) -> npt.NDArray[np.uint8]:
        """How much of each pixel the hold reaches: (H, W), 255 is all of it."""
        placing, area = sheet.placing, self.area
        if isinstance(area, Everywhere):
            return np.full(sheet.shape, 255, np.uint8)
        if isinstance(area, Brush):
            return brushed(sheet, replace(area, path=_as_path(placing.on_page(area.path))))
        if isinstance(area, Mark):
            area = replace(area, at=_as_path(placing.on_page([area.at]))[0])
        else:
            area = replace(area, corners=_as_path(placing.on_page(area.corners)))
        return np.asarray(area_weight(area, sheet), np.uint8)


def _as_path(places: npt.NDArray[np.float64]) -> tuple[Place, ...]:
    return tuple((float(x), float(y)) for x, y in places)


def brushed(sheet: Sheet, brush: Brush) -> npt.NDArray[np.uint8]:
    """How much of each pixel a brush covers: (H, W), 255 is all of it. Places are the page's.

    >>> sheet = Sheet(ppi=254, alpha=np.zeros((1, 9), np.uint8))
    >>> brushed(sheet, Brush(path=((0.05, 0.05),), width=0.4, soft=0.3)).tolist()
    [[255, 255, 255, 170, 85, 0, 0, 0, 0]]
    """
    scale = mm_to_px(1, sheet.ppi)
    middle = np.full(sheet.shape, 255, np.uint8)
    places = np.array((*brush.path, brush.path[-1]))  # a touch is a line too
    path = np.rint((places * scale - 0.5) * (1 << _SUBPIXEL)).astype(np.int32)
    reach = round(scale * (brush.width / 2 + brush.soft)) + 2
    low, high = path.min(axis=0) // (1 << _SUBPIXEL), path.max(axis=0) // (1 << _SUBPIXEL)
    left, top = np.maximum(low - reach, 0)
    right, bottom = np.maximum(high + reach + 1, 0)
    box = np.s_[top:bottom, left:right]
    weight = np.zeros(sheet.shape, np.uint8)
    if not middle[box].size:
        return weight
    near = np.ascontiguousarray(middle[box])
    shifted = path - np.array([left, top], np.int32) * (1 << _SUBPIXEL)
    cv2.polylines(near, [shifted], False, 0, 1, cv2.LINE_8, _SUBPIXEL)
    away = np.asarray(cv2.distanceTransform(near, cv2.DIST_L2, cv2.DIST_MASK_PRECISE))
    away = away - scale * brush.width / 2
    soft = max(brush.soft * scale, 1e-6)
    weight[box] = np.rint(np.clip(1 - away / soft, 0, 1) * 255)
    return weight


def _painted(sheet: Sheet, weight: npt.NDArray[np.uint8], paint: Rgb) -> Sheet:
    """The sheet with its ink's colour mixed with the paint, where there is ink."""
    assert sheet.alpha is not None
    inked = ((weight > 0) & (sheet.alpha > 0)).view(np.uint8)
    colour = _own_colour(sheet)
    rim = cv2.dilate(inked, np.ones((2 * _RIM_PX + 1,) * 2, np.uint8))
    where = ((inked > 0) | ((sheet.alpha == 0) & (rim > 0))) & (weight > 0)
    share = weight[where].astype(np.int64)[:, None]
    into = np.array(paint, np.int64) * (full_scale(colour) // 255)
    colour[where] = (colour[where] * (255 - share) + into * share + 127) // 255
    held = inked * np.uint8(255)
    return replace(
        sheet, ink=None, colour=colour, held=held if sheet.held is None else sheet.held | held,
    )


def _own_colour(sheet: Sheet) -> Plane:
    """Each pixel's ink colour, (H, W, 3), to be written on."""
    assert sheet.alpha is not None
    if sheet.ink is None:
        assert sheet.colour is not None
        return sheet.colour.copy()
    full = sheet.full // 255
    colour: Plane = np.empty((*sheet.shape, 3), sheet.alpha.dtype)
    colour[...] = np.array(sheet.ink) * full
    return colour
