"""Turning by a small angle."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.filters.straighten import Found, Given, Straighten, turn_plane
from core.fault import Refused
from core.matte import to_depth
from core.sheet import Sheet
from core.steps.fields import checked
from core.steps.fold import fold, replay
from core.steps.lift import Lift, Over
from core.steps.steplist import StepList
from tests.strategies import DEPTHS


def drawing(shape=(200, 260), paper=226):
    """A smooth drawing that fades into even paper well before the edges, uint8."""
    y, x = np.indices(shape, dtype=float)
    away = np.hypot((y - shape[0] / 2 + 8) / 50, (x - shape[1] / 2 - 13) / 70)
    return np.rint(paper - 180 * np.exp(-(away**4))).astype(np.uint8)


def straightened(degrees, **planes):
    return Straighten(angle=Given(degrees=degrees)).apply(Sheet(ppi=300, **planes))


def test_no_angle_is_no_change_at_all():
    sheet = Sheet(ppi=300, grey=drawing())
    assert Straighten().apply(sheet) is sheet


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize("shape", [(1, 1), (1, 40), (40, 1), (30, 41)])
def test_every_page_keeps_its_size_and_depth(shape, dtype):
    tone = 200 * (np.iinfo(dtype).max // 255)
    plane = np.full(shape, tone, dtype)
    done = straightened(7.5, grey=plane, colour=np.stack([plane] * 3, axis=2))
    assert done.grey.shape == shape
    assert done.colour.shape == (*shape, 3)
    assert done.grey.dtype == done.colour.dtype == dtype
    assert (done.grey == tone).all()


@given(st.floats(-10, 10), st.sampled_from(DEPTHS))
def test_even_paper_stays_even_into_the_corners(degrees, dtype):
    unit = np.iinfo(dtype).max // 255
    plane = np.full((24, 31), 223 * unit, dtype)
    assert (turn_plane(plane, degrees) == 223 * unit).all()


def test_the_corners_take_the_papers_own_tone_in_each_channel():
    colour = np.full((120, 160, 3), (231, 226, 214), np.uint8)
    colour[40:80, 30:130] = (40, 30, 20)
    done = straightened(10, colour=colour).colour
    for corner in (done[0, 0], done[0, -1], done[-1, 0], done[-1, -1]):
        assert np.abs(corner.astype(int) - (231, 226, 214)).max() <= 1


@pytest.mark.parametrize("ink", [None, Over(paper=(226, 226, 226), clear=(20, 20, 20))])
def test_on_a_lifted_page_the_corners_are_clear(ink):
    random = np.random.default_rng(2)
    grey = np.clip(drawing() - random.integers(0, 90, (200, 260)), 0, 255).astype(np.uint8)
    lift = Lift() if ink is None else Lift(ink=ink)
    turn = Straighten(angle=Given(degrees=8))
    done = fold([lift, turn], Sheet(ppi=300, colour=np.stack([grey] * 3, axis=2)))
    assert [done.alpha[y, x] for y in (0, -1) for x in (0, -1)] == [0] * 4


@pytest.mark.parametrize("degrees", [0.3, 2.0, 9.0])
def test_there_and_back_is_the_drawing_again(degrees):
    page = drawing()
    back = turn_plane(turn_plane(page, degrees), -degrees)
    assert np.abs(back.astype(int) - page).max() <= 3  # two interpolations of a smooth page


def test_either_depth_turns_alike():
    page = drawing()
    fine = turn_plane(to_depth(page, 16), 3.3) / 257
    assert np.abs(fine - turn_plane(page, 3.3)).max() <= 1


def test_every_plane_turns_alike():
    page = drawing()
    done = straightened(4, grey=page, colour=np.stack([page] * 3, axis=2))
    for channel in range(3):
        assert np.array_equal(done.colour[..., channel], done.grey)


def test_a_view_of_a_larger_page_turns_too():
    large = np.stack([drawing()] * 3, axis=2)
    assert np.array_equal(turn_plane(large[::2, ::2, 1], 3), turn_plane(drawing()[::2, ::2], 3))


def test_a_page_longer_than_the_warp_can_count_is_refused():
    long = Sheet(ppi=300, grey=np.zeros((2, 32_767), np.uint8))
    with pytest.raises(Refused, match="longer than 32766 pixels"):
        Straighten(angle=Given(degrees=1)).apply(long)
    assert Straighten().apply(long) is long
    allowed = replace(long, grey=np.full((2, 32_766), 90, np.uint8))
    assert (Straighten(angle=Given(degrees=0.001)).apply(allowed).grey == 90).all()


def test_the_angle_is_limited():
    assert checked(Straighten(angle=Given(degrees=-10))) == ()
    assert [fault.where for fault in checked(Straighten(angle=Given(degrees=10.1)), "step 1")] == [
        "step 1, angle, degrees",
    ]
    assert Straighten(angle=Given(degrees=1.5)).sentence() == (
        "Straighten the page: 1.5 degrees clockwise."
    )


def bordered(shape=(900, 700)):
    """Two panels ruled on paper, at 150 ppi."""
    page = np.full(shape, 231, np.uint8)
    cv2.rectangle(page, (60, 70), (640, 420), 30, 3)
    cv2.rectangle(page, (60, 450), (330, 830), 30, 3)
    return page


def lettered(shape=(900, 700)):
    page = np.full(shape, 231, np.uint8)
    for line in range(9):
        words = "the lamp was lit before dawn"[: 28 - line]
        cv2.putText(page, words, (70, 130 + 80 * line), cv2.FONT_HERSHEY_SIMPLEX, 1.1, 40, 2)
    return page


def on_a_dark_bed(shape=(900, 700)):
    page = np.full(shape, 70, np.uint8)
    page[90:800, 80:610] = 228
    return page


def laid_askew(page, degrees, seed=1):
    """The page turned clockwise, with the grain of paper laid over it."""
    height, width = page.shape
    turn = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), -degrees, 1.0)
    turned = cv2.warpAffine(page, turn, (width, height), flags=cv2.INTER_CUBIC,
                            borderMode=cv2.BORDER_REPLICATE)
    grain = cv2.GaussianBlur(np.random.default_rng(seed).normal(0, 20, page.shape), (0, 0), 1.3)
    return np.clip(turned + grain, 0, 255).astype(np.uint8)


def found(page, ppi=150, **fields):
    return Straighten(angle=Found(**fields)).fitted(Sheet(ppi=ppi, grey=page))


@pytest.mark.parametrize("page", [bordered(), lettered(), on_a_dark_bed()],
                         ids=["borders", "lettering", "paper edges"])
@pytest.mark.parametrize("degrees", [-9.4, -3.21, -0.37, 0.0, 0.15, 1.0, 5.55])
def test_the_angle_of_straight_things_is_found_to_a_twentieth_of_a_degree(page, degrees):
    assert abs(found(laid_askew(page, degrees)).angle.degrees + degrees) <= 0.05


def test_either_depth_and_twice_the_resolution_give_the_same_angle():
    page = laid_askew(bordered(), 2.5)
    large = cv2.resize(page, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    here = found(page).angle.degrees
    assert abs(found(to_depth(page, 16)).angle.degrees - here) <= 0.01
    assert abs(found(large, ppi=300).angle.degrees - here) <= 0.03


def test_a_page_without_anything_straight_is_left_with_a_sentence_or_held_back():
    circles = np.full((900, 700), 231, np.uint8)
    for radius in range(30, 330, 20):
        cv2.circle(circles, (350, 450), radius, 40, 2)
    for page in (np.full((900, 700), 231, np.uint8), laid_askew(circles, 0),
                 laid_askew(np.full((900, 700), 231, np.uint8), 0), np.full((5, 9), 40, np.uint8)):
        left = found(page)
        assert left.angle == Given()
        assert "nothing on this page is straight enough" in left.note
        assert Straighten(angle=Found()).apply(Sheet(ppi=150, grey=page)).grey is page
        with pytest.raises(Refused, match="straight enough"):
            found(page, unsure="refuse")


def test_a_replay_writes_the_angle_down_and_replays_alike():
    page = Sheet(ppi=150, grey=laid_askew(bordered(), 1.4))
    first = replay(StepList("", (Straighten(angle=Found()),)), page)
    (settled,) = first.settled.steps
    assert abs(settled.angle.degrees + 1.4) <= 0.05
    assert np.array_equal(replay(first.settled, page).page.grey, first.page.grey)
    assert abs(found(first.page.grey).angle.degrees) <= 0.05


def test_what_is_found_is_said_in_the_sentence():
    assert Straighten(angle=Found()).sentence() == (
        "Straighten the page: by its own borders, edges or lettering; where nothing on it is "
        "straight, it stays as it lies."
    )
