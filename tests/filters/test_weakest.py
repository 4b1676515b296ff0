"""Ink without the pencil beneath it: where the pale is cut, and what of the ink stays."""

import cv2
import numpy as np
import pytest

from app.filters.keep_marks import Dark, KeepMarks
from app.filters.weakest import about_dark
from core.matte import to_depth
from core.sheet import Sheet
from core.units import mm_to_px
from tests.strategies import DEPTHS

PAPER, INK, PENCIL = 230.0, 40.0, 178.0


def crossed(ppi, along=0.0):
    """A pen line across pencil lines, or ``along`` mm beside one, blurred as by a lens."""
    scale = ppi / 25.4
    tones = np.full((round(20 * scale), round(30 * scale)), PAPER, np.float32)
    if along:
        lines(tones, [10 + along], PENCIL, scale, axis=0)
    else:
        lines(tones, [6, 12, 18, 24], PENCIL, scale, axis=1)
    lines(tones, [10], INK, scale, axis=0)
    noise = np.random.default_rng(1).normal(0, 2.5, tones.shape)
    soft = cv2.GaussianBlur(tones, (0, 0), 0.04 * scale) + cv2.GaussianBlur(noise, (0, 0), 0.7)
    return np.clip(np.rint(soft), 0, 255).astype(np.uint8)


def lines(tones, places, tone, scale, axis):
    """Lines 0.5 mm wide across a page, at places in mm down (axis 0) or across."""
    for place in places:
        at = slice(round((place - 0.25) * scale), round((place + 0.25) * scale))
        np.moveaxis(tones, axis, 0)[at] = tone


def kept(plane, ppi, **fields):
    return KeepMarks(**fields).apply(Sheet(ppi=ppi, grey=plane)).grey


@pytest.mark.parametrize("ppi", [150, 300, 400, 600])
def test_pencil_that_crosses_ink_leaves_no_stub(ppi):
    page = crossed(ppi)
    both, ink = kept(page, ppi), kept(page, ppi, weakest=Dark(share=45))
    row = np.arange(len(page)) / mm_to_px(1, ppi) - 10
    column = round(mm_to_px(12, ppi))
    stub = (np.abs(row) > 0.25 + 0.13 + 25.4 / ppi) & (np.abs(row) < 3)
    assert (both[stub, column] < 255).all()
    assert (ink[stub, column] == 255).all()


@pytest.mark.parametrize("ppi", [300, 600])
def test_pencil_that_runs_beside_ink_leaves_no_rim(ppi):
    page = crossed(ppi, along=0.5)
    both, ink = kept(page, ppi), kept(page, ppi, weakest=Dark(share=45))
    beside = slice(round(mm_to_px(10.5, ppi)), round(mm_to_px(10.65, ppi)))
    assert (both[beside] < 255).mean() > 0.95
    assert (ink[beside] == 255).mean() > 0.95


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize("along", [0.0, 0.5])
def test_the_ink_keeps_its_own_edge(along, dtype):
    page = to_depth(crossed(300, along), np.iinfo(dtype).bits)
    ink = kept(page, 300, weakest=Dark(share=45))
    line = slice(round(mm_to_px(9.72, 300)), round(mm_to_px(10.28, 300)))
    assert (ink[line] == page[line])[:, 5:-5].all()


def test_the_grain_of_a_dry_brush_stays_however_pale_it_is_on_the_whole():
    random = np.random.default_rng(2)
    page = random.integers(228, 233, (240, 360), np.uint8)
    grain = random.random((40, 300)) < 0.2
    page[100:140, 30:330][grain] = 40
    assert page[100:140, 30:330].mean() > 0.8 * PAPER
    both, ink = kept(page, 300), kept(page, 300, weakest=Dark(share=45))
    assert (both[100:140, 30:330][grain] == 40).mean() > 0.99
    assert (ink == both)[both == 40].all()


def test_a_paler_mark_goes_whole():
    page = crossed(300)
    page[page < 150] = int(PAPER)
    assert (kept(page, 300)[:, round(mm_to_px(12, 300))] < 255).mean() > 0.9
    assert (kept(page, 300, weakest=Dark(share=45)) == 255).all()


def test_as_many_threads_as_there_are_say_the_same():
    page = crossed(400)
    before = cv2.getNumThreads()
    made = []
    for threads in (1, 3):
        cv2.setNumThreads(threads)
        made.append(about_dark(page, 126, 400))
    cv2.setNumThreads(before)
    assert (made[0] == made[1]).all()
