"""The list itself: its steps laid open, and in sentences."""

from app.kinds import KINDS
from core.steps.build_up import BuildUp
from core.steps.crop import Crop
from core.steps.grey import Grey, Pencil
from core.steps.lift import Lift, One, Over, Own
from core.steps.steplist import Nested, StepList
from core.steps.tone import Fixed, Following, Tone
from core.steps.turn import Turn

SENTENCES = tuple("""\
Turn the page 90 degrees anticlockwise.
Cut off 2.5 mm at the left, 0 mm at the top, 0 mm at the right and 10 mm at the bottom.
Make grey of 29.9 % red, 58.7 % green and 11.4 % blue; pencil of the colour #a4dded drops out, \
hues 35 degrees either way.
Make grey of 20 % red, 30 % green and 50 % blue; no colour drops out.
Set the tones: 40 and darker become black, 220.5 and lighter become paper; 50 % grey lies 45 % \
of the way.
Set the tones: 40 and darker become black, 220 and lighter become paper, where the paper lies at \
231, and in proportion where it does not; 50 % grey lies 50 % of the way.
Lift the ink off the paper in white.
Lift the ink off the paper in #0102ff.
Lift the ink off the paper in the scan's own colour, the paper's share taken out.
Lift the ink off the paper in the scan's own colour over paper of the colour #e6e4dc; clear \
ground carries black.
Lay the line over itself, 1.5 times in all. (off) [for the pencil]
Do the list “edges” (2 steps).
Do the list “one” (1 step).
""".splitlines())


def test_lists_in_lists_are_laid_open_in_order_without_what_is_off():
    inner = StepList("inner", (Tone(), Lift(on=False), BuildUp()))
    off = StepList("off", (Crop(),))
    steps = StepList("outer", (
        Turn(), Nested(list=inner), Nested(list=off, on=False), Turn(on=False), Lift(),
    ))
    assert list(steps.flat()) == [Turn(), Tone(), BuildUp(), Lift()]
    assert list(StepList().flat()) == []


def test_a_list_is_one_value():
    first = StepList("a", (Tone(points=Fixed(black=3)), Nested(list=StepList("b", (Turn(),)))))
    second = StepList("a", (Tone(points=Fixed(black=3.0)), Nested(list=StepList("b", (Turn(),)))))
    assert first == second
    assert hash(first) == hash(second)
    assert first != StepList("a", first.steps[:1])
    assert Turn() != Turn(note="by hand")


def test_steps_are_said_in_sentences_with_their_numbers():
    steps = StepList("all", (
        Turn(angle=270),
        Crop(left=2.5, bottom=10),
        Grey(drop=Pencil()),
        Grey(red=20, green=30, blue=50),
        Tone(points=Fixed(black=40, white=220.5), middle=45),
        Tone(points=Following(black=40, white=220, paper=231)),
        Lift(ink=One(colour=(255, 255, 255))),
        Lift(ink=One(colour=(1, 2, 255))),
        Lift(ink=Own()),
        Lift(ink=Over(paper=(230, 228, 220), clear=(0, 0, 0))),
        BuildUp(times=1.5, on=False, note="for the pencil"),
        Nested(list=StepList("edges", (Crop(), Turn()))),
        Nested(list=StepList("one", (Crop(),))),
    ))
    assert steps.sentences() == SENTENCES


def test_every_kind_has_a_sentence_for_its_defaults():
    for kind in KINDS.values():
        sentence = kind().sentence()
        assert sentence.endswith(".")
        assert "{" not in sentence
        assert sentence[0].isupper()
