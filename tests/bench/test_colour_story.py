"""A page coloured by the events that hands make: pointer, keys, undo, files."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QFileDialog

from app.bench.state.areas import area_at, colour_at
from app.bench.state.drawer import look_in
from app.bench.state.exporting import Export
from app.bench.state.job import find_pages, with_steps, without
from app.bench.state.picture import Place
from app.command import main
from app.filters.flats import Distinct, Plain
from app.kinds import KINDS
from app.pages.lists import read_list
from app.pages.palettes import read_palette, write_palette
from app.pages.renditions import Flat, Layered
from app.replay.job import Job
from core.colours import Named, Palette
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from tests.bench.conftest import settle

PRESS = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")
LEFT = Qt.MouseButton.LeftButton
CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
LINES = StepList("pen", (Tone(points=Fixed(black=30.0, white=225.0)), Lift()))
ROOM_1, ROOM_2, OUTSIDE, WALL = (150, 200), (450, 200), (20, 20), (304, 200)
SEA, SAND = (40, 90, 140), (230, 200, 110)


@pytest.fixture
def page(bench, qtbot, tmp_path):
    """A page with two rooms, shown pixel for pixel without its scan, the colour panel beside it."""
    drawn = np.full((400, 600), 236, np.uint8)
    drawn[50:350, 50:550] = 24
    drawn[60:340, 60:300] = drawn[60:340, 308:540] = 236
    folder = tmp_path / "scans"
    folder.mkdir()
    for name in ("one.png", "two.png"):
        Image.fromarray(drawn).save(folder / name, dpi=(254, 254))
    job = with_steps(Job(find_pages((folder,)).pages), frozenset({0, 1}), LINES)
    bench.become(bench.desk.then(job, "put pages on the rack").on_page(0))
    settle(qtbot, bench)
    bench.do("one")
    bench.do("split")
    qtbot.keyClick(bench.window, Qt.Key.Key_F4)
    for text in ("#285a8c sea", "#e6c86e sand"):
        qtbot.keyClicks(bench.window.colours.typed, text)
        qtbot.keyClick(bench.window.colours.typed, Qt.Key.Key_Return)
    settle(qtbot, bench)
    return bench


def on_widget(bench, spot):
    view = bench.desk.looking.view
    return QPoint(round(spot[0] + view.left), round(spot[1] + view.top))


def click(bench, qtbot, spot):
    qtbot.mouseMove(bench.window.page, on_widget(bench, spot))
    qtbot.mouseClick(bench.window.page, LEFT, pos=on_widget(bench, spot))
    settle(qtbot, bench)


def drag(bench, qtbot, *spots):
    page = bench.window.page
    qtbot.mousePress(page, LEFT, pos=on_widget(bench, spots[0]))
    for spot in spots[1:]:
        qtbot.mouseMove(page, on_widget(bench, spot))
    qtbot.mouseRelease(page, LEFT, pos=on_widget(bench, spots[-1]))
    settle(qtbot, bench)


def press(bench, qtbot, key, held=Qt.KeyboardModifier.NoModifier):
    qtbot.keyClick(bench.window.page, key, held)
    settle(qtbot, bench)


def seen_at(bench, spot):
    colour = bench.window.page.grab().toImage().pixelColor(on_widget(bench, spot))
    return colour.red(), colour.green(), colour.blue()


def steps_now(bench):
    return bench.desk.page.steps.steps


def kinds_now(bench):
    return [step.kind for step in steps_now(bench)]


def fill_both(bench, qtbot):
    press(bench, qtbot, Qt.Key.Key_1)
    click(bench, qtbot, ROOM_1)
    press(bench, qtbot, Qt.Key.Key_2)
    click(bench, qtbot, ROOM_2)


def test_two_areas_filled_a_mark_held_undone_exported_and_replayed(page, qtbot, tmp_path):
    bench = page
    bench.become(bench.desk.then(without(bench.desk.job.now, frozenset({1})), "take one off"))
    start = len(bench.desk.job.past)
    fill_both(bench, qtbot)
    assert [seen_at(bench, (x, 300)) for x in (150, 450)] == [SEA, SAND]
    assert len(bench.desk.job.past) == start + 2
    assert bench.desk.job.undo_name == "fill an area with sand"
    press(bench, qtbot, Qt.Key.Key_Z, CTRL)
    assert seen_at(bench, (450, 300)) == (255, 255, 255)
    press(bench, qtbot, Qt.Key.Key_Y, CTRL)
    assert seen_at(bench, (450, 300)) == SAND

    press(bench, qtbot, Qt.Key.Key_1)
    press(bench, qtbot, Qt.Key.Key_M, SHIFT)
    click(bench, qtbot, WALL)
    assert kinds_now(bench) == ["tone", "lift", "hold", "flats"]
    assert bench.desk.job.undo_name == "hold a mark in sea"
    assert seen_at(bench, (304, 300)) == SEA
    assert seen_at(bench, (450, 300)) == SAND

    out = tmp_path / "out"
    bench.out.export(Export((0,), (Layered(holds=True), Flat("tiff")), out))
    qtbot.waitUntil(lambda: bench.idle, timeout=30_000)
    assert "The page is in" in bench.window.notice.text.text()
    again = tmp_path / "by job"
    assert main(["replay", str(bench.keeper.path), "--into", str(again), "--quiet"]) == 0
    ours = {path.name: path.read_bytes() for path in out.iterdir() if path.is_file()}
    assert sorted(ours) == ["one-flats.tif", "one-layered.ora"]
    assert all((again / name).read_bytes() == data for name, data in ours.items())
    flats = np.asarray(Image.open(out / "one-flats.tif").convert("RGB"))
    assert tuple(flats[200, 150]) == SEA
    assert tuple(flats[200, 450]) == SAND


def test_areas_are_shown_before_the_first_is_filled(page, qtbot):
    bench, count = page, len(page.desk.job.past)
    tool = bench.window.page.tool
    qtbot.mouseMove(bench.window.page, on_widget(bench, ROOM_1))
    bench.window.page.grab()
    assert tool.words.endswith("(now white)")
    assert {seen_at(bench, (x, 300)) for x in range(51, 59)} > {(0, 0, 0)}  # its edge on the wall
    press(bench, qtbot, Qt.Key.Key_Period)
    press(bench, qtbot, Qt.Key.Key_Period)
    assert len(bench.desk.job.past) == count
    assert bench.desk.page.steps == LINES
    seen = bench.colouring.page_shown
    press(bench, qtbot, Qt.Key.Key_Return)
    assert len(bench.desk.job.past) == count + 1
    assert np.array_equal(bench.engine.shown.sheet.flats, seen.flats)
    assert bench.colouring.page_shown is bench.engine.shown.sheet
    bench.do("undo")
    settle(qtbot, bench)
    qtbot.keyClick(bench.window, Qt.Key.Key_F2)
    bench.lists.take(StepList("darker", (Tone(points=Fixed(black=60.0, white=225.0)), Lift())))
    settle(qtbot, bench)
    assert not bench.colouring.busy


def test_colours_are_the_pages_own_and_do_not_travel(page, qtbot):
    fill_both(page, qtbot)
    page.do("apply all")
    settle(qtbot, page)
    first, second = page.desk.job.now.pages
    assert [step.kind for step in first.steps.steps] == ["tone", "lift", "flats"]
    assert second.steps == LINES


def test_a_list_that_is_saved_or_taken_leaves_the_pages_colours_where_they_are(
    page, qtbot, tmp_path,
):
    fill_both(page, qtbot)
    page.lists.save_to(tmp_path / "pen.json")
    assert read_list(tmp_path / "pen.json", KINDS) == LINES
    page.do("into drawer")
    assert [steps for _, steps in look_in(page.places.drawer, KINDS).lists] == [LINES]
    flats = steps_now(page)[-1]
    other = (Tone(points=Fixed(black=60.0, white=200.0)), Lift())
    page.lists.take(StepList("other", other))
    settle(qtbot, page)
    assert steps_now(page) == (*other, flats)
    assert seen_at(page, (150, 300)) == SEA


def test_areas_are_joined_and_cut_by_lines(page, qtbot):
    bench = page
    fill_both(bench, qtbot)
    press(bench, qtbot, Qt.Key.Key_J, SHIFT)
    drag(bench, qtbot, ROOM_2, (380, 200), ROOM_1)
    assert seen_at(bench, (150, 300)) == SAND
    assert bench.desk.job.undo_name == "join areas"
    count = len(bench.desk.job.past)
    drag(bench, qtbot, (100, 100), (120, 120))
    assert len(bench.desk.job.past) == count
    assert "two areas" in bench.window.notice.text.text()
    press(bench, qtbot, Qt.Key.Key_Z, CTRL)
    press(bench, qtbot, Qt.Key.Key_U, SHIFT)
    drag(bench, qtbot, (54, 250), (150, 250), (250, 250), (304, 250))
    sheet = bench.engine.shown.sheet
    assert area_at(sheet, (150, 100)) != area_at(sheet, (150, 300))
    assert colour_at(sheet, (150, 100)) == colour_at(sheet, (150, 300)) == SEA


def test_ink_is_held_by_a_line_by_brush_and_all_at_once(page, qtbot):
    bench = page
    press(bench, qtbot, Qt.Key.Key_1)
    press(bench, qtbot, Qt.Key.Key_O, SHIFT)
    drag(bench, qtbot, (290, 100), (320, 100), (320, 160), (290, 160))
    assert seen_at(bench, (304, 130)) == SEA
    assert seen_at(bench, (304, 300)) == (0, 0, 0)
    press(bench, qtbot, Qt.Key.Key_2)
    press(bench, qtbot, Qt.Key.Key_B, SHIFT)
    for _ in range(2):
        press(bench, qtbot, Qt.Key.Key_BracketRight)
    assert "5 mm" in bench.window.page.tool.words
    alpha = bench.engine.shown.sheet.alpha
    drag(bench, qtbot, (304, 290), (304, 310))
    assert seen_at(bench, (304, 300)) == SAND
    assert seen_at(bench, (290, 304)) == (255, 255, 255)
    drag(bench, qtbot, (304, 240), (304, 250))
    assert kinds_now(bench) == ["tone", "lift", "hold", "hold"]
    assert len(steps_now(bench)[-1].area.strokes) == 2
    assert np.array_equal(bench.engine.shown.sheet.alpha, alpha)
    bench.do("hold ink")
    settle(qtbot, bench)
    assert seen_at(bench, (54, 60)) == SAND
    assert bench.desk.job.undo_name == "hold all ink in sand"


def test_a_page_is_coloured_by_keyboard_alone(page, qtbot):
    bench = page
    press(bench, qtbot, Qt.Key.Key_1)
    press(bench, qtbot, Qt.Key.Key_F, SHIFT)
    bench.window.page.point_at(ROOM_1)
    press(bench, qtbot, Qt.Key.Key_Return)
    assert seen_at(bench, (150, 300)) == SEA
    press(bench, qtbot, Qt.Key.Key_2)
    sheet = bench.engine.shown.sheet
    met = []
    for _ in range(3):
        press(bench, qtbot, Qt.Key.Key_Period)
        lay = bench.window.page.lay
        met.append(area_at(sheet, lay.spot(lay.pointer)))
    assert len(set(met)) == 3
    while area_at(sheet, lay.spot(lay.pointer)) != area_at(sheet, ROOM_2):
        press(bench, qtbot, Qt.Key.Key_Comma)
        lay = bench.window.page.lay
    press(bench, qtbot, Qt.Key.Key_Return)
    assert seen_at(bench, (450, 300)) == SAND
    press(bench, qtbot, Qt.Key.Key_J, SHIFT)
    bench.window.page.point_at((290.0, 200.0))
    press(bench, qtbot, Qt.Key.Key_Return)
    for _ in range(4):
        press(bench, qtbot, Qt.Key.Key_Right)
    press(bench, qtbot, Qt.Key.Key_Return)
    assert bench.desk.job.undo_name == "join areas"
    assert seen_at(bench, (450, 300)) == SEA


def test_the_area_under_the_pointer_is_emptied_by_delete(page, qtbot):
    bench = page
    fill_both(bench, qtbot)
    press(bench, qtbot, Qt.Key.Key_F, SHIFT)
    bench.window.page.point_at(ROOM_1)
    press(bench, qtbot, Qt.Key.Key_Delete)
    assert seen_at(bench, (150, 300)) == (255, 255, 255)
    assert seen_at(bench, (450, 300)) == SAND
    assert bench.desk.job.undo_name == "empty an area"
    press(bench, qtbot, Qt.Key.Key_B, SHIFT)
    steps = steps_now(bench)
    press(bench, qtbot, Qt.Key.Key_Delete)
    assert steps_now(bench) == steps, "a brush has no area"


def test_all_areas_distinct_and_clear_again_by_the_panels_buttons(page, qtbot):
    bench = page
    for name, fill in (("distinct", Distinct()), ("clear colours", Plain())):
        button = bench.window.colours.acts[name]
        qtbot.mouseClick(button, LEFT)
        settle(qtbot, bench)
        assert steps_now(bench)[-1].fill == fill
    assert seen_at(bench, ROOM_1) == (255, 255, 255)


def test_a_colour_is_picked_from_the_page(page, qtbot):
    bench = page
    fill_both(bench, qtbot)
    press(bench, qtbot, Qt.Key.Key_P, SHIFT)
    click(bench, qtbot, ROOM_1)
    assert bench.colours.chosen == 0
    bench.do("flip")
    click(bench, qtbot, (20, 20))
    assert bench.desk.job.now.palette.colours[-1].colour == (236, 236, 236)
    assert bench.colours.chosen == 2
    assert bench.desk.job.undo_name == "add the colour #ececec"


def test_held_keys_show_lines_or_flats_alone(page, qtbot):
    bench = page
    fill_both(bench, qtbot)
    view = bench.window.page
    black = (0, 0, 0)
    for key, room, wall in (
        (Qt.Key.Key_L, (255, 255, 255), black), (Qt.Key.Key_K, SEA, SEA),
    ):
        qtbot.keyPress(view, key)
        settle(qtbot, bench)
        assert [seen_at(bench, (x, 300)) for x in (150, 58)] == [room, wall]
        qtbot.keyRelease(view, key)
        qtbot.waitUntil(
            lambda: [seen_at(bench, (x, 300)) for x in (150, 58)] == [SEA, black])


def test_held_keys_work_wherever_a_list_has_the_keyboard(page, qtbot):
    bench = page
    fill_both(bench, qtbot)
    bench.do("proof")
    for listed in (bench.window.colours.swatches, bench.window.rack, bench.window.proof.list):
        for key, shown in ((Qt.Key.Key_L, "lines"), (Qt.Key.Key_K, "flats")):
            with qtbot.waitSignal(bench.window.layer_held) as told:
                qtbot.keyPress(listed, key)
            assert told.args == [shown]
            with qtbot.waitSignal(bench.window.layer_held) as told:
                qtbot.keyRelease(listed, key)
            assert told.args == ["all"]
    settle(qtbot, bench)


def test_escape_goes_from_the_colours_back_to_the_page(page, qtbot):
    colours = page.window.colours
    for field in (colours.typed, colours.name, colours.swatches):
        field.setFocus()
        qtbot.keyClicks(colours.typed, "#28")
        qtbot.keyClick(field, Qt.Key.Key_Escape)
        assert page.window.page.hasFocus()
        assert colours.typed.text() == ""


@pytest.mark.parametrize(("at_once", "small", "exact"), [
    (2e6, 0.5, [True]), (0.0, 0.5, [True]), (0.0, 0.0, [False, True]),
])
def test_recolouring_works_nothing_out_again(page, qtbot, monkeypatch, at_once, small, exact):
    """Where much is seen and recoloured, a frame made of the last one comes before the exact one.

    Where little is recoloured, the exact one comes at once.
    """
    monkeypatch.setattr("app.bench.engine._AT_ONCE", at_once)
    monkeypatch.setattr("app.bench.engine.SMALL", small)
    bench = page
    fill_both(bench, qtbot)
    alpha, frames = bench.engine.shown.sheet.alpha, []
    press(bench, qtbot, Qt.Key.Key_1)
    bench.engine.drawn.connect(frames.append)
    click(bench, qtbot, ROOM_2)
    assert seen_at(bench, (450, 300)) == SEA
    assert bench.engine.shown.sheet.alpha is alpha
    assert [frame.exact for frame in frames] == exact
    first, last = (frames[n].after.view(np.uint8).astype(int) for n in (0, -1))
    assert np.abs(first - last).max() <= 1
    shown = bench.engine.shown
    view = bench.desk.looking.view
    whole = shown.draw(bench.desk.looking.ground, Place(view.scale, view.seen))
    assert np.array_equal(frames[-1].after, whole)
    frames.clear()
    bench.window.colours.swatches.renamed.emit(1, "beach")
    settle(qtbot, bench)
    assert bench.desk.job.now.palette.colours[1].name == "beach"
    assert frames == []


def test_the_mark_that_would_be_coloured_is_seen_before_it_is_clicked(page, qtbot):
    bench, before = page, page.desk.job

    def until(pointer, spot, colour):
        def is_so():
            qtbot.mouseMove(bench.window.page, QPoint(1, 1))  # a pointer that rests tells nothing
            qtbot.mouseMove(bench.window.page, on_widget(bench, pointer))
            return seen_at(bench, spot) == colour

        qtbot.waitUntil(is_so)

    bench.do("hold mark")
    press(bench, qtbot, Qt.Key.Key_1)
    for spot in (WALL, (55, 55), (400, 345)):  # all of one connected wall
        until(WALL, spot, SEA)
    assert seen_at(bench, ROOM_1) == (255, 255, 255)
    assert bench.desk.job is before
    until(ROOM_1, WALL, (0, 0, 0))  # more than a millimetre from any mark
    click(bench, qtbot, ROOM_1)
    assert bench.desk.job is before
    assert "No mark lies" in bench.window.notice.text.text()
    until(WALL, WALL, SEA)
    bench.do("glass")  # a pointer that carries the glass means no mark
    settle(qtbot, bench)
    assert seen_at(bench, (55, 300)) == (0, 0, 0)
    bench.do("glass")
    until(WALL, WALL, SEA)
    click(bench, qtbot, WALL)
    assert bench.desk.job is not before
    assert not bench.window.notice.isVisible()


def test_a_colour_that_is_looked_for_is_seen_on_the_page_and_is_one_change(page, qtbot):
    bench = page
    fill_both(bench, qtbot)
    before = bench.desk.job
    for choose in (False, True):
        bench.do("change colour")
        for shade in (30, 90):
            bench.colours.asking.setCurrentColor(QColor(9, 200, shade))
            settle(qtbot, bench)
            assert seen_at(bench, (450, 300)) == (9, 200, shade)
            assert bench.desk.job is before
        bench.colours.asking.done(choose)
        settle(qtbot, bench)
        assert seen_at(bench, (450, 300)) == ((9, 200, 90) if choose else SAND)
    assert bench.desk.job.now.palette.colours[1] == Named((9, 200, 90), "sand")
    bench.do("undo")
    settle(qtbot, bench)
    assert seen_at(bench, (450, 300)) == SAND
    assert bench.desk.job.undo_name == before.undo_name


def test_the_palette_is_edited_in_its_list_and_undone(page, qtbot):
    bench, swatches = page, page.window.colours.swatches
    swatches.setFocus()
    qtbot.keyClick(swatches, Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier)
    assert [named.name for named in bench.desk.job.now.palette.colours] == ["sand", "sea"]
    assert swatches.currentIndex().row() == 0
    qtbot.keyClick(swatches, Qt.Key.Key_Delete)
    assert [named.name for named in bench.desk.job.now.palette.colours] == ["sea"]
    bench.do("undo")
    bench.do("undo")
    assert [named.name for named in bench.desk.job.now.palette.colours] == ["sea", "sand"]
    qtbot.keyClick(bench.window.colours.limit.control(("most",)), Qt.Key.Key_Down, SHIFT)
    assert bench.desk.job.now.palette.most_ink == 230
    assert bench.desk.job.undo_name == "most ink of a colour"


@pytest.mark.parametrize("name", ["coast.txt", "coast.cxf"])
def test_palettes_are_read_and_written(page, qtbot, tmp_path, monkeypatch, name):
    bench, path = page, tmp_path / name
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    bench.do("write palette")
    assert read_palette(path).colours == bench.desk.job.now.palette.colours
    write_palette(path, Palette("inland", (Named((90, 70, 50), "peat"), Named(SEA, "sea"))))
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(path), ""))
    bench.do("read palette")
    assert [named.name for named in bench.desk.job.now.palette.colours] == ["sea", "sand", "peat"]
    assert "1 of 2 colours" in bench.window.notice.text.text()
    text = path.read_text()
    path.write_text("<none")
    bench.do("read palette")
    assert "not XML" in bench.window.notice.text.text()
    path.write_text(text)
    bench.do("read palette")
    assert "0 of 2 colours" in bench.window.notice.text.text()


def test_ink_is_worked_out_by_a_printers_profile_and_by_estimate_again(
    page, qtbot, tmp_path, monkeypatch,
):
    bench, asked = page, []
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(asked[-1]), ""))
    asked.append(tmp_path / "none.icc")
    asked[-1].write_bytes(b"none")
    bench.do("ink profile")
    assert "profile" in bench.window.notice.text.text()
    assert "estimate" in bench.window.colours.source.text()
    asked.append(tmp_path / "away.icc")
    bench.do("ink profile")
    assert bench.window.notice.text.text().endswith(
        "the profile cannot be read (no such file or directory); check its name.")
    if not PRESS.exists():
        pytest.skip("no CMYK profile on this computer")
    asked.append(PRESS)
    bench.do("ink profile")
    assert PRESS.name in bench.window.colours.source.text()
    assert not bench.window.notice.isVisible()  # it said that the first was no profile
    assert bench.window.actions_by_name["ink profile"].isChecked()
    assert not any(swatch.estimate for swatch in bench.colours.swatches)
    bench.do("ink profile")
    assert all(swatch.estimate for swatch in bench.colours.swatches)
    assert not bench.window.actions_by_name["ink profile"].isChecked()


def test_nothing_is_coloured_before_a_list_is_there(bench, qtbot, page, monkeypatch):
    job = with_steps(bench.desk.job.now, frozenset({0}), None)
    monkeypatch.setattr(bench.engine, "propose", lambda _: None)
    bench.become(bench.desk.then(job, "no list"))
    settle(qtbot, bench)
    for name in ("distinct", "hold ink"):
        bench.do(name)
        assert bench.desk.page.steps is None
        assert "proposed for it first" in bench.window.notice.text.text()


def test_without_a_colour_the_panel_asks_for_one(bench, qtbot, page):
    while bench.desk.job.now.palette.colours:
        bench.do("delete colour")
    count = len(bench.desk.job.past)
    click(bench, qtbot, ROOM_1)
    assert len(bench.desk.job.past) == count
    assert "no colour yet" in bench.window.notice.text.text()
    assert bench.window.colours.typed.hasFocus()


def test_the_steps_panel_gives_the_pointer_back(page, qtbot):
    bench = page
    assert bench.window.page.tool is not None
    qtbot.keyClick(bench.window, Qt.Key.Key_F2)
    assert bench.window.page.tool is None
    count = len(bench.desk.job.past)
    click(bench, qtbot, ROOM_1)
    assert len(bench.desk.job.past) == count
    qtbot.keyClick(bench.window.page, Qt.Key.Key_1)
    assert bench.desk.looking.view.scale.value == 1
