"""Whole sittings, driven by the events that hands make."""

import errno
import json
import logging
import os
import shutil
import sys
from contextlib import contextmanager
from dataclasses import replace
from threading import Event

import numpy as np
import pytest
from PIL import Image
from PySide6.QtCore import QEvent, QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QKeySequence
from PySide6.QtWidgets import QApplication, QFileDialog, QInputDialog

from app.bench import outgoing
from app.bench.background import Line
from app.bench.keeping import MOST_KEPT, Keeper
from app.bench.opening import Opening, keep_log
from app.bench.showing import rack_item
from app.bench.state.desk import Desk
from app.bench.state.drawer import look_in
from app.bench.state.edits import Edit, insert, set_step
from app.bench.state.exporting import FORMS, Export, run_export
from app.bench.state.job import find_pages, is_set, name_of, with_steps
from app.bench.state.places import Places, load_settings
from app.bench.views.calibrating import CardSize
from app.bench.views.drawer import DrawerDialog
from app.command import main
from app.filters.keep_marks import Dark, KeepMarks
from app.filters.overrule import TakeOut
from app.filters.reach import Mark, Outline
from app.filters.straighten import Found, Given, Straighten
from app.kinds import KINDS
from app.pages.lists import read_list, write_list
from app.pages.renditions import Flat, Print
from app.pages.resolution import Ppi
from app.replay.job import Job, JobPage, loads_job, write_job
from app.replay.journal import FOLDER, Journal
from app.shipped import shipped
from core.sheet import Sheet, whole
from core.steps.build_up import BuildUp
from core.steps.crop import Crop
from core.steps.document import dumps
from core.steps.fold import replay
from core.steps.lift import Lift, One, Own
from core.steps.steplist import Nested, StepList
from core.steps.tone import Fixed, Tone
from core.steps.turn import Turn
from tests.bench.conftest import HEIGHT, KEPT, PATCH_AT, WIDTH, draw_page, settle

LEFT = Qt.MouseButton.LeftButton
CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
ALT = Qt.KeyboardModifier.AltModifier


def drop(window, *paths):
    """Files dropped on the window."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    asked = (Qt.DropAction.CopyAction, data, LEFT, Qt.KeyboardModifier.NoModifier)
    QApplication.sendEvent(window, QDragEnterEvent(QPoint(300, 300), *asked))
    QApplication.sendEvent(window, QDropEvent(QPointF(300, 300), *asked))


def steps_now(bench):
    return bench.lists.in_hand()


def tone_now(bench):
    return next(step for step in steps_now(bench).steps if isinstance(step, Tone))


def after_pixels(bench):
    """The whole page under its list in hand, laid on white, by the core alone."""
    sheet = bench.engine.page.sheet
    alpha = whole(replay(steps_now(bench), sheet).page).alpha
    return 255 - alpha.astype(int)


def shown_at(bench, column, row):
    """What is painted over a page pixel; the page is shown pixel for pixel."""
    view = bench.desk.looking.view
    image = bench.window.page.grab().toImage()
    colour = image.pixelColor(column + view.left, row + view.top)
    return colour.red(), colour.green(), colour.blue()


def drag_handle(bench, qtbot, which, tone):
    """The handle dragged by the mouse until it stands on a tone."""
    handle, strip = bench.window.strip.handles[which], bench.window.strip
    start = QPoint(handle.width() // 2, 12)
    qtbot.mousePress(handle, LEFT, pos=start)
    for share in (0.5, 1.0):
        x = handle.x() + handle.width() / 2
        goal = x + (strip.x_of(tone) - x) * share
        qtbot.mouseMove(handle, QPoint(round(goal - handle.x()), 12))
    return handle


def test_from_a_folder_to_files_and_on_to_the_next_page(
    bench, qtbot, scans, tmp_path, monkeypatch,
):
    drop(bench.window, scans)
    settle(qtbot, bench)
    names = [name_of(page) for page in bench.desk.job.now.pages]
    assert names == [f"page {n}.png" for n in (1, 2, 3)]
    assert bench.window.card.keep.isVisible()
    assert bench.desk.page.steps is None

    bench.do("one")
    bench.do("flip")
    bench.do("flip")
    settle(qtbot, bench)
    wanted = after_pixels(bench)[PATCH_AT[1], PATCH_AT[0]]
    assert shown_at(bench, *PATCH_AT) == (wanted,) * 3

    handle = drag_handle(bench, qtbot, "white", 190)
    white = tone_now(bench).points.white
    assert white == pytest.approx(190, abs=1)
    settle(qtbot, bench)
    dragged = after_pixels(bench)[PATCH_AT[1], PATCH_AT[0]]
    assert dragged != wanted
    assert shown_at(bench, *PATCH_AT) == (dragged,) * 3
    assert bench.desk.page.steps is None
    qtbot.mouseRelease(handle, LEFT, pos=QPoint(handle.width() // 2, 12))
    settle(qtbot, bench)
    assert tone_now(bench).points.white == white
    assert bench.desk.page.steps == steps_now(bench)
    assert bench.desk.job.undo_name == "white point"

    saved = tmp_path / "book.json"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(saved), ""))
    qtbot.keyClick(bench.window, Qt.Key.Key_S, CTRL)
    assert read_list(saved, KINDS) == bench.desk.page.steps

    qtbot.keyClick(bench.window, Qt.Key.Key_Return, CTRL)
    assert bench.desk.current == 1
    settle(qtbot, bench)
    qtbot.keyClick(bench.window, Qt.Key.Key_Return, CTRL)
    settle(qtbot, bench)
    assert [page.steps for page in bench.desk.job.now.pages] == [read_list(saved, KINDS)] * 3

    out = tmp_path / "out"
    bench.do("export")
    dialog = bench.out._dialog
    dialog.whose[-1].setChecked(True)
    wanted = {"Line, see-through PNG", "Line, TIFF", "For the printer, grey TIFF",
              "In layers, OpenRaster", "For the web, see-through WebP"}
    for box in dialog.forms:
        box.setChecked(box.text() in wanted)
    dialog.folder.setText(str(out))
    qtbot.mouseClick(dialog.go, LEFT)
    qtbot.waitUntil(lambda: not bench.out.busy, timeout=30_000)
    assert "3 of 3" in bench.window.notice.text.text()

    other = tmp_path / "by command"
    rest = ["--rendition", "line", "--rendition", "print", "--rendition", "layered",
            "--rendition", "web", "--quiet"]
    assert main(["replay", str(saved), str(scans), "--into", str(other), *rest]) == 0
    ours = {path.name: path.read_bytes() for path in out.iterdir() if path.is_file()}
    theirs = {path.name: path.read_bytes() for path in other.iterdir()
              if path.name in ours}
    assert len(theirs) == 3 * 4
    assert all(ours[name] == theirs[name] for name in theirs)

    qtbot.waitUntil(lambda: bench.idle)
    replayed = tmp_path / "by job"
    job = str(bench.keeper.path)
    assert main(["replay", job, "--into", str(replayed), "--quiet"]) == 0
    assert ours == {path.name: path.read_bytes() for path in replayed.iterdir()
                    if path.name in ours}


def test_undo_goes_back_to_the_very_beginning(with_pages, qtbot):
    bench = with_pages
    proposed = steps_now(bench)
    for tone in (200, 180):
        handle = drag_handle(bench, qtbot, "white", tone)
        qtbot.mouseRelease(handle, LEFT, pos=QPoint(14, 12))
    qtbot.keyClick(bench.window.strip.handles["black"], Qt.Key.Key_Right, SHIFT)
    bench.do("turn right")
    bench.do("delete") if bench.desk.step is not None else None
    count = len(bench.desk.job.past)
    assert count >= 5
    for _ in range(count):
        qtbot.keyClick(bench.window, Qt.Key.Key_Z, CTRL)
    settle(qtbot, bench)
    assert bench.desk.job.now.pages == ()
    assert bench.desk.page is None
    for _ in range(count):
        qtbot.keyClick(bench.window, Qt.Key.Key_Y, CTRL)
    settle(qtbot, bench)
    assert steps_now(bench) != proposed
    assert len(bench.desk.job.past) == count


def test_one_drag_is_one_change_and_escape_is_none(with_pages, qtbot):
    bench = with_pages
    before = len(bench.desk.job.past)
    handle = drag_handle(bench, qtbot, "black", 90)
    qtbot.mouseRelease(handle, LEFT, pos=QPoint(14, 12))
    assert len(bench.desk.job.past) == before + 1
    steps = steps_now(bench)
    handle = drag_handle(bench, qtbot, "black", 20)
    assert steps_now(bench) != steps
    qtbot.keyClick(handle, Qt.Key.Key_Escape)
    qtbot.mouseRelease(handle, LEFT, pos=QPoint(14, 12))
    assert steps_now(bench) == steps
    assert len(bench.desk.job.past) == before + 1


def give(bench, qtbot, *steps):
    """The page in hand is given a list."""
    bench.lists.take(StepList("given", steps))
    settle(qtbot, bench)


def test_without_a_tone_step_a_drag_makes_one_before_the_lift(with_pages, qtbot):
    give(with_pages, qtbot, Turn(), Lift())
    handle = drag_handle(with_pages, qtbot, "white", 200)
    qtbot.mouseRelease(handle, LEFT, pos=QPoint(14, 12))
    assert [step.kind for step in steps_now(with_pages).steps] == ["turn", "tone", "lift"]
    settle(qtbot, with_pages)
    assert with_pages.engine.shown.sheet.shape == (WIDTH, HEIGHT)


def test_a_list_that_must_be_worked_through_is_marked_until_it_is_exact(with_pages, qtbot):
    bench = with_pages
    said = []
    bench.engine.state.connect(said.append)
    give(bench, qtbot, Tone(points=Fixed(black=30, white=220)), Turn(), Lift())
    assert said[-1] == ""
    assert any(text for text in said)
    assert bench.engine.shown.exact
    said.clear()
    handle = drag_handle(bench, qtbot, "white", 200)
    qtbot.waitUntil(lambda: bool(said) and "up to the step" in said[-1], timeout=5000)
    assert not bench.engine.shown.exact
    qtbot.mouseRelease(handle, LEFT, pos=QPoint(14, 12))
    settle(qtbot, bench)
    assert bench.engine.shown.exact
    assert said[-1] == ""


def test_what_the_screen_shows_is_what_is_written_for_own_colours(bench, qtbot, tmp_path):
    rng = np.random.default_rng(1)
    colour = rng.integers(180, 250, (120, 160, 3)).astype(np.uint8)
    colour[40:80, 40:120] = (60, 90, 160)
    path = tmp_path / "colour.png"
    Image.fromarray(colour).save(path, dpi=(300, 300))
    bench.incoming.open_paths((path,))
    settle(qtbot, bench)
    give(bench, qtbot, Tone(points=Fixed(black=30, white=220)), Lift(ink=Own()))
    bench.do("one")
    bench.viewing.look(replace(bench.desk.looking, side="after"))
    settle(qtbot, bench)
    done = whole(replay(steps_now(bench), Sheet(ppi=300, colour=colour)).page)
    cover = done.alpha[60, 70].astype(int)
    laid = [(int(c) * cover + 255 * (255 - cover) + 127) // 255 for c in done.colour[60, 70]]
    assert shown_at(bench, 70, 60) == tuple(laid)


def test_the_ground_lies_under_the_ink(with_pages, qtbot):
    bench = with_pages
    give(bench, qtbot, Tone(points=Fixed(black=60, white=120)), Lift(ink=One(colour=(200, 0, 0))))
    bench.do("one")
    bench.viewing.look(replace(bench.desk.looking, side="after"))
    qtbot.keyClick(bench.window, Qt.Key.Key_G)
    settle(qtbot, bench)
    assert shown_at(bench, *PATCH_AT) == (128, 128, 128)
    assert shown_at(bench, 300, 120) == (200, 0, 0)


def test_place_and_zoom_are_kept_along_the_rack(with_pages, qtbot):
    bench = with_pages
    bench.do("one")
    bench.do("in")
    qtbot.keyClick(bench.window.page, Qt.Key.Key_Left)
    settle(qtbot, bench)
    view = bench.desk.looking.view
    qtbot.keyClick(bench.window, Qt.Key.Key_PageDown)
    settle(qtbot, bench)
    assert bench.desk.current == 1
    assert bench.desk.looking.view == view


def test_the_divider_stays_on_zooming(with_pages, qtbot):
    page = with_pages.window.page
    x = page.width() // 2
    qtbot.mousePress(page, LEFT, pos=QPoint(x, 60))
    qtbot.mouseMove(page, QPoint(x - 100, 60))
    qtbot.mouseRelease(page, LEFT, pos=QPoint(x - 100, 60))
    share = with_pages.desk.looking.divider
    assert share == pytest.approx((x - 100) / page.width())
    with_pages.do("one")
    assert with_pages.desk.looking.divider == share


def test_ink_alone_is_kept_by_one_press_and_undone_by_another(bench, qtbot, scans):
    drop(bench.window, scans)
    settle(qtbot, bench)
    assert bench.window.card.ink.isVisible(), "the patch is much paler than the stroke"
    column, row = PATCH_AT
    assert after_pixels(bench)[row, column] < 200
    qtbot.mouseClick(bench.window.card.ink, LEFT)
    settle(qtbot, bench)
    marks = next(step for step in bench.desk.page.steps.steps if isinstance(step, KeepMarks))
    assert isinstance(marks.weakest, Dark)
    assert after_pixels(bench)[row, column] == 255
    bench.do("undo")
    settle(qtbot, bench)
    assert bench.desk.page.steps is None
    assert after_pixels(bench)[row, column] < 200


def test_where_all_is_of_one_strength_ink_only_says_so(with_pages, qtbot):
    with_pages.do("ink only")
    assert "of one strength" in with_pages.window.notice.text.text()


def test_a_page_that_was_turned_stays_so_whatever_list_it_gets(with_pages, qtbot):
    bench = with_pages
    bench.go_to(1)
    settle(qtbot, bench)
    bench.do("turn right")
    settle(qtbot, bench)
    bench.go_to(0)
    settle(qtbot, bench)
    bench.do("turn left")
    bench.do("apply all")
    assert heads_of(bench) == [270, 90, 0]
    assert bench.desk.job.now.pages[1].steps.steps[1:] == KEPT.steps
    bench.go_to(1)
    settle(qtbot, bench)
    bench.do("propose")
    settle(qtbot, bench)
    assert not is_set(bench.desk.page)
    assert steps_now(bench).steps[0] == Turn(angle=90)
    assert steps_now(bench).steps[1].kind != "turn"


def heads_of(bench):
    """The angle of the turn at the head of each page's list; 0 where there is none."""
    lists = [page.steps.steps for page in bench.desk.job.now.pages]
    return [steps[0].angle if isinstance(steps[0], Turn) else 0 for steps in lists]


