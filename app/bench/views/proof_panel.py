"""The proof beside the page: the verdict, what was found, and what would mend it."""

from dataclasses import dataclass
from typing import Literal

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QProgressBar,
    QPushButton,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from app.bench.state.proof import Group, Row
from app.bench.views.look import tr
from app.bench.views.order_panel import OrderPanel
from core.press.advice import Grade

What = Literal["region", "all", "cores"]

_ROW = Qt.ItemDataRole.UserRole
_FOR: dict[What, str] = {
    "region": "This region", "all": "Everything", "cores": "Ink not solid",
}


@dataclass(frozen=True)
class ProofShown:
    """What is known: the verdict and its gravity, what was found, and how it is printed.

    ``state`` says what is not yet so; ``working`` how far the proof is.
    """

    headline: str
    grade: Grade | None = None
    groups: tuple[Group, ...] = ()
    order: str = ""
    state: str = ""
    working: tuple[int, int] | None = None


@dataclass(frozen=True)
class Offer:
    """A step that would mend something, in words; empty where nothing need be or can be done."""

    what: What
    text: str = ""


class FoundList(QListWidget):
    """What was found, under headings. Reports what is gone to, and what is chosen."""

    went = Signal(object)
    chose = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("bare")
        self.setAccessibleName(tr("What the proof found"))
        self.setToolTip(tr("Click, or press Return, to go there"))
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setUniformItemSizes(False)
        self.setWordWrap(True)
        self.itemClicked.connect(self._go)
        self.currentItemChanged.connect(lambda now, _: self._choose(now))
        self._groups: tuple[Group, ...] = ()

    def _choose(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            item.setSelected(True)  # coming to it by key alone would not
        self.chose.emit(_row_of(item))

    def show_groups(self, groups: tuple[Group, ...]) -> None:
        """Show these; the row in hand stays where it still is."""
        if groups == self._groups:
            return
        self._groups = groups
        row = self.currentRow()
        self.blockSignals(True)
        self.clear()
        for group in groups:
            head = QListWidgetItem(tr(group.title))
            font = head.font()
            font.setBold(True)
            head.setFont(font)
            head.setFlags(Qt.ItemFlag.NoItemFlags)
            head.setForeground(self.palette().text())
            self.addItem(head)
            for found in group.rows:
                item = QListWidgetItem(f"    {found.text}")
                item.setData(_ROW, found)
                self.addItem(item)
        self.blockSignals(False)
        kept = min(row, self.count() - 1)
        if row >= 0 and kept >= 0 and _row_of(self.item(kept)) is not None:
            self.setCurrentRow(kept)
        else:
            self.chose.emit(None)

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """Headings are written in the ink of the theme."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange:
            for row in range(self.count()):
                if _row_of(self.item(row)) is None:
                    self.item(row).setForeground(self.palette().text())

    def _go(self, item: QListWidgetItem) -> None:
        row = _row_of(item)
        if row is not None and row.region is not None:
            self.went.emit(row)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Return goes to the chosen place."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentItem() is not None:
            self._go(self.currentItem())
        else:
            super().keyPressEvent(event)


def _row_of(item: QListWidgetItem | None) -> Row | None:
    found = None if item is None else item.data(_ROW)
    return found if isinstance(found, Row) else None


class ProofPanel(QFrame):
    """Reports places gone to, remedies taken, and that the proof is to be stopped.

    ``order`` is the leaf on which press, size, form and trim are chosen.
    """

    went = Signal(object)
    chose = Signal(object)
    taken = Signal(str)
    stopped = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("card")
        self.headline = _words("strong")
        self.headline.setAccessibleName(tr("Verdict of the proof"))
        self.state = _words("quiet")
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setAccessibleName(tr("How far the proof is"))
        self.stop = QPushButton(tr("Stop"))
        self.stop.setToolTip(tr("Stop proving; what is known stays"))
        self.stop.clicked.connect(self.stopped)
        self.said = _words("quiet")
        self.turn = QPushButton(tr("Press, size, form and trim…"))
        self.turn.setCheckable(True)
        self.turn.setObjectName("tab")
        self.turn.setToolTip(tr("Choose how the page is printed"))
        self.turn.toggled.connect(self._turn)
        self.list = FoundList()
        self.list.went.connect(self.went)
        self.list.chose.connect(self.chose)
        self.offers: dict[What, QPushButton] = {what: self._offer(what) for what in _FOR}
        self.order = OrderPanel()
        self._leaves = QStackedWidget()
        self._lay_out()

    def _offer(self, what: What) -> QPushButton:
        button = QPushButton()
        button.setVisible(False)
        button.setObjectName("offer")
        button.clicked.connect(lambda: self.taken.emit(what))
        return button

    def _lay_out(self) -> None:
        working = QHBoxLayout()
        working.addWidget(self.bar, 1)
        working.addWidget(self.stop)
        found = QWidget()
        column = QVBoxLayout(found)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.list, 1)
        for button in self.offers.values():
            column.addWidget(button)
        self._leaves.addWidget(found)
        self._leaves.addWidget(self.order)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(12, 12, 12, 8)
        whole.setSpacing(6)
        for widget in (self.headline, self.state):
            whole.addWidget(widget)
        whole.addLayout(working)
        whole.addWidget(self.said)
        whole.addWidget(self.turn)
        whole.addWidget(self._leaves, 1)
        self.setMinimumWidth(288)
        self.setMaximumWidth(480)

    def _turn(self, order: bool) -> None:
        self._leaves.setCurrentIndex(int(order))
        self.turn.setText(
            tr("Back to what was found") if order else tr("Press, size, form and trim…"))

    def show_proof(self, shown: ProofShown) -> None:
        """Show what is known."""
        self.headline.setText(shown.headline)
        self.state.setText(shown.state)
        self.state.setVisible(bool(shown.state))
        for widget in (self.bar, self.stop):
            widget.setVisible(shown.working is not None)
        if shown.working is not None:
            self.bar.setRange(0, max(shown.working[1], 1))
            self.bar.setValue(shown.working[0])
        self.said.setText(shown.order)
        self.said.setVisible(bool(shown.order))
        self.list.show_groups(shown.groups)

    def show_offer(self, offer: Offer) -> None:
        """Show what would mend something, on its button."""
        button = self.offers[offer.what]
        button.setVisible(bool(offer.text))
        whom = tr(_FOR[offer.what])
        button.setText(f"{whom}: " + "\n".join(offer.text.split(": ")))
        button.setAccessibleName(f"{whom}: {offer.text}")
        button.setToolTip(tr("Put this step into the list; it can be undone"))


def _words(name: str) -> QLabel:
    label = QLabel()
    label.setObjectName(name)
    label.setWordWrap(True)
    label.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
    return label
