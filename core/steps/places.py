"""Fields that hold places on a page: a point, and an outline of points, in mm."""

from dataclasses import dataclass
from typing import Any, ClassVar

from core.steps.fields import Json, Reader, Spec, declare, plain, shown

Place = tuple[float, float]
"""Millimetres from the left edge of the page and from its top."""

FARTHEST = 5000.0
"""Millimetres; no scanner takes a longer sheet."""

MOST_CORNERS = 2000


@dataclass(frozen=True)
class Point(Spec):
    """A place on the page; the scan's corner until one was chosen."""

    unchosen: ClassVar[Place] = (0.0, 0.0)

    def load(self, value: Json, place: str, reader: Reader) -> Place:
        """Two JSON numbers in an array."""
        made = _place(value)
        if made is None:
            reader.fault(
                place, f"{shown(value)} is not a place on a page",
                f"write [mm from the left, mm from the top], each 0 to {plain(FARTHEST)}",
            )
        return made or (0.0, 0.0)

    def dump(self, value: Any) -> Json:
        """Whole numbers without a point."""
        return _dumped(value)

    def words(self, value: Any) -> str:
        """How far from the left edge and from the top."""
        if tuple(value) == self.unchosen:
            return "a place not yet chosen"
        return f"{plain(value[0])} mm from the left and {plain(value[1])} mm from the top"

    def schema(self) -> dict[str, Json]:
        """An array of two numbers."""
        number = {"type": "number", "minimum": 0, "maximum": FARTHEST}
        return {"type": "array", "items": number, "minItems": 2, "maxItems": 2}


@dataclass(frozen=True)
class Polygon(Spec):
    """An outline: three corners or more; the last is joined to the first.

    ``undrawn`` is what it is before anybody drew it.
    """

    undrawn: tuple[Place, ...] = ()

    def load(self, value: Json, place: str, reader: Reader) -> tuple[Place, ...]:
        """Places in an array."""
        places = value if isinstance(value, list) else []
        if not 3 <= len(places) <= MOST_CORNERS:
            reader.fault(place, f"{shown(value)} is not an outline of 3 to {MOST_CORNERS} corners")
            return ()
        point = Point(self.label)
        return tuple(
            point.load(corner, f"{place}, corner {count}", reader)
            for count, corner in enumerate(places, start=1)
        )

    def dump(self, value: Any) -> Json:
        """An array of places."""
        return [_dumped(corner) for corner in value]

    def words(self, value: Any) -> str:
        """How many corners, and the box they lie in."""
        if value == self.undrawn and value:
            return "not yet drawn"
        if not value:
            return "no corners"
        left, top, right, bottom = (
            plain(round(side, 1))
            for side in (*map(min, zip(*value, strict=True)), *map(max, zip(*value, strict=True)))
        )
        return f"{len(value)} corners, {left} to {right} mm across and {top} to {bottom} mm down"

    def schema(self) -> dict[str, Json]:
        """An array of places."""
        return {
            "type": "array", "items": Point(self.label).schema(),
            "minItems": 3, "maxItems": MOST_CORNERS,
        }


def point(label: str, default: Place = (0.0, 0.0)) -> Any:
    """Declare a place on the page."""
    return declare(Point(label), default)


def polygon(label: str, default: tuple[Place, ...]) -> Any:
    """Declare an outline."""
    return declare(Polygon(label, default), default)


def _place(value: Json) -> Place | None:
    """The place that two numbers stand for; None where they do not."""
    if not isinstance(value, list) or len(value) != 2:
        return None
    fine = [
        isinstance(x, int | float) and not isinstance(x, bool) and 0 <= x <= FARTHEST
        for x in value
    ]
    return (float(value[0]) + 0.0, float(value[1]) + 0.0) if all(fine) else None


def _dumped(value: Place) -> list[Json]:
    return [int(x) if float(x).is_integer() else x for x in value]
