"""How many pixels of the screen make a millimetre: a bank card is held to it."""

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSlider,
    QVBoxLayout,
    QWidget,
)

from app.bench.views.look import tr

CARD_MM = (85.60, 53.98)
"""ISO/IEC 7810:2019, 5.1: width and height of the size ID-1, that of bank cards."""

_FINE = 100  # steps of the slider to a pixel of the card's width


class _Outline(QWidget):
    """The outline of a card so many pixels wide."""

    def __init__(self) -> None:
        super().__init__()
        self.wide = 0.0
        self.setMinimumSize(QSize(360, 240))

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for the largest, where the screen has it."""
        return QSize(720, 460)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw it."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(self.palette().accent().color(), 1.5))
        tall = self.wide * CARD_MM[1] / CARD_MM[0]
        corner = self.wide * 3.18 / CARD_MM[0]
        painter.drawRoundedRect(QRectF(12, 12, self.wide, tall), corner, corner)
        painter.end()


class CardSize(QDialog):
    """Reports the screen's pixels per millimetre."""

    measured = Signal(float)

    def __init__(self, dots_per_mm: float, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Measure the screen"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._outline = _Outline()
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setRange(120 * _FINE, 690 * _FINE)
        self.slider.setSingleStep(_FINE // 2)
        self.slider.setPageStep(4 * _FINE)
        self.slider.setAccessibleName(tr("Width of the card"))
        self.slider.setToolTip(tr("Until the outline is as wide as the card"))
        self.slider.valueChanged.connect(self._show)
        self.done_button = QPushButton(tr("It fits"))
        self.done_button.setObjectName("chief")
        self.done_button.clicked.connect(self._report)
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 16)
        column.addWidget(QLabel(tr(
            "Hold a bank card to the screen and drag until the outline is as large as the card.")))
        column.addWidget(self._outline)
        column.addWidget(self.slider)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.done_button)
        column.addLayout(row)
        width = dots_per_mm * CARD_MM[0] / self.devicePixelRatio()
        self.slider.setValue(round(width * _FINE))
        self._show(self.slider.value())

    def _show(self, value: int) -> None:
        self._outline.wide = value / _FINE
        self._outline.update()

    def _report(self) -> None:
        wide = self.slider.value() / _FINE * self.devicePixelRatio()
        self.measured.emit(wide / CARD_MM[0])
        self.accept()
