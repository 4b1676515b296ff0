"""The edges of a crop: dragged or moved by keys; what they cut off lies under a hatch."""

from dataclasses import dataclass

from PySide6.QtCore import QObject, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPainterPath, QPen

from app.bench.state.edges import GRIPS, Cut, Edge, Grip
from app.bench.views.look import tr
from app.bench.views.plates import clear_room, plate
from app.bench.views.tools import Lay
from core.steps.fields import plain
from core.units import mm_to_px, px_to_mm

_REACH = 9.0  # pixels of the screen either side of an edge where it can be taken hold of
_FINE, _COARSE = 0.1, 1.0  # mm
_SHAPES = {
    frozenset({"left"}): Qt.CursorShape.SizeHorCursor,
    frozenset({"right"}): Qt.CursorShape.SizeHorCursor,
    frozenset({"top"}): Qt.CursorShape.SizeVerCursor,
    frozenset({"bottom"}): Qt.CursorShape.SizeVerCursor,
    frozenset({"left", "top"}): Qt.CursorShape.SizeFDiagCursor,
    frozenset({"right", "bottom"}): Qt.CursorShape.SizeFDiagCursor,
    frozenset({"right", "top"}): Qt.CursorShape.SizeBDiagCursor,
    frozenset({"left", "bottom"}): Qt.CursorShape.SizeBDiagCursor,
}
_WAYS = {
    Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1), Qt.Key.Key_Down: (0, 1),
}


@dataclass(frozen=True)
class _Boxes:
    """The page, and what of it stays, on the widget."""

    page: QRectF
    kept: QRectF


