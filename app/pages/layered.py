"""The line in layers: *lines* above *paper*, with room for *colour* between them.

OpenRaster (freedesktop.org, 0.0.5): a zip whose first entry is ``mimetype``, stored; the
layers in ``stack.xml`` from the top; ``mergedimage.png`` and ``Thumbnails/thumbnail.png``.
"""

import shutil
from dataclasses import replace
from typing import IO
from zipfile import ZIP_STORED, ZipFile, ZipInfo

import numpy as np

from app.pages.picture import Frame, flat_picture, ink_picture
from app.pages.png import Packed, PngStream, save_png
from app.pages.scaled import Sums
from app.pages.web import SmallPage
from app.pages.whole import Part
from core.sheet import BLACK, Sheet

_THUMBNAIL = 256  # pixels at the long edge
_STACK = """<?xml version='1.0' encoding='UTF-8'?>
<image version="0.0.5" w="{width}" h="{height}" xres="{ppi}" yres="{ppi}">
 <stack>
  <layer name="lines" src="data/lines.png" x="0" y="0" opacity="1.0" visibility="visible"\
 composite-op="svg:src-over"/>
  <layer name="paper" src="data/paper.png" x="0" y="0" opacity="1.0" visibility="visible"\
 composite-op="svg:src-over"/>
 </stack>
</image>
"""


class OpenRaster:
    """One OpenRaster file in the making: its large pictures wait beside it until it is closed."""

    def __init__(self, part: Part, frame: Frame, text: str) -> None:
        self._file = part.open()
        self._frame = frame
        self._text = text
        self._spools = {"data/lines.png": part.spool(), "mergedimage.png": part.spool()}
        lines, merged = self._spools.values()
        self._lines = PngStream(lines, ink_picture(frame, "rgba"))
        self._merged = PngStream(merged, flat_picture(frame))
        self._small = SmallPage(frame, _thumbnail_size(frame))

    def pack(self, band: Sheet, top: int) -> tuple[Packed, Packed, tuple[Sums, int]]:
        """The band in each of the pictures: a pure function."""
        return (self._lines.pack(band, top), self._merged.pack(band, top),
                self._small.pack(band, top))

    def add(self, packed: tuple[Packed, Packed, tuple[Sums, int]]) -> None:
        """Take the next band."""
        self._lines.add(packed[0])
        self._merged.add(packed[1])
        self._small.add(packed[2])

    def close(self) -> None:
        """Put everything into the zip; its file stays open."""
        self._lines.close()
        self._merged.close()
        frame, small = self._frame, self._small.sheet()
        facts = {"width": frame.width, "height": frame.height, "ppi": round(frame.ppi)}
        with ZipFile(self._file, "w", ZIP_STORED) as archive:
            archive.writestr(_info("mimetype"), b"image/openraster")
            archive.writestr(_info("stack.xml"), _STACK.format(**facts).encode("ascii"))
            archive.writestr(_info("steplist.json"), self._text.encode("utf-8"))
            for name, spool in self._spools.items():
                spool.seek(0)
                with archive.open(_info(name), "w") as entry:
                    shutil.copyfileobj(spool, entry, 1 << 20)
            with archive.open(_info("data/paper.png"), "w") as entry:
                save_paper(entry, frame)
            with archive.open(_info("Thumbnails/thumbnail.png"), "w") as entry:
                save_png(entry, flat_picture(Frame.of(small.shape, small)), small)


class LayerFolder:
    """The same layers as PNG files of one size, numbered from the bottom."""

    def __init__(self, part: Part, frame: Frame, text: str) -> None:
        save_paper(part.open("01-paper.png"), frame)
        self._lines = PngStream(part.open("02-lines.png"), ink_picture(frame, "rgba"), text)
        self.pack = self._lines.pack
        self.add = self._lines.add
        self.close = self._lines.close


def save_paper(file: IO[bytes], frame: Frame) -> None:
    """A white PNG as large as the page; it packs to next to nothing."""
    shape = frame.height, frame.width
    bare = Sheet(ppi=frame.ppi, alpha=np.broadcast_to(np.uint8(0), shape))
    save_png(file, flat_picture(replace(frame, ink=BLACK)), bare)


def _thumbnail_size(frame: Frame) -> tuple[int, int]:
    long_edge = max(frame.height, frame.width, _THUMBNAIL)
    height, width = (max(s * _THUMBNAIL // long_edge, 1) for s in (frame.height, frame.width))
    return height, width


def _info(name: str) -> ZipInfo:
    """An entry of fixed date and origin, so that equal pages make equal files."""
    info = ZipInfo(name, (1980, 1, 1, 0, 0, 0))
    info.create_system = 3
    info.external_attr = 0o644 << 16
    return info
