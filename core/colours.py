"""A job's colours: named, in an order, and how much ink each would lay on a press."""

import colorsys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from core.fault import Fault, Refused
from core.sheet import Rgb

MOST_INK = 240.0
"""Per cent of ink that still dries on newsprint: ISO 12647-3:2013 (from memory).

What lays no more dries on better paper too; coated bears 300 and more (common practice, no
source). The printer's own figure goes before both. It lies within what ``rgb_to_cmyk`` reaches.
"""


@dataclass(frozen=True)
class Named:
    """A colour and what the person calls it; the name may be empty."""

    colour: Rgb
    name: str = ""

    def __post_init__(self) -> None:
        if not all(0 <= value <= 255 for value in self.colour):
            raise Refused(Fault("a colour is three numbers from 0 to 255", "palette",
                                "give it such numbers"))

    @property
    def said(self) -> str:
        """What to call it: its name, else black or white, else its digits.

        >>> Named((0, 0, 80)).said
        '#000050'
        """
        digits = rgb_to_hex(self.colour)
        return self.name or {"#000000": "black", "#ffffff": "white"}.get(digits, digits)


@dataclass(frozen=True)
class Palette:
    """The colours of a job in the person's order, and the most ink that one may lay, in per cent.

    >>> Palette("coast", (Named((0, 0, 80), "sea"), Named((240, 220, 90), "sand"))).moved(1, 0)
    Palette(name='coast', colours=(Named(colour=(240, 220, 90), name='sand'), \
Named(colour=(0, 0, 80), name='sea')), most_ink=240.0)
    """

    name: str = ""
    colours: tuple[Named, ...] = ()
    most_ink: float = MOST_INK

    def __post_init__(self) -> None:
        if not 0 <= self.most_ink <= 400:
            raise Refused(Fault("four inks lay from 0 to 400 per cent", "palette",
                                "give the limit that the printer names"))

    def moved(self, place: int, to: int) -> "Palette":
        """The same with the colour at one place (from 0) put at another."""
        rest = self.without(place)
        before, after = rest.colours[:to], rest.colours[to:]
        return replace(self, colours=(*before, self.colours[place], *after))

    def without(self, place: int) -> "Palette":
        """The same without the colour at a place."""
        return replace(self, colours=(*self.colours[:place], *self.colours[place + 1 :]))

    def put(self, place: int, named: Named) -> "Palette":
        """The same with another colour or name at a place.

        >>> Palette("", (Named((1, 2, 3)),)).put(0, Named((1, 2, 3), "night")).colours
        (Named(colour=(1, 2, 3), name='night'),)
        """
        return replace(
            self, colours=(*self.colours[:place], named, *self.colours[place + 1 :]))

    def with_all(self, colours: Iterable[Named]) -> "Palette":
        """The same with those colours at its end that it did not have.

        >>> len(Palette().with_all([Named((1, 2, 3)), Named((1, 2, 3), "again")]).colours)
        1
        """
        known = {named.colour for named in self.colours}
        fresh: dict[Rgb, Named] = {}
        for named in colours:
            fresh.setdefault(named.colour, named)
        new = [named for colour, named in fresh.items() if colour not in known]
        return replace(self, colours=(*self.colours, *new))

    def place_of(self, colour: Rgb) -> int | None:
        """The first place that holds the colour; None where none does.

        >>> Palette("", (Named((1, 2, 3)),)).place_of((1, 2, 3))
        0
        """
        found = (place for place, named in enumerate(self.colours) if named.colour == colour)
        return next(found, None)

    def said(self, colour: Rgb) -> str:
        """What this palette calls a colour."""
        place = self.place_of(colour)
        return Named(colour).said if place is None else self.colours[place].said


def rgb_to_hex(colour: Rgb) -> str:
    """The colour as ``#rrggbb``.

    >>> rgb_to_hex((0, 0, 80))
    '#000050'
    """
    return "#{:02x}{:02x}{:02x}".format(*colour)


def rgb_to_cmyk(colour: npt.ArrayLike) -> npt.NDArray[np.uint8]:
    """Cyan, magenta, yellow and black, 255 full ink, (..., 4), of sRGB (..., 3) 0-255.

    The naive conversion of CSS Color Module Level 5, 10.3 (device-cmyk), backwards: black is
    what the lightest channel lacks, each ink what its channel lacks of the lightest. It knows
    nothing of a press: an estimate. Black stands for as much of the other inks as it can, so the
    sum is the least in which a colour can be laid, under 300 % for any.

    >>> rgb_to_cmyk([(255, 0, 51), (0, 0, 0)]).tolist()
    [[0, 255, 204, 0], [0, 0, 0, 255]]
    """
    value = np.asarray(colour, np.int32)
    most = value.max(axis=-1, keepdims=True)
    inks = (510 * (most - value) + most) // np.maximum(2 * most, 1)
    return np.concatenate([inks, 255 - most], axis=-1).astype(np.uint8)


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
