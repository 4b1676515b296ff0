"""What a file was: its size, its time and a digest of its content."""

import hashlib
import json
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

try:
    from zlib_ng import zlib_ng as sums  # several times faster
except ImportError:  # the standard library gives the same sums
    import zlib as sums  # type: ignore[no-redef]

_CHUNK = 1 << 20
_Sum = Callable[[bytes, int], int]


@dataclass(frozen=True)
class Stamp:
    """A file's size in bytes, its time in nanoseconds, and its digest where one was taken.

    A folder (layered pages) counts as its files together. ``digest`` is a CRC-32 and an
    Adler-32 in hexadecimal: a check against change, not against malice, that costs a few per
    cent of reading where a cryptographic one would double it.
    """

    size: int
    time: int
    digest: str = ""


def stamp_of(path: Path, *, digest: bool = False) -> Stamp:
    """The stamp of a file or a folder of files; raises OSError where there is none."""
    files = _files(path)
    stats = [file.stat() for file in files]
    return Stamp(
        sum(stat.st_size for stat in stats), max((stat.st_mtime_ns for stat in stats), default=0),
        digest_of(path) if digest else "",
    )


def digest_of(path: Path) -> str:
    """The digest of a file's content, or of the contents and names of a folder's files.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = (Path(folder) / "nine").write_bytes(b"123456789")
    ...     digest_of(Path(folder) / "nine")
    'cbf43926091e01de'
    """
    crc: _Sum = sums.crc32
    adler: _Sum = sums.adler32
    first, second = 0, 1
    for file in _files(path):
        if file != path:
            name = os.fsencode(file.name)
            first, second = crc(name, first), adler(name, second)
        with file.open("rb", buffering=0) as opened:
            while chunk := opened.read(_CHUNK):
                first, second = crc(chunk, first), adler(chunk, second)
    return f"{first:08x}{second:08x}"


def _files(path: Path) -> list[Path]:
    return sorted(path.iterdir()) if path.is_dir() else [path]


def digest_of_json(value: Any) -> str:
    """A short SHA-256 of a JSON value, whatever the order of its names.

    >>> digest_of_json({"a": 1, "b": 2}) == digest_of_json({"b": 2, "a": 1})
    True
    """
    text = json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()[:32]
