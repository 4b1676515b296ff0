"""The window: rack, page, step list, and the tone strip beneath all of them."""

from pathlib import Path
from typing import cast

from PySide6.QtCore import QEvent, Qt, Signal, SignalInstance
from PySide6.QtGui import (
    QAction,
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QKeyEvent,
    QKeySequence,
)
from PySide6.QtWidgets import (
    QLabel,
    QLineEdit,
    QMainWindow,
    QPushButton,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from app.bench.state.commands import BY_NAME, COMMANDS, MENUS, in_menu
from app.bench.state.saying import asks_for_size
from app.bench.state.theme import Theme
from app.bench.views.bar import Bar
from app.bench.views.card import Card
from app.bench.views.colour_panel import ColourPanel
from app.bench.views.held import HeldKeys
from app.bench.views.look import Icons, as_it_is, tr
from app.bench.views.notice import Notice, WorkStrip
from app.bench.views.page import PageView
from app.bench.views.proof_panel import ProofPanel
from app.bench.views.rack import Rack
from app.bench.views.side import Side
from app.bench.views.stops import tab_in_order
from app.bench.views.strip import ToneStrip


class Window(QMainWindow):
    """Reports commands by name, files that were dropped, and that it is being closed."""

    asked = Signal(str)
    dropped = Signal(tuple)
    closing = Signal(QCloseEvent)
    recent_chosen = Signal(str)
    earlier_asked = Signal()
    earlier_chosen = Signal(int)
    clipping_held = Signal(bool)
    layer_held = Signal(str)
    drawer_chosen = Signal(int)

    def __init__(self, theme: Theme, kinds: tuple[tuple[str, str], ...]) -> None:
        super().__init__()
        self._theme, icons = theme, Icons(theme)
        self.rack = Rack(theme)
        self.page = PageView(theme)
        self.card = Card(theme, icons, kinds)
        self.strip = ToneStrip(theme)
        self.bar = Bar(theme, icons)
        self._held = HeldKeys({
            Qt.Key.Key_C: self.clipping_held.emit,
            Qt.Key.Key_L: lambda on: self.layer_held.emit("lines" if on else "all"),
            Qt.Key.Key_K: lambda on: self.layer_held.emit("flats" if on else "all"),
        }, self)
        self.rack.installEventFilter(self._held)
        self.side = Side()
        self.notice, self.work = Notice(), WorkStrip()
        self.actions_by_name: dict[str, QAction] = {}
        self.setWindowTitle("Stetline")
        self.setAcceptDrops(True)
        self._fill_menus()
        self._lay_out()
        for panel in (self.bar, self.card):
            panel.asked.connect(lambda name: self._tell(self.asked, name))

    @property
    def proof(self) -> ProofPanel:
        """What the proof found, and how the page is printed."""
        return cast(ProofPanel, self.side.panel("proof"))

    @property
    def colours(self) -> ColourPanel:
        """The palette, and what is done with it."""
        return cast(ColourPanel, self.side.panel("colour"))

    def _make_colours(self) -> ColourPanel:
        made = ColourPanel(self._theme, Icons(self._theme))
        made.asked.connect(lambda name: self._tell(self.asked, name))
        made.left.connect(self.page.setFocus)
        made.swatches.installEventFilter(self._held)
        return made

    def _make_proof(self) -> ProofPanel:
        made = ProofPanel()
        made.list.installEventFilter(self._held)
        return made

    def _fill_menus(self) -> None:
        for name in MENUS:
            menu = self.menuBar().addMenu(tr(name))
            menu.setToolTipsVisible(True)
            if name == MENUS[0]:
                self._recent = menu.addMenu(tr("Opened &last"))
                self._earlier = menu.addMenu(tr("E&arlier jobs"))
                self._earlier.setToolTipsVisible(True)
                self._earlier.aboutToShow.connect(self.earlier_asked)
            if name == MENUS[2]:
                self._drawer = menu.addMenu(tr("From the dra&wer"))
                self._drawer.setToolTipsVisible(True)
            for command in in_menu(name):
                if command.rule_above:
                    menu.addSeparator()
                action = menu.addAction(tr(command.text))
                action.setShortcuts([QKeySequence(key) for key in command.keys])
                action.setToolTip(tr(command.tip))
                action.setCheckable(command.checked)
                action.triggered.connect(
                    lambda _=False, name=command.name: self._tell(self.asked, name))
                self.actions_by_name[command.name] = action

    def finish_typing(self) -> None:
        """What is being typed is typed: something else comes, and the keyboard stays there."""
        field = self.focusWidget()
        if isinstance(field, QLineEdit) and field.isModified():
            field.editingFinished.emit()

    def _tell(self, signal: SignalInstance, what: object) -> None:
        """Report what is asked for."""
        self.finish_typing()
        signal.emit(what)

    def show_recent(self, paths: tuple[str, ...]) -> None:
        """What was opened last, in a menu of its own."""
        self._recent.clear()
        self._recent.setEnabled(bool(paths))
        for path in paths:
            action = self._recent.addAction(path)
            action.triggered.connect(
                lambda _=False, path=path: self._tell(self.recent_chosen, path))

    def show_earlier(self, jobs: tuple[tuple[str, str, bool], ...]) -> None:
        """The jobs of earlier sittings: names, what there is to say, and whether one is had."""
        self._earlier.clear()
        for number, (name, tip, there) in enumerate(jobs):
            action = self._earlier.addAction(name)
            action.setEnabled(there)
            action.setToolTip(tip)
            action.triggered.connect(
                lambda _=False, number=number: self._tell(self.earlier_chosen, number))
        if not jobs:
            self._earlier.addAction(tr("None has been kept yet")).setEnabled(False)

    def show_drawer(self, lists: tuple[tuple[str, str, str], ...]) -> None:
        """The lists of the drawer: what each is called, says, and has for a key."""
        self._drawer.clear()
        self._drawer.setEnabled(bool(lists))
        for number, (name, tip, key) in enumerate(lists):
            action = self._drawer.addAction(name)
            action.setToolTip(tip)
            action.setShortcut(QKeySequence(key))
            action.triggered.connect(
                lambda _=False, number=number: self._tell(self.drawer_chosen, number))

    def _lay_out(self) -> None:
        self._middle = middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.bar)
        self.stack = QStackedWidget()
        self.empty = self._empty()
        self.stack.addWidget(self.empty)
        self.stack.addWidget(self.page)
        self.fault = as_it_is(QLabel())
        self.mends: dict[str, QPushButton] = {}
        self.stack.addWidget(self._fault_panel())
        column.addWidget(self.stack, 1)
        column.addWidget(self.notice)
        self.side.add("steps", lambda: self.card)
        self.side.add("proof", self._make_proof)
        self.side.add("colour", self._make_colours)
        self.side.show_aside("steps")
        across = QSplitter(Qt.Orientation.Horizontal)
        across.setHandleWidth(8)
        across.setChildrenCollapsible(False)
        pages = QWidget()
        shelf = QVBoxLayout(pages)
        shelf.setContentsMargins(0, 0, 0, 0)
        shelf.setSpacing(0)
        shelf.addWidget(self.rack, 1)
        shelf.addWidget(self.work)
        for widget, stretch in ((pages, 0), (middle, 1), (self.side, 0)):
            across.addWidget(widget)
            across.setStretchFactor(across.count() - 1, stretch)
        across.setSizes([160, 800, 336])
        whole = self._whole = QWidget()
        below = QVBoxLayout(whole)
        below.setContentsMargins(0, 0, 0, 0)
        below.setSpacing(4)
        below.addWidget(across, 1)
        below.addWidget(self.strip)
        self.setCentralWidget(whole)
        self.resize(1280, 800)

    def room_for_page(self) -> int:
        """How high the page's place is, the notice's strip at its foot included."""
        return self._middle.height() - self.bar.height()

    def _empty(self) -> QWidget:
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.addStretch(1)
        words = QLabel(tr(
            "Drop scans here, or a folder of them.\n"
            "Stetline reads each page and proposes how to take its paper away.\n"
            "Drag the points to taste; the scans themselves are never changed."
        ))
        words.setAlignment(Qt.AlignmentFlag.AlignCenter)
        words.setWordWrap(True)
        column.addWidget(words)
        column.addSpacing(16)
        for name, text in (("open folder", tr("Open a folder…")), ("open", tr("Open pages…")),
                           ("samples", tr("Try the sample pages"))):
            self._add_button(column, name, text)
        self.last = self._add_button(column, "last job", tr("Bring the last job back"))
        self.last.hide()
        column.addStretch(1)
        return holder

    def _add_button(self, column: QVBoxLayout, name: str, text: str) -> QPushButton:
        button = QPushButton(text)
        button.setMinimumWidth(208)
        button.setToolTip(tr(BY_NAME[name].tip))
        button.clicked.connect(lambda: self.asked.emit(name))
        column.addWidget(button, 0, Qt.AlignmentFlag.AlignHCenter)
        return button

    def _fault_panel(self) -> QWidget:
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(24, 24, 24, 24)
        column.addStretch(1)
        self.fault.setAlignment(Qt.AlignmentFlag.AlignCenter)
        column.addWidget(self.fault)
        column.addSpacing(16)
        for name, text in (
            ("resolution", tr("Say its resolution or size…")),
            ("moved", tr("Say where it is…")), ("remove", tr("Take off the rack")),
        ):
            self.mends[name] = self._add_button(column, name, text)
        column.addStretch(1)
        return holder

    def set_theme(self, theme: Theme) -> None:
        """Other colours everywhere; what is shown must be shown again."""
        self._theme, icons = theme, Icons(theme)
        self.rack.set_theme(theme)
        self.page.set_theme(theme)
        self.card.set_theme(theme, icons)
        if self.side.has("colour"):
            self.colours.set_theme(theme, icons)
        self.strip.set_theme(theme)
        self.bar.set_theme(theme, icons)

    def show_any_page(self, *, there: bool, fault: str = "") -> None:
        """The page, or what is wrong with it, or how to come by one."""
        self.fault.setText(fault)
        self.mends["resolution"].setVisible(asks_for_size(fault))
        self.mends["moved"].setVisible(not asks_for_size(fault))
        self.stack.setCurrentIndex(0 if not there else 2 if fault else 1)

    def show_commands(self, there: frozenset[str], names: dict[str, str],
                      checked: frozenset[str]) -> None:
        """Which commands can be done, what undo and redo would do, and which are on."""
        for command in COMMANDS:
            action = self.actions_by_name[command.name]
            action.setEnabled(not command.needs or command.needs in there)
            text = tr(command.text)
            more = names.get(command.name)
            action.setText(f"{text} {more}" if more else text)
            if command.checked:
                action.setChecked(command.name in checked)

    def focusNextPrevChild(self, forward: bool) -> bool:  # noqa: N802 - Qt's name
        """Tab goes on as the window is read, also through what was made since."""
        tab_in_order(self._whole)
        return super().focusNextPrevChild(forward)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """C, held: what the points cut off; L and K: one layer of a coloured page."""
        if not self._held.press(event):
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """C, L or K let go."""
        if not self._held.release(event):
            super().keyReleaseEvent(event)

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """Whoever goes to another window holds no key in this one."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.ActivationChange and not self.isActiveWindow():
            self._held.let_go()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802 - Qt's name
        """Files may be dropped anywhere."""
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802 - Qt's name
        """Report the files."""
        paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        if paths:
            event.acceptProposedAction()
            self.dropped.emit(tuple(paths))

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt's name
        """Report it first, so that the job is kept; whoever ignores it keeps the window open."""
        self.closing.emit(event)
        if event.isAccepted():
            super().closeEvent(event)
