"""What colouring makes of a list and of a palette, without a window."""

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.bench.state.areas import (
    area_at,
    areas_along,
    colour_at,
    largest_first,
    pixel_at,
    rim_of,
    seen_areas,
    seen_box,
    spot_in,
    spots_of_all,
)
from app.bench.state.colouring import (
    Laying,
    brushed,
    clear,
    cut,
    distinct,
    empty,
    fill,
    flats_of,
    hold,
    join,
    marked,
    outlined,
    settled,
)
from app.bench.state.edits import for_page
from app.bench.state.grounds import PAPER_WHITE
from app.bench.state.job import with_steps
from app.bench.state.palette import (
    Swatch,
    add,
    delete,
    move,
    parse_colour,
    recolour_name,
    recoloured,
    rename,
    swatches,
    take_in,
)
from app.bench.state.picture import Place
from app.bench.state.placing import Ruler
from app.bench.state.recolour import Worked, repainted_exactly, repainted_picture
from app.bench.state.scale import ONE, Scale, View, fit
from app.bench.state.standing import Shown, show_fully, stand
from app.filters.flats import Distinct, Flats, Plain
from app.filters.holds import Builds, Everywhere, Hold, Replaces
from app.filters.reach import Brush, Mark
from app.kinds import KINDS
from app.replay.job import Job, JobPage, dumps_job, loads_job
from core.colours import Named, Palette
from core.fault import Refused
from core.sheet import Sheet, whole
from core.steps.build_up import BuildUp
from core.steps.crop import Crop
from core.steps.fields import checked
from core.steps.fold import replay
from core.steps.lift import Lift
from core.steps.overlay import Lay
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Following, Tone
from core.steps.turn import Turn

SEA, SAND, SAIL = Named((40, 90, 140), "sea"), Named((230, 200, 110), "sand"), Named((190, 50, 40))
WHITE = (255, 255, 255)
LINES = StepList("pen", (Tone(points=Fixed(black=30.0, white=225.0)), Lift()))
LEFT, RIGHT, OUTSIDE, ON_LINE = (120.0, 150.0), (300.0, 150.0), (20.0, 20.0), (204.0, 150.0)


def drawn_page(ppi=254):
    """Two rooms side by side, and bare paper round them; 10 pixels a mm."""
    page = np.full((300, 420), 240, np.uint8)
    page[50:250, 50:370] = 20
    page[58:242, 58:200] = page[58:242, 208:362] = 240
    return Sheet(ppi=ppi, grey=page)


def made_of(steps, page=None):
    """The page after a list, whole."""
    return whole(replay(steps, page or drawn_page()).page)


def coloured(edits, steps=LINES, page=None):
    """The list after edits, each a function of the list and the sheet that it makes."""
    for edit in edits:
        steps = edit(steps, made_of(steps, page)).steps
    return steps


def filling(spot, named):
    return lambda steps, sheet: fill(steps, sheet, spot, named)


# --- areas on the screen

def test_areas_are_read_off_the_flats_that_are_shown():
    sheet = made_of(coloured([filling(LEFT, SEA), filling(RIGHT, SAND)]))
    assert colour_at(sheet, LEFT) == SEA.colour
    assert colour_at(sheet, RIGHT) == SAND.colour
    assert colour_at(sheet, OUTSIDE) == WHITE
    assert len({area_at(sheet, spot) for spot in (LEFT, RIGHT, OUTSIDE)}) == 3


@pytest.mark.parametrize("spot", [(-1.0, 5.0), (5.0, 300.0), (420.0, 5.0), (1e9, -1e9)])
def test_off_the_page_there_is_no_area(spot):
    assert area_at(made_of(coloured([filling(LEFT, SEA)])), spot) == 0


def test_without_flats_there_is_no_area():
    sheet = made_of(LINES)
    assert area_at(sheet, LEFT) == 0
    assert colour_at(sheet, LEFT) is None
    assert largest_first(sheet) == ()
    assert areas_along(sheet, (LEFT, RIGHT)) == ()


