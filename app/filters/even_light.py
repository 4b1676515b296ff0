"""Lamp fall-off, gutter shadow and the paper's tint divided out."""

from dataclasses import dataclass, replace
from typing import ClassVar

import cv2
import numpy as np
import numpy.typing as npt

from core.readings import grey_plane
from core.sheet import Paper, Plane, Sheet, full_scale
from core.steps.fields import number
from core.steps.step import Step
from core.units import mm_to_px

PAPER_TONE = 230
"""Where even paper comes to lie: below white, so that the light half of the tooth is kept."""

_BLOCK_MM = 2.0
_SHARE = 0.7  # of a block's pixels are darker than what stands for its paper
_DARKEST = 0.55  # of the page's own paper: darker than this is ink, not shadow
_STRIP_ROWS = 64


@dataclass(frozen=True, kw_only=True)
class EvenLight(Step):
    """Bring the paper to one tone, 230, all over the page, each channel on its own.

    The paper's light is read off blocks of 2 mm; drawn areas narrower than ``reach`` are
    bridged, and what is darker than 55 % of the page's paper is never taken for a shadow.
    The rounding of another machine may differ by 1 of 255.
    """

    kind: ClassVar[str] = "even light"
    edition: ClassVar[int] = 1
    whole: ClassVar[bool] = True
    words: ClassVar[str] = "Even the light, looking past drawn areas narrower than {reach}."

    reach: float = number("reach", "mm", 4, 100, 15)

    def after(self, paper: Paper) -> Paper | None:  # noqa: ARG002 - it moves the paper
        """The paper has moved."""
        return None

    def apply(self, sheet: Sheet) -> Sheet:
        """The page in even light.

        >>> shaded = np.linspace(150, 200, 400).astype(np.uint8) * np.ones((400, 1), np.uint8)
        >>> even = EvenLight().apply(Sheet(ppi=100, grey=shaded)).grey
        >>> bool(abs(even.astype(int) - 230).max() <= 3)
        True
        """
        if sheet.alpha is not None:
            return sheet
        if sheet.colour is None:
            return replace(sheet, grey=even_plane(grey_plane(sheet), sheet.ppi, self.reach))
        colour = np.stack(
            [even_plane(np.ascontiguousarray(sheet.colour[..., channel]), sheet.ppi, self.reach)
             for channel in range(3)], axis=2,
        )
        grey = None if sheet.grey is None else even_plane(sheet.grey, sheet.ppi, self.reach)
        return replace(sheet, grey=grey, colour=colour)


def even_plane(plane: Plane, ppi: float, reach: float) -> Plane:
    """The plane (H, W) times ``PAPER_TONE`` over the paper's own light; ``reach`` in mm.

    >>> even_plane(np.full((50, 50), 115, np.uint8), 300, 15)[0, 0]
    np.uint8(230)
    """
    full = full_scale(plane)
    light = paper_light(plane, ppi, reach)
    height, width = plane.shape
    # nearest-block centres first, so that a strip's light needs no more than the small grid
    across = cv2.resize(light, (width, light.shape[0]), interpolation=cv2.INTER_LINEAR)
    out = np.empty_like(plane)
    centres = (np.arange(height) + 0.5) * light.shape[0] / height - 0.5
    upper = np.clip(np.floor(centres).astype(int), 0, light.shape[0] - 1)
    lower = np.minimum(upper + 1, light.shape[0] - 1)
    share = np.clip(centres - upper, 0, 1).astype(np.float32)[:, None]
    for top in range(0, height, _STRIP_ROWS):
        part = slice(top, top + _STRIP_ROWS)
        here = across[upper[part]] * (1 - share[part]) + across[lower[part]] * share[part]
        even = plane[part] * (PAPER_TONE * full / 255) / here + 0.5
        out[part] = np.minimum(even, full).astype(plane.dtype)
    return out


def paper_light(plane: Plane, ppi: float, reach: float) -> npt.NDArray[np.float32]:
    """The tone of bare paper as a small grid of 2 mm blocks, in the plane's own code values.

    >>> paper_light(np.full((60, 60), 200, np.uint8), 300, 15).shape
    (3, 3)
    """
    rows, columns = (max(1, round(side / mm_to_px(_BLOCK_MM, ppi))) for side in plane.shape)
    # eight samples a side are enough for a block's percentile, whatever the resolution
    small = cv2.resize(plane, (columns * 8, rows * 8), interpolation=cv2.INTER_AREA)
    blocks = small.reshape(rows, 8, columns, 8).transpose(0, 2, 1, 3).reshape(rows, columns, 64)
    grid = np.sort(blocks, axis=2)[..., int(64 * _SHARE)].astype(np.float32)
    size = max(3, 2 * round(reach / _BLOCK_MM / 2) + 1)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    # an odd reflection goes on past the edge as the light does, or a shaded edge would be
    # taken for something drawn and bridged
    wide = np.pad(grid, size, mode="reflect", reflect_type="odd")
    closed = cv2.morphologyEx(wide, cv2.MORPH_CLOSE, kernel)
    floor = _DARKEST * float(np.quantile(closed[size:-size, size:-size], 0.9))
    smooth = cv2.blur(np.maximum(closed, floor), (3, 3))[size:-size, size:-size]
    return np.maximum(smooth, 1).astype(np.float32)
