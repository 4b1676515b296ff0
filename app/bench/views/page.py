"""The page: before and after with a divider between, to push about and go nearer to."""

from dataclasses import dataclass

from PySide6.QtCore import QEvent, QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from app.bench.state.desk import Side
from app.bench.state.picture import Pixels
from app.bench.state.placing import Spot
from app.bench.state.scale import View
from app.bench.state.theme import Theme
from app.bench.views.look import tr
from app.bench.views.plates import HANDLE, paint_asked, paint_divider, paint_said, plate
from app.bench.views.pointing import KeyPointer
from app.bench.views.tools import Claiming, Keyed, Lay, Overlay, Tool, paint_each

_GRIP = 8  # pixels either side of the divider where it can be taken hold of
_NOTCH = 120  # eighths of a degree: one notch of a wheel
_STEPS = {
    Qt.Key.Key_Left: (1, 0), Qt.Key.Key_Right: (-1, 0),
    Qt.Key.Key_Up: (0, 1), Qt.Key.Key_Down: (0, -1),
}


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
    """Reports pushing, zooming (about a point), the divider, and the size it has.

    The size, in screen pixels, is reported whenever it is another or the pointer has left.
    """

    pushed = Signal(int, int)
    zoomed = Signal(bool, float, float)
    resized = Signal(int, int)
    divided = Signal(float)
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
        self._tool: Tool | None = None
        self._working = False
        self._pointer: QPointF | None = None
        self._keys = KeyPointer()
        self.beneath: list[Overlay] = []  # the divider, and all that lies over it
        self.overlays: list[Overlay] = []
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
            self._describe()

    def set_tool(self, tool: Tool | None) -> None:
        """What a pressed pointer does from now on; None pushes the page."""
        if tool is not self._tool:
            self._keys.put_away()
        self._tool, self._working, self._keys.pressed = tool, False, False
        self._show_cursor(self._pointer)
        self._describe()

    def _describe(self) -> None:
        """Paint anew, and put what is painted over the page into words."""
        asked = "" if self._tool is None else self._tool.words
        self.setAccessibleDescription(f"{self._said} {asked}".strip())
        self.update()

    def point_at(self, spot: Spot) -> None:
        """Put the pointer that keys move on a place of the page."""
        lay = self.lay
        if lay is not None:
            self._keys.at = lay.at(spot)
            self.update()

    @property
    def tool(self) -> Tool | None:
        """What a pressed pointer does."""
        return self._tool

    @property
    def lay(self) -> Lay | None:
        """How the page lies on the widget now."""
        if self._view is None:
            return None
        return Lay(self._view, self.devicePixelRatio(), self._theme, self._after_side(),
                   self._keys.at or self._pointer)

    def _after_side(self) -> QRectF:
        """The part of the widget that shows what the list makes of the page."""
        if "after" not in self._images or self._side == "before":
            return QRectF()
        left = self._divider_x() if self._side == "split" else 0.0
        return QRectF(left, 0, self.width() - left, self.height())

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
        lay = self.lay
        if self._frame is not None and lay is not None:
            self._paint_sides(painter, lay)
            self._paint_over(painter, lay)
            self._paint_tags(painter)
        if self._said:
            paint_said(painter, self._theme, self.rect(), self._said)
        painter.end()
        self.painted.emit()

    def _paint_over(self, painter: QPainter, lay: Lay) -> None:
        tool = () if self._tool is None else (self._tool,)
        paint_each((*self.overlays, *tool), painter, lay)
        self._keys.paint(painter, lay)
        if self._tool is not None and self._tool.words:
            paint_asked(painter, self._theme, self.rect(), self._tool.words, lay.pointer)

    def _paint_sides(self, painter: QPainter, lay: Lay) -> None:
        if not (self._side == "split" and "after" in self._images):
            side = "before" if self._side == "before" else "after"
            self._paint_side(painter, side, self.rect())
            paint_each(self.beneath, painter, lay)
            return
        x = int(self._divider_x())
        self._paint_side(painter, "before", QRect(0, 0, x, self.height()))
        self._paint_side(painter, "after", QRect(x, 0, self.width() - x, self.height()))
        paint_each(self.beneath, painter, lay)
        paint_divider(painter, self._theme, x, self.height())

    def _paint_side(self, painter: QPainter, side: str, where: QRect) -> None:
        image, left, top = self._side_image(side)
        if image is None:
            return
        ratio = self.devicePixelRatio()
        painter.setClipRect(where)
        painter.drawImage(QPointF(left / ratio, top / ratio), image)
        painter.setClipping(False)

    def _paint_tags(self, painter: QPainter) -> None:
        """Which side is which."""
        if self._side == "split" and "after" in self._images:
            x = self._divider_x()
            self._tag(painter, x - 10, "before", right=True)
            self._tag(painter, x + 10, "after", right=False)
        else:
            after = self._side != "before" and "after" in self._images
            self._tag(painter, 8, "after" if after else "before", right=False)

    def _tag(self, painter: QPainter, x: float, side: str, *, right: bool) -> None:
        text = tr("before") if side == "before" else tr("after")
        plate(painter, self._theme, QPointF(x, 8), text, right=right)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Report the room there is."""
        super().resizeEvent(event)
        self._tell_room()

    def _tell_room(self) -> None:
        ratio = self.devicePixelRatio()
        self.resized.emit(round(self.width() * ratio), round(self.height() * ratio))

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Take hold of the divider or the page."""
        if event.button() not in (Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton):
            return
        left = event.button() == Qt.MouseButton.LeftButton
        here, lay = event.position(), self.lay
        self._keys.put_away()
        self._dividing = left and not self._space and self._near_divider(here)
        free = left and not self._dividing and not self._space
        if free and self._tool is not None and lay is not None and self._tool.press(here, lay):
            self._working = True
            self.update()
            return
        self._held = here
        self._show_cursor(here)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Drag what is held."""
        self._pointer = event.position()
        self._keys.put_away()
        here, lay = event.position(), self.lay
        if self._working and self._tool is not None and lay is not None:
            self._tool.drag(here, lay)
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
        working, self._working = self._working, False
        lay = self.lay
        if working and self._tool is not None and lay is not None:
            self._tool.let_go(event.position(), lay)
            self.update()
        self._held, self._dividing = None, False
        self._show_cursor(event.position())

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """The pointer is elsewhere; the page may lie in its room as it likes."""
        super().leaveEvent(event)
        self._pointer = None
        self._tell_room()
        self.update()

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
        """Space pushes; arrows push by a step, with Control they move the divider.

        A tool in hand takes the arrows and Return for itself.
        """
        step = _STEPS.get(Qt.Key(event.key()))
        if event.key() == Qt.Key.Key_Escape and self._tool is not None:
            self._working = self._keys.pressed = False
            if not self._tool.give_up():
                self.released.emit()
            self.update()
        elif event.key() == Qt.Key.Key_Space:
            self._space = True
            self._show_cursor(self._pointer)
        elif step and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.divided.emit(min(max(self._divider - step[0] * 0.02, 0.0), 1.0))
        elif self._tool_key(event):
            self.update()
        elif step:
            self.pushed.emit(step[0] * 64, step[1] * 64)
        else:
            super().keyPressEvent(event)

    def _tool_key(self, event: QKeyEvent) -> bool:
        """Whether the tool in hand took the key."""
        tool, lay = self._tool, self.lay
        if tool is None or lay is None:
            return False
        if isinstance(tool, Keyed):
            return tool.key(event)
        return self._keys.key(event, tool, lay, QRectF(self.rect()))

    def keyReleaseEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Space is let go."""
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space = False
            self._show_cursor(self._pointer)
        else:
            super().keyReleaseEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Where the keyboard is elsewhere, nobody tells that Space is let go."""
        super().focusOutEvent(event)
        self._space = False

    def _near_divider(self, at: QPointF) -> bool:
        split = self._side == "split" and "after" in self._images
        if not split or abs(at.x() - self._divider_x()) > _GRIP:
            return False
        tool, lay = self._tool, self.lay
        if tool is None or lay is None or abs(at.y() - self.height() / 2) <= HANDLE:
            return True
        return isinstance(tool, Claiming) and not tool.claims(at, lay)

    def _show_cursor(self, at: QPointF | None) -> None:
        if at is None:
            return
        free = self._held is None and not self._dividing and not self._space
        if self._dividing or (free and self._near_divider(at)):
            shape = Qt.CursorShape.SplitHCursor
        elif free and self._tool is not None and self.lay is not None:
            shape = self._tool.hover(at, self.lay)
            self.update()
        elif self._held is not None:
            shape = Qt.CursorShape.ClosedHandCursor
        else:
            shape = Qt.CursorShape.OpenHandCursor
        self.setCursor(shape)


def _image(pixels: Pixels, ratio: float) -> QImage:
    """Pixels as the toolkit's image, which shares them: the frame that is shown keeps them."""
    height, width = pixels.shape
    image = QImage(pixels.data, width, height, 4 * width, QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(ratio)
    return image
