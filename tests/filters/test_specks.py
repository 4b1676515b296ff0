"""Small marks are found alike wherever the strips of a page meet."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.filters import drop_specks, specks, strands
from app.filters import dust as dust_of
from app.filters.drop_specks import dust_mask
from app.filters.specks import Ground, find_specks, folded, ground_of
from app.filters.strips import ROWS

PAPER = 230


def littered(seed: int) -> np.ndarray:
    """A page of paper with blots, crumbs and hairs of many tones, some over firm strokes."""
    chance = np.random.default_rng(seed)
    page = np.full((2 * ROWS + 40, 300), PAPER, np.uint8)
    for _ in range(60):
        start = chance.integers((0, 0), page.shape[::-1])
        thick, tone = int(chance.integers(1, 4)), int(chance.choice([20, 150, 205, 215]))
        end = start + chance.integers(-30, 30, 2)
        cv2.line(page, tuple(map(int, start)), tuple(map(int, end)), tone, thick)
    for row, column in chance.integers((0, 0), page.shape, (150, 2)):
        page[row : row + 2, column : column + 2] = chance.integers(100, 222)
    return page


def found_on(page: np.ndarray) -> list[np.ndarray]:
    """Firm ink, dust, what is thin enough for a hair, what lies about that, and along firm ink."""
    ground = ground_of(page)
    firm = find_specks(page, 300, ground, 8).firm
    return [firm, dust_mask(page, 300, 0.8), *strands._thin_marks(page, 300, ground, firm)]


@pytest.mark.parametrize("seed", range(8))
def test_strips_and_the_whole_page_at_once_find_the_same(seed, monkeypatch):
    page = littered(seed)
    page[:, 100:104], page[ROWS - 1 : ROWS + 2, 20:200] = 40, 40
    found = found_on(page)
    assert all(plane.sum() > 100 for plane in found[:-1])
    assert found[-1].any()  # few pieces of hair lie along firm ink
    for module in (drop_specks, specks, dust_of, strands):
        monkeypatch.setattr(
            module, "strips", lambda height, halo=0, rows=0: [(slice(0, height),) * 3])
    for plane, at_once in zip(found, found_on(page), strict=True):
        assert np.array_equal(plane, at_once)


def test_a_clean_page_has_no_specks():
    page = np.full((2 * ROWS, 50), PAPER, np.uint8)
    assert not len(find_specks(page, 300, ground_of(page), 1).place)
    assert not dust_mask(page, 300, 0.8).any()


@given(st.integers(1, 9), st.integers(1, 9), st.integers(1, 4), st.sampled_from(["u1", "u2"]))
def test_squares_are_reduced_as_by_looking_at_each(height, width, side, kind):
    plane = np.random.default_rng(height * width).integers(0, 200, (height, width)).astype(kind)
    found = folded(np.minimum, plane, side, 255)
    want = [[plane[top : top + side, left : left + side].min()
             for left in range(0, width, side)] for top in range(0, height, side)]
    assert found.dtype == plane.dtype
    assert found.tolist() == want


@pytest.mark.parametrize("left", [205, 242, 250])
def test_paper_that_was_taken_away_is_told_by_no_tone_of_what_is_left(left):
    page = np.full((100, 100), 255, np.uint8)
    page[20:60, 20:60] = left
    page[30:50, 30:50] = 40
    assert ground_of(page, (218.0, 230.0)) == Ground(230.0, 218, taken=True)
    bare = np.minimum(page, 235)
    assert ground_of(bare, (218.0, 230.0)).paper == ground_of(bare).paper > 230