def test_a_page_that_was_turned_after_its_list_was_kept_stays_so(with_pages, qtbot):
    bench = with_pages
    bench.do("apply all")
    bench.go_to(1)
    settle(qtbot, bench)
    bench.do("turn right")
    bench.go_to(0)
    settle(qtbot, bench)
    bench.do("apply all")
    assert heads_of(bench) == [0, 90, 0]
    bench.do("apply next")
    assert heads_of(bench) == [0, 90, 0]
    bench.lists.take(StepList("drawer", (Turn(angle=180), *KEPT.steps)))
    assert heads_of(bench) == [0, 90, 0]


def test_a_turn_that_came_with_a_list_goes_with_it_and_one_undone_by_hand_stays_away(
    with_pages, qtbot,
):
    bench = with_pages
    give(bench, qtbot, Turn(angle=90), *KEPT.steps)
    bench.do("apply all")
    assert heads_of(bench) == [90, 90, 90]
    bench.go_to(2)
    settle(qtbot, bench)
    bench.do("turn left")
    bench.go_to(0)
    settle(qtbot, bench)
    bench.lists.edit(set_step(steps_now(bench), 0, Turn(angle=180), "turn, angle"))
    bench.do("apply all")
    assert heads_of(bench) == [180, 90, 0]
    assert [page.turned for page in bench.desk.job.now.pages] == [True, False, True]


def crops_of(bench):
    """How much each page has cut off at the left; None where it has no crop."""
    lists = [page.steps or StepList() for page in bench.desk.job.now.pages]
    return [next((s.left for s in steps.steps if isinstance(s, Crop)), None) for steps in lists]


def test_the_picture_on_the_rack_lies_as_its_page_does(with_pages, qtbot):
    bench = with_pages
    qtbot.waitUntil(lambda: len(bench.known.thumbs) == 3, timeout=20_000)
    lying = rack_item(bench.desk.page, bench.known).thumb
    bench.do("turn right")
    bench.do("turn right")
    assert (rack_item(bench.desk.page, bench.known).thumb == lying[::-1, ::-1]).all()
    bench.do("turn left")
    assert (rack_item(bench.desk.page, bench.known).thumb == np.rot90(lying, -1)).all()
    settle(qtbot, bench)


def test_a_turn_made_on_a_page_stays_with_it_unless_the_others_are_to_have_it(with_pages, qtbot):
    bench, notice = with_pages, with_pages.window.notice
    bench.do("turn right")
    bench.do("apply all")
    assert heads_of(bench) == [90, 0, 0]
    assert notice.text.text() == "The turn made on page 1.png by hand stays there."
    qtbot.mouseClick(notice.act, LEFT)
    assert heads_of(bench) == [90, 90, 90]
    assert not notice.isVisible()
    bench.do("undo")
    assert heads_of(bench) == [90, 0, 0]
    settle(qtbot, bench)


def cut(bench, qtbot, number, left):
    """A page is gone to, and its crop set by hand."""
    bench.go_to(number)
    settle(qtbot, bench)
    steps = steps_now(bench)
    there = [n for n, step in enumerate(steps.steps) if isinstance(step, Crop)]
    edit = set_step(steps, there[0], Crop(left=left), "crop") if there else insert(
        steps, 0, Crop(left=left))
    bench.lists.edit(edit)
    settle(qtbot, bench)


def test_the_crop_of_the_first_page_goes_to_pages_without_a_list(with_pages, qtbot):
    cut(with_pages, qtbot, 0, 2)
    with_pages.do("apply all")
    assert crops_of(with_pages) == [2, 2, 2]
    assert not with_pages.window.notice.isVisible()
    assert [page.by_hand for page in with_pages.desk.job.now.pages] == [(), (), ()]
    settle(qtbot, with_pages)


def test_a_page_keeps_the_crop_that_was_made_on_it_and_that_is_said(with_pages, qtbot):
    bench, notice = with_pages, with_pages.window.notice
    cut(bench, qtbot, 0, 2)
    bench.do("apply all")
    cut(bench, qtbot, 1, 5)
    bench.go_to(0)
    settle(qtbot, bench)
    bench.lists.edit(Edit(StepList("paler", (Crop(left=2), Tone(), Lift())), "tones", None))
    bench.do("apply all")
    pages = bench.desk.job.now.pages
    assert crops_of(bench) == [2, 5, 2]
    assert [page.steps.name for page in pages] == ["paler", "paler", "paler"]
    assert notice.text.text() == "page 2.png keeps its own crop."
    qtbot.mouseClick(notice.act, LEFT)
    assert crops_of(bench) == [2, 2, 2]
    bench.do("undo")
    assert crops_of(bench) == [2, 5, 2]
    cut(bench, qtbot, 1, 6)  # nor does it go to the others, which have a list
    bench.do("apply all")
    assert crops_of(bench) == [2, 6, 2]
    assert notice.text.text() == "The crop made on page 2.png by hand stays there."
    bench.lists.take(StepList("drawer", (Crop(left=9), Tone(), Lift())))
    assert crops_of(bench) == [2, 6, 2]
    qtbot.mouseClick(notice.act, LEFT)
    assert crops_of(bench) == [2, 9, 2]
    settle(qtbot, bench)


