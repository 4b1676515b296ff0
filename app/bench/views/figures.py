"""The live readings beside the points: what would print, what is lost."""

import itertools
from typing import cast

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QWidget

from app.bench.state.strip import Readings, share
from app.bench.views.look import one_line, tr

_READINGS = {
    "printing": (
        "paper that would print",
        "Of the bare paper, the share that stays dark enough for a press to hold a dot of 1 %.",
    ),
    "solid": (
        "ink at full black",
        "Of all that is darker than bare paper, the share that becomes full ink.",
    ),
    "lost": (
        "faint marks lost",
        "Of what is left that is darker than bare paper, the share that these points take.",
    ),
    "veil": (
        "from a veil of 2 %", "What the steps behind the tones make of a veil of 2 % cover.",
    ),
}
_WANTED = ("printing", "lost", "solid", "veil")  # which are shown, where there is no room for all
_GAP = 16


class Figures(QWidget):
    """The readings in one row; where there is little room the less wanted give way."""

    def __init__(self) -> None:
        super().__init__()
        self.labels = {name: QLabel() for name in _READINGS}
        self._said: frozenset[str] = frozenset()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(_GAP)
        row.addStretch(1)
        for name, (text, tip) in _READINGS.items():
            row.addWidget(self._reading(self.labels[name], tr(text), tr(tip)))
        self.setMinimumWidth(self._wide("printing"))

    def _reading(self, figure: QLabel, text: str, tip: str) -> QWidget:
        holder = QWidget()
        row = QHBoxLayout(holder)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(4)
        figure.setObjectName("strong")
        figure.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        figure.setMinimumWidth(self.fontMetrics().horizontalAdvance("< 0.01 %") + 4)
        figure.setAccessibleName(text)
        holder.setToolTip(tip)
        row.addWidget(figure)
        row.addWidget(one_line(text))
        return holder

    def show_readings(self, read: Readings | None) -> None:
        """Show the figures, or none; a veil that nothing is made of says nothing."""
        self._said = frozenset() if read is None else frozenset(
            name for name in _READINGS if name != "veil" or abs(read.veil - 0.02) >= 0.004)
        for name, label in self.labels.items():
            if read is not None:
                label.setText(share(getattr(read, name)))
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Others may have room now."""
        super().resizeEvent(event)
        self._fit()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for all."""
        return QSize(sum(map(self._wide, _READINGS)), super().sizeHint().height())

    def _fit(self) -> None:
        for name in _WANTED:
            # asked anew each time: to show one may have the row laid out at another width
            holder, seen = self._holder(name), name in self._fitting()
            if seen == holder.isHidden():
                holder.setVisible(seen)

    def _fitting(self) -> frozenset[str]:
        """The readings that there is room for."""
        wanted = [name for name in _WANTED if name in self._said]
        widths = itertools.accumulate(map(self._wide, wanted))
        return frozenset(
            name for name, wide in zip(wanted, widths, strict=True) if wide <= self.width())

    def _wide(self, name: str) -> int:
        return self._holder(name).sizeHint().width() + _GAP

    def _holder(self, name: str) -> QWidget:
        """The figure with its words."""
        return cast(QWidget, self.labels[name].parentWidget())
