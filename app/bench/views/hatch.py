"""The hatch over the page: what would print, what would be lost, ink that is not solid."""

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QImage, QPainter

from app.bench.state.hatch import Marks
from app.bench.state.scale import Box, Scale
from app.bench.views.look import image_with_alpha
from app.bench.views.tools import Lay
from app.proof.regions import Region
from core.units import mm_to_px

_AROUND = 192  # screen pixels drawn beyond what is seen, so that a small push needs no new ones
_NEAR = 6.0  # pixels of the widget between a chosen region and its frame


class Hatch:
    """Painted over the after side while it ``is_on``; what was painted last is kept."""

    def __init__(self, is_on: Callable[[], bool]) -> None:
        self._is_on = is_on
        self._marks: Marks | None = None
        self._page = (0, 0)
        self._ppi = 0.0
        self._chosen: Region | None = None
        self._made: tuple[Marks, Scale, Box, float, QImage] | None = None

    def show_marks(self, marks: Marks | None, page: tuple[int, int], ppi: float) -> None:
        """Hatch these; ``page`` is the width and height in pixels of the page they lie on."""
        self._marks, self._page, self._ppi = marks, page, ppi

    def show_chosen(self, region: Region | None) -> None:
        """Frame this region."""
        self._chosen = region

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """Paint the hatches and the frame."""
        if not self._is_on() or self._marks is None or lay.view.page != self._page:
            return
        painter.setClipRect(lay.after)
        box, image = self._image(self._marks, lay)
        ratio = lay.ratio
        painter.drawImage(
            QPointF((lay.view.left + box.left) / ratio, (lay.view.top + box.top) / ratio), image)
        if self._chosen is not None:
            self._frame(painter, lay, self._chosen)

    def _image(self, marks: Marks, lay: Lay) -> tuple[Box, QImage]:
        view, made = lay.view, self._made
        seen = view.seen
        if made is not None and made[0] is marks and made[1] == view.scale and (
            made[3] == lay.ratio and _holds(made[2], seen)
        ):
            return made[2], made[4]
        wide = Box(seen.left - _AROUND, seen.top - _AROUND, seen.right + _AROUND,
                   seen.bottom + _AROUND).clipped(*view.size)
        drawn = marks.draw(view.scale.value, wide, max(round(lay.ratio), 1))
        image = image_with_alpha(drawn, lay.ratio)
        self._made = marks, view.scale, wide, lay.ratio, image
        return wide, image

    def _frame(self, painter: QPainter, lay: Lay, region: Region) -> None:
        left, top, width, height = (mm_to_px(side, self._ppi) for side in region.box)
        frame = QRectF(lay.at((left, top)), lay.at((left + width, top + height)))
        frame = frame.adjusted(-_NEAR, -_NEAR, _NEAR, _NEAR)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for pen in lay.pens():
            painter.setPen(pen)
            painter.drawRoundedRect(frame, 3, 3)


def _holds(wide: Box, seen: Box) -> bool:
    return (wide.left <= seen.left and wide.top <= seen.top
            and wide.right >= seen.right and wide.bottom >= seen.bottom)