def test_a_page_keeps_the_angle_that_it_was_levelled_by_and_gives_it_to_none(with_pages, qtbot):
    bench, notice = with_pages, with_pages.window.notice
    bench.do("apply all")
    bench.go_to(1)
    settle(qtbot, bench)
    bench.lists.edit(insert(steps_now(bench), 0, Straighten(angle=Given(degrees=2))))
    bench.do("apply all")
    kinds = [[s.kind for s in page.steps.steps] for page in bench.desk.job.now.pages]
    assert kinds == [["tone", "lift"], ["straighten", "tone", "lift"], ["tone", "lift"]]
    assert notice.text.text() == "The angle made on page 2.png by hand stays there."
    bench.go_to(0)
    settle(qtbot, bench)
    cut(bench, qtbot, 0, 3)
    bench.do("apply all")
    assert notice.text.text() == (
        "page 2.png keeps its own angle. The crop made on page 1.png by hand stays there.")
    bench.do("undo")
    bench.lists.edit(insert(steps_now(bench), 0, Straighten(angle=Found())))
    bench.do("apply all")  # a rule goes to all pages
    kinds = [type(page.steps.steps[0].angle) for page in bench.desk.job.now.pages]
    assert kinds == [Found, Given, Found]
    settle(qtbot, bench)


def test_a_page_that_is_turned_has_cut_off_what_it_had(with_pages, qtbot):
    bench = with_pages
    cut(bench, qtbot, 0, 7)
    bench.do("turn right")
    assert steps_now(bench).steps[:2] == (Turn(angle=90), Crop(top=7))
    bench.do("turn left")
    assert steps_now(bench).steps[0] == Crop(left=7)
    give(bench, qtbot, *KEPT.steps)
    assert steps_now(bench).steps[0] == Crop(left=7)


def test_a_command_given_with_ctrl_chooses_no_page_beside_that_which_it_goes_to(
    with_pages, qtbot,
):
    bench, rack = with_pages, with_pages.window.rack
    rack.setFocus()
    for key, there in ((Qt.Key.Key_Return, 1), (Qt.Key.Key_Return, 2), (Qt.Key.Key_Z, 2),
                       (Qt.Key.Key_Z, 1)):
        qtbot.keyClick(bench.window, key, CTRL)
        settle(qtbot, bench)
        assert bench.desk.current == there
        assert bench.desk.chosen == {there}
        assert {index.row() for index in rack.selectedIndexes()} == {there}


def test_quarter_turns_go_over_all_chosen_pages(with_pages, qtbot):
    bench = with_pages
    bench.do("keep")
    bench._choose(frozenset({0, 2}))
    qtbot.keyClick(bench.window, Qt.Key.Key_R, CTRL)
    settle(qtbot, bench)
    first, second, third = bench.desk.job.now.pages
    assert first.steps.steps[0] == Turn(angle=90)
    assert second.steps is None
    assert third.steps == StepList(steps=(Turn(angle=90),))
    assert bench.engine.shown.sheet.shape == (WIDTH, HEIGHT)
    bench.go_to(2)
    settle(qtbot, bench)
    assert bench.window.card.keep.isVisible()
    assert steps_now(bench).steps[0] == Turn(angle=90)
    assert len(steps_now(bench).steps) > 2


def test_pages_are_chosen_on_the_rack_by_mouse_and_keys(with_pages, qtbot):
    bench, rack = with_pages, with_pages.window.rack
    third = rack.visualRect(rack.pages.index(2)).center()
    qtbot.mouseClick(rack.viewport(), LEFT, SHIFT, pos=third)
    settle(qtbot, bench)
    assert bench.desk.current == 2
    assert bench.desk.chosen == frozenset({0, 1, 2})
    bench.do("apply chosen")
    assert len({page.steps for page in bench.desk.job.now.pages}) == 1
    qtbot.mouseClick(rack.viewport(), LEFT, pos=rack.visualRect(rack.pages.index(1)).center())
    assert bench.desk.chosen == frozenset({1})
    qtbot.keyClick(rack, Qt.Key.Key_Down)
    assert (bench.desk.current, bench.desk.chosen) == (2, frozenset({2}))
    settle(qtbot, bench)


def test_a_name_that_looks_like_markup_is_said_as_it_is(bench, qtbot, tmp_path):
    torn = tmp_path / "a <b>bold<b> page.png"
    torn.write_bytes(b"no picture")
    bench.incoming.open_paths((torn,))
    qtbot.waitUntil(lambda: bench.idle)
    window = bench.window
    window.notice.show_said(window.fault.text())
    for label in (window.fault, window.notice.text):
        assert "<b>" in label.text()
        assert label.textFormat() == Qt.TextFormat.PlainText


def test_a_page_that_cannot_be_read_stays_on_the_rack(bench, qtbot, scans):
    (scans / "page 0.png").write_bytes(b"no picture")
    bench.incoming.open_paths((scans,))
    settle(qtbot, bench)
    names = [name_of(page) for page in bench.desk.job.now.pages]
    assert "page 0.png" in names
    bench.go_to(names.index("page 0.png"))
    qtbot.waitUntil(lambda: bench.idle)
    assert "page 0.png" in bench.window.fault.text()
    assert bench.window.stack.currentIndex() == 2
    bench.go_to(0 if names[0] != "page 0.png" else 1)
    settle(qtbot, bench)
    assert bench.window.stack.currentIndex() == 1


def test_of_a_page_that_cannot_be_read_no_numbers_of_another_stand_there(with_pages, qtbot, scans):
    bench, window = with_pages, with_pages.window

    def numbers():
        return window.bar.scale.text(), window.strip.fields["white"].text()

    (scans / "page 2.png").write_text("no picture")
    assert numbers()[0].endswith(" %")
    assert numbers()[1] == "225"
    bench.go_to(1)
    qtbot.waitUntil(lambda: bench.idle, timeout=20_000)
    assert numbers() == ("", "")
    bench.go_to(0)
    settle(qtbot, bench)
    assert numbers()[1] == "225"
    bench.window.rack.selectAll()
    bench.do("remove")
    assert numbers() == ("", "")


def test_what_is_dropped_while_pages_are_still_looked_for_comes_too(bench, qtbot, scans, tmp_path):
    drop(bench.window, scans)
    drop(bench.window, draw_page(tmp_path / "late.png"))
    settle(qtbot, bench)
    assert [name_of(page) for page in bench.desk.job.now.pages] == [
        "page 1.png", "page 2.png", "page 3.png", "late.png"]


def test_a_page_that_was_mended_is_read_when_it_is_dropped_again_or_shown(
    bench, qtbot, scans, monkeypatch,
):
    broken = scans / "page 2.png"
    whole = broken.read_bytes()

    def tried():
        qtbot.waitUntil(lambda: bench.idle, timeout=20_000)
        return bench.window.stack.currentIndex(), status(bench)

    broken.write_bytes(whole[:2000])
    bench.incoming.open_paths((scans,))
    settle(qtbot, bench)
    assert [name_of(page) for page in bench.desk.job.now.pages] == [
        "page 1.png", "page 2.png", "page 3.png"]  # it keeps its place in the book
    bench.go_to(1)
    assert tried() == (2, "cannot be read")
    broken.write_bytes(whole)
    drop(bench.window, broken)
    assert tried() == (1, "not yet set")
    assert len(bench.desk.job.now.pages) == 3
    gone = broken.rename(broken.with_suffix(".away"))
    bench.known.proposals.clear()
    bench.go_to(0)
    settle(qtbot, bench)
    bench.go_to(1)
    assert tried() == (2, "cannot be read")
    gone.rename(broken)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(broken), ""))
    bench.do("moved")
    assert tried() == (1, "not yet set")


def status(bench):
    return rack_item(bench.desk.page, bench.known).status


def test_where_a_file_is_broken_its_size_is_not_asked_for(bench, qtbot, tmp_path):
    page = draw_page(tmp_path / "torn.png")
    page.write_bytes(page.read_bytes()[:2000])
    bench.incoming.open_paths((page,))
    qtbot.waitUntil(lambda: bench.desk.page is not None and bench.idle)
    assert status(bench) == "cannot be read"
    assert bench.window.mends["remove"].isVisible()
    assert not bench.window.mends["resolution"].isVisible()


def test_where_the_file_does_not_say_its_resolution_the_person_does(bench, qtbot, tmp_path):
    bench.incoming.open_paths((draw_page(tmp_path / "bare.png", ppi=None),))
    qtbot.waitUntil(lambda: bench.desk.page is not None and bench.idle)
    assert not bench.window.mends["moved"].isVisible()
    assert "Say its resolution or size" in bench.window.fault.text()
    assert "--" not in bench.window.fault.text()
    assert status(bench) == "size not known"
    assert bench.window.mends["resolution"].isVisible()
    bench.incoming.give_resolution("600")
    settle(qtbot, bench)
    assert bench.engine.page.scan.ppi == 600
    assert bench.window.stack.currentIndex() == 1
    bench.incoming.give_resolution("nonsense")
    assert bench.desk.page.given == Ppi(600)
    give(bench, qtbot, Tone(points=Fixed(black=40, white=220)), Lift())
    out = tmp_path / "replayed"
    assert main(["replay", str(bench.keeper.path), "--into", str(out), "--quiet"]) == 0
    with Image.open(out / "bare-line.png") as picture:
        assert picture.info["dpi"] == pytest.approx((600, 600), abs=0.02)


