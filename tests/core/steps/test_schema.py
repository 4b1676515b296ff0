"""The generated JSON Schema against an independent validator (jsonschema, draft 2020-12)."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from app.kinds import KINDS
from core.fault import Refused
from core.steps.document import dumps, json_schema, loads
from core.steps.fields import specs
from core.steps.steplist import MOST_STEPS, NAME_LENGTH, Nested, StepList
from core.steps.tone import Fixed, Tone
from core.steps.turn import Turn
from tests.strategies import step_lists

SCHEMA = json_schema(KINDS)
VALIDATOR = Draft202012Validator(SCHEMA)
LIST = StepList("outer", (Tone(), Nested(list=StepList("inner", (Turn(),)))))


def changed(path, value):
    """The JSON of ``LIST`` with one value set, as a Python object."""
    data = json.loads(dumps(LIST))
    place = data
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    return data


def is_read(data):
    try:
        loads(json.dumps(data), KINDS)
    except Refused:
        return False
    return True


def test_the_schema_is_one():
    Draft202012Validator.check_schema(SCHEMA)
    assert json.loads(json.dumps(SCHEMA)) == SCHEMA


@settings(max_examples=100)
@given(step_lists(KINDS))
def test_every_list_that_is_written_validates(steps):
    VALIDATOR.validate(json.loads(dumps(steps)))


@pytest.mark.parametrize(("path", "value"), [
    (["format"], "other"), (["version"], 2), (["name"], 5), (["name"], "x" * (NAME_LENGTH + 1)),
    (["steps"], None), (["steps"], [json.loads(dumps(LIST))["steps"][0]] * (MOST_STEPS + 1)),
    (["more"], 1), (["steps", 0, "kind"], "sharpen"), (["steps", 0, "kind"], None),
    (["steps", 0, "edition"], 2), (["steps", 0, "more"], 1), (["steps", 0, "on"], 1),
    (["steps", 0, "middle"], True), (["steps", 0, "middle"], 0.5), (["steps", 0, "middle"], "50"),
    (["steps", 0, "points", "how"], "found"), (["steps", 0, "points", "paper"], 230),
    (["steps", 0, "points", "black"], 255), (["steps", 0, "points"], {}),
    (["steps", 0, "note"], "x" * 1001), (["steps", 1, "list"], {"name": "without steps"}),
    (["steps", 1, "list", "steps", 0, "angle"], 45),
    (["steps", 1, "list", "steps", 0, "angle"], "90"),
    (["steps", 1, "list", "format"], "stetline step list"),
])
def test_a_broken_list_neither_validates_nor_is_read(path, value):
    assert VALIDATOR.is_valid(changed(["name"], "outer"))
    assert is_read(changed(["name"], "outer"))
    broken = changed(path, value)
    assert not VALIDATOR.is_valid(broken)
    assert not is_read(broken)


def test_the_schema_is_not_sufficient_and_says_so():
    crossed = changed(["steps", 0, "points"], {"how": "fixed", "black": 200, "white": 100})
    assert VALIDATOR.is_valid(crossed)
    assert not is_read(crossed)
    assert "not sufficient" in SCHEMA["description"]


@settings(max_examples=100)
@given(step_lists(KINDS), st.data())
def test_the_schema_is_necessary(steps, data):
    """Whatever random change still lets a list be read, it validates too."""
    document = json.loads(dumps(steps))
    place = document
    for _ in range(data.draw(st.integers(0, 5))):
        keys = list(place) if isinstance(place, dict) else list(range(len(place)))
        inner = [key for key in keys if isinstance(place[key], dict | list)]
        if not inner:
            break
        place = place[data.draw(st.sampled_from(inner))]
    if isinstance(place, dict):
        key = data.draw(st.sampled_from(sorted(place)))
        place[key] = data.draw(
            st.integers(-1, 300) | st.floats(-1, 300) | st.booleans() | st.none()
            | st.sampled_from(["#ABCDEF", "fixed", "own", "turn", "", [], {}, 90, 1.0]),
        )
    if is_read(document):
        VALIDATOR.validate(document)


def test_every_kind_and_field_is_in_the_schema_with_its_label_and_default():
    steps = {
        made["properties"]["kind"]["const"]: made["properties"]
        for made in SCHEMA["$defs"]["step"]["oneOf"]
    }
    assert sorted(steps) == sorted(KINDS)
    for name, kind in KINDS.items():
        members = steps[name]
        assert members["edition"] == {"const": kind.edition}
        assert list(members) == ["kind", "edition", *specs(kind)]
        for field, spec in specs(kind).items():
            assert members[field]["title"] == spec.label
            VALIDATOR.evolve(schema=members[field] | {"$defs": SCHEMA["$defs"]}).validate(
                members[field]["default"],
            )


def test_every_way_of_a_field_is_in_the_schema():
    (tone,) = [made for made in SCHEMA["$defs"]["step"]["oneOf"]
               if made["properties"]["kind"]["const"] == "tone"]
    ways = tone["properties"]["points"]["oneOf"]
    assert [way["properties"]["how"]["const"] for way in ways] == ["fixed", "following"]
    assert ways[0]["properties"]["black"] == {
        "title": "black point", "default": Fixed().black, "type": "number",
        "minimum": 0, "maximum": 254,
    }
