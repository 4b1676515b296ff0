"""What a scan plainly shows beyond the sheet is left out where paper is measured."""

import cv2
import numpy as np
import pytest

from app.filters.beyond import at_size, beyond_sheet
from app.filters.keep_marks import KeepMarks
from app.filters.light import find_light
from app.filters.noise import measure_ground
from app.suggest import suggest
from core.sheet import Sheet, whole
from core.steps.fold import replay

PPI = 150
SIZE = (420, 360)


def paper(tone=225.0, tooth=4.0, seed=3):
    """A sheet whose tooth is a few pixels wide, (H, W) float."""
    rng = np.random.default_rng(seed)
    grain = rng.standard_normal((SIZE[0] // 2, SIZE[1] // 2)).repeat(2, 0).repeat(2, 1)
    return tone + tooth * grain


def on_bed(sheet, lid, shadow=0.55, seed=4):
    """The sheet with a lid of that tone to the right and below it, a shadow between; uint8."""
    rng = np.random.default_rng(seed)
    page = np.full((SIZE[0] + 90, SIZE[1] + 70), float(lid))
    page[: SIZE[0] + 4, : SIZE[1] + 4] *= shadow
    page += rng.normal(0, 0.8, page.shape)
    page[: SIZE[0], : SIZE[1]] = sheet
    return np.clip(np.rint(page), 0, 255).astype(np.uint8)


def seen(page):
    """Where the page shows something else than the sheet, at its own size."""
    return at_size(beyond_sheet(page, PPI), page.shape)


@pytest.mark.parametrize("lid", [20, 120, 190, 224, 245])
def test_a_lid_of_any_tone_is_told_from_paper_with_a_tooth(lid):
    away = seen(on_bed(paper(), lid))
    assert away[200, SIZE[1] + 30 :].all()
    assert away[SIZE[0] + 30 :, 200].all()
    assert not away[30 : SIZE[0] - 30, 30 : SIZE[1] - 30].any()


@pytest.mark.parametrize("tone", [120, 190, 245])
def test_a_lid_of_another_tone_is_told_from_paper_without_one(tone):
    assert seen(on_bed(paper(tooth=0.8), tone))[200, SIZE[1] + 30 :].all()


@pytest.mark.parametrize("deep", [0.08, 0.2])
@pytest.mark.parametrize("cloudy", [0.03, 0.1])
@pytest.mark.parametrize("tooth", [0.8, 2.5])
def test_paper_round_a_wash_that_fills_its_frame_is_no_lid(tooth, cloudy, deep):
    page = paper(245, tooth)
    clouds = cv2.GaussianBlur(np.random.default_rng(8).normal(0, 1, SIZE), (0, 0), 3 / 25.4 * PPI)
    page[:370, :310] *= (1 - deep * (1 + cloudy * clouds / clouds.std()))[:370, :310]
    page[367:370, :310] = page[:370, 307:310] = 60
    page += np.random.default_rng(9).normal(0, 0.8, SIZE)
    assert not seen(np.clip(np.rint(page), 0, 255).astype(np.uint8)).any()


def test_a_blank_sheet_is_all_sheet():
    assert not seen(paper().astype(np.uint8)).any()


def test_a_drawn_frame_has_paper_on_both_sides():
    page = paper()
    for rows, columns in (((40, 44), (40, 320)), ((376, 380), (40, 320)),
                          ((40, 380), (40, 44)), ((40, 380), (316, 320))):
        page[slice(*rows), slice(*columns)] = 40
    assert not seen(page.astype(np.uint8)).any()


def test_a_gutter_is_light_on_paper():
    near = np.clip(1 - np.arange(SIZE[1]) / 41, 0, 1)
    page = paper() * (1 - 0.35 * near * near * (1.5 - 0.5 * near))
    page[60:360, 60:63] = 40
    assert not seen(page.astype(np.uint8)).any()


def test_a_dark_table_may_be_lit_unevenly():
    page = on_bed(paper(), 60).astype(float)
    page[:, SIZE[1] :] *= np.linspace(1.4, 0.5, 70)
    away = seen(np.rint(page).astype(np.uint8))
    assert away[200, SIZE[1] + 10 :].all()
    assert not away[30 : SIZE[0] - 30, 30 : SIZE[1] - 30].any()


@pytest.mark.parametrize("lid", [60, 190, 245])
def test_the_light_on_the_sheet_is_not_that_on_the_lid(lid):
    light = find_light(on_bed(paper(), lid), PPI, 40)
    assert light is not None
    there = light.tones[10:-60, 10:-60, 0]
    assert abs(there - 225).max() < 4


@pytest.mark.parametrize("lid", [190, 224, 245])
def test_the_noise_is_that_of_the_sheet(lid):
    alone = measure_ground(np.rint(paper()).astype(np.uint8), PPI)
    ground = measure_ground(on_bed(paper(), lid), PPI)
    assert ground.paper == pytest.approx(alone.paper, abs=0.5)
    assert ground.noise == pytest.approx(alone.noise, rel=0.1)


@pytest.mark.parametrize("lid", [120, 190, 245])
def test_a_suggestion_reads_the_sheet_and_not_the_lid(lid):
    sheet = paper()
    sheet[100:300, 150:154] = 50
    page = Sheet(ppi=PPI, grey=on_bed(sheet, lid))
    steps = suggest(page, "bed").steps
    assert any(isinstance(step, KeepMarks) for step in steps.steps)
    alpha = whole(replay(steps, page).page).alpha
    assert (alpha[110:290, 151:153] > 200).all()
    assert (alpha[20:90, 20:330] > 4).mean() < 0.002


@pytest.mark.parametrize("shape", [(1, 1), (2, 300), (300, 2), (5, 5)])
@pytest.mark.parametrize("depth", [np.uint8, np.uint16])
def test_pages_smaller_than_what_is_looked_for(shape, depth):
    assert not beyond_sheet(np.full(shape, 200, depth), PPI).any()


def test_sixteen_bits_show_what_eight_do():
    page = on_bed(paper(), 120)
    wide = page.astype(np.uint16) * np.uint16(257)
    assert np.array_equal(beyond_sheet(page, PPI), beyond_sheet(wide, PPI))
