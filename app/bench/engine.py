"""From a page and its list to pixels: what is done at once, what in the background, in order."""

import numpy as np
from PySide6.QtCore import QObject, Signal

from app.bench.background import Line, Workers
from app.bench.framing import SMALL, Drawn, Wanted, drawn_in_part, recoloured
from app.bench.state.job import Source
from app.bench.state.layered import Layer, watched
from app.bench.state.loading import Loaded, load
from app.bench.state.picture import Ground, Place
from app.bench.state.recolour import Worked
from app.bench.state.scale import View
from app.bench.state.standing import (
    Shown,
    Standing,
    before_side,
    show_fully,
    show_now,
    stand,
    standing_index,
)
from app.bench.state.tally import MOST_BLOCK, Tally, count_blocks
from app.bench.views.page import Frame
from app.suggest import suggest
from core.fault import Watch
from core.sheet import Plane, Sheet
from core.steps.step import Step
from core.steps.steplist import StepList

_MOST_HELD = 1 << 29  # bytes of pages held before a step, beside the one in hand
_AT_ONCE = 2e6  # page pixels under a view that are toned within a few milliseconds
_SHORT = 4e6  # page pixels under a view that are folded within a tenth of a second
_TALLIED = 8e6  # page pixels under a view from which it pays to count them ahead