def test_areas_come_largest_first_with_a_spot_inside_each():
    sheet = made_of(coloured([filling(LEFT, SEA), filling(RIGHT, SAND)]))
    order = largest_first(sheet)
    assert [area_at(sheet, spot_in(sheet, area)) for area in order] == list(order)
    assert [sheet.palette[area] for area in order] == [WHITE, SAND.colour, SEA.colour]


def test_a_line_meets_each_area_once_and_grazes_none():
    sheet = made_of(coloured([filling(LEFT, SEA)]))
    met = areas_along(sheet, (LEFT, RIGHT))
    assert [area_at(sheet, spot) for spot in met] == [area_at(sheet, LEFT), area_at(sheet, RIGHT)]
    inside = areas_along(sheet, ((100.0, 100.0), (150.0, 200.0)))
    assert [area_at(sheet, spot) for spot in inside] == [area_at(sheet, LEFT)]


@given(st.sampled_from([ONE, Scale(block=3), Scale(up=4), Scale(block=2, parts=120)]),
       st.integers(-400, 60), st.integers(-400, 60))
def test_every_screen_pixel_shows_the_area_of_the_page_beneath_it(scale, left, top):
    flats = (np.arange(300 * 420) % 65521).astype(np.uint16).reshape(300, 420)
    view = View((64, 48), (420, 300), scale, left, top, fitted=False)
    seen = seen_areas(flats, view)
    assert seen.shape == (view.seen.height, view.seen.width)
    for row, column in ((0, 0), (-1, -1)):
        if seen.size:
            x = (view.seen.left + column % seen.shape[1] + 0.5) / scale.value
            y = (view.seen.top + row % seen.shape[0] + 0.5) / scale.value
            assert seen[row, column] == flats[min(int(y), 299), min(int(x), 419)]


def test_a_rim_lies_on_both_sides_of_the_edge():
    seen = np.zeros((20, 20), np.uint16)
    seen[5:15, 5:15] = 7
    rim = rim_of(seen, 7)
    assert set(rim[10, 5:7]) == {2}
    assert rim[10, 4] == 1
    assert not rim[8:12, 8:12].any()
    assert not rim[10, :4].any()


def test_the_pixel_under_a_spot_is_the_one_that_is_shown():
    view = View((50, 40), (100, 80), Scale(block=2), fitted=True)
    pixels = np.zeros((40, 50), np.int32)
    pixels[10, 20] = 0x102030
    assert pixel_at(pixels, view, (41.0, 20.5)) == (0x10, 0x20, 0x30)
    assert pixel_at(pixels, view, (-1.0, 20.5)) is None


# --- flats

def test_the_first_fill_lays_flats_behind_the_list_and_leaves_other_areas_white():
    edit = fill(LINES, made_of(LINES), LEFT, SEA)
    assert edit.steps.steps[:2] == LINES.steps
    assert edit.steps.steps[2:] == (Flats(fill=Plain(), seeds=(((12.0, 15.0), SEA.colour),)),)
    assert edit.name == "fill an area with sea"
    sheet = made_of(edit.steps)
    assert colour_at(sheet, LEFT) == SEA.colour
    assert colour_at(sheet, RIGHT) == WHITE


def test_filling_an_area_again_takes_its_old_colour_away():
    steps = coloured([filling(LEFT, SEA), filling(RIGHT, SAND), filling((140.0, 90.0), SAIL)])
    assert [colour for _, colour in flats_of(steps).seeds] == [SAND.colour, SAIL.colour]
    assert colour_at(made_of(steps), LEFT) == SAIL.colour


def test_an_area_is_emptied_and_the_others_keep_their_colours():
    sheet = made_of(LINES)
    assert empty(LINES, sheet, LEFT) is None, "no flats yet"
    steps = fill(LINES, sheet, LEFT, SEA).steps
    steps = fill(steps, made_of(steps), RIGHT, SAND).steps
    made = empty(steps, made_of(steps), LEFT)
    assert made.name == "empty an area"
    page = made_of(made.steps)
    assert [colour_at(page, spot) for spot in (LEFT, RIGHT)] == [WHITE, SAND.colour]
    assert len(flats_of(made.steps).seeds) == 1
    apart = distinct(LINES).steps
    before = made_of(apart)
    page = made_of(empty(apart, before, LEFT).steps)
    assert colour_at(page, LEFT) == WHITE
    assert colour_at(page, RIGHT) == colour_at(before, RIGHT)


