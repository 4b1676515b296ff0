"""Turning the page by a small angle."""

from dataclasses import dataclass, replace
from typing import ClassVar

import cv2

from app.filters.skew import MOST, find_skew
from core.fault import Fault, Refused
from core.histogram import count_tones, find_peaks
from core.readings import grey_plane
from core.sheet import Plane, Sheet, full_scale
from core.steps.fields import Record, choice, either, number
from core.steps.step import Step
from core.units import px_to_mm

_LONGEST = 32_766  # OpenCV keeps the coordinates of a warp in 16 bits

_NO_GROUND = "left as it lies: nothing on this page is straight enough to judge its angle by"


@dataclass(frozen=True, kw_only=True)
class Given(Record):
    """An angle that was measured or tried."""

    words: ClassVar[str] = "{degrees} clockwise"

    degrees: float = number("angle", "degrees", -MOST, MOST, 0)


@dataclass(frozen=True, kw_only=True)
class Found(Record):
    """The angle that is read off panel borders, the paper's edges or lettering."""

    words: ClassVar[str] = (
        "by its own borders, edges or lettering; where nothing on it is straight, {unsure}"
    )

    unsure: str = choice(
        "where nothing is straight",
        {"leave": "it stays as it lies", "refuse": "it is held back"}, "leave",
    )


@dataclass(frozen=True, kw_only=True)
class Straighten(Step):
    """Turn the page about its middle by a small angle, given or found; it keeps its size.

    Cubic interpolation; another machine's rounding may differ by 1 of 255. The
    corners that come into the page take the tone of its own paper peak, or no ink once
    it is lifted.
    """

    kind: ClassVar[str] = "straighten"
    edition: ClassVar[int] = 1
    whole: ClassVar[bool] = True
    in_place: ClassVar[bool] = False
    words: ClassVar[str] = "Straighten the page: {angle}."

    angle: Given | Found = either("angle", Given, Found)

    def fitted(self, sheet: Sheet) -> "Straighten":
        """The angle found on this page, to 0.05 degrees; Refused where that was asked for.

        >>> import numpy as np
        >>> blank = Sheet(ppi=300, grey=np.full((99, 99), 231, np.uint8))
        >>> Straighten(angle=Found()).fitted(blank).note
        'left as it lies: nothing on this page is straight enough to judge its angle by'
        """
        if isinstance(self.angle, Given):
            return self
        askew = find_skew(grey_plane(sheet), sheet.ppi)
        if askew is not None:
            return replace(self, angle=Given(degrees=-askew + 0.0))
        if self.angle.unsure == "refuse":
            raise Refused(Fault(
                "nothing on this page is straight enough to judge its angle by", "straighten",
                "give the angle, or let the page stay as it lies",
            ))
        return replace(self, angle=Given(), note=f"{self.note} {_NO_GROUND}".strip()[:1000])

    def apply(self, sheet: Sheet) -> Sheet:
        """The page turned; an angle of 0 changes nothing.

        >>> import numpy as np
        >>> page = Sheet(ppi=300, grey=np.full((9, 9), 231, np.uint8))
        >>> turned = Straighten(angle=Given(degrees=2)).apply(page)
        >>> bool((turned.grey == 231).all())
        True
        """
        def turned(plane: Plane | None, ground: int | None = None) -> Plane | None:
            return None if plane is None else turn_plane(plane, degrees, ground)

        angle = self.fitted(sheet).angle
        degrees = angle.degrees if isinstance(angle, Given) else 0.0
        if degrees == 0:
            return sheet
        if max(sheet.shape) > _LONGEST:
            raise Refused(Fault(
                f"the page is longer than {_LONGEST} pixels", "straighten",
                "straighten it when scanning, or scan at a lower resolution",
            ))
        middle = [px_to_mm(side / 2, sheet.ppi) for side in sheet.shape[::-1]]
        return replace(
            sheet, grey=turned(sheet.grey), colour=turned(sheet.colour),
            alpha=turned(sheet.alpha, ground=0), flats=_turn_whole(sheet.flats, degrees),
            held=_turn_whole(sheet.held, degrees),
            placing=sheet.placing.turned(degrees, (middle[0], middle[1])),
        )


def _turn_whole(plane: Plane | None, degrees: float) -> Plane | None:
    """A plane of numbers that have no mean: each pixel takes the nearest; 0 comes in."""
    return None if plane is None else turn_plane(plane, degrees, 0, cv2.INTER_NEAREST)


def turn_plane(
    plane: Plane, degrees: float, ground: int | None = None, way: int = cv2.INTER_CUBIC,
) -> Plane:
    """A plane (H, W) or (H, W, 3) turned clockwise about its middle, its size kept.

    The corners that come in take the value ``ground``, or each channel's own paper peak;
    ``way`` is how OpenCV takes a value between pixels.

    >>> import numpy as np
    >>> turn_plane(np.zeros((3, 4), np.uint16), 1).shape
    (3, 4)
    """
    height, width = plane.shape[:2]
    turn = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), -degrees, 1.0)
    turned = cv2.warpAffine(
        plane, turn, (width, height), flags=way,
        borderMode=cv2.BORDER_CONSTANT, borderValue=_paper(plane) if ground is None else [ground],
    )
    return turned.astype(plane.dtype, copy=False)


def _paper(plane: Plane) -> list[int]:
    channels = plane[..., None] if plane.ndim == 2 else plane
    return [
        round(find_peaks(count_tones(channels[..., channel])).paper * full_scale(plane) / 255)
        for channel in range(channels.shape[2])
    ]
