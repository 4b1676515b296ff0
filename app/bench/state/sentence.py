"""A step's sentence cut into words and the controls that stand among them, from its fields."""

import string
from dataclasses import dataclass, replace
from typing import Any, cast

from core.steps.fields import (
    Choice,
    Colour,
    Either,
    Flag,
    Number,
    Record,
    Spec,
    Text,
    checked,
    how_of,
    plain,
    specs,
)
from core.steps.step import Step

Path = tuple[str | int, ...]
"""Names of fields from the step inwards; a number is a step of the list that is held there."""


@dataclass(frozen=True)
class Words:
    """Plain text of a sentence."""

    text: str


@dataclass(frozen=True)
class Control:
    """A value in its sentence: where it lies in the step, what it may be, and what it is.

    ``lead`` are the words of a way that stand for it: what is clicked on for another way.
    """

    path: Path
    spec: Spec
    value: Any
    lead: str = ""

    @property
    def editable(self) -> bool:
        """Whether a control for it can be made; other values are only read."""
        return isinstance(self.spec, Number | Flag | Choice | Colour | Text | Either)

    @property
    def said(self) -> str:
        """The value as it is typed or shown, without its unit."""
        if isinstance(self.spec, Number):
            return plain(self.value)
        return self.spec.words(self.value)

    @property
    def unit(self) -> str:
        """What the sentence says behind the number: ``" mm"``, ``" %"`` or nothing."""
        return self.spec.words(self.value)[len(self.said) :]


Piece = Words | Control


def pieces(record: Record, path: Path = ()) -> tuple[Piece, ...]:
    """The record's sentence in pieces; a choice of records is a control, on its own first words.

    Where it has none, or one that says nothing alone, it stands behind them.

    >>> from core.steps.build_up import BuildUp
    >>> [piece.text for piece in pieces(BuildUp(times=3)) if isinstance(piece, Words)]
    ['Lay the line over itself, ', ' times', ' in all.']
    """
    found: list[Piece] = []
    known = specs(type(record))
    for text, name, _, _ in string.Formatter().parse(record.words):
        if text:
            found.append(Words(text))
        if name:
            found += _field(Control((*path, name), known[name], getattr(record, name)))
    return tuple(found)


def _field(control: Control) -> tuple[Piece, ...]:
    if not isinstance(control.spec, Either):
        after = (Words(control.unit),) if control.unit else ()
        return (control, *after)
    inner = pieces(cast(Record, control.value), control.path)
    if len(control.spec.options) == 1:
        return inner
    first = inner[0] if inner else None
    lead = first.text.rstrip().removesuffix("(").rstrip() if isinstance(first, Words) else ""
    if not isinstance(first, Words) or (len(inner) > 1 and " " not in lead):
        return (*inner, control)
    rest = first.text[len(lead) :]
    return (replace(control, lead=lead), *((Words(rest),) if rest else ()), *inner[1:])


def ways(spec: Either) -> tuple[tuple[str, type[Record]], ...]:
    """What a choice of records is called, with each record."""
    return tuple((how_of(option), option) for option in spec.options)


def get(record: Record, path: Path) -> Any:
    """The value at ``path``."""
    value: Any = record
    for name in path:
        value = value.steps[name] if isinstance(name, int) else getattr(value, name)
    return value


def inmost(step: Step, path: Path) -> tuple[Step, Path]:
    """The step that holds the value at ``path`` itself, and the path from there.

    >>> from core.steps.steplist import Nested, StepList
    >>> from core.steps.tone import Tone
    >>> inmost(Nested(list=StepList("", (Tone(),))), ("list", 0, "middle"))[1]
    ('middle',)
    """
    lists = [depth for depth, name in enumerate(path) if isinstance(name, int)]
    start = lists[-1] + 1 if lists else 0
    return get(step, path[:start]), path[start:]


def changed(step: Step, path: Path, value: Any) -> Step:
    """The step with the value at ``path`` replaced.

    >>> from core.steps.tone import Tone
    >>> changed(Tone(), ("points", "white"), 226.0).points.white
    226.0
    """
    return cast(Step, _changed(step, path, value))


def _changed(holder: Any, path: Path, value: Any) -> Any:
    name, *rest = path
    inner = _changed(get(holder, (name,)), tuple(rest), value) if rest else value
    if isinstance(name, int):
        return replace(holder, steps=(*holder.steps[:name], inner, *holder.steps[name + 1 :]))
    return replace(holder, **{name: inner})


def to_way(step: Step, path: Path, option: type[Record]) -> Step:
    """The step with another of the records at ``path``; values of the same name are kept.

    Where somebody has set them: each way has its own to begin with.

    >>> from app.filters.overrule import TakeOut
    >>> from app.filters.reach import Brush, Outline
    >>> brushes = [TakeOut(area=Brush(soft=mm)) for mm in (1.0, 2.0)]
    >>> [to_way(brush, ("area",), Outline).area.soft for brush in brushes]
    [0.0, 2.0]
    """
    old = get(step, path)
    first = type(old)()
    shared = specs(option).keys() & specs(type(old)).keys()
    kept = {name: getattr(old, name) for name in shared}
    new = option(**{name: value for name, value in kept.items() if value != getattr(first, name)})
    return changed(step, path, new)


def as_written(text: str) -> str:
    """Units as they are written in print; files and the command line keep to plain letters.

    >>> as_written("areas under 1 mm2 join a neighbour")
    'areas under 1 mm² join a neighbour'
    """
    return text.replace("mm2", "mm\N{SUPERSCRIPT TWO}")


def parse_number(text: str, spec: Number) -> float | None:
    """What was typed, with a decimal point or comma and with or without its unit.

    Held within the limits; None where it is no number.

    >>> parse_number("12,5 mm", Number("left", "mm", 0, 2000))
    12.5
    >>> parse_number("3 mm²", Number("smallest area", "mm2", 0, 1000))
    3.0
    """
    bare = text.strip().replace("²", "2").removesuffix(spec.unit).strip()
    bare = bare.replace(",", ".").replace("\N{MINUS SIGN}", "-")
    try:
        value = float(bare)
    except ValueError:
        return None
    if value != value:  # noqa: PLR0124 - nan
        return None
    return min(max(value, spec.lowest), spec.highest) + 0.0


def nudged(value: float, spec: Number, by: int) -> float:
    """The number moved by steps that suit it: whole ones, or tenths below a range of 30.

    A length or an area moves by tenths as far as 10, for a brush is a few tenths of a mm or many.

    >>> nudged(2.0, Number("times", "times", 0.1, 20), 1)
    2.1
    >>> brush = Number("width", "mm", 0.05, 500)
    >>> nudged(0.3, brush, 1), nudged(10.0, brush, -1), nudged(10.0, brush, 1)
    (0.4, 9.9, 11.0)
    """
    small = spec.unit.startswith("mm") and min(value, value + by / 10) < 10
    step = 0.1 if small or spec.highest - spec.lowest < 30 else 1.0
    return min(max(round(value + by * step, 6), spec.lowest), spec.highest)


def wrong(step: Step) -> str:
    """What is wrong with the step in itself, in one sentence; empty where nothing is."""
    faults = checked(step) if not any(isinstance(p, Control) and not p.editable
                                      for p in pieces(step)) else ()
    return " ".join(str(fault) for fault in faults)
