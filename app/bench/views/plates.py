"""Small plates with words on them, over the page."""

from PySide6.QtCore import QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QPainter, QPen

from app.bench.state.theme import Theme

_ABOUT = 170  # pixels below the pointer that are not to be covered
_BELOW_TAGS = 40  # pixels from the head: above it stands which side is which


def plate(
    painter: QPainter, theme: Theme, at: QPointF, text: str, *, right: bool = False,
    within: QRectF | None = None,
) -> None:
    """Words on a plate whose left, or ``right``, upper corner is at a point.

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
    """What a tool asks for, at the right: at the foot, or at the head while the pointer is low.

    It is low where what lies about it, as the glass, reaches down to the foot.
    """
    low = room.height() - QFontMetricsF(painter.font()).height() - 14
    is_low = pointer is not None and pointer.y() > max(low - _ABOUT, room.height() / 2)
    at = QPointF(room.width() - 8, _BELOW_TAGS if is_low else low)
    plate(painter, theme, at, text, right=True)
