"""What hides the paper: correction white over drawn pages, and what only looks a little like it."""

import cv2
import numpy as np
import pytest

from app.filters.even_light import EvenLight, even_plane
from app.filters.keep_marks import KeepMarks
from app.filters.noise import measure_ground
from app.filters.opaque import hidden_paper
from core.sheet import Sheet

PPI = 150
CREAM, WHITE, INK = (228.0, 221.0, 200.0), (224.0, 224.0, 222.0), (40.0, 38.0, 36.0)
HERE = np.s_[212:268, 260:340]  # well within the white


def drawn(paper=CREAM, *, relief=2.0):
    """A page 81 mm high with lines across it, in light of one tone; the ink's share of it."""
    chance = np.random.default_rng(7)
    tooth = cv2.GaussianBlur(chance.standard_normal((480, 600)).astype(np.float32), (0, 0), 1.2)
    share = np.zeros((480, 600), np.float32)
    for row in range(120, 380, 16):
        share[row : row + 3, 60:540] = 1
    share = cv2.GaussianBlur(share, (0, 0), 0.7)[..., None]
    ground = np.array(paper, np.float32) + (relief * tooth / tooth.std())[..., None]
    return ground + share * (np.array(INK, np.float32) - ground), share


def daubed(page, share, *, shows=0.1, rim=12.0):
    """White over a page, so much of ink in it, a shadow along one side and light along another."""
    daub = np.zeros(page.shape[:2], np.float32)
    cv2.ellipse(daub, (300, 240), (60, 45), 0, 0, 360, 1.0, -1)
    daub = cv2.GaussianBlur(daub, (0, 0), 1.0)[..., None]
    white = np.array(WHITE) + shows * share * (np.array(INK) - np.array(WHITE))
    slope = np.gradient(daub[..., 0], axis=0)
    return page + daub * (white - page) + (rim * slope / slope.max())[..., None]


def sheet_of(page):
    return Sheet(ppi=PPI, colour=np.clip(np.rint(page), 0, 255).astype(np.uint8))


def kept_of(page):
    return KeepMarks().apply(EvenLight().apply(sheet_of(page))).grey


@pytest.mark.parametrize("paper", [CREAM, (180.0, 179.0, 176.0)], ids=["cream", "grey"])
def test_ink_that_ghosts_through_white_goes(paper):
    page, share = drawn(paper)
    kept = kept_of(daubed(page, share))
    assert (kept[HERE] == 255).mean() > 0.99
    assert (kept_of(page)[HERE] < 255).mean() > 0.15


def test_the_rim_of_white_goes_and_ink_beyond_it_stays():
    page, share = drawn()
    kept = kept_of(daubed(page, share))
    y, x = np.indices(kept.shape)
    away = np.hypot((x - 300) / 60, (y - 240) / 45)
    rim = (away > 0.9) & (away < 1.1) & (cv2.dilate(share, np.ones((5, 5))) < 0.05)
    assert (kept[rim] < 250).mean() < 0.05
    beyond = (away > 1.15) & (share[..., 0] > 0.5)
    assert (kept[beyond] < 200).all()


def test_ink_drawn_over_white_stays_as_it_is():
    page, share = drawn()
    page = daubed(page, share)
    page[210:270, 298:302] = INK
    even = EvenLight().apply(sheet_of(page))
    kept = KeepMarks().apply(even)
    assert np.array_equal(kept.colour[212:268, 298:302], even.colour[212:268, 298:302])


def test_a_wash_lets_lines_and_paper_through_and_stays():
    page, _ = drawn()
    wash = np.zeros(page.shape[:2], np.float32)
    cv2.ellipse(wash, (300, 240), (60, 45), 0, 0, 360, 0.12, -1)
    page += wash[..., None] * (np.array((60.0, 80.0, 150.0)) - page)
    assert (kept_of(page)[HERE] < 255).mean() > 0.9


@pytest.mark.parametrize("paper", [CREAM, (245.0, 245.0, 244.0)], ids=["cream", "white"])
def test_nothing_is_hidden_on_a_page_without_white(paper):
    page, _ = drawn(paper)
    even = EvenLight().apply(sheet_of(page)).colour
    assert hidden_paper(measure_ground(even[..., 1], PPI), even, PPI) is None
    assert hidden_paper(measure_ground(even[..., 1], PPI), None, PPI) is None


def test_white_is_no_light_that_lies_on_the_page():
    page, share = drawn((180.0, 179.0, 176.0))
    even = even_plane(np.clip(np.rint(page), 0, 255).astype(np.uint8), PPI, 40)
    spoilt = even_plane(sheet_of(daubed(page, 0 * share, rim=0.0)).colour, PPI, 40)
    bare = np.s_[190:290, 365:450]
    assert abs(float(spoilt[bare].mean()) - float(even[bare].mean())) < 0.5
    assert spoilt[220:260, 270:330].min() > 240


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("shape", [(1, 1), (3, 7), (9, 200)])
def test_pages_smaller_than_what_is_looked_at_go_through(bits, shape):
    full = 255 if bits == 8 else 65535
    page = np.full((*shape, 3), full // 2, np.uint8 if bits == 8 else np.uint16)
    assert KeepMarks().apply(Sheet(ppi=300, colour=page)).grey.shape == shape


def test_the_same_white_is_found_at_16_bits():
    page, share = drawn()
    even = EvenLight().apply(sheet_of(daubed(page, share))).colour
    deep = even.astype(np.uint16) * 257
    found, deeper = (hidden_paper(measure_ground(plane[..., 1], PPI), plane, PPI)
                     for plane in (even, deep))
    assert found.any()
    assert np.array_equal(found, deeper)


def test_dense_ink_that_darkens_white_to_less_than_paper_goes_with_it():
    page, share = drawn()
    block = np.zeros_like(share)
    block[200:280, 300:420] = 1
    solid = page + block * (np.array(INK, np.float32) - page)
    kept = kept_of(daubed(solid, np.maximum(share, block), shows=0.16))
    within = np.s_[212:268, 304:335]
    assert (kept[within] == 255).mean() > 0.97
    assert (kept[210:270, 375:415] < 60).all()
