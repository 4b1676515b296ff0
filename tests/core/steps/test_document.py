"""Step lists as JSON: exact, strict, and every fault named with its place."""

import json
from functools import partial

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from app.kinds import KINDS
from core.fault import Refused
from core.steps import document
from core.steps.build_up import BuildUp
from core.steps.document import (
    FORMAT,
    MOST_BRACKETS,
    MOST_BYTES,
    VERSION,
    dumps,
    loads,
    table_of_kinds,
)
from core.steps.grey import Grey, Pencil
from core.steps.lift import Lift, One
from core.steps.outdated import RENEW, Outdated, renewing
from core.steps.steplist import MOST_NESTED, MOST_STEPS, NAME_LENGTH, Nested, StepList
from core.steps.tone import Fixed, Following, Tone
from core.steps.turn import Turn
from tests.strategies import step_lists

HEAD = {"format": FORMAT, "version": VERSION}
TURN = {"kind": "turn", "edition": 1}


def refused(text, **more):
    """Each fault of a text that must not be read, as (place, what)."""
    with pytest.raises(Refused) as stopped:
        loads(text, KINDS, **more)
    for fault in stopped.value.faults:
        assert str(fault).isprintable()  # one line each, whatever the text held
    return [(fault.where, fault.what) for fault in stopped.value.faults]


def read_or_refused(text):
    try:
        return loads(text, KINDS), ()
    except Refused as refusal:
        return None, refusal.faults


def refused_steps(*steps, **head):
    return refused(json.dumps(HEAD | {"name": "x", "steps": list(steps)} | head))


@settings(max_examples=200)
@given(step_lists(KINDS))
def test_any_list_survives_its_own_json_exactly(steps):
    text = dumps(steps)
    assert loads(text, KINDS) == steps
    assert loads(text.encode(), KINDS) == steps
    assert dumps(loads(text, KINDS)) == text
    assert text.isascii()
    assert text.endswith("}\n")


def test_equal_lists_have_equal_bytes():
    in_floats = StepList("a", (Tone(points=Fixed(black=40.0, white=220.0)),))
    in_integers = StepList("a", (Tone(points=Fixed(black=40, white=220)),))
    assert dumps(in_floats) == dumps(in_integers)


def test_the_text_reads_as_expected():
    steps = StepList("Pen", (Lift(ink=One(colour=(18, 52, 86)), note="blue"),))
    assert json.loads(dumps(steps)) == {
        "format": "stetline step list", "version": 1, "name": "Pen", "steps": [{
            "kind": "lift", "edition": 1, "on": True, "note": "blue",
            "ink": {"how": "one", "colour": "#123456"},
        }],
    }


def test_a_byte_order_mark_is_read_over():
    text = dumps(StepList("Ümläut")).encode("utf-8-sig")
    assert text[:3] == b"\xef\xbb\xbf"
    assert loads(text, KINDS) == StepList("Ümläut")


def test_letters_beyond_ascii_are_read_as_utf_8():
    text = json.dumps(HEAD | {"name": "Füße 🖋", "steps": []}, ensure_ascii=False)
    assert loads(text.encode(), KINDS).name == "Füße 🖋"


@pytest.mark.parametrize("wrong", [
    "[]", "3", "null", '"stetline step list"', "{}", '{"format": "other", "version": 1}',
    '{"format": ["stetline step list"], "version": 1}', '{"version": 1, "steps": []}',
])
def test_what_is_no_step_list_is_refused(wrong):
    assert refused(wrong, place="ink.json") == [("ink.json", "it is not a step list")]


@pytest.mark.parametrize(("text", "place"), [
    ("", "line 1, column 1"), ("{", "line 1, column 2"), ('{"a": 1,}', "line 1, column "),
    ('{\n "format": no}', "line 2, column 12"), ('{"a": "', "line 1, column 7"),
    ("\ufeff{}", "line 1, column 1"), ("{} {}", "line 1, column 4"), ("{'a': 1}", "line 1"),
    ('{"a": "tab\there"}', "line 1"), ('{"a": 01}', "line 1"), ('{"a": "\\x"}', "line 1"),
])
def test_broken_json_is_refused_with_line_and_column(text, place):
    ((where, what),) = refused(text, place="ink.json")
    assert where.startswith(f"ink.json, {place}")
    assert what.startswith("it is not JSON here (")


@pytest.mark.parametrize(("data", "byte"), [
    (b"\xff\xfe{\x00}\x00", 0), (b'{"name": "\xe9"}', 10), (b"\xed\xa0\x80", 0), (b"{}\xc3", 2),
])
def test_what_is_not_utf_8_is_refused(data, byte):
    assert refused(data) == [("the list", f"it is no text (byte {byte} is not UTF-8)")]


