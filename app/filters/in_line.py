"""What lies in line with the marks about it: the tip of a stroke, a bead of one that is broken."""

import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask
from app.filters.specks import Bits, Specks
from core.units import mm_to_px

# mm from its middle that marks are looked at, mm2 of them at least, mm beside a line through it;
# and of firm ink, which comes with its blurred edge
_MARKS, _INK = (1.1, 0.1, 0.22), (0.8, 0.3, 0.3)
_MOST = 0.75  # of it so near a line is in line
_TURNS = np.arange(12) * (np.pi / 12)
_ACROSS = np.stack([np.cos(_TURNS), np.sin(_TURNS)])


def lie_in_line(specks: Specks, among: Mask, ppi: float) -> Mask:
    """Which ``among`` the specks most of what is marked about them lies in one line with; (n,).

    Or most of the firm ink. Beside a stroke or between two, ink lies to the sides of each line.

    >>> from app.filters.specks import find_specks, ground_of
    >>> page = np.full((60, 200), 230, np.uint8)
    >>> page[28:33, 10:150] = 90
    >>> page[29:32, 155:158] = page[18:21, 80:83] = 150
    >>> specks = find_specks(page, 300, ground_of(page), 0.5)
    >>> specks.place[lie_in_line(specks, specks.longest > 0, 300)].tolist()
    [[30, 156]]
    """
    marked = specks.marked.copy()
    found = np.zeros(len(among), np.bool_)
    rows = np.flatnonzero(among)
    order = np.argsort(specks.owner, kind="stable")
    bounds = np.searchsorted(specks.owner[order], [rows, rows + 1])
    for row, first, last in zip(rows, *bounds, strict=True):
        place, own = specks.place[row], specks.pixels[order[first:last]]
        marked.ravel()[own] = 0
        found[row] = any(
            _is_line(of, place, *how, ppi)
            for of, how in ((marked, _MARKS), (specks.firm, _INK)))
        marked.ravel()[own] = 1
    return found


def _is_line(
    marked: Bits, place: npt.NDArray[np.int64], about: float, least: float, beside: float,
    ppi: float,
) -> bool:
    """Whether most of what is marked within ``about`` mm, at least ``least`` mm2, is in line."""
    reach = round(mm_to_px(about, ppi))
    top, left = np.maximum(place - reach, 0)
    here = marked[top : place[0] + reach + 1, left : place[1] + reach + 1]
    others = np.argwhere(here) - (place - (top, left))
    others = others[np.hypot(*others.T) <= reach]
    if len(others) < least * mm_to_px(1, ppi) ** 2:
        return False
    near = np.abs(others @ _ACROSS) <= mm_to_px(beside, ppi)
    return bool(near.mean(axis=0).max() >= _MOST)
