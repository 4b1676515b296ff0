"""Colour holds: the ink itself takes a colour, and keeps its grain."""

from dataclasses import dataclass, replace
from typing import ClassVar

import cv2
import numpy as np

from app.filters.flats import lifted
from app.filters.reach import Brush, Mark, Outline, Weight, reached
from core.sheet import Plane, Rgb, Sheet, full_scale
from core.steps.fields import Record, colour, either, number
from core.steps.step import Step

_RIM_PX = 2  # of clear ground beside held ink that carries its colour: scaling draws no fringe


@dataclass(frozen=True, kw_only=True)
class Everywhere(Record):
    """All ink of the page."""

    words: ClassVar[str] = "everywhere"


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
    edition: ClassVar[int] = 2
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
        >>> brush = Brush(strokes=(((0.1, 0.05),),), width=0.4, soft=0)
        >>> held = Hold(colour=(200, 0, 0), area=brush).apply(page)
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

    def _weight(self, sheet: Sheet) -> Weight:
        """How much of each pixel the hold reaches: (H, W), 255 is all of it."""
        if isinstance(self.area, Everywhere):
            return np.full(sheet.shape, 255, np.uint8)
        return reached(self.area, sheet)


def _painted(sheet: Sheet, weight: Weight, paint: Rgb) -> Sheet:
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
