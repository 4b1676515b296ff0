"""The edges of a crop as they are dragged: which is taken hold of, and where it may go."""

from dataclasses import dataclass, replace
from typing import Literal

Edge = Literal["left", "top", "right", "bottom"]

Grip = tuple[Edge, ...]
"""One edge, or the two that meet in a corner."""

GRIPS: tuple[Grip, ...] = (
    ("top",), ("top", "right"), ("right",), ("right", "bottom"), ("bottom",), ("bottom", "left"),
    ("left",), ("left", "top"),
)
"""All that can be taken hold of, clockwise round the page."""

LEAST_KEPT = 5.0
"""Millimetres of the page that always stay."""

_OPPOSITE: dict[Edge, Edge] = {
    "left": "right", "right": "left", "top": "bottom", "bottom": "top",
}


@dataclass(frozen=True)
class Cut:
    """What is cut off at each edge of a page of ``width`` and ``height``; all in mm."""

    left: float
    top: float
    right: float
    bottom: float
    width: float
    height: float

    def where(self, edge: Edge) -> float:
        """How far from the left or from the top of the page the cut runs.

        >>> Cut(5, 0, 10, 0, 200, 300).where("right")
        190
        """
        length = self.width if edge in ("left", "right") else self.height
        off = self.off(edge)
        return off if edge in ("left", "top") else length - off

    def off(self, edge: Edge) -> float:
        """How much is cut off at the edge."""
        amount: float = getattr(self, edge)
        return amount

    def moved(self, grip: Grip, x: float, y: float) -> "Cut":
        """The edges of the grip taken to a place, to 0.1 mm; some of the page always stays.

        >>> Cut(5, 0, 10, 0, 200, 300).moved(("right", "bottom"), 150.04, 400).right
        50.0
        """
        cut = self
        for edge in grip:
            place = x if edge in ("left", "right") else y
            length = self.width if edge in ("left", "right") else self.height
            cut = cut.with_off(edge, place if edge in ("left", "top") else length - place)
        return cut

    def nudged(self, grip: Grip, right: float, down: float) -> "Cut":
        """The edges of the grip moved by so much."""
        cut = self
        for edge in grip:
            by = right if edge in ("left", "right") else down
            cut = cut.with_off(edge, self.off(edge) + (by if edge in ("left", "top") else -by))
        return cut

    def with_off(self, edge: Edge, amount: float) -> "Cut":
        """So much cut off at one edge, as far as it may be."""
        length = self.width if edge in ("left", "right") else self.height
        most = max(length - self.off(_OPPOSITE[edge]) - LEAST_KEPT, 0.0)
        held = round(min(max(amount, 0.0), most), 1) + 0.0
        return replace(self, **{edge: held})

    def grip_at(self, x: float, y: float, reach: float) -> Grip | None:
        """What lies at a place, at most ``reach`` off; corners before edges.

        >>> Cut(5, 5, 5, 5, 200, 300).grip_at(6, 150, 2)
        ('left',)
        """
        near: list[Edge] = []
        if self.top - reach <= y <= self.where("bottom") + reach:
            near += _nearest(x, (("left", self.left), ("right", self.where("right"))), reach)
        if self.left - reach <= x <= self.where("right") + reach:
            near += _nearest(y, (("top", self.top), ("bottom", self.where("bottom"))), reach)
        return tuple(near) or None


def _nearest(at: float, edges: tuple[tuple[Edge, float], ...], reach: float) -> list[Edge]:
    away, edge = min((abs(at - place), edge) for edge, place in edges)
    return [edge] if away <= reach else []
