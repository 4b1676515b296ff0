"""The job's colours as a list: a swatch, a name, and the ink that each lays."""

from PySide6.QtCore import (
    QAbstractListModel,
    QEvent,
    QModelIndex,
    QPersistentModelIndex,
    QPoint,
    QRect,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import (
    QColor,
    QFontMetrics,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from app.bench.state.palette import Swatch
from app.bench.state.theme import Theme
from app.bench.views.look import tr
from core.colours import rgb_to_hex

Index = QModelIndex | QPersistentModelIndex

_SWATCH_ROLE = Qt.ItemDataRole.UserRole
_KEYED = 9  # colours that a figure chooses
_LEAST = 3  # colours that are always seen, where there are so many
_DRAGGED = 6  # pixels that a press may wander and be a click still


class SwatchModel(QAbstractListModel):
    """The colours as the toolkit's list model; a name that is typed over one is reported."""

    renamed = Signal(int, str)

    def __init__(self) -> None:
        super().__init__()
        self._items: tuple[Swatch, ...] = ()

    def show_items(self, items: tuple[Swatch, ...]) -> None:
        """Other colours, or the same with other names."""
        if len(items) != len(self._items):
            self.beginResetModel()
            self._items = items
            self.endResetModel()
            return
        changed = [n for n, old in enumerate(self._items) if old != items[n]]
        self._items = items
        for row in changed:
            self.dataChanged.emit(self.index(row), self.index(row))

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008, N802 - Qt's own
        """How many colours."""
        return 0 if parent.isValid() else len(self._items)

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Names can be typed over."""
        flags = super().flags(index)
        return flags | Qt.ItemFlag.ItemIsEditable if index.isValid() else flags

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Name, words and colour."""
        if not index.isValid() or index.row() >= len(self._items):
            return None
        swatch = self._items[index.row()]
        digits = rgb_to_hex(swatch.named.colour)
        if role == Qt.ItemDataRole.DisplayRole:
            return swatch.named.said
        if role == Qt.ItemDataRole.EditRole:
            return swatch.named.name
        if role == Qt.ItemDataRole.ToolTipRole:
            return (f"{swatch.named.said}, {digits}, {swatch.ink}\n"
                    f"{tr('Double click on the colour to change it, on its words to name it;')} "
                    f"{tr('drag to put it elsewhere')}")
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{index.row() + 1}. {swatch.named.said}, {digits}, {swatch.ink}"
        return swatch if role == _SWATCH_ROLE else None

    def setData(  # noqa: N802 - Qt's name
        self, index: Index, value: object, role: int = Qt.ItemDataRole.EditRole,
    ) -> bool:
        """Report the name that was typed."""
        if role != Qt.ItemDataRole.EditRole or not isinstance(value, str):
            return False
        if value != self._items[index.row()].named.name:
            self.renamed.emit(index.row(), value)
        return True


class _SwatchDelegate(QStyledItemDelegate):
    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.theme = theme

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:  # noqa: ARG002, N802
        return QSize(160, 2 * QFontMetrics(option.font).height() + 10)

    def updateEditorGeometry(  # noqa: N802 - Qt's name
        self, editor: QWidget, option: QStyleOptionViewItem, index: Index,  # noqa: ARG002
    ) -> None:
        words = _words_of(option.rect)
        high = QFontMetrics(option.font).height() + 8
        editor.setGeometry(QStyle.visualRect(
            option.direction, option.rect,
            QRect(words.left() - 7, words.top() - 4, words.width() + 4, high)))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        swatch: Swatch = index.data(_SWATCH_ROLE)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_ground(painter, option)
        box = option.rect
        self._paint_colour(painter, option, swatch)
        metrics = QFontMetrics(option.font)
        if index.row() < _KEYED:
            self._write(painter, option, QRect(box.left() + 8, box.top(), 12, box.height()),
                        f"{index.row() + 1}", self.theme.quiet)
        line = _words_of(box)
        line.setHeight(metrics.height())
        self._write(painter, option, line, swatch.named.said, self.theme.ink)
        digits = rgb_to_hex(swatch.named.colour)
        brief = swatch.over or not swatch.named.name  # the warning is never cut short
        told = swatch.ink if brief else f"{digits}, {swatch.ink}"
        self._write(painter, option, line.translated(0, metrics.height()), told,
                    self.theme.accent if swatch.over else self.theme.quiet)
        painter.restore()

    def _paint_ground(self, painter: QPainter, option: QStyleOptionViewItem) -> None:
        state, box = option.state, option.rect
        if state & QStyle.StateFlag.State_Selected:
            painter.fillRect(box, QColor(self.theme.field))
            bar = QRect(box.left(), box.top(), 3, box.height())
            painter.fillRect(QStyle.visualRect(option.direction, box, bar),
                             QColor(self.theme.accent))
        if state & QStyle.StateFlag.State_HasFocus:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(self.theme.accent), 2))
            painter.drawRect(QRectF(box).adjusted(1, 1, -1, -1))

    def _paint_colour(
        self, painter: QPainter, option: QStyleOptionViewItem, swatch: Swatch,
    ) -> None:
        """The colour; what lays too much ink has a hatched strip along it."""
        box = option.rect
        patch = QStyle.visualRect(option.direction, box, _patch_of(box))
        painter.fillRect(patch, QColor(*swatch.named.colour))
        if swatch.over:
            strip = QRect(patch.left(), patch.bottom() - 9, patch.width(), 10)
            brush = painter.brush()
            brush.setColor(QColor(self.theme.accent))
            brush.setStyle(Qt.BrushStyle.BDiagPattern)
            painter.fillRect(strip, QColor(self.theme.card))
            painter.fillRect(strip, brush)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(self.theme.edge), 1))
        painter.drawRect(QRectF(patch).adjusted(0.5, 0.5, -0.5, -0.5))

    def _write(
        self, painter: QPainter, option: QStyleOptionViewItem, where: QRect, text: str,
        colour: str,
    ) -> None:
        painter.setPen(QColor(colour))
        metrics = QFontMetrics(option.font)
        said = metrics.elidedText(text, Qt.TextElideMode.ElideRight, where.width())
        painter.drawText(
            QStyle.visualRect(option.direction, option.rect, where),
            Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeading, said)


