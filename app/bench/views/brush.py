"""The brush: a ring of its size under the pointer, and a stroke where it is drawn."""

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QPainter,
    QPainterPath,
    QPen,
    QPolygonF,
    QTransform,
)

from app.bench.state.brush import next_size, outlines
from app.bench.state.placing import Spot
from app.bench.views.look import tr
from app.bench.views.tools import DrawingTool, Lay
from core.steps.fields import plain
from core.units import mm_to_px

_SMALLEST = 2.5  # pixels of the screen: a ring smaller than that cannot be seen


class BrushTool(DrawingTool):
    """Draws strokes, under a ring of the brush's size."""

    def __init__(self) -> None:
        super().__init__()
        self._size = (3.0, 1.0)
        self._ppi = 300.0
        self._outline = QPainterPath()

    def set_brush(self, width_mm: float, soft_mm: float, ppi: float) -> None:
        """Take a brush in hand: its width and soft edge, on a page of so many pixels an inch."""
        self._size, self._ppi = (width_mm, soft_mm), ppi
        self.words = (f"{tr('paint with a brush')} {plain(width_mm)} mm {tr('wide')}, "
                      f"{tr('its edge soft by')} {plain(soft_mm)} mm")

    @property
    def size(self) -> tuple[float, float]:
        """Width and soft edge in mm of the brush in hand."""
        return self._size

    def widen(self, *, larger: bool) -> None:
        """The next width, up or down."""
        width, soft = self._size
        self.set_brush(next_size("width", width, larger=larger), soft, self._ppi)

    def soften(self, *, larger: bool) -> None:
        """The next soft edge, up or down."""
        width, soft = self._size
        self.set_brush(width, next_size("soft", soft, larger=larger), self._ppi)

    def show_strokes(self, strokes: tuple[tuple[Spot, ...], ...], width_mm: float) -> None:
        """Strokes that were made before, and the width of the brush that made them."""
        self._spots = []
        self._outline = QPainterPath()
        for corners in outlines(strokes, mm_to_px(width_mm, self._ppi)):
            self._outline.addPolygon(QPolygonF([QPointF(x, y) for x, y in corners.tolist()]))
            self._outline.closeSubpath()

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """Earlier strokes in outline, the one that is being drawn in hatching, and the rings."""
        painter.setBrush(Qt.BrushStyle.NoBrush)
        scale, corner = lay.length(1), lay.at((0, 0))
        path = QTransform(scale, 0, 0, scale, corner.x(), corner.y()).map(self._outline)
        lay.trace(painter, path)
        if self._spots:
            self._paint_stroke(painter, lay)
        if lay.pointer is not None:
            self._paint_rings(painter, lay, lay.pointer)

    def _radius(self, lay: Lay) -> float:
        return max(lay.length(mm_to_px(self._size[0], self._ppi)) / 2, _SMALLEST)

    def _paint_stroke(self, painter: QPainter, lay: Lay) -> None:
        line = _line([lay.at(spot) for spot in self._spots])
        under, hatch = QColor(lay.theme.field), QColor(lay.theme.accent)
        under.setAlpha(120)
        for brush in (QBrush(under), QBrush(hatch, Qt.BrushStyle.BDiagPattern)):
            painter.setPen(QPen(brush, 2 * self._radius(lay), Qt.PenStyle.SolidLine,
                                Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin))
            painter.drawPath(line)

    def _paint_rings(self, painter: QPainter, lay: Lay, middle: QPointF) -> None:
        """One ring as wide as the brush, and one where its soft edge ends."""
        radius = self._radius(lay)
        soft = lay.length(mm_to_px(self._size[1], self._ppi))
        for number, pen in enumerate(lay.pens()):
            if soft > 1:
                painter.setPen(pen)
                painter.drawEllipse(middle, radius + soft, radius + soft)
            if number:
                pen.setStyle(Qt.PenStyle.SolidLine)
            painter.setPen(pen)
            painter.drawEllipse(middle, radius, radius)


def _line(points: list[QPointF]) -> QPainterPath:
    """A line through the points; a touch is a very short one."""
    path = QPainterPath(points[0])
    path.addPolygon(QPolygonF(points if len(points) > 1 else [*points, points[0]]))
    if len(points) == 1:
        path.lineTo(points[0] + QPointF(0.01, 0))
    return path
