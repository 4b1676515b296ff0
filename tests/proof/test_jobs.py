"""A job can ask for the forms for print: they go through its JSON unchanged."""

import json
import pickle
from pathlib import Path

import pytest

from app.pages.renditions import Bitmap, Pdf, Rendition
from app.replay.records import dump, load
from core.press.screens import Diffusion, Plain, Screen
from core.steps.fields import Reader

FORMS = [
    Bitmap(), Bitmap(600, Screen(85, 22.5, "line"), 170.0), Bitmap(720, Diffusion()),
    Pdf(), Pdf("x1a", "1-bit", 1200, Plain(40), 100.0, (1.0, 2.0, 30.0, 40.0), 5.0, marks=False,
               gain=20.0, profile=Path("press.icc")),
]


@pytest.mark.parametrize("form", FORMS, ids=str)
def test_a_form_for_print_is_the_same_after_json_and_in_another_process(form):
    reader = Reader({})
    text = json.dumps(dump(form) | {"how": type(form).__name__.lower()})
    assert load(Rendition, json.loads(text), "", reader) == form
    assert reader.faults == []
    assert pickle.loads(pickle.dumps(form)) == form
