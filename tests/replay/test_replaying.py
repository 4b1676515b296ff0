"""``stetline replay`` as a whole: jobs, names, folders, flags, plans, hot folders."""

import argparse
import errno
import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from app.command import main
from app.kinds import KINDS
from app.pages.limits import Limits
from app.pages.listing import PageAt
from app.pages.lists import write_list
from app.replay.hot import HotFolder
from app.replay.job import Job, read_job, write_job
from app.replay.journal import Journal
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Following, Tone
from tests.replay.conftest import STEPS, contents, draw, draw_book


@pytest.fixture
def shelf(tmp_path, book):
    """A list, a folder of four scans, a place for outputs; ``go`` runs the command there."""
    write_list(tmp_path / "list.json", STEPS)

    def go(*words: str, pages: tuple[str, ...] = ("scans",)) -> int:
        places = [str(tmp_path / page) for page in pages]
        return main(["replay", str(tmp_path / "list.json"), *places,
                     "--into", str(tmp_path / "out"), "--cores", "1", *words])

    return argparse.Namespace(go=go, here=tmp_path, scans=book, out=tmp_path / "out")


def test_a_kept_job_is_the_whole_command(shelf, capsys):
    assert shelf.go("--rendition", "print", "--names", "{number}{side}", "--start", "7",
                    "--keep", str(shelf.here / "book.json"), "--report", "--quiet") == 0
    made = contents(shelf.out)
    assert set(made) == {"007right.tif", "008left.tif", "009right.tif", "010left.tif",
                         "stetline-report.html", "stetline-report.json"}
    (shelf.out / "008left.tif").unlink()
    assert main(["replay", str(shelf.here / "book.json"), "--cores", "1", "--json"]) == 0
    events = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [event["status"] for event in events if event["event"] == "page"] == [
        "unchanged", "done", "unchanged", "unchanged",
    ]
    assert events[-1]["event"] == "end"
    again = contents(shelf.out)
    assert {n: d for n, d in again.items() if "report" not in n} == {
        n: d for n, d in made.items() if "report" not in n
    }


def test_a_job_says_itself_what_is_written(shelf, capsys):
    write_job(shelf.here / "book.json", Job(into=shelf.out, lists=(STEPS,)))
    job = str(shelf.here / "book.json")
    assert main(["replay", job, "--rendition", "web", "--web-width", "9", "--no-marks"]) == 2
    assert [said.partition(";")[0] for said in capsys.readouterr().err.splitlines()] == [
        f"{job}: a job has its own --{option}" for option in ("no-marks", "rendition", "web-width")]
    assert main(["replay", job, str(shelf.scans)]) == 2
    assert "a job has its own pages" in capsys.readouterr().err
    # what is as it would be anyway, and what only a run decides, may be said
    words = ["--web-form", "webp", "--into", str(shelf.out), "--again", "--quiet", "--plan"]
    assert main(["replay", job, *words]) == 2
    assert "there is no page to do" in capsys.readouterr().err


def test_pages_that_stand_apart_are_told_and_left_out_if_asked(shelf, capsys):
    for number in (5, 6):
        draw(shelf.scans / f"page {number}.tif", number)
    draw(shelf.scans / "page 3.tif", 3, paper=205)
    Image.open(shelf.scans / "page 4.tif").rotate(90, expand=True).save(
        shelf.scans / "page 4.tif", dpi=(300, 300),
    )
    assert shelf.go("--leave-out", "--report") == 1
    told = capsys.readouterr()
    assert "page 3.tif: it stands apart and was left out. Its paper lies at 204" in told.err
    assert "page 4.tif: it stands apart and was left out. It lies turned by a quarter" in told.err
    assert {name[:6] for name in contents(shelf.out)} == {
        "page 1", "page 2", "page 5", "page 6", "stetli",
    }
    report = json.loads((shelf.out / "stetline-report.json").read_text())
    assert [page["status"] for page in report["pages"]] == [
        "done", "done", "failed", "failed", "done", "done",
    ]
    assert shelf.go() == 0, "not asked, they are done and told"
    told = capsys.readouterr()
    assert "page 3.tif: Its paper lies at 204, the book's at 232" in told.out
    assert "page 4.tif: It lies turned by a quarter." in told.out


