"""Screens: their tones, ruling and angle, and that they tile; error diffusion; the plain cut."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from core.fault import Refused
from core.press.diffusion import diffuse
from core.press.screens import Diffusion, Plain, Screen

SCREENS = [
    (Screen(150, 45), 2400), (Screen(150, 0), 2400), (Screen(133, 15), 2400),
    (Screen(65, 75), 1200), (Screen(85, 22.5, "line"), 1371), (Screen(100, 90, "line"), 1600),
    (Screen(100, 120, "line"), 1600),
]


@pytest.mark.parametrize(("screen", "ppi"), SCREENS, ids=str)
def test_the_mean_area_of_200_cells_is_the_asked_tone(screen, ppi):
    # over a full ramp, within 0.5 %, where a cell has 16 pixels or more a side
    cell = screen.made(ppi)
    side = round(15 * ppi / cell.ruling)  # 225 cells; the window's own edge cuts some of them
    for tone in range(0, 256, 3):
        area = screen.cut(np.full((side, side), tone, np.uint8), 11, ppi).mean()
        assert area == pytest.approx(tone / 255, abs=0.005), tone


@pytest.mark.parametrize(("screen", "ppi"), SCREENS, ids=str)
def test_ruling_and_angle_are_read_back_from_the_spectrum(screen, ppi):
    size = 1024
    tint = screen.cut(np.full((size, size), 77, np.uint8), 0, ppi).astype(np.float64)
    window = np.hanning(size)
    power = np.abs(np.fft.rfft2((tint - tint.mean()) * window[:, None] * window)) ** 2
    row, column = np.unravel_index(power.argmax(), power.shape)
    down, across = centre_of(power, int(row), int(column))
    down = (down + size / 2) % size - size / 2
    ruling = np.hypot(down, across) / size * ppi
    # waves run across the lines of a line screen, and along either side of a cell of dots
    turn = 90 if screen.dot == "round" else 180
    angle = np.degrees(np.arctan2(-down, across)) - (0 if screen.dot == "round" else 90)
    off = (angle - screen.angle + turn / 2) % turn - turn / 2
    assert ruling == pytest.approx(screen.ruling, rel=0.005)
    assert abs(off) < 0.25


def centre_of(power, row, column):
    """The place of a peak between the lines of the spectrum, from its neighbours."""
    rows = (np.arange(row - 1, row + 2)) % power.shape[0]
    columns = np.arange(max(column - 1, 0), column + 2)
    near = power[np.ix_(rows, columns)]
    down = row + float((near.sum(axis=1) @ np.arange(-1, 2)) / near.sum())
    if column == 0:
        return down, 0.0
    return down, column + float((near.sum(axis=0) @ np.arange(-1, 2)) / near.sum())


@given(st.floats(30, 200), st.floats(0, 180), st.sampled_from(["round", "line"]))
def test_the_supercell_tiles_the_page_without_a_seam(ruling, angle, dot):
    screen = Screen(ruling, angle, dot)
    cell = screen.made(1200)
    size = 260
    grey = np.full((size, size), 100, np.uint8)
    here = screen.cut(grey, 5000, 1200)
    lower = screen.cut(grey, 5000 + cell.across, 1200) if cell.across > 0 else None
    if lower is not None and 0 <= cell.up < size:
        # the square's side (up, across) leads to the same pattern
        wide = screen.cut(np.full((1, size + cell.up), 100, np.uint8), 5000, 1200)[0]
        again = screen.cut(np.full((1, size + cell.up), 100, np.uint8), 5000 + cell.across, 1200)
        assert (wide[:size] == again[0, cell.up :]).all()
    assert here.shape == (size, size)
    assert cell.ruling == pytest.approx(ruling, rel=0.01)


def test_bands_are_the_page():
    page = np.random.default_rng(2).integers(0, 256, (300, 200)).astype(np.uint8)
    screen = Screen(100, 15)
    bands = [screen.cut(page[top : top + 37], top, 1200) for top in range(0, 300, 37)]
    assert (np.concatenate(bands) == screen.cut(page, 0, 1200)).all()


@pytest.mark.parametrize("cut", [Screen(75, 45), Screen(75, 45, "line"), Plain(), Diffusion()])
@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_nothing_prints_on_clear_paper_and_solids_are_solid(cut, kind):
    full = np.iinfo(kind).max
    assert not cut.cut(np.zeros((40, 50), kind), 0, 1200).any()
    assert cut.cut(np.full((40, 50), full, kind), 0, 1200).all()
    assert cut.cut(np.full((1, 1), full, kind), 7, 1200).shape == (1, 1)


def test_both_depths_give_one_tone():
    eight = Screen(75).cut(np.full((256, 256), 100, np.uint8), 0, 1200)
    sixteen = Screen(75).cut(np.full((256, 256), 100 * 257, np.uint16), 0, 1200)
    assert eight.mean() == pytest.approx(sixteen.mean(), abs=0.002)


def test_a_plain_cut_is_half_full():
    grey = np.arange(256, dtype=np.uint8)[None]
    assert (Plain().cut(grey, 0, 600)[0] == (np.arange(256) >= 128)).all()
    assert int(Plain(25).cut(grey, 0, 600).sum()) == 256 - 64


@pytest.mark.parametrize("make", [
    lambda: Screen(0), lambda: Screen(100, float("inf")), lambda: Plain(0), lambda: Plain(101),
    lambda: Screen(400).made(600), lambda: Screen(float("nan")),
])
def test_what_is_no_screen_is_refused(make):
    with pytest.raises(Refused):
        make()


def test_diffusion_keeps_the_mean():
    ramp = np.tile(np.linspace(0, 255, 256).astype(np.uint8), (256, 1))
    assert diffuse(ramp).mean() == pytest.approx(ramp.mean() / 255, abs=0.004)


def test_diffusion_is_that_of_another_program():
    # Pillow's own Floyd-Steinberg rounds its errors in another place, so dots may move by a
    # pixel: compared as tones over cells of 16 x 16
    ramp = np.tile(np.linspace(20, 235, 256).astype(np.uint8), (128, 1))
    theirs = np.asarray(Image.fromarray(np.invert(ramp)).convert("1")) == 0
    ours = diffuse(ramp)
    cells = [plane.reshape(8, 16, 16, 16).mean(axis=(1, 3)) for plane in (ours, theirs)]
    assert np.abs(cells[0] - cells[1]).max() < 0.04


@pytest.mark.parametrize("shape", [(17, 23), (1, 1), (1, 9), (9, 1), (9, 2), (2, 2), (5, 3)])
def test_diffusion_by_diagonals_is_diffusion_pixel_by_pixel(shape):
    grey = np.random.default_rng(5).integers(0, 256, shape).astype(np.uint8)
    want = grey.astype(np.int64) * 16
    want = np.pad(want, ((0, 1), (1, 1)))
    out = np.zeros(grey.shape, bool)
    for y in range(grey.shape[0]):
        for x in range(grey.shape[1]):
            value = want[y, x + 1]
            out[y, x] = value > 8 * 255
            error = value - 16 * 255 * int(out[y, x])
            ahead, before, below = ((share * error) >> 4 for share in (7, 3, 5))
            want[y, x + 2] += ahead
            want[y + 1, x] += before
            want[y + 1, x + 1] += below
            want[y + 1, x + 2] += error - ahead - before - below
    assert (diffuse(grey) == out).all()


def test_what_is_half_covered_to_the_last_sixteenth_is_paper():
    # 124 and 7 sixteenths of its neighbour's 8 come to 127.5 of 255
    assert diffuse(np.array([[8, 124]], np.uint8)).tolist() == [[False, False]]
    assert diffuse(np.array([[8, 125]], np.uint8)).tolist() == [[False, True]]


def test_columns_are_the_page_too():
    page = np.random.default_rng(2).integers(0, 256, (60, 400)).astype(np.uint8)
    screen = Screen(100, 37)
    parts = [screen.cut(page[:, left : left + 67], 9, 1200, left) for left in range(0, 400, 67)]
    assert (np.concatenate(parts, axis=1) == screen.cut(page, 9, 1200)).all()
