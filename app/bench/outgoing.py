"""Files in and out of the bench: pages onto the rack, renditions out, the job kept."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QFileDialog, QInputDialog

from app.bench.background import Line, said
from app.bench.seat import Seat
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
from app.bench.state.job import (
    Found,
    Source,
    find_pages,
    is_set,
    name_of,
    source_of,
    with_given,
    with_moved,
    with_pages,
    with_steps,
    without,
    without_untouched,
)
from app.bench.state.jobfile import SUFFIX, open_job
from app.bench.state.saying import asks_for_size, in_window
from app.bench.views.dialogs import ExportDialog, TakenDialog
from app.bench.views.look import tr
from app.bench.views.window import Window
from app.pages.formats import SUFFIXES
from app.pages.resolution import parse_resolution
from app.replay.book import Planned
from app.replay.job import Job, JobPage, write_job
from app.shipped import shipped
from core.fault import Cancelled, Refused, Watch

_JOBS = f"Jobs (*{SUFFIX})"


class Outgoing:
    """Opens pages, exports them, and keeps the job on disk by ``keeper``."""

    def __init__(self, bench: Seat) -> None:
        self._bench = bench
        self._folder: Path | None = None
        self._job_file: Path | None = None
        self.exported_to: Callable[[str], None] = lambda _: None
        self._finding = Line(bench.workers, self._say_error)
        self._exporting = Line(bench.workers, self._fail, self._show_progress)
        self._saving: Line | None = None
        self._dialog: ExportDialog | None = None
        self._taken: TakenDialog | None = None
        self._act: Callable[[], None] | None = None
        self._halt: Callable[[], None] | None = None
        self._stopped = False
        self.opened: Callable[[tuple[str, ...]], None] = lambda _: None

    @property
    def busy(self) -> bool:
        """Whether files are being found or written."""
        saving = self._saving is not None and self._saving.busy
        return self._finding.busy or self._exporting.busy or saving

    def connect(self, window: Window) -> None:
        """Listen to the notice, and to what stops the work that goes on."""
        window.work.stopped.connect(self._stop_work)
        window.notice.acted.connect(self._act_on_notice)
        window.notice.dismissed.connect(window.notice.hide)

    def commands(self) -> dict[str, Callable[[], None]]:
        """The commands of files."""
        return {
            "open": self._ask_pages, "open folder": self._ask_folder,
            "samples": lambda: self.open_paths((shipped("sample_pages"),)),
            "remove": self._remove, "resolution": self._ask_resolution,
            "moved": self._ask_moved, "export": self._ask_export,
            "open job": self._ask_job, "save job": self._ask_where_job,
        }

    # --- pages in

    def _ask_pages(self) -> None:
        names = " ".join(f"*{suffix}" for suffix in sorted(SUFFIXES))
        found, _ = QFileDialog.getOpenFileNames(
            self._bench.window, tr("Open pages"), "", f"{tr('Scans')} ({names})")
        if found:
            self.open_paths(tuple(Path(name) for name in found))

    def _ask_folder(self) -> None:
        found = QFileDialog.getExistingDirectory(self._bench.window, tr("Open a folder"))
        if found:
            self.open_paths((Path(found),))

    def open_paths(self, paths: tuple[Path, ...]) -> None:
        """Put the pages of files and folders on the rack; a job takes the place of all of them."""
        jobs = [path for path in paths if path.suffix.lower() == SUFFIX and path.is_file()]
        if jobs:
            self.open_job(jobs[0])
            return
        job = self._bench.desk.job.now

        def find(_: Watch) -> tuple[Found, Job]:
            found = find_pages(paths)
            return found, with_pages(_put_away(job, found.pages), found.pages)

        self._finding.ask(find, lambda answer: self._take_found(answer[0], answer[1], job))

    def _take_found(self, found: Found, made: Job, of: Job) -> None:
        """Pages were found, and put into the job ``of`` while they were looked for."""
        bench = self._bench
        if found.pages and bench.desk.job.now.pages:
            bench.window.notice.go_on(far=True)  # as from the samples to pages of one's own
        for at, fault in found.page_faults:
            bench.known.faults[Source(at)] = str(in_window(fault))
        if found.others:
            bench.window.notice.show_said(
                "\n".join(str(in_window(f)) for f in found.others), stays=True)
        now = bench.desk.job.now
        before = len(_put_away(now, found.pages).pages)
        job = made if now is of else with_pages(_put_away(now, found.pages), found.pages)
        if len(job.pages) == before:
            return
        self.opened(tuple(str(path) for path in found.asked))
        bench.become(bench.desk.then(job, tr("put pages on the rack")).on_page(before))

    def _remove(self) -> None:
        bench = self._bench
        job = without(bench.desk.job.now, bench.desk.chosen)
        bench.become(bench.desk.then(job, tr("take pages off the rack")))

    def _ask_moved(self) -> None:
        page = self._bench.desk.page
        if page is None:
            return
        was = page.at.path.absolute()
        near = next((folder for folder in was.parents if folder.is_dir()), was.parent)
        found, _ = QFileDialog.getOpenFileName(
            self._bench.window, f"{tr('Where is')} {was.name}?", str(near))
        if found:
            job = with_moved(self._bench.desk.job.now, page.path, Path(found))
            self._bench.become(self._bench.desk.then(job, tr("say where the scan is")))

    def _ask_resolution(self) -> None:
        asked = tr("Pixels per inch, or the size of the scanned sheet (300, A4, 210x297mm):")
        count = len(self._of_size())
        if count > 1:
            asked += f"\n{tr('It is said of')} {count} {tr('pages')}."
        text, agreed = QInputDialog.getText(
            self._bench.window, tr("Resolution or size"), asked, text="300")
        if agreed:
            self.give_resolution(text)

    def give_resolution(self, text: str) -> None:
        """Say the resolution or sheet size of the chosen pages.

        Where the page in hand lacks its own, of all pages that do: they are of one scanner.
        """
        bench = self._bench
        try:
            given = parse_resolution(text)
        except Refused as refused:
            bench.window.notice.show_said(said(refused))
            return
        job = with_given(bench.desk.job.now, self._of_size(), given)
        bench.become(bench.desk.then(job, tr("say the resolution")))

    def _of_size(self) -> frozenset[int]:
        """The pages of which a resolution is said."""
        desk, faults = self._bench.desk, self._bench.known.faults
        lacking = frozenset(n for n, page in enumerate(desk.job.now.pages)
                            if asks_for_size(faults.get(source_of(page), "")))
        return desk.chosen | lacking if desk.current in lacking else desk.chosen

    # --- job files

    def _ask_job(self) -> None:
        found, _ = QFileDialog.getOpenFileName(
            self._bench.window, tr("Open a job"), "", tr(_JOBS))
        if found:
            self.open_job(Path(found))

    def open_job(self, path: Path) -> None:
        """Put the pages of a job on the rack, in place of what lies there."""
        self._finding.ask(lambda _: open_job(path), lambda job: self._take_job(path, job))

    def _take_job(self, path: Path, job: Job) -> None:
        bench = self._bench
        bench.window.notice.hide()
        self._folder, self._job_file = job.into, path.absolute()
        self.opened((str(path.absolute()),))
        bench.become(bench.desk.then(job, tr("open the job")).on_page(0 if job.pages else None))

    def _ask_where_job(self) -> None:
        wanted = self._job_file or f"{self._bench.desk.job.now.name or 'job'}{SUFFIX}"
        name, _ = QFileDialog.getSaveFileName(
            self._bench.window, tr("Save the job"), str(wanted), tr(_JOBS))
        if name:
            self.save_job(Path(name if Path(name).suffix else name + SUFFIX))

    def save_job(self, path: Path) -> None:
        """Write the job, so that it can be opened again, sent away or replayed."""
        job = self._bench.desk.job.now
        # a line of its own: no later file takes the place of this one
        self._saving = Line(self._bench.workers, self._say_error)
        self._saving.ask(lambda _: write_job(path, job), lambda _: self._saved(path))

    def _saved(self, path: Path) -> None:
        self._job_file = path.absolute()
        self.opened((str(path.absolute()),))
        self._bench.window.notice.show_said(f"{tr('The job is in')} {path}.")

    # --- renditions out

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
        home = desk.page.at.path.parent
        if home == shipped("sample_pages"):  # nothing is written beside the program's own pages
            home = Path.home()
        folder = self._folder or home / "lineart"
        self._dialog = ExportDialog(tuple(choices), folder, self._bench.window)
        self._dialog.asked.connect(self.export)
        self._dialog.open()

    def export(self, wanted: Export) -> None:
        """Write pages out in the background; what is finished stands if it is stopped.

        The person is asked first where files would be replaced that no export left there.
        """
        if not self.free:
            return
        self._folder = wanted.folder
        self.exported_to(str(wanted.folder))
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
        self._exporting.ask(write, self._take_exported)

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

    def _take_exported(self, exported: Exported) -> None:
        self.rest()
        pages = exported.pages
        faults = [fault for page in pages for fault in page.faults] + list(exported.faults)
        done = sum(not page.failed for page in pages)
        total, where = len(pages) + exported.left, f"{tr('pages are in')} {self._folder}"
        text = f"{done} {tr('of')} {total} {where}."
        if exported.left:
            text = (f"{tr('Stopped:')} {done} {tr('of')} {total} {where}, {exported.left} "
                    f"{tr('left. Nothing is half-written; the same export goes on from there.')}")
        self._act = self._open_folder if done else None
        self._bench.window.notice.show_said(
            "\n".join([text, *noted(pages), *(str(in_window(fault)) for fault in faults)]),
            tr("Open the folder") if done else "", stays=True)

    def _open_folder(self) -> None:
        QDesktopServices.openUrl(QUrl.fromLocalFile(str(self._folder)))

    def start_from(self, folder: str) -> None:
        """The folder that was exported into last time."""
        self._folder = Path(folder) if folder else None

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
    def free(self) -> bool:
        """Whether nothing is being written; says so where something is, for it would be lost."""
        if self._halt is not None:
            self._bench.window.notice.show_said(tr(
                "Something is still being written, as the foot of the rack shows: wait for it, "
                "or stop it first."))
        return self._halt is None

    def offer(self, text: str, act: str, do: Callable[[], None]) -> None:
        """Say something that the person may want done."""
        self._act = do
        self._bench.window.notice.show_said(text, act)

    def _act_on_notice(self) -> None:
        if self._act is not None:
            self._act()

    def _fail(self, error: Exception) -> None:
        self.rest()
        self._say_error(error)

    def _say_error(self, error: Exception) -> None:
        self._bench.window.notice.show_said(said(error))


def _put_away(job: Job, found: tuple[JobPage, ...]) -> Job:
    """The job that pages are put into: sample pages that were only looked at make room for own."""
    samples = shipped("sample_pages")
    own = [page for page in found if page.at.path.parent != samples]
    return without_untouched(job, samples) if own else job
