"""Step lists as JSON text: read with every fault named, written the same way every time."""

import json
import math
import re
from collections.abc import Callable, Mapping
from typing import Any

from core.fault import Fault, Refused
from core.steps.fields import Json, Reader, record_schema, shown
from core.steps.step import Step
from core.steps.steplist import (
    MOST_STEPS,
    NAME_LENGTH,
    StepList,
    dump_steps,
    load_steps,
)

FORMAT = "stetline step list"
VERSION = 1
MOST_BYTES = 1_000_000
MOST_BRACKETS = 64
"""How deep arrays and objects may lie in one another: eight lists in lists need 28."""

Kinds = Mapping[str, type[Step]]
Migration = Callable[[dict[str, Json]], dict[str, Json]]

MIGRATIONS: Mapping[int, Migration] = {}
"""From each older version the change to the next; none is older than 1."""


_NAME_ANOTHER = "name a file that Stetline wrote"


def table_of_kinds(*kinds: type[Step]) -> Kinds:
    """The kinds by their names; two of one name are a mistake in the program.

    >>> from core.steps.turn import Turn
    >>> list(table_of_kinds(Turn))
    ['turn']
    """
    table = {made.kind: made for made in kinds}
    if len(table) != len(kinds):
        raise ValueError("two kinds of step have one name")
    return table


def dumps(steps: StepList) -> str:
    """The list as JSON text, ASCII only, with a newline at the end.

    >>> loads(dumps(StepList("bare")), {})
    StepList(name='bare', steps=())
    """
    document = {"format": FORMAT, "version": VERSION} | dump_steps(steps)
    return json.dumps(document, indent=1, allow_nan=False) + "\n"


def loads(
    text: str | bytes, kinds: Kinds, place: str = "the list",
    migrations: Mapping[int, Migration] = MIGRATIONS, *, renew: bool = False,
) -> StepList:
    """The list of a JSON text; Refused with every fault and its place.

    ``place`` is what the faults call the text: a file's name. Bytes are UTF-8. Outdated where
    steps are of older editions and nothing else is wrong, unless they are to be renewed.
    """
    data = parse_json(text, place)
    reader = Reader(kinds, renew=renew)
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise Refused(Fault(
            "it is not a step list", place, f'a step list says "format": "{FORMAT}" at its head',
        ))
    data = _migrate(data, place, migrations)
    rest = {name: value for name, value in data.items() if name not in ("format", "version")}
    steps = load_steps(rest, place, reader)
    reader.refuse_faults(place)
    return steps


def _migrate(
    data: dict[str, Json], place: str, migrations: Mapping[int, Migration],
) -> dict[str, Json]:
    version = data.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise Refused(Fault(f"{shown(version)} is no version", f"{place}, version",
                            f"this program writes {VERSION}"))
    if version > VERSION:
        raise Refused(Fault(
            f"it has version {shown(version)}, and this program reads up to {VERSION}",
            place, "open it with a newer program",
        ))
    for older in range(version, VERSION):
        data = migrations[older](data)
    return data


def parse_json(text: str | bytes, place: str, most: int = MOST_BYTES) -> Json:
    """JSON read strictly: no double names, no NaN, no more than ``most`` bytes; else Refused.

    >>> parse_json('{"black": 40}', "x")
    {'black': 40}
    """
    if len(text) > most:
        raise Refused(Fault(f"it is longer than {most} bytes", place, _NAME_ANOTHER))
    try:
        read = text if isinstance(text, str) else text.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refused(Fault(f"it is no text (byte {error.start} is not UTF-8)", place,
                            _NAME_ANOTHER)) from None
    _check_depth(read, place)
    try:
        return json.loads(
            read, object_pairs_hook=_unique, parse_constant=_no_constant, parse_float=_finite,
            parse_int=_short_int,
        )
    except json.JSONDecodeError as error:
        raise _fault_at(f"it is not JSON here ({error.msg})", read, error.pos, place) from None
    except _NotStrictError as error:
        raise _fault_at(str(error), read, error.find(read), place) from None


