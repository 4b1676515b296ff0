"""The closed set of fields that a step may have, each declared once.

A field's declaration is what reads and checks its JSON, writes it, describes it to a JSON
Schema, says it in a sentence and builds its control in a window.
"""

import dataclasses
import json
import math
import re
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, ClassVar, TypeVar, cast

from core.colours import Named, rgb_to_hex
from core.fault import Fault, Refused
from core.sheet import Rgb
from core.steps.outdated import RENEW, Outdated

Json = Any
"""What ``json.loads`` gives."""


R = TypeVar("R", bound="Record")


class Record:
    """A frozen dataclass whose every field was made by a function of this module."""

    words: ClassVar[str] = ""
    """The record in a sentence, or a part of one; ``{field}`` stands for the field's words."""

    def faults(self) -> tuple[str, ...]:
        """What is wrong between the fields, each as a clause; each alone is checked before."""
        return ()

    def sentence(self) -> str:
        """The record's ``words`` with its numbers in place."""
        said = {name: spec.words(getattr(self, name)) for name, spec in specs(type(self)).items()}
        return self.words.format_map(said)


@dataclass(frozen=True)
class Spec(ABC):
    """What a field holds: ``label`` is its name for people."""

    label: str

    @abstractmethod
    def load(self, value: Json, place: str, reader: "Reader") -> Any:
        """The field's value; what is wrong with it goes into ``reader.faults``."""

    def dump(self, value: Any) -> Json:
        """The value as JSON."""
        return value

    def words(self, value: Any) -> str:
        """The value as it stands in a sentence."""
        return str(value)

    @abstractmethod
    def schema(self) -> dict[str, Json]:
        """The value as JSON Schema, draft 2020-12."""


class Reader:
    """Collects faults while a document is read; knows the kinds of step that may be met.

    With ``renew`` a step of an older edition is taken for one of today's, its settings as they are.
    """

    def __init__(self, kinds: Mapping[str, type], *, renew: bool = False) -> None:
        self.kinds, self.renew = kinds, renew
        self.faults: list[Fault] = []
        self.older: list[str] = []

    def fault(self, place: str, what: str, remedy: str = "") -> None:
        """Note one fault at one place."""
        self.faults.append(Fault(what, place, remedy))

    def refuse_faults(self, place: str) -> None:
        """Raise what was noted: Refused, or Outdated if older editions are all there is."""
        if self.older:
            kinds = " and ".join(f"“{kind}”" for kind in dict.fromkeys(self.older))
            self.fault(place, f"this program does {kinds} otherwise than the one that wrote it",
                       RENEW)
        if self.faults:
            raise (Outdated if len(self.faults) == bool(self.older) else Refused)(self.faults)


