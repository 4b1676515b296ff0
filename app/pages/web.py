"""The small picture for a web page, and the thumbnail in a layered file."""

from dataclasses import replace
from typing import BinaryIO

import cv2
import numpy as np
from PIL import Image

from app.pages.picture import Frame, flat_picture, ink_picture, look_up
from app.pages.png import save_png
from app.pages.profiles import srgb_profile
from app.pages.refusing import refuse
from app.pages.renditions import Web
from app.pages.scaled import Cells, Gathering, Sums
from app.pages.tiff import escaped
from core.layers import flattened
from core.matte import to_depth
from core.sheet import Plane, Sheet

_WEBP_LARGEST = 16383  # pixels on a side, RFC 9649, 2.6
_JPEG_QUALITY = 90
_LOSSLESS_EFFORT = 50  # WebP's measure of how long to search; the pixels are the same
_JPEG_TEXT = 60_000  # bytes; a JPEG marker holds 65,533
_DESCRIPTION, _X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT = 270, 282, 283, 296
_PER_INCH = 2  # EXIF 2.3, 4.6.4


class SmallPage:
    """A page averaged down as it comes by, after toning: alpha as cover.

    Where pixels have their own colours, each counts as much as it covers; a cell that
    nothing covers keeps the colour of its first pixel.
    """

    def __init__(self, frame: Frame, size: tuple[int, int]) -> None:
        self._merges = frame.layered
        self._frame = replace(frame, ink=None, bits=8) if self._merges else frame
        self._cells = Cells((frame.height, frame.width), size)
        self._gathering = Gathering(self._cells)
        self._alpha: list[Plane] = []
        self._colour: list[Plane] = []

    def pack(self, band: Sheet, top: int) -> tuple[Sums, int]:
        """The band's share of the sums, and its height: a pure function."""
        band = flattened(band, look_up) if self._merges else band
        assert band.alpha is not None
        if self._frame.ink is not None:
            return self._cells.sums(band.alpha, top)[None], band.height
        assert band.colour is not None
        alpha, colour = to_depth(band.alpha, 8), to_depth(band.colour, 8)
        cover = self._cells.sums(alpha, top)
        inside, rows, columns = self._cells.corners(top, top + band.height)
        parts = [cover]
        for channel in cv2.split(colour):
            weighted = channel.astype(np.uint16) * alpha
            first = np.zeros_like(cover)
            first[inside] = channel[np.ix_(rows, columns)]
            parts += [self._cells.sums(weighted, top), first]
        return np.stack(parts), band.height

    def add(self, packed: tuple[Sums, int]) -> None:
        """Take the next band."""
        done = self._gathering.add(*packed)
        bits = self._frame.bits if self._frame.ink is not None else 8
        self._alpha.append(self._cells.mean(done[0], bits))
        if self._frame.ink is None:
            cover = done[0]
            mixed = (done[1::2] + cover // 2) // np.maximum(cover, 1)
            self._colour.append(np.where(cover > 0, mixed, done[2::2]).astype(np.uint8))

    def sheet(self) -> Sheet:
        """The small page, complete."""
        ppi = self._frame.ppi * self._cells.small[1] / self._frame.width
        alpha = np.concatenate(self._alpha)
        if self._frame.ink is not None:
            return Sheet(ppi=ppi, alpha=alpha, ink=self._frame.ink)
        colour = np.moveaxis(np.concatenate(self._colour, axis=1), 0, -1)
        return Sheet(ppi=ppi, alpha=alpha, colour=np.ascontiguousarray(colour), ink=None)


class WebPicture:
    """The *web* rendition in the making."""

    def __init__(self, file: BinaryIO, frame: Frame, web: Web, text: str) -> None:
        size = web.size(frame.height, frame.width)
        if web.form == "webp" and max(size) > _WEBP_LARGEST:
            raise refuse(f"WebP holds {_WEBP_LARGEST} pixels on a side at most",
                         "ask for a smaller picture or choose PNG")
        if web.form == "jpeg" and web.steps and len(escaped(text)) > _JPEG_TEXT:
            raise refuse("the step list is too long for a JPEG", "choose WebP or PNG")
        self._file = file
        self._frame = frame
        self._web = web
        self._text = text if web.steps else ""
        self._small = SmallPage(frame, size)
        self.pack = self._small.pack
        self.add = self._small.add

    def close(self) -> None:
        """Lay the small page on its ground, or leave it see-through, and write it."""
        sheet = self._small.sheet()
        frame = replace(Frame.of(sheet.shape, sheet), bits=8)
        ground = self._web.ground
        picture = ink_picture(frame, "rgba") if ground is None else flat_picture(frame, ground)
        if self._web.form == "png":
            save_png(self._file, picture, sheet, self._text)
            return
        image = Image.fromarray(cv2.merge(picture.planes(sheet)))
        facts = {"exif": _exif(sheet.ppi, self._text), "icc_profile": srgb_profile()}
        quality = self._web.quality
        if self._web.form == "jpeg":
            image.save(self._file, "JPEG", quality=quality or _JPEG_QUALITY, subsampling=0,
                       optimize=True, dpi=(sheet.ppi, sheet.ppi), **facts)
        else:
            image.save(self._file, "WEBP", lossless=quality is None, exact=True,
                       quality=quality or _LOSSLESS_EFFORT, **facts)


def _exif(ppi: float, text: str) -> bytes:
    exif = Image.Exif()
    if text:
        exif[_DESCRIPTION] = escaped(text).decode("ascii")
    exif[_X_RESOLUTION] = exif[_Y_RESOLUTION] = ppi
    exif[_RESOLUTION_UNIT] = _PER_INCH
    return exif.tobytes()
