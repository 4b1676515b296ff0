"""The job: one value, one file, every fault with its place."""

import json
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from app.kinds import KINDS
from app.pages.renditions import Layered, Line, Pdf, Print, Rendition, Web
from app.pages.resolution import Ppi, SheetSize
from app.replay.book import plan_job
from app.replay.job import Job, JobPage, OwnValue, dumps_job, loads_job, read_job, write_job
from app.replay.naming import Naming
from app.replay.page import Reading
from core.fault import Refused
from core.steps.build_up import BuildUp
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Following, Tone

PEN = StepList("pen", (Tone(points=Fixed(black=40, white=215)), Lift()))
PENCIL = StepList("pencil", (Tone(points=Following(black=60, white=220, paper=230)), Lift()))
OWN = OwnValue(1, "tone", "middle", 40)
BOOK = Job(
    pages=(JobPage(Path("a.tif")), JobPage(Path("b.tif"), 2, 3, list="pencil", values=(OWN,)),
           JobPage(Path("c.tif"), steps=StepList("", (BuildUp(),)), given=SheetSize(210, 297))),
    lists=(PEN, PENCIL), naming=Naming("{number}-{rendition}"), name="Tide mill",
    renditions=(Line("tiff", 16), Print(), Layered("folder"), Web(ground=(1, 2, 3))),
    reading=Reading(Ppi(600)),
)


def test_the_file_gives_the_job_back():
    assert loads_job(dumps_job(BOOK).encode(), KINDS, "book.json") == BOOK
    assert dumps_job(BOOK).isascii()


FORMS = (Line("indexed"), Print(steps=True), *(form() for form in get_args(Rendition)))
forms = st.lists(st.sampled_from(FORMS), max_size=3).map(tuple)
paths = st.text(st.characters(codec="utf-8", exclude_characters="\0/\\."), min_size=1).map(Path)


@given(st.builds(
    Job, pages=st.lists(st.builds(JobPage, path=paths, list=st.sampled_from(["", "pen"])),
                        max_size=3).map(tuple),
    lists=st.sampled_from([(), (PEN,), (PENCIL, PEN)]), renditions=forms, into=paths,
    naming=st.just(Naming()), reading=st.just(Reading()), recorded_on=st.just(()),
    leave_out=st.booleans(), report=st.booleans(), name=st.text(st.characters(codec="utf-8")),
))
def test_any_job_survives_its_file(job):
    assert loads_job(dumps_job(job).encode(), KINDS, "x") == job


def test_a_job_of_before_pages_were_turned_by_hand_is_read():
    job = replace(BOOK, pages=(replace(BOOK.pages[0], turned=True), *BOOK.pages[1:]))
    data = json.loads(dumps_job(job))
    assert loads_job(json.dumps(data).encode(), KINDS, "x") == job
    for page in data["pages"]:
        del page["turned"], page["by_hand"]
    assert loads_job(json.dumps(data).encode(), KINDS, "x") == BOOK


def test_what_a_page_has_of_its_own_by_hand_is_kept_and_an_unknown_kind_refused():
    job = replace(BOOK, pages=(replace(BOOK.pages[0], by_hand=("crop",)), *BOOK.pages[1:]))
    text = dumps_job(job)
    assert loads_job(text.encode(), KINDS, "x") == job
    with pytest.raises(Refused, match='"tone" is not a choice'):
        loads_job(text.replace('"crop"', '"tone"').encode(), KINDS, "x")


def test_paths_go_with_the_file(tmp_path):
    job = replace(BOOK, into=tmp_path / "home" / "out",
                  renditions=(Pdf(profile=tmp_path / "home" / "press.icc"),),
                  pages=(JobPage(tmp_path / "scans" / "a.tif"),))
    (tmp_path / "home").mkdir()
    write_job(tmp_path / "home" / "book.json", job)
    kept = json.loads((tmp_path / "home" / "book.json").read_text())
    assert (kept["into"], kept["pages"][0]["path"]) == ("out", "../scans/a.tif")
    assert kept["renditions"][0]["profile"] == "press.icc"
    assert read_job(tmp_path / "home" / "book.json", KINDS) == job


