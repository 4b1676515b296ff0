"""Folding a list over a page: fused, by bands, settled, and never touching its input."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from app.filters.even_light import EvenLight
from app.filters.straighten import Given, Straighten
from app.kinds import KINDS
from core.fault import Cancelled, Refused
from core.light import grey_of
from core.sheet import BAND_ROWS, Sheet, whole
from core.steps.build_up import BuildUp
from core.steps.crop import Crop
from core.steps.fold import Folded, fold, fuse, replay
from core.steps.grey import Grey, Pencil
from core.steps.lift import Lift, One, Over, Own
from core.steps.steplist import Nested, StepList
from core.steps.tone import Fixed, Following, Tone
from core.steps.turn import Turn
from tests.strategies import DEPTHS, depths, every_value, pointwise_steps, rgb, table_steps


def planes_of(sheet):
    return {name: plane for name in ("grey", "colour", "alpha")
            if (plane := getattr(sheet, name)) is not None}


def assert_same(one, other):
    """The two sheets are equal to the byte."""
    assert planes_of(one).keys() == planes_of(other).keys()
    for name, plane in planes_of(one).items():
        assert plane.dtype == planes_of(other)[name].dtype
        assert np.array_equal(plane, planes_of(other)[name]), name
    assert (one.ink, one.ppi) == (other.ink, other.ppi)


def step_by_step(steps, plane, *, lifted):
    """What table steps mean, one at a time: grey is changed, and alpha as the darkness it is."""
    full = np.iinfo(plane.dtype).max
    for step in steps:
        table = step.table(full)
        if step.lifts_in is None:
            plane = full - table[full - plane] if lifted else table[plane]
        elif not lifted:
            plane, lifted = table[plane], True
    return plane.astype(table.dtype) if steps else plane, lifted


@settings(max_examples=150)
@given(st.lists(table_steps(), max_size=6), depths, st.booleans())
def test_fused_tables_are_step_by_step_byte_for_byte(steps, dtype, lifted):
    plane = every_value(dtype)
    expected, is_lifted = step_by_step(steps, plane, lifted=lifted)
    start = Sheet(ppi=300, **{"alpha" if lifted else "grey": plane})
    done = fold(steps, start)
    assert np.array_equal(done.alpha if is_lifted else done.grey, expected)
    assert (done.grey is None) == is_lifted
    one_at_a_time = start
    for step in steps:
        one_at_a_time = fold([step], one_at_a_time)
    assert_same(done, one_at_a_time)
    table = fuse(tuple(steps), done.full, lifted=lifted)
    assert table.dtype == dtype
    assert np.array_equal(table[plane], expected)


@given(st.lists(table_steps(), max_size=4), hnp.arrays(np.uint8, (4, 5, 3)))
def test_tables_on_a_colour_scan_start_from_its_luma(steps, colour):
    scan = Sheet(ppi=300, colour=colour)
    done = fold(steps, scan)
    grey = fold(steps, Sheet(ppi=300, grey=grey_of(colour)))
    for name in planes_of(done).keys() & planes_of(grey).keys():
        assert np.array_equal(getattr(done, name), getattr(grey, name))


def test_the_last_lift_gives_the_ink_its_colour():
    steps = [Lift(ink=One(colour=(1, 1, 1))), Tone(), Lift(ink=One(colour=(2, 2, 2))), BuildUp()]
    page = Sheet(ppi=300, grey=every_value(np.uint8))
    assert fold(steps, page).ink == (2, 2, 2)
    assert np.array_equal(fold(steps, page).alpha, fold([Lift(), Tone(), BuildUp()], page).alpha)


@st.composite
def pages(draw):
    """A scan in grey or colour at either depth, 1 to 40 rows high."""
    dtype, shape = draw(depths), (draw(st.integers(1, 40)), draw(st.integers(1, 5)))
    colour = draw(st.booleans())
    plane = draw(hnp.arrays(dtype, (*shape, 3) if colour else shape))
    return Sheet(ppi=300, **{"colour" if colour else "grey": plane})


@settings(max_examples=200)
@given(st.lists(pointwise_steps(), max_size=5), pages(), st.data())
def test_bands_are_the_whole_page_byte_for_byte(steps, page, data):
    entire = fold(steps, page)
    inner = st.lists(st.integers(0, page.height), max_size=4)
    cuts = sorted({0, page.height, *data.draw(inner)})
    seen = Folded(page, tuple(steps))
    bands = [seen.rows(top, bottom) for top, bottom in pairwise(cuts)]
    joined = replace(bands[0], **{
        name: np.concatenate([getattr(band, name) for band in bands])
        for name in planes_of(bands[0])
    })
    assert_same(joined, entire)
    assert seen.shape == page.shape


@given(st.lists(pointwise_steps(), min_size=1, max_size=4), pages())
def test_the_input_is_never_changed(steps, page):
    before = {name: plane.copy() for name, plane in planes_of(page).items()}
    fold(steps, page)
    whole(replay(StepList("", tuple(steps)), page).page)
    for name, plane in planes_of(page).items():
        assert np.array_equal(plane, before[name])


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "list"])
def test_no_kind_of_step_changes_its_input(kind):
    colour = np.random.default_rng(3).integers(60, 240, (90, 70, 3)).astype(np.uint8)
    grey, kept = grey_of(colour), colour.copy()
    page = Sheet(ppi=150, colour=colour, grey=grey)
    step = Straighten(angle=Given(degrees=3)) if kind == "straighten" else KINDS[kind]()
    whole(replay(StepList("", (step,)), page).page)
    assert np.array_equal(colour, kept)
    assert np.array_equal(grey, grey_of(kept))


def every_step():
    """A list with each kind of step in it, lists in lists too."""
    return StepList("everything", (
        Turn(angle=90), Straighten(angle=Given(degrees=1.5)), Crop(left=0.01), EvenLight(),
        Nested(list=StepList("tones", (
            Grey(drop=Pencil()), Tone(points=Following(black=30, white=215, paper=230)),
        ))),
        Tone(points=Fixed(black=5, white=250)), BuildUp(times=1.5), Lift(ink=Own()),
        Tone(points=Following(black=10, white=240)), BuildUp(), Lift(ink=One(colour=(9, 9, 9))),
    ))


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize("shape", [(1, 1), (1, 9), (9, 1), (140, 33)])
@pytest.mark.parametrize("colour", [True, False])
def test_every_step_goes_over_any_page(shape, dtype, colour):
    random = np.random.default_rng(7)
    plane = random.integers(0, np.iinfo(dtype).max + 1, (*shape, 3) if colour else shape)
    page = Sheet(ppi=300, **{"colour" if colour else "grey": plane.astype(dtype)})
    done = whole(replay(every_step(), page).page)
    assert done.shape == shape[::-1]
    assert done.alpha.dtype == dtype
    assert done.ink == (9, 9, 9)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "list"])
@pytest.mark.parametrize("dtype", DEPTHS)
def test_each_kind_alone_goes_over_one_grey_pixel(kind, dtype):
    step = Straighten(angle=Given(degrees=3)) if kind == "straighten" else KINDS[kind]()
    done = whole(replay(StepList("", (step,)), Sheet(ppi=300, grey=np.array([[9]], dtype))).page)
    assert done.shape == (1, 1)
    assert done.full == np.iinfo(dtype).max


LINE = StepList("", (Tone(points=Fixed(black=40, white=215)), Lift()))


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize("colour", [True, False])
def test_a_blank_page_gives_an_empty_matte_and_a_black_one_a_full(dtype, colour):
    unit = np.iinfo(dtype).max // 255
    shape = (200, 30, 3) if colour else (200, 30)
    plane = {"colour" if colour else "grey": np.full(shape, 231 * unit, dtype)}
    assert (whole(replay(LINE, Sheet(ppi=300, **plane)).page).alpha == 0).all()
    plane = {name: np.zeros_like(blank) for name, blank in plane.items()}
    full = whole(replay(LINE, Sheet(ppi=300, **plane)).page).alpha
    assert (full == np.iinfo(dtype).max).all()


@pytest.mark.parametrize("ink", [One(), Own()])
def test_a_blank_page_gives_an_empty_matte_after_even_light_and_following_tones(ink):
    random = np.random.default_rng(1)
    page = Sheet(ppi=150, colour=np.full((300, 200, 3), (231, 228, 220), np.uint8)
                 + random.integers(0, 3, (300, 200, 3)).astype(np.uint8))
    steps = StepList("", (
        EvenLight(), Tone(points=Following(black=40, white=215, paper=230)), Lift(ink=ink),
    ))
    assert (whole(replay(steps, page).page).alpha == 0).all()


class Counting:
    """A page that counts how often each of its rows is read."""

    def __init__(self, sheet):
        self.sheet = sheet
        self.read = np.zeros(sheet.height, int)

    @property
    def shape(self):
        return self.sheet.shape

    def rows(self, top, bottom):
        self.read[top:bottom] += 1
        return self.sheet.rows(top, bottom)


def drawn(shape=(300, 60)):
    random = np.random.default_rng(5)
    grey = np.clip(np.rint(random.normal(221, 3, shape)), 0, 255).astype(np.uint8)
    grey[100:130] = 30
    return Sheet(ppi=300, grey=grey)


def test_nothing_is_read_before_it_is_asked_for_where_nothing_follows():
    page = Counting(drawn())
    seen = replay(LINE, page)
    assert page.read.max() == 0
    seen.page.rows(10, 20)
    assert page.read[10:20].tolist() == [1] * 10
    assert page.read.sum() == 10


def test_the_paper_is_measured_once_and_mapped_along():
    following = Tone(points=Following(black=20, white=220, paper=230))
    page = Counting(drawn())
    settled = replay(StepList("", (following, BuildUp(), following, Lift())), page).settled
    assert page.read.max() == 1
    first, _, second, _ = settled.steps
    assert first.points.white == pytest.approx(220 * 221 / 230, abs=0.5)
    # after the first tone and the build-up the paper is white
    assert second.points.white == pytest.approx(220 * 255 / 230, abs=0.5)


def test_the_paper_is_measured_again_after_a_new_grey():
    colour = np.full((50, 50, 3), (240, 200, 160), np.uint8)
    tone = Tone(points=Following(black=0, white=100, paper=200))
    steps = StepList("", (tone, Grey(red=0, green=0, blue=100), tone))
    settled = replay(steps, Sheet(ppi=300, colour=colour)).settled.steps
    assert settled[0].points.white == pytest.approx(104, abs=1)  # luma of 207
    assert settled[2].points.white == pytest.approx(80, abs=1)  # blue of 160


def test_the_paper_is_measured_after_even_light_not_before():
    shaded = (np.linspace(150, 190, 300)[:, None] * np.ones(200)).astype(np.uint8)
    steps = StepList("", (EvenLight(), Tone(points=Following(white=200, paper=200)), Lift()))
    settled = replay(steps, Sheet(ppi=100, grey=shaded)).settled.steps
    assert settled[1].points.white == pytest.approx(230, abs=3)


@given(st.lists(pointwise_steps(), max_size=4), pages(), rgb)
def test_replaying_the_settled_list_gives_the_same_page(steps, page, clear):
    followed = StepList("named", (
        *steps, Tone(points=Following(black=20)), Lift(ink=Own()), Lift(ink=Over(clear=clear)),
    ))
    once = replay(followed, page)
    again = replay(once.settled, page)
    assert_same(whole(once.page), whole(again.page))
    assert again.settled == once.settled
    assert once.settled.name == "named"
    assert not any(step.needs_paper for step in once.settled.steps)


def test_before_has_the_results_shape_and_the_tones_that_were_set():
    seen = replay(StepList("", (Turn(), *LINE.steps)), drawn())
    assert seen.before.shape == seen.page.shape == (60, 300)
    assert np.array_equal(whole(seen.before).grey, np.rot90(drawn().grey, -1))
    untouched = drawn()
    assert replay(LINE, untouched).before is untouched


def test_a_list_of_nothing_is_the_page():
    page = drawn()
    seen = replay(StepList("", (Turn(on=False),)), page)
    assert seen.page is page
    assert seen.settled == StepList("")
    assert_same(fold([], page), page)


def backwards(work, spans):
    """A ``map`` that does the last band first, and gives them in order."""
    done = {span: work(span) for span in reversed(list(spans))}
    return [done[span] for span in sorted(done)]


@pytest.mark.parametrize("colour", [True, False])
def test_order_and_threads_change_nothing(colour):
    shape = (2 * BAND_ROWS + 40, 50)
    plane = np.random.default_rng(8).integers(0, 256, (*shape, 3) if colour else shape)
    page = Sheet(ppi=300, **{"colour" if colour else "grey": plane.astype(np.uint8)})
    steps = every_step()
    plain = whole(replay(steps, page).page)
    with ThreadPoolExecutor(3) as pool:
        assert_same(whole(replay(steps, page, pool.map).page, pool.map), plain)
    assert_same(whole(replay(steps, page, backwards).page, backwards), plain)


def test_a_step_that_cannot_be_done_is_refused():
    with pytest.raises(Refused, match="nothing of the page"):
        replay(StepList("", (Crop(left=500),)), drawn())


def test_measuring_is_watched_and_may_be_stopped():
    steps = StepList("", (Tone(points=Following()), Lift()))
    seen = []
    replay(steps, drawn(), watch=lambda done, total: seen.append((done, total)))
    assert seen == [(128, 300), (256, 300), (300, 300)]

    def stop(done, total):
        raise Cancelled

    with pytest.raises(Cancelled):
        replay(steps, drawn(), watch=stop)
