"""Where each page's outputs go: safe names, no two alike, never a scan's.

What a page's outputs are called depends on which pages are written together, not on the
order in which they are given.
"""

import hashlib
import os
import re
import unicodedata
from collections.abc import Iterable, Sequence
from pathlib import Path

from app.pages.listing import PageAt
from app.pages.refusing import refuse
from app.pages.renditions import Rendition
from app.pages.true_paths import true_paths
from app.pages.whole import MARK_BYTES
from core.fault import Fault, Refused

LONGEST = 255 - MARK_BYTES  # bytes of a name on most file systems, its temporary name included
# Names that Windows keeps for devices, and characters that it does not take (Microsoft Learn,
# "Naming Files, Paths, and Namespaces"): outputs travel on cards and shares.
_DEVICES = frozenset(
    {"con", "prn", "aux", "nul"} | {f"{port}{n}" for port in ("com", "lpt") for n in range(10)}
)
_UNSAFE = re.compile(r'[<>:"/\\|?*\x00-\x1f\x7f\ud800-\udfff]')

_Place = tuple[Path, int]  # a resolved path and the number of the page in its file


def plan_outputs(
    pages: Sequence[PageAt], renditions: Sequence[Rendition], folder: Path,
    scans: Iterable[Path] = (),
) -> tuple[tuple[Path, ...] | Fault, ...]:
    """For each page a path in ``folder`` for each rendition, or why it can have none.

    A page is called as its scan is, without the suffix; ``-p003`` follows where the file has
    several pages. Pages that would meet in one name, in any case or accent encoding, all take
    the scan's suffix into their names, then its folder's name, then a digest of its path.
    ``scans`` are further files that are never written to, beside the pages' own. Raises
    ``Refused`` where two renditions have one suffix.

    >>> from app.pages.renditions import Line
    >>> [[path]] = plan_outputs([PageAt(Path("scans/page 7.tif"), 1, 1)], [Line()], Path("out"))
    >>> path.name
    'page 7-line.png'
    """
    suffixes = [rendition.suffix for rendition in renditions]
    if len(set(suffixes)) < len(suffixes):
        raise refuse("two renditions would be written to one name", "ask for one of them at a time")
    paths = true_paths(page.path for page in pages)
    places = [(path, page.number) for path, page in zip(paths, pages, strict=True)]
    guard = Guard({path for path, _ in places} | set(true_paths(scans)), folder)
    longest = LONGEST - max(map(len, suffixes), default=0)
    stems = _distinct_stems(dict(zip(places, pages, strict=True)), longest)
    planned: list[tuple[Path, ...] | Fault] = []
    seen = set()
    for page, place in zip(pages, places, strict=True):
        targets = tuple(folder / (stems[place] + suffix) for suffix in suffixes)
        taken = next((path for path in targets if guard.holds(path)), None)
        if place in seen:
            planned.append(Fault("the page is given twice", page.path.name, "give it once"))
        elif taken is not None:
            planned.append(Fault(f"{taken.name} would be written over, and it is a scan",
                                 page.path.name, "write into another folder"))
        else:
            planned.append(targets)
        seen.add(place)
    return tuple(planned)


def _distinct_stems(pages: dict[_Place, PageAt], longest: int) -> dict[_Place, str]:
    """A stem for each place; those that meet are made more distinct until none do."""
    distinct = dict.fromkeys(pages, 0)
    while True:
        stems = {place: _stem(page, place, distinct[place], longest)
                 for place, page in pages.items()}
        met: dict[str, list[_Place]] = {}
        for place, stem in stems.items():
            met.setdefault(caseless(stem), []).append(place)
        crowded = [place for places in met.values() if len(places) > 1 for place in places]
        if not crowded:
            return stems
        for place in crowded:
            distinct[place] += 1


def _stem(page: PageAt, place: _Place, distinct: int, longest: int) -> str:
    path, number = place
    stem, ending = page.path.stem, ""
    if distinct >= 1 and page.path.suffix:
        ending += f"-{page.path.suffix[1:]}"
    if page.count > 1:
        ending += f"-p{number:03}"
    if distinct == 2 and path.parent.name:
        stem = f"{path.parent.name}-{stem}"
    if distinct > 2:
        ending += f"-{_digest(os.fsencode(f'{path}:{number}'), 4 * (distinct - 2))}"
    return safe_stem(stem, safe_text(ending), longest)


def safe_text(text: str) -> str:
    """The text without what some file system does not take in a name.

    >>> safe_text("inks/blue")
    'inks_blue'
    """
    return _UNSAFE.sub("_", unicodedata.normalize("NFC", text))


