"""What the bench keeps on disk: jobs, settings, the drawer and its zip."""

import stat
import zipfile
from dataclasses import replace
from pathlib import Path

import cv2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.bench.state.drawer import (
    MOST_LISTS,
    Drawn,
    file_name,
    give_key,
    look_in,
    pack,
    put_back,
    put_in,
    put_in_all,
    put_in_with_key,
    rename,
    same_name,
    take_out,
    unpack,
)
from app.bench.state.drawer_keys import KEYS_FILE
from app.bench.state.exporting import (
    Export,
    find_taken,
    noted,
    plan_export,
    run_export,
    written_as,
)
from app.bench.state.job import find_pages, name_of, source_of, with_pages
from app.bench.state.jobfile import open_job
from app.bench.state.loading import load, load_thumbnail
from app.bench.state.places import Places, Settings, load_settings, save_settings
from app.bench.state.saying import in_window
from app.command import main
from app.filters.flats import Flats
from app.filters.keep_marks import KeepMarks
from app.kinds import KINDS
from app.pages.renditions import Flat, Line, Print
from app.pages.resolution import Ppi
from app.replay.book import plan_job
from app.replay.job import Job, JobPage, OwnValue, write_job
from app.replay.journal import FOLDER, Journal
from app.replay.page import Reading, Request, replay_page
from core.fault import Cancelled, Refused
from core.steps.build_up import BuildUp
from core.steps.document import dumps
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from core.steps.turn import Turn
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
    assert [name_of(page) for page in found.pages] == ["p2.png", "p3.png", "p10.png"]
    assert [at.path.name for at, _ in found.page_faults] == ["p3.png"]
    assert len(found.others) == 2


def test_a_job_made_elsewhere_comes_with_each_pages_whole_list(tmp_path):
    own = StepList("", (BuildUp(times=3),))
    pages = (
        JobPage(tmp_path / "a.png"), JobPage(tmp_path / "b.png", list="other", steps=own),
        JobPage(tmp_path / "c.png", values=(OwnValue(2, "lift", "on", False),), given=Ppi(600)),
    )
    job = Job(pages, (LIST, StepList("other", (Lift(),))), reading=Reading(given=Ppi(300)),
              into=tmp_path / "out")
    write_job(tmp_path / "book.json", job)
    opened = open_job(tmp_path / "book.json")
    assert opened.lists == ()
    assert [page.steps.steps for page in opened.pages] == [
        LIST.steps, (Lift(), BuildUp(times=3)), (LIST.steps[0], Lift(on=False))]
    assert [page.given for page in opened.pages] == [Ppi(300), Ppi(300), Ppi(600)]
    assert plan_job(opened, KINDS) == plan_job(job, KINDS)


def test_a_page_of_a_job_without_any_list_is_left_to_a_proposal(tmp_path):
    write_job(tmp_path / "book.json", Job((JobPage(tmp_path / "a.png"),)))
    assert open_job(tmp_path / "book.json").pages[0].steps is None
    (tmp_path / "book.json").write_text("{}")
    with pytest.raises(Refused, match="not a job"):
        open_job(tmp_path / "book.json")


def test_a_page_that_was_only_turned_is_not_written_without_its_list(tmp_path):
    job = Job((JobPage(draw_page(tmp_path / "a.png"), steps=StepList("", (Turn(),))),))
    held = plan_export(job, [0])
    assert "turned, but no step list" in str(held[0].faults[0])


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
    made = load_thumbnail(source, 112)
    assert made.refused is None
    thumb = made.pixels
    assert thumb.shape == (84, 112, 3)
    assert thumb[4, 4].tolist() == pytest.approx([232] * 3, abs=2)
    assert thumb[21, 50].tolist() == pytest.approx([25] * 3, abs=2)


def test_a_page_without_a_resolution_has_a_thumbnail_and_waits_for_its_size(tmp_path):
    source = source_of(JobPage(draw_page(tmp_path / "a.png", ppi=None)))
    thumb = load_thumbnail(source, 64)
    assert thumb.pixels.shape == (48, 64, 3)
    assert "resolution" in str(thumb.refused)
    with pytest.raises(Refused, match="resolution"):
        load(source)