@pytest.mark.parametrize(("text", "place", "what"), [
    ('{"a": NaN}', "line 1, column 7", "NaN is not a number"),
    ('{"NaN": "NaN",\n "b": [1,\n  NaN], "c": NaN}', "line 3, column 3", "NaN is not a number"),
    ('{"a": Infinity}', "line 1, column 7", "Infinity is not a number"),
    ('{"a":\n[-Infinity]}', "line 2, column 2", "-Infinity is not a number"),
    ('{"a": 11e999,\n"b": 1e999}', "line 1, column 7", '"11e999" is too large a number'),
    ('{"a": -1e400}', "line 1, column 7", '"-1e400" is too large a number'),
    ('{"a": ' + "9" * 31 + "}", "line 1, column 7", "a number has more than thirty digits"),
    ("[\n" + "9" * 5000 + "]", "line 2, column 1", "a number has more than thirty digits"),
    ('{"a": 1, "b": 2, "a": 1}', "line 1, column 18", '"a" stands twice in one object'),
    ('{"a": "a",\n "b": {"a": 1},\n "a" : 1}', "line 3, column 2",
     '"a" stands twice in one object'),
    ('{"note": "",\n"steps": [{"note": ""}, {"note": "",\n\n "note": ""}]}',
     "line 4, column 2", '"note" stands twice in one object'),
    ('{"a\\u0062": 1, "ab": 2}', "line 1, column 16", '"ab" stands twice in one object'),
])
def test_json_that_is_read_elsewhere_and_means_nothing_here_is_refused(text, place, what):
    assert refused(text) == [(f"the list, {place}", what)]


def test_what_is_wrong_in_a_file_is_said_with_its_line_and_what_to_do():
    with pytest.raises(Refused) as stopped:
        loads('{"format": 1,\n "version": NaN}', KINDS, "ink.json")
    assert str(stopped.value.faults[0]) == (
        "ink.json, line 2, column 13: NaN is not a number; mend it there, or name another file.")


@pytest.mark.parametrize("bracket", ["[", '{"a":'])
def test_deep_brackets_are_refused_before_they_are_parsed(bracket):
    at = len(bracket) * MOST_BRACKETS + 1
    wrong = [(f"the list, line 1, column {at}", f"brackets lie more than {MOST_BRACKETS} deep")]
    assert refused(bracket * (MOST_BRACKETS + 1)) == wrong
    assert refused(bracket * 150_000) == wrong
    deep = "[" * MOST_BRACKETS + "]" * MOST_BRACKETS
    assert refused(deep) == [("the list", "it is not a step list")]


def test_brackets_in_strings_are_no_depth():
    name = '[{"' * 60 + "\\"
    text = json.dumps(HEAD | {"name": name, "steps": []})
    assert loads(text, KINDS).name == name


@pytest.mark.parametrize("text", [
    '"' + '\\"' * 499_990, '{"' + "a" * 499_990, '"a' * 249_990, "\\" * 499_990, "[]" * 249_990,
    "{" + ",".join(f'"{n}":0' for n in range(60_000)) + ',"59999":0}',
])
def test_long_hostile_texts_are_refused_in_linear_time(text):
    """Each of these took minutes or more where the check was quadratic."""
    assert len(refused(text)) == 1


def test_a_text_too_long_is_refused_unread():
    fits = json.dumps(HEAD | {"steps": []})
    assert loads(fits + " " * (MOST_BYTES - len(fits)), KINDS) == StepList()
    wrong = [("the list", f"it is longer than {MOST_BYTES} bytes")]
    assert refused(fits + " " * (MOST_BYTES + 1 - len(fits))) == wrong
    assert refused(b"\xff" * (MOST_BYTES + 1)) == wrong


@pytest.mark.parametrize("version", [0, -1, True, None, "1", 1.0, 1.5, [1]])
def test_a_version_that_is_none_is_refused(version):
    ((where, what),) = refused(json.dumps({"format": FORMAT, "version": version, "steps": []}))
    assert where == "the list, version"
    assert what.endswith("is no version")


def test_a_list_without_a_version_is_refused():
    assert refused(json.dumps({"format": FORMAT, "steps": []})) == [
        ("the list, version", "nothing is no version"),
    ]


@pytest.mark.parametrize("version", [2, 99, 10**29])
def test_a_newer_version_is_refused_with_a_remedy(version):
    with pytest.raises(Refused) as stopped:
        loads(json.dumps({"format": FORMAT, "version": version, "steps": "any"}), KINDS)
    (fault,) = stopped.value.faults
    assert "this program reads up to 1" in fault.what
    assert fault.remedy == "open it with a newer program"


