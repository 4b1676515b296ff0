"""The page in black and white pixels alone: 1-bit TIFF, T.6, from the full-resolution matte.

TIFF 6.0 (Aldus, 1992): section 11, T.6 (compression 4); bits of 1 are ink (WhiteIsZero).
"""

import struct
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from typing import BinaryIO

import cv2
import numpy as np
from PIL import Image

from app.pages.picture import Frame, flat_picture
from app.pages.pool import in_order
from app.pages.refusing import refuse
from app.pages.renditions import Bitmap
from app.pages.scaled import average
from app.pages.tiff import INCH, LONG, RATIONAL, SHORT, Field, directory, rational
from core.matte import to_depth
from core.press.screens import Bits, Cut, Diffusion
from core.sheet import Overlay, Plane, Sheet, spans
from core.units import mm_to_px

_T6 = 4
_STRIP_ROWS = 1024  # each strip stands alone, so that several are packed at once
_LONGEST, _MOST = 1 << 20, 1 << 32  # pixels on a side, and in all, of a page in print


class CoverPage:
    """A page's cover in black ink, 8 bit, gathered band by band.

    Ink of one colour prints as black of the same cover, and so does ink that was held in one;
    where pixels have the scan's own colours, the cover is their darkness on white. Flats are left
    out: black and white alone hold none.
    """

    def __init__(self, frame: Frame) -> None:
        bare = replace(frame, palette=(), overlay=Overlay())
        self._flat = flat_picture(bare, grey=True) if frame.ink is None else None
        self._bands: list[Plane] = []

    def pack(self, band: Sheet, top: int) -> Plane:  # noqa: ARG002 - bands are all alike
        """The cover of a band: a pure function."""
        assert band.alpha is not None
        alpha = to_depth(band.alpha, 8)
        if self._flat is None:
            return alpha
        bare = replace(band, flats=None, palette=(), overlay=Overlay())
        dark = np.invert(self._flat.planes(bare)[0])
        return dark if band.held is None else np.where(band.held > 0, alpha, dark)

    def add(self, packed: Plane) -> None:
        """Take the next band."""
        self._bands.append(packed)

    def plane(self) -> Plane:
        """The whole page, (H, W) uint8."""
        return np.concatenate(self._bands)


def said_of_flats(frame: Frame) -> str:
    """What a bitmap does with a page's flats: a sentence, or nothing where it has none.

    >>> said_of_flats(Frame(1, 1, 8, 300.0, (0, 0, 0), ((9, 8, 7),)))
    'The bitmap holds the line alone; the flats are left out of it.'
    """
    if not frame.palette:
        return ""
    return "The bitmap holds the line alone; the flats are left out of it."


def sheet_cover(page: Sheet) -> Plane:
    """The cover in black of a whole sheet, (H, W) uint8."""
    cover = CoverPage(Frame.of(page.shape, page))
    return cover.pack(page, 0)


def resized(alpha: Plane, height: int, width: int) -> Plane:
    """The plane at another size: exact area averages where smaller, else straight lines between.

    Raises ``Refused`` where it would be absurdly large.

    >>> resized(np.array([[0, 255]], np.uint8), 1, 4).tolist()
    [[0, 64, 191, 255]]
    """
    if (height, width) == alpha.shape:
        return alpha
    if height <= alpha.shape[0] and width <= alpha.shape[1]:
        return average(alpha, height, width)
    _check_size(height, width)
    larger = cv2.resize(alpha, (width, height), interpolation=cv2.INTER_LINEAR_EXACT)
    return np.asarray(larger, np.uint8)


def _check_size(height: int, width: int) -> None:
    if max(height, width) > _LONGEST or height * width > _MOST:
        raise refuse(f"it would have {width} x {height} pixels in print",
                     "ask for fewer ppi, or print it smaller")


