"""Odd names, places and moments: one plain sentence each, nothing lost, no half file."""

import builtins
import io
import json
import os
from functools import partial

import pytest
from rich.console import Console

from app.command import main
from app.commands import say
from app.kinds import KINDS
from app.pages.lists import read_list, write_list
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from tests.replay.conftest import draw

LIST = StepList("pen", (Tone(points=Fixed(black=40, white=215)), Lift()))
ODD = ("a page.png", "\u00fcml\u00e4ut.png", "new\nline.png", "tab\t\x1b[31m.png", "-dash.png",
       "quote'\".png", "[red]x[bold].png")


@pytest.fixture
def desk(tmp_path, monkeypatch):
    """A folder that one works in, with a list; its place is where commands run."""
    monkeypatch.chdir(tmp_path)
    write_list(tmp_path / "list.json", LIST)
    return tmp_path


@pytest.fixture
def odd(desk):
    """Scans of odd names, one of which stands for no letters."""
    scans = desk / "scans"
    scans.mkdir()
    for number, name in enumerate(ODD):
        draw(scans / name, number, shape=(90, 70))
    try:
        (scans / os.fsdecode(b"bytes \xff.png")).write_bytes((scans / ODD[0]).read_bytes())
    except OSError:
        pytest.skip("names that stand for no letters cannot be given here")
    return scans


def test_pages_of_odd_names_are_done_and_told_of_a_line_each(odd, desk, capsys):
    assert main(["replay", "list.json", "scans", "--into", "out", "--report", "--cores", "1"]) == 0
    said = capsys.readouterr()
    lines = [line for line in said.out.splitlines() if line.startswith("out/")]
    assert len(lines) == len(ODD) + 1
    assert not set(said.out + said.err) & set("\t\x1b")
    report = (desk / "out" / "stetline-report.html").read_text("utf-8")
    assert "bytes \\udcff.png" in report
    assert json.loads((desk / "out" / "stetline-report.json").read_text("utf-8"))["pages"]


def test_pages_of_odd_names_are_proved_and_bound(odd, desk, capsys):
    book = os.fsdecode(b"book \xff.pdf")
    assert main(["proof", "scans", "--list", "list.json", "--proof-sheet", "sheet.html", "--book",
                 book, "--cores", "1"]) in (0, 1)
    assert "bytes \\udcff.png" in (desk / "sheet.html").read_text("utf-8")
    assert (desk / book).read_bytes().startswith(b"%PDF-1.6")
    assert main(["measure", "scans", "--cores", "1"]) == 0
    assert "new\\nline.png, page 1: " in capsys.readouterr().out


def test_a_name_is_no_markup_on_a_terminal(odd, monkeypatch, capsys):
    told = io.StringIO()
    monkeypatch.setattr(say, "Console", partial(Console, file=told, force_terminal=True,
                                                color_system=None, width=200))
    assert main(["measure", "scans", "--cores", "1"]) == 0
    assert "[red]x[bold].png" in told.getvalue()
    assert "tab\\t\\x1b[31m.png" in told.getvalue()


def test_what_leads_nowhere_or_is_too_long_is_one_sentence(desk, capsys):
    (desk / "circle.png").symlink_to("circle.png")
    (desk / "nowhere.png").symlink_to("gone.png")
    for name, why in (("circle.png", "links"), ("nowhere.png", "no such file"),
                      ("x" * 5000 + ".png", "too long")):
        assert main(["replay", "list.json", name, "--into", "out"]) == 2
        [said] = capsys.readouterr().err.splitlines()
        assert said.startswith(name)
        assert why in said
    assert not (desk / "out").exists()


def test_outputs_go_into_a_folder_and_nothing_else_is_taken_for_one(desk, capsys):
    draw(desk / "page.png", shape=(90, 70))
    (desk / "dangling").symlink_to(desk / "nowhere")
    (desk / "file").write_bytes(b"kept")
    for into in ("dangling", "file"):
        assert main(["replay", "list.json", "page.png", "--into", into]) == 2
        assert f"{into} is no folder, and the outputs need one" in capsys.readouterr().err
    assert (desk / "file").read_bytes() == b"kept"
    assert not (desk / "nowhere").exists()


def test_an_empty_name_is_not_the_folder_that_one_is_in(desk, capsys):
    draw(desk / "page.png", shape=(90, 70))
    for words in (["list.json", "", "--into", "out"], ["list.json", "page.png", "--into", ""]):
        assert main(["replay", *words]) == 2
        [said] = capsys.readouterr().err.splitlines()
        assert "an empty name names no file" in said
    assert not (desk / ".stetline").exists()


@pytest.mark.parametrize("out", ["n" * 230 + ".json", os.fsdecode(b"bytes \xff.json")])
def test_a_list_that_was_suggested_can_be_read(desk, out):
    draw(desk / "page.png", shape=(90, 70))
    assert main(["suggest", "page.png", "--out", out, "--cores", "1"]) == 0
    assert read_list(desk / out, KINDS).name


def test_a_list_is_not_given_a_name_that_no_list_can_have(desk, capsys):
    draw(desk / "page.png", shape=(90, 70))
    assert main(["suggest", "page.png", "--out", "a.json", "--name", "n" * 201]) == 2
    [said] = capsys.readouterr().err.splitlines()
    assert said == "--name: the name has 201 characters, more than 200; give a shorter one."
    assert not (desk / "a.json").exists()


def test_ctrl_c_while_a_command_is_still_being_loaded_is_a_sentence(desk, monkeypatch, capsys):
    real = builtins.__import__

    def load(name, *rest):
        if name == "app.commands.tasks":
            raise KeyboardInterrupt
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", load)
    assert main(["show", "list.json"]) == 130
    assert capsys.readouterr().err.startswith("stopped: ")


def test_a_page_of_more_megapixels_than_usual_is_read_only_if_that_is_asked_for(desk, capsys):
    draw(desk / "page.png", shape=(1100, 1000))
    words = ["measure", "page.png", "--cores", "1", "--megapixels"]
    assert main([*words, "1"]) == 1
    [said] = capsys.readouterr().err.splitlines()
    assert said.startswith("page.png: it says it is 1000 x 1100 pixels")
    assert said.endswith("raise the limit with --megapixels 2.")
    assert main([*words, "2"]) == 0


def test_no_command_touches_a_scan(desk):
    scans = desk / "scans"
    scans.mkdir()
    for name in ("one.png", "two.tif"):
        draw(scans / name, len(name), shape=(200, 150))

    def as_they_are():
        return {path.name: (path.read_bytes(), path.stat().st_mtime_ns, path.stat().st_ino)
                for path in scans.iterdir()}

    before = as_they_are()
    for words in (
        ["suggest", "scans/one.png", "--out", "made.json"], ["measure", "scans"],
        ["replay", "list.json", "scans", "--into", "out", "--keep", "book.json", "--rendition",
         "layered", "--rendition", "print", "--rendition", "web", "--rendition", "pdf"],
        ["replay", "book.json", "--again"],
        ["flats", "scans", "--list", "list.json", "--into", "f"],
        ["proof", "scans", "--list", "list.json", "--proof-sheet", "s.html", "--book", "b.pdf"],
        ["realign", "book.json", "1", "scans/one.png"],
    ):
        assert main(words) in (0, 1), words
        assert as_they_are() == before, words
