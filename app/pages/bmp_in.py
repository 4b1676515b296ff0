"""BMP scans (common practice, there is no standard), row by row as they are due."""

import struct
from functools import partial

import numpy as np
import numpy.typing as npt

from app.pages.limits import Limits
from app.pages.raster import Look, Raster, RowsOf, spoken
from app.pages.refusing import BROKEN, ENDS_EARLY, refuse
from app.pages.source import Source, read_at
from app.pages.strips import RAW, Chunks, Layout
from core.fault import Refused
from core.sheet import Plane
from core.units import METRES_PER_INCH

_CORE, _INFO = 12, 40
_PLAIN, _MASKS = 0, 3
_BGR = struct.pack("<III", 0xFF0000, 0xFF00, 0xFF)
_ALPHA = struct.pack("<I", 0xFF000000)


def open_bmp(source: Source, limits: Limits) -> Raster:
    """The page of a BMP file of 1, 4, 8, 24 or 32 bits, not run-length coded."""
    head = read_at(source, 0, min(source.size, 14 + 124))
    if len(head) < 26:
        raise Refused(ENDS_EARLY)
    start, size = struct.unpack("<II", head[10:18])
    if len(head) < 14 + min(size, 56) or size not in (_CORE, *range(_INFO, 125)):
        raise Refused(BROKEN)
    if size == _CORE:
        width, height, _, bits = struct.unpack("<HHHH", head[18:26])
        ppi, used, coding = None, 0, _PLAIN
    else:
        width, height, _, bits, coding = struct.unpack("<iiHHI", head[18:34])
        across, down, used = struct.unpack("<iiI", head[38:50])
        ppi = (across * METRES_PER_INCH, down * METRES_PER_INCH)
    alpha = _has_alpha(head, coding, bits)
    limits.check(width, abs(height))
    palette = None
    if bits <= 8:
        palette = _palette(source, 14 + size, used or 1 << bits, 3 if size == _CORE else 4, bits)
    look = _look(bits, palette, alpha=alpha)
    samples = Chunks(source, _layout(source, start, width, height, bits)).rows
    name = "RGB" if palette is None else "palette"
    stored = f"{spoken(name, min(bits, 8), alpha=alpha)}, BMP"
    if palette is None:
        samples = partial(_turned_about, samples)
    return Raster(width, abs(height), look, samples, stored, ppi=ppi)


def _has_alpha(head: bytes, coding: int, bits: int) -> bool:
    """Whether the fourth byte is alpha; refuses what is coded in a way that is not read."""
    if coding == _PLAIN and bits in (1, 4, 8, 24, 32):
        return False
    if coding == _MASKS and bits == 32 and head[54:66] == _BGR:
        return head[66:70] == _ALPHA and int.from_bytes(head[14:18], "little") >= 56
    raise refuse("it is a BMP of a rare kind", "save it as PNG or TIFF")


def _palette(
    source: Source, start: int, used: int, entry: int, bits: int
) -> npt.NDArray[np.uint8]:
    used = min(used, 1 << bits)
    stored = np.frombuffer(read_at(source, start, used * entry), np.uint8).reshape(used, entry)
    palette = np.zeros((1 << bits, 3), np.uint8)
    palette[:used] = stored[:, 2::-1]
    return palette


def _look(bits: int, palette: npt.NDArray[np.uint8] | None, *, alpha: bool) -> Look:
    if palette is None:
        return Look("rgb", alpha=3 if alpha else None)
    return Look.of_palette(palette, bits)


def _layout(source: Source, start: int, width: int, height: int, bits: int) -> Layout:
    """Each row is a strip: rows are padded to four bytes, and the lowest comes first."""
    rows = abs(height)
    stride = (width * bits + 31) // 32 * 4
    if start + rows * stride > source.size:
        raise Refused(ENDS_EARLY)
    offsets = start + np.arange(rows, dtype=np.int64) * stride
    return Layout(
        width, rows, max(bits // 8, 1), min(bits, 8), RAW, width, 1,
        offsets if height < 0 else offsets[::-1], np.full(rows, stride, np.int64),
    )  # fmt: skip


def _turned_about(samples: RowsOf, top: int, bottom: int) -> Plane:
    """Blue, green, red made red, green, blue; the fourth byte stays where it is."""
    band = samples(top, bottom)
    return band[..., [2, 1, 0, *range(3, band.shape[2])]]