def test_a_resolution_is_said_of_all_pages_that_lack_one_at_once(
    bench, qtbot, tmp_path, monkeypatch,
):
    for number, ppi in enumerate((None, 300, None, None), start=1):
        draw_page(tmp_path / f"{number}.png", ppi=ppi)
    bench.incoming.open_paths((tmp_path,))
    qtbot.waitUntil(lambda: bench.desk.page is not None and bench.idle)
    rack = bench.window.rack.pages
    assert ["size not known" in rack.index(row).data(Qt.ItemDataRole.AccessibleTextRole)
            or "resolution" in rack.index(row).data(Qt.ItemDataRole.AccessibleTextRole)
            for row in range(4)] == [True, False, True, True]
    asked = []
    monkeypatch.setattr(
        QInputDialog, "getText", lambda *said, **_: asked.append(said[2]) or ("400", True))
    bench.do("resolution")
    settle(qtbot, bench)
    assert "for 3 pages" in asked[0]
    assert [page.given for page in bench.desk.job.now.pages] == [Ppi(400), None, Ppi(400), Ppi(400)]
    bench.do("resolution")  # none lacks one now: it is the chosen page's alone
    assert "pages" not in asked[1]
    bench.do("undo")
    assert [page.given for page in bench.desk.job.now.pages] == [None] * 4
    settle(qtbot, bench)


@pytest.mark.parametrize("current", [0, 1])
def test_of_all_chosen_pages_those_that_state_their_resolution_keep_it(
    bench, qtbot, tmp_path, current,
):
    for number, ppi in enumerate((None, 300, None), start=1):
        draw_page(tmp_path / f"{number}.png", ppi=ppi)
    bench.incoming.open_paths((tmp_path,))
    qtbot.waitUntil(lambda: bench.desk.page is not None and bench.idle)
    bench.go_to(current)
    qtbot.waitUntil(lambda: bench.idle, timeout=20_000)
    bench.window.rack.selectAll()
    bench.incoming.give_resolution("400")
    settle(qtbot, bench)
    assert [page.given for page in bench.desk.job.now.pages] == [Ppi(400), None, Ppi(400)]
    bench.window.rack.selectAll()  # none lacks one now: the person knows better than the files
    bench.incoming.give_resolution("200")
    settle(qtbot, bench)
    assert [page.given for page in bench.desk.job.now.pages] == [Ppi(200)] * 3


def test_export_holds_back_pages_without_a_list_and_says_why(
    with_pages, qtbot, tmp_path, capsys,
):
    bench = with_pages
    bench.do("keep")
    bench.do("export")
    dialog = bench.out._dialog
    dialog.whose[-1].setChecked(True)
    dialog.folder.setText(str(tmp_path / "out"))
    qtbot.mouseClick(dialog.go, LEFT)
    qtbot.waitUntil(lambda: not bench.out.busy, timeout=20_000)
    said = bench.window.notice.text.text()
    assert "1 of 3" in said
    assert "page 2.png: no step list has been kept" in said
    settle(qtbot, bench)
    bench.do("undo")  # what is written, and where, is no change that undo takes back
    bench.do("redo")
    settle(qtbot, bench)
    written = (tmp_path / "out" / "page 1-line.png").read_bytes()
    (tmp_path / "out" / "page 1-line.png").unlink()
    assert main(["replay", str(bench.keeper.path), "--quiet"]) == 1
    assert "page 2.png: no step list has been kept" in capsys.readouterr().err
    assert (tmp_path / "out" / "page 1-line.png").read_bytes() == written


def export_this_page(bench, qtbot, folder):
    bench.do("export")
    dialog = bench.out._dialog
    dialog.folder.setText(str(folder))
    qtbot.mouseClick(dialog.go, LEFT)
    qtbot.waitUntil(lambda: not bench.out.busy, timeout=20_000)
    settle(qtbot, bench)


def test_the_forms_that_were_exported_last_are_chosen_at_the_next_export(
    with_pages, qtbot, tmp_path,
):
    bench = with_pages
    bench.do("export")
    for box, wanted in zip(bench.out._dialog.forms, FORMS, strict=True):
        box.setChecked(wanted.rendition in (Print(), Flat()))
    bench.out._dialog.folder.setText(str(tmp_path / "out"))
    qtbot.mouseClick(bench.out._dialog.go, LEFT)
    settle(qtbot, bench)
    bench.do("export")
    again = [form.rendition for box, form in zip(bench.out._dialog.forms, FORMS, strict=True)
             if box.isChecked()]
    assert again == [Print(), Flat()]
    bench.out._dialog.reject()


def test_what_goes_wrong_with_all_pages_is_said_once(with_pages, qtbot, tmp_path):
    bench, out = with_pages, tmp_path / "file" / "out"
    out.parent.write_text("no folder")
    bench.do("keep")
    bench.do("apply all")
    bench.do("export")
    bench.out._dialog.whose[-1].setChecked(True)
    bench.out._dialog.folder.setText(str(out))
    qtbot.mouseClick(bench.out._dialog.go, LEFT)
    settle(qtbot, bench)
    said = bench.window.notice.text.text().splitlines()
    assert said[0] == f"0 of 3 pages are in {out}."
    assert len(set(said)) == len(said) < 4


@pytest.mark.parametrize("turned", [False, True])
def test_what_is_shown_of_a_page_is_what_is_written_also_while_it_is_only_proposed(
    with_pages, qtbot, tmp_path, turned,
):
    bench = with_pages
    if turned:
        bench._choose(frozenset({0, 1}))
        bench.do("turn right")
    bench.go_to(1)
    settle(qtbot, bench)
    assert bench.window.card.keep.isVisible()
    shown, wanted = steps_now(bench), after_pixels(bench)
    export_this_page(bench, qtbot, tmp_path / "out")
    assert bench.desk.page.steps == shown
    with Image.open(tmp_path / "out" / "page 2-line.png") as picture:
        assert picture.size == ((HEIGHT, WIDTH) if turned else (WIDTH, HEIGHT))
        assert np.array_equal(255 - np.asarray(picture)[..., 3].astype(int), wanted)
    bench.do("undo")
    settle(qtbot, bench)
    assert bench.window.card.keep.isVisible()


def test_a_job_is_saved_and_opened_again_on_an_empty_bench(
    with_pages, qtbot, opened, tmp_path, monkeypatch,
):
    bench, path = with_pages, tmp_path / "book.json"
    bench.do("keep")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    qtbot.keyClick(bench.window, Qt.Key.Key_S, CTRL | SHIFT)
    settle(qtbot, bench)
    kept = bench.desk.job.now
    assert str(path) in opened.settings.recent
    offered = []
    monkeypatch.setattr(
        QFileDialog, "getSaveFileName", lambda *asked: offered.append(asked[2]) or ("", ""))
    bench.do("save list")
    assert offered.pop() == str(bench.desk.page.path.parent / "kept.json")
    bench.do("save job")
    assert offered == [str(path)]  # the file it was saved to, to be saved to again
    bench.lists.take(StepList("something else"))
    bench._choose(frozenset({0, 1, 2}))
    bench.do("remove")
    assert bench.desk.page is None
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(path), ""))
    qtbot.keyClick(bench.window, Qt.Key.Key_J, CTRL)
    settle(qtbot, bench)
    assert bench.desk.job.now.pages == kept.pages
    assert bench.desk.current == 0
    bench.do("undo")
    assert bench.desk.page is None
    settle(qtbot, bench)
    drop(bench.window, path)
    settle(qtbot, bench)
    assert bench.desk.job.now.pages == kept.pages
    path.write_text("{}")
    bench.window.recent_chosen.emit(str(path))
    settle(qtbot, bench)
    assert "not a job" in bench.window.notice.text.text()
    assert bench.desk.job.now.pages == kept.pages
    capture = tmp_path / "replayed"
    bench.incoming.save_job(path)
    settle(qtbot, bench)
    assert main(["replay", str(path), "--into", str(capture), "--quiet"]) == 1  # two have no list
    assert (capture / "page 1-line.png").exists()


def proposed_folder(bench):
    """The folder that the next export would go to."""
    bench.do("export")
    folder = bench.out._dialog.folder.text()
    bench.out._dialog.reject()
    return folder


def test_each_book_is_exported_where_it_was_before_and_a_new_one_beside_its_scans(
    with_pages, qtbot, tmp_path,
):
    bench, out = with_pages, tmp_path / "out"
    scans = bench.desk.page.path.parent
    assert proposed_folder(bench) == str(scans / "lineart")
    export_this_page(bench, qtbot, out)
    assert proposed_folder(bench) == str(out)
    first = bench.desk.job.now
    bench.do("remove")
    bench._choose(frozenset({0, 1}))
    bench.do("remove")
    (tmp_path / "other").mkdir()
    draw_page(tmp_path / "other" / "a.png")
    bench.incoming.open_paths((tmp_path / "other",))
    settle(qtbot, bench)
    assert proposed_folder(bench) == str(tmp_path / "other" / "lineart")
    bench.incoming.lay(first, "open the job")
    assert proposed_folder(bench) == str(out)


def test_a_job_that_is_opened_again_begins_where_one_was(with_pages, qtbot, opened, qapp, tmp_path):
    bench = with_pages
    bench.incoming.save_job(tmp_path / "book.json")
    settle(qtbot, bench)
    bench.go_to(2)
    settle(qtbot, bench)
    bench.incoming.open_paths((shipped("sample_pages"),))
    settle(qtbot, bench)
    assert bench.desk.current == 3
    bench.incoming.open_paths((tmp_path / "book.json",))
    settle(qtbot, bench)
    assert bench.desk.current == 2
    bench.do("previous page")
    bench.keeper.end(bench.desk.job.now)
    with started(qapp, qtbot, bench.places) as again:
        again.bring_back()
        assert again.desk.current == 1
        settle(qtbot, again)


