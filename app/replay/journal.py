"""What was done to which page: one JSON object a line, appended and kept by the disk.

A run that was stopped, however, goes on from here, and a page that is unchanged is not done
again. A last line that was cut off is dropped; any other that cannot be read is passed over.
"""

import base64
import errno
import json
import os
import platform
from collections.abc import Collection, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache
from io import RawIOBase
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from app.pages.listing import PageAt
from app.pages.names import caseless
from app.pages.renditions import Bitmap, Pdf, Print
from app.pages.whole import telling
from app.replay.digest import Stamp, digest_of, digest_of_json, stamp_of
from app.replay.locking import lock
from app.replay.page import Request
from app.replay.records import dump, load
from app.replay.worker import Answer
from core.fault import Fault, Refused
from core.steps.fields import Reader
from core.steps.steplist import StepList, dump_steps

FOLDER = ".stetline"
"""Where, within the folder of the outputs, a run keeps its journal."""

Key = tuple[str, int]
"""A page: the path of its file from the folder of the outputs, and its number."""

_Stamps = tuple[tuple[Path, Stamp], ...]
"""Outputs by their paths from the folder, each as it was when it was written."""

_LIBRARIES = ("numpy", "opencv-python-headless", "Pillow", "imagecodecs", "zlib-ng",
              "pikepdf")


@dataclass(frozen=True)
class Entry:
    """A page that was done: from which request and scan, into which outputs.

    ``at`` and ``length`` are where in the journal its line is.
    """

    request: str
    scan: Stamp
    outputs: _Stamps
    at: int
    length: int


