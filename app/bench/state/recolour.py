"""A page shown at once in other colours or another overlay: nothing of it is worked out anew."""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np

from app.bench.state.areas import area_at, seen_box
from app.bench.state.layered import seen_part
from app.bench.state.picture import Bytes, Ground, Pixels, Place, view_plane
from app.bench.state.placing import Ruler
from app.bench.state.scale import Box
from app.bench.state.standing import Shown
from app.filters.flats import Flats, Plain
from core.matte import to_depth
from core.sheet import Each, Plane, Sheet, spans
from core.steps.fold import fold
from core.steps.step import Step
from core.steps.steplist import StepList

_FEW = 8  # areas: more are drawn anew


@dataclass(frozen=True, eq=False)
class Worked:
    """What was worked out for a list of steps, exactly."""

    steps: tuple[Step, ...]
    shown: Shown

    def repainted(self, steps: tuple[Step, ...]) -> "Worked | None":
        """The same for another list that needs no more than this one to be worked out; else None.

        Only the colours of its flats may differ, or what comes behind all that needs the whole
        page.
        """
        if steps == self.steps:
            return self
        return self._with_other_end(steps) or self._with_other_colours(steps)

    def _with_other_end(self, steps: tuple[Step, ...]) -> "Worked | None":
        old, new = (tuple(StepList("", one).flat()) for one in (self.steps, steps))
        wholes = [n for n, step in enumerate(old) if step.whole]
        end = wholes[-1] + 1 if wholes else 0
        if not end or old[:end] != new[:end] or any(
            step.whole or step.needs_paper for step in new[end:]
        ):
            return None
        return Worked(steps, Shown.of(self.shown.sheet, new[end:]))

    def _with_other_colours(self, steps: tuple[Step, ...]) -> "Worked | None":
        differ = [n for n, (old, new) in enumerate(zip(self.steps, steps, strict=False))
                  if old != new]
        if len(steps) != len(self.steps) or len(differ) != 1:
            return None
        place = differ[0]
        old, new = self.steps[place], steps[place]
        if not (isinstance(old, Flats) and isinstance(new, Flats) and _bare(old) == _bare(new)):
            return None
        if not new.on or any(step.on and step.whole for step in steps[place + 1 :]):
            return None
        sheet = _repainted(self.shown.sheet, new)
        return None if sheet is None else Worked(steps, replace(self.shown, sheet=sheet))


def _bare(step: Flats) -> Flats:
    """The step without its colours."""
    return replace(step, seeds=(), fill=Plain())


def _repainted(sheet: Sheet, step: Flats) -> Sheet | None:
    """The sheet with the step's colours; None where a seed's area cannot be told from its flats."""
    spots = Ruler.of(sheet).on_page([at for at, _ in step.seeds]) if step.seeds else ()
    areas = tuple(area_at(sheet, spot) for spot in spots)
    if sheet.flats is None or not all(areas):
        return None
    made = step.colours(len(sheet.palette) - 1, areas)
    return replace(sheet, palette=(sheet.palette[0], *made))


def repainted_picture(
    pixels: Pixels, old: Shown, new: Shown, place: Place, each: Each = map,
) -> Pixels | None:
    """A picture of the old page made one of the new, within 1 of 255; None where all is new.

    Where some areas took other colours, a screen pixel changes by as much as it shows of them.
    """
    one, other = old.sheet.palette, new.sheet.palette
    areas = _others(old, new)
    if areas is None:
        return None
    made = np.stack([pixels >> shift & 255 for shift in (16, 8, 0)], axis=2).astype(np.float32)
    for area in areas:
        assert new.sheet.flats is not None
        seen, box = place.seen, seen_box(new.sheet.flats, area, place.scale, place.seen)
        if box.width <= 0 or box.height <= 0:
            continue
        share = view_share(new, area, Place(place.scale, box), each).astype(np.float32)
        turn = np.subtract(other[area], one[area]).astype(np.float32) / np.float32(255)
        made[box.top - seen.top : box.bottom - seen.top,
             box.left - seen.left : box.right - seen.left] += share[..., None] * turn
    laid = np.clip(np.rint(made), 0, 255).astype(np.int32)
    return np.asarray(laid[..., 0] << 16 | laid[..., 1] << 8 | laid[..., 2], np.int32)