def test_older_versions_are_brought_up_one_at_a_time(monkeypatch):
    def name_came(data):
        return data | {"name": data.pop("title")}

    def steps_came(data):
        return data | {"steps": [TURN | {"angle": degrees} for degrees in data.pop("turns")]}

    monkeypatch.setattr(document, "VERSION", 3)
    table = {1: name_came, 2: steps_came}
    oldest = json.dumps({"format": FORMAT, "version": 1, "title": "old", "turns": [90, 270]})
    turned = StepList("old", (Turn(angle=90), Turn(angle=270)))
    assert loads(oldest, KINDS, migrations=table) == turned
    later = json.dumps({"format": FORMAT, "version": 2, "name": "old", "turns": [90, 270]})
    assert loads(later, KINDS, migrations=table) == turned
    assert loads(dumps(turned), KINDS, migrations=table) == turned
    wrong = json.dumps({"format": FORMAT, "version": 1, "title": 5, "turns": [45]})
    assert [where for where, _ in refused(wrong, migrations=table)] == [
        "the list, name", "the list, step 1 (turn), angle",
    ]


def test_every_older_version_has_its_change_to_the_next():
    assert sorted(document.MIGRATIONS) == list(range(1, VERSION))


@pytest.mark.parametrize("steps", [None, {}, "turn", 5])
def test_steps_that_are_no_array_are_refused(steps):
    assert refused(json.dumps(HEAD | {"steps": steps})) == [
        ("the list", 'a step list needs an array of "steps"'),
    ]
    assert len(refused(json.dumps(HEAD))) == 1


def test_a_name_is_text_of_limited_length():
    assert refused_steps(name=5) == [("the list, name", "5 is not text")]
    assert refused_steps(name=None) == [("the list, name", "nothing is not text")]
    assert refused_steps(name="\ud800") == [("the list, name", r'"\ud800" is not text')]
    assert len(refused_steps(name="x" * (NAME_LENGTH + 1))) == 1
    long = StepList("x" * NAME_LENGTH)
    assert loads(dumps(long), KINDS) == long


@pytest.mark.parametrize("wrong", [None, 5, "turn", [TURN]])
def test_a_step_that_is_no_object_is_refused(wrong):
    ((where, what),) = refused_steps(wrong)
    assert where == "the list, step 1"
    assert what.endswith("is not a step")


@pytest.mark.parametrize("wrong", ["sharpen", "Turn", "", None, 5, ["turn"], {"turn": 1}, True])
def test_an_unknown_kind_is_refused_with_the_known_ones(wrong):
    with pytest.raises(Refused) as stopped:
        loads(json.dumps(HEAD | {"steps": [{"kind": wrong, "edition": 1}]}), KINDS)
    (fault,) = stopped.value.faults
    assert fault.where == "the list, step 1, kind"
    assert fault.what.endswith("is no kind of step")
    assert fault.remedy == f"known are {', '.join(sorted(KINDS))}"


@pytest.mark.parametrize("wrong", [0, 2, True, None, "1", [1], 1.5])
def test_another_edition_is_refused(wrong):
    ((where, what),) = refused_steps({"kind": "turn", "edition": wrong})
    assert where == "the list, step 1 (turn), edition"
    assert what.endswith("is not the edition 1 that this program runs")
    assert refused_steps({"kind": "turn"})[0][1].startswith("nothing is not the edition")


class LaterTurn(Turn):
    edition = 3


LATER = {**KINDS, "turn": LaterTurn}


@pytest.mark.parametrize("edition", [1, 2])
def test_an_older_edition_is_refused_in_one_sentence_and_renewed_when_asked(edition):
    inner = {"kind": "list", "edition": 1, "list": {"steps": [TURN | {"edition": edition}]}}
    text = json.dumps(HEAD | {"name": "a", "steps": [TURN, inner, {"kind": "lift", "edition": 1}]})
    with pytest.raises(Outdated, match="this program does “turn” otherwise") as stopped:
        loads(text, LATER, "a.json")
    (fault,) = stopped.value.faults
    assert (fault.where, fault.remedy) == ("a.json", RENEW)
    renewed = loads(text, LATER, "a.json", renew=True)
    assert [type(step) for step in renewed.flat()] == [LaterTurn, LaterTurn, Lift]
    assert renewed.steps[0].angle == Turn().angle
    assert renewing(partial(loads, text, LATER))[0] == renewed
    assert renewing(partial(loads, dumps(renewed), LATER)) == (renewed, None)


