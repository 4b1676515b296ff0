"""What the person does to the page with colours: flats, joins, cuts and holds."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any, Literal, Protocol, cast

from app.bench.background import Line, said
from app.bench.colours import Colours
from app.bench.listing import Listing
from app.bench.seat import Seat
from app.bench.setting import NO_MARK, Setting
from app.bench.showing import list_shown
from app.bench.state import colouring
from app.bench.state.areas import area_at, colour_at, largest_first, pixel_at, spot_in
from app.bench.state.brush import next_size
from app.bench.state.colouring import Laying, Limit, ToolName
from app.bench.state.edits import Edit
from app.bench.state.foreseen import Foreseen, first_step, foresee
from app.bench.state.layered import Layer
from app.bench.state.placing import Spot
from app.bench.state.sentence import changed, to_way, wrong
from app.bench.state.standing import Shown
from app.bench.viewing import Viewing
from app.bench.views.brush import BrushTool
from app.bench.views.colour_panel import ColoursShown
from app.bench.views.colour_tools import ASKED, ColourKeys, ColourTool
from app.bench.views.look import tr
from app.bench.views.tools import Tool
from app.bench.views.window import Window
from app.filters.flats import Flats
from app.filters.holds import Everywhere
from app.filters.reach import Brush, Mark, Outline
from core.sheet import Rgb, Sheet
from core.steps.step import Step
from core.steps.steplist import StepList

_ON_AREAS = ("fill", "join", "cut")


class WithHands(Seat, Protocol):
    """A bench that also has the hands that change lists, look at pages and keep colours."""

    colours: Colours
    lists: Listing
    setting: Setting
    viewing: Viewing


class Colouring:
    """Holds what the pointer does while the colour panel is up; all else is in the job."""

    def __init__(self, bench: WithHands) -> None:
        self._bench = bench
        self._name: ToolName = "fill"
        self._laying = Laying()
        self._tool = ColourTool(lambda: self.page_shown, self._called)
        self._brush = BrushTool()
        self._keys: ColourKeys | None = None
        self._foreseeing = Line(bench.workers, lambda error: self._say(said(error)))
        self._awaited: tuple[Shown, Flats] | None = None
        self._foreseen: Foreseen | None = None
        self.misses: Callable[[Spot], bool] = lambda _: False

    def connect(self, window: Window) -> None:
        """Listen to the panel, the tools and the page's keys."""
        window.side.made.connect(self._listen)
        self._tool.clicked.connect(self._click)
        self._tool.drew.connect(self._draw)
        self._brush.drawn.connect(self._paint)
        window.layer_held.connect(self._show_layer)
        self._bench.setting.other_tool = self.tool
        self._bench.engine.drawn.connect(self._foresee)
        self._keys = ColourKeys(window.page)
        self._keys.chose.connect(self._bench.colours.choose)
        self._keys.sized.connect(self._size)
        self._keys.stepped.connect(self._step)
        self._keys.emptied.connect(self._empty)

    def _listen(self, name: str) -> None:
        if name == "colour":
            self._bench.window.colours.laid.connect(self._lay)
            self._bench.window.colours.flats_changed.connect(self._change_flats)

    def commands(self) -> dict[str, Callable[[], object]]:
        """The commands of colouring."""
        tools = {name: partial(self._take, name) for name in (*ASKED, "hold brush")}
        return tools | {
            "colour": self._turn_to,
            "hold ink": lambda: self._hold(Everywhere(), tr("hold all ink")),
            "distinct": lambda: self._edit(colouring.distinct(self._steps)),
            "clear colours": lambda: self._edit(colouring.clear(self._steps)),
        }

    def checked(self) -> frozenset[str]:
        """Which of its commands that stay on are on."""
        on = {self._name} if self._is_open else set[str]()
        return frozenset(on | ({"ink profile"} if self._bench.colours.by_profile else set()))

    # --- what there is

    @property
    def _steps(self) -> StepList:
        return self._bench.lists.in_hand()

    @property
    def _listed(self) -> bool:
        """Whether there is a list to be coloured behind."""
        return list_shown(self._bench.desk, self._bench.known) is not None

    @property
    def _is_open(self) -> bool:
        return self._bench.desk.looking.aside == "colour"

    @property
    def busy(self) -> bool:
        """Whether areas are being looked for."""
        return self._foreseeing.busy

    @property
    def page_shown(self) -> Sheet | None:
        """The page as it is shown; before its first fill with the areas that it will have."""
        shown, seen = self._bench.engine.shown, self._foreseen
        if seen is not None and seen.shown is shown:
            return seen.laid
        return None if shown is None else shown.sheet

    def _foresee(self) -> None:
        """Have the areas of a page without flats found, while they may be filled."""
        engine, shown = self._bench.engine, self._bench.engine.shown
        if self._foreseen is not None and self._foreseen.shown is not shown:
            self._foreseen = None
        if shown is None or not engine.true or shown.sheet.flats is not None or not (
            self._is_open and self._name in _ON_AREAS and self._listed
        ):
            return
        step = first_step(colouring.flats_of(self._steps))
        known = self._awaited
        if known is None or known[0] is not shown or known[1] != step:
            self._awaited, each = (shown, step), self._bench.workers.each
            self._foreseeing.ask(
                lambda watch: foresee(shown, step, each, watch), self._take_foreseen)

    def _take_foreseen(self, seen: Foreseen) -> None:
        self._foreseen = seen
        self._bench.window.page.update()

    def _called(self, area: int) -> str:
        """What a person calls the colour of an area."""
        sheet = self.page_shown
        assert sheet is not None
        return self._bench.colours.palette.said(sheet.palette[area])

    def _say(self, text: str) -> None:
        self._bench.window.notice.show_said(text)

    @property
    def picks_marks(self) -> bool:
        """Whether a click colours the mark that it means."""
        return self._is_open and self._name == "hold mark" and self._listed

    @property
    def mark_colour(self) -> Rgb | None:
        """What colour a mark takes; None where none is coloured."""
        colours = self._bench.colours
        named = colours.palette.colours[colours.chosen : colours.chosen + 1]
        return named[0].colour if self.picks_marks and named else None

    # --- showing

    def tool(self) -> Tool | None:
        """What the pointer does while the panel is up; None where it is not."""
        if not self._is_open or self._bench.desk.page is None:
            return None
        return self._brush if self._name == "hold brush" else self._tool

    def show(self) -> None:
        """Show the palette, the page's flats, and the tool in the pointer's hand."""
        window, tool = self._bench.window, self.tool()
        if self._keys is not None:
            self._keys.serve(tool)
        if (tool or window.page.tool) in (self._tool, self._brush):
            self._bench.setting.show_hold()
        sheet = self.page_shown
        if sheet is not None:
            self._brush.set_brush(self._laying.width, self._laying.soft, sheet.ppi)
        if self._name in ASKED:
            how, asked, areas = ASKED[self._name]
            self._tool.take(how, asked, areas=areas)
        if self._is_open:
            window.colours.show_colours(self._shown())
        self._foresee()

    def _shown(self) -> ColoursShown:
        colours, page = self._bench.colours, self._bench.desk.page is not None
        return ColoursShown(
            colours.palette.name, colours.swatches, colours.chosen, self._name, self._laying,
            Limit(most=colours.palette.most_ink),
            colouring.flats_of(self._steps) if page else None, colours.source, page,
        )

    def _show_layer(self, layer: Layer) -> None:
        """A key is held that shows one layer of the page, or let go."""
        self._tool.hush(on=layer != "all")
        self._bench.engine.show_layer(layer)

    def _take(self, name: str) -> None:
        """Put another tool into the pointer's hand."""
        self._name = cast(ToolName, name)
        self._turn_to()
        self._bench.window.page.setFocus()

    def _turn_to(self) -> None:
        self._bench.viewing.look(self._bench.desk.looking.beside("colour"))

    def _size(self, field: Literal["width", "soft"], larger: bool) -> None:
        value = next_size(field, getattr(self._laying, field), larger=larger)
        self._lay((field,), value)

    def _step(self, by: int) -> None:
        """Put the pointer on the next area, the largest first."""
        sheet, page = self.page_shown, self._bench.window.page
        lay = page.lay
        order = () if sheet is None else largest_first(sheet)
        if sheet is None or lay is None or not order:
            self._say(tr("There are no areas yet: fill one, or give all distinct colours."))
            return
        here = 0 if lay.pointer is None else area_at(sheet, lay.spot(lay.pointer))
        place = (order.index(here) + by) % len(order) if here in order else 0
        spot = spot_in(sheet, order[place])
        if not page.rect().contains(lay.at(spot).toPoint()):
            self._bench.viewing.show_place(*spot, lay.view.scale)
        page.point_at(spot)

    # --- the page

    def _edit(self, edit: Edit | None) -> None:
        """One change of the list of the page in hand; a step before it stays chosen."""
        desk = self._bench.desk
        if not self._listed:
            self._say(tr("The page is still being read: a list is proposed for it first."))
        elif edit is not None and edit.chosen is not None:
            stays = desk.step if desk.step is not None and desk.step < edit.chosen else None
            self._bench.lists.edit(replace(edit, chosen=stays))

    def _click(self, spot: Spot, after: bool) -> None:
        """The pointer's tool was used on a spot of the page."""
        sheet = self.page_shown
        if sheet is None or not _on_page(sheet, spot):
            return
        if self._name == "pick colour":
            self._pick(spot, after=after)
        elif self._name == "hold mark" and self.misses(spot):
            self._say(NO_MARK)
        elif self._name == "hold mark":
            self._hold(colouring.marked(sheet, spot), tr("hold a mark"))
        elif sheet.flats is not None and not area_at(sheet, spot):
            self._say(tr("Here is only ink: click beside the line."))
        else:
            named = self._bench.colours.in_hand()
            if named is not None:
                self._edit(colouring.fill(self._steps, sheet, spot, named))

    def _empty(self, spot: Spot) -> None:
        sheet = self.page_shown
        if sheet is not None and _on_page(sheet, spot):
            self._edit(colouring.empty(self._steps, sheet, spot))

    def _pick(self, spot: Spot, *, after: bool) -> None:
        frame, shown = self._bench.window.page.frame, self._bench.engine.shown
        colour = colour_at(shown.sheet, spot) if after and shown is not None else None
        if colour is None and frame is not None:
            pixels = frame.after if after and frame.after is not None else frame.before
            colour = pixel_at(pixels, frame.view, spot)
        if colour is not None:
            self._bench.colours.take_up(colour)

    def _draw(self, drawn: tuple[Spot, ...]) -> None:
        """A line was drawn with the pointer's tool."""
        sheet = self.page_shown
        if sheet is None:
            return
        if self._name == "hold outline":
            area = colouring.outlined(sheet, drawn)
            if area is not None:
                self._hold(area, tr("hold the ink of an area"))
        elif self._name == "join":
            edit = colouring.join(self._steps, sheet, drawn)
            self._edit(edit)
            if edit is None:
                self._say(tr("The line must go through two areas or more."))
        elif self._name == "cut":
            self._edit(colouring.cut(self._steps, sheet, drawn))

    def _paint(self, drawn: tuple[Spot, ...]) -> None:
        sheet = self.page_shown
        if sheet is not None:
            self._hold(colouring.brushed(sheet, drawn, self._laying), tr("brush colour into ink"))

    def _hold(self, area: Everywhere | Mark | Outline | Brush, name: str) -> None:
        named = self._bench.colours.in_hand()
        if named is not None:
            self._edit(colouring.hold(
                self._steps, area, named.colour, self._laying,
                f"{name} {tr('in')} {named.said}"))

    # --- values of the panel's sentences

    def _lay(self, path: tuple[str, ...], value: Any) -> None:
        self._laying = cast(Laying, _with_value(self._laying, path, value))
        self.show()

    def _change_flats(self, path: tuple[str, ...], value: Any) -> None:
        index = colouring.flats_index(self._steps)
        if index is not None:
            self._bench.lists.change(index, path, value)


def _with_value(step: Step, path: tuple[str, ...], value: Any) -> Step:
    """The step with another value or way at a path; as it is where that would be wrong."""
    new = to_way(step, path, value) if isinstance(value, type) else changed(step, path, value)
    return step if wrong(new) else new


def _on_page(sheet: Sheet, spot: Spot) -> bool:
    height, width = sheet.shape
    return 0 <= spot[0] < width and 0 <= spot[1] < height