class Journal:
    """The journal of one folder of outputs; as a context manager, with the folder to itself.

    ``read_only`` changes nothing, and notes nothing. Where it cannot be written (a full disk,
    a folder that may only be read) the run goes on without: ``faults`` says why, once a page was
    done that is not noted for it. A page that could not be written itself has its own fault.
    """

    def __init__(self, folder: Path, *, read_only: bool = False) -> None:
        self._read_only = read_only
        self._folder = folder.absolute()
        self._path = self._folder / FOLDER / "journal.jsonl"
        self._file: RawIOBase | None = None
        self._hindered: list[Fault] = []
        self._missed = False
        self._entries: dict[Key, Entry] = {}
        self._written: dict[str, Stamp] = {}  # every output ever, as it was when it was written
        self._scans: dict[str, str] = {}  # the scan that each output was last made of
        self._intended: set[str] = set()  # outputs that a run may have written and not noted
        self._end = 0
        self._run: dict[str, Any] = {}

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Why pages that were done are not noted; none where all are."""
        return tuple(
            replace(fault, what=f"{fault.what}, so what was done is not noted there")
            for fault in self._hindered) if self._missed else ()

    def __enter__(self) -> Self:
        if self._read_only:
            if self._path.is_file():
                self._file = self._path.open("rb", buffering=0)
                self._read()
            return self
        try:
            with telling(self._path.parent):
                self._path.parent.mkdir(parents=True, exist_ok=True)
            with telling(self._path):
                self._file = self._path.open("a+b", buffering=0)
        except Refused as refused:
            self._hindered += refused.faults
            return self
        try:
            lock(self._file.fileno())
        except OSError:
            self._file.close()
            raise Refused(Fault(
                "another run is writing there", str(self._folder), "let it end, or stop it",
            )) from None
        self._read()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._file is not None:
            self._file.close()

    def _read(self) -> None:
        assert self._file is not None
        for line in self._path.read_bytes().splitlines(keepends=True):
            if not line.endswith(b"\n"):  # cut off in mid-write: it will be done again
                if not self._read_only:
                    self._file.truncate(self._end)
                return
            self._take(line)
            self._end += len(line)

    def _take(self, line: bytes) -> None:
        row = _object(line)
        if "run" in row:
            self._run = row["run"]
        if "intended" in row:
            self._intended |= set(load(tuple[str, ...], row["intended"], "", Reader({})) or ())
        if "written" in row:
            self._intended.clear()
            self._note(load(_Stamps, row["written"], "", Reader({})) or ())
        key = (row.get("page"), row.get("number"))
        if not isinstance(key[0], str) or not isinstance(key[1], int):
            return
        entry = self._entry(row, len(line))
        if entry is not None:
            self._entries[key[0], key[1]] = entry
            self._note(entry.outputs)
            self._scans |= {path.as_posix(): key[0] for path, _ in entry.outputs}

    def _note(self, outputs: Iterable[tuple[Path, Stamp]]) -> None:
        """These outputs were written, and were then so."""
        for path, stamp in outputs:
            self._written[path.as_posix()] = stamp
            self._intended.discard(path.as_posix())

    def _entry(self, row: Mapping[str, Any], length: int) -> Entry | None:
        """The entry of a done page; that of a page that failed leaves what was done before."""
        reader = Reader({})
        scan = load(Stamp, row.get("scan"), "", reader)
        outputs = load(_Stamps, row.get("outputs"), "", reader)
        if scan is None or outputs is None or reader.faults:
            return None
        return Entry(str(row.get("request")), scan, tuple(outputs), self._end, length)

    def key(self, page: PageAt) -> Key:
        """How the journal names a page: by its path from here, so that both may move together."""
        return self._relative(page.path), page.number

    def _relative(self, path: Path) -> str:
        try:
            return Path(os.path.relpath(path.absolute(), self._folder)).as_posix()
        except ValueError:  # another drive
            return path.absolute().as_posix()

    def outputs(self) -> set[Path]:
        """Every file that was ever written here, so that none is taken for a scan."""
        return {self._folder / output for output in self._written}

    def digest(self, request: Request) -> str:
        """The digest of all that decides what is written for a page, but not of its scan."""
        return digest_of_json([
            _digest_of_steps(request.steps), dump(request.reading), _dump_printing(request),
            [[type(form).__name__, dump(form), self._relative(path)]
             for form, path in request.outputs],
        ])

    def is_done(self, request: Request, *, check: bool = False) -> bool:
        """Whether the page was done so, and scan and outputs are as they were then.

        ``check`` reads the contents; else size and time are trusted.
        """
        if not self._entries:  # a first run over many pages asks in vain for each
            return False
        entry = self._entries.get(self.key(request.page))
        if entry is None or entry.request != self.digest(request):
            return False
        files = [(request.page.path, entry.scan)]
        files += [(self._folder / path, stamp) for path, stamp in entry.outputs]
        return all(_is_as_it_was(path, stamp, check=check) for path, stamp in files)

    def taken(
        self, request: Request, together: Collection[Path] = (),
    ) -> tuple[Fault, ...]:
        """A fault for each output whose place a file has that no run here left as it is.

        And for each that is what another scan of the same name became, if that scan is still
        there and not done ``together`` with this one.
        """
        return tuple(
            Fault(f"{path.name} {why}, and would be written over", request.place,
                  "--again writes over it; or move it away, or write into another folder")
            for _, path in request.outputs
            if (why := self._whose(path) or self._namesake(path, request.page, together))
        )

    def _namesake(self, output: Path, page: PageAt, together: Collection[Path]) -> str:
        """Which other scan of the page's name an output is made of; nothing where it is not."""
        was = self._scans.get(self._relative(output), "")
        scan = self._folder / was
        if was in ("", self._relative(page.path)) or not (scan.exists() and output.exists()):
            return ""
        if caseless(scan.stem) != caseless(page.path.stem):  # numbered, say, and moved up
            return ""
        return "" if was in map(self._relative, together) else f"is what {was} became"

    def _whose(self, path: Path) -> str:
        """Why what lies there may not be replaced; nothing where it may, or nothing lies there."""
        if not os.path.lexists(path):
            return ""
        name = self._relative(path)
        if name in self._intended:
            return ""
        was = self._written.get(name)
        if was is None:
            return "is there already, not written by a run into this folder"
        return "" if _is_unchanged(path, was) else "was changed since it was written"

    def intend(self, requests: Iterable[Request]) -> None:
        """Note, before they are written, which outputs a run may replace or add.

        If it is killed between writing one and noting it, the next run knows whose it is.
        """
        paths = [path for request in requests for _, path in request.outputs]
        free = [self._relative(path) for path in paths if not self._whose(path)]
        if free:
            self._append({"intended": free})

    def settle(self) -> None:
        """Note what a run that is over wrote of what it intended, beside the pages it did."""
        if not self._intended:
            return
        stamps = []
        for name in sorted(self._intended):
            with suppress(OSError):  # it was not written
                stamps.append([name, dump(stamp_of(self._folder / name))])
        self._append({"written": stamps})

    def record(self, page: PageAt) -> dict[str, Any]:
        """All that the journal says of a page that was done; empty where it says nothing."""
        entry = self._entries.get(self.key(page))
        if entry is None or self._file is None:
            return {}
        self._file.seek(entry.at)
        return _object(self._file.read(entry.length) or b"")

    def begin(self, about: Mapping[str, Any]) -> None:
        """Note that a run begins, and with what; nothing where the last began with the same."""
        run = {**about, "versions": versions()}
        if run != self._run:
            self._append({"run": run})
            self._run = run

    def add(self, request: Request, answer: Answer) -> None:
        """Note how a page ended."""
        page, number = self.key(request.page)
        row: dict[str, Any] = {"page": page, "number": number, "count": request.page.count}
        if answer.done is None:
            row["faults"] = dump(answer.faults)
        else:
            done, stamps = answer.done, answer.outputs
            paths = [self._relative(path) for path in done.outputs]
            row |= {
                "request": self.digest(request), "steps": _digest_of_steps(request.steps),
                "settled": dump_steps(done.settled), "scan": dump(answer.scan),
                "outputs": [[p, dump(s)] for p, s in zip(paths, stamps, strict=True)],
                "pixels": done.pixels, "seconds": round(answer.seconds, 3),
                "notes": list(done.notes),
            }
            if done.figures is not None:
                row["figures"] = dump(done.figures) | {
                    "picture": base64.b64encode(done.figures.picture).decode("ascii"),
                }
        if not self._append(row) and answer.done is not None:
            self._missed = True

    def _append(self, row: Mapping[str, Any]) -> bool:
        """Add a line and wait until the disk has it; whether it has."""
        if self._file is None or self._read_only:
            return False
        line = json.dumps(row, allow_nan=False).encode("ascii") + b"\n"
        try:
            with telling(self._path):
                if self._file.write(line) != len(line):
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
                os.fsync(self._file.fileno())
        except Refused as refused:
            self._file.truncate(self._end)
            self._hindered += [fault for fault in refused.faults if fault not in self._hindered]
            return False
        self._take(line)
        self._end += len(line)
        return True


