"""What is proposed for a page: which steps, and that the reasons are true."""

from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from app.filters.keep_marks import KeepMarks, Pale
from app.suggest import suggest
from core.sheet import Sheet, whole
from core.steps.fold import replay

SHAPE = (700, 600)
PPI = 300
SAMPLES = Path(__file__).parents[1] / "sample_pages"


def grainy(seed=1, swing=2.0, paper=228.0):
    return paper + np.random.default_rng(seed).normal(0, swing, SHAPE)


def scan_of(tones):
    return Sheet(ppi=PPI, grey=np.clip(np.rint(tones), 0, 255).astype(np.uint8))


def kinds(sheet):
    return [step.kind for step in suggest(sheet, "page").steps.steps]


def test_grain_calls_for_keep_marks_and_a_flat_page_does_not():
    tones = grainy()
    tones[300:306, 100:500] = 40
    flat = np.where(tones < 100, 40.0, 228.0)
    assert "keep marks" in kinds(scan_of(tones))
    assert "keep marks" not in kinds(scan_of(flat))


def test_of_blank_pages_and_of_two_tones_nothing_untrue_is_said():
    blank = np.full(SHAPE, 231.0)
    said = suggest(scan_of(blank), "page").reasons
    assert said == ("The paper is of one tone, 231, and has no grain to be cleared.",
                    "Nothing on it is darker than the paper: the page is blank.")
    bits = np.where(np.random.default_rng(2).random(SHAPE) < 0.1, 0.0, 255.0)
    assert suggest(scan_of(bits), "page").reasons[-1].startswith("What is drawn is full black")
    pencil = bits + np.random.default_rng(3).integers(40, 160, SHAPE) * (bits == 0)
    assert "no peak of their own" in suggest(scan_of(pencil), "page").reasons[-1]


@pytest.mark.parametrize("swing", [0.7, 2.0, 5.0])
def test_the_first_result_has_clear_paper_and_black_ink(swing):
    tones = grainy(swing=swing)
    tones[300:312, 100:500] = 40 + np.random.default_rng(3).normal(0, 1.5, (12, 400))
    sheet = scan_of(tones)
    alpha = whole(replay(suggest(sheet, "page").steps, sheet).page).alpha
    assert (alpha[:280] == 0).mean() > 0.999
    assert alpha[303:309, 110:490].mean() > 240


@pytest.mark.parametrize(("swing", "limit"), [(1.0, 3.0), (4.0, 3.3), (9.0, 3.5)])
def test_on_rough_paper_more_is_asked_of_a_mark_and_it_is_said(swing, limit):
    tones = grainy(swing=swing, paper=215.0)
    tones[300:312, 100:500] = 40
    made = suggest(scan_of(tones), "page")
    keep = next(step for step in made.steps.steps if isinstance(step, KeepMarks))
    assert keep.limit == pytest.approx(limit, abs=0.1)
    assert any("grain is strong" in reason for reason in made.reasons) == (limit > 3)


def test_shaded_paper_is_evened_first():
    tones = grainy() - np.linspace(0, 30, SHAPE[1])
    assert kinds(scan_of(tones))[:2] == ["even light", "keep marks"]


def test_pencil_beside_ink_is_offered_and_kept():
    tones = grainy(swing=1.0)
    tones[300:330, 50:550] = 40
    ink_only = scan_of(tones)
    tones[100:104, 50:550] -= 60
    tones[200:204, 50:550] -= 60
    both = scan_of(tones)
    said = " ".join(suggest(both, "page").reasons)
    assert "weakest mark kept" in said
    assert "weakest mark kept" not in " ".join(suggest(ink_only, "page").reasons)
    made = suggest(both, "page")
    keep = next(s for s in made.steps.steps if s.kind == "keep marks")
    assert isinstance(keep.weakest, Pale)
    for steps, kept in ((made.steps, 1.0), (made.ink_only(made.steps), 0.0)):
        alpha = whole(replay(steps, both).page).alpha
        assert (alpha[101:103, 60:540] > 0).mean() == pytest.approx(kept, abs=0.02)
        assert (alpha[302:328, 52:548] > 200).all()


def thin_lines(*, over_pencil=False, shown_through=False):
    """Thin pen lines, whose tones have no peak, on pencil or on a soft show-through."""
    drawn = np.zeros(SHAPE, np.float32)
    for row in range(60, 640, 40):
        cv2.line(drawn, (60, row), (540, row + 20), 180.0, 2, cv2.LINE_AA)
    below = np.zeros(SHAPE, np.float32)
    for row in range(50, 640, 60):
        if over_pencil:
            cv2.line(below, (80, row + 20), (520, row - 10), 45.0, 3, cv2.LINE_AA)
        if shown_through:
            cv2.line(below, (80, row + 20), (520, row - 10), 60.0, 5, cv2.LINE_AA)
    below = cv2.GaussianBlur(below, (0, 0), 3.0 if shown_through else 0.7)
    return scan_of(grainy(swing=1.5) - np.maximum(cv2.GaussianBlur(drawn, (0, 0), 0.8), below))


