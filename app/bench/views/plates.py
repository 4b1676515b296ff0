"""Small plates with words on them, over the page, and the divider."""

from PySide6.QtCore import QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QPainter, QPen

from app.bench.state.theme import Theme

HANDLE = 20
"""Pixels either side of the divider's middle where it is broad."""

_ABOUT = 170  # pixels below the pointer that are not to be covered


def plate(
    painter: QPainter, theme: Theme, at: QPointF, text: str, *, right: bool = False,
    within: QRectF | None = None,
) -> QRectF:
    """Words on a plate whose left, or ``right``, upper corner is at a point; gives where it is.

    It is pushed so that all of it lies ``within``; where it is too long for that, it is broken
    into lines.
    """
    metrics, how = QFontMetricsF(painter.font()), int(Qt.AlignmentFlag.AlignCenter)
    width, height = metrics.horizontalAdvance(text) + 16, metrics.height() + 6
    if within is not None and width > within.width():
        width, how = within.width(), how | int(Qt.TextFlag.TextWordWrap)
        lines = metrics.boundingRect(QRectF(0, 0, width, within.height()), how, text)
        height = lines.height() + 6
    box = QRectF(at.x() - width if right else at.x(), at.y(), width, height)
    if within is not None:
        box.moveLeft(max(min(box.left(), within.right() - width), within.left()))
        box.moveTop(max(min(box.top(), within.bottom() - height), within.top()))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(QColor(theme.edge), 1))
    painter.setBrush(QColor(theme.card))
    painter.drawRoundedRect(box, 4, 4)
    painter.setPen(QColor(theme.ink))
    painter.drawText(box, how, text)
    return box


def paint_divider(painter: QPainter, theme: Theme, x: float, height: int) -> None:
    """The line between before and after, broad in its middle."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for colour, width in ((theme.field, 3), (theme.accent, 1)):
        painter.setPen(QPen(QColor(colour), width))
        painter.drawLine(QPointF(x, 0), QPointF(x, height))
    painter.setBrush(QColor(theme.accent))
    painter.setPen(QPen(QColor(theme.field), 1.5))
    painter.drawRoundedRect(QRectF(x - 5, height / 2 - HANDLE, 10, 2 * HANDLE), 5, 5)


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
    """What a tool asks for, at the right: at the foot, or at the head while the pointer is low."""
    low = room.height() - _height(painter) - 8
    at = QPointF(room.width() - 8, _below_tags(painter) if _is_low(painter, room, pointer) else low)
    plate(painter, theme, at, text, right=True)


def clear_room(painter: QPainter, pointer: QPointF | None) -> QRectF:
    """Where a tool's own plates may lie: clear of which side is which, and of what it asks for."""
    room, band = painter.viewport(), _height(painter) + 8
    low = _is_low(painter, room, pointer)
    return QRectF(room).adjusted(
        8, _below_tags(painter) + (band if low else 0), -8, -8 - (0 if low else band))


def _height(painter: QPainter) -> float:
    """How high a plate with one line is."""
    return QFontMetricsF(painter.font()).height() + 6


def _below_tags(painter: QPainter) -> float:
    """How far from the head: above it stands which side is which."""
    return 8 + _height(painter) + 8


def _is_low(painter: QPainter, room: QRect, pointer: QPointF | None) -> bool:
    """Whether the pointer, or what lies about it as the glass, reaches down to the foot."""
    low = room.height() - _height(painter) - 8
    return pointer is not None and pointer.y() > max(low - _ABOUT, room.height() / 2)
