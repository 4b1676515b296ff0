"""The light over a page, from what bare paper shows of it: carried on between, and smoothed."""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.bowl import fit_bowl
from app.filters.grid import Mask, Places, beyond, box, filled, some, within

SOLID = 0.55
"""Of the light round it: a wide area darker than this is ink, not shadow."""

SEEN = 0.05
"""Of the light round it: by so much must a plain area be darker to be a tone."""

FEW = 0.005
"""Of the page: less bare paper than that tells no slope."""

_SURE = 3.0  # times its noise must the light's own variance exceed, to be followed closely
_WELL_SEEN = 0.8  # of what those on both its sides show: a row that tells its own light

Cells = npt.NDArray[np.float32]


def lit(tone: Cells, bare: Mask, base: Mask, near: int) -> Cells:
    """One channel's light (h, w), in logarithms: bare paper's own, carried on between, smoothed.

    What hardly any bare paper bears out is one tone all over. First what goes over the whole
    page, seen on ``base``, which is kept as sharp as it is, then the rest.

    >>> tone = np.full((40, 40), 5, np.float32)
    >>> light = lit(tone, np.eye(40) > 0, np.eye(40) > 0, 2)
    >>> np.allclose(light, tone, atol=1e-4)
    True
    """
    seen = some(bare)
    if bare.mean() < FEW:
        return np.full_like(tone, np.median(tone.ravel()[seen]) if seen.size else 0.0)
    weight = bare.astype(np.float32)
    light = broad(tone, base if base.any() else bare, near, _WELL_SEEN)
    light += _calm(filled((tone - light) * weight, weight), seen, near)
    # never lighter than paper was seen anywhere: what no paper bears out may run away
    return np.minimum(light, np.quantile(tone.ravel()[seen], 0.999) + np.float32(SEEN))


def broad(tone: Cells, bare: Mask, near: int, well_seen: float = 0.0) -> Cells:
    """A bowl of light over the page, and what goes with the column or row alone (a gutter).

    A row that shows less than ``well_seen`` of what those on both sides of it show, as along a
    straight stroke, is held between these: the few squares left of it would speak for all of it.
    """
    light = fit_bowl(tone, some(bare))
    rest = tone - light
    weight = (bare & (rest > np.log(SOLID))).astype(np.float32)
    rest *= weight
    for axis in (0, 1):
        count = weight.sum(axis=axis, keepdims=True)
        profile = _profile(rest, count, axis, near, well_seen)
        light += profile
        rest -= profile * weight
    return light


def _profile(rest: Cells, count: Cells, axis: int, near: int, well_seen: float) -> Cells:
    """What is common to each column (axis 0) or row (1), as one row or column."""
    many = np.maximum(count, np.float32(1))
    mean = rest.sum(axis=axis, keepdims=True) / many
    apart = (rest * rest).sum(axis=axis, keepdims=True) / many - mean * mean
    # the share of it that the squares have in common: a gutter's is nearly all of it, that of
    # a shadow which lies across some rows only is little
    common = mean * mean / (mean * mean + np.maximum(apart, 0.0) + np.float32(SEEN ** 2) / many)
    seen = count > 0
    told = _held(mean * common, seen & (count >= well_seen * _beside(count, near)))
    weight = seen.astype(np.float32)
    return _calm(filled(told * weight, weight), some(seen), near)


def _held(profile: Cells, known: Mask) -> Cells:
    """A row or column of values, those not known held between the nearest known if these agree."""
    places = np.flatnonzero(known)
    if not places.size:
        return profile
    after = np.searchsorted(places, np.arange(known.size))
    sides = np.stack([np.maximum(after - 1, 0), np.minimum(after, places.size - 1)])
    low, high = np.sort(profile.ravel()[places[sides]], axis=0)
    held = np.where(high - low < SEEN, np.clip(profile.ravel(), low, high), profile.ravel())
    return np.where(known, profile, held.reshape(profile.shape))


def _beside(count: Cells, near: int) -> Cells:
    """How many squares the rows or columns within ``near`` on both sides of each show.

    No fewer than it shows itself; beyond the page none are seen.
    """
    wide = np.pad(count.ravel(), 2 * near)[None]
    closed = cv2.morphologyEx(wide, cv2.MORPH_CLOSE, np.ones((1, 2 * near + 1), np.uint8))
    return np.asarray(closed[0, 2 * near : -2 * near].reshape(count.shape), np.float32)


def _calm(tone: Cells, seen: Places, near: int) -> Cells:
    """Smoothed by means over ``near`` cells each way, but kept where it swings more than noise.

    A guided filter with itself as the guide (K. He, J. Sun, X. Tang, "Guided image filtering",
    IEEE Trans. PAMI 35 (2013) 1397-1409), its share of the unsmoothed as in Wiener's filter.
    """
    # beyond the edge it goes on as it slopes there, or a gutter would be flattened
    wide = beyond(tone, 2 * near)
    mean = box(wide, near)
    swing = box(wide * wide, near)
    swing -= mean * mean
    noise = float(np.median(np.abs(within(wide - mean, tone).ravel()[seen]))) / 0.6745
    kept = 1.0 - np.float32(_SURE * noise * noise) / np.maximum(swing, np.float32(1e-12))
    np.maximum(kept, 0.0, out=kept)
    calm = box((1.0 - kept) * mean, near)
    calm += box(kept, near) * wide
    return within(calm, tone)
