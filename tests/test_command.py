"""The command line, from arguments to files and exit status."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from app.command import main
from app.kinds import KINDS
from app.pages.lists import read_list, write_list
from core.steps.lift import Lift
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


def test_measure_speaks_plainly_without_a_terminal(folder, capsys):
    assert main(["measure", str(folder / "scans")]) == 0
    said = capsys.readouterr().out.splitlines()
    assert len(said) == 2
    assert said[0].startswith("page 2.png, page 1: 35.6 x 25.4 mm at 300 ppi")


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


def test_help_needs_nothing_heavy():
    probe = (
        "import sys; from app.command import main; main(['--help']); main(['replay', '--help']);"
        "heavy = {'numpy', 'cv2', 'PIL', 'rich', 'imagecodecs', 'PySide6'} & set(sys.modules);"
        "sys.exit(f'loaded {heavy}' if heavy else 0)"
    )
    ran = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    assert "LIST.json" in ran.stdout
