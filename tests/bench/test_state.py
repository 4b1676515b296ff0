"""The bench's state without a window: sentences, edits, history, readings, themes, commands."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.bench.showing import strip_shown
from app.bench.state.commands import COMMANDS, MENUS, in_menu
from app.bench.state.desk import Desk
from app.bench.state.edits import (
    again,
    change_name,
    delete,
    duplicate,
    for_page,
    insert,
    insert_list,
    move,
    place_for,
    switch,
    turned,
    with_own,
    with_tone,
)
from app.bench.state.grounds import GROUNDS, next_ground
from app.bench.state.history import History
from app.bench.state.job import with_steps, without
from app.bench.state.picture import Ground
from app.bench.state.sentence import (
    Control,
    Words,
    changed,
    get,
    inmost,
    nudged,
    parse_number,
    pieces,
    to_way,
    wrong,
)
from app.bench.state.standing import (
    before_side,
    settle_quickly,
    show_fully,
    show_now,
    stand,
    standing_index,
    tables_from,
    tone_index,
)
from app.bench.state.strip import Points, points_of, readings, share, with_points
from app.bench.state.theme import DARK, LIGHT, contrast
from app.filters.holds import Hold
from app.filters.keep_marks import KeepMarks
from app.filters.overrule import LetStand, TakeOut
from app.filters.reach import Brush
from app.kinds import KINDS
from app.replay.job import Job, JobPage
from app.replay.page import lifted
from core.readings import measure_cover, survey
from core.sheet import Paper, Sheet, whole
from core.steps.build_up import BuildUp
from core.steps.crop import Crop
from core.steps.fields import Either, Number, checked, plain, specs
from core.steps.fold import replay
from core.steps.lift import Lift, Own
from core.steps.steplist import Nested, StepList
from core.steps.tone import Fixed, Following, Tone
from core.steps.turn import Turn
from tests.bench.conftest import page_pixels

PAPER = Paper(230, 3, (230,) * 3)
SHEET = Sheet(ppi=300, grey=page_pixels())


def said(step):
    """The sentence as its pieces say it."""
    return "".join(
        piece.text if isinstance(piece, Words) else
        piece.lead if isinstance(piece.spec, Either) else piece.said for piece in pieces(step))


@pytest.mark.parametrize("kind", KINDS)
def test_the_pieces_of_every_kind_say_its_sentence(kind):
    step = KINDS[kind]()
    assert said(step) == step.sentence()


@pytest.mark.parametrize("kind", KINDS)
def test_every_number_of_every_kind_can_be_nudged_and_put_back(kind):
    step = KINDS[kind]()
    for piece in pieces(step):
        if isinstance(piece, Control) and isinstance(piece.spec, Number):
            by = 1 if piece.value < piece.spec.highest else -1
            value = nudged(piece.value, piece.spec, by)
            assert value != piece.value
            moved = changed(step, piece.path, value)
            assert get(moved, piece.path) == value
            assert changed(moved, piece.path, piece.value) == step


def test_a_fine_brush_is_nudged_finely_and_a_broad_one_broadly():
    width = specs(Brush)["width"]
    widths = [0.05]
    for _ in range(120):
        widths.append(nudged(widths[-1], width, 1))
    assert all(b - a == pytest.approx(0.1) for a, b in itertools.pairwise(widths) if b <= 10)
    assert widths[-1] - widths[-2] == 1
    assert nudged(2.0, width, 10) == 3.0
    assert nudged(0.3, width, -10) == 0.05
    for value in (0.4, 3.0, 9.9, 10.0, 10.05, 40.0):
        assert nudged(nudged(value, width, 1), width, -1) == pytest.approx(value)


@pytest.mark.parametrize("kind", KINDS)
def test_every_way_of_every_kind_can_be_chosen(kind):
    step = KINDS[kind]()
    for piece in pieces(step):
        if isinstance(piece, Control) and isinstance(piece.spec, Either):
            for option in piece.spec.options:
                assert type(get(to_way(step, piece.path, option), piece.path)) is option


def test_numbers_of_the_same_name_are_kept_from_way_to_way():
    step = Tone(points=Fixed(black=30, white=220))
    other = to_way(step, ("points",), Following)
    assert (other.points.black, other.points.white) == (30, 220)


@pytest.mark.parametrize(("text", "value"), [
    ("12", 12), (" 12.5 mm", 12.5), ("12,5", 12.5), ("9999", 100), ("-3", 0),
    ("\N{MINUS SIGN}3", 0), ("", None), ("wide", None), ("nan", None),
])
def test_what_is_typed_is_read_as_people_write_it(text, value):
    assert parse_number(text, Number("left", "mm", 0, 100)) == value


def test_a_step_that_is_wrong_in_itself_says_so():
    assert wrong(Tone(points=Fixed(black=200, white=100)))
    assert not wrong(Tone(points=Fixed(black=100, white=200)))


STEPS = StepList("three", (Turn(), Tone(), Lift()))


def kinds(steps):
    return [step.kind for step in steps.steps]


def test_edits_leave_the_list_they_came_from_alone():
    assert kinds(delete(STEPS, 1).steps) == ["turn", "lift"]
    assert kinds(duplicate(STEPS, 1).steps) == ["turn", "tone", "tone", "lift"]
    assert kinds(insert(STEPS, 3, BuildUp()).steps) == ["turn", "tone", "lift", "build up"]
    assert [s.on for s in switch(STEPS, 1).steps.steps] == [True, False, True]
    assert kinds(insert_list(STEPS, 0, StepList("other")).steps)[0] == "list"
    assert kinds(STEPS) == ["turn", "tone", "lift"]


@given(st.integers(0, 2), st.integers(-1, 5))
def test_a_moved_step_has_the_place_that_was_asked_for(start, to):
    edit = move(STEPS, start, to)
    assert edit.steps.steps[edit.chosen] == STEPS.steps[start]
    assert edit.chosen == min(max(to, 0), 2)
    assert sorted(kinds(edit.steps)) == sorted(kinds(STEPS))


def test_deleting_the_last_step_leaves_none_chosen():
    assert delete(StepList("", (Turn(),)), 0).chosen is None


def test_each_edit_has_a_name():
    assert switch(STEPS, 1).name == "switch tone off"
    assert change_name(Tone(), ("points", "white")) == "tone, white point"


def test_a_new_step_goes_where_it_does_its_work():
    assert place_for(STEPS, Crop()) == 1
    assert place_for(STEPS, BuildUp()) == 3
    clearing = StepList("", (KeepMarks(), Tone(points=Following()), Lift()))
    assert place_for(clearing, LetStand()) == 1


def test_same_again_takes_the_last_values():
    steps = StepList("", (BuildUp(times=3, on=False, note="x"),))
    assert again(BuildUp(), steps) == BuildUp(times=3)
    assert again(Turn(), steps) == Turn()


def test_a_tone_step_is_found_or_made_before_the_lift():
    assert with_tone(STEPS, None) == (STEPS, 1)
    made, index = with_tone(StepList("", (Turn(), Lift(ink=Own()))), None)
    assert (kinds(made), index) == (["turn", "tone", "lift"], 1)


def test_what_overrules_on_one_page_stays_there():
    here = StepList("pen", (KeepMarks(), LetStand(), Tone(), Lift()))
    there = StepList("old", (TakeOut(), Lift()))
    made = for_page(here, there)
    assert kinds(made) == ["keep marks", "take out", "tone", "lift"]
    assert made.name == "pen"
    assert kinds(for_page(here, None)) == ["keep marks", "tone", "lift"]


@pytest.mark.parametrize(("own", "new", "made"), [
    ((Crop(), KeepMarks(), Tone()), (Turn(), KeepMarks(), Tone()),
     ["turn", "crop", "keep marks", "tone"]),
    ((KeepMarks(), Crop(), Tone()), (KeepMarks(), BuildUp(), Tone()),
     ["keep marks", "crop", "build up", "tone"]),
    ((KeepMarks(), Crop(), Tone()), (Crop(left=3), KeepMarks(), Tone()),
     ["crop", "keep marks", "tone"]),
    ((KeepMarks(), Tone()), (Crop(left=3), Tone()), ["tone"]),
])
def test_what_a_page_keeps_stands_where_it_stood_or_where_the_lists_did(own, new, made):
    kept = with_own(StepList("new", new), StepList("own", own), frozenset({"crop"}))
    assert kinds(kept) == made
    assert Crop(left=3) not in kept.steps


def test_a_hold_stays_on_its_page_and_stands_behind_the_lift():
    here = StepList("pen", (Tone(), Lift(), Hold()))
    there = StepList("old", (Hold(colour=(1, 2, 3)), Lift()))
    assert for_page(here, there).steps == (Tone(), Lift(), Hold(colour=(1, 2, 3)))
    assert for_page(here, None).steps == (Tone(), Lift())


@pytest.mark.parametrize("kind", [
    made for made in KINDS.values() if made.in_place and made is not Nested])
def test_a_kind_that_leaves_marks_in_place_does_so(kind):
    lifted_first = (Lift(),) if kind.on_ink else ()
    done = whole(replay(StepList("", (*lifted_first, kind())), SHEET).page)
    tones = done.grey if done.alpha is None else 255 - done.alpha
    rows, columns = np.nonzero(tones < 60)
    ends = rows.min(), rows.max(), columns.min(), columns.max()
    assert tones.shape == SHEET.shape
    assert ends == (100, 139, 50, 549)


def test_quarter_turns_join():
    steps = turned(STEPS, 90)
    assert steps.steps[0].angle == 180
    assert kinds(turned(turned(steps, 90), 90)) == ["tone", "lift"]


@given(st.lists(st.sampled_from("abc"), max_size=12))
def test_undo_goes_back_to_the_beginning_and_redo_forward_again(letters):
    history = History("")
    for letter in letters:
        history = history.then(history.now + letter, letter)
    there = history
    while there.undo_name:
        there = there.undone()
    assert there.now == ""
    while there.redo_name:
        there = there.redone()
    assert there == history


def test_what_holds_for_every_state_is_no_change():
    history = History("a").then("b", "two").then("c", "three").undone()
    held = history.mapped(str.upper)
    assert (held.now, held.undone().now, held.redone().now) == ("B", "A", "C")
    assert (held.undo_name, held.redo_name) == ("two", "three")


def test_a_change_after_undo_forgets_what_was_undone():
    history = History(1).then(2, "two").undone().then(3, "three")
    assert history.redone() is history
    assert history.then(3, "again") is history


def test_undo_goes_to_the_page_that_it_changes(tmp_path):
    job = Job(tuple(JobPage(tmp_path / f"{n}.png") for n in range(3)))
    desk = Desk(History(job), 0, frozenset({0}))
    desk = desk.then(with_steps(job, frozenset({0}), STEPS), "set").on_page(2)
    assert desk.undone().current == 0
    assert desk.undone().page.steps is None
    assert desk.undone().on_page(1).redone().current == 0


def test_taking_pages_away_leaves_one_in_hand_that_is_there(tmp_path):
    job = Job(tuple(JobPage(tmp_path / f"{n}.png") for n in range(2)))
    desk = Desk(History(job), 1, frozenset({1})).then(without(job, frozenset({1})), "take off")
    assert desk.current == 0
    assert desk.then(Job(), "all").page is None


@given(st.floats(0, 254), st.floats(1, 255), st.integers(-300, 600))
def test_points_never_pass_each_other(black, white, tone):
    points = Points(min(black, white - 1), max(white, black + 1) if white > black else white)
    if points.black < 0:
        return
    for which in ("black", "white", "middle"):
        moved = points.moved_to(which, tone)
        step = with_points(Tone(), moved, PAPER)
        assert checked(step) == ()


def test_following_points_are_shown_where_they_lie_on_this_page():
    paper = Paper(207, 3, (207,) * 3)
    step = Tone(points=Following(black=40, white=220, paper=230))
    points = points_of(step, paper)
    assert points.white == pytest.approx(198)
    moved = with_points(step, points.moved_to("white", 207), paper)
    assert moved.points.white == pytest.approx(230)
    assert points_of(moved, paper).white == pytest.approx(207)


def test_readings_from_counts_are_those_of_the_pixels():
    steps = (Tone(points=Fixed(black=40, white=231)), Lift(), BuildUp(times=3))
    standing = stand(SHEET, ())
    rest = settle_quickly(standing, steps)
    alpha_of, after = tables_from(standing, rest)
    peaks = survey(SHEET).peaks()
    read = readings(standing.counts, peaks, peaks, alpha_of, after)
    done = replay(StepList("", steps), SHEET)
    cover = measure_cover(SHEET, done.page, peaks)
    assert read.printing == cover.printing
    alpha = whole(done.page).alpha
    drawn = SHEET.grey < peaks.paper - 4 * max(peaks.noise, 0.5)
    assert read.solid == (alpha[drawn] == 255).mean()
    assert read.lost == (alpha[drawn] < 2.55).mean()


def test_on_cleared_paper_the_readings_tell_paper_and_marks_by_the_right_page():
    grain = np.random.default_rng(3).integers(-6, 7, (400, 400))
    page = np.clip(228 + grain, 0, 255).astype(np.uint8)
    page[100:120, 40:360] = 60
    led = (KeepMarks(),)
    standing = stand(Sheet(ppi=300, grey=page), led)
    steps = (*led, Tone(points=Fixed(black=40, white=240)), Lift())
    alpha_of, after = tables_from(standing, settle_quickly(standing, steps))
    read = readings(standing.counts, standing.peaks, standing.bare, alpha_of, after)
    assert standing.bare.paper == pytest.approx(228, abs=1)
    assert standing.peaks.paper == 255
    done = replay(StepList("", steps), Sheet(ppi=300, grey=page))
    cover = measure_cover(done.before, done.page, survey(done.before).peaks())
    assert read.printing == cover.printing == 0
    assert read.lost == 0


def test_a_veil_of_two_percent_three_times_is_five_point_nine():
    standing = stand(Sheet(ppi=300, grey=page_pixels().astype(np.uint16) * 257), ())
    rest = (Tone(), Lift(), BuildUp(times=3))
    alpha_of, after = tables_from(standing, rest)
    read = readings(standing.counts, standing.peaks, standing.bare, alpha_of, after)
    assert share(read.veil) == "5.9 %"


def test_the_strip_holds_the_chosen_tone_step_else_the_first_that_is_on():
    steps = (Tone(on=False), Turn(), Tone(), Lift())
    assert tone_index(steps) == 2
    assert tone_index(steps, 0) == 0
    assert tone_index(steps, 1) == 2
    assert standing_index((Crop(), Lift())) == 1
    assert standing_index((Lift(),)) == 0


PAGE_LISTS = {
    "fixed": (Tone(points=Fixed(black=30, white=220)), Lift()),
    "following": (Crop(left=5), Tone(points=Following(black=30, white=220, paper=230)), Lift()),
    "own": (Tone(points=Fixed(black=30, white=220)), Lift(ink=Own())),
    "behind": (Tone(points=Fixed(black=30, white=220)), Turn(), Lift()),
    "grey": (Tone(points=Fixed(black=30, white=220)),),
}


@pytest.mark.parametrize("name", PAGE_LISTS)
def test_what_is_shown_in_the_end_is_what_is_written(name):
    steps = PAGE_LISTS[name]
    standing = stand(SHEET, steps[: standing_index(steps)])
    shown = show_fully(standing, steps, SHEET)
    assert shown.exact
    done = whole(lifted(replay(StepList("", steps), SHEET)).page)
    made = whole(lifted(replay(StepList("", shown.rest), shown.sheet)).page)
    assert (made.alpha == done.alpha).all()
    assert shown.quick == (name != "own")


def test_what_can_be_shown_at_once_is_marked_where_a_page_step_is_left_out():
    steps = PAGE_LISTS["behind"]
    standing = stand(SHEET, ())
    now = show_now(standing, steps)
    assert not now.exact
    assert now.sheet.shape == SHEET.shape
    assert show_now(standing, PAGE_LISTS["own"]) is None
    assert show_now(standing, PAGE_LISTS["following"]) is None


PAPER_AWAY = (KeepMarks(), Tone(), Lift())


@pytest.mark.parametrize(("moves", "lies"), [
    ((), lambda grey: grey),
    ((Turn(angle=180),), lambda grey: grey[::-1, ::-1]),
    ((Turn(angle=90), Crop(left=10)), lambda grey: np.rot90(grey, -1)[:, 118:]),
])
def test_beside_the_result_stands_the_scan_however_it_was_laid(moves, lies):
    for steps in ((*moves, *PAPER_AWAY), (*PAPER_AWAY[:1], *moves, *PAPER_AWAY[1:])):
        standing = stand(SHEET, steps[: standing_index(steps)])
        side = before_side(SHEET, standing, show_now(standing, steps))
        assert (side.grey == lies(SHEET.grey)).all()
    assert moves or side is SHEET


def test_a_page_is_turned_once_for_all_that_is_shown_of_it(monkeypatch):
    turned, turn = [], Turn.apply

    def counted(step, sheet):
        turned.append(step)
        return turn(step, sheet)

    monkeypatch.setattr(Turn, "apply", counted)
    lead, kept = (Turn(angle=90), Crop(left=2)), (KeepMarks(), LetStand(), Tone(), Lift())
    standing = stand(SHEET, (*lead, KeepMarks()))
    assert len(turned) == 1
    shown = show_fully(standing, (*lead, *kept), SHEET)
    other = (*lead, KeepMarks(limit=3.0))
    again = stand(SHEET, other, known=standing)
    assert len(turned) == 1
    for made, steps in ((shown.sheet, (*lead, *kept)), (again.sheet, other)):
        assert (made.grey == whole(replay(StepList("", steps), SHEET).before).grey).all()
    stand(SHEET, (Turn(angle=180), KeepMarks()), known=standing)
    assert len(turned) == 4
    late = stand(SHEET, (KeepMarks(), Turn(angle=90)))
    assert len(turned) == 6
    once = stand(SHEET, (KeepMarks(limit=3.0), Turn(angle=90)), known=late)
    assert len(turned) == 7  # what is made of it is turned, not the scan again
    assert once.scan is late.scan


def test_figures_are_not_said_of_a_page_that_is_not_worked_through_yet():
    scanned, cleared = stand(SHEET, ()), stand(SHEET, (KeepMarks(),))
    assert strip_shown(cleared, PAPER_AWAY, None, log=True).readings is not None
    assert strip_shown(scanned, PAPER_AWAY, None, log=True).readings is None
    assert strip_shown(scanned, PAPER_AWAY[1:], None, log=True).readings is not None


def test_where_the_drawing_is_moved_behind_the_tones_the_page_before_that_stands_beside():
    steps = PAGE_LISTS["behind"]
    standing = stand(SHEET, steps[: standing_index(steps)])
    shown = show_fully(standing, steps, SHEET)
    assert before_side(SHEET, standing, shown) is shown.sheet


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
def test_contrast_meets_wcag_2_2_aa(theme):
    """WCAG 2.2, 1.4.3 (text 4.5) and 1.4.11 (controls and graphics 3)."""
    grounds = [theme.desk, theme.card, theme.field]
    for text, ground in itertools.product((theme.ink, theme.quiet, theme.accent), grounds):
        assert contrast(text, ground) >= 4.5, (text, ground)
    for ground in grounds:
        assert contrast(theme.edge, ground) >= 3, ground
    assert contrast(theme.on_accent, theme.accent) >= 4.5
    assert contrast(theme.ink, theme.mount) >= 4.5


def test_contrast_of_published_pairs():
    """W3C, Understanding 1.4.3: #767676 is the lightest grey that passes on white, 4.54."""
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert contrast("#777777", "#ffffff") < 4.5


