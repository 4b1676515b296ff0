"""Tools on the page, driven by mouse and keys: brush, edges of a crop, a level line."""

from dataclasses import replace
from itertools import combinations

import pytest
from PySide6.QtCore import QPoint, Qt

from app.bench.state.edges import GRIPS
from app.bench.state.edits import Edit
from app.bench.views import edges, level, plates
from app.bench.views import page as page_module
from app.bench.views.brush import BrushTool
from app.bench.views.edges import CropTool
from app.bench.views.level import LevelTool
from app.filters.holds import Hold
from app.filters.overrule import LetStand, TakeOut
from app.filters.reach import Brush, Mark, Outline
from app.filters.straighten import Found, Given, Straighten
from core.steps.crop import Crop
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from core.steps.turn import Turn
from core.units import mm_to_px
from tests.bench.conftest import HEIGHT, WIDTH, settle
from tests.bench.test_story import after_pixels, shown_at, steps_now

LEFT = Qt.MouseButton.LeftButton
SHIFT = Qt.KeyboardModifier.ShiftModifier
TONES = (Tone(points=Fixed(black=40, white=220)), Lift())
PPI = 300


@pytest.fixture
def at_one(with_pages, qtbot):
    """The page pixel for pixel, the line art alone; it fits into the window."""
    bench = with_pages
    bench.do("one")
    bench.viewing.look(replace(bench.desk.looking, side="after"))
    settle(qtbot, bench)
    return bench


def take(bench, qtbot, *steps, chosen=0):
    bench.lists.take(StepList("given", (*steps, *TONES)))
    bench.lists.choose(chosen)
    settle(qtbot, bench)


def on_widget(bench, column, row):
    view = bench.desk.looking.view
    return QPoint(round(column + view.left), round(row + view.top))


def drag(bench, qtbot, *spots, release=True):
    """The left button pressed on the first place of the page and dragged through the others."""
    page = bench.window.page
    points = [on_widget(bench, *spot) for spot in spots]
    qtbot.mousePress(page, LEFT, pos=points[0])
    for point in points[1:]:
        qtbot.mouseMove(page, point)
    if release:
        qtbot.mouseRelease(page, LEFT, pos=points[-1])
        settle(qtbot, bench)


def changes(bench):
    return len(bench.desk.job.past)


def test_a_stroke_takes_out_what_it_went_over_and_is_one_change(at_one, qtbot):
    bench = at_one
    take(bench, qtbot, TakeOut())
    assert isinstance(bench.window.page.tool, BrushTool)
    assert shown_at(bench, 300, 120) == (0, 0, 0)
    before = changes(bench)
    drag(bench, qtbot, (280, 120), (300, 120), (320, 120))
    assert changes(bench) == before + 1
    assert shown_at(bench, 300, 112) == (255, 255, 255)
    assert shown_at(bench, 450, 120) == (0, 0, 0)
    drag(bench, qtbot, (450, 90), (450, 150))
    area = steps_now(bench).steps[0].area
    assert len(area.strokes) == 2
    assert area.strokes[1] == (
        pytest.approx((38.1, 7.62), abs=0.05), pytest.approx((38.1, 12.7), abs=0.05))
    assert shown_at(bench, 452, 110) == (255, 255, 255)
    wanted = after_pixels(bench)
    view = bench.desk.looking.view
    image = bench.window.page.grab().toImage()
    shown = [image.pixelColor(x + view.left, 125 + view.top).red() for x in range(340, 400)]
    assert shown == wanted[125, 340:400].tolist()
    bench.do("undo")
    bench.do("undo")
    settle(qtbot, bench)
    assert steps_now(bench).steps[0] == TakeOut()


def test_let_stand_brings_back_under_the_brush_alone(at_one, qtbot):
    bench = at_one
    everything = ((0.0, 0.0), (60.0, 0.0), (60.0, 45.0), (0.0, 45.0))
    take(bench, qtbot, TakeOut(area=Outline(corners=everything)), LetStand(), chosen=1)
    assert shown_at(bench, 300, 120) == (255, 255, 255)
    drag(bench, qtbot, (290, 120), (310, 120))
    assert shown_at(bench, 300, 120) == (0, 0, 0)
    assert shown_at(bench, 450, 120) == (255, 255, 255)