def _object(line: bytes) -> dict[str, Any]:
    try:
        row = json.loads(line)
    except (ValueError, RecursionError):
        return {}
    return row if isinstance(row, dict) else {}


def _is_as_it_was(path: Path, was: Stamp, *, check: bool) -> bool:
    try:
        now = stamp_of(path)
        if (now.size, now.time) != (was.size, was.time):
            return False
        return not check or digest_of(path) == was.digest
    except OSError:
        return False


def _is_unchanged(path: Path, was: Stamp) -> bool:
    """Whether an output is what was written; one that was copied has another time."""
    try:
        now = stamp_of(path)
        if now.size != was.size:
            return False
        return now.time == was.time or (bool(was.digest) and digest_of(path) == was.digest)
    except OSError:
        return False


def _dump_printing(request: Request) -> Any:
    """What is said of the print, where something is written that depends on it."""
    if not any(isinstance(form, Print | Bitmap | Pdf) for form, _ in request.outputs):
        return None
    trimmed = request.printing.trim is not None
    return [dump(request.printing), request.left_page if trimmed else None]


@cache
def _digest_of_steps(steps: StepList) -> str:
    return digest_of_json(dump_steps(steps))


@cache
def versions() -> dict[str, str]:
    """The versions of the program, of Python and of what the bytes of files depend on."""
    from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415 - 20 ms

    found = {"python": platform.python_version()}
    for name in ("stetline", *_LIBRARIES):
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = ""
    return found
