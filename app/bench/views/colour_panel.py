"""The colour panel: the job's colours, what the pointer does with them, and the page's flats."""

from dataclasses import dataclass

from PySide6.QtCore import QPoint, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QColorDialog,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QMenu,
    QPushButton,
    QScrollArea,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.bench.state.colouring import Laying, Limit, ToolName
from app.bench.state.commands import BY_NAME
from app.bench.state.palette import NAME_LENGTH, Swatch, parse_colour
from app.bench.state.theme import Theme
from app.bench.views.field import Field
from app.bench.views.look import Icons, quiet, strong, tr
from app.bench.views.sentence import Sentence
from app.bench.views.swatches import Swatches
from app.filters.flats import Flats

_AREAS: tuple[ToolName, ...] = ("fill", "pick colour", "join", "cut")
_HOLDS: tuple[ToolName, ...] = ("hold mark", "hold outline", "hold brush")
_MENU = ("change colour", "delete colour", "", "read palette", "write palette", "ink profile")


@dataclass(frozen=True)
class ColoursShown:
    """What the panel shows; ``page`` says that there is a page to be coloured."""

    name: str = ""
    swatches: tuple[Swatch, ...] = ()
    chosen: int = 0
    tool: ToolName = "fill"
    laying: Laying = Laying()
    limit: Limit = Limit()
    flats: Flats | None = None
    source: str = ""
    page: bool = False


