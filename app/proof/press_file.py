"""A press by name, or from a file: what a person read off their own test strip."""

import json
from pathlib import Path

from app.pages.small import read_small
from app.pages.whole import replace_file
from core.fault import Fault, Refused
from core.press.presses import PRESSES, Press
from core.steps.document import parse_json
from core.steps.fields import Reader, dump_record, load_record

FORMAT, VERSION = "stetline press", 1
_MOST_BYTES = 100_000


def find_press(name: str) -> Press:
    """The press of that name, or the one in the JSON file of that name; Refused where neither is.

    >>> find_press("Newsprint").ruling
    100
    """
    if name.lower() in PRESSES:
        return PRESSES[name.lower()]
    if not name.lower().endswith(".json"):
        known = ", ".join(PRESSES)
        raise Refused(Fault(f"there is no press called {name}", "--press",
                            f"choose one of {known}, or name a file"))
    return read_press(Path(name))


def read_press(path: Path) -> Press:
    """The press in a file; Refused with every fault and its place."""
    text = read_small(path, _MOST_BYTES, "the press")
    data = parse_json(text, path.name) if len(text) <= _MOST_BYTES else None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise Refused(Fault("it holds no press", path.name, "name a file that holds one"))
    if data.get("version") != VERSION:
        raise Refused(Fault(f"it has another version than {VERSION}", path.name,
                            "read it with a newer program"))
    reader = Reader({})
    rest = {name: value for name, value in data.items() if name not in ("format", "version")}
    press = load_record(Press, rest, path.name, reader)
    if reader.faults:
        raise Refused(reader.faults)
    return press


def write_press(path: Path, press: Press) -> None:
    """Write a press as JSON: whole, or as it was before."""
    data = {"format": FORMAT, "version": VERSION} | dump_record(press)
    replace_file(path, (json.dumps(data, indent=1) + "\n").encode("utf-8"))
