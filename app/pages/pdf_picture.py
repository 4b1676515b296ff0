"""The image of a PDF page, taken out of its stream: ISO 32000-1, 8.9.5."""

import struct
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import imagecodecs
import numpy as np

from app.pages.jpeg_in import open_jpeg
from app.pages.limits import Limits
from app.pages.pdf_colours import Space, space_of
from app.pages.pdf_filters import filters_of, undo_png_filters, unpack
from app.pages.raster import CHANNELS, Held, Kind, Look, Raster
from app.pages.refusing import BROKEN, ENDS_EARLY, decoding, refuse
from app.pages.source import FetchedSource, HeldSource
from app.pages.strips import CCITT_RLE, CCITT_T4, CCITT_T6, RAW, Chunks, Layout
from core.fault import Refused
from core.sheet import Plane

_SPARE = 1 << 20
_REMEDY = "save it as TIFF or PNG"
_NAMES = {
    "/FlateDecode": "deflate", "/LZWDecode": "LZW", "/RunLengthDecode": "PackBits",
    "/CCITTFaxDecode": "CCITT", "/DCTDecode": "JPEG", "/JPXDecode": "JPEG 2000",
}  # fmt: skip
_KINDS: dict[int, Kind] = {1: "grey", 3: "rgb"}


@dataclass(frozen=True, eq=False)
class _Picture:
    """An image dictionary, understood. ``fetch`` gives the bytes of its last filter."""

    width: int
    height: int
    depth: int
    space: Space
    reversed: bool
    filter: str
    parameters: dict[str, int]
    fetch: Callable[[], bytes] = field(repr=False)

    @property
    def row_bytes(self) -> int:
        return -(-self.width * self.space.channels * self.depth // 8)

    @property
    def look(self) -> Look:
        """What the samples mean; a palette is filled up to what its indices can reach."""
        if self.space.palette is None:
            return Look(self.space.kind, self.depth, self.reversed)
        palette = np.zeros((1 << self.depth, 3), np.uint8)
        stored = self.space.palette[:1 << self.depth]
        palette[:len(stored)] = stored
        return Look.of_palette(palette[::-1] if self.reversed else palette, self.depth)


def picture_raster(image: Any, fetch: Callable[[], bytes], limits: Limits) -> Raster:
    """The image as a page, still unplaced; ``fetch`` gives its stream's raw bytes anew."""
    width, height = int(image["/Width"]), int(image["/Height"])
    limits.check(width, height)
    if "/SMask" in image or "/Mask" in image:
        raise refuse("its image has a mask, so it is not a plain scan", _REMEDY)
    picture = _understood(image, fetch, limits, (width, height))
    if picture.filter == "/DCTDecode":
        return _jpeg(picture, limits)
    if picture.filter == "/JPXDecode":
        return _jpeg2000(picture, limits)
    decode = _ccitt if picture.filter == "/CCITTFaxDecode" else _plain
    look = picture.look
    return Raster(
        width, height, look, Held(lambda: decode(picture)).rows,
        f"{look}, {_NAMES.get(picture.filter, 'uncompressed')}, PDF",
        profile=picture.space.profile,
    )  # fmt: skip


def _understood(
    image: Any, fetch: Callable[[], bytes], limits: Limits, size: tuple[int, int]
) -> _Picture:
    filters = filters_of(image)
    last, parameters = filters[-1] if filters else ("", {})
    if last == "/JBIG2Decode":
        raise refuse("its image is packed as JBIG2, which is not read", "scan it to TIFF or PNG")
    depth = 1 if image.get("/ImageMask", False) else int(image.get("/BitsPerComponent", 8))
    if depth not in (1, 2, 4, 8, 16):
        raise Refused(BROKEN)
    if "/ColorSpace" in image:
        space = space_of(image["/ColorSpace"], limits)
    elif last == "/JPXDecode":  # it may leave this to its codestream
        space = Space(_KINDS.get(_jpeg2000_header(fetch())[2], "rgb"))
    else:  # a stencil: 0 is painted, 1 is paper
        space = Space("grey")
    most = size[0] * size[1] * space.channels * 2 + _SPARE

    def packed() -> bytes:
        data = fetch()
        for name, outer in filters[:-1]:
            data = unpack(data, name, outer, most)
        return data

    decode = [float(value) for value in image.get("/Decode", [])]
    highest = 1 if space.palette is None else (1 << depth) - 1
    reverse = _reversed(decode, highest)
    return _Picture(*size, depth, space, reverse, last, parameters, packed)


def _reversed(decode: list[float], most: int) -> bool:
    """Whether the image's numbers run from ``most`` to 0; refuses any stretch of them."""
    pairs = set(zip(decode[::2], decode[1::2], strict=False))
    if not pairs <= {(0, most)} and pairs != {(most, 0)}:
        raise refuse("its image stretches its tones in a way that is not read", _REMEDY)
    return pairs == {(most, 0)}


def _jpeg(picture: _Picture, limits: Limits) -> Raster:
    data = picture.fetch()
    raster = open_jpeg(FetchedSource(len(data), picture.fetch), limits)
    if CHANNELS[raster.look.kind] != picture.space.channels or picture.space.palette is not None:
        raise Refused(BROKEN)
    look = replace(raster.look, inverted=picture.reversed)
    profile = picture.space.profile or raster.profile
    return replace(raster, look=look, profile=profile, stored=f"{look}, JPEG, PDF")


def _jpeg2000(picture: _Picture, limits: Limits) -> Raster:
    width, height, channels, depth = _jpeg2000_header(picture.fetch())
    limits.check(width, height)
    if depth > 16 or channels != picture.space.channels:
        raise refuse("its JPEG 2000 is of a rare kind", _REMEDY)
    look = replace(picture.look, depth=depth)

    def decode() -> Plane:
        with decoding():
            plane: Plane = imagecodecs.jpeg2k_decode(picture.fetch())
        if plane.size != width * height * channels or plane.dtype.itemsize * 8 != look.bits:
            raise Refused(BROKEN)
        return plane.reshape(height, width, channels)

    return Raster(
        width, height, look, Held(decode).rows, f"{look}, JPEG 2000, PDF",
        profile=picture.space.profile,
    )  # fmt: skip


def _jpeg2000_header(data: bytes) -> tuple[int, int, int, int]:
    """Width, height, channels and depth, by the start of the codestream: ISO 15444-1, A.5.1."""
    at = data.find(b"\xff\x4f\xff\x51")
    if at < 0 or len(data) < at + 43:
        raise Refused(ENDS_EARLY)
    right, foot, left, top = struct.unpack(">4I", data[at + 8:at + 24])
    return right - left, foot - top, data[at + 41], data[at + 42] + 1  # signed ones exceed 128


def _ccitt(picture: _Picture) -> Plane:
    """The fax bits; PDF has black as 0 unless BlackIs1, TIFF's decoder gives it as 1."""
    parameters = picture.parameters
    aligned, scheme = parameters.get("/EncodedByteAlign", 0), parameters.get("/K", 0)
    wide = parameters.get("/Columns", 1728)
    if (picture.depth, picture.space.channels, wide) != (1, 1, picture.width):
        raise Refused(BROKEN)
    if aligned and scheme:
        raise refuse("its fax data are packed in a rare way", _REMEDY)
    compression = CCITT_T6 if scheme < 0 else CCITT_RLE if aligned else CCITT_T4
    data = picture.fetch()
    layout = replace(_one_strip(picture, compression, len(data)), t4_options=int(scheme > 0))
    bits = _all_rows(layout, data)
    return bits if parameters.get("/BlackIs1", 0) else bits ^ np.uint8(1)


def _plain(picture: _Picture) -> Plane:
    predictor = picture.parameters.get("/Predictor", 1)
    data, row_bytes, height = picture.fetch(), picture.row_bytes, picture.height
    if picture.filter:
        need = (row_bytes + (predictor >= 10)) * height
        data = unpack(data, picture.filter, picture.parameters, need)
    if predictor >= 10:
        pixel_bytes = max(picture.space.channels * picture.depth // 8, 1)
        data = undo_png_filters(data, row_bytes, height, pixel_bytes)
    if len(data) < row_bytes * height:
        raise Refused(ENDS_EARLY)
    if predictor == 2 and picture.depth < 8:
        raise refuse("its samples are differenced in a rare way", _REMEDY)
    layout = replace(_one_strip(picture, RAW, len(data)), differenced=predictor == 2)
    return _all_rows(layout, data)


def _one_strip(picture: _Picture, compression: int, length: int) -> Layout:
    return Layout(
        picture.width, picture.height, picture.space.channels, picture.depth, compression,
        picture.width, picture.height, np.array([0]), np.array([length]), order=">",
    )  # fmt: skip


def _all_rows(layout: Layout, data: bytes) -> Plane:
    return Chunks(HeldSource(data), layout).rows(0, layout.height)
