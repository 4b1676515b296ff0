"""Quarter turns."""

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from core.sheet import Plane, Sheet
from core.steps.fields import choice
from core.steps.step import Step


@dataclass(frozen=True, kw_only=True)
class Turn(Step):
    """Turn the page by quarter turns, clockwise; exact."""

    kind: ClassVar[str] = "turn"
    edition: ClassVar[int] = 1
    whole: ClassVar[bool] = True
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
        def turned(plane: Plane | None) -> Plane | None:
            return None if plane is None else np.ascontiguousarray(np.rot90(plane, -quarters))

        quarters = self.angle // 90
        return replace(sheet, grey=turned(sheet.grey), colour=turned(sheet.colour),
                       alpha=turned(sheet.alpha))
