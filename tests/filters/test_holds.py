"""Colour holds: alpha never changes, empty ground stays empty, layings replace or build up."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.filters.holds import Builds, Everywhere, Hold, Replaces
from app.filters.reach import Brush, Mark, Outline
from core.layers import composite
from core.sheet import Sheet
from core.steps.crop import Crop
from core.steps.document import dumps, loads, table_of_kinds
from core.steps.steplist import StepList
from core.steps.turn import Turn

RED = (200, 20, 10)
BOX = ((2.0, 2.0), (6.0, 2.0), (6.0, 6.0), (2.0, 6.0))
AREAS = [
    Everywhere(), Outline(corners=BOX), Outline(corners=BOX, soft=1.5), Mark(at=(3.0, 3.0)),
    Brush(strokes=(((1.0, 1.0), (7.0, 6.0)), ((2.0, 5.0),)), width=2, soft=1),
    Brush(strokes=(((4.0, 4.0),),), soft=0),
]


def page(kind=np.uint8, ink=(0, 0, 0), seed=5):
    """8 x 8 mm at 254 ppi: two grainy marks on clear ground."""
    rng = np.random.default_rng(seed)
    full = int(np.iinfo(kind).max)
    alpha = np.zeros((80, 80), kind)
    for top, left in ((20, 20), (20, 55)):
        grain = rng.integers(0, full + 1, (30, 15)) * (rng.random((30, 15)) < 0.8)
        alpha[top : top + 30, left : left + 15] = grain
    colour = rng.integers(0, full + 1, (80, 80, 3)).astype(kind) if ink is None else None
    return Sheet(ppi=254, alpha=alpha, ink=ink, colour=colour)


@pytest.mark.parametrize("area", AREAS, ids=repr)
@pytest.mark.parametrize("laying", [Replaces(), Builds(share=40)], ids=repr)
@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
@pytest.mark.parametrize("ink", [(0, 0, 0), None], ids=str)
def test_alpha_stays_as_it_is_and_nothing_comes_to_empty_ground(area, laying, kind, ink):
    before = page(kind, ink)
    bytes_before = before.alpha.tobytes()
    after = Hold(colour=RED, area=area, laying=laying).apply(before)
    assert after.alpha.tobytes() == bytes_before == before.alpha.tobytes()
    shown, bare = np.dstack(composite(after)), np.dstack(composite(before))
    clear = after.alpha == 0
    assert (shown[clear] == bare[clear]).all()
    assert after.held is None or not after.held[clear].any()
    assert (shown != bare).any()


@given(data=st.data())
def test_alpha_stays_under_any_brush(data):
    length = st.floats(0, 9)
    path = data.draw(st.lists(st.tuples(length, length), min_size=1, max_size=5))
    brush = Brush(strokes=(tuple(path),), width=data.draw(st.floats(0.05, 6)),
                  soft=data.draw(st.floats(0, 3)))
    before = page()
    after = Hold(colour=RED, area=brush).apply(before)
    assert (after.alpha == before.alpha).all()
    assert not (after.held > 0)[before.alpha == 0].any()


def test_inside_an_outline_the_ink_takes_the_colour_and_outside_it_keeps_its_own():
    after = Hold(colour=RED, area=Outline(corners=BOX)).apply(page())
    inked = after.alpha > 0
    inside = np.zeros_like(inked)
    inside[20:60, 20:60] = True
    assert (after.colour[inked & inside] == RED).all()
    outside = inked.copy()
    outside[18:62, 18:62] = False
    assert (after.colour[outside] == 0).all()
    assert ((after.held > 0) == (inked & (after.colour == RED).all(axis=-1))).all()


def test_one_mark_takes_the_colour_and_the_other_does_not():
    after = Hold(colour=RED, area=Mark(at=(2.7, 3.5))).apply(page())
    inked = after.alpha > 60
    assert (after.colour[:, :45][inked[:, :45]] == RED).all()
    assert (after.colour[:, 50:][inked[:, 50:]] == 0).all()


def test_all_ink_in_one_colour_is_ink_of_that_colour():
    after = Hold(colour=RED).apply(page(ink=None))
    assert after.ink == RED
    assert after.colour is None
    assert after.held is None


def test_a_second_laying_replaces_or_builds_up():
    first = Hold(colour=(100, 100, 100), area=Outline(corners=BOX)).apply(page())
    at = tuple(np.argwhere(first.held > 0)[40])
    replaced = Hold(colour=RED, area=Outline(corners=BOX)).apply(first)
    assert tuple(replaced.colour[at]) == RED
    half = Hold(colour=(200, 200, 200), area=Outline(corners=BOX), laying=Builds(share=50))
    once = half.apply(page())
    twice = half.apply(once)
    # the share is laid in 255ths: 128 of 255
    assert once.colour[at][0] == round(200 * 128 / 255) == 100
    assert twice.colour[at][0] == (100 * 127 + 200 * 128 + 127) // 255


def test_a_soft_brush_fades():
    alpha = np.full((80, 80), 255, np.uint8)
    brush = Brush(strokes=(((4.0, 0.0), (4.0, 8.0)),), width=2, soft=2)
    row = Hold(colour=(255, 255, 255), area=brush).apply(Sheet(ppi=254, alpha=alpha)).colour[40]
    shares = row[:, 0].astype(int)
    assert (shares[31:49] == 255).all()
    assert (np.diff(shares[49:]) <= 0).all()
    assert shares[79] == shares[0] == 0
    assert 100 < shares[60] < 150


def test_clear_ground_beside_held_ink_carries_its_colour():
    after = Hold(colour=RED, area=Outline(corners=BOX)).apply(page())
    row, column = np.argwhere((after.alpha == 0) & (np.roll(after.held, 1, axis=1) > 0))[0]
    assert tuple(after.colour[row, column]) == RED


@pytest.mark.parametrize("edit", [Crop(left=1, top=0.5), Turn(angle=90), Turn(angle=180),
                                  Turn(angle=270)], ids=repr)
def test_places_lie_on_the_scan_whatever_was_cut_and_turned(edit):
    middles = tuple((x + 0.05, y + 0.05) for x, y in BOX)  # of pixels, however it is turned
    hold = Hold(colour=RED, area=Outline(corners=middles))
    one = edit.apply(hold.apply(page()))
    other = hold.apply(edit.apply(page()))
    inked = one.alpha > 0
    assert (one.colour == other.colour).all(axis=-1)[inked].all()
    assert (one.held == other.held).all()


@pytest.mark.parametrize("area", AREAS, ids=repr)
def test_a_step_survives_its_json(area):
    steps = StepList("page", (Hold(colour=RED, area=area, laying=Builds(share=20)),))
    assert loads(dumps(steps), table_of_kinds(Hold)) == steps


@pytest.mark.parametrize("shape", [(1, 1), (2, 90)])
def test_pages_of_any_size(shape):
    for area in AREAS:
        sheet = Sheet(ppi=300, alpha=np.full(shape, 255, np.uint8))
        assert (Hold(area=area).apply(sheet).alpha == 255).all()
