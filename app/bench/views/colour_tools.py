"""What the pointer lays on the page, and the keys that belong to it."""

from collections.abc import Callable
from typing import Literal

import numpy as np
from PySide6.QtCore import QEvent, QObject, QPointF, Qt, Signal
from PySide6.QtGui import QColor, QImage, QKeyEvent, QPainter, QPolygonF

from app.bench.state.areas import area_at, rim_of, seen_areas
from app.bench.state.placing import Spot
from app.bench.state.scale import View
from app.bench.views.look import image_with_alpha, tr
from app.bench.views.page import PageView
from app.bench.views.tools import Lay, Tool
from core.sheet import Plane, Sheet

How = Literal["click", "line", "outline"]

_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
_SIZES = {
    Qt.Key.Key_BracketRight: ("width", True), Qt.Key.Key_BracketLeft: ("width", False),
    Qt.Key.Key_ParenRight: ("soft", True), Qt.Key.Key_ParenLeft: ("soft", False),
}
_ONWARD = {Qt.Key.Key_Period: 1, Qt.Key.Key_Comma: -1}


class _Rim:
    """The edge of an area on the screen, kept while nothing but the pointer moves."""

    def __init__(self) -> None:
        self._seen: tuple[Plane, View, Plane] | None = None
        self._made: tuple[Plane, int, tuple[str, str], QImage] | None = None

    def image(self, flats: Plane, area: int, lay: Lay) -> QImage:
        """Its pixels: two lines, light and dark, that show on any colour; else see-through."""
        if self._seen is None or self._seen[0] is not flats or self._seen[1] != lay.view:
            self._seen = flats, lay.view, seen_areas(flats, lay.view)
        seen, colours = self._seen[2], (lay.theme.field, lay.theme.accent)
        made = self._made
        if made is None or made[0] is not seen or made[1:3] != (area, colours):
            made = self._made = seen, area, colours, _image_of(rim_of(seen, area), colours)
        made[3].setDevicePixelRatio(lay.ratio)
        return made[3]


def _image_of(rim: Plane, colours: tuple[str, str]) -> QImage:
    table = np.array([0, *(QColor(colour).rgba() for colour in colours)], np.uint32)
    return image_with_alpha(table[np.minimum(rim, 2)])


class ColourTool(QObject):
    """Reports a click, or a line that was drawn; shows the area that lies under the pointer.

    ``sheet`` gives the page as it is shown; ``called`` what a number of an area is called.
    """

    clicked = Signal(tuple, bool)
    drew = Signal(tuple)

    def __init__(
        self, sheet: Callable[[], Sheet | None], called: Callable[[int], str],
    ) -> None:
        super().__init__()
        self._sheet, self._called = sheet, called
        self._how: How = "click"
        self.words = self._asked = ""
        self._areas = True
        self._hushed = False
        self._rim = _Rim()
        self._area = 0
        self._drawn: list[Spot] = []

    def take(self, how: How, asked: str, *, areas: bool) -> None:
        """What it does from now on, and whether areas are shown under it."""
        if (how, asked) != (self._how, self._asked):
            self._drawn = []
        self._how, self._asked, self._areas = how, asked, areas
        self.words = asked

    def hush(self, *, on: bool) -> None:
        """Show nothing but the page for a while, as while one layer of it is looked at."""
        self._hushed = on

    @property
    def on_areas(self) -> bool:
        """Whether it is areas that it is used on."""
        return self._areas

    @property
    def strokes(self) -> bool:
        """Whether it draws a line and does not merely click."""
        return self._how != "click"

    def press(self, at: QPointF, lay: Lay) -> bool:
        """Click, or begin a line."""
        if self.strokes:
            self._drawn = [lay.spot(at)]
        else:
            self.click(at, lay)
        return True

    def click(self, at: QPointF, lay: Lay) -> None:
        """Report a place, and whether what the list makes of the page is shown there."""
        self.clicked.emit(lay.spot(at), lay.after.contains(at))

    def drag(self, at: QPointF, lay: Lay) -> None:
        """Draw on."""
        if self._drawn:
            self._drawn.append(lay.spot(at))

    def let_go(self, at: QPointF, lay: Lay) -> None:  # noqa: ARG002
        """Report the line."""
        drawn, self._drawn = tuple(self._drawn), []
        if len(drawn) > 1:
            self.drew.emit(drawn)

    def hover(self, at: QPointF, lay: Lay) -> Qt.CursorShape:  # noqa: ARG002
        """Crosshairs."""
        return Qt.CursorShape.CrossCursor

    def give_up(self) -> bool:
        """What was begun is not drawn."""
        begun, self._drawn = bool(self._drawn), []
        return begun

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """The edge of the area under the pointer, and the line as far as it is drawn."""
        sheet = self._sheet()
        self._area = 0
        if self._areas and lay.pointer is not None and sheet is not None:
            self._area = area_at(sheet, lay.spot(lay.pointer))
        self.words = self._said()
        if self._area and not self._hushed and sheet is not None and sheet.flats is not None and (
            lay.view.page == sheet.shape[::-1]
        ):
            seen = lay.view.seen
            corner = QPointF(lay.view.left + seen.left, lay.view.top + seen.top) / lay.ratio
            painter.drawImage(corner, self._rim.image(sheet.flats, self._area, lay))
        if self._drawn:
            _paint_line(painter, lay, self._drawn, closed=self._how == "outline")

    def _said(self) -> str:
        if not self._area:
            return self._asked
        return f"{self._asked} ({tr('now')} {self._called(self._area)})"


