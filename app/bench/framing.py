"""A frame to be made, and what of the last one can be used again."""

from dataclasses import dataclass, replace

from app.bench.state.layered import Layer, view_plain
from app.bench.state.picture import Ground, Pixels, Place
from app.bench.state.recolour import repainted_exactly, repainted_picture
from app.bench.state.scale import View
from app.bench.state.standing import Shown
from app.bench.state.tally import Tally
from app.bench.views.page import Frame
from core.sheet import Each, Sheet

SMALL = 0.02
"""Of a picture: so little of it is drawn exactly as fast as it is made of the last one."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """The before side as it was drawn last, to be used again while only the after side moves."""

    sheet: Sheet
    place: Place
    pixels: Pixels


@dataclass(frozen=True, eq=False)
class Wanted:
    """A frame to be made: of which sheets, where, and how."""

    plain: Sheet
    shown: Shown | None
    view: View
    ground: Ground
    layer: Layer
    clipping: bool

    @property
    def place(self) -> Place:
        """Which screen pixels it has, at which scale."""
        return Place(self.view.scale, self.view.seen)

    @property
    def quick(self) -> bool:
        """Whether it is a matter of one table."""
        return self.shown is None or self.shown.table(self.layer) is not None

    def same_as(self, other: "Wanted | None") -> bool:
        """Whether the other would be the same frame."""
        return other is not None and self.shown is other.shown and self.lies_as(other)

    def lies_as(self, other: "Wanted") -> bool:
        """Whether nothing differs but what is shown."""
        return self.plain is other.plain and (
            self.view, self.ground, self.layer, self.clipping) == (
            other.view, other.ground, other.layer, other.clipping)

    def recolours(self, other: "Wanted") -> bool:
        """Whether it may be the other frame in other colours alone."""
        plain = self.layer == "all" and not self.clipping
        return plain and self.shown is not other.shown and self.lies_as(other)

    def made(self, known: Drawn | None, tally: Tally | None, each: Each) -> tuple[Frame, Drawn]:
        """The frame, and its before side, which may be ``known``."""
        before = known or Drawn(self.plain, self.place, view_plain(self.plain, self.place, each))
        if self.shown is None:
            return Frame(self.view, before.pixels, None, exact=False), before
        after = self.shown.draw(self.ground, self.place, each, layer=self.layer,
                                clipping=self.clipping, tally=tally)
        return Frame(self.view, before.pixels, after, self.shown.exact), before


def recoloured(frame: Frame, old: Shown, new: Shown, wanted: Wanted, each: Each) -> Frame | None:
    """The last frame in other colours, within 1 of 255; None where it must be made anew."""
    after = None if frame.after is None else repainted_picture(
        frame.after, old, new, wanted.place, each)
    return None if after is None else replace(frame, after=after, exact=False)


def drawn_in_part(
    frame: Frame, old: Shown, new: Shown, wanted: Wanted, each: Each, *, most: float = 0.5,
) -> Frame | None:
    """The last frame drawn anew where it has other colours; None where that is more than ``most``.

    Exact as the last one was; None where that was not.
    """
    after = None if frame.after is None or not frame.exact else repainted_exactly(
        frame.after, old, new, wanted.ground, wanted.place, each, most=most)
    return None if after is None else replace(frame, after=after)
