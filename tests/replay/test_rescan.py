"""A page of a job scanned again: its own steps follow, or nothing is touched and it is said."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image

from app.command import main
from app.filters.flats import Flats
from app.filters.holds import Hold
from app.filters.reach import Outline
from app.kinds import KINDS
from app.pages.listing import PageAt
from app.pages.renditions import Line
from app.pages.resolution import Ppi
from app.replay.book import plan_job
from app.replay.crew import LocalCrew
from app.replay.job import Job, JobPage, read_job, write_job
from app.replay.journal import Journal
from app.replay.rescan import realigned, scanned_since
from app.replay.run import run
from core.fault import Refused
from core.placing import AS_SCANNED
from core.steps.crop import Crop
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone

BOX = ((20.0, 15.0), (40.0, 15.0), (40.0, 30.0))
OWN = StepList("", (Hold(area=Outline(corners=BOX)), Flats(seeds=(((30.0, 20.0), (9, 9, 9)),))))
PEN = StepList("pen", (Crop(left=3, top=2), Tone(points=Fixed(black=40, white=215)), Lift()))


def scan(path, ppi, placing=AS_SCANNED, seed=3):
    """A scan of 80 x 60 mm with some lines, each of its places moved by the placing."""
    rng = np.random.default_rng(seed)
    grey = np.full((round(60 / 25.4 * ppi), round(80 / 25.4 * ppi)), 240, np.uint8)
    for _ in range(12):
        line = placing.on_page(rng.uniform((10, 10), (70, 50), (3, 2))) / 25.4 * ppi - 0.5
        cv2.polylines(grey, [np.rint(line * 16).astype(np.int32)], False, 20,
                      max(2, round(0.5 / 25.4 * ppi)), cv2.LINE_AA, 4)
    Image.fromarray(grey).save(path, dpi=(ppi, ppi))
    return path


@pytest.fixture
def job(tmp_path):
    scan(tmp_path / "a.png", 150)
    made = Job(pages=(JobPage(tmp_path / "none.png"), JobPage(tmp_path / "a.png", steps=OWN)),
               lists=(PEN,), into=tmp_path / "out")
    write_job(tmp_path / "book.json", made)
    return made


PLACING = AS_SCANNED.turned(1.5, (40.0, 30.0)).shifted(2.0, -1.0)


def test_places_follow_the_drawing_to_another_resolution(job, tmp_path, capsys):
    scan(tmp_path / "again.png", 300, PLACING)
    before = (tmp_path / "book.json").read_bytes()
    assert main(["realign", str(tmp_path / "book.json"), "2", str(tmp_path / "again.png")]) == 0
    made = read_job(tmp_path / "book.json", KINDS)
    assert made.pages[0] == read_job(tmp_path / "book-before-1.json", KINDS).pages[0]
    page = made.pages[1]
    assert page.path.name == "again.png"
    hold, flats = page.steps.steps
    assert np.abs(np.array(hold.area.corners) - PLACING.on_page(BOX)).max() < 0.1
    assert np.abs(flats.seeds[0][0] - PLACING.on_page([(30.0, 20.0)])[0]).max() < 0.1
    assert flats.seeds[0][1] == (9, 9, 9)
    assert (tmp_path / "book-before-1.json").read_bytes() == before
    assert (tmp_path / "a.png").is_file()
    assert "book-before-1.json" in capsys.readouterr().out


def test_that_a_crop_made_by_hand_stays_as_it_was_is_said(job, tmp_path, capsys):
    page = replace(job.pages[1], by_hand=("crop",))
    write_job(tmp_path / "book.json", replace(job, pages=(job.pages[0], page)))
    scan(tmp_path / "again.png", 150, PLACING)
    assert main(["realign", str(tmp_path / "book.json"), "2", str(tmp_path / "again.png")]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == (
        "The crop made on it by hand is as it was on the other scan: look whether it still fits.")
    assert read_job(tmp_path / "book.json", KINDS).pages[1].by_hand == ("crop",)


@pytest.mark.parametrize("page", ["a.png", "a"])
def test_a_page_is_named_by_its_file_too(job, tmp_path, page):
    scan(tmp_path / "again.png", 150, PLACING)
    assert main(["realign", str(tmp_path / "book.json"), page,
                 str(tmp_path / "again.png")]) == 0


def test_the_cut_of_the_book_moves_no_place(job, tmp_path):
    scan(tmp_path / "same.png", 150)
    made = realigned(job, 2, PageAt(tmp_path / "same.png", 1, 1))
    hold = made.pages[1].steps.steps[0]
    assert np.abs(np.array(hold.area.corners) - BOX).max() < 0.05


def test_another_drawing_changes_nothing_and_is_said(job, tmp_path, capsys):
    scan(tmp_path / "other.png", 150, seed=8)
    before = (tmp_path / "book.json").read_bytes()
    assert main(["realign", str(tmp_path / "book.json"), "2", str(tmp_path / "other.png")]) == 2
    said = capsys.readouterr().err
    assert "the drawing of a.png is not found" in said
    assert len(said.splitlines()) == 1
    assert (tmp_path / "book.json").read_bytes() == before
    assert not list(tmp_path.glob("*before*"))


@pytest.mark.parametrize("page", ["0", "3", "b.png"])
def test_a_page_that_the_job_has_not_is_named(job, tmp_path, page, capsys):
    assert main(["realign", str(tmp_path / "book.json"), page, str(tmp_path / "a.png")]) == 2
    assert page in capsys.readouterr().err


def test_a_resolution_that_was_given_for_the_old_file_is_kept_only_where_needed(job, tmp_path):
    given = Job(pages=(JobPage(tmp_path / "a.png", steps=OWN, given=Ppi(150)),), lists=(PEN,))
    scan(tmp_path / "again.png", 300)
    made = realigned(given, 1, PageAt(tmp_path / "again.png", 1, 1))
    assert made.pages[0].given is None
    with Image.open(tmp_path / "a.png") as image:
        image.save(tmp_path / "silent.png", dpi=None)
    made = realigned(given, 1, PageAt(tmp_path / "silent.png", 1, 1))
    assert made.pages[0].given == Ppi(150)


def test_a_scan_that_changed_after_its_steps_were_placed_is_named(job, tmp_path):
    job = Job(pages=job.pages[1:], lists=job.lists, into=job.into, renditions=(Line(),))
    with Journal(job.into) as journal, LocalCrew(1) as crew:
        assert scanned_since(job, journal) == ()
        list(run(plan_job(job, KINDS), crew, journal=journal))
        assert scanned_since(job, journal) == ()
        scan(tmp_path / "a.png", 150, PLACING)
        fault, = scanned_since(job, journal)
        assert fault.where == "a.png"
        bare = Job(pages=(JobPage(tmp_path / "a.png"),), lists=job.lists, into=job.into)
        assert scanned_since(bare, journal) == ()
        replaced = JobPage(tmp_path / "a.png", steps=StepList("", (Flats(cuts=(BOX,)),)))
        placed_since = Job(pages=(replaced,), lists=job.lists, into=job.into)
        assert scanned_since(placed_since, journal) == ()


def test_a_scan_that_cannot_be_read_is_refused(job, tmp_path):
    (tmp_path / "broken.png").write_bytes(b"\x89PNG")
    with pytest.raises(Refused):
        realigned(job, 2, PageAt(tmp_path / "broken.png", 1, 1))