def _paint_line(painter: QPainter, lay: Lay, spots: list[Spot], *, closed: bool) -> None:
    points = [lay.at(spot) for spot in spots]
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for pen in lay.pens():
        pen.setStyle(Qt.PenStyle.SolidLine)
        painter.setPen(pen)
        painter.drawPolyline(QPolygonF(points))
        if closed:
            painter.drawLine(points[-1], points[0])


class ColourKeys(QObject):
    """The keys of the page while it is coloured, beside those that move the pointer.

    Reports the figure of a colour (from 0), which size of the brush is to be larger or smaller,
    that the pointer is to go on to the next area or back, and that the area under it is to be
    empty. Return clicks where it is.
    """

    chose = Signal(int)
    sized = Signal(str, bool)
    stepped = Signal(int)
    emptied = Signal(tuple)

    def __init__(self, page: PageView) -> None:
        super().__init__(page)
        self._page = page
        self._tool: Tool | None = None
        page.installEventFilter(self)

    def serve(self, tool: Tool | None) -> None:
        """Listen while this tool is in the page's hand; None, and keys do what they always do."""
        self._tool = tool

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """Take the keys that colouring has, whatever the menus do with them elsewhere."""
        if not isinstance(event, QKeyEvent) or self._tool is None or (
            self._page.tool is not self._tool
        ):
            return False
        act = self._act_of(event)
        if act is None:
            return super().eventFilter(watched, event)
        if event.type() == QEvent.Type.ShortcutOverride:
            event.accept()
        elif event.type() == QEvent.Type.KeyPress:
            act()
        return True

    def _act_of(self, event: QKeyEvent) -> Callable[[], None] | None:
        key = Qt.Key(event.key())
        if key in _SIZES:
            return lambda: self.sized.emit(*_SIZES[key])
        if event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            return None
        if Qt.Key.Key_1 <= key <= Qt.Key.Key_9:
            return lambda: self.chose.emit(key - Qt.Key.Key_1)
        if key in _ONWARD:
            return lambda: self.stepped.emit(_ONWARD[key])
        return self._act_here(key)

    def _act_here(self, key: Qt.Key) -> Callable[[], None] | None:
        """What a key does where the pointer is."""
        lay, tool = self._page.lay, self._tool
        if lay is None or lay.pointer is None or not isinstance(tool, ColourTool):
            return None
        at = lay.pointer
        if key in _ENTER and not tool.strokes:
            return lambda: tool.click(at, lay)
        if key == Qt.Key.Key_Delete and tool.on_areas:
            return lambda: self.emptied.emit(lay.spot(at))
        return None


ASKED: dict[str, tuple[How, str, bool]] = {
    "fill": ("click", tr("click on an area to fill it"), True),
    "join": ("line", tr("draw a line through the areas that become one"), True),
    "cut": ("line", tr("draw the line that parts an area"), True),
    "pick colour": ("click", tr("click on the colour to take up"), True),
    "hold mark": ("click", tr("click on the mark that takes the colour"), False),
    "hold outline": ("outline", tr("draw round the ink that takes the colour"), False),
}
"""How each of the pointer's tools is worked, what is asked for, and whether it shows areas."""
