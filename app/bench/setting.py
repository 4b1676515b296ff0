"""The chosen step set on the page: its tool in the pointer's hand, and what the tool reports."""

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from app.bench.listing import Listing
from app.bench.seat import Seat
from app.bench.state.edges import Cut
from app.bench.state.edits import insert, set_step
from app.bench.state.placing import (
    Aim,
    Handhold,
    Level,
    Painting,
    Ruler,
    Spot,
    aimed,
    cropped,
    handhold,
    levelled,
    painted,
)
from app.bench.views.brush import BrushTool
from app.bench.views.edges import CropTool
from app.bench.views.level import LevelTool
from app.bench.views.look import tr
from app.bench.views.tools import AimTool, Tool
from app.bench.views.window import Window
from app.filters.straighten import Straighten
from core.steps.crop import Crop
from core.steps.step import Step

NO_MARK = tr("No mark lies within a millimetre of there; nothing was done.")


class WithLists(Seat, Protocol):
    """A bench that also has the hand that changes lists."""

    lists: Listing


class Setting:
    """Gives the page the chosen step's tool, and takes what is drawn with it into the list."""

    def __init__(self, bench: WithLists) -> None:
        self._bench = bench
        self._aiming, self._brush = AimTool(), BrushTool()
        self._cropping, self._levelling = CropTool(), LevelTool()
        self._held: tuple[int | None, Handhold] | None = None
        self.other_tool: Callable[[], Tool | None] = lambda: None
        self.misses: Callable[[Spot], bool] = lambda _: False

    def connect(self, window: Window) -> None:  # noqa: ARG002 - the tools are its own
        """Listen to the tools, and to what the page shows."""
        self._aiming.drawn.connect(self._aim)
        self._brush.drawn.connect(self._paint)
        self._cropping.cut.connect(self._cut)
        self._levelling.turned.connect(self._level)
        self._bench.engine.drawn.connect(self._follow)

    def commands(self) -> dict[str, Callable[[], object]]:
        """The commands of the brush."""
        return {
            "wider": lambda: self._resize(lambda: self._brush.widen(larger=True)),
            "narrower": lambda: self._resize(lambda: self._brush.widen(larger=False)),
            "softer": lambda: self._resize(lambda: self._brush.soften(larger=True)),
            "harder": lambda: self._resize(lambda: self._brush.soften(larger=False)),
        }

    # --- the tool in the hand

    def show_hold(self) -> None:
        """Put the chosen step's own tool into the hand; a pick that was asked for goes.

        A tool from elsewhere, such as one that colours, goes before it.
        """
        page, other = self._bench.window.page, self.other_tool()
        if other is not None:
            self._held = None
            if page.tool is not other:
                page.set_tool(other)
            return
        hold = self._hold()
        held = None if hold is None else (self._bench.desk.step, hold)
        tool = None if hold is None else self._tool_for(hold)
        if held != self._held or page.tool is not tool:
            if hold is not None:
                self._fill(hold)
            self._held = held
            page.set_tool(tool)

    def _follow(self) -> None:
        """Another picture may show the page cut or turned in another way."""
        own = (None, self._aiming, self._brush, self._cropping, self._levelling)
        if self._bench.window.page.tool in own and self._bench.desk.draft is None:
            self.show_hold()

    def _hold(self) -> Handhold | None:
        """What the chosen step holds on the page as it is shown."""
        found = self._chosen()
        if found is None:
            return None
        return handhold(self._bench.lists.in_hand().steps, self._bench.desk.held, found[1])

    def _chosen(self) -> tuple[Step, Ruler] | None:
        """The chosen step, and the ruler of the page that is shown."""
        shown, number = self._bench.engine.shown, self._bench.desk.held
        steps = self._bench.lists.in_hand().steps
        if shown is None or number is None or number >= len(steps):
            return None
        return steps[number], Ruler.of(shown.sheet)

    @property
    def picks_mark_for(self) -> tuple[tuple[Step, ...], int] | None:
        """The list and the step's number in it, while a click chooses the step's mark."""
        hold, number = self._hold(), self._bench.desk.held
        if self._bench.window.page.tool is not self._aiming or number is None or (
            not isinstance(hold, Aim) or hold.outline
        ):
            return None
        return self._bench.lists.in_hand().steps, number

    def _tool_for(self, hold: Handhold) -> Tool:
        if isinstance(hold, Aim):
            return self._aiming
        if isinstance(hold, Painting):
            return self._brush
        return self._levelling if isinstance(hold, Level) else self._cropping

    def _fill(self, hold: Handhold) -> None:
        """Have the tool show what the step holds."""
        shown = self._bench.engine.shown
        assert shown is not None
        if isinstance(hold, Aim):
            self._aiming.show_aim(hold)
        elif isinstance(hold, Painting):
            self._take_brush(hold)
        elif isinstance(hold, Level):
            self._levelling.show_level(hold.degrees, Ruler.of(shown.sheet))
        else:
            self._cropping.show_cut(hold, shown.sheet.ppi)

    def _take_brush(self, hold: Painting) -> None:
        """The step's brush; one of another size stays in hand until the step's own is changed."""
        number, old = self._held or (None, None)
        known = old.brush if isinstance(old, Painting) else None
        if (number, known) != (self._bench.desk.step, hold.brush):
            self._brush.set_brush(*hold.brush)
        self._brush.show_strokes(hold.strokes, hold.width)

    def _resize(self, act: Callable[[], None]) -> None:
        page = self._bench.window.page
        if page.tool is self._brush:
            act()
            page.update()
        else:
            self._bench.window.notice.show_said(tr(
                "There is no brush in hand: choose a step that is painted with one."))

    # --- what was drawn

    def _set(self, step: Step | None, *, apart: bool = False) -> None:
        """The chosen step as it was set on the page; ``apart`` is one more, behind it."""
        number = self._bench.desk.step
        if step is not None and number is not None:
            steps, name = self._bench.lists.in_hand(), _name(step)
            edit = insert(steps, number + 1, step) if apart else set_step(
                steps, number, step, name)
            self._bench.lists.edit(replace(edit, name=name))

    def _aim(self, drawn: tuple[Spot, ...]) -> None:
        hold, found = self._hold(), self._chosen()
        if isinstance(hold, Aim) and not hold.outline and self.misses(drawn[-1]):
            self._bench.window.notice.show_said(NO_MARK)
        elif isinstance(hold, Aim) and found is not None:
            self._set(aimed(found[0], hold, drawn, found[1]), apart=bool(hold.spots))

    def _paint(self, drawn: tuple[Spot, ...]) -> None:
        hold, found = self._hold(), self._chosen()
        if not isinstance(hold, Painting) or found is None:
            return
        step, apart = painted(found[0], hold, drawn, found[1], self._brush.size)
        self._set(step, apart=apart)

    def _cut(self, cut: Cut) -> None:
        found = self._chosen()
        if found is not None and isinstance(found[0], Crop):
            self._set(cropped(found[0], cut))

    def _level(self, degrees: float) -> None:
        found = self._chosen()
        if found is not None and isinstance(found[0], Straighten):
            self._set(levelled(found[0], degrees))


def _name(step: Step) -> str:
    return f"{step.kind} {tr('on the page')}"
