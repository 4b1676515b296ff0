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
from core.sheet import BAND_ROWS, Rgb, Sheet

ASCII, SHORT, LONG, RATIONAL, UNDEFINED = 2, 3, 4, 5, 7
_WIDTHS = {ASCII: 1, SHORT: 2, LONG: 4, RATIONAL: 8, UNDEFINED: 1}
_LZW, _DEFLATE = 5, 8
_LARGEST = (1 << 32) - (1 << 24)  # the directory, the profile and the step list come after
_STRAIGHT_ALPHA = 2
_PALETTE, _SEPARATED = 3, 5
INCH = 2


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
        self._file.write(directory(list(self._fields()), start))
        self._file.seek(4)
        self._file.write(struct.pack("<I", start))

    def _fields(self) -> Iterator["Field"]:
        picture = self._picture
        count = picture.channels
        grey = count < 3
        resolution = rational(picture.ppi)
        offsets = np.cumsum([8, *self._strips[:-1]])
        yield Field(254, LONG, 0)
        yield Field(256, LONG, picture.width)
        yield Field(257, LONG, picture.height)
        yield Field(258, SHORT, *[picture.bits] * count)
        yield Field(259, SHORT, _LZW if self._lzw else _DEFLATE)
        yield Field(262, SHORT, _PALETTE if picture.colours else _SEPARATED if picture.inks
                    else 1 if grey else 2)
        if self._text:
            yield Field(270, ASCII, *escaped(self._text), 0)
        yield Field(273, LONG, *map(int, offsets))
        yield Field(277, SHORT, count)
        yield Field(278, LONG, min(BAND_ROWS, picture.height))
        yield Field(279, LONG, *self._strips)
        yield Field(282, RATIONAL, *resolution)
        yield Field(283, RATIONAL, *resolution)
        yield Field(284, SHORT, 1)
        yield Field(296, SHORT, INCH)
        if picture.busy and not self._lzw:
            yield Field(317, SHORT, 2)
        if picture.colours:
            yield Field(320, SHORT, *_colour_map(picture.colours))
        if count in (2, 4) and not picture.inks:
            yield Field(338, SHORT, _STRAIGHT_ALPHA)
        if self._profile:
            yield Field(34675, UNDEFINED, *(grey_profile() if grey else srgb_profile()))


def _colour_map(colours: tuple[Rgb, ...]) -> Iterator[int]:
    """All red values, then all green, then all blue; 256 of each, 16 bit (section 5)."""
    for channel in range(3):
        values = [colour[channel] * 257 for colour in colours]
        yield from values + [0] * (256 - len(values))


@dataclass(frozen=True, init=False)
class Field:
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
        """The values as they stand in the file."""
        code = {SHORT: "H", LONG: "I", RATIONAL: "I"}.get(self.kind, "B")
        return struct.pack(f"<{len(self.values)}{code}", *self.values)


def directory(fields: list[Field], start: int) -> bytes:
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


def rational(value: float) -> tuple[int, int]:
    """The two whole numbers of a rational.

    >>> rational(118.11)
    (11811, 100)
    """
    exact = Fraction(value).limit_denominator(100_000)
    return exact.numerator, exact.denominator


def escaped(text: str) -> bytes:
    r"""JSON whose letters beyond ASCII are escaped, as ImageDescription asks for ASCII.

    >>> escaped('{"name": "caf\u00e9"}')
    b'{"name": "caf\\u00e9"}'
    """
    return re.sub(r"[^\x00-\x7f]", lambda found: json.dumps(found[0])[1:-1], text).encode("ascii")
