"""The eight orientations of EXIF, band by band: EXIF 3.0, 4.6.5.1.6 (tag 274)."""

from functools import partial

import numpy as np

from app.pages.raster import Held, RowsOf
from core.sheet import Plane, spans


def upright(
    rows: RowsOf, shape: tuple[int, int], orientation: int
) -> tuple[RowsOf, tuple[int, int]]:
    """The rows of a page (height, width) as they are to be seen, and their height and width.

    A page that lies on its side (5 to 8) is held whole, because each of its rows needs
    all the rows of the file; the others pass by bands.

    >>> page = np.array([[1, 2], [3, 4], [5, 6]], np.uint8)
    >>> turned, shape = upright(lambda top, bottom: page[top:bottom], (3, 2), 6)
    >>> shape, turned(0, 2).tolist()
    ((2, 3), [[5, 3, 1], [6, 4, 2]])
    """
    height, width = shape
    if orientation >= 5:
        return Held(partial(_on_its_side, rows, shape, orientation)).rows, (width, height)
    if orientation == 1:
        return rows, shape
    return partial(_turned, rows, height, orientation), shape


def _turned(rows: RowsOf, height: int, orientation: int, top: int, bottom: int) -> Plane:
    upside_down, mirrored = orientation in (3, 4), orientation in (2, 3)
    band = rows(height - bottom, height - top)[::-1] if upside_down else rows(top, bottom)
    return np.ascontiguousarray(band[:, ::-1] if mirrored else band)


def _on_its_side(rows: RowsOf, shape: tuple[int, int], orientation: int) -> Plane:
    height, width = shape
    whole: Plane | None = None
    for top, bottom in spans(height):
        band = rows(top, bottom)
        if whole is None:
            whole = np.empty((width, height, *band.shape[2:]), band.dtype)
        # Orientation 5 lays row y down as column y; 6 and 7 count columns from the right,
        # 7 and 8 count rows from the foot.
        columns = whole[:, top:bottom]
        if orientation in (6, 7):
            columns = whole[:, height - bottom:height - top][:, ::-1]
        if orientation in (7, 8):
            columns = columns[::-1]
        columns[...] = band.swapaxes(0, 1)
    assert whole is not None  # a page has rows
    return whole
