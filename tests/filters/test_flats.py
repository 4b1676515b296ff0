"""Flats: areas against an outside labelling, gaps and traps of known width, whole cover."""

import cv2
import numpy as np
import pytest
from skimage.measure import label

from app.filters.flats import Distinct, Flats, Plain
from core.layers import composite
from core.sheet import Sheet
from core.steps.crop import Crop
from core.steps.document import dumps, loads, table_of_kinds
from core.steps.steplist import StepList
from core.steps.turn import Turn
from core.units import mm_to_px

PPI = 300
MM = mm_to_px(1, PPI)


def blank(height=40, width=60, ppi=PPI, kind=np.uint8):
    """Alpha of a page of so many mm with nothing on it."""
    return np.zeros((round(mm_to_px(height, ppi)), round(mm_to_px(width, ppi))), kind)


def page(alpha, ppi=PPI):
    return Sheet(ppi=ppi, alpha=alpha)


def px(*lengths, ppi=PPI):
    return [round(mm_to_px(length, ppi)) for length in lengths]


def two_rooms(gap, ppi=PPI, thick=0.4):
    """A frame with a wall in its middle that has a gap of so many pixels."""
    alpha = blank(ppi=ppi)
    left, top, right, bottom, middle = px(10, 8, 50, 32, 30, ppi=ppi)
    line = px(thick, ppi=ppi)[0]
    alpha[top:bottom, left:right] = 255
    alpha[top + line : bottom - line, left + line : right - line] = 0
    alpha[top:bottom, middle : middle + line] = 255
    door = (top + bottom) // 2
    alpha[door : door + gap, middle : middle + line] = 0
    return alpha


def areas_at(laid, *places):
    """The area at places in mm."""
    at = [px(x, y, ppi=laid.ppi) for x, y in places]
    return [int(laid.flats[row, column]) for column, row in at]


@pytest.mark.parametrize("seed", range(4))
def test_closed_drawings_fall_into_the_areas_that_scikit_image_labels(seed):
    # Against skimage.measure.label, connectivity 1, of what is not drawn.
    rng = np.random.default_rng(seed)
    alpha = blank(60, 80)
    for _ in range(9):
        x, y = rng.uniform((8, 8), (72, 52)) * MM
        size = rng.uniform(4, 9, 2) * MM
        turn = rng.uniform(0, 180)
        cv2.ellipse(alpha, ((x, y), tuple(size * 2), turn), 255, 5)
    truth = label(alpha == 0, connectivity=1)
    sizes = np.bincount(truth.ravel())
    thick = cv2.distanceTransform((alpha == 0).astype(np.uint8), cv2.DIST_L2, 5)
    roomy = [part for part in range(1, len(sizes))
             if sizes[part] > 2 * MM * MM and thick[truth == part].max() > 0.9 * MM]
    flats = Flats(gap=0.2).apply(page(alpha)).flats
    found = []
    for part in roomy:
        met = np.bincount(flats[truth == part])
        assert met.max() > 0.999 * sizes[part]
        found.append(int(met.argmax()))
    assert len(set(found)) == len(roomy) > 3


@pytest.mark.parametrize("ppi", [300, 600])
@pytest.mark.parametrize("stated", [0.5, 1.0, 2.0])
def test_a_gap_is_shut_up_to_the_stated_width_and_open_above_it(ppi, stated):
    width = mm_to_px(stated, ppi)
    cell = 1 if ppi == 300 else 2
    for gap, shut in ((int(width) - cell, True), (int(width) + 3 * cell, False)):
        laid = Flats(gap=stated).apply(page(two_rooms(gap, ppi), ppi))
        left, right, outside = areas_at(laid, (20, 20), (40, 20), (2, 2))
        assert (left != right) is shut, gap
        assert outside not in (left, right)


def test_a_gap_that_is_shut_is_parted_within_the_gap():
    alpha = two_rooms(px(0.9)[0])
    flats = Flats(gap=1.0).apply(page(alpha)).flats
    row = px(20.2)[0]
    change = np.flatnonzero(np.diff(flats[row, px(15)[0] : px(45)[0]].astype(int)))
    assert len(change) == 1
    assert abs(change[0] + px(15)[0] - px(30.2)[0]) <= px(0.5)[0]


