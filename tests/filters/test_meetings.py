"""An area that is darker all along the line about it was washed; any other may lie in shade."""

import numpy as np
import pytest

from app.filters.meetings import all_along, find_meetings, find_offsets, linked

PAPER, WASH = 0, 1


def meetings_of(tone, gap=0.0):
    """The meetings of a square within paper, (40, 40), ``gap`` squares from their middle line."""
    owner = np.full(tone.shape, PAPER)
    owner[10:30, 10:30] = WASH
    tone = tone.astype(np.float32)
    return find_meetings((tone, tone), owner, np.full(tone.shape, gap, np.float32))


def offsets_of(meetings):
    return find_offsets(meetings, np.array([1200, 400]))


def square(left, right):
    """A tone that steps by so much at the left and the right of the square, (40, 40)."""
    tone = np.zeros((40, 40))
    tone[10:30, 10:30] = np.linspace(left, right, 20)
    return tone


@pytest.mark.parametrize("dark", [-0.03, -0.1])
def test_a_step_all_round_is_known_and_measured(dark):
    meetings = meetings_of(square(dark, dark))
    offset = offsets_of(meetings)
    assert offset.tolist() == pytest.approx([0, dark])
    assert all_along(offset, meetings).tolist() == [False, True]


def test_a_step_at_one_side_is_not_all_along():
    meetings = meetings_of(square(-0.1, 0))
    assert not all_along(offsets_of(meetings), meetings).any()


def test_what_lies_far_off_tells_nothing():
    meetings = meetings_of(square(-0.1, -0.1), gap=20)
    assert not all_along(offsets_of(meetings), meetings).any()


def test_an_area_alone_meets_none():
    owner, tone = np.zeros((5, 5), np.int64), np.zeros((5, 5), np.float32)
    meetings = find_meetings((tone, tone), owner, tone)
    offset = find_offsets(meetings, np.array([25]))
    assert offset.tolist() == [0]
    assert not all_along(offset, meetings).any()


def test_links_run_on_from_area_to_area_but_not_across_others():
    owner = np.array([[0, 1, 2, 3, 4]])
    tone = np.zeros(owner.shape, np.float32)
    meetings = find_meetings((tone, tone), owner, tone)
    first = np.arange(5) == 0
    assert linked(first, np.arange(5) != 3, meetings).tolist() == [True, True, True, False, False]
    assert not linked(first, ~first, meetings).any()
