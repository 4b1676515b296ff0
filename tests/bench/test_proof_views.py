"""The views of the proof both ways: what they are given they show, what is done they report."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QMouseEvent, QPainter, QWheelEvent
from PySide6.QtWidgets import QApplication, QComboBox, QLineEdit

from app.bench.state.hatch import PRINTS, WILL, Cells, Marks
from app.bench.state.picture import Bytes
from app.bench.state.proof import Group, Row
from app.bench.state.scale import ONE, Scale, View
from app.bench.state.theme import DARK, LIGHT
from app.bench.views.glass import GlassView
from app.bench.views.hatch import Hatch
from app.bench.views.my_printer import MyPrinter
from app.bench.views.order_panel import OrderPanel, OrderShown
from app.bench.views.page import PageView
from app.bench.views.printed import Printed
from app.bench.views.proof_panel import Offer, ProofPanel, ProofShown
from app.bench.views.tools import Lay
from app.bench.views.trim_frame import TrimFrame, TrimShown
from app.pages.trims import Crossing, TrimRule
from app.proof.regions import Region
from app.replay.printing import Printing, Scaled, Wide
from core.press.advice import Advice
from core.press.presses import CAUTION, PRESSES, my_printer
from core.press.screens import Diffusion, Screen
from core.press.size import PrintSize

pytestmark = pytest.mark.usefixtures("qapp")  # whoever writes words needs fonts

LEFT = Qt.MouseButton.LeftButton
SHIFT = Qt.KeyboardModifier.ShiftModifier
MINE = my_printer(PRESSES["inkjet"], faintest=2, even=5, line=0.35, reversed_line=0.5)
VEIL = Row("print", "9.1 mm², 4.1 %, will print", Region("will print", (10, 20, 4, 2), 9.1, 0.04))
LINE = Row("lost", "1.0 mm², gone", Region("gone", (1, 2, 3, 4), 1.0, 0.0))
GROUPS = (Group("What would print (1)", (VEIL,)), Group("What would be lost (1)", (LINE,)))
PAGE = (400, 300)


@pytest.fixture
def shown(qtbot):
    """Shows a widget at a size, and lets it go in the end."""
    def show(widget, width=340, height=520):
        qtbot.addWidget(widget)
        widget.resize(width, height)
        with qtbot.waitExposed(widget):
            widget.show()
        return widget

    return show


# --- the panel

@pytest.fixture
def panel(shown):
    made = shown(ProofPanel())
    made.show_proof(ProofShown("1 region would print.", "strong", GROUPS, "On coated.", "",
                               (2, 6)))
    return made


def test_the_panel_shows_verdict_state_and_progress(panel):
    assert panel.headline.text() == "1 region would print."
    assert panel.said.text() == "On coated."
    assert panel.bar.isVisible()
    assert (panel.bar.value(), panel.bar.maximum()) == (2, 6)
    panel.show_proof(ProofShown("Nothing would print that should not.", "good", state="older"))
    assert not panel.bar.isVisible()
    assert not panel.stop.isVisible()
    assert panel.state.text() == "older"
    assert panel.list.count() == 0


def test_a_proof_under_way_can_be_stopped(panel, qtbot):
    with qtbot.waitSignal(panel.stopped):
        qtbot.mouseClick(panel.stop, LEFT)


def test_what_was_found_is_chosen_and_gone_to_by_keys(panel, qtbot):
    with qtbot.waitSignal(panel.chose) as chosen:
        panel.list.setFocus()
        panel.list.setCurrentRow(1)
    assert chosen.args == [VEIL]
    with qtbot.waitSignal(panel.went) as went:
        qtbot.keyClick(panel.list, Qt.Key.Key_Return)
    assert went.args == [VEIL]
    with qtbot.waitSignal(panel.chose) as chosen:
        qtbot.keyClick(panel.list, Qt.Key.Key_Down)
    assert chosen.args == [LINE], "headings are stepped over"


def test_what_was_found_is_gone_to_by_a_click(panel, qtbot):
    place = panel.list.visualItemRect(panel.list.item(3)).center()
    with qtbot.waitSignal(panel.went) as went:
        qtbot.mouseClick(panel.list.viewport(), LEFT, pos=place)
    assert went.args == [LINE]


def test_the_chosen_row_stays_while_the_list_is_shown_anew(panel):
    panel.list.setCurrentRow(1)
    more = (Group("What would print (1)", (VEIL, VEIL)), GROUPS[1])
    panel.show_proof(ProofShown("2 regions.", "strong", more))
    assert panel.list.currentRow() == 1
    panel.show_proof(ProofShown("clean", "good", ()))
    assert panel.list.currentRow() == -1


@pytest.mark.parametrize("what", ["region", "all", "cores"])
def test_a_remedy_is_a_button_in_words(panel, qtbot, what):
    button = panel.offers[what]
    assert not button.isVisible()
    panel.show_offer(Offer(what, "White point to 232: clears 97 %, costs 0.40 % of the ink"))
    assert button.isVisible()
    assert "clears 97 %" in button.text()
    assert "White point to 232" in button.accessibleName()
    assert button.fontMetrics().horizontalAdvance(button.text().splitlines()[1]) < 316
    with qtbot.waitSignal(panel.taken) as taken:
        qtbot.keyClick(button, Qt.Key.Key_Space)
    assert taken.args == [what]
    panel.show_offer(Offer(what))
    assert not button.isVisible()


def test_one_button_turns_to_the_press_and_back(panel, qtbot):
    assert not panel.order.isVisible()
    qtbot.mouseClick(panel.turn, LEFT)
    assert panel.order.isVisible()
    qtbot.keyClick(panel.turn, Qt.Key.Key_Space)
    assert panel.list.isVisible()


# --- press, size, form and trim

SIZE = PrintSize((7016, 4961), 600)


@pytest.fixture
def order(shown):
    made = shown(OrderPanel(), 340, 900)
    made.show_order(OrderShown(Printing(), size=SIZE, advice=(Advice("warn", "too few"),),
                               why="Suggested: 1-bit."))
    return made


def pick(qtbot, box: QComboBox, data):
    """An item of a box chosen by keys."""
    box.setFocus()
    row = box.findData(data)
    assert row >= 0
    for _ in range(box.count()):
        if box.currentIndex() == row:
            return
        qtbot.keyClick(box, Qt.Key.Key_Down if box.currentIndex() < row else Qt.Key.Key_Up)


def type_into(qtbot, field: QLineEdit, text):
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, text)
    qtbot.keyClick(field, Qt.Key.Key_Return)


def test_the_press_stands_with_its_numbers_and_the_caution(order):
    said = order.press_said.text()
    assert said.startswith(CAUTION)
    assert "gain 16 % at 50 %" in said
    assert "ISO 12647-2:2013" in said
    assert "210.0 x 297.0 mm, 600 ppi" in order.size_said.text()
    assert "! Too few." in order.size_said.text()
    assert order.form_said.text() == "Suggested: 1-bit."


def test_a_press_is_chosen_by_keys(order, qtbot):
    with qtbot.waitSignal(order.changed) as caught:
        pick(qtbot, order.press, "uncoated")
    assert caught.args == [Printing("uncoated"), False]


def test_my_printer_is_among_the_presses_once_it_is_known(order, qtbot):
    assert order.press.findData("my printer") < 0
    order.show_order(OrderShown(Printing(own=MINE), size=SIZE, mine=MINE))
    assert order.press.currentData() == "my printer"
    assert "Read off a test strip" in order.press_said.text()
    with qtbot.waitSignal(order.changed) as caught:
        qtbot.keyClick(order.press, Qt.Key.Key_Up)
    assert caught.args[0].own is None
    for button, name in ((order.mine, "my printer"), (order.strip, "test strip")):
        with qtbot.waitSignal(order.asked) as asked:
            qtbot.mouseClick(button, LEFT)
        assert asked.args == [name]


def test_a_size_is_typed_turned_and_taken_from_a_trim(order, qtbot):
    with qtbot.waitSignal(order.changed) as caught:
        type_into(qtbot, order.length, "70,5 %")
    assert caught.args == [Printing(size=Scaled(70.5)), False]
    order.length.clearFocus()
    order.show_order(OrderShown(Printing(), size=SIZE))
    with qtbot.waitSignal(order.changed) as caught:
        pick(qtbot, order.size_way, "wide")
    assert caught.args[0].size.mm == pytest.approx(210.02, abs=0.01)
    order.show_order(OrderShown(Printing(), size=SIZE))
    order.trim_names.setCurrentIndex(order.trim_names.findData("A5"))
    with qtbot.waitSignal(order.changed) as caught:
        order.trim_names.activated.emit(order.trim_names.currentIndex())
    assert caught.args[0].size.mm in (148, 210)
    with qtbot.waitSignal(order.changed) as caught:
        qtbot.mouseClick(order.own, LEFT, pos=QPoint(8, order.own.height() // 2))
    assert caught.args == [Printing(), True]


def test_one_bit_shows_its_own_fields(order, qtbot):
    assert not order.ppi.isVisible()
    with qtbot.waitSignal(order.changed) as caught:
        pick(qtbot, order.form, "1-bit")
    assert caught.args[0].form == "1-bit"
    order.show_order(OrderShown(Printing(form="1-bit"), size=SIZE))
    assert order.ppi.isVisible()
    assert not order.ruling.isVisible()
    with qtbot.waitSignal(order.changed) as caught:
        pick(qtbot, order.cut, "screen")
    assert caught.args[0].cut == Screen(85)
    order.show_order(OrderShown(caught.args[0], size=SIZE))
    assert order.ruling.isVisible()
    with qtbot.waitSignal(order.changed) as caught:
        type_into(qtbot, order.ruling, "60")
    assert caught.args[0].cut == Screen(60)
    with qtbot.waitSignal(order.refused):
        type_into(qtbot, order.ruling, "900")
    order.show_order(OrderShown(Printing(form="1-bit", cut=Diffusion()), size=SIZE))
    assert order.cut.currentData() == "diffusion"


def test_the_trim_is_chosen_by_rule_size_and_nudge(order, qtbot):
    assert not order.trim_size.isVisible()
    with qtbot.waitSignal(order.changed) as caught:
        pick(qtbot, order.rule, "borders")
    ruled = caught.args[0]
    assert ruled.trim == TrimRule("borders")
    order.show_order(OrderShown(ruled, size=SIZE, trim="The trim is not placed."))
    assert order.trim_said.text() == "The trim is not placed."
    with qtbot.waitSignal(order.changed) as caught:
        type_into(qtbot, order.trim_size.lineEdit(), "6x9in")
    made = caught.args[0]
    assert (made.trim.width, made.trim.height, made.bleed) == pytest.approx((152.4, 228.6, 3.175))
    with qtbot.waitSignal(order.changed) as caught:
        type_into(qtbot, order.across, "1.5")
    assert caught.args[0].trim.nudge == (1.5, 0.0)
    with qtbot.waitSignal(order.changed) as caught:
        qtbot.mouseClick(order.mirrored, LEFT, pos=QPoint(8, order.mirrored.height() // 2))
    assert caught.args[0].trim.mirrored
    with qtbot.waitSignal(order.refused):
        type_into(qtbot, order.trim_size.lineEdit(), "as wide as it goes")
    with qtbot.waitSignal(order.changed) as caught:
        pick(qtbot, order.rule, "")
    assert caught.args[0].trim is None


def test_what_is_no_number_goes_again_and_what_was_not_typed_is_left(order, qtbot):
    fine = Printing(size=Scaled(33.333333), trim=TrimRule("borders", 123.456, 200), bleed=4)
    order.show_order(OrderShown(fine, size=SIZE))
    with qtbot.assertNotEmitted(order.changed):
        for field in (order.length, order.bleed, order.across):  # to go through is no change
            field.setFocus()
            field.clearFocus()
        type_into(qtbot, order.length, "large")
    assert order.length.text() == "33.3333"
    with qtbot.waitSignal(order.changed) as caught:
        type_into(qtbot, order.across, "1.5")
    assert caught.args[0] == replace(fine, trim=replace(fine.trim, nudge=(1.5, 0.0)))


def test_showing_reports_nothing(order, qtbot):
    with qtbot.assertNotEmitted(order.changed):
        order.show_order(OrderShown(Printing("inkjet", form="1-bit", size=Wide(99),
                                             trim=TrimRule("sheet", 148, 210)), size=SIZE))
    assert order.trim_size.currentData() == "A5"


def test_my_printer_asks_for_what_held(shown, qtbot):
    dialog = shown(MyPrinter(PRESSES["coated"], None), 460, 420)
    assert dialog.faintest.count() == 6
    dialog.even.setEditText("0.5")
    qtbot.mouseClick(dialog.go, LEFT)
    assert "lies above" in dialog.fault.text()
    for box, text in ((dialog.faintest, "2"), (dialog.even, "5 %"), (dialog.line, "0,35"),
                      (dialog.white, "x")):
        box.setEditText(text)
    qtbot.mouseClick(dialog.go, LEFT)
    assert dialog.fault.text() == "Give a number for each."
    dialog.white.setEditText("0.5 pt")
    dialog.base.setCurrentIndex(dialog.base.findData("inkjet"))
    with qtbot.waitSignal(dialog.read) as caught:
        qtbot.keyClick(dialog.go, Qt.Key.Key_Space)
    assert caught.args == [MINE]


# --- over the page

def lay_of(theme=LIGHT, *, scale=ONE):
    view = View(PAGE, PAGE, scale, 0, 0, fitted=False)
    return Lay(view, 1.0, theme, QRectF(200, 0, 200, 300))


def painted(overlay, lay, ground=0xFFFFFF):
    image = QImage(*PAGE, QImage.Format.Format_RGB32)
    image.fill(QColor.fromRgb(ground))
    painter = QPainter(image)
    overlay.paint(painter, lay)
    painter.end()
    return image


def hatched(codes, is_on=lambda: True):
    hatch = Hatch(is_on)
    hatch.show_marks(Marks(Cells(codes, 4.0)), PAGE, 100)
    return hatch


@pytest.mark.parametrize("ground", [0xFFFFFF, 0x808080, 0xF26A2E, 0x000000])
def test_the_hatch_shows_on_every_ground_and_only_on_the_after_side(ground):
    codes = np.zeros((75, 100), np.uint8)
    codes[10:30, 10:90] = WILL
    image = painted(hatched(codes), lay_of(), ground)
    inside = {image.pixelColor(x, y).rgb() & 0xFFFFFF for x in range(220, 340)
              for y in range(60, 90)}
    assert PRINTS & 0xFFFFFF in inside
    lightness = sorted(QColor.fromRgb(one).lightness() for one in inside)
    assert lightness[-1] - lightness[0] > 80
    assert image.pixelColor(100, 80).rgb() & 0xFFFFFF == ground
    assert image.pixelColor(380, 280).rgb() & 0xFFFFFF == ground


def test_the_hatch_is_off_or_of_another_page():
    codes = np.full((75, 100), WILL, np.uint8)
    hatch = hatched(codes, lambda: False)
    assert painted(hatch, lay_of()).pixelColor(300, 100) == QColor("#ffffff")
    hatch = hatched(codes)
    hatch.show_marks(Marks(Cells(codes, 4.0)), (10, 10), 100)
    assert painted(hatch, lay_of()).pixelColor(300, 100) == QColor("#ffffff")


@pytest.mark.parametrize("theme", [LIGHT, DARK])
def test_the_chosen_region_is_framed(theme):
    hatch = hatched(np.zeros((75, 100), np.uint8))
    hatch.show_chosen(Region("may print", (63.5, 25.4, 5.08, 5.08), 1, 0.02))
    image = painted(hatch, lay_of(theme))
    drawn = {(x, y) for x in range(200, 400) for y in range(300)
             if image.pixelColor(x, y) != QColor("#ffffff")}
    assert min(x for x, _ in drawn) in range(240, 246)
    assert max(y for _, y in drawn) in range(124, 130)


def grey(value: int, height: int, width: int) -> Bytes:
    return np.full((height, width), value, np.uint8)


def test_as_printed_is_painted_only_for_its_own_view():
    printed = Printed()
    printed.on = True
    lay = lay_of()
    printed.show_printed(lay.view, (180, 0), grey(0, 300, 220))
    printed.words.show_words("as printed: coated")
    image = painted(printed, lay)
    assert image.pixelColor(300, 200) == QColor("#000000")
    assert image.pixelColor(198, 200) == QColor("#ffffff"), "the before side"
    assert image.pixelColor(201, 200) == QColor("#000000"), "up to the divider"
    other = lay_of(scale=Scale(block=2))
    assert painted(printed, other).pixelColor(300, 200) == QColor("#ffffff")
    assert painted(printed.words, other) != painted(printed.words, lay)
    printed.drop()
    assert painted(printed, lay).pixelColor(300, 200) == QColor("#ffffff")


@pytest.fixture
def page(shown):
    made = shown(PageView(LIGHT), 400, 300)
    made.show_view(View(PAGE, PAGE, ONE, 0, 0, fitted=False))
    return made


def move(page, x, y):
    none = Qt.MouseButton.NoButton
    event = QMouseEvent(QEvent.Type.MouseMove, QPointF(x, y), QPointF(x, y), none, none,
                        Qt.KeyboardModifier.NoModifier)
    QApplication.sendEvent(page, event)


def wheel(page, by):
    event = QWheelEvent(QPointF(200, 150), QPointF(200, 150), QPoint(), QPoint(0, by),
                        Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier,
                        Qt.ScrollPhase.NoScrollPhase, False)
    QApplication.sendEvent(page, event)


def test_the_glass_goes_with_the_pointer_the_wheel_and_the_keys(page, qtbot):
    glass = GlassView(page)
    with qtbot.waitSignal(page.zoomed):
        wheel(page, 120)
    with qtbot.waitSignal(glass.moved):
        glass.lay_down(QPointF(200, 150))
    assert glass.open
    with qtbot.waitSignal(glass.moved):
        move(page, 120, 80)
    assert glass.at == QPointF(120, 80)
    with qtbot.assertNotEmitted(page.zoomed), qtbot.waitSignal(glass.turned) as turned:
        wheel(page, 120)
    assert turned.args == [True]
    with qtbot.assertNotEmitted(page.pushed):
        qtbot.keyClick(page, Qt.Key.Key_Left)
        qtbot.keyClick(page, Qt.Key.Key_Down, SHIFT)
    assert glass.at == QPointF(108, 81)
    with qtbot.waitSignal(glass.turned) as turned:
        qtbot.keyClick(page, Qt.Key.Key_Minus)
    assert turned.args == [False]
    with qtbot.waitSignal(glass.closed):
        qtbot.keyClick(page, Qt.Key.Key_Escape)
    glass.take_up()
    with qtbot.waitSignal(page.pushed):
        qtbot.keyClick(page, Qt.Key.Key_Left)


def test_the_glass_is_round_and_stays_on_the_page(page):
    glass = GlassView(page)
    glass.lay_down(QPointF(900, 150))
    assert glass.at == QPointF(400, 150)
    glass.move_to(QPointF(200, 150))
    glass.show_glass(grey(0, 264, 264), "8 times, coated", 1.0)
    assert page.accessibleDescription() == "8 times, coated"
    image = painted(glass, lay_of())
    assert image.pixelColor(200, 100) == QColor("#000000")
    assert image.pixelColor(80, 30) == QColor("#ffffff"), "outside the round"


FRAME = TrimShown(PAGE, 100, (25.4, 25.4, 50.8, 25.4), 3.0,
                  (Crossing("left", 5.0, 2.0, ((30.0, 32.0),)),))


def test_the_trim_dims_what_is_cut_off_and_marks_short_ink(page):
    trim = TrimFrame(page)
    trim.show_trim(FRAME)
    assert painted(trim, lay_of()).pixelColor(20, 20) == QColor("#ffffff"), "off"
    trim.on = True
    image = painted(trim, lay_of())
    assert image.pixelColor(20, 20) != QColor("#ffffff")
    assert image.pixelColor(200, 150) == QColor("#ffffff")
    assert image.pixelColor(100, 170) != QColor("#ffffff"), "the trim's left edge"
    dark = sum(image.pixelColor(x, 122).name() == LIGHT.accent for x in range(89, 100))
    plain = sum(image.pixelColor(x, 180).name() == LIGHT.accent for x in range(91, 98))
    assert dark > plain


def test_what_is_said_of_the_trim_is_broken_into_lines_where_it_is_long(page):
    trim = TrimFrame(page)
    trim.on = True
    heights = []
    for times in (1, 9):
        trim.show_trim(TrimShown(PAGE, 100, words="; ".join(["ink stops short"] * times)))
        image = painted(trim, lay_of())
        assert {image.pixelColor(x, 45).name() for x in (2, 397)} == {"#ffffff"}, "beside the page"
        heights.append(sum(image.pixelColor(x, y) != QColor("#ffffff") for x in [200]
                           for y in range(image.height())))
    assert heights[1] > 1.5 * heights[0]


@pytest.mark.parametrize(("key", "by"), [
    (Qt.Key.Key_Left, (-0.5, 0.0)), (Qt.Key.Key_Down, (0.0, 0.5)),
])
def test_arrows_move_the_trim_by_half_a_millimetre(page, qtbot, key, by):
    trim = TrimFrame(page)
    trim.show_trim(FRAME)
    with qtbot.waitSignal(page.pushed):
        qtbot.keyClick(page, key)
    trim.on = True
    with qtbot.waitSignal(trim.nudged) as caught, qtbot.assertNotEmitted(page.pushed):
        qtbot.keyClick(page, key)
    assert tuple(caught.args) == by
    trim.show_trim(TrimShown(PAGE, 100, words="the trim is not placed"))
    with qtbot.waitSignal(page.pushed):
        qtbot.keyClick(page, key)
    assert painted(trim, lay_of()).pixelColor(200, 45) != QColor("#ffffff")
