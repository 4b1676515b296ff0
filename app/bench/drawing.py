"""The drawer from the menus: lists kept under their names, taken out again, carried as a zip."""

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from PySide6.QtWidgets import QFileDialog

from app.bench.background import said
from app.bench.listing import Listing
from app.bench.seat import Seat, ask_where
from app.bench.state.drawer import (
    Drawn,
    Thrown,
    give_key,
    look_in,
    of_name,
    pack,
    put_back,
    put_in_all,
    put_in_with_key,
    rename,
    take_out,
    unpack,
)
from app.bench.state.saying import BRING_UP
from app.bench.views.drawer import DrawerDialog, Kept
from app.bench.views.look import tr
from app.bench.views.window import Window
from app.kinds import KINDS
from app.pages.lists import write_list
from app.pages.whole import replace_file, telling
from core.fault import Refused
from core.steps.steplist import StepList

_ZIP = "Zip (*.zip)"
_NAMED = 3  # faults of files in the drawer that are said


class WithLists(Seat, Protocol):
    """A bench that also has the hand that changes lists."""

    lists: Listing


class DrawerHand:
    """Puts the list in hand into the drawer, takes lists out, and lays it open."""

    def __init__(self, bench: WithLists) -> None:
        self._bench = bench
        self._files: tuple[str, ...] = ()
        self.dialog: DrawerDialog | None = None
        self._thrown: Thrown | None = None

    def connect(self, window: Window) -> None:
        """Listen to the drawer's menu, and fill it."""
        window.drawer_chosen.connect(lambda number: self._take(self._files[number]))
        self.show_drawer()

    def show_drawer(self, said: str = "") -> None:
        """Show what lies in the drawer now, what of it cannot be read, and what was refused."""
        drawn = look_in(self._bench.places.drawer, KINDS)
        self._files = tuple(name for name, _ in drawn.lists)
        lists = tuple(
            Kept(name, drawn.called[name], drawn.keys.get(name, ""), "\n".join(steps.sentences()))
            for name, steps in drawn.lists)
        self._bench.window.show_drawer(tuple((kept.name, kept.tip, kept.key) for kept in lists))
        if self.dialog is not None:
            broken = [str(fault) for fault in drawn.faults[:_NAMED]]
            self.dialog.show_lists(lists, "\n".join([said, *broken] if said else broken))

    def commands(self) -> dict[str, Callable[[], object]]:
        """The drawer's commands."""
        return {
            "into drawer": lambda: self._trying(self._put),
            "drawer": self._lay_open,
            "pack drawer": lambda: self._trying(self._pack),
            "unpack drawer": lambda: self._trying(self._unpack),
        }

    def _refusal(self, act: Callable[[], None]) -> str:
        """Do something with the drawer; why it could not be done, in words."""
        try:
            with telling(self._bench.places.drawer):
                act()
        except Refused as refused:
            return said(refused)
        return ""

    def _trying(self, act: Callable[[], None]) -> None:
        why = self._refusal(act)
        if why:
            self._bench.window.notice.show_said(why)

    def _put(self) -> None:
        steps, drawer = self._bench.lists.for_others(), self._bench.places.drawer
        there = of_name(look_in(drawer, KINDS), steps.name)
        before = (drawer / there[0]).read_bytes() if there else b""
        put_in_with_key(drawer, steps, KINDS)
        self._bench.lists.keep()
        self.show_drawer()
        lies = f"{tr('The list lies in the drawer as')} “{steps.name}”."
        if there is None or there[1] == steps:
            self._bench.window.notice.show_said(lies)
            return
        self._bench.window.notice.offer(
            f"{lies} {tr('It took the place of one that was called so.')}",
            tr("Put the other back"),
            lambda: self._trying(lambda: self._restore(there[0], steps.name, before)))

    def _restore(self, file: str, name: str, text: bytes) -> None:
        """A list that another took the place of lies in the drawer again, in place of that."""
        replace_file(self._bench.places.drawer / file, text)
        self.show_drawer()
        self._bench.window.notice.show_said(f"“{name}” {tr('lies in the drawer as it was.')}")

    def _take(self, name: str) -> None:
        """The page in hand takes a list; one of an older program is offered, up to date."""
        drawn = look_in(self._bench.places.drawer, KINDS)
        steps, outdated = dict(drawn.lists).get(name), drawn.older.get(name)
        if self._bench.desk.page is None or steps is None:
            return
        if outdated is None:
            self._bench.lists.take(steps)
            return
        if self.dialog is not None:  # it would lie before what is offered
            self.dialog.accept()
        self._bench.window.notice.offer(
            said(outdated), tr(BRING_UP), lambda: self._trying(lambda: self._renew(name, steps)))

    def _renew(self, name: str, steps: StepList) -> None:
        write_list(self._bench.places.drawer / name, steps)
        self.show_drawer()
        self._bench.window.notice.hide()
        self._bench.lists.take(steps)

    # --- the drawer laid open

    def _lay_open(self) -> None:
        dialog = self.dialog = DrawerDialog(self._bench.window)
        drawer = self._bench.places.drawer
        dialog.taken.connect(self._take)
        dialog.thrown.connect(self._throw_out)
        dialog.put_back.connect(self._put_back)
        dialog.renamed.connect(
            lambda name, wanted: self._change(lambda: rename(drawer, name, wanted, KINDS)))
        dialog.keyed.connect(
            lambda name, key: self._change(lambda: give_key(drawer, name, key, KINDS)))
        dialog.finished.connect(self._shut)
        self.show_drawer()
        dialog.open()

    def _throw_out(self, name: str) -> None:
        """What was thrown out may be put back, as long as the drawer lies open."""
        self._thrown = None

        def throw() -> None:
            self._thrown = take_out(self._bench.places.drawer, name, KINDS)

        why = self._refusal(throw)
        thrown = self._thrown
        self.show_drawer(why if thrown is None else (
            f"“{thrown.steps.name or name}” {tr('was thrown out.')}"))
        if self.dialog is not None:
            self.dialog.back.setVisible(thrown is not None)

    def _put_back(self) -> None:
        thrown, drawer = self._thrown, self._bench.places.drawer
        if thrown is not None:
            self._change(lambda: put_back(drawer, thrown, KINDS))

    def _change(self, act: Callable[[], None]) -> None:
        """Do something to the drawer; why it could not be done is said in the dialog."""
        self.show_drawer(self._refusal(act))

    def _shut(self) -> None:
        self.dialog = None

    # --- the drawer as a zip

    def _pack(self) -> None:
        path = ask_where(self._bench, tr("Write the drawer to a zip"), "drawer.zip", tr(_ZIP))
        if path is not None:
            drawn = look_in(self._bench.places.drawer, KINDS)
            pack(path, drawn)
            packed = [f"{len(drawn.lists)} {tr('lists are in')} {path}."]
            self._bench.window.notice.show_said("\n".join([*packed, *_renewed(drawn)]))

    def _unpack(self) -> None:
        name, _ = QFileDialog.getOpenFileName(
            self._bench.window, tr("Read a zip into the drawer"), "", tr(_ZIP))
        if name:
            drawn = unpack(Path(name), KINDS)
            faults = put_in_all(self._bench.places.drawer, drawn, KINDS)
            self.show_drawer()
            told = [f"{len(drawn.lists)} {tr('lists were put into the drawer.')}"]
            self._bench.window.notice.show_said(
                "\n".join([*told, *_renewed(drawn), *map(str, faults)]),
                stays=bool(faults or drawn.older))


def _renewed(drawn: Drawn) -> list[str]:
    """That lists of older programs were brought up to date, if any were."""
    if not drawn.older:
        return []
    said = tr("of them were of an older program and are up to date now: look at a page before it "
              "is printed.")
    return [f"{len(drawn.older)} {said}"]
