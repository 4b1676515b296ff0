"""What a test strip held on the person's own printer, typed in."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.bench.state.sentence import parse_number
from app.bench.views.look import tr
from core.press.presses import CAUTION, LINES, PRESSES, VEILS, Press, my_printer
from core.steps.fields import Number, checked, plain

_COVER = Number("cover", "%", 0.01, 50)
_POINTS = Number("line", "pt", 0.01, 10)


class MyPrinter(QDialog):
    """Reports the press as its strip shows it, and that a strip is wanted."""

    read = Signal(object)
    asked = Signal(str)

    def __init__(self, press: Press, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("My printer"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.base = QComboBox()
        self.base.setAccessibleName(tr("Gain and ruling as for"))
        self.base.setToolTip(tr("The press that it is most like: the strip does not tell these"))
        for name in PRESSES:
            self.base.addItem(tr(name), name)
        self.base.setCurrentIndex(max(self.base.findData(press.name), 0))
        self.faintest = self._box(tr("Palest veil of which anything shows"), VEILS, press.may_print)
        self.even = self._box(tr("Palest veil that is even"), VEILS, press.holds)
        self.line = self._box(tr("Finest black line that is unbroken"), LINES, press.line)
        self.white = self._box(
            tr("Finest white line that is unbroken"), LINES, press.reversed_line)
        self.fault = QLabel()
        self.fault.setWordWrap(True)
        self.fault.hide()
        self.go = QPushButton(tr("Keep as my printer"))
        self._lay_out()

    @staticmethod
    def _box(name: str, values: tuple[float, ...], value: float) -> QComboBox:
        box = QComboBox()
        box.setEditable(True)
        box.addItems([plain(one) for one in values if one <= _COVER.highest / 5])
        box.setEditText(plain(value))
        box.setAccessibleName(name)
        box.setToolTip(tr("As it is read off the strip; any number can be typed"))
        return box

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 16)
        column.setSpacing(12)
        how = QLabel(tr(
            "Print the test strip at 100 %, look at it in good light, and say what it held."))
        how.setWordWrap(True)
        column.addWidget(how)
        grid = QGridLayout()
        grid.setHorizontalSpacing(16)
        for row, (box, unit) in enumerate((
            (self.faintest, "%"), (self.even, "%"), (self.line, "pt"), (self.white, "pt"),
        )):
            grid.addWidget(QLabel(box.accessibleName()), row, 0)
            grid.addWidget(box, row, 1)
            grid.addWidget(QLabel(unit), row, 2)
        grid.addWidget(QLabel(tr("Gain and ruling as for")), 4, 0)
        grid.addWidget(self.base, 4, 1)
        column.addLayout(grid)
        column.addWidget(self.fault)
        note = QLabel(CAUTION)
        note.setObjectName("quiet")
        note.setWordWrap(True)
        column.addWidget(note)
        column.addLayout(self._buttons())

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        strip = QPushButton(tr("Test strip…"))
        strip.setAutoDefault(False)
        strip.setToolTip(tr("Write a strip that shows what a press holds"))
        strip.clicked.connect(lambda: self.asked.emit("test strip"))
        cancel = QPushButton(tr("Cancel"))
        cancel.setAutoDefault(False)
        cancel.setToolTip(tr("Keep nothing"))
        cancel.clicked.connect(self.reject)
        self.go.setObjectName("chief")
        self.go.setDefault(True)
        self.go.setToolTip(tr("Print this book on it, and keep it on this computer"))
        self.go.clicked.connect(self._go)
        row.addWidget(strip)
        row.addStretch(1)
        row.addWidget(cancel)
        row.addWidget(self.go)
        return row

    def _go(self) -> None:
        numbers = [
            parse_number(box.currentText(), spec) for box, spec in (
                (self.faintest, _COVER), (self.even, _COVER), (self.line, _POINTS),
                (self.white, _POINTS))
        ]
        if any(number is None for number in numbers):
            self._say(tr("Give a number for each."))
            return
        faintest, even, line, white = (number or 0.0 for number in numbers)
        press = my_printer(PRESSES[self.base.currentData()], faintest=faintest, even=even,
                           line=line, reversed_line=white)
        faults = checked(press)
        if faults:
            self._say(" ".join(str(fault) for fault in faults))
            return
        self.read.emit(press)
        self.accept()

    def _say(self, text: str) -> None:
        self.fault.setText(text)
        self.fault.show()
