"""Keys that show something for as long as they are held."""

from collections.abc import Callable, Mapping

from PySide6.QtCore import QEvent, QObject, Qt, QTimer
from PySide6.QtGui import QKeyEvent

_MOMENT = 50  # ms


class HeldKeys(QObject):
    """Tells what a key shows when it is pressed, and when it is let go; one key at a time.

    Some systems report a held key as a quick series of presses and releases: a release counts
    once no press has followed it for a moment.
    """

    def __init__(self, keys: Mapping[Qt.Key, Callable[[bool], object]], parent: QObject) -> None:
        super().__init__(parent)
        self._keys = keys
        self._held: Qt.Key | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_MOMENT)
        self._timer.timeout.connect(self.let_go)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """Take the keys from lists, which would look for a row that begins with the letter."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            return self.press(event)
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyRelease:
            return self.release(event)
        return super().eventFilter(watched, event)

    def press(self, event: QKeyEvent) -> bool:
        """A key was pressed; False where it is none of these."""
        key = Qt.Key(event.key())
        if event.modifiers() or key not in self._keys:
            return False
        self._timer.stop()
        if key != self._held:
            self.let_go()
            self._held = key
            self._keys[key](True)
        return True

    def release(self, event: QKeyEvent) -> bool:
        """A key was let go; False where it is none of these."""
        key = Qt.Key(event.key())
        if key not in self._keys:
            return False
        if key == self._held and not event.isAutoRepeat():
            self._timer.start()
        return True

    def let_go(self) -> None:
        """No key is held any more, as when the window is left."""
        held, self._held = self._held, None
        if held is not None:
            self._keys[held](False)
