"""What the parts of the wiring may ask of each other."""

from pathlib import Path
from typing import Protocol

from PySide6.QtWidgets import QFileDialog

from app.bench.background import Workers
from app.bench.engine import Engine
from app.bench.showing import Known
from app.bench.state.desk import Desk
from app.bench.state.places import Places
from app.bench.views.look import tr
from app.bench.views.window import Window
from app.pages.names import Guard
from app.pages.true_paths import true_paths
from app.replay.job import Job, JobPage
from app.shipped import shipped


class Seat(Protocol):
    """The bench as the parts see it: the desk, what is known, and how either changes."""

    window: Window
    workers: Workers
    engine: Engine
    known: Known
    desk: Desk
    places: Places

    def become(self, desk: Desk) -> None:
        """The desk is now this; everything is shown anew, and a changed job is kept."""

    def show_list(self, *, moving: bool = False) -> None:
        """Show the list in hand, and what it makes of the page."""

    def show_commands(self) -> None:
        """Show which commands can be done now, and how the page is looked at."""

    def go_to(self, number: int) -> None:
        """Take a page in hand."""

    def keep_job(self, job: Job) -> None:
        """Have the job kept on disk."""


def home_of(page: JobPage) -> Path:
    """The folder of a page's scan; nothing is written beside the program's own pages."""
    folder = page.path.absolute().parent
    return Path.home() if folder == shipped("sample_pages") else folder


def ask_where(bench: Seat, title: str, name: str, kinds: str) -> Path | None:
    """Where something is to be written; None if nowhere, or where a page's own scan lies.

    A mere name is proposed beside the scan in hand.
    """
    page = bench.desk.page
    proposed = name if page is None else str(home_of(page) / name)
    found, _ = QFileDialog.getSaveFileName(bench.window, title, proposed, kinds)
    path = Path(found)
    scans = set(true_paths(page.path for page in bench.desk.job.now.pages))
    if found and Guard(scans, path.parent).holds(path):
        why = tr("it is a scan, and nothing is written over one; name another file")
        bench.window.notice.show_said(f"{path.name}: {why}.")
        return None
    return path if found else None
