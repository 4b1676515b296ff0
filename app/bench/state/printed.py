"""The whole view as the press would make it: what is seen of the after side, dot by dot."""

import math
from dataclasses import dataclass

import numpy as np

from app.bench.state.in_colour import in_colour, is_coloured
from app.bench.state.picture import Bytes, Place
from app.bench.state.proof import cover_of
from app.bench.state.scale import Box, View
from app.bench.state.standing import Shown
from app.proof.preview import Seen, press_part
from app.proof.prove import Order
from core.press.screens import Plain
from core.sheet import Each

EVEN_FLATS = "flats even; print files hold the line alone, as black"
"""What is to be said of a coloured page: no screens are made of its flats."""

_SAMPLES = 3.0  # of the press's pixels to one of the screen


@dataclass(frozen=True, eq=False)
class Printed:
    """Pixels of the screen, grey (H, W) or in colour (H, W, 3), and where their corner lies.

    It lies so far from that of the page.
    """

    place: tuple[int, int]
    seen: Bytes


def print_view(
    shown: Shown, order: Order, view: View, left: int, each: Each = map,
) -> Printed:
    """What the press makes of the part of a view right of the screen's column ``left``."""
    seen = view.seen
    there = Box(max(seen.left, left - view.left), seen.top, max(seen.right, left - view.left),
                seen.bottom)
    scale, (width, height) = view.scale.value, view.page
    part = Box(math.floor(there.left / scale), math.floor(there.top / scale),
               math.ceil(there.right / scale), math.ceil(there.bottom / scale)).clipped(
                   width, height)
    if not (part.width and part.height):
        return Printed((there.left, there.top), np.zeros((1, 1), np.uint8))
    size = order.size_of((height, width), shown.sheet.ppi)
    where = Seen(part.top, part.left, part.height, part.width)
    tall, wide = (max(round(side * scale), 1) for side in (part.height, part.width))
    made = np.asarray(
        press_part(cover_of(shown, part), size, order, where, tall, wide, _SAMPLES), np.uint8)
    corner = round(part.left * scale), round(part.top * scale)
    if is_coloured(shown):
        under = Box(*corner, corner[0] + wide, corner[1] + tall).clipped(*view.size)
        made = in_colour(shown, made, Place(view.scale, under), each)
    return Printed(corner, made)


def printed_said(order: Order, *, coloured: bool = False) -> tuple[str, ...]:
    """What stands on a page that is shown as printed; of a coloured one whose dots they are.

    >>> from core.press.presses import Press
    >>> from core.press.screens import Screen
    >>> printed_said(Order(Press(name="coated"), "1-bit", cut=Screen(85)))[-1]
    'made of dots: place it at 100 %, do not scale it'
    """
    alone = (EVEN_FLATS,) if coloured else ()
    if order.form == "grey":
        return f"as printed: {order.press.name}, {order.press.ruling:g} lines per inch", *alone
    said = f"as printed: 1-bit at {order.ppi:g} ppi"
    if isinstance(order.cut, Plain):
        return said, *alone
    return said, *alone, "made of dots: place it at 100 %, do not scale it"
