"""The wheel, installed into an empty environment, does the main job from an empty folder."""

import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def run(*words: str | Path, **more: object) -> str:
    ran = subprocess.run(
        [str(word) for word in words], capture_output=True, text=True, check=False, **more,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return ran.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation",
        "--wheel-dir", folder, ROOT)
    (made,) = folder.glob("stetline-*.whl")
    return made


def test_the_wheel_holds_what_it_needs_and_no_more(wheel):
    with zipfile.ZipFile(wheel) as packed:
        names = packed.namelist()
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith((".dist-info", ".data"))} == {"app", "core"}
    shared = {name.split(".data/data/")[1] for name in names if ".data/data/" in name}
    assert shared == {"share/applications/stetline.desktop",
                      "share/icons/hicolor/scalable/apps/stetline.svg"}
    shipped = {name.split("/")[2] for name in names if name.startswith("app/_shipped/")}
    assert shipped == {"sample_pages", "icons"}
    assert "app/steplist.schema.json" in names
    assert not [name for name in names if "__pycache__" in name]


def test_an_installed_wheel_replays_the_sample_pages(wheel, tmp_path):
    place = tmp_path / "environment"
    run(sys.executable, "-m", "venv", "--without-pip", place)
    python = place / ("Scripts" if os.name == "nt" else "bin") / "python"
    run(sys.executable, "-m", "pip", "-q", "--python", python, "install", "--no-deps",
        "--no-index", wheel)
    # the libraries it stands on are those of this environment; Stetline's own code is the wheel's
    site = Path(run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))").strip())
    (site / "libraries.pth").write_text(sysconfig.get_path("purelib"), "utf-8")
    empty = tmp_path / "empty"
    empty.mkdir()
    where = run(python, "-c", "import app; from app.shipped import shipped;"
                "print(app.__file__, shipped('sample_pages'), sep='\\n')", cwd=empty)
    code, samples = (Path(line) for line in where.splitlines())
    assert site in code.parents
    assert site in samples.parents
    stetline = python.with_name("stetline")
    run(stetline, "replay", samples / "sketchbook.json", samples / "keepers-notes.jpg",
        "--into", "out", cwd=empty)
    assert (empty / "out" / "keepers-notes-line.png").stat().st_size > 10_000