def size_in_print(frame: Frame, bitmap: Bitmap) -> tuple[int, int]:
    """Height and width of the bitmap of a page, in pixels."""
    scale = 1.0
    if bitmap.width_mm is not None:
        scale = mm_to_px(bitmap.width_mm, frame.ppi) / frame.width
    height, width = (max(round(side * bitmap.ppi / frame.ppi * scale), 1)
                     for side in (frame.height, frame.width))
    return height, width


def cut_rows(alpha: Plane, cut: Cut, ppi: float) -> Callable[[tuple[int, int]], Bits]:
    """A function that gives any rows of the page (H, W) in black and white."""
    if isinstance(cut, Diffusion):
        whole = cut.cut(alpha, 0, ppi)
        return lambda span: whole[slice(*span)]
    return lambda span: cut.cut(alpha[slice(*span)], span[0], ppi)


def pack_t6(bits: Bits) -> bytes:
    """Rows of ink packed by ITU-T T.6, as one strip without further bytes.

    >>> pack_t6(np.zeros((2, 8), np.bool_)).hex()
    'c0040040'
    """
    height, width = bits.shape
    image = Image.frombytes("1", (width, height), np.packbits(bits, axis=1).tobytes())
    file = BytesIO()
    image.save(file, "TIFF", compression="group4", strip_size=height * (width // 8 + 1))
    return _only_strip(file.getvalue())


def _only_strip(data: bytes) -> bytes:
    """The packed bytes of a little-endian TIFF of one strip, as it was just written."""
    (at,) = struct.unpack_from("<I", data, 4)
    (count,) = struct.unpack_from("<H", data, at)
    entries = (struct.unpack_from("<HHII", data, at + 2 + 12 * n) for n in range(count))
    tags = {tag: (many, value) for tag, _, many, value in entries}
    (many, start), (_, size) = tags[273], tags[279]
    assert many == 1, "one strip was asked for"
    return data[start : start + size]


class BitmapTiff:
    """The *bitmap* rendition in the making; ``workers`` threads pack its strips."""

    def __init__(self, file: BinaryIO, frame: Frame, bitmap: Bitmap, workers: int) -> None:
        self._file, self._frame, self._bitmap, self._workers = file, frame, bitmap, workers
        self._size = size_in_print(frame, bitmap)
        _check_size(*self._size)
        self._page = CoverPage(frame)
        self.pack = self._page.pack
        self.add = self._page.add

    def close(self) -> None:
        """Resample, cut, pack and write; the file stays open."""
        bitmap = self._bitmap
        alpha = resized(self._page.plane(), *self._size)
        rows = cut_rows(alpha, bitmap.cut, bitmap.ppi)
        strips = spans(self._size[0], _STRIP_ROWS)
        packed = list(in_order(lambda span: pack_t6(rows(span)), strips, self._workers))
        write_t6(self._file, packed, self._size, bitmap.ppi, _STRIP_ROWS)


def write_t6(
    file: BinaryIO, strips: list[bytes], size: tuple[int, int], ppi: float, rows: int,
) -> None:
    """A TIFF of packed strips of ``rows`` rows; the file stays open."""
    height, width = size
    end = file.write(struct.pack("<2sHI", b"II", 42, 0))
    offsets = [int(n) for n in end + np.cumsum([0, *map(len, strips)])]
    file.writelines(strips)
    file.write(bytes(offsets[-1] % 2))
    start = offsets[-1] + offsets[-1] % 2
    resolution = rational(ppi)
    file.write(directory([
        Field(254, LONG, 0), Field(256, LONG, width), Field(257, LONG, height),
        Field(258, SHORT, 1), Field(259, SHORT, _T6), Field(262, SHORT, 0),
        Field(273, LONG, *offsets[:-1]), Field(277, SHORT, 1),
        Field(278, LONG, min(rows, height)), Field(279, LONG, *map(len, strips)),
        Field(282, RATIONAL, *resolution), Field(283, RATIONAL, *resolution),
        Field(284, SHORT, 1), Field(293, LONG, 0), Field(296, SHORT, INCH),
    ], start))
    file.seek(4)
    file.write(struct.pack("<I", start))
