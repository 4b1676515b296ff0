"""Keys of the lists in the drawer: chosen by the person, kept in a file beside the lists."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from app.bench.state.commands import COMMANDS, MENUS
from core.fault import Fault, Refused
from core.steps.document import parse_json
from core.steps.fields import Json

KEYS_FILE = "drawer.keys"
"""No list's name: those end in another way."""

FORMAT = "stetline drawer keys"
LONGEST = 40
FIRST_KEYS = tuple(f"Alt+{figure}" for figure in range(1, 10))
"""What lists are given in turn that are put into the drawer."""

_TAKE_OUT = "take that file out; keys can be given anew"
_MODIFIERS = ("Meta", "Ctrl", "Alt", "Shift")
_FUNCTION = re.compile(r"f([1-9]|[12]\d|3[0-5])")
_HELD = frozenset(f"Ctrl+{way}" for way in ("Left", "Right", "Up", "Down"))  # move the divider

Keys = Mapping[str, str]
"""Keys of lists by the names of their files."""


@dataclass(frozen=True)
class _Chord:
    """A key with those that are held with it, however they were written."""

    held: frozenset[str]
    key: str

    @classmethod
    def of(cls, text: str) -> "_Chord":
        *held, key = text[:-1].split("+") if text.endswith("++") else text.split("+")
        return cls(frozenset(one.casefold() for one in held), (key or "+").casefold())


def key_fault(key: str, name: str, keys: Keys, called: Mapping[str, str]) -> Fault | None:
    """Why the list in the file ``name`` cannot have a key; None where it can.

    ``keys`` are those of the lists, ``called`` how the lists are called.

    >>> print(key_fault("Ctrl+S", "pen.json", {}, {}))
    Ctrl+S: it is the key of “Save the step list…” already; choose another.
    """
    chord = _Chord.of(key)
    for command in COMMANDS:
        if chord in map(_Chord.of, command.keys):
            return _taken(key, f"it is the key of “{command.text.replace('&', '')}” already")
    for other, its_key in keys.items():
        if other != name and _Chord.of(its_key) == chord:
            return _taken(key, f"it is the key of the list “{called.get(other, other)}” already")
    for menu in MENUS:
        if chord == _Chord.of(f"Alt+{menu[menu.index('&') + 1]}"):
            return _taken(key, f"it opens the menu {menu.replace('&', '')}")
    if chord in map(_Chord.of, _HELD):
        return _taken(key, "it moves the divider on the page")
    if not (chord.held - {"shift"} or _FUNCTION.fullmatch(chord.key)):
        return Fault("it is a key to type or to steer with", key,
                     "hold Ctrl or Alt with it, or take a function key")
    return None


def _taken(key: str, why: str) -> Fault:
    return Fault(why, key, "choose another")


def free_key(keys: Keys) -> str:
    """The first of Alt and a figure that no list has; empty where all are taken."""
    taken = {_Chord.of(key) for key in keys.values()}
    return next((key for key in FIRST_KEYS if _Chord.of(key) not in taken), "")


def load_keys(text: bytes, place: str) -> dict[str, str]:
    """The keys in a file; Refused where it holds anything else."""
    data = parse_json(text, place)
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise Refused(Fault("it holds no keys of a drawer", place, _TAKE_OUT))
    keys: Json = data.get("keys")
    if not isinstance(keys, dict) or not all(map(_is_key, keys.values())):
        raise Refused(Fault("its keys are not written like Ctrl+Alt+1", place, _TAKE_OUT))
    return dict(keys)


def _is_key(value: Json) -> bool:
    if not isinstance(value, str) or not 0 < len(value) <= LONGEST or not value.isprintable():
        return False
    known = {one.casefold() for one in _MODIFIERS}
    chord = _Chord.of(value)
    return chord.held <= known and bool(chord.key)
