"""What the glass shows: dots of the right tone, in their own places on the page."""

import numpy as np
import pytest

from app.proof.preview import Seen, press_view
from app.proof.prove import Order
from core.press.dots import printed_cover
from core.press.presses import PRESSES, Press
from core.press.screens import Diffusion, Plain, Screen
from core.press.size import PrintSize

SHAPE = (900, 800)
SIZE = PrintSize(SHAPE, 600)


@pytest.mark.parametrize("press", PRESSES.values(), ids=lambda press: press.name)
@pytest.mark.parametrize("tone", [0, 26, 128, 255])
def test_graded_tones_have_the_gain_of_the_press(press, tone):
    page = np.full(SHAPE, tone, np.uint8)
    shown = press_view(page, SIZE, Order(press), Seen(100, 50, 200, 200), 300, 300)
    wanted = 1 - float(printed_cover(tone / 255, press.gain))
    assert shown.mean() / 255 == pytest.approx(wanted, abs=0.012)


@pytest.mark.parametrize("order", [
    Order(Press()), Order(Press(), "1-bit", ppi=1200, cut=Screen(85, 22)),
    Order(Press(), "1-bit", ppi=1200, cut=Plain()),
], ids=lambda order: order.form)
def test_a_part_is_part_of_the_whole(order):
    ramp = np.arange(SHAPE[1]) % 200 * 255 // 199
    page = np.tile(ramp.astype(np.uint8), (SHAPE[0], 1))
    factor = 4 if order.form == "grey" else 2
    whole = press_view(page, SIZE, order, Seen(0, 0, 200, 240), 200 * factor, 240 * factor)
    part = press_view(page, SIZE, order, Seen(60, 80, 90, 100), 90 * factor, 100 * factor)
    inner = whole[60 * factor : 150 * factor, 80 * factor : 180 * factor]
    # the outermost pixels lack the neighbours that the whole has
    edge = slice(factor, -factor)
    assert (part[edge, edge] == inner[edge, edge]).mean() > 0.999
    assert set(np.unique(part)) == {0, 255}


def test_too_large_to_show_dots_it_has_their_tone():
    page = np.full((4000, 4000), 100, np.uint8)
    size = PrintSize((4000, 4000), 600)
    order = Order(Press(gain=10))
    shown = press_view(page, size, order, Seen(0, 0, 4000, 4000), 100, 100)
    assert np.ptp(shown) == 0
    assert shown[0, 0] / 255 == pytest.approx(1 - float(printed_cover(100 / 255, 10)), abs=0.003)
    bits = press_view(page, size, Order(Press(), "1-bit"), Seen(0, 0, 4000, 4000), 100, 100)
    assert (bits == 255).all()


def test_diffusion_keeps_the_tone():
    page = np.full(SHAPE, 100, np.uint8)
    order = Order(Press(), "1-bit", ppi=600, cut=Diffusion())
    shown = press_view(page, SIZE, order, Seen(0, 0, 300, 300), 300, 300)
    assert 1 - shown.mean() / 255 == pytest.approx(100 / 255, abs=0.01)
