"""Which step would clear what prints and should not, and what ink it would cost."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from app.filters.drop_specks import DropSpecks
from app.filters.keep_marks import KeepMarks
from app.filters.overrule import TakeOut
from app.filters.reach import Outline
from app.pages.bitmap import sheet_cover
from app.proof.cells import Mask, side_of, spread
from app.proof.marks import SETS_TONES, Drawn
from app.proof.regions import Region
from app.proof.residue import Residue
from core.readings import grey_plane
from core.sheet import Plane, Sheet, full_scale
from core.steps.fold import fold
from core.steps.lift import Lift
from core.steps.step import Step
from core.steps.steplist import Nested, StepList
from core.steps.tone import Fixed, Tone
from core.units import px_to_mm

_OUTLIERS = 0.005  # of a region's pixels may stay darker than the white point
_DEAREST = 0.05  # of the drawn ink
_DEAR = 2.0  # a share of the ink weighs more than the same share of the dirt
_WHITES = 20.0  # tones that must lie between black point and white point

Judge = Callable[[Plane], Residue]
"""What would print of a page with this alpha."""


@dataclass(frozen=True)
class Remedy:
    """A step, the list with it in place, and what it does.

    ``words`` name it. ``clears`` is the share (0-1) of what would print that goes; ``costs`` the
    share of the drawn ink's cover that goes with it.
    """

    step: Step
    steps: StepList
    clears: float
    costs: float
    words: str

    @property
    def dear(self) -> bool:
        """Whether it takes so much of the drawing that it should not be done at a click."""
        return self.costs > _DEAREST

    @property
    def said(self) -> str:
        """What it would do, in a sentence."""
        rest = "all" if self.clears == 1 else f"{100 * self.clears:.1f} %"
        cost = "no drawn ink" if self.costs < 5e-5 else f"{100 * self.costs:.2f} % of the drawn ink"
        return f"{self.words} would clear {rest} of it and cost {cost}."


class Clearing:
    """What clearing steps leave of a page: remembered for the page that was asked for last.

    Tones do not change it, so a proof after a change of tones need not do them again. Two
    threads may ask at one time.
    """

    def __init__(self) -> None:
        self._last: tuple[Sheet, tuple[Step, ...], dict[Step, Sheet]] | None = None

    def after(self, step: Step, page: Sheet, led: tuple[Step, ...]) -> Sheet:
        """The page after the settled steps ``led``, and the settled clearing step behind them."""
        last = self._last  # read once: another thread may put its own page in place of it
        if last is None or last[0] is not page or last[1] != led:
            last = self._last = page, led, {}
        known = last[2]
        if step not in known:
            here = fold(led, page)
            known[step] = step.fitted(here).apply(here)
        return known[step]


@dataclass(frozen=True, eq=False)
class Case:
    """A page on which something would print that should not.

    ``steps`` is its list and ``settled`` the same as it was settled for this page; ``before``
    is the page after the last step that needs it whole, ``alpha`` (H, W) uint8 the cover in black
    of the same page lifted.
    ``residue`` is what ``judge`` says of ``alpha``; ``drawn`` tells where its marks lie.
    ``region`` is the one that is to be cleared, None is all.
    """

    steps: StepList
    settled: StepList
    before: Sheet
    alpha: Plane
    drawn: Drawn
    residue: Residue
    judge: Judge
    region: Region | None = None
    clearing: Clearing = field(default_factory=Clearing)

    def dirt(self, residue: Residue) -> Mask:
        """The cells of a residue that are to be cleared."""
        cells = residue.cells > 0
        if self.region is None:
            return cells
        rows, columns = self._box(cells.shape)
        inside = np.zeros_like(cells)
        inside[rows, columns] = cells[rows, columns]
        return inside

    def _box(self, grid: tuple[int, ...]) -> tuple[slice, slice]:
        """The region's box in cells of a grid over the page."""
        assert self.region is not None
        left, top, width, height = self.region.box
        high, wide = (px_to_mm(side, self.before.ppi) for side in self.alpha.shape)
        down, across = grid[0] / high, grid[1] / wide
        return (slice(round(top * down), round((top + height) * down)),
                slice(round(left * across), round((left + width) * across)))

    def pixels(self, cells: Mask) -> Mask:
        """The pixels of a mask of cells."""
        shape = self.alpha.shape
        return spread(cells, side_of(self.before.ppi), (shape[0], shape[1]))

    def lacks(self, kind: str) -> bool:
        """Whether no step of that kind is in the list and on."""
        return all(step.kind != kind for step in self.steps.flat())


def remedies(case: Case, region: Region | None = None) -> tuple[Remedy, ...]:
    """The steps that would clear the residue, the one that clears most for the least ink first.

    With a ``region`` they are those that would clear it, whatever they do elsewhere; it can also
    be taken out by itself.

    A clean page needs none.
    """
    case = replace(case, region=region)
    if not case.dirt(case.residue).any():
        return ()
    found = (_keeping(case), _dropping(case), _whitening(case), _taking(case))
    return tuple(sorted((remedy for remedy in found if remedy is not None),
                        key=lambda remedy: _DEAR * remedy.costs - remedy.clears))


def _keeping(case: Case) -> Remedy | None:
    if not case.lacks(KeepMarks.kind):
        return None
    return _clearing(case, KeepMarks(), "Keep marks")


def _dropping(case: Case) -> Remedy | None:
    if not case.drawn.dust.any() or not case.lacks(DropSpecks.kind):
        return None
    return _clearing(case, DropSpecks(), "Drop specks")


