"""The controls that stand in a sentence, one for each kind of field."""

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QRect, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QIcon,
    QKeyEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
)
from PySide6.QtWidgets import QColorDialog, QMenu, QToolButton

from app.bench.state.sentence import Control, as_written, nudged, parse_number, ways
from app.bench.views.field import Field
from core.steps.fields import Choice, Colour, Either, Flag, Number, Text, plain

_NUDGES = {Qt.Key.Key_Up: 1, Qt.Key.Key_Down: -1}


def nudge_of(event: QKeyEvent) -> int:
    """By how many steps a key nudges a number: one up or down, ten with Shift; 0 if it does not."""
    shifted = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
    return _NUDGES.get(Qt.Key(event.key()), 0) * (10 if shifted else 1)


class NumberField(Field):
    """The number itself, to be typed over; Up and Down nudge it, with Shift by ten."""

    changed = Signal(object)

    def __init__(self, control: Control, name: str) -> None:
        super().__init__()
        assert isinstance(control.spec, Number)
        self._spec: Number = control.spec
        self._value = float(control.value)
        self.setObjectName("inline")
        self.setFrame(False)
        self.setTextMargins(0, 0, 0, 0)
        self.setAccessibleName(name)
        self.setToolTip(f"{name}: {self._spec.range}")
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.textChanged.connect(self._fit)
        self.editingFinished.connect(self._finish)
        self.show_control(control)

    def show_control(self, control: Control) -> None:
        """Show another value, unless one is being typed."""
        self._value = float(control.value)
        if not (self.hasFocus() and self.isModified()):
            self.setText(control.said)
            self._fit()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """As wide as the number."""
        metrics = self.fontMetrics()
        width = max(metrics.horizontalAdvance(self.text() or "0"), metrics.averageCharWidth() * 2)
        return QSize(width + 10, metrics.height() + 4)

    def _fit(self) -> None:
        self.updateGeometry()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Nudge, or give up what was typed."""
        steps = nudge_of(event)
        if steps:
            typed = parse_number(self.text(), self._spec) if self.isModified() else None
            self.setModified(False)
            self.changed.emit(nudged(self._value if typed is None else typed, self._spec, steps))
        elif event.key() == Qt.Key.Key_Escape and self.isModified():
            self.setText(plain(self._value))
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Coming to it by key or click, the whole number is taken."""
        super().focusInEvent(event)
        if event.reason() != Qt.FocusReason.PopupFocusReason:
            self.selectAll()

    def _finish(self) -> None:
        if not self.isModified():
            return
        value = parse_number(self.text(), self._spec)
        self.setText(plain(self._value))
        if value is not None and value != self._value:
            self.changed.emit(value)