def test_a_fill_switches_flats_on_again():
    steps = StepList("pen", (*LINES.steps, Flats(on=False)))
    assert flats_of(fill(steps, made_of(steps), LEFT, SEA).steps).on


@pytest.mark.parametrize("moved", [Turn(angle=90), Crop(left=3.0, top=2.0)])
def test_places_are_those_of_the_scan_whatever_is_cut_or_turned(moved):
    steps = StepList("pen", (moved, *LINES.steps))
    sheet = made_of(steps)
    spot = (150.0, 120.0) if isinstance(moved, Turn) else (LEFT[0] - 30, LEFT[1] - 20)
    edit = fill(steps, sheet, spot, SEA)
    assert flats_of(edit.steps).seeds[0][0] == (12.0, 15.0)
    assert colour_at(made_of(edit.steps), spot) == SEA.colour


def test_joined_areas_take_the_colour_of_the_first():
    steps = coloured([filling(LEFT, SEA), filling(RIGHT, SAND),
                      lambda steps, sheet: join(steps, sheet, (LEFT, RIGHT))])
    sheet = made_of(steps)
    assert area_at(sheet, LEFT) == area_at(sheet, RIGHT) != area_at(sheet, OUTSIDE)
    assert colour_at(sheet, RIGHT) == SEA.colour
    back = coloured([filling(LEFT, SEA), filling(RIGHT, SAND),
                     lambda steps, sheet: join(steps, sheet, (RIGHT, LEFT))])
    assert colour_at(made_of(back), LEFT) == SAND.colour


def test_areas_can_be_joined_before_any_is_filled():
    edit = join(LINES, made_of(LINES), (LEFT, RIGHT))
    sheet = made_of(edit.steps)
    assert area_at(sheet, LEFT) == area_at(sheet, RIGHT) != area_at(sheet, OUTSIDE)


def test_a_line_within_one_area_joins_nothing():
    sheet = made_of(coloured([filling(LEFT, SEA)]))
    assert join(LINES, sheet, ((100.0, 100.0), (140.0, 200.0))) is None


def test_both_parts_of_a_cut_area_keep_its_colour():
    across = tuple((x, 150.0) for x in np.linspace(52, 204, 40))
    steps = coloured([filling(LEFT, SEA), lambda steps, sheet: cut(steps, sheet, across)])
    sheet = made_of(steps)
    above, below = (120.0, 100.0), (120.0, 200.0)
    assert area_at(sheet, above) != area_at(sheet, below)
    assert colour_at(sheet, above) == colour_at(sheet, below) == SEA.colour
    again = made_of(fill(steps, sheet, below, SAND).steps)
    assert (colour_at(again, above), colour_at(again, below)) == (SEA.colour, SAND.colour)


def test_a_point_cuts_nothing():
    assert cut(LINES, made_of(LINES), (LEFT, LEFT)) is None


def test_all_areas_in_distinct_colours_and_all_white_again():
    steps = coloured([filling(LEFT, SEA), lambda steps, sheet: join(steps, sheet, (LEFT, RIGHT))])
    every = distinct(steps).steps
    assert flats_of(every).fill == Distinct()
    assert flats_of(every).joins == flats_of(steps).joins
    sheet = made_of(every)
    assert colour_at(sheet, LEFT) not in (WHITE, colour_at(sheet, OUTSIDE))
    bare = clear(every).steps
    assert (flats_of(bare).fill, flats_of(bare).seeds) == (Plain(), ())
    assert clear(LINES) is None


def by_spots(steps, *spots):
    sheet = made_of(steps)
    return [colour_at(sheet, spot) for spot in spots]


UP, DOWN = (120.0, 80.0), (120.0, 220.0)  # in the left room, above and below its middle
ACROSS = tuple((x, 150.0) for x in np.linspace(52.0, 204.0, 40))
THROUGH_RIGHT = tuple((280.0, y) for y in np.linspace(52.0, 248.0, 40))


def cutting(line):
    return lambda steps, sheet: cut(steps, sheet, line)


def all_distinct(steps, sheet):
    return distinct(steps)


