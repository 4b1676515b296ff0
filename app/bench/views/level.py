"""A level line over the page, to be tilted until it lies along what should be level."""

import math

from PySide6.QtCore import QLineF, QObject, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPen

from app.bench.state.placing import Ruler, Spot, slope_of
from app.bench.views.look import tr
from app.bench.views.plates import clear_room, plate
from app.bench.views.tools import Lay
from app.filters.skew import MOST
from core.steps.fields import plain

_REACH = 14.0  # pixels of the screen about a grip
_INSET = 12.0  # pixels of the screen that a grip stays inside the page
_FINE, _COARSE = 0.05, 0.5  # degrees
_APART = 40.0  # pixels of the screen between the lines of the grid
_NUDGES = {
    Qt.Key.Key_Left: -1, Qt.Key.Key_Up: -1, Qt.Key.Key_Right: 1, Qt.Key.Key_Down: 1,
}


class LevelTool(QObject):
    """Reports the angle, in degrees clockwise, by which the page is to be turned from now on.

    The page stays as it is until then: what tilts is the line, and a grid with it.
    """

    turned = Signal(float)
    words = tr("tilt the line by its ends, or draw along what should be level; arrows turn finely")

    def __init__(self) -> None:
        super().__init__()
        self._degrees = 0.0
        self._ruler = Ruler(300)
        self._tilt: float | None = None
        self._end = 0
        self._line: list[Spot] = []
        self._by_keys = False

    def show_level(self, degrees: float, ruler: Ruler) -> None:
        """The angle as it is now, on the page as it is shown."""
        self._degrees, self._ruler = degrees, ruler
        self._tilt, self._line = None, []

    def press(self, at: QPointF, lay: Lay) -> bool:
        """Take hold of an end of the line, or begin another line."""
        ends = self._ends(lay)
        near = [n for n, end in enumerate(ends) if QLineF(end, at).length() <= _REACH]
        if near:
            self._end, self._tilt = near[0], 0.0
        else:
            self._line = [lay.spot(at)] * 2
        return True

    def drag(self, at: QPointF, lay: Lay) -> None:
        """Tilt the line, or draw it on."""
        if self._tilt is not None:
            left, right = self._ends(lay, 0.0)
            middle = (left + right) / 2
            away = at - middle if self._end else middle - at
            tilt = math.degrees(math.atan2(away.y(), max(away.x(), 1.0)))
            least, most = self._degrees - MOST, self._degrees + MOST
            self._tilt = min(max(round(tilt, 2), least), most)
        elif self._line:
            self._line[1] = lay.spot(at)

    def let_go(self, at: QPointF, lay: Lay) -> None:  # noqa: ARG002
        """Report the angle by which what lies along the line comes level."""
        tilt = self._tilt
        if self._line:
            tilt = slope_of(self._line[0], self._line[1], self._ruler)
        self._tilt, self._line = None, []
        if tilt:
            self.turned.emit(self._degrees - tilt)

    def hover(self, at: QPointF, lay: Lay) -> Qt.CursorShape:
        """Up and down at the ends of the line; crosshairs to draw elsewhere."""
        self._by_keys = False
        near = any(QLineF(end, at).length() <= _REACH for end in self._ends(lay))
        return Qt.CursorShape.SizeVerCursor if near else Qt.CursorShape.CrossCursor

    def give_up(self) -> bool:
        """The line is level again."""
        begun = self._tilt is not None or bool(self._line)
        self._tilt, self._line, self._by_keys = None, [], False
        return begun

    def key(self, event: QKeyEvent) -> bool:
        """Arrows turn the page: right and down clockwise, with Shift ten times as far."""
        way = _NUDGES.get(Qt.Key(event.key()))
        if way is None or event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            return False
        shifted = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        self._by_keys = True
        self.turned.emit(self._degrees + way * (_COARSE if shifted else _FINE))
        return True

    def _ends(self, lay: Lay, tilt: float | None = None) -> tuple[QPointF, QPointF]:
        """Where the line's ends are: on the page's edges, or as near them as can be seen."""
        seen = _seen(lay)
        wide = max(seen.width() / 2 - _INSET, 40.0)
        turn = math.radians((self._tilt or 0.0) if tilt is None else tilt)
        along = QPointF(math.cos(turn), math.sin(turn)) * wide
        return seen.center() - along, seen.center() + along

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """The line with its grips; while it turns, a grid and the angle."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self._tilt is not None or self._by_keys:
            self._paint_grid(painter, lay)
        line = QLineF(*self._ends(lay))
        if self._line:
            line = QLineF(*(lay.at(spot) for spot in self._line))
        for pen in lay.pens():
            pen.setStyle(Qt.PenStyle.SolidLine)
            painter.setPen(pen)
            painter.drawLine(line)
        painter.setPen(QPen(QColor(lay.theme.field), 1.5))
        painter.setBrush(QColor(lay.theme.accent))
        for end in (line.p1(), line.p2()):
            painter.drawEllipse(end, 7, 7)
        self._paint_angle(painter, lay, line)

    def _paint_grid(self, painter: QPainter, lay: Lay) -> None:
        """Thin lines along the level line, all over the page."""
        left, right = self._ends(lay)
        along = (right - left) / max(QLineF(left, right).length(), 1.0)
        across, seen = QPointF(-along.y(), along.x()), _seen(lay)
        reach = math.hypot(seen.width(), seen.height()) / 2
        painter.save()
        painter.setClipRect(seen)
        under, over = QColor(lay.theme.field), QColor(lay.theme.accent)
        under.setAlpha(130)
        for colour, width in ((under, 2.0), (over, 0.8)):
            painter.setPen(QPen(colour, width))
            for number in range(-int(reach / _APART), int(reach / _APART) + 1):
                middle = seen.center() + across * (number * _APART)
                painter.drawLine(middle - along * reach, middle + along * reach)
        painter.restore()

    def _paint_angle(self, painter: QPainter, lay: Lay, line: QLineF) -> None:
        degrees = self._degrees - (self._tilt or 0.0)
        way = tr("clockwise") if degrees > 0 else tr("anticlockwise") if degrees < 0 else ""
        text = f"{plain(round(abs(degrees), 2))}° {way}".strip()
        plate(painter, lay.theme, line.p2() + QPointF(8, 14), text, right=True,
              within=clear_room(painter, lay.pointer))


def _seen(lay: Lay) -> QRectF:
    """The part of the page that is in the window, on the widget."""
    room = QRectF(0, 0, lay.view.room[0] / lay.ratio, lay.view.room[1] / lay.ratio)
    page = QRectF(lay.at((0, 0)), lay.at((lay.view.page[0], lay.view.page[1])))
    return page.intersected(room)
