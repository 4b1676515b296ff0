"""Deflate in independent blocks, so that every core can pack a band of one stream."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

try:
    from zlib_ng import zlib_ng as engine
except ImportError:  # slower, and the files differ, but never their pixels
    import zlib as engine  # type: ignore[no-redef]

Bytes = npt.NDArray[np.uint8]
"""A C-contiguous array of bytes."""

START = b"\x78\x01"
"""The two bytes that open a zlib stream (RFC 1950, 2.2): deflate, 32 KiB window, fastest."""
_LAST = b"\x03\x00"  # an empty block with the final bit set (RFC 1951, 3.2.3)
_MODULUS = 65521  # of Adler-32 (RFC 1950, 8)


@dataclass(frozen=True)
class Block:
    """Raw deflate data that ends on a byte: ``size`` bytes went in, ``adler`` is their Adler-32."""

    data: bytes
    adler: int
    size: int


def deflate(pieces: Iterable[Bytes]) -> Block:
    """Pack the bytes of ``pieces``, in order, into one block that stands alone.

    Run lengths only (matches one byte back). A matte is mostly runs of clear paper with
    noise between them: searching further back was measured to cost two to ten times as
    long and to make the file larger until level 6. The block ends with a sync flush, so
    blocks follow one another in a stream.

    >>> import zlib
    >>> block = deflate([np.zeros(1000, np.uint8)])
    >>> zlib.decompress(START + block.data + ending(block.adler)) == bytes(1000)
    True
    """
    packer = engine.compressobj(1, engine.DEFLATED, -engine.MAX_WBITS, 9, engine.Z_RLE)
    packed, adler, size = [], 1, 0
    for piece in pieces:
        packed.append(packer.compress(piece))
        adler = engine.adler32(piece, adler)
        size += piece.nbytes
    packed.append(packer.flush(engine.Z_SYNC_FLUSH))
    return Block(b"".join(packed), adler, size)


def ending(adler: int) -> bytes:
    """The bytes that close a zlib stream whose content has this Adler-32.

    >>> ending(1).hex()
    '030000000001'
    """
    return _LAST + adler.to_bytes(4, "big")


def join_adler(first: int, block: Block) -> int:
    """Adler-32 of what ``first`` was taken of, followed by the bytes of ``block``.

    >>> import zlib
    >>> two = deflate([np.frombuffer(b"ck", np.uint8)])
    >>> join_adler(zlib.adler32(b"in"), two) == zlib.adler32(b"inck")
    True
    """
    low = (first & 0xFFFF) - 1
    total = low + (block.adler & 0xFFFF)
    weighted = block.size * low + (first >> 16) + (block.adler >> 16)
    return (weighted % _MODULUS) << 16 | total % _MODULUS


def crc(*pieces: bytes) -> int:
    """CRC-32 of the pieces in order, as PNG chunks carry it.

    >>> import zlib
    >>> crc(b"IE", b"ND") == zlib.crc32(b"IEND")
    True
    """
    value = 0
    for piece in pieces:
        value = engine.crc32(piece, value)
    return value
