"""A pointer for the keyboard: arrows move it over the page, Return presses it and lets it go."""

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QKeyEvent, QPainter

from app.bench.views.tools import Lay, Tool

_STEP, _FINE = 10.0, 1.0  # pixels of the screen
_WAYS = {
    Qt.Key.Key_Left: QPointF(-1, 0), Qt.Key.Key_Right: QPointF(1, 0),
    Qt.Key.Key_Up: QPointF(0, -1), Qt.Key.Key_Down: QPointF(0, 1),
}
_PRESSES = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


class KeyPointer:
    """Where it stands on the widget, None while it is not used; and whether it is pressed."""

    def __init__(self) -> None:
        self.at: QPointF | None = None
        self.pressed = False

    def put_away(self) -> None:
        """The mouse is used again."""
        self.at, self.pressed = None, False

    def key(self, event: QKeyEvent, tool: Tool, lay: Lay, room: QRectF) -> bool:
        """Work the tool by a key; False where the key does nothing here.

        ``room`` is the part of the widget in which it moves; it begins in the middle.
        """
        way = _WAYS.get(Qt.Key(event.key()))
        if way is None and event.key() not in _PRESSES:
            return False
        if self.at is None:
            self.at = room.center()
        elif way is not None:
            fine = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
            to = self.at + way * (_FINE if fine else _STEP)
            self.at = QPointF(min(max(to.x(), room.left()), room.right()),
                              min(max(to.y(), room.top()), room.bottom()))
            if self.pressed:
                tool.drag(self.at, lay)
        if way is None:
            self._press(tool, lay, self.at)
        return True

    def _press(self, tool: Tool, lay: Lay, at: QPointF) -> None:
        """Press a tool and, the next time, let it go."""
        if self.pressed:
            self.pressed = False
            tool.let_go(at, lay)
        else:
            self.pressed = tool.press(at, lay)

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """A cross."""
        if self.at is None:
            return
        for pen in lay.pens():
            pen.setStyle(Qt.PenStyle.SolidLine)
            painter.setPen(pen)
            for along in (QPointF(12, 0), QPointF(0, 12)):
                painter.drawLine(self.at - along, self.at + along)
