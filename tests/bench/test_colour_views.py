"""The colour panel and the pointer's tools, both ways: what they show, and what they report."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QObject, QPoint, QPointF, Qt
from PySide6.QtGui import QAccessible, QColor, QImage, QKeyEvent, QPainter
from PySide6.QtTest import QAbstractItemModelTester
from PySide6.QtWidgets import QAbstractButton, QColorDialog, QLineEdit, QMenu

from app.bench.state.colouring import Laying, Limit
from app.bench.state.palette import Swatch
from app.bench.state.scale import ONE, View
from app.bench.state.theme import DARK, LIGHT
from app.bench.views.colour_panel import ColourPanel, ColoursShown
from app.bench.views.colour_tools import ASKED, ColourKeys, ColourTool
from app.bench.views.held import HeldKeys
from app.bench.views.look import Icons
from app.bench.views.page import Frame, PageView
from app.bench.views.swatches import Swatches, SwatchModel
from app.bench.views.tools import Lay
from app.filters.flats import Flats, Plain
from app.filters.holds import Builds
from core.colours import Named
from core.sheet import Sheet

LEFT = Qt.MouseButton.LeftButton
ALT = Qt.KeyboardModifier.AltModifier
NAMED = (Named((40, 90, 140), "sea"), Named((230, 200, 110), "sand"), Named((0, 0, 51)))
SWATCHES = tuple(Swatch(named, percent, estimate=True, most=240.0)
                 for named, percent in zip(NAMED, (130.0, 70.0, 280.0), strict=True))
SHOWN = ColoursShown("coast", SWATCHES, 1, page=True, source="an estimate")


def show(qtbot, widget, width, height):
    qtbot.addWidget(widget)
    widget.resize(width, height)
    with qtbot.waitExposed(widget):
        widget.show()
    return widget


@pytest.fixture
def panel(qtbot):
    made = show(qtbot, ColourPanel(LIGHT, Icons(LIGHT)), 320, 700)
    made.show_colours(SHOWN)
    return made


@pytest.fixture
def swatches(qtbot):
    made = show(qtbot, Swatches(LIGHT), 300, 300)
    made.show_swatches(SWATCHES, 0)
    return made


def row_middle(swatches, row):
    return swatches.visualRect(swatches.colours.index(row)).center()


# --- swatches

def test_the_model_keeps_the_toolkits_rules(qtbot):
    model = SwatchModel()
    QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
    for items in ((), SWATCHES, SWATCHES[:2], tuple(reversed(SWATCHES[:2]))):
        model.show_items(items)
        assert model.rowCount() == len(items)


def test_the_words_of_a_swatch_say_colour_and_ink(qtbot):
    model = SwatchModel()
    model.show_items(SWATCHES)
    role = Qt.ItemDataRole.AccessibleTextRole
    assert model.data(model.index(0), role) == "1. sea, #285a8c, ink about 130 %"
    assert "over 240 %" in model.data(model.index(2), role)
    assert model.data(model.index(2), Qt.ItemDataRole.DisplayRole) == "#000033"
    assert model.data(model.index(7), role) is None


def test_the_swatch_has_exactly_its_colour_and_a_hatch_where_it_is_over(swatches):
    image = swatches.viewport().grab().toImage()
    for row, named in enumerate(NAMED):
        top = swatches.visualRect(swatches.colours.index(row)).top()
        assert image.pixelColor(46, top + 12) == QColor(*named.colour)
    bottom = swatches.visualRect(swatches.colours.index(2)).bottom() - 10
    strip = {image.pixelColor(x, bottom).name() for x in range(28, 64)}
    assert QColor(LIGHT.accent).name() in strip
    bare = swatches.visualRect(swatches.colours.index(0)).bottom() - 10
    assert {image.pixelColor(x, bare).name() for x in range(28, 64)} == {"#285a8c"}


def test_the_swatches_take_the_room_of_their_rows_and_a_few_are_always_seen(panel, qtbot):
    high = panel.swatches.sizeHintForRow(0)
    qtbot.waitUntil(lambda: panel.swatches.height() == 3 * high)
    many = tuple(replace(SWATCHES[0], named=Named((n, n, n))) for n in range(40))
    panel.show_colours(replace(SHOWN, swatches=many))
    qtbot.waitUntil(lambda: panel.swatches.height() > 3 * high)
    panel.resize(320, 400)
    qtbot.waitUntil(lambda: panel.height() == 400)
    assert panel.swatches.height() >= 3 * high


def test_showing_a_choice_reports_nothing_and_making_one_does(swatches, qtbot):
    with qtbot.assertNotEmitted(swatches.chose):
        swatches.show_swatches(SWATCHES, 2)
    assert swatches.currentIndex().row() == 2
    with qtbot.waitSignal(swatches.chose) as caught:
        qtbot.mouseClick(swatches.viewport(), LEFT, pos=row_middle(swatches, 1))
    assert caught.args == [1]
    with qtbot.waitSignal(swatches.chose) as caught:
        qtbot.keyClick(swatches, Qt.Key.Key_3)
    assert caught.args == [2]
    with qtbot.assertNotEmitted(swatches.chose):
        qtbot.keyClick(swatches, Qt.Key.Key_9)


@pytest.mark.parametrize(("start", "end", "moved"), [(0, 2, [0, 2]), (2, 0, [2, 0])])
def test_a_swatch_is_dragged_elsewhere(swatches, qtbot, start, end, moved):
    view = swatches.viewport()
    down = 6 if end > start else -6
    qtbot.mousePress(view, LEFT, pos=row_middle(swatches, start))
    qtbot.mouseMove(view, row_middle(swatches, end) + QPoint(0, down))
    swatches.grab()
    with qtbot.waitSignal(swatches.moved) as caught:
        qtbot.mouseRelease(view, LEFT, pos=row_middle(swatches, end) + QPoint(0, down))
    assert caught.args == moved


def test_a_press_that_hardly_moves_moves_no_swatch(swatches, qtbot):
    view = swatches.viewport()
    with qtbot.assertNotEmitted(swatches.moved):
        qtbot.mousePress(view, LEFT, pos=row_middle(swatches, 1))
        qtbot.mouseMove(view, row_middle(swatches, 1) + QPoint(0, 3))
        qtbot.mouseRelease(view, LEFT, pos=row_middle(swatches, 1) + QPoint(0, 3))


def test_a_double_click_changes_the_colour_or_names_it(swatches, qtbot):
    view, box = swatches.viewport(), swatches.visualRect(swatches.colours.index(1))
    qtbot.mouseClick(view, LEFT, pos=box.center())
    with qtbot.waitSignal(swatches.change_asked):
        qtbot.mouseDClick(view, LEFT, pos=QPoint(46, box.center().y()))
    assert swatches.state() != Swatches.State.EditingState
    with qtbot.assertNotEmitted(swatches.change_asked):
        qtbot.mouseDClick(view, LEFT, pos=box.center())
    assert swatches.state() == Swatches.State.EditingState


def test_keys_reorder_rename_and_throw_out(swatches, qtbot):
    swatches.setFocus()
    swatches.show_swatches(SWATCHES, 1)
    with qtbot.waitSignal(swatches.moved) as caught:
        qtbot.keyClick(swatches, Qt.Key.Key_Up, ALT)
    assert caught.args == [1, 0]
    with qtbot.waitSignal(swatches.moved) as caught:
        qtbot.keyClick(swatches, Qt.Key.Key_Down, ALT)
    assert caught.args == [1, 2]
    swatches.show_swatches(SWATCHES, 2)
    with qtbot.assertNotEmitted(swatches.moved):
        qtbot.keyClick(swatches, Qt.Key.Key_Down, ALT)
    with qtbot.waitSignal(swatches.thrown_out) as caught:
        qtbot.keyClick(swatches, Qt.Key.Key_Delete)
    assert caught.args == [2]
    qtbot.keyClick(swatches, Qt.Key.Key_Return)
    editor = swatches.viewport().findChild(QLineEdit)
    qtbot.keyClicks(editor, "night")
    with qtbot.waitSignal(swatches.renamed) as caught:
        qtbot.keyClick(editor, Qt.Key.Key_Return)
    assert caught.args == [2, "night"]


# --- the panel

def test_the_panel_shows_what_it_is_given(panel):
    assert panel.name.text() == "coast"
    assert panel.swatches.colours.rowCount() == 3
    assert panel.swatches.currentIndex().row() == 1
    assert panel.tools["fill"].isChecked()
    assert panel.source.text() == "an estimate"
    assert not panel.empty.isVisible()
    assert not panel.flats.isVisible()
    assert not panel.acts["clear colours"].isEnabled()
    panel.show_colours(replace(SHOWN, tool="cut", flats=Flats(fill=Plain())))
    assert panel.tools["cut"].isChecked()
    assert not panel.tools["fill"].isChecked()
    assert panel.flats.isVisible()
    assert panel.acts["clear colours"].isEnabled()


def test_without_colours_the_panel_says_how_to_come_by_some(panel):
    panel.show_colours(ColoursShown())
    assert panel.empty.isVisible()
    assert not panel.swatches.isVisible()
    assert not panel.limit.isVisible()
    assert not any(button.isEnabled() for button in panel.tools.values())


@pytest.mark.parametrize("name", [*ASKED, "hold brush"])
def test_each_tool_is_asked_for_by_its_button(panel, qtbot, name):
    with qtbot.waitSignal(panel.asked) as caught:
        qtbot.mouseClick(panel.tools[name], LEFT)
    assert caught.args == [name]


@pytest.mark.parametrize("name", ["hold ink", "distinct"])
def test_what_is_done_at_once_has_a_button(panel, qtbot, name):
    with qtbot.waitSignal(panel.asked) as caught:
        qtbot.mouseClick(panel.acts[name], LEFT)
    assert caught.args == [name]


def test_a_typed_colour_is_reported_and_nonsense_stays_to_be_mended(panel, qtbot):
    qtbot.keyClicks(panel.typed, "#be3228 sail")
    with qtbot.waitSignal(panel.added) as caught:
        qtbot.keyClick(panel.typed, Qt.Key.Key_Return)
    assert caught.args == [Named((190, 50, 40), "sail")]
    assert panel.typed.text() == ""
    qtbot.keyClicks(panel.typed, "reddish")
    with qtbot.waitSignal(panel.added) as caught:
        qtbot.mouseClick(panel.add, LEFT)
    assert caught.args == [None]
    assert panel.typed.text() == "reddish"


def test_a_colour_is_chosen_by_eye(panel, qtbot, monkeypatch):
    monkeypatch.setattr(QColorDialog, "getColor", lambda *_: QColor(1, 2, 3))
    with qtbot.waitSignal(panel.added) as caught:
        qtbot.mouseClick(panel.add, LEFT)
    assert caught.args == [Named((1, 2, 3))]
    monkeypatch.setattr(QColorDialog, "getColor", lambda *_: QColor())
    with qtbot.assertNotEmitted(panel.added):
        qtbot.mouseClick(panel.add, LEFT)


def test_the_palette_is_named(panel, qtbot):
    panel.name.setFocus()
    panel.name.selectAll()
    qtbot.keyClicks(panel.name, "shore")
    with qtbot.waitSignal(panel.named) as caught:
        qtbot.keyClick(panel.name, Qt.Key.Key_Return)
    assert caught.args == ["shore"]


def test_numbers_in_the_panels_sentences_are_reported_by_their_path(panel, qtbot):
    panel.show_colours(replace(SHOWN, flats=Flats(fill=Plain())))
    for sentence, path, reported in (
        (panel.limit, ("most",), panel.limited), (panel.laying, ("width",), panel.laid),
        (panel.flats, ("gap",), panel.flats_changed),
    ):
        with qtbot.waitSignal(reported) as caught:
            qtbot.keyClick(sentence.control(path), Qt.Key.Key_Up)
        assert caught.args[0] == path


def test_the_panel_shows_how_ink_is_laid(panel):
    panel.show_colours(replace(SHOWN, laying=Laying(laying=Builds(share=40), width=5.0),
                               limit=Limit(most=260)))
    assert "40 %" in panel.laying.accessibleName()
    assert "5 mm" in panel.laying.accessibleName()
    assert "260 %" in panel.limit.accessibleName()


@pytest.mark.parametrize("theme", [LIGHT, DARK])
def test_every_control_has_a_name_and_a_tip_in_either_theme(panel, theme):
    panel.set_theme(theme, Icons(theme))
    panel.show_colours(replace(SHOWN, flats=Flats()))
    controls = [*panel.findChildren(QAbstractButton), *panel.findChildren(QLineEdit)]
    assert len(controls) > 15
    for control in controls:
        interface = QAccessible.queryAccessibleInterface(control)
        assert interface.text(QAccessible.Text.Name), control
        assert control.toolTip() or not control.isVisible(), control


# --- keys that are held

def test_a_held_key_is_told_once_though_it_comes_as_a_series(qtbot, qapp):
    told, parent = [], QObject()
    keys = HeldKeys({Qt.Key.Key_L: told.append}, parent)
    down, up = (
        QKeyEvent(kind, Qt.Key.Key_L, Qt.KeyboardModifier.NoModifier)
        for kind in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease))
    assert keys.press(down)
    for _ in range(3):
        assert keys.release(up)
        assert keys.press(down)
    assert told == [True]
    assert keys.release(up)
    qtbot.waitUntil(lambda: told == [True, False])


def test_another_key_or_another_window_lets_a_held_key_go(qapp):
    told, parent = [], QObject()
    keys = HeldKeys({Qt.Key.Key_L: lambda on: told.append(("L", on)),
                     Qt.Key.Key_K: lambda on: told.append(("K", on))}, parent)
    for key in (Qt.Key.Key_L, Qt.Key.Key_K):
        keys.press(QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier))
    keys.let_go()
    keys.let_go()
    assert told == [("L", True), ("L", False), ("K", True), ("K", False)]
    other = QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_M, Qt.KeyboardModifier.NoModifier)
    assert not keys.press(other)
    assert not keys.release(other)
    held = Qt.KeyboardModifier.ControlModifier
    assert not keys.press(QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_L, held))


# --- tools on the page

FLATS = np.zeros((80, 120), np.uint16)
FLATS[:, :60], FLATS[:, 60:], FLATS[30:50, 50:70] = 1, 2, 0
PAGE = Sheet(ppi=254, alpha=np.zeros((80, 120), np.uint8), flats=FLATS,
             palette=((0, 0, 0), (40, 90, 140), (230, 200, 110)))
VIEW = View((120, 80), (120, 80), ONE, 0, 0, fitted=False)


def lay(pointer=None, after=True):
    from PySide6.QtCore import QRectF  # noqa: PLC0415

    return Lay(VIEW, 1.0, LIGHT, QRectF(0, 0, 120, 80) if after else QRectF(),
               None if pointer is None else QPointF(*pointer))


def tool_of(name):
    made = ColourTool(lambda: PAGE, lambda area: f"area {area}")
    how, asked, areas = ASKED[name]
    made.take(how, asked, areas=areas)
    return made


def painted(tool, where):
    image = QImage(120, 80, QImage.Format.Format_RGB32)
    image.fill(QColor("#808080"))
    painter = QPainter(image)
    tool.paint(painter, where)
    painter.end()
    return image


def test_a_click_reports_its_place_and_which_side_it_is_on(qtbot):
    for after in (True, False):
        tool = tool_of("fill")
        with qtbot.waitSignal(tool.clicked) as caught:
            assert tool.press(QPointF(12, 34), lay(after=after))
        assert caught.args == [(12.0, 34.0), after]


def test_the_area_under_the_pointer_is_named_and_its_edge_shown(qapp):
    tool = tool_of("fill")
    image = painted(tool, lay((20, 20)))
    assert tool.words.endswith("(now area 1)")
    shown = {image.pixelColor(x, 20).name() for x in (57, 58, 59, 60)}
    assert QColor(LIGHT.accent).name() in shown
    assert QColor(LIGHT.field).name() in shown
    assert image.pixelColor(20, 20).name() == image.pixelColor(90, 20).name() == "#808080"


@pytest.mark.parametrize("pointer", [(60, 40), None, (500, 20)])
def test_on_ink_and_off_the_page_no_area_is_named(qapp, pointer):
    tool = tool_of("fill")
    image = painted(tool, lay(pointer))
    assert tool.words == ASKED["fill"][1]
    assert {image.pixelColor(x, 20).name() for x in range(120)} == {"#808080"}


def test_nothing_lies_over_a_layer_that_is_looked_at(qapp):
    tool = tool_of("fill")
    tool.hush(on=True)
    image = painted(tool, lay((20, 20)))
    assert {image.pixelColor(x, 20).name() for x in range(120)} == {"#808080"}


@pytest.mark.parametrize("name", ["join", "cut", "hold outline"])
def test_a_line_is_reported_when_it_is_let_go_and_not_when_given_up(qtbot, name):
    tool = tool_of(name)
    for end in (tool.let_go, lambda *_: tool.give_up()):
        tool.press(QPointF(5, 5), lay())
        tool.drag(QPointF(50, 60), lay())
        image = painted(tool, lay())
        assert image.pixelColor(28, 33).name() != "#808080" or (
            image.pixelColor(27, 33).name() != "#808080")
        reported = []
        tool.drew.connect(reported.append)
        end(QPointF(50, 60), lay())
        assert reported == ([((5.0, 5.0), (50.0, 60.0))] if end == tool.let_go else [])
        tool.drew.disconnect(reported.append)
    assert not tool.give_up()


@pytest.fixture
def page(qtbot):
    made = show(qtbot, PageView(LIGHT), 600, 400)
    view = View((600, 400), (120, 80), ONE, 100, 100, fitted=False)
    pixels = np.zeros((80, 120), np.int32)
    made.show_view(view)
    made.show_frame(Frame(view, pixels, pixels))
    return made


@pytest.mark.parametrize(("key", "signal", "args"), [
    (Qt.Key.Key_4, "chose", [3]), (Qt.Key.Key_BracketRight, "sized", ["width", True]),
    (Qt.Key.Key_ParenLeft, "sized", ["soft", False]), (Qt.Key.Key_Period, "stepped", [1]),
    (Qt.Key.Key_Comma, "stepped", [-1]),
])
def test_keys_of_the_page_while_it_is_coloured(page, qtbot, key, signal, args):
    keys, tool = ColourKeys(page), tool_of("fill")
    keys.serve(tool)
    page.set_tool(tool)
    with qtbot.waitSignal(getattr(keys, signal)) as caught:
        qtbot.keyClick(page, key)
    assert caught.args == args
    page.set_tool(None)
    with qtbot.assertNotEmitted(getattr(keys, signal)):
        qtbot.keyClick(page, key)


def test_return_clicks_where_the_keys_have_put_the_pointer(page, qtbot):
    keys, tool = ColourKeys(page), tool_of("fill")
    keys.serve(tool)
    page.set_tool(tool)
    page.point_at((30.0, 40.0))
    qtbot.keyClick(page, Qt.Key.Key_Right)
    for _ in range(2):
        with qtbot.waitSignal(tool.clicked) as caught:
            qtbot.keyClick(page, Qt.Key.Key_Return)
        assert caught.args[0] == (40.0, 40.0)


def test_the_button_says_whether_a_colour_is_chosen_by_eye_or_was_typed(panel):
    assert panel.add.text() == "Choose…"
    panel.typed.setText("#102030")
    assert panel.add.text() == "Add"
    panel.typed.clear()
    assert panel.add.text() == "Choose…"


def test_what_belongs_to_areas_stands_above_what_belongs_to_ink(panel):
    def top(widget):
        return widget.mapTo(panel, QPoint(0, 0)).y()

    assert top(panel.acts["distinct"]) < top(panel.flats) < top(panel.tools["hold mark"])
    assert top(panel.acts["hold ink"]) < top(panel.laying)


def test_a_button_that_keys_stand_on_does_not_look_as_if_it_were_in_hand(bench, qtbot):
    bench.do("colour")
    panel = bench.window.colours
    tools, accent = panel.tools, QColor(LIGHT.accent)

    def edged(button):
        image = button.grab().toImage()
        return QColor(image.pixelColor(image.width() // 2, 1)) == accent

    qtbot.waitUntil(lambda: edged(tools["fill"]))
    panel.acts["distinct"].setEnabled(True)
    panel.acts["distinct"].setFocus()
    assert panel.acts["distinct"].hasFocus()
    assert not edged(panel.acts["distinct"])


def test_the_menu_of_the_palette_comes_up_where_it_is_asked_for(panel, qtbot, monkeypatch):
    shown = []
    monkeypatch.setattr(QMenu, "popup", lambda menu, at: shown.append((menu, at)))
    at = panel.swatches.visualRect(panel.swatches.colours.index(1)).center()
    panel.swatches.customContextMenuRequested.emit(at)
    [(menu, where)] = shown
    assert where == panel.swatches.viewport().mapToGlobal(at)
    with qtbot.waitSignal(panel.asked) as caught:
        menu.actions()[0].trigger()
    assert caught.args == ["change colour"]
