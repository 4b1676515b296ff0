"""The drawer: step lists kept on disk under their names, and as one zip to carry them."""

import io
import json
import stat
import unicodedata
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

from app.bench.state.drawer_keys import FORMAT, KEYS_FILE, Keys, free_key, key_fault, load_keys
from app.pages.listing import natural_key
from app.pages.lists import read_list, write_list
from app.pages.whole import replace_file
from core.fault import Fault, Refused
from core.steps.document import MOST_BYTES, Kinds, dumps, loads
from core.steps.outdated import Outdated, renewing
from core.steps.steplist import StepList

MOST_LISTS = 500
_SUFFIX = ".json"
_LEAVE_OUT = "write the zip without it"
_DATE = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True)
class Drawn:
    """The lists of the drawer by file name, their keys, and what is wrong with files.

    Those of older programs are brought up to date as they are read; ``older`` says of which
    files they are, and in what they differ.
    """

    lists: tuple[tuple[str, StepList], ...]
    faults: tuple[Fault, ...] = ()
    keys: Keys = field(default_factory=dict)
    older: Mapping[str, Outdated] = field(default_factory=dict)

    @property
    def called(self) -> Mapping[str, str]:
        """What each list is called, by its file's name."""
        return {name: steps.name or name for name, steps in self.lists}


def same_name(name: str) -> str:
    r"""What two names have in common that are one: NFC, then case folded.

    >>> same_name("Cafe\u0301") == same_name("caf\xe9")
    True
    """
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def file_name(name: str) -> str:
    """A plain file name for a list's name.

    >>> file_name("ink / rough paper")
    'ink _ rough paper.json'
    """
    kept = "".join(c if c.isalnum() or c in " -_.," else "_" for c in name).strip(" .")
    short = kept.encode("utf-8")[:180].decode("utf-8", "ignore").strip()
    return (short or "list") + _SUFFIX


def look_in(folder: Path, kinds: Kinds) -> Drawn:
    """All lists of the drawer, in the natural order of their names."""
    lists: list[tuple[str, StepList]] = []
    faults: list[Fault] = []
    older: dict[str, Outdated] = {}
    files = sorted(folder.glob(f"*{_SUFFIX}"), key=_place_of)
    for file in files[:MOST_LISTS] if folder.is_dir() else []:
        try:
            steps, outdated = renewing(partial(read_list, file, kinds))
        except Refused as refused:
            faults += refused.faults
            continue
        lists.append((file.name, steps))
        if outdated is not None:
            older[file.name] = outdated
    try:
        keys = _keys_in(folder)
    except Refused as refused:
        keys = {}
        faults += refused.faults
    there = {name for name, _ in lists}
    known = {name: key for name, key in keys.items() if name in there}
    return Drawn(tuple(lists), tuple(faults), known, older)


def _place_of(file: Path) -> tuple[list[tuple[int, int, str]], str]:
    return natural_key(same_name(file.stem))


def _keys_in(folder: Path) -> dict[str, str]:
    path = folder / KEYS_FILE
    return load_keys(path.read_bytes(), KEYS_FILE) if path.is_file() else {}


def of_name(drawn: Drawn, name: str) -> tuple[str, StepList] | None:
    """The file's name and the list that one of this name would take the place of."""
    wanted = same_name(file_name(name))
    return next(((file, steps) for file, steps in drawn.lists if same_name(file) == wanted), None)


def put_in(folder: Path, steps: StepList, kinds: Kinds) -> Path:
    """Keep a list; one of the same name is replaced, and keeps its key.

    Refused where a file of that name lies there which is no list that can be read.
    """
    folder.mkdir(parents=True, exist_ok=True)
    wanted = file_name(steps.name)
    there = [file for file in folder.iterdir() if same_name(file.name) == same_name(wanted)]
    if not there and sum(1 for _ in folder.glob(f"*{_SUFFIX}")) >= MOST_LISTS:
        raise Refused(Fault(f"the drawer holds {MOST_LISTS} lists", "the drawer",
                            "take some out first"))
    path = there[0] if there else folder / wanted
    if there and of_name(look_in(folder, kinds), steps.name) is None:
        raise Refused(Fault("a file of that name lies in the drawer and cannot be read", path.name,
                            f"call the list otherwise, or take that file out of {folder}"))
    write_list(path, steps)
    return path


def put_in_with_key(folder: Path, steps: StepList, kinds: Kinds) -> Path:
    """Keep a list; one that is new there gets the first free of Alt and a figure."""
    path = put_in(folder, steps, kinds)
    keys = look_in(folder, kinds).keys
    free = free_key(keys)
    if path.name not in keys and free:
        _write_keys(folder, {**keys, path.name: free})
    return path


@dataclass(frozen=True)
class Thrown:
    """A list that left the drawer: its file's name and bytes, what it says, the key it had."""

    name: str
    text: bytes
    steps: StepList
    key: str


def take_out(folder: Path, name: str, kinds: Kinds) -> Thrown | None:
    """A list leaves the drawer, and its key is free; None where it could not be read."""
    drawn = look_in(folder, kinds)
    steps, key = dict(drawn.lists).get(name), drawn.keys.get(name, "")
    if key:
        _write_keys(folder, {file: its for file, its in drawn.keys.items() if file != name})
    path = folder / Path(name).name
    thrown = None if steps is None else Thrown(name, path.read_bytes(), steps, key)
    path.unlink(missing_ok=True)
    return thrown


