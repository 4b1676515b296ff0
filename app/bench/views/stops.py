"""Where the keyboard stops, one after the other: in the order in which a window is read."""

import itertools
from collections.abc import Iterator

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLayout, QSplitter, QWidget


def tab_in_order(root: QWidget) -> None:
    """Have Tab go through all that lies in ``root`` as it is laid out, whenever it was made."""
    for first, second in itertools.pairwise(stops(root)):
        QWidget.setTabOrder(first, second)


def stops(widget: QWidget) -> Iterator[QWidget]:
    """The widget, if Tab stops there, and what lies in it: by its layout, else as it was made."""
    if widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
        yield widget
    for child in _within(widget):
        yield from stops(child)


def _within(widget: QWidget) -> Iterator[QWidget]:
    layout = widget.layout()
    if layout is not None:
        yield from _laid(layout)
    elif isinstance(widget, QSplitter):  # what was drawn last is its last child, wherever it lies
        panes = (widget.widget(number) for number in range(widget.count()))
        yield from (pane for pane in panes if pane is not None)
    else:
        yield from (child for child in widget.children()
                    if isinstance(child, QWidget) and not child.isWindow())


def _laid(layout: QLayout) -> Iterator[QWidget]:
    """The widgets of a layout and of those in it, in order."""
    for number in range(layout.count()):
        item = layout.itemAt(number)
        widget, inner = (None, None) if item is None else (item.widget(), item.layout())
        if widget is not None:
            yield widget
        elif inner is not None:
            yield from _laid(inner)
