"""What the proof of the page in hand is made of, and what there is to say of it."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from app.bench.state.picture import Bytes
from app.bench.state.scale import ONE, Box, View, scale_below
from app.bench.state.standing import Shown
from app.bench.state.strip import share
from app.pages.bitmap import sheet_cover
from app.pages.trims import Crossing, Trimmed
from app.proof.cells import Mask
from app.proof.marks import Drawn
from app.proof.prove import Made, Order, Proof, judge_residue, outgoing, prove_made
from app.proof.regions import Region
from app.proof.remedies import Clearing, Remedy
from app.proof.residue import Residue, would_print
from app.replay.page import lifted
from core.fault import Watch, unwatched
from core.matte import to_depth
from core.press.advice import Grade
from core.press.size import PrintSize
from core.sheet import Each, whole
from core.steps.fold import Folded, Replayed
from core.steps.steplist import StepList
from core.steps.tone import Tone
from core.tone import apply_table
from core.units import mm_to_px

Sort = Literal["print", "lost", "thin", "solid", "trim"]


@dataclass(frozen=True, eq=False)
class Seen:
    """A page as it is shown under a list, and how it is printed: what a proof is of."""

    shown: Shown
    steps: StepList
    order: Order
    drawn: Drawn
    clearing: Clearing = field(default_factory=Clearing)

    @property
    def size(self) -> PrintSize:
        """Its printed size."""
        return self.order.size_of(self.shown.sheet.shape, self.shown.sheet.ppi)


def cover_of(shown: Shown, part: Box | None = None, each: Each = map) -> Bytes:
    """The cover in black (H, W) of a shown page, or of a part of it in pixels of the page.

    >>> from core.sheet import Sheet
    >>> page = Sheet(ppi=300, grey=np.array([[255, 55], [0, 0]], np.uint8))
    >>> cover_of(Shown.of(page, ()), Box(0, 0, 2, 1)).tolist()
    [[0, 200]]
    """
    rows, columns = (slice(None), slice(None)) if part is None else (
        slice(part.top, part.bottom), slice(part.left, part.right))
    if shown.one is not None:
        plane = np.ascontiguousarray(shown.one.plane[rows, columns])
        return np.asarray(to_depth(apply_table(shown.one.table, plane), 8), np.uint8)
    sheet = shown.sheet.each_plane(lambda plane: plane[rows, columns])
    done = lifted(Replayed(Folded(sheet, shown.rest), sheet, StepList("", shown.rest)))
    return np.asarray(sheet_cover(whole(done.page, each)), np.uint8)


def follows(shown: Shown, order: Order) -> bool:
    """Whether what would print can be found while a handle moves: where one table makes the page.

    >>> from core.press.presses import Press
    >>> from core.sheet import Sheet
    >>> page = Shown.of(Sheet(ppi=300, grey=np.zeros((1, 1), np.uint8)), ())
    >>> follows(page, Order(Press())), follows(page, Order(Press(), "1-bit"))
    (True, False)
    """
    return shown.one is not None and order.form == "grey"


def look_first(seen: Seen, each: Each = map) -> Residue:
    """What would print, before anything else is asked.

    Where one table makes the page its alpha is never made: that takes a fifth of the time.
    """
    one, order, size = seen.shown.one, seen.order, seen.size
    if one is not None and follows(seen.shown, order):
        return would_print(one.plane, seen.drawn, order.press, ppi=size.ppi,
                           ppi_printed=size.ppi_printed, table=one.table, each=each)
    out = outgoing(cover_of(seen.shown, each=each), size, order)
    return judge_residue(out, seen.drawn, order.press, each)


def look_fully(seen: Seen, watch: Watch = unwatched) -> Proof:
    """Everything that a printer would say of the page; it may be stopped between two bands."""
    at = [0, 1]

    def told(done: int, total: int) -> None:
        at[:] = done, total
        watch(done, total)

    def each(work: Callable[[tuple[int, int]], Any], spans: Iterable[tuple[int, int]],
             ) -> Iterator[Any]:
        for span in spans:
            watch(at[0], at[1])
            yield work(span)

    settled = StepList(seen.steps.name, seen.shown.rest)
    made = Made(seen.steps, settled, seen.shown.sheet, cover_of(seen.shown, each=each),
                seen.clearing)
    return prove_made(made, seen.drawn, seen.order, each, told)


@dataclass(frozen=True, eq=False)
class Found:
    """What is known of a page by now: what would print at once, the rest when it is there."""

    seen: Seen
    residue: Residue
    proof: Proof | None = None

    @property
    def lost(self) -> Mask | None:
        """Cells of drawn marks that would be lost."""
        return None if self.proof is None else self.proof.weak.cells

    @property
    def open_cores(self) -> Mask | None:
        """Cells of the insides of strokes that are not solid, where that is worth a word."""
        cores = None if self.proof is None else self.proof.cores
        return None if cores is None or cores.solid else cores.cells


@dataclass(frozen=True)
class Row:
    """A line of the list of what was found: where it is, and what it says."""

    sort: Sort
    text: str
    region: Region | None = None


@dataclass(frozen=True)
class Group:
    """What was found of one sort, from the worst on."""

    title: str
    rows: tuple[Row, ...]


def headline(residue: Residue) -> tuple[Grade, str]:
    """The verdict, and how grave it is.

    >>> headline(Residue((), 0, 0.0, 0.0, np.zeros((1, 1), np.uint8)))
    ('good', 'Nothing would print that should not.')
    """
    if residue.clean:
        return "good", "Nothing would print that should not."
    what = "1 region" if residue.count == 1 else f"{residue.count} regions"
    grade: Grade = "strong" if residue.will else "warn"
    will = "none of it surely" if not residue.will else f"{_mm2(residue.will)} of it surely"
    said = f"{what} would print that should not: {_mm2(residue.area)}, {will}."
    return grade, said.replace(" mm²", "\N{NO-BREAK SPACE}mm²")


def groups_of(found: Found) -> tuple[Group, ...]:
    """What was found, in the order in which it matters."""
    residue, proof = found.residue, found.proof
    made = [_group("What would print", residue.count, "print", residue.regions)]
    if proof is not None:
        made += [
            Group("Ink at the trim", _trimmed(proof)),
            _group("What would be lost", proof.weak.lost_count, "lost", proof.weak.lost),
            _group("Lines too thin for the press", len(proof.lines.regions), "thin",
                   proof.lines.regions),
            _group("White lines that may fill in", len(proof.gaps.regions), "thin",
                   proof.gaps.regions),
            _cores(proof),
        ]
    return tuple(group for group in made if group.rows)


def _group(title: str, count: int, sort: Sort, regions: tuple[Region, ...]) -> Group:
    more = f", the first {len(regions)}" if count > len(regions) else ""
    return Group(f"{title} ({count}{more})",
                 tuple(Row(sort, row_said(region), region) for region in regions))


def _cores(proof: Proof) -> Group:
    cores = proof.cores
    if cores is None or cores.solid:
        return Group("Ink not solid", ())
    rows = tuple(Row("solid", row_said(region), region) for region in cores.regions)
    return Group(f"Ink not solid ({share(cores.share)} of the insides of strokes)", rows)


def _trimmed(proof: Proof) -> tuple[Row, ...]:
    if proof.trimmed is not None and proof.trimmed.frame is None:
        return (Row("trim", f"The trim is not placed: {proof.trimmed.why}."),)
    assert proof.crossings == () or proof.trimmed is not None
    return tuple(
        Row("trim", crossing_said(crossing, proof.size), _at_side(crossing, proof.trimmed))
        for crossing in proof.crossings
    )


def crossing_said(crossing: Crossing, size: PrintSize) -> str:
    """Ink that crosses the trim, in words; lengths in mm of the print."""
    side = f"{crossing.side}: {size.scale * crossing.crosses:.0f} mm of ink cross the trim"
    if not crossing.stops:
        return f"{side} and reach the bleed"
    return f"{side}, {size.scale * crossing.stops:.0f} mm of it stop short of the bleed"


def _at_side(crossing: Crossing, trimmed: Trimmed | None) -> Region | None:
    """The first place at which ink stops short, or the side of the trim, to be gone to."""
    if trimmed is None or trimmed.frame is None:
        return None
    left, top, width, height = trimmed.frame
    upright = crossing.side in ("left", "right")
    first, end = (top, top + height) if upright else (left, left + width)
    if crossing.short:
        first, end = crossing.short[0]
    if upright:
        box = (left if crossing.side == "left" else left + width, first, 0.0, end - first)
    else:
        box = (first, top if crossing.side == "top" else top + height, end - first, 0.0)
    return Region("not solid", box, 0.0, 1.0)


def row_said(region: Region) -> str:
    """A region in one short line.

    >>> row_said(Region("will print", (10, 20, 4, 2), 3.14159, 0.041))
    '3.14 mm², 4.1 %, will print'
    """
    sort = "dust, " if region.dust else ""
    if region.verdict == "too thin":
        return f"{max(region.box[2:]):.1f} mm long"
    dark = "gone" if region.verdict == "gone" else f"{100 * region.cover:.1f} %"
    said = "" if region.verdict in ("gone", "not solid") else f", {region.verdict}"
    return f"{sort}{_mm2(region.area)}, {dark}{said}"


def _mm2(area: float) -> str:
    if area < 0.01:
        return "under 0.01 mm²"
    return f"{area:.{0 if area >= 100 else 1 if area >= 10 else 2}f} mm²"


def remedy_said(remedy: Remedy) -> str:
    """A remedy on a button: what it is, what it clears and what it costs."""
    rest = "all" if remedy.clears >= 1 else (
        "over 99 %" if remedy.clears > 0.99 else share(remedy.clears))
    cost = "no drawn ink" if remedy.costs < 5e-5 else f"{share(remedy.costs)} of the ink"
    tone = remedy.step
    points = tone.points if isinstance(tone, Tone) else None
    words = remedy.words if points is None else f"White point to {points.white:.0f}"
    return f"{words}: clears {rest}, costs {cost}"


def order_said(order: Order, size: PrintSize) -> str:
    """How the page is printed, in one line.

    >>> from core.press.presses import PRESSES
    >>> order_said(Order(PRESSES["coated"]), PrintSize((600, 300), 300))
    'On coated, 25.4 x 50.8 mm (100 %), 300 ppi, graded grey.'
    """
    form = "graded grey" if order.form == "grey" else f"1-bit at {order.ppi:g} ppi"
    return (f"On {order.press.name}, {size.width:.1f} x {size.height:.1f} mm "
            f"({100 * size.scale:.3g} %), {size.ppi_printed:.0f} ppi, {form}.")


def divider_of(view: View, region: Region, ppi: float, divider: float) -> float:
    """Where the divider must stand for a region to lie right of it: as it is, or further left.

    >>> view = View((800, 600), (400, 300))
    >>> divider_of(view, Region("may print", (8.467, 8, 1, 1), 1, 0.02), 300, 0.5)
    0.1
    """
    left = (view.left + mm_to_px(region.box[0], ppi) * view.scale.value) / view.room[0]
    return divider if left > divider else max(round(left - 0.025, 3), 0.0)


def view_of(view: View, region: Region, ppi: float, left: float) -> View:
    """The view with a region in the middle of what lies right of ``left`` (0-1 of the room).

    It is shown pixel for pixel, or smaller if it does not fit so.

    >>> view = View((800, 600), (4000, 4000))
    >>> there = view_of(view, Region("may print", (84.67, 84.67, 0, 0), 1, 0.02), 600, 0.5)
    >>> there.scale == ONE, [round(side) for side in there.page_at(600, 300)]
    (True, [2000, 2000])
    """
    x, y = (mm_to_px(side, ppi) for side in region.middle)
    wide, high = (max(mm_to_px(side, ppi), 1) for side in region.box[2:])
    room = view.room[0] * (1 - left), view.room[1]
    fits = min(room[0] / (1.5 * wide), room[1] / (1.5 * high))
    scale = ONE if fits >= 1 else scale_below(max(fits, 1 / 4096))
    goal = view.room[0] * (1 + left) / 2, view.room[1] / 2
    near = view.zoomed(scale, *goal)
    here = near.page_at(*goal)
    return near.pushed(round((here[0] - x) * scale.value), round((here[1] - y) * scale.value))
