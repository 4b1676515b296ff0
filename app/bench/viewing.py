"""How the page is looked at: zoom, ground, divider; and what is picked from it."""

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from app.bench.listing import Listing
from app.bench.seat import Seat
from app.bench.setting import Setting
from app.bench.state.desk import Looking
from app.bench.state.grounds import next_ground
from app.bench.state.picture import Ground
from app.bench.state.scale import ONE, Scale, View, fit, next_scale, scale_below
from app.bench.state.strip import Which, tone_near
from app.bench.views.tools import Picker
from app.bench.views.window import Window
from core.units import MM_PER_INCH


class WithTools(Seat, Protocol):
    """A bench that also has the hands that change lists and hold the tools of steps."""

    lists: Listing
    setting: Setting


class Viewing:
    """Takes what the page reports about being looked at, and puts tools into the pointer's hand.

    ``dots_per_mm`` is how many pixels of the screen a millimetre has, as it was measured; 0
    where it was not.
    """

    def __init__(self, bench: WithTools) -> None:
        self._bench = bench
        self.dots_per_mm = 0.0
        self._room: tuple[int, int] | None = None
        self._whole = 0
        self._picking: Which = "white"
        self._picker = Picker()

    def connect(self, window: Window) -> None:
        """Listen to the page and the bar."""
        page = window.page
        page.pushed.connect(lambda x, y: self._look_at(lambda view: view.pushed(x, y)))
        page.zoomed.connect(self._zoom)
        page.resized.connect(self._make_room)
        page.divided.connect(
            lambda share: self.look(replace(self._looking, divider=share, side="split")))
        page.released.connect(self._release)
        window.bar.ground_chosen.connect(self._lay_on)
        window.side.turned.connect(lambda name: self.look(self._looking.beside(name)))
        self._picker.picked.connect(self._pick)

    def commands(self) -> dict[str, Callable[[], object]]:
        """The commands of looking."""
        return {
            "fit": self._fit,
            "one": lambda: self._zoom_to(ONE),
            "in": lambda: self._zoom(True, None, None),
            "out": lambda: self._zoom(False, None, None),
            "print size": self._print_size,
            "split": lambda: self.look(replace(
                self._looking, side="after" if self._looking.side == "split" else "split")),
            "flip": lambda: self.look(self._looking.flipped()),
            "ground": lambda: self._lay_on(next_ground(self._looking.ground)),
            "pick black": lambda: self._start_pick("black"),
            "pick white": lambda: self._start_pick("white"),
        }

    @property
    def _looking(self) -> Looking:
        return self._bench.desk.looking

    def look(self, looking: Looking) -> None:
        """Look at the page in another way."""
        bench = self._bench
        held = bench.desk.held
        bench.desk = replace(bench.desk, looking=looking)
        bench.window.page.show_side(looking.side, looking.divider)
        bench.window.page.show_view(looking.view)
        bench.window.side.show_aside(looking.aside)
        bench.engine.look(looking.view, looking.ground)
        if bench.desk.held == held:
            bench.show_commands()
        else:
            bench.show_list()

    def _look_at(self, change: Callable[[View], View]) -> None:
        view = self._looking.view
        if view is not None and self._bench.desk.page is not None:
            self.look(replace(self._looking, view=change(view)))

    def _make_room(self, width: int, height: int) -> None:
        """The page has other room.

        A notice that comes or goes at its foot moves nothing, but a page that is fitted is then
        fitted above it; not while the pointer is on it with a tool, which would be elsewhere.
        """
        window, view = self._bench.window, self._looking.view
        whole = round(window.room_for_page() * window.page.devicePixelRatio())
        still = window.page.tool is not None and window.page.underMouse()
        above = (view is None or view.fitted) and not still
        self._room = room = (width, height if above else max(height, whole))
        noticed, self._whole = whole == self._whole, whole
        if view is None or view.room == room:
            return
        if noticed and not view.fitted and view.room[0] == width:
            self._look_at(lambda view: replace(view, room=room))
        else:
            self._look_at(lambda view: view.placed(room, view.page))

    def _fit(self) -> None:
        """Show all of the page, above a notice too."""
        page = self._bench.window.page
        ratio = page.devicePixelRatio()
        room = round(page.width() * ratio), round(page.height() * ratio)
        self._look_at(lambda view: fit(room, view.page))

    def size_page(self, width: int, height: int) -> None:
        """The page has another size; place and zoom stay where they can."""
        widget = self._bench.window.page
        view, page = self._looking.view, (width, height)
        room = self._room or (widget.width(), widget.height())
        placed = fit(room, page) if view is None else view.placed(room, page)
        self.look(replace(self._looking, view=placed))

    def _zoom(self, larger: bool, x: float | None, y: float | None) -> None:
        def nearer(view: View) -> View:
            at_x = view.room[0] / 2 if x is None else x
            at_y = view.room[1] / 2 if y is None else y
            return view.zoomed(next_scale(view.scale, larger=larger), at_x, at_y)

        self._look_at(nearer)

    def _zoom_to(self, scale: Scale) -> None:
        self._look_at(lambda view: view.zoomed(scale, view.room[0] / 2, view.room[1] / 2))

    def show_place(self, x: float, y: float, scale: Scale = ONE) -> None:
        """Bring a place of the page, in its pixels, to the middle."""
        def there(view: View) -> View:
            near = view.zoomed(scale, view.room[0] / 2, view.room[1] / 2)
            middle_x, middle_y = near.page_at(near.room[0] / 2, near.room[1] / 2)
            across, down = ((a - b) * scale.value for a, b in ((middle_x, x), (middle_y, y)))
            return near.pushed(round(across), round(down))

        self._look_at(there)

    def _print_size(self) -> None:
        """A millimetre of the print becomes a millimetre of the screen."""
        bench, view = self._bench, self._looking.view
        if bench.engine.page is not None and bench.desk.page is not None and view is not None:
            printing = bench.desk.job.now.printing_of(bench.desk.page)
            size = printing.size_of(view.page[::-1], bench.engine.page.scan.ppi)
            dots = (self.dots_per_mm or self.dots_by_system()) * MM_PER_INCH
            self._zoom_to(scale_below(dots * size.scale / size.ppi))

    def dots_by_system(self) -> float:
        """Screen pixels per millimetre, if the screen tells its size rightly."""
        screen = self._bench.window.screen()
        return screen.physicalDotsPerInch() * screen.devicePixelRatio() / MM_PER_INCH

    def _lay_on(self, ground: Ground) -> None:
        self.look(replace(self._looking, ground=ground))

    # --- the picker

    def _start_pick(self, which: Which) -> None:
        self._picking = which
        self._bench.window.page.set_tool(self._picker)

    def _pick(self, x: float, y: float) -> None:
        """The tone under the pointer becomes the black or the white point."""
        self._bench.setting.show_hold()
        standing = self._bench.engine.standing
        if standing is None:
            return
        tone = tone_near(standing.grey, round(x), round(y))
        if tone is not None:
            self._bench.lists.set_point(self._picking, tone)

    def _release(self) -> None:
        """A pick is given up; else no step is chosen, and the page is pushed again."""
        if self._bench.window.page.tool is not self._picker:
            self._bench.desk = replace(self._bench.desk, step=None)
        self._bench.show_list()
