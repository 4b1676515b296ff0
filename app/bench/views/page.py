"""The page: before and after with a divider between, to push about and go nearer to."""

from dataclasses import dataclass
from typing import Literal

from PySide6.QtCore import QEvent, QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QCursor,
    QFontMetricsF,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from app.bench.state.picture import Pixels
from app.bench.state.placing import Handhold, Shape, Spot
from app.bench.state.scale import View
from app.bench.state.theme import Theme
from app.bench.views.look import tr

Side = Literal["split", "before", "after"]
_GRIP = 8  # pixels either side of the divider where it can be taken hold of
_ASKED: dict[Shape, str] = {
    "outline": "draw round the area", "point": "click on the mark",
    "box": "draw a box round what stays", "line": "draw along what should be level or upright",
}
_NOTCH = 120  # eighths of a degree: one notch of a wheel


@dataclass(frozen=True, eq=False)
class Frame:
    """The seen part of a page, before and after, in screen pixels, as it lay in ``view``.

    ``after`` is None until there is a list to show; ``exact`` says that all steps are in it.
    """

    view: View
    before: Pixels
    after: Pixels | None
    exact: bool = True


class PageView(QWidget):
    """Reports pushing, zooming (about a point), the divider, and the size it has."""

    pushed = Signal(int, int)
    zoomed = Signal(bool, float, float)
    resized = Signal(int, int)
    divided = Signal(float)
    picked = Signal(float, float)
    drawn_on = Signal(tuple)
    released = Signal()
    painted = Signal()

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._frame: Frame | None = None
        self._images: dict[str, QImage] = {}
        self._view: View | None = None
        self._side: Side = "split"
        self._divider = 0.5
        self._said = ""
        self._held: QPointF | None = None
        self._dividing = False
        self._space = False
        self._picking = False
        self._hold: Handhold | None = None
        self._drawing: list[Spot] = []
        self._turned = 0
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(tr("Page"))
        self.setMinimumSize(240, 200)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)

    def set_theme(self, theme: Theme) -> None:
        """Other colours."""
        self._theme = theme
        self.update()

    def show_frame(self, frame: Frame | None) -> None:
        """Show other pixels."""
        self._frame = frame
        self._images = {}
        if frame is not None:
            self._images["before"] = _image(frame.before, self.devicePixelRatio())
            if frame.after is not None:
                self._images["after"] = _image(frame.after, self.devicePixelRatio())
        self.update()

    def show_view(self, view: View | None) -> None:
        """Where the page lies now; pixels for it may still be on their way."""
        self._view = view
        self.update()

    def show_side(self, side: Side, divider: float) -> None:
        """Before, after, or both with the divider at a share of the width."""
        self._side, self._divider = side, divider
        self.update()

    def say(self, text: str) -> None:
        """Say what is not yet so about the picture; nothing where it is exact."""
        if text != self._said:
            self._said = text
            self.setAccessibleDescription(text)
            self.update()

    def set_picking(self, *, on: bool) -> None:
        """Whether the next click picks a tone."""
        self._picking = on
        self.setCursor(Qt.CursorShape.CrossCursor if on else Qt.CursorShape.OpenHandCursor)

    def show_hold(self, hold: Handhold | None) -> None:
        """The chosen step's place on the page, to be drawn anew or clicked anew."""
        self._hold = hold
        self._drawing = []
        self.update()

    @property
    def frame(self) -> Frame | None:
        """The pixels that are shown."""
        return self._frame

    @property
    def current(self) -> bool:
        """Whether the pixels are those of the view as it is now."""
        return self._frame is not None and self._frame.view == self._view

    def _divider_x(self) -> float:
        return round(self._divider * self.width())

    def _side_image(self, side: str) -> tuple[QImage | None, int, int]:
        """The pixels of a side, and where their corner lies now."""
        if self._frame is None or self._view is None:
            return None, 0, 0
        image = self._images.get(side, self._images.get("before"))
        frame, view = self._frame.view, self._view
        same = frame.scale == view.scale
        left, top = (view.left, view.top) if same else (frame.left, frame.top)
        return image, left + frame.seen.left, top + frame.seen.top

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw the sides, the divider, and what is to be said."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.mount))
        if self._frame is not None and self._view is not None:
            self._paint_sides(painter)
            if self._hold is not None:
                self._paint_hold(painter, self._hold, self._view)
        if self._said:
            self._paint_said(painter)
        painter.end()
        self.painted.emit()

    def _paint_sides(self, painter: QPainter) -> None:
        split = self._side == "split" and "after" in self._images
        if not split:
            side = "before" if self._side == "before" else "after"
            self._paint_side(painter, side, self.rect())
            shown = side if side in self._images else "before"
            self._tag(painter, 8, shown, right=False)
            return
        x = int(self._divider_x())
        self._paint_side(painter, "before", QRect(0, 0, x, self.height()))
        self._paint_side(painter, "after", QRect(x, 0, self.width() - x, self.height()))
        self._paint_divider(painter, x)

    def _paint_side(self, painter: QPainter, side: str, where: QRect) -> None:
        image, left, top = self._side_image(side)
        if image is None:
            return
        ratio = self.devicePixelRatio()
        painter.setClipRect(where)
        painter.drawImage(QPointF(left / ratio, top / ratio), image)
        painter.setClipping(False)

    def _paint_divider(self, painter: QPainter, x: int) -> None:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(self._theme.field), 3))
        painter.drawLine(QPointF(x, 0), QPointF(x, self.height()))
        painter.setPen(QPen(QColor(self._theme.accent), 1))
        painter.drawLine(QPointF(x, 0), QPointF(x, self.height()))
        painter.setBrush(QColor(self._theme.accent))
        painter.setPen(QPen(QColor(self._theme.field), 1.5))
        middle = self.height() / 2
        painter.drawRoundedRect(QRectF(x - 5, middle - 20, 10, 40), 5, 5)
        self._tag(painter, x - 10, "before", right=True)
        self._tag(painter, x + 10, "after", right=False)

    def _tag(self, painter: QPainter, x: float, side: str, *, right: bool) -> None:
        text = tr("before") if side == "before" else tr("after")
        self._plate(painter, x, 8, text, right=right)

    def _plate(self, painter: QPainter, x: float, y: float, text: str, *, right: bool) -> None:
        metrics = QFontMetricsF(self.font())
        width, height = metrics.horizontalAdvance(text) + 16, metrics.height() + 6
        box = QRectF(x - width if right else x, y, width, height)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(self._theme.edge), 1))
        painter.setBrush(QColor(self._theme.card))
        painter.drawRoundedRect(box, 4, 4)
        painter.setPen(QColor(self._theme.ink))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)

    def _paint_said(self, painter: QPainter) -> None:
        """A hatched edge round the picture, and the words."""
        hatch = QColor(self._theme.accent)
        brush = painter.brush()
        brush.setColor(hatch)
        brush.setStyle(Qt.BrushStyle.BDiagPattern)
        for strip in (QRect(0, self.height() - 6, self.width(), 6),):
            painter.fillRect(strip, QColor(self._theme.card))
            painter.fillRect(strip, brush)
        height = QFontMetricsF(self.font()).height()
        self._plate(painter, 8, self.height() - height - 22, self._said, right=False)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Report the room there is, in screen pixels."""
        super().resizeEvent(event)
        ratio = self.devicePixelRatio()
        self.resized.emit(round(self.width() * ratio), round(self.height() * ratio))

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Take hold of the divider or the page."""
        if event.button() not in (Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton):
            return
        left = event.button() == Qt.MouseButton.LeftButton
        if left and self._picking:
            here = event.position() * self.devicePixelRatio()
            self.picked.emit(here.x(), here.y())
            return
        self._dividing = left and not self._space and self._near_divider(event.position())
        if left and self._hold is not None and not self._dividing and not self._space:
            self._drawing = [self._spot(event.position())]
            return
        self._held = event.position()
        self._show_cursor(event.position())

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Drag what is held."""
        here = event.position()
        if self._drawing:
            self._drawing.append(self._spot(here))
            self.update()
        elif self._held is None:
            self._show_cursor(here)
        elif self._dividing:
            self.divided.emit(min(max(here.x() / max(self.width(), 1), 0.0), 1.0))
        else:
            ratio = self.devicePixelRatio()
            across, down = round((here - self._held).x() * ratio), round(
                (here - self._held).y() * ratio)
            if across or down:
                self._held = here
                self.pushed.emit(across, down)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Let go."""
        drawn, self._drawing = self._drawing, []
        if drawn and self._hold is not None:
            self.drawn_on.emit(tuple(drawn))
            self.update()
        self._held, self._dividing = None, False
        self._show_cursor(event.position())

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        """Go nearer or step back, one step a notch, about the pointer."""
        self._turned += event.angleDelta().y()
        here = event.position() * self.devicePixelRatio()
        while abs(self._turned) >= _NOTCH:
            larger = self._turned > 0
            self._turned -= _NOTCH if larger else -_NOTCH
            self.zoomed.emit(larger, here.x(), here.y())
        event.accept()

    def event(self, event: QEvent) -> bool:
        """A pinch is a wheel."""
        if isinstance(event, QNativeGestureEvent) and (
            event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture
        ):
            self._turned += round(event.value() * 4 * _NOTCH)
            here = event.position() * self.devicePixelRatio()
            if abs(self._turned) >= _NOTCH:
                self.zoomed.emit(self._turned > 0, here.x(), here.y())
                self._turned = 0
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Space pushes; arrows push by a step, with Control they move the divider."""
        steps = {
            Qt.Key.Key_Left: (1, 0), Qt.Key.Key_Right: (-1, 0),
            Qt.Key.Key_Up: (0, 1), Qt.Key.Key_Down: (0, -1),
        }
        step = steps.get(Qt.Key(event.key()))
        if event.key() == Qt.Key.Key_Escape and self._picking:
            self.set_picking(on=False)
        elif event.key() == Qt.Key.Key_Escape and self._hold is not None:
            self.released.emit()
        elif event.key() == Qt.Key.Key_Space:
            self._space = True
            self._show_cursor(QPointF(self.mapFromGlobal(QCursor.pos())))
        elif step and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.divided.emit(min(max(self._divider - step[0] * 0.02, 0.0), 1.0))
        elif step:
            self.pushed.emit(step[0] * 64, step[1] * 64)
        else:
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Space is let go."""
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space = False
            self._show_cursor(QPointF(self.mapFromGlobal(QCursor.pos())))
        else:
            super().keyReleaseEvent(event)

    def _spot(self, at: QPointF) -> Spot:
        """The place on the page, in its pixels, under a point of the view."""
        if self._view is None:
            return 0.0, 0.0
        ratio = self.devicePixelRatio()
        return self._view.page_at(at.x() * ratio, at.y() * ratio)

    def _paint_hold(self, painter: QPainter, hold: Handhold, view: View) -> None:
        """The outline in two lines, dark and light, that show on any drawing; or a ring."""
        spots = tuple(self._drawing) or hold.spots
        ratio, scale = self.devicePixelRatio(), view.scale.value
        points = [QPointF((x * scale + view.left) / ratio, (y * scale + view.top) / ratio)
                  for x, y in spots]
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        dash = Qt.PenStyle.DashLine
        for colour, width, style in (
            (self._theme.field, 3, Qt.PenStyle.SolidLine), (self._theme.accent, 1.5, dash),
        ):
            painter.setPen(QPen(QColor(colour), width, style))
            _draw_shape(painter, hold.shape, points)
        self._plate(painter, self.width() - 8, 8, tr(_ASKED[hold.shape]), right=True)

    def _near_divider(self, at: QPointF) -> bool:
        split = self._side == "split" and "after" in self._images
        return split and abs(at.x() - self._divider_x()) <= _GRIP

    def _show_cursor(self, at: QPointF) -> None:
        if self._picking or (self._hold is not None and not self._space
                             and not self._near_divider(at)):
            self.setCursor(Qt.CursorShape.CrossCursor)
        elif self._dividing or (self._held is None and not self._space and self._near_divider(at)):
            self.setCursor(Qt.CursorShape.SplitHCursor)
        elif self._held is not None:
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
        else:
            self.setCursor(Qt.CursorShape.OpenHandCursor)


def _draw_shape(painter: QPainter, shape: Shape, points: list[QPointF]) -> None:
    if not points:
        return
    if shape == "outline":
        painter.drawPolygon(QPolygonF(points))
    elif shape == "box":
        painter.drawRect(QPolygonF(points).boundingRect())
    elif shape == "line":
        painter.drawLine(points[0], points[-1])
    else:
        painter.drawEllipse(points[-1], 9, 9)


def _image(pixels: Pixels, ratio: float) -> QImage:
    """Pixels as the toolkit's image; the copy outlives the array."""
    height, width = pixels.shape
    image = QImage(pixels.data, width, height, 4 * width, QImage.Format.Format_RGB32).copy()
    image.setDevicePixelRatio(ratio)
    return image
