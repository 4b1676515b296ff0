"""The mark that a click would mean, shown on the page before it is clicked."""

from collections.abc import Callable

import cv2
import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from app.bench.state.marks import MarkSeen
from app.bench.state.picture import Bytes
from app.bench.state.placing import Spot
from app.bench.state.scale import View
from app.bench.views.look import image_with_alpha, tr
from app.bench.views.plates import plate
from app.bench.views.tools import Lay

_RIM = 4  # pixels of the screen about the mark


class MarkShown:
    """Asks for the mark under the pointer by ``pointed``, and paints the one that it is shown."""

    def __init__(self, pointed: Callable[[Spot, View], None]) -> None:
        self._pointed = pointed
        self._seen: MarkSeen | None = None
        self._images: tuple[QImage, ...] = ()
        self._made_in: tuple[str, ...] = ()
        self._colour = ""
        self.missed = False

    def show_mark(self, seen: MarkSeen | None, colour: str = "", *, missed: bool = False) -> None:
        """A mark in the colour that it would take; or none, and whether that is to be said."""
        self._seen, self._images, self._colour, self.missed = seen, (), colour, missed

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """The mark with a rim about it, or that there is none."""
        if lay.pointer is None:
            return
        self._pointed(lay.spot(lay.pointer), lay.view)
        if self.missed:
            plate(painter, lay.theme, lay.pointer + QPointF(14, 14), tr("no mark is here"),
                  within=QRectF(painter.viewport()))
        if self._seen is None or self._seen.view != lay.view:
            return
        colours = (self._colour or lay.theme.accent, lay.theme.accent)
        if not self._images or self._made_in != colours:
            self._images, self._made_in = _images_of(self._seen, *colours), colours
        left, top = self._seen.place
        corner = QPointF(left - _RIM + lay.view.left, top - _RIM + lay.view.top) / lay.ratio
        for image in self._images:
            image.setDevicePixelRatio(lay.ratio)
            painter.drawImage(corner, image)


def _images_of(seen: MarkSeen, colour: str, rim: str) -> tuple[QImage, QImage]:
    """The mark in a colour, and a line in another about it, drawn through its finer gaps."""
    share = np.pad(seen.share, _RIM)
    mark = np.asarray((share > 0) * 255, np.uint8)
    outline = cv2.morphologyEx(mark, cv2.MORPH_CLOSE, np.ones((_RIM + 1,) * 2, np.uint8))
    line = cv2.subtract(cv2.dilate(outline, np.ones((3, 3), np.uint8)), outline)
    return _image(share, colour), _image(np.asarray(line, np.uint8), rim)


def _image(share: Bytes, name: str) -> QImage:
    """One colour, by so much of each pixel."""
    colour, part = QColor(name), np.arange(256) / 255
    channels = [np.rint(part * value).astype(np.uint32) for value in (
        255, colour.red(), colour.green(), colour.blue())]
    table = channels[0] << 24 | channels[1] << 16 | channels[2] << 8 | channels[3]
    return image_with_alpha(np.asarray(table, np.uint32)[share])
