"""A job's colours: named, in an order, and how much ink each would lay on a press."""

import colorsys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from core.sheet import Rgb


@dataclass(frozen=True)
class Named:
    """A colour and what the person calls it; the name may be empty."""

    colour: Rgb
    name: str = ""


@dataclass(frozen=True)
class Palette:
    """The colours of a job in the person's order.

    >>> Palette("coast", (Named((0, 0, 80), "sea"), Named((240, 220, 90), "sand"))).moved(1, 0)
    Palette(name='coast', colours=(Named(colour=(240, 220, 90), name='sand'), \
Named(colour=(0, 0, 80), name='sea')))
    """

    name: str = ""
    colours: tuple[Named, ...] = ()

    def moved(self, place: int, to: int) -> "Palette":
        """The same with the colour at one place (from 0) put at another."""
        rest = [*self.colours[:place], *self.colours[place + 1 :]]
        rest.insert(to, self.colours[place])
        return replace(self, colours=tuple(rest))

    def with_all(self, colours: Iterable[Rgb]) -> "Palette":
        """The same with those colours at its end that it did not have.

        >>> len(Palette().with_all([(1, 2, 3), (1, 2, 3)]).colours)
        1
        """
        known = dict.fromkeys(named.colour for named in self.colours)
        new = [colour for colour in dict.fromkeys(colours) if colour not in known]
        return replace(self, colours=(*self.colours, *(Named(colour) for colour in new)))


def rgb_to_cmyk(colour: npt.ArrayLike) -> npt.NDArray[np.uint8]:
    """Cyan, magenta, yellow and black, 255 full ink, (..., 4), of sRGB (..., 3) 0-255.

    The naive conversion of CSS Color Module Level 5, 10.3 (device-cmyk), backwards: black is
    what the lightest channel lacks, each ink what its channel lacks of the lightest. It knows
    nothing of a press: an estimate.

    >>> rgb_to_cmyk([(255, 0, 51), (0, 0, 0)]).tolist()
    [[0, 255, 204, 0], [0, 0, 0, 255]]
    """
    value = np.asarray(colour, np.int32)
    most = value.max(axis=-1, keepdims=True)
    inks = (510 * (most - value) + most) // np.maximum(2 * most, 1)
    return np.concatenate([inks, 255 - most], axis=-1).astype(np.uint8)


def ink_total(colour: Rgb) -> float:
    """The sum of the four inks in per cent, by ``rgb_to_cmyk``: an estimate.

    >>> ink_total((0, 0, 51))
    280.0
    """
    return round(int(rgb_to_cmyk(colour).sum()) / 2.55, 6)


def distinct_colours(count: int, taken: Iterable[Rgb] = ()) -> tuple[Rgb, ...]:
    """So many colours, no two alike and none of them ``taken``; neighbours differ widely.

    Hues go round by the golden ratio, in light and middle tones under which a line reads.

    >>> len(set(distinct_colours(5000)))
    5000
    """
    seen = set(taken)
    made: list[Rgb] = []
    for colour in _wheel():
        if len(made) == count:
            break
        if colour not in seen:
            seen.add(colour)
            made.append(colour)
    return tuple(made)


def _wheel() -> Iterator[Rgb]:
    golden = 0.6180339887498949
    place = 0
    while True:
        hue = place * golden % 1
        light = 0.62 + 0.26 * (place * 0.7548776662466927 % 1)  # of the plastic number
        rich = 0.45 + 0.4 * (place * 0.5698402909980532 % 1)
        red, green, blue = colorsys.hls_to_rgb(hue, light, rich)
        yield round(red * 255), round(green * 255), round(blue * 255)
        place += 1
