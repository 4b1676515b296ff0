"""Opening the window."""

import logging
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import TracebackType

import cv2
from PySide6.QtCore import QObject, QSize, Qt
from PySide6.QtGui import QCloseEvent, QIcon
from PySide6.QtWidgets import QApplication

from app.bench.background import Workers, said
from app.bench.state.places import MOST_RECENT, Places, Settings, load_settings, save_settings
from app.bench.state.theme import DARK, LIGHT, Theme
from app.bench.views.calibrating import CardSize
from app.bench.views.look import on_screen, palette, plain_font, tr
from app.bench.views.style import style_sheet
from app.bench.views.window import Window
from app.bench.wiring import Wiring, kinds_on_card
from app.replay.job import JobPage
from app.shipped import shipped
from core.fault import Refused


def open_bench(paths: Sequence[Path]) -> int:
    """Open the bench with these pages on the rack, and stay until it is closed."""
    application = QApplication(sys.argv[:1])
    application.setApplicationName("stetline")
    application.setDesktopFileName("stetline")
    opened = Opening(application, Places.of_the_system())
    keep_log(opened.bench.places)
    opened.bench.window.show()
    opened.begin(paths)
    try:
        return application.exec()
    finally:
        opened.end()


def keep_log(places: Places) -> None:
    """Mistakes of the program go into a file of at most 2 MB; nothing leaves the computer."""
    places.state.mkdir(parents=True, exist_ok=True)
    handler = RotatingFileHandler(places.log, maxBytes=1_000_000, backupCount=1, encoding="utf-8")
    handler.setFormatter(logging.Formatter("%(asctime)s %(name)s %(levelname)s %(message)s"))
    logging.getLogger("stetline").addHandler(handler)
    usual = sys.excepthook

    def note(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        logging.getLogger("stetline").error("in the window", exc_info=(kind, error, trace))
        usual(kind, error, trace)

    sys.excepthook = note


class Opening(QObject):
    """The window with everything connected, its settings, and how it begins and ends."""

    def __init__(self, application: QApplication, places: Places) -> None:
        super().__init__()
        cores = os.cpu_count() or 1
        cv2.setNumThreads(cores)  # for steps that take the whole page; bands have their own
        self._application, self._places = application, places
        self._settings = load_settings(places.settings)
        self._leaving = False
        application.setStyle("Fusion")
        application.setFont(plain_font())
        application.setWindowIcon(QIcon(str(shipped("icons") / "stetline.svg")))
        theme = self._dress()
        window = Window(theme, kinds_on_card())
        window.resize(on_screen(window, QSize(self._settings.width, self._settings.height)))
        self.bench = Wiring(window, Workers(cores), places)
        self.bench.add_commands({
            "light": lambda: self.choose_theme("light"),
            "dark": lambda: self.choose_theme("dark"),
            "system": lambda: self.choose_theme("system"),
            "calibrate": self._calibrate,
        })
        self.bench.theme_choice = self._settings.theme
        self.bench.incoming.opened = self._opened
        self.bench.incoming.left = lambda: self._settings.pages_left
        self.bench.gone_to = self._gone_to
        self.bench.viewing.dots_per_mm = self._settings.dots_per_mm
        window.closing.connect(self._closing)
        window.recent_chosen.connect(lambda path: self.bench.incoming.open_paths((Path(path),)))
        window.show_recent(self._settings.recent)
        application.styleHints().colorSchemeChanged.connect(self._follow_system)

    def begin(self, paths: Sequence[Path]) -> None:
        """Put pages on the rack; without any, offer what a crash left behind."""
        crashed = self.bench.keeper.begin()
        self.bench.window.last.setVisible(self.bench.keeper.last is not None)
        if paths:
            self.bench.incoming.open_paths(tuple(paths))
        elif not crashed and not self._places.settings.exists():
            self._welcome()
        if crashed:
            self.bench.window.notice.offer(
                tr("The bench was not closed last time. Its job has been kept."),
                tr("Bring it back"), self.bench.bring_back)

    def _welcome(self) -> None:
        """The first start: the sample pages, and what to do with them."""
        self._save()
        self.bench.do("samples")
        self.bench.window.notice.show_said(tr(
            "These are sample pages: left of the divider the scan, right of it the line alone. "
            "Drag the nib and the turned corner beneath the histogram until it is to your taste. "
            "Then drop your own scans on the window; they are never changed."), stays=True)

    def end(self) -> None:
        """Wait for what is being written, and close the threads."""
        self.bench.workers.close()

    def _closing(self, event: QCloseEvent) -> None:
        if self.bench.out.writing and not self._leaving:
            event.ignore()
            self.bench.window.notice.offer(
                tr("Something is still being written, as the foot of the rack shows."),
                tr("Stop it and close"), self._leave)
            return
        self.bench.keeper.end(self.bench.desk.job.now)
        size = self.bench.window.size()
        self._settings = replace(self._settings, width=size.width(), height=size.height())
        self._save()

    def _leave(self) -> None:
        self._leaving = True
        self.bench.window.close()

    def _opened(self, paths: tuple[str, ...]) -> None:
        for path in paths[-MOST_RECENT:]:
            self._settings = self._settings.with_recent(path)
        self.bench.window.show_recent(self._settings.recent)
        self._save()

    def _gone_to(self, page: JobPage) -> None:
        """Kept for when the job is opened again, also after a crash."""
        self._settings = self._settings.with_left(page.at)
        with suppress(Refused):  # it is said where something is chosen
            save_settings(self._places.settings, self._settings)

    def _calibrate(self) -> None:
        viewing = self.bench.viewing
        card = CardSize(viewing.dots_per_mm or viewing.dots_by_system(), self.bench.window)
        card.measured.connect(self._calibrated)
        card.open()

    def _calibrated(self, dots_per_mm: float) -> None:
        self.bench.viewing.dots_per_mm = dots_per_mm
        self._settings = replace(self._settings, dots_per_mm=dots_per_mm)
        self._save()
        self.bench.do("print size")

    def _save(self) -> None:
        try:
            save_settings(self._places.settings, self._settings)
        except Refused as refused:
            self.bench.window.notice.show_said(said(refused))

    @property
    def settings(self) -> Settings:
        """What the person has chosen."""
        return self._settings

    def choose_theme(self, choice: str) -> None:
        """Light, dark, or as the system is; kept for the next time."""
        self._settings = replace(self._settings, theme=choice)
        self.bench.theme_choice = choice
        self.bench.set_theme(self._dress())
        self._save()

    def _follow_system(self) -> None:
        if self._settings.theme == "system":
            self.bench.set_theme(self._dress())

    def _dress(self) -> Theme:
        """The toolkit's own controls in the chosen theme's colours."""
        dark = self._application.styleHints().colorScheme() == Qt.ColorScheme.Dark
        system = DARK if dark else LIGHT
        theme = {"light": LIGHT, "dark": DARK}.get(self._settings.theme, system)
        self._application.setPalette(palette(theme))
        self._application.setStyleSheet(style_sheet(theme))
        return theme
