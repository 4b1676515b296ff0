"""Counts of tones, and what their shape says: the paper peak, the ink peak, points."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from core.sheet import Plane, full_scale

Counts = npt.NDArray[np.int64]
"""How many pixels have each value: (256,) or (65536,)."""

_STRIP = 1 << 16
_BELL = 0.6065306597126334  # exp(-1/2): a bell curve's height one standard deviation out
_BLUR = 2.0  # tones: bridges the gaps that a camera's own tone curve leaves in the counts


def count_tones(plane: Plane) -> Counts:
    """Exact counts of each value of a uint8 or uint16 plane of any shape.

    8-bit pixels are counted two at a time, in strips that stay in cache, and the
    table of pairs is folded at the end.

    >>> int(count_tones(np.array([[7, 7, 9]], np.uint8))[7])
    2
    """
    flat = np.ascontiguousarray(plane).reshape(-1)
    full = full_scale(flat)
    if full > 255 or flat.size < _STRIP:
        return _count(flat, full + 1)
    paired = flat.size - flat.size % 2
    pairs = _count(flat[:paired].view(np.uint16), 1 << 16).reshape(256, 256)
    return np.asarray(pairs.sum(0) + pairs.sum(1) + _count(flat[paired:], 256), np.int64)


def _count(flat: Plane, size: int) -> Counts:
    total = np.zeros(size, np.int64)
    for start in range(0, flat.size, _STRIP):
        # as ``bincount`` counts, but that looks for the least and the largest value first
        np.add.at(total, flat[start : start + _STRIP].astype(np.intp), np.int64(1))
    return total


def fold_counts(counts: Counts) -> Counts:
    """Counts at any depth as counts of the 256 whole tones, by rounding.

    >>> int(fold_counts(count_tones(np.array([257, 258], np.uint16)))[1])
    2
    """
    full = len(counts) - 1
    if full == 255:
        return counts
    tone = (np.arange(full + 1) * 255 + full // 2) // full
    return np.asarray(np.bincount(tone, weights=counts, minlength=256), np.int64)


def otsu_threshold(counts: Counts) -> int:
    """The value that parts the counts into two classes of least spread within each.

    N. Otsu, "A threshold selection method from gray-level histograms", IEEE Trans.
    SMC 9 (1979) 62-66, equations 13-19; the lower class includes the value. 0 where
    there is only one value.

    >>> otsu_threshold(count_tones(np.array([10, 12, 200, 202], np.uint8)))
    12
    """
    weight = np.cumsum(counts, dtype=np.float64)
    moment = np.cumsum(counts * np.arange(len(counts), dtype=np.float64))
    light = weight[-1] - weight
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = (moment[-1] * weight / weight[-1] - moment) ** 2 / (weight * light)
    return int(np.argmax(np.nan_to_num(spread, nan=0.0, posinf=0.0)))


@dataclass(frozen=True)
class Peaks:
    """Where a page's lights and darks lie, in tone 0-255.

    ``paper`` is the middle of the paper peak and ``noise`` its standard deviation;
    ``ink`` the middle of the ink peak, None where the darks have no peak of their own
    (pencil, blank paper).
    """

    paper: float
    noise: float
    ink: float | None = None


def find_peaks(counts: Counts) -> Peaks:
    """The paper and ink peaks of exact counts (256 or 65,536 values).

    The paper is the highest peak of the lighter class by Otsu's threshold; its spread is
    the peak's half width at 0.607 of its height on the light side, where no ink lies
    (on the dark side where the light one is cut off by white). The ink is the highest
    peak of the darker class that stands clear of the paper's slope. No pixels: ValueError.

    >>> peaks = find_peaks(count_tones(np.repeat(np.array([30, 228], np.uint8), [90, 900])))
    >>> round(peaks.paper), round(peaks.ink)
    (228, 30)
    """
    tones = fold_counts(counts).astype(np.float64)
    if not tones.sum():
        raise ValueError("a page without pixels has no peaks")
    smooth = _smooth(tones, _BLUR)
    split = otsu_threshold(fold_counts(counts))
    top = split + 1 + int(np.argmax(smooth[split + 1 :])) if smooth[split + 1 :].any() else split
    noise = _half_width(smooth, top)
    paper = _middle(tones, top, max(2, round(noise)))
    ink = _ink_peak(_smooth(tones, 4.0), min(_between(tones, split), round(paper - 6 * noise)))
    if ink is None:
        return Peaks(paper, noise)
    return Peaks(paper, noise, _middle(tones, ink, 3))


def _between(tones: npt.NDArray[np.float64], split: int) -> int:
    """Half way between the means of the two classes that ``split`` parts."""
    value = np.arange(256)
    dark = np.average(value[: split + 1], weights=tones[: split + 1] + 1e-12)
    light = np.average(value[split + 1 :], weights=tones[split + 1 :] + 1e-12)
    return round(float(dark + light) / 2)


def _smooth(tones: npt.NDArray[np.float64], sigma: float) -> npt.NDArray[np.float64]:
    reach = int(4 * sigma)
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    # mirrored ends: a peak cut off by black or white keeps its place
    return np.convolve(np.pad(tones, reach, mode="symmetric"), bell / bell.sum(), mode="valid")


def _middle(tones: npt.NDArray[np.float64], top: int, reach: int) -> float:
    low, high = max(top - reach, 0), min(top + reach, 255)
    reach = min(top - low, high - top)  # the same on both sides, or the edge would pull it
    near = slice(top - reach, top + reach + 1)
    return round(float(np.average(np.arange(256)[near], weights=tones[near] + 1e-12)), 3)


def _half_width(smooth: npt.NDArray[np.float64], top: int) -> float:
    light = _fall(smooth[top:])
    dark = _fall(smooth[top::-1])
    clipped = top + 2 * light > 255 if light is not None else True
    width = dark if clipped or light is None else light
    return round(float(np.sqrt(max((width or 0.0) ** 2 - _BLUR**2, 0.0))), 3)  # less what was added


def _fall(slope: npt.NDArray[np.float64]) -> float | None:
    """How far a slope goes before it has fallen to a bell's height at one deviation."""
    level = slope[0] * _BELL
    below = np.flatnonzero(slope < level)
    if not below.size:
        return None
    step = int(below[0])
    return step - float((level - slope[step]) / (slope[step - 1] - slope[step]))


def _ink_peak(smooth: npt.NDArray[np.float64], limit: int) -> int | None:
    """The highest peak on the dark side of the valley at the foot of the paper's slope."""
    valley = max(limit, 0)
    while valley > 0 and smooth[valley - 1] <= smooth[valley]:
        valley -= 1
    if valley == 0:
        return None
    top = int(np.argmax(smooth[: valley + 1]))
    return top if smooth[top] > 1.1 * smooth[valley] else None
