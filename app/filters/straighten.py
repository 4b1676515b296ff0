"""Turning the page by a small angle."""

from dataclasses import dataclass, replace
from typing import ClassVar

import cv2

from core.fault import Fault, Refused
from core.histogram import count_tones, find_peaks
from core.sheet import Plane, Sheet, full_scale
from core.steps.fields import Record, either, number
from core.steps.step import Step

_LONGEST = 32_766  # OpenCV keeps the coordinates of a warp in 16 bits


@dataclass(frozen=True, kw_only=True)
class Given(Record):
    """An angle that was measured or tried."""

    words: ClassVar[str] = "{degrees} clockwise"

    degrees: float = number("angle", "degrees", -10, 10, 0)


@dataclass(frozen=True, kw_only=True)
class Straighten(Step):
    """Turn the page about its middle by a small angle, clockwise; it keeps its size.

    Cubic interpolation; another machine's rounding may differ by 1 of 255. The
    corners that come into the page take the tone of its own paper peak.
    """

    kind: ClassVar[str] = "straighten"
    edition: ClassVar[int] = 1
    whole: ClassVar[bool] = True
    words: ClassVar[str] = "Straighten the page: {angle}."

    angle: Given = either("angle", Given)

    def apply(self, sheet: Sheet) -> Sheet:
        """The page turned; an angle of 0 changes nothing.

        >>> import numpy as np
        >>> page = Sheet(ppi=300, grey=np.full((9, 9), 231, np.uint8))
        >>> turned = Straighten(angle=Given(degrees=2)).apply(page)
        >>> bool((turned.grey == 231).all())
        True
        """
        def turned(plane: Plane | None) -> Plane | None:
            return None if plane is None else turn_plane(plane, self.angle.degrees)

        if self.angle.degrees == 0:
            return sheet
        if max(sheet.shape) > _LONGEST:
            raise Refused(Fault(
                f"the page is longer than {_LONGEST} pixels", "straighten",
                "straighten it when scanning, or scan at a lower resolution",
            ))
        return replace(sheet, grey=turned(sheet.grey), colour=turned(sheet.colour),
                       alpha=turned(sheet.alpha))


def turn_plane(plane: Plane, degrees: float) -> Plane:
    """A plane (H, W) or (H, W, 3) turned clockwise about its middle, its size kept.

    >>> import numpy as np
    >>> turn_plane(np.zeros((3, 4), np.uint16), 1).shape
    (3, 4)
    """
    height, width = plane.shape[:2]
    turn = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), -degrees, 1.0)
    channels = plane[..., None] if plane.ndim == 2 else plane
    paper = [
        round(find_peaks(count_tones(channels[..., channel])).paper * full_scale(plane) / 255)
        for channel in range(channels.shape[2])
    ]
    turned = cv2.warpAffine(
        plane, turn, (width, height), flags=cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_CONSTANT, borderValue=paper,
    )
    return turned.astype(plane.dtype, copy=False)
