"""Each view both ways: what it is given is what it shows, and what is done to it is reported."""

from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, QSize, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QWheelEvent
from PySide6.QtTest import QAbstractItemModelTester
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListView,
    QPushButton,
    QWidget,
)

from app.bench.showing import Laid
from app.bench.state.commands import COMMANDS
from app.bench.state.grounds import GROUNDS, PAPER_WHITE
from app.bench.state.job import source_of
from app.bench.state.scale import fit
from app.bench.state.strip import Points, Readings
from app.bench.state.theme import DARK, LIGHT
from app.bench.views.bar import Bar
from app.bench.views.calibrating import CardSize
from app.bench.views.card import Card, CardShown
from app.bench.views.controls import NumberField, WordButton
from app.bench.views.dialogs import ExportDialog, KeysSheet, TakenDialog
from app.bench.views.drawer import DrawerDialog, Kept
from app.bench.views.field import Field
from app.bench.views.inner import Opener
from app.bench.views.look import Icons, on_screen
from app.bench.views.notice import Notice, WorkStrip
from app.bench.views.page import Frame, PageView
from app.bench.views.rack import Rack, RackItem, RackModel
from app.bench.views.sentence import Sentence
from app.bench.views.side import Side
from app.bench.views.strip import StripShown, ToneStrip
from app.bench.views.tools import Picker
from app.filters.flats import Flats
from app.filters.keep_marks import KeepMarks
from app.filters.overrule import TakeOut
from app.filters.reach import Mark
from app.pages.renditions import Layered, Line
from app.replay.job import JobPage
from core.histogram import Peaks
from core.steps.build_up import BuildUp
from core.steps.crop import Crop
from core.steps.grey import Grey
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Following, Tone
from core.steps.turn import Turn
from tests.bench.conftest import draw_page, settle

LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def shown(qtbot):
    """Shows a widget at a size, and lets it go in the end."""
    def show(widget: QWidget, width: int = 900, height: int = 400):
        qtbot.addWidget(widget)
        widget.resize(width, height)
        with qtbot.waitExposed(widget):
            widget.show()
        return widget

    return show


# --- the tone strip

def strip_of(points: Points) -> StripShown:
    ramp = tuple(tone / 255 for tone in range(256))
    return StripShown(ramp, Peaks(230, 3, 40), points, tuple(1 - value for value in ramp),
                      Readings(0.0042, 0.6, 0.1, 0.059))


@pytest.fixture
def strip(shown):
    made = shown(ToneStrip(LIGHT), 1280, 184)
    made.show_strip(strip_of(Points(30, 220, 50)))
    return made


def test_the_handles_stand_at_their_tones(strip):
    for which, tone in (("black", 30), ("white", 220), ("middle", 125)):
        handle = strip.handles[which]
        assert strip.tone_at(handle.x() + handle.width() / 2) == pytest.approx(tone, abs=0.2)
        assert handle.isVisible()
    assert strip.fields["white"].text() == "220"
    assert strip.fields["middle"].text() == "50"


def test_the_strip_spans_the_ramp_and_turns_about(strip):
    for tone in (0.0, 17.5, 128.0, 255.0):
        assert strip.tone_at(strip.x_of(tone)) == pytest.approx(tone)
    assert strip.tone_at(-50) == 0
    assert strip.tone_at(5000) == 255


def test_dragging_a_handle_reports_tones_and_then_that_it_is_let_go(strip, qtbot):
    handle = strip.handles["white"]
    grip = QPoint(handle.width() // 2 + 3, 12)
    moves = []
    strip.moved.connect(lambda which, tone: moves.append((which, tone)))
    qtbot.mousePress(handle, LEFT, pos=grip)
    with qtbot.waitSignal(strip.moved):
        qtbot.mouseMove(handle, grip - QPoint(48, 0))
    with qtbot.waitSignal(strip.settled):
        qtbot.mouseRelease(handle, LEFT, pos=grip - QPoint(48, 0))
    wanted = strip.tone_at(strip.x_of(220) - 48)
    assert moves[-1][0] == "white"
    assert moves[-1][1] == pytest.approx(wanted, abs=0.3)


def test_escape_gives_a_drag_up(strip, qtbot):
    handle = strip.handles["black"]
    qtbot.mousePress(handle, LEFT, pos=QPoint(14, 12))
    with qtbot.waitSignal(strip.abandoned):
        qtbot.keyClick(handle, Qt.Key.Key_Escape)
    with qtbot.assertNotEmitted(strip.settled):
        qtbot.mouseRelease(handle, LEFT, pos=QPoint(14, 12))


@pytest.mark.parametrize(("key", "modifier", "by"), [
    (Qt.Key.Key_Left, Qt.KeyboardModifier.NoModifier, -1),
    (Qt.Key.Key_Up, Qt.KeyboardModifier.NoModifier, 1),
    (Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier, 10),
    (Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier, -10),
])
def test_keys_nudge_a_handle(strip, qtbot, key, modifier, by):
    with qtbot.waitSignal(strip.nudged) as caught:
        qtbot.keyClick(strip.handles["white"], key, modifier)
    assert caught.args == ["white", by]


def test_a_number_of_the_strip_is_nudged_by_keys_from_what_was_typed(strip, qtbot):
    field, told = strip.fields["white"], []
    strip.nudged.connect(lambda *args: told.append(args))
    strip.typed.connect(lambda *args: told.append(args))
    field.setFocus()
    field.selectAll()
    qtbot.keyClick(field, Qt.Key.Key_Up)
    qtbot.keyClick(field, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    qtbot.keyClicks(field, "212")
    qtbot.keyClick(field, Qt.Key.Key_Down)
    assert told == [("white", 1), ("white", -10), ("white", 212.0), ("white", -1)]


@pytest.mark.parametrize(("which", "value"), [("black", 0), ("white", 255), ("middle", 50)])
def test_a_double_click_puts_a_handle_back(strip, qtbot, which, value):
    with qtbot.waitSignal(strip.typed) as caught:
        qtbot.mouseDClick(strip.handles[which], LEFT, pos=QPoint(14, 12))
    assert caught.args == [which, value]


def test_a_typed_number_is_reported_once(strip, qtbot):
    field = strip.fields["white"]
    field.setFocus()
    field.selectAll()
    reported = []
    strip.typed.connect(lambda *args: reported.append(args))
    qtbot.keyClicks(field, "212,5")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    strip.fields["black"].setFocus()
    assert reported == [("white", 212.5)]


def test_nonsense_typed_reports_nothing(strip, qtbot):
    field = strip.fields["white"]
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "light")
    with qtbot.assertNotEmitted(strip.typed):
        qtbot.keyClick(field, Qt.Key.Key_Return)


def test_a_number_being_typed_is_not_overwritten(strip, qtbot):
    field = strip.fields["white"]
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "21")
    strip.show_strip(strip_of(Points(30, 200, 50)))
    assert field.text() == "21"