def test_what_is_cut_of_a_distinct_area_alone_takes_a_new_colour():
    steps = coloured([all_distinct])
    left, right, outside = by_spots(steps, LEFT, RIGHT, OUTSIDE)
    once = coloured([cutting(ACROSS)], steps)
    up, down, *others = by_spots(once, UP, DOWN, RIGHT, OUTSIDE)
    assert others == [right, outside]
    assert left in (up, down)
    assert len({up, down, right, outside}) == 4
    twice = coloured([cutting(THROUGH_RIGHT)], once)
    assert by_spots(twice, UP, DOWN, OUTSIDE) == [up, down, outside]
    parts = by_spots(twice, (240.0, 150.0), (330.0, 150.0))
    assert right in parts
    assert len({*parts, up, down, outside}) == 5


def test_where_two_distinct_areas_become_one_the_larger_keeps_its_colour():
    steps = coloured([all_distinct, cutting(ACROSS)])
    sheet = made_of(steps)
    left, right = (area_at(sheet, spot) for spot in (UP, RIGHT))
    assert largest_first(sheet).index(right) < largest_first(sheet).index(left)
    seeds = settled(flats_of(steps), sheet)
    merged = replace(flats_of(steps), seeds=seeds, joins=(((12.0, 8.0), (30.0, 15.0)),))
    after = StepList("pen", (*LINES.steps, merged))
    assert by_spots(after, UP, RIGHT) == [colour_at(sheet, RIGHT)] * 2


def test_a_join_of_distinct_areas_leaves_the_colours_of_all_others():
    steps = coloured([all_distinct, cutting(ACROSS)])
    right, down, outside = by_spots(steps, RIGHT, DOWN, OUTSIDE)
    joined = coloured([lambda steps, sheet: join(steps, sheet, (RIGHT, UP))], steps)
    assert by_spots(joined, UP, RIGHT, DOWN, OUTSIDE) == [right, right, down, outside]


def test_a_colour_taken_from_another_area_renumbers_no_distinct_colours():
    steps = coloured([all_distinct])
    left, right, outside = by_spots(steps, LEFT, RIGHT, OUTSIDE)
    filled = coloured([filling(LEFT, Named(outside))], steps)
    assert by_spots(filled, LEFT, RIGHT, OUTSIDE) == [outside, right, outside]
    assert left not in by_spots(filled, LEFT, RIGHT, OUTSIDE)
    assert flats_of(distinct(filled).steps).seeds == ()


def test_distinct_colours_are_kept_on_a_page_that_is_turned():
    steps = coloured([all_distinct], StepList("pen", (Turn(angle=90), *LINES.steps)))
    right_turned, outside = (150.0, 300.0), (280.0, 400.0)
    before = by_spots(steps, right_turned, outside)
    after = coloured([cutting(tuple((150.0, y) for y in np.linspace(52.0, 204.0, 40)))], steps)
    assert by_spots(after, right_turned, outside) == before
    assert len(made_of(after).palette) == len(made_of(steps).palette) + 1


def test_a_spot_lies_well_inside_each_area():
    sheet = made_of(coloured([all_distinct, cutting(ACROSS)]))
    spots = spots_of_all(sheet)
    assert tuple(reversed(spots)) == largest_first(sheet)
    assert all(area_at(sheet, spot) == area for area, spot in spots.items())
    assert spots[area_at(sheet, RIGHT)] == pytest.approx((285.0, 150.0), abs=80.0)
    assert spots_of_all(made_of(LINES)) == {}


# --- holds

def test_holds_go_before_the_flats_and_change_no_alpha():
    steps = coloured([filling(LEFT, SEA)])
    edit = hold(steps, Mark(at=(20.4, 15.0)), SAIL.colour, Laying(), "hold a mark in sail")
    assert [step.kind for step in edit.steps.steps] == ["tone", "lift", "hold", "flats"]
    before, after = made_of(steps), made_of(edit.steps)
    assert np.array_equal(before.alpha, after.alpha)
    assert np.array_equal(before.flats, after.flats)
    assert after.held.any()
    assert all(checked(step) == () for step in edit.steps.steps)


