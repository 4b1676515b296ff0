"""The page in layers: *lines* (and *holds*) above *colour* above *paper*, or as it is overlaid.

OpenRaster (freedesktop.org, 0.0.5): a zip whose first entry is ``mimetype``, stored; the
layers in ``stack.xml`` from the top; ``mergedimage.png`` and ``Thumbnails/thumbnail.png``.
"""

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import IO
from zipfile import ZIP_STORED, ZipFile, ZipInfo

from app.pages.coloured import bare, flats_picture, one_part
from app.pages.picture import Frame, Picture, flat_picture, ink_picture
from app.pages.png import Packed, PngStream, save_png
from app.pages.renditions import Layered
from app.pages.scaled import Sums
from app.pages.web import SmallPage
from app.pages.whole import Part
from core.sheet import Sheet

_THUMBNAIL = 256  # pixels at the long edge
_STACK = """<?xml version='1.0' encoding='UTF-8'?>
<image version="0.0.5" w="{width}" h="{height}" xres="{ppi}" yres="{ppi}">
 <stack>
{layers} </stack>
</image>
"""
_LAYER = """  <layer name="{name}" src="data/{name}.png" x="0" y="0" opacity="{opacity}"\
 visibility="visible" composite-op="svg:src-over"/>
"""


@dataclass(frozen=True)
class _Layer:
    """One layer: its name, its picture, its opacity, and what of a band it shows."""

    name: str
    picture: Picture
    opacity: float = 1.0
    part: Callable[[Sheet], Sheet] = lambda band: band


def _layers(frame: Frame, *, holds: bool) -> list[_Layer]:
    """The layers above the paper, from the top."""
    ink, share = ink_picture(frame, "rgba"), frame.overlay.lines
    lines = [_Layer("lines", ink, share)]
    if holds and frame.held:
        lines = [_Layer("holds", ink, share, partial(one_part, held=True)),
                 _Layer("lines", ink, share, partial(one_part, held=False))]
    if not frame.palette:
        return lines
    colour = _Layer("colour", flats_picture(frame), frame.overlay.colour)
    return [colour, *lines] if frame.overlay.colour_above else [*lines, colour]


class OpenRaster:
    """One OpenRaster file in the making: its large pictures wait beside it until it is closed."""

    def __init__(self, part: Part, frame: Frame, text: str, layered: Layered) -> None:
        self._file = part.open()
        self._frame = frame
        self._text = text
        self._layers = _layers(frame, holds=layered.holds)
        names = [f"data/{layer.name}.png" for layer in self._layers]
        self._spools = {name: part.spool() for name in (*names, "mergedimage.png")}
        *layers, merged = self._spools.values()
        self._streams = [
            PngStream(spool, layer.picture)
            for spool, layer in zip(layers, self._layers, strict=True)
        ]
        self._merged = PngStream(merged, flat_picture(frame))
        self._small = SmallPage(frame, _thumbnail_size(frame))

    def pack(self, band: Sheet, top: int) -> tuple[list[Packed], Packed, tuple[Sums, int]]:
        """The band in each of the pictures: a pure function."""
        layers = [
            stream.pack(layer.part(band), top)
            for stream, layer in zip(self._streams, self._layers, strict=True)
        ]
        return layers, self._merged.pack(band, top), self._small.pack(band, top)

    def add(self, packed: tuple[list[Packed], Packed, tuple[Sums, int]]) -> None:
        """Take the next band."""
        for stream, layer in zip(self._streams, packed[0], strict=True):
            stream.add(layer)
        self._merged.add(packed[1])
        self._small.add(packed[2])

    def close(self) -> None:
        """Put everything into the zip; its file stays open."""
        for stream in (*self._streams, self._merged):
            stream.close()
        small = self._small.sheet()
        with ZipFile(self._file, "w", ZIP_STORED) as archive:
            archive.writestr(_info("mimetype"), b"image/openraster")
            archive.writestr(_info("stack.xml"), self._stack().encode("ascii"))
            archive.writestr(_info("steplist.json"), self._text.encode("utf-8"))
            for name, spool in self._spools.items():
                info = _info(name)
                info.file_size = spool.tell()  # past 2 GiB an entry is of another form
                spool.seek(0)
                with archive.open(info, "w") as entry:
                    shutil.copyfileobj(spool, entry, 1 << 20)
            with archive.open(_info("data/paper.png"), "w") as entry:
                save_paper(entry, self._frame)
            with archive.open(_info("Thumbnails/thumbnail.png"), "w") as entry:
                ground = self._frame.overlay.paper
                save_png(entry, flat_picture(Frame.of(small.shape, small), ground), small)

    def _stack(self) -> str:
        frame = self._frame
        named = [(layer.name, layer.opacity) for layer in self._layers] + [("paper", 1.0)]
        layers = "".join(_LAYER.format(name=name, opacity=opacity) for name, opacity in named)
        return _STACK.format(
            width=frame.width, height=frame.height, ppi=round(frame.ppi), layers=layers,
        )


class LayerFolder:
    """The same layers as PNG files of one size, numbered from the bottom."""

    def __init__(self, part: Part, frame: Frame, text: str, layered: Layered) -> None:
        save_paper(part.open("01-paper.png"), frame)
        self._layers = _layers(frame, holds=layered.holds)[::-1]
        self._streams = [
            PngStream(part.open(f"{number:02}-{layer.name}.png"), layer.picture,
                      text if layer.name == "lines" else "")
            for number, layer in enumerate(self._layers, start=2)
        ]

    def pack(self, band: Sheet, top: int) -> list[Packed]:
        """The band in each of the layers: a pure function."""
        return [
            stream.pack(layer.part(band), top)
            for stream, layer in zip(self._streams, self._layers, strict=True)
        ]

    def add(self, packed: list[Packed]) -> None:
        """Take the next band."""
        for stream, layer in zip(self._streams, packed, strict=True):
            stream.add(layer)

    def close(self) -> None:
        """Write what ends each layer; the files stay open."""
        for stream in self._streams:
            stream.close()


def save_paper(file: IO[bytes], frame: Frame) -> None:
    """A PNG of the paper's colour as large as the page; it packs to next to nothing."""
    empty, sheet = bare(frame, frame.overlay.paper)
    save_png(file, flat_picture(empty), sheet)


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
