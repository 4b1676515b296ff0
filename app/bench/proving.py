"""The proof in the window: what would print is found as the list changes, hatched and mended."""

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

import numpy as np

from app.bench.background import Line, said
from app.bench.listing import Listing
from app.bench.seat import Seat
from app.bench.showing import looked_at
from app.bench.state.desk import Looking
from app.bench.state.edits import Edit
from app.bench.state.hatch import Cells, Marks
from app.bench.state.job import Source, source_of
from app.bench.state.layered import watched
from app.bench.state.picture import Bytes
from app.bench.state.printing import change_said, order_for, with_printing
from app.bench.state.proof import (
    Found,
    Row,
    Seen,
    divider_of,
    follows,
    groups_of,
    headline,
    look_first,
    look_fully,
    order_said,
    remedy_said,
    view_of,
)
from app.bench.viewing import Viewing
from app.bench.views.hatch import Hatch
from app.bench.views.look import tr
from app.bench.views.order_panel import OrderShown
from app.bench.views.proof_panel import Offer, ProofShown
from app.bench.views.window import Window
from app.proof.cells import grid_of, side_of
from app.proof.marks import Drawn, Evidence
from app.proof.prove import STAGES, Order, advise
from app.proof.remedies import Clearing, Remedy
from app.replay.printing import Printing
from core.fault import Watch
from core.press.presses import Press
from core.steps.steplist import StepList

_KEPT = 3  # pages whose drawn marks are remembered


class WithViewing(Seat, Protocol):
    """A bench that also has the hands that change lists and look at pages."""

    lists: Listing
    viewing: Viewing