def test_a_mark_is_where_it_was_clicked_and_an_outline_where_it_was_drawn():
    sheet = made_of(LINES)
    assert marked(sheet, ON_LINE).at == (20.4, 15.0)
    round_it = ((190.0, 100.0), (220.0, 100.0), (220.0, 200.0), (190.0, 200.0))
    steps = hold(LINES, outlined(sheet, round_it), SAIL.colour, Laying(), "").steps
    held = made_of(steps).held
    assert held[150, 204]
    assert not held[150, 54]
    assert outlined(sheet, round_it[:2]) is None
    assert outlined(sheet, (LEFT, LEFT, LEFT)) is None


def test_strokes_of_one_brush_are_one_step_and_others_are_not():
    sheet, laying = made_of(LINES), Laying(width=2.0, soft=0.5)

    def stroke(steps, y, laying=laying, colour=SEA.colour):
        area = brushed(sheet, ((50.0, y), (100.0, y)), laying)
        return hold(steps, area, colour, laying, "brush colour into ink").steps

    steps = stroke(stroke(LINES, 54.0), 246.0)
    assert [step.kind for step in steps.steps] == ["tone", "lift", "hold"]
    assert len(steps.steps[2].area.strokes) == 2
    for other in (stroke(steps, 90.0, replace(laying, width=3.0)),
                  stroke(steps, 90.0, colour=SAND.colour),
                  stroke(steps, 90.0, replace(laying, laying=Builds(share=40)))):
        assert [step.kind for step in other.steps] == ["tone", "lift", "hold", "hold"]
    built = replace(laying, laying=Builds(share=40))
    twice = stroke(stroke(LINES, 54.0, built), 54.0, built)
    assert len(twice.steps) == 4


def test_all_ink_takes_a_colour():
    edit = hold(LINES, Everywhere(), SEA.colour, Laying(), "hold all ink in sea")
    assert edit.steps.steps[-1] == Hold(colour=SEA.colour, area=Everywhere(), laying=Replaces())
    assert made_of(edit.steps).ink == SEA.colour


def test_flats_and_holds_stay_on_their_page():
    here = hold(coloured([filling(LEFT, SEA)]), Everywhere(), SAIL.colour, Laying(), "").steps
    there = StepList("old", (Flats(seeds=(((1.0, 1.0), SAND.colour),)), Lift()))
    made = for_page(here, there)
    assert made.steps == (*LINES.steps, there.steps[0])
    assert for_page(here, None).steps == LINES.steps


# --- recoloured at once

def worked(steps, page=None):
    page = page or drawn_page()
    return Worked(steps.steps, show_fully(stand(page, steps.steps[:1]), steps.steps, page))


@pytest.mark.parametrize("change", [
    filling(LEFT, SAIL), filling(RIGHT, SAND), filling(OUTSIDE, SAND),
    lambda steps, sheet: distinct(steps), lambda steps, sheet: clear(steps),
])
@pytest.mark.parametrize("more", [(), (Lay(lines=50.0),)])
def test_what_is_recoloured_at_once_is_what_the_list_makes(change, more):
    steps = coloured([filling(LEFT, SEA), lambda steps, sheet: join(
        steps, sheet, (LEFT, RIGHT))])
    steps = replace(steps, steps=(*steps.steps, *more))
    old = worked(steps)
    new = change(steps, old.shown.sheet).steps
    again = old.repainted(new.steps)
    sheet = made_of(new)
    assert again.steps == new.steps
    assert again.shown.sheet.palette == sheet.palette
    assert again.shown.sheet.flats is old.shown.sheet.flats
    assert np.array_equal(again.shown.sheet.flats, sheet.flats)


def test_the_same_list_is_not_worked_out_again():
    old = worked(coloured([filling(LEFT, SEA)]))
    assert old.repainted(old.steps) is old


