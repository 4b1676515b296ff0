"""The tone strip: histogram, grey ramp, handles, typed numbers and live readings."""

import math
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFontMetricsF,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QPolygonF,
    QResizeEvent,
)
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from app.bench.state.sentence import parse_number
from app.bench.state.strip import (
    HANDLES,
    RESET,
    Points,
    Readings,
    Which,
    percent_black,
)
from app.bench.state.theme import Theme
from app.bench.views.controls import nudge_of
from app.bench.views.field import Field
from app.bench.views.figures import Figures
from app.bench.views.handle import SIZE, Handle
from app.bench.views.look import one_line, tr
from core.histogram import Peaks
from core.steps.fields import Number, plain

_MARGIN = 24
_LABELS = 20
_RAMP = 12
_FOOT = 40
_NAMES = {"black": "Black point", "middle": "Middle", "white": "White point"}
_TIPS = {
    "black": "What is this dark or darker becomes full ink. Drag it, or press the arrows; "
             "a double click puts it back.",
    "middle": "The tone that becomes half ink: to the right the line grows darker.",
    "white": "What is this light or lighter becomes bare ground. Drag it, or press the "
             "arrows; a double click puts it back.",
}
_FIELDS = {
    "black": Number("black point", "", 0, 254), "middle": Number("middle", "%", 1, 99),
    "white": Number("white point", "", 1, 255),
}

@dataclass(frozen=True)
class StripShown:
    """What the strip shows of a page: 256 heights, its peaks, the points and the readings.

    ``curve`` is what becomes of each of the 256 tones, as cover 0-1.
    """

    heights: tuple[float, ...]
    peaks: Peaks
    points: Points
    curve: tuple[float, ...]
    readings: Readings | None


