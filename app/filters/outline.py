"""The outline of what is kept, at full size: everything outside it becomes white."""

from collections.abc import Iterator

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.strips import Strip, side_by_side, strips
from core.sheet import Plane, full_scale
from core.units import mm_to_px

Mask = npt.NDArray[np.uint8]
"""0 or 255, (H, W)."""

NOWHERE, BESIDE, HERE = 0, 128, 255

_SOFT_MM = 0.06
_FEATHER_MM = 0.085  # a pixel at 300 ppi


def keep_inside(plane: Plane, support: Mask, limits: tuple[float, float], ppi: float) -> Plane:
    """The plane where a mark is, white elsewhere, and a feather of at most 0.085 mm around marks.

    ``plane`` (H, W); ``support`` says at any lower resolution where marks are ``NOWHERE``,
    beside something dark (``BESIDE``) or expected (``HERE``). A mark's own outline runs where
    the plane, softened by 0.06 mm, is darker than the first of the limits (tone 0-255), or
    the second where it is expected. Inside it the plane is left value for value.

    >>> page = np.full((40, 40), 230, np.uint8)
    >>> page[20, 5:35] = 40
    >>> kept = keep_inside(page, np.full((10, 10), HERE, np.uint8), (200, 220), 300)
    >>> int(kept[20, 20]), int(kept[5, 5])
    (40, 255)
    """
    full = full_scale(plane)
    height, width = plane.shape
    reach = max(1, round(mm_to_px(_FEATHER_MM, ppi)))
    sigma = mm_to_px(_SOFT_MM, ppi)
    codes = [int(np.ceil(limit * full / 255)) for limit in limits]
    wide = cv2.resize(support, (width, height), interpolation=cv2.INTER_LINEAR)
    out = np.full_like(plane, full)

    def work(strip: Strip) -> None:
        rows, around, inner = strip
        near = np.asarray(wide[around], np.uint8)
        if near.any():
            out[rows] = _inside(plane[around], near, codes, sigma, reach)[inner]

    side_by_side(work, strips(height, reach + max(2, round(4 * sigma))))
    return out


def _inside(scan: Plane, near: Mask, codes: list[int], sigma: float, reach: int) -> Plane:
    inside = _outline(scan, near, codes, sigma)
    full = full_scale(scan)
    made = np.full_like(scan, full)
    for part, edge in _feather(inside, reach):
        pale = cv2.addWeighted(scan, part, scan, 0, full * (1 - part))
        cv2.copyTo(pale, edge, made)
    cv2.copyTo(scan, inside, made)
    return made


def _outline(scan: Plane, support: Mask, codes: list[int], sigma: float) -> Mask:
    soft = cv2.GaussianBlur(scan, (0, 0), sigma) if sigma >= 0.3 else scan
    firm, pale = (soft < code for code in codes)
    beside, here = support > BESIDE // 2, support > (BESIDE + HERE) // 2
    return np.where((firm & beside) | (pale & here), np.uint8(255), np.uint8(0))


def _feather(inside: Mask, reach: int) -> Iterator[tuple[float, Mask]]:
    """Rings around a mask, the widest first, each with the share of darkness left in it."""
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    rings = [inside]
    for _ in range(reach):
        rings.append(np.asarray(cv2.dilate(rings[-1], cross), np.uint8))
    for step in range(reach, 0, -1):
        yield 1 - step / (reach + 1), rings[step]
