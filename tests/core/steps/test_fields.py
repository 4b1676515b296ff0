"""The closed set of fields: read, checked, written, said."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.kinds import KINDS
from core.fault import Fault
from core.steps.build_up import BuildUp
from core.steps.crop import Crop
from core.steps.fields import (
    Reader,
    checked,
    dump_record,
    how_of,
    load_record,
    plain,
    shown,
    specs,
)
from core.steps.grey import Grey, Nothing, Pencil
from core.steps.lift import Lift, One, Over
from core.steps.steplist import Nested, StepList
from core.steps.tone import Fixed, Following, Tone
from core.steps.turn import Turn
from tests.strategies import records, step_lists

no_lists = st.just(StepList())


def read(kind, data):
    """A record and its faults, from JSON."""
    reader = Reader({})
    return load_record(kind, data, "here", reader), [(f.where, f.what) for f in reader.faults]


@given(st.sampled_from([kind for kind in KINDS.values() if kind is not Nested]).flatmap(
    lambda kind: records(kind, no_lists),
))
def test_every_record_survives_its_own_json(step):
    assert read(type(step), dump_record(step)) == (step, [])
    assert checked(step) == ()


@given(step_lists(KINDS).map(lambda steps: Nested(list=steps)))
def test_a_list_made_in_code_is_checked_all_the_way_down(step):
    assert checked(step, kinds=KINDS) == ()


def test_a_fault_in_a_list_made_in_code_is_found():
    wrong = Nested(list=StepList("deep", (BuildUp(), Tone(middle=200))))
    assert checked(wrong, "step 4", KINDS) == (
        Fault("200 lies outside 1 to 99 %", "step 4, list, step 2 (tone), middle"),
    )


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e300, -1, 255, 10**40])
def test_a_number_made_in_code_outside_its_limits_is_found(value):
    faults = checked(Fixed(black=value, white=255), "step 1, points")
    assert [fault.where for fault in faults] == ["step 1, points, black"]
    assert "lies outside 0 to 254" in faults[0].what


def test_a_number_made_in_code_is_no_flag_and_may_be_a_monster():
    assert [fault.what for fault in checked(BuildUp(times=True))] == ["true is not a number"]
    assert [fault.what for fault in checked(BuildUp(times=10**400))] == [
        "a number of more than thirty digits lies outside 0.1 to 20 times",
    ]


def test_rules_between_fields_are_checked_once_the_fields_are_right():
    order = "the black point does not lie below the white point"
    assert checked(Fixed(black=200, white=200)) == (Fault(order),)
    assert checked(Tone(points=Fixed(black=200, white=100)), "step 2") == (
        Fault(order, "step 2, points"),
    )
    assert checked(Tone(points=Following(black=200, white=100))) == (Fault(order, ", points"),)
    assert [f.what for f in checked(Grey(red=50))] == ["red, green and blue do not add up to 100 %"]
    assert checked(Grey(red=29.93, green=58.7, blue=11.4)) == ()
    grey_pencil = Grey(drop=Pencil(colour=(120, 110, 125)))
    assert [f.what for f in checked(grey_pencil)] == [
        "the pencil's colour is too near to grey to have a hue",
    ]
    # what stands in for a wrong field breaks no rule in its place
    assert [where for where, _ in read(Grey, {"red": "much"})[1]] == ["here, red"]


def test_a_colour_made_in_code_outside_the_scale_is_found():
    for wrong in ((256, 0, 0), (-1, 0, 0), (0, 0, 4096)):
        assert len(checked(One(colour=wrong))) == 1


def test_a_choice_made_in_code_is_checked_by_type_and_value():
    assert checked(Turn(angle=180)) == ()
    for wrong in (0, 45, 360, "90", True, 90.0):
        assert len(checked(Turn(angle=wrong))) == 1


@pytest.mark.parametrize("wrong", [True, False, None, "5", [5], {}])
def test_what_is_no_number_is_refused(wrong):
    step, faults = read(BuildUp, {"times": wrong})
    assert faults == [("here, times", f"{shown(wrong)} is not a number")]
    assert step == BuildUp(times=0.1)  # something to go on with, so that other faults are found


@pytest.mark.parametrize("wrong", [0.0999999, 20.0000001, -2, 10**25, 1e308])
def test_what_is_outside_the_limits_is_refused(wrong):
    _, faults = read(BuildUp, {"times": wrong})
    assert faults == [("here, times", f"{shown(wrong)} lies outside 0.1 to 20 times")]


def test_the_limits_themselves_are_allowed():
    assert read(BuildUp, {"times": 0.1}) == (BuildUp(times=0.1), [])
    assert read(BuildUp, {"times": 20}) == (BuildUp(times=20.0), [])


def test_whole_numbers_are_written_without_a_point_and_no_zero_is_negative():
    assert dump_record(Crop(left=3.0, top=0.25))["left"] == 3
    assert isinstance(dump_record(Crop(left=3.0))["left"], int)
    step, faults = read(Crop, {"left": -0.0})
    assert faults == []
    assert math.copysign(1, step.left) == 1


@pytest.mark.parametrize("wrong", [0, 1, "true", None, []])
def test_only_true_and_false_are_flags(wrong):
    _, faults = read(BuildUp, {"on": wrong})
    assert faults == [("here, on", f"{shown(wrong)} is neither true nor false")]


@pytest.mark.parametrize("wrong", ["#12345", "#1234567", "123456", "#12345g", "red", "#123456\n",
                                   "#\uff1123456", None, 0, [1, 2, 3]])
def test_only_six_digits_are_a_colour(wrong):
    _, faults = read(One, {"colour": wrong})
    assert faults == [("here, colour", f"{shown(wrong)} is not a colour")]


def test_a_colour_is_read_in_either_case_and_written_in_lower():
    step, faults = read(One, {"colour": "#0aFF9b"})
    assert (step, faults) == (One(colour=(10, 255, 155)), [])
    assert dump_record(step) == {"colour": "#0aff9b"}


def test_text_is_limited_and_must_be_writable():
    assert read(BuildUp, {"note": "ü" * 1000})[1] == []
    assert read(BuildUp, {"note": "ü" * 1001})[1] == [
        ("here, note", "the text has 1001 characters, more than 1000"),
    ]
    for wrong in ("\ud800", 5, None, ["a"]):
        assert read(BuildUp, {"note": wrong})[1] == [("here, note", f"{shown(wrong)} is not text")]


@pytest.mark.parametrize("wrong", [{}, {"how": "sideways"}, {"how": None}, {"how": ["fixed"]},
                                   "fixed", None, 5])
def test_an_unknown_way_is_refused_with_the_known_ones(wrong):
    reader = Reader({})
    load_record(Tone, {"points": wrong}, "here", reader)
    (fault,) = reader.faults
    assert fault.where == "here, points"
    assert fault.remedy == 'set "how" to one of "fixed", "following"'


def test_each_way_knows_only_its_own_fields():
    _, faults = read(Tone, {"points": {"how": "fixed", "paper": 230}})
    assert faults == [('here, points, "paper"', "no such field is known here")]
    assert read(Tone, {"points": {"how": "following", "paper": 230}})[1] == []


def test_fields_left_out_take_their_defaults():
    assert read(Tone, {}) == (Tone(), [])
    assert read(Lift, {"ink": {"how": "over"}}) == (Lift(ink=Over()), [])
    assert Tone() == Tone(points=Fixed(black=0, white=255), middle=50)
    assert Grey().drop == Nothing()


def test_a_record_that_is_no_object_is_refused():
    for wrong in (None, [], "tone", 3, True):
        assert read(Tone, wrong)[1] == [("here", f"{shown(wrong)} is not an object")]


def test_every_field_of_every_kind_is_declared_and_labelled():
    for kind in KINDS.values():
        for name, spec in specs(kind).items():
            assert spec.label, f"{kind.kind}, {name}"
            reader = Reader(KINDS)
            default = getattr(kind(), name)
            assert spec.load(spec.dump(default), name, reader) == default
            assert reader.faults == []


def test_a_way_is_named_by_its_class():
    assert [how_of(way) for way in (Fixed, Following, One, Over)] == [
        "fixed", "following", "one", "over",
    ]


@pytest.mark.parametrize(("value", "said"), [
    (0, "0"), (-0.0, "0"), (-0.00001, "0"), (0.00004, "0"), (100, "100"), (1e6, "1000000"),
    (0.5, "0.5"), (29.9, "29.9"), (1 / 3, "0.3333"), (-2.25, "-2.25"), (math.nan, "nan"),
])
def test_numbers_are_said_as_people_write_them(value, said):
    assert plain(value) == said


@pytest.mark.parametrize(("value", "said"), [
    (None, "nothing"), (True, "true"), ([1], "an array"), ({}, "an object"), ("a", '"a"'),
    (10**30, "a number of more than thirty digits"), (-3.5, "-3.5"), (7, "7"),
    ("two\nlines\x1b[2J", r'"two\nlines\u001b[2J"'), ("\ud800", r'"\ud800"'),
])
def test_values_are_shown_in_one_short_plain_line(value, said):
    assert shown(value) == said


@given(st.recursive(st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
                    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner)))
def test_whatever_json_holds_can_be_shown(value):
    said = shown(value)
    assert said.isascii()
    assert said.isprintable()
    assert len(said) <= 35
