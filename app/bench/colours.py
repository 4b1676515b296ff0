"""The job's colours: added, named, put in order, read and written, and which one is chosen."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QColorDialog, QFileDialog

from app.bench.background import said
from app.bench.seat import Seat, ask_where
from app.bench.showing import list_shown
from app.bench.state.colouring import Limit
from app.bench.state.palette import (
    PaletteEdit,
    Swatch,
    add,
    delete,
    list_recoloured,
    move,
    recolour_name,
    recoloured,
    rename,
    swatches,
    take_in,
)
from app.bench.state.sentence import changed
from app.bench.views.look import tr
from app.bench.views.window import Window
from app.pages.palettes import read_palette, write_palette
from app.pages.small import read_small
from core.colours import Named, Palette
from core.fault import Refused
from core.sheet import Rgb

_FORMS = "Palettes (*.txt *.cxf)"
_PROFILES = "Profiles (*.icc *.icm)"
_LARGEST_PROFILE = 1 << 26


class Colours:
    """Holds which colour is chosen, and a printer's profile; the colours are in the job."""

    def __init__(self, bench: Seat) -> None:
        self._bench = bench
        self._chosen = 0
        self.asking: QColorDialog | None = None
        self._profile: tuple[str, bytes] | None = None

    def connect(self, window: Window) -> None:
        """Listen to the panel's swatches, once it is made."""
        window.side.made.connect(self._listen)

    def _listen(self, name: str) -> None:
        if name != "colour":
            return
        panel, listed = self._bench.window.colours, self._bench.window.colours.swatches
        panel.added.connect(self._add)
        panel.named.connect(self._name_palette)
        panel.limited.connect(self._limit)
        listed.chose.connect(self.choose)
        listed.renamed.connect(self._rename)
        listed.moved.connect(self._move)
        listed.thrown_out.connect(self._throw_out)

    def commands(self) -> dict[str, Callable[[], object]]:
        """The commands of the palette."""
        return {
            "add colour": lambda: self._bench.window.colours.choose_colour(QColor("#808080")),
            "change colour": self._change, "delete colour": self._delete,
            "read palette": self._read, "write palette": self._write,
            "ink profile": self._ask_profile,
        }

    @property
    def palette(self) -> Palette:
        """The job's colours."""
        return self._bench.desk.job.now.palette

    @property
    def chosen(self) -> int:
        """The place of the chosen colour, from 0."""
        return max(min(self._chosen, len(self.palette.colours) - 1), 0)

    @property
    def swatches(self) -> tuple[Swatch, ...]:
        """The colours as they are shown."""
        return swatches(self.palette, None if self._profile is None else self._profile[1])

    @property
    def by_profile(self) -> bool:
        """Whether ink is worked out by a printer's profile."""
        return self._profile is not None

    @property
    def source(self) -> str:
        """Where the figures of ink come from, in words."""
        if self._profile is None:
            return tr("An estimate of the least ink, under 300 % for any colour. Newsprint bears "
                      "240 %, coated paper more; your printer's figure goes before it.")
        return f"{tr('By the profile')} {self._profile[0]}."

    def in_hand(self) -> Named | None:
        """The chosen colour; says what to do where there is none."""
        if self.palette.colours:
            return self.palette.colours[self.chosen]
        self._say(tr("There is no colour yet: add one to the palette first."))
        self._bench.window.colours.typed.setFocus()
        return None

    def choose(self, number: int) -> None:
        """Choose a colour by its place in the palette, from 0."""
        if number < len(self.palette.colours):
            self._chosen = number
            self._bench.show_commands()

    def take_up(self, colour: Rgb) -> None:
        """Choose a colour; it is put into the palette if it was not there."""
        place = self.palette.place_of(colour)
        if place is None:
            self._put(add(self.palette, Named(colour)))
        else:
            self.choose(place)

    def _say(self, text: str) -> None:
        self._bench.window.notice.show_said(text)

    def _put(self, edit: PaletteEdit) -> None:
        """One change of the palette."""
        desk = self._bench.desk
        self._chosen = edit.chosen
        self._bench.become(desk.then(replace(desk.job.now, palette=edit.palette), edit.name))

    def _add(self, named: Named | None) -> None:
        if named is None:
            self._say(tr("That is no colour: write #rrggbb, and its name behind it."))
        else:
            self._put(add(self.palette, named))

    def _rename(self, place: int, name: str) -> None:
        self._put(rename(self.palette, place, name))

    def _move(self, place: int, to: int) -> None:
        self._put(move(self.palette, place, to))

    def _throw_out(self, place: int) -> None:
        self._put(delete(self.palette, place))

    def _name_palette(self, name: str) -> None:
        made = replace(self.palette, name=name)
        self._put(PaletteEdit(made, tr("name the palette"), self.chosen))

    def _limit(self, path: tuple[str, ...], value: Any) -> None:
        limit = cast(Limit, changed(Limit(most=self.palette.most_ink), path, value))
        made = replace(self.palette, most_ink=limit.most)
        self._put(PaletteEdit(made, tr("most ink of a colour"), self.chosen))

    def _change(self) -> None:
        """Ask for another colour, and show it on the page while it is looked for."""
        old = self.in_hand()
        if old is None:
            return
        self.asking = asking = QColorDialog(QColor(*old.colour), self._bench.window)
        asking.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        asking.setWindowTitle(tr("Another colour"))
        asking.currentColorChanged.connect(lambda seen: self._try(old.colour, _rgb_of(seen)))
        asking.colorSelected.connect(lambda found: self.recolour(_rgb_of(found)))
        asking.rejected.connect(self._leave_as_it_was)
        asking.open()

    def _try(self, old: Rgb, new: Rgb) -> None:
        """Show another colour in place of one, where the page has that."""
        desk = self._bench.desk
        steps = list_shown(replace(desk, draft=None), self._bench.known)
        draft = None if steps is None else list_recoloured(steps, old, new)
        if draft is not steps or desk.draft is not None:
            self._bench.desk = replace(desk, draft=draft)
            self._bench.show_list()

    def _leave_as_it_was(self) -> None:
        self._bench.become(replace(self._bench.desk, draft=None))

    def recolour(self, colour: Rgb) -> None:
        """The chosen colour becomes another, wherever it was laid."""
        desk, job = self._bench.desk, self._bench.desk.job.now
        name = recolour_name(self.palette, self.chosen, colour)
        self._bench.become(desk.then(recoloured(job, self.chosen, colour), name))

    def _delete(self) -> None:
        if self.in_hand() is not None:
            self._throw_out(self.chosen)

    def _read(self) -> None:
        name, _ = QFileDialog.getOpenFileName(
            self._bench.window, tr("Read a palette"), "", tr(_FORMS))
        if not name:
            return
        try:
            found = read_palette(Path(name))
        except Refused as refused:
            self._say(said(refused))
            return
        before = len(self.palette.colours)
        self._put(take_in(self.palette, found))
        self._say(f"{len(self.palette.colours) - before} {tr('of')} {len(found.colours)} "
                  f"{tr('colours are new here, and were put in')}.")

    def _write(self) -> None:
        path = ask_where(self._bench, tr("Write the palette"),
                         f"{self.palette.name or 'colours'}.txt", tr(_FORMS))
        if path is None:
            return
        try:
            write_palette(path, self.palette)
        except Refused as refused:
            self._say(said(refused))
            return
        self._say(f"{tr('The palette is in')} {path}.")

    def _ask_profile(self) -> None:
        """Take a printer's profile, or give back the one that is in use."""
        if self._profile is not None:
            self._profile = None
            return
        name, _ = QFileDialog.getOpenFileName(
            self._bench.window, tr("The printer's profile"), "", tr(_PROFILES))
        if not name:
            return
        try:
            data = read_small(Path(name), _LARGEST_PROFILE, "the profile")
            swatches(Palette("", (Named((0, 0, 0)),)), data)
        except Refused as refused:
            self._say(said(refused))
            return
        self._profile = Path(name).name, data
        self._bench.window.notice.hide()


def _rgb_of(colour: QColor) -> Rgb:
    return colour.red(), colour.green(), colour.blue()