def test_a_later_edition_and_what_else_is_wrong_are_not_renewed():
    for edition in (4, 0, True):
        with pytest.raises(Refused, match="not the edition 3") as stopped:
            loads(json.dumps(HEAD | {"steps": [TURN | {"edition": edition}]}), LATER, renew=True)
        assert not isinstance(stopped.value, Outdated)
    wrong = json.dumps(HEAD | {"steps": [TURN, {"kind": "lift", "edition": 1, "on": 1}]})
    with pytest.raises(Refused) as stopped:
        renewing(partial(loads, wrong, LATER))
    assert not isinstance(stopped.value, Outdated)
    assert len(stopped.value.faults) == 2


def test_every_fault_is_reported_with_its_place_at_once():
    inner = {"kind": "tone", "edition": 1, "middle": True, "points": {
        "how": "fixed", "black": 255, "white": "200", "grain": 1,
    }}
    faults = refused_steps(
        TURN | {"angle": 45},
        {"kind": "sharpen", "edition": 1},
        TURN | {"edition": 2},
        {"kind": "list", "edition": 1, "list": {"name": 7, "steps": [TURN, inner], "more": 0}},
        5,
        {"kind": "tone", "edition": 1, "points": {"how": "fixed", "black": 200, "white": 100}},
        {"kind": "lift", "edition": 1, "on": 1, "inks": {}, "ink": {"how": "one", "colour": "red"}},
        name=None, written="today",
    )
    assert sorted(where for where, _ in faults) == sorted([
        'the list, "written"',
        "the list, name",
        "the list, step 1 (turn), angle",
        "the list, step 2, kind",
        "the list, step 3 (turn), edition",
        'the list, step 4 (list), list, "more"',
        "the list, step 4 (list), list, name",
        "the list, step 4 (list), list, step 2 (tone), middle",
        'the list, step 4 (list), list, step 2 (tone), points, "grain"',
        "the list, step 4 (list), list, step 2 (tone), points, black",
        "the list, step 4 (list), list, step 2 (tone), points, white",
        "the list, step 5",
        "the list, step 6 (tone), points",
        'the list, step 7 (lift), "inks"',
        "the list, step 7 (lift), ink, colour",
        "the list, step 7 (lift), on",
    ])
    assert ("the list, step 6 (tone), points",
            "the black point does not lie below the white point") in faults


def test_lists_lie_in_lists_down_to_a_stated_depth():
    steps = StepList("innermost", (Tone(points=Following(black=1)), Grey(drop=Pencil())))
    for depth in range(MOST_NESTED):
        steps = StepList(str(depth), (Turn(), Nested(list=steps)))
    assert loads(dumps(steps), KINDS) == steps
    assert len(refused(dumps(StepList("too deep", (Nested(list=steps),))))) == 1
    ((where, what),) = refused(dumps(StepList("too deep", (Nested(list=steps),))))
    assert where.endswith("step 2 (list), list")
    assert what == f"lists lie in lists more than {MOST_NESTED} deep"


def test_a_list_has_a_most_of_steps():
    longest = StepList("long", (Turn(),) * MOST_STEPS)
    assert loads(dumps(longest), KINDS) == longest
    ((where, what),) = refused(dumps(StepList("longer", (Turn(),) * (MOST_STEPS + 1))))
    assert (where, what) == ("the list", f"the list has more than {MOST_STEPS} steps")


def test_a_number_that_is_none_cannot_be_written():
    with pytest.raises(ValueError, match="JSON compliant"):
        dumps(StepList("", (BuildUp(times=float("nan")),)))


def test_two_kinds_of_one_name_are_a_mistake():
    class Other(Turn):
        """Another kind with a name that is taken."""

    with pytest.raises(ValueError, match="one name"):
        table_of_kinds(Turn, Other)
    assert table_of_kinds(Turn, Tone) == {"turn": Turn, "tone": Tone}


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9)
    | st.sampled_from(["fixed", "turn", "list", "tone", "lift", 1, 90]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(
        st.text(max_size=5) | st.sampled_from(["kind", "edition", "steps", "list", "how", "ink",
                                               "points", "name", "on"]), inner, max_size=4),
    max_leaves=12,
)


@example(b"")
@example(b"[" * 100_000)
@given(st.binary(max_size=60) | st.text(max_size=60))
def test_any_bytes_are_read_or_refused(data):
    with pytest.raises(Refused):
        loads(data, KINDS)


@settings(max_examples=200)
@given(st.lists(json_values | st.fixed_dictionaries(
    {"kind": st.sampled_from(sorted(KINDS)), "edition": st.just(1)},
    optional=dict.fromkeys(("points", "ink", "list", "times", "on", "note"), json_values),
), max_size=3))
def test_any_steps_are_read_or_refused_with_places(steps):
    made, faults = read_or_refused(json.dumps(HEAD | {"steps": steps}))
    if made is None:
        assert faults
        assert all(fault.where.startswith("the list") and fault.what for fault in faults)
    else:
        assert loads(dumps(made), KINDS) == made
