"""Trap: how far flats spread beneath the ink."""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.areas import AreaMap, looked_up
from app.filters.strips import Strip, side_by_side, strips
from core.sheet import Plane, full_scale
from core.units import mm_to_px

_STRIP_ROWS = 512
_OPAQUE = 0.95  # cover, on an average, from which nothing shows through ink


def laid_under(areas: AreaMap, groups: Plane, alpha: Plane, ppi: float, trap: float) -> Plane:
    """The flats of a page, (H, W) uint16: each pixel's area, 0 in the core of solid ink.

    ``groups`` gives for each area the one that it counts as. Under ink that nothing shows
    through (a thing's edge lies where it covers half) a flat spreads ``trap`` mm at most, and
    never beyond the middle; ink that shows what lies beneath is filled to the middle.

    >>> from app.filters.areas import Bounds, find_areas
    >>> page = np.zeros((9, 40), np.uint8)
    >>> page[:, 10:30] = 255
    >>> areas = find_areas(page, 254, Bounds(gap=0, smallest=0))
    >>> laid_under(areas, np.array([0, 1, 2], np.uint16), page, 254, 0.5)[4].tolist() == (
    ...     [1] * 15 + [0] * 10 + [2] * 15)
    True
    """
    height, width = alpha.shape
    reach = mm_to_px(trap, ppi)
    out = np.empty(alpha.shape, np.uint16)
    labels = looked_up(groups, areas.labels)
    side = areas.side
    step = _STRIP_ROWS // side * side or side
    for top in range(0, height, step):
        rows = slice(top, min(top + step, height))
        few = labels[top // side : -(-rows.stop // side)]
        out[rows] = _enlarged(few, side)[: rows.stop - top, :width]

    def work(strip: Strip) -> None:
        rows, around, inner = strip
        core = _core(alpha[around], reach)
        if core is not None:
            out[rows][core[inner]] = 0

    side_by_side(work, strips(height, round(reach) + 3))
    return out


def _enlarged(labels: Plane, side: int) -> Plane:
    if side == 1:
        return labels
    size = (labels.shape[1] * side, labels.shape[0] * side)
    return np.asarray(cv2.resize(labels, size, interpolation=cv2.INTER_NEAREST))


def _core(alpha: Plane, reach: float) -> npt.NDArray[np.bool_] | None:
    """Where opaque ink lies deeper than ``reach`` pixels below the line's edge, if anywhere."""
    full = full_scale(alpha)
    side = 2 * max(1, round(reach)) + 1
    opaque = np.asarray(cv2.blur(alpha, (side, side))) >= full * _OPAQUE
    if not opaque.any():
        return None
    ink = (alpha > full // 2).view(np.uint8)
    deep = np.asarray(cv2.distanceTransform(ink, cv2.DIST_L2, cv2.DIST_MASK_5))
    return np.asarray(opaque & (deep > reach + 0.25))
