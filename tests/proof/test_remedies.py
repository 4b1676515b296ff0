"""The step that clears what prints, and what it costs."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from app.filters.keep_marks import KeepMarks
from app.proof.prove import Order, prove
from app.proof.remedies import with_black, with_step, with_white
from core.press.presses import Press
from core.steps.lift import Lift
from core.steps.steplist import Nested, StepList
from core.steps.tone import Fixed, Following, Tone
from tests.proof.proof_pages import hatch, paper, scan, strokes, toned, white_for


@pytest.fixture(scope="module")
def veiled():
    return scan(hatch(strokes(paper()), 219))


def test_a_white_point_clears_a_veil_and_its_cost_is_what_the_page_then_has(veiled):
    proof = prove(veiled, toned(white_for(0.04)), Order(Press()))
    white = next(remedy for remedy in proof.remedies if remedy.step.kind == "tone")
    after = prove(veiled, white.steps, Order(Press()))
    assert white.clears > 0.98
    assert after.residue.area == pytest.approx((1 - white.clears) * proof.residue.area, abs=0.5)
    inside = np.kron(proof.drawn.marks, np.ones((2, 2), bool))[:600, :600]
    was, now = (int(p.out.alpha[inside].sum()) for p in (proof, after))
    assert white.costs == pytest.approx(1 - now / was, abs=1e-3)
    assert white.costs > 0


def test_keep_marks_clears_it_for_nothing_and_comes_first(veiled):
    proof = prove(veiled, toned(white_for(0.04)), Order(Press()))
    first = proof.remedies[0]
    assert first.step.kind == "keep marks"
    assert first.clears > 0.99
    assert first.costs < 1e-3
    assert "no drawn ink" in first.said
    assert prove(veiled, first.steps, Order(Press())).residue.area < 0.02 * proof.residue.area


def test_specks_are_named_as_dust_and_cleared_by_dropping_them():
    page = strokes(paper())
    cv2.circle(page, (300, 420), 2, 120.0, -1)
    cv2.circle(page, (420, 520), 2, 120.0, -1)
    proof = prove(scan(page), toned(226), Order(Press()))
    assert proof.residue.count == 2
    assert all(region.dust for region in proof.residue.regions)
    drop = next(remedy for remedy in proof.remedies if remedy.step.kind == "drop specks")
    assert drop.clears == 1
    assert prove(scan(page), drop.steps, Order(Press())).clean


@pytest.mark.parametrize("led", [(), (KeepMarks(),)])
def test_what_dropping_specks_would_clear_is_what_it_then_clears_though_no_ink_is_black(led):
    page = strokes(paper(), tone=120)
    for middle in ((150, 300), (300, 420), (420, 520), (520, 330)):
        cv2.circle(page, middle, 2, 200.0, -1)
    steps = StepList("", (*led, *toned(226).steps))
    proof = prove(scan(page), steps, Order(Press()))
    assert proof.residue.count == 4
    drop = next(remedy for remedy in proof.remedies if remedy.step.kind == "drop specks")
    left = prove(scan(page), drop.steps, Order(Press())).residue.area
    assert left == pytest.approx((1 - drop.clears) * proof.residue.area)
    assert drop.clears == 1


def stained(softness):
    """Strokes above a pale tone, whose rim is blurred by so many pixels."""
    tone = np.zeros((600, 600))
    tone[430:560, 40:210] = 9
    return scan(strokes(paper()) - cv2.GaussianBlur(tone, (0, 0), softness))


def test_a_pale_tone_with_a_sharp_rim_is_a_wash_and_one_that_fades_a_stain():
    wash, stain = (prove(stained(softness), toned(227), Order(Press())) for softness in (0.7, 25))
    assert wash.residue.area == 0
    assert wash.drawn.marks[225:270, 30:95].mean() > 0.9
    assert stain.residue.area > 50


def test_what_clears_all_but_takes_the_drawing_comes_after_what_takes_none():
    stain = np.zeros((600, 600))
    stain[430:560, 40:210] = 9
    page = hatch(strokes(paper()), 219) - cv2.GaussianBlur(stain, (0, 0), 25)
    first, second = prove(scan(page), toned(white_for(0.04)), Order(Press())).remedies
    assert (first.step.kind, second.step.kind) == ("keep marks", "tone")
    assert first.clears < second.clears
    assert second.dear > first.dear


def test_each_remedy_clears_what_it_says_even_where_keep_marks_keeps_a_stain():
    page = stained(25)
    proof = prove(page, toned(227), Order(Press()))
    assert proof.residue.area > 50
    assert proof.remedies
    for remedy in proof.remedies:
        left = prove(page, remedy.steps, Order(Press())).residue.area
        assert left == pytest.approx((1 - remedy.clears) * proof.residue.area, abs=0.5)


def test_steps_are_put_where_they_belong():
    kinds = [step.kind for step in with_step(
        StepList("", (Nested(list=toned(200)),)), Lift()).steps]
    assert kinds == ["lift", "tone", "lift"]


def test_points_that_follow_go_on_following():
    follows = StepList("", (Tone(points=Following(black=40, white=220, paper=230)),))
    moved = with_white(follows, 198, 189)  # settled on paper that lies at 207
    assert moved.steps[0].points == Following(black=40, white=210, paper=230)
    [set_anew] = with_black(StepList("", (Tone(points=Fixed(black=0)),)), 0, 44).steps
    assert set_anew.points.black == 44
    assert with_white(StepList("", (Lift(),)), 200, 190) == StepList("", (Lift(),))


def test_a_region_has_steps_of_its_own():
    page = strokes(paper())
    cv2.circle(page, (300, 420), 2, 150.0, -1)  # a speck
    shadow = np.zeros(600)
    shadow[540:] = 14.0  # and a band at the edge that the white point does not clear
    proof = prove(scan(page - shadow), toned(224), Order(Press()))
    speck = next(region for region in proof.residue.regions if region.middle[0] < 40)
    band = max(proof.residue.regions, key=lambda region: region.area)
    assert band.middle[0] > 40
    whites = {}
    for name, region in (("speck", speck), ("band", band)):
        found = proof.remedies_for(region)
        assert all(remedy.clears > 0 for remedy in found)
        whites[name] = [r.step.points.white for r in found if r.step.kind == "tone"]
    [for_band] = whites["band"]
    assert 205 < for_band < 218
    assert whites["speck"] == [] or whites["speck"][0] < for_band
    assert proof.without_pixels().remedies_for(speck) == ()


def test_a_region_can_be_taken_out_by_itself_and_what_takes_the_drawing_is_dear():
    page = strokes(paper())
    cv2.circle(page, (300, 420), 2, 120.0, -1)
    cv2.circle(page, (420, 520), 2, 120.0, -1)
    proof = prove(scan(page), toned(226), Order(Press()))
    region = proof.residue.regions[0]
    taking = next(r for r in proof.remedies_for(region) if r.step.kind == "take out")
    assert taking.clears == 1
    assert not taking.dear
    after = prove(scan(page), taking.steps, Order(Press()))
    assert after.residue.count == proof.residue.count - 1
    assert replace(taking, costs=0.2).dear
    assert all(r.step.kind != "take out" for r in proof.remedies)
