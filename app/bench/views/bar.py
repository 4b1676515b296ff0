"""The bar above the page: what the page is, how it is looked at, and what lies beneath the ink."""

from typing import cast

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QHBoxLayout,
    QLabel,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.bench.state.commands import BY_NAME
from app.bench.state.grounds import GROUNDS
from app.bench.state.picture import Ground
from app.bench.state.scale import Box
from app.bench.state.theme import Theme
from app.bench.views.look import Icons, tr

_TURNS = ("turn left", "turn right")
_LOOKS = ("split", "flip", "|", "out", "in", "fit", "one")
_NAMED = 200  # pixels that the page's name and facts have at least, before others give way
_LEAST = 376  # as wide must it be: all that does not give way, and some of the name


class GroundButton(QAbstractButton):
    """A small patch of a ground."""

    def __init__(self, ground: Ground, theme: Theme) -> None:
        super().__init__()
        self.ground, self._theme = ground, theme
        self.setCheckable(True)
        self.setFixedSize(28, 28)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(f"{tr('Ground')}: {tr(ground.name)}")
        self.setToolTip(f"{tr('Lay the line on')}: {tr(ground.name)}")

    def set_theme(self, theme: Theme) -> None:
        """Other colours."""
        self._theme = theme
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002, N802 - Qt's name
        """The patch, ringed where it is chosen."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        patch = QRectF(6, 6, 16, 16)
        painter.fillRect(patch, QColor(*self.ground.colours[0]))
        if len(self.ground.colours) > 1:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(*self.ground.colours[1]))
            dots = self.ground.dots(Box(0, 0, 16, 16))
            for y, x in zip(*dots.nonzero(), strict=True):
                painter.drawRect(QRectF(6 + int(x), 6 + int(y), 1, 1))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(self._theme.edge), 1))
        painter.drawRect(patch)
        if self.isChecked():
            painter.setPen(QPen(QColor(self._theme.ink), 2))
            painter.drawRoundedRect(QRectF(2, 2, 24, 24), 4, 4)
        if self.hasFocus():
            painter.setPen(QPen(QColor(self._theme.accent), 2))
            painter.drawRoundedRect(QRectF(1, 1, 26, 26), 5, 5)
        painter.end()


class Elided(QLabel):
    """One line that gives way: what does not fit is left out, and stands in the tooltip."""

    def __init__(self, at_least: int) -> None:
        super().__init__()
        self._whole = ""
        self._at_least = at_least
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)

    def say(self, text: str) -> None:
        """Show as much of the text as there is room for."""
        self._whole = text
        self.setToolTip(text)
        self.updateGeometry()
        self._cut()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for all of it."""
        wide = self.fontMetrics().horizontalAdvance(self._whole) + 4
        return QSize(wide, super().sizeHint().height())

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for as much as was asked for."""
        return QSize(min(self._at_least, self.sizeHint().width()),
                     super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Cut it anew."""
        super().resizeEvent(event)
        self._cut()

    def _cut(self) -> None:
        way = Qt.TextElideMode.ElideRight
        self.setText(self.fontMetrics().elidedText(self._whole, way, self.width()))


def _group() -> QWidget:
    """Controls that stand or go together."""
    group = QWidget()
    group.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Preferred)
    row = QHBoxLayout(group)
    row.setContentsMargins(0, 0, 0, 0)
    row.setSpacing(2)
    return group


def _row(group: QWidget) -> QHBoxLayout:
    return cast(QHBoxLayout, group.layout())


class Bar(QWidget):
    """Reports commands by name, and a ground that was chosen."""

    asked = Signal(str)
    ground_chosen = Signal(object)

    def __init__(self, theme: Theme, icons: Icons) -> None:
        super().__init__()
        self.buttons: dict[str, QToolButton] = {}
        self.grounds = [GroundButton(ground, theme) for ground in GROUNDS]
        self.title = Elided(96)
        self.title.setObjectName("strong")
        self.facts = Elided(0)
        self.facts.setObjectName("quiet")
        self.scale = QLabel()
        self.scale.setMinimumWidth(self.fontMetrics().horizontalAdvance("1600 %"))
        self.scale.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.scale.setAccessibleName(tr("Zoom"))
        self.turning, self._looking, self.laying = _group(), _group(), _group()
        self.setMinimumWidth(_LEAST)
        self._lay_out()
        self.set_theme(theme, icons)

    def _lay_out(self) -> None:
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self.title)
        words.addWidget(self.facts)
        row = QHBoxLayout(self)
        row.setContentsMargins(4, 2, 4, 2)
        row.setSpacing(12)
        row.addLayout(words, 1)
        for group in (self.turning, self._looking, self.laying):
            row.addWidget(group)
        for name in _TURNS:
            _row(self.turning).addWidget(self._button(name))
        for name in _LOOKS:
            if name == "|":
                _row(self._looking).addSpacing(12)
                continue
            _row(self._looking).addWidget(self._button(name))
            if name == "out":
                _row(self._looking).addWidget(self.scale)
        for patch in self.grounds:
            patch.clicked.connect(lambda _=False, p=patch: self.ground_chosen.emit(p.ground))
            _row(self.laying).addWidget(patch)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Where there is little room the grounds, then the turns, stay in the menus alone."""
        super().resizeEvent(event)
        left = self.width() - _NAMED
        for group in (self._looking, self.turning, self.laying):
            left -= group.sizeHint().width() + 12
            group.setVisible(group is self._looking or left >= 0)

    def _button(self, name: str) -> QToolButton:
        command = BY_NAME[name]
        button = QToolButton()
        button.setIconSize(QSize(20, 20))
        button.setFixedSize(30, 30)
        button.setStyleSheet("padding: 0px;")
        keys = f" ({command.keys[-1]})" if command.keys else ""
        button.setToolTip(f"{tr(command.tip)}{keys}")
        button.setAccessibleName(tr(command.text).replace("&", ""))
        button.setCheckable(command.checked)
        button.clicked.connect(lambda: self.asked.emit(name))
        self.buttons[name] = button
        return button

    def set_theme(self, theme: Theme, icons: Icons) -> None:
        """Other colours."""
        for name, button in self.buttons.items():
            button.setIcon(icons[name.replace(" ", "-")])
        for patch in self.grounds:
            patch.set_theme(theme)

    def show_page(self, title: str, facts: str) -> None:
        """The page's name and what is known of it."""
        self.title.say(title)
        self.facts.say(facts)

    def show_looking(self, scale: str, ground: Ground, *, split: bool) -> None:
        """Zoom, ground and divider as they are."""
        self.scale.setText(scale)
        self.buttons["split"].setChecked(split)
        for patch in self.grounds:
            patch.setChecked(patch.ground == ground)

    def show_enabled(self, *, page: bool) -> None:
        """Whether there is a page to look at."""
        for button in self.buttons.values():
            button.setEnabled(page)
