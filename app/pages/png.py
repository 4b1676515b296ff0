"""PNG, written band by band: a stream of independent deflate blocks.

Portable Network Graphics, third edition (W3C): chunks 5.3, IHDR 11.2.1, filters 9.2,
iCCP 11.3.2.3, iTXt 11.3.3.4, pHYs 11.3.4.3.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import IO

import numpy as np

from app.pages.deflate import START, Block, Bytes, crc, deflate, ending, join_adler
from app.pages.picture import Picture, differences
from app.pages.profiles import grey_profile, srgb_profile
from core.sheet import BAND_ROWS, Sheet, spans
from core.units import METRES_PER_INCH

STEP_LIST = "Stetline step list"
"""The keyword of the text chunk that holds the step list, as JSON."""

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_COLOUR_TYPES = {1: 0, 2: 4, 3: 2, 4: 6}
_PALETTE_TYPE = 3


@dataclass(frozen=True)
class Packed:
    """One band as an image data chunk, ready to be written, and what its checksum needs."""

    chunk: tuple[bytes, ...]
    block: Block


class PngStream:
    """One PNG in the making: ``pack`` in any thread, ``add`` in row order, then ``close``.

    Every row has the filter *none*, or *sub* where the picture is busy. ``text`` is kept
    under the keyword ``STEP_LIST`` unless it is empty.
    """

    def __init__(self, file: IO[bytes], picture: Picture, text: str = "") -> None:
        self._file = file
        self._picture = picture
        self._adler = 1
        self._clear: dict[int, Block] = {}
        file.write(_SIGNATURE)
        for name, data in _head(picture, text):
            file.writelines(_chunk(name, data))

    def pack(self, band: Sheet, top: int) -> Packed:
        """The band that starts at row ``top``, deflated: a pure function."""
        block = self._pack_clear(band) if self._is_clear(band) else self._deflate(band)
        return Packed(_chunk(b"IDAT", block.data if top else START + block.data), block)

    def _is_clear(self, band: Sheet) -> bool:
        """Nothing is drawn: margins, bare paper; it packs alike wherever it lies."""
        return not self._picture.own and band.alpha is not None and not band.alpha.max()

    def _pack_clear(self, band: Sheet) -> Block:
        block = self._clear.get(band.height)
        if block is None:
            block = self._clear[band.height] = self._deflate(band)
        return block

    def _deflate(self, band: Sheet) -> Block:
        rows = self._picture.rows(band, lead=1, big_endian=True)
        return deflate(_filtered(rows, self._picture) if self._picture.busy else rows)

    def add(self, packed: Packed) -> None:
        """Write the next band."""
        self._file.writelines(packed.chunk)
        self._adler = join_adler(self._adler, packed.block)

    def close(self) -> None:
        """Write what ends the stream and the file; the file stays open."""
        self._file.writelines(_chunk(b"IDAT", ending(self._adler)))
        self._file.writelines(_chunk(b"IEND", b""))


def save_png(file: IO[bytes], picture: Picture, sheet: Sheet, text: str = "") -> None:
    """Write a whole sheet at once.

    >>> import io
    >>> from app.pages.picture import Frame, ink_picture
    >>> sheet, file = Sheet(ppi=300, alpha=np.zeros((2, 3), np.uint8)), io.BytesIO()
    >>> save_png(file, ink_picture(Frame.of(sheet.shape, sheet), "rgba"), sheet)
    >>> file.getvalue()[1:4], file.getvalue()[16:25].hex()  # the name, width, height, depth
    (b'PNG', '000000030000000208')
    """
    stream = PngStream(file, picture, text)
    for top, bottom in spans(sheet.height, BAND_ROWS):
        stream.add(stream.pack(sheet.rows(top, bottom), top))
    stream.close()


def _filtered(strips: Iterator[Bytes], picture: Picture) -> Iterator[Bytes]:
    """Filter *sub* on every row."""
    for rows in differences(strips, lead=1, step=picture.pixel_bytes, sample="u1"):
        rows[:, 0] = 1
        yield rows


def _head(picture: Picture, text: str) -> Iterator[tuple[bytes, bytes]]:
    indexed = picture.palette is not None or bool(picture.colours)
    kind = _PALETTE_TYPE if indexed else _COLOUR_TYPES[picture.channels]
    yield b"IHDR", struct.pack(">IIBBBBB", picture.width, picture.height, picture.bits, kind,
                               0, 0, 0)
    grey = picture.channels < 3 and not indexed
    yield b"iCCP", _profile(grey=grey)
    if picture.palette is not None:
        yield b"PLTE", bytes(picture.palette) * 256
        yield b"tRNS", bytes(range(256))
    if picture.colours:
        yield b"PLTE", bytes(value for colour in picture.colours for value in colour)
    per_metre = round(picture.ppi / METRES_PER_INCH)
    yield b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)
    if text:
        keyword = STEP_LIST.encode("latin-1")
        yield b"iTXt", keyword + b"\0\0\0\0\0" + text.encode("utf-8")


@cache
def _profile(*, grey: bool) -> bytes:
    profile = deflate([np.frombuffer(grey_profile() if grey else srgb_profile(), np.uint8)])
    name = b"Grey, sRGB curve" if grey else b"sRGB"
    return name + b"\0\0" + START + profile.data + ending(profile.adler)


def is_written_here(path: Path) -> bool:
    """Whether a file begins as the PNGs of this module do: with its own profile, packed as here.

    Another program may keep the profile, but packs it anew.
    """
    after = len(_SIGNATURE) + 4 + 4 + 13 + 4  # the chunk IHDR
    ours = [b"".join(_chunk(b"iCCP", _profile(grey=grey))) for grey in (False, True)]
    with path.open("rb") as file:
        head = file.read(after + max(map(len, ours)))
    return head.startswith(_SIGNATURE) and head[after:].startswith(tuple(ours))


def _chunk(name: bytes, data: bytes) -> tuple[bytes, ...]:
    length = len(data).to_bytes(4, "big")
    return length, name, data, crc(name, data).to_bytes(4, "big")
