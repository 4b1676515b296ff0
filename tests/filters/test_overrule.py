"""Let stand and take out: the hand overrules."""

import numpy as np
import pytest

from app.filters.keep_marks import KeepMarks
from app.filters.overrule import LetStand, Mark, Outline, TakeOut, area_weight
from core.matte import to_depth
from core.sheet import Sheet, whole
from core.steps.crop import Crop
from core.steps.fold import replay
from core.steps.lift import Lift, One
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from tests.strategies import DEPTHS

PPI = 254  # ten pixels a millimetre
BOX = ((10.0, 20.0), (30.0, 20.0), (30.0, 32.0), (10.0, 32.0))


def drawn(seed=2):
    """A firm line and a small spot on paper of 40 by 60 mm."""
    page = np.random.default_rng(seed).normal(230, 2, (400, 600))
    page[100:104, 50:550] = 40
    page[260:264, 150:156] = 190
    return np.rint(page).clip(0, 254).astype(np.uint8)


def done(*steps, page=None):
    sheet = Sheet(ppi=PPI, grey=drawn() if page is None else page)
    return whole(replay(StepList("", steps), sheet).page)


def test_an_outline_covers_what_lies_inside_it_to_a_pixel():
    weight = area_weight(Outline(corners=BOX), Sheet(ppi=PPI, grey=drawn()))
    assert (weight[201:319, 101:299] == 255).all()
    assert weight[:199].max() == weight[321:].max() == 0
    assert weight[:, :99].max() == weight[:, 301:].max() == 0


def test_a_soft_edge_lies_outside_and_falls_evenly():
    weight = area_weight(Outline(corners=BOX, soft=4), Sheet(ppi=PPI, grey=drawn()))
    assert (weight[201:319, 101:299] == 255).all()
    fall = weight[160:200, 200].astype(int)
    assert (np.diff(fall) >= 0).all()
    assert abs(fall[20] - 255 / 2) < 8
    assert weight[155, 200] == 0


@pytest.mark.parametrize("dtype", DEPTHS)
def test_taking_out_leaves_exact_white_inside_and_all_else_alone(dtype):
    page = to_depth(drawn(), 8 * np.dtype(dtype).itemsize)
    corners = ((5.0, 8.0), (30.0, 8.0), (30.0, 12.0), (5.0, 12.0))
    out = done(TakeOut(area=Outline(corners=corners)), page=page).grey
    assert out.dtype == dtype
    assert (out[82:118, 52:298] == np.iinfo(dtype).max).all()
    assert np.array_equal(out[:, 303:], page[:, 303:])


def test_one_mark_goes_by_a_point_on_it_or_near_it():
    page = drawn()
    for at in ((20.0, 10.2), (20.0, 11.0)):
        out = done(TakeOut(area=Mark(at=at)), page=page).grey
        assert (out[100:104, 50:550] == 255).all()
        assert np.array_equal(out[200:], page[200:])
    assert np.array_equal(done(TakeOut(area=Mark(at=(20.0, 15.0))), page=page).grey, page)
    assert np.array_equal(done(TakeOut(area=Mark(at=(4000.0, 4000.0))), page=page).grey, page)


def test_a_lifted_page_is_left_without_ink_and_keeps_its_colour():
    lifted = done(Lift(ink=One(colour=(90, 20, 20))), TakeOut(area=Outline(corners=BOX)))
    assert not lifted.alpha[202:318, 102:298].any()
    assert lifted.alpha[101, 300] > 200
    assert lifted.ink == (90, 20, 20)


def test_what_keep_marks_took_stands_again_as_scanned():
    kept = done(KeepMarks()).grey
    back = done(KeepMarks(), LetStand(area=Outline(corners=BOX))).grey
    assert (kept[205:240, 110:290] == 255).all()
    assert np.array_equal(back[202:318, 102:298], drawn()[202:318, 102:298])
    assert np.array_equal(back[:198], kept[:198])


def test_what_stands_again_goes_through_every_other_step():
    others = (Tone(points=Fixed(black=40, white=225)), Lift())
    area = Outline(corners=BOX)
    last = done(KeepMarks(), *others, LetStand(area=area)).alpha
    first = done(KeepMarks(), LetStand(area=area), *others).alpha
    assert np.array_equal(last, first)
    assert np.array_equal(last[202:318, 102:298], done(*others).alpha[202:318, 102:298])


def test_a_place_is_where_it_is_on_the_page_at_that_step():
    area = Outline(corners=tuple((x - 5, y - 10) for x, y in BOX))
    cut = done(KeepMarks(), Crop(left=5, top=10), LetStand(area=area)).grey
    assert np.array_equal(cut[102:218, 52:248], drawn()[202:318, 102:298])


def test_later_steps_overrule_earlier_ones():
    area = Outline(corners=BOX)
    gone = done(KeepMarks(), LetStand(area=area), TakeOut(area=area)).grey
    assert (gone[202:318, 102:298] == 255).all()
    back = done(KeepMarks(), TakeOut(area=area), LetStand(area=area)).grey
    assert np.array_equal(back[202:318, 102:298], drawn()[202:318, 102:298])


def test_one_mark_stands_again_by_a_point_on_it():
    back = done(KeepMarks(), LetStand(area=Mark(at=(15.3, 26.2)))).grey
    assert np.array_equal(back[260:264, 150:156], drawn()[260:264, 150:156])
    assert (back[220:250] == 255).all()


def test_alone_let_stand_changes_nothing():
    page = Sheet(ppi=PPI, grey=drawn())
    assert replay(StepList("", (LetStand(),)), page).page is page
    assert LetStand().apply(page) is page


def test_colour_stands_again_with_its_grey():
    colour = np.stack([drawn()] * 3, axis=2)
    sheet = Sheet(ppi=PPI, colour=colour)
    steps = StepList("", (KeepMarks(), LetStand(area=Outline(corners=BOX))))
    back = whole(replay(steps, sheet).page)
    assert np.array_equal(back.grey[202:318, 102:298], drawn()[202:318, 102:298])


def test_the_sentences_name_the_place():
    assert LetStand(area=Outline(corners=BOX)).sentence() == (
        "Let all stand as scanned inside an outline (4 corners, 10 to 30 mm across and 20 to 32 "
        "mm down; edge soft by 0 mm)."
    )
    assert TakeOut(area=Mark(at=(12.5, 8.0))).sentence() == (
        "Take out all of the one connected mark at 12.5 mm from the left and 8 mm from the top."
    )
