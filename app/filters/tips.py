"""The pale tips of strokes: where a pen is lifted, its line fades before it ends."""

import numpy as np

from app.filters.grid import Mask
from app.filters.specks import Specks
from core.units import mm_to_px

_ABOUT_MM = 0.8  # from its middle, so far what lies about a tip is looked at
_ABREAST_MM, _IN_LINE = 0.3, 0.7  # so near the line, so much of that: a stroke that ends there
_LEAST = 0.3  # mm2 of it


def are_tips(specks: Specks, among: Mask, ppi: float) -> Mask:
    """Which ``among`` the specks lie before the end of a stroke, in its line; (n,).

    Dust seldom falls just there; beside a stroke ink lies to both sides of it.
    """
    found = np.zeros(len(among), np.bool_)
    reach, side = round(mm_to_px(_ABOUT_MM, ppi)), mm_to_px(1, ppi)
    for speck in np.flatnonzero(among & specks.touching):
        place = specks.place[speck]
        top, left = np.maximum(place - reach, 0)
        ink = np.argwhere(
            specks.firm[top : place[0] + reach + 1, left : place[1] + reach + 1]
        ) - (place - (top, left))
        ink = ink[np.hypot(*ink.T) <= reach]
        if len(ink) < _LEAST * side**2:
            continue
        down, across = ink.mean(axis=0)
        aside = np.abs(ink @ (-across, down)) <= _ABREAST_MM * side * np.hypot(down, across)
        found[speck] = np.mean(aside) >= _IN_LINE
    return found
