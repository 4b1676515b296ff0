"""WebP scans: RFC 9649."""

import struct
from collections.abc import Iterator

import imagecodecs

from app.pages.limits import Limits
from app.pages.raster import Held, Look, Raster
from app.pages.refusing import BROKEN, ENDS_EARLY, decoding, refuse
from app.pages.source import Source, read_at
from app.pages.tags import exif_facts
from core.fault import Refused
from core.sheet import Plane

_ALPHA_FLAG, _ANIMATION_FLAG = 0x10, 0x02


def open_webp(source: Source, limits: Limits) -> Raster:
    """The page of a WebP file; its pixels are decoded when they are first asked for."""
    chunks: dict[bytes, bytes] = {}
    for name, body in _chunks(read_at(source, 0, source.size)):
        chunks.setdefault(name, body)
    width, height, alpha = _size(chunks)
    limits.check(width, height)
    look = Look("rgb", alpha=3 if alpha else None)

    def decode() -> Plane:
        with decoding():
            plane: Plane = imagecodecs.webp_decode(
                read_at(source, 0, source.size), hasalpha=alpha
            )
        if plane.shape != (height, width, 3 + alpha):
            raise Refused(BROKEN)
        return plane

    ppi, orientation = exif_facts(chunks.get(b"EXIF", b""))
    return Raster(
        width, height, look, Held(decode).rows, f"{look}, WebP",
        ppi=ppi, orientation=orientation, profile=chunks.get(b"ICCP"),
    )  # fmt: skip


def _chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    stated = int.from_bytes(data[4:8], "little") + 8
    if stated > len(data):
        raise Refused(ENDS_EARLY)
    at = 12
    while at + 8 <= stated:
        length = int.from_bytes(data[at + 4:at + 8], "little")
        if at + 8 + length > len(data):
            raise Refused(ENDS_EARLY)
        yield data[at:at + 4], data[at + 8:at + 8 + length]
        at += 8 + length + length % 2


def _size(chunks: dict[bytes, bytes]) -> tuple[int, int, bool]:
    """Width, height and whether there is alpha; the picture's own words, not its frame's."""
    canvas = chunks.get(b"VP8X", b"")
    if canvas and canvas[0] & _ANIMATION_FLAG:
        raise refuse("it is a moving picture, not a scan", "save one picture of it by itself")
    lossy, lossless = chunks.get(b"VP8 ", b""), chunks.get(b"VP8L", b"")
    if len(lossy) >= 10 and lossy[3:6] == b"\x9d\x01\x2a":
        width, height = (side & 0x3FFF for side in struct.unpack("<HH", lossy[6:10]))
        alpha = bool(canvas) and bool(canvas[0] & _ALPHA_FLAG) and b"ALPH" in chunks
        return width, height, alpha
    if len(lossless) >= 5 and lossless[0] == 0x2F:
        packed = int.from_bytes(lossless[1:5], "little")
        return (packed & 0x3FFF) + 1, (packed >> 14 & 0x3FFF) + 1, bool(packed >> 28 & 1)
    raise Refused(BROKEN)
