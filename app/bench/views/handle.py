"""The three handles of the tone strip: a nib, a small diamond, the turned corner of a sheet."""

from PySide6.QtCore import QPointF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from app.bench.state.strip import Which
from app.bench.state.theme import Theme

SIZE = QSize(28, 30)
_STEPS = {
    Qt.Key.Key_Left: -1, Qt.Key.Key_Down: -1, Qt.Key.Key_Right: 1, Qt.Key.Key_Up: 1,
}


class Handle(QWidget):
    """One handle; its tip is at the middle of its upper edge.

    Reports where it is dragged (x in its parent), that the drag is over or given up, by how
    much it is nudged, and that it is to go back to where it does nothing.
    """

    dragged = Signal(float)
    dropped = Signal()
    abandoned = Signal()
    nudged = Signal(int)
    reset = Signal()

    def __init__(self, which: Which, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.which = which
        self._theme = theme
        self._grip: float | None = None
        self.setFixedSize(SIZE)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.SizeHorCursor)

    def set_theme(self, theme: Theme) -> None:
        """Other colours."""
        self._theme = theme
        self.update()

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Take hold."""
        if event.button() == Qt.MouseButton.LeftButton:
            self._grip = event.position().x() - self.width() / 2

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Drag."""
        if self._grip is not None:
            self.dragged.emit(self.mapToParent(event.position()).x() - self._grip)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Let go."""
        if event.button() == Qt.MouseButton.LeftButton and self._grip is not None:
            self._grip = None
            self.dropped.emit()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Back to where it does nothing."""
        if event.button() == Qt.MouseButton.LeftButton:
            self._grip = None
            self.reset.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Arrows nudge by one, with Shift by ten; Home resets; Escape gives a drag up."""
        step = _STEPS.get(Qt.Key(event.key()))
        if step is not None:
            shifted = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
            self.nudged.emit(step * 10 if shifted else step)
        elif event.key() == Qt.Key.Key_Home:
            self.reset.emit()
        elif event.key() == Qt.Key.Key_Escape and self._grip is not None:
            self._grip = None
            self.abandoned.emit()
        else:
            super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw the shape, and a ring where it has the focus."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        focus = self.hasFocus()
        pen = QPen(QColor(self._theme.accent if focus else self._theme.ink), 2 if focus else 1.4)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.setPen(pen)
        painter.translate(self.width() / 2, 1)
        {"black": self._nib, "middle": self._diamond, "white": self._corner}[self.which](painter)
        painter.end()

    def _nib(self, painter: QPainter) -> None:
        nib = QPainterPath(QPointF(0, 1))
        nib.cubicTo(2, 7, 7, 10, 6.5, 16)
        nib.lineTo(4, 25)
        nib.lineTo(-4, 25)
        nib.lineTo(-6.5, 16)
        nib.cubicTo(-7, 10, -2, 7, 0, 1)
        painter.setBrush(QColor("#1b1815"))
        painter.drawPath(nib)
        light = QColor("#f5f2ec")
        painter.setPen(QPen(light, 1.2))
        painter.drawLine(QPointF(0, 5), QPointF(0, 14))
        painter.setBrush(light)
        painter.drawEllipse(QPointF(0, 15.5), 1.6, 1.6)

    def _diamond(self, painter: QPainter) -> None:
        diamond = QPainterPath(QPointF(0, 2))
        for x, y in ((6.5, 10), (0, 18), (-6.5, 10)):
            diamond.lineTo(x, y)
        diamond.closeSubpath()
        painter.setBrush(QColor("#8d867c"))
        painter.drawPath(diamond)

    def _corner(self, painter: QPainter) -> None:
        painter.drawLine(QPointF(0, 0), QPointF(0, 7))
        sheet = QPainterPath(QPointF(-8, 7))
        for x, y in ((2, 7), (8, 13), (8, 26), (-8, 26)):
            sheet.lineTo(x, y)
        sheet.closeSubpath()
        painter.setBrush(QColor("#fdfcf9"))
        painter.drawPath(sheet)
        turned = QPainterPath(QPointF(2, 7))
        turned.lineTo(8, 13)
        turned.cubicTo(6, 12.4, 4, 12.6, 2, 14)
        turned.closeSubpath()
        painter.setBrush(QColor("#b9b0a1"))
        painter.drawPath(turned)
