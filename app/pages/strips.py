"""The strips and tiles of a TIFF page (and the one strip of a PDF picture), decoded by bands.

Uncompressed strips are read straight into the band. Of the others, those that overlap
the band are decoded, each into a buffer of the size that it declares, so that nothing
can unpack past it; one that reaches into a neighbouring band is kept for a while.
"""

import sys
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from threading import Lock
from types import MappingProxyType
from typing import Any, BinaryIO

import imagecodecs
import numpy as np
import numpy.typing as npt

from app.pages.jpeg_in import jpeg_header
from app.pages.refusing import BROKEN, ENDS_EARLY, decoding, refuse
from app.pages.source import Source, read_from, read_into
from core.fault import Fault, Refused
from core.sheet import Plane

Bytes = npt.NDArray[np.uint8]

RAW, CCITT_RLE, CCITT_T4, CCITT_T6, LZW, JPEG = 1, 2, 3, 4, 5, 7
DEFLATE, OLD_DEFLATE, PACKBITS = 8, 32946, 32773

COMPRESSIONS = MappingProxyType({
    RAW: "uncompressed", CCITT_RLE: "CCITT", CCITT_T4: "CCITT T.4", CCITT_T6: "CCITT T.6",
    LZW: "LZW", JPEG: "JPEG", DEFLATE: "deflate", OLD_DEFLATE: "deflate",
    PACKBITS: "PackBits",
})  # fmt: skip
"""What is read, by the number that TIFF gives it, and its name in the trade."""

_UNPACKS_TOO_LARGE = Fault(
    "one of its strips unpacks to more than it declares",
    remedy="do not trust this copy; scan or save it again",
)

_UNPACK: MappingProxyType[int, Callable[..., Any]] = MappingProxyType({
    LZW: imagecodecs.lzw_decode,  # stops when the buffer is full, as TIFF readers do
    DEFLATE: imagecodecs.deflate_decode,
    OLD_DEFLATE: imagecodecs.deflate_decode,
    PACKBITS: imagecodecs.packbits_decode,
})

_OVERFLOWS = ("INSUFFICIENT_SPACE", "OUTPUT_TOO_SMALL")
"""How the deflate and PackBits decoders say that a buffer is full and there is more."""


