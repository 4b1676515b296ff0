"""One step on the card: its sentence, its number as a grip, its switch and its menu."""

from PySide6.QtCore import QPointF, QRect, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFocusEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QMenu,
    QStyle,
    QToolButton,
    QVBoxLayout,
)

from app.bench.state.commands import BY_NAME
from app.bench.state.sentence import as_written
from app.bench.state.theme import Theme
from app.bench.views.inner import Opener
from app.bench.views.look import Icons, as_it_is, quiet, tr
from app.bench.views.sentence import Sentence
from core.steps.step import Step
from core.steps.steplist import Nested

_STEP_MENU = ("switch", "duplicate", "step up", "step down", "note", "delete")


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
        self.note = as_it_is(quiet(""))
        self.switch = self._button()
        self.switch.clicked.connect(self.switched)
        self.more = self._button()
        self.more.setIcon(icons["more"])
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
        self.more.setAccessibleName(f"{tr('More for step')} {number}, {step.kind}")
        self.switch.setToolTip(
            tr("Leave this step out") if step.on else tr("Do this step again"))
        self.setAccessibleName(f"{number}. {as_written(step.sentence())}")
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
