"""Where a kept line goes on, paler than a line must be by itself: across a gap, or as it fades."""

from functools import partial

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.hatching import TURNS
from app.filters.noise import Ground
from app.filters.strips import both

Places = npt.NDArray[np.intp]
Bytes = npt.NDArray[np.uint8]

_REACH_MM = 1.5
_PALER = 0.75  # times the low limit
_FADING, _BETWEEN = 0.5, 0.1  # of what lies on one side is kept, or of what lies on both
_NO_TURN = 4 * TURNS


def going_on(
    kept: Bytes, evidence: npt.NDArray[np.int16], turn: Bytes, limit: float, ground: Ground,
) -> Places:
    """Pixels on the line of what is ``kept`` (h, w; 0 or not) whose evidence nearly does.

    They are places in the flat plane.

    ``turn`` is the direction of the line through each pixel, of ``TURNS``. Along it, within
    1.5 mm, enough is kept that runs the same way: on either side, or much of it on one.

    >>> from app.filters.noise import measure_ground
    >>> ground = measure_ground(np.full((9, 60), 230, np.uint8), 150)
    >>> kept = np.zeros((9, 60), np.uint8)
    >>> kept[4, 5:20] = kept[4, 26:50] = 1
    >>> evidence = np.full((9, 60), 35, np.int16)
    >>> (going_on(kept, evidence, 0 * kept, 40, ground) - 4 * 60).tolist()
    [0, 1, 2, 3, 4, 20, 21, 22, 23, 24, 25, 50, 51, 52, 53, 54]
    """
    steps = max(2, round(ground.pixels(_REACH_MM)))
    near = cv2.dilate(kept, np.ones((2 * steps + 1, 2 * steps + 1), np.uint8))
    places = np.flatnonzero((evidence > int(_PALER * limit)) & (kept == 0) & (near > 0))
    lines = np.pad(np.where(kept > 0, turn, np.uint8(_NO_TURN)), steps, constant_values=_NO_TURN)
    row, column = np.divmod(places, kept.shape[1])
    start = (row + steps) * lines.shape[1] + column + steps
    sides = both(*(partial(_alike, lines, start, turn.ravel()[places], steps * way)
                   for way in (1, -1)))
    good = (np.minimum(*sides) > _BETWEEN * steps) | (np.maximum(*sides) >= _FADING * steps)
    return places[good]


def _alike(lines: Bytes, start: Places, turn: Bytes, reach: int) -> Places:
    """How many of the steps along its line from each place, as far as ``reach``, lie on alike."""
    angle = np.arange(TURNS) * np.pi / TURNS
    alike = np.zeros(_NO_TURN + 2 * TURNS, np.bool_)
    alike[[1, TURNS - 1, TURNS, TURNS + 1, 2 * TURNS - 1]] = True  # 180 degrees on is the same
    found = np.zeros(len(start), np.intp)
    way = 1 if reach > 0 else -1
    for step in range(way, reach + way, way):
        down, right = (np.rint(step * part).astype(np.intp)
                       for part in (np.sin(angle), np.cos(angle)))
        there = lines.ravel()[start + (down * lines.shape[1] + right)[turn]]
        found += alike[there + np.uint8(TURNS) - turn]
    return found