@pytest.mark.parametrize(("end", "other"), [
    ((), (Lay(lines=40.0),)), ((Lay(lines=40.0),), (Lay(order="below", paper=(9, 9, 90)),)),
    ((Lay(lines=40.0),), ()), ((), (BuildUp(times=2.0), Lay(on=False))),
])
def test_what_lies_behind_the_flats_is_changed_at_once(end, other):
    steps = coloured([filling(LEFT, SEA)])
    old = worked(replace(steps, steps=(*steps.steps, *end)))
    new = replace(steps, steps=(*steps.steps, *other))
    again, fresh = old.repainted(new.steps), worked(new)
    assert again.shown.sheet is old.shown.sheet
    assert again.shown.rest == fresh.shown.rest
    place = Place(ONE, View((420, 300), (420, 300)).seen)
    assert np.array_equal(*(one.shown.draw(PAPER_WHITE, place) for one in (again, fresh)))
    assert repainted_picture(np.zeros((300, 420), np.int32), old.shown, again.shown, place) is None


def test_a_following_tone_behind_the_flats_is_worked_out():
    steps = coloured([filling(LEFT, SEA)]).steps
    assert worked(StepList("", steps)).repainted((*steps, Tone(points=Following()))) is None


@pytest.mark.parametrize("change", [
    lambda steps: hold(steps, Everywhere(), SEA.colour, Laying(), "").steps.steps,
    lambda steps: (*steps.steps[:2], replace(steps.steps[2], trap=0.1)),
    lambda steps: (*steps.steps[:2], replace(steps.steps[2], on=False)),
    lambda steps: (Tone(points=Fixed(black=40.0, white=225.0)), *steps.steps[1:]),
    lambda steps: steps.steps[:2],
])
def test_whatever_else_changes_is_worked_out(change):
    steps = coloured([filling(LEFT, SEA)])
    assert worked(steps).repainted(change(steps)) is None


def test_a_seed_on_solid_ink_or_off_the_page_is_worked_out():
    page = np.full((300, 420), 240, np.uint8)
    page[100:200, 100:200] = 10
    steps = coloured([filling(OUTSIDE, SEA)], page=Sheet(ppi=254, grey=page))
    old = worked(steps, Sheet(ppi=254, grey=page))
    for at in ((15.0, 15.0), (90.0, 1.0)):
        flats = replace(steps.steps[2], seeds=((at, SAND.colour),))
        assert old.repainted((*steps.steps[:2], flats)) is None


@pytest.mark.parametrize("overlay", [
    (), (Lay(lines=40.0),), (Lay(colour=60.0, paper=(10, 20, 200)),), (Lay(order="below"),),
    (BuildUp(times=2.0),),
])
@pytest.mark.parametrize("scale", [ONE, Scale(block=3), Scale(up=3), Scale(block=2, parts=120)])
def test_a_picture_is_recoloured_as_it_would_be_drawn(overlay, scale):
    steps = coloured([filling(LEFT, SEA), filling(RIGHT, SAND)])
    steps = replace(steps, steps=(*steps.steps, *overlay))
    old = worked(steps)
    new = old.repainted(fill(steps, old.shown.sheet, LEFT, SAIL).steps.steps)
    view = View((300, 220), (420, 300), scale, 7, -30, fitted=False)
    place = Place(scale, view.seen)
    before, wanted = (one.shown.draw(PAPER_WHITE, place) for one in (old, new))
    made = repainted_picture(before, old.shown, new.shown, place)
    for shift in (16, 8, 0):
        assert np.abs((made >> shift & 255) - (wanted >> shift & 255)).max() <= 1
    assert (made != before).any()


def test_a_picture_in_which_many_areas_change_is_drawn_anew():
    page = grid_page()
    old = worked(coloured([filling((20.0, 20.0), SEA)], page=page), page)
    new = old.repainted(distinct(StepList("", old.steps)).steps.steps)
    place = Place(ONE, fit((400, 400), (400, 400)).seen)
    before = old.shown.draw(PAPER_WHITE, place)
    assert repainted_picture(before, old.shown, new.shown, place) is None
    assert np.array_equal(repainted_picture(before, old.shown, old.shown, place), before)


def grid_page():
    """A hundred rooms of 4 mm, a line of 0.2 mm between them."""
    page = np.full((400, 400), 240, np.uint8)
    page[::40] = page[:, ::40] = page[1::40] = page[:, 1::40] = 10
    page[10:30, 60] = 150  # and something within a room
    return Sheet(ppi=254, grey=page)