@pytest.mark.parametrize("other", ["over_pencil", "shown_through"])
def test_thin_ink_without_a_peak_is_told_from_what_is_paler(other):
    one, two = suggest(thin_lines(), "page"), suggest(thin_lines(**{other: True}), "page")
    assert one.ink is None
    assert two.ink is not None
    assert 25 < two.ink < 75
    assert any("Two strengths" in reason for reason in two.reasons)


def test_drawing_by_one_tool_is_not_parted_however_its_pressure_swings():
    drawn = np.zeros(SHAPE, np.float32)
    for number, row in enumerate(range(60, 640, 20)):
        cv2.line(drawn, (60, row), (540, row + 8), 60.0 + 4 * number, 3, cv2.LINE_AA)
    page = scan_of(grainy(swing=1.5) - cv2.GaussianBlur(drawn, (0, 0), 0.8))
    assert suggest(page, "page").ink is None


def dry_brush(*, over=None):
    """Strokes of a dry brush, whose cells are of every paleness, over ``over``; as tones."""
    random = np.random.default_rng(5)
    drawn = np.zeros(SHAPE, np.float32)
    tooth = cv2.GaussianBlur(random.normal(size=SHAPE), (0, 0), 1.3)
    for row in range(60, 640, 90):
        cv2.rectangle(drawn, (60, row), (540, row + 16), 1.0, -1)
    dry = np.clip(tooth / tooth.std() + np.linspace(1.5, -1.5, SHAPE[1]), 0, 1) * drawn
    ink = 190 * cv2.GaussianBlur(dry, (0, 0), 0.5)
    return grainy(swing=1.5) - np.maximum(ink, 0 if over is None else over)


def rubbed_pencil():
    """Lines that go on beside the strokes, patchy, as an eraser leaves them."""
    left = np.zeros(SHAPE, np.float32)
    for row in range(60, 640, 90):
        cv2.line(left, (30, row - 12), (570, row + 30), 1.0, 4, cv2.LINE_AA)
    patches = cv2.GaussianBlur(np.random.default_rng(6).normal(size=SHAPE), (0, 0), 25)
    return cv2.GaussianBlur(left, (0, 0), 0.7) * (35 + 10 * patches / patches.std())


def test_rubbed_pencil_is_told_from_a_dry_brush_and_goes_without_it():
    pencil = rubbed_pencil()
    one, two = scan_of(dry_brush()), scan_of(dry_brush(over=pencil))
    assert suggest(one, "page").ink is None
    made = suggest(two, "page")
    assert made.ink is not None
    both, ink = (whole(replay(steps, two).page).alpha
                 for steps in (made.steps, made.ink_only(made.steps)))
    brush = dry_brush() < 140
    bare = (pencil > 15) & (cv2.erode(dry_brush(), np.ones((7, 7))) > 200)
    assert (both[bare] > 5).mean() > 0.6
    assert (ink[bare] > 5).mean() < 0.01
    assert ink[brush].sum() > 0.98 * both[brush].sum()


def test_the_black_point_is_the_inks_and_not_a_crowd_of_greys():
    tones = grainy(swing=1.0)
    tones[300:330, 50:550] = 40
    tones[400:480, 50:550] = 150  # a tone larger than the ink, with a peak of its own
    points = next(s for s in suggest(scan_of(tones), "page").steps.steps if s.kind == "tone").points
    assert points.black < 60


def test_two_blacks_stay_apart():
    tones = grainy(swing=1.0)
    tones[300:330, 50:550] = 66  # a pen
    tones[400:412, 50:550] = 48  # and a blacker brush
    points = next(s for s in suggest(scan_of(tones), "page").steps.steps if s.kind == "tone").points
    assert points.black < 52


def test_what_lies_beyond_the_sheet_is_left_out_and_told_and_else_nothing_is():
    plain = suggest(Sheet(ppi=300, grey=np.full((400, 400), 230, np.uint8)), "plain")
    assert "beyond" not in " ".join(plain.reasons)
    chance = np.random.default_rng(5)
    page = np.clip(chance.normal(228, 5, (1200, 900)), 0, 255).astype(np.uint8)
    page[400:410, 300:800] = 40
    page[:, :150] = np.clip(chance.normal(30, 1, (1200, 150)), 0, 255)
    made = suggest(Sheet(ppi=300, grey=page), "lid")
    marks = next(step for step in made.steps.steps if isinstance(step, KeepMarks))
    assert marks.sheet
    assert any("beyond the sheet's edge" in reason for reason in made.reasons)


