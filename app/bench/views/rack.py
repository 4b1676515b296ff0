"""The rack: the job's pages as small pictures, in order."""

from dataclasses import dataclass

from PySide6.QtCore import (
    QAbstractListModel,
    QItemSelection,
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    QRect,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor, QFontMetrics, QImage, QPainter, QPen
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from app.bench.state.loading import THUMB
from app.bench.state.picture import Bytes
from app.bench.state.saying import asks_for_size
from app.bench.state.theme import Theme
from app.bench.views.look import tr

Index = QModelIndex | QPersistentModelIndex

_THUMB_ROLE = Qt.ItemDataRole.UserRole
_STATE_ROLE = Qt.ItemDataRole.UserRole + 1


@dataclass(frozen=True, eq=False)
class RackItem:
    """One page on the rack: its name, how far it is, and its small picture or its fault."""

    name: str
    kept: bool = False
    fault: str = ""
    thumb: Bytes | None = None

    @property
    def status(self) -> str:
        """How far the page is, in words."""
        if self.fault:
            return tr("size not known") if asks_for_size(self.fault) else tr("cannot be read")
        return tr("list kept") if self.kept else tr("not yet set")


class RackModel(QAbstractListModel):
    """The pages as the toolkit's list model; it is handed new items and says what changed."""

    def __init__(self) -> None:
        super().__init__()
        self._items: list[RackItem] = []
        self._images: dict[int, QImage] = {}

    def show_items(self, items: tuple[RackItem, ...]) -> None:
        """Other pages, or the same with other pictures and states."""
        there = len(self._items)
        if len(items) < there:
            self.beginResetModel()
            self._items, self._images = list(items), {}
            self.endResetModel()
            return
        for row, item in enumerate(items[:there]):
            self.show_item(row, item)
        if len(items) > there:
            self.beginInsertRows(QModelIndex(), there, len(items) - 1)
            self._items += items[there:]
            self.endInsertRows()

    def show_item(self, row: int, item: RackItem) -> None:
        """The same page with another picture or state."""
        if _differs(self._items[row], item):
            self._items[row] = item
            self._images.pop(row, None)
            self.dataChanged.emit(self.index(row), self.index(row))

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008, N802 - Qt's own
        """How many pages."""
        return 0 if parent.isValid() else len(self._items)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Name, tooltip, picture and state of a page."""
        if not index.isValid() or index.row() >= len(self._items):
            return None
        item = self._items[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return item.name
        if role == Qt.ItemDataRole.ToolTipRole:
            return item.fault or f"{item.name}: {item.status}"
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{item.name}, {item.fault or item.status}"
        if role == _THUMB_ROLE:
            return self._image(index.row())
        return item if role == _STATE_ROLE else None

    def _image(self, row: int) -> QImage | None:
        thumb = self._items[row].thumb
        if thumb is None:
            return None
        if row not in self._images:
            height, width = thumb.shape[:2]
            self._images[row] = QImage(
                thumb.tobytes(), width, height, 3 * width, QImage.Format.Format_RGB888,
            ).copy()
        return self._images[row]


def _differs(old: RackItem, new: RackItem) -> bool:
    return (old.name, old.kept, old.fault) != (new.name, new.kept, new.fault) or (
        old.thumb is not new.thumb
    )


class _RackDelegate(QStyledItemDelegate):
    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.theme = theme

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:  # noqa: ARG002, N802
        lines = QFontMetrics(option.font).height()
        return QSize(THUMB + 24, THUMB + 2 * lines + 20)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        item: RackItem = index.data(_STATE_ROLE)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = option.rect.adjusted(4, 2, -4, -2)
        self._paint_ground(painter, option, box)
        picture = QRect(box.left() + 8, box.top() + 8, box.width() - 16, THUMB)
        image = index.data(_THUMB_ROLE)
        if image is None:
            self._paint_blank(painter, picture, faulty=bool(item.fault))
        else:
            self._paint_image(painter, picture, image)
        self._paint_words(painter, option, box, item)
        painter.restore()

    def _paint_ground(
        self, painter: QPainter, option: QStyleOptionViewItem, box: QRect,
    ) -> None:
        state = option.state
        if state & QStyle.StateFlag.State_Selected:
            painter.setBrush(QColor(self.theme.card))
            painter.setPen(QPen(QColor(self.theme.edge), 1))
            painter.drawRoundedRect(QRectF(box).adjusted(0.5, 0.5, -0.5, -0.5), 4, 4)
        if state & QStyle.StateFlag.State_HasFocus:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(self.theme.accent), 2))
            painter.drawRoundedRect(QRectF(box).adjusted(1, 1, -1, -1), 4, 4)

    def _paint_image(self, painter: QPainter, room: QRect, image: QImage) -> None:
        size = image.size().scaled(room.size(), Qt.AspectRatioMode.KeepAspectRatio)
        place = QRect(
            room.center().x() - size.width() // 2, room.bottom() - size.height() + 1,
            size.width(), size.height(),
        )
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawImage(place, image)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(self.theme.edge), 1))
        painter.drawRect(QRectF(place).adjusted(-0.5, -0.5, 0.5, 0.5))

    def _paint_blank(self, painter: QPainter, room: QRect, *, faulty: bool) -> None:
        sheet = QRectF(room.center().x() - 36, room.bottom() - 103, 72, 102)
        painter.fillRect(sheet, QColor(self.theme.field))
        if faulty:
            brush = painter.brush()
            brush.setColor(QColor(self.theme.accent))
            brush.setStyle(Qt.BrushStyle.BDiagPattern)
            painter.fillRect(sheet, brush)
        painter.setPen(QPen(QColor(self.theme.edge), 1, Qt.PenStyle.DashLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(sheet)

    def _paint_words(
        self, painter: QPainter, option: QStyleOptionViewItem, box: QRect, item: RackItem,
    ) -> None:
        metrics = QFontMetrics(option.font)
        line = QRect(box.left() + 6, box.top() + THUMB + 12, box.width() - 12, metrics.height())
        painter.setFont(option.font)
        name = metrics.elidedText(item.name, Qt.TextElideMode.ElideMiddle, line.width())
        painter.setPen(QColor(self.theme.ink))
        painter.drawText(line, Qt.AlignmentFlag.AlignCenter, name)
        painter.setPen(QColor(self.theme.accent if item.fault else self.theme.quiet))
        painter.drawText(
            line.translated(0, metrics.height()), Qt.AlignmentFlag.AlignCenter,
            metrics.elidedText(item.status, Qt.TextElideMode.ElideRight, line.width()),
        )


class Rack(QListView):
    """Reports which page is gone to and which are chosen."""

    went_to = Signal(int)
    chose = Signal(frozenset)

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self.pages = RackModel()
        self.setModel(self.pages)
        self._delegate = _RackDelegate(theme, self)
        self.setItemDelegate(self._delegate)
        self.setObjectName("bare")
        self.setAccessibleName(tr("Rack"))
        self.setUniformItemSizes(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setMinimumWidth(THUMB + 40)
        self.setMaximumWidth(THUMB + 96)
        self.selectionModel().currentChanged.connect(self._report_current)
        self.selectionModel().selectionChanged.connect(self._report_chosen)

    def set_theme(self, theme: Theme) -> None:
        """Other colours."""
        self._delegate.theme = theme
        self.viewport().update()

    def show_current(self, row: int | None) -> None:
        """Which page stands on the bench."""
        if row is not None and row != self.currentIndex().row():
            # which are chosen is not touched: else a Ctrl held for a command added to them
            self.selectionModel().setCurrentIndex(
                self.pages.index(row), QItemSelectionModel.SelectionFlag.NoUpdate)

    def show_chosen(self, rows: frozenset[int]) -> None:
        """Which pages are chosen."""
        if rows == self._chosen():
            return
        selection = QItemSelection()
        for row in rows:
            selection.select(self.pages.index(row), self.pages.index(row))
        self.selectionModel().select(
            selection, QItemSelectionModel.SelectionFlag.ClearAndSelect,
        )

    def _chosen(self) -> frozenset[int]:
        return frozenset(index.row() for index in self.selectionModel().selectedIndexes())

    def _report_current(self, current: QModelIndex, _: QModelIndex) -> None:
        if current.isValid():
            self.went_to.emit(current.row())

    def _report_chosen(self) -> None:
        self.chose.emit(self._chosen())
