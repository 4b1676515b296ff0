"""Where the trim lies: panel borders, corner marks, the sheet; ink that ends before the bleed."""

import cv2
import numpy as np
import pytest

from app.pages.trims import TrimRule, find_trim, ink_at_trim

PPI = 300


def px(mm):
    return round(mm / 25.4 * PPI)


def blank(width=148, height=210):
    return np.zeros((px(height), px(width)), np.uint8)


def bordered(left, top, right, bottom, *, tilt=0.0):
    """A page of two panels within a box, in mm, and a figure inside them."""
    page = blank()
    middle = (top + bottom) / 2
    for up, down in ((top, middle - 2), (middle + 2, bottom)):
        cv2.rectangle(page, (px(left), px(up)), (px(right) - 1, px(down) - 1), 255, 8)
    cv2.circle(page, (px((left + right) / 2), px(middle - 30)), px(15), 255, 6)
    if tilt:
        turn = cv2.getRotationMatrix2D((page.shape[1] / 2, page.shape[0] / 2), tilt, 1)
        page = cv2.warpAffine(page, turn, page.shape[::-1])
    return page


@pytest.mark.parametrize("tilt", [0.0, 0.3])
def test_panel_borders_are_found(tilt):
    page = bordered(20, 25, 128, 190, tilt=tilt)
    frame = find_trim(page, PPI, TrimRule("borders")).frame
    # the outer edges of lines of 8 pixels; on a page out of square, the box round them
    wide = (165 if tilt else 0) * np.tan(np.radians(tilt)), 108 * np.tan(np.radians(tilt))
    assert frame == pytest.approx((19.7 - wide[0] / 2, 24.7 - wide[1] / 2, 108.7 + wide[0],
                                   165.7 + wide[1]), abs=0.6)


def test_a_trim_of_a_stated_size_is_centred_on_them():
    rule = TrimRule("borders", width=120, height=180, nudge=(1.5, -2))
    frame = find_trim(bordered(20, 25, 128, 190), PPI, rule).frame
    assert frame == pytest.approx((14 + 1.5, 17.5 - 2, 120, 180), abs=0.4)


def test_the_sheet_is_as_large_as_its_pixels_say():
    # at 150 ppi, where trims are looked for, neither side is whole pixels
    frame = find_trim(np.zeros((701, 495), np.uint8), 210, TrimRule("sheet")).frame
    assert frame == pytest.approx((0, 0, 495 / 210 * 25.4, 701 / 210 * 25.4))


def test_left_pages_mirror_the_nudge_where_the_book_does():
    page = bordered(20, 25, 128, 190)
    right = find_trim(page, PPI, TrimRule("borders", nudge=(3, 0), mirrored=True)).frame
    left = find_trim(page, PPI, TrimRule("borders", nudge=(3, 0), mirrored=True),
                     left_page=True).frame
    plain = find_trim(page, PPI, TrimRule("borders", nudge=(3, 0)), left_page=True).frame
    assert right[0] - left[0] == pytest.approx(6)
    assert plain == right


def corner_marks(page, left, top, right, bottom, reach=6, gap=2):
    for x, away in ((left, -1), (right, 1)):
        for y, down in ((top, -1), (bottom, 1)):
            far_x, far_y = px(x + away * (gap + reach)), px(y + down * (gap + reach))
            cv2.line(page, (px(x), px(y + down * gap)), (px(x), far_y), 255, 2)
            cv2.line(page, (px(x + away * gap), px(y)), (far_x, px(y)), 255, 2)
    return page


def test_corner_marks_are_found():
    page = corner_marks(bordered(40, 50, 110, 160), 20, 25, 128, 190)
    frame = find_trim(page, PPI, TrimRule("corners")).frame
    assert frame == pytest.approx((20, 25, 108, 165), abs=0.3)


def test_the_sheet_itself():
    frame = find_trim(blank(), PPI, TrimRule("sheet", width=140, height=200)).frame
    assert frame == pytest.approx((4, 5, 140, 200), abs=0.1)


@pytest.mark.parametrize("by", ["borders", "corners"])
def test_a_page_without_them_is_flagged(by):
    page = blank()
    cv2.circle(page, (600, 900), 300, 255, 9)
    cv2.line(page, (100, 400), (900, 400), 255, 9)
    found = find_trim(page, PPI, TrimRule(by))
    assert found.frame is None
    assert "by hand" in found.why


def test_ink_over_the_trim_reaches_the_bleed_or_is_told():
    page = blank()
    frame = (20.0, 25.0, 100.0, 150.0)
    page[px(60) : px(80), px(10) : px(60)] = 255  # out past the bleed at the left
    page[px(100) : px(110), px(90) : px(121)] = 255  # one mm over at the right
    page[px(26) : px(40), px(50) : px(70)] = 255  # one mm short of the top
    sides = {found.side: found for found in ink_at_trim(page, PPI, frame, 3)}
    assert set(sides) == {"left", "right"}
    assert sides["left"].crosses == pytest.approx(20, abs=0.4)
    assert sides["left"].stops == 0
    assert sides["right"].crosses == sides["right"].stops == pytest.approx(10, abs=0.4)


def test_a_slanted_line_that_goes_on_is_no_fault():
    page = blank()
    cv2.line(page, (px(10), px(60)), (px(40), px(70)), 255, 6)
    [found] = ink_at_trim(page, PPI, (20, 25, 100, 150), 3)
    assert found.side == "left"
    assert found.stops == 0


@pytest.mark.parametrize("slope", [0.3, 0.9, -0.9])
@pytest.mark.parametrize("goes_on", [True, False])
def test_a_line_at_any_slope_is_followed_to_the_bleed(slope, goes_on):
    page = blank()
    end = 13 if goes_on else 18.5
    cv2.line(page, (px(end), px(80 + (end - 20) * slope)), (px(40), px(80 + 20 * slope)), 255, 6)
    [found] = ink_at_trim(page, PPI, (20, 25, 100, 150), 4)
    assert (found.stops == 0) == goes_on
    if not goes_on:
        assert found.short[0][0] == pytest.approx(80, abs=1)


def test_a_small_page_with_a_broad_bleed_is_judged():
    page = np.zeros((px(20), px(60)), np.uint8)
    page[px(8) : px(10), px(35) : px(50)] = 255
    [found] = ink_at_trim(page, PPI, (40, 1, 15, 18), 30)
    assert (found.side, found.stops) == ("left", pytest.approx(2, abs=0.3))


def test_a_ragged_edge_is_short_where_it_is_short():
    page = blank()
    page[px(60) : px(120), px(18) : px(60)] = 255
    page[px(60) : px(80), px(10) : px(60)] = 255
    [found] = ink_at_trim(page, PPI, (20, 25, 100, 150), 3)
    assert found.crosses == pytest.approx(60, abs=0.5)
    assert 34 < found.stops < 40
    [(_, end)] = found.short
    assert end == pytest.approx(120, abs=0.3)


def test_a_bleed_beyond_the_scan_cannot_be_reached():
    page = np.full((px(100), px(80)), 255, np.uint8)
    found = ink_at_trim(page, PPI, (0, 0, 80, 100), 3)
    assert {one.side for one in found} == {"left", "right", "top", "bottom"}
    assert all(one.stops == one.crosses > 70 for one in found)
