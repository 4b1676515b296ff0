"""What the chosen step holds on the page: an outline, a mark, a brush, edges, a level line.

Views speak of places in pixels of the shown page, steps of places in mm of the scan.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from app.bench.state.edges import Cut
from app.bench.state.sentence import Control, Path, changed, get, pieces
from app.filters.reach import Brush
from app.filters.skew import MOST
from app.filters.straighten import Given, Straighten
from core.placing import AS_SCANNED, Placing
from core.sheet import Sheet
from core.steps.crop import Crop
from core.steps.paths import Path as Stroke
from core.steps.paths import Paths
from core.steps.places import FARTHEST, MOST_CORNERS, Place, Point, Polygon
from core.steps.step import Step
from core.steps.steplist import Nested, StepList
from core.units import mm_to_px, px_to_mm

Spot = tuple[float, float]
"""A place in pixels of the shown page."""

_SHORTEST = 5.0  # mm: a shorter line is no measure of an angle
_SMALLEST = 0.01  # mm2: a smaller outline is a slip
_STRAY = 0.02  # mm by which a drawn line may be simplified: half a pixel at 600 ppi


@dataclass(frozen=True)
class Ruler:
    """How pixels of the shown page become mm of the scan, and back.

    ``size`` is the shown page's width and height in pixels.

    >>> ruler = Ruler(254, AS_SCANNED.shifted(-2.0, -1.0))
    >>> ruler.on_scan([(10, 10)]), ruler.on_page([(3.0, 2.0)])
    (((3.0, 2.0),), ((10.0, 10.0),))
    """

    ppi: float
    placing: Placing = AS_SCANNED
    size: tuple[int, int] = (0, 0)

    @classmethod
    def of(cls, sheet: Sheet) -> "Ruler":
        """The ruler of a page that is shown."""
        return cls(sheet.ppi, sheet.placing, (sheet.shape[1], sheet.shape[0]))

    def on_scan(self, spots: Iterable[Spot]) -> tuple[Place, ...]:
        """Places of the scan to 0.01 mm; none lies past its left or top, where no numbers are."""
        places = self.placing.on_scan(np.array([*spots]) * px_to_mm(1, self.ppi))
        held = np.clip(places.round(2), 0.0, FARTHEST) + 0.0
        return tuple((float(x), float(y)) for x, y in held)

    def on_page(self, places: Iterable[Place]) -> tuple[Spot, ...]:
        """Places of the scan in pixels of the page."""
        spots = self.placing.on_page(np.array([*places])) * mm_to_px(1, self.ppi)
        return tuple((float(x), float(y)) for x, y in spots)

    @property
    def sides(self) -> tuple[float, float]:
        """Width and height of the page in mm."""
        return px_to_mm(self.size[0], self.ppi), px_to_mm(self.size[1], self.ppi)


@dataclass(frozen=True)
class Aim:
    """An outline, or one point, that the step at ``path`` holds; ``spots`` are where, if drawn."""

    outline: bool
    spots: tuple[Spot, ...]
    path: Path


@dataclass(frozen=True)
class Painting:
    """A brush and the strokes that were made with it; ``width`` and ``soft`` in mm."""

    strokes: tuple[tuple[Spot, ...], ...]
    width: float
    soft: float
    ppi: float
    path: Path

    @property
    def brush(self) -> tuple[float, float, float]:
        """The brush, as a tool takes it in hand."""
        return self.width, self.soft, self.ppi


@dataclass(frozen=True)
class Level:
    """The angle, in degrees clockwise, by which the page is shown turned."""

    degrees: float


Handhold = Aim | Painting | Cut | Level
"""How the chosen step is set on the page, and how it is set now."""


def as_looked_at(steps: tuple[Step, ...], chosen: int | None) -> tuple[Step, ...]:
    """The steps by which the page is shown while one of them is chosen.

    A crop is left out, so that what it cuts off can be seen. Behind a crop or a straightening
    all that moves the drawing is left out too: the step is then set on the page it works on.

    >>> [step.on for step in as_looked_at((Crop(), Straighten()), 0)]
    [False, False]
    """
    step = _chosen(steps, chosen)
    if not isinstance(step, Crop | Straighten) or chosen is None:
        return steps
    held = Crop(on=False) if isinstance(step, Crop) else step  # the same, however far it cuts
    return (*steps[:chosen], held, *(_still(later) for later in steps[chosen + 1 :]))


def _still(step: Step) -> Step:
    """The step without what moves the drawing."""
    if isinstance(step, Nested):
        inner = tuple(_still(one) for one in step.list.steps)
        return replace(step, list=replace(step.list, steps=inner))
    return step if step.in_place else replace(step, on=False)


def _chosen(steps: tuple[Step, ...], chosen: int | None) -> Step | None:
    """The chosen step, if it is there and on."""
    there = chosen is not None and chosen < len(steps) and steps[chosen].on
    return steps[chosen] if there and chosen is not None else None


def handhold(steps: tuple[Step, ...], chosen: int | None, ruler: Ruler) -> Handhold | None:
    """What the chosen step holds on the page that ``as_looked_at`` shows; None where nothing."""
    step = _chosen(steps, chosen)
    if step is None:
        return None
    if isinstance(step, Crop):
        return Cut(step.left, step.top, step.right, step.bottom, *ruler.sides)
    if isinstance(step, Straighten):
        return _level(step, steps, ruler)
    for piece in pieces(step):
        if isinstance(piece, Control):
            held = _held(step, piece, ruler)
            if held is not None:
                return held
    return None


def _level(step: Straighten, steps: tuple[Step, ...], ruler: Ruler) -> Level | None:
    """The angle that is given, or the one that was found, if the page lies by that alone."""
    if isinstance(step.angle, Given):
        return Level(step.angle.degrees)
    turning = [one for one in StepList("", steps).flat() if isinstance(one, Straighten)]
    if len(turning) != 1:
        return None
    lies = math.degrees(math.atan2(ruler.placing.aside, ruler.placing.along))
    return Level(round((lies + 45) % 90 - 45, 2))


def _held(step: Step, piece: Control, ruler: Ruler) -> Aim | Painting | None:
    if isinstance(piece.spec, Polygon):
        drawn = piece.value != piece.spec.undrawn
        return Aim(True, ruler.on_page(piece.value) if drawn else (), piece.path)
    if isinstance(piece.spec, Point):
        drawn = piece.value != piece.spec.unchosen
        return Aim(False, ruler.on_page([piece.value]) if drawn else (), piece.path)
    if isinstance(piece.spec, Paths):
        brush = get(step, piece.path[:-1])
        if isinstance(brush, Brush):
            strokes = tuple(ruler.on_page(stroke) for stroke in brush.strokes)
            return Painting(strokes, brush.width, brush.soft, ruler.ppi, piece.path[:-1])
    return None


def aimed(step: Step, hold: Aim, drawn: tuple[Spot, ...], ruler: Ruler) -> Step | None:
    """The step after a place was drawn for it; None where what was drawn is no area."""
    if not hold.outline:
        return changed(step, hold.path, ruler.on_scan(drawn[-1:])[0])
    corners = outline_of(drawn, ruler)
    return None if corners is None else changed(step, hold.path, corners)


def outline_of(spots: tuple[Spot, ...], ruler: Ruler) -> tuple[Place, ...] | None:
    """A line drawn by hand as an outline in mm of the scan; None where it is no area.

    >>> outline_of(((0, 0), (254, 0), (254, 254)), Ruler(254))
    ((0.0, 0.0), (25.4, 0.0), (25.4, 25.4))
    """
    corners = _simplified(ruler.on_scan(spots), closed=True)
    every = -(-len(corners) // MOST_CORNERS) or 1
    thinned = corners[::every]
    if len(thinned) < 3:
        return None
    x, y = np.array(thinned).T
    area = abs(float(x @ np.roll(y, -1) - np.roll(x, -1) @ y)) / 2
    return thinned if area > _SMALLEST else None


def painted(
    step: Step, hold: Painting, drawn: tuple[Spot, ...], ruler: Ruler, size: tuple[float, float],
) -> tuple[Step, bool]:
    """The step with a further stroke; whether that is a second step, beside the first.

    ``size`` is the width and soft edge in mm of the brush in hand. A step has one brush: what is
    painted with a brush of another size becomes a step of its own.
    """
    brush = get(step, hold.path)
    strokes = strokes_of(drawn, ruler)
    width, soft = size
    apart = bool(brush.strokes) and (brush.width, brush.soft) != size
    kept = () if apart else brush.strokes
    new = replace(brush, strokes=(*kept, *strokes), width=width, soft=soft)
    made = changed(step, hold.path, new)
    return (replace(made, note="") if apart else made), apart


def strokes_of(spots: tuple[Spot, ...], ruler: Ruler) -> tuple[Stroke, ...]:
    """A line drawn by hand as strokes in mm of the scan: one, or more that meet if it is long.

    >>> strokes_of(((0, 0), (100, 1), (254, 0)), Ruler(2540))
    (((0.0, 0.0), (2.54, 0.0)),)
    """
    places = _simplified(ruler.on_scan(spots), closed=False)
    most = MOST_CORNERS - 1
    return tuple(
        places[first : first + most + 1] for first in range(0, max(len(places) - 1, 1), most)
    )


def _simplified(places: tuple[Place, ...], *, closed: bool) -> tuple[Place, ...]:
    """The line through fewer places, nowhere further off than 0.02 mm."""
    points: npt.NDArray[np.float32] = np.array(places, np.float32)[:, None]
    fewer = cv2.approxPolyDP(points, _STRAY, closed)
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in fewer[:, 0])


def cropped(step: Crop, cut: Cut) -> Crop:
    """The crop with the edges where they were dragged to."""
    return replace(step, left=cut.left, top=cut.top, right=cut.right, bottom=cut.bottom)


def levelled(step: Straighten, degrees: float) -> Straighten:
    """The page turned by an angle, as far as it may be; to 0.01 degrees."""
    held = min(max(round(degrees, 2), -MOST), MOST) + 0.0
    return replace(step, angle=Given(degrees=held))


def slope_of(first: Spot, last: Spot, ruler: Ruler) -> float | None:
    """By how many degrees clockwise a line is off the level, or off the plumb if that is nearer.

    None where it is too short to tell.

    >>> slope_of((0, 0), (1000, 0), Ruler(100))
    0.0
    """
    across, down = last[0] - first[0], last[1] - first[1]
    if px_to_mm(math.hypot(across, down), ruler.ppi) < _SHORTEST:
        return None
    return (math.degrees(math.atan2(down, across)) + 45) % 90 - 45