def test_an_export_writes_what_the_replay_writes(tmp_path):
    pages = tuple(
        JobPage(draw_page(tmp_path / f"{n}.png", seed=n), steps=LIST if n < 3 else None)
        for n in (1, 2, 3))
    wanted = Export((0, 2), (Line(), Print()), tmp_path / "deep" / "out")
    told = []
    planned = plan_export(written_as(Job(pages), wanted), wanted.pages)
    ended = run_export(
        planned, wanted.folder, 2, lambda done, total: told.append(done / total)).pages
    assert [outcome.done is not None for outcome in ended] == [True, False]
    assert told == sorted(told)
    assert told[-1] == 1
    other = tmp_path / "other.png"
    replay_page(Request(pages[0].at, LIST, ((Line(), other),)))
    assert (tmp_path / "deep" / "out" / "1-line.png").read_bytes() == other.read_bytes()


@pytest.mark.parametrize("cores", [1, 2])
def test_steps_that_take_the_whole_page_have_the_cores_of_the_export(tmp_path, cores):
    used = cv2.getNumThreads()
    page = JobPage(draw_page(tmp_path / "1.png"), steps=LIST)
    job = written_as(Job((page,)), Export((0,), (Line(),), tmp_path / "out"))
    try:
        run_export(plan_export(job, (0,)), job.into, cores)
        assert cv2.getNumThreads() == cores
    finally:
        cv2.setNumThreads(used)


@pytest.mark.parametrize("finished", [0, 1, 2])
def test_a_stopped_export_leaves_nothing_half_written_and_goes_on(tmp_path, finished):
    pages = tuple(
        JobPage(draw_page(tmp_path / f"{n}.png", seed=n), steps=LIST) for n in (1, 2, 3))
    wanted = Export((0, 1, 2), (Line(),), tmp_path / "out")
    planned = plan_export(written_as(Job(pages), wanted), wanted.pages)

    def stop(done, total):
        if done >= (finished + 0.5) * total / 3:
            raise Cancelled

    stopped = run_export(planned, wanted.folder, 1, stop)
    assert [page.status for page in stopped.pages] == ["done"] * finished
    assert stopped.left == 3 - finished
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        FOLDER, *(f"{n}-line.png" for n in range(1, finished + 1))]
    again = run_export(planned, wanted.folder, 1)
    assert [page.status for page in again.pages] == (
        ["unchanged"] * finished + ["done"] * (3 - finished))
    assert again.left == 0


def test_pages_behind_the_one_that_is_stopped_are_finished_if_they_were_before(exported):
    (exported.into / "1-line.png").unlink()

    def stop(done, total):
        raise Cancelled

    stopped = run_export(all_of(exported), exported.into, 1, stop)
    assert [page.status for page in stopped.pages] == ["unchanged"] * 2
    assert stopped.left == 1


@pytest.fixture
def exported(tmp_path):
    """Three pages, exported: their job, and what was asked for."""
    pages = tuple(
        JobPage(draw_page(tmp_path / f"{n}.png", seed=n), steps=LIST) for n in (1, 2, 3))
    wanted = Export((0, 1, 2), (Line(), Print()), tmp_path / "out")
    job = written_as(Job(pages), wanted)
    first = run_export(plan_export(job, wanted.pages), job.into, 1)
    assert [page.status for page in first.pages] == ["done"] * 3
    assert first.faults == ()
    return job


def all_of(job):
    return plan_export(job, range(len(job.pages)))


def test_what_an_export_wrote_is_neither_in_the_way_nor_written_again(exported):
    planned = all_of(exported)
    files = [path for path in exported.into.iterdir() if path.is_file()]
    before = [path.stat().st_mtime_ns for path in files]
    assert len(files) == 6
    assert find_taken(planned, exported.into) == ()
    ended = run_export(planned, exported.into, 1).pages
    assert [page.status for page in ended] == ["unchanged"] * 3
    assert [path.stat().st_mtime_ns for path in files] == before
    other = replace(exported, pages=(
        replace(exported.pages[0], steps=StepList("pen", (Lift(),))), *exported.pages[1:]))
    assert find_taken(all_of(other), exported.into) == ()  # another list over our own files
    ended = run_export(all_of(other), exported.into, 1).pages
    assert [page.status for page in ended] == ["done", "unchanged", "unchanged"]


