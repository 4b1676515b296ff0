"""Grey out of colour, and the pencil that drops out."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.light import LUMA, grey_of, rgb_to_grey
from core.matte import to_depth
from core.sheet import Sheet
from core.steps.grey import Grey, Pencil, drop_out, hue_of
from tests.strategies import DEPTHS, records, scans

BLUE = (164, 221, 237)
DROP = Grey(drop=Pencil())


def mixed(ground, colour, cover):
    """A colour over a ground, by cover of 0-1, to the nearest whole tone, uint8 (H, W, 3)."""
    ground, colour, cover = (np.asarray(x, float) for x in (ground, colour, cover))
    share = cover[..., None]
    return np.rint(ground * (1 - share) + colour * share).astype(np.uint8)


def grey_after(step, colour):
    return step.apply(Sheet(ppi=300, colour=colour)).grey


def test_the_default_mix_is_luma_number_for_number():
    assert Grey().weights() == LUMA
    colour = np.random.default_rng(1).integers(0, 256, (50, 40, 3)).astype(np.uint8)
    assert (grey_after(Grey(), colour) == grey_of(colour)).all()


@given(records(Grey, st.nothing()))
def test_weights_are_never_negative_and_add_up(step):
    assert sum(step.weights()) == 65536
    assert min(step.weights()) >= 0


@pytest.mark.parametrize(("step", "channel"), [
    (Grey(red=100, green=0, blue=0), 0), (Grey(red=0, green=100, blue=0), 1),
    (Grey(red=0, green=0, blue=100), 2),
])
def test_one_channel_alone_is_that_channel(step, channel):
    colour = np.random.default_rng(1).integers(0, 65536, (50, 40, 3)).astype(np.uint16)
    assert (grey_after(step, colour) == colour[..., channel]).all()


@given(scans(colour=True, most=40), records(Grey, st.nothing()))
def test_the_colour_plane_is_kept_and_strips_leave_no_seam(sheet, step):
    done = step.apply(sheet)
    assert done.colour is sheet.colour
    assert done.grey.dtype == sheet.colour.dtype
    mix = rgb_to_grey(sheet.colour, step.weights())
    if isinstance(step.drop, Pencil):
        mix = drop_out(sheet.colour, mix, step.drop.colour, step.drop.reach)
    assert (done.grey == mix).all()


def test_grey_scans_and_lifted_pages_are_left_alone():
    grey = Sheet(ppi=300, grey=np.zeros((2, 2), np.uint8))
    assert DROP.apply(grey) is grey
    lifted = Sheet(ppi=300, alpha=np.zeros((2, 2), np.uint8), colour=np.zeros((2, 2, 3), np.uint8))
    assert DROP.apply(lifted) is lifted


@pytest.mark.parametrize("dtype", DEPTHS)
def test_the_pencil_vanishes_at_every_strength(dtype):
    cover = np.linspace(0, 1, 200).reshape(10, 20)
    scan = to_depth(mixed((255, 255, 255), BLUE, cover), np.iinfo(dtype).bits)
    grey = grey_after(DROP, scan).astype(float) * 255 / np.iinfo(dtype).max
    assert (grey >= 253).all()
    kept = grey_after(Grey(), scan).astype(float) * 255 / np.iinfo(dtype).max
    assert kept.min() < 215  # it was there


@pytest.mark.parametrize("paper", [(230, 230, 230), (231, 227, 219), (210, 209, 206)])
def test_on_paper_that_is_not_white_the_pencil_comes_near_to_the_papers_tone(paper):
    cover = np.linspace(0, 1, 200).reshape(10, 20)
    pencil = np.array(BLUE) * np.array(paper) / 255
    grey = grey_after(DROP, mixed(paper, pencil, cover)).astype(float)
    bare = grey[0, 0]
    # the paper's warmth hides some of the pencil's blue: what is left is no more than its tint,
    # and two roundings
    assert (grey >= bare - (max(paper) - min(paper)) - 2).all()
    assert (grey <= max(paper) + 3).all()


@pytest.mark.parametrize("ink", [(0, 0, 0), (25, 25, 25), (30, 28, 26)])
def test_ink_across_the_pencil_is_not_broken_at_its_core_or_at_graded_edges(ink):
    rows = np.arange(60)[:, None]
    line = np.clip(1.6 - np.abs(rows - 30) / 8, 0, 1) * np.ones((1, 90))  # soft-edged, 10 px solid
    under = mixed((255, 255, 255), BLUE, (np.arange(90) % 30 >= 15) * np.ones((60, 1)))
    crossing = grey_after(DROP, mixed(under, ink, line)).astype(int)
    alone = grey_after(DROP, mixed((255, 255, 255), ink, line)).astype(int)
    plain = grey_after(Grey(), mixed((255, 255, 255), ink, line)).astype(int)
    assert np.abs(crossing - alone).max() <= 3
    assert np.abs(crossing - plain).max() <= 8  # warm ink of a tint of its own is hardly lifted
    assert crossing[30].max() - crossing[30].min() <= 1


def test_dense_strokes_of_the_pencil_itself_vanish_too():
    dense = mixed((255, 255, 255), (95, 190, 225), np.linspace(0, 1, 50).reshape(1, 50))
    assert grey_after(DROP, dense).min() >= 240


@pytest.mark.parametrize("colour", [(200, 30, 30), (30, 140, 40), (230, 160, 20), (120, 30, 140)])
def test_other_colours_are_left_as_they_are(colour):
    scan = mixed((255, 255, 255), colour, np.linspace(0, 1, 40).reshape(4, 10))
    assert (grey_after(DROP, scan) == grey_after(Grey(), scan)).all()


@given(scans(colour=True), st.floats(5, 90))
def test_drop_out_only_lightens_and_never_past_white(sheet, reach):
    plain = grey_of(sheet.colour)
    dropped = drop_out(sheet.colour, plain, BLUE, reach)
    assert (dropped >= plain).all()
    assert dropped.dtype == plain.dtype


@given(scans(colour=True))
def test_a_wider_reach_drops_no_less(sheet):
    plain = grey_of(sheet.colour)
    narrow, wide = (drop_out(sheet.colour, plain, BLUE, reach) for reach in (10, 60))
    assert (wide >= narrow).all()


def test_neutral_greys_keep_their_tone():
    ramp = np.arange(256, dtype=np.uint8).reshape(16, 16)
    assert (grey_after(DROP, np.stack([ramp] * 3, axis=2)) == ramp).all()


def test_both_depths_drop_alike():
    scan = np.random.default_rng(4).integers(0, 256, (40, 40, 3)).astype(np.uint8)
    fine = grey_after(DROP, to_depth(scan, 16)) / 257
    assert np.abs(fine - grey_after(DROP, scan)).max() <= 1


def test_hue_goes_round_the_circle():
    wheel = np.array([[[255, 0, 0], [255, 255, 0], [0, 255, 0], [0, 255, 255], [0, 0, 255],
                       [255, 0, 255], [7, 7, 7], [255, 0, 1]]], np.uint8)
    expected = [0, 60, 120, 180, 240, 300, 0]
    assert hue_of(wheel)[0, :7].tolist() == expected
    assert 359 < hue_of(wheel)[0, 7] < 360


def test_the_pencils_hue_may_lie_next_to_red():
    pink = Grey(drop=Pencil(colour=(250, 150, 160), reach=20))
    scan = np.array([[[250, 150, 160], [250, 160, 150], [160, 250, 150]]], np.uint8)
    grey = grey_after(pink, scan)[0]
    assert grey[0] >= 253
    assert grey[1] >= 253  # 12 degrees on, across the end of the circle
    assert grey[2] == grey_after(Grey(), scan)[0, 2]
