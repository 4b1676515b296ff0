"""The command line, from arguments to files and exit status."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from app.command import main
from app.filters.flats import Flats
from app.filters.keep_marks import Dark, KeepMarks, Pale
from app.kinds import KINDS
from app.pages.lists import read_list, write_list
from app.pages.renditions import Bitmap
from app.replay.job import Job, JobPage, dumps_job, read_job, write_job
from core.steps.document import dumps
from core.steps.lift import Lift, One
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone

HEIGHT, WIDTH = 300, 420
LIST = StepList("pen", (Tone(points=Fixed(black=40, white=220)), Lift()))


def draw_page(path: Path, *, ink: int = 25, paper: int = 232, ppi: float | None = 300) -> Path:
    """A page of even paper with a little grain, and one broad stroke."""
    grain = np.random.default_rng(4).integers(-3, 4, (HEIGHT, WIDTH))
    page = np.clip(paper + grain, 0, 255).astype(np.uint8)
    page[100:130, 50:350] = ink
    Image.fromarray(page).save(path, **({"dpi": (ppi, ppi)} if ppi else {}))
    return path


def look(path: Path) -> np.ndarray:
    """An output's pixels."""
    with Image.open(path) as picture:
        return np.asarray(picture)


def written(folder: Path) -> set[str]:
    """The outputs; the folder's journal is hidden."""
    return {path.name for path in folder.iterdir() if not path.name.startswith(".stetline")}


@pytest.fixture
def folder(tmp_path):
    scans = tmp_path / "scans"
    scans.mkdir()
    draw_page(scans / "page 2.png")
    draw_page(scans / "page 10.tif")
    write_list(tmp_path / "list.json", LIST)
    return tmp_path


def test_replay_writes_every_rendition_of_every_page(folder, capsys):
    asked = [part for name in ("line", "print", "layered", "web") for part in ("--rendition", name)]
    status = main(["replay", str(folder / "list.json"), str(folder / "scans"),
                   "--into", str(folder / "out"), *asked])
    assert status == 0
    assert written(folder / "out") == {f"page {n}{end}" for n in (2, 10)
                     for end in ("-line.png", "-print.tif", "-layered.ora", "-web.webp")}
    said = capsys.readouterr().out.splitlines()
    assert said[0].endswith("page 2-line.png"), "natural order: 2 before 10"


def test_line_pixels_are_what_the_list_says(folder):
    main(["replay", str(folder / "list.json"), str(folder / "scans" / "page 2.png"),
          "--into", str(folder), "--quiet"])
    line = look(folder / "page 2-line.png")
    scan = look(folder / "scans" / "page 2.png")
    assert line.shape == (HEIGHT, WIDTH, 4)
    assert (line[100:130, 50:350, 3] == 255).all()
    assert (line[..., :3] == 0).all(), "clear pixels carry the ink's colour"
    expected = np.round((220.0 - np.clip(scan, 40, 220)) / 180 * 255)
    assert np.abs(line[..., 3] - expected).max() <= 1


def test_a_broken_page_is_named_and_the_rest_is_done(folder, capsys):
    (folder / "scans" / "page 3.png").write_bytes(b"not a picture")
    status = main(["replay", str(folder / "list.json"), str(folder / "scans"),
                   "--into", str(folder / "out"), "--quiet"])
    told = capsys.readouterr()
    assert status == 1
    assert "page 3.png" in told.err
    assert "Traceback" not in told.err
    assert written(folder / "out") == {"page 2-line.png", "page 10-line.png"}


