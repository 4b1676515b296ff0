"""Dust is told by its tint on tinted paper; what is drawn stays, in ink of any colour."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from app.filters import tint
from app.filters.drop_specks import DropSpecks, dust_mask
from app.filters.specks import find_specks, ground_of
from app.filters.tint import find_stains, tints_of
from core.light import grey_of
from core.matte import to_depth
from core.sheet import Sheet
from tests.strategies import DEPTHS

PPI = 300
MM = PPI / 25.4
CREAM = np.array([238.0, 231, 208])
GRAPHITE = np.full(3, 40.0)
LINT = np.full(3, 150.0)  # as light as dust is, and without a tint
DUST_AT = (9.2, 9.4)


def cover(shape, places, across_mm):
    """Cover, 0-1, of round spots at places (down, across) in mm, as a scanner's lens shows it."""
    fine = np.zeros((shape[0] * 4, shape[1] * 4), np.uint8)
    for y_mm, x_mm in places:
        centre = (round(x_mm * MM * 4), round(y_mm * MM * 4))
        cv2.circle(fine, centre, max(1, round(across_mm / 2 * MM * 4)), 255, -1)
    small = cv2.resize(fine, shape[::-1], interpolation=cv2.INTER_AREA) / 255
    return cv2.GaussianBlur(small, (0, 0), 0.5)[..., None]


def over(page, share, colour):
    return page + share * (colour - page)


def grains():
    """Where grains lie above a pale line of pencil, far enough apart to be specks each."""
    return [(10 + 0.2 * (-1) ** number, 4 + 0.9 * number) for number in range(14)]


def drawn(paper=CREAM, ink=GRAPHITE, share=0.35, dust=LINT, of_dust=0.75):
    """A line and grains of a tool on paper, and a speck of dust as dark by them, (H, W, 3)."""
    page = np.tile(paper, (round(20 * MM), round(20 * MM), 1))
    line = [(11, across) for across in np.arange(3, 17, 0.05)]
    page = over(page, share * cover(page.shape[:2], [*grains(), *line], 0.3), ink)
    page = over(page, of_dust * cover(page.shape[:2], [DUST_AT], 0.3), dust)
    return page + np.random.default_rng(1).normal(0, 0.6, page.shape)


def coded(page, dtype=np.uint8):
    return to_depth(np.clip(np.rint(page), 0, 255).astype(np.uint8), 8 * np.dtype(dtype).itemsize)


def dropped(scan):
    return DropSpecks().apply(Sheet(ppi=PPI, colour=scan)).colour


def cleared_at(scan, done):
    """Which of the grains, and of the dust, are exact white."""
    full = np.iinfo(scan.dtype).max
    return [bool((done[round(y * MM), round(x * MM)] == full).all())
            for y, x in [*grains(), DUST_AT]]


@pytest.mark.parametrize("dtype", DEPTHS)
def test_dust_among_grains_of_pencil_goes_by_its_tint_alone(dtype):
    scan = coded(drawn(), dtype)
    grey = grey_of(scan)
    assert not dust_mask(grey, PPI, 0.8).any()
    assert cleared_at(scan, dropped(scan)) == [False] * 14 + [True]


def test_on_paper_without_a_tint_it_stays():
    scan = coded(drawn(paper=np.full(3, 231.0)))
    assert np.array_equal(dropped(scan), scan)


def test_dust_that_runs_into_pencil_goes_and_the_pencil_stays():
    page = drawn()
    rough = cv2.GaussianBlur(np.random.default_rng(5).random(page.shape[:2]), (0, 0), 1.2)
    shade = np.where(np.arange(len(page)) > round(12 * MM), 0.4, 0)[:, None] * (rough > 0.53)
    shade = cv2.GaussianBlur(shade, (0, 0), 0.5)[..., None]
    page = over(page, shade, GRAPHITE)
    spot = cover(page.shape[:2], [(15, 10)], 0.35)
    before, scan = coded(page), coded(over(page, 0.8 * spot, LINT))
    done = dropped(scan)
    core = spot[..., 0] > 0.8
    assert (done[core] == 255).all()
    away = (cv2.dilate((spot[..., 0] > 0.02).astype(np.uint8), np.ones((5, 5), np.uint8)) == 0)
    away[: round(12.5 * MM)] = False
    assert np.array_equal(done[away], before[away])


def test_pencil_on_a_scan_that_was_kept_as_jpeg_stays():
    """Its colours are those of squares of 16 pixels, each rounded (ITU-T T.81, 4:2:0)."""
    page = np.tile(CREAM, (round(30 * MM), round(30 * MM), 1))
    rough = cv2.GaussianBlur(np.random.default_rng(6).random(page.shape[:2]), (0, 0), 1.2)
    shade = cv2.GaussianBlur(np.where(rough > 0.5, 0.6, 0), (0, 0), 0.5)
    shade[:, : round(5 * MM)] = 0
    page = over(page, shade[..., None], GRAPHITE) + np.random.default_rng(7).normal(
        0, 2, page.shape)
    kept = [cv2.IMWRITE_JPEG_QUALITY, 70]
    scan = cv2.imdecode(cv2.imencode(".jpg", coded(page)[..., ::-1], kept)[1], 1)[..., ::-1]
    scan = np.ascontiguousarray(scan)
    grey = grey_of(scan)
    ground = ground_of(grey)
    specks = find_specks(grey, PPI, ground, 8)
    tints = tints_of(grey, scan[..., 0], scan[..., 2], specks.marked, ground.paper)
    assert specks.marked.mean() > 0.1
    assert not find_stains(grey, tints, PPI, ground, specks, 0.8).any()


