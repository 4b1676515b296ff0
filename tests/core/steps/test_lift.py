"""Darkness becomes alpha: one ink, or the scan's own colour."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis.extra import numpy as hnp

from core.light import grey_of
from core.matte import lift_own, over, paper_codes
from core.sheet import Paper, Sheet, full_scale, whole
from core.steps.fold import fold, replay
from core.steps.grey import Grey
from core.steps.lift import Lift, One, Over, Own
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Following, Tone
from tests.strategies import DEPTHS, every_value, rgb, scans


def recomposed(sheet, paper):
    """The lifted sheet laid over its paper again."""
    grounds = paper_codes(paper, full_scale(sheet.alpha))
    return np.stack([over(sheet.colour[..., channel], sheet.alpha, ground)
                     for channel, ground in enumerate(grounds)], axis=2)


@pytest.mark.parametrize("dtype", DEPTHS)
def test_one_ink_over_white_is_the_toned_page_again(dtype):
    toned = fold([Tone(points=Fixed(black=30, white=225))], Sheet(ppi=300, grey=every_value(dtype)))
    lifted = fold([Lift(ink=One(colour=(200, 10, 10)))], toned)
    assert lifted.ink == (200, 10, 10)
    assert lifted.grey is None
    assert (over(0, lifted.alpha, lifted.full) == toned.grey).all()


def test_a_second_lift_only_changes_the_colour():
    page = Sheet(ppi=300, grey=every_value(np.uint8))
    twice = fold([Lift(ink=One(colour=(1, 2, 3))), Lift(ink=One(colour=(4, 5, 6)))], page)
    assert (twice.alpha == 255 - page.grey).all()
    assert twice.ink == (4, 5, 6)


@given(scans(colour=True), rgb, rgb)
def test_own_colour_before_any_tone_recomposes_over_its_paper(sheet, paper, clear):
    lifted = Lift(ink=Over(paper=paper, clear=clear)).apply(sheet)
    again = recomposed(lifted, paper)
    # the design's limit is 2 of 255; one step at the page's own depth is what it comes to
    assert (np.abs(again.astype(int) - sheet.colour) <= 1).all()
    assert lifted.ink is None
    assert lifted.grey is None


@given(scans(colour=True), rgb, rgb)
def test_where_it_is_clear_own_colour_carries_the_given_one(sheet, paper, clear):
    steps = [Grey(), Tone(points=Fixed(black=20, white=180)),
             Lift(ink=Over(paper=paper, clear=clear))]
    lifted = fold(steps, sheet)
    unit = lifted.full // 255
    assert (lifted.colour[lifted.alpha == 0] == np.array(clear) * unit).all()
    assert (lifted.alpha[grey_of(sheet.colour) >= 180 * unit] == 0).all()


@pytest.mark.parametrize("dtype", DEPTHS)
def test_what_the_tones_clear_carries_the_given_colour_too(dtype):
    unit = np.iinfo(dtype).max // 255
    tinted = np.array([[[200, 190, 185], [220, 60, 60]]]) * unit
    steps = [Grey(), Tone(points=Fixed(black=20, white=180)),
             Lift(ink=Over(paper=(230, 228, 220), clear=(9, 8, 7)))]
    lifted = fold(steps, Sheet(ppi=300, colour=tinted.astype(dtype)))
    assert lifted.alpha[0, 0] == 0 < lifted.alpha[0, 1]
    assert lifted.colour[0, 0].tolist() == [9 * unit, 8 * unit, 7 * unit]


@given(scans(colour=True), rgb)
def test_tone_scales_alpha_and_leaves_the_ink_its_colour(sheet, paper):
    plain = Lift(ink=Over(paper=paper)).apply(sheet)
    toned = fold([Tone(points=Fixed(black=0, white=200)), Lift(ink=Over(paper=paper))], sheet)
    assert (toned.alpha <= plain.alpha).all()  # a lower white point only lightens
    seen = toned.alpha > 0
    assert (toned.colour[seen] == plain.colour[seen]).all()


def test_paper_that_the_scan_clipped_at_white_is_no_ink():
    """Evened paper lies at 230: its lightest grain is white, and no opaque white speck."""
    grain = np.array([[228, 230, 240, 254, 255], [40, 232, 255, 255, 226]], np.uint8)
    page = Sheet(ppi=300, colour=np.stack([grain] * 3, axis=2))
    lifted = fold([Tone(points=Fixed(black=50, white=215)), Lift(ink=Over(paper=(230,) * 3))], page)
    # the ink: 190 of 230 is an alpha of 211, times 255 of 215 in darkness
    assert lifted.alpha.tolist() == [[0, 0, 0, 0, 0], [250, 0, 0, 0, 0]]


@pytest.mark.parametrize("dtype", DEPTHS)
def test_a_grey_scan_is_lifted_in_the_tone_of_its_ink(dtype):
    page = Sheet(ppi=300, grey=every_value(dtype))
    lifted = Lift(ink=Over(paper=(230, 230, 230))).apply(page)
    assert lifted.colour.shape == (*page.shape, 3)
    assert (np.abs(recomposed(lifted, (230,) * 3).astype(int) - page.grey[..., None]) <= 1).all()
    assert (lifted.alpha == lift_own(page.grey[..., None].repeat(3, 2), (230,) * 3)).all()


@pytest.mark.parametrize("points", [Fixed(black=40, white=210),
                                    Following(black=40, white=210, paper=228)])
def test_the_paper_of_a_grey_scan_moves_with_its_tones(points):
    grey = np.full((200, 200), 228, np.uint8)
    grey[50:60] = 30
    grey[:, ::7] = 231
    page = replay(StepList("", (Tone(points=points), Lift(ink=Own()))), Sheet(ppi=300, grey=grey))
    alpha = whole(page.page).alpha
    assert (alpha[grey > 200] == 0).all()
    assert (alpha[50:60, 1:7] == 255).all()
    assert page.settled.steps[-1].ink.paper == (255, 255, 255)


def test_a_colour_scan_keeps_its_papers_colour_whatever_the_tones():
    colour = np.full((200, 200, 3), (231, 226, 214), np.uint8)
    colour[50:60] = (60, 40, 30)
    steps = StepList("", (Tone(points=Following(black=40, white=200, paper=226)), Lift(ink=Own())))
    settled = replay(steps, Sheet(ppi=300, colour=colour)).settled.steps[-1]
    assert settled.ink == Over(paper=(231, 226, 214), clear=(60, 40, 30))


def test_own_colour_is_settled_and_one_colour_needs_no_paper():
    paper = Paper(peak=228, noise=3, channels=(230.4, 228, 219.6), ink=(20, 22, 30))
    own = Lift(ink=Own(), note="kept")
    assert own.needs_paper
    assert own.settle(paper) == Lift(
        ink=Over(paper=(230, 228, 220), clear=(20, 22, 30)), note="kept",
    )
    for fixed in (Lift(), Lift(ink=Over())):
        assert not fixed.needs_paper
        assert fixed.settle(paper) is fixed
    with pytest.raises(TypeError, match="settled"):
        own.apply(Sheet(ppi=300, colour=np.zeros((1, 1, 3), np.uint8)))


def test_what_is_lifted_is_not_lifted_in_its_own_colour_again():
    lifted = fold([Lift(ink=One(colour=(1, 2, 3)))], Sheet(ppi=300, grey=every_value(np.uint8)))
    again = Lift(ink=Over()).apply(lifted)
    assert again is lifted


@given(hnp.arrays(np.uint8, (3, 3, 3)))
def test_one_colour_after_own_drops_the_pixels_own(colour):
    own = fold([Lift(ink=Over(paper=(230, 228, 220)))], Sheet(ppi=300, colour=colour))
    one = fold([Lift(ink=One(colour=(9, 9, 9)))], own)
    assert (one.alpha == own.alpha).all()
    assert one.colour is None
    assert one.ink == (9, 9, 9)
