"""What the window knows of a proof, without a toolkit: what is asked, found, hatched, magnified."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from PIL import Image

from app.bench.state.glass import Glass, is_quick, next_times, under_glass
from app.bench.state.hatch import LIGHT, LOST, MAY, OPEN, PRINTS, WILL, Cells, Marks
from app.bench.state.printed import print_view, printed_said
from app.bench.state.printing import (
    change_said,
    cut_of_way,
    filling,
    nudged,
    order_for,
    size_of_way,
    size_way,
    turned_way,
    with_press,
    with_printing,
)
from app.bench.state.proof import (
    Found,
    Seen,
    cover_of,
    groups_of,
    headline,
    look_first,
    look_fully,
    remedy_said,
)
from app.bench.state.scale import Box, Scale, View, fit
from app.bench.state.sheet import write_pdf, write_sheet
from app.bench.state.standing import Shown
from app.pages.trims import TrimRule
from app.proof.marks import Evidence, drawn_on
from app.proof.preview import Seen as Part
from app.proof.preview import press_view
from app.proof.prove import Order, prove
from app.replay.job import Job, JobPage
from app.replay.naming import Naming
from app.replay.printing import High, Printing, Scaled, Wide
from core.fault import Cancelled, Refused
from core.press.presses import PRESSES, Press, my_printer
from core.press.screens import Diffusion, Plain, Screen
from core.press.size import PrintSize
from core.sheet import Sheet, whole
from core.steps.fold import replay
from core.steps.lift import Lift, Own
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from tests.bench.conftest import draw_page
from tests.proof.proof_pages import hatch, paper, scan, strokes, toned, white_for

COATED = PRESSES["coated"]
MINE = my_printer(COATED, faintest=2, even=5, line=0.35, reversed_line=0.5)


def seen_of(sheet, steps, order=None):
    """A page as the window shows it under a list, with its drawn marks."""
    drawn = Evidence.of(steps).drawn(sheet)
    return Seen(Shown.of(sheet, steps.steps), steps, order or Order(COATED), drawn)


@pytest.fixture(scope="module")
def veiled():
    """Strokes, and paper that the white point leaves as a veil of 4 %."""
    return scan(hatch(strokes(paper()), 219)), toned(white_for(0.04))


@pytest.mark.parametrize("order", [
    Order(COATED), Order(PRESSES["newsprint"], size=Wide(20.0)), Order(COATED, "1-bit", ppi=600),
], ids=["own size", "smaller", "1-bit"])
def test_what_would_print_is_found_as_the_command_finds_it(veiled, order):
    sheet, steps = veiled
    seen = seen_of(sheet, steps, order)
    theirs = prove(sheet, steps, order)
    quick, full = look_first(seen), look_fully(seen)
    for ours in (quick, full.residue):
        assert (ours.count, ours.area, ours.will) == (
            theirs.residue.count, theirs.residue.area, theirs.residue.will)
        assert (ours.cells == theirs.residue.cells).all()
    assert full.weak.lost_area == theirs.weak.lost_area
    assert [remedy.said for remedy in full.remedies] == [r.said for r in theirs.remedies]
    assert full.suggested == theirs.suggested


def test_ink_of_its_own_colours_is_proved_by_its_cover():
    colour = np.repeat(paper(200, 200)[..., None], 3, axis=2).clip(0, 255).astype(np.uint8)
    colour[50:60, 20:180] = (40, 60, 160)
    sheet, steps = Sheet(ppi=300, colour=colour), StepList("", (Lift(ink=Own()),))
    done = replay(steps, sheet)
    made = Shown.of(whole(done.before), done.settled.steps)
    assert made.one is None
    part = Box(10, 40, 60, 70)
    assert (cover_of(made)[40:70, 10:60] == cover_of(made, part)).all()
    assert cover_of(made)[55, 100] > 120


def test_a_proof_in_the_background_can_be_stopped(veiled):
    told = []

    def watch(done, total):
        told.append((done, total))
        if len(told) > 3:
            raise Cancelled

    with pytest.raises(Cancelled):
        look_fully(seen_of(*veiled), watch)


def test_evidence_changes_with_what_moves_the_marks_and_not_with_tones(veiled):
    sheet, steps = veiled
    assert Evidence.of(steps) == Evidence.of(toned(200))
    by_replay = drawn_on(replay(steps, sheet), sheet)
    assert (Evidence.of(steps).drawn(sheet).marks == by_replay.marks).all()


def test_the_verdict_and_the_groups_say_what_was_found(veiled):
    sheet, steps = veiled
    dirty = seen_of(sheet, steps)
    residue = look_first(dirty)
    grade, words = headline(residue)
    assert grade == "strong"
    assert "would print that should not" in words
    [group] = groups_of(Found(dirty, residue))
    assert group.title == f"What would print ({residue.count})"
    assert group.rows[0].region == residue.regions[0]
    proof = look_fully(dirty)
    assert remedy_said(proof.remedies[0]) == "Keep marks: clears all, costs no drawn ink"
    clean = seen_of(sheet, toned(226))
    found = Found(clean, look_first(clean), look_fully(clean))
    assert headline(found.residue) == ("good", "Nothing would print that should not.")
    assert not any(group.title.startswith("What would print") for group in groups_of(found))


def test_a_strong_white_point_loses_the_hatch_and_says_where(veiled):
    sheet, _ = veiled
    seen = seen_of(sheet, toned(205))
    found = Found(seen, look_first(seen), look_fully(seen))
    titles = [group.title.partition(" (")[0] for group in groups_of(found)]
    assert "What would be lost" in titles
    assert found.lost is not None
    assert found.lost.any()


def test_a_trim_that_is_not_found_is_a_row(veiled):
    sheet, steps = veiled
    seen = seen_of(sheet, steps, Order(COATED, trim=TrimRule("corners")))
    found = Found(seen, look_first(seen), look_fully(seen))
    [group] = [group for group in groups_of(found) if group.title == "Ink at the trim"]
    [row] = group.rows
    assert "The trim is not placed: its corner marks were not found" in row.text
    assert row.region is None


def test_ink_that_stops_short_of_the_bleed_is_a_row_that_can_be_gone_to():
    page = paper(600, 600)
    page[200:212, 30:570] = 22
    order = Order(COATED, trim=TrimRule("sheet", 43, 43), bleed=3)
    seen = seen_of(scan(page), toned(226), order)
    found = Found(seen, look_first(seen), look_fully(seen))
    rows = [row for group in groups_of(found) for row in group.rows if row.sort == "trim"]
    assert any("left: 1 mm of ink cross the trim, 1 mm of it stop short" in r.text for r in rows)
    left = next(row for row in rows if row.text.startswith("left"))
    assert left.region.middle[1] == pytest.approx(206 / 300 * 25.4, abs=0.5)


# --- how it is printed

JOB = Job((JobPage(Path("a.tif")), JobPage(Path("b.tif"))))


def test_a_size_for_one_page_leaves_the_book_alone():
    job = with_printing(JOB, Printing(size=Wide(100)), 1, own_size=True)
    assert job.printing == Printing()
    assert (order_for(job, 0).size, order_for(job, 1).size) == (Scaled(), Wide(100))
    back = with_printing(job, Printing(size=Scaled(70)), 1, own_size=False)
    assert order_for(back, 0).size == order_for(back, 1).size == Scaled(70)
    assert back.pages[1].size is None
    assert order_for(job, 1).left_page
    assert not order_for(job, 0).left_page
    assert order_for(replace(job, naming=Naming(first="left")), 0).left_page


@pytest.mark.parametrize("size", [Scaled(50), Wide(42.33), High(84.67)])
def test_a_size_is_the_same_in_each_way_of_giving_it(size):
    page = Printing(size=size).size_of((2000, 1000), 300)
    for way in ("percent", "wide", "high"):
        turned = turned_way(size, way, page)
        assert size_way(turned)[0] == way
        again = Printing(size=turned).size_of((2000, 1000), 300)
        assert again.width == pytest.approx(page.width, rel=2e-3)
        assert size_of_way(*size_way(turned)) == turned


@pytest.mark.parametrize(("shape", "size"), [((7016, 4961), High(210)), ((4961, 7016), High(210)),
                                             ((7016, 3000), Wide(148))])
def test_a_trim_by_name_is_filled(shape, size):
    assert filling("A5", shape, 600) == size
    made = Printing(size=size).size_of(shape, 600)
    assert made.width >= 147.9
    assert made.height >= 209.9


def test_presses_cuts_nudges_and_their_names():
    assert with_press(Printing(), "my printer", MINE).in_hand == MINE
    assert with_press(Printing(own=MINE), "inkjet", MINE).in_hand == PRESSES["inkjet"]
    assert cut_of_way("screen", 150) == Screen(75)
    assert cut_of_way("diffusion", 600) == Diffusion()
    rule = TrimRule(mirrored=True)
    assert nudged(nudged(rule, 0.5, 0, left_page=True), 0.5, 0, left_page=False).nudge == (0, 0)
    for new, name in ((Printing("inkjet"), "press"), (Printing(size=Wide(9)), "print size"),
                      (Printing(trim=rule), "trim"), (Printing(ppi=600), "cut of the 1-bit page")):
        assert change_said(Printing(), new) == name


# --- the hatch

def colours(drawn):
    return {int(one) for one in np.unique(drawn)} - {0}


def test_each_finding_has_a_hatch_of_its_own_and_is_outlined():
    codes = np.zeros((60, 60), np.uint8)
    codes[10:25, 10:25], codes[10:25, 35:50] = MAY, WILL
    lost = np.zeros((60, 60), np.uint8)
    lost[35:50, 10:25] = 1
    cores = np.zeros((60, 60), np.uint8)
    cores[35:50, 35:50] = 1
    marks = Marks(Cells(codes, 4.0), Cells(lost, 4.0), Cells(cores, 4.0))
    drawn = marks.draw(1.0, Box(0, 0, 240, 240))
    may, will = drawn[44:96, 44:96], drawn[44:96, 144:196]
    assert colours(may) == colours(will) == {PRINTS, LIGHT}
    assert (will != 0).mean() > 2 * (may != 0).mean()
    left, right = drawn[150:190, 50:90], may
    assert (left[1:, 1:] == left[:-1, :-1]).all(), "leans one way"
    assert (right[1:, :-1] == right[:-1, 1:]).all(), "leans the other way"
    assert colours(left) == {LOST, LIGHT}
    assert colours(drawn[136:204, 136:204]) == {OPEN, LIGHT}
    assert not drawn[150:190, 150:190].any(), "the inside of a stroke stays as it is"
    assert drawn[60, 39] == PRINTS
    assert drawn[60, 38] == LIGHT
    assert drawn[60, 36] == 0


@pytest.mark.parametrize("scale", [1 / 32, 1 / 7, 0.25, 1, 3])
def test_the_smallest_cell_shows_at_any_zoom_where_it_lies(scale):
    codes = np.zeros((301, 203), np.uint8)
    codes[250, 40] = WILL
    height, width = round(301 * 4 * scale), round(203 * 4 * scale)
    drawn = Marks(Cells(codes, 4.0)).draw(scale, Box(0, 0, width, height))
    rows, columns = np.nonzero(drawn)
    assert len(rows) >= 9
    assert rows.mean() == pytest.approx(250.5 * 4 * scale, abs=1.6)
    assert columns.mean() == pytest.approx(40.5 * 4 * scale, abs=1.6)


def test_a_part_of_the_hatch_is_part_of_the_whole():
    codes = (np.random.default_rng(2).random((90, 90)) < 0.3).astype(np.uint8)
    marks = Marks(Cells(codes, 4.0))
    everything = marks.draw(0.5, Box(0, 0, 180, 180))
    part = marks.draw(0.5, Box(31, 47, 131, 147))
    assert (everything[49:145, 33:129] == part[2:-2, 2:-2]).all()


@pytest.mark.parametrize("fine", [1, 2])
def test_thin_ink_that_is_not_solid_can_still_be_read(fine):
    cores = np.zeros((120, 120), np.uint8)
    cores[20:20 + 3 * fine, 10:100] = 1
    cores[60:100, 60:100] = 1
    drawn = Marks(cores=Cells(cores, 1.0)).draw(1.0, Box(0, 0, 120, 120), fine)
    thin = drawn[10:40]
    marked = thin[cores[10:40] > 0] != 0
    assert 0.05 < marked.mean() < 0.2
    assert colours(thin) == {LIGHT}
    assert not thin[cores[10:40] == 0].any(), "nothing beside the stroke"
    assert colours(drawn[58:61, 58:101]) == {OPEN, LIGHT}, "what is broad has its outline"
    assert not drawn[64:96, 64:96].any()


# --- the glass, and as printed

def tones(value=128, shape=(600, 500), ppi=300.0):
    return Shown.of(Sheet(ppi=ppi, grey=np.full(shape, 255 - value, np.uint8)), ())


@pytest.mark.parametrize("times", [4, 8, 12])
@pytest.mark.parametrize("scale", [0.5, 1.0])
def test_a_millimetre_of_print_is_so_many_under_the_glass(times, scale):
    order = Order(COATED, size=Scaled(100 * scale))
    glass = Glass((250.0, 300.0), times, 256, 4.0)
    box = glass.part(order, (600, 500), 300)
    millimetres = box.width / 300 * 25.4 * scale
    assert millimetres * times * 4.0 == pytest.approx(256, abs=256 / box.width)
    assert ((box.left + box.right) / 2, (box.top + box.bottom) / 2) == pytest.approx(
        (250, 300), abs=1)


def test_the_glass_shows_the_page_and_white_paper_beyond_it():
    seen = under_glass(tones(255), Order(COATED), Glass((0.0, 0.0), 8, 200, 4.0))
    assert seen.shape == (200, 200)
    assert (seen[:95] == 255).all()
    assert (seen[:, :95] == 255).all()
    assert (seen[105:, 105:] == 0).all()


@pytest.mark.parametrize("press", ["coated", "newsprint"])
def test_coarser_dots_keep_tone_and_place(press):
    page = np.full((600, 600), 100, np.uint8)
    order, part = Order(PRESSES[press]), Part(100, 100, 200, 200)
    size = PrintSize((600, 600), 600)
    fine = press_view(page, size, order, part, 400, 400)
    coarse = press_view(page, size, order, part, 400, 400, 2.0)
    assert coarse.mean() == pytest.approx(fine.mean(), abs=3)
    near = np.corrcoef(fine.ravel().astype(float), coarse.ravel().astype(float))[0, 1]
    assert near > 0.75


def test_only_diffused_dots_are_made_behind_the_scenes():
    assert is_quick(tones(), Order(COATED))
    assert is_quick(tones(), Order(COATED, "1-bit", cut=Screen(85)))
    assert not is_quick(tones(), Order(COATED, "1-bit", cut=Diffusion()))
    assert [next_times(t, larger=False) for t in (4, 8, 12)] == [4, 4, 8]


@pytest.mark.parametrize("scale", [Scale(), Scale(up=2), Scale(block=2)])
def test_the_view_as_printed_is_what_the_press_makes_of_what_is_seen(scale):
    page = np.zeros((600, 500), np.uint8)
    page[100:500, 100:400] = 255
    shown = Shown.of(Sheet(ppi=300, grey=255 - page), ())
    order = Order(COATED, "1-bit", ppi=300, cut=Plain())
    view = View((400, 300), (500, 600), scale, 20, 10, fitted=False)
    made = print_view(shown, order, view, 200)
    assert made.place[0] >= 180 - scale.value
    x, y = round(200 * scale.value) - made.place[0], round(300 * scale.value) - made.place[1]
    if 0 <= y < made.seen.shape[0] and 0 <= x < made.seen.shape[1]:
        assert made.seen[y, x] == 0
    assert set(np.unique(made.seen)) <= {0, 255} or scale.block > 1


SEA, SAND, RED = (40, 90, 140), (230, 200, 110), (170, 20, 30)


def coloured_page():
    """Two flats, a black stripe across them, a red one, and half a tint of black at the foot."""
    alpha = np.zeros((300, 400), np.uint8)
    alpha[50:80] = alpha[120:150] = 255
    alpha[200:] = 128
    flats = np.ones(alpha.shape, np.uint16)
    flats[:, 200:] = 2
    colour = np.zeros((*alpha.shape, 3), np.uint8)
    colour[120:150] = RED
    held = np.zeros_like(alpha)
    held[120:150] = 255
    return Shown.of(Sheet(ppi=300, alpha=alpha, ink=None, colour=colour, flats=flats, held=held,
                          palette=((0, 0, 0), SEA, SAND)), ())


@pytest.mark.parametrize("scale", [Scale(), Scale(up=2), Scale(block=2)])
def test_a_coloured_page_is_seen_as_printed_in_its_colours(scale):
    shown, value = coloured_page(), scale.value
    view = View((900, 700), (400, 300), scale, fitted=False)
    made = print_view(shown, Order(COATED), view, 0)
    assert made.seen.ndim == 3

    def at(column, row):
        return tuple(made.seen[round(row * value), round(column * value)].tolist())

    assert [at(x, 30) for x in (50, 350)] == [SEA, SAND]
    assert [at(x, 65) for x in (50, 350)] == [(0, 0, 0)] * 2
    assert [at(x, 135) for x in (50, 350)] == [RED] * 2
    foot = made.seen[round(220 * value) : round(290 * value), : round(180 * value)]
    dots = foot.reshape(-1, 3)
    assert (dots.max(axis=0) <= SEA).all()  # between the flat and the dots of black on it
    assert dots.min() < 40
    assert "flats even" in printed_said(Order(COATED), coloured=True)[1]


def test_the_glass_shows_colours_and_white_paper_beyond_them():
    seen = under_glass(coloured_page(), Order(COATED), Glass((0.0, 40.0), 8, 200, 4.0))
    assert seen.shape == (200, 200, 3)
    assert (seen[:, :95] == 255).all()
    assert (seen[5:95, 110:] == SEA).all()  # half a glass is 3.1 mm: 37 pixels of the page
    assert (seen[135:195, 110:] == 0).all()


def test_a_view_beside_the_page_is_nothing_and_dots_are_said():
    view = fit((300, 300), (500, 600))
    assert print_view(tones(), Order(COATED), view, 299).seen.size >= 1
    assert printed_said(Order(COATED)) == ("as printed: coated, 150 lines per inch",)
    assert len(printed_said(Order(COATED, "1-bit", cut=Diffusion()))) == 2
    assert len(printed_said(Order(COATED, "1-bit"))) == 1
    assert "the line alone, as black" in printed_said(Order(COATED, "1-bit"), coloured=True)[1]


# --- the whole job

@pytest.fixture
def book(tmp_path):
    for number in (1, 2):
        Image.fromarray(scan(strokes(paper(400, 400))).grey).save(
            tmp_path / f"{number}.png", dpi=(300, 300))
    pages = tuple(JobPage(tmp_path / f"{n}.png", steps=toned(226)) for n in (1, 2))
    return Job(pages, printing=Printing("uncoated", size=Scaled(50)), name="Tide mill")


def test_a_proof_sheet_of_the_job_is_written(book, tmp_path):
    told = []
    count, faults = write_sheet(book, tmp_path / "sheet.html", "1 May", watch=lambda *at:
                                told.append(at))
    text = (tmp_path / "sheet.html").read_text("utf-8")
    assert (count, faults) == (2, ())
    for words in ("Tide mill", "1 May", "1.png", "2.png", "uncoated", "16.9 x 16.9"):
        assert words in text, words
    assert told[-1][0] == told[-1][1]
    without = replace(book, pages=(book.pages[0], replace(book.pages[1], steps=None)))
    count, faults = write_sheet(without, tmp_path / "one.html", "1 May")
    assert count == 1
    assert "no step list has been kept" in faults[0]
    bare = JobPage(draw_page(tmp_path / "bare.png", ppi=None), steps=book.pages[0].steps)
    without = replace(book, pages=(book.pages[0], bare))
    _, faults = write_sheet(without, tmp_path / "two.html", "1 May")
    assert "Say its resolution or size" in faults[0]  # what can be done in the window
    assert "--" not in faults[0]


def test_a_pdf_of_the_job_is_written_or_refused(book, tmp_path):
    assert write_pdf(book, tmp_path / "book.pdf") == 2
    with pikepdf.open(tmp_path / "book.pdf") as document:
        assert len(document.pages) == 2
        trim = [float(side) for side in document.pages[0].obj.TrimBox]
        assert trim[2] - trim[0] == pytest.approx(400 / 300 * 72 * 0.5, abs=0.01)
    cut = replace(book, printing=replace(book.printing, trim=TrimRule("corners")))
    with pytest.raises(Refused, match="corner marks were not found"):
        write_pdf(cut, tmp_path / "cut.pdf")
    assert not (tmp_path / "cut.pdf").exists()


def test_a_page_needs_fixed_tones_to_be_mended():
    press = Press(name="plain")
    seen = seen_of(scan(strokes(paper(300, 300), tone=60)),
                   StepList("", (Tone(points=Fixed(black=30, white=226)), Lift())), Order(press))
    proof = look_fully(seen)
    assert proof.mended is None or proof.mended[0] > 30