def put_back(folder: Path, thrown: Thrown, kinds: Kinds) -> None:
    """A list that was thrown out lies in the drawer as before; Refused where its place is taken."""
    if any(same_name(name) == same_name(thrown.name) for name, _ in look_in(folder, kinds).lists):
        raise Refused(Fault("another list in the drawer is called so", thrown.steps.name,
                            "call that one otherwise first"))
    replace_file(folder / thrown.name, thrown.text)
    if thrown.key:
        give_key(folder, thrown.name, thrown.key, kinds)


def give_key(folder: Path, name: str, key: str, kinds: Kinds) -> None:
    """A list gets another key, or none; Refused where the key does something else already."""
    drawn = look_in(folder, kinds)
    fault = key_fault(key, name, drawn.keys, drawn.called) if key else None
    if fault is not None:
        raise Refused(fault)
    others = {other: its_key for other, its_key in drawn.keys.items() if other != name}
    _write_keys(folder, {**others, name: key} if key else others)


def rename(folder: Path, name: str, wanted: str, kinds: Kinds) -> None:
    """A list is called otherwise and keeps its key; Refused where another is called so.

    One of an older program would be brought up to date by that unseen: Refused too.
    """
    drawn = look_in(folder, kinds)
    if name in drawn.older:
        raise Refused(Fault("it is of an older program", drawn.called[name],
                            "take it onto a page first, which brings it up to date"))
    lists, keys = dict(drawn.lists), dict(drawn.keys)
    target = file_name(wanted)
    if any(same_name(other) == same_name(target) for other in lists if other != name):
        raise Refused(Fault("another list in the drawer is called so", wanted,
                            "choose another name"))
    write_list(folder / target, replace(lists[name], name=wanted))
    if target != name:
        (folder / name).unlink()
    if name in keys:
        keys[target] = keys.pop(name)
        _write_keys(folder, keys)


def _write_keys(folder: Path, keys: Keys) -> None:
    replace_file(folder / KEYS_FILE, _keys_text(keys))


def _keys_text(keys: Keys) -> bytes:
    data = {"format": FORMAT, "keys": dict(sorted(keys.items()))}
    return (json.dumps(data, indent=1) + "\n").encode("ascii")


def pack(path: Path, lists: Drawn) -> None:
    """Write the lists and their keys as one zip, the same bytes each time."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, steps in lists.lists:
            archive.writestr(zipfile.ZipInfo(name, _DATE), dumps(steps))
        if lists.keys:
            archive.writestr(zipfile.ZipInfo(KEYS_FILE, _DATE), _keys_text(lists.keys))
    replace_file(path, held.getvalue())


def unpack(path: Path, kinds: Kinds) -> Drawn:
    """The lists of a zip, and their keys; Refused whole where anything in it is not as it must be.

    At most 500 lists of 1 MB by the bytes that are read, whatever the directory says;
    plain names, no links, and names equal after NFC and casefold are one.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            return _read_all(archive, path.name, kinds)
    except (OSError, zipfile.BadZipFile, EOFError, RuntimeError) as error:
        raise Refused(Fault(f"it is no zip that can be read ({error})", path.name,
                            "write it again from the drawer that it came of")) from None


def _read_all(archive: zipfile.ZipFile, place: str, kinds: Kinds) -> Drawn:
    members = archive.infolist()
    lists = [member for member in members if member.filename != KEYS_FILE]
    if len(lists) > MOST_LISTS:
        raise Refused(Fault(f"it holds more than {MOST_LISTS} files", place,
                            "put the lists in two zips"))
    faults = [fault for member in members for fault in _wrong_member(member, place)]
    names = [same_name(member.filename) for member in members]
    if len(set(names)) < len(names):
        faults.append(Fault("two lists in it have one name", place, "call one of them otherwise"))
    if faults:
        raise Refused(faults)
    made, keys, older = [], {}, {}
    for member in members:
        with archive.open(member) as file:
            text = file.read(MOST_BYTES + 1)
        where = f"{place}, {member.filename}"
        if member.filename == KEYS_FILE:
            keys = load_keys(text, where)
            continue
        steps, outdated = renewing(partial(loads, text, kinds, where))
        made.append((member.filename, steps))
        if outdated is not None:
            older[member.filename] = outdated
    return Drawn(tuple(made), keys=keys, older=older)


def put_in_all(folder: Path, lists: Drawn, kinds: Kinds) -> tuple[Fault, ...]:
    """Keep all lists of another drawer; says which of them, or of their keys, have no place."""
    faults: list[Fault] = []
    for name, steps in lists.lists:
        try:
            path = put_in(folder, steps, kinds)
            if name in lists.keys:
                give_key(folder, path.name, lists.keys[name], kinds)
        except Refused as refused:
            faults += refused.faults
    return tuple(faults)


def _wrong_member(member: zipfile.ZipInfo, place: str) -> list[Fault]:
    where, name = f"{place}, {member.filename}", member.filename
    plain = name == Path(name).name and "\\" not in name and ":" not in name
    known = name.endswith(_SUFFIX) or name == KEYS_FILE
    if not plain or name.startswith(".") or not known:
        return [Fault("it is not the plain name of a step list", where, _LEAVE_OUT)]
    mode = member.external_attr >> 16
    if mode and not stat.S_ISREG(mode) and stat.S_IFMT(mode):
        return [Fault("it is no ordinary file", where, _LEAVE_OUT)]
    return []
