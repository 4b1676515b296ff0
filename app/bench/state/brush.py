"""The sizes of a brush in even steps, and the outline of what it went over."""

from typing import Literal

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.reach import Brush
from core.steps.fields import Number, specs

_STEPS = (0.0, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0,
          20.0, 25.0, 30.0, 40.0, 50.0, 70.0, 100.0, 150.0, 200.0, 300.0, 500.0)


def next_size(field: Literal["width", "soft"], value: float, *, larger: bool) -> float:
    """The next even size in mm of a brush's width or soft edge, within its limits.

    >>> next_size("width", 3.0, larger=True), next_size("soft", 0.1, larger=False)
    (4.0, 0.0)
    """
    spec = specs(Brush)[field]
    assert isinstance(spec, Number)
    steps = [step for step in _STEPS if spec.lowest <= step <= spec.highest]
    further = [step for step in steps if (step > value if larger else step < value)]
    if not further:
        return value
    return further[0] if larger else further[-1]


Contour = npt.NDArray[np.float64]
"""(n, 2): the corners of a closed line, in pixels of the page."""

_CELLS = 1600.0  # in which the longer side of all strokes together is seen
_SUBPIXEL = 4


def outlines(strokes: tuple[tuple[tuple[float, float], ...], ...], width: float) -> list[Contour]:
    """The outlines of all that strokes of a brush went over; places and width in pixels.

    They are true to a sixteen-hundredth of the strokes' extent, for they are only to be seen.

    >>> [line.round().tolist() for line in outlines((((0.0, 0.0), (0.0, 90.0)),), 10)][0][0][1]
    -5.0
    """
    if not strokes:
        return []
    places = [np.array(stroke) for stroke in strokes]
    low = np.min([place.min(axis=0) for place in places], axis=0) - width
    extent = np.max([place.max(axis=0) for place in places], axis=0) + width - low
    cell = float(extent.max()) / _CELLS
    mask = np.zeros((int(extent[1] / cell) + 3, int(extent[0] / cell) + 3), np.uint8)
    wide = max(round(width / cell), 1)
    for place in places:
        line = np.rint((place - low) / cell * (1 << _SUBPIXEL)).astype(np.int32)
        cv2.polylines(mask, [line], False, 255, wide, cv2.LINE_8, _SUBPIXEL)
        for end in (line[0], line[-1]):  # a touch has no length
            centre = (int(end[0]), int(end[1]))
            cv2.circle(mask, centre, wide << _SUBPIXEL >> 1, 255, -1, cv2.LINE_8, _SUBPIXEL)
    found, _ = cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    lines = (cv2.approxPolyDP(line, 0.7, True)[:, 0] for line in found)
    return [line.astype(np.float64) * cell + low for line in lines if len(line) > 2]