def test_a_stopped_export_says_what_is_left_and_goes_on_from_there(
    with_pages, qtbot, tmp_path, monkeypatch,
):
    bench, out, work = with_pages, tmp_path / "out", with_pages.window.work
    bench.do("keep")
    bench.do("apply all")
    reached, let_on = Event(), Event()

    def held(planned, into, cores, watch, **more):
        def watched(done, total):
            if done > total / 3:
                reached.set()
                let_on.wait(20)
            watch(done, total)

        return run_export(planned, into, cores, watched, **more)

    monkeypatch.setattr(outgoing, "run_export", held)

    def export():
        bench.do("export")
        bench.out._dialog.whose[-1].setChecked(True)
        bench.out._dialog.folder.setText(str(out))
        qtbot.mouseClick(bench.out._dialog.go, LEFT)
        assert work.isVisible()
        assert not bench.window.notice.isVisible()  # the foot of the page stays free

    def ended():
        qtbot.waitUntil(lambda: not bench.out.busy, timeout=20_000)
        assert not work.isVisible()
        return bench.window.notice.text.text()

    export()
    qtbot.waitUntil(reached.is_set, timeout=20_000)
    qtbot.mouseClick(work.stop, LEFT)
    assert work.text.text().startswith("Stopping")
    let_on.set()
    assert ended() == (f"Stopped: 1 of 3 pages are in {out}, 2 left. "
                       "Nothing is half-written; the same export goes on from there.")
    files = {path: path.stat().st_mtime_ns for path in out.iterdir() if path.name != FOLDER}
    assert [path.name for path in files] == ["page 1-line.png"]
    with Image.open(out / "page 1-line.png") as picture:
        picture.load()
    export()
    assert ended() == f"3 of 3 pages are in {out}."
    assert {path: path.stat().st_mtime_ns for path in files} == files  # it was not done again


def test_the_window_is_not_closed_over_an_export_without_a_word(
    with_pages, qtbot, tmp_path, monkeypatch,
):
    bench, reached, let_on = with_pages, Event(), Event()

    def held(planned, into, cores, watch, **more):
        reached.set()
        let_on.wait(20)
        return run_export(planned, into, cores, watch, **more)

    monkeypatch.setattr(outgoing, "run_export", held)
    bench.out.export(Export((0,), (Print(),), tmp_path / "out"))
    qtbot.waitUntil(reached.is_set, timeout=20_000)
    assert not bench.window.close()
    assert bench.window.isVisible()
    assert bench.window.notice.text.text().startswith("Something is still being written")
    qtbot.mouseClick(bench.window.notice.act, LEFT)
    assert not bench.window.isVisible()
    let_on.set()


def test_an_export_that_is_stopped_before_it_writes_leaves_nothing(with_pages, qtbot, tmp_path):
    bench, out = with_pages, tmp_path / "out"
    bench.do("keep")
    bench.out.export(Export((0,), (Print(),), out))
    qtbot.mouseClick(bench.window.work.stop, LEFT)
    qtbot.waitUntil(lambda: not bench.out.busy, timeout=20_000)
    assert bench.window.notice.text.text() == "Nothing was written."
    assert not bench.window.work.isVisible()
    assert not out.exists()


def test_a_file_in_the_way_of_an_export_is_asked_about(with_pages, qtbot, tmp_path, capsys):
    bench, out = with_pages, tmp_path / "out"
    bench.do("keep")
    bench.do("apply all")
    notice = bench.window.notice

    def export():
        bench.do("export")
        bench.out._dialog.whose[-1].setChecked(True)
        bench.out._dialog.folder.setText(str(out))
        qtbot.mouseClick(bench.out._dialog.go, LEFT)
        qtbot.waitUntil(lambda: not bench.out.busy, timeout=20_000)

    def answer(button):
        qtbot.mouseClick(button, LEFT)
        qtbot.waitUntil(lambda: not bench.out.busy, timeout=20_000)

    export()
    assert bench.out._taken is None
    ours = {path.name: path.read_bytes() for path in out.glob("*.png")}
    assert len(ours) == 3
    (out / "page 2-line.png").write_bytes(b"retouched")
    (out / "page 3-line.png").unlink()

    export()
    asked = bench.out._taken
    assert asked.isVisible()
    assert asked.names.text() == "page 2-line.png"
    assert not (out / "page 3-line.png").exists()  # nothing is written before the answer
    answer(asked.leave)
    assert "2 of 3" in notice.text.text()
    assert "page 2-line.png was changed" in notice.text.text()
    assert "choose “Write over them”" in notice.text.text()
    assert (out / "page 2-line.png").read_bytes() == b"retouched"
    assert (out / "page 3-line.png").read_bytes() == ours["page 3-line.png"]

    export()
    qtbot.keyClick(bench.out._taken, Qt.Key.Key_Escape)
    assert notice.text.text() == "Nothing was written."
    assert (out / "page 2-line.png").read_bytes() == b"retouched"
    export()
    answer(bench.out._taken.over)
    assert "3 of 3" in notice.text.text()
    assert {path.name: path.read_bytes() for path in out.glob("*.png")} == ours

    with Journal(out):
        export()
        assert "another run is writing there" in notice.text.text()
    bench.incoming.save_job(tmp_path / "book.json")
    settle(qtbot, bench)
    times = [path.stat().st_mtime_ns for path in sorted(out.glob("*.png"))]
    capsys.readouterr()
    assert main(["replay", str(tmp_path / "book.json")]) == 0
    assert "3 were done before and are unchanged" in capsys.readouterr().out
    assert [path.stat().st_mtime_ns for path in sorted(out.glob("*.png"))] == times


def test_the_job_is_kept_and_comes_back_after_a_crash(with_pages, qtbot, opened):
    bench = with_pages
    bench.do("keep")
    settle(qtbot, bench)
    kept = loads_job(bench.keeper.path.read_bytes(), KINDS, "job")
    assert kept == bench.desk.job.now
    assert bench.places.mark.exists()
    opened.begin([])  # what the next start finds after a crash
    bench.do("remove")
    settle(qtbot, bench)
    assert bench.desk.job.now != kept
    qtbot.mouseClick(bench.window.notice.act, LEFT)
    settle(qtbot, bench)
    assert bench.desk.job.now == kept


def earlier_jobs(window):
    """The menu of earlier jobs, laid open."""
    menu = next(action.menu() for action in window.menuBar().actions()[0].menu().actions()
                if action.menu() and "arlier" in action.text())
    menu.aboutToShow.emit()
    return menu.actions()


def test_new_pages_leave_the_job_of_the_sitting_before_as_it_was(
    with_pages, qtbot, opened, tmp_path, monkeypatch,
):
    bench = with_pages
    bench.do("keep")
    settle(qtbot, bench)
    first = bench.desk.job.now
    bench.window.close()
    opened.begin([])  # the next sitting begins with pages of its own
    bench.become(Desk())
    bench.incoming.open_paths((draw_page(tmp_path / "new.png"),))
    settle(qtbot, bench)
    second = bench.desk.job.now
    bench.window.close()
    opened.begin([])
    assert bench.keeper.last.job == second
    assert [kept.job for kept in bench.keeper.earlier()] == [second, first]
    bench.become(Desk())
    found = earlier_jobs(bench.window)
    assert [action.text().partition(": ")[2] for action in found] == [
        "new.png", "page 1.png and 2 more"]
    assert found[1].toolTip().endswith("1 of 3 pages have their list")
    bench.incoming.save_job(tmp_path / "new.json")
    settle(qtbot, bench)
    found[1].trigger()
    assert bench.desk.job.now == first
    asked = []
    monkeypatch.setattr(
        QFileDialog, "getSaveFileName", lambda *args: asked.append(args[2]) or ("", ""))
    bench.do("save job")
    beside = bench.desk.page.path.parent
    assert asked == [str(beside / "job.json")]  # and not the file of the other job
    bench.do("undo")
    assert bench.desk.page is None
    bench.window.show()


def test_sittings_at_one_time_and_beyond_count_keep_to_themselves(bench, qtbot, tmp_path):
    folder = bench.places.state
    jobs = [Job((JobPage(tmp_path / f"{n}.png"),)) for n in range(MOST_KEPT + 5)]
    for number, job in enumerate(jobs):
        sitting = Keeper(bench.places, bench.workers, lambda _: None)
        sitting.begin()
        sitting.end(job)
        os.utime(sitting.path, (number, number))
    assert len(set(folder.glob("job*.json"))) == MOST_KEPT + 1
    sitting.begin()
    assert sitting.last.job == jobs[-1]
    assert [kept.job for kept in sitting.earlier()] == jobs[:-13:-1]
    sitting.end(Job())
    assert not sitting.path.exists()


def test_a_second_window_is_not_told_that_the_first_was_not_closed(bench, tmp_path):
    job = Job((JobPage(tmp_path / "a.png"),))
    first, second = (Keeper(bench.places, bench.workers, lambda _: None) for _ in range(2))
    bench.keeper.end(job)
    assert not first.begin()
    assert not second.begin()
    second.end(job)
    assert bench.places.mark.exists()  # the first is open still
    assert first.begin()  # as after a crash: nobody holds the mark that lies there
    first.end(job)
    assert not bench.places.mark.exists()


def test_a_kept_job_that_cannot_be_read_is_named_with_the_reason(bench, opened):
    """As one whose lists are of older editions."""
    old = bench.places.state / "job 2020-01-01 10.00.00.json"
    old.write_text('{"format": "stetline job", "version": 0}')
    opened.begin([])
    (action,) = earlier_jobs(bench.window)
    assert action.text().endswith(": cannot be read")
    assert not action.isEnabled()
    bench.do("last job")
    assert bench.window.notice.text.text().startswith(
        f"That job cannot be read: {old.name}: it has version 0")
    assert action.toolTip() in bench.window.notice.text.text()


def test_that_the_job_cannot_be_kept_is_said_once(with_pages, qtbot):
    bench, notice = with_pages, with_pages.window.notice
    away = bench.places.state.rename(bench.places.state.with_name("away"))
    bench.places.state.write_text("no folder")
    bench.do("turn left")
    settle(qtbot, bench)
    assert notice.text.text().startswith("The job cannot be kept: job 20")
    notice.hide()
    bench.do("turn right")
    settle(qtbot, bench)
    assert not notice.isVisible()
    bench.places.state.unlink()
    away.rename(bench.places.state)
    bench.do("turn right")
    settle(qtbot, bench)
    assert bench.keeper.path.exists()


