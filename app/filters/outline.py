"""The outline of what is kept, at full size: everything outside it becomes white."""

from collections.abc import Callable

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
_ROWS = 128  # in a strip, with all that is made of it near the processor


def keep_inside(
    plane: Plane, support: Mask, cell: int, limits: tuple[float, float], ppi: float,
) -> Plane:
    """The plane where a mark is, white elsewhere, and a feather of at most 0.085 mm around marks.

    ``plane`` (H, W); ``support`` says of cells of ``cell`` pixels where marks are ``NOWHERE``,
    beside something dark (``BESIDE``) or expected (``HERE``). A mark's own outline runs where
    the plane, softened by 0.06 mm, is darker than the first of the limits (tone 0-255), or
    the second where it is expected. Inside it the plane is left value for value.

    >>> page = np.full((40, 40), 230, np.uint8)
    >>> page[20, 5:35] = 40
    >>> kept = keep_inside(page, np.full((10, 10), HERE, np.uint8), 4, (200, 220), 300)
    >>> int(kept[20, 20]), int(kept[5, 5])
    (40, 255)
    """
    full = full_scale(plane)
    reach = max(1, round(mm_to_px(_FEATHER_MM, ppi)))
    sigma = mm_to_px(_SOFT_MM, ppi)
    support_at = _at_size(support, cell, plane.shape)
    table = _limits_by_support(limits, plane)
    out = np.empty(plane.shape, plane.dtype)

    def work(strip: Strip) -> None:
        rows, around, inner = strip
        out[rows] = full
        wide = support_at(around)
        if cv2.hasNonZero(wide):
            inside = _outline(plane[around], wide, table, sigma)
            _feather(plane[rows], inside, inner, out[rows], reach)

    side_by_side(work, strips(len(plane), reach + max(2, round(4 * sigma)), _ROWS))
    return out


def _at_size(support: Mask, cell: int, shape: tuple[int, ...]) -> Callable[[slice], Mask]:
    """The support of any rows of a page (H, W), each cell ``cell`` pixels wide."""
    def rows_of(rows: slice) -> Mask:
        top, bottom = max(rows.start // cell - 1, 0), -(-rows.stop // cell) + 1
        part = support[top:bottom]
        wide = cv2.resize(part, (part.shape[1] * cell, part.shape[0] * cell),
                          interpolation=cv2.INTER_LINEAR)
        return np.asarray(wide[rows.start - top * cell : rows.stop - top * cell, : shape[1]])

    if cell & (cell - 1) == 0:
        return rows_of
    # OpenCV rounds thirds by how far down the page they lie: a part would not come out alike
    whole = rows_of(slice(0, shape[0]))
    return whole.__getitem__


def _limits_by_support(limits: tuple[float, float], plane: Plane) -> Plane:
    """What is darker than this is inside an outline, for each value of the support; (256,)."""
    full = full_scale(plane)
    firm, pale = (min(max(int(np.ceil(limit * full / 255)), 0), full) for limit in limits)
    table = np.zeros(256, plane.dtype)
    table[BESIDE // 2 + 1 :] = firm
    table[(BESIDE + HERE) // 2 + 1 :] = max(firm, pale)
    return table


def _outline(scan: Plane, support: Mask, table: Plane, sigma: float) -> Mask:
    soft = cv2.GaussianBlur(scan, (0, 0), sigma) if sigma >= 0.3 else scan
    return np.asarray(cv2.compare(soft, cv2.LUT(support, table), cv2.CMP_LT), np.uint8)


def _feather(scan: Plane, inside: Mask, inner: slice, out: Plane, reach: int) -> None:
    """Write a mask's inside, and rings around it: the further out, the less of the scan is left.

    ``inside`` has a halo, ``inner`` of whose rows are those of ``scan`` and ``out``.
    """
    cross, full = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3)), full_scale(scan)
    rings = [inside]
    for _ in range(reach):
        rings.append(np.asarray(cv2.dilate(rings[-1], cross), np.uint8))
    for step in range(reach, 0, -1):
        part = 1 - step / (reach + 1)
        faded = cv2.addWeighted(scan, part, scan, 0, full * (1 - part))
        cv2.copyTo(faded, rings[step][inner], out)
    cv2.copyTo(scan, inside[inner], out)
