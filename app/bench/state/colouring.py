"""What the pointer lays on a page: flats, joins, cuts and holds, each as a change of its list."""

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import ClassVar, Literal

from app.bench.state.areas import area_at, areas_along, spots_of_all
from app.bench.state.edits import Edit, insert, place_for, set_step
from app.bench.state.placing import Ruler, Spot, outline_of, strokes_of
from app.filters.flats import Distinct, Flats, Plain
from app.filters.holds import Builds, Everywhere, Hold, Replaces
from app.filters.reach import Brush, Mark, Outline
from core.colours import MOST_INK, Named
from core.sheet import WHITE, Rgb, Sheet
from core.steps.fields import either, number
from core.steps.paths import MOST, Path, Seed
from core.steps.places import MOST_CORNERS, Place
from core.steps.step import Step
from core.steps.steplist import StepList
from core.units import mm_to_px

ToolName = Literal["fill", "join", "cut", "pick colour", "hold mark", "hold outline", "hold brush"]
"""What the pointer does; each is a command of that name."""

_EVERY_MM = 0.5  # of a line through areas of which nothing is known yet
_AROUND = ((0, 0), *((x, y) for y in (-1, 0, 1) for x in (-1, 0, 1)))  # pixels, the spot first
_BESIDE_MM = 0.5  # of a cut, where either part is surely meant


@dataclass(frozen=True, kw_only=True)
class Laying(Step):
    """How the pointer lays the next hold, said like a step; no list ever has it."""

    kind: ClassVar[str] = "pointer"
    edition: ClassVar[int] = 1
    words: ClassVar[str] = (
        "Ink takes the colour {laying}. The brush is {width} wide, its edge soft by {soft}."
    )

    laying: Replaces | Builds = either("how the colour is laid", Replaces, Builds)
    width: float = number("width of the brush", "mm", 0.05, 500, 3)
    soft: float = number("soft edge of the brush", "mm", 0, 100, 1)


@dataclass(frozen=True, kw_only=True)
class Limit(Step):
    """The most ink that a colour should lay, said like a step; no list ever has it."""

    kind: ClassVar[str] = "palette"
    edition: ClassVar[int] = 1
    words: ClassVar[str] = "Marked is what lays more than {most} of ink."

    most: float = number("most ink", "%", 0, 400, MOST_INK)


def flats_index(steps: StepList) -> int | None:
    """Where the flats of a page are laid: the last step that lays any."""
    found = [n for n, step in enumerate(steps.steps) if isinstance(step, Flats)]
    return found[-1] if found else None


def flats_of(steps: StepList) -> Flats | None:
    """The step that lays a page's flats."""
    index = flats_index(steps)
    step = None if index is None else steps.steps[index]
    return step if isinstance(step, Flats) else None


def _with_flats(steps: StepList, change: Callable[[Flats], Flats], name: str) -> Edit:
    """The flats of a page changed; the first change lays them."""
    index, step = flats_index(steps), flats_of(steps)
    if index is None or step is None:
        new = change(Flats(fill=Plain()))
        return replace(insert(steps, place_for(steps, new), new), name=name)
    return set_step(steps, index, replace(change(step), on=True), name)


def fill(steps: StepList, sheet: Sheet, spot: Spot, named: Named) -> Edit:
    """The area at a spot of the shown page takes a colour; its older seeds go."""
    area = area_at(sheet, spot)
    at = _place_in(sheet, spot, area)

    def filled(step: Flats) -> Flats:
        rest = _not_in(sheet, settled(step, sheet), {area} - {0})
        return replace(step, seeds=(*rest, (at, named.colour)))

    return _with_flats(steps, filled, f"fill an area with {named.said}")


def empty(steps: StepList, sheet: Sheet, spot: Spot) -> Edit | None:
    """The area at a spot is white again; None where there are no flats or only ink."""
    area, laid = area_at(sheet, spot), flats_of(steps)
    if laid is None or not area:
        return None
    at = _place_in(sheet, spot, area)

    def emptied(step: Flats) -> Flats:
        rest = _not_in(sheet, settled(step, sheet), {area})
        bare = isinstance(step.fill, Plain) and step.fill.colour == WHITE
        return replace(step, seeds=rest if bare else (*rest, (at, WHITE)))

    return _with_flats(steps, emptied, "empty an area")


