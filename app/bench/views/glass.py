"""The glass over the page: a round magnifier that goes along with the pointer, or by the arrows."""

from PySide6.QtCore import QEvent, QObject, QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPen,
    QWheelEvent,
)

from app.bench.state.glass import ACROSS
from app.bench.state.picture import Bytes
from app.bench.views.look import image_of
from app.bench.views.page import PageView
from app.bench.views.plates import plate
from app.bench.views.tools import Lay

_ARROWS = {
    Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1), Qt.Key.Key_Down: (0, 1),
}
_STEP, _FINE = 12.0, 1.0  # pixels of the widget by an arrow, and with Shift
_STRONGER = (Qt.Key.Key_Plus, Qt.Key.Key_Equal)
_WEAKER = (Qt.Key.Key_Minus, Qt.Key.Key_Underscore)
_NOTCH = 120  # eighths of a degree: one notch of a wheel


class GlassView(QObject):
    """Shows what it is given under the glass; reports moves, a stronger or weaker one, and its end.

    While it is open the wheel, the arrows, plus, minus and Escape are its own.
    """

    moved = Signal()
    turned = Signal(bool)
    closed = Signal()

    def __init__(self, page: PageView) -> None:
        super().__init__()
        self._page = page
        self.at: QPointF | None = None
        self._image: QImage | None = None
        self._words = ""
        self._turned = 0
        page.installEventFilter(self)

    @property
    def open(self) -> bool:
        """Whether it lies on the page."""
        return self.at is not None

    def lay_down(self, at: QPointF) -> None:
        """Open it there, in pixels of the widget."""
        self._page.setFocus()
        self.move_to(at)

    def take_up(self) -> None:
        """Close it."""
        self._repaint()
        self.at = self._image = None

    def move_to(self, at: QPointF) -> None:
        """Lay it elsewhere."""
        self._repaint()
        room = QRectF(self._page.rect())
        self.at = QPointF(min(max(at.x(), room.left()), room.right()),
                          min(max(at.y(), room.top()), room.bottom()))
        self._repaint()
        self.moved.emit()

    def show_glass(self, seen: Bytes, words: str, ratio: float) -> None:
        """What lies under it: grey (H, W) or colours (H, W, 3), and what is said at its edge."""
        image = image_of(seen)
        image.setDevicePixelRatio(ratio)
        self._image, self._words = image, words
        self._page.setAccessibleDescription(words)
        self._repaint()

    def _repaint(self) -> None:
        """Have only that part of the page painted anew on which it lies."""
        if self.at is not None:
            box = self._box(self.at).toAlignedRect().adjusted(0, -8, 0, 40)
            self._page.update(0, box.top(), self._page.width(), box.height())  # its words are long

    @staticmethod
    def _box(at: QPointF) -> QRectF:
        return QRectF(at.x() - ACROSS / 2, at.y() - ACROSS / 2, ACROSS, ACROSS)

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """The round piece, its rim, and the words beneath."""
        if self.at is None or self._image is None:
            return
        box = self._box(self.at)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        round_piece = QPainterPath()
        round_piece.addEllipse(box)
        painter.save()
        painter.setClipPath(round_piece)
        painter.drawImage(box.topLeft(), self._image)
        painter.restore()
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width in ((lay.theme.field, 6.0), (lay.theme.ink, 2.0)):
            painter.setPen(QPen(QColor(colour), width))
            painter.drawEllipse(box)
        metrics = painter.fontMetrics()
        wide = metrics.horizontalAdvance(self._words) + 16
        spot = QPointF(box.center().x() - wide / 2, box.bottom() - 10)
        plate(painter, lay.theme, spot, self._words, within=QRectF(self._page.rect()))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: ARG002, N802
        """What the pointer, the wheel and the keys do to an open glass."""
        if self.at is None:
            return False
        if isinstance(event, QMouseEvent) and event.type() == QEvent.Type.MouseMove:
            self.move_to(event.position())
            return not event.buttons()
        if isinstance(event, QWheelEvent):
            self._turn(event.angleDelta().y())
            return True
        if isinstance(event, QKeyEvent):
            return self._key(event)
        return False

    def _turn(self, by: int) -> None:
        self._turned += by
        if abs(self._turned) >= _NOTCH:
            self.turned.emit(self._turned > 0)
            self._turned = 0

    def _key(self, event: QKeyEvent) -> bool:
        key = Qt.Key(event.key())
        own = key in _ARROWS or key in _STRONGER or key in _WEAKER or key == Qt.Key.Key_Escape
        control = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        if not own or control:
            return False
        if event.type() == QEvent.Type.ShortcutOverride:
            event.accept()
        elif event.type() == QEvent.Type.KeyPress:
            self._press(key, fine=bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier))
        return True

    def _press(self, key: Qt.Key, *, fine: bool) -> None:
        if key == Qt.Key.Key_Escape:
            self.closed.emit()
        elif key in _ARROWS and self.at is not None:
            across, down = _ARROWS[key]
            step = _FINE if fine else _STEP
            self.move_to(self.at + QPointF(across * step, down * step))
        else:
            self.turned.emit(key in _STRONGER)

    @property
    def covered(self) -> QRect:
        """The part of the widget on which it lies."""
        return QRect() if self.at is None else self._box(self.at).toAlignedRect()