@pytest.mark.parametrize("box", [(300, 900, 300, 900), (900, 1500, 0, 1240), (180, 1560, 60, 1210)])
def test_a_page_that_is_drawn_nearly_full_keeps_its_ink(box):
    top, bottom, left, right = box
    grey = np.asarray(Image.open(SAMPLES / "sluice-wheel.png").convert("L"))
    page = np.ascontiguousarray(grey[top:bottom, left:right])
    sheet = Sheet(ppi=PPI, grey=page)
    alpha = whole(replay(suggest(sheet, "page").steps, sheet).page).alpha
    assert (alpha[page < 110] > 128).mean() > 0.98
    assert (alpha[page > 220] == 0).mean() > 0.6


def test_light_that_hardly_any_bare_paper_tells_is_left_as_it_is_and_it_is_said():
    page = np.asarray(Image.open(SAMPLES / "mill-across-the-water.tif"))
    drawn = page[1000:1600, 1562:2162]  # trees and water
    made = suggest(Sheet(ppi=PPI, grey=np.ascontiguousarray(drawn)), "page")
    assert "even light" not in [step.kind for step in made.steps.steps]
    assert any("it is left as it is" in reason for reason in made.reasons)


def test_solids_between_close_hatching_are_not_taken_for_paper():
    tones = grainy(swing=1.0, paper=205)
    for row in range(0, SHAPE[0], 9):
        tones[row : row + 4] -= 150
    tones[80:300, 60:250] = tones[330:560, 300:540] = 48
    tones += np.random.default_rng(5).normal(0, 0.8, SHAPE)
    sheet = scan_of(tones)
    alpha = whole(replay(suggest(sheet, "page").steps, sheet).page).alpha
    assert alpha[90:290, 70:240].min() > 200
    assert (alpha[sheet.grey < 80] > 150).mean() > 0.99


def in_colour(tones, pale=None, colour=(150, 205, 228)):
    """A scan in colour: grey tones, and something of a colour over the paper where ``pale`` is."""
    page = np.repeat(np.clip(tones, 0, 255)[..., None], 3, axis=2)
    if pale is not None:
        page = np.minimum(page, np.where(pale[..., None], np.array(colour, float), 255.0))
    return Sheet(ppi=PPI, colour=np.rint(page).astype(np.uint8))


def inked_lines():
    tones = grainy(swing=1.0)
    for row in range(80, 640, 80):
        tones[row : row + 8, 40:560] = 40
    return tones


def blue_lines(wide=3):
    pale = np.zeros(SHAPE, np.uint8)
    for row in range(60, 640, 90):
        cv2.line(pale, (60, row), (540, row + 45), 1, wide)
    return pale > 0


@pytest.mark.parametrize("ink", [(40, 40, 40), (120, 30, 30)])
def test_blue_pencil_beneath_ink_drops_out_and_it_is_said(ink):
    pale = blue_lines()
    page = in_colour(inked_lines(), pale)
    page.colour[inked_lines() < 100] = ink
    made = suggest(page, "page")
    assert any("blue pencil" in reason for reason in made.reasons)
    assert "grey" in [step.kind for step in made.steps.steps]
    alpha = whole(replay(made.steps, page).page).alpha
    ink = inked_lines() < 100
    about = cv2.dilate(ink.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    assert (alpha[pale & ~about] == 0).mean() > 0.995
    assert alpha[ink].min() > 200, "ink that crosses it is not broken"


@pytest.mark.parametrize(("ink", "pale", "colour"), [
    ((40, 40, 40), None, None),  # nothing blue
    ((40, 40, 40), blue_lines(wide=40), (150, 205, 228)),  # a wash
    ((40, 40, 40), blue_lines(), (226, 190, 150)),  # brown
    ((25, 40, 110), blue_lines(), (150, 205, 228)),  # blue ink
    (None, blue_lines(), (150, 205, 228)),  # no ink over it: it may be the drawing
])
def test_what_else_is_blue_stays_and_so_does_pencil_of_other_colours(ink, pale, colour):
    tones = inked_lines() if ink else grainy(swing=1.0)
    page = in_colour(tones, pale, colour) if pale is not None else in_colour(tones)
    if ink:
        page.colour[tones < 100] = ink
    made = suggest(page, "page")
    assert "grey" not in [step.kind for step in made.steps.steps]
    if pale is not None:
        alpha = whole(replay(made.steps, page).page).alpha
        assert (alpha[pale] > 0).mean() > 0.9