def join(steps: StepList, sheet: Sheet, drawn: tuple[Spot, ...]) -> Edit | None:
    """The areas that a line goes through become one; None where it goes through one alone.

    If the first of them had a colour, all take it.
    """
    ruler, met = Ruler.of(sheet), areas_along(sheet, drawn)
    joins = (ruler.on_scan(met),) if met else tuple(map(_dense, strokes_of(drawn, ruler)))
    if min(map(len, joins)) < 2:
        return None

    def joined(step: Flats) -> Flats:
        first = {area_at(sheet, met[0])} if met else set[int]()
        seeds = settled(step, sheet)
        rest = _not_in(sheet, seeds, first)
        mine = tuple(seed for seed in seeds if seed not in rest)
        return replace(step, joins=(*step.joins, *joins), seeds=(*rest, *mine))

    return _with_flats(steps, joined, "join areas")


def cut(steps: StepList, sheet: Sheet, drawn: tuple[Spot, ...]) -> Edit | None:
    """An area parted along a line; None where the line is but a point.

    Both parts stay filled; where areas have distinct colours, one part takes a new one.
    """
    lines = strokes_of(drawn, Ruler.of(sheet))
    if min(map(len, lines)) < 2:
        return None

    def parted(step: Flats) -> Flats:
        apart = isinstance(step.fill, Distinct)
        seeds = settled(step, sheet) if apart else (
            *step.seeds, *_both_sides(sheet, drawn, step.seeds))
        return replace(step, cuts=(*step.cuts, *lines), seeds=seeds)

    return _with_flats(steps, parted, "cut an area")


def settled(step: Flats, sheet: Sheet) -> tuple[Seed, ...]:
    """The step's seeds, and where areas have distinct colours one for each area as it is.

    Distinct colours go by the order of the areas. Before a hand changes those, the colours are
    written down, so that each area keeps its own and only a new one takes another. Should two
    be one afterwards, the last seed tells: that of the larger.
    """
    lie = _areas_of(sheet, step.seeds)
    if not isinstance(step.fill, Distinct) or sheet.flats is None:
        return step.seeds
    colours = step.colours(len(sheet.palette) - 1, lie)
    spots, ruler = spots_of_all(sheet), Ruler.of(sheet)
    places = ruler.on_scan(spots.values())
    written = {area: (at, colours[area - 1]) for area, at, there in zip(
        spots, places, ruler.on_page(places), strict=True) if area_at(sheet, there) == area}
    rest = [seed for seed, area in zip(step.seeds, lie, strict=True) if area not in written]
    return (*rest, *written.values())[-MOST:]


def distinct(steps: StepList) -> Edit:
    """All areas take colours of their own."""
    return _with_flats(steps, lambda step: replace(step, fill=Distinct(), seeds=()),
                       "all areas in distinct colours")


def clear(steps: StepList) -> Edit | None:
    """No area has a colour any more; what was joined or cut stays so. None without flats."""
    if flats_of(steps) is None:
        return None
    return _with_flats(steps, lambda step: replace(step, fill=Plain(), seeds=()),
                       "clear the colours")


def hold(
    steps: StepList, area: Everywhere | Mark | Outline | Brush, colour: Rgb, laying: Laying,
    name: str,
) -> Edit:
    """The ink of an area takes a colour: before flats, so that those need not be laid anew.

    A stroke that goes on where the last left off, with the same brush, is added to it.
    """
    made = Hold(colour=colour, area=area, laying=laying.laying)
    index = flats_index(steps)
    index = place_for(steps, made) if index is None else index
    last = steps.steps[index - 1] if index else None
    grown = _with_stroke(last, made) if isinstance(last, Hold) else None
    if grown is not None:
        return set_step(steps, index - 1, grown, name)
    return replace(insert(steps, index, made), name=name)