class TextField(Field):
    """A short text in its place."""

    changed = Signal(object)

    def __init__(self, control: Control, name: str) -> None:
        super().__init__()
        self.setObjectName("inline")
        self.setFrame(False)
        self.setAccessibleName(name)
        self.setToolTip(name)
        self.editingFinished.connect(self._finish)
        self.show_control(control)

    def show_control(self, control: Control) -> None:
        """Show another text, unless one is being typed."""
        assert isinstance(control.spec, Text)
        self.setMaxLength(control.spec.most)
        if not (self.hasFocus() and self.isModified()):
            self.setText(control.value)

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for a few words."""
        return QSize(160, self.fontMetrics().height() + 4)

    def _finish(self) -> None:
        if self.isModified():
            self.setModified(False)
            self.changed.emit(self.text())


class WordButton(QToolButton):
    """A word of the sentence that can be changed: by a menu, by a turn-about or by a colour."""

    changed = Signal(object)
    pitch = 20
    """Pixels from line to line where it takes several."""

    def __init__(self, control: Control, name: str) -> None:
        super().__init__()
        self.setObjectName("inline")
        self.setToolTip(name)
        self._name = name
        self._control = control
        self._shown: Control | None = None
        self._said_whole = ""
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.clicked.connect(self._click)
        self.show_control(control)

    def show_control(self, control: Control) -> None:
        """Show another value."""
        if self._shown is not None and (self._shown.spec, self._said(self._shown)) == (
            control.spec, self._said(control)
        ):
            self._control = control
            return
        self._shown = self._control = control
        spec = control.spec
        if isinstance(spec, Either):
            options = [(text, option) for text, option in ways(spec)]
            chosen = type(control.value)
            self.setText(f"{as_written(control.lead)}▾")
            self._fill(options, chosen)
        else:
            self.setText(f"{control.said}▾" if isinstance(spec, Choice) else control.said)
            if isinstance(spec, Choice):
                self._fill([(words, value) for value, words in spec.options], control.value)
            elif isinstance(spec, Colour):
                self.setIcon(_swatch(control.value, self.fontMetrics().height()))
        self._said_whole = self.text()
        self.setAccessibleName(f"{self._name}: {control.said}")

    @staticmethod
    def _said(control: Control) -> object:
        """What the button shows of a value: of a way only which it is."""
        return type(control.value) if isinstance(control.spec, Either) else control.value

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """As wide as the words, like a word."""
        metrics = self.fontMetrics()
        icon = 0 if self.icon().isNull() else self.iconSize().width() + 4
        wide = metrics.horizontalAdvance(self._said_whole) + icon + 6
        return QSize(wide, metrics.height() + 4)

    def wrapped(self, width: int) -> tuple[int, int]:
        """Words too long for a line in several; their number, and how wide the last one is."""
        metrics, lines = self.fontMetrics(), [""]
        for word in self._said_whole.split():
            longer = f"{lines[-1]} {word}".strip()
            if lines[-1] and metrics.horizontalAdvance(longer) + 6 > width:
                lines.append(word)
            else:
                lines[-1] = longer
        self.setText("\n".join(lines))
        return len(lines), metrics.horizontalAdvance(lines[-1]) + 6

    def unwrapped(self) -> None:
        """All in one line again."""
        self.setText(self._said_whole)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Several lines stand as text does, each underlined; one is the toolkit's business."""
        lines = self.text().split("\n")
        if len(lines) == 1:
            super().paintEvent(event)
            return
        painter, metrics = QPainter(self), self.fontMetrics()
        if self.hasFocus() or self.underMouse():
            painter.fillRect(self.rect(), self.palette().base())
        painter.setPen(QPen(self.palette().accent().color(), 2 if self.hasFocus() else 1))
        for number, line in enumerate(lines):
            box = QRect(3, number * self.pitch + 2, self.width() - 6, metrics.height())
            painter.drawText(box, Qt.AlignmentFlag.AlignLeading | Qt.AlignmentFlag.AlignVCenter,
                             line)
            wide = metrics.horizontalAdvance(line)
            left = 3 if self.isLeftToRight() else self.width() - 3 - wide
            painter.drawLine(left, box.bottom() + 2, left + wide, box.bottom() + 2)
        painter.end()

    def _fill(self, options: list[tuple[str, Any]], chosen: Any) -> None:
        menu = QMenu(self)
        for text, value in options:
            action = menu.addAction(text)
            action.setCheckable(True)
            action.setChecked(value == chosen)
            action.triggered.connect(self._reporter(value))
        old = self.menu()
        self.setMenu(menu)
        if old is not None:
            old.deleteLater()

    def _reporter(self, value: Any) -> Callable[[], None]:
        return lambda: self.changed.emit(value)

    def _click(self) -> None:
        spec = self._control.spec
        if isinstance(spec, Flag):
            self.changed.emit(not self._control.value)
        elif isinstance(spec, Colour):
            red, green, blue = self._control.value
            chosen = QColorDialog.getColor(QColor(red, green, blue), self, self._name)
            if chosen.isValid():
                self.changed.emit((chosen.red(), chosen.green(), chosen.blue()))


def _swatch(colour: tuple[int, int, int], height: int) -> QIcon:
    pixmap = QPixmap(height, height)
    pixmap.fill(QColor("#857c6f"))
    painter = QPainter(pixmap)
    painter.fillRect(QRect(1, 1, height - 2, height - 2), QColor(*colour))
    painter.end()
    return QIcon(pixmap)


InlineControl = NumberField | TextField | WordButton


def make_control(control: Control, kind: str) -> InlineControl | None:
    """The control of a value; None for a kind of field that can only be read."""
    name = f"{kind}, {control.spec.label}"
    if not control.editable:
        return None
    if isinstance(control.spec, Number):
        return NumberField(control, name)
    if isinstance(control.spec, Text):
        return TextField(control, name)
    return WordButton(control, name)

