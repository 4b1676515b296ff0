"""Quarter turns."""

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from core.sheet import Sheet
from core.steps.fields import choice
from core.steps.step import Step
from core.units import px_to_mm


@dataclass(frozen=True, kw_only=True)
class Turn(Step):
    """Turn the page by quarter turns, clockwise; exact."""

    kind: ClassVar[str] = "turn"
    edition: ClassVar[int] = 1
    whole: ClassVar[bool] = True
    in_place: ClassVar[bool] = False
    words: ClassVar[str] = "Turn the page {angle}."

    angle: int = choice(
        "angle",
        {90: "90 degrees clockwise", 180: "180 degrees", 270: "90 degrees anticlockwise"},
        90,
    )

    def apply(self, sheet: Sheet) -> Sheet:
        """Each pixel in its new place.

        >>> page = Sheet(ppi=300, grey=np.array([[1, 2]], np.uint8))
        >>> Turn(angle=90).apply(page).grey.tolist()
        [[1], [2]]
        """
        quarters = self.angle // 90
        turned = sheet.each_plane(lambda plane: np.ascontiguousarray(np.rot90(plane, -quarters)))
        height, width = (px_to_mm(side, sheet.ppi) for side in sheet.shape)
        # turned about its top left corner, the page lies left of it or above it
        right, down = {90: (height, 0.0), 180: (width, height), 270: (0.0, width)}[self.angle]
        placing = sheet.placing.turned(self.angle, (0.0, 0.0)).shifted(right, down)
        return replace(turned, placing=placing)
