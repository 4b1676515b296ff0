"""Work on page files that the bench does off the screen's thread: pure functions of requests."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from app.bench.state.job import Source
from app.bench.state.picture import Bytes
from app.pages.resolution import Ppi
from app.pages.scan import Scan
from app.replay.page import read_page
from core.fault import Refused, Watch, unwatched
from core.matte import to_depth
from core.sheet import Bands, Each, Sheet, spans, whole
from core.units import px_to_mm

THUMB = 112
"""Longest side of a thumbnail, in screen pixels at 100 %."""


@dataclass(frozen=True, eq=False)
class Loaded:
    """A scan in memory."""

    source: Source
    scan: Scan
    sheet: Sheet

    @property
    def facts(self) -> str:
        """Size, resolution and depth in one line."""
        height, width = self.sheet.shape
        ppi = self.scan.ppi
        across, down = px_to_mm(width, ppi), px_to_mm(height, ppi)
        return f"{across:.0f} x {down:.0f} mm at {ppi:.0f} ppi, {self.scan.stored}"


def load(source: Source, each: Each = map, watch: Watch = unwatched) -> Loaded:
    """Read a page whole; Refused where it cannot be read."""
    scan = read_page(source.at, source.reading)
    return Loaded(source, scan, whole(scan, each, watch))


@dataclass(frozen=True, eq=False)
class Thumbnail:
    """A small picture of a page, (H, W, 3) at 8 bits, and why the page itself cannot be read."""

    pixels: Bytes
    refused: Refused | None = None


def load_thumbnail(source: Source, longest: int, watch: Watch = unwatched) -> Thumbnail:
    """A small picture of a page, without holding the page in memory.

    It needs no resolution, so a page whose file does not say its own has one too, and the reason
    why it cannot be read as it is.
    """
    reading = replace(source.reading, given=source.reading.given or Ppi(300))
    scan = read_page(source.at, reading)
    refused = None
    try:
        read_page(source.at, source.reading)
    except Refused as lack:
        refused = lack
    return Thumbnail(reduce_page(scan, longest, watch), refused)


def reduce_page(page: Bands, longest: int, watch: Watch = unwatched) -> Bytes:
    """The page averaged down so that its longer side is ``longest``; band by band.

    >>> page = Sheet(ppi=300, grey=np.full((400, 200), 231, np.uint8))
    >>> reduce_page(page, 100).shape
    (100, 50, 3)
    """
    height, width = page.shape
    scale = min(longest / max(height, width), 1.0)
    wide = max(round(width * scale), 1)
    made = []
    rows = max(128, round(8 / scale))
    for top, bottom in spans(height, rows):
        band = page.rows(top, bottom)
        plane = band.colour if band.colour is not None else band.grey
        assert plane is not None
        tall = max(round(bottom * scale) - round(top * scale), 1)
        small = cv2.resize(to_depth(plane, 8), (wide, tall), interpolation=cv2.INTER_AREA)
        made.append(small if small.ndim == 3 else np.repeat(small[..., None], 3, axis=2))
        watch(bottom, height)
    return np.asarray(np.concatenate(made)[: max(round(height * scale), 1)], np.uint8)