@pytest.mark.parametrize("grain", [1, 2, 3])
def test_broken_edges_bound_an_area_and_their_grain_is_none(grain):
    alpha = two_rooms(0, thick=0.6)
    holes = np.random.default_rng(grain).random((alpha.shape[0] // grain + 1,
                                                 alpha.shape[1] // grain + 1)) < 0.45
    holes = np.kron(holes, np.ones((grain, grain), bool))[: alpha.shape[0], : alpha.shape[1]]
    alpha[holes] = 0
    laid = Flats(gap=1.0).apply(page(alpha))
    left, right, outside = areas_at(laid, (20, 20), (40, 20), (2, 2))
    assert len({left, right, outside}) == 3
    assert len(laid.palette) == 4  # these three, and the core of solid ink


@pytest.mark.parametrize(("crossed", "spacing"), [
    (False, 0.7), (False, 0.9), (False, 1.3), (True, 1.1), (True, 1.3),
])
def test_gaps_in_hatching_are_no_areas(crossed, spacing):
    alpha = two_rooms(0, thick=0.5)
    left, top, right, bottom = px(10.5, 8.5, 30, 31.5)
    for start in range(left - (bottom - top), right, px(spacing)[0]):
        line = np.zeros_like(alpha)
        cv2.line(line, (start, bottom), (start + bottom - top, top), 255, 2)
        if crossed:
            cv2.line(line, (start, top), (start + bottom - top, bottom), 255, 2)
        alpha[top:bottom, left:right] |= line[top:bottom, left:right]
    laid = Flats().apply(page(alpha))
    inside = laid.flats[top:bottom, left:right]
    assert np.bincount(inside.ravel()).max() > 0.97 * inside.size
    plain, outside = areas_at(laid, (40, 20), (2, 2))
    assert len({int(np.bincount(inside.ravel()).argmax()), plain, outside}) == 3


@pytest.mark.parametrize("size", [0.6, 0.9])
def test_small_areas_join_the_neighbour_of_their_longest_edge(size):
    alpha = two_rooms(0)
    left, top = px(31, 15)
    side = px(size)[0]
    cv2.rectangle(alpha, (left, top), (left + side + 2, top + side + 2), 255, 2)
    laid = Flats(gap=0.1, smallest=1).apply(page(alpha))
    inner = int(laid.flats[top + side // 2, left + side // 2])
    assert inner == areas_at(laid, (40, 20))[0]
    assert len(laid.palette) == 4


@pytest.mark.parametrize("ppi", [300, 600])
@pytest.mark.parametrize(("thick", "trap"), [(2.4, 0.3), (4.0, 0.3), (4.0, 1.0), (1.2, 0.2)])
def test_a_flat_spreads_beneath_solid_ink_by_the_trap(ppi, thick, trap):
    alpha = two_rooms(0, ppi, thick)
    laid = Flats(trap=trap).apply(page(alpha, ppi))
    row = laid.flats[px(20, ppi=ppi)[0]]
    start, line = px(30, ppi=ppi)[0], px(thick, ppi=ppi)[0]
    core = np.flatnonzero(row[start : start + line] == 0)
    assert abs(core[0] - mm_to_px(trap, ppi)) <= 1
    assert abs(line - 1 - core[-1] - mm_to_px(trap, ppi)) <= 1
    assert laid.palette[0] == (0, 0, 0)


@pytest.mark.parametrize("ppi", [300, 600])
@pytest.mark.parametrize("thick", [0.17, 0.34, 0.5])
def test_two_flats_meet_in_the_middle_of_a_line_that_is_thinner_than_two_traps(ppi, thick):
    alpha = two_rooms(0, ppi, thick)
    laid = Flats(trap=0.3).apply(page(alpha, ppi))
    left, right = areas_at(laid, (20, 20), (40, 20))
    row = laid.flats[px(20, ppi=ppi)[0]]
    start, line = px(30, ppi=ppi)[0], px(thick, ppi=ppi)[0]
    beneath = row[start : start + line]
    assert set(beneath.tolist()) == {left, right}
    assert abs((beneath == left).sum() - line / 2) <= (1 if ppi == 300 else 1.5)
    assert (row[start - px(5, ppi=ppi)[0] : start] == left).all()
    assert (row[start + line : start + line + px(5, ppi=ppi)[0]] == right).all()


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
@pytest.mark.parametrize("shape", [(1, 1), (1, 50), (3, 2), (90, 70)])
def test_flats_cover_the_page_whatever_is_on_it(kind, shape):
    full = np.iinfo(kind).max
    rng = np.random.default_rng(2)
    for alpha in (np.zeros(shape, kind), np.full(shape, full, kind),
                  rng.integers(0, int(full) + 1, shape).astype(kind)):
        laid = Flats().apply(page(alpha))
        assert laid.flats.shape == shape
        assert int(laid.flats.max()) < len(laid.palette)
        assert laid.alpha is alpha
        assert len(set(laid.palette)) == len(laid.palette)


def test_deep_pages_give_the_same_areas():
    alpha = two_rooms(3)
    shallow, deep = (Flats().apply(page(a)) for a in (alpha, alpha.astype(np.uint16) * 257))
    assert (shallow.flats == deep.flats).all()


def test_a_seed_colours_an_area_exactly_and_a_join_makes_two_one():
    alpha = two_rooms(0)
    seeds = (((20.0, 20.0), (12, 34, 56)), ((2.0, 2.0), (200, 220, 240)))
    laid = Flats(seeds=seeds, fill=Plain(colour=(250, 250, 250))).apply(page(alpha))
    red, green, blue = composite(laid)
    at = tuple(px(20, 20))
    assert (red[at], green[at], blue[at]) == (12, 34, 56)
    assert laid.palette[areas_at(laid, (40, 20))[0]] == (250, 250, 250)
    joined = Flats(seeds=seeds, joins=(((20.0, 20.0), (40.0, 20.0)),)).apply(page(alpha))
    left, right, outside = areas_at(joined, (20, 20), (40, 20), (2, 2))
    assert left == right != outside
    assert joined.palette[left] == (12, 34, 56)


def test_a_cut_parts_an_area_where_it_was_drawn():
    alpha = two_rooms(0)
    cut = Flats(cuts=(((45.0, 7.0), (45.0, 33.0)),)).apply(page(alpha))
    one, other = areas_at(cut, (40, 20), (48, 20))
    assert one != other
    assert areas_at(cut, (44.8, 20), (45.3, 20)) == [one, other]


def test_places_lie_on_the_scan_whatever_was_cut_and_turned():
    alpha = two_rooms(0)
    step = Flats(seeds=(((20.0, 20.0), (1, 2, 3)),))
    steps = (Crop(left=4, top=3, right=2, bottom=1), Turn(angle=90), Crop(top=5))
    sheet = page(alpha)
    for edit in steps:
        sheet = edit.apply(sheet)
    laid = step.apply(sheet)
    x, y = laid.placing.on_page([(20.0, 20.0)])[0]
    assert laid.palette[areas_at(laid, (x, y))[0]] == (1, 2, 3)
    x, y = laid.placing.on_page([(40.0, 20.0)])[0]
    assert laid.palette[areas_at(laid, (x, y))[0]] != (1, 2, 3)


def test_recolouring_finds_no_area_anew():
    alpha = two_rooms(0)
    first = Flats().apply(page(alpha))
    again = Flats(seeds=(((20.0, 20.0), (1, 2, 3)),)).apply(page(alpha.copy()))
    assert again.flats is first.flats
    assert Flats(gap=2.0).apply(page(alpha)).flats is not first.flats


def test_a_step_survives_its_json():
    step = Flats(fill=Distinct(), seeds=(((1.5, 2.0), (1, 2, 3)),),
                 joins=(((0.0, 1.0), (2.0, 3.0)),), cuts=(((4.0, 5.0), (6.0, 7.5)),))
    steps = StepList("page", (step,))
    assert loads(dumps(steps), table_of_kinds(Flats)) == steps
    assert "1 coloured place" in step.sentence()


@pytest.mark.parametrize("dark", [(10, 10, 10), (90, 20, 20)])
def test_no_pixel_is_lighter_than_what_meets_there(dark):
    # the lighter of ink and of the flats within reach of the pixel, each by its lightest channel
    alpha = cv2.GaussianBlur(two_rooms(4, thick=2.2), (0, 0), 1.2)
    seeds = (((20.0, 20.0), dark), ((40.0, 20.0), (60, 60, 80)), ((2.0, 2.0), (20, 30, 10)))
    laid = Flats(seeds=seeds).apply(page(alpha))
    shown = np.dstack(composite(laid)).max(axis=-1)
    own = np.array(laid.palette).max(axis=-1)[laid.flats].astype(np.uint8)
    lightest = cv2.dilate(own, np.ones((3, 3), np.uint8))
    assert (shown <= lightest).all()
