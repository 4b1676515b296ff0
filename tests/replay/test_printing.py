"""How a book is printed: kept in its job, and followed by its renditions."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from PIL import Image

from app.command import main
from app.kinds import KINDS
from app.pages.lists import write_list
from app.pages.renditions import Bitmap, Line, Pdf, Print
from app.pages.trims import TrimRule
from app.replay.book import plan_job
from app.replay.job import Job, JobPage, dumps_job, loads_job, write_job
from app.replay.naming import Naming
from app.replay.printing import High, Printing, Scaled, Wide, filled
from core.fault import Refused
from core.press.presses import PRESSES, my_printer
from core.press.screens import Diffusion, Plain, Screen
from core.press.size import PrintSize, mm_to_points
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone

STEPS = StepList("pen", (Tone(points=Fixed(black=40, white=215)), Lift()))
MINE = my_printer(PRESSES["inkjet"], faintest=2, even=5, line=0.35, reversed_line=0.5)
SHAPE, PPI = (1000, 800), 100.0


@pytest.mark.parametrize("printing", [
    Printing(), Printing("newsprint", size=Wide(148), bleed=5),
    Printing(own=MINE, form="1-bit", ppi=2400, cut=Screen(85, 30, "line"), size=High(210)),
    Printing(form="1-bit", cut=Diffusion(), size=Scaled(70),
             trim=TrimRule("borders", 148, 210, (0.5, -1.5), mirrored=True)),
], ids=str)
def test_the_job_keeps_it(printing):
    job = Job((JobPage(Path("a.tif"), size=Wide(100)), JobPage(Path("b.tif"))),
              printing=printing)
    assert loads_job(dumps_job(job).encode(), KINDS, "book") == job
    assert job.printing_of(job.pages[0]) == replace(printing, size=Wide(100))
    assert job.printing_of(job.pages[1]) == printing


def test_a_job_written_before_means_what_it_meant():
    data = json.loads(dumps_job(Job((JobPage(Path("a.tif")),))))
    del data["printing"]
    del data["pages"][0]["size"]
    job = loads_job(json.dumps(data).encode(), KINDS, "book")
    assert job.printing == Printing()
    size = job.printing.size_of(SHAPE, PPI)
    for form in (Line(), Print(), Bitmap(), Pdf(), Pdf("x1a", "1-bit", 600, Screen(60), 90.0)):
        assert filled(form, job.printing, size) == form


@pytest.mark.parametrize(("path", "value", "said"), [
    (["press"], "letterpress", "there is no press called letterpress"),
    (["size"], {"how": "wide", "mm": 0}, "1 to 5000 mm"),
    (["size"], {"how": "tall", "mm": 9}, '"tall" is not a way'),
    (["ppi"], 20, "50 to 5080 pixels"), (["bleed"], -1, "a bleed is 0 to 50 mm"),
    (["trim"], {"width": 0.2}, "at least 1 mm"),
    (["own"], {"name": "mine", "may_print": 9.0, "holds": 3.0}, "lies above"),
])
def test_what_is_wrong_with_it_is_said(path, value, said):
    data = json.loads(dumps_job(Job()))
    data["printing"][path[0]] = value
    with pytest.raises(Refused) as refused:
        loads_job(json.dumps(data).encode(), KINDS, "book")
    assert said in str(refused.value)
    assert "printing" in str(refused.value)


def test_a_rendition_follows_it_where_it_says_nothing_of_its_own():
    printing = Printing("newsprint", form="1-bit", ppi=2400, cut=Screen(85), bleed=5)
    size = PrintSize(SHAPE, PPI, 0.5)
    assert filled(Pdf(), printing, size) == Pdf(
        form="1-bit", ppi=2400, cut=Screen(85), width_mm=size.width, bleed=5, gain=25)
    assert filled(Pdf(width_mm=70.0, ppi=600), printing, size) == Pdf(
        form="1-bit", ppi=600, cut=Screen(85), width_mm=70.0, bleed=5, gain=25)
    assert filled(Bitmap(cut=Plain(40)), printing, size) == Bitmap(2400, Plain(40), size.width)
    assert filled(Print(), printing, size).ppi == 200
    assert filled(Line(), printing, size) == Line()


def panels(left):
    """A page of 203 x 254 mm with one panel, its left edge somewhere, and ink in it."""
    page = np.full(SHAPE, 230, np.uint8)
    page[200:800, left : left + 400] = 20
    page[210:790, left + 10 : left + 390] = 230
    page[400:500, left + 100 : left + 200] = 20
    return page


def boxes(path):
    with pikepdf.open(path) as document:
        [page] = document.pages
        return [[float(side) for side in page.obj[name]] for name in ("/MediaBox", "/TrimBox")]


@pytest.fixture
def book(tmp_path):
    for number, left in ((1, 120), (2, 160)):
        Image.fromarray(panels(left)).save(tmp_path / f"{number}.png", dpi=(PPI, PPI))
    Image.fromarray(np.full(SHAPE, 230, np.uint8)).save(tmp_path / "3.png", dpi=(PPI, PPI))
    return tmp_path


def test_each_page_of_a_replayed_job_is_trimmed_by_the_rule(book):
    rule = TrimRule("borders", 80, 100, (2.0, 0.0), mirrored=True)
    job = Job(tuple(JobPage(book / f"{n}.png") for n in (1, 2, 3)), (STEPS,), (Pdf(),),
              book / "out", printing=Printing(size=Scaled(50), trim=rule), report=False)
    write_job(book / "book.json", job)
    assert main(["replay", str(book / "book.json"), "--quiet"]) == 0
    for number in (1, 2):
        _, trim = boxes(book / "out" / f"{number}-page.pdf")
        assert trim[2] - trim[0] == pytest.approx(mm_to_points(80), abs=0.01)
        assert trim[3] - trim[1] == pytest.approx(mm_to_points(100), abs=0.01)
    whole = mm_to_points(SHAPE[1] / PPI * 25.4 * 0.5)
    _, trim = boxes(book / "out" / "3-page.pdf")
    assert trim[2] - trim[0] == pytest.approx(whole, abs=0.01)
    lines = (book / "out" / ".stetline" / "journal.jsonl").read_text().splitlines()
    said = {number: [line for line in lines if f"{number}.png" in line and "not placed" in line]
            for number in (1, 2, 3)}  # pages end in any order
    assert said[1] == said[2] == []
    entry, = said[3]
    assert "The trim is not placed: its panel borders were not found" in entry


@pytest.mark.parametrize(("first", "left"), [("right", [False, True]), ("left", [True, False])])
def test_which_pages_are_left_ones_follows_the_side_of_the_first(book, first, left):
    job = Job((JobPage(book / "1.png"), JobPage(book / "2.png")), (STEPS,), (Pdf(),),
              book / "out", naming=Naming(first=first))
    assert [request.left_page for request in plan_job(job, KINDS)] == left


def test_the_command_trims_by_the_same_rule(book):
    write_list(book / "pen.json", STEPS)
    done = main(["replay", str(book / "pen.json"), str(book / "1.png"), "--into",
                 str(book / "out"), "--rendition", "pdf", "--print-width", "101.6", "--trim",
                 "borders", "--trim-size", "90x110mm", "--quiet"])
    assert done == 0
    _, trim = boxes(book / "out" / "1-page.pdf")
    assert trim[2] - trim[0] == pytest.approx(mm_to_points(90), abs=0.01)


def test_grey_for_print_says_its_resolution_in_print(book):
    job = Job((JobPage(book / "1.png"), JobPage(book / "2.png", size=Scaled(100))), (STEPS,),
              (Print(), Line()), book / "out", printing=Printing(size=Scaled(50)), report=False)
    write_job(book / "book.json", job)
    assert main(["replay", str(book / "book.json"), "--quiet"]) == 0
    for number, ppi in ((1, 200), (2, 100)):
        with Image.open(book / "out" / f"{number}-print.tif") as image:
            assert float(image.info["dpi"][0]) == pytest.approx(ppi, abs=0.01)
        with Image.open(book / "out" / f"{number}-line.png") as image:
            assert image.info["dpi"][0] == pytest.approx(100, abs=0.1)
