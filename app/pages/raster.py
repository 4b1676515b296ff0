"""Stored samples, whatever the file, made into planes of full scale.

A format gives its samples by rows and says what they mean (``Look``); depth, palette,
min-is-white and alpha are dealt with here, once for all formats.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from threading import Lock
from typing import Literal

import numpy as np
import numpy.typing as npt

from core.matte import over
from core.sheet import Plane, full_scale

Kind = Literal["grey", "rgb", "cmyk"]

CHANNELS: dict[Kind, int] = {"grey": 1, "rgb": 3, "cmyk": 4}
KINDS: dict[int, Kind] = {count: kind for kind, count in CHANNELS.items()}

_SPOKEN: dict[Kind, str] = {"grey": "grey", "rgb": "RGB", "cmyk": "CMYK"}

RowsOf = Callable[[int, int], Plane]
"""``rows(top, bottom)``: any band of rows, from any thread."""


@dataclass(frozen=True, eq=False)
class Look:
    """What the stored samples of a page mean.

    ``depth`` is the bits of one sample, 1 to 16; ``inverted`` means that 0 is white (or,
    in CMYK, all ink); ``alpha`` is the channel that holds one, ``associated`` whether the
    colours are already multiplied by it. With a ``palette`` (2 ** depth, 1 or 3) of uint8,
    the first channel is an index into it.
    """

    kind: Kind
    depth: int = 8
    inverted: bool = False
    alpha: int | None = None
    associated: bool = False
    palette: npt.NDArray[np.uint8] | None = None

    @property
    def bits(self) -> Literal[8, 16]:
        """Bits of a sample once it is at full scale."""
        return 8 if self.depth <= 8 or self.palette is not None else 16

    def __str__(self) -> str:
        """The look in trade words.

        >>> print(Look("rgb", 16, alpha=3))
        RGB with alpha, 16 bit
        """
        name = _SPOKEN[self.kind] if self.palette is None else "palette"
        return spoken(name, self.depth, alpha=self.alpha is not None)

    @classmethod
    def of_palette(
        cls, palette: npt.NDArray[np.uint8], depth: int, alpha: int | None = None
    ) -> "Look":
        """Indices into ``palette`` (2 ** depth, 3); one of greys alone makes a grey page.

        >>> Look.of_palette(np.array([[0, 0, 0], [9, 9, 9]], np.uint8), 1).kind
        'grey'
        """
        if (palette == palette[:, :1]).all():
            return cls("grey", depth, alpha=alpha, palette=palette[:, :1])
        return cls("rgb", depth, alpha=alpha, palette=palette)


def spoken(name: str, depth: int, *, alpha: bool) -> str:
    """How a page is stored, in trade words.

    >>> spoken("palette", 4, alpha=False)
    'palette, 4 bit'
    """
    return f"{name}{' with alpha' if alpha else ''}, {depth} bit"


@dataclass(frozen=True, eq=False)
class Raster:
    """One page as its file stores it, before profile and orientation.

    ``samples(top, bottom)`` gives (rows, width, channels) of uint8 or uint16, unscaled.
    ``ppi`` is across and down as stored; ``orientation`` 1 to 8 as EXIF counts.
    """

    width: int
    height: int
    look: Look
    samples: RowsOf = field(repr=False)
    stored: str
    ppi: tuple[float, float] | None = None
    orientation: int = 1
    profile: bytes | None = field(default=None, repr=False)
    notes: tuple[str, ...] = ()

    def rows(self, top: int, bottom: int) -> Plane:
        """The band at full scale: (H, W) of grey, (H, W, 3) of RGB or (H, W, 4) of CMYK ink."""
        return to_full_scale(self.samples(top, bottom), self.look)


class Held:
    """A page that its format can only decode whole: decoded once, by whoever asks first."""

    def __init__(self, decode: Callable[[], Plane]) -> None:
        self._decode: Callable[[], Plane] | None = decode
        self._lock = Lock()
        self._plane: Plane | None = None

    def rows(self, top: int, bottom: int) -> Plane:
        """A view of the band; it cannot be written to, for all share it."""
        with self._lock:
            if self._decode is not None:
                plane = self._decode()
                plane.flags.writeable = False
                self._plane = plane
                self._decode = None  # and with it whatever it held
            assert self._plane is not None
            return self._plane[top:bottom]


def to_full_scale(samples: Plane, look: Look) -> Plane:
    """Stored samples (H, W, channels) as ``Raster.rows`` gives them, alpha laid on white.

    >>> two = np.array([[[0], [1], [2], [3]]], np.uint8)
    >>> to_full_scale(two, Look("grey", 2)).tolist()
    [[0, 85, 170, 255]]
    """
    count = CHANNELS[look.kind] if look.palette is None else 1
    alpha = None if look.alpha is None else _scaled(samples[..., look.alpha], look.depth)
    colours = samples if samples.shape[2] == count else samples[..., :count]
    if look.palette is not None:
        colours = look.palette[colours[..., 0]]
    else:
        colours = _scaled(colours, look.depth)
    if look.inverted:
        colours = ~colours
    if alpha is not None:
        colours = _on_white(colours, alpha, look)
    return colours[..., 0] if look.kind == "grey" else colours


@cache
def scale_table(depth: int) -> Plane:
    """Every sample of ``depth`` bits at full scale: PNG, third edition, section 12.4, linear.

    >>> scale_table(1).tolist(), int(scale_table(12)[4095])
    ([0, 255], 65535)
    """
    most, full = (1 << depth) - 1, 255 if depth <= 8 else 65535
    steps = np.arange(most + 1, dtype=np.int64)
    table = (steps * full * 2 + most) // (2 * most)
    return table.astype(np.uint8) if depth <= 8 else table.astype(np.uint16)


def _scaled(samples: Plane, depth: int) -> Plane:
    if depth in (8, 16):
        return samples
    return np.take(scale_table(depth), samples)


def _on_white(colours: Plane, alpha: Plane, look: Look) -> Plane:
    full = full_scale(colours)
    if alpha.min() == full:
        return colours
    ground = 0 if look.kind == "cmyk" else full  # white is the absence of ink
    cover = np.broadcast_to(alpha[..., None], colours.shape)
    if not look.associated:
        return over(colours, cover, ground)
    laid: Plane = np.minimum(colours, cover)
    if ground:
        laid += ~cover
    return laid