@dataclass(frozen=True)
class Number(Spec):
    """A finite number between two limits, both allowed, in a unit of the trade."""

    unit: str
    lowest: float
    highest: float

    def load(self, value: Json, place: str, reader: Reader) -> float:
        """A JSON number (``true`` is none) as float."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            reader.fault(place, f"{shown(value)} is not a number")
        elif not self.lowest <= value <= self.highest:  # before float(): an int may be too long
            reader.fault(place, f"{shown(value)} lies outside {self.range}")
        else:
            return float(value) + 0.0  # no negative zero: equal lists have equal bytes
        return self.lowest

    @property
    def range(self) -> str:
        """The limits in words."""
        return f"{plain(self.lowest)} to {plain(self.highest)}{_unit(self.unit)}"

    def dump(self, value: Any) -> Json:
        """Whole numbers without a point."""
        return int(value) if isinstance(value, float) and value.is_integer() else value

    def words(self, value: Any) -> str:
        """The number with its unit."""
        return f"{plain(value)}{_unit(self.unit)}"

    def schema(self) -> dict[str, Json]:
        """A number with limits."""
        return {"type": "number", "minimum": self.lowest, "maximum": self.highest}


@dataclass(frozen=True)
class Flag(Spec):
    """Yes or no; ``yes`` and ``no`` are what a sentence says."""

    yes: str
    no: str

    def load(self, value: Json, place: str, reader: Reader) -> bool:
        """A JSON ``true`` or ``false``."""
        if not isinstance(value, bool):
            reader.fault(place, f"{shown(value)} is neither true nor false")
        return value is True

    def words(self, value: Any) -> str:
        """The word for yes or the one for no."""
        return self.yes if value else self.no

    def schema(self) -> dict[str, Json]:
        """A boolean."""
        return {"type": "boolean"}


@dataclass(frozen=True)
class Choice(Spec):
    """One of a few values, each with its words."""

    options: tuple[tuple[str | int, str], ...]

    def load(self, value: Json, place: str, reader: Reader) -> str | int:
        """The very value, of the very type."""
        for option, _ in self.options:
            if type(value) is type(option) and value == option:
                return option
        known = ", ".join(shown(option) for option, _ in self.options)
        reader.fault(place, f"{shown(value)} is not a choice", f"choose one of {known}")
        return self.options[0][0]

    def words(self, value: Any) -> str:
        """The words of the chosen value."""
        return dict(self.options)[value]

    def schema(self) -> dict[str, Json]:
        """An enumeration."""
        return {"enum": [option for option, _ in self.options]}


@dataclass(frozen=True)
class Colour(Spec):
    """An sRGB colour; (red, green, blue) of 0-255 each, ``"#rrggbb"`` in JSON."""

    PATTERN: ClassVar[str] = "^#[0-9a-fA-F]{6}$"

    def load(self, value: Json, place: str, reader: Reader) -> Rgb:
        """Six hexadecimal digits behind a hash."""
        if isinstance(value, str) and re.fullmatch(self.PATTERN[1:-1], value):
            return int(value[1:3], 16), int(value[3:5], 16), int(value[5:7], 16)
        reader.fault(place, f"{shown(value)} is not a colour", "write it as #rrggbb")
        return (0, 0, 0)

    def dump(self, value: Any) -> Json:
        """Lower-case digits."""
        return rgb_to_hex(value)

    def words(self, value: Any) -> str:
        """Black and white by name, others by their digits."""
        return Named(value).said

    def schema(self) -> dict[str, Json]:
        """A string of one pattern."""
        return {"type": "string", "pattern": self.PATTERN}


@dataclass(frozen=True)
class Text(Spec):
    """Text of at most ``most`` characters."""

    most: int

    def load(self, value: Json, place: str, reader: Reader) -> str:
        """A JSON string that can be written as UTF-8."""
        if not isinstance(value, str) or not _encodes(value):
            reader.fault(place, f"{shown(value)} is not text")
        elif len(value) > self.most:
            reader.fault(place, f"the text has {len(value)} characters, more than {self.most}")
        else:
            return value
        return ""

    def schema(self) -> dict[str, Json]:
        """A string with a limit."""
        return {"type": "string", "maxLength": self.most}


@dataclass(frozen=True)
class Either(Spec):
    """One of a few small records, told apart by ``how``."""

    options: tuple[type[Record], ...]

    def load(self, value: Json, place: str, reader: Reader) -> Any:
        """An object whose ``how`` names the record."""
        how = value.get("how") if isinstance(value, dict) else None
        for option in self.options:
            if how == how_of(option):
                rest = {key: item for key, item in value.items() if key != "how"}
                return load_record(option, rest, place, reader)
        known = ", ".join(f'"{how_of(option)}"' for option in self.options)
        reader.fault(place, f"{shown(how)} is not a way", f'set "how" to one of {known}')
        return self.options[0]()

    def dump(self, value: Any) -> Json:
        """The record's fields behind its ``how``."""
        return {"how": how_of(type(value))} | dump_record(value)

    def words(self, value: Any) -> str:
        """The chosen record's words."""
        return cast(Record, value).sentence()

    def schema(self) -> dict[str, Json]:
        """One of the records."""
        return {"oneOf": [record_schema(o, {"how": how_of(o)}) for o in self.options]}


def how_of(option: type) -> str:
    """The tag of a record where there may be several: its class name in lower case."""
    return option.__name__.lower()


def number(label: str, unit: str, lowest: float, highest: float, default: float) -> Any:
    """Declare a number field; ``unit`` is "tone", "mm", "degrees", "%", "times" or empty."""
    return declare(Number(label, unit, lowest, highest), float(default))


