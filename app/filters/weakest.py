"""Marks of a stated darkness at least: ink without the pencil beneath it."""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import disc
from app.filters.noise import cell_side
from app.filters.specks import BLUR_MM, folded
from app.filters.strips import Strip, side_by_side, strips
from core.sheet import Plane, full_scale
from core.units import mm_to_px

_SOFT_MM = 0.03  # over which a tone is looked at: at high resolution one pixel may be noise

Tones = npt.NDArray[np.float32]


def about_dark(plane: Plane, limit: float, ppi: float) -> Plane:
    """A plane (H, W), white where it is over 0.13 mm from what is dark.

    Dark is what is no lighter than ``limit``, a tone 0-255. Ink's blurred edge reaches no farther,
    so that a paler mark goes whole, or ends where it meets ink. A dry brush's grain is as dark as
    its ink, and stays.

    >>> page = np.full((1, 9), 190, np.uint8)
    >>> page[0, :2] = 40
    >>> about_dark(page, 100, 300).tolist()
    [[40, 40, 190, 190, 255, 255, 255, 255, 255]]
    """
    full, edge = full_scale(plane), disc(mm_to_px(BLUR_MM, ppi))
    halo = len(edge) + max(2, round(4 * mm_to_px(_SOFT_MM, ppi)))
    made = np.full_like(plane, full)

    def work(strip: Strip) -> None:
        rows, around, inner = strip
        dark = (_softened(plane[around], ppi) <= limit * full / 255).view(np.uint8)
        if cv2.hasNonZero(dark):
            cv2.copyTo(plane[rows], cv2.dilate(dark, edge)[inner], made[rows])

    side_by_side(work, strips(len(plane), halo))
    return made


def darkest_tones(plane: Plane, ppi: float) -> Tones:
    """The darkest tone, 0-255, in each cell of the ground of a plane (H, W); (h, w).

    >>> darkest_tones(np.array([[230, 230, 40, 230]], np.uint8), 100).tolist()
    [[230.0, 230.0, 40.0, 230.0]]
    """
    full = full_scale(plane)
    cells = folded(np.minimum, _softened(plane, ppi), cell_side(ppi), full)
    return cells * np.float32(255 / full)


def _softened(plane: Plane, ppi: float) -> Plane:
    sigma = mm_to_px(_SOFT_MM, ppi)
    if sigma < 0.3:
        return plane
    return np.asarray(cv2.GaussianBlur(plane, (0, 0), sigma), plane.dtype)