class Proving:
    """Proves the page in hand while the panel is open or the hatch is on.

    What would print comes first, and follows a handle while it is dragged; the rest comes
    behind, in a thread of its own, and is dropped at the next change.
    """

    def __init__(self, bench: WithViewing) -> None:
        self._bench = bench
        self.hatch = Hatch(self._hatches)
        self.found: Found | None = None
        self.mine: Press | None = None
        self._key: tuple[Source, StepList, Order, bool] | None = None
        self._hatched = Marks()
        self._marks: list[tuple[tuple[Source, Evidence], Drawn]] = []
        self._clearing = Clearing()
        self._chosen: Row | None = None
        self._remedy: Remedy | None = None
        self._working: tuple[int, int] | None = None
        self._state = ""
        workers = bench.workers
        self._marking = Line(workers, self._fail)
        self._judging = Line(workers, self._fail)
        self._proving = Line(workers, self._fail, self._tell)
        self._mending = Line(workers, self._fail)
        self.order_changed: Callable[[], None] = lambda: None

    @property
    def busy(self) -> bool:
        """Whether something is being found out."""
        return any(line.busy for line in self._lines)

    @property
    def _lines(self) -> tuple[Line, ...]:
        return self._marking, self._judging, self._proving, self._mending

    def connect(self, window: Window) -> None:
        """Listen to the panel, once it is made, and to what the page shows."""
        engine = self._bench.engine
        window.page.overlays.append(self.hatch)
        window.side.made.connect(self._listen)
        window.side.turned.connect(lambda name: self._open() if name == "proof" else None)
        engine.drawn.connect(lambda _: self.look_again())
        engine.state.connect(lambda _: self._follow())

    def _listen(self, name: str) -> None:
        if name != "proof":
            return
        window, panel = self._bench.window, self._bench.window.proof
        panel.went.connect(self._go)
        panel.chose.connect(self._choose)
        panel.taken.connect(self._take_offer)
        panel.stopped.connect(self._stop)
        panel.order.changed.connect(self.print_as)
        panel.order.refused.connect(window.notice.show_said)
        panel.order.asked.connect(window.asked)

    def commands(self) -> dict[str, Callable[[], object]]:
        """The panel, and the hatch on or off."""
        return {"proof": self._open, "what would print": self._switch}

    # --- when to look

    @property
    def _wanted(self) -> bool:
        looking = self._bench.desk.looking
        return looking.hatch or self._is_open

    @property
    def _is_open(self) -> bool:
        return self._bench.desk.looking.aside == "proof"

    def _hatches(self) -> bool:
        """Dots of the press would not be told from those of a hatch."""
        looking = self._bench.desk.looking
        return looking.hatch and not looking.printed

    def _open(self) -> None:
        self._look(self._bench.desk.looking.beside("proof"))

    def _switch(self) -> None:
        looking = self._bench.desk.looking
        self._look(replace(looking, hatch=not looking.hatch))

    def _look(self, looking: Looking) -> None:
        self._bench.viewing.look(looking)
        self._bench.window.page.update()
        self._show()
        self.look_again()

    def _follow(self) -> None:
        """Another page is on its way, or the list in hand is being worked through."""
        if self._wanted and not self._bench.engine.true:
            page = self._bench.desk.page
            if page is None or self._key is None or self._key[0] != source_of(page):
                self._forget()
            self._key = None
            self._show()

    def _forget(self) -> None:
        for line in self._lines:
            line.drop()
        self.found, self._key, self._working, self._state = None, None, None, ""
        self._remedy, self._clearing = None, Clearing()
        self.hatch.show_marks(None, (0, 0), 0.0)

    def look_again(self) -> None:
        """Prove the page, unless it has been proved as it is now."""
        bench = self._bench
        engine, desk = bench.engine, bench.desk
        steps = looked_at(desk, bench.known)
        if not self._wanted or not engine.true or steps is None or desk.page is None:
            return
        assert engine.shown is not None
        assert desk.current is not None
        order = order_for(desk.job.now, desk.current)
        key = source_of(desk.page), steps, order, desk.draft is not None
        if key == self._key:
            return
        if key[-1] and not follows(engine.shown, order):
            self._key = None  # it is proved once the handle is let go
            self._show()
            return
        self._key = key
        for line in (self._marking, self._proving, self._mending):
            line.drop()
        self._working, self._state = None, ""
        shown = engine.shown
        self._mark(Evidence.of(steps),
                   lambda drawn: Seen(shown, steps, order, drawn, self._clearing))

    def _mark(self, evidence: Evidence, seen: Callable[[Drawn], Seen]) -> None:
        """See to it that the drawn marks of the page are known; then judge."""
        bench, moving = self._bench, self._bench.desk.draft is not None
        assert self._key is not None
        assert bench.engine.page is not None
        name = self._key[0], evidence
        drawn = next((drawn for known, drawn in self._marks if known == name), None)
        if drawn is not None:
            self._judge(seen(drawn), moving=moving)
        elif not moving:
            sheet, each = bench.engine.page.sheet, bench.workers.each
            self._working = (0, STAGES)
            self._show()

            def taken(drawn: Drawn) -> None:
                self._marks = [(name, drawn), *self._marks][:_KEPT]
                self._judge(seen(drawn), moving=False)

            self._marking.ask(lambda watch: evidence.drawn(sheet, watched(each, watch)), taken)

    def _judge(self, seen: Seen, *, moving: bool) -> None:
        each, view = self._bench.workers.each, self._bench.desk.looking.view
        scale = 1.0 if view is None else view.scale.value

        def work(watch: Watch) -> tuple[Found, Marks]:
            found = Found(seen, look_first(seen, each if moving else watched(each, watch)))
            return found, marks_of(found, scale)

        def taken(made: tuple[Found, Marks]) -> None:
            self.found, self._hatched = made
            if not moving:
                self._prove(seen, scale)
            self._show()

        ask = self._judging.ask_again if moving else self._judging.ask
        ask(work, taken)

    def _prove(self, seen: Seen, scale: float) -> None:
        self._working = (2, STAGES)

        def work(watch: Watch) -> tuple[Found, Marks]:
            proof = look_fully(seen, watch)
            found = Found(seen, proof.residue, proof)
            return found, marks_of(found, scale)

        self._proving.ask(work, self._take_proof)

    def _take_proof(self, made: tuple[Found, Marks]) -> None:
        self._working = None
        self.found, self._hatched = made
        self._show()
        self._choose(self._chosen)

    def _tell(self, done: int, total: int) -> None:
        if self._proving.busy and (done, total) != self._working:
            self._working = (done, total)
            self._show()

    def _stop(self) -> None:
        for line in self._lines:
            line.drop()
        self._working = None
        self._state = tr("Stopped: only what would print is known.") if self.found else tr(
            "Stopped before anything was known.")
        self._show()

    def _fail(self, error: Exception) -> None:
        self._working, self._state = None, said(error)
        self._show()

    # --- showing

    def _show(self) -> None:
        """Have panel and hatch show what is known."""
        window, found = self._bench.window, self.found
        self._show_order()
        if self._is_open:
            window.proof.show_proof(self._shown())
            self._show_offers()
        if found is not None:
            sheet = found.seen.shown.sheet
            self.hatch.show_marks(self._hatched, (sheet.shape[1], sheet.shape[0]), sheet.ppi)
        window.page.update()

    def _shown(self) -> ProofShown:
        found = self.found
        if found is None:
            words = tr("Looking for drawn marks…" if self._working else "Not yet proved.")
            return ProofShown(words, order="", state=self._state, working=self._working)
        grade, words = headline(found.residue)
        state = self._state if self._key else tr("Older than the list: it is being proved again.")
        return ProofShown(words, grade, groups_of(found),
                          order_said(found.seen.order, found.seen.size), state, self._working)

    def _show_offers(self) -> None:
        if not self._is_open:
            return
        proof = None if self.found is None else self.found.proof
        panel = self._bench.window.proof
        every = None if proof is None else _offered(proof.remedies)
        panel.show_offer(Offer("all", "" if every is None else remedy_said(every)))
        mended = None if proof is None else proof.mended
        panel.show_offer(Offer("cores", "" if mended is None else (
            f"{tr('Black point to')} {mended[0]:.0f}: {tr('makes the insides of strokes solid')}")))
        panel.show_offer(Offer("region", "" if self._remedy is None else remedy_said(self._remedy)))

    def _show_order(self) -> None:
        """Show how the page in hand is printed."""
        bench = self._bench
        desk, shown = bench.desk, bench.engine.shown
        if desk.page is None or desk.draft is not None or not self._is_open:
            return
        job, found = desk.job.now, self.found
        printing = job.printing_of(desk.page)
        size = None if shown is None else printing.size_of(shown.sheet.shape, shown.sheet.ppi)
        order = None if desk.current is None else order_for(job, desk.current)
        proof = None if found is None else found.proof
        why = "" if proof is None else f"{tr('Suggested')}: {proof.suggested[0]}. " + (
            proof.suggested[1])
        trimmed = None if proof is None else proof.trimmed
        bench.window.proof.order.show_order(OrderShown(
            printing, own_size=desk.page.size is not None, size=size,
            advice=() if size is None or order is None else advise(size, order), why=why,
            trim="" if trimmed is None or trimmed.frame is not None else (
                f"{tr('The trim is not placed')}: {trimmed.why}."),
            mine=self.mine))

    # --- doing

    def print_as(self, printing: Printing, own_size: bool) -> None:
        """The book, or the size of this page alone, is printed otherwise."""
        desk = self._bench.desk
        if desk.current is None or desk.page is None:
            return
        name = change_said(desk.job.now.printing_of(desk.page), printing)
        job = with_printing(desk.job.now, printing, desk.current, own_size=own_size)
        self._bench.become(desk.then(job, name))
        self._show_order()
        self.order_changed()

    def _go(self, row: Row) -> None:
        """Bring a place to the middle of the after side."""
        looking, found = self._bench.desk.looking, self.found
        if looking.view is None or found is None or row.region is None:
            return
        side = "after" if looking.side == "before" else looking.side
        left = looking.divider if side == "split" else 0.0
        ppi = found.seen.shown.sheet.ppi
        view = view_of(looking.view, row.region, ppi, min(left, 0.8))
        divider = divider_of(view, row.region, ppi, looking.divider)
        self._bench.viewing.look(replace(looking, view=view, side=side, divider=divider))

    def _choose(self, row: Row | None) -> None:
        """A place is chosen: frame it, and find out what would clear it."""
        self._chosen, self._remedy = row, None
        self._mending.drop()
        self.hatch.show_chosen(None if row is None else row.region)
        proof = None if self.found is None else self.found.proof
        if row is not None and row.sort == "print" and row.region is not None and (
            proof is not None
        ):
            region = row.region
            self._mending.ask(lambda _: proof.remedies_for(region), self._take_remedies)
        self._show_offers()
        self._bench.window.page.update()

    def _take_remedies(self, found: tuple[Remedy, ...]) -> None:
        self._remedy = _offered(found)
        self._show_offers()

    def _take_offer(self, what: str) -> None:
        """Put the step into the list that the button named."""
        proof = None if self.found is None else self.found.proof
        if self._key is None or proof is None:
            return
        if what == "cores" and proof.mended is not None:
            self._edit(proof.mended[1], tr("black point"))
        elif what == "all" and (every := _offered(proof.remedies)) is not None:
            self._edit(every.steps, every.words)
        elif what == "region" and self._remedy is not None:
            self._edit(self._remedy.steps, self._remedy.words)

    def _edit(self, steps: StepList, name: str) -> None:
        self._remedy = None
        self._bench.lists.edit(Edit(steps, f"{name[:1].lower()}{name[1:]}", None))


def marks_of(found: Found, scale: float) -> Marks:
    """What is hatched of what was found, ready to be drawn at a scale."""
    codes = (None if found.residue.clean else found.residue.cells, found.lost, found.open_cores)
    made = [
        None if one is None else _cells(one.view(np.uint8), found.seen).ready(scale)
        for one in codes
    ]
    return Marks(*made)


def _cells(codes: Bytes, seen: Seen) -> Cells:
    """Cells over the page: those of its own pixels, or of the finer ones that are printed."""
    sheet = seen.shown.sheet
    side = side_of(sheet.ppi)
    if codes.shape != grid_of(sheet.shape, side):
        return Cells(codes, sheet.shape[1] / codes.shape[1])
    return Cells(codes, float(side))


def _offered(found: tuple[Remedy, ...]) -> Remedy | None:
    """The best remedy that leaves the drawing alone, or hardly touches it."""
    return next((remedy for remedy in found if not remedy.dear), None)
