"""What is read off a page."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from hypothesis import given

from core.fault import Cancelled
from core.histogram import Peaks, count_tones
from core.light import grey_of
from core.readings import Survey, grey_plane, measure_cover, survey
from core.sheet import Sheet
from tests.strategies import DEPTHS, scans


def coloured_page(seed=2, shape=(300, 200)):
    """Warm paper with a share of brown ink, uint8 (H, W, 3)."""
    random = np.random.default_rng(seed)
    plane = np.array((231.0, 226.0, 214.0)) + random.normal(0, 2.5, (*shape, 1))
    drawn = random.random(shape) < 0.08
    plane[drawn] = np.array((60.0, 40.0, 30.0)) + random.normal(0, 4, (int(drawn.sum()), 1))
    return np.clip(np.rint(plane), 0, 255).astype(np.uint8)


def test_grey_is_taken_as_made_else_from_alpha_else_from_colour():
    plane = np.array([[10, 200]], np.uint8)
    colour = np.array([[[255, 0, 0], [0, 0, 255]]], np.uint8)
    assert grey_plane(Sheet(ppi=300, grey=plane, colour=colour)) is plane
    assert grey_plane(Sheet(ppi=300, alpha=plane, colour=colour)).tolist() == [[245, 55]]
    assert (grey_plane(Sheet(ppi=300, colour=colour)) == grey_of(colour)).all()


@given(scans(colour=True))
def test_a_survey_counts_the_grey_and_each_channel(sheet):
    read = survey(sheet)
    assert (read.grey == count_tones(grey_of(sheet.colour))).all()
    for channel, counts in enumerate(read.channels):
        assert (counts == count_tones(sheet.colour[..., channel])).all()
    assert len(read.channels) == 3


@given(scans(colour=False, most=300))
def test_a_survey_by_bands_counts_every_pixel_once(sheet):
    read = survey(sheet)
    assert (read.grey == count_tones(sheet.grey)).all()
    assert read.channels == ()


def test_a_lifted_page_is_read_by_its_darkness_alone():
    page = Sheet(ppi=300, alpha=np.array([[5, 250]], np.uint8),
                 colour=np.zeros((1, 2, 3), np.uint8))
    read = survey(page)
    assert read.channels == ()
    assert np.flatnonzero(read.grey).tolist() == [5, 250]


def test_threads_read_the_same():
    page = Sheet(ppi=300, colour=coloured_page(shape=(700, 30)))
    with ThreadPoolExecutor(3) as pool:
        assert (survey(page, pool.map).grey == survey(page).grey).all()


def test_paper_and_ink_have_their_colours():
    paper = survey(Sheet(ppi=300, colour=coloured_page())).paper()
    for found, put in zip(paper.colour, (231, 226, 214), strict=True):
        assert abs(found - put) < 1
    for found, put in zip(paper.ink, (60, 40, 30), strict=True):
        assert abs(found - put) <= 2
    assert abs(paper.noise - 2.5) < 0.6
    assert paper.channels == paper.colour


def test_a_grey_page_has_one_peak_and_says_so():
    paper = survey(Sheet(ppi=300, grey=coloured_page()[..., 1])).paper()
    assert paper.channels is None
    assert paper.colour == (paper.peak,) * 3
    assert len(set(paper.ink)) == 1


def test_without_an_ink_peak_the_darkest_half_per_cent_stands_for_the_ink():
    counts = np.zeros(256, np.int64)
    counts[100:240] = 1  # no peak anywhere but the paper's
    counts[230] = 10_000
    assert Survey(counts).peaks().ink is None
    assert Survey(counts).paper().ink == (150, 150, 150)  # 51 of 10,139 pixels are darker


@pytest.mark.parametrize("dtype", DEPTHS)
def test_cover_is_worked_out_as_by_hand(dtype):
    unit = np.iinfo(dtype).max // 255
    grey = np.array([[230, 220, 219, 40], [235, 255, 100, 0]]) * unit
    alpha = np.array([[0, 2, 3, 200], [1, 0, 150, 255]]) * unit
    cover = measure_cover(
        Sheet(ppi=300, grey=grey.astype(dtype)), Sheet(ppi=300, alpha=alpha.astype(dtype)),
        Peaks(paper=230, noise=2.5),
    )
    # bare: 220 and lighter, four pixels of alpha 0, 2, 1, 0; 1 % is 2.55
    assert cover.printing == 0
    assert cover.not_clear == 0.5
    assert cover.ink == pytest.approx((2 + 3 + 200 + 1 + 150 + 255) / 255 / 8)


def test_cover_that_may_print_is_counted():
    page = Sheet(ppi=300, grey=np.full((300, 1), 230, np.uint8))
    alpha = np.zeros((300, 1), np.uint8)
    alpha[:30] = 3
    cover = measure_cover(page, Sheet(ppi=300, alpha=alpha), Peaks(paper=230, noise=0))
    assert cover.printing == 0.1
    assert cover.not_clear == 0.1


def test_paper_without_noise_is_bare_within_two_tones():
    page = Sheet(ppi=300, grey=np.array([[230, 228, 227]], np.uint8))
    alpha = np.array([[0, 9, 9]], np.uint8)
    cover = measure_cover(page, Sheet(ppi=300, alpha=alpha), Peaks(paper=230, noise=0))
    assert cover.printing == 0.5


def test_a_page_without_bare_paper_prints_none():
    black = Sheet(ppi=300, grey=np.zeros((2, 2), np.uint8))
    cover = measure_cover(
        black, Sheet(ppi=300, alpha=np.full((2, 2), 255, np.uint8)), Peaks(paper=230, noise=1),
    )
    assert (cover.ink, cover.printing, cover.not_clear) == (1, 0, 0)


def test_two_pages_are_not_compared():
    small, large = (Sheet(ppi=300, alpha=np.zeros((n, 2), np.uint8)) for n in (1, 2))
    with pytest.raises(ValueError, match="not one page"):
        measure_cover(small, large, Peaks(paper=230, noise=1))


def test_reading_is_watched_and_may_be_stopped():
    page = Sheet(ppi=300, grey=np.zeros((200, 2), np.uint8))
    seen = []
    survey(page, watch=lambda done, total: seen.append((done, total)))
    lifted = Sheet(ppi=300, alpha=np.zeros((200, 2), np.uint8))
    measure_cover(page, lifted, Peaks(paper=0, noise=0),
                  watch=lambda done, total: seen.append((done, total)))
    assert seen == [(128, 200), (200, 200)] * 2

    def stop(done, total):
        raise Cancelled

    with pytest.raises(Cancelled):
        survey(page, watch=stop)