@dataclass(frozen=True, eq=False)
class Layout:
    """How the samples of a page lie in its file.

    ``offsets`` and ``counts`` are bytes, one for each chunk (a strip or a tile of
    ``chunk_height`` x ``chunk_width``), row by row and, where ``planar``, channel by channel.
    """

    width: int
    height: int
    channels: int
    depth: int
    compression: int
    chunk_width: int
    chunk_height: int
    offsets: npt.NDArray[np.int64]
    counts: npt.NDArray[np.int64]
    tiled: bool = False
    planar: bool = False
    differenced: bool = False
    order: str = "<"
    bits_reversed: bool = False
    t4_options: int = 0
    jpeg_tables: bytes | None = field(default=None, repr=False)
    jpeg_colours: tuple[str | None, str | None] = (None, None)

    @property
    def across(self) -> int:
        """Chunks side by side."""
        return -(-self.width // self.chunk_width)

    @property
    def down(self) -> int:
        """Chunks one below the other."""
        return -(-self.height // self.chunk_height)

    @property
    def interleaved(self) -> int:
        """Channels that one chunk holds."""
        return 1 if self.planar else self.channels

    @property
    def dtype(self) -> type[np.uint8] | type[np.uint16]:
        """What a decoded sample is held in."""
        return np.uint8 if self.depth <= 8 else np.uint16

    @property
    def stride(self) -> int:
        """Bytes of one unpacked row of a chunk."""
        return -(-self.chunk_width * self.interleaved * self.depth // 8)

    def rows_in(self, down: int) -> int:
        """Rows of a chunk in the ``down``-th row of chunks: the last strip may be shorter."""
        if self.tiled:
            return self.chunk_height
        return min(self.chunk_height, self.height - down * self.chunk_height)


_KEPT_SAMPLES = 8_000_000


class Chunks:
    """A page that is decoded as its rows are asked for."""

    def __init__(self, source: Source, layout: Layout) -> None:
        self._source = source
        self._layout = layout
        # Two rows of chunks straddle the two ends of a band; twice that serves two threads,
        # and where chunks are small, more of them let a thread fall behind the others.
        side_by_side = layout.across * (layout.channels if layout.planar else 1)
        size = layout.chunk_height * layout.chunk_width * layout.interleaved
        self._kept = _Kept(max(4 * side_by_side, _KEPT_SAMPLES // size))

    def rows(self, top: int, bottom: int) -> Plane:
        """The band (rows, width, channels) of stored samples."""
        lay = self._layout
        band = np.empty((bottom - top, lay.width, lay.channels), lay.dtype)
        planes = range(lay.channels if lay.planar else 1)
        with self._source.open() as file:
            for down in range(top // lay.chunk_height, -(-bottom // lay.chunk_height)):
                first = down * lay.chunk_height
                start, stop = max(top, first), min(bottom, first + lay.chunk_height)
                for plane in planes:
                    part = band[start - top:stop - top, :, plane:plane + lay.interleaved]
                    self._fill(file, part, (plane, down), (start - first, stop - first))
        return band

    def _fill(
        self, file: BinaryIO, part: Plane, place: tuple[int, int], rows: tuple[int, int]
    ) -> None:
        """Fill ``part`` with ``rows`` of the chunks that lie side by side at ``place``."""
        lay, (plane, down) = self._layout, place
        for across in range(lay.across):
            index = (plane * lay.down + down) * lay.across + across
            left = across * lay.chunk_width
            target = part[:, left:left + lay.chunk_width]
            whole = target.shape[1] == lay.chunk_width and target.flags.c_contiguous
            into = target.reshape(-1).view(np.uint8) if whole and lay.depth in (8, 16) else None
            piece = self._piece(file, (index, down), rows, into)
            if into is None or not np.may_share_memory(piece, into):
                target[...] = piece[:, :target.shape[1]]

    def _piece(
        self, file: BinaryIO, place: tuple[int, int], rows: tuple[int, int], into: Bytes | None
    ) -> Plane:
        lay, (index, down) = self._layout, place
        if lay.compression == RAW:
            return self._raw(file, index, rows, into)
        if rows == (0, lay.rows_in(down)):
            return self._decoded(file, index, down, into)
        kept = self._kept.get(index, lambda: self._decoded(file, index, down, None))
        return kept[slice(*rows)]

    def _raw(
        self, file: BinaryIO, index: int, rows: tuple[int, int], into: Bytes | None
    ) -> Plane:
        lay, (start, stop) = self._layout, rows
        buffer = _room((stop - start) * lay.stride, into)
        read_into(file, int(lay.offsets[index]) + start * lay.stride, buffer)
        if lay.bits_reversed:
            buffer[...] = _reversed_bits(buffer)
        return _samples(buffer, lay)

    def _decoded(self, file: BinaryIO, index: int, down: int, into: Bytes | None) -> Plane:
        lay = self._layout
        data = read_from(file, int(lay.offsets[index]), int(lay.counts[index]))
        rows = lay.rows_in(down)
        if lay.compression == JPEG:
            return _from_jpeg(data, rows, lay)
        if lay.bits_reversed:
            data = _reversed_bits(np.frombuffer(data, np.uint8)).tobytes()
        if lay.compression in (CCITT_RLE, CCITT_T4, CCITT_T6):
            return _from_ccitt(data, rows, lay)
        buffer = _room(rows * lay.stride, into)
        try:
            _unpack(data, lay.compression, buffer)
        except Refused as refused:
            if refused.faults != (_UNPACKS_TOO_LARGE,) or rows == lay.chunk_height:
                raise
            # Some writers fill the last strip up to the height of the others.
            buffer = np.empty(lay.chunk_height * lay.stride, np.uint8)
            _unpack(data, lay.compression, buffer)
            buffer = buffer[:rows * lay.stride]
        return _samples(buffer, lay)


class _Kept:
    """The chunks decoded last; each is decoded once, though several threads ask for it."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._lock = Lock()
        self._chunks: OrderedDict[int, Future[Plane]] = OrderedDict()

    def get(self, index: int, decode: Callable[[], Plane]) -> Plane:
        with self._lock:
            chunk = self._chunks.get(index)
            mine = chunk is None
            if chunk is None:
                chunk = self._chunks[index] = Future()
            self._chunks.move_to_end(index)
            while len(self._chunks) > self._most:
                self._chunks.popitem(last=False)
        if mine:
            try:
                chunk.set_result(decode())
            except BaseException as error:
                chunk.set_exception(error)
                with self._lock:
                    self._chunks.pop(index, None)
                raise
        return chunk.result()


def _room(count: int, into: Bytes | None) -> Bytes:
    return np.empty(count, np.uint8) if into is None else into


def _reversed_bits(data: Bytes) -> Bytes:
    reverse: Bytes = np.packbits(np.unpackbits(np.arange(256, dtype=np.uint8)[:, None], 1), 1,
                                 bitorder="little")[:, 0]
    return np.take(reverse, data)


def _unpack(data: bytes, compression: int, buffer: Bytes) -> None:
    """Decode ``data`` so that it fills ``buffer`` exactly."""
    try:
        with decoding():
            filled = _UNPACK[compression](data, out=buffer)
    except Refused as refused:
        if any(word in str(refused.__cause__) for word in _OVERFLOWS):
            raise Refused(_UNPACKS_TOO_LARGE) from refused
        raise
    if len(filled) != len(buffer):
        raise Refused(ENDS_EARLY)


def _samples(buffer: Bytes, lay: Layout) -> Plane:
    """Unpacked rows of a chunk as samples (rows, chunk width, channels), in place if it can be."""
    shape = (buffer.size // lay.stride, lay.chunk_width, lay.interleaved)
    if lay.depth not in (8, 16):
        return _spread(buffer.reshape(-1, lay.stride), shape, lay.depth)
    flat: Plane = buffer if lay.depth == 8 else buffer.view(np.uint16)
    samples = flat.reshape(shape)
    if lay.depth == 16 and (lay.order == "<") != (sys.byteorder == "little"):
        samples.byteswap(inplace=True)
    if lay.differenced:
        imagecodecs.delta_decode(samples, axis=1, out=samples)
    return samples


def _spread(packed: Bytes, shape: tuple[int, int, int], depth: int) -> Plane:
    """Samples of an odd depth, packed from the high bit on, one to a number."""
    across = shape[1] * shape[2]
    if depth == 1:
        bits: Bytes = np.unpackbits(packed, axis=1, count=across)
        return bits.reshape(shape)
    kind = "u1" if depth < 8 else "u2"
    spread: Plane = imagecodecs.packints_decode(packed.tobytes(), kind, depth, runlen=across)
    return spread.reshape(shape)


def _from_ccitt(data: bytes, rows: int, lay: Layout) -> Plane:
    with decoding():
        if lay.compression == CCITT_T6:
            plane = imagecodecs.ccittfax4_decode(data, rows, lay.chunk_width)
        elif lay.compression == CCITT_T4:
            plane = imagecodecs.ccittfax3_decode(
                data, rows, lay.chunk_width, t4options=lay.t4_options
            )
        else:
            plane = imagecodecs.ccittrle_decode(data, rows, lay.chunk_width)
    decoded: Plane = plane.reshape(rows, lay.chunk_width, 1)
    return decoded


def _from_jpeg(data: bytes, rows: int, lay: Layout) -> Plane:
    head = jpeg_header(data, whole=False)
    if (head.width, head.channels) != (lay.chunk_width, lay.interleaved) or not (
        rows <= head.height <= lay.chunk_height
    ):
        raise refuse("one of its strips holds a picture of another size", "save it again")
    stored, wanted = lay.jpeg_colours
    with decoding():
        plane = imagecodecs.jpeg8_decode(
            data, tables=lay.jpeg_tables, colorspace=stored, outcolorspace=wanted
        )
    decoded: Plane = plane.reshape(head.height, lay.chunk_width, -1)
    if decoded.shape[2] != lay.interleaved:
        raise Refused(BROKEN)
    return decoded[:rows]
