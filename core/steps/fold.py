"""Folding a step list over a page: tables fused, bands where the steps allow it."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby

import numpy as np

from core.fault import Watch, unwatched
from core.readings import grey_plane, survey
from core.sheet import Bands, Each, Paper, Sheet, plane_type, whole
from core.steps.step import Step
from core.steps.steplist import StepList
from core.tone import Table, apply_table, complement, compose


def fold(steps: Iterable[Step], sheet: Sheet) -> Sheet:
    """The sheet after settled steps; runs of table steps cost one pass. Never changes its input.

    >>> from core.steps.lift import Lift
    >>> from core.steps.tone import Fixed, Tone
    >>> page = Sheet(ppi=300, grey=np.array([[0, 100, 200]], np.uint8))
    >>> fold([Tone(points=Fixed(black=0, white=200)), Lift()], page).alpha.tolist()
    [[255, 127, 0]]
    """
    for is_table, run in groupby(steps, _has_table):
        if is_table:
            sheet = _apply_tables(tuple(run), sheet)
        else:
            for step in run:
                sheet = step.apply(sheet)
    return sheet


@lru_cache(maxsize=256)
def _has_table(step: Step) -> bool:
    return step.table(255) is not None


def _apply_tables(steps: tuple[Step, ...], sheet: Sheet) -> Sheet:
    lifted = sheet.alpha is not None
    table = fuse(steps, sheet.full, lifted=lifted)
    inks = [step.lifts_in for step in steps if step.lifts_in is not None]
    if not lifted and not inks:
        return replace(sheet, grey=apply_table(table, grey_plane(sheet)))
    alpha = apply_table(table, grey_plane(sheet) if sheet.alpha is None else sheet.alpha)
    if not inks:
        return replace(sheet, alpha=alpha)
    return replace(sheet, grey=None, colour=None, alpha=alpha, ink=inks[-1], held=None)


@lru_cache(maxsize=32)
def fuse(steps: tuple[Step, ...], full: int, *, lifted: bool) -> Table:
    """One table for consecutive table steps, byte for byte what they give in turn.

    ``lifted`` says whether the plane that it will be applied to is alpha already.
    """
    tables: list[Table] = [np.arange(full + 1, dtype=plane_type(full))]
    for step in steps:
        table = step.table(full)
        assert table is not None
        if step.lifts_in is None:
            tables.append(complement(table) if lifted else table)
        elif not lifted:
            tables.append(table)
            lifted = True
    return compose(*tables)


@dataclass(frozen=True, eq=False)
class Folded:
    """A page seen through settled steps that need no neighbours, band by band."""

    page: Bands
    steps: tuple[Step, ...]

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width in pixels."""
        return self.page.shape

    def rows(self, top: int, bottom: int) -> Sheet:
        """The band of rows from ``top`` up to, not including, ``bottom``, after the steps."""
        return fold(self.steps, self.page.rows(top, bottom))


@dataclass(frozen=True, eq=False)
class Replayed:
    """A page after a list, and the list as it was settled for this page.

    ``before`` is the page after the last step that needed it whole, so it has the result's
    own shape and the tones that were set; ``page`` gives the result by bands.
    """

    page: Bands
    before: Bands
    settled: StepList


def replay(
    steps: StepList, page: Bands, each: Each = map, watch: Watch = unwatched,
) -> Replayed:
    """Fold a list over a page; Refused where a step cannot be done on it.

    Steps up to the last whole-page step are done at once, the others whenever a band is
    asked for. Steps that follow the page's paper are settled on the way: the paper is
    measured once, just before the first of them, and mapped along by the steps between.
    """
    before: Bands = page
    pending: tuple[Step, ...] = ()
    paper: Paper | None = None
    settled: list[Step] = []
    cleared = _Cleared(any(step.restores for step in steps.flat()))
    for step in steps.flat():
        if step.needs_paper and paper is None:
            paper = survey(_through(before, pending), each, watch).paper()
        done = step if paper is None else step.settle(paper)
        if done.whole:
            here = whole(_through(before, pending), each, watch)
            done = done.fitted(here)
            before, pending = cleared.applied(done, here), ()
        else:
            pending = (*pending, done)
        cleared.note(done)
        paper = None if paper is None else done.after(paper)
        settled.append(done)
    return Replayed(_through(before, pending), before, StepList(steps.name, tuple(settled)))


class _Cleared:
    """The page before anything was taken off it, kept only if a later step may ask for it."""

    def __init__(self, wanted: bool) -> None:
        self._wanted = wanted
        self._page: Sheet | None = None
        self._since: list[Step] = []

    def applied(self, step: Step, sheet: Sheet) -> Sheet:
        """The sheet after the step."""
        if step.restores and self._page is not None:
            self._page, self._since = fold(self._since, self._page), []
            return step.restore(sheet, self._page)
        if step.clears and self._wanted and self._page is None:
            self._page = sheet
        return step.apply(sheet)

    def note(self, step: Step) -> None:
        """Whatever does not clear will be done to the kept page too, once it is asked for."""
        if self._page is not None and not (step.clears or step.restores):
            self._since.append(step)


def _through(page: Bands, steps: tuple[Step, ...]) -> Bands:
    return Folded(page, steps) if steps else page
