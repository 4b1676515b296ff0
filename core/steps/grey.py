"""How red, green and blue make grey, and a pencil colour that drops out."""

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np
import numpy.typing as npt

from core.light import rgb_to_grey
from core.sheet import Paper, Plane, Rgb, Sheet, full_scale
from core.steps.fields import Record, colour, either, number
from core.steps.step import Step

_STRIP_ROWS = 16  # the float planes of a strip stay in cache
_TAPER = 0.5  # of the reach: how far beyond it the drop-out fades to nothing


@dataclass(frozen=True, kw_only=True)
class Nothing(Record):
    """No colour drops out."""

    words: ClassVar[str] = "no colour drops out"


@dataclass(frozen=True, kw_only=True)
class Pencil(Record):
    """A pencil colour vanishes: every hue within ``reach`` of its own.

    The default is the pale blue that printers' cameras did not see.
    """

    words: ClassVar[str] = "pencil of the colour {colour} drops out, hues {reach} either way"

    colour: Rgb = colour("pencil colour", (164, 221, 237))
    reach: float = number("reach", "degrees", 5, 90, 35)

    def faults(self) -> tuple[str, ...]:
        """A grey pencil has no hue."""
        spread = max(self.colour) - min(self.colour)
        return () if spread >= 16 else ("the pencil's colour is too near to grey to have a hue",)


@dataclass(frozen=True, kw_only=True)
class Grey(Step):
    """Make grey out of colour; the colour plane is kept. A grey scan is left as it is."""

    kind: ClassVar[str] = "grey"
    edition: ClassVar[int] = 1
    words: ClassVar[str] = (
        "Make grey of {red} red, {green} green and {blue} blue; {drop}."
    )

    red: float = number("red", "%", 0, 100, 29.9)
    green: float = number("green", "%", 0, 100, 58.7)
    blue: float = number("blue", "%", 0, 100, 11.4)
    drop: Nothing | Pencil = either("drop-out", Nothing, Pencil)

    def faults(self) -> tuple[str, ...]:
        """The shares add up."""
        total = self.red + self.green + self.blue
        return () if abs(total - 100) < 0.05 else ("red, green and blue do not add up to 100 %",)

    def weights(self) -> tuple[int, int, int]:
        """The shares in 65,536ths that add up exactly."""
        total = self.red + self.green + self.blue
        red, blue = (round(share / total * 65536) for share in (self.red, self.blue))
        return red, 65536 - red - blue, blue

    def after(self, paper: Paper) -> Paper | None:  # noqa: ARG002 - another grey, another peak
        """The new grey has a paper peak of its own."""
        return None

    def apply(self, sheet: Sheet) -> Sheet:
        """The sheet with its grey made anew.

        >>> red = Sheet(ppi=300, colour=np.full((1, 1, 3), (200, 10, 10), np.uint8))
        >>> int(Grey(red=100, green=0, blue=0).apply(red).grey[0, 0])
        200
        """
        if sheet.colour is None or sheet.alpha is not None:
            return sheet
        grey = np.empty(sheet.shape, sheet.colour.dtype)
        for top in range(0, sheet.height, _STRIP_ROWS):
            strip = sheet.colour[top : top + _STRIP_ROWS]
            mixed = rgb_to_grey(strip, self.weights())
            if isinstance(self.drop, Pencil):
                mixed = drop_out(strip, mixed, self.drop.colour, self.drop.reach)
            grey[top : top + _STRIP_ROWS] = mixed
        return replace(sheet, grey=grey)


def drop_out(scan: Plane, grey: Plane, pencil: Rgb, reach: float) -> Plane:
    """The grey with a pencil colour taken out of it; (H, W, 3) and (H, W) of one dtype.

    Where the hue lies within ``reach`` degrees of the pencil's, the pixel's lightest
    channel, in which the pencil shows least, stands for it, raised by what the pencil
    still takes from that channel in proportion to the colour left in the pixel. Beneath
    black ink there is no colour left, so ink that crosses the pencil is not broken, and
    its soft edge keeps the cover that it would have had on bare paper.

    >>> blue = np.array([[[164, 221, 237]]], np.uint8)
    >>> int(drop_out(blue, np.array([[206]], np.uint8), (164, 221, 237), 35)[0, 0])
    255
    """
    full = full_scale(scan)
    light = scan.max(axis=2).astype(np.float64)
    chroma = light - scan.min(axis=2)
    taken = (255 - max(pencil)) / (max(pencil) - min(pencil))
    away = np.abs((hue_of(scan) - hue_of(np.array([[pencil]], np.uint8)) + 180) % 360 - 180)
    share = np.clip((reach * (1 + _TAPER) - away) / (reach * _TAPER), 0, 1)
    raised = np.minimum(light + taken * chroma, full)
    mixed: npt.NDArray[np.float64] = grey + share * (raised - grey)
    return np.floor(mixed + 0.5).astype(scan.dtype)


def hue_of(scan: Plane) -> npt.NDArray[np.float64]:
    """Hue in degrees, 0 red, 120 green, 240 blue; 0 where there is no colour. (H, W, 3) to (H, W).

    The hexagon of A. R. Smith, "Color gamut transform pairs", SIGGRAPH 1978, pp. 12-19 (the
    reference from memory); checked against the standard library's colorsys.

    >>> float(hue_of(np.array([[[0, 255, 255]]], np.uint8))[0, 0])
    180.0
    """
    red, green, blue = (scan[..., channel].astype(np.float64) for channel in range(3))
    light = np.maximum(np.maximum(red, green), blue)
    chroma = light - np.minimum(np.minimum(red, green), blue)
    safe = np.where(chroma == 0, 1, chroma)
    sixths = np.where(
        light == red, (green - blue) / safe,
        np.where(light == green, 2 + (blue - red) / safe, 4 + (red - green) / safe),
    )
    return np.where(chroma == 0, 0, sixths * 60 % 360)