def lettered(reaches):
    """Three lines of small letters above shading in pencil, and the letters' cover, (H, W).

    ``reaches`` are how far each channel of the lens blurs a letter, in pixels.
    """
    shape = round(50 * MM), round(60 * MM)
    fine = np.zeros((shape[0] * 4, shape[1] * 4), np.uint8)
    for row in range(3):
        for column, letter in enumerate("it is his tin hen"):
            at = round((4 + 3 * column) * MM * 4), round((7 + 6 * row) * MM * 4)
            cv2.putText(fine, letter, at, cv2.FONT_HERSHEY_DUPLEX, 5, 255, 18, cv2.LINE_AA)
    small = cv2.resize(fine, shape[::-1], interpolation=cv2.INTER_AREA) / 255
    rough = cv2.GaussianBlur(np.random.default_rng(6).random(shape), (0, 0), 1.2)
    shade = cv2.GaussianBlur(np.where(rough > 0.5, 0.3, 0), (0, 0), 1.5)
    shade[: round(24 * MM)] = 0
    ink = np.dstack([cv2.GaussianBlur(small, (0, 0), reach) for reach in reaches])
    page = over(over(np.tile(CREAM, (*shape, 1)), shade[..., None], GRAPHITE), 0.95 * ink, GRAPHITE)
    return page + np.random.default_rng(3).normal(0, 1, page.shape), ink.max(axis=2)


@pytest.mark.parametrize("quality", [75, 85, 92])
def test_black_letters_on_a_cream_page_that_was_kept_as_jpeg_stay(quality):
    """Their edges take the paper's colour, some here and some there (ITU-T T.81, 4:2:0)."""
    page, ink = lettered((0.5, 0.5, 0.5))
    kept = [cv2.IMWRITE_JPEG_QUALITY, quality]
    scan = cv2.imdecode(cv2.imencode(".jpg", coded(page)[..., ::-1], kept)[1], 1)[..., ::-1]
    scan = np.ascontiguousarray(scan)
    assert np.array_equal(dropped(scan)[ink > 0.1], scan[ink > 0.1])


@pytest.mark.parametrize("reach", [0.6, 0.8, 1.4])
def test_the_coloured_edges_of_letters_stay(reach):
    """As of a long stroke, below: letters are too short to count as long marks."""
    page, ink = lettered((0.5, (1 + reach) / 3, reach))
    scan = coded(page)
    assert np.array_equal(dropped(scan)[ink > 0.1], scan[ink > 0.1])


@pytest.mark.parametrize("ink", [(150, 40, 35), (40, 55, 150)])
def test_beside_ink_of_a_colour_grey_specks_stay(ink):
    """They may be its own dots: JPEG keeps colours at half the resolution (ITU-T T.81, 4:2:0)."""
    scan = coded(drawn(ink=np.array(ink, float), share=0.5))
    assert np.array_equal(dropped(scan), scan)


@pytest.mark.parametrize("ink", [(170, 20, 20), (30, 30, 170)])
def test_a_dot_in_ink_of_a_colour_stays_among_pencil(ink):
    scan = coded(drawn(dust=np.array(ink, float), of_dust=0.5))
    assert np.array_equal(dropped(scan), scan)


def test_specks_of_one_tint_near_one_another_stay():
    page = drawn()
    more = [(9.2, 8.3), (9.0, 10.3)]
    scan = coded(over(page, 0.75 * cover(page.shape[:2], more, 0.3), LINT))
    assert np.array_equal(dropped(scan), scan)


def test_the_coloured_edge_of_a_stroke_stays():
    """A lens that shows blue a little larger than red leaves a fringe of tint along all ink."""
    page = np.tile(CREAM, (round(20 * MM), round(20 * MM), 1))
    fine = np.zeros(page.shape[:2], np.float32)
    fine[round(9 * MM) : round(10 * MM), 30:200] = 1
    for channel, reach in enumerate((0.4, 0.7, 1.4)):
        page[..., channel] += cv2.GaussianBlur(fine, (0, 0), reach) * (25 - page[..., channel])
    scan = coded(page)
    assert np.array_equal(dropped(scan), scan)


def test_strips_and_the_whole_page_at_once_find_the_same(monkeypatch):
    scan = np.concatenate([coded(drawn())] * 3)
    done = dropped(scan)
    assert (done != scan).any()
    monkeypatch.setattr(tint, "strips", lambda height, halo=0, rows=0: [(slice(0, height),) * 3])
    assert np.array_equal(dropped(scan), done)


@given(hnp.arrays(st.sampled_from(DEPTHS),
                  st.tuples(st.integers(1, 12), st.integers(1, 12), st.just(3))),
       st.sampled_from([25.4, 100.0, 300.0]))
def test_any_page_may_be_asked_for_its_tints(scan, ppi):
    grey = grey_of(scan)
    ground = ground_of(grey)
    specks = find_specks(grey, ppi, ground, 8)
    tints = tints_of(grey, scan[..., 0], scan[..., 2], specks.marked, ground.paper)
    assert not tints[specks.marked == 0].any()
    assert find_stains(grey, tints, ppi, ground, specks, 0.8).shape == grey.shape
