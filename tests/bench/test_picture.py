"""Pictures on the screen: every pixel is the mean of the toned page pixels beneath it."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.bench.state.grounds import GROUNDS, PAPER_WHITE
from app.bench.state.layered import view_folded, view_plain
from app.bench.state.picture import Place, inked, view_clipped, view_inked, view_plane
from app.bench.state.scale import ONE, UNIT, Box, Scale, fit, scale_below
from app.bench.state.standing import Shown
from app.bench.state.tally import count_blocks
from app.pages.picture import Frame, flat_picture
from app.pages.scaled import average
from app.pages.web import SmallPage
from core.layers import composite
from core.matte import over
from core.sheet import Overlay, Sheet
from core.steps.build_up import BuildUp
from core.steps.fold import fold
from core.steps.lift import Lift, One, Over
from core.steps.tone import Fixed, Tone
from core.tone import tone_table


def noise(height, width, seed=0, dtype=np.uint8, channels=()):
    full = np.iinfo(dtype).max
    rng = np.random.default_rng(seed)
    return rng.integers(0, full + 1, (height, width, *channels)).astype(dtype)


def channels(pixels):
    return [pixels >> shift & 255 for shift in (16, 8, 0)]


def mean_over(plane, scale, seen):
    """The plain definition, in floats: blocks averaged, then each screen pixel's share of each."""
    rows, columns = plane.shape[0] // scale.block, plane.shape[1] // scale.block
    cut = plane[: rows * scale.block, : columns * scale.block].astype(np.float64)
    blocks = cut.reshape(rows, scale.block, columns, scale.block).mean(axis=(1, 3))
    across = weights(columns, scale, seen.left, seen.right)
    down = weights(rows, scale, seen.top, seen.bottom)
    return down @ blocks @ across.T


def weights(length, scale, first, last):
    table = np.zeros((last - first, length))
    size = scale.parts / UNIT
    for pixel in range(first, last):
        low, high = pixel * size, (pixel + 1) * size
        for at in range(int(low), min(int(np.ceil(high - 1e-9)), length)):
            table[pixel - first, at] = max(min(high, at + 1) - max(low, at), 0) / size
    return table


@st.composite
def views(draw):
    height, width = draw(st.integers(40, 160)), draw(st.integers(40, 160))
    scale = scale_below(draw(st.floats(0.05, 1.0)))
    tall, wide = scale.shown(height), scale.shown(width)
    left, top = draw(st.integers(0, wide - 1)), draw(st.integers(0, tall - 1))
    right, bottom = draw(st.integers(left + 1, wide)), draw(st.integers(top + 1, tall))
    return (height, width), scale, Box(left, top, right, bottom)


@given(views(), st.integers(0, 200), st.integers(1, 55), st.integers(1, 99), st.booleans())
def test_a_view_is_the_mean_of_the_toned_page_within_one(view, black, reach, middle, straight):
    (height, width), scale, seen = view
    page = noise(height, width, seed=black)
    table = tone_table(255, black, black + reach, 50 if straight else middle)
    shown = view_plane(page, table, Place(scale, seen))
    true = mean_over(table[page], scale, seen)
    assert shown.shape == true.shape
    assert np.abs(shown - true).max() <= 1.0


@given(views())
def test_at_16_bits_too(view):
    (height, width), scale, seen = view
    page = noise(height, width, dtype=np.uint16)
    table = tone_table(65535, 30, 200, 40)
    shown = view_plane(page, table, Place(scale, seen))
    assert np.abs(shown - mean_over(table[page], scale, seen) / 257).max() <= 1.0


@pytest.mark.parametrize("scale", [ONE, Scale(up=2), Scale(up=3), Scale(up=8)])
def test_enlarged_a_view_shows_the_very_pixels(scale):
    page = noise(50, 60)
    table = tone_table(255, 20, 180)
    seen = Box(7, 11, 7 + 40, 11 + 33)
    shown = view_plane(page, table, Place(scale, seen))
    whole = table[page].repeat(scale.up, axis=0).repeat(scale.up, axis=1)
    assert (shown == whole[11:44, 7:47]).all()


@given(views())
def test_a_view_does_not_depend_on_how_the_page_was_pushed(view):
    (height, width), scale, seen = view
    page = noise(height, width)
    whole = Box(0, 0, scale.shown(width), scale.shown(height))
    part = view_plane(page, None, Place(scale, seen))
    all_of_it = view_plane(page, None, Place(scale, whole))
    assert (part == all_of_it[seen.top : seen.bottom, seen.left : seen.right]).all()


