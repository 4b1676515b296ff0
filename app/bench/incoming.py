"""What comes onto the bench: pages of files and folders, and jobs, which are saved here too."""

from collections.abc import Callable, Iterable
from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QInputDialog

from app.bench.background import Line, said
from app.bench.seat import Seat, ask_where
from app.bench.state.job import (
    Found,
    Source,
    find_pages,
    number_of,
    source_of,
    with_given,
    with_moved,
    with_pages,
    without,
    without_untouched,
)
from app.bench.state.jobfile import SUFFIX, open_job
from app.bench.state.saying import BRING_UP, asks_for_size, in_window, told
from app.bench.views.look import tr
from app.bench.views.window import Window
from app.pages.formats import SUFFIXES
from app.pages.listing import PageAt
from app.pages.resolution import parse_resolution
from app.replay.job import Job, JobPage, write_job
from app.shipped import shipped
from core.fault import Refused, Watch
from core.steps.outdated import Outdated

_JOBS = f"Jobs (*{SUFFIX})"


class Incoming:
    """Puts pages and jobs on the rack, and saves the job that lies there."""

    def __init__(self, bench: Seat) -> None:
        self._bench = bench
        self._job_file: Path | None = None
        self._sought: tuple[Path, ...] = ()
        self._asked = Path()
        self._finding = Line(bench.workers, self._say_error)
        self._saving: Line | None = None
        self.opened: Callable[[tuple[str, ...]], None] = lambda _: None
        self.left: Callable[[], tuple[PageAt, ...]] = tuple

    @property
    def busy(self) -> bool:
        """Whether files are being found, or the job is being saved."""
        return self._finding.busy or (self._saving is not None and self._saving.busy)

    def connect(self, window: Window) -> None:
        """Listen to what is dropped on the window."""
        window.dropped.connect(self.open_paths)

    def commands(self) -> dict[str, Callable[[], None]]:
        """The commands of pages and of jobs."""
        return {
            "open": self._ask_pages, "open folder": self._ask_folder,
            "samples": lambda: self.open_paths((shipped("sample_pages"),)),
            "remove": self._remove, "resolution": self._ask_resolution,
            "moved": self._ask_moved, "open job": self._ask_job, "save job": self._ask_where_job,
        }

    # --- pages

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
        sought = self._sought = (*self._sought, *paths) if self._finding.busy else paths

        def find(_: Watch) -> tuple[Found, Job]:
            found = find_pages(sought)
            return found, with_pages(_put_away(job, found.pages), found.pages)

        self._finding.ask(find, lambda answer: self._take_found(answer[0], answer[1], job))

    def _take_found(self, found: Found, made: Job, of: Job) -> None:
        """Pages were found, and put into the job ``of`` while they were looked for."""
        bench = self._bench
        bench.window.finish_typing()
        if found.pages and bench.desk.job.now.pages:
            bench.window.notice.go_on(far=True)  # as from the samples to pages of one's own
        again = self._find_again(page.at for page in found.pages)
        for at, fault in found.page_faults:
            bench.known.faults[Source(at)] = str(in_window(fault))
        if found.others:
            bench.window.notice.show_said("\n".join(told(found.others)), stays=True)
        now = bench.desk.job.now
        before = len(_put_away(now, found.pages).pages)
        job = made if now is of else with_pages(_put_away(now, found.pages), found.pages)
        if len(job.pages) == before:
            if again:
                bench.become(bench.desk)
            return
        if not before:  # another book, which no file was written of yet
            self._job_file = None
        self.opened(tuple(str(path) for path in found.asked))
        bench.become(bench.desk.then(job, tr("put pages on the rack")).on_page(before))

    def _find_again(self, pages: Iterable[PageAt]) -> bool:
        """Pages were found anew: those that could not be read are tried again, if there are any."""
        again = self._bench.known.forget_faults(frozenset(pages))
        if again and self._bench.engine.page is None:
            self._bench.engine.turn_to(None)
        return again

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
            self._find_again(page.at for page in job.pages)
            self._bench.become(self._bench.desk.then(job, tr("say where the scan is")))

    def _ask_resolution(self) -> None:
        asked = tr("Pixels per inch, or the size of the scanned sheet (300, A4, 210x297mm):")
        count = len(self._of_size())
        if count > 1:
            asked += f"\n{tr('It holds for')} {count} {tr('pages')}."
        text, agreed = QInputDialog.getText(
            self._bench.window, tr("Resolution or size"), asked, text="300")
        if agreed:
            self.give_resolution(text)

    def give_resolution(self, text: str) -> None:
        """Say the resolution or sheet size of the chosen pages, or of those that lack their own.

        Where the page in hand lacks it, of all pages that do: they are of one scanner.
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
        if desk.current in lacking:
            return lacking
        # what files state is overruled only where it is asked of them alone
        return desk.chosen & lacking or desk.chosen

    # --- job files

    def _ask_job(self) -> None:
        found, _ = QFileDialog.getOpenFileName(
            self._bench.window, tr("Open a job"), "", tr(_JOBS))
        if found:
            self.open_job(Path(found))

    def open_job(self, path: Path, *, renew: bool = False) -> None:
        """Put the pages of a job on the rack, in place of what lies there."""
        self._sought, self._asked = (), path
        self._finding.ask(
            lambda _: open_job(path, renew=renew), lambda job: self._take_job(path, job))

    def _take_job(self, path: Path, job: Job) -> None:
        self.opened((str(path.absolute()),))
        self.lay(job, tr("open the job"), path.absolute())

    def lay(self, job: Job, name: str, file: Path | None = None) -> None:
        """A job takes the place of what lies on the rack; ``file`` is where it was saved."""
        bench = self._bench
        bench.window.finish_typing()
        bench.window.notice.hide()
        self._job_file = file
        bench.become(bench.desk.then(job, name).on_page(number_of(job, self.left())))

    def _ask_where_job(self) -> None:
        wanted = self._job_file or f"{self._bench.desk.job.now.name or 'job'}{SUFFIX}"
        path = ask_where(self._bench, tr("Save the job"), str(wanted), tr(_JOBS))
        if path is not None:
            self.save_job(path if path.suffix else path.with_name(path.name + SUFFIX))

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

    def _say_error(self, error: Exception) -> None:
        notice, asked = self._bench.window.notice, self._asked
        if isinstance(error, Outdated):
            notice.offer(said(error), tr(BRING_UP), lambda: self.open_job(asked, renew=True))
        else:
            notice.show_said(said(error))


def _put_away(job: Job, found: tuple[JobPage, ...]) -> Job:
    """The job that pages are put into: sample pages that were only looked at make room for own."""
    samples = shipped("sample_pages")
    own = [page for page in found if page.at.path.parent != samples]
    return without_untouched(job, samples) if own else job