def test_the_tone_under_the_pointer_is_read_off_the_histogram(strip, qtbot):
    plain = strip.grab().toImage()
    spot = QPoint(int(strip.x_of(128)), 60)
    qtbot.mouseMove(strip, spot)
    read = strip.grab().toImage()
    assert read != plain
    assert read.pixelColor(spot).name() == LIGHT.ink
    qtbot.mouseMove(strip, QPoint(400, strip.height() - 4))
    assert strip.grab().toImage() == plain


def test_readings_are_said_in_figures(strip):
    texts = [label.text() for label in strip.findChildren(QWidget, "strong")]
    assert {"0.42 %", "60 %", "10 %", "5.9 %"} <= set(texts)


def test_without_a_page_the_strip_is_at_rest(strip):
    strip.show_strip(None)
    assert not strip.isEnabled()
    assert not strip.handles["white"].isVisible()
    assert {field.text() for field in strip.fields.values()} == {""}
    strip.show_strip(strip_of(Points(30, 200, 50)))
    assert strip.fields["white"].text() == "200"


def test_the_ramp_shows_what_becomes_of_each_tone(strip):
    image = strip.grab().toImage()
    y = strip.height() - 40 - 30 - 6
    left = image.pixelColor(round(strip.x_of(3)), y).lightness()
    right = image.pixelColor(round(strip.x_of(252)), y).lightness()
    assert left < 20
    assert right > 235


# --- the page

def frame_of(view, *, before=0x404040, after=0xC0C0C0) -> Frame:
    size = (view.seen.height, view.seen.width)
    return Frame(view, np.full(size, before, np.int32), np.full(size, after, np.int32))


@pytest.fixture
def page(shown):
    made = shown(PageView(LIGHT), 600, 400)
    view = fit((600, 400), (1200, 800))
    made.show_view(view)
    made.show_frame(frame_of(view))
    made.show_side("split", 0.5)
    return made


def colour_at(widget, x, y):
    colour = widget.grab().toImage().pixelColor(x, y)
    return colour.red(), colour.green(), colour.blue()


def test_before_lies_left_of_the_divider_and_after_right(page):
    assert colour_at(page, 100, 300) == (0x40,) * 3
    assert colour_at(page, 500, 300) == (0xC0,) * 3
    page.show_side("split", 0.9)
    assert colour_at(page, 500, 300) == (0x40,) * 3
    page.show_side("after", 0.9)
    assert colour_at(page, 100, 300) == (0xC0,) * 3
    page.show_side("before", 0.9)
    assert colour_at(page, 500, 300) == (0x40,) * 3


def test_dragging_the_divider_reports_its_place(page, qtbot):
    qtbot.mousePress(page, LEFT, pos=QPoint(300, 100))
    with qtbot.waitSignal(page.divided) as caught:
        qtbot.mouseMove(page, QPoint(150, 100))
    qtbot.mouseRelease(page, LEFT, pos=QPoint(150, 100))
    assert caught.args == [pytest.approx(0.25)]


def test_dragging_the_page_reports_a_push(page, qtbot):
    qtbot.mousePress(page, LEFT, pos=QPoint(100, 100))
    with qtbot.waitSignal(page.pushed) as caught:
        qtbot.mouseMove(page, QPoint(120, 90))
    qtbot.mouseRelease(page, LEFT, pos=QPoint(120, 90))
    assert caught.args == [20, -10]


def test_with_space_the_page_is_pushed_even_at_the_divider(page, qtbot):
    qtbot.keyPress(page, Qt.Key.Key_Space)
    qtbot.mousePress(page, LEFT, pos=QPoint(300, 100))
    with qtbot.waitSignal(page.pushed), qtbot.assertNotEmitted(page.divided):
        qtbot.mouseMove(page, QPoint(310, 100))
    qtbot.mouseRelease(page, LEFT, pos=QPoint(310, 100))
    qtbot.keyRelease(page, Qt.Key.Key_Space)


def test_space_let_go_while_the_keyboard_is_elsewhere_is_let_go(shown, qtbot):
    holder = QWidget()
    row = QHBoxLayout(holder)
    page, other = PageView(LIGHT), QPushButton()
    row.addWidget(page)
    row.addWidget(other)
    shown(holder, 700, 200)
    page.setFocus()
    qtbot.keyPress(page, Qt.Key.Key_Space)
    other.setFocus()
    qtbot.keyRelease(other, Qt.Key.Key_Space)
    tool, picked = Picker(), []
    tool.picked.connect(lambda *at: picked.append(at))
    page.set_tool(tool)
    page.show_view(fit((400, 200), (400, 200)))
    qtbot.mouseClick(page, LEFT, pos=QPoint(50, 100))
    assert len(picked) == 1


