"""TIFF, written strip by strip, its directory at the end.

TIFF 6.0 (Aldus, 1992): directory section 2, resolution section 8, LZW section 13,
differencing section 14, ExtraSamples section 18; Adobe's Technical Note 3 of 2002 for
deflate. The profile's tag is that of ICC.1:2001-04, annex B.4.
"""

import json
import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import BinaryIO, Literal

import imagecodecs
import numpy as np

from app.pages.deflate import START, Bytes, deflate, ending
from app.pages.picture import Picture, differences
from app.pages.profiles import grey_profile, srgb_profile
from app.pages.refusing import refuse
from core.sheet import BAND_ROWS, Sheet

_ASCII, _SHORT, _LONG, _RATIONAL, _UNDEFINED = 2, 3, 4, 5, 7
_WIDTHS = {_ASCII: 1, _SHORT: 2, _LONG: 4, _RATIONAL: 8, _UNDEFINED: 1}
_LZW, _DEFLATE = 5, 8
_LARGEST = (1 << 32) - (1 << 24)  # the directory, the profile and the step list come after
_STRAIGHT_ALPHA = 2
_INCH = 2


class TiffStream:
    """One TIFF in the making: ``pack`` in any thread, ``add`` in row order, then ``close``.

    Each band is a strip. ``text`` goes into ImageDescription unless it is empty; ``profile``
    says whether a profile is written.
    """

    def __init__(self, file: BinaryIO, picture: Picture, packing: Literal["deflate", "lzw"],
                 text: str = "", *, profile: bool) -> None:
        self._file = file
        self._picture = picture
        self._lzw = packing == "lzw"
        self._text = text
        self._profile = profile
        self._strips: list[int] = []
        self._end = file.write(struct.pack("<2sHI", b"II", 42, 0))

    def pack(self, band: Sheet, top: int) -> bytes:  # noqa: ARG002 - strips are all alike
        """The band as a packed strip: a pure function."""
        rows = self._picture.rows(band, lead=0, big_endian=False)
        if self._lzw:
            return bytes(imagecodecs.lzw_encode(b"".join(piece.tobytes() for piece in rows)))
        block = deflate(self._differences(rows) if self._picture.busy else rows)
        return START + block.data + ending(block.adler)

    def _differences(self, rows: Iterator[Bytes]) -> Iterator[Bytes]:
        sample = "u1" if self._picture.bits == 8 else "<u2"
        return differences(rows, lead=0, step=self._picture.channels, sample=sample)

    def add(self, packed: bytes) -> None:
        """Write the next strip; raises ``Refused`` past what the format can address."""
        if self._end + len(packed) > _LARGEST:
            raise refuse("a TIFF file holds 4 GB at most", "write this page as PNG")
        self._end += self._file.write(packed)
        self._strips.append(len(packed))

    def close(self) -> None:
        """Write the directory and point to it; the file stays open."""
        self._file.write(bytes(self._end % 2))
        start = self._end + self._end % 2
        self._file.write(_directory(list(self._fields()), start))
        self._file.seek(4)
        self._file.write(struct.pack("<I", start))

    def _fields(self) -> Iterator["_Field"]:
        picture = self._picture
        count = picture.channels
        grey = count < 3
        resolution = _rational(picture.ppi)
        offsets = np.cumsum([8, *self._strips[:-1]])
        yield _Field(254, _LONG, 0)
        yield _Field(256, _LONG, picture.width)
        yield _Field(257, _LONG, picture.height)
        yield _Field(258, _SHORT, *[picture.bits] * count)
        yield _Field(259, _SHORT, _LZW if self._lzw else _DEFLATE)
        yield _Field(262, _SHORT, 1 if grey else 2)
        if self._text:
            yield _Field(270, _ASCII, *escaped(self._text), 0)
        yield _Field(273, _LONG, *map(int, offsets))
        yield _Field(277, _SHORT, count)
        yield _Field(278, _LONG, min(BAND_ROWS, picture.height))
        yield _Field(279, _LONG, *self._strips)
        yield _Field(282, _RATIONAL, *resolution)
        yield _Field(283, _RATIONAL, *resolution)
        yield _Field(284, _SHORT, 1)
        yield _Field(296, _SHORT, _INCH)
        if picture.busy and not self._lzw:
            yield _Field(317, _SHORT, 2)
        if count in (2, 4):
            yield _Field(338, _SHORT, _STRAIGHT_ALPHA)
        if self._profile:
            yield _Field(34675, _UNDEFINED, *(grey_profile() if grey else srgb_profile()))


@dataclass(frozen=True, init=False)
class _Field:
    """One entry of the directory; a rational is two values."""

    tag: int
    kind: int
    values: tuple[int, ...]

    def __init__(self, tag: int, kind: int, *values: int) -> None:
        object.__setattr__(self, "tag", tag)
        object.__setattr__(self, "kind", kind)
        object.__setattr__(self, "values", values)

    @property
    def data(self) -> bytes:
        code = {_SHORT: "H", _LONG: "I", _RATIONAL: "I"}.get(self.kind, "B")
        return struct.pack(f"<{len(self.values)}{code}", *self.values)


def _directory(fields: list[_Field], start: int) -> bytes:
    """The directory at offset ``start``, followed by the values that do not fit into it."""
    after = start + 2 + 12 * len(fields) + 4
    entries, rest = b"", b""
    for field in fields:
        data = field.data
        place = data.ljust(4, b"\0")
        if len(data) > 4:
            place = struct.pack("<I", after + len(rest))
            rest += data + bytes(len(data) % 2)
        count = len(data) // _WIDTHS[field.kind]
        entries += struct.pack("<HHI4s", field.tag, field.kind, count, place)
    return struct.pack("<H", len(fields)) + entries + bytes(4) + rest


def _rational(value: float) -> tuple[int, int]:
    exact = Fraction(value).limit_denominator(100_000)
    return exact.numerator, exact.denominator


def escaped(text: str) -> bytes:
    r"""JSON whose letters beyond ASCII are escaped, as ImageDescription asks for ASCII.

    >>> escaped('{"name": "caf\u00e9"}')
    b'{"name": "caf\\u00e9"}'
    """
    return re.sub(r"[^\x00-\x7f]", lambda found: json.dumps(found[0])[1:-1], text).encode("ascii")