def test_where_no_job_has_been_kept_the_menu_says_so(bench):
    (action,) = earlier_jobs(bench.window)
    assert not action.isEnabled()
    assert "None" in action.text()


def test_closing_in_order_leaves_no_mark_and_keeps_the_settings(bench, qtbot, opened, scans):
    bench.incoming.open_paths((scans,))
    qtbot.waitUntil(lambda: bench.desk.page is not None)
    opened.choose_theme("dark")
    bench.window.close()
    assert not bench.places.mark.exists()
    settings = load_settings(bench.places.settings)
    assert settings.theme == "dark"
    assert settings.recent == (str(scans),)
    bench.window.show()


@pytest.mark.parametrize("key", ["PgDown", "Ctrl+Return"])
def test_a_number_that_is_being_typed_is_set_before_another_page_comes(with_pages, qtbot, key):
    bench = with_pages
    field = bench.window.card.rows[0].sentence.control(("points", "black"))
    field.setFocus()
    qtbot.keyClicks(field, "44")
    action = next(action for action in bench.window.actions_by_name.values()
                  if QKeySequence(key) in action.shortcuts())
    action.trigger()  # as the key does, which the field leaves to the menus
    assert bench.desk.current == 1
    settle(qtbot, bench)
    bench.window.rack.setFocus()
    assert bench.desk.job.now.pages[0].steps.steps[0].points.black == 44
    second = bench.desk.job.now.pages[1].steps
    assert second is None if key == "PgDown" else second.steps[0].points.black == 44


def test_a_number_that_is_being_typed_is_set_before_what_is_dropped_comes(
    with_pages, qtbot, tmp_path,
):
    bench = with_pages
    drop(bench.window, draw_page(tmp_path / "late.png"))
    field = bench.window.card.rows[0].sentence.control(("points", "black"))
    field.setFocus()
    qtbot.keyClicks(field, "44")  # while it is still looked for
    settle(qtbot, bench)
    assert bench.desk.current == 3
    assert bench.desk.job.now.pages[0].steps.steps[0].points.black == 44


def test_ctrl_delete_in_a_number_leaves_the_rack_alone(with_pages, qtbot):
    bench = with_pages
    field = bench.window.card.rows[0].sentence.control(("points", "black"))
    field.setFocus()
    field.home(False)
    qtbot.keyClick(field, Qt.Key.Key_Delete, Qt.KeyboardModifier.ControlModifier)
    assert field.text() == ""
    assert len(bench.desk.job.now.pages) == 3


def test_the_picker_sets_the_points_from_the_page(with_pages, qtbot):
    bench = with_pages
    bench.do("one")
    settle(qtbot, bench)
    view = bench.desk.looking.view
    qtbot.keyClick(bench.window, Qt.Key.Key_B)
    at = QPoint(PATCH_AT[0] + view.left, PATCH_AT[1] + view.top)
    qtbot.mouseClick(bench.window.page, LEFT, pos=at)
    assert tone_now(bench).points.black == 150


def test_the_picker_is_worked_by_keys_alone(with_pages, qtbot):
    bench, page = with_pages, with_pages.window.page
    bench.do("one")
    settle(qtbot, bench)
    qtbot.keyClick(bench.window, Qt.Key.Key_B)
    qtbot.keyClick(page, Qt.Key.Key_Right)
    view, at = bench.desk.looking.view, page.lay.pointer
    start = view.page_at(at.x(), at.y())
    across, down = PATCH_AT[0] - start[0], PATCH_AT[1] - start[1]
    for _ in range(round(abs(across) / 10)):
        qtbot.keyClick(page, Qt.Key.Key_Right if across > 0 else Qt.Key.Key_Left)
    for _ in range(round(abs(down) / 10)):
        qtbot.keyClick(page, Qt.Key.Key_Down if down > 0 else Qt.Key.Key_Up)
    qtbot.keyClick(page, Qt.Key.Key_Return)
    assert tone_now(bench).points.black == 150
    settle(qtbot, bench)


def test_steps_are_changed_from_the_card(with_pages, qtbot):
    bench = with_pages
    give(bench, qtbot, Tone(points=Fixed(black=30, white=220)), Lift(), BuildUp(times=2))
    field = bench.window.card.rows[2].sentence.control(("times",))
    qtbot.keyClick(field, Qt.Key.Key_Up)
    assert steps_now(bench).steps[2].times == 2.1
    bench.lists.choose(2)
    qtbot.keyClick(bench.window, Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier)
    assert [s.kind for s in steps_now(bench).steps] == ["tone", "build up", "lift"]
    qtbot.keyClick(bench.window, Qt.Key.Key_D, CTRL)
    assert [s.kind for s in steps_now(bench).steps].count("build up") == 2
    qtbot.mouseClick(bench.window.card.rows[0].switch, LEFT)
    assert not steps_now(bench).steps[0].on
    bench.lists.choose(1)
    bench.do("delete")
    assert [s.kind for s in steps_now(bench).steps].count("build up") == 1
    settle(qtbot, bench)


def test_a_held_list_is_opened_on_the_card_and_its_numbers_changed(with_pages, qtbot):
    bench = with_pages
    held = StepList("tones", (Tone(points=Fixed(black=30, white=220)), Lift()))
    give(bench, qtbot, Nested(list=held), BuildUp(times=2))
    opener = bench.window.card.rows[0].inner
    assert opener.rows == []
    assert bench.window.card.rows[1].inner is None
    qtbot.mouseClick(opener.button, LEFT)
    assert opener.button.text() == "Hide its steps"
    assert [row.sentence.accessibleName() for row in opener.rows] == list(held.sentences())
    before = len(bench.desk.job.past)
    field = opener.rows[0].sentence.control(("points", "white"))
    qtbot.keyClick(field, Qt.Key.Key_Down)
    assert steps_now(bench).steps[0].list.steps[0].points.white == 219
    assert bench.desk.job.undo_name == "tone, white point"
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "20")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert "black point" in bench.window.notice.text.text()
    assert len(bench.desk.job.past) == before + 1
    qtbot.mouseClick(opener.rows[1].switch, LEFT)
    assert not steps_now(bench).steps[0].list.steps[1].on
    settle(qtbot, bench)
    bench.do("undo")
    assert steps_now(bench).steps[0].list.steps[1].on
    qtbot.mouseClick(opener.button, LEFT)
    assert opener.rows == []
    bench.lists.take(StepList("plain", (Lift(), Lift())))
    settle(qtbot, bench)
    assert opener.isHidden()


def test_a_step_that_cannot_be_is_refused_and_said(with_pages, qtbot):
    bench = with_pages
    give(bench, qtbot, Tone(points=Fixed(black=100, white=220)), Lift())
    field = bench.window.card.rows[0].sentence.control(("points", "white"))
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "90")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert steps_now(bench).steps[0].points.white == 220
    assert "black point" in bench.window.notice.text.text()
    assert field.text() == "220"


def test_every_kind_can_be_added_from_the_menu(with_pages, qtbot):
    bench = with_pages
    give(bench, qtbot)
    for action in bench.window.card.add.menu().actions():
        kind, _, purpose = action.text().partition("\t")
        if kind in KINDS:
            assert purpose  # what it is for can be read without a pointer
            action.trigger()
    settle(qtbot, bench)
    there = {step.kind for step in steps_now(bench).steps}
    assert there == set(KINDS) - {"list"}


def test_lists_go_into_the_drawer_and_out_of_it(with_pages, qtbot, tmp_path, monkeypatch):
    bench = with_pages
    give(bench, qtbot, BuildUp(times=3), Lift())
    bench.do("into drawer")
    assert [name for name, _ in look_in(bench.places.drawer, KINDS).lists] == ["given.json"]
    bench.go_to(1)
    settle(qtbot, bench)
    qtbot.keyClick(bench.window, Qt.Key.Key_1, ALT)
    assert steps_now(bench).steps == (BuildUp(times=3), Lift())
    packed = tmp_path / "drawer.zip"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(packed), ""))
    bench.do("pack drawer")
    with drawer(bench) as dialog:
        assert not dialog.back.isVisible()
        qtbot.mouseClick(dialog.rows[0].throw, LEFT)
        assert dialog.rows == []
        assert "“given” was thrown out" in dialog.said.text()
        qtbot.mouseClick(dialog.back, LEFT)
        assert dialog.rows[0].key.keySequence().toString() == "Alt+1"
        assert not dialog.back.isVisible()
        qtbot.mouseClick(dialog.rows[0].throw, LEFT)
    assert look_in(bench.places.drawer, KINDS).lists == ()
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(packed), ""))
    bench.do("unpack drawer")
    assert look_in(bench.places.drawer, KINDS).keys == {"given.json": "Alt+1"}
    settle(qtbot, bench)


def test_a_list_that_another_takes_the_place_of_in_the_drawer_can_be_put_back(with_pages, qtbot):
    bench, notice = with_pages, with_pages.window.notice
    for times in (2, 3):
        bench.lists.take(StepList("pen", (BuildUp(times=times), Lift())))
        bench.do("into drawer")
        assert notice.act.isVisible() == (times == 3)
    settle(qtbot, bench)

    def times_now():
        [(_, steps)] = look_in(bench.places.drawer, KINDS).lists
        return steps.steps[0].times

    assert times_now() == 3
    assert "took the place" in notice.text.text()
    qtbot.mouseClick(notice.act, LEFT)
    assert times_now() == 2
    assert not notice.act.isVisible()
    assert look_in(bench.places.drawer, KINDS).keys == {"pen.json": "Alt+1"}