def _taking(case: Case) -> Remedy | None:
    """The region's box taken out, as by hand."""
    if case.region is None:
        return None
    left, top, width, height = case.region.box
    corners = ((left, top), (left + width, top), (left + width, top + height), (left, top + height))
    places = np.maximum(case.before.placing.on_scan(corners), 0)
    outline = Outline(corners=tuple((float(x), float(y)) for x, y in places))
    return _clearing(case, TakeOut(area=outline), "Take it out")


def _clearing(case: Case, step: Step, what: str) -> Remedy | None:
    """A clearing step put before the tones: done, not guessed at."""
    flat = tuple(case.settled.flat())
    tail = _after_whole(flat)
    first = next((n for n, s in enumerate(flat) if s.kind in SETS_TONES), None)
    place = None if first is None else first - (len(flat) - len(tail))
    if place is None or place < 0 or case.before.shape != case.alpha.shape:
        return None
    paper = case.drawn.paper
    settled = step if paper is None else step.settle(paper)
    cleared = case.clearing.after(settled, case.before, tail[:place])
    after = _cover(fold(tail[place:], cleared))
    dirt = case.alpha[case.pixels(case.dirt(case.residue))]
    # paper beside a stroke, as dark as the dirt, goes with the dirt and is no ink
    darker = int(np.quantile(dirt, 1 - _OUTLIERS)) + 1
    return _told(case, step, with_step(case.steps, step), after, what, darker)


def _cover(sheet: Sheet) -> Plane:
    """The cover of a sheet, lifted in black where nothing has lifted it."""
    return sheet_cover(sheet if sheet.alpha is not None else fold((Lift(),), sheet))


def _whitening(case: Case) -> Remedy | None:
    tail = _after_whole(tuple(case.settled.flat()))
    place = next((n for n, step in enumerate(tail) if isinstance(step, Tone)), None)
    dirt = case.pixels(case.dirt(case.residue)) & (case.alpha > 0)
    if place is None or not dirt.any() or case.before.shape != case.alpha.shape:
        return None
    seen = grey_plane(fold(tail[:place], case.before))  # what the tone step is given
    white = float(np.floor(np.quantile(seen[dirt], _OUTLIERS) * 255 / full_scale(seen)))
    tone = tail[place]
    assert isinstance(tone, Tone)
    assert isinstance(tone.points, Fixed)
    if not tone.points.black + _WHITES <= white < tone.points.white:
        return None
    moved = replace(tone, points=replace(tone.points, white=white))
    after = _cover(fold((*tail[:place], moved, *tail[place + 1 :]), case.before))
    steps = with_white(case.steps, tone.points.white, white)
    return _told(case, moved, steps, after, f"A white point of {white:.0f}")


def _told(
    case: Case, step: Step, steps: StepList, after: Plane, what: str, least: int = 1,
) -> Remedy | None:
    """The remedy with its figures; ink is what is ``least`` or darker within drawn marks."""
    left = case.judge(after)
    clears = _cleared(case, left)
    if clears <= 0:
        return None
    inside = case.pixels(case.drawn.marks) & (case.alpha >= least)
    ink = int(case.alpha[inside].sum(dtype=np.int64))
    costs = max(1 - int(after[inside].sum(dtype=np.int64)) / ink, 0.0) if ink else 0.0
    return Remedy(step, steps, clears, costs, what)


def _cleared(case: Case, left: Residue) -> float:
    """The share of what is to be cleared that is: of its pixels, or of a region's cells."""
    if case.region is None:
        return 1 - left.area / case.residue.area
    was, now = (int(np.count_nonzero(case.dirt(found))) for found in (case.residue, left))
    return 1 - now / was


def with_step(steps: StepList, step: Step) -> StepList:
    """The list with a step put in before the first that sets tones.

    >>> from core.steps.lift import Lift
    >>> [s.kind for s in with_step(StepList("", (Tone(), Lift())), KeepMarks()).steps]
    ['keep marks', 'tone', 'lift']
    """
    done = _laid_open(steps).steps
    place = next((n for n, s in enumerate(done) if s.kind in SETS_TONES), len(done))
    return replace(steps, steps=(*done[:place], step, *done[place:]))


def with_white(steps: StepList, old: float, new: float) -> StepList:
    """The list with its first tone step's white point moved from ``old`` to ``new``, as settled.

    Points that follow the paper go on following it.

    >>> with_white(StepList("", (Tone(),)), 255, 204).steps[0].points.white
    204.0
    """
    return _with_points(steps, "white", new / old)


def with_black(steps: StepList, old: float, new: float) -> StepList:
    """The same with the black point; a black point of 0 is set as it is."""
    return _with_points(steps, "black", new / old if old else new, from_zero=not old)


def _with_points(steps: StepList, name: str, factor: float, *, from_zero: bool = False) -> StepList:
    done = list(_laid_open(steps).steps)
    for place, step in enumerate(done):
        if isinstance(step, Tone):
            value = round(factor if from_zero else getattr(step.points, name) * factor, 3)
            points: dict[str, Any] = {name: value}
            done[place] = replace(step, points=replace(step.points, **points))
            break
    return replace(steps, steps=tuple(done))


def _laid_open(steps: StepList) -> StepList:
    """The list with the lists in it laid open; itself where it holds none."""
    if not any(isinstance(step, Nested) for step in steps.steps):
        return steps
    return replace(steps, steps=tuple(steps.flat()))


def _after_whole(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    last = max((n for n, step in enumerate(steps) if step.whole), default=-1)
    return steps[last + 1 :]
