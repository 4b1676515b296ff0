"""Whether what was drawn on a page is of two strengths, as ink over pencil is."""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import disc
from app.filters.noise import Ground
from app.filters.outline import Mask
from app.filters.pieces import find_pieces
from app.filters.weakest import Tones

_GRAIN = 2.0  # deviations of the noise: what is paler is the paper about a mark
_ABOUT_MM = 0.35  # of what is darker: a stroke's pale edge is the stroke's
_LONG_MM = 2.0  # pale grain of ink, and pale ends of its strokes, hang together for less
_STEPS = 3  # of darkness to one half as dark again: as wide a gap at least
_DARKNESS = 0.08 * 1.5 ** (np.arange(5 * _STEPS + 2) / _STEPS)  # of the paper's tone
_DEEP = 0.67  # of a gap, in logarithms: far enough from the paler
_NEARLY = 0.9  # of what is paler than its darker end is so a step before: farther is needless
_MORE = 0.4  # of what is paler, or of what is darker if that is less: hardly more
_PALE_SHARE, _DARK_SHARE = 0.0015, 0.02  # of what is drawn is paler, and darker, at least


def parting_tone(darkest: Tones, ground: Ground, support: Mask) -> float | None:
    """The tone, 0-255, between two strengths of drawn marks; None if there is but one.

    ``darkest`` (h, w) is ``darkest_tones`` of the page, ``support`` (h, w) where marks are, 0 where
    there are none. Strokes that are no darker than a tone all along are two strengths' if hardly
    more of them are no darker than one half as dark again; one tool's strokes swing all the way.

    >>> from app.filters.noise import measure_ground
    >>> page = np.full((300, 300), 230, np.uint8)
    >>> page[50:60, 20:280] = 40
    >>> one = measure_ground(page, 150)
    >>> parting_tone(one.tone, one, (page < 200).view(np.uint8)) is None
    True
    >>> page[150:160, 20:280] = 190
    >>> two = measure_ground(page, 150)
    >>> 80 < parting_tone(two.tone, two, (page < 200).view(np.uint8)) < 190
    True
    """
    drawn = (support > 0) & (ground.tone < ground.paper - _GRAIN * ground.noise)
    total = np.count_nonzero(drawn)
    if not total:
        return None
    seen = np.where(support > 0, darkest, np.float32(255))
    near = cv2.erode(seen, disc(ground.pixels(_ABOUT_MM)))
    limits = ground.paper * (1 - _DARKNESS)
    shares = np.array([_long(drawn & (near > limit), ground) for limit in limits]) / total
    first, last = _widest_gap(shares)
    if last - first < _STEPS:
        return None
    return float(ground.paper * (1 - _parting(shares, first, last)))


def _parting(shares: npt.NDArray[np.float64], first: int, last: int) -> float:
    """A darkness in a gap, no more than it must be.

    Thin or worn strokes of ink are paler in places than on the whole, and would be cut there.
    """
    nearly = first + int(np.argmax(shares[first : last + 1] >= _NEARLY * shares[last]))
    deep = _DARKNESS[first] ** (1 - _DEEP) * _DARKNESS[last] ** _DEEP
    return float(min(deep, _DARKNESS[min(nearly + 1, last)]))


def _widest_gap(shares: npt.NDArray[np.float64]) -> tuple[int, int]:
    """From which darkness to which hardly more is paler: (0, 0) if there is none such."""
    paler, darker = shares[:, None], 1 - shares[None, :]
    told = (paler >= _PALE_SHARE) & (darker >= _DARK_SHARE)
    more = np.triu(1 - darker - paler <= _MORE * np.minimum(paler, darker))
    steps = np.arange(len(shares))
    wide = np.where(told & more, steps[None, :] - steps[:, None], 0)
    first, last = np.unravel_index(int(np.argmax(wide)), wide.shape)
    return int(first), int(last)


def _long(part: npt.NDArray[np.bool_], ground: Ground) -> int:
    """How many cells lie in pieces of a part that are as long as strokes."""
    pieces = find_pieces(part.view(np.uint8))
    return int(pieces.area[pieces.longest >= ground.pixels(_LONG_MM)].sum())
