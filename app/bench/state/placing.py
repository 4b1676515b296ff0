"""What the chosen step holds on the page: an outline, a mark, the edges, a level line."""

import math
from dataclasses import dataclass, replace
from typing import Literal

from app.bench.state.sentence import Control, Path, changed, pieces
from app.filters.skew import MOST
from app.filters.straighten import Given, Straighten
from core.steps.crop import Crop
from core.steps.places import MOST_CORNERS, Place, Point, Polygon
from core.steps.step import Step
from core.steps.steplist import StepList
from core.units import mm_to_px, px_to_mm

Spot = tuple[float, float]
"""A place in pixels of the shown page."""

Shape = Literal["outline", "point", "box", "line"]

_SHORTEST = 5.0  # mm: a shorter line is no measure of an angle


@dataclass(frozen=True)
class Handhold:
    """How the chosen step is set on the page: by what shape, and where it has it now."""

    shape: Shape
    spots: tuple[Spot, ...] = ()
    path: Path = ()


def handhold(steps: tuple[Step, ...], chosen: int | None, ppi: float) -> Handhold | None:
    """What the chosen step holds on the page as shown; None where it holds nothing there.

    A step behind it that moves the drawing would put the place elsewhere: then there is none.
    """
    if chosen is None or chosen >= len(steps) or not steps[chosen].on:
        return None
    later = StepList("", steps[chosen + 1 :]).flat()
    if not all(step.in_place for step in later):
        return None
    step = steps[chosen]
    if isinstance(step, Crop):
        return Handhold("box")
    if isinstance(step, Straighten):
        return Handhold("line") if isinstance(step.angle, Given) else None
    for piece in pieces(step):
        if isinstance(piece, Control) and isinstance(piece.spec, Polygon | Point):
            outline = isinstance(piece.spec, Polygon)
            places: tuple[Place, ...] = piece.value if outline else (piece.value,)
            spots = tuple((mm_to_px(x, ppi), mm_to_px(y, ppi)) for x, y in places)
            return Handhold("outline" if outline else "point", spots, piece.path)
    return None


def reshaped(
    step: Step, hold: Handhold, drawn: tuple[Spot, ...], ppi: float, page: tuple[float, float],
) -> Step | None:
    """The step after something was drawn on the page; None where what was drawn sets nothing.

    ``page`` is the shown page's width and height in pixels.
    """
    if hold.shape == "point":
        return changed(step, hold.path, _to_mm(drawn[-1], ppi))
    if hold.shape == "outline":
        corners = outline_of(drawn, ppi)
        return None if corners is None else changed(step, hold.path, corners)
    if isinstance(step, Crop):
        return _cropped(step, drawn, ppi, page)
    if isinstance(step, Straighten) and isinstance(step.angle, Given):
        return _levelled(step, step.angle, drawn, ppi)
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


def _cropped(
    step: Crop, drawn: tuple[Spot, ...], ppi: float, page: tuple[float, float],
) -> Crop | None:
    """What lies outside the box round the drawn line is cut off as well."""
    across, down = ([spot[axis] for spot in drawn] for axis in (0, 1))
    left, top = max(min(across), 0.0), max(min(down), 0.0)
    right, bottom = max(page[0] - max(across), 0.0), max(page[1] - max(down), 0.0)
    if min(page[0] - left - right, page[1] - top - bottom) < mm_to_px(1, ppi):
        return None

    def further(edge: float, pixels: float) -> float:
        return round(edge + px_to_mm(pixels, ppi), 1)

    return replace(
        step, left=further(step.left, left), top=further(step.top, top),
        right=further(step.right, right), bottom=further(step.bottom, bottom),
    )


def _levelled(
    step: Straighten, angle: Given, drawn: tuple[Spot, ...], ppi: float,
) -> Straighten | None:
    """The page turned so that the line from the first spot to the last is level or upright."""
    across, down = drawn[-1][0] - drawn[0][0], drawn[-1][1] - drawn[0][1]
    if px_to_mm(math.hypot(across, down), ppi) < _SHORTEST:
        return None
    slope = (math.degrees(math.atan2(down, across)) + 45) % 90 - 45
    degrees = min(max(round(angle.degrees - slope, 2), -MOST), MOST)
    return replace(step, angle=Given(degrees=degrees))


def _to_mm(spot: Spot, ppi: float) -> Place:
    x, y = (round(max(px_to_mm(side, ppi), 0.0), 2) for side in spot)
    return x, y