def test_flats_alone_are_left_out_of_pages_without_flats_and_that_is_said(tmp_path, capsys):
    coloured = StepList("pen", (*LIST.steps, Flats()))
    pages = tuple(
        JobPage(draw_page(tmp_path / f"{n}.png", seed=n), steps=coloured if n == 2 else LIST)
        for n in (1, 2, 3))
    job = written_as(Job(pages), Export((0, 1, 2), (Line(), Flat()), tmp_path / "out"))
    ended = run_export(all_of(job), job.into, 1)
    assert [page.status for page in ended.pages] == ["done"] * 3
    written = {path.name for path in job.into.iterdir() if path.is_file()}
    assert written == {"1-line.png", "2-line.png", "3-line.png", "2-flats.png"}
    left_out = "The page has no flats: flats alone are left out."
    assert noted(ended.pages) == (f"2 pages: {left_out}",)
    assert noted(ended.pages[:1]) == (f"1.png: {left_out}",)
    again = run_export(all_of(job), job.into, 1).pages
    assert [page.status for page in again] == ["unchanged"] * 3

    replayed = replace(job, into=tmp_path / "by job", report=True)
    write_job(tmp_path / "job.json", replayed)
    assert main(["replay", str(tmp_path / "job.json"), "--cores", "1"]) == 0
    said = capsys.readouterr()
    assert said.out.count(left_out) == 2
    assert "fault" not in said.err
    assert written <= {path.name for path in replayed.into.iterdir()}
    report = next(replayed.into.rglob("*.html")).read_text("utf-8")
    assert left_out in report


def test_a_page_of_which_flats_alone_were_asked_for_and_that_has_none_is_done(tmp_path):
    page = JobPage(draw_page(tmp_path / "1.png"), steps=LIST)
    job = written_as(Job((page,)), Export((0,), (Flat(),), tmp_path / "out"))
    ended = run_export(all_of(job), job.into, 1).pages
    assert [page.status for page in ended] == ["done"]
    assert ended[0].done.outputs == ()
    assert not [path for path in job.into.iterdir() if path.is_file()]


def test_files_that_are_not_the_exports_are_found_left_and_replaced_only_if_agreed(exported):
    line, print_, foreign = (exported.into / name for name in (
        "1-line.png", "2-print.tif", "3-line.png"))
    ours = {path: path.read_bytes() for path in (line, print_, foreign)}
    for path in (line, print_):
        path.write_bytes(b"retouched")
    (exported.into / FOLDER / "journal.jsonl").rename(exported.into / "kept")
    assert len(find_taken(all_of(exported), exported.into)) == 6  # without a journal, all
    (exported.into / "kept").rename(exported.into / FOLDER / "journal.jsonl")
    assert find_taken(all_of(exported), exported.into) == (line, print_)

    left = run_export(all_of(exported), exported.into, 1).pages
    assert [page.status for page in left] == ["failed", "failed", "unchanged"]
    said = str(in_window(left[0].faults[0]))
    assert "1-line.png was changed since it was written" in said
    assert "choose “Write over them”" in said
    assert "--" not in said
    assert line.read_bytes() == print_.read_bytes() == b"retouched"

    some = run_export(all_of(exported), exported.into, 1, over=frozenset({line})).pages
    assert [page.status for page in some] == ["done", "failed", "unchanged"]
    assert line.read_bytes() == ours[line]
    assert print_.read_bytes() == b"retouched"


def test_two_exports_do_not_write_into_one_folder_at_a_time(exported):
    with Journal(exported.into):
        assert find_taken(all_of(exported), exported.into) == ()
        with pytest.raises(Refused, match="another run is writing there"):
            run_export(all_of(exported), exported.into, 1)


def test_a_folder_where_no_journal_can_be_kept_gets_its_pages_and_a_fault(tmp_path):
    page = JobPage(draw_page(tmp_path / "1.png"), steps=LIST)
    job = written_as(Job((page,)), Export((0,), (Line(),), tmp_path / "out"))
    job.into.mkdir()
    (job.into / FOLDER).write_bytes(b"in its place")
    ended = run_export(all_of(job), job.into, 1)
    assert [page.status for page in ended.pages] == ["done"]
    assert "\n".join(map(str, ended.faults)) == (
        ".stetline: something else of that name is in the way, so what was done is not noted "
        "there; move it, or choose another folder.")
    assert (job.into / "1-line.png").is_file()


def test_where_no_page_can_be_written_nothing_is_said_of_the_journal_too(tmp_path):
    page = JobPage(draw_page(tmp_path / "1.png"), steps=LIST)
    (tmp_path / "taken").write_bytes(b"a file")
    job = written_as(Job((page,)), Export((0,), (Line(),), tmp_path / "taken" / "out"))
    ended = run_export(all_of(job), job.into, 1)
    assert [str(fault) for fault in ended.pages[0].faults] == [
        f"out: {tmp_path / 'taken'} is no folder; choose another."]
    assert ended.faults == ()


