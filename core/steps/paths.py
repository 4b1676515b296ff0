"""Fields that hold several places: paths drawn over a page, and places that take a colour."""

from dataclasses import dataclass
from typing import Any

from core.sheet import Rgb
from core.steps.fields import Colour, Json, Reader, Spec, declare, shown
from core.steps.places import MOST_CORNERS, Place, Point

Path = tuple[Place, ...]
"""Places in the order in which a hand goes through them, in mm."""

Seed = tuple[Place, Rgb]
"""A place, and the colour that the area about it takes."""

MOST = 10_000


@dataclass(frozen=True)
class Paths(Spec):
    """Lines drawn over the page, each of ``least`` places or more."""

    least: int

    def load(self, value: Json, place: str, reader: Reader) -> tuple[Path, ...]:
        """Arrays of places in an array."""
        if not isinstance(value, list) or len(value) > MOST:
            reader.fault(place, f"{shown(value)} is not an array of at most {MOST} lines")
            return ()
        return tuple(
            self._line(line, f"{place}, line {count}", reader)
            for count, line in enumerate(value, start=1)
        )

    def _line(self, value: Json, place: str, reader: Reader) -> Path:
        if not isinstance(value, list) or not self.least <= len(value) <= MOST_CORNERS:
            reader.fault(place, f"a line has {self.least} to {MOST_CORNERS} places")
            return ()
        point = Point(self.label)
        return tuple(
            point.load(corner, f"{place}, place {count}", reader)
            for count, corner in enumerate(value, start=1)
        )

    def dump(self, value: Any) -> Json:
        """Arrays of places."""
        return [[Point(self.label).dump(place) for place in line] for line in value]

    def words(self, value: Any) -> str:
        """How many."""
        return _counted(len(value), self.label)

    def schema(self) -> dict[str, Json]:
        """An array of arrays of places."""
        line = {"type": "array", "items": Point(self.label).schema(), "minItems": self.least,
                "maxItems": MOST_CORNERS}
        return {"type": "array", "items": line, "maxItems": MOST}


@dataclass(frozen=True)
class Seeds(Spec):
    """Places on the page, each with the colour of the area that it lies in."""

    def load(self, value: Json, place: str, reader: Reader) -> tuple[Seed, ...]:
        """Objects of ``at`` and ``colour`` in an array."""
        if not isinstance(value, list) or len(value) > MOST:
            reader.fault(place, f"{shown(value)} is not an array of at most {MOST} places")
            return ()
        return tuple(
            self._seed(seed, f"{place}, place {count}", reader)
            for count, seed in enumerate(value, start=1)
        )

    def _seed(self, value: Json, place: str, reader: Reader) -> Seed:
        if not isinstance(value, dict) or value.keys() != {"at", "colour"}:
            reader.fault(place, f"{shown(value)} is not a place and its colour",
                         'write {"at": [mm, mm], "colour": "#rrggbb"}')
            return (0.0, 0.0), (0, 0, 0)
        at = Point(self.label).load(value["at"], f"{place}, at", reader)
        return at, Colour(self.label).load(value["colour"], f"{place}, colour", reader)

    def dump(self, value: Any) -> Json:
        """Objects of ``at`` and ``colour``."""
        return [{"at": Point(self.label).dump(at), "colour": Colour(self.label).dump(colour)}
                for at, colour in value]

    def words(self, value: Any) -> str:
        """How many."""
        return _counted(len(value), self.label)

    def schema(self) -> dict[str, Json]:
        """An array of objects."""
        members = {"at": Point(self.label).schema(), "colour": Colour(self.label).schema()}
        seed = {"type": "object", "properties": members, "required": ["at", "colour"],
                "additionalProperties": False}
        return {"type": "array", "items": seed, "maxItems": MOST}


def paths(label: str, least: int) -> Any:
    """Declare lines, none by default; ``label`` names one of them."""
    return declare(Paths(label, least), ())


def seeds(label: str) -> Any:
    """Declare coloured places, none by default; ``label`` names one of them."""
    return declare(Seeds(label), ())


def _counted(count: int, label: str) -> str:
    return f"{count or 'no'} {label}{'' if count == 1 else 's'}"
