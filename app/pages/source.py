"""Where the bytes of a scan come from: a file, or a piece held in memory."""

import io
import stat
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Protocol

import numpy as np
import numpy.typing as npt

from app.pages.refusing import ENDS_EARLY, refuse
from core.fault import Refused


class Source(Protocol):
    """Bytes of a known number that can be opened again and again, in any thread."""

    @property
    def size(self) -> int:
        """Bytes."""
        ...

    def open(self) -> BinaryIO:
        """A file at its start; the caller closes it."""
        ...


@dataclass(frozen=True)
class FileSource:
    """A file on disk. It is opened for each reading, so that no page keeps a handle.

    (A memory map would be as fast, but a file cut short under it kills the process.)
    """

    path: Path
    size: int

    @classmethod
    def of(cls, path: Path) -> "FileSource":
        """The file at ``path``; refuses an empty one and a folder."""
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise IsADirectoryError
        if status.st_size == 0:
            raise refuse("the file holds no bytes", "scan or copy it again")
        return cls(path, status.st_size)

    def open(self) -> BinaryIO:
        """The file, unbuffered: each reading knows its size."""
        return self.path.open("rb", buffering=0)


@dataclass(frozen=True)
class HeldSource:
    """Bytes in memory.

    >>> read_at(HeldSource(b"stet"), 1, 2)
    b'te'
    """

    held: bytes

    @property
    def size(self) -> int:
        """Bytes."""
        return len(self.held)

    def open(self) -> BinaryIO:
        """The bytes as a file."""
        return io.BytesIO(self.held)


@dataclass(frozen=True)
class FetchedSource:
    """Bytes that are fetched anew each time, so that a page not yet due holds none."""

    size: int
    fetch: Callable[[], bytes]

    def open(self) -> BinaryIO:
        """The fetched bytes as a file."""
        return io.BytesIO(self.fetch())


def read_into(file: BinaryIO, offset: int, buffer: npt.NDArray[np.uint8]) -> None:
    """Fill ``buffer``, contiguous bytes, from ``offset``; refuse if the file is short."""
    file.seek(offset)
    view = buffer.data
    while view:
        got = file.readinto(view)  # type: ignore[attr-defined] # both kinds of file have it
        if not got:
            raise Refused(ENDS_EARLY)
        view = view[got:]


def read_from(file: BinaryIO, offset: int, count: int) -> bytes:
    """Exactly ``count`` bytes from ``offset``; refuse if the file is short."""
    file.seek(offset)
    parts: list[bytes] = []
    while count and (part := file.read(count)):
        parts.append(part)
        count -= len(part)
    if count:
        raise Refused(ENDS_EARLY)
    return b"".join(parts)


def read_at(source: Source, offset: int, count: int) -> bytes:
    """Exactly ``count`` bytes from ``offset``; refuses more than there are before reading any."""
    if offset < 0 or count < 0 or offset + count > source.size:
        raise Refused(ENDS_EARLY)
    with source.open() as file:
        return read_from(file, offset, count)
