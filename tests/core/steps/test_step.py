"""How the measured paper goes through each step."""

import pytest

from app.kinds import KINDS
from core.sheet import Paper
from core.steps.build_up import BuildUp
from core.steps.crop import Crop
from core.steps.grey import Grey
from core.steps.lift import Lift, One, Over
from core.steps.step import Step
from core.steps.tone import Fixed, Tone
from core.steps.turn import Turn

PAPER = Paper(peak=200, noise=4, channels=(205, 200, 190), ink=(30, 31, 32))


def test_tables_map_the_peak_and_its_noise_along():
    after = Tone(points=Fixed(black=0, white=250)).after(PAPER)
    assert after.peak == pytest.approx(204, abs=0.01)
    assert after.noise == pytest.approx(4 * 255 / 250, abs=0.01)
    assert (after.channels, after.ink) == (PAPER.channels, PAPER.ink)


def test_paper_beyond_the_white_point_is_white_without_noise():
    after = Tone(points=Fixed(black=20, white=190)).after(PAPER)
    assert (after.peak, after.noise) == (255, 0)


def test_building_up_darkens_the_paper_and_spreads_its_noise():
    after = BuildUp(times=2).after(PAPER)
    assert after.peak == pytest.approx(200 * 200 / 255, abs=0.01)
    assert after.noise == pytest.approx((200**2 - 196**2) / 255, abs=0.01)


@pytest.mark.parametrize("step", [
    Turn(), Crop(left=3), Lift(), Lift(ink=One(colour=(9, 9, 9))), Lift(ink=Over()),
])
def test_steps_that_move_no_tone_leave_the_paper(step):
    assert step.after(PAPER) == PAPER


@pytest.mark.parametrize("step", [Grey(), KINDS["even light"]()])
def test_steps_that_make_other_tones_have_the_paper_measured_anew(step):
    assert step.after(PAPER) is None


def test_a_kind_without_table_or_apply_is_a_mistake():
    class Empty(Step):
        """A kind that does nothing."""

        kind, edition = "empty", 1

    with pytest.raises(TypeError):
        Empty().apply(None)


def test_every_kind_says_what_it_is():
    for name, kind in KINDS.items():
        assert kind.kind == name
        assert kind.edition >= 1
        assert kind().on
        assert kind().note == ""
        assert kind.__doc__
