"""What the person does to the step list: from the card, the tone strip and the menus."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path as File
from typing import Any

from PySide6.QtWidgets import QFileDialog, QInputDialog

from app.bench.background import said
from app.bench.seat import Seat, ask_where
from app.bench.showing import list_shown
from app.bench.state.edits import (
    Edit,
    again,
    change_name,
    delete,
    duplicate,
    for_page,
    insert,
    insert_list,
    move,
    only_turned,
    place_for,
    set_step,
    switch,
    turned,
    with_crops_turned,
    with_own,
    with_tone,
)
from app.bench.state.job import name_of, source_of, with_page, with_steps, with_turned
from app.bench.state.lying import hand_on, hand_on_wholly, kept_on, marked, own_of
from app.bench.state.saying import BRING_UP
from app.bench.state.sentence import Path, changed, inmost, to_way, wrong
from app.bench.state.strip import Points, Which, points_of, with_points
from app.bench.views.look import tr
from app.bench.views.window import Window
from app.kinds import KINDS
from app.pages.lists import read_list, write_list
from core.fault import Refused
from core.steps.crop import Crop
from core.steps.outdated import Outdated
from core.steps.step import Step
from core.steps.steplist import StepList
from core.steps.tone import Tone
from core.steps.turn import Turn

_FILTER = "Step lists (*.json)"


class Listing:
    """Turns reports about the list into changes of the desk; one drag is one change."""

    def __init__(self, bench: Seat) -> None:
        self._bench = bench
        self._dragged: Which | None = None

    def connect(self, window: Window) -> None:
        """Listen to the card and the strip."""
        card, strip = window.card, window.strip
        card.changed.connect(self.change)
        card.switched.connect(lambda number: self.edit(switch(self._steps(), number)))
        card.chose.connect(self.choose)
        card.moved.connect(lambda number, to: self.edit(move(self._steps(), number, to)))
        card.renamed.connect(self._rename)
        card.added.connect(self.add)
        strip.moved.connect(self._drag)
        strip.settled.connect(self._let_go)
        strip.abandoned.connect(self._give_up)
        strip.typed.connect(self._type)
        strip.nudged.connect(self._nudge)

    def commands(self) -> dict[str, Callable[[], None]]:
        """The commands of the list."""
        return {
            "keep": self.keep,
            "ink only": self._keep_ink,
            "propose": self._propose,
            "apply next": self._apply_next,
            "apply chosen": lambda: self._apply(self._bench.desk.chosen, tr("the chosen pages")),
            "apply all": lambda: self._apply(
                frozenset(range(len(self._bench.desk.job.now.pages))), tr("all pages")),
            "open list": lambda: self._ask_list(self.take),
            "insert list": lambda: self._ask_list(self._insert),
            "save list": self._save,
            "switch": lambda: self._on_step(switch),
            "step up": lambda: self._on_step(lambda steps, n: move(steps, n, n - 1)),
            "step down": lambda: self._on_step(lambda steps, n: move(steps, n, n + 1)),
            "duplicate": lambda: self._on_step(duplicate),
            "delete": lambda: self._on_step(delete),
            "note": self._note,
            "turn left": lambda: self._turn(270),
            "turn right": lambda: self._turn(90),
        }

    def _steps(self) -> StepList:
        return list_shown(self._bench.desk, self._bench.known) or StepList()

    def choose(self, number: int) -> None:
        """Choose a step; a tone step is then what the strip holds."""
        if number != self._bench.desk.step:
            self._bench.desk = replace(self._bench.desk, step=number)
            self._bench.show_list()

    def edit(self, edit: Edit, *, by_hand: bool = True) -> None:
        """One change of the list of the page in hand; a turn made by hand becomes its own."""
        desk = self._bench.desk
        if desk.current is None:
            return
        page = desk.job.now.pages[desk.current]
        if by_hand:
            page = marked(page, self._steps(), edit.steps)
        job = with_page(desk.job.now, desk.current, replace(page, steps=edit.steps))
        self._bench.become(replace(desk.then(job, edit.name), step=edit.chosen))

    def _on_step(self, act: Callable[[StepList, int], Edit]) -> None:
        step = self._bench.desk.step
        if step is not None and step < len(self._steps().steps):
            self.edit(act(self._steps(), step))

    def change(self, number: int, path: Path, value: Any) -> None:
        """A value in a sentence was changed."""
        step = self._steps().steps[number]
        way = isinstance(value, type)
        new = to_way(step, path, value) if way else changed(step, path, value)
        fault = wrong(inmost(new, path)[0])
        if fault:
            self._bench.window.notice.show_said(fault)
            self._bench.show_list()
            return
        name = change_name(step, path)
        self.edit(set_step(self._steps(), number, new, name))

    def add(self, kind: str) -> None:
        """Add a step of a kind, with the values that were used last."""
        steps = self._steps()
        made: Step = again(KINDS[kind](), steps)
        self.edit(insert(steps, place_for(steps, made), made))

    def _rename(self, name: str) -> None:
        self.edit(Edit(replace(self._steps(), name=name), tr("name the list"),
                        self._bench.desk.step))

    def keep(self) -> None:
        """The proposed list becomes the page's own."""
        self.edit(Edit(self._steps(), tr("keep the proposed list"), self._bench.desk.step))

    def _keep_ink(self) -> None:
        """The proposed list becomes the page's own, without what is paler than ink."""
        page = self._bench.desk.page
        made = None if page is None else self._bench.known.proposals.get(source_of(page))
        if made is None or made.ink is None:
            self._bench.window.notice.show_said(
                tr("All that is drawn here is of one strength: nothing paler lies beside the ink."))
            return
        steps = made.ink_only(self._steps())
        self.edit(Edit(steps, tr("keep the ink only"), self._bench.desk.step))

    def _propose(self) -> None:
        desk, page = self._bench.desk, self._bench.desk.page
        if page is None or self._bench.engine.page is None or desk.current is None:
            return
        self._bench.known.proposals.pop(source_of(page), None)
        head = StepList("", self._steps().steps[:1])
        job = with_steps(
            desk.job.now, frozenset({desk.current}), head if only_turned(head) else None)
        self._bench.become(replace(desk.then(job, tr("propose a list")), step=None))
        self._bench.engine.propose(page.at.path.stem)

    def _apply(self, numbers: frozenset[int], whom: str) -> None:
        desk, steps = self._bench.desk, self._steps()
        if desk.current is None:
            return
        name, others = f"{tr('apply the list to')} {whom}", numbers - {desk.current}
        handed = hand_on(desk.job.now, desk.current, steps, others)
        self._bench.become(desk.then(handed.job, name))
        if handed.told():
            self._bench.window.notice.offer(
                handed.told(), tr("Give them all of it"),
                lambda: self._apply_wholly(for_page(steps, None), others, name), stays=False)

    def _apply_wholly(self, steps: StepList, numbers: frozenset[int], name: str) -> None:
        """What stayed with its page goes too; it is offered only up to the next change."""
        desk = self._bench.desk
        job = hand_on_wholly(desk.job.now, steps, numbers)
        self._bench.become(desk.then(job, f"{name}, {tr('as it lies')}"))

    def _apply_next(self) -> None:
        desk = self._bench.desk
        if desk.current is None or desk.current + 1 >= len(desk.job.now.pages):
            self._bench.window.notice.show_said(tr("This is the last page on the rack."))
            return
        following = desk.current + 1
        self._apply(frozenset({following}), name_of(desk.job.now.pages[following]))
        self._bench.go_to(following)

    def _turn(self, clockwise: int) -> None:
        desk = self._bench.desk
        job = desk.job.now
        for number in desk.chosen:  # a page without a list stays open for its proposal
            page = job.pages[number]
            made = turned(page.steps or StepList(), clockwise)
            if Crop.kind in page.by_hand:  # a list's own crop is that of a page that lies upright
                made = with_crops_turned(made, clockwise)
            job = with_steps(job, frozenset({number}), made)
        self._bench.become(desk.then(with_turned(job, desk.chosen), tr("turn")))

    def _note(self) -> None:
        number = self._bench.desk.step
        if number is None:
            return
        step = self._steps().steps[number]
        text, agreed = QInputDialog.getText(
            self._bench.window, tr("Note"), tr("Why the step is there:"), text=step.note)
        if agreed:
            self.edit(set_step(self._steps(), number, replace(step, note=text[:1000]),
                                tr("note")))

    # --- the tone strip

    def _moved(self, change: Callable[[Points], Points]) -> StepList | None:
        """The list with its points changed; None where there is no page to have any."""
        standing = self._bench.engine.standing
        if standing is None or self._bench.desk.current is None:
            return None
        steps, index = with_tone(self._steps(), self._bench.desk.step)
        step = steps.steps[index]
        assert isinstance(step, Tone)
        paper = standing.paper
        moved = with_points(step, change(points_of(step, paper)), paper)
        return set_step(steps, index, moved, "").steps

    def _drag(self, which: Which, tone: float) -> None:
        self._dragged = which
        draft = self._moved(lambda points: points.moved_to(which, tone))
        if draft is not None and draft != self._bench.desk.draft:
            self._bench.desk = replace(self._bench.desk, draft=draft)
            self._bench.show_list(moving=True)

    def _let_go(self) -> None:
        draft, which = self._bench.desk.draft, self._dragged
        if draft is not None and which is not None:
            self.edit(Edit(draft, _point_name(which), self._bench.desk.step))

    def _give_up(self) -> None:
        self._bench.desk = replace(self._bench.desk, draft=None)
        self._bench.show_list()

    def _type(self, which: Which, value: float) -> None:
        steps = self._moved(lambda points: points.set_to(which, value))
        if steps is not None:
            self.edit(Edit(steps, _point_name(which), self._bench.desk.step))

    def set_point(self, which: Which, tone: float) -> None:
        """A point put on a tone that was picked from the page."""
        steps = self._moved(lambda points: points.moved_to(which, tone))
        if steps is not None:
            self.edit(Edit(steps, _point_name(which), self._bench.desk.step))

    def take(self, steps: StepList) -> None:
        """The page takes over a list from elsewhere, and keeps what is for it alone."""
        desk, page = self._bench.desk, self._bench.desk.page
        if page is None or desk.current is None:
            return
        here, name = frozenset({desk.current}), f"{tr('take the list')} “{steps.name}”"
        made = with_own(steps, page.steps, kept_on(own_of(page)))
        self.edit(Edit(made, name, None), by_hand=False)
        if made != with_own(steps, page.steps, own_of(page) & {Turn.kind}):
            self._bench.window.notice.offer(
                tr("This page keeps the crop or angle that was made on it by hand."),
                tr("Take the list's"), lambda: self._apply_wholly(steps, here, name), stays=False)

    def for_others(self) -> StepList:
        """The list on the card as it goes to other pages: without what is for this one alone."""
        return for_page(self._steps(), None)

    def in_hand(self) -> StepList:
        """The list on the card."""
        return self._steps()

    def _nudge(self, which: Which, by: int) -> None:
        steps = self._moved(lambda points: points.set_to(which, points.value(which) + by))
        if steps is not None:
            self.edit(Edit(steps, _point_name(which), self._bench.desk.step))

    # --- lists in files

    def _insert(self, found: StepList) -> None:
        steps = self._steps()
        self.edit(insert_list(steps, len(steps.steps), found))

    def _ask_list(self, taken: Callable[[StepList], None]) -> None:
        name, _ = QFileDialog.getOpenFileName(
            self._bench.window, tr("Open a step list"), "", tr(_FILTER))
        if name:
            self._read(File(name), taken)

    def _read(
        self, path: File, taken: Callable[[StepList], None], *, renew: bool = False,
    ) -> None:
        """Have the list of a file taken; of an older program's it is offered."""
        notice = self._bench.window.notice
        try:
            found = read_list(path, KINDS, renew=renew)
        except Outdated as outdated:
            notice.offer(said(outdated), tr(BRING_UP), lambda: self._read(path, taken, renew=True))
        except Refused as refused:
            notice.show_said(said(refused))
        else:
            notice.hide()
            taken(found)

    def _save(self) -> None:
        steps = self._steps()
        path = ask_where(self._bench, tr("Save the step list"), f"{steps.name or 'steps'}.json",
                         tr(_FILTER))
        if path is not None:
            self.save_to(path)

    def save_to(self, path: File) -> None:
        """Write the list in hand; a proposed one is kept by that."""
        try:
            write_list(path, self.for_others())
        except Refused as refused:
            self._bench.window.notice.show_said(said(refused))
            return
        self.keep()
        self._bench.window.notice.show_said(f"{tr('The list is in')} {path}.")


def _point_name(which: Which) -> str:
    return {"black": tr("black point"), "white": tr("white point"), "middle": tr("middle")}[which]


