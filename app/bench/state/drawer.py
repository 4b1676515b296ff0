"""The drawer: step lists kept on disk under their names, and as one zip to carry them."""

import io
import stat
import unicodedata
import zipfile
from dataclasses import dataclass
from pathlib import Path

from app.pages.lists import read_list, write_list
from app.pages.whole import replace_file
from core.fault import Fault, Refused
from core.steps.document import MOST_BYTES, Kinds, dumps, loads
from core.steps.steplist import StepList

MOST_LISTS = 500
_SUFFIX = ".json"
_DATE = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True)
class Drawn:
    """The lists of the drawer by file name, and what is wrong with files that are none."""

    lists: tuple[tuple[str, StepList], ...]
    faults: tuple[Fault, ...] = ()


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
    """All lists of the drawer, in the order of their names."""
    lists: list[tuple[str, StepList]] = []
    faults: list[Fault] = []
    files = sorted(folder.glob(f"*{_SUFFIX}"), key=lambda file: same_name(file.name))
    for file in files[:MOST_LISTS] if folder.is_dir() else []:
        try:
            lists.append((file.name, read_list(file, kinds)))
        except Refused as refused:
            faults += refused.faults
    return Drawn(tuple(lists), tuple(faults))


def put_in(folder: Path, steps: StepList) -> Path:
    """Keep a list; one of the same name is replaced."""
    folder.mkdir(parents=True, exist_ok=True)
    wanted = file_name(steps.name)
    there = [file for file in folder.iterdir() if same_name(file.name) == same_name(wanted)]
    if not there and sum(1 for _ in folder.glob(f"*{_SUFFIX}")) >= MOST_LISTS:
        raise Refused(Fault(f"the drawer holds {MOST_LISTS} lists", "the drawer",
                            "take some out first"))
    path = there[0] if there else folder / wanted
    write_list(path, steps)
    return path


def take_out(folder: Path, name: str) -> None:
    """A list leaves the drawer."""
    (folder / Path(name).name).unlink(missing_ok=True)


def pack(path: Path, lists: Drawn) -> None:
    """Write the lists as one zip, the same bytes each time."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, steps in lists.lists:
            archive.writestr(zipfile.ZipInfo(name, _DATE), dumps(steps))
    replace_file(path, held.getvalue())


def unpack(path: Path, kinds: Kinds) -> tuple[StepList, ...]:
    """The lists of a zip; Refused whole where anything in it is not as it must be.

    At most 500 lists of 1 MB by the bytes that are read, whatever the directory says;
    plain names, no links, and names equal after NFC and casefold are one.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            return _read_all(archive, path.name, kinds)
    except (OSError, zipfile.BadZipFile, EOFError, RuntimeError) as error:
        raise Refused(Fault(f"it is no zip that can be read ({error})", path.name)) from None


def _read_all(archive: zipfile.ZipFile, place: str, kinds: Kinds) -> tuple[StepList, ...]:
    members = archive.infolist()
    if len(members) > MOST_LISTS:
        raise Refused(Fault(f"it holds more than {MOST_LISTS} files", place))
    faults = [fault for member in members for fault in _wrong_member(member, place)]
    names = [same_name(member.filename) for member in members]
    if len(set(names)) < len(names):
        faults.append(Fault("two lists in it have one name", place))
    if faults:
        raise Refused(faults)
    made = []
    for member in members:
        with archive.open(member) as file:
            text = file.read(MOST_BYTES + 1)
        made.append(loads(text, kinds, f"{place}, {member.filename}"))
    return tuple(made)


def _wrong_member(member: zipfile.ZipInfo, place: str) -> list[Fault]:
    where, name = f"{place}, {member.filename}", member.filename
    plain = name == Path(name).name and "\\" not in name and ":" not in name
    if not plain or name.startswith(".") or not name.endswith(_SUFFIX):
        return [Fault("it is not the plain name of a step list", where)]
    mode = member.external_attr >> 16
    if mode and not stat.S_ISREG(mode) and stat.S_IFMT(mode):
        return [Fault("it is no ordinary file", where)]
    return []
