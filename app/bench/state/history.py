"""Every state there was, with a name for each change: undo and redo to the very beginning."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

T = TypeVar("T")


@dataclass(frozen=True)
class History(Generic[T]):
    """A value now, those before it and those undone; each change has a name for people.

    >>> here = History("a").then("b", "second letter")
    >>> here.undone().now, here.undone().redone().now, here.undo_name
    ('a', 'b', 'second letter')
    """

    now: T
    past: tuple[tuple[T, str], ...] = ()
    future: tuple[tuple[T, str], ...] = ()

    def then(self, value: T, name: str) -> "History[T]":
        """One change; the same value is none."""
        if value == self.now:
            return self
        return History(value, (*self.past, (self.now, name)))

    def mapped(self, change: Callable[[T], T]) -> "History[T]":
        """What holds for every state, said in all of them: no change that could be undone.

        >>> History("a").then("b", "second letter").mapped(str.upper).undone().now
        'A'
        """
        return History(
            change(self.now), tuple((change(value), name) for value, name in self.past),
            tuple((change(value), name) for value, name in self.future),
        )

    @property
    def undo_name(self) -> str:
        """What undo would undo; empty where nothing was done."""
        return self.past[-1][1] if self.past else ""

    @property
    def redo_name(self) -> str:
        """What redo would do again; empty where nothing was undone."""
        return self.future[-1][1] if self.future else ""

    def undone(self) -> "History[T]":
        """The state before the last change."""
        if not self.past:
            return self
        value, name = self.past[-1]
        return History(value, self.past[:-1], (*self.future, (self.now, name)))

    def redone(self) -> "History[T]":
        """The last change undone, done again."""
        if not self.future:
            return self
        value, name = self.future[-1]
        return History(value, (*self.past, (self.now, name)), self.future[:-1])
