"""Pale blue pencil beneath ink that is not blue: an underdrawing that is not to be printed."""

import cv2
import numpy as np

from app.filters.grid import reduced
from app.filters.noise import cell_side
from app.filters.pieces import find_pieces
from app.filters.specks import Bits, disc
from core.light import rgb_to_grey
from core.matte import to_depth
from core.sheet import Plane
from core.steps.grey import Pencil, hue_of
from core.units import mm_to_px

_COLOURED = 0.05  # of full scale between the channels: tones that differ less have no hue
_PALE, _INK = 0.6, 0.4  # of white: pencil is nowhere darker, and ink is darker
_BLACK = 0.3  # of its darkness at most is an ink's colour, if it has none
_KIN, _SOME = 90.0, 0.1  # degrees from the pencil's: ink of such a hue has pale edges of it, and
# where so much of the ink is of one, nothing is told
_ABOUT_MM = 0.5  # a pale edge of darker ink lies so near to it
_WIDEST_MM = 1.2  # what is wider is a wash
_ONE_HUE = 5.0  # degrees: the hues of old paper and of shadows differ by more
_LINE_MM = 2.0  # so long a line of it is at least


def blue_pencil_share(colour: Plane, ppi: float) -> float:
    """How much of a page in even light, (H, W, 3), is thin pale blue beneath ink; 0-1.

    0 where the ink is blue itself or near it, where there is none, and where the blue is a wash.

    >>> page = np.full((300, 300, 3), 230, np.uint8)
    >>> page[100:104, 20:280] = (164, 205, 225)
    >>> blue_pencil_share(page, 300)
    0.0
    >>> page[200:210, 20:280] = 30
    >>> 0.005 < blue_pencil_share(page, 300) < 0.02
    True
    """
    cell = cell_side(ppi)
    small = to_depth(reduced(colour, cell), 8)
    ppi /= cell
    tone = rgb_to_grey(small) / np.float32(255)
    chroma = np.ptp(small, axis=2) / np.float32(255)
    ink = tone < _INK
    hue = (hue_of(small) - hue_of(np.array([[Pencil().colour]], np.uint8)) + 180) % 360 - 180
    kin = (chroma[ink] > _BLACK * (1 - tone[ink])) & (np.abs(hue[ink]) <= _KIN)
    if not ink.any() or kin.mean() > _SOME:
        return 0.0
    beside_ink = cv2.dilate((tone < _PALE).astype(np.uint8), disc(_ABOUT_MM, ppi)) > 0
    blue = (chroma >= _COLOURED) & (np.abs(hue) <= Pencil().reach)
    lines = _lines(np.asarray(blue & ~beside_ink).view(np.uint8), ppi)
    wide = cv2.morphologyEx(lines, cv2.MORPH_OPEN, disc(_WIDEST_MM / 2, ppi))
    every, broad = np.count_nonzero(lines), np.count_nonzero(wide)
    if 2 * broad >= every or hue[lines > 0].std() > _ONE_HUE:
        return 0.0
    return float((every - broad) / lines.size)


def _lines(mask: Bits, ppi: float) -> Bits:
    """The connected parts that are as long as a line."""
    pieces = find_pieces(mask)
    kept = pieces.longest >= mm_to_px(_LINE_MM, ppi)
    kept[0] = False
    return np.asarray(kept[pieces.labels], np.uint8)
