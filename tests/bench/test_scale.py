"""Views: fitting, zooming about a point, pushing, keeping one's place on another page."""

from hypothesis import given
from hypothesis import strategies as st

from app.bench.state.scale import ONE, Scale, View, fit, next_scale, scale_below

sizes = st.tuples(st.integers(60, 3000), st.integers(60, 3000))
pages = st.tuples(st.integers(1, 12_000), st.integers(1, 12_000))


@given(sizes, pages)
def test_a_fitted_page_lies_whole_in_its_room(room, page):
    view = fit(room, page)
    width, height = view.size
    assert width <= room[0]
    assert height <= room[1]
    assert view.left >= 0
    assert view.left + width <= room[0]
    assert view.seen.width == width
    assert view.seen.height == height


@given(sizes, st.tuples(st.integers(500, 12_000), st.integers(500, 12_000)))
def test_a_fitted_page_fills_its_room(room, page):
    view = fit(room, page)
    wanted = min(room[0] / page[0], room[1] / page[1], 1.0)
    assert view.scale.value > 0.97 * wanted


@given(sizes, st.floats(0, 1), st.floats(0, 1))
def test_zooming_keeps_the_point_under_the_pointer(room, across, down):
    view = fit(room, (8000, 8000)).zoomed(ONE, room[0] / 2, room[1] / 2)
    x, y = across * room[0], down * room[1]
    nearer = view.zoomed(next_scale(view.scale, larger=True), x, y)
    before, after = view.page_at(x, y), nearer.page_at(x, y)
    assert abs(before[0] - after[0]) <= 1
    assert abs(before[1] - after[1]) <= 1


@given(st.floats(0.02, 20))
def test_steps_of_zoom_go_up_and_down_and_end(start):
    scale = scale_below(start)
    larger, smaller = next_scale(scale, larger=True), next_scale(scale, larger=False)
    assert larger.value > scale.value or scale.value >= 32
    assert smaller.value < scale.value or scale.value <= 1 / 32 + 1e-9


def test_pushing_stops_before_the_page_is_out_of_sight():
    view = fit((400, 300), (4000, 3000)).zoomed(ONE, 200, 150)
    far = view.pushed(100_000, 100_000)
    assert far.left <= 400 // 3
    assert far.seen.width > 200


def test_place_and_zoom_are_kept_on_another_page():
    view = fit((400, 300), (4000, 3000)).zoomed(Scale(up=2), 200, 150).pushed(-300, -100)
    other = view.placed((400, 300), (4000, 2900))
    assert (other.scale, other.left, other.top) == (view.scale, view.left, view.top)


def test_a_fitted_page_stays_fitted_in_a_wider_window():
    view = fit((400, 300), (4000, 3000)).placed((800, 600), (4000, 3000))
    assert view.fitted
    assert view.scale.value == 0.2


def test_the_middle_stays_in_the_middle_when_the_window_grows():
    view = View((400, 300), (4000, 3000), ONE, -1000, -900, fitted=False)
    grown = view.placed((800, 700), (4000, 3000))
    assert grown.page_at(400, 350) == view.page_at(200, 150)


def test_what_is_seen_is_held_to_the_page():
    view = View((400, 300), (100, 50), ONE, 150, 125)
    assert (view.seen.left, view.seen.right, view.seen.top, view.seen.bottom) == (0, 100, 0, 50)
