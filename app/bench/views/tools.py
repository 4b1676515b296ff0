"""What lies over the page: what is painted there, and tools that a pointer works."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from PySide6.QtCore import QObject, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPainterPath, QPen, QPolygonF

from app.bench.state.placing import Aim, Spot
from app.bench.state.scale import View
from app.bench.state.theme import Theme
from app.bench.views.look import tr


@dataclass(frozen=True)
class Lay:
    """How the page lies on the widget: places and lengths there and back.

    ``after`` is the part of the widget that shows what the list makes of the page;
    ``pointer`` is where the pointer is, None while it is elsewhere.
    """

    view: View
    ratio: float
    theme: Theme
    after: QRectF
    pointer: QPointF | None = None

    def at(self, spot: Spot) -> QPointF:
        """Where a place of the page, in its pixels, lies on the widget."""
        scale = self.view.scale.value
        return QPointF((spot[0] * scale + self.view.left) / self.ratio,
                       (spot[1] * scale + self.view.top) / self.ratio)

    def spot(self, at: QPointF) -> Spot:
        """The place of the page, in its pixels, under a point of the widget."""
        return self.view.page_at(at.x() * self.ratio, at.y() * self.ratio)

    def length(self, pixels: float) -> float:
        """How long so many pixels of the page are on the widget."""
        return pixels * self.view.scale.value / self.ratio

    def pens(self) -> Iterator[QPen]:
        """Two pens, broad and light, then narrow and dark: together they show on any drawing."""
        yield QPen(QColor(self.theme.field), 3)
        pen = QPen(QColor(self.theme.accent), 1.5)
        pen.setDashPattern([4, 3])
        yield pen

    def trace(self, painter: QPainter, path: QPainterPath) -> None:
        """A long line in both pens; smoothing the broad one would take longer than it may."""
        for narrow, pen in enumerate(self.pens()):
            pen.setWidthF(1 if narrow else 3)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, bool(narrow))
            painter.setPen(pen)
            painter.drawPath(path)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)


class Overlay(Protocol):
    """Something that is painted over the page."""

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """Paint it."""


def paint_each(overlays: Iterable[Overlay], painter: QPainter, lay: Lay) -> None:
    """Paint all of them, each with a painter as it was."""
    for overlay in overlays:
        painter.save()
        overlay.paint(painter, lay)
        painter.restore()


class Tool(Overlay, Protocol):
    """What the pointer does to the page in place of pushing it; all points are the widget's.

    ``words`` ask the person for what the tool needs.
    """

    words: str

    def press(self, at: QPointF, lay: Lay) -> bool:
        """Take hold; False where the page is to be pushed instead."""

    def drag(self, at: QPointF, lay: Lay) -> None:
        """Go on to here."""

    def let_go(self, at: QPointF, lay: Lay) -> None:
        """End here."""

    def hover(self, at: QPointF, lay: Lay) -> Qt.CursorShape:
        """The pointer is here, and nothing is held: what it should look like."""

    def give_up(self) -> bool:
        """Drop what has been begun; False where there was nothing."""


@runtime_checkable
class Keyed(Protocol):
    """A tool that has keys of its own."""

    def key(self, event: QKeyEvent) -> bool:
        """Do what the key asks for; False where the key is not the tool's."""


@runtime_checkable
class Claiming(Protocol):
    """A tool that has things to take hold of, and leaves the divider where none of them is.

    Any other takes the page to its whole breadth, and leaves the divider its handle.
    """

    def claims(self, at: QPointF, lay: Lay) -> bool:
        """Whether such a thing is there."""


class Picker(QObject):
    """Reports the one place that is clicked on, in pixels of the page."""

    picked = Signal(float, float)
    words = tr("click on the page")

    def press(self, at: QPointF, lay: Lay) -> bool:
        """Report the place."""
        self.picked.emit(*lay.spot(at))
        return True

    def drag(self, at: QPointF, lay: Lay) -> None:
        """Nothing more to be done."""

    def let_go(self, at: QPointF, lay: Lay) -> None:
        """Nothing more to be done."""

    def hover(self, at: QPointF, lay: Lay) -> Qt.CursorShape:  # noqa: ARG002
        """Crosshairs."""
        return Qt.CursorShape.CrossCursor

    def give_up(self) -> bool:
        """Nothing is ever begun."""
        return False

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """Nothing shows."""


class DrawingTool(QObject):
    """Reports what was drawn, in pixels of the page, once it is let go; to be painted by others."""

    drawn = Signal(tuple)

    def __init__(self) -> None:
        super().__init__()
        self.words = ""
        self._spots: list[Spot] = []

    def press(self, at: QPointF, lay: Lay) -> bool:
        """Begin to draw."""
        self._spots = [lay.spot(at)]
        return True

    def drag(self, at: QPointF, lay: Lay) -> None:
        """Draw on."""
        if self._spots:
            self._spots.append(lay.spot(at))

    def let_go(self, at: QPointF, lay: Lay) -> None:  # noqa: ARG002
        """Report what was drawn."""
        drawn, self._spots = tuple(self._spots), []
        if drawn:
            self.drawn.emit(drawn)

    def hover(self, at: QPointF, lay: Lay) -> Qt.CursorShape:  # noqa: ARG002
        """Crosshairs."""
        return Qt.CursorShape.CrossCursor

    def give_up(self) -> bool:
        """What was begun is not drawn."""
        begun, self._spots = bool(self._spots), []
        return begun


class AimTool(DrawingTool):
    """Shows the outline or the point that a step holds, and reports one that is drawn anew."""

    def __init__(self) -> None:
        super().__init__()
        self._aim = Aim(False, (), ())

    def show_aim(self, aim: Aim) -> None:
        """The place as it is now."""
        self._aim = aim
        self._spots = []
        first, more = (tr("draw round the area"), tr("draw round a further area")) if (
            aim.outline) else (tr("click on the mark"), tr("click on a further mark"))
        self.words = more if aim.spots else first

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """The outline, or a ring."""
        points = [lay.at(spot) for spot in tuple(self._spots) or self._aim.spots]
        painter.setBrush(Qt.BrushStyle.NoBrush)
        path = QPainterPath()
        if self._aim.outline:
            path.addPolygon(QPolygonF(points))
            path.closeSubpath()
        elif points:
            path.addEllipse(points[-1], 9, 9)
        lay.trace(painter, path)