def _others(old: Shown, new: Shown) -> list[int] | None:
    """The areas that took another colour; None where more than that is another, or many did."""
    one, other = old.sheet.palette, new.sheet.palette
    areas = [area for area, (was, now) in enumerate(zip(one, other, strict=False)) if was != now]
    same = old.sheet.flats is new.sheet.flats and old.rest == new.rest
    return areas if same and len(one) == len(other) and len(areas) <= _FEW else None


def repainted_exactly(
    pixels: Pixels, old: Shown, new: Shown, ground: Ground, place: Place, each: Each = map, *,
    most: float = 0.5,
) -> Pixels | None:
    """The exact picture of the new page, drawn anew only where the old exact one is another.

    None where that is more than the share ``most`` of it.
    """
    areas, flats = _others(old, new), new.sheet.flats
    if areas is None or flats is None:
        return None
    boxes = [_true_box(flats, area, place, each) for area in areas]
    made, seen = pixels.copy(), place.seen
    if sum(box.width * box.height for box in boxes) > most * seen.width * seen.height:
        return None
    for box in boxes:
        if box.width > 0 and box.height > 0:
            made[box.top - seen.top : box.bottom - seen.top,
                 box.left - seen.left : box.right - seen.left] = new.draw(
                     ground, Place(place.scale, box), each)
    return made


def _true_box(flats: Plane, area: int, place: Place, each: Each) -> Box:
    """The seen pixels that may show some of an area: by each of its pixels, thin ones too."""
    seen, scale = place.seen, place.scale.value
    first = max(math.floor(seen.top / scale), 0)
    last = min(math.ceil(seen.bottom / scale), flats.shape[0])
    left = max(math.floor(seen.left / scale), 0)
    right = min(math.ceil(seen.right / scale), flats.shape[1])

    def found(span: tuple[int, int]) -> tuple[int, int, int, int]:
        mine = (flats[first + span[0] : first + span[1], left:right] == area).view(np.uint8)
        x, y, width, height = cv2.boundingRect(mine)
        return x + left, y + first + span[0], width, height

    parts = [part for part in each(found, spans(last - first)) if part[2]]
    if not parts:
        return Box(seen.left, seen.top, seen.left, seen.top)
    x, y, width, height = np.array(parts).T
    edges = (x.min() * scale - 1, y.min() * scale - 1,
             (x + width).max() * scale + 1, (y + height).max() * scale + 1)
    return Box(max(math.floor(edges[0]), seen.left), max(math.floor(edges[1]), seen.top),
               min(math.ceil(edges[2]), seen.right), min(math.ceil(edges[3]), seen.bottom))


def view_share(shown: Shown, area: int, place: Place, each: Each = map) -> Bytes:
    """How much of each seen pixel is the flat of one area: (H, W), 255 is all of it."""
    part, inner = seen_part(shown.sheet, place)
    share = np.empty(part.shape, np.uint8)

    def put(span: tuple[int, int]) -> None:
        share[slice(*span)] = _share(fold(shown.rest, part.rows(*span)), area)

    for _ in each(put, spans(part.height)):
        pass
    return view_plane(share, None, inner, each)


def _share(band: Sheet, area: int) -> Bytes:
    """How much of each pixel of a band is the area's flat, its lines laid over it."""
    assert band.alpha is not None
    assert band.flats is not None
    overlay = band.overlay
    covered = np.arange(256) * (0.0 if overlay.colour_above else overlay.lines)
    table = np.rint((255 - covered) * overlay.colour).astype(np.uint8)
    seen = cv2.LUT(np.asarray(to_depth(band.alpha, 8), np.uint8), table)
    mine = (band.flats == area).view(np.uint8) * np.uint8(255)
    return np.asarray(cv2.bitwise_and(seen, mine), np.uint8)
