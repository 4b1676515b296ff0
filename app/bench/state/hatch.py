"""What is hatched over the page, in pixels of the screen: masks of cells, and how they are drawn.

Each line of a hatch is a dark one beside a light one, so that it shows on any ground. What would
print leans to the right, dense where it surely will, wide where it may; what would be lost leans
to the left; insides of strokes that are not solid have a dotted outline, thin ones light dots.
"""

import math
from dataclasses import dataclass, field

import cv2
import numpy as np
import numpy.typing as npt

from app.bench.state.picture import Bytes
from app.bench.state.scale import Box

Argb = npt.NDArray[np.uint32]
"""0xAARRGGBB, (H, W); 0 where nothing is drawn."""

LIGHT = 0xFFFFFFFF
PRINTS = 0xFF96401F
LOST = 0xFF1F4A96
OPEN = 0xFF211D19

MAY, WILL = 1, 2
_DENSE, _WIDE = 6, 12  # screen pixels from line to line; the second is a multiple of the first
_PERIOD = 12
_BROAD = 9  # screen pixels: what is as broad has room for an outline
_SPARSE = 9  # of so many pixels of a thin stroke one is a light dot
_THREE = np.ones((3, 3), np.uint8)


@dataclass(frozen=True, eq=False)
class Cells:
    """Codes of cells (h, w) uint8, 0 is none, each cell so many pixels of the page a side."""

    codes: Bytes
    side: float
    _pooled: dict[int, Bytes] = field(default_factory=dict, repr=False)

    def on_screen(self, scale: float, seen: Box) -> Bytes:
        """The codes under the seen pixels of the screen; no cell is ever too small to be seen.

        ``scale`` is screen pixels per page pixel; where several cells fall on a pixel the
        highest code counts.

        >>> cells = Cells(np.array([[0, 1], [2, 0]], np.uint8), 4.0)
        >>> cells.on_screen(0.25, Box(0, 0, 2, 2)).tolist()
        [[0, 1], [2, 0]]
        >>> cells.on_screen(0.125, Box(0, 0, 1, 1)).tolist()
        [[2]]
        """
        size = self.side * scale
        many = 1 << max(math.ceil(math.log2(1 / size) - 1e-9), 0)
        codes = self._pool(many)
        rows, columns = (
            np.minimum((np.arange(first, end) + 0.5) // (size * many), most - 1).astype(np.intp)
            for first, end, most in ((seen.top, seen.bottom, codes.shape[0]),
                                     (seen.left, seen.right, codes.shape[1]))
        )
        return np.asarray(codes[rows][:, columns], np.uint8)

    def _pool(self, many: int) -> Bytes:
        """The highest code of each block of cells."""
        if many == 1:
            return self.codes
        if many not in self._pooled:
            height, width = self.codes.shape
            rows = np.maximum.reduceat(self.codes, np.arange(0, height, many), axis=0)
            self._pooled[many] = np.maximum.reduceat(rows, np.arange(0, width, many), axis=1)
        return self._pooled[many]

    def ready(self, scale: float) -> "Cells":
        """The same, with what takes longest about a scale done: not on the screen's thread."""
        self.on_screen(scale, Box(0, 0, 1, 1))
        return self


@dataclass(frozen=True, eq=False)
class Marks:
    """All that may be hatched on a page: what would print, what would be lost, open cores."""

    prints: Cells | None = None
    lost: Cells | None = None
    cores: Cells | None = None

    def draw(self, scale: float, seen: Box, fine: int = 1) -> Argb:
        """The hatches on the seen pixels; ``fine`` screen pixels are a line's breadth."""
        out = np.zeros((seen.height, seen.width), np.uint32)
        if self.cores is not None:
            _dotted(out, self.cores.on_screen(scale, seen) > 0, seen, fine)
        if self.lost is not None:
            lost = self.lost.on_screen(scale, seen) > 0
            _hatched(out, lost, _tile(LOST, _DENSE, fine, right=False), seen, LOST)
        if self.prints is None:
            return out
        prints = self.prints.on_screen(scale, seen)
        for code, period in ((MAY, _WIDE), (WILL, _DENSE)):
            _hatched(out, prints == code, _tile(PRINTS, period, fine, right=True), seen, PRINTS)
        return out


def _tile(colour: int, period: int, fine: int, *, right: bool) -> Argb:
    """A square of the hatch that tiles the page."""
    x, y = np.arange(_PERIOD)[None, :], np.arange(_PERIOD)[:, None]
    place = (x + y if right else x - y) % period
    tile = np.where(place == 0, np.uint32(colour), np.uint32(0))
    tile = np.where(place == 1, np.uint32(LIGHT), tile)
    if period == _DENSE:
        tile = np.where(place == period - 1, np.uint32(colour), tile)
    return _enlarged(tile, fine)


def _enlarged(tile: Argb, fine: int) -> Argb:
    return np.asarray(np.kron(tile, np.ones((fine, fine), np.uint32)), np.uint32)


def _laid(tile: Argb, seen: Box) -> Argb:
    """The tile over the seen pixels, anchored on the page so that it goes along with it."""
    side = len(tile)
    rolled = np.roll(tile, (-(seen.top % side), -(seen.left % side)), axis=(0, 1))
    down, across = -(-seen.height // side), -(-seen.width // side)
    return np.tile(rolled, (down, across))[: seen.height, : seen.width]


def _hatched(out: Argb, mask: npt.NDArray[np.bool_], tile: Argb, seen: Box, colour: int) -> None:
    """Hatch a mask, and outline it in dark and light, so that the smallest speck shows."""
    if not mask.any():
        return
    inner = mask.view(np.uint8)
    dark = cv2.dilate(inner, _THREE)
    light = cv2.dilate(dark, _THREE)
    np.copyto(out, np.uint32(LIGHT), where=(light != 0) & (out == 0))
    np.copyto(out, np.uint32(colour), where=dark != 0)
    np.copyto(out, _laid(tile, seen), where=mask)


def _dotted(out: Argb, mask: npt.NDArray[np.bool_], seen: Box, fine: int) -> None:
    """Outline a mask by dots that are dark and light in turn; what is thin has few and light ones.

    An outline on either side would leave nothing to be seen of a thin stroke.
    """
    if not mask.any():
        return
    inner = mask.view(np.uint8)
    wide = cv2.morphologyEx(inner, cv2.MORPH_OPEN, np.ones((_BROAD * fine,) * 2, np.uint8))
    edge = cv2.dilate(wide, _THREE) != wide
    np.copyto(out, _laid(_dots(fine), seen), where=edge)
    np.copyto(out, np.uint32(LIGHT), where=(inner > wide) & (_laid(_few(fine), seen) != 0))


def _dots(fine: int) -> Argb:
    """Dots that are dark and light in turn, as a square that tiles the page."""
    x, y = np.arange(4)[None, :], np.arange(4)[:, None]
    tile = np.where((x + y) // 2 % 2 == 0, np.uint32(OPEN), np.uint32(LIGHT))
    return _enlarged(tile, fine)


def _few(fine: int) -> Argb:
    """Light dots far apart, likewise."""
    x, y = np.arange(_SPARSE)[None, :], np.arange(_SPARSE)[:, None]
    tile = np.where((x + 2 * y) % _SPARSE == 0, np.uint32(LIGHT), np.uint32(0))
    return _enlarged(tile, fine)
