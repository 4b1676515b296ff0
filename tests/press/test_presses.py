"""Presses, print sizes, and what a printer says of them."""

import numpy as np
import pytest

from core.press.advice import grade_line_limits, grade_resolution, grade_ruling, suggest_form
from core.press.presses import CAUTION, PRESSES, Press, my_printer
from core.press.size import TRIMS, PrintSize, Trim, mm_to_points
from core.steps.fields import checked


def test_the_limits_are_those_of_offset():
    # ISO 12647-2:2013 asks a press to hold tones from 3 to 97 % (from memory)
    assert PRESSES["coated"].holds == PRESSES["uncoated"].holds == 3
    assert {press.may_print for name, press in PRESSES.items() if name in ("coated", "uncoated",
                                                                           "newsprint")} == {1}


@pytest.mark.parametrize(("name", "gain"), [("coated", 16), ("uncoated", 22)])
def test_the_gains_are_those_of_the_standard(name, gain):
    # ISO 12647-2:2013, tonal value increase curves A and C at 50 % (from memory)
    assert PRESSES[name].gain == gain


@pytest.mark.parametrize("press", PRESSES.values(), ids=lambda press: press.name)
def test_every_press_is_sound_and_says_where_its_figures_are_from(press):
    assert checked(press) == ()
    assert "from memory" in press.source or "no source" in press.source
    assert press.name in press.sentence()
    assert press.output >= 2 * press.ruling


def test_a_press_that_contradicts_itself_is_faulted():
    assert "above" in str(checked(Press(may_print=5, holds=3))[0])


def test_my_printer_keeps_what_the_strip_does_not_tell():
    mine = my_printer(PRESSES["newsprint"], faintest=3, even=8, line=0.5, reversed_line=1)
    assert (mine.may_print, mine.holds, mine.line, mine.reversed_line) == (3, 8, 0.5, 1)
    assert (mine.gain, mine.ruling) == (PRESSES["newsprint"].gain, PRESSES["newsprint"].ruling)
    assert "strip" in mine.source
    assert "not a contract proof" in CAUTION


def test_a_page_printed_at_half_size_has_twice_the_resolution():
    size = PrintSize.of_width((7016, 4961), 600, 105)
    assert size.ppi_printed == pytest.approx(1200, abs=0.5)
    assert size.width == pytest.approx(105)
    assert size.height == pytest.approx(148.5, abs=0.05)
    assert PrintSize.of_height((7016, 4961), 600, size.height).scale == pytest.approx(size.scale)


@pytest.mark.parametrize("values", [((10, 10), 300, 0), ((10, 10), 0, 1), ((0, 10), 300, 1),
                                    ((10, 10), 300, float("nan"))])
def test_a_page_without_size_is_refused(values):
    with pytest.raises(ValueError, match="size"):
        PrintSize(*values)


def test_trims_of_iso_216_are_in_its_proportion():
    # ISO 216: sides as 1 to the square root of 2, each rounded to a whole millimetre
    for name, trim in TRIMS.items():
        if trim.source == "ISO 216":
            assert trim.height == pytest.approx(trim.width * 2**0.5, abs=1.1), name


def test_inch_trims_bleed_an_eighth():
    assert TRIMS["novel"].bleed == pytest.approx(25.4 / 8)
    assert TRIMS["comic"].bleed == pytest.approx(25.4 / 8)
    assert Trim(170, 240).bleed == 3
    assert mm_to_points(25.4 * 6) == pytest.approx(432)


@pytest.mark.parametrize(("ppi", "form", "grade"), [
    # common practice, no source: 1-bit 1200, warned under 800, strongly under 600; grey 600,
    # under 400, under 300
    (1200, "1-bit", "good"), (800, "1-bit", "good"), (799, "1-bit", "warn"),
    (600, "1-bit", "warn"), (599, "1-bit", "strong"), (600, "grey", "good"),
    (400, "grey", "good"), (399, "grey", "warn"), (300, "grey", "warn"), (299, "grey", "strong"),
])
def test_resolutions_are_graded(ppi, form, grade):
    assert grade_resolution(ppi, form).grade == grade


def test_a_cell_of_sixteen_pixels_has_tones_enough():
    assert grade_ruling(2400, 150).grade == "good"
    few = grade_ruling(600, 75)
    assert few.grade == "warn"
    assert "64 tone steps" in few.said


def test_lines_are_judged_only_where_they_have_pixels():
    assert grade_line_limits(600, Press(line=0.25)).grade == "good"
    assert grade_line_limits(500, Press(line=0.25)).grade == "warn"


def counts_of(**tones):
    counts = np.zeros(256, np.int64)
    for tone, count in tones.items():
        counts[int(tone[1:])] = count
    return counts


def test_pen_goes_as_bitmap_and_pencil_as_grey():
    assert suggest_form(counts_of(t24=800, t90=200, t230=20000))[0] == "1-bit"
    assert suggest_form(counts_of(t230=20000))[1].startswith("Nothing is drawn")
    # a peak of ink alone is not enough: much of what is drawn must be black
    assert suggest_form(counts_of(t24=400, t90=600, t230=20000))[0] == "1-bit"
    assert suggest_form(counts_of(t24=150, t90=850, t230=20000))[0] == "grey"
    form, why = suggest_form(counts_of(t120=100, t150=300, t170=300, t190=200, t230=20000))
    assert form == "grey"
    assert why.startswith("Hardly any of what was drawn is near black, as with pencil")
    why = suggest_form(counts_of(t24=150, t90=850, t230=20000))[1]
    assert why.startswith("Only 15 % of what was drawn is near black")
    spread = counts_of(t230=20000)
    spread[10:185] = range(100, 275)  # much of it black, but of no one tone
    assert suggest_form(spread)[1].startswith("The ink has no peak of its own")