def test_the_ground_goes_round():
    ground = GROUNDS[0]
    seen = [ground := next_ground(ground) for _ in GROUNDS]
    assert seen[-1] == GROUNDS[0]
    assert set(seen) == set(GROUNDS)
    assert next_ground(Ground("own", ((1, 2, 3),))) == GROUNDS[0]


def test_commands_are_whole_and_no_key_does_two_things():
    names = [command.name for command in COMMANDS]
    keys = [key for command in COMMANDS for key in command.keys]
    assert len(set(names)) == len(names)
    assert len(set(keys)) == len(keys)
    assert all(command.tip and command.menu in MENUS for command in COMMANDS)
    assert sorted(names) == sorted(c.name for menu in MENUS for c in in_menu(menu))


def test_numbers_are_said_without_their_unit_and_the_unit_behind():
    control = next(p for p in pieces(Crop(left=12.5)) if isinstance(p, Control))
    assert (control.said, control.unit) == (plain(12.5), " mm")


INNER = Nested(list=StepList("in", (Tone(), Nested(list=StepList("deeper", (BuildUp(),))))))


def test_a_number_of_a_held_list_is_changed_in_place():
    made = changed(INNER, ("list", 0, "points", "white"), 226.0)
    assert made.list.steps[0].points.white == 226
    assert made.list.steps[1] == INNER.list.steps[1]
    path = ("list", 1, "list", 0, "times")
    deep = changed(INNER, path, 3.0)
    assert get(deep, path) == 3
    assert deep.list.name == "in"
    assert inmost(deep, path) == (BuildUp(times=3), ("times",))
    assert change_name(INNER, path) == "build up, times"
    assert changed(deep, path, get(INNER, path)) == INNER


def test_same_again_aims_anew():
    area = Brush(strokes=(((1.0, 2.0),),), width=9, soft=4)
    assert again(TakeOut(), StepList("", (TakeOut(area=area),))) == TakeOut(
        area=Brush(width=9, soft=4))
