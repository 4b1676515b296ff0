"""The drawer laid open: its lists with their keys, to be called otherwise or thrown out."""

from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import (
    QDialog,
    QGridLayout,
    QHBoxLayout,
    QKeySequenceEdit,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.bench.state.commands import BY_NAME
from app.bench.views.look import as_it_is, quiet, tr
from core.steps.steplist import NAME_LENGTH

_PORTABLE = QKeySequence.SequenceFormat.PortableText


@dataclass(frozen=True)
class Kept:
    """A list in the drawer: its file's name, what it is called, its key, and what it says."""

    file: str
    name: str
    key: str
    tip: str


class DrawerRow:
    """The controls of one list; they lie in the dialog's grid."""

    def __init__(self, kept: Kept) -> None:
        self.kept = kept
        self.name = QLineEdit(kept.name)
        self.name.setMaxLength(NAME_LENGTH)
        self.name.setCursorPosition(0)  # of a long name the beginning is seen
        self.name.setMinimumWidth(240)
        self.name.setAccessibleName(f"{tr('Name of the list')} {kept.name}")
        self.name.setToolTip(kept.tip)
        self.key = QKeySequenceEdit(QKeySequence(kept.key))
        self.key.setMaximumSequenceLength(1)
        self.key.setClearButtonEnabled(True)
        for part in (self.key, *self.key.findChildren(QLineEdit)):
            part.setAccessibleName(f"{tr('Key of the list')} {kept.name}")
            part.setToolTip(tr("Press the key that gives the page in hand this list"))
        self.take = QPushButton(tr("Take"))
        self.take.setAccessibleName(f"{tr('Take')} {kept.name}")
        self.take.setToolTip(tr("Give the page in hand this list"))
        self.throw = QPushButton(tr("Throw out"))
        self.throw.setAccessibleName(f"{tr('Throw out')} {kept.name}")
        self.throw.setToolTip(tr("Forget this list; pages that have it keep it"))
        for button in (self.take, self.throw):  # Return in a name presses neither
            button.setAutoDefault(False)

    @property
    def widgets(self) -> tuple[QWidget, ...]:
        """The controls, in the order of a row."""
        return self.name, self.key, self.take, self.throw


class DrawerDialog(QDialog):
    """Reports what is to be done to the list in a file; shows what came of it."""

    renamed = Signal(str, str)
    keyed = Signal(str, str)
    taken = Signal(str)
    thrown = Signal(str)
    put_back = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Drawer"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.rows: list[DrawerRow] = []
        self.said = as_it_is(QLabel())
        self.back = QPushButton(tr("Put it back"))
        self.back.setAutoDefault(False)
        self.back.setToolTip(tr("Have the list in the drawer again, with its key"))
        self.back.clicked.connect(self.put_back)
        self.close_button = QPushButton(tr("Close"))
        self.close_button.setAutoDefault(False)
        self.close_button.setToolTip(tr("Shut the drawer; what was changed in it is kept"))
        self.close_button.clicked.connect(self.accept)
        self._sheet = QWidget()
        self._grid = QGridLayout(self._sheet)
        self._grid.setContentsMargins(0, 0, 8, 0)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(0, 1)
        into = BY_NAME["into drawer"]
        self._empty = quiet(
            f"{tr('The drawer is empty. In the menu Steps a list comes into it by')} "
            f"“{tr(into.text).replace('&', '')}”, {into.keys[0]}.")
        self._lay_out()

    def _lay_out(self) -> None:
        for place, text in enumerate((tr("List"), tr("Key"))):
            head = QLabel(text)
            head.setObjectName("strong")
            self._grid.addWidget(head, 0, place)
        self._grid.addWidget(self._empty, 1, 0, 1, 4)
        area = QScrollArea()
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setWidget(self._sheet)
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        foot = QHBoxLayout()
        foot.addWidget(self.said, 1)
        foot.addWidget(self.back)
        foot.addWidget(self.close_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 16, 16)
        column.setSpacing(16)
        column.addWidget(area, 1)
        column.addLayout(foot)
        self.resize(640, 440)

    def show_lists(self, lists: tuple[Kept, ...], said: str = "") -> None:
        """Show the lists, and what came of the last thing that was asked for."""
        self.said.setText(said)
        self.back.setVisible(False)
        self._empty.setVisible(not lists)
        stood = self._place_of(self.focusWidget())
        for row in self.rows:
            for widget in row.widgets:
                self._grid.removeWidget(widget)
                widget.hide()
                widget.deleteLater()
        self.rows = [DrawerRow(kept) for kept in lists]
        for number, row in enumerate(self.rows, start=1):
            self._connect(row)
            for column, widget in enumerate(row.widgets):
                self._grid.addWidget(widget, number, column)
        self._grid.setRowStretch(len(lists) + 2, 1)
        self._stand_at(*stood)

    def _place_of(self, widget: QWidget | None) -> tuple[int, int]:
        """The row and column in which the keyboard is; -1 where it is in none."""
        for number, row in enumerate(self.rows):
            for column, part in enumerate(row.widgets):
                if widget is not None and (widget is part or part.isAncestorOf(widget)):
                    return number, column
        return -1, -1

    def _stand_at(self, row: int, column: int) -> None:
        """The keyboard stays where it was, or goes where it can still be."""
        if row >= 0:
            where = self.rows[min(row, len(self.rows) - 1)].widgets[column] if self.rows else None
            if where is not None:
                where.show()  # what is not yet seen takes no focus
            (where or self.close_button).setFocus()

    def _connect(self, row: DrawerRow) -> None:
        file = row.kept.file
        row.name.editingFinished.connect(lambda: self._rename(row))
        row.key.editingFinished.connect(lambda: self._give_key(row))
        row.take.clicked.connect(lambda: self.taken.emit(file))
        row.throw.clicked.connect(lambda: self.thrown.emit(file))

    def _rename(self, row: DrawerRow) -> None:
        wanted = row.name.text().strip()
        if row.name.isModified() and wanted and wanted != row.kept.name:
            row.name.setModified(False)
            self.renamed.emit(row.kept.file, wanted)

    def _give_key(self, row: DrawerRow) -> None:
        key = row.key.keySequence().toString(_PORTABLE)
        if key != row.kept.key:
            self.keyed.emit(row.kept.file, key)
