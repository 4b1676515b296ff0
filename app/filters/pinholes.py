"""White pinholes in solid ink, filled."""

from dataclasses import replace

import cv2
import numpy as np

from app.filters.grid import Mask
from core.histogram import count_tones, find_peaks
from core.readings import grey_plane
from core.sheet import Plane, Sheet, full_scale
from core.units import mm_to_px


def fill_pinholes(sheet: Sheet, hole: float, solid: float) -> Sheet:
    """The sheet with light spots up to ``hole`` mm long filled in ink at least ``solid`` mm wide.

    They take the darkest tone next to them; on a sheet that was lifted, the most ink.

    >>> page = np.full((300, 300), 230, np.uint8)
    >>> page[50:250, 50:250] = 30
    >>> page[150, 150] = 200
    >>> int(fill_pinholes(Sheet(ppi=300, grey=page), 0.3, 1.5).grey[150, 150])
    30
    """
    holes = pinhole_mask(grey_plane(sheet), sheet.ppi, hole, solid)
    reach = max(1, round(mm_to_px(hole, sheet.ppi)))
    about = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)

    def filled(plane: Plane | None, *, lifted: bool = False) -> Plane | None:
        if plane is None or not holes.any():
            return plane
        inked = cv2.dilate(plane, about) if lifted else cv2.erode(plane, about)
        out = plane.copy()
        out[holes] = inked[holes]
        return out

    return replace(sheet, grey=filled(sheet.grey), colour=filled(sheet.colour),
                   alpha=filled(sheet.alpha, lifted=True))


def pinhole_mask(grey: Plane, ppi: float, hole: float, solid: float) -> Mask:
    """Where a plane (H, W) has pinholes; bool (H, W)."""
    paper = find_peaks(count_tones(grey)).paper * full_scale(grey) / 255
    ink = (grey < paper / 2).astype(np.uint8)
    light = 1 - ink
    _, labels, stats, _ = cv2.connectedComponentsWithStats(light, connectivity=4)
    longest = np.maximum(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    small = longest <= mm_to_px(hole, ppi)
    small[0] = False
    holes = small[labels]
    whole = np.where(holes, np.uint8(1), ink)
    depth = cv2.distanceTransform(whole, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    core = (depth < mm_to_px(solid, ppi) / 2).astype(np.uint8)
    if core.all():
        return np.zeros(grey.shape, np.bool_)
    far = cv2.distanceTransform(core, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(holes & (far < mm_to_px(solid, ppi) / 2))
