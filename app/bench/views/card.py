"""The step list as an index card: a name, and sentences in the order in which they are done."""

from dataclasses import dataclass

from PySide6.QtCore import QElapsedTimer, QPointF, QRect, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QFocusEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QMenu,
    QPushButton,
    QScrollArea,
    QStyle,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.bench.state.theme import Theme
from app.bench.views.inner import Opener
from app.bench.views.look import Icons, tr
from app.bench.views.sentence import Sentence
from core.steps.step import Step
from core.steps.steplist import NAME_LENGTH, Nested, StepList

_STEP_MENU = ("switch", "duplicate", "step up", "step down", "note", "delete")


@dataclass(frozen=True)
class CardShown:
    """A list on the card: whether it is only proposed, why, which step is chosen."""

    steps: StepList
    proposed: bool = False
    reasons: tuple[str, ...] = ()
    chosen: int | None = None


_AT_ONCE = 8  # ms of one round of the screen's thread in which steps are drawn up


class StepRow(QFrame):
    """One step: its number, which is also the grip to move it by, its switch and its sentence."""

    changed = Signal(tuple, object)
    switched = Signal()
    chose = Signal()
    asked = Signal(str)
    dragged_to = Signal(QPointF)
    dropped_at = Signal(QPointF)

    def __init__(self, theme: Theme, icons: Icons) -> None:
        super().__init__()
        self._theme, self._icons = theme, icons
        self._number = 0
        self._shown: tuple[Step, int, bool] | None = None
        self._chosen = False
        self._grip: QPointF | None = None
        self._moving = False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.sentence = Sentence(theme)
        self.sentence.changed.connect(self.changed)
        self.inner: Opener | None = None
        self.note = QLabel()
        self.note.setObjectName("quiet")
        self.note.setWordWrap(True)
        self.switch = self._button()
        self.switch.clicked.connect(self.switched)
        self.more = self._button()
        self.more.setIcon(icons["more"])
        self.more.setAccessibleName(tr("More for this step"))
        self.more.setToolTip(tr("Duplicate, move, note, delete"))
        self.more.clicked.connect(self._show_menu)
        self._lay_out()

    def _button(self) -> QToolButton:
        button = QToolButton()
        button.setIconSize(QSize(20, 20))
        button.setFixedSize(26, 26)
        button.setStyleSheet("padding: 0px;")
        return button

    def _lay_out(self) -> None:
        words = self._words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self.sentence)
        words.addWidget(self.note)
        row = QHBoxLayout(self)
        mirrored = self.layoutDirection() == Qt.LayoutDirection.RightToLeft
        row.setContentsMargins(*((4, 6, 32, 6) if mirrored else (32, 6, 4, 6)))
        row.setSpacing(4)
        row.addLayout(words, 1)
        side = QVBoxLayout()
        side.setSpacing(0)
        side.addWidget(self.switch)
        side.addWidget(self.more)
        side.addStretch(1)
        row.addLayout(side)

    def show_step(self, step: Step, number: int, *, chosen: bool) -> bool:
        """Show a step as number ``number`` (from 1) of the list; whether anything changed."""
        if (step, number, chosen) == self._shown:
            return False
        self._shown = (step, number, chosen)
        self._number, self._chosen = number, chosen
        self.sentence.show_step(step)
        self._show_inner(step)
        self.note.setText(step.note)
        self.note.setVisible(bool(step.note))
        self.switch.setIcon(self._icons["on" if step.on else "off"])
        said = tr("on") if step.on else tr("off")
        self.switch.setAccessibleName(f"{step.kind}: {said}")
        self.switch.setToolTip(
            tr("Leave this step out") if step.on else tr("Do this step again"))
        self.setAccessibleName(f"{number}. {step.sentence()}")
        self.update()
        return True

    def _show_inner(self, step: Step) -> None:
        """What list the step holds, if it holds one."""
        if isinstance(step, Nested) and self.inner is None:
            self.inner = Opener(self._theme, self._icons)
            self.inner.changed.connect(self.changed)
            self._words.insertWidget(1, self.inner)
        if self.inner is not None:
            self.inner.show_list(step.list if isinstance(step, Nested) else None)

    def _show_menu(self) -> None:
        from app.bench.state.commands import BY_NAME  # noqa: PLC0415

        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for name in _STEP_MENU:
            action = menu.addAction(tr(BY_NAME[name].text))
            action.triggered.connect(lambda _=False, name=name: self.asked.emit(name))
        self.chose.emit()
        menu.popup(self.more.mapToGlobal(self.more.rect().bottomLeft()))

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Choose the step, and take hold of it by its number."""
        if event.button() == Qt.MouseButton.LeftButton:
            self.chose.emit()
            if self._on_number(event.position()):
                self._grip = event.position()

    def _on_number(self, at: QPointF) -> bool:
        mirrored = self.layoutDirection() == Qt.LayoutDirection.RightToLeft
        return at.x() > self.width() - 32 if mirrored else at.x() < 32

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Carry it."""
        if self._grip is None:
            near = self._on_number(event.position())
            self.setCursor(Qt.CursorShape.OpenHandCursor if near else Qt.CursorShape.ArrowCursor)
            return
        if self._moving or abs(event.position().y() - self._grip.y()) > 6:
            self._moving = True
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
            self.dragged_to.emit(self.mapToParent(event.position()))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Put it down."""
        if self._moving:
            self.dropped_at.emit(self.mapToParent(event.position()))
        self._grip, self._moving = None, False
        self.unsetCursor()

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Coming to it by key chooses it."""
        super().focusInEvent(event)
        if event.reason() in (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason):
            self.chose.emit()
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Draw it without the ring."""
        super().focusOutEvent(event)
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Space switches the step."""
        if event.key() == Qt.Key.Key_Space:
            self.switched.emit()
        else:
            super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002, N802 - Qt's name
        """The card's rule, the number, and a bar where it is chosen."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        way, whole = self.layoutDirection(), self.rect()
        if self._chosen:
            painter.fillRect(whole.adjusted(0, 0, 0, -1), QColor(self._theme.field))
            bar = QStyle.visualRect(way, whole, QRect(0, 0, 3, self.height() - 1))
            painter.fillRect(bar, QColor(self._theme.accent))
        painter.setPen(QPen(QColor(self._theme.rule), 1))
        y = self.height() - 0.5
        painter.drawLine(QPointF(8, y), QPointF(self.width() - 8, y))
        painter.setPen(QColor(self._theme.quiet))
        font = self.font()
        painter.setFont(font)
        number = QRect(12, 6, 20, self.fontMetrics().height() + 6)
        painter.drawText(
            QStyle.visualRect(way, whole, number),
            Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeading, f"{self._number}")
        if self.hasFocus():
            painter.setPen(QPen(QColor(self._theme.accent), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -1, -2))
        painter.end()


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
        self._drop: int | None = None
        self.name = QLineEdit()
        self.name.setObjectName("title")
        self.name.setMaxLength(NAME_LENGTH)
        self.name.setPlaceholderText(tr("name this list"))
        self.name.setAccessibleName(tr("Name of the step list"))
        self.name.setToolTip(tr("What the list is called, here and in its file"))
        self.name.editingFinished.connect(self._rename)
        self.status = QLabel()
        self.status.setObjectName("quiet")
        self.status.setWordWrap(True)
        self.keep = QPushButton(tr("Keep"))
        self.keep.setObjectName("chief")
        self.keep.setToolTip(tr("Make the proposed steps this page's own"))
        self.keep.clicked.connect(lambda: self.asked.emit("keep"))
        self.reasons = QLabel()
        self.reasons.setObjectName("quiet")
        self.reasons.setWordWrap(True)
        self.add = self._add_button(kinds)
        self.next = QPushButton(tr("Apply to next"))
        self.next.setToolTip(tr("Give the next page this list, and go there"))
        self.next.clicked.connect(lambda: self.asked.emit("apply next"))
        self._lay_out()

    def _add_button(self, kinds: tuple[tuple[str, str], ...]) -> QPushButton:
        button = QPushButton(self._icons["add"], tr("Add a step"))
        menu = QMenu(button)
        menu.setToolTipsVisible(True)
        for kind, tip in kinds:
            action = menu.addAction(kind)
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
        self.status.setContentsMargins(17, 0, 8, 6)
        self._list = QWidget()
        self._steps = QVBoxLayout(self._list)
        self._steps.setContentsMargins(0, 0, 0, 0)
        self._steps.setSpacing(0)
        self._steps.addWidget(self.reasons)
        self._steps.addStretch(1)
        self.reasons.setContentsMargins(16, 12, 12, 12)
        area = QScrollArea()
        area.setWidget(self._list)
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.viewport().setAutoFillBackground(False)
        self._list.setAutoFillBackground(False)
        foot = QHBoxLayout()
        foot.setContentsMargins(8, 8, 8, 8)
        foot.addWidget(self.add)
        foot.addStretch(1)
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
        target = self._target(number, at)
        for n, row in enumerate(self.rows):
            row.setContentsMargins(0, 0, 0, 0)
            row.setProperty("drop", n == target)
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
