"""The tone step, fixed and following the paper."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.readings import survey
from core.sheet import Paper, Sheet, whole
from core.steps.fields import checked
from core.steps.fold import replay
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Following, Tone
from core.tone import tone_table
from tests.strategies import records

no_lists = st.nothing()


def scanned(seed, paper=228.0, ink=34.0):
    """One drawing on one paper, with the noise of a scan of its own."""
    random = np.random.default_rng(seed)
    drawing = np.zeros((240, 320))
    drawing[40:60, 20:300] = drawing[100:220, 150:160] = 1
    drawing[40:60, 300:310] = 0.5
    plane = paper + (ink - paper) * drawing + random.normal(0, 2.5, drawing.shape)
    return Sheet(ppi=300, grey=np.clip(np.rint(plane), 0, 255).astype(np.uint8))


@given(records(Fixed, no_lists), st.floats(1, 99), st.sampled_from([255, 65535]))
def test_fixed_points_are_the_curve(points, middle, full):
    table = Tone(points=points, middle=middle).table(full)
    assert (table == tone_table(full, points.black, points.white, middle)).all()


def test_fixed_points_need_no_paper_and_stay():
    step = Tone(points=Fixed(black=40, white=220))
    assert not step.needs_paper
    assert step.settle(Paper(peak=100, noise=2)) is step


def test_following_points_shift_in_proportion_to_the_paper():
    step = Tone(points=Following(black=40, white=220, paper=230), middle=60, note="kept")
    assert step.needs_paper
    settled = step.settle(Paper(peak=115, noise=2))
    assert settled == Tone(points=Fixed(black=20, white=110), middle=60, note="kept")
    assert not settled.needs_paper


@given(records(Following, no_lists), st.floats(0, 255))
def test_settled_points_are_always_sound(points, peak):
    settled = Tone(points=points).settle(Paper(peak=peak, noise=1))
    assert checked(settled) == ()
    assert isinstance(settled.points, Fixed)
    assert (np.diff(settled.table(255).astype(int)) >= 0).all()


def test_the_same_paper_leaves_the_points_as_they_were_set():
    step = Tone(points=Following(black=41.5, white=219.25, paper=228.125))
    points = step.settle(Paper(peak=228.125, noise=2)).points
    assert math.isclose(points.black, 41.5)
    assert math.isclose(points.white, 219.25)


def test_an_unsettled_following_step_is_a_mistake():
    with pytest.raises(TypeError, match="settled"):
        Tone(points=Following()).table(255)


def test_pages_scanned_alike_take_one_setting():
    """Fact of the trade (common practice, no source), on pages that differ in noise alone."""
    step = Tone(points=Following(black=50, white=215, paper=228))
    settled = [step.settle(survey(scanned(seed)).paper()).points for seed in range(4)]
    for points in settled:
        assert abs(points.white - 215) < 0.5
        assert abs(points.black - 50) < 0.2
    covers = [float(whole(replay(StepList("", (step, Lift())), scanned(seed)).page).alpha.mean())
              for seed in range(4)]
    assert max(covers) - min(covers) < 0.2


def test_a_page_scanned_darker_comes_out_the_same():
    step = Tone(points=Following(black=50, white=215, paper=228))
    light, dark = (
        whole(replay(StepList("", (step, Lift())), page).page).alpha.astype(float)
        for page in (scanned(1), scanned(1, paper=228 * 0.85, ink=34 * 0.85))
    )
    fixed = Tone(points=Fixed(black=50, white=215))
    astray = whole(replay(StepList("", (fixed, Lift())), scanned(1, paper=194)).page).alpha
    assert abs(light.mean() - dark.mean()) < 0.5
    assert (dark[:30] == 0).all()  # bare paper
    assert (dark[45:55, 30:290] == 255).mean() > 0.9  # solid strokes
    assert (astray[:30] > 0).mean() > 0.9  # which the same points without following are not
