"""A frame to be made, and what of the last one can be used again."""

from dataclasses import dataclass

from app.bench.state.layered import Layer, view_plain
from app.bench.state.picture import Ground, Pixels, Place
from app.bench.state.scale import View
from app.bench.state.standing import Shown
from app.bench.state.tally import Tally
from app.bench.views.page import Frame
from core.sheet import Each, Sheet


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