def older(text):
    """The text of a list or job as a program with another *keep marks* wrote it."""
    return text.replace(f'"edition": {KeepMarks.edition}', '"edition": 1')


MARKS = StepList("marks", (KeepMarks(limit=4), Lift()))


def test_a_list_of_an_older_program_is_offered_up_to_date(
    with_pages, qtbot, tmp_path, monkeypatch,
):
    bench, notice = with_pages, with_pages.window.notice
    for path in (tmp_path / "old.json", bench.places.drawer / "marks.json"):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(older(dumps(MARKS)))
    monkeypatch.setattr(
        QFileDialog, "getOpenFileName", lambda *_: (str(tmp_path / "old.json"), ""))
    before = steps_now(bench)
    bench.do("open list")
    assert steps_now(bench) == before
    assert "“keep marks” otherwise" in notice.text.text()
    assert "stetline" not in notice.text.text()
    qtbot.mouseClick(notice.act, LEFT)
    assert steps_now(bench).steps == MARKS.steps
    assert not notice.isVisible()
    bench.do("undo")
    bench.do("drawer")
    dialog = bench.window.findChild(DrawerDialog)
    qtbot.mouseClick(dialog.rows[0].take, LEFT)
    assert not dialog.isVisible()
    assert steps_now(bench) == before
    qtbot.mouseClick(notice.act, LEFT)
    assert steps_now(bench).steps == MARKS.steps
    assert look_in(bench.places.drawer, KINDS).older == {}
    settle(qtbot, bench)


@pytest.mark.parametrize("kept", [False, True])
def test_a_job_of_an_older_program_is_offered_up_to_date(bench, opened, qtbot, scans, kept):
    job, notice = with_steps(Job(find_pages((scans,)).pages), frozenset({0}), MARKS), (
        bench.window.notice)
    path = bench.places.state / "job 2020-01-01 10.00.00.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    write_job(path, job)
    path.write_text(older(path.read_text()))
    if kept:
        opened.begin([])
        bench.do("last job")
    else:
        bench.incoming.open_job(path)
    qtbot.waitUntil(notice.act.isVisible)
    assert bench.desk.page is None
    assert "“keep marks” otherwise" in notice.text.text()
    qtbot.mouseClick(notice.act, LEFT)
    qtbot.waitUntil(lambda: bench.desk.page is not None)
    assert [page.steps for page in bench.desk.job.now.pages] == [MARKS, None, None]
    settle(qtbot, bench)


@contextmanager
def drawer(bench):
    """The drawer laid open, and shut again."""
    bench.do("drawer")
    dialog = bench.window.findChild(DrawerDialog)
    yield dialog
    dialog.close_button.click()
    assert not dialog.isVisible()


def test_what_the_system_or_a_file_keeps_from_the_drawer_is_said(
    with_pages, qtbot, tmp_path, monkeypatch,
):
    bench = with_pages
    bench.do("into drawer")
    folder = bench.places.drawer
    (folder / "old.json").write_text('{"format": "stetline step list", "version": 99}')

    def refuse(*_):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr("app.bench.drawing.take_out", refuse)
    with drawer(bench) as dialog:
        assert dialog.said.text() == (
            "old.json: it has version 99, and this program reads up to 1; "
            "open it with a newer program.")
        qtbot.mouseClick(dialog.rows[0].throw, LEFT)
        assert "may not be written to" in dialog.said.text()
        assert not dialog.back.isVisible()
        assert len(dialog.rows) == 1
    shutil.rmtree(folder)
    folder.write_text("no folder")
    bench.do("into drawer")
    assert bench.window.notice.text.text().startswith("drawer: ")


def test_in_the_drawer_lists_get_names_and_keys(with_pages, qtbot):
    bench = with_pages
    for name in ("pen", "brush"):
        bench.lists.take(StepList(name, (BuildUp(times=len(name)), Lift())))
        bench.do("into drawer")
    settle(qtbot, bench)
    with drawer(bench) as dialog:
        brush = dialog.rows[0]
        assert (brush.name.text(), brush.key.keySequence().toString()) == ("brush", "Alt+2")
        qtbot.keyClick(brush.key, Qt.Key.Key_S, CTRL)
        qtbot.waitUntil(lambda: "Save the step list" in dialog.said.text(), timeout=5000)
        assert dialog.rows[0].key.keySequence().toString() == "Alt+2"
        qtbot.keyClick(dialog.rows[0].key, Qt.Key.Key_F9)
        qtbot.waitUntil(lambda: not dialog.said.text(), timeout=5000)
        name = dialog.rows[0].name
        name.setFocus()
        name.selectAll()
        qtbot.keyClicks(name, "pen")
        qtbot.keyClick(name, Qt.Key.Key_Return)
        assert "called so" in dialog.said.text()
        name = dialog.rows[0].name
        name.setFocus()
        name.selectAll()
        qtbot.keyClicks(name, "thick brush")
        qtbot.keyClick(name, Qt.Key.Key_Return)
        assert dialog.isVisible()
        assert [row.kept.name for row in dialog.rows] == ["pen", "thick brush"]
        qtbot.mouseClick(dialog.rows[0].take, LEFT)
    assert steps_now(bench).name == "pen"
    qtbot.keyClick(bench.window, Qt.Key.Key_F9)
    assert steps_now(bench).name == "thick brush"
    settle(qtbot, bench)


def test_a_list_from_a_file_is_opened_or_put_in_whole(with_pages, qtbot, tmp_path, monkeypatch):
    bench = with_pages
    write_list(tmp_path / "other.json", StepList("other", (BuildUp(times=4),)))
    monkeypatch.setattr(
        QFileDialog, "getOpenFileName", lambda *_: (str(tmp_path / "other.json"), ""))
    count = len(steps_now(bench).steps)
    bench.do("insert list")
    assert steps_now(bench).steps[count].list.steps == (BuildUp(times=4),)
    bench.do("open list")
    assert steps_now(bench).name == "other"
    (tmp_path / "other.json").write_text(json.dumps({"format": "something"}))
    bench.do("open list")
    assert "not a step list" in bench.window.notice.text.text()
    settle(qtbot, bench)


def test_a_scan_that_was_moved_is_asked_for_and_those_beside_it_found(
    with_pages, qtbot, scans, monkeypatch,
):
    bench = with_pages
    elsewhere = scans.rename(scans.with_name("elsewhere"))
    bench.known.proposals.clear()
    bench.go_to(2)
    qtbot.waitUntil(lambda: bench.idle)
    assert bench.window.stack.currentIndex() == 2
    assert "page 3.png" in bench.window.fault.text()
    assert bench.window.bar.facts.toolTip() == ""  # what is wrong is said in its place
    looked = []
    monkeypatch.setattr(
        QFileDialog, "getOpenFileName",
        lambda *asked: looked.append(asked[2]) or (str(elsewhere / "page 3.png"), ""))
    bench.do("moved")
    assert looked == [str(scans.parent)]  # the nearest folder that is still there
    settle(qtbot, bench)
    assert bench.window.stack.currentIndex() == 1
    assert {page.at.path.parent for page in bench.desk.job.now.pages} == {elsewhere}


@contextmanager
def started(qapp, qtbot, places):
    """The program as it starts without pages, closed in the end."""
    made = Opening(qapp, places)
    with qtbot.waitExposed(made.bench.window):
        made.bench.window.show()
    made.begin([])
    qtbot.waitUntil(lambda: not made.bench.incoming.busy, timeout=20_000)
    yield made.bench
    made.bench.window.close()
    made.end()
    made.bench.window.deleteLater()
    made.deleteLater()


def test_the_first_start_shows_the_sample_pages_and_the_next_does_not(qtbot, qapp, tmp_path):
    places = Places.under(tmp_path / "places")
    with started(qapp, qtbot, places) as bench:
        assert bench.desk.page is not None
        assert bench.window.notice.text.text().count(".") == 3
        assert bench.window.notice.isVisible()
        count = len(bench.desk.job.now.pages)
        own = draw_page(tmp_path / "own.png")
        drop(bench.window, own)  # pages of one's own take the place of samples only looked at
        settle(qtbot, bench)
        assert [page.path for page in bench.desk.job.now.pages] == [own]
        assert not bench.window.notice.isVisible()
        bench.do("undo")
        settle(qtbot, bench)
        assert len(bench.desk.job.now.pages) == count
        bench.do("keep")
        drop(bench.window, own)  # one was kept: they stay
        settle(qtbot, bench)
        assert len(bench.desk.job.now.pages) == count + 1
    with started(qapp, qtbot, places) as bench:
        assert bench.desk.page is None
        assert bench.window.stack.currentIndex() == 0
        assert bench.window.last.isVisible()
    with started(qapp, qtbot, places) as bench:  # to look in and close again loses nothing
        qtbot.mouseClick(bench.window.last, LEFT)
        assert bench.desk.page is not None


def test_print_size_is_true_once_the_screen_is_measured_by_a_card(with_pages, qtbot, opened):
    bench = with_pages
    bench.do("calibrate")
    card = bench.window.findChild(CardSize)
    card.slider.setValue(428 * 100)
    with qtbot.waitSignal(card.measured) as caught:
        qtbot.mouseClick(card.done_button, LEFT)
    assert caught.args == [pytest.approx(428 / 85.6)]
    assert load_settings(bench.places.settings).dots_per_mm == pytest.approx(5)
    settle(qtbot, bench)
    width, _ = bench.desk.looking.view.size
    assert width == pytest.approx(WIDTH / 300 * 25.4 * 5, rel=0.01)