def safe_stem(stem: str, ending: str, longest: int) -> str:
    """A stem that every file system takes, cut between letters where it is too long."""
    clean = safe_text(stem)
    if clean.partition(".")[0].rstrip().casefold() in _DEVICES:
        clean = f"_{clean}"
    room = longest - len(ending.encode("utf-8"))
    if len(clean.encode("utf-8")) <= room:
        return clean + ending
    mark = f"-{_digest(clean.encode('utf-8'))}"
    head = clean.encode("utf-8")[: room - len(mark)].decode("utf-8", "ignore")
    return head + mark + ending


def _digest(data: bytes, size: int = 4) -> str:
    return hashlib.blake2b(data, digest_size=size).hexdigest()


def in_letters(text: str) -> str:
    r"""A name whose bytes stand for no letters, as text that any file may hold.

    >>> in_letters(os.fsdecode(b"page \xff"))
    'page \\udcff'
    """
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def caseless(name: str) -> str:
    r"""The name as a file system compares it that minds neither case nor accent encoding.

    The Unicode Standard, 3.13, D145: canonical caseless matching.

    >>> caseless("Cafe\u0301.PNG") == caseless("caf\u00e9.png")
    True
    """
    decomposed = unicodedata.normalize("NFD", name).casefold()
    return unicodedata.normalize("NFD", decomposed)


class Guard:
    """Knows every scan, by name and, where it is there, by what it is on the disk."""

    def __init__(self, resolved: set[Path], folder: Path) -> None:
        self._folder = os.path.realpath(folder).rstrip(os.sep)  # a root ends in one already
        nearest = {path.parent for path in resolved}
        folders = nearest.union(*(path.parents for path in nearest))
        self._names = {caseless(str(path)) for path in resolved | folders}
        self._files = {identity for path in resolved if (identity := _identity(path))}

    def holds(self, path: Path) -> bool:
        """Whether writing ``path``, in the folder, would replace a scan or a folder with one."""
        if caseless(f"{self._folder}{os.sep}{path.name}") in self._names:
            return True
        identity = _identity(path)
        return identity is not None and identity in self._files


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_dev, status.st_ino


PDF, SHEET, NEW = "PDF of Stetline's", "proof sheet", ""
"""Kinds of files that one command writes, beside the formats that our JSON files say at their
head; where something ``NEW`` is written nothing may lie."""

_HEAD_BYTES = 1 << 16  # what this program writes says so within them; a scan may be far larger
_HEADS = {PDF: rb"%PDF-.*\(Stetline\)", SHEET: b"<!doctype html>.*: proof sheet</title>"}


def check_target(target: Path, kind: str, option: str, never: Iterable[Path] = ()) -> None:
    """Refuse a file to be written that could not be, or that would replace another kind of file.

    What this program wrote as the same ``kind``, and an empty file, may be replaced; none of the
    files ``never``, that were given to be read. ``option`` is the word that named the target.
    Raises ``Refused``.

    >>> import tempfile
    >>> with tempfile.NamedTemporaryFile(suffix=".tif") as scan:
    ...     _ = scan.write(b"a scan"), scan.flush()
    ...     try:
    ...         check_target(Path(scan.name), SHEET, "--out")
    ...     except Refused as refused:
    ...         print(refused.faults[0].what.partition(" ")[2])
    is there already and is no proof sheet
    """
    other = "name another file"
    if Guard(set(true_paths(never)), target.parent).holds(target):
        raise Refused(Fault(f"{target.name} is given to be read, and would be written over",
                            option, other))
    if not target.parent.is_dir():
        raise Refused(Fault(f"the folder {target.parent} is not there", option,
                            "make it, or choose another folder"))
    if target.is_dir():
        raise Refused(Fault(f"{target.name} is a folder", option, "name a file in it"))
    if not os.access(target.parent, os.W_OK):
        raise Refused(Fault(f"the folder {target.parent} may not be written to", option,
                            "choose another folder"))
    if os.path.lexists(target) and not _is_of(target, kind):
        what = f" and is no {kind}" if kind else ""
        raise Refused(Fault(f"{target.name} is there already{what}", option,
                            f"move it away, or {other}"))


def _is_of(path: Path, kind: str) -> bool:
    try:
        if not path.stat().st_size:
            return True
        with path.open("rb") as file:
            data = file.read(_HEAD_BYTES)
    except OSError:  # a link that leads nowhere, or one that may not be read
        return False
    head = _HEADS.get(kind, rb'\s*\{[^{\[]*"format":\s*"' + kind.encode() + b'"')
    return kind != NEW and re.match(head, data, re.DOTALL) is not None
