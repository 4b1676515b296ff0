"""PNG scans: Portable Network Graphics, third edition."""

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

import imagecodecs
import numpy as np

from app.pages.limits import Limits
from app.pages.raster import CHANNELS, Held, Kind, Look, Raster, spoken
from app.pages.refusing import BROKEN, ENDS_EARLY, decoding
from app.pages.source import Source, read_at
from app.pages.tags import exif_facts
from core.fault import Refused
from core.sheet import Plane
from core.units import METRES_PER_INCH

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_PIXEL_CHUNKS = frozenset({b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"})


@dataclass(frozen=True)
class _Form:
    name: str
    kind: Kind
    alpha: bool
    depths: tuple[int, ...]


_FORMS = {
    0: _Form("grey", "grey", alpha=False, depths=(1, 2, 4, 8, 16)),
    2: _Form("RGB", "rgb", alpha=False, depths=(8, 16)),
    3: _Form("palette", "rgb", alpha=False, depths=(1, 2, 4, 8)),
    4: _Form("grey", "grey", alpha=True, depths=(8, 16)),
    6: _Form("RGB", "rgb", alpha=True, depths=(8, 16)),
}
"""The colour types: PNG, third edition, table 11."""


def open_png(source: Source, limits: Limits) -> Raster:
    """The page of a PNG file; its pixels are decoded when they are first asked for."""
    chunks: dict[bytes, bytes] = {}
    for name, whole in _chunks(read_at(source, 0, source.size)):
        if name != b"IDAT":
            chunks.setdefault(name, bytes(whole[8:-4]))
    width, height, depth, form = _header(chunks.get(b"IHDR", b""))
    limits.check(width, height)
    alpha = form.alpha or b"tRNS" in chunks
    kind: Kind = "grey" if _all_grey(chunks.get(b"PLTE"), form) else form.kind
    count = CHANNELS[kind]
    look = Look(kind, 16 if depth == 16 else 8, alpha=count if alpha else None)

    def decode() -> Plane:
        plane = _decoded(read_at(source, 0, source.size), height, width)
        if kind != form.kind:  # the decoder made RGB of a palette of greys
            plane = np.delete(plane, (1, 2), axis=2)
        if plane.shape[2] != count + alpha or plane.dtype.itemsize * 8 != look.bits:
            raise Refused(BROKEN)
        return plane

    ppi, orientation = exif_facts(chunks.get(b"eXIf", b""))
    return Raster(
        width, height, look, Held(decode).rows, f"{spoken(form.name, depth, alpha=alpha)}, PNG",
        ppi=_phys_ppi(chunks.get(b"pHYs", b"")) or ppi, orientation=orientation,
        profile=_profile(chunks.get(b"iCCP"), limits), notes=_gamma_note(chunks),
    )  # fmt: skip


def _chunks(data: bytes) -> Iterator[tuple[bytes, memoryview]]:
    """Every chunk, by name, with its length, name and checksum; refuses a file without its end."""
    if not data.startswith(_SIGNATURE):
        raise Refused(BROKEN)
    view, at, name = memoryview(data), len(_SIGNATURE), b""
    while name != b"IEND":
        if at + 12 > len(data):
            raise Refused(ENDS_EARLY)
        end = at + 12 + int.from_bytes(data[at:at + 4], "big")
        name = data[at + 4:at + 8]
        if end > len(data):
            raise Refused(ENDS_EARLY)
        yield name, view[at:end]
        at = end


def _header(body: bytes) -> tuple[int, int, int, _Form]:
    if len(body) != 13:
        raise Refused(BROKEN)
    width, height, depth, code, compression, filters, interlace = struct.unpack(">IIBBBBB", body)
    form = _FORMS.get(code)
    if form is None or depth not in form.depths or compression or filters or interlace > 1:
        raise Refused(BROKEN)
    return width, height, depth, form


def _decoded(data: bytes, height: int, width: int) -> Plane:
    """The pixels, depth 8 or 16; the decoder never sees a chunk that is not about them."""
    chunks = [chunk for name, chunk in _chunks(data) if name in _PIXEL_CHUNKS]
    if any(zlib.crc32(c[4:-4]) != int.from_bytes(c[-4:], "big") for c in chunks):
        raise Refused(BROKEN)  # the decoder would let some of them pass
    pixels = b"".join([_SIGNATURE, *chunks])
    with decoding():
        plane: Plane = imagecodecs.png_decode(pixels)
    if plane.shape[:2] != (height, width):
        raise Refused(BROKEN)
    return plane.reshape(height, width, -1)


def _all_grey(palette: bytes | None, form: _Form) -> bool:
    if form.name != "palette" or palette is None:
        return False
    return palette[0::3] == palette[1::3] == palette[2::3]


def _gamma_note(chunks: dict[bytes, bytes]) -> tuple[str, ...]:
    """A stated gamma is not applied: it is often wrong. One far from that of sRGB is told of."""
    stated = int.from_bytes(chunks.get(b"gAMA", b""), "big") / 100_000
    if not stated or b"iCCP" in chunks or b"sRGB" in chunks or 0.43 < stated < 0.48:
        return ()
    return (f"It states a gamma of {stated:g}, which was not applied: its numbers count as sRGB.",)


def _phys_ppi(body: bytes) -> tuple[float, float] | None:
    if len(body) != 9:
        return None
    across, down, unit = struct.unpack(">IIB", body)
    return (across * METRES_PER_INCH, down * METRES_PER_INCH) if unit == 1 else None


def _profile(body: bytes | None, limits: Limits) -> bytes | None:
    """The unpacked profile; empty, so unreadable, where it does not unpack within the limit."""
    if body is None:
        return None
    packed = body.partition(b"\0")[2][1:]
    inflate = zlib.decompressobj()
    try:
        profile = inflate.decompress(packed, limits.profile_bytes)
    except zlib.error:
        return b""
    return profile if inflate.eof else b""