def _fault_at(what: str, text: str, at: int, place: str) -> Refused:
    line, column = text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)
    return Refused(Fault(what, f"{place}, line {line}, column {column}",
                         "mend it there, or name another file"))


class _NotStrictError(Exception):
    """JSON that the standard library reads and no step list may hold.

    ``find`` gives where in the text it stands: the parser does not tell.
    """

    def __init__(self, what: str, find: Callable[[str], int]) -> None:
        super().__init__(what)
        self.find = find


_TOKENS = re.compile(r'("(?:[^"\\]|\\.)*"?)(\s*:)?|[\[\]{}]|[^\s"\[\]{},:]+', re.DOTALL)
_BRACKETS = re.compile(r'"(?:[^"\\]|\\.)*"?|[\[\]{}]', re.DOTALL)
_DEEPER = {"[": 1, "{": 1, "]": -1, "}": -1}


def _check_depth(text: str, place: str) -> None:
    """Count brackets outside strings before the recursive parser sees them."""
    depth = 0
    for bracket in _BRACKETS.finditer(text):
        depth += _DEEPER.get(bracket[0], 0)
        if depth > MOST_BRACKETS:
            raise _fault_at(
                f"brackets lie more than {MOST_BRACKETS} deep", text, bracket.start(), place)


def _at(said: str) -> Callable[[str], int]:
    """Where the first number, or what stands for one, is written so."""
    return lambda text: next(token.start() for token in _TOKENS.finditer(text)
                             if token[0].startswith(said))


def _second(name: str) -> Callable[[str], int]:
    """Where a name first stands in an object that has it already."""
    def find(text: str) -> int:
        there: list[bool] = []
        for token in _TOKENS.finditer(text):
            if token[0] in ("[", "{"):
                there.append(False)
            elif token[0] in ("]", "}"):
                there.pop()
            elif token[2] and json.loads(token[1]) == name:
                if there[-1]:
                    return token.start()
                there[-1] = True
        raise AssertionError("the parser has met it twice")

    return find


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for name, value in pairs:
        if name in made:
            raise _NotStrictError(f"{shown(name)} stands twice in one object", _second(name))
        made[name] = value
    return made


def _no_constant(name: str) -> float:
    raise _NotStrictError(f"{name} is not a number", _at(name))


def _finite(digits: str) -> float:
    value = float(digits)
    if not math.isfinite(value):
        raise _NotStrictError(f"{shown(digits)} is too large a number", _at(digits))
    return value


def _short_int(digits: str) -> int:
    if len(digits) > 30:
        raise _NotStrictError("a number has more than thirty digits", _at(digits))
    return int(digits)


def json_schema(kinds: Kinds) -> dict[str, Json]:
    """The lists that may be read as JSON Schema, draft 2020-12.

    Necessary, not sufficient: rules between fields (black below white), the depth of
    lists in lists and the size of the file are checked by ``loads`` alone.
    """
    name = {"type": "string", "maxLength": NAME_LENGTH}
    steps = {"type": "array", "maxItems": MOST_STEPS, "items": {"$ref": "#/$defs/step"}}
    head = {"format": {"const": FORMAT}, "version": {"const": VERSION}}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Stetline step list",
        "description": "Necessary, not sufficient: rules between fields are checked on reading.",
        "type": "object",
        "properties": head | {"name": name, "steps": steps},
        "required": ["format", "version", "steps"],
        "additionalProperties": False,
        "$defs": {
            "list": {
                "type": "object", "properties": {"name": name, "steps": steps},
                "required": ["steps"], "additionalProperties": False,
            },
            "step": {"oneOf": [
                record_schema(made, {"kind": kind, "edition": made.edition})
                for kind, made in sorted(kinds.items())
            ]},
        },
    }
