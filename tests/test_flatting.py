"""``stetline flats``, from the command line to the files."""

import json

import numpy as np
import pytest
from PIL import Image

from app.command import main
from core.steps.document import dumps
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone


@pytest.fixture
def scan(tmp_path):
    grey = np.full((300, 300), 235, np.uint8)
    grey[60:240, 60:240] = 30
    grey[66:234, 66:234] = 235
    grey[60:66, 145:150] = 235  # half a millimetre is missing
    Image.fromarray(grey).save(tmp_path / "a.png", dpi=(254, 254))
    steps = StepList("pen", (Tone(points=Fixed(black=40, white=220)), Lift()))
    (tmp_path / "list.json").write_text(dumps(steps), "ascii")
    return tmp_path / "a.png"


def flats(scan, *more):
    out = scan.parent / "out"
    return out, main(["flats", str(scan), "--list", str(scan.parent / "list.json"),
                      "--into", str(out), "--cores", "1", *more])


def colours_of(out):
    """The colours of areas; the core of solid ink has the ink's, black."""
    with Image.open(out / "a-flats.png") as image:
        pixels = np.asarray(image.convert("RGB")).reshape(-1, 3)
    return {tuple(colour) for colour in np.unique(pixels, axis=0).tolist()} - {(0, 0, 0)}


def test_a_page_gets_layers_and_flats(scan, capsys):
    out, status = flats(scan)
    assert status == 0
    assert {path.name for path in out.iterdir() if not path.name.startswith(".")} == {
        "a-layered.ora", "a-flats.png", "a-flats.tif"}
    assert len(colours_of(out)) == 2
    out, status = flats(scan, "--gap", "0.2", "--again", "--json")
    assert status == 0
    assert len(colours_of(out)) == 1
    events = [json.loads(line) for line in capsys.readouterr().out.splitlines()[-2:]]
    assert events[-1]["finished"] == 1


def test_a_wrong_request_is_named(scan, capsys):
    assert flats(scan, "--gap", "-1")[1] == 2
    assert "lies outside" in capsys.readouterr().err
    assert flats(scan.with_name("none.png"))[1] == 2