def test_paths_of_a_job_in_a_linked_folder_lead_where_they_led(tmp_path):
    (tmp_path / "elsewhere" / "deep").mkdir(parents=True)
    (tmp_path / "home").symlink_to(tmp_path / "elsewhere" / "deep")
    job = replace(BOOK, into=tmp_path / "out", pages=(JobPage(tmp_path / "scans" / "a.tif"),))
    write_job(tmp_path / "home" / "book.json", job)
    read = read_job(tmp_path / "home" / "book.json", KINDS)
    assert read.into.resolve() == tmp_path / "out"
    assert read.pages[0].path.resolve() == tmp_path / "scans" / "a.tif"


def test_what_a_page_goes_through_is_its_list_its_own_values_and_its_own_steps():
    first, second, third = BOOK.pages
    assert BOOK.steps_of(first, KINDS) == PEN
    assert BOOK.steps_of(second, KINDS).steps[0] == replace(PENCIL.steps[0], middle=40.0)
    assert BOOK.steps_of(third, KINDS).steps == (*PEN.steps, BuildUp())
    other = BOOK.with_steps(StepList("pen", (Tone(points=Fixed(white=200)), Lift())))
    assert other.steps_of(second, KINDS) == BOOK.steps_of(second, KINDS), "its own stay"
    assert not first.has_own
    assert "its own middle in step 1" in second.own()


def test_an_own_value_that_has_lost_its_place_holds_its_page_back(tmp_path):
    changed = replace(BOOK, lists=(PEN, StepList("pencil", (Lift(), *PENCIL.steps))),
                      into=tmp_path)
    planned = plan_job(changed, KINDS)
    assert "step 1 of its list is no longer a tone step" in planned[1].faults[0].what
    assert planned[0].steps == PEN
    assert planned[2].reading.given == SheetSize(210, 297)


def spoil(path, value):
    data = json.loads(dumps_job(BOOK))
    place = data
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    return json.dumps(data).encode()


@given(st.binary(max_size=200))
@example(b"[" * 100_000)
@example(b"{}")
def test_any_bytes_are_a_job_or_refused(data):
    with pytest.raises(Refused):
        loads_job(data, KINDS, "job")


@pytest.mark.parametrize(("path", "value", "said"), [
    (["version"], 2, "version 2"), (["format"], "x", "it is not a job"),
    (["pages", 1, "number"], 9, "book.json, pages, 2: page 9 is not among the 3 of its file"),
    (["pages", 0, "path"], "", 'path: "" is not a path'),
    (["pages", 0, "path"], "a\0b", "is not a path"),
    (["pages", 0, "given"], {"how": "ppi"}, 'pages, 1, given: "ppi" is missing'),
    (["pages", 0, "path"], 3, "book.json, pages, 1, path: 3 is not a path"),
    (["pages", 0, "colour"], 3, 'pages, 1, "colour": no such field is known here'),
    (["renditions", 0, "form"], "gif", 'renditions, 1, form: "gif" is not a choice'),
    (["renditions", 0, "how"], "film", 'renditions, 1: "film" is not a way'),
    (["lists", 0, "steps", 0, "middle"], 100, "lists, 1, step 1 (tone), middle: 100 lies outside"),
    (["lists", 1, "name"], "pen", "two lists of the job have one name"),
    (["naming", "pattern"], "{x}", "book.json, naming: the pattern {x} cannot be read"),
    (["naming", "padding"], True, "naming, padding: true is not a whole number"),
    (["leave_out"], 1, "leave_out: 1 is not true or false"),
    (["pages"], {}, "book.json, pages: an object is not an array"),
    (["kinds"], {}, "no such field is known here"),
])
def test_every_fault_names_its_place(path, value, said):
    with pytest.raises(Refused) as refused:
        loads_job(spoil(path, value), KINDS, "book.json")
    assert said in str(refused.value)


def test_all_faults_are_told_at_once():
    data = json.loads(dumps_job(BOOK))
    data["into"], data["report"], data["pages"][0]["number"] = 1, 2, "x"
    with pytest.raises(Refused) as refused:
        loads_job(json.dumps(data).encode(), KINDS, "b")
    assert len(refused.value.faults) == 3


def test_a_page_without_any_list_is_held_back(tmp_path):
    (item,) = plan_job(Job(pages=(JobPage(Path("a.tif")),), into=tmp_path), KINDS)
    assert "no step list has been kept for it" in item.faults[0].what
