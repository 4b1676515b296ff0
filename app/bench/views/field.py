"""A line to type in, which agrees with the menus about keys."""

from PySide6.QtCore import QEvent
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QLineEdit

from app.bench.state.commands import COMMANDS

_COMMANDS = frozenset(
    QKeySequence(key).toString() for command in COMMANDS for key in command.keys
    if key.startswith("Ctrl") and command.name not in ("undo", "redo"))


class Field(QLineEdit):
    """Leaves the keys of commands to the menus, but for those that edit text everywhere.

    By itself the toolkit's line takes Ctrl+E on some systems, to go to its end; and Ctrl+Delete,
    by which a word goes, it leaves to whatever command has it.
    """

    def event(self, event: QEvent) -> bool:
        """Say which keys are its own."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            if event.matches(QKeySequence.StandardKey.DeleteEndOfWord):
                event.accept()
                return True
            if QKeySequence(event.keyCombination()).toString() in _COMMANDS:
                event.ignore()
                return True
        return super().event(event)