def test_settings_come_back_and_broken_ones_are_the_first(tmp_path):
    path = Places.under(tmp_path).settings
    settings = Settings("dark", 1500, 900, ("a", "b"), 4.5, (("/a/b.tif", 3),))
    save_settings(path, settings)
    assert load_settings(path) == settings
    for text in ("", "[", "[]", '{"theme": 3, "width": "wide", "recent": [1]}', "[" * 99_999,
                 '{"left": [["a"], ["b", 0], [3, 3], 3]}', '{"left": {}}'):
        path.write_text(text)
        assert load_settings(path) == Settings()
    path.write_text('{"theme": "pink", "width": 3}')
    assert load_settings(path) == Settings(width=800)


def test_the_drawer_keeps_lists_by_their_names(tmp_path):
    folder = tmp_path / "drawer"
    assert look_in(folder, KINDS).lists == ()
    put_in(folder, StepList("Brush", (Lift(),)), KINDS)
    put_in(folder, LIST, KINDS)
    put_in(folder, StepList("BRUSH", (BuildUp(),)), KINDS)
    drawn = look_in(folder, KINDS)
    assert [steps.name for _, steps in drawn.lists] == ["BRUSH", "pen"]
    (folder / "broken.json").write_text("{")
    assert len(look_in(folder, KINDS).faults) == 1
    take_out(folder, "pen.json", KINDS)
    assert take_out(folder, "../drawer/broken.json", KINDS) is None
    assert [steps.name for _, steps in look_in(folder, KINDS).lists] == ["BRUSH"]


OLD = StepList("marks", (KeepMarks(limit=4), Lift()))


def put_older(path):
    """The list ``OLD`` as a program with another edition of *keep marks* wrote it."""
    path.write_text(dumps(OLD).replace(f'"edition": {KeepMarks.edition}', '"edition": 1'))
    return path.read_bytes()


def test_a_list_of_an_older_program_stays_in_the_drawer_with_its_key(tmp_path):
    text = put_older(tmp_path / "marks.json")
    put_in_with_key(tmp_path, LIST, KINDS)
    give_key(tmp_path, "marks.json", "Alt+7", KINDS)
    give_key(tmp_path, "pen.json", "Alt+8", KINDS)
    drawn = look_in(tmp_path, KINDS)
    assert dict(drawn.lists)["marks.json"] == OLD
    assert list(drawn.older) == ["marks.json"]
    assert drawn.keys == {"marks.json": "Alt+7", "pen.json": "Alt+8"}
    assert drawn.faults == ()
    thrown = take_out(tmp_path, "marks.json", KINDS)
    put_back(tmp_path, thrown, KINDS)
    assert (tmp_path / "marks.json").read_bytes() == text
    with pytest.raises(Refused, match="older program"):
        rename(tmp_path, "marks.json", "crayon", KINDS)
    pack(tmp_path / "all.zip", drawn)
    assert unpack(tmp_path / "all.zip", KINDS).older == {}
    with zipfile.ZipFile(tmp_path / "old.zip", "w") as archive:
        archive.writestr("marks.json", text)
    unpacked = unpack(tmp_path / "old.zip", KINDS)
    assert dict(unpacked.lists) == {"marks.json": OLD}
    assert list(unpacked.older) == ["marks.json"]


def test_a_file_in_the_drawer_that_cannot_be_read_is_not_written_over(tmp_path):
    (tmp_path / "Pen.json").write_text("not yet a list")
    with pytest.raises(Refused, match="cannot be read") as stopped:
        put_in(tmp_path, LIST, KINDS)
    assert str(tmp_path) in stopped.value.faults[0].remedy
    assert (tmp_path / "Pen.json").read_text() == "not yet a list"
    assert len(put_in_all(tmp_path, Drawn((("pen.json", LIST), ("b.json", OLD))), KINDS)) == 1
    assert [name for name, _ in look_in(tmp_path, KINDS).lists] == ["marks.json"]


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
        put_in(folder, StepList(name, (BuildUp(times=3),)), KINDS)
    for name in ("one.zip", "two.zip"):
        pack(tmp_path / name, look_in(folder, KINDS))
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
    drawn = unpack(tmp_path / "one.zip", KINDS)
    assert [steps.name for _, steps in drawn.lists] == ["a", "b", "c"]
    assert drawn.keys == {}


