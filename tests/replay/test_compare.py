"""Which pages stand apart, from real scans and from looks made up."""

import gc
import weakref
from dataclasses import replace as changed

import numpy as np
import pytest
from PIL import Image

from app.kinds import KINDS
from app.pages.listing import list_pages
from app.pages.read import read
from app.replay.book import hold_back, plan_job
from app.replay.compare import flags, usual
from app.replay.figures import Look, Sampler, survey_look
from app.replay.job import Job, JobPage
from app.replay.journal import Journal
from app.replay.page import lifted
from app.replay.run import Outcome, run
from core.readings import measure_cover, survey
from core.sheet import spans
from core.steps.build_up import BuildUp
from core.steps.fold import replay
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from tests.replay.conftest import FORMS, STEPS, draw, draw_book, outcomes, planned

PAGE = Look(width=2480, height=3508, ppi=300, bits=8, paper=232, noise=2.5, ink=24, dark=0.05,
            sketch="")


def kinds(look, **recorded):
    return [flag.kind for flag in flags([look], **({"recorded_on": PAGE} | recorded))[0]]


@pytest.mark.parametrize(("change", "found"), [
    ({}, []), ({"paper": 226}, []), ({"paper": 222}, ["paper"]), ({"paper": 241}, ["paper"]),
    ({"noise": 7}, ["grain"]), ({"noise": 4}, []), ({"ink": 60}, ["ink"]), ({"ink": None}, []),
    ({"bits": 16}, ["depth"]), ({"width": 2500, "height": 3480}, []),
    ({"ppi": 150}, ["resolution", "size"]),
    ({"ppi": 150, "width": 1240, "height": 1754}, ["resolution"]),
    ({"width": 3508, "height": 2480}, ["turned"]), ({"width": 1748, "height": 2480}, ["size"]),
    ({"dark": 0.0001}, ["blank"]), ({"dark": 0.0001, "ink": 100}, ["blank"]),
])
def test_each_reason_has_its_flag(change, found):
    assert kinds(changed(PAGE, **change)) == found


def test_what_little_grain_smooth_papers_have_tells_none_apart():
    smooth = changed(PAGE, noise=0.5)
    assert kinds(changed(PAGE, noise=1.6), recorded_on=smooth) == []  # three times as rough
    assert kinds(changed(PAGE, noise=2.6), recorded_on=smooth) == ["grain"]


def test_a_book_has_an_ink_if_most_of_its_pages_have():
    pen, pencil = changed(PAGE, ink=30), changed(PAGE, ink=None)
    assert usual([pen, pen, pencil]).ink == 30
    assert usual([pen, pencil, pencil]).ink is None
    assert usual([pen, pencil]).ink is None


def test_a_page_that_lies_darker_is_said_so():
    ((flag,),) = flags([changed(PAGE, paper=201)], recorded_on=PAGE)
    assert flag.why == (
        "Its paper lies at 201, the book's at 232: scanned darker, or another paper."
    )


def test_without_a_recorded_page_the_others_are_the_measure():
    odd = changed(PAGE, paper=200)
    assert [bool(found) for found in flags([PAGE, odd, PAGE, None, PAGE])] == [
        False, True, False, False, False,
    ]
    assert flags([PAGE, odd]) == [(), ()], "of two none can be the odd one"
    looks = [changed(PAGE, paper=paper) for paper in (230, 231, 232, 100)]
    assert usual(looks).paper == 230.5


@pytest.mark.parametrize("shift", [0, 9])
def test_two_scans_of_one_drawing_are_found(tmp_path, shift):
    shape = (1200, 900)
    draw(tmp_path / "1.tif", 1, shape=shape)
    draw(tmp_path / "2.tif", 2, shape=shape)
    page = np.asarray(Image.open(tmp_path / "1.tif"))
    again = np.clip(np.roll(page, shift, axis=(0, 1)).astype(int)
                    + np.random.default_rng(5).integers(-2, 3, shape), 0, 255)
    Image.fromarray(again.astype(np.uint8)).save(tmp_path / "3.tif", dpi=(300, 300))
    looks = [survey_look(read(tmp_path / f"{n}.tif")) for n in (1, 2, 3)]
    found = flags(looks)
    assert [flag.kind for flag in found[2]] == ["duplicate"]
    assert found[2][0].why == "It shows the same drawing as page 1."
    named = flags(looks, names=["a.tif", "b.tif", "c.tif"])
    assert named[2][0].why == "It shows the same drawing as a.tif."
    assert not found[0]
    assert not found[1]


def test_a_drawn_page_in_uneven_light_is_not_blank(tmp_path):
    page = np.broadcast_to(np.linspace(60, 190, 600), (800, 600)).copy()
    page += np.random.default_rng(2).normal(0, 6, page.shape)
    page[100:700:40, 60:540] = 20
    page[101:701:40, 60:540] = 20
    Image.fromarray(page.astype(np.uint8)).save(tmp_path / "page.png", dpi=(100, 100))
    look = survey_look(read(tmp_path / "page.png"))
    assert look.paper < 8 * look.noise, "no tone lies as far below the paper as its noise asks"
    assert flags([look]) == [()]


