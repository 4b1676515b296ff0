"""What goes out of the bench: renditions, and the work that goes on meanwhile."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QUrl
from PySide6.QtGui import QDesktopServices

from app.bench.background import Line, said
from app.bench.seat import Seat, home_of
from app.bench.showing import steps_of
from app.bench.state.exporting import (
    PAGE_PARTS,
    Export,
    Exported,
    find_taken,
    noted,
    plan_export,
    run_export,
    written_as,
)
from app.bench.state.job import is_set, name_of, source_of, with_steps
from app.bench.state.saying import told
from app.bench.views.dialogs import ExportDialog, TakenDialog
from app.bench.views.look import tr
from app.bench.views.window import Window
from app.replay.book import Planned
from app.replay.job import JobPage
from core.fault import Cancelled, Watch


class Outgoing:
    """Exports pages; says what may be done about what happened, and what is being written."""

    def __init__(self, bench: Seat) -> None:
        self._bench = bench
        self._exporting = Line(bench.workers, self._fail, self._show_progress)
        self._dialog: ExportDialog | None = None
        self._taken: TakenDialog | None = None
        self._halt: Callable[[], None] | None = None
        self._stopped = False

    @property
    def busy(self) -> bool:
        """Whether files are being written."""
        return self._exporting.busy

    def connect(self, window: Window) -> None:
        """Listen to what stops the work that goes on."""
        window.work.stopped.connect(self._stop_work)

    def commands(self) -> dict[str, Callable[[], None]]:
        """Its one command."""
        return {"export": self._ask_export}

    def _ask_export(self) -> None:
        desk = self._bench.desk
        if desk.page is None or desk.current is None or not self.free:
            return
        every = tuple(range(len(desk.job.now.pages)))
        choices: list[tuple[str, tuple[int, ...]]] = [
            (f"{tr('This page')}: {name_of(desk.page)}", (desk.current,))]
        if len(desk.chosen) > 1:
            choices.append((f"{tr('The chosen pages')} ({len(desk.chosen)})",
                            tuple(sorted(desk.chosen))))
        if len(every) > 1:
            choices.append((f"{tr('All pages')} ({len(every)})", every))
        self._dialog = ExportDialog(
            tuple(choices), self._folder(desk.page), self._bench.window, desk.job.now.renditions)
        self._dialog.asked.connect(self.export)
        self._dialog.open()

    def _folder(self, page: JobPage) -> Path:
        """Where the job was exported last; else beside the scans: each book has its own."""
        return home_of(page) / self._bench.desk.job.now.into

    def export(self, wanted: Export) -> None:
        """Write pages out in the background; what is finished stands if it is stopped.

        The person is asked first where files would be replaced that no export left there.
        """
        if not self.free:
            return
        self._keep_what_is_shown(wanted)
        desk = self._bench.desk
        self._bench.become(
            replace(desk, job=desk.job.mapped(lambda job: written_as(job, wanted))))
        job = self._bench.desk.job.now

        def look(_: Watch) -> tuple[Planned, tuple[Path, ...]]:
            planned = plan_export(job, wanted.pages)
            return planned, find_taken(planned, job.into)

        self._bench.window.notice.hide()  # what the last export came to is past
        self._show_export(self._give_up)
        self._exporting.ask(look, lambda found: self._write_or_ask(job.into, *found))

    def _show_export(self, stop: Callable[[], None]) -> None:
        self.work(tr("Exporting"), 0, 1, stop)

    def _give_up(self) -> None:
        """It is stopped before anything is written."""
        self._exporting.drop()
        self.rest()
        self._say_unwritten()

    def _say_unwritten(self) -> None:
        self._bench.window.notice.show_said(tr("Nothing was written."))

    def _write_or_ask(self, into: Path, planned: Planned, taken: tuple[Path, ...]) -> None:
        if not taken:
            self._write(into, planned, frozenset())
            return
        self.rest()
        self._taken = TakenDialog(taken, into, self._bench.window)
        self._taken.answered.connect(
            lambda over: self._write(into, planned, frozenset(taken if over else ())))
        self._taken.rejected.connect(self._say_unwritten)
        self._taken.open()

    def _write(self, into: Path, planned: Planned, over: frozenset[Path]) -> None:
        cores, self._stopped = self._bench.workers.cores, False

        def write(watch: Watch) -> Exported:
            def watched(done: int, total: int) -> None:
                if self._stopped:
                    raise Cancelled
                watch(done, total)

            return run_export(planned, into, cores, watched, over=over)

        self._show_export(self._stop)
        self._exporting.ask(write, lambda exported: self._take_exported(exported, into))

    def _keep_what_is_shown(self, wanted: Export) -> None:
        """A list that is proposed for a page, and shown, is kept by going out with it."""
        desk, known = self._bench.desk, self._bench.known
        job = desk.job.now
        for number in wanted.pages:
            page = job.pages[number]
            if not is_set(page) and source_of(page) in known.proposals:
                job = with_steps(job, frozenset({number}), steps_of(page, known))
        self._bench.become(desk.then(job, tr("keep the proposed list")))

    def _show_progress(self, done: int, total: int) -> None:
        pages = total // PAGE_PARTS
        page = min(done // PAGE_PARTS + 1, pages)
        if not self._stopped:
            self.work(f"{tr('Exporting page')} {page} {tr('of')} {pages}", done, total, self._stop)

    def _stop(self) -> None:
        self._stopped = True
        self._bench.window.work.text.setText(tr("Stopping: the page in hand is given up"))

    def _take_exported(self, exported: Exported, into: Path) -> None:
        self.rest()
        pages = exported.pages
        faults = [fault for page in pages for fault in page.faults] + list(exported.faults)
        done = sum(not page.failed for page in pages)
        total, where = len(pages) + exported.left, f"{tr('pages are in')} {into}"
        text = f"{done} {tr('of')} {total} {where}."
        if done == total == 1:
            text = f"{tr('The page is in')} {into}."
        if exported.left:
            text = (f"{tr('Stopped:')} {done} {tr('of')} {total} {where}, {exported.left} "
                    f"{tr('left. Nothing is half-written; the same export goes on from there.')}")
        notice = self._bench.window.notice
        text = "\n".join([text, *told(faults), *noted(pages)])  # what failed goes first
        if done:
            notice.offer(text, tr("Open the folder"), lambda: _open_folder(into))
        else:
            notice.show_said(text, stays=True)

    def work(self, text: str, done: int, total: int, stop: Callable[[], None]) -> None:
        """Show work that goes on, which the person may stop."""
        self._halt = stop
        self._bench.window.work.show_work(text, done, total)

    def _stop_work(self) -> None:
        if self._halt is not None:
            self._halt()

    def rest(self) -> None:
        """The work has come to its end."""
        self._halt = None
        self._bench.window.work.hide()

    @property
    def writing(self) -> bool:
        """Whether something is being written that would be lost."""
        return self._halt is not None

    @property
    def free(self) -> bool:
        """Whether nothing is being written; says so where something is."""
        if self.writing:
            self._bench.window.notice.show_said(tr(
                "Something is still being written, as the foot of the rack shows: wait for it, "
                "or stop it first."))
        return not self.writing

    def _fail(self, error: Exception) -> None:
        self.rest()
        self._bench.window.notice.show_said(said(error))


def _open_folder(folder: Path) -> None:
    QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder)))
