"""The glass: how much of the page lies under it, and what the press makes of that."""

from dataclasses import dataclass

import numpy as np

from app.bench.state.in_colour import in_colour, is_coloured
from app.bench.state.picture import Bytes, Place
from app.bench.state.printed import EVEN_FLATS
from app.bench.state.proof import cover_of
from app.bench.state.scale import ONE, Box
from app.bench.state.standing import Shown
from app.proof.preview import Seen, press_part
from app.proof.prove import Order
from core.press.screens import Diffusion
from core.units import MM_PER_INCH

TIMES = (4, 8, 12)
"""How often it magnifies: times the print size."""

ACROSS = 264
"""Its diameter, in pixels of the screen at 100 %."""

_SAMPLES = 3.0  # of the press's pixels to one of the glass: more is not seen, and takes too long


def next_times(times: int, *, larger: bool) -> int:
    """The next stronger or weaker glass; the strongest and the weakest stay.

    >>> next_times(4, larger=True), next_times(12, larger=True), next_times(4, larger=False)
    (8, 12, 4)
    """
    at = TIMES.index(times) + (1 if larger else -1)
    return TIMES[min(max(at, 0), len(TIMES) - 1)]


@dataclass(frozen=True)
class Glass:
    """Where on the page it lies (pixels of the page), how strong it is, how large on the screen.

    ``dots_per_mm`` are the screen's pixels to a millimetre.
    """

    spot: tuple[float, float]
    times: int
    across: int
    dots_per_mm: float

    def part(self, order: Order, shape: tuple[int, int], ppi: float) -> Box:
        """The square of the page under it, in pixels; it may hang over the page's edge.

        >>> from core.press.presses import Press
        >>> Glass((500.0, 500.0), 4, 254, 10.0).part(Order(Press()), (1000, 1000), 400)
        Box(left=450, top=450, right=550, bottom=550)
        """
        size = order.size_of(shape, ppi)
        side = max(round(self.across / (self.times * self.dots_per_mm) / MM_PER_INCH
                         * ppi / size.scale), 1)
        left, top = (round(at - side / 2) for at in self.spot)
        return Box(left, top, left + side, top + side)


def under_glass(shown: Shown, order: Order, glass: Glass) -> Bytes:
    """What is seen in the glass as the press prints it: grey (across, across), or in colour.

    Only the part under it is made, so it takes as long on a large page as on a small one.
    """
    height, width = shown.sheet.shape
    box = glass.part(order, (height, width), shown.sheet.ppi)
    there = box.clipped(width, height)
    cover = np.zeros((box.height, box.width), np.uint8)
    if there.width and there.height:
        rows = slice(there.top - box.top, there.bottom - box.top)
        columns = slice(there.left - box.left, there.right - box.left)
        cover[rows, columns] = cover_of(shown, there)
    seen = Seen(box.top, box.left, box.height, box.width)
    size = order.size_of((height, width), shown.sheet.ppi)
    dots = np.asarray(
        press_part(cover, size, order, seen, glass.across, glass.across, _SAMPLES), np.uint8)
    return _coloured(shown, dots, box, there) if is_coloured(shown) else dots


def _coloured(shown: Shown, dots: Bytes, box: Box, there: Box) -> Bytes:
    """The dots in colour, where the page lies under the glass: ``there`` of its ``box``."""
    made = np.dstack([dots] * 3)
    left, top, right, bottom = (round(edge * dots.shape[0] / box.width) for edge in (
        there.left - box.left, there.top - box.top,
        there.right - box.left, there.bottom - box.top))
    if right > left and bottom > top:
        made[top:bottom, left:right] = in_colour(
            shown, np.ascontiguousarray(dots[top:bottom, left:right]), Place(ONE, there))
    return made


def is_quick(shown: Shown, order: Order) -> bool:
    """Whether the glass can be filled anew at every move: not where dots are diffused."""
    return shown.quick and not (order.form == "1-bit" and isinstance(order.cut, Diffusion))


def said(glass: Glass, order: Order, *, coloured: bool = False) -> str:
    """What stands at the edge of the glass; of a coloured page whose dots they are.

    >>> from core.press.presses import PRESSES
    >>> said(Glass((0, 0), 8, 264, 4.0), Order(PRESSES["newsprint"]))
    '8 times, newsprint, 100 lines per inch'
    """
    form = (f"{order.press.ruling:g} lines per inch" if order.form == "grey"
            else f"1-bit, {order.ppi:g} ppi")
    alone = f"; {EVEN_FLATS}" if coloured else ""
    return f"{glass.times} times, {order.press.name}, {form}{alone}"