@pytest.mark.parametrize(("turn", "larger"), [(120, True), (-120, False)])
def test_the_wheel_zooms_about_the_pointer(page, qtbot, turn, larger):
    event = QWheelEvent(
        QPointF(200, 150), page.mapToGlobal(QPointF(200, 150)), QPoint(), QPoint(0, turn),
        Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    with qtbot.waitSignal(page.zoomed) as caught:
        QApplication.sendEvent(page, event)
    assert caught.args == [larger, 200.0, 150.0]


def test_keys_push_the_page_and_the_divider(page, qtbot):
    with qtbot.waitSignal(page.pushed) as caught:
        qtbot.keyClick(page, Qt.Key.Key_Left)
    assert caught.args == [64, 0]
    with qtbot.waitSignal(page.divided) as caught:
        qtbot.keyClick(page, Qt.Key.Key_Right, Qt.KeyboardModifier.ControlModifier)
    assert caught.args == [pytest.approx(0.52)]


def test_what_is_not_yet_so_is_said_on_the_picture(page):
    plain = page.grab().toImage()
    page.say("not yet exact")
    assert page.accessibleDescription() == "not yet exact"
    assert page.grab().toImage() != plain
    page.say("")
    assert page.grab().toImage() == plain


def test_picking_reports_the_place_on_the_page_and_no_push(page, qtbot):
    picker = Picker()
    page.set_tool(picker)
    with qtbot.waitSignal(picker.picked) as caught, qtbot.assertNotEmitted(page.pushed):
        qtbot.mouseClick(page, LEFT, pos=QPoint(123, 45))
    assert caught.args == [246.0, 90.0]  # the page lies there at half its size


@pytest.mark.parametrize(("low", "at"), [(False, (590, 380)), (True, (590, 52))])
def test_what_a_tool_asks_for_is_not_said_where_the_pointer_is(page, qtbot, low, at):
    before = colour_at(page, *at)
    page.set_tool(Picker())
    qtbot.mouseMove(page, QPoint(450, 300 if low else 100))
    assert colour_at(page, *at) != before
    other = (590, 52) if not low else (590, 380)
    assert colour_at(page, *other) == before == (0xC0,) * 3


def test_pixels_of_a_view_that_was_pushed_move_along(page):
    view = fit((600, 400), (1200, 800)).zoomed(fit((600, 400), (1200, 800)).scale, 0, 0)
    moved = view.pushed(0, 90)
    page.show_view(moved)
    assert not page.current
    assert colour_at(page, 550, 10 + moved.top) == (0xC0,) * 3


# --- sentences and the card

@pytest.fixture
def sentence(shown):
    return shown(Sentence(LIGHT), 300, 120)


def test_the_number_in_the_sentence_is_its_control(sentence, qtbot):
    sentence.show_step(Tone(points=Fixed(black=40, white=220)))
    field = sentence.control(("points", "white"))
    assert field.text() == "220"
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "212")
    with qtbot.waitSignal(sentence.changed) as caught:
        qtbot.keyClick(field, Qt.Key.Key_Return)
    assert caught.args == [("points", "white"), 212.0]


def test_square_millimetres_are_written_as_in_print_and_typed_either_way(
    shown, sentence, qtbot, monkeypatch,
):
    sentence.show_step(Flats(smallest=2))
    assert "areas under 2 mm² join" in sentence.accessibleName()
    assert "mm2" not in sentence.accessibleName()
    seen = sentence.grab().toImage()
    monkeypatch.setattr("app.bench.views.sentence.as_written", lambda text: text)
    plain = shown(Sentence(LIGHT), 300, 120)
    plain.show_step(Flats(smallest=2))
    assert plain.grab().toImage() != seen
    field = sentence.control(("smallest",))
    for typed, value in (("3 mm²", 3.0), ("4,5 mm2", 4.5), ("6", 6.0)):
        field.setFocus()
        field.selectAll()
        qtbot.keyClicks(field, typed)
        with qtbot.waitSignal(sentence.changed) as caught:
            qtbot.keyClick(field, Qt.Key.Key_Return)
        assert caught.args == [("smallest",), value]


def test_a_way_is_chosen_on_its_own_words(sentence):
    sentence.show_step(TakeOut())
    assert sentence.control(("area",)).text() == "under a brush▾"
    sentence.show_step(TakeOut(area=Mark()))
    assert sentence.control(("area",)).text() == "of the one connected mark at▾"
    sentence.show_step(KeepMarks())
    assert sentence.control(("weakest",)).text() == "however pale they are▾"
    sentence.show_step(Tone())  # these begin with a number: it stands behind them
    assert sentence.control(("points",)).text() == "▾"


def test_arrows_nudge_the_number(sentence, qtbot):
    sentence.show_step(BuildUp(times=2))
    field = sentence.control(("times",))
    with qtbot.waitSignal(sentence.changed) as caught:
        qtbot.keyClick(field, Qt.Key.Key_Up)
    assert caught.args == [("times",), 2.1]


def test_arrows_nudge_what_was_typed(sentence, qtbot):
    sentence.show_step(BuildUp(times=2))
    field = sentence.control(("times",))
    field.setFocus()
    qtbot.keyClicks(field, "7")
    with qtbot.waitSignal(sentence.changed) as caught:
        qtbot.keyClick(field, Qt.Key.Key_Down)
    assert caught.args == [("times",), 6.9]


def test_escape_puts_the_number_back(sentence, qtbot):
    sentence.show_step(BuildUp(times=2))
    field = sentence.control(("times",))
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "7")
    with qtbot.assertNotEmitted(sentence.changed):
        qtbot.keyClick(field, Qt.Key.Key_Escape)
    assert field.text() == "2"


def test_a_choice_and_a_way_are_menus(sentence, qtbot):
    sentence.show_step(Turn(angle=90))
    button = sentence.control(("angle",))
    actions = {action.text(): action for action in button.menu().actions()}
    assert actions["90 degrees clockwise"].isChecked()
    with qtbot.waitSignal(sentence.changed) as caught:
        actions["180 degrees"].trigger()
    assert caught.args == [("angle",), 180]
    sentence.show_step(Tone())
    ways = {a.text(): a for a in sentence.control(("points",)).menu().actions()}
    with qtbot.waitSignal(sentence.changed) as caught:
        ways["following"].trigger()
    assert caught.args == [("points",), Following]


def test_only_numbers_that_change_leave_the_controls_where_they_are(sentence):
    sentence.show_step(Tone(points=Fixed(black=40, white=220)))
    field = sentence.control(("points", "white"))
    sentence.show_step(Tone(points=Fixed(black=40, white=219)))
    assert sentence.control(("points", "white")) is field
    assert field.text() == "219"
    sentence.show_step(Tone(points=Following(black=40, white=219)))
    assert sentence.control(("points", "white")) is not field