def flag(label: str, default: bool, *, yes: str, no: str) -> Any:
    """Declare a yes-or-no field."""
    return declare(Flag(label, yes, no), default)


def choice(label: str, options: dict[Any, str], default: str | int) -> Any:
    """Declare a choice; ``options`` maps each value to its words."""
    return declare(Choice(label, tuple(options.items())), default)


def colour(label: str, default: Rgb) -> Any:
    """Declare a colour field."""
    return declare(Colour(label), default)


def text(label: str, most: int) -> Any:
    """Declare a text field, empty by default."""
    return declare(Text(label, most), "")


def either(label: str, *options: type[Record]) -> Any:
    """Declare a field that holds one of several records; the first is the default."""
    return declare(Either(label, options), options[0]())


def declare(spec: Spec, default: Any) -> Any:
    """A dataclass field that carries its declaration."""
    return field(default=default, metadata={"spec": spec})


def specs(record: type) -> Mapping[str, Spec]:
    """The fields of a record and their declarations, in order; to be read only."""
    return _specs(record)


@cache  # by itself: a type checker takes no class for hashable where it calls what is cached
def _specs(record: type) -> Mapping[str, Spec]:
    return {f.name: f.metadata["spec"] for f in dataclasses.fields(record)}


def load_record(record: type[R], data: Json, place: str, reader: Reader) -> R:
    """A record from a JSON object; fields left out take their default."""
    known = specs(record)
    if not isinstance(data, dict):
        reader.fault(place, f"{shown(data)} is not an object")
        return record()
    for name in sorted(data.keys() - known.keys()):
        names = ", ".join(known) or "none"
        where = f"{place}, {shown(name)}"
        reader.fault(where, "no such field is known here", f"known are: {names}")
    before = len(reader.faults)
    values = {
        name: spec.load(data[name], f"{place}, {name}", reader)
        for name, spec in known.items()
        if name in data
    }
    made = record(**values)
    if len(reader.faults) == before:
        for what in made.faults():
            reader.fault(place, what)
    return made


def dump_record(record: Record) -> dict[str, Json]:
    """Every field of a record as JSON."""
    return {name: s.dump(getattr(record, name)) for name, s in specs(type(record)).items()}


def record_schema(record: type[Record], tags: dict[str, Json]) -> dict[str, Json]:
    """A record as JSON Schema; ``tags`` are constant members that must be there."""
    defaults = record()
    members: dict[str, Json] = {name: {"const": value} for name, value in tags.items()}
    for name, spec in specs(record).items():
        default = spec.dump(getattr(defaults, name))
        members[name] = {"title": spec.label, "default": default} | spec.schema()
    return {
        "type": "object", "properties": members, "required": list(tags),
        "additionalProperties": False,
    }


def checked(
    record: Record, place: str = "", kinds: Mapping[str, type] | None = None,
) -> tuple[Fault, ...]:
    """What is wrong with a record made in code: its fields one by one, then together.

    ``kinds`` is needed only for a step that holds a list.
    """
    reader = Reader(kinds or {})
    load_record(type(record), dump_record(record), place, reader)
    return tuple(reader.faults)


def plain(value: float) -> str:
    """A number as people write it: no trailing zeros, no exponent.

    >>> plain(232.0), plain(0.35)
    ('232', '0.35')
    """
    if not math.isfinite(value):
        return str(value)
    return f"{value:z.4f}".rstrip("0").rstrip(".")


def shown(value: Json) -> str:
    """A JSON value, short enough for a sentence.

    >>> shown("a" * 99)
    '"aaaaaaaaaaaaaaaaaaaaaaaaaaaaa...'
    """
    if value is None or isinstance(value, bool):
        return "nothing" if value is None else str(value).lower()
    if isinstance(value, dict | list):
        return "an object" if isinstance(value, dict) else "an array"
    if isinstance(value, int) and abs(value) >= 10**30:
        return "a number of more than thirty digits"
    said = json.dumps(value, default=str)
    return said if len(said) <= 33 else f"{said[:30]}..."


def _unit(unit: str) -> str:
    return {"tone": "", "": "", "%": " %"}.get(unit, f" {unit}")


def _encodes(value: str) -> bool:
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True

