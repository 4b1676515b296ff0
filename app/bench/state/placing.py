"""Places on the page that the chosen step holds: an outline drawn round, a mark clicked on."""

from dataclasses import dataclass

from app.bench.state.sentence import Control, Path, pieces
from app.bench.state.standing import IN_PLACE
from core.steps.places import MOST_CORNERS, Place, Point, Polygon
from core.steps.step import Step
from core.steps.steplist import StepList
from core.units import mm_to_px, px_to_mm

Spot = tuple[float, float]
"""A place in pixels of the shown page."""


@dataclass(frozen=True)
class Handhold:
    """What the chosen step holds on the page: the field's path, its places, and which kind."""

    path: Path
    spots: tuple[Spot, ...]
    closed: bool


def handhold(steps: tuple[Step, ...], chosen: int | None, ppi: float) -> Handhold | None:
    """The chosen step's own place on the page as shown; None where it has none there.

    A step behind it that moves the drawing would put the place elsewhere: then there is none.
    """
    if chosen is None or chosen >= len(steps):
        return None
    later = StepList("", steps[chosen + 1 :]).flat()
    if any(step.whole and step.kind not in IN_PLACE for step in later):
        return None
    for piece in pieces(steps[chosen]):
        if isinstance(piece, Control) and isinstance(piece.spec, Polygon | Point):
            closed = isinstance(piece.spec, Polygon)
            places: tuple[Place, ...] = piece.value if closed else (piece.value,)
            spots = tuple((mm_to_px(x, ppi), mm_to_px(y, ppi)) for x, y in places)
            return Handhold(piece.path, spots, closed)
    return None


def outline_of(spots: tuple[Spot, ...], ppi: float) -> tuple[Place, ...] | None:
    """A line drawn by hand as an outline in mm; None where it is no area.

    >>> outline_of(((0, 0), (254, 0), (254, 254)), 254)
    ((0.0, 0.0), (25.4, 0.0), (25.4, 25.4))
    """
    places = tuple(_to_mm(spot, ppi) for spot in spots)
    places = tuple(p for n, p in enumerate(places) if n == 0 or p != places[n - 1])
    every = -(-len(places) // MOST_CORNERS) or 1
    thinned = places[::every]
    area = sum(
        x * y2 - x2 * y
        for (x, y), (x2, y2) in zip(thinned, (*thinned[1:], *thinned[:1]), strict=True)
    )
    return thinned if len(thinned) >= 3 and abs(area) > 0.02 else None


def spot_of(spot: Spot, ppi: float) -> Place:
    """A place that was clicked on, in mm."""
    return _to_mm(spot, ppi)


def _to_mm(spot: Spot, ppi: float) -> Place:
    x, y = (round(max(px_to_mm(side, ppi), 0.0), 2) for side in spot)
    return x, y