def _with_stroke(last: Hold, made: Hold) -> Hold | None:
    """The last hold with the strokes of the new one; None where they are not laid alike."""
    one, other = last.area, made.area
    if not (isinstance(one, Brush) and isinstance(other, Brush) and last.on):
        return None
    both = replace(one, strokes=(*one.strokes, *other.strokes))
    same = replace(made, area=both, note=last.note) == replace(last, area=both)
    alike = (one.width, one.soft) == (other.width, other.soft)
    return replace(last, area=both) if (
        same and alike and isinstance(last.laying, Replaces)) else None


def marked(sheet: Sheet, spot: Spot) -> Mark:
    """The one connected mark at a spot of the shown page."""
    return Mark(at=_place(sheet, spot))


def outlined(sheet: Sheet, drawn: tuple[Spot, ...]) -> Outline | None:
    """What lies inside a line drawn round it; None where that is no area."""
    corners = outline_of(drawn, Ruler.of(sheet))
    return None if corners is None else Outline(corners=corners)


def brushed(sheet: Sheet, drawn: tuple[Spot, ...], laying: Laying) -> Brush:
    """What lies under a stroke of the brush."""
    strokes = strokes_of(drawn, Ruler.of(sheet))
    return Brush(strokes=strokes, width=laying.width, soft=laying.soft)


# --- places

def _place(sheet: Sheet, spot: Spot) -> Place:
    return Ruler.of(sheet).on_scan((spot,))[0]


def _place_in(sheet: Sheet, spot: Spot, area: int) -> Place:
    """The spot's place, or one beside it, that as it is written still lies in the area."""
    ruler = Ruler.of(sheet)
    near = [(spot[0] + x, spot[1] + y) for x, y in _AROUND]
    places = [ruler.on_scan((there,))[0] for there in near]
    inside = (at for at in places if area_at(sheet, ruler.on_page((at,))[0]) == area)
    return next(inside, places[0])


def _dense(path: Path) -> Path:
    """A place every half millimetre: without flats on the screen, none tell where areas lie."""
    made: list[Place] = list(path[:1])
    for (x, y), (x2, y2) in itertools.pairwise(path):
        parts = max(1, math.ceil(math.hypot(x2 - x, y2 - y) / _EVERY_MM))
        made += [(round(x + (x2 - x) * n / parts, 2), round(y + (y2 - y) * n / parts, 2))
                 for n in range(1, parts + 1)]
    return tuple(made[:: -(-len(made) // MOST_CORNERS) or 1])


def _areas_of(sheet: Sheet, seeds: tuple[Seed, ...]) -> list[int]:
    """The area that each seed lies in."""
    if not seeds:
        return []
    spots = Ruler.of(sheet).on_page([at for at, _ in seeds])
    return [area_at(sheet, spot) for spot in spots]


def _not_in(sheet: Sheet, seeds: tuple[Seed, ...], areas: set[int]) -> tuple[Seed, ...]:
    lie = _areas_of(sheet, seeds)
    return tuple(seed for seed, area in zip(seeds, lie, strict=True) if area not in areas)


def _both_sides(
    sheet: Sheet, drawn: tuple[Spot, ...], seeds: tuple[Seed, ...],
) -> tuple[Seed, ...]:
    """Seeds on either side of a line through a filled area, of its colour."""
    middle = len(drawn) // 2
    (x, y), before = drawn[middle], drawn[middle - 1]
    area, length = area_at(sheet, (x, y)), math.hypot(x - before[0], y - before[1])
    given = [colour for (_, colour), lies in zip(seeds, _areas_of(sheet, seeds), strict=True)
             if area and lies == area]
    if not given or not length:
        return ()
    across, down = (before[1] - y) / length, (x - before[0]) / length
    step = mm_to_px(_BESIDE_MM, sheet.ppi)
    sides = [(x + across * step * side, y + down * step * side) for side in (1, -1)]
    return tuple((_place(sheet, spot), given[-1]) for spot in sides
                 if area_at(sheet, spot) == area)
