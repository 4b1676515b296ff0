"""Strokes: their direction and strength, and what tells an outline from hatching."""

import cv2
import numpy as np
import pytest

from app.filters.strokes import TURNS, Strokes, usual_strength

PPI = 300
MM = PPI / 25.4


def blank(height=30, width=40):
    return np.zeros((round(height * MM), round(width * MM)), np.uint8)


def stroke(page, start, end, wide=0.3, ink=255):
    one, other = (tuple(round(value * MM) for value in place) for place in (start, end))
    cv2.line(page, one, other, ink, max(1, round(wide * MM)))


def cell(strokes, x, y):
    """The flat cell at a place in mm."""
    return strokes.at(np.array([round(y * MM) * strokes.width + round(x * MM)]))


@pytest.mark.parametrize("number", range(TURNS))
@pytest.mark.parametrize("wide", [0.2, 0.5, 1.0])
def test_the_direction_of_a_stroke_is_found(number, wide):
    page, angle = blank(), np.pi * number / TURNS
    right, down = 10 * np.cos(angle), 10 * np.sin(angle)
    stroke(page, (20 - right, 15 - down), (20 + right, 15 + down), wide)
    strokes = Strokes.of(page, PPI)
    assert strokes.turn.ravel()[cell(strokes, 20, 15)] == number


def test_a_broader_and_a_darker_stroke_stand_out_more():
    page = blank()
    for place, (wide, ink) in enumerate([(0.2, 128), (0.2, 255), (0.5, 255)]):
        stroke(page, (5, 5 + 8 * place), (35, 5 + 8 * place), wide, ink)
    strokes = Strokes.of(page, PPI)
    strength = [float(strokes.strength().ravel()[cell(strokes, 20, y)][0]) for y in (5, 13, 21)]
    assert strength[0] < strength[1] < strength[2]


def test_bare_and_even_ground_has_no_strokes():
    for ink in (0, 255, 90):
        strokes = Strokes.of(np.full((200, 300), ink, np.uint8), PPI)
        assert strokes.strength().max() < 1e-3


def test_an_outline_is_told_from_the_hatching_that_runs_up_to_it():
    page = blank()
    for x in np.arange(4, 20, 0.9):
        stroke(page, (x, 5), (x, 25), 0.17)
    stroke(page, (20, 3), (20, 27), 0.4)
    stroke(page, (3, 5), (37, 5), 0.4)
    strokes = Strokes.of(page, PPI)
    odds = [
        strokes.outlines(cell(strokes, x, y), PPI, usual_strength(strokes.strength().ravel()))
        for x, y in ((20, 15), (30, 5), (11.2, 15))
    ]
    assert odds[0] > odds[2] + 1
    assert odds[1] > odds[2] + 1


@pytest.mark.parametrize("shape", [(1, 1), (1, 40), (7, 3), (61, 33)])
@pytest.mark.parametrize("ppi", [72.0, 150.0, 300.0, 310.0])
def test_any_page_has_cues_in_bounds(shape, ppi):
    page = np.random.default_rng(1).integers(0, 256, shape, np.uint8)
    strokes = Strokes.of(page, ppi)
    cells = np.unique(strokes.at(np.arange(page.size)))
    odds = strokes.outlines(cells, ppi, 0.1)
    assert odds.dtype == np.float32
    assert odds.shape == cells.shape
    assert np.abs(odds).max() <= 4
    assert strokes.coarse_strength().shape == strokes.ink.shape == strokes.turns.shape[1:]


def test_a_page_at_twice_the_resolution_has_the_same_strokes():
    page = blank()
    stroke(page, (5, 5), (33, 22), 0.4)
    large = cv2.resize(page, None, fx=2, fy=2, interpolation=cv2.INTER_NEAREST)
    once, twice = Strokes.of(page, PPI), Strokes.of(large, 2 * PPI)
    assert np.abs(once.strength() - twice.strength()).max() < 1e-4


def test_without_strokes_the_usual_strength_is_one():
    assert usual_strength(np.zeros(5, np.float32)) == 1.0
    assert usual_strength(np.zeros(0, np.float32)) == 1.0
