"""Whether what was drawn on a page is of two strengths, as ink over pencil is."""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.noise import Ground
from app.filters.outline import Mask
from app.filters.specks import disc

_ABOUT_MM = 0.35  # a mark is as strong as its darkest part within so much
_TONES = 8  # to a step of the counts
_GRAIN = 2.0  # deviations of the noise: what is paler is the paper about a mark
_VALLEY = 0.5  # of the lower of two peaks: as deep the counts dip between two strengths
_PALER = 0.6  # of the darker strength: thin strokes of one tool come closer than that
_SHARE = 0.02  # of what is drawn has each of the two at least
_LITTLE = 1e-3  # of it: less than that is no peak
_FLOOR = 1.25  # times the valley's least count, within which its middle is sought

Counts = npt.NDArray[np.float64]


def parting_tone(ground: Ground, support: Mask) -> float | None:
    """The tone, 0-255, half-way between two strengths of drawn marks; None if there is but one.

    ``support`` (h, w) is where marks are on the ground, 0 where there are none. Each place
    counts with the darkest tone near it, so that the pale edge of a stroke counts as the stroke.

    >>> from app.filters.noise import measure_ground
    >>> page = np.full((300, 300), 230, np.uint8)
    >>> page[50:60, 20:280] = 40
    >>> one = measure_ground(page, 150)
    >>> parting_tone(one, (page < 200).view(np.uint8)) is None
    True
    >>> page[150:160, 20:280] = 190
    >>> 80 < parting_tone(measure_ground(page, 150), (page < 200).view(np.uint8)) < 160
    True
    """
    counts = _strengths(ground, support)
    if counts is None:
        return None
    steps = np.arange(1, len(counts) - 1)
    darker = np.maximum.accumulate(counts)[steps - 1]
    paler = np.maximum.accumulate(counts[::-1])[::-1][steps + 1]
    little = _LITTLE * counts.sum()
    depth = (counts[steps] + little) / (np.minimum(darker, paler) + little)
    valley = int(steps[np.argmin(depth)])
    first = int(np.argmax(counts[:valley]))
    second = valley + 1 + int(np.argmax(counts[valley + 1 :]))
    dark, pale = (ground.paper - (step + 0.5) * _TONES for step in (first, second))
    share = counts[:valley].sum() / counts.sum()
    if depth.min() > _VALLEY or pale > _PALER * dark or not _SHARE < share < 1 - _SHARE:
        return None
    return (_middle(counts, valley) + 0.5) * _TONES


def _strengths(ground: Ground, support: Mask) -> Counts | None:
    """How much of what is drawn is of each strength, smoothed; None if nothing is drawn."""
    tone = np.where(support > 0, ground.tone, np.float32(255))
    near = np.asarray(cv2.erode(tone, disc(_ABOUT_MM, ground.ppi)))
    drawn = tone < ground.paper - _GRAIN * ground.noise
    if not drawn.any():
        return None
    counts = np.bincount(near[drawn].astype(np.int64) // _TONES, minlength=256 // _TONES)
    return np.convolve(counts, (0.25, 0.5, 0.25), "same")


def _middle(counts: Counts, valley: int) -> float:
    """The middle of a valley's floor."""
    low = counts <= _FLOOR * counts[valley] + _LITTLE * counts.sum()
    first = valley - int(np.argmin(low[valley::-1])) + 1
    last = valley + int(np.argmin(low[valley:])) - 1
    return (first + last) / 2
