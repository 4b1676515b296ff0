"""The one place where state, views and background work are connected."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Protocol

from PySide6.QtCore import QObject, QTimer

from app.bench.background import Line, Workers, said
from app.bench.colouring import Colouring
from app.bench.colours import Colours
from app.bench.drawing import DrawerHand
from app.bench.engine import Engine
from app.bench.incoming import Incoming
from app.bench.keeping import Keeper, Kept
from app.bench.listing import Listing
from app.bench.marking import Marking
from app.bench.outgoing import Outgoing
from app.bench.pressing import Pressing
from app.bench.proving import Proving
from app.bench.setting import Setting
from app.bench.showing import (
    Known,
    Laid,
    card_shown,
    checked_commands,
    commands_there,
    earlier_shown,
    looked_at,
    rack_item,
    rack_items,
    strip_shown,
)
from app.bench.state.desk import Desk
from app.bench.state.job import Source, is_set, name_of, source_of
from app.bench.state.loading import THUMB, Loaded, Thumbnail, load_thumbnail
from app.bench.state.places import Places
from app.bench.state.saying import BRING_UP
from app.bench.state.theme import Theme
from app.bench.viewing import Viewing
from app.bench.views.dialogs import KeysSheet
from app.bench.views.look import tr
from app.bench.views.page import Frame
from app.bench.views.window import Window
from app.kinds import KINDS
from app.replay.job import Job, JobPage
from app.suggest import Suggestion
from core.steps.steplist import StepList

_PACE = 30  # ms; figures in a drag follow at this pace: they take longer than the picture


class Hand(Protocol):
    """One part of what can be done: listens to the views, and has commands of its own."""

    def connect(self, window: Window) -> None:
        """Listen to what the window reports."""

    def commands(self) -> Mapping[str, Callable[[], object]]:
        """Its commands by name."""


class Wiring(QObject):
    """Holds the desk; takes what views report, and has them show what it becomes."""

    def __init__(self, window: Window, workers: Workers, places: Places) -> None:
        super().__init__()
        self.window, self.workers, self.places = window, workers, places
        self.keeper = Keeper(places, workers, self._say_unkept)
        self.desk = Desk()
        self.known = Known()
        self.engine = Engine(workers)
        self.theme_choice = "system"
        self.gone_to: Callable[[JobPage], None] = lambda _: None
        self._behind = self._listing = False
        self._pace = QTimer(self, singleShot=True, interval=_PACE)
        self._pace.timeout.connect(self._show_figures)
        self._laid = Laid()
        self._thumbing = Line(workers, self._no_thumb)
        self._thumb_of: Source | None = None
        self._earlier: tuple[Kept, ...] = ()
        self.lists = Listing(self)
        self.out = Outgoing(self)
        self.incoming = Incoming(self)
        self.setting = Setting(self)
        self.viewing = Viewing(self)
        self.proving = Proving(self)
        self.pressing = Pressing(self)
        self.colours = Colours(self)
        self.colouring = Colouring(self)
        self.marking = Marking(self)
        self._hands: tuple[Hand, ...] = (
            self.lists, self.out, self.incoming, self.setting, self.viewing, self.marking,
            self.proving, self.pressing, self.colours, self.colouring, DrawerHand(self))
        self._commands = self._command_table()
        self._connect()
        self.show_all()

    def _connect(self) -> None:
        window, engine = self.window, self.engine
        window.asked.connect(self.do)
        window.rack.went_to.connect(self._went_to)
        window.rack.chose.connect(self._choose)
        window.earlier_asked.connect(self._show_earlier)
        window.earlier_chosen.connect(
            lambda number: self._bring(self._earlier[number], tr("bring an earlier job back")))
        for hand in self._hands:
            hand.connect(window)
        window.clipping_held.connect(lambda on: engine.show_clipping(on=on))
        engine.loaded.connect(self._take_page)
        engine.proposed.connect(self._take_proposal)
        engine.stood.connect(lambda: None if self._listing else self._show_strip())
        engine.sized.connect(self.viewing.size_page)
        engine.drawn.connect(self._take_frame)
        engine.state.connect(window.page.say)
        engine.failed.connect(self._fail)

    def _command_table(self) -> dict[str, Callable[[], object]]:
        table: dict[str, Callable[[], object]] = {
            "steps": lambda: self._turn_aside("steps"),
            "undo": lambda: self.become(self.desk.undone()),
            "redo": lambda: self.become(self.desk.redone()),
            "next page": lambda: self._step_page(1),
            "previous page": lambda: self._step_page(-1),
            "log": self._change_log,
            "last job": self.bring_back,
            "keys": lambda: KeysSheet(self.window).show(),
            "quit": self.window.close,
        }
        for hand in self._hands:
            table |= hand.commands()
        return table

    def do(self, name: str) -> None:
        """Do a command by its name."""
        self._commands[name]()
        self.show_commands()

    def _turn_aside(self, name: str) -> None:
        self.viewing.look(self.desk.looking.beside(name))

    def add_commands(self, commands: dict[str, Callable[[], object]]) -> None:
        """Commands that lie outside the desk: themes and the like."""
        self._commands |= commands

    # --- the desk

    def become(self, desk: Desk) -> None:
        """The desk is now this; everything is shown anew."""
        changed, was = desk.job.now is not self.desk.job.now, self.desk.page
        self.desk = desk
        if desk.page is not None and (was is None or was.at != desk.page.at):
            self.gone_to(desk.page)
        if changed:
            self.window.notice.go_on()
        self.show_all()
        if changed:
            self.keep_job(desk.job.now)

    def _say_unkept(self, error: Exception) -> None:
        self.window.notice.show_said(f"{tr('The job cannot be kept')}: {said(error)}", stays=True)

    def keep_job(self, job: Job) -> None:
        """Have the job kept on disk."""
        self.keeper.keep(job)

    def go_to(self, number: int) -> None:
        """Take a page in hand."""
        if number != self.desk.current:
            self.become(self.desk.on_page(number))

    def _went_to(self, number: int) -> None:
        """The rack has gone to a page, and has said before which are chosen."""
        if number != self.desk.current:
            chosen = self.desk.chosen or frozenset({number})
            self.become(replace(self.desk.on_page(number), chosen=chosen))

    def _choose(self, numbers: frozenset[int]) -> None:
        if numbers and numbers != self.desk.chosen:
            self.desk = replace(self.desk, chosen=numbers)
            self.show_commands()

    def _step_page(self, by: int) -> None:
        if self.desk.current is not None:
            last = len(self.desk.job.now.pages) - 1
            self.go_to(min(max(self.desk.current + by, 0), last))

    # --- showing

    def show_all(self) -> None:
        """Have every view show the desk as it is."""
        page, fault = self.desk.page, self._fault
        self.window.show_any_page(there=page is not None, fault=fault)
        self._show_rack()
        self.window.rack.show_current(self.desk.current)
        self.window.rack.show_chosen(self.desk.chosen)
        source = None if page is None else source_of(page)
        self.engine.turn_to(source)
        self.window.notice.turn_to(source)
        if page is None or fault:
            self.window.page.show_frame(None)
            self.window.strip.show_strip(None)
        self._show_page_words()
        self.show_list()
        self._next_thumb()

    @property
    def _fault(self) -> str:
        """What is wrong with the page in hand, if anything is known to be."""
        page = self.desk.page
        return "" if page is None else self.known.faults.get(source_of(page), "")

    def _show_rack(self) -> None:
        """The rows that are others; what is found out about a page is shown when it is found."""
        pages, rack = self.desk.job.now.pages, self.window.rack.pages
        rows = self._laid.become(pages)
        if rows is None:
            rack.show_items(rack_items(self.desk, self.known))
        for row in rows or ():
            rack.show_item(row, rack_item(pages[row], self.known))

    def show_list(self, *, moving: bool = False) -> None:
        """Show the list in hand, and what it makes of the page."""
        steps = looked_at(self.desk, self.known)
        if self.desk.page is not None:
            self._listing = True  # the strip is shown with the other figures, once
            self.engine.set_steps(
                () if steps is None else steps.steps, self.desk.step, moving=moving)
            self._listing = False
        self._behind = moving and self.engine.quick
        if not self._behind:
            self._show_figures()
        if not moving:
            self.setting.show_hold()
            self.show_commands()

    def _show_figures(self) -> None:
        """The list and the strip; in a drag they follow the picture, which is what is looked at."""
        self._behind = False
        self._pace.stop()
        awaited = self.desk.page is not None and not self._fault
        self.window.card.show_card(card_shown(self.desk, self.known), awaited=awaited)
        self._show_strip()

    def _show_strip(self) -> None:
        steps = looked_at(self.desk, self.known) or StepList()
        self.window.strip.show_strip(strip_shown(
            self.engine.standing, steps.steps, self.desk.step, log=self.desk.looking.log))

    def _show_page_words(self) -> None:
        page = self.desk.page
        title = tr("No page") if page is None else name_of(page)
        facts = ""
        if self.engine.page is not None and not self._fault:  # which is said in its place
            facts = self.engine.page.facts
        self.window.bar.show_page(title, facts)
        self.window.setWindowTitle("Stetline" if page is None else f"{name_of(page)}, Stetline")

    def show_commands(self) -> None:
        """Which commands can be done now, and how the page is looked at."""
        names = {"undo": self.desk.job.undo_name, "redo": self.desk.job.redo_name}
        there = commands_there(self.desk, self.known)
        self.window.show_commands(
            there, names,
            checked_commands(self.desk, self.theme_choice) | self.colouring.checked())
        self.colouring.show()
        looking = self.desk.looking
        view = looking.view if "page" in there and not self._fault else None
        scale = "" if view is None else f"{100 * view.scale.value:.3g} %"
        self.window.bar.show_looking(scale, looking.ground, split=looking.side == "split")
        self.window.bar.show_enabled(page="page" in there)

    def set_theme(self, theme: Theme) -> None:
        """The same desk in other colours."""
        self.window.set_theme(theme)
        self.show_all()

    def bring_back(self) -> None:
        """Put the job that was kept last on the rack, in place of what lies there."""
        if self.keeper.last is None:
            self.window.notice.show_said(tr("No job has been kept yet."))
        else:
            self._bring(self.keeper.last, tr("bring the last job back"))

    def _bring(self, kept: Kept, name: str) -> None:
        job = kept.job
        if job is None:
            self.window.notice.show_said(f"{tr('That job cannot be read')}: {kept.why}")
        elif kept.why:
            self.window.notice.offer(
                kept.why, tr(BRING_UP), lambda: self.incoming.lay(job, name))
        else:
            self.incoming.lay(job, name)

    def _show_earlier(self) -> None:
        self._earlier = self.keeper.earlier()
        self.window.show_earlier(tuple(
            earlier_shown(kept.job, kept.time, kept.why) for kept in self._earlier))

    def _change_log(self) -> None:
        self.desk = replace(
            self.desk, looking=replace(self.desk.looking, log=not self.desk.looking.log))
        self._show_strip()

    # --- what the engine found out

    def _take_page(self, page: Loaded) -> None:
        self._show_page_words()
        if page.scan.notes:
            said_of_it = f"{page.source.at.path.name}: {' '.join(page.scan.notes)}"
            self.window.notice.show_said(said_of_it, of=page.source)
        self.show_list()
        if self.desk.page is not None and not is_set(self.desk.page) and (
            page.source not in self.known.proposals
        ):
            self.engine.propose(page.source.at.path.stem)

    def _take_proposal(self, at: Source, made: Suggestion) -> None:
        self.known.proposals[at] = made
        if self.desk.page is not None and source_of(self.desk.page) == at:
            self.show_list()

    def _take_frame(self, frame: Frame) -> None:
        self.window.page.show_frame(frame)
        if self._behind:
            self.window.page.repaint()
            if not self._pace.isActive():
                self._pace.start()

    def _fail(self, at: Source | None, error: Exception) -> None:
        if at is not None and self.engine.page is None:
            self.window.page.say("")
            self.known.faults[at] = said(error)
            self._show_found(at)
            self.show_all()
        else:
            self.window.notice.show_said(said(error))

    # --- thumbnails

    def _next_thumb(self) -> None:
        if self._thumbing.busy:
            return
        known = self.known
        at = next((source for source in self._laid.rows
                   if source not in known.thumbs and source not in known.faults), None)
        if at is None:
            return
        self._thumb_of = at
        size = round(THUMB * max(self.window.devicePixelRatio(), 1))
        self._thumbing.ask(
            lambda watch: load_thumbnail(at, size, watch), lambda thumb: self._thumbed(at, thumb))

    def _thumbed(self, at: Source, thumb: Thumbnail) -> None:
        self.known.thumbs[at] = thumb.pixels
        if thumb.refused is not None:
            self.known.faults.setdefault(at, said(thumb.refused))
        self._show_found(at)
        self._next_thumb()

    def _no_thumb(self, error: Exception) -> None:
        if self._thumb_of is not None:
            self.known.faults[self._thumb_of] = said(error)
            self._show_found(self._thumb_of)
        self._next_thumb()

    def _show_found(self, at: Source) -> None:
        """Something was found out about the pages of a source."""
        pages = self.desk.job.now.pages
        for row in self._laid.rows.get(at, ()):
            self.window.rack.pages.show_item(row, rack_item(pages[row], self.known))

    @property
    def idle(self) -> bool:
        """Whether nothing is under way."""
        working = (self._thumbing, self.out, self.incoming, self.keeper, self.proving,
                   self.pressing, self.colouring, self.marking)
        behind = self._pace.isActive() or not self.window.card.complete
        return self.engine.idle and not behind and not any(one.busy for one in working)


def kinds_on_card() -> tuple[tuple[str, str], ...]:
    """The kinds that a step can be added of, with what each says in a sentence."""
    return tuple(
        (kind, made().sentence()) for kind, made in KINDS.items() if kind != "list"
    )

