"""The step list as an index card: a name, and sentences in the order in which they are done."""

from dataclasses import dataclass

from PySide6.QtCore import QCoreApplication, QElapsedTimer, QEvent, QPointF, Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QApplication,
    QFrame,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.bench.state.purposes import PURPOSES
from app.bench.state.theme import Theme
from app.bench.views.field import Field
from app.bench.views.look import Icons, tr
from app.bench.views.step_row import StepRow
from core.steps.step import Step
from core.steps.steplist import NAME_LENGTH, StepList


@dataclass(frozen=True)
class CardShown:
    """A list on the card: whether it is only proposed, why, which step is chosen.

    ``paler`` says that something paler lies beside the ink, so that it may be left out.
    """

    steps: StepList
    proposed: bool = False
    reasons: tuple[str, ...] = ()
    paler: bool = False
    chosen: int | None = None


_AT_ONCE = 8  # ms of one round of the screen's thread in which steps are drawn up
_PAUSE = 50  # ms after which it is looked again whether a button of the mouse is still down


class Card(QFrame):
    """The whole list. Reports changes by step number; commands by name."""

    changed = Signal(int, tuple, object)
    switched = Signal(int)
    chose = Signal(int)
    moved = Signal(int, int)
    renamed = Signal(str)
    added = Signal(str)
    asked = Signal(str)

    def __init__(self, theme: Theme, icons: Icons, kinds: tuple[tuple[str, str], ...]) -> None:
        super().__init__()
        self.setObjectName("card")
        self._theme, self._icons = theme, icons
        self.rows: list[StepRow] = []
        self._wanted: tuple[tuple[Step, ...], int | None] = ((), None)
        self._later = QTimer(self, singleShot=True)
        self._later.timeout.connect(self._show_rows)
        self._seen: int | None = None  # the chosen step that was brought into view
        self._reveal = QTimer(self, singleShot=True)
        self._reveal.timeout.connect(self._bring_into_view)
        self.name = Field()
        self.name.setObjectName("title")
        self.name.setMaxLength(NAME_LENGTH)
        self.name.setPlaceholderText(tr("name this list"))
        self.name.setAccessibleName(tr("Name of the step list"))
        self.name.setToolTip(tr("What the list is called, here and in its file"))
        self.name.editingFinished.connect(self._rename)
        self.status = QLabel()
        self.status.setObjectName("quiet")
        self.status.setWordWrap(True)
        self.keep = self._button("keep", tr("Keep"), tr("Make the proposed steps this page's own"))
        self.keep.setObjectName("chief")
        self.ink = self._button(
            "ink only", tr("Ink only"), tr("Keep them for the ink alone: what is paler goes"))
        self.reasons = QLabel()
        self.reasons.setObjectName("quiet")
        self.reasons.setWordWrap(True)
        self.add = self._add_button(kinds)
        self.next = self._button("apply next", tr("Apply to next"),
                                 tr("Give the next page this list, and go there"))
        self._lay_out()

    def _button(self, command: str, text: str, tip: str) -> QPushButton:
        button = QPushButton(text)
        button.setToolTip(tip)
        button.clicked.connect(lambda: self.asked.emit(command))
        return button

    def _add_button(self, kinds: tuple[tuple[str, str], ...]) -> QPushButton:
        button = QPushButton(self._icons["add"], tr("Add a step"))
        menu = QMenu(button)
        menu.setToolTipsVisible(True)
        for kind, tip in kinds:
            action = menu.addAction(f"{kind}\t{tr(PURPOSES[kind])}")
            action.setToolTip(tip)
            action.triggered.connect(lambda _=False, kind=kind: self.added.emit(kind))
        menu.addSeparator()
        menu.addAction(tr("another list…")).triggered.connect(
            lambda: self.asked.emit("insert list"))
        button.setMenu(menu)
        button.setToolTip(tr("Put a step where it does its work; drag it elsewhere by its number"))
        return button

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setContentsMargins(12, 8, 8, 0)
        head.addWidget(self.name, 1)
        self.status.setContentsMargins(19, 0, 8, 6)
        self._list = QWidget()
        self._steps = QVBoxLayout(self._list)
        self._steps.setContentsMargins(0, 0, 0, 0)
        self._steps.setSpacing(0)
        self._steps.addWidget(self.reasons)
        self._steps.addStretch(1)
        self.reasons.setContentsMargins(16, 12, 12, 12)
        area = self._area = QScrollArea()
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # what lies in it has the keyboard
        area.setWidget(self._list)
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.viewport().setAutoFillBackground(False)
        self._list.setAutoFillBackground(False)
        foot = QHBoxLayout()
        foot.setContentsMargins(8, 8, 8, 8)
        foot.setSpacing(8)
        foot.addWidget(self.add)
        foot.addStretch(1)
        foot.addWidget(self.ink)
        foot.addWidget(self.keep)
        foot.addWidget(self.next)
        column = QVBoxLayout(self)
        column.setContentsMargins(1, 1, 1, 1)
        column.setSpacing(0)
        column.addLayout(head)
        column.addWidget(self.status)
        column.addWidget(area, 1)
        column.addLayout(foot)
        self.setMinimumWidth(288)
        self.setMaximumWidth(480)

    def set_theme(self, theme: Theme, icons: Icons) -> None:
        """Other colours; the rows are made anew."""
        self._theme, self._icons = theme, icons
        self.add.setIcon(icons["add"])
        self._wanted = ((), None)
        self._show_rows()

    def show_card(self, shown: CardShown | None, *, awaited: bool = False) -> None:
        """Show a list, or that there is none, or that one is ``awaited``."""
        for control in (self.name, self.add, self.next):
            control.setEnabled(shown is not None)
        steps = () if shown is None else shown.steps.steps
        self._wanted = (steps, None if shown is None else shown.chosen)
        self._show_rows()
        if not (self.name.hasFocus() and self.name.isModified()):
            self.name.setText("" if shown is None else shown.steps.name)
        proposed = shown is not None and shown.proposed
        self.keep.setVisible(proposed)
        self.ink.setVisible(bool(proposed and shown and shown.paler))
        self.next.setVisible(not proposed)
        self.status.setText(_status(shown, awaited=awaited))
        self.status.setVisible(bool(self.status.text()))
        self.reasons.setText("" if shown is None else "\n\n".join(shown.reasons))
        self.reasons.setVisible(bool(proposed and self.reasons.text()))

    @property
    def complete(self) -> bool:
        """Whether the whole list is shown."""
        return not self._later.isActive()

    def _show_rows(self) -> None:
        """A long list comes some rows at a time: it would hold the screen's thread."""
        steps, chosen = self._wanted
        for row in self.rows[len(steps) :]:
            self._steps.removeWidget(row)
            row.hide()
            row.deleteLater()
        del self.rows[len(steps) :]
        spent = QElapsedTimer()
        spent.start()
        for number, step in enumerate(steps):
            if number == len(self.rows):
                self.rows.append(self._make_row(number))
                self._steps.insertWidget(number, self.rows[number])
            changed = self.rows[number].show_step(step, number + 1, chosen=chosen == number)
            if changed and number + 1 < len(steps) and spent.elapsed() >= _AT_ONCE:
                self._later.start(0)
                return
        self._later.stop()
        if chosen != self._seen:
            self._seen = chosen
            self._reveal.start(0)

    def _bring_into_view(self) -> None:
        """Scroll to the step that was chosen, once it has its place; not under a pressed button."""
        if QApplication.mouseButtons() != Qt.MouseButton.NoButton:
            self._reveal.start(_PAUSE)
        elif self._seen is not None and self._seen < len(self.rows):
            row = self.rows[self._seen]
            QCoreApplication.sendPostedEvents(None, QEvent.Type.LayoutRequest.value)
            self._area.ensureVisible(0, row.geometry().bottom(), 0, 8)
            self._area.ensureVisible(0, row.y(), 0, 8)

    def _make_row(self, number: int) -> StepRow:
        row = StepRow(self._theme, self._icons)
        row.changed.connect(lambda path, value: self.changed.emit(number, path, value))
        row.switched.connect(lambda: self.switched.emit(number))
        row.chose.connect(lambda: self.chose.emit(number))
        row.asked.connect(self.asked)
        row.dragged_to.connect(lambda at: self._show_drop(number, at))
        row.dropped_at.connect(lambda at: self._drop_row(number, at))
        return row

    def _target(self, number: int, at: QPointF) -> int:
        """The place in the new list at a point of the list's widget."""
        middles = [row.geometry().center().y() for n, row in enumerate(self.rows) if n != number]
        return sum(middle < at.y() for middle in middles)

    def _show_drop(self, number: int, at: QPointF) -> None:
        self.rows[number].raise_()
        self.rows[number].move(0, round(at.y()) - self.rows[number].height() // 2)

    def _drop_row(self, number: int, at: QPointF) -> None:
        target = self._target(number, at)
        self._steps.invalidate()
        self._steps.activate()
        if target != number:
            self.moved.emit(number, target)

    def _rename(self) -> None:
        if self.name.isModified():
            self.name.setModified(False)
            self.renamed.emit(self.name.text())


def _status(shown: CardShown | None, *, awaited: bool) -> str:
    if shown is None:
        return tr("The page is being read, to propose a list for it.") if awaited else ""
    if shown.proposed:
        return tr("Proposed for this page, not yet kept.")
    if not shown.steps.steps:
        return tr("Nothing is done to this page yet.")
    return ""
