"""A step's sentence, laid out like a line of text with its controls among the words."""

import re
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QPointF, QRect, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.bench.state.sentence import Control, Path, Piece, Words, as_written, pieces
from app.bench.state.theme import Theme
from app.bench.views.controls import InlineControl, WordButton, make_control
from core.steps.step import Step

_NARROWEST = 160  # pixels: a sentence need not be wider, however long a word of it is


@dataclass
class _Item:
    """A word or a control, whether a space goes before it, and where it came to lie."""

    word: str
    control: InlineControl | None
    gap: bool
    width: float = 0.0
    x: float = 0.0
    row: int = 0
    lines: int = 1


class Sentence(QWidget):
    """Shows a step; reports the path of a value and its new value."""

    changed = Signal(tuple, object)

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._shape: tuple[object, ...] = ()
        self._items: list[_Item] = []
        self._controls: dict[Path, InlineControl] = {}
        self._lit = True
        self._rows: dict[int, int] = {}
        self._flowed: int | None = None
        self._placed: tuple[int, bool] | None = None
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def set_theme(self, theme: Theme) -> None:
        """Other colours."""
        self._theme = theme
        self.update()

    def show_step(self, step: Step) -> None:
        """Show a step; the controls stay where only numbers changed."""
        found = pieces(step)
        shape = (type(step), *(_mould(piece) for piece in found))
        self._lit = step.on
        if shape != self._shape:
            self._shape = shape
            self._rebuild(found, step)
        for piece in found:
            if isinstance(piece, Control) and piece.path in self._controls:
                self._controls[piece.path].show_control(piece)
        self.setAccessibleName(as_written(step.sentence()))
        self._measure()

    def control(self, path: Path) -> InlineControl:
        """The control of the value at ``path``."""
        return self._controls[path]

    def _rebuild(self, found: tuple[Piece, ...], step: Step) -> None:
        for old in self._controls.values():
            old.hide()
            old.deleteLater()
        self._items, self._controls = [], {}
        gap = False
        for piece in found:
            if isinstance(piece, Words):
                gap = self._add_words(piece.text, gap=gap)
                continue
            made = make_control(piece, step.kind)
            if made is None:
                gap = self._add_words(piece.said, gap=gap)
                continue
            made.setParent(self)
            made.changed.connect(lambda value, path=piece.path: self.changed.emit(path, value))
            made.show()
            self._controls[piece.path] = made
            self._items.append(_Item("", made, gap))
            gap = False

    def _add_words(self, text: str, *, gap: bool) -> bool:
        for match in re.finditer(r"(\s*)(\S+)", as_written(text)):
            self._items.append(_Item(match[2], None, bool(match[1]) or gap))
            gap = False
        return text[-1:].isspace()

    def _measure(self) -> None:
        """Widths anew; where one has changed the lines are broken anew."""
        metrics, old = self.fontMetrics(), [item.width for item in self._items]
        for item in self._items:
            item.width = (
                metrics.horizontalAdvance(item.word) if item.control is None
                else item.control.sizeHint().width()
            )
        if old != [item.width for item in self._items]:
            self._rows, self._flowed, self._placed = {}, None, None
            self.updateGeometry()
            self._place()
        self.update()

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """Another font has other widths."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.StyleChange):
            self._measure()

    def _row_height(self) -> int:
        return self.fontMetrics().height() + 6

    def _rows_for(self, width: int) -> int:
        """The number of rows in a width; layouts ask for some widths over and over."""
        if width not in self._rows:
            self._flow(width)
        return self._rows[width]

    def _flow(self, width: int) -> None:
        """Break the line at gaps."""
        space = self.fontMetrics().horizontalAdvance(" ")
        x, row = 0.0, 0
        for number, item in enumerate(self._items):
            if item.gap or number == 0:
                cluster = self._cluster(number)
                x += space if item.gap and x else 0
                if x and x + cluster > width:
                    x, row = 0.0, row + 1
            item.x, item.row = x, row
            x, row = self._past(item, x, row, width)
        self._flowed, self._rows[width] = width, row + 1

    def _past(self, item: _Item, x: float, row: int, width: int) -> tuple[float, int]:
        """Where the line goes on behind an item; words longer than a line take several."""
        if not isinstance(item.control, WordButton):
            return x + item.width, row
        if item.width <= width or width <= 0:
            item.control.unwrapped()
            item.lines = 1
            return x + item.width, row
        item.control.pitch = self._row_height()
        item.lines, last = item.control.wrapped(width)
        return float(last), row + item.lines - 1

    def _cluster(self, number: int) -> float:
        """How wide an item is with all that may not be parted from it."""
        width = self._items[number].width
        for item in self._items[number + 1 :]:
            if item.gap:
                break
            width += item.width
        return width

    def _place(self) -> None:
        mirrored = self.layoutDirection() == Qt.LayoutDirection.RightToLeft
        if self._flowed != self.width():
            self._flow(self.width())
        elif self._placed == (self.width(), mirrored):
            return
        self._placed = (self.width(), mirrored)
        height = self._row_height()
        for item in self._items:
            if item.control is not None:
                hint = item.control.sizeHint()
                wide = hint.width() if item.lines == 1 else self.width()
                tall = hint.height() + (item.lines - 1) * height
                left = self.width() - item.x - wide if mirrored else item.x
                top = item.row * height + (height - hint.height()) // 2
                item.control.setGeometry(QRect(round(left), top, wide, tall))

    def hasHeightForWidth(self) -> bool:  # noqa: N802 - Qt's name
        """A narrower sentence is taller."""
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802 - Qt's name
        """Rows needed for a width."""
        return self._rows_for(width) * self._row_height()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """As wide as it is given."""
        return QSize(200, self.heightForWidth(max(self.width(), 200)))

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """At least one row, and as wide as the widest thing in it."""
        widest = max((min(item.width, _NARROWEST) for item in self._items), default=40)
        return QSize(round(widest), self._row_height())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Break the lines anew."""
        super().resizeEvent(event)
        self._place()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002, N802 - Qt's name
        """Write the words."""
        self._place()
        painter = QPainter(self)
        painter.setPen(QColor(self._theme.ink if self._lit else self._theme.quiet))
        font = self.font()
        font.setStrikeOut(not self._lit)
        painter.setFont(font)
        height, metrics = self._row_height(), self.fontMetrics()
        drop = (height + metrics.ascent() - metrics.descent()) / 2
        mirrored = self.layoutDirection() == Qt.LayoutDirection.RightToLeft
        for item in self._items:
            if item.control is None:
                left = self.width() - item.x - item.width if mirrored else item.x
                painter.drawText(QPointF(left, item.row * height + drop), item.word)
        painter.end()


def _mould(piece: Piece) -> object:
    """What of a piece decides which controls there are, and not what they show."""
    if isinstance(piece, Words):
        return piece.text
    return piece.path, piece.spec, piece.value if not piece.editable else type(piece.value)
