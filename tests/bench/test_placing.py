"""What the chosen step holds on the page, and what a hand makes of it; no window is needed."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.bench.state.brush import next_size
from app.bench.state.edges import GRIPS, LEAST_KEPT, Cut
from app.bench.state.placing import (
    Aim,
    Level,
    Painting,
    Ruler,
    aimed,
    as_looked_at,
    cropped,
    handhold,
    levelled,
    outline_of,
    painted,
    slope_of,
    strokes_of,
)
from app.filters.holds import Everywhere, Hold
from app.filters.keep_marks import KeepMarks
from app.filters.overrule import LetStand, TakeOut
from app.filters.reach import Brush, Mark, Outline, brushed
from app.filters.straighten import Found, Given, Straighten
from core.placing import AS_SCANNED
from core.sheet import Sheet, whole
from core.steps.crop import Crop
from core.steps.fold import replay
from core.steps.lift import Lift
from core.steps.places import MOST_CORNERS
from core.steps.steplist import Nested, StepList
from core.steps.turn import Turn

RULER = Ruler(254, AS_SCANNED, (2000, 3000))  # 200 by 300 mm
SPOT = st.tuples(st.floats(0, 2000), st.floats(0, 3000))


@given(st.floats(-20, 20), st.floats(-30, 30), st.floats(-30, 30), st.lists(SPOT, min_size=1))
def test_the_ruler_goes_there_and_back(degrees, right, down, spots):
    placing = AS_SCANNED.turned(degrees, (100, 150)).shifted(right, down)
    ruler = Ruler(254, placing, (2000, 3000))
    scan = ruler.on_scan(spots)
    for spot, place, back in zip(spots, scan, ruler.on_page(scan), strict=True):
        assert min(place) >= 0
        exact = placing.on_scan([(spot[0] / 10, spot[1] / 10)])[0]
        if exact.min() >= 0:  # else it was held at the scan's edge
            assert back == pytest.approx(spot, abs=0.11)


@pytest.mark.parametrize("moves", [
    (), (Crop(left=3, top=5),), (Turn(angle=90), Crop(top=4)),
    (Straighten(angle=Given(degrees=3)),),
], ids=repr)
def test_what_is_drawn_round_a_spot_takes_out_that_spot(moves):
    grey = np.full((600, 400), 230, np.uint8)
    grey[300:310, 200:210] = 20
    steps = (TakeOut(area=Outline()), *moves, Lift())
    shown = whole(replay(StepList("", (*moves, Lift())), Sheet(ppi=254, grey=grey)).page)
    ruler = Ruler.of(shown)
    rows, columns = np.nonzero(shown.alpha > 150)
    left, right, top, bottom = columns.min(), columns.max(), rows.min(), rows.max()
    drawn = ((left - 6, top - 6), (right + 6, top - 6), (right + 6, bottom + 6),
             (left - 6, bottom + 6))
    new = aimed(steps[0], handhold(steps, 0, ruler), drawn, ruler)
    done = whole(replay(StepList("", (new, *moves, Lift())), Sheet(ppi=254, grey=grey)).page)
    assert done.alpha.max() < 40
    spots = handhold((new, *moves, Lift()), 0, ruler).spots
    assert [round(x) for spot in spots for x in spot] == pytest.approx(
        [x for spot in drawn for x in spot], abs=1)


def test_each_kind_of_place_has_its_handhold():
    def hold(step):
        return handhold((step, Lift()), 0, RULER)

    assert hold(TakeOut(area=Mark(at=(2.0, 3.0)))) == Aim(False, ((20.0, 30.0),), ("area", "at"))
    assert hold(TakeOut(area=Mark())) == Aim(False, (), ("area", "at"))  # not yet chosen
    assert hold(TakeOut(area=Outline())) == Aim(True, (), ("area", "corners"))
    assert hold(LetStand(area=Outline())).outline
    brush = Brush(strokes=(((1.0, 2.0),),), width=4, soft=2)
    assert hold(Hold(area=brush)) == Painting((((10.0, 20.0),),), 4, 2, 254, ("area",))
    assert hold(Crop(left=2, bottom=7)) == Cut(2, 0, 0, 7, 200, 300)
    assert hold(Straighten(angle=Given(degrees=1.5))) == Level(1.5)
    for step in (Hold(area=Everywhere()), Lift(), KeepMarks(),
                 TakeOut(on=False)):
        assert hold(step) is None
    assert handhold((TakeOut(),), None, RULER) is None
    assert handhold((TakeOut(),), 4, RULER) is None


def test_an_angle_that_was_found_can_be_taken_hold_of_while_it_is_the_only_one():
    step, placing = Straighten(angle=Found()), AS_SCANNED.turned(90, (0, 0)).turned(-1.3, (9, 9))
    ruler = Ruler(254, placing)
    assert handhold((Turn(angle=90), step), 1, ruler) == Level(-1.3)
    assert handhold((step, Straighten()), 0, ruler) is None
    assert levelled(step, -1.25) == Straighten(angle=Given(degrees=-1.25))


def test_a_crop_is_looked_at_before_the_cut_and_nothing_behind_it_moves_the_page():
    inner = Nested(list=StepList("in", (Turn(), KeepMarks())))
    steps = (Turn(), Crop(left=9), inner, Straighten(), Lift())
    seen = as_looked_at(steps, 1)
    assert [step.on for step in seen] == [True, False, True, False, True]
    assert [step.on for step in seen[2].list.steps] == [False, True]
    assert as_looked_at(steps, 3)[3].on
    for chosen in (None, 0, 4, 9):
        assert as_looked_at(steps, chosen) == steps
    off = (Crop(left=9, on=False), Turn())
    assert as_looked_at(off, 0) == off


def test_a_slip_of_the_hand_is_no_outline():
    assert outline_of(((5, 5),), RULER) is None
    assert outline_of(((5, 5), (6, 5), (5, 5)), RULER) is None
    hold = handhold((TakeOut(area=Outline()),), 0, RULER)
    assert aimed(TakeOut(area=Outline()), hold, ((5, 5), (900, 5)), RULER) is None


@given(st.lists(SPOT, min_size=3, max_size=30))
def test_a_drawn_outline_can_be_written_down(spots):
    corners = outline_of(tuple(spots), RULER)
    assert corners is None or 3 <= len(corners) <= MOST_CORNERS


def test_a_line_of_many_places_becomes_strokes_that_meet():
    turn = np.linspace(0, 900, 9000)
    spots = tuple((1000 + 900 * np.cos(t) * t / 900, 1500 + 900 * np.sin(t) * t / 900)
                  for t in turn)
    strokes = strokes_of(spots, RULER)
    assert len(strokes) > 1
    assert all(len(stroke) <= MOST_CORNERS for stroke in strokes)
    assert all(a[-1] == b[0] for a, b in pairwise(strokes))
    assert strokes[0][0] == RULER.on_scan(spots[:1])[0]
    assert strokes[-1][-1] == RULER.on_scan(spots[-1:])[0]


def test_a_simplified_stroke_covers_what_was_drawn():
    rng = np.random.default_rng(5)
    spots = tuple(map(tuple, 500 + np.cumsum(rng.normal(0, 3, (400, 2)), axis=0)))
    sheet = Sheet(ppi=254, alpha=np.zeros((1000, 1000), np.uint8))
    exact = brushed(sheet, Brush(strokes=(RULER.on_scan(spots),), width=3, soft=2)).astype(int)
    kept = brushed(sheet, Brush(strokes=strokes_of(spots, RULER), width=3, soft=2)).astype(int)
    assert np.abs(exact - kept).max() <= 20  # a pixel of 0.1 mm along a fall of 2 mm is 13


def test_a_second_stroke_adds_to_the_same_step():
    step = TakeOut(note="dust")
    one, apart = painted(step, handhold((step,), 0, RULER), ((10, 10), (500, 10)), RULER, (4, 1))
    assert not apart
    assert one.area == Brush(strokes=(((1.0, 1.0), (50.0, 1.0)),), width=4, soft=1)
    two, apart = painted(one, handhold((one,), 0, RULER), ((10, 90),), RULER, (4, 1))
    assert not apart
    assert two.area.strokes == (*one.area.strokes, ((1.0, 9.0),))


def test_a_brush_of_another_size_paints_a_step_of_its_own():
    step = TakeOut(area=Brush(strokes=(((1.0, 1.0),),), width=4, soft=1), note="dust")
    other, apart = painted(step, handhold((step,), 0, RULER), ((10, 90),), RULER, (8, 1))
    assert apart
    assert other == TakeOut(area=Brush(strokes=(((1.0, 9.0),),), width=8, soft=1))


@given(st.floats(0.05, 500))
def test_every_size_has_a_next_one_until_the_end(value):
    larger, smaller = (next_size("width", value, larger=way) for way in (True, False))
    assert larger > value or value >= 500
    assert 0.05 <= smaller < value or value <= 0.1


CUTS = st.builds(Cut, *[st.floats(0, 90).map(lambda x: round(x, 1))] * 4,
                 st.just(200.0), st.just(300.0))


@given(CUTS, st.sampled_from(GRIPS), st.floats(-400, 600), st.floats(-400, 600))
def test_edges_go_where_they_are_dragged_and_some_of_the_page_stays(cut, grip, x, y):
    moved = cut.moved(grip, x, y)
    assert moved.where("right") - moved.where("left") >= LEAST_KEPT - 0.06
    assert moved.where("bottom") - moved.where("top") >= LEAST_KEPT - 0.06
    for edge in ("left", "top", "right", "bottom"):
        assert moved.off(edge) >= 0
        if edge not in grip:
            assert moved.off(edge) == cut.off(edge)
    inside = cut.moved(("left", "top"), 20, 30)
    assert (inside.left, inside.top) == (20, 30)


def test_corners_are_taken_before_edges_and_the_middle_is_free():
    cut = Cut(10, 10, 10, 10, 200, 300)
    assert cut.grip_at(11, 9, 2) == ("left", "top")
    assert cut.grip_at(190, 150, 2) == ("right",)
    assert cut.grip_at(100, 291, 2) == ("bottom",)
    assert cut.grip_at(100, 150, 2) is None
    assert cut.grip_at(10, 297, 2) is None


def test_a_nudge_moves_an_edge_the_way_the_arrow_points():
    cut = Cut(10, 10, 10, 10, 200, 300).nudged(("right", "bottom"), 0.1, -1)
    assert (cut.right, cut.bottom, cut.left, cut.top) == (9.9, 11, 10, 10)


def test_only_the_dragged_edge_of_a_crop_changes():
    step = Crop(left=2.05, note="scanner's edge")
    cut = handhold((step,), 0, RULER).moved(("right",), 180, 0)
    assert cropped(step, cut) == Crop(left=2.05, right=20, note="scanner's edge")


def test_a_line_drawn_along_a_border_straightens_the_page():
    """A stroke that runs 2 degrees clockwise down lies level after the line is drawn along it."""
    page = np.full((600, 900), 230, np.uint8)
    rows = 250 + np.arange(900) * np.tan(np.radians(2))
    for column, row in enumerate(rows):
        page[round(row) : round(row) + 4, column] = 20
    ruler = Ruler(300, AS_SCANNED, (900, 600))
    for ends in (((50, rows[50]), (850, rows[850])), ((850, rows[850]), (50, rows[50]))):
        slope = slope_of(*ends, ruler)
        new = levelled(Straighten(), 0 - slope)
        assert new.angle.degrees == pytest.approx(-2, abs=0.01)
    turned_page = new.apply(Sheet(ppi=300, grey=page)).grey
    dark = [int(np.argmin(turned_page[:, column])) for column in (100, 450, 800)]
    assert max(dark) - min(dark) <= 4
    assert slope_of((100, 50), (103, 550), ruler) == pytest.approx(-0.34, abs=0.01)
    assert slope_of((100, 50), (110, 50), ruler) is None