@pytest.mark.parametrize("width", [160, 300, 900])
def test_a_sentence_breaks_into_lines_and_nothing_overlaps(sentence, qtbot, width):
    sentence.show_step(Grey())
    sentence.resize(width, sentence.heightForWidth(width))
    sentence.grab()
    boxes = [w.geometry() for w in sentence.findChildren(QWidget)
             if w.isVisible() and w.parent() is sentence]
    assert all(box.right() <= width and box.bottom() <= sentence.height() for box in boxes)
    assert not any(a.intersects(b) for n, a in enumerate(boxes) for b in boxes[n + 1:])


def test_words_longer_than_a_line_take_several(sentence):
    sentence.show_step(KeepMarks())
    long = max((c for c in sentence.findChildren(WordButton)), key=lambda c: c.sizeHint().width())
    assert long.sizeHint().width() > 200
    sentence.resize(200, sentence.heightForWidth(200))
    sentence.grab()
    assert "\n" in long.text()
    assert long.geometry().right() <= 200
    assert long.geometry().bottom() <= sentence.height()
    assert sentence.minimumSizeHint().width() <= 200
    sentence.resize(900, sentence.heightForWidth(900))
    sentence.grab()
    assert "\n" not in long.text()


def test_a_sentence_from_right_to_left_is_the_same_mirrored(sentence):
    sentence.show_step(Crop(left=3))
    sentence.grab()
    left = {path: sentence.control(path).geometry() for path in (("left",), ("top",))}
    sentence.setLayoutDirection(Qt.LayoutDirection.RightToLeft)
    sentence.grab()
    for path, box in left.items():
        other = sentence.control(path).geometry()
        assert other.left() == pytest.approx(sentence.width() - box.right() - 1, abs=1)


LIST = StepList("pen", (Crop(left=2), Tone(points=Fixed(black=40, white=220)), Lift()))


@pytest.fixture
def card(shown, qtbot):
    made = shown(Card(LIGHT, Icons(LIGHT), (("build up", "x"), ("crop", "y"))), 340, 560)
    made.show_card(CardShown(LIST, chosen=1))
    qtbot.waitUntil(lambda: made.complete)
    return made


def test_the_card_says_every_step(card):
    assert [row.accessibleName() for row in card.rows] == [
        f"{n}. {step.sentence()}" for n, step in enumerate(LIST.steps, start=1)]
    assert card.name.text() == "pen"


def test_a_long_list_comes_on_the_card_in_more_than_one_round_and_whole(card, qtbot):
    steps = tuple(Tone(points=Fixed(black=n, white=220)) for n in range(30))
    card.show_card(CardShown(StepList("long", steps)))
    assert 0 < len(card.rows) < 30
    assert not card.complete
    qtbot.waitUntil(lambda: card.complete)
    assert [row.accessibleName() for row in card.rows] == [
        f"{n}. {step.sentence()}" for n, step in enumerate(steps, start=1)]
    card.show_card(CardShown(LIST))
    assert len(card.rows) == 3


def test_the_chosen_step_is_brought_into_view(card, qtbot):
    def seen(row):
        top = row.mapTo(card, QPoint(0, 0)).y()
        return card.name.geometry().bottom() < top and top + row.height() < card.add.y()

    steps = tuple(Tone(points=Fixed(black=n, white=220)) for n in range(30))
    for chosen in (20, 2, 29):
        card.show_card(CardShown(StepList("long", steps), chosen=chosen))
        qtbot.waitUntil(lambda n=chosen: card.complete and seen(card.rows[n]))
    card.show_card(CardShown(StepList("long", (*steps, Lift())), chosen=30))
    qtbot.waitUntil(lambda: card.complete and seen(card.rows[30]))


def test_the_card_reports_which_step_changed(card, qtbot):
    field = card.rows[1].sentence.control(("middle",))
    with qtbot.waitSignal(card.changed) as caught:
        qtbot.keyClick(field, Qt.Key.Key_Down)
    assert caught.args == [1, ("middle",), 49.0]


def test_the_switch_is_reported_and_shown(card, qtbot):
    with qtbot.waitSignal(card.switched) as caught:
        qtbot.mouseClick(card.rows[2].switch, LEFT)
    assert caught.args == [2]
    off = StepList("pen", (*LIST.steps[:2], Lift(on=False)))
    card.show_card(CardShown(off))
    qtbot.waitUntil(lambda: card.complete)
    assert card.rows[2].switch.accessibleName() == "lift: off"


def test_a_step_dragged_by_its_number_reports_its_new_place(card, qtbot):
    row = card.rows[0]
    below = row.mapFromGlobal(card.rows[2].mapToGlobal(QPoint(10, card.rows[2].height() - 2)))
    qtbot.mousePress(row, LEFT, pos=QPoint(12, 14))
    for share in (0.3, 0.7, 1.0):
        at = QPoint(12, round(14 + (below.y() - 14) * share)) - row.pos() * 0
        qtbot.mouseMove(row, row.mapFromParent(QPoint(12, at.y())))
    with qtbot.waitSignal(card.moved) as caught:
        qtbot.mouseRelease(row, LEFT, pos=row.mapFromParent(QPoint(12, below.y())))
    assert caught.args == [0, 2]


def test_a_kind_is_added_from_the_menu(card, qtbot):
    action = next(a for a in card.add.menu().actions() if a.text().startswith("build up\t"))
    with qtbot.waitSignal(card.added) as caught:
        action.trigger()
    assert caught.args == ["build up"]


def test_a_proposed_list_says_so_and_why(card, qtbot):
    card.show_card(CardShown(LIST, proposed=True, reasons=("The paper lies at 230.",)))
    assert card.keep.isVisible()
    assert not card.next.isVisible()
    assert "not yet kept" in card.status.text()
    assert "230" in card.reasons.text()
    with qtbot.waitSignal(card.asked) as caught:
        qtbot.mouseClick(card.keep, LEFT)
    assert caught.args == ["keep"]


