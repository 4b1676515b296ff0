"""The page as the press would make it, over the after side."""

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QImage, QPainter

from app.bench.state.picture import Bytes
from app.bench.state.scale import View
from app.bench.views.look import image_of, tr
from app.bench.views.plates import plate
from app.bench.views.tools import Lay


class Printed:
    """Painted only where it was made for the page as it now lies; else its words say so.

    ``words`` is an overlay of its own, to be painted above all others.
    """

    def __init__(self) -> None:
        self.on = False
        self._view: View | None = None
        self._place = (0, 0)
        self._image: QImage | None = None
        self.words = PrintedWords(self)

    @property
    def made(self) -> View | None:
        """The view that it was made for."""
        return self._view

    def show_printed(self, view: View, place: tuple[int, int], seen: Bytes) -> None:
        """Grey (H, W) or colours (H, W, 3), their left upper corner from that of the page."""
        self._image = image_of(seen)
        self._view, self._place = view, place

    def drop(self) -> None:
        """What was made is no longer so."""
        self._view = self._image = None

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """The pixels."""
        if not self.on or self._image is None or self._view != lay.view:
            return
        painter.setClipRect(lay.after)
        self._image.setDevicePixelRatio(lay.ratio)
        left, top = self._place
        painter.drawImage(QPointF((lay.view.left + left) / lay.ratio,
                                  (lay.view.top + top) / lay.ratio), self._image)


class PrintedWords:
    """What is to be said of a page that is shown as printed."""

    def __init__(self, printed: Printed) -> None:
        self._printed = printed
        self._words: tuple[str, ...] = ()

    def show_words(self, *words: str) -> None:
        """Say this."""
        self._words = words

    def paint(self, painter: QPainter, lay: Lay) -> None:
        """The words, one below the other."""
        if not self._printed.on or lay.after.isEmpty():
            return
        made = self._printed.made == lay.view
        words = self._words if made else (tr("as printed: being made"),)
        within = QRectF(lay.after).adjusted(8, 8, -8, -8)
        for number, text in enumerate(words):
            spot = QPointF(within.left() + 2, within.top() + 28 * (number + 1))
            plate(painter, lay.theme, spot, text, within=within)
