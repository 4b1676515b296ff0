"""Frozen dataclasses to JSON and back, by their own annotations; every fault with its place.

What a job or a journal holds is declared once, in its class. A union of classes is told apart
by ``how``, the class name in lower case; fields left out take their default.
"""

import dataclasses
import math
import types
import typing
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, Literal, TypeVar, Union, cast, get_args, get_origin

from core.fault import Refused
from core.steps.fields import Json, Reader, how_of, shown
from core.steps.steplist import StepList, dump_steps, load_steps

T = TypeVar("T")


class _BadError(Exception):
    """A value that cannot be read; its fault has been noted."""


def dump(value: Any) -> Json:
    """A record, or anything that one may hold, as JSON.

    >>> from app.pages.renditions import Line
    >>> dump((Line("tiff"), None))
    [{'form': 'tiff', 'bits': None}, None]
    """
    match value:
        case StepList():
            return dump_steps(value)
        case Path():
            return value.as_posix()
        case tuple():
            return [dump(item) for item in value]
        case dict():
            return {name: dump(item) for name, item in value.items()}
        case _ if dataclasses.is_dataclass(value):
            hints = _hints(type(value))
            return {
                f.name: _dump_as(hints[f.name], getattr(value, f.name))
                for f in dataclasses.fields(value)
            }
        case _:
            return value


def _dump_as(kind: Any, value: Any) -> Json:
    """The value, with its ``how`` where its field may hold records of several classes."""
    if get_origin(kind) is tuple and isinstance(value, tuple):
        kinds = get_args(kind)
        every = kinds[:1] * len(value) if kinds[-1:] == (...,) else kinds
        return [_dump_as(k, item) for k, item in zip(every, value, strict=True)]
    if len(_classes(kind)) > 1 and dataclasses.is_dataclass(value):
        return {"how": how_of(type(value))} | dump(value)
    return dump(value)


def load(kind: type[T], data: Json, place: str, reader: Reader) -> T | None:
    """A record from JSON; None, with faults in ``reader``, where it cannot be read."""
    try:
        return cast(T, _load(kind, data, place, reader))
    except _BadError:
        return None


def _load(kind: Any, data: Json, place: str, reader: Reader) -> Any:
    origin = get_origin(kind)
    if origin is Literal:
        return _literal(kind, data, place, reader)
    if origin in (Union, types.UnionType):
        return _union(kind, data, place, reader)
    if origin is tuple:
        return _tuple(kind, data, place, reader)
    if kind is StepList:
        return load_steps(data, place, reader)
    if dataclasses.is_dataclass(kind):
        return _record(kind, data, place, reader)
    return _plain(kind, data, place, reader)


def _plain(kind: Any, data: Json, place: str, reader: Reader) -> Any:
    if kind is Any:
        return data
    if kind is Path and isinstance(data, str) and data and "\0" not in data:
        return Path(data)
    is_number = isinstance(data, int | float) and not isinstance(data, bool)
    if kind is float and is_number and math.isfinite(data):
        return float(data)
    if kind in (int, str, bool) and type(data) is kind:
        return data
    names = {Path: "a path", float: "a number", int: "a whole number", str: "text",
             bool: "true or false"}
    return _bad(place, f"{shown(data)} is not {names[kind]}", reader)


def _bad(place: str, what: str, reader: Reader, remedy: str = "") -> Any:
    reader.fault(place, what, remedy)
    raise _BadError


def _literal(kind: Any, data: Json, place: str, reader: Reader) -> Any:
    for option in get_args(kind):
        if type(option) is type(data) and option == data:
            return option
    known = ", ".join(shown(option) for option in get_args(kind))
    return _bad(place, f"{shown(data)} is not a choice", reader, f"choose one of {known}")


def _union(kind: Any, data: Json, place: str, reader: Reader) -> Any:
    options = get_args(kind)
    if data is None and type(None) in options:
        return None
    classes = _classes(kind)
    if len(classes) < 2:
        rest = [option for option in options if option is not type(None)]
        return _load(rest[0], data, place, reader)
    how = data.get("how") if isinstance(data, dict) else None
    for option in classes:
        if how == how_of(option):
            return _record(option, {n: v for n, v in data.items() if n != "how"}, place, reader)
    known = ", ".join(f'"{how_of(option)}"' for option in classes)
    return _bad(place, f"{shown(how)} is not a way", reader, f'set "how" to one of {known}')


def _tuple(kind: Any, data: Json, place: str, reader: Reader) -> tuple[Any, ...]:
    kinds = get_args(kind)
    if not isinstance(data, list):
        _bad(place, f"{shown(data)} is not an array", reader)
    if kinds[-1] is ...:
        kinds = kinds[:1] * len(data)
    if len(kinds) != len(data):
        _bad(place, f"it has {len(data)} values and needs {len(kinds)}", reader)
    made = [
        _tried(k, item, f"{place}, {number}", reader)
        for number, (k, item) in enumerate(zip(kinds, data, strict=True), start=1)
    ]
    return tuple(item for good, item in made if good)


def _record(kind: Any, data: Json, place: str, reader: Reader) -> Any:
    if not isinstance(data, dict):
        _bad(place, f"{shown(data)} is not an object", reader)
    hints = _hints(kind)
    fields = {f.name: f for f in dataclasses.fields(kind)}
    for name in sorted(data.keys() - fields.keys()):
        reader.fault(f"{place}, {shown(name)}", "no such field is known here",
                     f"known are: {', '.join(fields)}")
    made, whole = {}, True
    for name, field in fields.items():
        if name in data:
            good, made[name] = _tried(hints[name], data[name], f"{place}, {name}", reader)
            whole = whole and good
        elif field.default is field.default_factory is dataclasses.MISSING:
            reader.fault(place, f'"{name}" is missing')
            whole = False
    if not whole:
        raise _BadError
    try:
        return kind(**made)
    except Refused as refused:
        for fault in refused.faults:
            reader.fault(place, fault.what, fault.remedy)
        raise _BadError from refused


def _tried(kind: Any, data: Json, place: str, reader: Reader) -> tuple[bool, Any]:
    try:
        return True, _load(kind, data, place, reader)
    except _BadError:
        return False, None


def _classes(kind: Any) -> list[Any]:
    """The record classes that a field may hold."""
    if get_origin(kind) not in (Union, types.UnionType):
        return [kind] if dataclasses.is_dataclass(kind) else []
    return [option for option in get_args(kind) if dataclasses.is_dataclass(option)]


_hints: Callable[[type], dict[str, Any]] = cache(typing.get_type_hints)