def test_the_ink_alone_is_offered_where_something_paler_lies_beside_it(card, qtbot):
    card.show_card(CardShown(LIST, proposed=True))
    assert not card.ink.isVisible()
    card.show_card(CardShown(LIST, proposed=True, paler=True))
    with qtbot.waitSignal(card.asked) as caught:
        qtbot.mouseClick(card.ink, LEFT)
    assert caught.args == ["ink only"]


def test_the_list_is_named_on_the_card(card, qtbot):
    card.name.setFocus()
    card.name.selectAll()
    qtbot.keyClicks(card.name, "brush")
    with qtbot.waitSignal(card.renamed) as caught:
        qtbot.keyClick(card.name, Qt.Key.Key_Return)
    assert caught.args == ["brush"]


def test_without_a_list_the_card_is_empty(card):
    card.show_card(None)
    assert not card.status.isVisible()
    card.show_card(None, awaited=True)
    assert "being read" in card.status.text()
    assert card.rows == []
    assert not card.add.isEnabled()


# --- the rack

def test_the_racks_model_keeps_the_rules(qtmodeltester):
    model = RackModel()
    QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
    model.show_items((RackItem("a"), RackItem("b", fault="it is broken")))
    qtmodeltester.check(model)
    model.show_items((RackItem("a", kept=True), RackItem("b")))
    model.show_items(())
    model.show_items((RackItem("c", thumb=np.zeros((4, 3, 3), np.uint8)),))
    assert model.rowCount() == 1


def test_the_model_says_only_what_changed():
    model = RackModel()
    thumb = np.zeros((4, 3, 3), np.uint8)
    model.show_items((RackItem("a", thumb=thumb), RackItem("b")))
    changed = []
    model.dataChanged.connect(lambda first, _: changed.append(first.row()))
    model.show_items((RackItem("a", thumb=thumb), RackItem("b", kept=True)))
    assert changed == [1]


def test_further_pages_are_put_in_behind_those_that_are_there():
    model = RackModel()
    QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
    model.show_items((RackItem("a"), RackItem("b")))
    put_in, changed = [], []
    model.rowsInserted.connect(lambda _, first, last: put_in.append((first, last)))
    model.modelReset.connect(lambda: put_in.append("all"))
    model.dataChanged.connect(lambda first, _: changed.append(first.row()))
    model.show_items((RackItem("a"), RackItem("b", kept=True), RackItem("c"), RackItem("d")))
    assert put_in == [(2, 3)]
    assert changed == [1]
    assert [model.index(row).data() for row in range(4)] == list("abcd")
    model.show_items((RackItem("d"),))
    assert put_in[1:] == ["all"]


def test_rows_are_those_whose_page_is_another():
    laid = Laid()
    one, two, same = JobPage(Path("a.png")), JobPage(Path("b.png")), JobPage(Path("a.png"))
    assert laid.become((one, two, same)) is None
    assert laid.rows == {source_of(one): [0, 2], source_of(two): [1]}
    assert laid.become((one, two, same)) == ()
    other = JobPage(Path("c.png"))
    assert laid.become((one, other, same)) == (1,)
    assert laid.rows == {source_of(one): [0, 2], source_of(other): [1]}
    assert laid.become((one,)) is None
    assert laid.rows == {source_of(one): [0]}


def test_a_panel_is_made_when_it_is_first_shown(shown):
    side, made = shown(Side(), 340, 560), []
    for name in ("steps", "proof", "colour"):
        side.add(name, lambda name=name: made.append(name) or QWidget())
    told = []
    side.made.connect(told.append)
    side.show_aside("steps")
    side.show_aside("colour")
    side.show_aside("steps")
    assert made == told == ["steps", "colour"]
    assert [side.has(name) for name in side.panels] == [True, False, True]
    assert side.panel("colour") is side.panel("colour")


def test_a_page_that_cannot_be_read_stays_with_its_reason():
    model = RackModel()
    model.show_items((RackItem("b", fault="b.png: the file holds no bytes."),))
    assert "no bytes" in model.data(model.index(0), Qt.ItemDataRole.ToolTipRole)
    assert "no bytes" in model.data(model.index(0), Qt.ItemDataRole.AccessibleTextRole)


