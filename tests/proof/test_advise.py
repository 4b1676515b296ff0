"""What is said of resolution, ruling and lines before anything is looked at."""

import pytest

from app.proof.prove import Order, advise
from core.press.presses import Press
from core.press.screens import Diffusion, Plain, Screen
from core.press.size import PrintSize


def advised(scanned, order):
    return advise(PrintSize((1000, 1000), scanned), order)


def said(scanned, **order):
    return [advice.said for advice in advised(scanned, Order(Press(), **order))]


@pytest.mark.parametrize(("ppi", "form", "between"), [
    (599, "1-bit", True), (600, "1-bit", False), (1200, "1-bit", False), (300, "grey", False),
])
def test_a_bitmap_of_more_than_twice_the_scans_pixels_is_said_to_be_drawn_between_them(
    ppi, form, between,
):
    sentences = said(ppi, form=form, ppi=1200)
    assert any("less than half of the bitmap's 1200" in one for one in sentences) == between


@pytest.mark.parametrize(("cut", "dots"), [(Plain(), 0), (Diffusion(), 1), (Screen(80), 1)])
def test_a_page_made_of_dots_is_to_be_placed_as_it_is(cut, dots):
    assert sum("do not scale it" in one for one in said(1200, form="1-bit", cut=cut)) == dots
    assert not any("do not scale it" in one for one in said(1200, form="grey", cut=cut))


def test_a_ruling_is_judged_by_the_pixels_that_make_its_dots():
    own = Order(Press(ruling=150, output=2400), "1-bit", ppi=1200, cut=Screen(100))
    grey = Order(Press(ruling=150, output=2400))
    plain = Order(Press(), "1-bit", ppi=1200)
    found = [[advice.grade for advice in advised(1200, order) if "a cell of" in advice.said]
             for order in (own, grey, plain)]
    assert found == [["warn"], ["good"], []]
