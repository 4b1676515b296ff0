"""Small plates with words on them, over the page."""

from PySide6.QtCore import QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QPainter, QPen

from app.bench.state.theme import Theme


def plate(
    painter: QPainter, theme: Theme, at: QPointF, text: str, *, right: bool = False,
    within: QRectF | None = None,
) -> None:
    """Words on a plate whose left, or ``right``, upper corner is at a point.

    It is pushed so that all of it lies ``within``, where there is room for it.
    """
    metrics = QFontMetricsF(painter.font())
    width, height = metrics.horizontalAdvance(text) + 16, metrics.height() + 6
    box = QRectF(at.x() - width if right else at.x(), at.y(), width, height)
    if within is not None:
        box.moveLeft(max(min(box.left(), within.right() - width), within.left()))
        box.moveTop(max(min(box.top(), within.bottom() - height), within.top()))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(QColor(theme.edge), 1))
    painter.setBrush(QColor(theme.card))
    painter.drawRoundedRect(box, 4, 4)
    painter.setPen(QColor(theme.ink))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)


def paint_said(painter: QPainter, theme: Theme, room: QRect, text: str) -> None:
    """A hatched edge along the foot of the room, and what is not yet so about the picture."""
    foot = QRect(room.left(), room.bottom() - 5, room.width(), 6)
    painter.fillRect(foot, QColor(theme.card))
    painter.fillRect(foot, QBrush(QColor(theme.accent), Qt.BrushStyle.BDiagPattern))
    height = QFontMetricsF(painter.font()).height()
    plate(painter, theme, QPointF(8, room.height() - height - 22), text)


def paint_asked(
    painter: QPainter, theme: Theme, room: QRect, text: str, pointer: QPointF | None,
) -> None:
    """What a tool asks for, in a lower corner of the room: the one where the pointer is not."""
    low = room.height() - QFontMetricsF(painter.font()).height() - 14
    aside = pointer is not None and pointer.y() > low - 24 and pointer.x() > room.width() / 2
    at = QPointF(8 if aside else room.width() - 8, low)
    plate(painter, theme, at, text, right=not aside)
