"""Where the page is cut, over the page: the trim, the bleed, and what goes to the floor."""

from dataclasses import dataclass

from PySide6.QtCore import QEvent, QObject, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPainterPath, QPen

from app.bench.views.page import PageView
from app.bench.views.plates import plate
from app.bench.views.tools import Lay
from app.pages.trims import Crossing, Frame
from core.units import mm_to_px

_ARROWS = {
    Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1), Qt.Key.Key_Down: (0, 1),
}
_STEP = 0.5  # mm of the print by an arrow
_DIMMED = 150  # of 255


@dataclass(frozen=True)
class TrimShown:
    """The trim and the ink at it, in mm of the scan; ``words`` say what is to be said of it.

    ``page`` is the width and height in pixels of the page on which it lies; ``bleed`` in mm of
    the scan. Without a ``frame`` there are only the words.
    """

    page: tuple[int, int]
    ppi: float
    frame: Frame | None = None
    bleed: float = 3.0
    crossings: tuple[Crossing, ...] = ()
    words: str = ""


class TrimFrame(QObject):
    """Shows the trim; reports arrows as mm right and down, while it may be moved by them."""

    nudged = Signal(float, float)

    def __init__(self, page: PageView) -> None:
        super().__init__()
        self._page = page
        self.on = False
        self._shown: TrimShown | None = None
        page.installEventFilter(self)

    def show_trim(self, shown: TrimShown | None) -> None:
        """Show this."""
        self._shown = shown
        self._page.update()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: ARG002, N802
        """Arrows move the trim, where no tool is in hand."""
        shown = self._shown
        if not self.on or shown is None or shown.frame is None or self._page.tool is not None:
            return False
        if not isinstance(event, QKeyEvent) or event.type() != QEvent.Type.KeyPress:
            return False
        way = _ARROWS.get(Qt.Key(event.key()))
        if way is None or event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            return False
        self.nudged.emit(way[0] * _STEP, way[1] * _STEP)
        return True

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """What is cut off dimmed, the trim solid, the bleed dashed, short ink marked."""
        shown = self._shown
        if not self.on or shown is None or lay.view.page != shown.page:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if shown.frame is not None:
            self._paint_frame(painter, lay, shown, shown.frame)
        if shown.words:
            room = QRectF(self._page.rect()).adjusted(8, 8, -8, -8)
            plate(painter, lay.theme, QPointF(room.center().x(), room.top() + 30), shown.words,
                  within=room)

    @staticmethod
    def _paint_frame(painter: QPainter, lay: Lay, shown: TrimShown, frame: Frame) -> None:
        left, top, width, height = (mm_to_px(side, shown.ppi) for side in frame)
        bleed = mm_to_px(shown.bleed, shown.ppi)
        trim = QRectF(lay.at((left, top)), lay.at((left + width, top + height)))
        out = lay.length(bleed)
        page = QRectF(lay.at((0, 0)), lay.at(shown.page))
        off = QPainterPath()
        off.addRect(page)
        kept = QPainterPath()
        kept.addRect(trim)
        shade = QColor(lay.theme.mount)
        shade.setAlpha(_DIMMED)
        painter.fillPath(off.subtracted(kept), shade)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for rect, dashes in ((trim.adjusted(-out, -out, out, out), True), (trim, False)):
            for colour, breadth in ((lay.theme.field, 3.0), (lay.theme.accent, 1.5)):
                pen = QPen(QColor(colour), breadth)
                if dashes and breadth < 3:
                    pen.setDashPattern([5, 4])
                painter.setPen(pen)
                painter.drawRect(rect)
        for crossing in shown.crossings:
            _paint_short(painter, lay, shown, crossing)


def _paint_short(painter: QPainter, lay: Lay, shown: TrimShown, crossing: Crossing) -> None:
    """The pieces of a side at which ink ends before the bleed: a bar out to where it should go."""
    assert shown.frame is not None
    left, top, width, height = shown.frame
    outer = {
        "left": (left - shown.bleed, left), "top": (top - shown.bleed, top),
        "right": (left + width, left + width + shown.bleed),
        "bottom": (top + height, top + height + shown.bleed),
    }[crossing.side]
    painter.setPen(QPen(QColor(lay.theme.field), 1))
    for piece in crossing.short:
        x, y = (outer, piece) if crossing.side in ("left", "right") else (piece, outer)
        corners = [lay.at((mm_to_px(x[n], shown.ppi), mm_to_px(y[n], shown.ppi))) for n in (0, 1)]
        bar = QRectF(*corners).adjusted(-1, -1, 1, 1)
        brush = painter.brush()
        brush.setColor(QColor(lay.theme.accent))
        brush.setStyle(Qt.BrushStyle.Dense3Pattern)
        painter.fillRect(bar, brush)
        painter.drawRect(bar)
