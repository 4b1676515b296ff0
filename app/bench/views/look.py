"""How the window looks: palette, style sheet, fonts, icons, and the words' translation."""

import numpy as np
import numpy.typing as npt
from PySide6.QtCore import QByteArray, QCoreApplication, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontDatabase, QIcon, QImage, QPainter, QPalette, QPixmap
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QLabel, QWidget

from app.bench.state.picture import Bytes
from app.bench.state.theme import Theme
from app.shipped import shipped

_STROKE = "#211d19"  # the colour in which the icons are drawn; each theme puts its own in its place
_FRAME = QSize(0, 40)  # a title bar and the edges


def tr(text: str) -> str:
    """The text in the person's language."""
    return QCoreApplication.translate("bench", text)


def plain_font() -> QFont:
    """The system's own family, its figures all of one width."""
    font = QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont)
    font.setFeature(QFont.Tag("tnum"), 1)
    return font


def palette(theme: Theme) -> QPalette:
    """The theme as the toolkit's own controls take it."""
    role = QPalette.ColorRole
    made = QPalette()
    for which, colour in (
        (role.Window, theme.desk), (role.WindowText, theme.ink), (role.Base, theme.field),
        (role.AlternateBase, theme.card), (role.Text, theme.ink), (role.Button, theme.card),
        (role.ButtonText, theme.ink), (role.Highlight, theme.accent),
        (role.HighlightedText, theme.on_accent), (role.PlaceholderText, theme.quiet),
        (role.ToolTipBase, theme.field), (role.ToolTipText, theme.ink), (role.Link, theme.accent),
        (role.Mid, theme.rule), (role.Dark, theme.edge), (role.Light, theme.field),
        (role.Accent, theme.accent), (role.BrightText, theme.accent),
    ):
        made.setColor(which, QColor(colour))
    for which in (role.WindowText, role.Text, role.ButtonText):
        made.setColor(QPalette.ColorGroup.Disabled, which, QColor(theme.edge))
    return made


def on_screen(window: QWidget, wanted: QSize) -> QSize:
    """As much of a size as the window's screen has room for, the system's frame included."""
    return wanted.boundedTo(window.screen().availableSize() - _FRAME)


class Icons:
    """The program's own icons in one theme's ink."""

    def __init__(self, theme: Theme) -> None:
        self._theme = theme
        self._made: dict[str, QIcon] = {}

    def __getitem__(self, name: str) -> QIcon:
        if name not in self._made:
            self._made[name] = self._make(name)
        return self._made[name]

    def _make(self, name: str) -> QIcon:
        text = (shipped("icons") / f"{name}.svg").read_text("utf-8")
        icon = QIcon()
        for mode, colour in (
            (QIcon.Mode.Normal, self._theme.ink), (QIcon.Mode.Disabled, self._theme.edge),
        ):
            renderer = QSvgRenderer(QByteArray(text.replace(_STROKE, colour).encode()))
            for size in (20, 40):
                icon.addPixmap(_drawn(renderer, QSize(size, size)), mode)
        return icon


def _drawn(renderer: QSvgRenderer, size: QSize) -> QPixmap:
    pixmap = QPixmap(size)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    renderer.render(painter, QRectF(0, 0, size.width(), size.height()))
    painter.end()
    return pixmap


def image_of(seen: Bytes) -> QImage:
    """Grey (H, W) or colours (H, W, 3) as the toolkit's image, with pixels of its own."""
    height, width = seen.shape[:2]
    form = QImage.Format.Format_Grayscale8 if seen.ndim == 2 else QImage.Format.Format_RGB888
    return QImage(np.ascontiguousarray(seen).data, width, height, seen[0].size, form).copy()


def image_with_alpha(pixels: npt.NDArray[np.uint32], ratio: float = 1.0) -> QImage:
    """0xAARRGGBB (H, W), the colour times its alpha, as the toolkit's image; it is a copy."""
    height, width = pixels.shape
    image = QImage(np.ascontiguousarray(pixels).data, width, height, 4 * width,
                   QImage.Format.Format_ARGB32_Premultiplied).copy()
    image.setDevicePixelRatio(ratio)
    return image


def as_it_is(label: QLabel) -> QLabel:
    """Words over as many lines as they need, and no markup: a file's name may look like some."""
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    return label


def strong(text: str) -> QLabel:
    """A heading in a panel."""
    label = QLabel(text)
    label.setObjectName("strong")
    return label


def quiet(text: str) -> QLabel:
    """Words that step back, over as many lines as they need."""
    label = QLabel(text)
    label.setObjectName("quiet")
    label.setWordWrap(True)
    return label


def one_line(text: str) -> QLabel:
    """A few words that step back."""
    label = QLabel(text)
    label.setObjectName("quiet")
    return label