def test_the_rack_goes_both_ways(shown, qtbot):
    rack = shown(Rack(LIGHT), 160, 600)
    rack.pages.show_items(tuple(RackItem(name) for name in "abc"))
    with qtbot.assertNotEmitted(rack.chose, wait=0):
        rack.show_current(None)
    with qtbot.waitSignal(rack.went_to) as caught:
        box = rack.visualRect(rack.pages.index(1))
        qtbot.mouseClick(rack.viewport(), LEFT, pos=box.center())
    assert caught.args == [1]
    with qtbot.waitSignal(rack.chose) as caught:
        qtbot.keyClick(rack, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    assert caught.args == [frozenset({1, 2})]
    rack.show_current(0)
    assert rack.currentIndex().row() == 0


# --- the rest

def test_the_bar_shows_and_reports(shown, qtbot):
    bar = shown(Bar(LIGHT, Icons(LIGHT)), 900, 40)
    bar.show_page("a very long name of a page.tif", "210 x 297 mm")
    bar.show_looking("31 %", GROUNDS[2], split=True)
    assert [patch.isChecked() for patch in bar.grounds] == [False, False, True, False, False]
    assert bar.buttons["split"].isChecked()
    with qtbot.waitSignal(bar.ground_chosen) as caught:
        qtbot.mouseClick(bar.grounds[0], LEFT)
    assert caught.args == [PAPER_WHITE]
    with qtbot.waitSignal(bar.asked) as caught:
        qtbot.mouseClick(bar.buttons["one"], LEFT)
    assert caught.args == ["one"]


@pytest.mark.parametrize("wide", [853, 1280])
def test_the_window_fits_a_screen_of_1280_by_800_also_at_150_percent(with_pages, wide, qtbot):
    window = with_pages.window
    for aside in ("proof", "colour", "steps"):
        with_pages.do(aside)
    least = window.minimumSizeHint()
    assert least.width() <= 853  # 1280 / 1.5
    assert least.height() <= 500
    window.resize(wide, 500)
    qtbot.waitUntil(lambda: window.width() == wide)
    bar = window.bar
    assert bar.buttons["one"].isVisible()
    assert bar.laying.isVisible() == bar.turning.isVisible() == (wide == 1280)
    assert window.strip.figures.labels["printing"].isVisible()
    assert window.side.geometry().right() < wide
    if wide == 1280:  # the page's facts can be read to their end
        assert bar.facts.text() == bar.facts.toolTip()
        assert bar.facts.text().startswith("54 x 41 mm at 300 ppi, ")


def test_a_window_is_never_opened_larger_than_its_screen(shown):
    window = shown(QWidget(), 300, 200)
    room = window.screen().availableSize()
    size = on_screen(window, QSize(room.width() + 500, room.height()))
    assert size.width() == room.width()
    assert size.height() <= room.height() - 30  # the system's title bar
    assert on_screen(window, QSize(300, 200)) == QSize(300, 200)


def test_readings_give_way_where_there_is_little_room(strip):
    def seen():
        return [name for name, label in strip.figures.labels.items() if label.isVisible()]

    assert seen() == ["printing", "solid", "lost", "veil"]
    strip.resize(900, 184)
    assert "printing" in seen()
    assert "veil" not in seen()
    strip.resize(1280, 184)
    assert len(seen()) == 4


def test_an_export_is_asked_about_on_a_low_screen_too(shown, tmp_path):
    window = shown(QWidget(), 600, 400)
    dialog = ExportDialog(
        (("This page", (0,)), ("Chosen", (0,)), ("All pages", (0, 1))), tmp_path, window)
    assert dialog.sizeHint().height() <= 500  # 800 / 1.5, less a frame


def test_every_sheet_that_comes_up_fits_a_low_screen(shown):
    window = shown(QWidget(), 600, 400)
    for sheet in (KeysSheet(window), DrawerDialog(window), CardSize(4.0, window)):
        least = sheet.minimumSizeHint()
        assert least.width() <= 853
        assert least.height() <= 500


def test_the_notice_offers_one_way_out(shown, qtbot):
    notice = shown(Notice(), 600, 40)
    done = []
    notice.offer("Done.", "Open the folder", lambda: done.append(1))
    qtbot.mouseClick(notice.act, LEFT)
    assert done == [1]
    notice.show_said("Done.")
    assert not notice.act.isVisible()


def test_what_was_dismissed_of_a_page_is_not_said_of_it_again(shown, qtbot):
    notice = shown(Notice(), 600, 40)

    def is_said(page, text):
        notice.show_said(text, of=page)
        was = notice.isVisible()
        notice.turn_to(None)
        return was

    assert is_said("a", "It is CMYK.")
    assert is_said("a", "It is CMYK.")
    notice.show_said("It is CMYK.", of="a")
    qtbot.mouseClick(notice.dismiss, LEFT)
    assert not is_said("a", "It is CMYK.")
    assert is_said("b", "It is CMYK.")
    assert is_said("a", "It is another thing.")


def test_a_notice_of_a_few_lines_is_whole_also_in_a_narrow_window(with_pages, qtbot):
    window, notice = with_pages.window, with_pages.window.notice
    window.resize(1024, 700)
    notice.offer("3 of 3 pages are in a folder.\n3 pages: The page has no flats: flats alone are "
                 "left out.\npage-03.tif: It is CMYK without a profile: what red is was guessed.",
                 "Open the folder", lambda: None)
    words = notice.words
    qtbot.waitUntil(lambda: words.height() > 4 * words.fontMetrics().height() and (
        not words.verticalScrollBar().isVisible()))
    notice.hide()
    settle(qtbot, with_pages)


def test_however_much_is_said_the_page_keeps_its_room(with_pages, qtbot):
    window, notice = with_pages.window, with_pages.window.notice
    high = window.height()
    for lines, scrolled in ((1, False), (60, True), (3, False)):
        notice.show_said("\n".join(f"page {n}.png: it is blank." for n in range(lines)))
        bar, wanted = notice.words.verticalScrollBar(), scrolled
        qtbot.waitUntil(lambda bar=bar, wanted=wanted: (bar.maximum() > 0) == wanted)
        assert (notice.words.focusPolicy() == Qt.FocusPolicy.StrongFocus) == scrolled
        assert window.height() == high
        assert notice.height() < 200
    notice.hide()


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
def test_names_that_a_file_dialog_offers_are_read_on_a_ground(opened, shown, theme):
    opened.choose_theme(theme.name)
    offered = shown(QListView(), 200, 100)
    assert offered.grab().toImage().pixelColor(100, 90).name() == theme.field


def test_lists_in_the_window_lie_bare_on_it(with_pages, qtbot):
    bench = with_pages
    for aside in ("steps", "proof", "colour"):
        bench.do(aside)
        settle(qtbot, bench)
    lists = [one for one in bench.window.findChildren(QListView) if type(one) is not QListView]
    assert len(lists) == 3  # the others come up from a box
    assert all(one.frameWidth() == 0 for one in lists)


def test_what_opens_a_menu_has_an_arrow_and_what_turns_about_has_none(sentence):
    for step, path, arrow in ((Turn(), ("angle",), True), (KeepMarks(), ("sheet",), False)):
        sentence.show_step(step)
        assert sentence.control(path).text().endswith("▾") == arrow


def test_work_that_goes_on_can_be_stopped(shown, qtbot):
    work = shown(WorkStrip(), 160, 100)
    work.show_work("Exporting page 1 of 3", 10, 300)
    assert (work.text.text(), work.bar.value(), work.bar.maximum()) == (
        "Exporting page 1 of 3", 10, 300)
    with qtbot.waitSignal(work.stopped):
        qtbot.mouseClick(work.stop, LEFT)


@pytest.mark.parametrize(("more", "stays"), [
    ({}, False), ({"stays": True}, True), ({"of": "a"}, True),
])
def test_what_was_merely_said_goes_with_the_next_change(shown, more, stays):
    notice = shown(Notice(), 600, 40)
    notice.show_said("There is no colour yet.", **more)
    notice.go_on()
    assert notice.isVisible() == stays
    notice.offer("There is no colour yet.", "Lay one", notice.hide)
    notice.go_on(far=True)
    assert notice.isVisible()


def test_the_keys_sheet_names_every_command(shown):
    sheet = shown(KeysSheet(None), 640, 560)
    said = {label.text() for label in sheet.findChildren(QLabel)}
    for command in COMMANDS:
        assert {command.text.replace("&", ""), command.tip} <= said


def test_a_line_to_type_in_leaves_commands_their_keys(shown):
    """So it is on every system; here the toolkit's own line takes few of them."""
    field = shown(Field("30"), 100, 30)
    for command in COMMANDS:
        for key in (key for key in command.keys if key.startswith("Ctrl")):
            keys = QKeySequence(key)[0]
            asked = QKeyEvent(QEvent.Type.ShortcutOverride, keys.key(), keys.keyboardModifiers())
            asked.ignore()
            QApplication.sendEvent(field, asked)
            assert asked.isAccepted() == (command.name in ("undo", "redo", "remove")), key


@pytest.mark.parametrize("name", ["export", "calibrate", "my printer", "drawer", "keys"])
def test_a_sheet_that_is_closed_is_gone(opened, qtbot, tmp_path, name):
    bench = opened.bench
    bench.incoming.open_paths((draw_page(tmp_path / "a.png"),))
    settle(qtbot, bench)
    for _ in range(2):
        bench.do(name)
        (sheet,) = bench.window.findChildren(QDialog)
        sheet.reject()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
        assert bench.window.findChildren(QDialog) == []


def test_every_key_of_the_sheet_stands_under_a_heading(shown):
    window = shown(KeysSheet(None), 640, 560)
    heads = [label.text() for label in window.findChildren(QLabel)
             if label.objectName() == "strong"]
    assert heads.index("On the page and in the panels") < heads.index("C, held")
    assert heads.index("F1") < heads.index("On the page and in the panels")


def test_a_folder_can_be_asked_for_where_no_page_is(bench, qtbot, monkeypatch):
    [button] = [one for one in bench.window.empty.findChildren(QAbstractButton)
                if one.text() == "Open a folder…"]
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: "")
    with qtbot.waitSignal(bench.window.asked) as asked:
        qtbot.mouseClick(button, LEFT)
    assert asked.args == ["open folder"]


