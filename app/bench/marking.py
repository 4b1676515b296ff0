"""The mark under the pointer is shown before it is coloured, taken out or let stand."""

from collections.abc import Callable, Mapping
from typing import Protocol

from PySide6.QtGui import QColor

from app.bench.background import Line, said
from app.bench.colouring import Colouring
from app.bench.pressing import Pressing
from app.bench.seat import Seat
from app.bench.setting import Setting
from app.bench.state.marks import Marks, MarkSeen, marks_before
from app.bench.state.placing import Spot
from app.bench.state.scale import View
from app.bench.views.mark_shown import MarkShown
from app.bench.views.window import Window
from app.filters.holds import Hold
from core.fault import Watch

Key = tuple[object, ...]


class WithTools(Seat, Protocol):
    """A bench that also has the hands whose tools click on marks."""

    setting: Setting
    pressing: Pressing
    colouring: Colouring


class Marking:
    """Finds marks off the screen's thread, while a tool is in hand that clicks on them."""

    def __init__(self, bench: WithTools) -> None:
        self._bench = bench
        self._shown = MarkShown(self._point)
        self._making = Line(bench.workers, self._fail)
        self._finding = Line(bench.workers, self._fail)
        self._key: Key | None = None
        self._marks: Marks | None = None
        self._at: tuple[Spot, View] | None = None

    @property
    def busy(self) -> bool:
        """Whether marks are being looked for."""
        return self._making.busy or self._finding.busy

    def connect(self, window: Window) -> None:
        """Lie over the page; have clicks that mean no mark told from others."""
        window.page.overlays.append(self._shown)
        self._bench.setting.misses = self._bench.colouring.misses = self._misses

    def commands(self) -> Mapping[str, Callable[[], object]]:
        """It has none: the tools are those of other hands."""
        return {}

    def _ground(self) -> tuple[Key, Callable[[Watch], Marks]] | None:
        """What tells pages of marks apart, and how they are found; None where none is asked for."""
        page, each = self._bench.engine.page, self._bench.workers.each
        seen, colouring = self._bench.engine.shown, self._bench.colouring
        if page is None or seen is None or self._bench.pressing.glass.open:
            return None
        if colouring.picks_marks and self._bench.engine.true:
            sheet, rest = seen.sheet, seen.rest
            return (seen,), lambda watch: marks_before(
                sheet, (*rest, Hold()), len(rest), each, watch)
        step = self._bench.setting.picks_mark_for
        if step is None:
            return None
        steps, number = step
        return (page, steps[:number], type(steps[number])), lambda watch: marks_before(
            page.sheet, steps, number, each, watch)

    def _point(self, spot: Spot, view: View) -> None:
        """The pointer is on a spot of the page."""
        ground = self._ground()
        if ground is None:
            self._key = self._marks = self._at = None
            self._shown.show_mark(None)
            return
        key, make = ground
        if key != self._key:
            self._key, self._marks, self._at = key, None, None
            self._shown.show_mark(None)
            self._making.ask(make, self._take)
        elif self._marks is not None and self._at != (spot, view):
            self._at, marks = (spot, view), self._marks
            self._finding.ask_again(lambda _: marks.seen(spot, view), self._show)

    def _take(self, marks: Marks) -> None:
        self._marks = marks
        self._bench.window.page.update()

    def _show(self, seen: MarkSeen | None) -> None:
        colour = self._bench.colouring.mark_colour
        name = "" if colour is None else QColor(*colour).name()
        self._shown.show_mark(
            seen, name, missed=seen is None and self._marks is not None)
        self._bench.window.page.update()

    def _misses(self, spot: Spot) -> bool:
        """Whether it is known that no mark lies there."""
        ground = self._ground()
        known = ground is not None and ground[0] == self._key and self._marks is not None
        return known and self._marks is not None and self._marks.near(spot) is None

    def _fail(self, error: Exception) -> None:
        self._bench.window.notice.show_said(said(error))