def _patch_of(box: QRect) -> QRect:
    """Where the colour itself lies in a row."""
    return QRect(box.left() + 24, box.top() + 6, 44, box.height() - 12)


def _words_of(box: QRect) -> QRect:
    """Where a colour's words stand, as in a row that is read from the left."""
    return QRect(box.left() + 78, box.top() + 5, box.width() - 84, box.height() - 10)


class Swatches(QListView):
    """Reports which colour is chosen, named, put elsewhere, thrown out, or to be changed."""

    chose = Signal(int)
    renamed = Signal(int, str)
    moved = Signal(int, int)
    thrown_out = Signal(int)
    change_asked = Signal()

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self.colours = SwatchModel()
        self.colours.renamed.connect(self.renamed)
        self.setModel(self.colours)
        self._delegate = _SwatchDelegate(theme, self)
        self.setItemDelegate(self._delegate)
        self.setObjectName("bare")
        self.setAccessibleName(tr("Colours of the job"))
        self.setToolTip(tr("The colour that is chosen here is laid on areas and ink."))
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.DoubleClicked)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.selectionModel().currentChanged.connect(self._report)
        self._showing = False
        self._grip: QPoint | None = None
        self._goal: int | None = None

    def set_theme(self, theme: Theme) -> None:
        """Other colours of the window."""
        self._delegate.theme = theme
        self.viewport().update()

    def show_swatches(self, swatches: tuple[Swatch, ...], chosen: int) -> None:
        """The colours and which of them is chosen; that is no report."""
        self._showing = True
        self.colours.show_items(swatches)
        self._take_room(len(swatches))
        index = self.colours.index(chosen)
        if index.isValid() and index != self.currentIndex():
            self.setCurrentIndex(index)
        self._showing = False

    def _take_room(self, rows: int) -> None:
        """No more than the colours need, and no less than a few of them."""
        high = self.sizeHintForRow(0) if rows else 0
        self.setMaximumHeight(rows * high)
        self.setMinimumHeight(min(rows, _LEAST) * high)

    def _report(self, current: QModelIndex) -> None:
        if current.isValid() and not self._showing:
            self.chose.emit(current.row())

    # --- by pointer

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Choose a colour, and take hold of it."""
        super().mousePressEvent(event)
        at = event.position().toPoint()
        self._grip = at if self.indexAt(at).isValid() else None

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Carry it."""
        at = event.position().toPoint()
        if self._grip is None or abs(at.y() - self._grip.y()) < _DRAGGED:
            return
        self._goal = self._gap_at(at.y())
        self.viewport().update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Put it down."""
        super().mouseReleaseEvent(event)
        grip, goal, self._grip, self._goal = self._grip, self._goal, None, None
        self.viewport().update()
        if grip is None or goal is None:
            return
        row = self.indexAt(grip).row()
        to = goal - 1 if goal > row else goal
        if row >= 0 and to != row:
            self.moved.emit(row, to)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """On the colour itself: ask for another; elsewhere its name is typed over."""
        at = event.position().toPoint()
        box = self.visualRect(self.indexAt(at))
        if QStyle.visualRect(self.layoutDirection(), box, _patch_of(box)).contains(at):
            self._grip = None
            self.change_asked.emit()
        else:
            super().mouseDoubleClickEvent(event)

    def _gap_at(self, y: int) -> int:
        """Before which row it would come to lie."""
        rows = range(self.colours.rowCount())
        return sum(self.visualRect(self.colours.index(row)).center().y() < y for row in rows)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """The list, and where a colour that is carried would come to lie."""
        super().paintEvent(event)
        if self._goal is None:
            return
        painter = QPainter(self.viewport())
        last = self.colours.rowCount() - 1
        near = self.visualRect(self.colours.index(min(self._goal, last)))
        y = near.top() if self._goal <= last else near.bottom()
        painter.fillRect(QRect(near.left() + 4, y - 1, near.width() - 8, 3),
                         QColor(self._delegate.theme.accent))
        painter.end()

    # --- by key

    def event(self, event: QEvent) -> bool:
        """Keys that the list knows are its own, whatever the menus do with them elsewhere."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and (
            self._act_of(event) is not None
        ):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Choose by figure, rename, reorder, throw out."""
        act, row = self._act_of(event), self.currentIndex().row()
        if act is None:
            super().keyPressEvent(event)
        elif act >= 0:
            if act < self.colours.rowCount():
                self.setCurrentIndex(self.colours.index(act))
        elif row >= 0:
            self._do(Qt.Key(event.key()), row)

    def _act_of(self, event: QKeyEvent) -> int | None:
        """The row that a figure means, -1 for another key of the list, None for no key of it."""
        key, held = event.key(), event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        if not held and Qt.Key.Key_1 <= key <= Qt.Key.Key_9:
            return key - Qt.Key.Key_1
        plain = not held and key in (Qt.Key.Key_Delete, Qt.Key.Key_Return, Qt.Key.Key_Enter)
        alt = held == Qt.KeyboardModifier.AltModifier and key in (Qt.Key.Key_Up, Qt.Key.Key_Down)
        return -1 if plain or alt else None

    def _do(self, key: Qt.Key, row: int) -> None:
        if key == Qt.Key.Key_Delete:
            self.thrown_out.emit(row)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.state() != QAbstractItemView.State.EditingState:  # else it ends the name
                self.edit(self.currentIndex())
        else:
            to = row + (1 if key == Qt.Key.Key_Down else -1)
            if 0 <= to < self.colours.rowCount():
                self.moved.emit(row, to)