def test_a_button_of_the_bar_that_cannot_be_used_has_no_edge_that_it_had_not_before(bench):
    button = bench.window.bar.buttons["turn left"]
    assert not button.isEnabled()
    image = button.grab().toImage()
    assert image.pixelColor(15, 0) == image.pixelColor(15, 2)


def names_of(widget):
    return {w: w.accessibleName() or getattr(w, "text", str)()
            for w in widget.findChildren(QWidget)
            if w.focusPolicy() & Qt.FocusPolicy.TabFocus
            and isinstance(w, QAbstractButton | QLineEdit | PageView | Rack)}


@pytest.mark.parametrize("aside", ["steps", "proof", "colour"])
def test_every_control_has_a_name_and_a_tip(with_pages, aside):
    with_pages.do(aside)
    for widget, name in names_of(with_pages.window).items():
        assert name or not widget.isVisible(), widget
        if isinstance(widget, NumberField | WordButton | QLineEdit) and widget.isVisible():
            assert widget.toolTip(), widget


def test_every_control_of_a_dialog_has_a_name_and_a_tip(with_pages, tmp_path, qtbot):
    window = with_pages.window
    export = ExportDialog((("This page", (0,)), ("All pages", (0, 1))), tmp_path, window)
    taken = TakenDialog((tmp_path / "a-line.png",), tmp_path, window)
    drawer = DrawerDialog(window)
    drawer.show_lists((Kept("pen.json", "pen", "Alt+1", "Lift the ink."),))
    for part in (export, taken, drawer, window.notice, window.empty, window.stack.widget(2)):
        controls = names_of(part)
        assert controls
        for widget, name in controls.items():
            assert name or widget is window.notice.act, widget
            assert widget.toolTip(), widget
    for dialog in (export, taken, drawer):
        dialog.deleteLater()


def test_of_forms_with_one_name_the_last_that_was_chosen_is_exported(shown, qtbot, tmp_path):
    window = shown(QWidget(), 600, 400)
    dialog = ExportDialog((("This page", (0,)),), tmp_path, window)
    for box in dialog.forms:
        box.setChecked(True)
    with qtbot.waitSignal(dialog.asked) as asked:
        qtbot.mouseClick(dialog.go, LEFT)
    forms = asked.args[0].renditions
    assert len({form.suffix for form in forms}) == len(forms) == len(dialog.forms) - 2
    assert Line("grey-alpha") in forms
    assert Layered(holds=True) in forms