def test_a_stroke_is_given_up_by_escape(at_one, qtbot):
    bench = at_one
    take(bench, qtbot, TakeOut())
    before = changes(bench)
    drag(bench, qtbot, (280, 120), (320, 120), release=False)
    qtbot.keyClick(bench.window.page, Qt.Key.Key_Escape)
    qtbot.mouseRelease(bench.window.page, LEFT, pos=on_widget(bench, 320, 120))
    assert changes(bench) == before
    assert bench.desk.step == 0
    qtbot.keyClick(bench.window.page, Qt.Key.Key_Escape)
    assert bench.desk.step is None
    assert bench.window.page.tool is None


def test_keys_change_the_brush_and_its_size_stays_in_hand(at_one, qtbot):
    bench = at_one
    take(bench, qtbot, TakeOut())
    tool = bench.window.page.tool
    qtbot.keyClick(bench.window, Qt.Key.Key_BracketRight)
    qtbot.keyClick(bench.window, Qt.Key.Key_ParenLeft)
    assert tool.size == (4, 0.7)
    assert "4 mm" in tool.words
    drag(bench, qtbot, (280, 120), (320, 120))
    assert steps_now(bench).steps[0].area.width == 4
    assert tool.size == (4, 0.7)
    qtbot.keyClick(bench.window, Qt.Key.Key_BracketRight)
    drag(bench, qtbot, (450, 120), (460, 120))
    first, second = steps_now(bench).steps[:2]
    assert (first.area.width, second.area.width) == (4, 5)
    assert bench.desk.step == 1
    field = bench.window.card.rows[1].sentence.control(("area", "width"))
    qtbot.keyClick(field, Qt.Key.Key_Up)
    assert steps_now(bench).steps[1].area.width == tool.size[0] == 5.1
    settle(qtbot, bench)


def test_without_a_brush_in_hand_the_brackets_say_so(at_one, qtbot):
    take(at_one, qtbot, TakeOut(area=Mark()))
    qtbot.keyClick(at_one.window, Qt.Key.Key_BracketRight)
    assert "no brush" in at_one.window.notice.text.text()


def test_the_ring_is_as_wide_as_the_brush(at_one, qtbot):
    bench = at_one
    take(bench, qtbot, TakeOut(area=Brush(width=10, soft=0)))
    page = bench.window.page
    bare = page.grab().toImage()
    qtbot.mouseMove(page, on_widget(bench, 400, 220))
    ringed = page.grab().toImage()
    radius = mm_to_px(5, PPI)
    view = bench.desk.looking.view
    row = 220 + view.top
    changed = [x for x in range(page.width())
               if bare.pixelColor(x, row) != ringed.pixelColor(x, row)]
    assert min(changed) == pytest.approx(400 - radius + view.left, abs=3)
    assert max(changed) == pytest.approx(400 + radius + view.left, abs=3)


def test_strokes_lie_on_the_drawing_also_on_a_turned_page(at_one, qtbot):
    bench = at_one
    take(bench, qtbot, TakeOut(), Turn(angle=90))
    # turned clockwise, the stroke's 120th row is the 360th column from the left
    column, row = HEIGHT - 1 - 120, 300
    assert shown_at(bench, column, row) == (0, 0, 0)
    drag(bench, qtbot, (column, row - 20), (column, row + 20))
    assert shown_at(bench, column + 3, row) == (255, 255, 255)
    places = steps_now(bench).steps[0].area.strokes[0]
    assert places[0] == pytest.approx((280.5 * 25.4 / PPI, 120.5 * 25.4 / PPI), abs=0.1)
    bench.lists.edit(replace_steps(bench, lambda steps: (steps[0], *steps[2:])))
    settle(qtbot, bench)
    assert shown_at(bench, 300, 120) == (255, 255, 255)


def replace_steps(bench, change):
    steps = steps_now(bench)
    return Edit(replace(steps, steps=change(steps.steps)), "other steps", 0)


def test_a_stroke_is_painted_by_keys_alone(at_one, qtbot):
    bench, page = at_one, at_one.window.page
    take(bench, qtbot, TakeOut())
    for key in (Qt.Key.Key_Down, Qt.Key.Key_Return, *[Qt.Key.Key_Right] * 4, Qt.Key.Key_Return):
        qtbot.keyClick(page, key)
    settle(qtbot, bench)
    view = bench.desk.looking.view
    middle = ((page.width() - 1) / 2 - view.left, (page.height() - 1) / 2 - view.top)
    start, end = steps_now(bench).steps[0].area.strokes[0]
    assert [mm_to_px(x, PPI) for x in start] == pytest.approx(middle, abs=2)
    assert mm_to_px(end[0] - start[0], PPI) == pytest.approx(40, abs=0.5)


