"""The engine: what is shown first, what is done again, and what a newer list stops."""

import threading
from dataclasses import replace

import numpy as np
import pytest

import app.bench.engine as engine_module
from app.bench.background import Workers
from app.bench.engine import Engine
from app.bench.state.grounds import PAPER_WHITE
from app.bench.state.job import find_pages, source_of
from app.bench.state.scale import fit
from app.bench.state.standing import show_fully, stand, standing_index
from app.filters.flats import Flats
from app.filters.keep_marks import KeepMarks
from core.fault import Cancelled
from core.sheet import Sheet
from core.steps.build_up import BuildUp
from core.steps.fold import replay
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Following, Tone
from core.steps.turn import Turn
from tests.bench.conftest import HEIGHT, WIDTH, draw_page, page_pixels

TONE = Tone(points=Fixed(black=30.0, white=200.0))


@pytest.fixture
def engine(qapp, qtbot, tmp_path):
    """An engine that holds one page, looked at whole."""
    workers = Workers(2)
    made = Engine(workers)
    made.frames = []
    made.drawn.connect(made.frames.append)
    made.sized.connect(
        lambda width, height: made.look(fit((400, 300), (width, height)), PAPER_WHITE))
    made.source = source_of(find_pages((draw_page(tmp_path / "page.png"),)).pages[0])
    made.turn_to(made.source)
    qtbot.waitUntil(lambda: made.page is not None)
    yield made
    workers.close()
    made.deleteLater()
    workers.deleteLater()


def settle(engine, qtbot):
    qtbot.waitUntil(lambda: engine.idle, timeout=20_000)


def test_what_several_lists_share_of_a_page_is_counted_once(engine, qtbot, monkeypatch):
    """So that one comes back at once from a list to the one before it, and before that."""
    monkeypatch.setattr(engine_module, "_MOST_HELD", 6 * WIDTH * HEIGHT)
    lists = [(Turn(angle=90), KeepMarks(limit=3.0 + n / 4), TONE, Lift()) for n in range(5)]
    for steps in lists:
        engine.set_steps(steps, None)
        settle(engine, qtbot)
    worked = []
    monkeypatch.setattr(engine_module, "stand", lambda *a, **k: worked.append(a) or stand(*a, **k))
    for steps in lists[::-1]:
        engine.set_steps(steps, None)
        settle(engine, qtbot)
    assert worked == []


def test_the_scan_is_drawn_before_anything_is_worked_out(engine, qtbot, monkeypatch):
    let = threading.Event()

    def waiting(*given, **more):
        let.wait(20)
        return stand(*given, **more)

    monkeypatch.setattr(engine_module, "stand", waiting)
    engine.set_steps((TONE, Lift()), None)
    qtbot.waitUntil(lambda: bool(engine.frames))
    first = engine.frames[0]
    assert first.after is None
    assert not first.exact
    let.set()
    settle(engine, qtbot)
    assert engine.frames[-1].after is not None
    assert engine.frames[-1].exact
    assert (engine.frames[-1].before == first.before).all()


def test_a_scan_that_will_lie_otherwise_is_not_shown_so_first(engine, qtbot):
    engine.set_steps((Turn(angle=90), TONE, Lift()), None)
    settle(engine, qtbot)
    assert all(frame.view.page == (HEIGHT, WIDTH) for frame in engine.frames)


def test_a_list_is_proposed_only_once_the_page_is_shown(engine, qtbot, monkeypatch):
    shown_by_then = []
    monkeypatch.setattr(
        engine_module, "suggest", lambda *_: shown_by_then.append(len(engine.frames)))
    engine.set_steps((), None)
    engine.propose("page")
    settle(engine, qtbot)
    assert shown_by_then[0] > 0


def test_the_proposal_for_a_page_that_is_left_stops_at_its_next_band(
    engine, qtbot, monkeypatch,
):
    began, let, ended = threading.Event(), threading.Event(), []

    def slow(sheet, name, each):
        began.set()
        let.wait(20)
        try:
            list(each(lambda span: span, [(0, 1), (1, 2)]))
        except Cancelled:
            ended.append("stopped")
            raise

    monkeypatch.setattr(engine_module, "suggest", slow)
    engine.set_steps((), None)
    engine.propose("page")
    qtbot.waitUntil(began.is_set)
    engine.turn_to(None)
    let.set()
    settle(engine, qtbot)
    assert ended == ["stopped"]


