"""What lies over the page: what is painted there, and tools that a pointer works."""

from dataclasses import dataclass
from typing import Protocol

from PySide6.QtCore import QObject, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.bench.state.placing import Handhold, Shape, Spot
from app.bench.state.scale import View
from app.bench.state.theme import Theme
from app.bench.views.look import tr

_ASKED: dict[Shape, str] = {
    "outline": "draw round the area", "point": "click on the mark",
    "box": "draw a box round what stays", "line": "draw along what should be level or upright",
}


@dataclass(frozen=True)
class Lay:
    """How the page lies on the widget: places and lengths there and back.

    ``after`` is the part of the widget that shows what the list makes of the page.
    """

    view: View
    ratio: float
    theme: Theme
    after: QRectF

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


class Overlay(Protocol):
    """Something that is painted over the page."""

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """Paint it."""


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


class ShapeTool(QObject):
    """Shows the place that a step holds on the page, and reports one that is drawn anew."""

    drawn = Signal(tuple)

    def __init__(self) -> None:
        super().__init__()
        self.words = ""
        self._hold = Handhold("point")
        self._spots: list[Spot] = []

    def show_hold(self, hold: Handhold) -> None:
        """The place as it is now."""
        self._hold = hold
        self._spots = []
        self.words = tr(_ASKED[hold.shape])

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

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """The outline in two lines, dark and light, that show on any drawing; or a ring."""
        spots = tuple(self._spots) or self._hold.spots
        points = [lay.at(spot) for spot in spots]
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width, style in (
            (lay.theme.field, 3, Qt.PenStyle.SolidLine),
            (lay.theme.accent, 1.5, Qt.PenStyle.DashLine),
        ):
            painter.setPen(QPen(QColor(colour), width, style))
            _draw_shape(painter, self._hold.shape, points)


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
