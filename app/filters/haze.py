"""Haze on the paper between strokes: what a hand smudged, the shade of a crease or a damp sheet.

In the open it passes for light. Among strokes no more than scraps of it are seen, and these might
be a wash's as well. But a wash ends sharply, at an outline too, and pencil leaves the paper's
lightest spots bare or has a grain of its own; haze does neither.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import reduce

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.cast import lightest
from app.filters.grid import Mask, Places, disc, pairs, some, square

_LEAST, _OVER_NOISE, _MOST = 0.008, 4.0, 0.09  # below the light (logarithms)
_ABOUT_MM = 2.5  # over which grain, and how tone rises at a rim, is measured
_STROKE, _NEAR_MM = 0.06, 1.0  # below the lightest nearby: something is drawn there, and near it
_OPEN = 0.6  # of it lies farther from strokes: what is seen so well was judged by its rim
_HIDDEN, _USUAL = 0.02, 0.9  # below the lightest nearby, more than so much of paper is
_TOLD = 0.1  # of what is about a square shows paper
_GRAINY, _GRAIN = 2.5, 1.75  # times the paper's own grain: drawn; too much of it on the whole
_LEAST_GRAIN = 0.003  # of paper that shows none
_AREA_MM2 = (40.0, 1000.0)
_COMPACT, _CORE_MM = 0.1, 1.5  # so much of it lies so far within its rim
_RING_MM, _RING = 2.0, 0.2  # about it, and how much of that must be told
_FEW = 0.1  # of it is deeper than its depth, of its rim sharper than what is called its sharpness
_RIM, _SHARP = 0.5, 0.345  # of its depth rises within reach; of that, within a mm

Cells = npt.NDArray[np.float32]
Tones = npt.NDArray[np.floating]
Bits = npt.NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class _Between:
    """What lies between strokes on squares of ``mm``, (h, w).

    ``level`` is the logarithm of its tone over the light; ``grain`` how often as strong as paper's
    its own is, ``told`` where that can be said of paper or haze; ``drawn`` what is near strokes.
    """

    level: Cells
    grain: Cells
    told: Mask
    drawn: Mask
    mm: float

    def part(self, rows: slice, columns: slice) -> "_Between":
        """What lies in some rows and columns."""
        here = np.s_[rows, columns]
        return _Between(
            self.level[here], self.grain[here], self.told[here], self.drawn[here], self.mm)


def find_haze(
    channels: Sequence[Tones], light: Sequence[Cells], bare: Mask, mm: float,
) -> list[Cells] | None:
    """How much darker haze makes the paper in each channel (logarithms), (h, w); None if none.

    ``channels`` are tones of cells of half of ``mm``, ``light`` the logarithm of bare paper's tone
    on squares of ``mm``, ``bare`` where it was seen.

    >>> page = np.full((160, 160), 200, np.float32)
    >>> haze = cv2.GaussianBlur(cv2.circle(0 * page, (80, 80), 24, 1.0, -1), (0, 0), 8.0)
    >>> page *= 1 - np.float32(0.05) * haze
    >>> page[::8] = 20
    >>> light, bare = np.full((80, 80), np.log(200), np.float32), np.ones((80, 80), bool)
    >>> bare[10:70, 10:70] = False
    >>> [found] = find_haze([page], [light], bare, 0.5)
    >>> bool(found[40, 40] < -0.03), bool(found[2, 2] == 0)
    (True, True)
    """
    seen = some(bare)
    most = [_lightest_of(cells) for cells in channels]
    tops = [_log(lightest(cells, mm)) for cells in most]
    levels = [_soft(top - one - np.median((top - one).ravel()[seen]))
              for top, one in zip(tops, light, strict=True)]
    level = reduce(np.minimum, levels)
    noise = float(np.median(np.abs(level.ravel()[seen]))) / 0.6745
    low = level < -max(_LEAST, _OVER_NOISE * noise)
    if np.count_nonzero(low) * mm ** 2 < _AREA_MM2[0]:
        return None
    pits, hidden = _below(tops, map(_mean, channels)), _below(tops, most)
    between = _between(level, pits, hidden, seen, mm)
    found = np.zeros(low.shape, np.uint8)
    for part, rows, columns in _parts(low & between.told, mm):
        if _is_haze(part > 0, between.part(rows, columns)):
            found[rows, columns] |= part
    if not found.any():
        return None
    share = _soft(cv2.dilate(found, square(_RING_MM / mm)).astype(np.float32))
    # what is deeper beside it was drawn
    return [np.clip(one, -_MOST, 0).astype(np.float32) * share for one in levels]


def _lightest_of(cells: Tones) -> Cells:
    """The lightest of two by two cells."""
    lightest_of = cv2.dilate(cells, np.ones((2, 2), np.uint8), anchor=(0, 0))
    return np.ascontiguousarray(lightest_of[::2, ::2], np.float32)


def _mean(cells: Tones) -> Cells:
    return np.asarray(pairs(cells) / pairs(np.ones_like(cells)), np.float32)


def _log(tones: Cells) -> Cells:
    return np.asarray(np.log(np.maximum(tones, np.float32(1e-3))))


def _below(tops: Iterable[Cells], tones: Iterable[Cells]) -> Cells:
    """How far tones lie below the lightest nearby, in the channel in which that is most."""
    each = [top - _log(tone) for top, tone in zip(tops, tones, strict=True)]
    return reduce(np.maximum, each)


def _between(level: Cells, pits: Cells, hidden: Cells, seen: Places, mm: float) -> _Between:
    usual = float(np.median(pits.ravel()[seen]))
    drawn = cv2.dilate((pits > _STROKE + usual).astype(np.uint8), square(_NEAR_MM / mm)) > 0
    # between strokes there are squares that none touches, in pencil's grain there are not
    calm = cv2.erode(pits, np.ones((3, 3), np.uint8))
    own = max(float(np.median(calm.ravel()[seen])), _LEAST_GRAIN)
    shown = hidden < float(np.quantile(hidden.ravel()[seen], _USUAL)) + _HIDDEN
    about = (_cells(_ABOUT_MM, mm) | 1,) * 2
    many, total = (cv2.blur(plane.astype(np.float32), about) for plane in (shown, calm * shown))
    grain = np.asarray(total / np.maximum(many, np.float32(1e-3)) / own, np.float32)
    return _Between(level, grain, (many > _TOLD) & (grain <= _GRAINY), drawn, mm)


def _parts(low: Mask, mm: float) -> Iterator[tuple[Bits, slice, slice]]:
    """Connected parts about as large as haze is, with what lies round each."""
    _, label, stats, _ = cv2.connectedComponentsWithStats(low.astype(np.uint8), connectivity=4)
    least, most = (area / mm ** 2 for area in _AREA_MM2)
    area = stats[1:, cv2.CC_STAT_AREA]
    margin = _cells(_RING_MM, mm) + _cells(_ABOUT_MM, mm) + 1
    for number in np.flatnonzero((area >= least) & (area < most)) + 1:
        left, top, width, height = (int(side) for side in stats[number, :4])
        rows = slice(max(top - margin, 0), top + height + margin)
        columns = slice(max(left - margin, 0), left + width + margin)
        yield (label[rows, columns] == number).astype(np.uint8), rows, columns


def _is_haze(part: Mask, between: _Between) -> bool:
    """Whether a part, with what lies round it, is soft all along its rim, pale and of no grain."""
    mm = between.mm
    depth = -float(np.quantile(between.level[part], _FEW))
    if depth > _MOST or np.median(between.grain[part]) > _GRAIN:
        return False
    if np.count_nonzero(part & ~between.drawn) > _OPEN * np.count_nonzero(part):
        return False
    bits = np.pad(part.astype(np.uint8), 1)
    core = cv2.erode(bits, disc(_CORE_MM / mm))
    near = cv2.dilate(bits, square(_RING_MM / mm))[1:-1, 1:-1] > 0
    if core.sum() < _COMPACT * part.sum() or between.told[near & ~part].mean() < _RING:
        return False
    return _sharpness(between, near & between.told, depth) < _SHARP


def _sharpness(between: _Between, near: Mask, depth: float) -> float:
    """Which share of a rise lies within one mm of it, where the tone rises enough for a rim."""
    level, about = between.level, square(_ABOUT_MM / between.mm)
    rise = cv2.dilate(level, about) - cv2.erode(level, about)
    slopes = [cv2.Sobel(level, cv2.CV_32F, *way, ksize=3, scale=1 / 8) for way in ((1, 0), (0, 1))]
    rim = near & (rise > _RIM * depth)
    if not rim.any():
        return 1.0
    return float(np.quantile(np.hypot(*slopes)[rim] / rise[rim], 1 - _FEW)) / between.mm


def _soft(cells: Cells) -> Cells:
    return np.asarray(cv2.blur(cells, (3, 3)), np.float32)


def _cells(length: float, mm: float) -> int:
    return max(1, round(length / mm))