def test_lists_get_keys_of_their_own_that_go_along_in_the_zip(tmp_path):
    folder, other = tmp_path / "drawer", tmp_path / "other"
    for name in "abc":
        put_in_with_key(folder, StepList(name, (Lift(),)), KINDS)
    assert look_in(folder, KINDS).keys == {"a.json": "Alt+1", "b.json": "Alt+2", "c.json": "Alt+3"}
    give_key(folder, "b.json", "Ctrl+Alt+B", KINDS)
    give_key(folder, "c.json", "", KINDS)
    thrown = take_out(folder, "a.json", KINDS)
    assert look_in(folder, KINDS).keys == {"b.json": "Ctrl+Alt+B"}
    put_in_with_key(folder, StepList("b", (BuildUp(),)), KINDS)
    put_in_with_key(folder, StepList("d", ()), KINDS)
    rename(folder, "b.json", "broad pen", KINDS)
    drawn = look_in(folder, KINDS)
    assert drawn.keys == {"broad pen.json": "Ctrl+Alt+B", "d.json": "Alt+1"}
    assert drawn.called["broad pen.json"] == "broad pen"
    pack(tmp_path / "one.zip", drawn)
    put_in_with_key(other, StepList("mine", ()), KINDS)
    faults = put_in_all(other, unpack(tmp_path / "one.zip", KINDS), KINDS)
    assert look_in(other, KINDS).keys == {"mine.json": "Alt+1", "broad pen.json": "Ctrl+Alt+B"}
    assert [str(fault) for fault in faults] == [
        "Alt+1: it is the key of the list “mine” already; choose another."]
    with pytest.raises(Refused):  # its key is another's now
        put_back(folder, thrown, KINDS)
    assert dict(look_in(folder, KINDS).lists)["a.json"] == thrown.steps


def test_a_list_that_was_thrown_out_is_put_back_with_its_key(tmp_path):
    folder = tmp_path / "drawer"
    put_in_with_key(folder, StepList("pen", (Lift(),)), KINDS)
    before = look_in(folder, KINDS)
    thrown = take_out(folder, "pen.json", KINDS)
    assert look_in(folder, KINDS).lists == ()
    put_back(folder, thrown, KINDS)
    assert look_in(folder, KINDS) == before
    with pytest.raises(Refused):
        put_back(folder, thrown, KINDS)


def test_lists_lie_in_the_drawer_in_natural_order(tmp_path):
    for name in ("chapter 10", "chapter 2", "Chapter 1"):
        put_in(tmp_path, StepList(name, ()), KINDS)
    assert [steps.name for _, steps in look_in(tmp_path, KINDS).lists] == [
        "Chapter 1", "chapter 2", "chapter 10"]


@pytest.mark.parametrize(("key", "why"), [
    ("Ctrl+S", "Save the step list"), ("Shift+Ctrl+S", "Save the job"), ("Alt+S", "menu Steps"),
    ("Z", "to type or to steer"), ("Shift+7", "to type or to steer"), ("Ctrl++", "Zoom in"),
    ("Ctrl+Left", "divider"), ("Alt+1", "the list “pen”"),
])
def test_a_key_that_does_something_already_is_refused_in_a_sentence(tmp_path, key, why):
    put_in_with_key(tmp_path, LIST, KINDS)
    put_in(tmp_path, StepList("other"), KINDS)
    with pytest.raises(Refused, match=why) as refused:
        give_key(tmp_path, "other.json", key, KINDS)
    assert str(refused.value).count(".") == 1
    for free in ("Ctrl+Alt+7", "F9", "Meta+B", "Alt+2"):
        give_key(tmp_path, "other.json", free, KINDS)
        assert look_in(tmp_path, KINDS).keys["other.json"] == free


def test_a_list_cannot_be_called_as_another_is(tmp_path):
    put_in(tmp_path, LIST, KINDS)
    put_in(tmp_path, StepList("other"), KINDS)
    with pytest.raises(Refused, match="called so"):
        rename(tmp_path, "other.json", "PEN", KINDS)
    assert len(look_in(tmp_path, KINDS).lists) == 2


@pytest.mark.parametrize("text", [
    b"", b"[]", b"{}", b'{"format": "stetline drawer keys", "keys": [1]}',
    b'{"format": "stetline drawer keys", "keys": {"a.json": 7}}',
    b'{"format": "stetline drawer keys", "keys": {"a.json": "Hyper+X"}}',
    b'{"format": "stetline drawer keys", "keys": {"a.json": "' + b"x" * 99 + b'"}}',
])
def test_a_broken_file_of_keys_is_said_and_the_lists_stay(tmp_path, text):
    put_in(tmp_path, LIST, KINDS)
    (tmp_path / KEYS_FILE).write_bytes(text)
    drawn = look_in(tmp_path, KINDS)
    assert [steps.name for _, steps in drawn.lists] == ["pen"]
    assert drawn.keys == {}
    assert len(drawn.faults) == 1
    with pytest.raises(Refused):
        unpack(zipped(tmp_path, ("pen.json", GOOD), (KEYS_FILE, text)), KINDS)


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
