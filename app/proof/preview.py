"""The page as the press would screen it: what the glass shows, dot by dot."""

from dataclasses import dataclass

import numpy as np

from app.pages.bitmap import resized
from app.proof.prove import Order
from core.press.dots import printed_cover
from core.press.presses import Press
from core.press.screens import Plain, Screen
from core.press.size import PrintSize
from core.sheet import Plane

_MOST_DOTS = 4_000_000  # pixels of the press in one picture: beyond it dots cannot be seen anyway


@dataclass(frozen=True)
class Seen:
    """The part of a page that is looked at, in pixels of the scan: from row and column, size."""

    top: int
    left: int
    height: int
    width: int


def press_view(
    cover: Plane, size: PrintSize, order: Order, seen: Seen, height: int, width: int,
) -> Plane:
    """What the press makes of a part of a page: grey (``height``, ``width``) uint8, white paper.

    ``cover`` (H, W) uint8 is the page's. Graded tones are enlarged by the press's gain and screened
    at its ruling and resolution, 1-bit pages are cut as ordered; dots lie where they lie on the
    page. A part too large to show its dots has their mean tone.

    >>> page = np.full((600, 600), 128, np.uint8)
    >>> shown = press_view(page, PrintSize((600, 600), 600), Order(Press()),
    ...                    Seen(0, 0, 60, 60), 240, 240)
    >>> shown.shape, int(shown.min()), int(shown.max())
    ((240, 240), 0, 255)
    """
    part = cover[seen.top : seen.top + seen.height, seen.left : seen.left + seen.width]
    cut, ppi = order.cut, order.ppi
    if order.form == "grey":
        part = _enlarged(order.press)[part]
        cut, ppi = Screen(order.press.ruling), order.press.output
    factor = ppi * size.scale / size.ppi
    down, across = (max(round(side * factor), 1) for side in part.shape)
    if down * across > _MOST_DOTS:
        if isinstance(cut, Plain):
            part = np.where(cut.cut(part, 0, ppi), np.uint8(255), np.uint8(0))
        return np.asarray(np.invert(resized(part, height, width)))
    top, left = round(seen.top * factor), round(seen.left * factor)
    inked = cut.cut(resized(part, down, across), top, ppi, left)
    return resized(np.where(inked, np.uint8(0), np.uint8(255)), height, width)


def _enlarged(press: Press) -> Plane:
    """Printed cover of each cover, 256 values."""
    printed = printed_cover(np.arange(256) / 255, press.gain)
    return np.rint(np.clip(printed, 0, 1) * 255).astype(np.uint8)