def test_a_mistake_of_the_program_goes_into_the_log(bench, qtbot):
    before, sys.excepthook = sys.excepthook, lambda *_: None
    keep_log(bench.places)
    line = Line(bench.workers, lambda _: None)
    line.ask(lambda _: 1 // 0, lambda _: None)
    qtbot.waitUntil(lambda: not line.busy)
    sys.excepthook(ValueError, ValueError("odd"), None)
    logger = logging.getLogger("stetline")
    for handler in list(logger.handlers):
        logger.removeHandler(handler)
        handler.close()
    sys.excepthook = before
    said = bench.places.log.read_text()
    assert "ZeroDivisionError" in said
    assert "odd" in said


def test_a_list_that_cannot_be_done_leaves_the_old_picture_and_says_so(with_pages, qtbot):
    bench = with_pages
    give(bench, qtbot, Tone(points=Fixed(black=40, white=220)), Lift())
    bench.lists.take(StepList("too much", (Crop(left=2000), Tone(), Lift())))
    qtbot.waitUntil(lambda: bench.idle)
    assert "older picture" in bench.window.page.accessibleDescription()
    assert "nothing of the page is left" in bench.window.notice.text.text()
    bench.do("undo")
    settle(qtbot, bench)
    assert bench.window.page.accessibleDescription() == ""


def test_an_outline_is_drawn_on_the_page_for_the_step_that_holds_one(with_pages, qtbot):
    bench, page = with_pages, with_pages.window.page
    give(bench, qtbot, TakeOut(area=Outline()), Tone(points=Fixed(black=40, white=220)), Lift())
    bench.do("one")
    bench.viewing.look(replace(bench.desk.looking, side="after"))
    settle(qtbot, bench)
    assert shown_at(bench, 300, 120) == (0, 0, 0)
    bench.lists.choose(0)
    view = bench.desk.looking.view
    corners = [(280, 90), (340, 90), (340, 150), (280, 150)]
    spots = [QPoint(x + view.left, y + view.top) for x, y in corners]
    qtbot.mousePress(page, LEFT, pos=spots[0])
    for spot in spots[1:]:
        qtbot.mouseMove(page, spot)
    qtbot.mouseRelease(page, LEFT, pos=spots[-1])
    settle(qtbot, bench)
    drawn = steps_now(bench).steps[0].area.corners
    assert drawn[0] == pytest.approx((280 / 300 * 25.4, 90 / 300 * 25.4), abs=0.02)
    assert shown_at(bench, 300, 120) == (255, 255, 255)
    assert shown_at(bench, 400, 120) == (0, 0, 0)
    qtbot.mousePress(page, LEFT, pos=spots[0] + QPoint(100, 0))
    for spot in spots[1:]:
        qtbot.mouseMove(page, spot + QPoint(100, 0))
    qtbot.mouseRelease(page, LEFT, pos=spots[-1] + QPoint(100, 0))
    settle(qtbot, bench)
    assert steps_now(bench).steps[0].area.corners == drawn  # a further area is a further step
    kinds = [step.kind for step in steps_now(bench).steps]
    assert kinds == ["take out", "take out", "tone", "lift"]
    assert shown_at(bench, 400, 120) == shown_at(bench, 300, 120) == (255, 255, 255)
    assert bench.desk.step == 1
    qtbot.keyClick(page, Qt.Key.Key_Escape)
    assert bench.desk.step is None
    with qtbot.waitSignal(page.pushed):
        qtbot.mousePress(page, LEFT, pos=spots[0])
        qtbot.mouseMove(page, spots[1])
    qtbot.mouseRelease(page, LEFT, pos=spots[1])


def test_a_mark_is_chosen_by_a_click(with_pages, qtbot):
    bench = with_pages
    give(bench, qtbot, TakeOut(area=Mark()), Tone(points=Fixed(black=40, white=220)), Lift())
    bench.do("one")
    bench.viewing.look(replace(bench.desk.looking, side="after"))
    bench.lists.choose(0)
    settle(qtbot, bench)
    view = bench.desk.looking.view
    qtbot.mouseClick(bench.window.page, LEFT, pos=QPoint(300 + view.left, 120 + view.top))
    settle(qtbot, bench)
    assert shown_at(bench, 400, 120) == (255, 255, 255)


def test_a_key_held_shows_what_the_points_cut_off(with_pages, qtbot):
    bench = with_pages
    give(bench, qtbot, Tone(points=Fixed(black=60, white=220)), Lift())
    bench.do("one")
    bench.viewing.look(replace(bench.desk.looking, side="after"))
    settle(qtbot, bench)
    plain = shown_at(bench, *PATCH_AT)
    qtbot.keyPress(bench.window, Qt.Key.Key_C)
    settle(qtbot, bench)
    assert shown_at(bench, *PATCH_AT) in {(118,) * 3, (176,) * 3}
    assert shown_at(bench, 300, 120) == (0, 0, 0)
    qtbot.keyRelease(bench.window, Qt.Key.Key_C)
    qtbot.waitUntil(lambda: shown_at(bench, *PATCH_AT) == plain)


def test_closing_while_work_is_under_way_waits_for_nothing_long(bench, qtbot, scans):
    bench.incoming.open_paths((scans,))
    qtbot.waitUntil(lambda: bench.desk.page is not None)
    bench.window.close()


def test_the_command_line_opens_the_window_with_its_pages(monkeypatch, scans, capsys):
    opened = []
    monkeypatch.setattr("app.bench.opening.open_bench", lambda paths: opened.append(paths) or 0)
    assert main([str(scans)]) == 0
    assert main([]) == 0
    assert opened == [[scans], []]
    for name in ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("sys.platform", "linux")
    assert main([]) == 2
    assert "no screen" in capsys.readouterr().err


def test_a_missing_library_of_the_system_is_named_with_the_line_that_installs_it(
    monkeypatch, capsys,
):
    def missing(path):
        raise OSError("libxcb-cursor.so.0: cannot open shared object file")

    monkeypatch.setenv("QT_QPA_PLATFORM", "xcb")
    monkeypatch.setattr("app.bench.system.ctypes.CDLL", missing)
    assert main([]) == 2
    said = capsys.readouterr().err
    assert "libxcb-cursor.so.0" in said
    assert "apt-get install" in said
    assert "libxcb-cursor0" in said


def test_without_the_toolkit_the_command_says_what_to_install(monkeypatch, capsys):
    def missing():
        raise ModuleNotFoundError("No module named 'PySide6'")

    monkeypatch.setattr("app.bench.system.missing_library", missing)
    assert main([]) == 2
    assert "install stetline[bench]" in capsys.readouterr().err


def test_a_toolkit_that_cannot_be_loaded_is_said_as_well(monkeypatch, capsys):
    class Blocked:
        def find_spec(self, name, path=None, target=None):
            if name == "PySide6.QtSvg":
                raise ImportError("libGL.so.1: cannot open shared object file")

    monkeypatch.delitem(sys.modules, "PySide6.QtSvg")
    monkeypatch.setattr(sys, "meta_path", [Blocked(), *sys.meta_path])
    assert main([]) == 2
    said = capsys.readouterr().err
    assert "libGL.so.1" in said
    assert "libgl1" in said


@pytest.fixture
def tall(with_pages, qtbot):
    """The bench with a page that is as high as its place, and that height."""
    with_pages.window.resize(1280, 640)
    settle(qtbot, with_pages)
    view = with_pages.desk.looking.view
    assert view.fitted
    assert view.size[1] > view.room[1] - 4
    return with_pages, with_pages.window.page.height()


def test_a_page_that_is_fitted_lies_above_a_notice_and_grows_when_it_goes(tall, qtbot):
    (bench, high), page = tall, tall[0].window.page
    before = bench.desk.looking.view
    bench.window.notice.show_said("The job is in a file.")
    qtbot.waitUntil(lambda: page.height() < high)
    settle(qtbot, bench)
    view = bench.desk.looking.view
    assert view.fitted
    assert view.top + view.size[1] <= page.height()
    bench.window.notice.hide()
    qtbot.waitUntil(lambda: page.height() == high)
    settle(qtbot, bench)
    assert bench.desk.looking.view == before


def test_a_notice_moves_no_page_that_was_gone_nearer_to(tall, qtbot):
    (bench, high), page = tall, tall[0].window.page
    bench.window.notice.show_said("The job is in a file.")
    qtbot.waitUntil(lambda: page.height() < high)
    bench.do("in")
    settle(qtbot, bench)
    near = bench.desk.looking.view
    bench.window.notice.hide()
    qtbot.waitUntil(lambda: page.height() == high)
    assert (bench.desk.looking.view.left, bench.desk.looking.view.top) == (near.left, near.top)
    settle(qtbot, bench)
    near, frames = bench.desk.looking.view, []
    bench.engine.drawn.connect(frames.append)
    bench.window.notice.show_said("The job is in a file.")
    qtbot.waitUntil(lambda: page.height() < high)
    settle(qtbot, bench)
    assert bench.desk.looking.view == near
    assert frames == []
    assert page.current


def test_a_notice_moves_nothing_under_a_pointer_with_a_tool_until_it_leaves(tall, qtbot):
    (bench, high), page = tall, tall[0].window.page
    give(bench, qtbot, Crop())
    before = bench.desk.looking.view
    page.setAttribute(Qt.WidgetAttribute.WA_UnderMouse)
    bench.lists.choose(0)
    settle(qtbot, bench)
    bench.window.notice.show_said("No mark lies there.")
    qtbot.waitUntil(lambda: page.height() < high)
    assert bench.desk.looking.view == before
    QApplication.sendEvent(page, QEvent(QEvent.Type.Leave))
    assert bench.desk.looking.view.room[1] == page.height()
    settle(qtbot, bench)


def test_what_was_said_of_one_page_goes_with_it_and_other_words_stay(bench, qtbot, scans):
    Image.open(scans / "page 3.png").convert("CMYK").save(scans / "page 4.tif", dpi=(300, 300))
    drop(bench.window, scans)
    settle(qtbot, bench)
    bench.go_to(3)
    settle(qtbot, bench)
    notice = bench.window.notice
    assert "without a profile" in notice.text.text()
    bench.do("fit")
    assert notice.isVisible()
    bench.go_to(2)
    assert not notice.isVisible()
    notice.show_said("The job is in a file.")
    bench.go_to(1)
    assert notice.isVisible()