def test_a_blank_page_is_known_and_is_no_duplicate(tmp_path):
    for number in (1, 2):
        grain = np.random.default_rng(number).normal(231, 2, (900, 700)).astype(np.uint8)
        Image.fromarray(grain).save(tmp_path / f"{number}.tif", dpi=(300, 300))
    looks = [survey_look(read(tmp_path / f"{n}.tif")) for n in (1, 2)]
    assert [[flag.kind for flag in found] for found in flags(looks)] == [["blank"], ["blank"]]


@pytest.mark.parametrize("shape", [(420, 300), (2600, 1900)])
def test_the_look_of_a_survey_is_the_look_of_a_replay(tmp_path, crew, shape):
    scans = draw_book(tmp_path / "scans", 1, shape=shape)
    (end,) = outcomes(run(planned(scans, tmp_path / "out"), crew))
    look = end.done.figures.look
    assert look == survey_look(read(scans / "page 1.tif"))
    assert (look.height, look.width, look.ppi) == (*shape, 300)
    assert look.paper == pytest.approx(231.5, abs=0.6)
    assert look.ink == pytest.approx(24, abs=0.6)


def test_figures_are_those_of_the_page_read_whole(tmp_path, crew):
    for shape in ((420, 300), (2600, 1900)):
        scans = draw_book(tmp_path / f"{shape}", 1, shape=shape)
        (end,) = outcomes(run(planned(scans, tmp_path / "out"), crew, again=True))
        scan = read(scans / "page 1.tif")
        done = replay(STEPS, scan)
        whole = measure_cover(done.before, done.page, survey(scan).peaks())
        figures = end.done.figures
        tolerance = {"abs": 1e-4} if shape[0] < 1000 else {"rel": 0.1, "abs": 1e-4}
        assert figures.ink == pytest.approx(whole.ink, **tolerance)
        assert figures.printing == pytest.approx(whole.printing, **tolerance)
        assert figures.not_clear == pytest.approx(whole.not_clear, **tolerance)


def test_what_is_printed_on_bare_paper_is_told_as_the_lift_itself_tells_it(tmp_path):
    grain = np.random.default_rng(3).normal(240, 2, (90, 120)).clip(0, 255).astype(np.uint8)
    Image.fromarray(grain).save(tmp_path / "1.png", dpi=(300, 300))
    scan = read(tmp_path / "1.png")
    sampler = Sampler(scan)
    done = replay(StepList("", (Tone(points=Fixed(black=10, white=240)), Lift())), sampler.before)
    covers = sampler.after(lifted(done)).rows(0, 90).alpha
    assert {2, 3} <= set(covers.ravel().tolist()), "just too little to print, and just enough"
    whole = measure_cover(done.before, done.page, survey(scan).peaks())
    assert 0 < whole.printing < whole.not_clear
    assert sampler.figures().printing == pytest.approx(whole.printing, abs=1e-6)
    assert sampler.figures().not_clear == pytest.approx(whole.not_clear, abs=1e-6)


def test_a_page_that_was_settled_by_hand_is_not_held_back(tmp_path, crew):
    scans = draw_book(tmp_path / "scans", 3)
    for number in (4, 5):
        draw(scans / f"page {number}.tif", number, paper=200)
    pages, _ = list_pages([scans])
    own = StepList("", (BuildUp(),))
    job = Job((*map(JobPage.of, pages[:4]), JobPage.of(pages[4], own)), (STEPS,), FORMS, tmp_path)
    with Journal(tmp_path, read_only=True) as journal:
        held = hold_back(job, plan_job(job, KINDS), crew, journal)
    assert [isinstance(item, Outcome) for item in held] == [False, False, False, True, False]
    assert "stands apart and was left out" in str(held[3].faults[0])


def test_a_page_that_was_read_off_is_let_go_at_once(tmp_path):
    scan = read(draw(tmp_path / "1.tif"))
    sampler = Sampler(scan)
    bands = sampler.after(lifted(replay(STEPS, sampler.before)))
    for span in spans(scan.shape[0]):
        bands.rows(*span)
    sampler.figures()
    held = weakref.ref(sampler)
    gc.disable()  # a cycle would hold a page's samples until the collector comes round
    try:
        del sampler, bands
        assert held() is None
    finally:
        gc.enable()


def test_ten_thousand_looks_are_compared_without_waiting():
    chance = np.random.default_rng(1)
    sketches = chance.integers(0, 256, (10_000, 256), np.uint8)
    looks = [changed(PAGE, sketch=bytes(sketch).hex()) for sketch in sketches]
    looks[9000] = looks[17]
    found = flags(looks)
    assert [place for place, why in enumerate(found) if why] == [9000]