def test_all_pages_are_compared_with_the_one_that_the_list_was_made_on(shelf, capsys):
    draw(shelf.here / "first.tif", 9, paper=210)
    assert shelf.go("--like", str(shelf.here / "first.tif"),
                    "--keep", str(shelf.here / "book.json")) == 0
    assert capsys.readouterr().out.count("the book's at 209: scanned lighter") == 4
    assert read_job(shelf.here / "book.json", KINDS).recorded_on[0].list == "pen"


def test_following_points_shift_with_each_page_and_the_journal_has_them_settled(shelf):
    draw(shelf.scans / "page 2.tif", 2, paper=205)
    follow = Tone(points=Following(black=40, white=215, paper=231.5))
    write_list(shelf.here / "list.json", StepList("follow", (follow, Lift())))
    assert shelf.go("--quiet") == 0
    points = {}
    with Journal(shelf.out, read_only=True) as journal:
        for number in (1, 2):
            record = journal.record(PageAt(shelf.scans / f"page {number}.tif", 1, 1))
            points[number] = record["settled"]["steps"][0]["points"]
    assert points[1]["how"] == "fixed"
    assert points[1]["white"] == pytest.approx(215, abs=1)
    assert points[2]["white"] == pytest.approx(215 * 204.5 / 231.5, abs=1)
    line = np.asarray(Image.open(shelf.out / "page 2-line.png"))[..., 3]
    assert np.mean(line > 0) < 0.2, "the darker paper is clear as well"


def test_outputs_in_the_folder_of_the_scans_are_not_taken_for_scans(shelf):
    words = ["replay", str(shelf.here / "list.json"), str(shelf.scans), "--into",
             str(shelf.scans), "--quiet", "--cores", "1"]
    assert main(words) == 0
    first = set(contents(shelf.scans))
    assert main(words) == 0
    assert set(contents(shelf.scans)) == first
    assert len(first) == 8


def test_pages_of_one_name_are_told_apart_by_their_folders(shelf, capsys):
    for chapter in ("one", "two"):
        (shelf.scans / chapter).mkdir()
        shutil.copy(shelf.scans / "page 1.tif", shelf.scans / chapter / "same.tif")
    (shelf.scans / "page 1.tif").unlink()
    assert shelf.go("--folders", "keep", "--report") == 0
    assert "two/same.tif: It shows the same drawing as one/same.tif." in capsys.readouterr().out
    report = (shelf.out / "stetline-report.html").read_text("utf-8")
    assert "two/same.tif" in report
    assert "scans/" not in report


def test_folders_below_are_kept(shelf):
    draw_book(shelf.scans / "two", 2)
    (shelf.scans / "two" / "empty").mkdir()
    assert shelf.go("--folders", "keep", "--quiet") == 0
    assert set(contents(shelf.out)) == {
        *(f"page {n}-line.png" for n in (1, 2, 3, 4)),
        *(f"two/page {n}-line.png" for n in (1, 2)),
    }
    assert shelf.go("--folders", "flatten", "--quiet") == 0
    assert len([name for name in contents(shelf.out) if "/" not in name]) == 4 + 6 - 2


def test_a_file_that_cannot_be_read_is_in_the_report(shelf, capsys):
    (shelf.scans / "page 9.tif").write_bytes(b"II*\0broken")
    assert shelf.go("--report") == 1
    assert "page 9.tif" in capsys.readouterr().err
    rows = json.loads((shelf.out / "stetline-report.json").read_text())["pages"]
    assert (rows[-1]["name"], rows[-1]["status"]) == ("page 9.tif", "failed")
    assert "page 9.tif" in (shelf.out / "stetline-report.html").read_text()


