"""What stands beside the page: one panel at a time, named on tabs like those of index cards."""

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QApplication,
    QButtonGroup,
    QHBoxLayout,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from app.bench.state.commands import BY_NAME
from app.bench.views.look import tr


class Side(QWidget):
    """Reports the panel that was asked for by its name, and each when it has been made.

    A panel is made when it is first shown, or asked for: most starts need only one of them.
    """

    turned = Signal(str)
    made = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self._stack = QStackedWidget()
        self._group = QButtonGroup(self)
        self._tabs: dict[str, QPushButton] = {}
        self._makers: dict[str, Callable[[], QWidget]] = {}
        self._panels: dict[str, QWidget] = {}
        self._row = QHBoxLayout()
        self._row.setSpacing(4)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 8, 8, 0)
        column.addLayout(self._row)
        column.addWidget(self._stack, 1)

    def add(self, name: str, make: Callable[[], QWidget]) -> None:
        """Have a place for what ``make`` gives; its tab says what the command ``name`` says."""
        command = BY_NAME[name]
        tab = QPushButton(tr(command.text).replace("&", ""))
        tab.setObjectName("tab")
        tab.setCheckable(True)
        tab.setChecked(not self._tabs)
        tab.setToolTip(f"{tr(command.tip)} ({command.keys[0]})")
        tab.clicked.connect(lambda: self.turned.emit(name))
        self._tabs[name] = tab
        self._group.addButton(tab)
        self._row.addWidget(tab)
        self._makers[name] = make

    def tab(self, name: str) -> QPushButton:
        """The tab of that name."""
        return self._tabs[name]

    def panel(self, name: str) -> QWidget:
        """The panel of that name."""
        if name not in self._panels:
            self._panels[name] = self._makers[name]()
            self._stack.addWidget(self._panels[name])
            self.made.emit(name)
        return self._panels[name]

    def has(self, name: str) -> bool:
        """Whether the panel of that name has been made."""
        return name in self._panels

    def show_aside(self, name: str) -> None:
        """Show the panel of that name."""
        self._tabs[name].setChecked(True)
        for other, tab in self._tabs.items():  # Tab stops at the one that is up, arrows turn
            tab.setFocusPolicy(Qt.FocusPolicy.StrongFocus if other == name
                               else Qt.FocusPolicy.ClickFocus)
        left = self._stack.currentWidget()
        here = QApplication.focusWidget()
        if left not in (None, self.panel(name)) and here is not None and left.isAncestorOf(here):
            self._tabs[name].setFocus()  # and not whatever field would come next
        self._stack.setCurrentWidget(self.panel(name))

    @property
    def panels(self) -> tuple[str, ...]:
        """The names of the panels, in order."""
        return tuple(self._tabs)
