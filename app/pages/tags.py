"""The directories of a TIFF file, which EXIF uses too: TIFF 6.0, section 2; BigTIFF.

Nothing is believed before it is checked: offsets and counts against the file's size,
and the chain of pages against loops.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from types import MappingProxyType
from typing import BinaryIO

import numpy as np
import numpy.typing as npt

from app.pages.limits import Limits
from app.pages.refusing import ENDS_EARLY, refuse
from app.pages.source import HeldSource, Source, read_at, read_from
from core.fault import Refused

_WIDTH = MappingProxyType({
    1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4,
    16: 8, 17: 8, 18: 8,
})  # fmt: skip
"""Bytes of one value of each type."""

_WHOLE = MappingProxyType({
    1: "u1", 3: "u2", 4: "u4", 6: "i1", 7: "u1", 8: "i2", 9: "i4", 13: "u4", 16: "u8", 17: "i8",
    18: "u8",
})  # fmt: skip
"""The types that are whole numbers, as numpy names them."""

_MOST_ENTRIES = 4096

ORIENTATION, X_RESOLUTION, Y_RESOLUTION, RESOLUTION_UNIT = 274, 282, 283, 296


@dataclass(frozen=True)
class _Entry:
    """A tag's values: short ones stand ``here``, long ones at ``offset``."""

    kind: int
    count: int
    here: bytes
    offset: int

    @property
    def size(self) -> int:
        return _WIDTH.get(self.kind, 1) * self.count

    def data(self, source: Source) -> bytes:
        if self.size <= len(self.here):
            return self.here[:self.size]
        return read_at(source, self.offset, self.size)


@dataclass(frozen=True)
class Directory:
    """One page's tags. Values are read when asked for, and only then."""

    source: Source
    order: str
    entries: dict[int, _Entry]

    def data(self, tag: int, most: int) -> bytes | None:
        """The bytes of a tag, or None where it is missing; refuses more than ``most``."""
        entry = self.entries.get(tag)
        if entry is None:
            return None
        if entry.size > most:
            raise refuse(f"its tag {tag} is absurdly long", "scan or save it again")
        return entry.data(self.source)

    def numbers(self, tag: int, most: int = 1 << 16) -> npt.NDArray[np.int64] | None:
        """The whole numbers of a tag, or None where it is missing; at most ``most`` of them."""
        entry = self.entries.get(tag)
        if entry is None:
            return None
        kind = _WHOLE.get(entry.kind)
        if kind is None or entry.count > most:
            raise refuse(f"its tag {tag} makes no sense", "scan or save it again")
        return np.frombuffer(entry.data(self.source), self.order + kind).astype(np.int64)

    def number(self, tag: int, default: int) -> int:
        """The first whole number of a tag, or ``default`` where it is missing."""
        values = self.numbers(tag)
        return default if values is None or not values.size else int(values[0])

    def ratio(self, tag: int) -> float | None:
        """The first fraction of a tag; None where it is missing or is not one."""
        entry = self.entries.get(tag)
        if entry is None or entry.kind not in (5, 10) or entry.count < 1:
            return None
        ends = self.order + ("II" if entry.kind == 5 else "ii")
        upper, lower = struct.unpack(ends, entry.data(self.source)[:8])
        return float(upper / lower) if lower else None

    def ppi(self) -> tuple[float, float] | None:
        """Pixels per inch across and down; TIFF 6.0, section 8: the unit is the inch if unsaid."""
        across, down = self.ratio(X_RESOLUTION), self.ratio(Y_RESOLUTION)
        inch = {2: 1.0, 3: 2.54}.get(self.number(RESOLUTION_UNIT, 2))
        if inch is None or across is None:
            return None
        return across * inch, (across if down is None else down) * inch

    def orientation(self) -> int:
        """1 to 8 as EXIF counts them; anything else counts as upright."""
        stated = self.number(ORIENTATION, 1)
        return stated if 1 <= stated <= 8 else 1


def directories(source: Source, limits: Limits) -> list[Directory]:
    """Every directory of the chain, in order; refuses a chain that loops or never ends."""
    found: list[Directory] = []
    for directory in _chain(source):
        found.append(directory)
        if len(found) > limits.pages:
            raise refuse(f"it says it has more than {limits.pages} pages", "save it again")
    return found


def exif_facts(data: bytes) -> tuple[tuple[float, float] | None, int]:
    """Pixels per inch and orientation out of EXIF data.

    Broken EXIF data do not spoil a picture: they count as unsaid, and nothing is refused.

    >>> exif_facts(b"Exif nonsense")
    (None, 1)
    """
    try:
        first = next(_chain(HeldSource(data.removeprefix(b"Exif\0\0"))), None)
        return (None, 1) if first is None else (first.ppi(), first.orientation())
    except Refused:
        return None, 1


def _chain(source: Source) -> Iterator[Directory]:
    with source.open() as file:
        head = read_from(file, 0, min(16, source.size))
        order = {b"II": "<", b"MM": ">"}.get(head[:2])
        if order is None or len(head) < 8:
            raise refuse("it is not a TIFF file", "scan or save it again")
        big = struct.unpack(order + "H", head[2:4])[0] == 43
        if big and len(head) < 16:
            raise Refused(ENDS_EARLY)
        code, link = ("Q", head[8:16]) if big else ("I", head[4:8])
        offset = int(struct.unpack(order + code, link)[0])
        seen: set[int] = set()
        while offset:
            if offset in seen:
                raise refuse("its chain of pages loops", "save it again from the scanner's program")
            if offset > source.size:
                raise Refused(ENDS_EARLY)
            seen.add(offset)
            entries, offset = _directory(file, order, offset, big=big)
            yield Directory(source, order, entries)


def _directory(
    file: BinaryIO, order: str, offset: int, *, big: bool
) -> tuple[dict[int, _Entry], int]:
    """The tags of one directory, and where the next is."""
    count_code, entry_code, link_code = ("Q", "HHQ8s", "Q") if big else ("H", "HHI4s", "I")
    count_size, entry_size, link_size = (8, 20, 8) if big else (2, 12, 4)
    count = struct.unpack(order + count_code, read_from(file, offset, count_size))[0]
    if count > _MOST_ENTRIES:
        raise refuse("one of its pages has an absurd number of tags", "scan or save it again")
    body = read_from(file, offset + count_size, count * entry_size + link_size)
    entries: dict[int, _Entry] = {}
    for at in range(0, count * entry_size, entry_size):
        tag, kind, values, here = struct.unpack_from(order + entry_code, body, at)
        there = struct.unpack(order + link_code, here)[0]
        entries.setdefault(tag, _Entry(kind, values, here, there))
    following = struct.unpack(order + link_code, body[count * entry_size:])[0]
    return entries, int(following)
