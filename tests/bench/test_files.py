"""What the bench keeps on disk: jobs, settings, the drawer and its zip."""

import stat
import zipfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.bench.state.drawer import (
    MOST_LISTS,
    file_name,
    look_in,
    pack,
    put_in,
    same_name,
    take_out,
    unpack,
)
from app.bench.state.exporting import Export, plan_export, run_export, written_as
from app.bench.state.job import find_pages, name_of, source_of, with_pages
from app.bench.state.loading import load, load_thumbnail
from app.bench.state.places import Places, Settings, load_settings, save_settings
from app.kinds import KINDS
from app.pages.renditions import Line, Print
from app.replay.job import Job, JobPage
from app.replay.page import Request, replay_page
from core.fault import Cancelled, Refused
from core.steps.build_up import BuildUp
from core.steps.document import dumps
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from tests.bench.conftest import HEIGHT, WIDTH, draw_page

LIST = StepList("pen", (Tone(points=Fixed(black=40, white=220)), Lift()))


def test_no_page_is_taken_twice(tmp_path):
    job = Job((JobPage(tmp_path / "a.png", steps=LIST), JobPage(tmp_path / "book.tif", 2, 9)))
    again = JobPage(tmp_path / "x" / ".." / "a.png")
    assert with_pages(job, (again,)) == job
    assert with_pages(job, (JobPage(tmp_path / "book.tif", 3, 9),)).pages[2].number == 3


def test_folders_files_and_what_cannot_be_read_are_told_apart(tmp_path):
    folder = tmp_path / "scans"
    folder.mkdir()
    draw_page(folder / "p10.png")
    draw_page(folder / "p2.png")
    (folder / "p3.png").write_bytes(b"")
    (tmp_path / "empty").mkdir()
    found = find_pages((folder, tmp_path / "empty", tmp_path / "nowhere.png"))
    assert [name_of(page) for page in found.pages] == ["p2.png", "p10.png", "p3.png"]
    assert [at.path.name for at, _ in found.page_faults] == ["p3.png"]
    assert len(found.others) == 2


def test_pages_named_from_here_are_found_from_anywhere(tmp_path, monkeypatch):
    draw_page(tmp_path / "a.png")
    monkeypatch.chdir(tmp_path)
    found = find_pages((Path("a.png"),))
    assert found.pages[0].at.path == tmp_path / "a.png"
    assert found.asked == (tmp_path / "a.png",)


def test_a_page_is_loaded_with_its_facts_and_a_thumbnail(tmp_path):
    source = source_of(JobPage(draw_page(tmp_path / "a.png")))
    page = load(source)
    assert page.sheet.shape == (HEIGHT, WIDTH)
    assert page.facts.startswith("54 x 41 mm at 300 ppi, ")
    thumb = load_thumbnail(source, 112)
    assert thumb.shape == (84, 112, 3)
    assert thumb[4, 4].tolist() == pytest.approx([232] * 3, abs=2)
    assert thumb[21, 50].tolist() == pytest.approx([25] * 3, abs=2)


def test_a_page_without_a_resolution_has_a_thumbnail_and_waits_for_its_size(tmp_path):
    source = source_of(JobPage(draw_page(tmp_path / "a.png", ppi=None)))
    assert load_thumbnail(source, 64).shape == (48, 64, 3)
    with pytest.raises(Refused, match="resolution"):
        load(source)


def test_an_export_writes_what_the_replay_writes(tmp_path):
    pages = tuple(
        JobPage(draw_page(tmp_path / f"{n}.png", seed=n), steps=LIST if n < 3 else None)
        for n in (1, 2, 3))
    wanted = Export((0, 2), (Line(), Print()), tmp_path / "deep" / "out")
    told = []
    planned = plan_export(written_as(Job(pages), wanted), wanted.pages)
    ended = run_export(planned, 2, lambda done, total: told.append(done / total))
    assert [outcome.done is not None for outcome in ended] == [True, False]
    assert told == sorted(told)
    assert told[-1] == 1
    other = tmp_path / "other.png"
    replay_page(Request(pages[0].at, LIST, ((Line(), other),)))
    assert (tmp_path / "deep" / "out" / "1-line.png").read_bytes() == other.read_bytes()