def test_a_plan_writes_nothing(shelf, capsys):
    assert shelf.go("--plan") == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0] == f"page 1.tif -> {shelf.out / 'page 1-line.png'}"
    assert said[-1].startswith("4 of 4 pages to do, ")
    assert "measured on page 1.tif just now" in said[-1]
    assert not shelf.out.exists()
    assert shelf.go("--quiet") == 0
    draw(shelf.scans / "page 2.tif", 22)
    before = contents(shelf.out)
    assert shelf.go("--plan", "--json") == 0
    data = json.loads(capsys.readouterr().out)
    assert [page["state"] for page in data["pages"]] == [
        "unchanged", "to do", "unchanged", "unchanged",
    ]
    assert data["measured"] == "measured on 3 pages done before"
    assert data["writes"] == pytest.approx(
        len(before["page 2-line.png"]), rel=0.5,
    )
    assert contents(shelf.out) == before


class Clock:
    """Seconds that pass when they are told to."""

    now = 1000.0

    def __call__(self) -> float:
        return self.now


def test_a_hot_folder_waits_until_a_file_is_whole(tmp_path, crew, monkeypatch):
    drop, out, clock = tmp_path / "drop", tmp_path / "out", Clock()
    drop.mkdir()
    whole = draw(tmp_path / "whole.tif", 1).read_bytes()
    job = Job(lists=(STEPS,), into=out)

    def look(hot, after=0.0):
        clock.now += after
        with Journal(out) as journal:
            return [(end.page.path.name, end.status)
                    for end in hot.round(job, KINDS, crew, journal)]

    hot = HotFolder([drop], clock, Limits())
    assert look(hot) == []
    (drop / "a.tif").write_bytes(whole[: len(whole) // 2])
    assert look(hot, 1) == []
    (drop / "a.tif").write_bytes(whole[: len(whole) * 3 // 4])  # the scanner pauses here
    assert look(hot, 1) == []
    assert look(hot, 5) == [], "it lies still, but it cannot be read yet"
    (drop / "a.tif").write_bytes(whole)
    assert look(hot, 1) == []
    assert look(hot, 3) == [("a.tif", "done")]
    assert look(hot, 3) == []
    assert set(contents(out)) == {"a-line.png"}

    restarted = HotFolder([drop], clock, Limits())
    assert look(restarted) == []
    assert look(restarted, 3) == [], "the journal knows it"
    draw(drop / "a.tif", 2)
    (drop / "b.tif").write_bytes(whole[: len(whole) // 2])
    assert look(restarted) == []
    assert look(restarted, 3) == [("a.tif", "done")]
    assert look(restarted, 40) == [("b.tif", "failed")], "it stays as it is"
    assert look(restarted, 40) == []
    (drop / "b.tif").unlink()
    assert look(restarted, 1) == []

    def refuse(_):
        raise PermissionError(errno.EACCES, "Permission denied")

    with monkeypatch.context() as away:  # as a folder on a network that is not there for a while
        away.setattr(Path, "iterdir", refuse)
        assert look(restarted, 1) == []
    assert look(restarted) == []
    assert look(restarted, 3) == [], "it was done before"


def test_pages_that_come_one_by_one_cannot_be_numbered(shelf, capsys):
    assert shelf.go("--watch", "--names", "{number}") == 2
    assert "cannot be numbered" in capsys.readouterr().err
    assert shelf.go("--watch", pages=("list.json",)) == 2
    assert "it is no folder" in capsys.readouterr().err
    assert shelf.go("--watch", pages=()) == 2


def test_quiet_says_nothing_and_lines_say_figures(shelf, capsys):
    assert shelf.go("--quiet") == 0
    assert capsys.readouterr() == ("", "")
    assert shelf.go("--again", "--check") == 0
    said = capsys.readouterr().out.splitlines()
    assert said[:4] == [str(shelf.out / f"page {n}-line.png") for n in (1, 2, 3, 4)]
    assert said[4].startswith("4 of 4 pages, ")
    assert said[4].endswith(" Mpx/s")
    assert shelf.go() == 0
    assert "4 were done before and are unchanged" in capsys.readouterr().out


def test_a_scheduler_that_is_not_there_is_a_wrong_request(shelf, capsys, monkeypatch):
    pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    monkeypatch.setattr("app.replay.cluster._PATIENCE", "200ms")
    assert shelf.go("--cluster", "tcp://127.0.0.1:9") == 2
    assert "the scheduler cannot be reached" in capsys.readouterr().err