def test_a_folder_is_named_as_people_type_it(shown, qtbot, tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    window = shown(QWidget(), 600, 400)
    for typed in ("~/out", "out", str(tmp_path / "out")):
        dialog = ExportDialog((("This page", (0,)),), tmp_path, window)
        dialog.folder.setText(typed)
        with qtbot.waitSignal(dialog.asked) as asked:
            qtbot.mouseClick(dialog.go, LEFT)
        assert asked.args[0].folder == tmp_path / "out"


def test_an_empty_drawer_says_how_lists_come_into_it(shown):
    window = shown(DrawerDialog(None), 640, 300)
    window.show_lists(())
    said = " ".join(label.text() for label in window.findChildren(QLabel) if label.isVisible())
    assert "“Keep the list in the drawer”, Ctrl+Alt+S" in said


@pytest.mark.parametrize(("count", "said"), [
    (1, "<b>1.png"), (3, "<b>1.png\n<b>2.png\n<b>3.png"),
    (5, "<b>1.png\n<b>2.png\n<b>3.png\nand 2 more"),
])
def test_files_in_the_way_are_named_up_to_three_and_an_answer_is_reported_once(
    shown, qtbot, tmp_path, count, said,
):
    window = shown(QWidget(), 600, 400)
    for which, over in (("over", True), ("leave", False)):
        taken = tuple(tmp_path / f"<b>{number}.png" for number in range(1, count + 1))
        dialog = TakenDialog(taken, tmp_path, window)
        dialog.open()
        assert dialog.names.text() == said
        assert dialog.names.textFormat() == Qt.TextFormat.PlainText
        answers, ends = [], []
        dialog.answered.connect(answers.append)
        dialog.rejected.connect(lambda ends=ends: ends.append("rejected"))
        qtbot.mouseClick(getattr(dialog, which), LEFT)
        assert (answers, ends) == ([over], [])
        assert not dialog.isVisible()


def test_a_held_list_reports_changes_with_its_way_in(shown, qtbot):
    opener = shown(Opener(LIGHT, Icons(LIGHT)), 300, 200)
    opener.show_list(StepList("in", (Turn(), BuildUp(times=2))))
    assert opener.rows == []
    qtbot.mouseClick(opener.button, LEFT)
    assert [row.sentence.accessibleName() for row in opener.rows] == [
        Turn().sentence(), BuildUp(times=2).sentence()]
    with qtbot.waitSignal(opener.changed) as caught:
        qtbot.keyClick(opener.rows[1].sentence.control(("times",)), Qt.Key.Key_Up)
    assert caught.args == [("list", 1, "times"), 2.1]
    with qtbot.waitSignal(opener.changed) as caught:
        qtbot.mouseClick(opener.rows[0].switch, LEFT)
    assert caught.args == [("list", 0, "on"), False]
    opener.show_list(StepList("in", (Turn(on=False),)))
    assert opener.rows[0].switch.accessibleName() == "1. turn: off"
    opener.show_list(None)
    assert opener.rows == []


def test_the_drawer_shows_and_reports(shown, qtbot):
    drawer = shown(DrawerDialog(None), 640, 300)
    drawer.show_lists(())
    assert drawer.rows == []
    drawer.show_lists((Kept("pen.json", "pen", "", "Lift."),), "no key is free")
    assert drawer.said.text() == "no key is free"
    row = drawer.rows[0]
    for signal, button in ((drawer.taken, row.take), (drawer.thrown, row.throw)):
        with qtbot.waitSignal(signal) as caught:
            qtbot.mouseClick(button, LEFT)
        assert caught.args == ["pen.json"]
    with qtbot.waitSignal(drawer.keyed, timeout=5000) as caught:
        qtbot.keyClick(row.key, Qt.Key.Key_F8)
    assert caught.args == ["pen.json", "F8"]
    row.name.setFocus()
    qtbot.keyClick(row.name, Qt.Key.Key_End)
    qtbot.keyClicks(row.name, "cil")
    with qtbot.waitSignal(drawer.renamed) as caught:
        qtbot.keyClick(row.name, Qt.Key.Key_Return)
    assert caught.args == ["pen.json", "pencil"]


def test_in_the_drawer_the_keyboard_stays_in_its_place_and_long_names_show_their_beginning(
    shown, qtbot,
):
    drawer = shown(DrawerDialog(None), 640, 300)
    lists = tuple(Kept(f"{n}.json", f"{n} " + "a long name " * 9, "", "") for n in range(4))
    drawer.show_lists(lists)
    assert drawer.rows[0].name.cursorPosition() == 0
    for row, column in ((2, 0), (1, 1), (3, 3)):
        qtbot.waitUntil(lambda row=row: drawer.rows[row].name.isVisible())
        drawer.rows[row].widgets[column].setFocus()
        drawer.show_lists(lists)
        assert drawer.rows[row].widgets[column].hasFocus()
    drawer.show_lists(lists[:2])
    assert drawer.rows[1].throw.hasFocus()
    drawer.show_lists(())
    assert drawer.close_button.hasFocus()


def test_both_themes_dress_every_view(with_pages, opened, qtbot):
    light = with_pages.window.grab().toImage()
    opened.choose_theme("dark")
    qtbot.waitUntil(lambda: with_pages.idle)
    dark = with_pages.window.grab().toImage()
    assert dark.pixelColor(5, 400).lightness() < 60 < light.pixelColor(5, 400).lightness()
    assert DARK.desk == dark.pixelColor(4, dark.height() - 4).name()


def tabbed(window, qtbot, count):
    """The names of where Tab stops from the page on."""
    window.page.setFocus()
    names = []
    for _ in range(count):
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
        here = QApplication.focusWidget()
        names.append(here.accessibleName() or here.text())
    return names


def test_tab_goes_through_the_window_as_it_is_read(with_pages, qtbot):
    bench, window = with_pages, with_pages.window
    bench.lists.take(StepList("pen", (BuildUp(times=2), Lift())))
    qtbot.waitUntil(lambda: bench.idle)
    steps = tabbed(window, qtbot, 8)
    assert steps[:2] == ["Steps", "Name of the step list"]
    assert steps[2].startswith("1. ")
    assert steps[3:6] == ["build up, times", "build up: on", "More for step 1, build up"]
    bench.lists.change(0, ("times",), 3.0)
    bench.do("proof")
    qtbot.waitUntil(lambda: bench.idle, timeout=20_000)
    proof = tabbed(window, qtbot, 4)
    assert proof[:3] == ["Proof", "Press, size, form and trim…", "What the proof found"]
    bench.do("colour")
    qtbot.waitUntil(lambda: bench.idle)
    window.colours.typed.setFocus()
    bench.do("proof")
    assert QApplication.focusWidget() is window.side.tab("proof")
    bench.do("colour")
    names = tabbed(window, qtbot, 24)
    assert names[:3] == ["Colour", "Name of the palette", "More for the palette"]
    assert names.index("Fill an area") < names.index("Black point")
    assert "" not in [*steps, *proof, *names]
    window.side.tab("colour").setFocus()
    qtbot.keyClick(window.side.tab("colour"), Qt.Key.Key_Left)
    assert bench.desk.looking.aside == "proof"
