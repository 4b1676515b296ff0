"""The drawer from the menus: lists kept under their names, taken out again, carried as a zip."""

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from PySide6.QtWidgets import QFileDialog, QInputDialog

from app.bench.background import said
from app.bench.listing import Listing
from app.bench.seat import Seat
from app.bench.state.drawer import look_in, pack, put_in, take_out, unpack
from app.bench.views.look import tr
from app.bench.views.window import Window
from app.kinds import KINDS
from core.fault import Refused
from core.steps.steplist import StepList

_ZIP = "Zip (*.zip)"


class WithLists(Seat, Protocol):
    """A bench that also has the hand that changes lists."""

    lists: Listing


class DrawerHand:
    """Puts the list in hand into the drawer, and takes lists out."""

    def __init__(self, bench: WithLists) -> None:
        self._bench = bench
        self._lists: tuple[StepList, ...] = ()

    def connect(self, window: Window) -> None:
        """Listen to the drawer's menu, and fill it."""
        window.drawer_chosen.connect(self._take_by_number)
        self.show_drawer()

    def show_drawer(self) -> None:
        """Show what lies in the drawer now."""
        drawn = look_in(self._bench.places.drawer, KINDS)
        self._lists = tuple(steps for _, steps in drawn.lists)
        self._bench.window.show_drawer(tuple(
            (steps.name or name, "\n".join(steps.sentences())) for name, steps in drawn.lists))

    def _take_by_number(self, number: int) -> None:
        if self._bench.desk.page is not None:
            self._bench.lists.take(self._lists[number])

    def commands(self) -> dict[str, Callable[[], object]]:
        """The drawer's commands."""
        return {
            "into drawer": lambda: self._trying(self._put),
            "from drawer": lambda: self._trying(self._take),
            "out of drawer": lambda: self._trying(self._drop),
            "pack drawer": lambda: self._trying(self._pack),
            "unpack drawer": lambda: self._trying(self._unpack),
        }

    def _trying(self, act: Callable[[], None]) -> None:
        try:
            act()
        except Refused as refused:
            self._bench.window.notice.show_said(said(refused))

    def _put(self) -> None:
        steps = self._bench.lists.in_hand()
        put_in(self._bench.places.drawer, steps)
        self._bench.lists.keep()
        self.show_drawer()
        self._bench.window.notice.show_said(
            f"{tr('The list lies in the drawer as')} “{steps.name}”.")

    def _take(self) -> None:
        chosen = self._ask(tr("Take a list from the drawer"))
        if chosen is not None:
            self._bench.lists.take(chosen[1])

    def _drop(self) -> None:
        chosen = self._ask(tr("Throw a list out of the drawer"))
        if chosen is not None:
            take_out(self._bench.places.drawer, chosen[0])
            self.show_drawer()

    def _ask(self, title: str) -> tuple[str, StepList] | None:
        """The file name and list that the person chooses."""
        drawn = look_in(self._bench.places.drawer, KINDS)
        if not drawn.lists:
            self._bench.window.notice.show_said(tr(
                "The drawer is empty: keep a list in it first."))
            return None
        names = [f"{number}. {steps.name or name}"
                 for number, (name, steps) in enumerate(drawn.lists, start=1)]
        chosen, agreed = QInputDialog.getItem(
            self._bench.window, title, tr("Which list:"), names, 0, editable=False)
        return drawn.lists[names.index(chosen)] if agreed else None

    def _pack(self) -> None:
        name, _ = QFileDialog.getSaveFileName(
            self._bench.window, tr("Write the drawer to a zip"), "drawer.zip", tr(_ZIP))
        if name:
            pack(Path(name), look_in(self._bench.places.drawer, KINDS))

    def _unpack(self) -> None:
        name, _ = QFileDialog.getOpenFileName(
            self._bench.window, tr("Read a zip into the drawer"), "", tr(_ZIP))
        if name:
            lists = unpack(Path(name), KINDS)
            for steps in lists:
                put_in(self._bench.places.drawer, steps)
            self.show_drawer()
            self._bench.window.notice.show_said(
                f"{len(lists)} {tr('lists were put into the drawer.')}")
