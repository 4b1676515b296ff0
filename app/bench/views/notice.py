"""What is said under the page, and the work that goes on at the foot of the rack."""

from collections.abc import Callable

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from app.bench.views.look import as_it_is, tr

_LINES = 8  # of words; more are scrolled, so that the page and the strip keep their room


class _Words(QScrollArea):
    """Words as high as they are, up to so many lines."""

    def __init__(self, text: QLabel) -> None:
        super().__init__()
        self._text = text
        self.setWidget(text)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName(tr("What happened"))
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def hasHeightForWidth(self) -> bool:  # noqa: N802 - Qt's name
        """Narrower words are higher."""
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802 - Qt's name
        """As high as all the words, or as the most lines."""
        return min(self._text.heightForWidth(width), _LINES * self.fontMetrics().lineSpacing())

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """As wide as the words would like."""
        wide = self._text.sizeHint().width()
        return QSize(wide, self.heightForWidth(max(self.width(), wide)))

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """As narrow as the longest word, and one line."""
        return QSize(self._text.minimumSizeHint().width(), self.fontMetrics().lineSpacing())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Where there is more than is seen, the keys can go there and scroll it."""
        super().resizeEvent(event)
        whole = self._text.heightForWidth(self.width()) <= self.height()
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus if whole else Qt.FocusPolicy.StrongFocus)


class Notice(QWidget):
    """A strip under the page for what happened; perhaps something can be done about it."""

    def __init__(self) -> None:
        super().__init__()
        self._of: object = None
        self._known: set[tuple[object, str]] = set()
        self._do: Callable[[], None] | None = None
        self._passing = False
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.text = as_it_is(QLabel())
        self.act = QPushButton()
        self.act.setToolTip(tr("Do what is offered here"))
        self.act.clicked.connect(self._act)
        self.dismiss = QPushButton(tr("Dismiss"))
        self.dismiss.setToolTip(tr("Take this message away; nothing is changed"))
        self.dismiss.clicked.connect(self._dismiss)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 6, 8, 6)
        self.words = _Words(self.text)
        row.addWidget(self.words, 1)
        row.addWidget(self.act)
        row.addWidget(self.dismiss)
        self.hide()

    def show_said(self, text: str, *, of: object = None, stays: bool = False) -> None:
        """What happened, perhaps ``of`` one page alone.

        It stays up to the next change or, where it ``stays``, until it is dismissed. What was
        dismissed of a page is not said of it again.
        """
        if (of, text) in self._known:
            return
        self._of, self._do = of, None
        self._passing = not (of or stays)
        self.text.setText(text)
        self.words.updateGeometry()
        self.words.verticalScrollBar().setValue(0)
        self.act.setText("")
        self.act.hide()
        self.show()

    def offer(
        self, text: str, act: str, do: Callable[[], None], *, stays: bool = True,
    ) -> None:
        """What happened, and what the person may want done about it.

        Until it is dismissed or, where it does not ``stay``, up to the next change.
        """
        self.show_said(text, stays=stays)
        self._do = do
        self.act.setText(act)
        self.act.show()

    def _act(self) -> None:
        if self._do is not None:
            self._do()

    def _dismiss(self) -> None:
        if self._of is not None:
            self._known.add((self._of, self.text.text()))
        self.hide()

    def turn_to(self, page: object) -> None:
        """Another page may be in hand: what was said of one alone goes with it."""
        if self._of not in (None, page):
            self.hide()

    def go_on(self, *, far: bool = False) -> None:
        """Something was changed: what was merely said before is past.

        Where the change goes ``far``, as to other pages, all is but what can be acted on.
        """
        if self._passing or (far and not self.act.text()):
            self.hide()


class WorkStrip(QWidget):
    """Work that goes on, how far it is, and a way to stop it."""

    stopped = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.text = as_it_is(QLabel())
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setAccessibleName(tr("How far the work is"))
        self.stop = QPushButton(tr("Stop"))
        self.stop.setToolTip(tr("Stop this work; what is finished stands"))
        self.stop.clicked.connect(self.stopped)
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 8, 8, 8)
        column.addWidget(self.text)
        column.addWidget(self.bar)
        column.addWidget(self.stop)
        self.hide()

    def show_work(self, text: str, done: int, total: int) -> None:
        """So much of the total is done."""
        self.text.setText(text)
        self.bar.setRange(0, max(total, 1))
        self.bar.setValue(done)
        self.show()