def test_the_brush_holds_ink_in_a_colour_too(at_one, qtbot):
    bench = at_one
    hold = Hold(colour=(200, 0, 0), area=Brush(width=2, soft=0))
    bench.lists.take(StepList("held", (*TONES, hold)))
    bench.lists.choose(len(TONES))
    settle(qtbot, bench)
    drag(bench, qtbot, (280, 120), (320, 120))
    assert shown_at(bench, 300, 126) == (200, 0, 0)
    assert shown_at(bench, 300, 135) == (0, 0, 0)


def test_an_angle_that_was_found_is_taken_hold_of(at_one, qtbot):
    bench = at_one
    take(bench, qtbot, Straighten(angle=Found()))
    qtbot.keyClick(bench.window.page, Qt.Key.Key_Right)
    assert isinstance(steps_now(bench).steps[0].angle, Given)
    settle(qtbot, bench)


@pytest.mark.parametrize("kind", [TakeOut, LetStand])
def test_the_mark_under_the_pointer_is_seen_before_a_click_means_it(at_one, qtbot, kind):
    bench, page = at_one, at_one.window.page
    led = (TakeOut(area=Outline(corners=((0, 0), (60, 0), (60, 60), (0, 60)))),)
    take(bench, qtbot, *(led if kind is LetStand else ()), kind(area=Mark()),
         chosen=len(led) if kind is LetStand else 0)
    accent = page.lay.theme.accent

    def seen(column, row):
        return page.grab().toImage().pixelColor(on_widget(bench, column, row)).name() == accent

    def until(pointer, spot, wanted):
        def is_so():
            qtbot.mouseMove(page, QPoint(1, 1))  # a pointer that rests tells nothing
            qtbot.mouseMove(page, on_widget(bench, *pointer))
            return seen(*spot) == wanted

        qtbot.waitUntil(is_so)

    until((100, 120), (500, 120), wanted=True)  # the other end of the stroke
    assert not seen(350, 270)  # the patch is another mark
    before = changes(bench)
    until((600, 440), (500, 120), wanted=False)
    qtbot.mouseClick(page, LEFT, pos=on_widget(bench, 600, 440))
    settle(qtbot, bench)
    assert changes(bench) == before
    assert "No mark lies" in bench.window.notice.text.text()


# --- the edges of a crop

def test_the_page_is_shown_before_the_cut_while_the_crop_is_chosen(at_one, qtbot):
    bench = at_one
    take(bench, qtbot, Crop(left=5), chosen=None)
    cut = round(mm_to_px(5, PPI))
    assert bench.engine.shown.sheet.shape == (HEIGHT, WIDTH - cut)
    bench.lists.choose(0)
    settle(qtbot, bench)
    assert bench.engine.shown.sheet.shape == (HEIGHT, WIDTH)
    assert isinstance(bench.window.page.tool, CropTool)
    assert steps_now(bench).steps[0] == Crop(left=5)
    bench.lists.choose(1)
    settle(qtbot, bench)
    assert bench.engine.shown.sheet.shape == (HEIGHT, WIDTH - cut)
    assert bench.window.page.tool is None


def test_beside_the_proof_no_step_is_set_on_the_page(at_one, qtbot):
    bench = at_one
    take(bench, qtbot, TakeOut(area=Mark()), Crop(left=5))
    bench.viewing.look(bench.desk.looking.beside("proof"))
    settle(qtbot, bench)
    assert bench.window.page.tool is None
    before = steps_now(bench), changes(bench)
    qtbot.mouseClick(bench.window.page, LEFT, pos=on_widget(bench, 200, 120))  # on the stroke
    settle(qtbot, bench)
    assert (steps_now(bench), changes(bench)) == before
    bench.lists.choose(1)
    settle(qtbot, bench)
    cut = round(mm_to_px(5, PPI))
    assert bench.engine.shown.sheet.shape == (HEIGHT, WIDTH - cut)  # what is proved is cut
    bench.viewing.look(bench.desk.looking.beside("steps"))
    settle(qtbot, bench)
    assert isinstance(bench.window.page.tool, CropTool)


