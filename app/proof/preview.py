"""The page as the press would screen it: what the glass shows, dot by dot."""

import math
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from app.pages.bitmap import resized
from app.proof.prove import Order
from core.press.dots import printed_cover
from core.press.presses import Press
from core.press.screens import Cut, Diffusion, Plain, Screen
from core.press.size import PrintSize
from core.sheet import Plane

_MOST_DOTS = 12_000_000  # pixels of the press in one picture: beyond it dots are not seen anyway
_LEAST_CELL = 2.0  # pixels of the picture: smaller cells are seen as a tone


@dataclass(frozen=True)
class Seen:
    """The part of a page that is looked at, in pixels of the scan: from row and column, size."""

    top: int
    left: int
    height: int
    width: int


def press_view(
    cover: Plane, size: PrintSize, order: Order, seen: Seen, height: int, width: int,
    samples: float = math.inf,
) -> Plane:
    """What the press makes of a part of a page: grey (``height``, ``width``) uint8, white paper.

    ``cover`` (H, W) uint8 is the page's. Graded tones are enlarged by the press's gain and screened
    at its ruling and resolution, 1-bit pages are cut as ordered; dots lie where they lie on the
    page. Where cells are too small to be seen they have their mean tone. At most ``samples`` of
    the press's pixels go to one of the picture's, across and down: dots of a fine press are then
    drawn a little coarser, at the same places, in a fraction of the time.

    >>> page = np.full((600, 600), 128, np.uint8)
    >>> shown = press_view(page, PrintSize((600, 600), 600), Order(Press()),
    ...                    Seen(0, 0, 60, 60), 240, 240)
    >>> shown.shape, int(shown.min()), int(shown.max())
    ((240, 240), 0, 255)
    """
    part = cover[seen.top : seen.top + seen.height, seen.left : seen.left + seen.width]
    return press_part(part, size, order, seen, height, width, samples)


def press_part(
    part: Plane, size: PrintSize, order: Order, seen: Seen, height: int, width: int,
    samples: float = math.inf,
) -> Plane:
    """The same of a part that is given alone; ``seen`` says where on the page it lies."""
    cut, ppi = order.cut, order.ppi
    if order.form == "grey":
        part = np.asarray(cv2.LUT(part, _enlarged(order.press)), np.uint8)
        cut, ppi = Screen(order.press.ruling), order.press.output
    pixel = size.ppi / size.scale * width / max(seen.width, 1)  # of the picture, to the inch
    if isinstance(cut, Screen) and pixel < _LEAST_CELL * cut.ruling:
        return np.asarray(np.invert(resized(part, height, width)))
    ppi = _coarser(cut, ppi, samples * pixel, size.ppi_printed)
    factor = ppi * size.scale / size.ppi
    down, across = (max(round(side * factor), 1) for side in part.shape)
    if down * across > _MOST_DOTS:
        if isinstance(cut, Plain):
            part = np.where(cut.cut(part, 0, ppi), np.uint8(255), np.uint8(0))
        return np.asarray(np.invert(resized(part, height, width)))
    top, left = round(seen.top * factor), round(seen.left * factor)
    inked = cut.cut(_quickly(part, down, across, cv2.INTER_LINEAR), top, ppi, left)
    dots = np.where(inked, np.uint8(0), np.uint8(255))
    even = height % down == 0 and width % across == 0  # else some dots would be given more room
    return _quickly(dots, height, width, cv2.INTER_NEAREST if even else cv2.INTER_LINEAR)


def _quickly(part: Plane, height: int, width: int, larger: int) -> Plane:
    """The same part at another size, to be looked at: within 1 of 255 of ``resized``."""
    smaller = height <= part.shape[0] and width <= part.shape[1]
    way = cv2.INTER_AREA if smaller else larger
    return np.asarray(cv2.resize(part, (width, height), interpolation=way), np.uint8)


def _coarser(cut: Cut, ppi: float, most: float, scanned: float) -> float:
    """The resolution at which dots are drawn: the press's, or less where that is not seen.

    A plain cut is made no coarser than the page itself, and diffused dots as they are.
    """
    if most >= ppi or isinstance(cut, Diffusion):
        return ppi
    if isinstance(cut, Screen):
        return float(max(round(most), math.ceil(2 * cut.ruling)))
    return max(most, min(ppi, scanned))


@lru_cache(maxsize=8)
def _enlarged(press: Press) -> Plane:
    """Printed cover of each cover, 256 values."""
    printed = printed_cover(np.arange(256) / 255, press.gain)
    return np.rint(np.clip(printed, 0, 1) * 255).astype(np.uint8)

