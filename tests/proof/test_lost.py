"""What would be lost, what is too thin, and ink that is not solid."""

import cv2
import numpy as np
import pytest

from app.proof.lost import thin_lines
from app.proof.prove import Order, prove
from app.proof.solid import find_cores
from core.press.presses import PRESSES, Press
from tests.proof.proof_pages import hatch, paper, scan, strokes, toned


def test_a_hatch_that_the_white_point_eats_is_gone():
    page = hatch(strokes(paper()), 221)
    proof = prove(scan(page), toned(216), Order(Press()))
    gone = [region for region in proof.weak.lost if region.middle[1] > 23]
    assert proof.clean
    assert {region.verdict for region in gone} <= {"gone", "too pale"}
    assert sum(region.area for region in gone) > 20
    kept = prove(scan(page), toned(227), Order(Press()))
    assert kept.weak.lost_area < 0.1 * proof.weak.lost_area


def test_a_stronger_limit_loses_more():
    page = scan(hatch(strokes(paper()), 218))
    holds = {limit: prove(page, toned(226), Order(Press(holds=limit))).weak for limit in (3, 8)}
    assert holds[8].lost_area > holds[3].lost_area + 10


def line_of(points, ppi, *, length=600, slope=0.0):
    """A line of some points across, with soft edges, and its alpha."""
    big = np.zeros((8 * 120, 8 * (length + 200)), np.uint8)
    thick = points / 72 * ppi * 8
    start = np.array([8 * 100.0, 8 * 40.0])
    along = np.array([8.0 * length, 8.0 * length * slope])
    across = np.array([-along[1], along[0]]) / np.hypot(*along) * thick / 2
    corners = np.array([start + across, start + along + across, start + along - across,
                        start - across])
    cv2.fillPoly(big, [np.rint(corners).astype(np.int32)], 255)
    return cv2.resize(big, None, fx=1 / 8, fy=1 / 8, interpolation=cv2.INTER_AREA)


@pytest.mark.parametrize("slope", [0.0, 0.08])
def test_a_line_thinner_than_the_press_holds_is_measured(slope):
    ppi = 1200
    thin, good = (line_of(points, ppi, slope=slope) for points in (0.15, 0.6))
    press = Press(line=0.3)
    found = thin_lines(thin, press, ppi=ppi, ppi_printed=ppi)
    assert found.length == pytest.approx(600 / ppi * 25.4, rel=0.1)
    assert found.regions[0].verdict == "too thin"
    assert thin_lines(good, press, ppi=ppi, ppi_printed=ppi).length == 0


def test_white_lines_need_more():
    ppi = 1200
    white = np.invert(line_of(0.5, ppi))
    press = Press(line=0.25, reversed_line=0.75)
    assert thin_lines(white, press, ppi=ppi, ppi_printed=ppi, reversed_out=True).length > 10
    assert thin_lines(white, Press(), ppi=ppi, ppi_printed=ppi, reversed_out=True).length == 0
    assert thin_lines(white, press, ppi=ppi, ppi_printed=ppi).length == 0


def test_coarse_pixels_are_not_judged():
    assert not thin_lines(np.zeros((9, 9), np.uint8), Press(), ppi=300, ppi_printed=300).judged


def test_specks_and_corners_are_no_lines():
    page = np.zeros((300, 300), np.uint8)
    page[50:250, 50:250] = 255
    page[10:13, 10:13] = 255
    assert thin_lines(page, Press(line=0.5), ppi=1200, ppi_printed=1200).length == 0


def test_the_grain_of_a_dry_stroke_is_a_net_and_no_line():
    net = np.zeros((300, 300), np.uint8)
    net[50:250:10, 50:250] = net[51:250:10, 50:250] = 255
    press = Press(line=0.5)
    assert thin_lines(net, press, ppi=1200, ppi_printed=1200).length > 50, "twenty lines apart"
    net |= net.T
    assert thin_lines(net, press, ppi=1200, ppi_printed=1200).length == 0


def test_cores_below_full_ink_are_found_and_the_black_point_mends_them():
    page = strokes(paper(), tone=60)
    proof = prove(scan(page), toned(226, black=30), Order(Press()))
    assert proof.cores is not None
    assert not proof.cores.solid
    assert proof.cores.share > 0.9
    assert proof.mended is not None
    black, steps = proof.mended
    assert 59 <= black <= 75
    mended = prove(scan(page), steps, Order(Press()))
    assert mended.cores is not None
    assert mended.cores.solid
    assert mended.mended is None


def test_the_black_point_leaves_open_what_dust_on_the_glass_does():
    alpha = np.zeros((100, 140), np.uint8)
    alpha[20:80, 20:120] = 240
    before = np.full((100, 140), 40, np.uint8)
    before[30:40], before[50, 50:60] = 80, 120  # 2 in a thousand of the cores are dust
    found = find_cores(alpha, before, ppi=300, ppi_printed=300, may_print=1)
    assert found.black == 80
    before[45:60, 50:60] = 120
    assert find_cores(alpha, before, ppi=300, ppi_printed=300, may_print=1).black == 120


@pytest.mark.parametrize(("white", "press", "solid"), [
    (0.8, "coated", True), (2.0, "coated", False), (2.0, "stencil duplicator", True)])
def test_white_in_ink_smaller_than_any_dot_that_may_print_closes_up(white, press, solid):
    alpha = np.zeros((100, 140), np.uint8)
    alpha[20:80, 20:120] = round(255 * (1 - white / 100))
    found = find_cores(alpha, np.full((100, 140), 40, np.uint8), ppi=300, ppi_printed=300,
                       may_print=PRESSES[press].may_print)
    assert found.solid is solid


def test_solid_ink_is_left_alone():
    proof = prove(scan(strokes(paper(), tone=20)), toned(226), Order(Press()))
    assert proof.cores is not None
    assert proof.cores.solid


def test_a_pencil_page_has_no_cores_to_mend():
    proof = prove(scan(hatch(paper(), 150)), toned(226), Order(Press()))
    assert proof.suggested[0] == "grey"
    assert proof.cores is None


def test_no_cores_on_an_empty_page():
    found = find_cores(
        np.zeros((40, 40), np.uint8), None, ppi=300, ppi_printed=300, may_print=1)
    assert found.area == found.share == 0
    assert found.solid
