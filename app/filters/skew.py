"""By what angle a page lies askew, read off whatever is straight on it.

Along a straight border, the paper's edge or a line of lettering the page's darkness, summed,
changes abruptly from one row to the next; along any other direction it changes gently. The
angle at which the squares of these changes are greatest is the page's own (after W. Postl,
"Detection of linear oblique structures and skew scan in digitized documents", ICPR 1986).
"""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import cells_of
from core.sheet import Plane, full_scale
from core.units import mm_to_px

MOST = 10.0
"""Degrees within which an angle is looked for."""

_CELL_MM = 0.17  # 150 ppi: half a cell over 100 mm is 0.05 degrees
_COLUMNS = 8  # cells summed before they are shifted
_COARSE, _FINE = 0.2, 0.04  # degrees between the angles tried
_NEAR = 0.32  # degrees about the coarse angle that are tried finely
_CLEAR = 2.5  # times the middling angle's changes that the page's own must reach
_RIVAL = 0.5  # of its lead: no other peak may come so close
_LEAST = 1e-6  # a blank page has no changes at all

Angles = npt.NDArray[np.float64]


def find_skew(plane: Plane, ppi: float) -> float | None:
    """Degrees clockwise by which straight things lie askew, to 0.02; None where none are.

    ``plane`` is (H, W), grey. From -10 to 10; what is upright counts as well as what lies.

    >>> page = np.full((400, 400), 230, np.uint8)
    >>> page[100:104, 40:360] = page[300:304, 40:360] = 20
    >>> find_skew(page, 150)
    0.0
    >>> find_skew(np.full((400, 400), 230, np.uint8), 150) is None
    True
    """
    side = max(1, round(mm_to_px(_CELL_MM, ppi)))
    cells = cells_of(plane, side) / np.float32(full_scale(plane))
    if min(cells.shape) < 4 * _COLUMNS:
        return None
    tried = np.arange(-MOST, MOST + _COARSE / 2, _COARSE)
    changes = _changes(_halved(cells), tried)
    best = int(np.argmax(changes))
    if not _stands_out(changes, best):
        return None
    near = tried[best] + np.arange(-_NEAR, _NEAR + _FINE / 2, _FINE)
    return round(float(np.clip(_top(near, _changes(cells, near)), -MOST, MOST)), 2) + 0.0


def _halved(cells: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    height, width = cells.shape
    return np.asarray(cv2.resize(cells, (width // 2, height // 2), interpolation=cv2.INTER_AREA),
                      np.float32)


def _stands_out(changes: Angles, best: int) -> bool:
    """Whether one angle has far more changes than most, and no other peak comes close."""
    middling = float(np.median(changes))
    peak = (changes[1:-1] >= changes[:-2]) & (changes[1:-1] > changes[2:])
    peak[max(best - 4, 0) : best + 3] = False
    rival = float(changes[1:-1][peak].max(initial=middling)) - middling
    clear = changes[best] > _CLEAR * middling + _LEAST
    return bool(clear and rival < _RIVAL * (changes[best] - middling))


def _top(tried: Angles, changes: Angles) -> float:
    """Where the parabola through the highest and its neighbours is highest."""
    best = min(max(int(np.argmax(changes)), 1), len(tried) - 2)
    before, here, after = changes[best - 1 : best + 2]
    bend = before - 2 * here + after
    shift = 0.0 if bend >= 0 else 0.5 * (before - after) / bend
    return float(tried[best] + np.clip(shift, -1, 1) * (tried[1] - tried[0]))


def _changes(cells: npt.NDArray[np.float32], tried: Angles) -> Angles:
    """The squares of the changes along each angle, summed over lying and upright things."""
    slopes = np.tan(np.radians(tried))
    return _row_changes(cells, slopes) + _row_changes(np.ascontiguousarray(cells.T), -slopes)


def _row_changes(cells: npt.NDArray[np.float32], slopes: Angles) -> Angles:
    height, width = cells.shape
    count = width // _COLUMNS
    sums = cells[:, : count * _COLUMNS].reshape(height, count, _COLUMNS).sum(2, dtype=np.float64)
    # smoothed, or shifts by whole cells, which need no interpolation, would look sharper
    steps = np.ascontiguousarray(cv2.GaussianBlur(np.diff(sums, axis=0).T, (7, 1), 1.2))
    middle = (np.arange(count) + 0.5) * _COLUMNS - width / 2
    reach = int(np.abs(slopes).max() * width / 2) + 2
    steps = np.pad(steps, ((0, 0), (reach, reach)))
    out = np.zeros(len(slopes))
    for place, slope in enumerate(slopes):
        shift = reach + middle * slope
        whole = np.floor(shift).astype(np.int64)
        total = np.zeros(height - 1)
        for run, start, part in zip(steps, whole, shift - whole, strict=True):
            here = run[start : start + height]
            total += here[:-1] + (here[1:] - here[:-1]) * part
        out[place] = total @ total
    return out
