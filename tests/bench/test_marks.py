"""The mark that is shown before a click is the one that the step then reaches."""

import numpy as np
import pytest

from app.bench.state.marks import Marks, marks_before
from app.bench.state.placing import Ruler
from app.bench.state.scale import ONE, Scale, View
from app.filters.keep_marks import KeepMarks
from app.filters.overrule import LetStand, TakeOut
from app.filters.reach import Mark, Outline, reached
from core.sheet import Sheet


def drawn(dtype=np.uint8, ppi=254):
    page = np.full((300, 400), 236, np.uint8)
    page[40:44, 20:380] = page[40:200, 200:204] = 30  # a cross
    page[250:253, 20:180] = 90
    page[10, 10] = 40
    full = np.iinfo(dtype).max
    return Sheet(ppi=ppi, grey=(page.astype(np.int64) * (full // 255)).astype(dtype))


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
@pytest.mark.parametrize("ppi", [100, 254, 600])
def test_the_mark_found_is_the_one_that_the_step_reaches(dtype, ppi):
    sheet = drawn(dtype, ppi)
    marks, ruler = Marks(sheet), Ruler.of(sheet)
    view = View((400, 300), (400, 300), ONE, fitted=False)
    for spot in ((100, 42), (100, 45), (202.5, 190), (60, 251), (300, 42), (10.5, 10.5)):
        seen = marks.seen(spot, view)
        reach = reached(Mark(at=ruler.on_scan((spot,))[0]), sheet) > 0
        assert (seen is not None) == reach.any()
        if seen is None:
            continue
        left, top = seen.place
        found = np.zeros(reach.shape, bool)
        found[top : top + seen.share.shape[0], left : left + seen.share.shape[1]] = seen.share > 0
        assert found.any()
        assert not (found & ~reach).any()  # the step takes its pale rim too, and no more
        core = sheet.grey < np.iinfo(dtype).max // 2
        assert np.array_equal(found & core, reach & core)


def test_where_no_mark_is_near_none_is_found():
    marks = Marks(drawn())
    view = View((400, 300), (400, 300), ONE, fitted=False)
    assert marks.near((300, 150)) is None
    assert marks.seen((300, 150), view) is None
    assert marks.seen((100, 42), view) is not None
    blank = Marks(Sheet(ppi=300, grey=np.full((3, 5), 255, np.uint8)))
    assert blank.near((2, 1)) is None


@pytest.mark.parametrize("scale", [ONE, Scale(up=3), Scale(block=2), Scale(block=3, parts=100)])
def test_it_lies_on_the_screen_where_the_page_does(scale):
    marks = Marks(drawn())
    view = View((200, 150), (400, 300), scale, -37, -11, fitted=False)
    seen = marks.seen((100, 42), view)
    left, top = seen.place
    height, width = seen.share.shape
    value = scale.value
    assert width <= 200 + 2 * max(value, 1)  # no more is made than is seen
    column = max(30, view.seen.left / value + 5)
    assert seen.share[round(42 * value) - top, round(column * value) - left] > 0
    assert height == pytest.approx(min(160 * value, view.seen.bottom - top), abs=value + 2)


def test_marks_are_looked_for_on_the_page_as_the_step_meets_it():
    sheet = drawn()
    gone = TakeOut(area=Outline(corners=((0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (0.0, 60.0))))
    out = marks_before(sheet, (gone, TakeOut()), 1)
    assert out.near((100, 42)) is None
    back = marks_before(sheet, (KeepMarks(), gone, LetStand()), 2)
    assert back.near((100, 42)) is not None
