"""From a page and its list to pixels: what is done at once, what in the background, in order."""

from dataclasses import dataclass

from PySide6.QtCore import QObject, Signal

from app.bench.background import Line, Workers
from app.bench.state.job import Source
from app.bench.state.loading import Loaded, load
from app.bench.state.picture import Ground, Pixels, Place, view_clipped, watched
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
from app.bench.views.page import Frame
from app.suggest import suggest
from core.fault import Watch
from core.sheet import Sheet
from core.steps.step import Step

_MOST_HELD = 1 << 29  # bytes of pages held before a step, beside the one in hand


@dataclass(frozen=True, eq=False)
class _Drawn:
    """The before side as it was drawn last, to be used again while only the after side moves."""

    sheet: Sheet
    place: Place
    pixels: Pixels


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
        self._before: _Drawn | None = None
        self._clipping = False
        self._exact = True
        self._done = True  # whether the list in hand could be done
        self._loading = Line(workers, self._fail, self._tell("reading the page"))
        self._standing = Line(workers, self._fail, self._tell("working the page through"))
        self._full = Line(workers, self._fail, self._tell("not yet exact"))
        self._frames = Line(workers, self._fail)
        self._proposing = Line(workers, self._fail)

    def _tell(self, what: str) -> Watch:
        def tell(done: int, total: int) -> None:
            self.state.emit(f"{what}, {100 * done // max(total, 1)} %")

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
        self._awaited = None
        for line in (self._loading, self._standing, self._full, self._frames, self._proposing):
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
        """Read the page and propose a list for it."""
        page = self.page
        assert page is not None
        each = self._workers.each
        self._proposing.ask(
            lambda _: suggest(page.sheet, name, each),
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
            self._stand(self.page, before)

    def _stand(self, page: Loaded, before: tuple[Step, ...]) -> None:
        each = self._workers.each
        self._awaited = before
        self.state.emit("working the page through")
        self._full.drop()
        self._standing.ask(
            lambda watch: stand(page.sheet, before, each, watch),
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
        shown = show_now(standing, self._steps)
        if fresh or not moving:
            self.stood.emit()
        if shown is not None:
            self._take_shown(shown)
        if (shown is None or not shown.exact) and not moving:
            steps, page, each = self._steps, self.page, self._workers.each
            self.state.emit("not yet exact")
            self._full.ask(
                lambda watch: show_fully(standing, steps, page.sheet, each, watch),
                self._take_shown,
            )
        elif not moving:
            self._full.drop()

    def _take_shown(self, shown: Shown) -> None:
        old = self.shown
        self.shown = shown
        if old is None or old.sheet.shape != shown.sheet.shape:
            height, width = shown.sheet.shape
            self.sized.emit(width, height)
        self.draw()

    def look(self, view: View | None, ground: Ground) -> None:
        """Where the page lies on the screen, and what lies beneath its ink."""
        self._place = None if view is None else (view, ground)
        self.draw()

    def show_clipping(self, *, on: bool) -> None:
        """What the points cut off, in place of the line art."""
        self._clipping = on
        self.draw()

    def draw(self) -> None:
        """Have a frame made of what is shown, where it is looked at."""
        shown, standing = self.shown, self.standing
        if shown is None or standing is None or self._place is None:
            return
        (view, ground), clipping = self._place, self._clipping
        if view.page != (shown.sheet.shape[1], shown.sheet.shape[0]) or not view.seen.width:
            return
        assert self.page is not None
        plain = Shown(before_side(self.page.sheet, standing, shown), ())
        place, known = Place(view.scale, view.seen), self._before

        def work(watch: Watch) -> tuple[Frame, _Drawn]:
            each = watched(self._workers.each, watch)
            before = known
            if before is None or before.sheet is not plain.sheet or before.place != place:
                before = _Drawn(plain.sheet, place, plain.draw_plain(place, each))
            after = (
                view_clipped(shown.one, place, each) if clipping and shown.one is not None
                else shown.draw(ground, place, each)
            )
            return Frame(view, before.pixels, after, shown.exact), before

        def taken(made: tuple[Frame, _Drawn]) -> None:
            self._take_frame(*made, shown)

        if shown.quick:
            self._frames.ask_again(work, taken)
        else:
            self.state.emit("not yet exact")
            self._frames.ask(work, taken)

    def _take_frame(self, frame: Frame, before: _Drawn, shown: Shown) -> None:
        self._before = before
        self.drawn.emit(frame)
        self._exact = shown.exact and shown is self.shown
        if not self._busy():
            self._say_state()

    def _say_state(self) -> None:
        """What is not so about the picture, once nothing is under way."""
        if not self._done and self.shown is not None:
            self.state.emit("the list cannot be done on this page: this is an older picture")
        else:
            self.state.emit(
                "" if self._exact else "shown up to the step that needs the whole page")

    def _busy(self) -> bool:
        return any(line.busy for line in (self._loading, self._standing, self._full))

    @property
    def quick(self) -> bool:
        """Whether a frame is on its way that takes no longer than a blink."""
        return self.shown is not None and self.shown.quick and self._frames.busy

    @property
    def idle(self) -> bool:
        """Whether all that was asked for has been shown."""
        return not (self._busy() or self._frames.busy or self._proposing.busy)


def _within(kept: list[tuple[Source, Standing]]) -> list[tuple[Source, Standing]]:
    """The newest of them, as many as may be held; always the first two."""
    held = 0
    for number, (_, standing) in enumerate(kept):
        sheet = standing.sheet
        planes = (sheet.grey, sheet.colour, sheet.alpha, standing.grey)
        held += sum(plane.nbytes for plane in planes if plane is not None)
        if held > _MOST_HELD and number >= 2:
            return kept[:number]
    return kept