def test_a_page_that_breaks_late_leaves_nothing_half_written(folder, capsys):
    whole = (folder / "scans" / "page 10.tif").read_bytes()
    (folder / "scans" / "page 10.tif").write_bytes(whole[: len(whole) // 2] + whole[-200:])
    status = main(["replay", str(folder / "list.json"), str(folder / "scans"),
                   "--into", str(folder / "out"), "--quiet"])
    assert status == 1
    assert "page 10.tif" in capsys.readouterr().err
    assert written(folder / "out") == {"page 2-line.png"}


@pytest.mark.parametrize(("size", "ppi"), [("--ppi=400", 400), ("--sheet=35.56x25.4mm", 300)])
def test_a_scan_without_resolution_asks_for_one(folder, capsys, size, ppi):
    draw_page(folder / "bare.png", ppi=None)
    words = ["replay", str(folder / "list.json"), str(folder / "bare.png"), "--into", str(folder)]
    assert main(words) == 1
    assert "--ppi" in capsys.readouterr().err
    assert main([*words, size]) == 0
    with Image.open(folder / "bare-line.png") as line:
        assert line.info["dpi"][0] == pytest.approx(ppi, abs=0.1)


def test_suggest_writes_a_list_that_clears_the_paper_and_blackens_the_ink(folder, capsys):
    page = str(folder / "scans" / "page 2.png")
    assert main(["suggest", page, "--out", str(folder / "made.json")]) == 0
    said = capsys.readouterr().out
    assert "The paper lies at 232" in said
    steps = read_list(folder / "made.json", KINDS)
    assert [step.kind for step in steps.steps][-2:] == ["tone", "lift"]
    assert main(["measure", page, "--list", str(folder / "made.json"), "--json"]) == 0
    row = json.loads(capsys.readouterr().out)["pages"][0]
    assert row["paper_printing_percent"] < 0.1
    assert row["ink_percent"] == pytest.approx(100 * 30 * 300 / (HEIGHT * WIDTH), rel=0.02)
    assert row["width_mm"] == pytest.approx(WIDTH / 300 * 25.4, abs=0.05)


@pytest.mark.parametrize(("pale", "weakest"), [(True, Dark), (False, Pale)])
def test_the_ink_only_is_kept_where_it_is_asked_for(folder, capsys, pale, weakest):
    page = np.asarray(Image.open(folder / "scans" / "page 2.png")).copy()
    if pale:
        page[40:46, 20:-20] = np.minimum(page[40:46, 20:-20], 180)
    Image.fromarray(page).save(folder / "two.png", dpi=(300, 300))
    words = ["suggest", str(folder / "two.png"), "--out", str(folder / "made.json"), "--ink-only"]
    assert main(words) == 0
    assert ("paler is left out" in capsys.readouterr().out) == pale
    steps = read_list(folder / "made.json", KINDS).steps
    assert isinstance(next(s for s in steps if isinstance(s, KeepMarks)).weakest, weakest)


def test_measure_speaks_plainly_without_a_terminal(folder, capsys):
    assert main(["measure", str(folder / "scans")]) == 0
    said = capsys.readouterr().out.splitlines()
    assert len(said) == 2
    assert said[0].startswith("page 2.png, page 1: 35.6 x 25.4 mm at 300 ppi")
    assert "ink at 2" in said[0]
    Image.new("L", (400, 300), 231).save(folder / "bare.png", dpi=(300, 300))
    assert main(["measure", str(folder / "bare.png")]) == 0
    assert "no peak of ink." in capsys.readouterr().out


def test_show_says_the_list_in_sentences(folder, capsys):
    assert main(["show", str(folder / "list.json")]) == 0
    said = capsys.readouterr().out
    assert "40 and darker become black, 220 and lighter become paper" in said


@pytest.mark.parametrize("words", [
    ["paint"], ["replay"], ["show", "nowhere.json"], ["replay", "nowhere.json", "x", "--into", "y"],
    ["measure", "x.png", "--ppi", "nonsense"], ["measure", "nowhere-at-all"],
])
def test_a_wrong_request_is_said_and_gives_2(words, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    told = capsys.readouterr()
    assert told.err
    assert "Traceback" not in told.err


@pytest.mark.parametrize(("option", "typed", "why"), [
    ("--ppi", "0", "a resolution lies between 10 and 20000 ppi"),
    ("--ppi", "-300", "that is not a number of pixels per inch"),
    ("--ppi", "", "that is not a number of pixels per inch"),
    ("--ppi", "A4", "that is not a number of pixels per inch"),
    ("--sheet", "300", "that is not the size of a sheet"),
    ("--sheet", "0x0mm", "a sheet is between 1 mm and 10 m long"),
])
def test_a_size_that_cannot_be_is_named_as_it_was_typed(folder, capsys, option, typed, why):
    assert main(["measure", str(folder / "page 1.png"), f"{option}={typed}"]) == 2
    assert capsys.readouterr().err.startswith(f'{option} "{typed}": {why}; ')


def test_a_list_with_faults_names_them_all(folder, capsys):
    (folder / "bad.json").write_text(json.dumps({
        "format": "stetline step list", "version": 1, "name": "bad", "steps": [
            {"kind": "tone", "edition": 1, "middle": True},
            {"kind": "polish", "edition": 1},
        ],
    }))
    assert main(["show", str(folder / "bad.json")]) == 2
    told = capsys.readouterr().err.splitlines()
    assert told[0] == "bad.json, step 1 (tone), middle: true is not a number."
    assert told[1].startswith('bad.json, step 2, kind: "polish" is no kind of step')


def older(text):
    """The text of a list or job whose *keep marks* is of the first edition."""
    return text.replace(f'"edition": {KeepMarks.edition}', '"edition": 1')


@pytest.mark.parametrize("kind", ["list", "job"])
def test_a_list_or_a_job_of_an_older_program_is_brought_up_to_date(kind, tmp_path, capsys):
    steps = StepList("ink", (KeepMarks(limit=4), Lift()))
    job = Job((JobPage(tmp_path / "a.png"),), (steps,), into=tmp_path / "out")
    text = dumps(steps) if kind == "list" else dumps_job(job)
    old, new = tmp_path / "old.json", tmp_path / "new.json"
    old.write_text(older(text))
    before = old.read_bytes()
    pages = [str(tmp_path / "a.png"), "--into", str(tmp_path / "o")] if kind == "list" else []
    assert main(["replay", str(old), *pages]) == 2
    assert capsys.readouterr().err.startswith(
        "old.json: this program does “keep marks” otherwise than the one that wrote it; "
        "“stetline renew” brings it up to date")
    assert main(["renew", str(old), "--out", str(old)]) == 2
    assert main(["renew", str(old), "--out", str(new)]) == 0
    assert "What it does may differ" in capsys.readouterr().out
    assert old.read_bytes() == before
    if kind == "list":
        assert read_list(new, KINDS) == steps
    else:
        assert read_job(new, KINDS) == job
    assert main(["renew", str(new), "--out", str(tmp_path / "newer.json")]) == 0
    assert "is up to date" in capsys.readouterr().out
    assert not (tmp_path / "newer.json").exists()


def test_no_scan_and_no_list_is_written_over(folder, capsys):
    scan, steps = folder / "scans" / "page 10.tif", folder / "list.json"
    other = draw_page(folder / "other.tif")
    before = {path: path.read_bytes() for path in (scan, steps, other)}
    wrong = [
        ["suggest", scan, "--out", scan], ["suggest", scan, "--out", other],
        ["replay", steps, scan, "--into", folder / "out", "--keep", steps],
        ["replay", steps, scan, "--into", folder / "out", "--keep", scan],
        ["replay", steps, scan, "--into", folder / "out", "--keep", other],
        ["proof", scan, "--list", steps, "--book", scan],
        ["proof", scan, "--list", steps, "--book", other],
        ["proof", scan, "--list", steps, "--proof-sheet", steps],
        ["proof", scan, "--list", steps, "--proof-sheet", folder / "none" / "x.html"],
        ["strip", other],
    ]
    for words in wrong:
        assert main([str(word) for word in words]) == 2, words
        [said] = capsys.readouterr().err.splitlines()
        assert "; " in said, "what is wrong, and what to do"
    assert {path: path.read_bytes() for path in before} == before
    linked = folder / "linked.json"
    linked.hardlink_to(scan)
    assert main(["suggest", str(scan), "--out", str(linked)]) == 2
    assert main(["suggest", str(scan), "--out", str(steps)]) == 0, "a list may replace a list"
    assert steps.read_bytes() != before[steps]


def test_options_may_stand_before_and_among_the_pages(folder, monkeypatch, capsys):
    monkeypatch.chdir(folder)
    draw_page(folder / "-dash.png")
    pages = ["scans/page 2.png", "scans/page 10.tif"]
    assert main(["replay", "list.json", "--into", "a", *pages, "--quiet"]) == 0
    assert main(["replay", "--into", "b", "list.json", pages[0], "--quiet", pages[1]]) == 0
    assert main(["replay", "list.json", "--into", "c", "--quiet", "--", "-dash.png"]) == 0
    assert written(folder / "a") == written(folder / "b") == {"page 2-line.png", "page 10-line.png"}
    assert written(folder / "c") == {"-dash-line.png"}
    capsys.readouterr()
    assert main(["replay", "list.json", pages[0], "--rendition", "nosuch"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_a_page_that_cannot_be_read_is_counted_and_kept(folder, capsys):
    whole = (folder / "scans" / "page 2.png").read_bytes()
    (folder / "scans" / "page 3.png").write_bytes(whole[:90])
    words = ["replay", str(folder / "list.json"), str(folder / "scans"), "--into",
             str(folder / "out")]
    assert main([*words, "--keep", str(folder / "book.json"), "--json"]) == 1
    events = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    ended = [(Path(event["page"]).name, event["status"]) for event in events
             if event["event"] == "page"]
    assert ended == [("page 2.png", "done"), ("page 3.png", "failed"), ("page 10.tif", "done")]
    end = next(event for event in events if event["event"] == "end")
    assert (end["pages"], end["failed"]) == (3, 1)
    assert len(json.loads((folder / "book.json").read_text())["pages"]) == 3
    assert main(words) == 1
    assert "2 of 3 pages, 1 failed" in capsys.readouterr().out


def test_a_list_for_a_folder_says_for_which_page_it_is(folder, capsys):
    (folder / "scans" / "page 1.png").write_bytes(b"no picture")
    assert main(["suggest", str(folder / "scans"), "--out", str(folder / "fresh.json")]) == 0
    said = capsys.readouterr().out
    assert said.startswith("The list is made for page 2.png alone, of the 3 pages in ")


def test_a_name_that_the_terminal_has_no_letters_for_is_said_all_the_same(folder):
    page = (folder / "scans" / "page 2.png").rename(folder / "scans" / "\u6d77 \udcff.png")
    told = subprocess.run(
        [sys.executable, "-m", "app", "replay", str(folder / "list.json"), str(page), "--into",
         str(folder / "out")], capture_output=True, check=False, cwd=Path(__file__).parents[1],
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )
    assert told.returncode == 0, told.stderr
    assert rb"\u6d77" in told.stdout


def test_what_is_asked_for_is_written_though_nobody_listens(folder):
    script = (
        "import sys; from app.command import main\n"
        "sys.stdin.readline()\n"  # until whoever reads has gone
        "sys.exit(main(sys.argv[1:]))\n"
    )
    sheet = folder / "sheet.html"
    proof = subprocess.Popen(
        [sys.executable, "-u", "-c", script, "proof", str(folder / "scans"), "--list",
         str(folder / "list.json"), "--proof-sheet", str(sheet)], stdin=subprocess.PIPE,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=Path(__file__).parents[1],
    )
    proof.stdout.close()
    _, said = proof.communicate(b"\n")
    assert sheet.exists()
    assert b"Traceback" not in said
    assert b"Broken" not in said


@pytest.mark.parametrize("words", [
    ["--print-ppi", "10"], ["--print-width", "0"], ["--bleed", "99"], ["--cores", "0"],
    ["--cores", "-3"], ["--ground", "#ff"], ["--profile", "none.icc"],
])
def test_what_is_wrong_with_an_option_names_it(folder, words, capsys):
    forms = [part for name in ("web", "bitmap", "pdf") for part in ("--rendition", name)]
    assert main(["replay", str(folder / "list.json"), str(folder / "scans"), "--into",
                 str(folder / "out"), *forms, *words]) == 2
    [said] = capsys.readouterr().err.splitlines()
    assert words[0] in said
    assert not (folder / "out").exists()


def test_what_becomes_of_a_coloured_ink_is_said(folder, capsys):
    lift = Lift(ink=One(colour=(192, 32, 48)))
    write_list(folder / "red.json", StepList("red", (LIST.steps[0], lift)))
    words = [str(folder / "scans" / "page 2.png"), "--into", str(folder), "--again", "--rendition"]
    asked = (("red", "print", True), ("list", "print", False), ("red", "line", False))
    for steps, form, said in asked:
        assert main(["replay", str(folder / f"{steps}.json"), *words, form]) == 0
        assert ("keeps no colour" in capsys.readouterr().out) == said


def test_a_scan_that_changed_beneath_its_own_places_and_flats_that_are_left_out_are_said(
    folder, capsys,
):
    page = folder / "scans" / "page 2.png"
    own = StepList("", (Flats(seeds=(((2.0, 2.0), (200, 0, 0)),)),))
    job = Job(pages=(JobPage(page, steps=own),), lists=(LIST,), into=folder / "out",
              renditions=(Bitmap(),), report=False)
    write_job(folder / "book.json", job)
    assert main(["replay", str(folder / "book.json")]) == 0
    first = capsys.readouterr()
    assert "the flats are left out of it" in first.out
    assert "scanned again" not in first.err
    with Image.open(page) as old:
        old.transpose(Image.Transpose.FLIP_LEFT_RIGHT).save(page, dpi=(300, 300))
    main(["replay", str(folder / "book.json")])
    assert "page 2.png: it was scanned again" in capsys.readouterr().err


def test_short_colours_and_capitals_are_understood(folder, capsys):
    page, steps = str(folder / "scans" / "page 2.png"), str(folder / "list.json")
    assert main(["replay", steps, page, "--into", str(folder), "--rendition", "web",
                 "--ground", "#fc0"]) == 0
    assert look(folder / "page 2-web.webp")[0, 0].tolist()[:3] == [255, 204, 0]
    assert main(["proof", page, "--list", steps, "--press", "Coated"]) in (0, 1)


def test_a_file_is_no_folder_and_an_empty_list_does_nothing(folder, capsys):
    page, steps = folder / "scans" / "page 2.png", folder / "list.json"
    assert main(["replay", str(steps), str(page), "--into", str(page)]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
    write_list(steps, StepList("bare"))
    assert main(["replay", str(steps), str(page), "--into", str(folder / "out")]) == 2
    assert "has no steps" in capsys.readouterr().err
    assert main(["show", str(steps)]) == 0
    assert "has no steps" in capsys.readouterr().out


def test_help_needs_nothing_heavy():
    probe = (
        "import sys; from app.command import main; main(['--help']); main(['replay', '--help']);"
        "heavy = {'numpy', 'cv2', 'PIL', 'rich', 'imagecodecs', 'PySide6'} & set(sys.modules);"
        "sys.exit(f'loaded {heavy}' if heavy else 0)"
    )
    ran = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    assert "LIST.json" in ran.stdout
