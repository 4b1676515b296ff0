"""A list within a list, opened on the card: its sentences, with their numbers to be edited."""

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QToolButton, QVBoxLayout, QWidget

from app.bench.state.theme import Theme
from app.bench.views.look import Icons, tr
from app.bench.views.sentence import Sentence
from core.steps.step import Step
from core.steps.steplist import Nested, StepList

_INDENT = 12


class Opener(QWidget):
    """The steps of a held list behind a button that shows them; reports changes in them.

    A path goes from the step that holds the list inwards.
    """

    changed = Signal(tuple, object)

    def __init__(self, theme: Theme, icons: Icons) -> None:
        super().__init__()
        self._theme, self._icons = theme, icons
        self._held: StepList | None = None
        self.rows: list[InnerRow] = []
        self.button = QToolButton()
        self.button.setObjectName("inline")
        self.button.setCheckable(True)
        self.button.setToolTip(tr("Show the steps of this list here, to change their numbers"))
        self.button.toggled.connect(self._show_rows)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 2, 0, 0)
        self._column.setSpacing(2)
        self._column.addWidget(self.button, 0, Qt.AlignmentFlag.AlignLeading)
        self._show_rows()

    def show_list(self, held: StepList | None) -> None:
        """Show a held list; None where the step holds none."""
        self._held = held
        self.setVisible(held is not None)
        if held is None:
            self.button.setChecked(False)
        self._show_rows()

    def _show_rows(self) -> None:
        opened = self.button.isChecked()
        said = tr("Hide its steps") if opened else tr("Show its steps")
        self.button.setText(said)
        steps = self._held.steps if self._held is not None and opened else ()
        if len(steps) != len(self.rows):
            self._make_rows(len(steps))
        for number, (row, step) in enumerate(zip(self.rows, steps, strict=True), start=1):
            row.show_step(step, number)

    def _make_rows(self, count: int) -> None:
        for row in self.rows:
            self._column.removeWidget(row)
            row.hide()
            row.deleteLater()
        self.rows = [self._make_row(number) for number in range(count)]
        for row in self.rows:
            self._column.addWidget(row)

    def _make_row(self, number: int) -> "InnerRow":
        row = InnerRow(self._theme, self._icons)
        row.changed.connect(
            lambda path, value: self.changed.emit(("list", number, *path), value))
        return row


class InnerRow(QWidget):
    """One step of a held list: its switch and its sentence, and what list it may hold itself."""

    changed = Signal(tuple, object)

    def __init__(self, theme: Theme, icons: Icons) -> None:
        super().__init__()
        self._theme, self._icons = theme, icons
        self._on = True
        self.sentence = Sentence(theme)
        self.sentence.changed.connect(self.changed)
        self.switch = QToolButton()
        self.switch.setIconSize(QSize(16, 16))
        self.switch.setFixedSize(22, 22)
        self.switch.setStyleSheet("padding: 0px;")
        self.switch.clicked.connect(lambda: self.changed.emit(("on",), not self._on))
        self.inner: Opener | None = None
        self._words = QVBoxLayout()
        self._words.setSpacing(0)
        self._words.addWidget(self.sentence)
        row = QHBoxLayout(self)
        mirrored = self.layoutDirection() == Qt.LayoutDirection.RightToLeft
        row.setContentsMargins(*((0, 0, _INDENT, 0) if mirrored else (_INDENT, 0, 0, 0)))
        row.setSpacing(4)
        row.addLayout(self._words, 1)
        row.addWidget(self.switch, 0, Qt.AlignmentFlag.AlignTop)

    def show_step(self, step: Step, number: int) -> None:
        """Show a step as number ``number`` (from 1) of its list."""
        self._on = step.on
        self.sentence.show_step(step)
        self.switch.setIcon(self._icons["on" if step.on else "off"])
        said = tr("on") if step.on else tr("off")
        self.switch.setAccessibleName(f"{number}. {step.kind}: {said}")
        self.switch.setToolTip(
            tr("Leave this step out") if step.on else tr("Do this step again"))
        if isinstance(step, Nested) and self.inner is None:
            self.inner = Opener(self._theme, self._icons)
            self.inner.changed.connect(self.changed)
            self._words.addWidget(self.inner)
        if self.inner is not None:
            self.inner.show_list(step.list if isinstance(step, Nested) else None)