def test_a_stopped_export_leaves_nothing_half_written(tmp_path):
    page = JobPage(draw_page(tmp_path / "1.png"), steps=LIST)
    wanted = Export((0,), (Line(),), tmp_path / "out")

    planned = plan_export(written_as(Job((page,)), wanted), wanted.pages)

    def stop(done, total):
        raise Cancelled

    with pytest.raises(Cancelled):
        run_export(planned, 1, stop)
    assert list((tmp_path / "out").iterdir()) == []


def test_settings_come_back_and_broken_ones_are_the_first(tmp_path):
    path = Places.under(tmp_path).settings
    settings = Settings("dark", 1500, 900, ("a", "b"), "out", 4.5)
    save_settings(path, settings)
    assert load_settings(path) == settings
    for text in ("", "[", "[]", '{"theme": 3, "width": "wide", "recent": [1]}', "[" * 99_999):
        path.write_text(text)
        assert load_settings(path) == Settings()
    path.write_text('{"theme": "pink", "width": 3}')
    assert load_settings(path) == Settings(width=800)


def test_the_drawer_keeps_lists_by_their_names(tmp_path):
    folder = tmp_path / "drawer"
    assert look_in(folder, KINDS).lists == ()
    put_in(folder, StepList("Brush", (Lift(),)))
    put_in(folder, LIST)
    put_in(folder, StepList("BRUSH", (BuildUp(),)))
    drawn = look_in(folder, KINDS)
    assert [steps.name for _, steps in drawn.lists] == ["BRUSH", "pen"]
    (folder / "broken.json").write_text("{")
    assert len(look_in(folder, KINDS).faults) == 1
    take_out(folder, "pen.json")
    take_out(folder, "../drawer/broken.json")
    assert [steps.name for _, steps in look_in(folder, KINDS).lists] == ["BRUSH"]


@given(st.text(max_size=300))
def test_any_name_makes_a_plain_file_name(name):
    made = file_name(name)
    assert made.endswith(".json")
    assert len(made.encode()) <= 200
    assert not set('/\\:*?"<>|\0') & set(made)
    assert not made.startswith(".")


def test_names_that_differ_in_case_or_accent_encoding_are_one():
    assert same_name("CAF\u00c9") == same_name("cafe\u0301")


def test_a_drawer_goes_through_a_zip_and_its_bytes_are_the_same_each_time(tmp_path):
    folder = tmp_path / "drawer"
    for name in "abc":
        put_in(folder, StepList(name, (BuildUp(times=3),)))
    for name in ("one.zip", "two.zip"):
        pack(tmp_path / name, look_in(folder, KINDS))
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
    assert [steps.name for steps in unpack(tmp_path / "one.zip", KINDS)] == ["a", "b", "c"]


def zipped(tmp_path, *members):
    path = tmp_path / "lists.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in members:
            archive.writestr(name, text)
    return path


GOOD = dumps(LIST)


def link():
    member = zipfile.ZipInfo("a.json")
    member.external_attr = (stat.S_IFLNK | 0o777) << 16
    return member


@pytest.mark.parametrize("members", [
    [("../a.json", GOOD)], [("deep/a.json", GOOD)], [("/a.json", GOOD)], [("c:a.json", GOOD)],
    [("a.txt", GOOD)], [(".a.json", GOOD)], [("a.json", GOOD), ("A.JSON".lower() + "", GOOD)],
    [("caf\u00e9.json", GOOD), ("CAFE\u0301.json", GOOD)], [(link(), "elsewhere")],
    [("a.json", "{")], [("a.json", " " * 1_000_001)],
    [(f"{n}.json", GOOD) for n in range(MOST_LISTS + 1)],
], ids=range(12))
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_zip_that_is_not_as_it_must_be_is_refused_whole(tmp_path, members):
    with pytest.raises(Refused):
        unpack(zipped(tmp_path, *members), KINDS)


def test_bytes_that_are_no_zip_are_refused(tmp_path):
    (tmp_path / "x.zip").write_bytes(b"PK\x05\x06 and so on")
    with pytest.raises(Refused):
        unpack(tmp_path / "x.zip", KINDS)
