"""The hand overrules: what stands under a brush, inside an outline or as one mark, or goes."""

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from app.filters.reach import Brush, Mark, Outline, reached
from core.readings import grey_plane
from core.sheet import Plane, Sheet, full_scale
from core.steps.fields import either
from core.steps.step import Step


@dataclass(frozen=True, kw_only=True)
class LetStand(Step):
    """Bring back, as scanned, what steps before took off the page; for one page alone.

    Places are in mm of the scan.
    """

    kind: ClassVar[str] = "let stand"
    edition: ClassVar[int] = 2
    whole: ClassVar[bool] = True
    one_page: ClassVar[bool] = True
    restores: ClassVar[bool] = True
    words: ClassVar[str] = "Let all stand as scanned {area}."

    area: Brush | Outline | Mark = either("area", Brush, Outline, Mark)

    def restore(self, sheet: Sheet, source: Sheet) -> Sheet:
        """``sheet`` with what ``source`` has in the area; both of one shape and with one plane.

        >>> blank = Sheet(ppi=254, grey=np.full((30, 30), 255, np.uint8))
        >>> drawn = Sheet(ppi=254, grey=np.full((30, 30), 80, np.uint8))
        >>> corners = ((1.0, 1.0), (2.0, 1.0), (2.0, 2.0), (1.0, 2.0))
        >>> step = LetStand(area=Outline(corners=corners))
        >>> int((step.restore(blank, drawn).grey == 80).sum())
        121
        """
        return _mixed(sheet, source, reached(self.area, source))

    def apply(self, sheet: Sheet) -> Sheet:
        """The sheet as it is: alone, with nothing taken off before it, all stands already."""
        return sheet


@dataclass(frozen=True, kw_only=True)
class TakeOut(Step):
    """Turn all to paper; for one page alone, by places in mm of the scan."""

    kind: ClassVar[str] = "take out"
    edition: ClassVar[int] = 2
    whole: ClassVar[bool] = True
    one_page: ClassVar[bool] = True
    clears: ClassVar[bool] = True
    words: ClassVar[str] = "Take out all {area}."

    area: Brush | Outline | Mark = either("area", Brush, Outline, Mark)

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
        return _mixed(sheet, white, reached(self.area, sheet))


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
