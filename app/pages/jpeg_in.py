"""JPEG scans: ITU-T T.81, with the JFIF, EXIF, ICC and Adobe segments."""

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass, field

import imagecodecs

from app.pages.limits import Limits
from app.pages.raster import KINDS, Held, Look, Raster
from app.pages.refusing import BROKEN, ENDS_EARLY, decoding, refuse
from app.pages.source import Source, read_at
from app.pages.tags import exif_facts
from core.fault import Refused
from core.sheet import Plane

_EOI, _SOS = 0xD9, 0xDA
_END = bytes([0xFF, _EOI])
_ALONE = frozenset({0x01, *range(0xD0, 0xD9)})
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_SEQUENTIAL_OR_PROGRESSIVE = frozenset({0xC0, 0xC1, 0xC2, 0xC9, 0xCA})
_ADOBE, _EXIF, _ICC, _JFIF = b"Adobe", b"Exif\0\0", b"ICC_PROFILE\0", b"JFIF\0"
_MARKER = re.compile(rb"\xff+([^\x00\xff])")
_DEFAULTS = (72, 96)


@dataclass(frozen=True)
class JpegHead:
    """What a JPEG file says of itself before its first scan line."""

    width: int
    height: int
    channels: int
    ppi: tuple[float, float] | None
    orientation: int
    profile: bytes | None = field(repr=False)
    adobe: bool


def jpeg_header(data: bytes, *, whole: bool = True) -> JpegHead:
    """Read the segments before the picture; ``whole`` also wants it to run to its end marker."""
    if data[:2] != b"\xff\xd8":
        raise Refused(BROKEN)
    frame: tuple[int, bytes] | None = None
    parts: list[bytes] = []
    for marker, body, after in _segments(data):
        if marker in _FRAMES and frame is None:
            frame = marker, body
        elif marker == _SOS:
            # Coded pixels never hold these two bytes: where they come, the picture was whole.
            if whole and data.find(_END, after) < 0:
                raise Refused(ENDS_EARLY)
            break
        elif 0xE0 <= marker <= 0xEF:
            parts.append(body)
    if frame is None:
        raise Refused(ENDS_EARLY)
    width, height, channels = _frame(*frame)
    ppi, orientation = exif_facts(next((p for p in parts if p.startswith(_EXIF)), b""))
    dense = [_jfif_ppi(part) for part in parts if part.startswith(_JFIF)]
    adobe = any(part.startswith(_ADOBE) for part in parts)
    return JpegHead(
        width, height, channels, _likeliest([*dense, ppi]), orientation, _profile(parts), adobe
    )


def open_jpeg(source: Source, limits: Limits) -> Raster:
    """The page of a JPEG file; its pixels are decoded when they are first asked for."""
    head = jpeg_header(read_at(source, 0, source.size))
    limits.check(head.width, head.height)

    def decode() -> Plane:
        data = read_at(source, 0, source.size)
        with decoding():
            plane: Plane = imagecodecs.jpeg8_decode(data)
        if plane.size != head.height * head.width * head.channels:
            raise Refused(BROKEN)
        return plane.reshape(head.height, head.width, head.channels)

    # By custom, not by standard, a CMYK JPEG with an Adobe segment holds 255 minus the ink.
    look = Look(KINDS[head.channels], inverted=head.channels == 4 and head.adobe)
    return Raster(
        head.width, head.height, look, Held(decode).rows, f"{look}, JPEG",
        ppi=head.ppi, orientation=head.orientation, profile=head.profile,
    )  # fmt: skip


def _segments(data: bytes) -> Iterator[tuple[int, bytes, int]]:
    """Every segment as marker, body and the place after it; stops where the data do."""
    at = 2
    while found := _MARKER.search(data, at):
        marker, at = found[1][0], found.end()
        if marker == _EOI:
            return
        if marker in _ALONE:
            continue
        length = int.from_bytes(data[at:at + 2], "big")
        if length < 2 or at + length > len(data):
            raise Refused(ENDS_EARLY)
        yield marker, data[at + 2:at + length], at + length
        at += length


def _frame(marker: int, body: bytes) -> tuple[int, int, int]:
    if len(body) < 6:
        raise Refused(BROKEN)
    depth, height, width, channels = struct.unpack(">BHHB", body[:6])
    remedy = "save it as TIFF or PNG"
    if marker not in _SEQUENTIAL_OR_PROGRESSIVE:
        raise refuse("it is a JPEG of a rare kind (lossless or hierarchical)", remedy)
    if depth != 8:
        raise refuse(f"it is a JPEG of {depth} bits a channel, which is rare", remedy)
    if channels not in KINDS:
        raise refuse(f"it is a JPEG of {channels} channels", remedy)
    return width, height, channels


def _jfif_ppi(body: bytes) -> tuple[float, float] | None:
    if len(body) < 12:
        return None
    unit, across, down = struct.unpack(">BHH", body[7:12])
    inch = {1: 1.0, 2: 2.54}.get(unit)
    return None if inch is None else (across * inch, down * inch)


def _likeliest(stated: list[tuple[float, float] | None]) -> tuple[float, float] | None:
    """The first resolution that is not a default of cameras and screens, or else the first."""
    known = [ppi for ppi in stated if ppi is not None]
    measured = [ppi for ppi in known if ppi[0] not in _DEFAULTS]
    return next(iter(measured + known), None)


def _profile(parts: list[bytes]) -> bytes | None:
    """The profile put together from its numbered parts; empty, so unreadable, if one is missing."""
    head = len(_ICC)
    pieces = {p[head]: p for p in parts if p.startswith(_ICC) and len(p) > head + 2}
    if not pieces:
        return None
    count = next(iter(pieces.values()))[head + 1]
    if set(pieces) != set(range(1, count + 1)):
        return b""
    return b"".join(pieces[n][head + 2:] for n in sorted(pieces))
