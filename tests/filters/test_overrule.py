"""Let stand and take out: the hand overrules."""

import numpy as np
import pytest

from app.filters.keep_marks import KeepMarks
from app.filters.overrule import LetStand, TakeOut
from app.filters.reach import Brush, Mark, Outline, reached
from app.filters.straighten import Given, Straighten
from core.matte import to_depth
from core.sheet import Sheet, whole
from core.steps.crop import Crop
from core.steps.fold import replay
from core.steps.lift import Lift, One
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from core.steps.turn import Turn
from tests.strategies import DEPTHS

PPI = 254  # ten pixels a millimetre
ALL = ((0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0))
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
    weight = reached(Outline(corners=BOX), Sheet(ppi=PPI, grey=drawn()))
    assert (weight[201:319, 101:299] == 255).all()
    assert weight[:199].max() == weight[321:].max() == 0
    assert weight[:, :99].max() == weight[:, 301:].max() == 0


def test_a_soft_edge_lies_outside_and_falls_evenly():
    weight = reached(Outline(corners=BOX, soft=4), Sheet(ppi=PPI, grey=drawn()))
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


MOVES = [
    (Crop(left=5, top=10),), (Turn(angle=90),), (Turn(angle=270), Crop(right=3)),
    (Crop(top=4), Turn(angle=180)), (Straighten(angle=Given(degrees=2)), Turn(angle=90)),
]
MIDDLES = tuple((x + 0.05, y + 0.05) for x, y in BOX)  # of pixels, however the page is turned
AREAS = [
    Outline(corners=MIDDLES), Outline(corners=MIDDLES, soft=2), Mark(at=(15.3, 26.2)),
    Brush(strokes=(((12.05, 22.05), (28.05, 26.05)), ((20.05, 30.05),)), width=3, soft=2),
]


@pytest.mark.parametrize("area", AREAS, ids=lambda area: type(area).__name__)
@pytest.mark.parametrize("moves", MOVES, ids=repr)
@pytest.mark.parametrize("kind", [TakeOut, LetStand])
def test_places_stay_on_the_drawing_whatever_is_cut_and_turned(kind, moves, area):
    cleared = () if kind is TakeOut else (TakeOut(area=Outline(corners=ALL)),)
    first = done(*cleared, kind(area=area), *moves).grey.astype(int)
    last = done(*cleared, *moves, kind(area=area)).grey.astype(int)
    tilted = any(isinstance(step, Straighten) for step in moves)
    # a drawn place is rounded to a sixteenth of a pixel, and the pixel grid is another
    apart = np.abs(first - last) > (40 if tilted else 3)
    assert apart.mean() < (0.002 if tilted else 0.0006)
    touched = np.abs(first - done(*cleared, *moves).grey.astype(int)) > 3
    assert touched.any()


def test_a_brush_covers_its_width_and_fades_beyond_it():
    brush = Brush(strokes=(((10.05, 20.05), (40.05, 20.05)),), width=4, soft=3)
    weight = reached(brush, Sheet(ppi=PPI, grey=drawn())).astype(int)
    column = weight[:, 250]
    assert (column[180:221] == 255).all()
    assert (np.diff(column[220:252]) <= 0).all()
    assert abs(column[235] - 255 / 2) <= 1
    assert column[251] == column[149] == 0
    assert weight[200, 81] == 255
    assert weight[200, 60] < 160


def test_a_second_stroke_adds_and_takes_nothing_away():
    one, other = ((5.0, 5.0), (20.0, 12.0)), ((50.0, 30.0),)
    sheet = Sheet(ppi=PPI, grey=drawn())
    alone = [reached(Brush(strokes=(path,), width=5, soft=4), sheet) for path in (one, other)]
    both = reached(Brush(strokes=(one, other), width=5, soft=4), sheet)
    assert np.array_equal(both, np.maximum(*alone))


def test_strokes_cover_the_same_looked_at_alone_or_together():
    sheet = Sheet(ppi=PPI, grey=drawn())
    near, far = ((5.0, 5.0), (20.0, 12.0)), ((6.0, 4.0), (21.0, 11.0))
    spread = (near, ((50.0, 36.0),), ((2.0, 38.0), (4.0, 36.0)))
    for strokes in (spread, (near, far), (*spread, far)):
        alone = [reached(Brush(strokes=(path,), width=3, soft=2), sheet) for path in strokes]
        both = reached(Brush(strokes=strokes, width=3, soft=2), sheet)
        assert np.array_equal(both, np.maximum.reduce(alone))


@pytest.mark.parametrize("strokes", [
    (), (((4000.0, 4000.0),),), (((70.0, 20.0), (90.0, 25.0)),),
], ids=["none", "far off", "past the edge"])
def test_a_brush_that_never_met_the_page_changes_nothing(strokes):
    page = drawn()
    out = done(TakeOut(area=Brush(strokes=strokes, width=4, soft=0)), page=page).grey
    assert np.array_equal(out, page)


def test_a_new_step_does_nothing_until_it_is_aimed():
    assert np.array_equal(done(TakeOut()).grey, drawn())


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
    assert TakeOut(area=Brush(strokes=(BOX,))).sentence() == (
        "Take out all under a brush 3 mm wide (1 stroke; edge soft by 1 mm)."
    )
    assert LetStand(area=Outline(corners=BOX)).sentence() == (
        "Let all stand as scanned inside an outline (4 corners, 10 to 30 mm across and 20 to 32 "
        "mm down; edge soft by 0 mm)."
    )
    assert TakeOut(area=Mark(at=(12.5, 8.0))).sentence() == (
        "Take out all of the one connected mark at 12.5 mm from the left and 8 mm from the top."
    )


def test_what_was_not_yet_drawn_is_said_to_be_so():
    drawn = Outline(corners=((1.0, 1.0), (2.0, 1.0), (2.0, 2.0)))
    assert "not yet drawn" in TakeOut(area=Outline()).sentence()
    assert "3 corners, 1 to 2 mm across" in TakeOut(area=drawn).sentence()
    assert "mark at a place not yet chosen" in LetStand(area=Mark()).sentence()
    assert "at 3 mm from the left" in LetStand(area=Mark(at=(3.0, 0.0))).sentence()