def test_the_same_frame_is_not_made_twice(engine, qtbot):
    engine.set_steps((TONE, Lift()), None)
    settle(engine, qtbot)
    count = len(engine.frames)
    for _ in range(5):
        engine.draw()
    settle(engine, qtbot)
    assert len(engine.frames) == count + 1


def test_a_drag_of_a_number_that_takes_long_queues_no_work(engine, qtbot, monkeypatch):
    began, stopped, let = [], [], threading.Event()

    def slow(page, steps, each, watch, **more):
        began.append(steps)
        let.wait(20)
        try:
            watch(1, 2)
        except Cancelled:
            stopped.append(steps)
            raise
        return stand(page, steps, each, watch, **more)

    monkeypatch.setattr(engine_module, "stand", slow)
    lists = [(KeepMarks(limit=1.0 + n / 10), TONE, Lift()) for n in range(40)]
    for steps in lists:
        engine.set_steps(steps, None, moving=True)
    qtbot.waitUntil(lambda: bool(began))
    let.set()
    settle(engine, qtbot)
    assert began == [lists[0][:1], lists[-1][:1]]
    assert stopped == [lists[0][:1]]
    assert engine.standing.before == lists[-1][:1]


def test_the_last_exact_frame_stays_until_the_next_is_exact(engine, qtbot, monkeypatch):
    steps = (TONE, Lift(), Turn(angle=180))
    engine.set_steps(steps, None)
    settle(engine, qtbot)
    del engine.frames[:]
    engine.set_steps((TONE, Lift(), BuildUp(times=3), Turn(angle=180)), None)
    settle(engine, qtbot)
    assert [frame.exact for frame in engine.frames] == [True]


def test_while_a_handle_moves_the_page_is_shown_up_to_the_step_that_takes_long(engine, qtbot):
    engine.set_steps((TONE, Lift(), Turn(angle=180)), None)
    settle(engine, qtbot)
    moved = replace(TONE, points=Fixed(black=30.0, white=180.0))
    engine.set_steps((moved, Lift(), Turn(angle=180)), None, moving=True)
    settle(engine, qtbot)
    assert not engine.frames[-1].exact


def test_layers_are_shown_alone(engine, qtbot):
    steps = (TONE, Lift(), Flats())
    engine.set_steps(steps, None)
    settle(engine, qtbot)
    whole = engine.frames[-1].after
    engine.show_layer("lines")
    settle(engine, qtbot)
    lines = engine.frames[-1].after
    engine.show_layer("flats")
    settle(engine, qtbot)
    flats = engine.frames[-1].after
    assert (whole != lines).any()
    assert (whole != flats).any()
    engine.show_layer("all")
    settle(engine, qtbot)
    assert (engine.frames[-1].after == whole).all()


SHEET = Sheet(ppi=300, grey=page_pixels())
LED = (KeepMarks(),)
RESTS = {
    "flats": (TONE, Lift(), Flats()),
    "turned": (TONE, Turn(angle=90), Lift()),
    "following": (Tone(points=Following(black=30, white=200, paper=230)), Lift(), Flats()),
}


@pytest.mark.parametrize("name", RESTS)
def test_going_on_from_where_the_page_stands_is_the_whole_list(name):
    steps = LED + RESTS[name]
    standing = stand(SHEET, steps[: standing_index(steps)])
    assert standing.before == LED
    shown = show_fully(standing, steps, SHEET)
    made = replay(StepList("", shown.rest), shown.sheet).page.rows(0, shown.sheet.height)
    wanted = replay(StepList("", steps), SHEET).page
    wanted = wanted.rows(0, wanted.shape[0])
    assert (made.alpha == wanted.alpha).all()
    if wanted.flats is not None:
        assert (made.flats == wanted.flats).all()
        assert made.palette == wanted.palette


def test_what_lies_before_the_tones_is_not_done_again_for_what_lies_behind(monkeypatch):
    steps = LED + RESTS["flats"]
    standing = stand(SHEET, LED)
    monkeypatch.setattr(KeepMarks, "apply", lambda *_: pytest.fail("done again"))
    shown = show_fully(standing, steps, SHEET)
    assert shown.exact
    assert shown.sheet.flats is not None
    assert np.unique(shown.sheet.flats).size > 1