class _TypedNumber(Field):
    """A number to type, or to nudge as its handle is."""

    typed = Signal(float)
    nudged = Signal(int)

    def __init__(self, spec: Number, name: str, tip: str) -> None:
        super().__init__()
        self._spec = spec
        self.setAccessibleName(name)
        self.setToolTip(tip)
        self.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.setFixedWidth(self.fontMetrics().horizontalAdvance("000.00") + 14)
        self.editingFinished.connect(self._finish)

    def show_value(self, value: float) -> None:
        """Show the number, unless one is being typed."""
        if not (self.hasFocus() and self.isModified()):
            self.setText(plain(value))

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Up and Down nudge it, from what was typed."""
        steps = nudge_of(event)
        if steps:
            self._finish()
            self.nudged.emit(steps)
        else:
            super().keyPressEvent(event)

    def _finish(self) -> None:
        if not self.isModified():
            return
        self.setModified(False)
        value = parse_number(self.text(), self._spec)
        if value is None:
            self.undo()
            return
        self.typed.emit(value)


class ToneStrip(QWidget):
    """Reports where a handle goes (``final`` on letting go) and what is typed."""

    moved = Signal(str, float)
    settled = Signal()
    abandoned = Signal()
    typed = Signal(str, float)
    nudged = Signal(str, int)

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._shown: StripShown | None = None
        self._drawn: tuple[object, QPixmap] | None = None
        self._hovered: float | None = None
        self.setMouseTracking(True)
        self.setAccessibleName(tr("Tone strip"))
        self.setMinimumHeight(168)
        self.handles = {which: self._handle(which) for which in HANDLES}
        self.fields = {which: self._field(which) for which in HANDLES}
        self._percents: dict[Which, QLabel] = {"black": one_line(""), "white": one_line("")}
        for percent in self._percents.values():  # so that what stands behind it stays in place
            percent.setMinimumWidth(percent.fontMetrics().horizontalAdvance("100 %"))
        self.figures = Figures()
        self._lay_out()
        self.show_strip(None)

    def _handle(self, which: Which) -> Handle:
        handle = Handle(which, self._theme, self)
        handle.setAccessibleName(tr(_NAMES[which]))
        handle.setToolTip(tr(_TIPS[which]))
        handle.dragged.connect(lambda x: self.moved.emit(which, self.tone_at(x)))
        handle.dropped.connect(self.settled)
        handle.abandoned.connect(self.abandoned)
        handle.nudged.connect(lambda by: self.nudged.emit(which, by))
        handle.reset.connect(lambda: self.typed.emit(which, RESET[which]))
        return handle

    def _field(self, which: Which) -> _TypedNumber:
        made = _TypedNumber(_FIELDS[which], tr(_NAMES[which]), tr(_TIPS[which]))
        made.typed.connect(lambda value: self.typed.emit(which, value))
        made.nudged.connect(lambda by: self.nudged.emit(which, by))
        return made

    def _lay_out(self) -> None:
        row = QHBoxLayout()
        row.setContentsMargins(_MARGIN - 8, 0, _MARGIN - 8, 8)
        row.setSpacing(8)
        for which in HANDLES:
            label = QLabel(tr(_NAMES[which].removesuffix(" point")))
            label.setBuddy(self.fields[which])
            row.addWidget(label)
            row.addWidget(self.fields[which])
            row.addWidget(self._percents.get(which, one_line("%")))
            row.addSpacing(16)
        row.addWidget(self.figures, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addStretch(1)
        column.addLayout(row)

    def set_theme(self, theme: Theme) -> None:
        """Other colours."""
        self._theme = theme
        for handle in self.handles.values():
            handle.set_theme(theme)
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Low enough to leave the page most of the window."""
        return QSize(800, 184)

    def show_strip(self, shown: StripShown | None) -> None:
        """Show a page's tones; nothing where there is none."""
        self._shown = shown
        self.setEnabled(shown is not None)
        for handle in self.handles.values():
            handle.setVisible(shown is not None)
        if shown is None:
            self._show_no_points()
        else:
            self._show_points(shown.points)
        self.figures.show_readings(None if shown is None else shown.readings)
        self.update()

    def _show_points(self, points: Points) -> None:
        for which, handle in self.handles.items():
            value = points.value(which)
            self.fields[which].show_value(value)
            x = self.x_of(points.tone(which))
            handle.move(round(x - SIZE.width() / 2), math.ceil(self._ramp().bottom()) - 1)
            handle.setAccessibleDescription(plain(value))
        self.handles["middle"].lower()
        for which, label in self._percents.items():
            label.setText(f"{percent_black(points.value(which)):.0f} %")

    def _show_no_points(self) -> None:
        """The numbers of the page before would be taken for those of this one."""
        for field in self.fields.values():
            field.clear()
        for percent in self._percents.values():
            percent.clear()

    def _plot(self) -> QRectF:
        foot = _FOOT + SIZE.height() + _RAMP
        return QRectF(_MARGIN, _LABELS, self.width() - 2 * _MARGIN, self.height() - _LABELS - foot)

    def _ramp(self) -> QRectF:
        plot = self._plot()
        return QRectF(plot.left(), plot.bottom(), plot.width(), _RAMP)

    def x_of(self, tone: float) -> float:
        """Where a tone lies, in pixels from the strip's left."""
        plot = self._plot()
        return plot.left() + plot.width() * tone / 255

    def tone_at(self, x: float) -> float:
        """The tone at x, 0-255."""
        plot = self._plot()
        return min(max((x - plot.left()) / max(plot.width(), 1) * 255, 0.0), 255.0)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Read the tone under the pointer off the histogram."""
        plot = self._plot() | self._ramp()
        inside = plot.contains(event.position())
        self._hovered = self.tone_at(event.position().x()) if inside else None
        self.update()

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """No tone is read."""
        super().leaveEvent(event)
        self._hovered = None
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """The handles go along."""
        super().resizeEvent(event)
        if self._shown is not None:
            self._show_points(self._shown.points)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw histogram, ramp and peaks."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        plot = self._plot()
        painter.fillRect(plot, QColor(self._theme.card))
        if self._shown is None:
            painter.setPen(QColor(self._theme.quiet))
            painter.drawText(plot, Qt.AlignmentFlag.AlignCenter, tr("No page is read yet."))
        else:
            self._paint_cut(painter, plot, self._shown)
            self._paint_histogram(painter, plot, self._shown)
            self._paint_curve(painter, plot, self._shown)
            self._paint_peaks(painter, plot, self._shown.peaks)
            self._paint_ramp(painter, self._shown)
            if self._hovered is not None:
                self._paint_hovered(painter, plot, self._hovered)
        painter.end()

    def _paint_cut(self, painter: QPainter, plot: QRectF, shown: StripShown) -> None:
        """What the points cut off, hatched: it loses its differences."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, on=False)
        points = shown.points
        hatch = QColor(self._theme.rule)
        for low, high, pattern in (
            (0.0, points.black, Qt.BrushStyle.FDiagPattern),
            (points.white, 255.0, Qt.BrushStyle.BDiagPattern),
        ):
            left, right = self.x_of(low), self.x_of(high)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(hatch)
            brush = painter.brush()
            brush.setStyle(pattern)
            painter.fillRect(QRectF(left, plot.top(), right - left, plot.height()), brush)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)

    def _paint_histogram(self, painter: QPainter, plot: QRectF, shown: StripShown) -> None:
        """The histogram from its own picture: it stays as it is while a handle moves."""
        ratio = self.devicePixelRatio()
        key = (shown.heights, plot.width(), plot.height(), self._theme.quiet, ratio)
        if self._drawn is None or self._drawn[0] != key:
            self._drawn = (key, self._draw_histogram(plot, shown.heights, ratio))
        painter.drawPixmap(plot.topLeft(), self._drawn[1])

    def _draw_histogram(
        self, plot: QRectF, heights: tuple[float, ...], ratio: float,
    ) -> QPixmap:
        pixmap = QPixmap(math.ceil(plot.width() * ratio), math.ceil(plot.height() * ratio))
        pixmap.setDevicePixelRatio(ratio)
        pixmap.fill(Qt.GlobalColor.transparent)
        room, across, foot = plot.height() - 6, plot.width() / 255, plot.height()
        outline = [
            QPointF(0, foot),
            *(QPointF(n * across, foot - height * room) for n, height in enumerate(heights)),
            QPointF(plot.width(), foot),
        ]
        fill = QColor(self._theme.quiet)
        fill.setAlpha(150)
        painter = QPainter(pixmap)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(fill)
        painter.drawPolygon(QPolygonF(outline))
        painter.end()
        return pixmap

    def _paint_curve(self, painter: QPainter, plot: QRectF, shown: StripShown) -> None:
        """What becomes of each tone: full ink at the bottom, bare ground at the top."""
        left, across, top, room = plot.left(), plot.width() / 255, plot.top() + 3, plot.height() - 4
        line = [
            QPointF(left + tone * across, top + cover * room)
            for tone, cover in enumerate(shown.curve)
        ]
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(self._theme.accent), 1.6))
        painter.drawPolyline(QPolygonF(line))

    def _paint_peaks(self, painter: QPainter, plot: QRectF, peaks: Peaks) -> None:
        metrics = QFontMetricsF(self.font())
        free = plot.left()
        named = [(tr("ink"), peaks.ink), (tr("paper"), peaks.paper)]
        for name, tone in named:
            if tone is None:
                continue
            x = self.x_of(tone)
            text = f"{name} {tone:.0f}"
            width = metrics.horizontalAdvance(text)
            left = min(max(x - width / 2, free), plot.right() - width)
            free = left + width + 12
            painter.setPen(QPen(QColor(self._theme.quiet), 1, Qt.PenStyle.DotLine))
            painter.drawLine(QPointF(x, plot.top() - 3), QPointF(x, plot.bottom()))
            painter.setPen(QColor(self._theme.ink))
            painter.drawText(QPointF(left, plot.top() - 6), text)

    def _paint_hovered(self, painter: QPainter, plot: QRectF, tone: float) -> None:
        """The tone under the pointer as 0-255 and as the share of black it would print as."""
        x = math.floor(self.x_of(round(tone))) + 0.5  # the middle of a pixel: one sharp line
        text = f"{round(tone)}, {percent_black(round(tone)):.0f} % {tr('ink')}"
        metrics = QFontMetricsF(self.font())
        size = QRectF(0, 0, metrics.horizontalAdvance(text) + 12, metrics.height() + 4)
        size.moveTopLeft(QPointF(min(x + 6, plot.right() - size.width()), plot.top() + 6))
        painter.setPen(QPen(QColor(self._theme.ink), 1))
        painter.drawLine(QPointF(x, plot.top()), QPointF(x, plot.bottom()))
        painter.setPen(QPen(QColor(self._theme.edge), 1))
        painter.setBrush(QColor(self._theme.field))
        painter.drawRoundedRect(size, 4, 4)
        painter.setPen(QColor(self._theme.ink))
        painter.drawText(size, Qt.AlignmentFlag.AlignCenter, text)

    def _paint_ramp(self, painter: QPainter, shown: StripShown) -> None:
        """The ramp as the page becomes: black below the black point, bare above the white."""
        ramp = self._ramp()
        levels = bytes(round(255 * (1 - cover)) for cover in shown.curve)
        image = QImage(levels, 256, 1, 256, QImage.Format.Format_Grayscale8)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawImage(ramp, image)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(self._theme.edge), 1))
        painter.drawRect(ramp)
