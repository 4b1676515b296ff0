"""The page as the press makes it: the glass, the whole view as printed, the trim, the printer."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, Protocol

from PySide6.QtCore import QPointF

from app.bench.background import Line, said
from app.bench.outgoing import Outgoing
from app.bench.proving import Proving
from app.bench.seat import Seat, ask_where
from app.bench.state.glass import ACROSS, TIMES, Glass, is_quick, next_times, under_glass
from app.bench.state.glass import said as glass_said
from app.bench.state.in_colour import is_coloured
from app.bench.state.loading import Loaded
from app.bench.state.picture import Bytes
from app.bench.state.printed import Printed as Made
from app.bench.state.printed import print_view, printed_said
from app.bench.state.printing import nudged, order_for
from app.bench.state.proof import cover_of
from app.bench.state.scale import View
from app.bench.state.sheet import write_pdf, write_sheet
from app.bench.state.standing import Shown
from app.bench.viewing import Viewing
from app.bench.views.glass import GlassView
from app.bench.views.look import tr
from app.bench.views.my_printer import MyPrinter
from app.bench.views.printed import Printed
from app.bench.views.trim_frame import TrimFrame, TrimShown
from app.bench.views.window import Window
from app.pages.renditions import Pdf
from app.pages.whole import telling
from app.proof.press_file import read_press, write_press
from app.proof.prove import Order, trim_at
from app.proof.said import beyond_said, whole_mm
from core.fault import Refused, Watch
from core.press.presses import Press

_STRIPS = "PDF (*.pdf);;TIFF (*.tif)"


class WithProving(Seat, Protocol):
    """A bench that also has the hands that look, prove and write files."""

    viewing: Viewing
    proving: Proving
    out: Outgoing


class Pressing:
    """Shows what the press makes of the page, and keeps the person's own press."""

    def __init__(self, bench: WithProving) -> None:
        self._bench = bench
        page = bench.window.page
        self.trim, self.printed = TrimFrame(page), Printed()
        self.glass = GlassView(page)  # last, for its keys go before those of the trim
        self._times = TIMES[1]
        self._trimmed: tuple[Shown, Order] | None = None
        self._printed_of: Loaded | None = None
        workers = bench.workers
        self._filling = Line(workers, self._fail)
        self._printing = Line(workers, self._fail)
        self._trimming = Line(workers, self._fail)
        self._writing = Line(workers, self._give_up, self._tell)
        self._into = Path()
        self._dialog: MyPrinter | None = None

    @property
    def busy(self) -> bool:
        """Whether something is being made or written."""
        return any(line.busy for line in (
            self._filling, self._printing, self._trimming, self._writing))

    def connect(self, window: Window) -> None:
        """Listen to the glass, the trim, and to what the page shows."""
        window.page.beneath.append(self.printed)
        window.page.overlays += [self.trim, self.printed.words, self.glass]
        self.glass.moved.connect(self._fill)
        self.glass.turned.connect(self._turn)
        self.glass.closed.connect(self._close)
        self.trim.nudged.connect(self._nudge)
        self._bench.engine.drawn.connect(lambda _: self._look_again())
        self._bench.proving.order_changed = self._look_again
        self._read_mine()

    def commands(self) -> dict[str, Callable[[], object]]:
        """Looking as the press does, and what goes to the printer."""
        return {
            "glass": self._toggle, "as printed": self._switch_printed, "trim": self._switch_trim,
            "my printer": self._ask_mine, "test strip": self._ask_strip,
            "proof sheet": self._ask_sheet, "book pdf": self._ask_pdf,
        }

    def _order(self) -> Order | None:
        desk = self._bench.desk
        return None if desk.current is None else order_for(desk.job.now, desk.current)

    def _look_again(self) -> None:
        """The list, the view or the press is another: make anew what is looked at."""
        if self.glass.open:
            self._fill()
        self._print()
        self._find_trim()

    # --- the glass

    def _toggle(self) -> None:
        """Lay the glass where the pointer is, or in the middle of the after side; or take it up."""
        if self.glass.open:
            self._close()
            return
        page = self._bench.window.page
        lay = page.lay
        if lay is None or self._bench.engine.shown is None:
            return
        after = lay.after.center() if not lay.after.isEmpty() else QPointF(page.rect().center())
        self.glass.lay_down(lay.pointer or after)

    def _close(self) -> None:
        self._filling.drop()
        self.glass.take_up()

    def _turn(self, larger: bool) -> None:
        self._times = next_times(self._times, larger=larger)
        self._fill()

    def _fill(self) -> None:
        """Make what lies under the glass: at once, or behind where that takes long."""
        lay, shown, order = self._bench.window.page.lay, self._bench.engine.shown, self._order()
        if lay is None or shown is None or order is None or self.glass.at is None:
            return
        viewing = self._bench.viewing
        glass = Glass(lay.spot(self.glass.at), self._times, round(ACROSS * lay.ratio),
                      viewing.dots_per_mm or viewing.dots_by_system())

        def show(seen: Bytes) -> None:
            words = glass_said(glass, order, coloured=is_coloured(shown))
            self.glass.show_glass(seen, words, lay.ratio)

        if is_quick(shown, order):
            self._filling.drop()
            show(under_glass(shown, order, glass))
        else:
            self._filling.ask_again(lambda _: under_glass(shown, order, glass), show)

    # --- as printed

    def _switch_printed(self) -> None:
        looking = self._bench.desk.looking
        side = "after" if looking.side == "before" else looking.side
        self._bench.viewing.look(replace(looking, printed=not looking.printed, side=side))
        self.printed.on = not looking.printed
        self._print()
        self._bench.window.page.update()

    def _print(self) -> None:
        """Have what is seen of the after side made as the press would make it."""
        page, shown, order = self._bench.window.page, self._bench.engine.shown, self._order()
        view, lay = self._bench.desk.looking.view, page.lay
        if not self.printed.on or shown is None or order is None or view is None or lay is None:
            return
        if view.page != shown.sheet.shape[::-1]:
            return
        if self._printed_of is not self._bench.engine.page:
            self._printed_of = self._bench.engine.page
            self.printed.drop()
        left, each = round(lay.after.left() * lay.ratio), self._bench.workers.each
        self.printed.words.show_words(*printed_said(order, coloured=is_coloured(shown)))
        self._printing.ask(lambda _: print_view(shown, order, view, left, each),
                           lambda made: self._take_printed(view, made))

    def _take_printed(self, view: View, made: Made) -> None:
        self.printed.show_printed(view, made.place, made.seen)
        self._bench.window.page.update()

    # --- the trim

    def _switch_trim(self) -> None:
        looking = self._bench.desk.looking
        self._bench.viewing.look(replace(looking, trim=not looking.trim))
        self.trim.on = not looking.trim
        self._bench.window.page.setFocus()
        self._find_trim()
        self._bench.window.page.update()

    def _find_trim(self) -> None:
        """Find where the page is cut, and the ink there; the list may have moved it."""
        engine, order = self._bench.engine, self._order()
        shown = engine.shown
        if not self.trim.on or shown is None or order is None or not engine.true:
            return
        if self._trimmed is not None and self._trimmed[0] is shown and self._trimmed[1] == order:
            return
        self._trimmed = shown, order
        if order.trim is None:
            height, width = shown.sheet.shape
            self.trim.show_trim(TrimShown((width, height), shown.sheet.ppi, words=tr(
                "not trimmed: choose how in Proof, Press, size, form and trim")))
            return
        self._trimming.ask(lambda _: _trim_shown(shown, order), self.trim.show_trim)

    def _nudge(self, across: float, down: float) -> None:
        desk, page = self._bench.desk, self._bench.desk.page
        if page is None or desk.current is None:
            return
        printing = desk.job.now.printing_of(page)
        if printing.trim is not None:
            left = desk.job.now.naming.side(desk.current) == "left"
            rule = nudged(printing.trim, across, down, left_page=left)
            self._bench.proving.print_as(replace(printing, trim=rule), page.size is not None)

    # --- the printer

    def _read_mine(self) -> None:
        path = self._bench.places.press
        if path.exists():
            try:
                self._bench.proving.mine = read_press(path)
            except Refused as refused:
                self._bench.window.notice.show_said(said(refused))

    def _ask_mine(self) -> None:
        desk = self._bench.desk
        press = self._bench.proving.mine or (
            desk.job.now.printing.in_hand if desk.page is not None else Press())
        self._dialog = MyPrinter(press, self._bench.window)
        self._dialog.read.connect(self.keep_mine)
        self._dialog.asked.connect(self._bench.window.asked)
        self._dialog.open()

    def keep_mine(self, press: Press) -> None:
        """Keep a press that was read off a strip, and print the book on it."""
        bench = self._bench
        try:
            with telling(bench.places.press):
                bench.places.press.parent.mkdir(parents=True, exist_ok=True)
            write_press(bench.places.press, press)
        except Refused as refused:
            bench.window.notice.show_said(said(refused))
        bench.proving.mine = press
        page = bench.desk.page
        if page is not None:
            printing = bench.desk.job.now.printing_of(page)
            bench.proving.print_as(replace(printing, own=press), page.size is not None)

    def _ask_strip(self) -> None:
        path = self._ask_file(tr("Write a test strip"), "test strip.pdf", tr(_STRIPS))
        if path is not None:
            order = self._order()
            pdf = Pdf() if order is None else Pdf(gain=order.press.gain)
            self._write(path, lambda _: _write_strip(path, pdf), lambda _: self._say_written(path))

    def _ask_sheet(self) -> None:
        path = self._ask_file(tr("Write a proof sheet"), "proof sheet.html", "HTML (*.html)")
        if path is not None:
            self.write_sheet(path)

    def write_sheet(self, path: Path) -> None:
        """Prove all pages and write the sheet."""
        job, each = self._bench.desk.job.now, self._bench.workers.each
        day = date.today().isoformat()  # noqa: DTZ011 - the day on the desk's own calendar

        def written(made: tuple[int, tuple[str, ...]]) -> None:
            count, faults = made
            self._say_written(path, f"{count} {tr('of')} {len(job.pages)} {tr('pages')}", *faults)

        self._write(path, lambda watch: write_sheet(job, path, day, each, watch), written)

    def _ask_pdf(self) -> None:
        path = self._ask_file(tr("Write all pages as one PDF"), "book.pdf", "PDF (*.pdf)")
        if path is not None:
            self.write_pdf(path)

    def write_pdf(self, path: Path) -> None:
        """Write all pages of the job as one PDF for the press."""
        job, each = self._bench.desk.job.now, self._bench.workers.each
        self._write(path, lambda watch: write_pdf(job, path, each, watch),
                    lambda count: self._say_written(path, f"{count} {tr('pages')}"))

    def _ask_file(self, title: str, name: str, kinds: str) -> Path | None:
        if not self._bench.out.free:
            return None
        return ask_where(self._bench, title, name, kinds)

    def _write(
        self, path: Path, work: Callable[[Watch], Any], taken: Callable[[Any], None],
    ) -> None:
        if not self._bench.out.free:
            return
        self._bench.window.notice.hide()  # what was written before is past
        self._into = path

        def ended(answer: Any) -> None:
            self._bench.out.rest()
            taken(answer)

        self._tell(0, 1)
        self._writing.ask(work, ended)

    def _tell(self, done: int, total: int) -> None:
        self._bench.out.work(tr("Proving and writing"), done, total, self._stop)

    def _stop(self) -> None:
        self._writing.drop()
        self._bench.out.rest()
        self._bench.window.notice.show_said(tr("Stopped; nothing was written."))

    def _say_written(self, path: Path, *more: str) -> None:
        lines = [f"{path.name} {tr('is written')}.", *more]
        self._bench.window.notice.show_said("\n".join(lines))

    def _give_up(self, error: Exception) -> None:
        """What should have been written is not, or is as it was."""
        self._bench.out.rest()
        self._bench.window.notice.show_said(
            f"{self._into.name} {tr('was not written')}.\n{said(error)}", stays=True)

    def _fail(self, error: Exception) -> None:
        self._bench.window.notice.show_said(said(error))


def _write_strip(path: Path, pdf: Pdf) -> None:
    from app.proof.strip import write_strip  # noqa: PLC0415 - it takes 100 ms to load

    write_strip(path, pdf)


def _trim_shown(shown: Shown, order: Order) -> TrimShown:
    """The trim of a page as it is shown, and the ink at it."""
    height, width = shown.sheet.shape
    size = order.size_of((height, width), shown.sheet.ppi)
    trimmed, crossings = trim_at(cover_of(shown), size, order)
    frame = None if trimmed is None else trimmed.frame
    short = [f"{one.side} {whole_mm(size.scale * one.stops)}" for one in crossings if one.stops]
    words = [f"ink stops short of the bleed: {', '.join(short)}"] if short else []
    if frame is not None and (beyond := beyond_said(frame, size)):
        words.append(beyond)
    if trimmed is not None and frame is None:
        words = [f"the trim is not placed: {trimmed.why}"]
    return TrimShown((width, height), shown.sheet.ppi, frame, order.bleed / size.scale,
                     crossings, "; ".join(words))
