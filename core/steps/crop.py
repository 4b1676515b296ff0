"""Cutting the scan's edges off."""

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from core.fault import Fault, Refused
from core.sheet import Sheet
from core.steps.fields import number
from core.steps.step import Step
from core.units import mm_to_px, px_to_mm


def edge(label: str) -> float:
    """Declare how much is cut off at one edge."""
    width: float = number(label, "mm", 0, 2000, 0)
    return width


@dataclass(frozen=True, kw_only=True)
class Crop(Step):
    """Cut strips off the scan's edges, in mm, to the nearest pixel."""

    kind: ClassVar[str] = "crop"
    edition: ClassVar[int] = 1
    whole: ClassVar[bool] = True
    in_place: ClassVar[bool] = False
    words: ClassVar[str] = (
        "Cut off {left} at the left, {top} at the top, {right} at the right and {bottom} at "
        "the bottom."
    )

    left: float = edge("left")
    top: float = edge("top")
    right: float = edge("right")
    bottom: float = edge("bottom")

    def apply(self, sheet: Sheet) -> Sheet:
        """What is left of the sheet; Refused where nothing is.

        >>> page = Sheet(ppi=254, grey=np.zeros((30, 40), np.uint8))
        >>> Crop(left=1, bottom=0.5).apply(page).shape
        (25, 30)
        """
        height, width = sheet.shape
        left, top, right, bottom = (
            round(mm_to_px(mm, sheet.ppi))
            for mm in (self.left, self.top, self.right, self.bottom)
        )
        if left + right >= width or top + bottom >= height:
            raise Refused(Fault("nothing of the page is left", "crop", "cut off less"))
        rows, columns = slice(top, height - bottom), slice(left, width - right)
        rest = sheet.each_plane(lambda plane: np.ascontiguousarray(plane[rows, columns]))
        shift = (-px_to_mm(pixels, sheet.ppi) for pixels in (left, top))
        return replace(rest, placing=sheet.placing.shifted(*shift))