class ColourPanel(QFrame):
    """Reports changes of the palette, values of its sentences by their path, commands by name."""

    asked = Signal(str)
    added = Signal(object)
    named = Signal(str)
    limited = Signal(tuple, object)
    laid = Signal(tuple, object)
    flats_changed = Signal(tuple, object)
    left = Signal()

    def __init__(self, theme: Theme, icons: Icons) -> None:
        super().__init__()
        self.setObjectName("card")
        self.name = Field()
        self.name.setObjectName("title")
        self.name.setMaxLength(NAME_LENGTH)
        self.name.setPlaceholderText(tr("name these colours"))
        self.name.setAccessibleName(tr("Name of the palette"))
        self.name.setToolTip(tr("What the colours are called together, here and in their file"))
        self.name.editingFinished.connect(self._rename)
        self.more = self._more_button(icons)
        self.swatches = Swatches(theme)
        self.swatches.change_asked.connect(lambda: self.asked.emit("change colour"))
        self.swatches.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        self.swatches.customContextMenuRequested.connect(self._show_more)
        self.empty = quiet(tr(
            "No colours yet. Choose one by eye; or type one as #rrggbb, with a name behind it if "
            "you like; or read a palette."))
        self.typed = Field()
        self.typed.setPlaceholderText(tr("#rrggbb and a name"))
        self.typed.setAccessibleName(tr("A new colour"))
        self.typed.setToolTip(tr("Red, green and blue as six digits, then what it is called"))
        self.typed.setMinimumHeight(28)
        self.typed.returnPressed.connect(self._add)
        self.add = QPushButton(icons["add"], tr("Choose…"))
        self.add.setToolTip(tr("Put the typed colour into the palette, or choose one by eye"))
        self.add.clicked.connect(self._add)
        self.typed.textChanged.connect(
            lambda text: self.add.setText(tr("Add") if text.strip() else tr("Choose…")))
        self.limit, self.laying, self.flats = Sentence(theme), Sentence(theme), Sentence(theme)
        self.limit.changed.connect(self.limited)
        self.laying.changed.connect(self.laid)
        self.flats.changed.connect(self.flats_changed)
        self.source = quiet("")
        self.tools: dict[str, QPushButton] = {}
        self.acts = {name: self._act_button(name)
                     for name in ("hold ink", "distinct", "clear colours")}
        self._group = QButtonGroup(self)
        self._lay_out()

    def _more_button(self, icons: Icons) -> QToolButton:
        button = QToolButton()
        button.setIcon(icons["more"])
        button.setAccessibleName(tr("More for the palette"))
        button.setToolTip(tr("Change or delete a colour; read and write palettes"))
        button.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu = QMenu(button)
        menu.setToolTipsVisible(True)
        for name in _MENU:
            if not name:
                menu.addSeparator()
                continue
            action = menu.addAction(tr(BY_NAME[name].text))
            action.setToolTip(tr(BY_NAME[name].tip))
            action.triggered.connect(lambda _=False, name=name: self.asked.emit(name))
        button.setMenu(menu)
        return button

    def _show_more(self, at: QPoint) -> None:
        """The palette's menu, where the pointer asks for it."""
        self.more.menu().popup(self.swatches.viewport().mapToGlobal(at))

    def _act_button(self, name: str) -> QPushButton:
        command = BY_NAME[name]
        button = QPushButton(tr(command.text).replace("&", ""))
        button.setObjectName("tool")
        keys = f" ({command.keys[0]})" if command.keys else ""
        button.setToolTip(f"{tr(command.tip)}{keys}")
        button.clicked.connect(lambda: self.asked.emit(name))
        return button

    def _tool_button(self, name: ToolName) -> QPushButton:
        button = self._act_button(name)
        button.setCheckable(True)
        self._group.addButton(button)
        self.tools[name] = button
        return button

    # --- how it lies

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setContentsMargins(12, 8, 4, 4)
        head.addWidget(self.name, 1)
        head.addWidget(self.more)
        adding = QHBoxLayout()
        adding.setContentsMargins(12, 4, 12, 8)
        adding.setSpacing(4)
        adding.addWidget(self.typed, 1)
        adding.addWidget(self.add)
        self.empty.setContentsMargins(12, 8, 12, 8)
        below, lower = QScrollArea(), self._lower()
        below.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        below.setWidget(lower)
        below.setWidgetResizable(True)
        below.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        below.viewport().setAutoFillBackground(False)
        lower.setAutoFillBackground(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(1, 1, 1, 1)
        column.setSpacing(0)
        column.addLayout(head)
        column.addWidget(self.swatches, 2)
        column.addWidget(self.empty)
        column.addLayout(adding)
        column.addWidget(below, 3)
        self.setMinimumWidth(288)
        self.setMaximumWidth(480)

    def _lower(self) -> QWidget:
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(12, 0, 12, 12)
        column.setSpacing(6)
        column.addWidget(strong(tr("Areas")))
        column.addLayout(_grid([*(self._tool_button(name) for name in _AREAS),
                                self.acts["distinct"], self.acts["clear colours"]]))
        column.addWidget(self.flats)
        column.addSpacing(4)
        column.addWidget(strong(tr("Ink")))
        column.addLayout(_grid([*(self._tool_button(name) for name in _HOLDS),
                                self.acts["hold ink"]]))
        column.addWidget(self.laying)
        column.addSpacing(4)
        column.addWidget(self.limit)
        column.addWidget(self.source)
        column.addStretch(1)
        return holder

    def set_theme(self, theme: Theme, icons: Icons) -> None:
        """Other colours of the window."""
        self.more.setIcon(icons["more"])
        self.add.setIcon(icons["add"])
        self.swatches.set_theme(theme)
        for sentence in (self.limit, self.laying, self.flats):
            sentence.set_theme(theme)

    # --- what it shows

    def show_colours(self, shown: ColoursShown) -> None:
        """The palette, the tool in the pointer's hand, and the page's flats."""
        if not (self.name.hasFocus() and self.name.isModified()):
            self.name.setText(shown.name)
        self.swatches.show_swatches(shown.swatches, shown.chosen)
        self.swatches.setVisible(bool(shown.swatches))
        self.empty.setVisible(not shown.swatches)
        self.limit.show_step(shown.limit)
        self.limit.setVisible(bool(shown.swatches))
        self.source.setText(shown.source)
        self.source.setVisible(bool(shown.swatches))
        self.laying.show_step(shown.laying)
        self.flats.setVisible(shown.flats is not None)
        if shown.flats is not None:
            self.flats.show_step(shown.flats)
        self.tools[shown.tool].setChecked(True)
        for button in (*self.tools.values(), *self.acts.values()):
            button.setEnabled(shown.page)
        self.acts["clear colours"].setEnabled(shown.page and shown.flats is not None)

    # --- what is done to it

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Escape: back to the page; what was typed for a colour and not added goes."""
        if event.key() == Qt.Key.Key_Escape:
            self.typed.clear()
            self.left.emit()
        else:
            super().keyPressEvent(event)

    def _rename(self) -> None:
        if self.name.isModified():
            self.name.setModified(False)
            self.named.emit(self.name.text())

    def _add(self) -> None:
        """The typed colour; where nothing was typed, one by eye."""
        if not self.typed.text().strip():
            self.choose_colour(QColor("#808080"))
            return
        found = parse_colour(self.typed.text())
        if found is None:
            self.typed.selectAll()
        else:
            self.typed.clear()
        self.added.emit(found)

    def choose_colour(self, start: QColor) -> None:
        """Ask for a colour by eye, and report it as added."""
        chosen = QColorDialog.getColor(start, self, tr("A new colour"))
        if chosen.isValid():
            self.added.emit(parse_colour(chosen.name()))


def _grid(buttons: list[QPushButton]) -> QGridLayout:
    grid = QGridLayout()
    grid.setSpacing(4)
    for number, button in enumerate(buttons):
        grid.addWidget(button, number // 2, number % 2)
    return grid