@pytest.mark.parametrize("step", [Crop(), Straighten()], ids=lambda step: step.kind)
@pytest.mark.parametrize("height", [20, 400], ids=["high", "low"])
@pytest.mark.parametrize("width", [640, 1280])
def test_no_plate_lies_on_another(
    at_one, qtbot, monkeypatch, step, height, width,
):
    bench, page = at_one, at_one.window.page
    bench.do("split")
    bench.window.resize(width, 800)
    take(bench, qtbot, step)
    bench.do("fit")
    settle(qtbot, bench)
    boxes, plate = [], plates.plate
    for module in (plates, edges, level, page_module):
        monkeypatch.setattr(module, "plate", lambda *a, **k: boxes.append(plate(*a, **k)))
    qtbot.mouseMove(page, QPoint(200, height))
    page.grab()
    assert len(boxes) >= 4
    assert not any(a.intersects(b) for a, b in combinations(boxes, 2))


def test_an_edge_of_a_crop_that_lies_under_the_divider_can_be_dragged(at_one, qtbot):
    bench, page = at_one, at_one.window.page
    take(bench, qtbot, Crop())
    bench.do("fit")
    bench.do("split")
    settle(qtbot, bench)
    lay, divider = page.lay, bench.desk.looking.divider
    middle = QPoint(page.width() // 2, round(lay.at((0, 0)).y()))
    qtbot.mousePress(page, LEFT, pos=middle)
    qtbot.mouseMove(page, middle + QPoint(0, 30))
    qtbot.mouseRelease(page, LEFT, pos=middle + QPoint(0, 30))
    assert steps_now(bench).steps[0].top > 1
    assert bench.desk.looking.divider == divider
    settle(qtbot, bench)
    handle = QPoint(page.width() // 2, page.height() // 2)
    qtbot.mousePress(page, LEFT, pos=handle)
    qtbot.mouseMove(page, handle + QPoint(40, 0))
    qtbot.mouseRelease(page, LEFT, pos=handle + QPoint(40, 0))
    assert bench.desk.looking.divider > divider


def test_a_brush_begins_its_stroke_also_under_the_divider(at_one, qtbot):
    bench, page = at_one, at_one.window.page
    take(bench, qtbot, TakeOut())
    bench.do("split")
    settle(qtbot, bench)
    divider, x = bench.desk.looking.divider, page.width() // 2
    qtbot.mousePress(page, LEFT, pos=QPoint(x + 4, 200))
    qtbot.mouseMove(page, QPoint(x + 60, 200))
    qtbot.mouseRelease(page, LEFT, pos=QPoint(x + 60, 200))
    assert len(steps_now(bench).steps[0].area.strokes) == 1
    assert bench.desk.looking.divider == divider
    settle(qtbot, bench)
    qtbot.mousePress(page, LEFT, pos=QPoint(x, page.height() // 2))
    qtbot.mouseMove(page, QPoint(x + 60, 200))
    qtbot.mouseRelease(page, LEFT, pos=QPoint(x + 60, 200))
    assert bench.desk.looking.divider > divider


@pytest.mark.parametrize("grip", GRIPS, ids="-".join)
def test_every_edge_and_corner_can_be_dragged(at_one, qtbot, grip):
    bench = at_one
    take(bench, qtbot, Crop(left=2, top=2, right=2, bottom=2))
    two = mm_to_px(2, PPI)
    x = two if "left" in grip else WIDTH - two if "right" in grip else WIDTH / 2
    y = two if "top" in grip else HEIGHT - two if "bottom" in grip else HEIGHT / 2
    in_x = 30 if "left" in grip else -30
    in_y = 30 if "top" in grip else -30
    before, standing = changes(bench), bench.engine.standing
    drag(bench, qtbot, (x, y), (x + in_x / 2, y + in_y / 2), (x + in_x, y + in_y))
    step = steps_now(bench).steps[0]
    for edge in ("left", "top", "right", "bottom"):
        moved = 2 + 30 * 25.4 / PPI if edge in grip else 2
        assert getattr(step, edge) == pytest.approx(moved, abs=0.11), edge
    assert changes(bench) == before + 1
    assert bench.engine.standing is standing  # nothing of the page had to be made anew


def test_between_the_edges_the_page_is_pushed_and_escape_gives_a_drag_up(at_one, qtbot):
    bench = at_one
    take(bench, qtbot, Crop(left=2))
    with qtbot.waitSignal(bench.window.page.pushed):
        drag(bench, qtbot, (300, 200), (320, 210))
    before, two = changes(bench), mm_to_px(2, PPI)
    drag(bench, qtbot, (two, 200), (two + 50, 200), release=False)
    assert bench.window.page.tool.now.left > 5
    qtbot.keyClick(bench.window.page, Qt.Key.Key_Escape)
    qtbot.mouseRelease(bench.window.page, LEFT, pos=on_widget(bench, two + 50, 200))
    assert bench.window.page.tool.now.left == 2
    assert changes(bench) == before


def test_edges_are_moved_by_keys(at_one, qtbot):
    bench, page = at_one, at_one.window.page
    take(bench, qtbot, Crop())
    qtbot.keyClick(page, Qt.Key.Key_E)
    qtbot.keyClick(page, Qt.Key.Key_Down, SHIFT)
    qtbot.keyClick(page, Qt.Key.Key_Down)
    assert steps_now(bench).steps[0] == Crop(top=1.1)
    qtbot.keyClick(page, Qt.Key.Key_E, SHIFT)
    qtbot.keyClick(page, Qt.Key.Key_Right)
    assert steps_now(bench).steps[0] == Crop(top=1.1, left=0.1)
    settle(qtbot, bench)


# --- the level line

def ends(bench):
    tool, page = bench.window.page.tool, bench.window.page
    assert isinstance(tool, LevelTool)
    return tool._ends(page.lay)


def test_tilting_the_line_turns_the_page_the_other_way(at_one, qtbot):
    bench, page = at_one, at_one.window.page
    take(bench, qtbot, Straighten(angle=Given(degrees=0.5)))
    left, right = ends(bench)
    before, length = changes(bench), right.x() - left.x()
    down = round(length / 2 * 0.0175)  # a degree
    qtbot.mousePress(page, LEFT, pos=right.toPoint())
    qtbot.mouseMove(page, right.toPoint() + QPoint(0, down))
    assert steps_now(bench).steps[0].angle.degrees == 0.5
    qtbot.mouseRelease(page, LEFT, pos=right.toPoint() + QPoint(0, down))
    settle(qtbot, bench)
    assert steps_now(bench).steps[0].angle.degrees == pytest.approx(-0.5, abs=0.15)
    assert changes(bench) == before + 1


def test_a_line_along_the_drawing_brings_it_level(at_one, qtbot):
    bench = at_one
    take(bench, qtbot, Straighten(angle=Given(degrees=0.0)))
    drag(bench, qtbot, (100, 100), (300, 103), (500, 107))
    assert steps_now(bench).steps[0].angle.degrees == pytest.approx(-1, abs=0.05)
    before = changes(bench)
    drag(bench, qtbot, (100, 60), (110, 61))
    assert changes(bench) == before


def test_arrows_turn_by_a_twentieth_of_a_degree(at_one, qtbot):
    bench, page = at_one, at_one.window.page
    take(bench, qtbot, Straighten(angle=Given(degrees=0.0)))
    qtbot.keyClick(page, Qt.Key.Key_Right)
    qtbot.keyClick(page, Qt.Key.Key_Down)
    assert steps_now(bench).steps[0].angle.degrees == 0.1
    qtbot.keyClick(page, Qt.Key.Key_Left, SHIFT)
    assert steps_now(bench).steps[0].angle.degrees == -0.4
    settle(qtbot, bench)


def test_a_tilt_is_given_up_by_escape(at_one, qtbot):
    bench, page = at_one, at_one.window.page
    take(bench, qtbot, Straighten(angle=Given(degrees=0.0)))
    left, _ = ends(bench)
    before = changes(bench)
    qtbot.mousePress(page, LEFT, pos=left.toPoint())
    qtbot.mouseMove(page, left.toPoint() + QPoint(0, 30))
    qtbot.keyClick(page, Qt.Key.Key_Escape)
    qtbot.mouseRelease(page, LEFT, pos=left.toPoint() + QPoint(0, 30))
    assert changes(bench) == before
