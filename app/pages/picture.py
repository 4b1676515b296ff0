"""What a file shows: bands of a page as interleaved samples, whatever the file's format."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import cv2
import numpy as np

from app.pages.deflate import Bytes
from app.pages.refusing import refuse
from core.layers import composite
from core.light import rgb_to_grey
from core.matte import to_depth
from core.sheet import Overlay, Plane, Rgb, Sheet, spans

_STRIP_BYTES = 1 << 20  # strips of samples this large stay in a core's cache while they are packed

Planes = Callable[[Sheet], Sequence[Plane]]
"""The planes of a picture, (H, W) or (H, W, 3), in sample order, for some rows of the page."""


@dataclass(frozen=True)
class Frame:
    """What writers must know of a page before its first band: read off that band.

    ``height`` and ``width`` in pixels, ``bits`` 8 or 16, ``ppi``; ``ink`` None where each
    pixel keeps its own colour. ``palette`` is that of its flats, empty where it has none; ``held``
    says that some of its ink took a colour by hand.
    """

    height: int
    width: int
    bits: int
    ppi: float
    ink: Rgb | None
    palette: tuple[Rgb, ...] = ()
    held: bool = False
    overlay: Overlay = Overlay()

    @property
    def layered(self) -> bool:
        """Whether what it shows is more than ink on paper."""
        return bool(self.palette) or self.overlay.lines < 1

    @classmethod
    def of(cls, shape: tuple[int, int], band: Sheet) -> "Frame":
        """The frame of a page of this shape, one band of which is ``band``.

        >>> Frame.of((900, 4), Sheet(ppi=300, alpha=np.zeros((1, 4), np.uint16))).bits
        16
        """
        if band.alpha is None:
            raise ValueError("only a page whose darkness was lifted can be written")
        palette = band.palette if band.flats is not None else ()
        return cls(*shape, band.alpha.dtype.itemsize * 8, band.ppi, band.ink, palette,
                   band.held is not None, band.overlay)


@dataclass(frozen=True)
class Picture:
    """An image to be written: its size, depth and samples, and where these come from.

    ``channels`` is 1 (grey, or indices where ``palette`` or ``colours`` is set), 2 (grey,
    alpha), 3 (RGB) or 4 (RGB, alpha, or the four ``inks``). ``palette`` is one ink of 256
    alphas, ``colours`` opaque colours, at most 256. ``own`` says that pixels keep their own
    colours, so that alpha alone does not tell what is shown; ``busy`` that neighbouring bytes
    of a clear row differ, so that differences of pixels pack better than the pixels do.
    """

    height: int
    width: int
    bits: int
    ppi: float
    channels: int
    planes: Planes
    own: bool = False
    busy: bool = False
    palette: Rgb | None = None
    colours: tuple[Rgb, ...] = ()
    inks: bool = False

    @property
    def pixel_bytes(self) -> int:
        """Bytes of one pixel."""
        return self.channels * self.bits // 8

    def rows(self, band: Sheet, *, lead: int, big_endian: bool) -> Iterator[Bytes]:
        """The band's rows as bytes, some at a time: (rows, lead + width * pixel bytes).

        The ``lead`` bytes before each row are zero. What is yielded is overwritten by the
        next: use it at once.
        """
        row_bytes = self.width * self.pixel_bytes
        step = min(max(_STRIP_BYTES // row_bytes, 1), band.height)
        raw = np.zeros((step, lead + row_bytes), np.uint8)
        for top, bottom in spans(band.height, step):
            rows = raw[: bottom - top]
            self._lay(self.planes(band.rows(top, bottom)), rows[:, lead:], big_endian)
            yield rows

    def _lay(self, planes: Sequence[Plane], rows: Bytes, big_endian: bool) -> None:
        shape = len(rows), self.width, self.channels
        if self.bits == 8 and self.channels > 1:
            cv2.merge(planes, rows.reshape(shape))  # a view: only the last axis is split
            return
        samples = planes[0] if self.channels == 1 else cv2.merge(planes)
        order = ">u2" if big_endian else "<u2"
        out = rows if self.bits == 8 else rows.view(order)
        out[...] = samples.reshape(len(rows), -1)


def differences(strips: Iterator[Bytes], *, lead: int, step: int, sample: str) -> Iterator[Bytes]:
    """Each sample less the one ``step`` samples to its left, modulo its range.

    ``sample`` is numpy's name of its type. The ``lead`` bytes before each row stay as they
    are. Like the rows of a picture, what is yielded is overwritten by the next.

    >>> rows = np.array([[0, 5, 9, 9]], np.uint8)
    >>> next(differences(iter([rows]), lead=1, step=1, sample="u1")).tolist()
    [[0, 5, 4, 0]]
    """
    out: Bytes | None = None
    for rows in strips:
        if out is None:
            out = np.zeros_like(rows)
        now, less = rows[:, lead:].view(sample), out[: len(rows), lead:].view(sample)
        less[:, :step] = now[:, :step]
        np.subtract(now[:, step:], now[:, :-step], out=less[:, step:])
        yield out[: len(rows)]


@lru_cache(maxsize=16)
def _flat(value: int, rows: int, width: int, bits: int) -> Plane:
    """A plane of one tone (0-255) at the wanted depth, made once for all strips."""
    plane: Plane = to_depth(np.full((rows, width), value, np.uint8), bits)
    plane.setflags(write=False)
    return plane


def ink_picture(frame: Frame, form: Literal["rgba", "grey-alpha", "indexed"],
                bits: int | None = None) -> Picture:
    """The line itself with straight alpha, at ``bits`` or as deep as the page.

    Raises ``Refused`` where the ink's colour or the depth does not fit the form.

    >>> frame = Frame(2, 2, 8, 300.0, (9, 9, 9))
    >>> ink_picture(frame, "grey-alpha").channels
    2
    """
    depth = bits or frame.bits
    _check(frame, form, depth)

    def alpha_of(strip: Sheet) -> Plane:
        assert strip.alpha is not None
        return to_depth(strip.alpha, depth)

    ink = frame.ink
    if ink is None:
        def own(strip: Sheet) -> Sequence[Plane]:
            assert strip.colour is not None
            return [to_depth(strip.colour, depth), alpha_of(strip)]

        return Picture(frame.height, frame.width, depth, frame.ppi, 4, own, own=True, busy=True)
    shown = {"rgba": ink, "grey-alpha": ink[:1], "indexed": ()}[form]

    def inked(strip: Sheet) -> Sequence[Plane]:
        return [*(_flat(v, *strip.shape, depth) for v in shown), alpha_of(strip)]

    return Picture(frame.height, frame.width, depth, frame.ppi, len(shown) + 1, inked,
                   busy=any(shown), palette=ink if form == "indexed" else None)


def _check(frame: Frame, form: str, depth: int) -> None:
    if form == "indexed" and frame.ink is None:
        raise refuse("the indexed form holds one ink colour, and this page keeps the scan's own "
                     "colours", "choose the RGBA form")
    if form == "indexed" and depth != 8:
        raise refuse("the indexed form holds 8 bits and this page has 16",
                     "ask for 8 bits or choose the RGBA form")
    if form == "grey-alpha" and (frame.ink is None or len(set(frame.ink)) > 1):
        raise refuse("grey with alpha cannot hold a coloured ink", "choose the RGBA form")


def flat_picture(frame: Frame, ground: Rgb | None = None, *, grey: bool = False) -> Picture:
    """The page laid on a ground, 8 bit: RGB, or its luma where ``grey`` is set.

    Flats lie between line and ground; without a ``ground`` it is the overlay's own paper.

    >>> frame = Frame(1, 1, 8, 300.0, (0, 0, 0))
    >>> sheet = Sheet(ppi=300, alpha=np.full((1, 1), 55, np.uint8))
    >>> int(flat_picture(frame, grey=True).planes(sheet)[0][0, 0])
    200
    """
    def flat(strip: Sheet) -> Sequence[Plane]:
        colours = composite(strip, ground, look_up)
        return [rgb_to_grey(np.dstack(colours))] if grey else colours

    ink = frame.ink
    if ink is None or frame.layered:
        return Picture(frame.height, frame.width, 8, frame.ppi, 1 if grey else 3, flat,
                       own=True)
    ramp = Sheet(ppi=1, alpha=np.arange(256, dtype=np.uint8)[None], ink=ink,
                 overlay=frame.overlay)
    tables = flat(ramp)

    def looked_up(strip: Sheet) -> Sequence[Plane]:
        assert strip.alpha is not None
        alpha = to_depth(strip.alpha, 8)
        return [look_up(alpha, table) for table in tables]

    return Picture(frame.height, frame.width, 8, frame.ppi, len(tables), looked_up)


def look_up(plane: Plane, table: Plane) -> Plane:
    """The table's value (uint8) at each index of a plane, fast.

    >>> look_up(np.array([[1, 0]], np.uint8), np.array([7, 9], np.uint8)).tolist()
    [[9, 7]]
    """
    if plane.dtype != np.uint8:
        return np.asarray(np.take(table, plane))
    if table.size < 256:
        table = np.pad(table, (0, 256 - table.size))
    out: Plane = np.empty(plane.shape, np.uint8)
    cv2.LUT(plane, table, out)
    return out