@pytest.mark.parametrize("scale", [
    ONE, Scale(block=2), Scale(block=3), Scale(up=3), Scale(block=2, parts=120),
    Scale(block=1, parts=125), Scale(block=3, parts=101),
])
@pytest.mark.parametrize("shift", [(0, 0), (13, -37)])
def test_where_little_is_recoloured_the_exact_picture_is_drawn_there_alone(scale, shift):
    page = grid_page()
    steps = coloured([filling((60.0, 20.0), SEA), filling((180.0, 380.0), SAND)], page=page)
    old = worked(steps, page)
    sheet = old.shown.sheet
    again = fill(fill(steps, sheet, (60.0, 20.0), SAIL).steps, sheet, (220.0, 100.0), SEA).steps
    new = old.repainted(again.steps)
    place = Place(scale, View((400, 380), (400, 400), scale, *shift, fitted=False).seen)
    before, wanted = (one.shown.draw(PAPER_WHITE, place) for one in (old, new))
    drawn, draw = [], new.shown.draw

    def counted(ground, box, each):
        drawn.append(box.seen.width * box.seen.height)
        return draw(ground, box, each)

    shown = SimpleNamespace(sheet=new.shown.sheet, rest=new.shown.rest, draw=counted)
    made = repainted_exactly(before, old.shown, shown, PAPER_WHITE, place)
    assert np.array_equal(made, wanted)
    assert sum(drawn) < place.seen.width * place.seen.height / 2
    assert (made != before).any()


def test_a_thin_part_of_an_area_is_not_missed_and_much_is_drawn_whole():
    flats = np.ones((1200, 1200), np.uint16)
    flats[100:140, 100:140] = 2
    flats[120, 100:1100] = 2  # a sliver of one pixel
    sheet = replace(made_of(LINES), alpha=np.zeros(flats.shape, np.uint8), flats=flats,
                    palette=((0, 0, 0), WHITE, SEA.colour))
    other = replace(sheet, palette=((0, 0, 0), WHITE, SAIL.colour))
    paper = replace(sheet, palette=((0, 0, 0), SAND.colour, SEA.colour))
    old, new, much = (Shown.of(one, ()) for one in (sheet, other, paper))
    place = Place(Scale(block=4), fit((300, 300), (1200, 1200)).seen)
    before = old.draw(PAPER_WHITE, place)
    made = repainted_exactly(before, old, new, PAPER_WHITE, place)
    assert np.array_equal(made, new.draw(PAPER_WHITE, place))
    assert repainted_exactly(before, old, much, PAPER_WHITE, place) is None


def test_the_box_of_an_area_holds_all_of_it():
    flats = np.ones((2500, 2100), np.uint16)
    flats[700:900, 1000:1300] = 2
    seen = View((500, 400), (2100, 2500), Scale(block=5), -10, -20, fitted=False).seen
    box = seen_box(flats, 2, Scale(block=5), seen)
    assert (box.left <= 200, box.right >= 260) == (True, True)
    assert (box.top <= 140, box.bottom >= 180) == (True, True)
    assert box.width * box.height < 0.2 * seen.width * seen.height
    assert seen_box(flats, 9, Scale(block=5), seen) == seen
    outside = seen_box(flats, 2, Scale(up=4), View((50, 50), (2100, 2500), Scale(up=4)).seen)
    assert outside.width == 0 or outside.height == 0


def test_a_seed_lies_in_the_area_that_was_clicked_on_however_its_place_is_written():
    sheet = replace(made_of(LINES), ppi=2540.0)
    flats = np.ones(sheet.shape, np.uint16)
    flats[:, 101:] = 2
    sheet = replace(sheet, flats=flats, palette=((0, 0, 0), WHITE, SEA.colour))
    for x in (100.9, 101.1):
        edit = fill(LINES, sheet, (x, 50.0), SAIL)
        place = flats_of(edit.steps).seeds[0][0]
        assert area_at(sheet, Ruler.of(sheet).on_page((place,))[0]) == area_at(sheet, (x, 50.0))


# --- the palette

COAST = Palette("coast", (SEA, SAND, SAIL), 200.0)


