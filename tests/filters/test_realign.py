"""A page scanned again: turned, shifted, at another resolution."""

import cv2
import numpy as np
import pytest

from app.filters.flats import Flats
from app.filters.holds import Hold
from app.filters.overrule import TakeOut
from app.filters.reach import Brush, Outline
from app.filters.realign import find_placing, moved
from core.placing import AS_SCANNED
from core.sheet import Sheet


def drawing(ppi, placing=AS_SCANNED, seed=3):
    """An 80 x 60 mm page of some lines, each of its places moved by the placing."""
    rng = np.random.default_rng(seed)
    alpha = np.zeros((round(60 / 25.4 * ppi), round(80 / 25.4 * ppi)), np.uint8)
    for _ in range(12):
        path = placing.on_page(rng.uniform((10, 10), (70, 50), (3, 2))) / 25.4 * ppi - 0.5
        cv2.polylines(alpha, [np.rint(path * 16).astype(np.int32)], False, 255,
                      max(2, round(0.5 / 25.4 * ppi)), cv2.LINE_AA, 4)
    return Sheet(ppi=ppi, alpha=alpha)


@pytest.mark.parametrize(("degrees", "right", "down"), [
    (0, 0, 0), (0, 3.2, -1.7), (1.5, -2.0, 0.5), (-2.0, 1.0, 2.5),
])
@pytest.mark.parametrize("ppi", [150, 300])
def test_the_drawing_is_found_again_to_a_tenth_of_a_millimetre(degrees, right, down, ppi):
    placing = AS_SCANNED.turned(degrees, (40.0, 30.0)).shifted(right, down)
    found = find_placing(drawing(150), drawing(ppi, placing))
    places = np.array([(10.0, 10.0), (70.0, 10.0), (40.0, 50.0)])
    assert np.abs(found.on_page(places) - placing.on_page(places)).max() < 0.1


def test_another_drawing_is_not_taken_for_it():
    assert find_placing(drawing(150), drawing(150, seed=8)) is None
    assert find_placing(drawing(150), Sheet(ppi=150, alpha=np.zeros((90, 90), np.uint8))) is None


def test_every_place_of_a_step_moves():
    placing = AS_SCANNED.shifted(1.0, 2.0)
    flats = moved(Flats(seeds=(((1.0, 1.0), (1, 2, 3)),), joins=(((0.0, 0.0), (5.0, 5.0)),),
                        cuts=(((2.0, 2.0), (3.0, 3.0)),)), placing)
    assert flats.seeds == (((2.0, 3.0), (1, 2, 3)),)
    assert flats.joins == (((1.0, 2.0), (6.0, 7.0)),)
    assert flats.cuts == (((3.0, 4.0), (4.0, 5.0)),)
    held = moved(Hold(area=Brush(strokes=(((4.0, 4.0),),))), placing)
    assert held.area.strokes == (((5.0, 6.0),),)
    box = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0))
    shifted = ((1.0, 2.0), (2.0, 2.0), (2.0, 3.0))
    assert moved(TakeOut(area=Outline(corners=box)), placing).area.corners == shifted