class CropTool(QObject):
    """Reports where the edges are once they were moved; nothing of the page is redrawn."""

    cut = Signal(object)
    words = tr("before the cut: drag an edge or a corner; E takes the next, arrows move it")

    def __init__(self) -> None:
        super().__init__()
        self._cut = Cut(0, 0, 0, 0, 1, 1)
        self._ppi = 300.0
        self._moved: Cut | None = None
        self._grip: Grip | None = None

    def show_cut(self, cut: Cut, ppi: float) -> None:
        """The edges as they are now."""
        self._cut, self._ppi, self._moved = cut, ppi, None

    @property
    def now(self) -> Cut:
        """The edges as they are drawn."""
        return self._moved or self._cut

    def _place(self, at: QPointF, lay: Lay) -> tuple[float, float]:
        x, y = lay.spot(at)
        return px_to_mm(x, self._ppi), px_to_mm(y, self._ppi)

    def _under(self, at: QPointF, lay: Lay) -> Grip | None:
        reach = px_to_mm(_REACH / lay.length(1), self._ppi)
        return self._cut.grip_at(*self._place(at, lay), reach)

    def press(self, at: QPointF, lay: Lay) -> bool:
        """Take hold of the edge or corner that is there."""
        self._grip = self._under(at, lay)
        if self._grip is not None:
            self._moved = self._cut
        return self._grip is not None

    def drag(self, at: QPointF, lay: Lay) -> None:
        """Take it along."""
        if self._grip is not None and self._moved is not None:
            self._moved = self._cut.moved(self._grip, *self._place(at, lay))

    def claims(self, at: QPointF, lay: Lay) -> bool:
        """Whether an edge or a corner is there, though the divider may be too."""
        return self._under(at, lay) is not None

    def let_go(self, at: QPointF, lay: Lay) -> None:  # noqa: ARG002
        """Report where the edges are."""
        self._report()

    def _report(self) -> None:
        moved, self._moved = self._moved, None
        if moved is not None and moved != self._cut:
            self.cut.emit(moved)

    def hover(self, at: QPointF, lay: Lay) -> Qt.CursorShape:
        """An arrow both ways where there is something to take hold of."""
        grip = self._under(at, lay)
        return Qt.CursorShape.OpenHandCursor if grip is None else _SHAPES[frozenset(grip)]

    def give_up(self) -> bool:
        """The edges go back to where they were; or none is in hand any more."""
        begun = self._moved is not None or self._grip is not None
        self._moved = self._grip = None
        return begun

    def key(self, event: QKeyEvent) -> bool:
        """E takes the next edge or corner in hand, with Shift the one before; arrows move it."""
        shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        way = _WAYS.get(Qt.Key(event.key()))
        if event.key() == Qt.Key.Key_E:
            self._grip = _next(self._grip, -1 if shifted else 1)
            return True
        if way is None or self._grip is None:
            return False
        by = _COARSE if shifted else _FINE
        self._moved = self._cut.nudged(self._grip, way[0] * by, way[1] * by)
        self._report()
        return True

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """What is cut off under a hatch, the edges with their grips, and their mm."""
        boxes = self._boxes(lay)
        self._paint_off(painter, lay, boxes)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for pen in lay.pens():
            pen.setStyle(Qt.PenStyle.SolidLine)
            painter.setPen(pen)
            painter.drawRect(boxes.kept)
        for grip in GRIPS:
            self._paint_grip(painter, lay, grip, boxes.kept)
        for edge in ("left", "top", "right", "bottom"):
            self._paint_mm(painter, lay, edge, boxes)

    def _boxes(self, lay: Lay) -> _Boxes:
        cut = self.now

        def on_widget(x: float, y: float) -> QPointF:
            return lay.at((mm_to_px(x, self._ppi), mm_to_px(y, self._ppi)))

        return _Boxes(
            QRectF(lay.at((0, 0)), on_widget(cut.width, cut.height)),
            QRectF(on_widget(cut.left, cut.top),
                   on_widget(cut.where("right"), cut.where("bottom"))),
        )

    def _paint_off(self, painter: QPainter, lay: Lay, boxes: _Boxes) -> None:
        off = QPainterPath()
        off.addRect(boxes.page)
        stays = QPainterPath()
        stays.addRect(boxes.kept)
        off = off.subtracted(stays)
        dim = QColor(lay.theme.mount)
        dim.setAlpha(190)
        painter.fillPath(off, dim)
        hatch = painter.brush()
        hatch.setColor(QColor(lay.theme.edge))
        hatch.setStyle(Qt.BrushStyle.BDiagPattern)
        painter.fillPath(off, hatch)

    def _paint_grip(self, painter: QPainter, lay: Lay, grip: Grip, kept: QRectF) -> None:
        """A small square; filled where it is in hand."""
        at = _on(kept, grip)
        held = self._grip is not None and frozenset(grip) == frozenset(self._grip)
        size = 6.0 if held else 4.5
        painter.setPen(QPen(QColor(lay.theme.accent), 2 if held else 1.5))
        painter.setBrush(QColor(lay.theme.accent if held else lay.theme.field))
        painter.drawRect(QRectF(at.x() - size, at.y() - size, 2 * size, 2 * size))

    def _paint_mm(self, painter: QPainter, lay: Lay, edge: Edge, boxes: _Boxes) -> None:
        """How much is cut off, beside the edge on the side that stays."""
        text = f"{plain(self.now.off(edge))} mm"
        at = _on(boxes.kept, (edge,))
        wide = painter.fontMetrics().horizontalAdvance(text) + 16
        tall = painter.fontMetrics().height() + 6
        at += {
            "left": QPointF(12, -tall / 2), "right": QPointF(-12 - wide, -tall / 2),
            "top": QPointF(-wide / 2, 12), "bottom": QPointF(-wide / 2, -12 - tall),
        }[edge]
        plate(painter, lay.theme, at, text, within=clear_room(painter, lay.pointer))


def _next(grip: Grip | None, by: int) -> Grip:
    if grip is None:
        return GRIPS[0]
    here = [frozenset(one) for one in GRIPS].index(frozenset(grip))
    return GRIPS[(here + by) % len(GRIPS)]


def _on(box: QRectF, grip: Grip) -> QPointF:
    """The middle of an edge of the box, or a corner of it."""
    middle = box.center()
    x = box.left() if "left" in grip else box.right() if "right" in grip else middle.x()
    y = box.top() if "top" in grip else box.bottom() if "bottom" in grip else middle.y()
    return QPointF(x, y)