@given(views(), st.integers(0, 200), st.integers(1, 55), st.sampled_from([1, 40, 50, 99]))
def test_a_tally_changes_nothing(view, black, reach, middle):
    (height, width), scale, seen = view
    page = np.minimum(noise(height, width, seed=black), 200 + noise(height, width) // 8)
    place = Place(scale, seen)
    tally = count_blocks(page, scale.block, most=1.0)
    for table in (tone_table(255, black, black + reach, middle), None):
        read = view_plane(page, table, place)
        assert (view_plane(page, table, place, tally=tally) == read).all()


@given(st.integers(1, 20), st.integers(1, 60), st.integers(1, 60), st.integers(0, 255))
def test_a_tally_sums_any_table_exactly(block, height, width, level):
    height, width = max(height, block), max(width, block)
    page = noise(height, width, seed=height) & noise(height, width, seed=width)
    table = np.random.default_rng(block).integers(0, 256, 256).astype(np.uint8)
    table[level:] = table[-1]
    rows, columns = height // block, width // block
    cut = table[page][: rows * block, : columns * block].astype(np.int64)
    true = cut.reshape(rows, block, columns, block).sum(axis=(1, 3))
    tally = count_blocks(page, block, most=1.0)
    assert (tally.sums(table, 0, rows) == true).all()
    assert (tally.sums(table, rows // 2, rows) == true[rows // 2 :]).all()


def test_a_page_of_too_many_tones_is_not_counted():
    assert count_blocks(noise(64, 64), 8) is None
    assert count_blocks(np.full((64, 64), 230, np.uint8), 8) is not None


def test_a_tally_of_another_plane_or_scale_is_left_alone():
    page, other = np.full((64, 64), 230, np.uint8), np.full((64, 64), 10, np.uint8)
    tally = count_blocks(other, 8)
    place = Place(Scale(block=8), Box(0, 0, 8, 8))
    assert (view_plane(page, None, place, tally=tally) == 230).all()
    place = Place(Scale(block=4), Box(0, 0, 8, 8))
    assert (view_plane(other, None, place, tally=tally) == 10).all()


@given(st.integers(2, 30), st.integers(1, 6), st.integers(1, 6), st.sampled_from([20, 50]))
def test_at_a_whole_number_a_view_is_the_average_that_files_hold(block, rows, columns, middle):
    page = noise(rows * block, columns * block, seed=block)
    table = tone_table(255, 40, 210, middle)
    shown = view_plane(page, table, Place(Scale(block=block), Box(0, 0, columns, rows)))
    assert (shown == average(table[page], rows, columns)).all()


@pytest.mark.parametrize("middle", [30, 50])
@pytest.mark.parametrize("block", [2, 5, 12])
def test_at_a_whole_number_the_screen_and_the_web_rendition_are_equal(block, middle):
    sheet = Sheet(ppi=300, grey=noise(240, 180))
    steps = (Tone(points=Fixed(black=20, white=200), middle=middle),
             Lift(ink=One(colour=(10, 60, 120))), BuildUp(times=1.5))
    size = (240 // block, 180 // block)
    lifted = fold(steps, sheet)
    small = SmallPage(Frame.of(sheet.shape, lifted), size)
    small.add(small.pack(lifted, 0))
    web, ground = small.sheet(), GROUNDS[1]
    written = flat_picture(Frame.of(size, web), ground.colours[0]).planes(web)
    place = Place(Scale(block=block), Box(0, 0, size[1], size[0]))
    shown = channels(view_inked(inked(sheet, steps), ground, place))
    assert all((a == b).all() for a, b in zip(shown, written, strict=True))


def test_threads_change_nothing():
    page = noise(900, 700)
    view = fit((300, 280), (700, 900))
    place = Place(view.scale, view.seen)
    with ThreadPoolExecutor(3) as pool:
        assert (view_plane(page, None, place, pool.map) == view_plane(page, None, place)).all()


def test_toning_after_averaging_would_be_another_picture():
    page = np.where(np.indices((64, 64)).sum(axis=0) % 2, 255, 160).astype(np.uint8)
    table = tone_table(255, 0, 200)
    place = Place(Scale(block=2), Box(0, 0, 32, 32))
    shown = view_plane(page, table, place)
    wrong = table[view_plane(page, None, place)]
    assert np.abs(shown.astype(int) - wrong).max() > 20


@pytest.mark.parametrize("ground", GROUNDS, ids=lambda ground: ground.name)
def test_ink_lies_over_the_ground_as_the_matte_says(ground):
    sheet = Sheet(ppi=300, grey=noise(40, 50))
    steps = (Tone(points=Fixed(black=20, white=200)), Lift(ink=One(colour=(10, 60, 120))))
    one = inked(sheet, steps)
    seen = Box(0, 0, 50, 40)
    shown = view_inked(one, ground, Place(ONE, seen))
    alpha = fold(steps, sheet).alpha
    dots = ground.dots(seen) if len(ground.colours) > 1 else np.zeros((40, 50), bool)
    for channel, shift in enumerate((16, 8, 0)):
        under = np.where(dots, ground.colours[-1][channel], ground.colours[0][channel])
        wanted = over((10, 60, 120)[channel], alpha, under.astype(np.uint8))
        assert ((shown >> shift & 255) == wanted).all()


def test_a_list_without_a_lift_shows_its_toned_grey():
    sheet = Sheet(ppi=300, grey=noise(30, 30))
    steps = (Tone(points=Fixed(black=40, white=220)),)
    shown = view_inked(inked(sheet, steps), PAPER_WHITE, Place(ONE, Box(0, 0, 30, 30)))
    assert ((shown & 255) == fold(steps, sheet).grey).all()


def test_what_is_lifted_already_is_toned_as_darkness():
    sheet = fold([Lift()], Sheet(ppi=300, grey=noise(30, 30)))
    steps = (Tone(points=Fixed(black=40, white=220)), BuildUp(times=2))
    shown = view_inked(inked(sheet, steps), PAPER_WHITE, Place(ONE, Box(0, 0, 30, 30)))
    assert ((shown & 255) == 255 - fold(steps, sheet).alpha).all()


def test_steps_that_look_at_pixels_have_no_single_table():
    sheet = Sheet(ppi=300, colour=noise(8, 8, channels=(3,)))
    assert inked(sheet, (Lift(ink=Over()),)) is None


@given(views())
def test_a_page_in_its_own_colours_is_laid_on_the_ground_before_it_is_averaged(view):
    (height, width), scale, seen = view
    sheet = Sheet(ppi=300, colour=noise(height, width, channels=(3,)))
    steps = (Lift(ink=Over(paper=(240, 235, 220))),)
    shown = view_folded(sheet, steps, PAPER_WHITE, Place(scale, seen))
    lifted = fold(steps, sheet)
    for channel, shift in enumerate((16, 8, 0)):
        laid = over(lifted.colour[..., channel], lifted.alpha, 255)
        true = mean_over(laid, scale, seen)
        assert np.abs((shown >> shift & 255) - true).max() <= 1.0


def test_the_plain_side_shows_colour_as_it_is():
    sheet = Sheet(ppi=300, colour=noise(20, 20, channels=(3,)))
    shown = view_plain(sheet, Place(ONE, Box(0, 0, 20, 20)))
    wanted = sheet.colour.astype(np.int32)
    assert (shown == (wanted[..., 0] << 16 | wanted[..., 1] << 8 | wanted[..., 2])).all()


def test_what_the_points_cut_off_is_black_or_white_and_the_rest_striped():
    page = np.full((12, 12), 120, np.uint8)
    page[:4], page[8:] = 10, 240
    one = inked(Sheet(ppi=300, grey=page), (Tone(points=Fixed(black=50, white=200)), Lift()))
    shown = view_clipped(one, Place(ONE, Box(0, 0, 12, 12))) & 255
    assert (shown[:4] == 0).all()
    assert (shown[8:] == 255).all()
    assert set(np.unique(shown[4:8])) == {118, 176}


def test_a_page_smaller_than_a_block_is_one_pixel():
    scale = Scale(block=300)
    page = np.full((20, 30), 77, np.uint8)
    assert view_plane(page, None, Place(scale, Box(0, 0, 1, 1))).tolist() == [[77]]


def test_the_see_through_pattern_repeats_and_is_fixed_to_the_page():
    ground = GROUNDS[-1]
    dots = ground.dots(Box(0, 0, 64, 64))
    assert (dots[:16, :16] == dots[16:32, 32:48]).all()
    assert (ground.dots(Box(5, 3, 40, 40)) == dots[3:40, 5:40]).all()
    assert 0 < dots.mean() < 0.3


def test_a_unit_of_screen_pixels_is_a_whole_number_of_page_pixels():
    for wanted in np.linspace(0.011, 0.99, 60):
        scale = scale_below(float(wanted))
        assert scale.value <= wanted + 1e-12
        assert scale.value > wanted * 0.985
        assert UNIT / scale.value == pytest.approx(scale.block * scale.parts)


def flat_page(seed=0):
    """Lines over areas of three colours."""
    rng = np.random.default_rng(seed)
    areas = np.repeat(np.repeat(rng.integers(1, 4, (6, 8)), 8, axis=0), 8, axis=1)
    return Sheet(
        ppi=300, alpha=noise(48, 64, seed), ink=(20, 10, 60), flats=areas.astype(np.uint8),
        palette=((20, 10, 60), (200, 30, 40), (250, 240, 10), (0, 90, 130)),
    )


OVERLAYS = (
    Overlay(), Overlay(lines=0.5), Overlay(colour=0.4, paper=(240, 230, 200)),
    Overlay(colour=0.7, colour_above=True),
)


@pytest.mark.parametrize("overlay", OVERLAYS)
@pytest.mark.parametrize("scale", [ONE, Scale(up=3)])
def test_flats_are_drawn_as_the_merged_rendition_lays_them(overlay, scale):
    sheet = replace(flat_page(), overlay=overlay)
    place = Place(scale, Box(0, 0, 48, 36))
    shown = channels(Shown.of(sheet, ()).draw(GROUNDS[2], place))
    merged = flat_picture(Frame.of(sheet.shape, sheet)).planes(sheet)
    for drawn, plane in zip(shown, merged, strict=True):
        true = plane.repeat(scale.up, axis=0).repeat(scale.up, axis=1)
        assert (drawn == true[:36, :48]).all()


@pytest.mark.parametrize("block", [2, 4, 8])
def test_reduced_they_are_its_average(block):
    sheet = flat_page()
    place = Place(Scale(block=block), Box(0, 0, 64 // block, 48 // block))
    shown = channels(Shown.of(sheet, ()).draw(PAPER_WHITE, place))
    for drawn, plane in zip(shown, composite(sheet), strict=True):
        assert (drawn == average(plane, 48 // block, 64 // block)).all()


def test_steps_behind_the_flats_are_laid_with_them():
    sheet, steps = flat_page(), (BuildUp(times=3),)
    shown = channels(Shown.of(sheet, steps).draw(PAPER_WHITE, Place(ONE, Box(0, 0, 64, 48))))
    for drawn, plane in zip(shown, composite(fold(steps, sheet)), strict=True):
        assert (drawn == plane).all()


def test_lines_alone_and_flats_alone():
    sheet, place = flat_page(), Place(ONE, Box(0, 0, 64, 48))
    shown = Shown.of(sheet, ())
    ground = GROUNDS[2]
    lines = channels(shown.draw(ground, place, layer="lines"))
    flats = channels(shown.draw(ground, place, layer="flats"))
    for channel in range(3):
        laid = over(sheet.ink[channel], sheet.alpha, ground.colours[0][channel])
        assert (lines[channel] == laid).all()
        colours = np.array([colour[channel] for colour in sheet.palette])
        assert (flats[channel] == colours[sheet.flats]).all()
    assert shown.table("lines") is not None
    assert shown.table("all") is None


def test_without_flats_their_layer_is_the_bare_ground():
    shown = Shown.of(Sheet(ppi=300, grey=noise(9, 9)), (Lift(),))
    drawn = shown.draw(PAPER_WHITE, Place(ONE, Box(0, 0, 9, 9)), layer="flats")
    assert (drawn == 0xFFFFFF).all()


def test_lines_that_are_half_see_through_are_so_on_the_ground():
    sheet = replace(flat_page(), flats=None, palette=(), overlay=Overlay(lines=0.5))
    drawn = Shown.of(sheet, (BuildUp(),)).draw(PAPER_WHITE, Place(ONE, Box(0, 0, 64, 48)))
    wanted = composite(fold((BuildUp(),), sheet), (255, 255, 255))
    assert all((a == b).all() for a, b in zip(channels(drawn), wanted, strict=True))