class Engine(QObject):
    """Holds the page on the bench. Reports what it has found out, and frames.

    ``sized`` is the page's width and height under its list; ``proposed`` a suggestion for
    the page; ``stood`` that there are tones to show; ``drawn`` a frame; ``state`` what is
    not yet so about the picture, in words; ``failed`` a page and an error.
    """

    loaded = Signal(object)
    proposed = Signal(object, object)
    stood = Signal()
    sized = Signal(int, int)
    drawn = Signal(object)
    state = Signal(str)
    failed = Signal(object, object)

    def __init__(self, workers: Workers) -> None:
        super().__init__()
        self._workers = workers
        self._source: Source | None = None
        self.page: Loaded | None = None
        self.standing: Standing | None = None
        self.shown: Shown | None = None
        self._steps: tuple[Step, ...] | None = None
        self._chosen: int | None = None
        self._kept: list[tuple[Source, Standing]] = []
        self._awaited: tuple[Step, ...] | None = None
        self._place: tuple[View, Ground] | None = None
        self._before: Drawn | None = None
        self._asked: Wanted | None = None
        self._sized: tuple[int, int] | None = None
        self._to_propose: str | None = None
        self._worked: Worked | None = None
        self._latest: tuple[Wanted, Frame] | None = None
        self._clipping = False
        self._layer: Layer = "all"
        self._handled: Plane | None = None  # what the tables of a drag are laid on
        self._tally: Tally | None = None
        self._counted: tuple[Plane, int] | None = None
        self._exact = True
        self._done = True  # whether the list in hand could be done
        self._loading = Line(workers, self._fail, self._tell("reading the page"))
        self._standing = Line(workers, self._fail, self._tell("working the page through"))
        self._full = Line(workers, self._fail, self._tell("not yet exact"))
        self._frames = Line(workers, self._fail)
        self._proposing = Line(workers, self._fail)
        self._counting = Line(workers, self._fail)

    @property
    def _lines(self) -> tuple[Line, ...]:
        return (self._loading, self._standing, self._full, self._frames, self._proposing,
                self._counting)

    def _tell(self, what: str) -> Watch:
        def tell(done: int, total: int) -> None:  # of steps that look at the page whole it has none
            self.state.emit(f"{what}, {100 * done // total} %" if done < total else what)

        return tell

    def _fail(self, error: Exception) -> None:
        self._awaited = None
        self._done = False
        self._say_state()
        self.failed.emit(self._source, error)

    def turn_to(self, source: Source | None) -> None:
        """Put another page on the bench."""
        if source == self._source:
            return
        self._source = source
        self.page = self.standing = self.shown = self._steps = self._before = None
        self._awaited = self._handled = self._tally = self._counted = None
        self._sized = self._to_propose = self._worked = self._latest = None
        for line in self._lines:
            line.drop()
        if source is None:
            return
        self.state.emit("reading the page")
        each = self._workers.each
        self._loading.ask(lambda watch: load(source, each, watch), self._take_page)

    def _take_page(self, page: Loaded) -> None:
        self.page = page
        self.loaded.emit(page)

    def propose(self, name: str) -> None:
        """Read the page and propose a list for it, once the page itself has been shown."""
        self._to_propose = name
        if self._before is not None or not self._frames.busy:
            self._propose_now()

    def _propose_now(self) -> None:
        name, page, each = self._to_propose, self.page, self._workers.each
        if name is None or page is None:
            return
        self._to_propose = None
        self._proposing.ask(
            lambda watch: suggest(page.sheet, name, watched(each, watch)),
            lambda made: self.proposed.emit(page.source, made),
        )

    def set_steps(
        self, steps: tuple[Step, ...], chosen: int | None, *, moving: bool = False,
    ) -> None:
        """Show what these steps make of the page; while something is ``moving``, only at once."""
        if self.page is None:
            return
        self._steps, self._chosen, self._done = steps, chosen, True
        before = steps[: standing_index(steps, chosen)]
        key = self.page.source
        found = [kept for source, kept in self._kept if (source, kept.before) == (key, before)]
        if found:
            self._awaited = None
            self._standing.drop()
            self._show(found[0], moving=moving)
        elif before != self._awaited:
            if self.shown is None and self._lies_as_scanned():
                self._size(self.page.sheet)
            self._stand(self.page, before)

    def _stand(self, page: Loaded, before: tuple[Step, ...]) -> None:
        each = self._workers.each
        known = next((kept for source, kept in self._kept if source == page.source), None)
        self._awaited = before
        self.state.emit("working the page through")
        self._full.drop()
        self._standing.ask(
            lambda watch: stand(page.sheet, before, each, watch, known=known),
            lambda standing: self._take_standing(page.source, standing))

    def _take_standing(self, source: Source, standing: Standing) -> None:
        self._awaited = None
        self._kept = _within([(source, standing), *self._kept])
        self._show(standing, moving=False)

    def _show(self, standing: Standing, *, moving: bool) -> None:
        assert self._steps is not None
        assert self.page is not None
        fresh = standing is not self.standing
        self.standing = standing
        again = None if self._worked is None or moving else self._worked.repainted(self._steps)
        if again is not None:
            self.stood.emit()
            self._full.drop()
            self._repaint(again)
            return
        shown = show_now(standing, self._steps)
        if fresh or not moving:
            self.stood.emit()
        if shown is not None:
            self._handled = None if shown.one is None else shown.one.plane
        whole_now = self.shown is not None and self.shown.exact and not fresh
        if shown is not None and (moving or shown.exact or not whole_now):
            self._take_shown(shown)
        if (shown is None or not shown.exact) and not moving:
            steps, page, each = self._steps, self.page, self._workers.each
            self.state.emit("not yet exact")
            self._full.ask(
                lambda watch: show_fully(standing, steps, page.sheet, each, watch),
                lambda shown: self._take_worked(Worked(steps, shown)),
            )
        elif not moving:
            self._full.drop()

    def _repaint(self, worked: Worked) -> None:
        """Other colours: where much is seen, a frame made of the last one may go before."""
        self._worked, self.shown = worked, worked.shown
        wanted, latest, each = self._wanted(), self._latest, self._workers.each
        if wanted is None or latest is None or wanted.place.under <= _AT_ONCE or (
            not wanted.recolours(latest[0])
        ):
            self._take_shown(worked.shown)
            return
        old, frame = latest

        def first(_: Watch) -> Frame | None:
            return None if old.shown is None else (
                drawn_in_part(frame, old.shown, worked.shown, wanted, each, most=SMALL)
                or recoloured(frame, old.shown, worked.shown, wanted, each))

        def exact(_: Watch) -> Frame | None:
            return None if old.shown is None else drawn_in_part(
                frame, old.shown, worked.shown, wanted, each)

        def taken(made: Frame | None) -> None:
            if made is not None:
                self._latest = wanted, made
            if made is None or self._before is None:
                self.draw()
            elif made.exact:
                self._take_frame(made, self._before, wanted.shown)
            else:
                self.drawn.emit(made)
                self._frames.ask(exact, taken)

        self._frames.ask(first, taken)

    def _take_worked(self, worked: Worked) -> None:
        self._worked = worked
        self._take_shown(worked.shown)

    def _take_shown(self, shown: Shown) -> None:
        self.shown = shown
        self._size(shown.sheet)

    def _size(self, sheet: Sheet) -> None:
        """Say how large the page is now, if it was not so before, and draw it."""
        if self._sized != sheet.shape:
            self._sized = sheet.shape
            self.sized.emit(sheet.shape[1], sheet.shape[0])
        self.draw()

    def look(self, view: View | None, ground: Ground) -> None:
        """Where the page lies on the screen, and what lies beneath its ink."""
        self._place = None if view is None else (view, ground)
        self.draw()

    def show_clipping(self, *, on: bool) -> None:
        """What the points cut off, in place of the line art."""
        self._clipping = on
        self.draw()

    def show_layer(self, layer: Layer) -> None:
        """Everything, the lines alone, or the flats alone."""
        if layer != self._layer:
            self._layer = layer
            self.draw()

    def draw(self) -> None:
        """Have a frame made of what is shown, where it is looked at."""
        wanted = self._wanted()
        if wanted is None or (self._frames.busy and wanted.same_as(self._asked)):
            return
        if not wanted.quick and self._latest is not None and self._latest[1].exact and (
            wanted.same_as(self._latest[0])
        ):
            return
        self._asked, known, tally = wanted, self._before, self._tally
        if known is not None and (known.sheet is not wanted.plain or known.place != wanted.place):
            known = None
        here = wanted.quick and known is not None and wanted.place.under <= _AT_ONCE

        def work(watch: Watch) -> tuple[Frame, Drawn]:
            return wanted.made(known, tally, map if here else watched(self._workers.each, watch))

        def taken(made: tuple[Frame, Drawn]) -> None:
            self._latest = wanted, made[0]
            self._take_frame(*made, wanted.shown)

        if not wanted.quick:
            self.state.emit("not yet exact")
        if wanted.quick or wanted.place.under <= _SHORT:
            self._frames.ask_again(work, taken, here=here)
        else:
            self._frames.ask(work, taken)

    def _wanted(self) -> Wanted | None:
        """The frame that is due: the scan alone until there is something to show of its list."""
        page, shown, standing = self.page, self.shown, self.standing
        if page is None or self._place is None:
            return None
        if shown is not None and standing is not None:
            plain, sheet = before_side(page.sheet, standing, shown), shown.sheet
        elif self._lies_as_scanned():
            plain = sheet = page.sheet
        else:
            return None
        view, ground = self._place
        if view.page != (sheet.shape[1], sheet.shape[0]) or not view.seen.width:
            return None
        return Wanted(plain, shown, view, ground, self._layer, self._clipping)

    def _lies_as_scanned(self) -> bool:
        steps = StepList("", self._steps or ())
        return all(step.in_place for step in steps.flat())

    def _take_frame(self, frame: Frame, before: Drawn, shown: Shown | None) -> None:
        self._before = before
        self.drawn.emit(frame)
        self._exact = shown is not None and shown.exact and shown is self.shown
        if not self._busy():
            self._say_state()
        self._propose_now()
        self._count(before.place)

    def _count(self, place: Place) -> None:
        """Count what is dragged by the blocks of this view, where reading it takes long."""
        plane, block = self._handled, place.scale.block
        if plane is None or plane.dtype != np.uint8 or place.under < _TALLIED:
            return
        if not 1 < block <= MOST_BLOCK or self._busy() or self._proposing.busy:
            return
        if self._counted is None or self._counted[0] is not plane or self._counted[1] != block:
            self._counted, each = (plane, block), self._workers.each
            self._counting.ask(
                lambda watch: count_blocks(plane, block, each, watch), self._take_tally)

    def _take_tally(self, tally: Tally | None) -> None:
        self._tally = tally

    def _say_state(self) -> None:
        """What is not so about the picture, once nothing is under way."""
        if not self._done:
            what = "the scan" if self.shown is None else "an older picture"
            self.state.emit(f"the list cannot be done on this page: this is {what}")
        else:
            self.state.emit(
                "" if self._exact else "shown up to the step that needs the whole page")

    @property
    def true(self) -> bool:
        """Whether what is shown is all that the list in hand makes of the page."""
        whole = self.shown is not None and self.shown.exact
        return self._done and whole and not self._busy()

    def _busy(self) -> bool:
        return any(line.busy for line in (self._loading, self._standing, self._full))

    @property
    def quick(self) -> bool:
        """Whether a frame is on its way that takes no longer than a blink."""
        shown = self.shown
        return shown is not None and shown.table(self._layer) is not None and self._frames.busy

    @property
    def idle(self) -> bool:
        """Whether all that was asked for has been shown."""
        return self._to_propose is None and not any(line.busy for line in self._lines)


def _within(kept: list[tuple[Source, Standing]]) -> list[tuple[Source, Standing]]:
    """The newest of them, as many as may be held; always the first two.

    Planes that several share, as the scan turned, are held once.
    """
    held: dict[int, int] = {}
    for number, (_, standing) in enumerate(kept):
        laid = None if standing.lain is None else standing.lain.sheet
        sheets = [standing.sheet, standing.scan, laid]
        planes = [standing.grey, *(plane for sheet in sheets if sheet is not None
                                   for plane in (sheet.grey, sheet.colour, sheet.alpha))]
        held |= {id(plane): plane.nbytes for plane in planes if plane is not None}
        if sum(held.values()) > _MOST_HELD and number >= 2:
            return kept[:number]
    return kept