def test_each_change_of_a_palette_has_a_name():
    assert add(COAST, Named((1, 2, 3))).name == "add the colour #010203"
    assert rename(COAST, 2, "sail").name == "call #be3228 sail"
    assert move(COAST, 0, 2).name == "move the colour sea"
    assert delete(COAST, 0).name == "delete the colour sea"
    assert take_in(COAST, Palette("inland")).name == "take in the colours inland"
    assert recolour_name(COAST, 0, (1, 2, 3)) == "change sea to #010203"


def test_a_palette_is_edited():
    assert add(COAST, SEA).palette == COAST
    assert add(COAST, replace(SAND, name="other")).chosen == 1
    assert rename(COAST, 0, "  deep \n sea ").palette.colours[0] == Named(SEA.colour, "deep sea")
    assert move(COAST, 0, 99).palette.colours == (SAND, SAIL, SEA)
    assert move(COAST, 2, -5).chosen == 0
    assert delete(COAST, 2).chosen == 1
    last = delete(Palette("", (SEA,)), 0)
    assert (last.palette.colours, last.chosen) == ((), 0)
    taken = take_in(COAST, Palette("inland", (SAND, Named((9, 9, 9), "peat"))))
    assert taken.palette == replace(COAST, colours=(*COAST.colours, Named((9, 9, 9), "peat")))
    assert taken.chosen == 3
    assert take_in(Palette(), COAST).palette.name == "coast"


@pytest.mark.parametrize(("text", "found"), [
    ("#285a8c sea", SEA), ("285A8C sea", SEA), ("  #be3228  ", SAIL), ("", None),
    ("sea", None), ("#28", None), ("\n\n", None),
])
def test_a_colour_is_read_as_it_is_typed(text, found):
    assert parse_colour(text) == found


def test_what_lays_too_much_ink_is_marked_and_worded():
    night = Named((0, 0, 51), "night")
    shown = swatches(Palette("", (SAND, night), 240.0))
    assert [swatch.over for swatch in shown] == [False, True]
    assert shown[1].ink == "ink about 280 %, over 240 %"
    assert Swatch(night, 280.0, estimate=False, most=300.0).ink == "ink 280 %"
    with pytest.raises(Refused):
        swatches(Palette("", (SEA,)), b"no profile")


def test_a_colour_that_is_changed_changes_wherever_it_was_laid():
    steps = coloured([filling(LEFT, SEA), filling(RIGHT, SAND)])
    steps = hold(steps, Everywhere(), SEA.colour, Laying(), "").steps
    other = StepList("", (Lift(), Flats(fill=Plain(colour=SEA.colour))))
    job = Job(tuple(JobPage("a.png") for _ in range(3)), palette=COAST)
    job = with_steps(with_steps(job, frozenset({0}), steps), frozenset({1}), other)
    made = recoloured(job, 0, (1, 2, 3))
    assert made.palette.colours[0] == Named((1, 2, 3), "sea")
    first = made.pages[0].steps
    assert [colour for _, colour in flats_of(first).seeds] == [(1, 2, 3), SAND.colour]
    assert first.steps[2].colour == (1, 2, 3)
    assert flats_of(made.pages[1].steps).fill == Plain(colour=(1, 2, 3))
    assert made.pages[2] is job.pages[2]


def test_a_job_keeps_its_palette_and_older_jobs_have_an_empty_one():
    text = dumps_job(Job(palette=COAST))
    assert loads_job(text.encode(), KINDS, "job").palette == COAST
    data = json.loads(text)
    del data["palette"]
    assert loads_job(json.dumps(data).encode(), KINDS, "job") == Job()


@pytest.mark.parametrize(("wrong", "said"), [
    ({"colours": [{"colour": [0, 0, 256]}]}, "0 to 255"),
    ({"colours": [{"colour": [0, 0]}]}, "needs 3"), ({"most_ink": 401}, "0 to 400"),
])
def test_a_palette_that_is_none_is_refused_with_its_place(wrong, said):
    data = json.loads(dumps_job(Job())) | {"palette": wrong}
    with pytest.raises(Refused, match=said):
        loads_job(json.dumps(data).encode(), KINDS, "job")


def test_a_brush_has_the_size_that_the_pointer_has():
    made = brushed(made_of(LINES), (LEFT,), Laying(width=4.0, soft=0.0))
    assert made == Brush(strokes=(((12.0, 15.0),),), width=4.0, soft=0.0)
