"""Which page pixels lie under which screen pixels: scales, and the view of a page.

A scale is always a ratio of small whole numbers, so that a grid of screen pixels keeps its
phase on the page wherever the page is pushed: nothing shimmers, and every screen pixel
stands for the same page pixels each time.
"""

from dataclasses import dataclass, replace

UNIT = 96
"""Screen pixels in which a scale's ``parts`` come out even."""

MOST_UP = 32
_OVERSAMPLED = 1.25  # blocks to a screen pixel at least: more cost more, and show no better
_STEPS = (1 / 32, 1 / 24, 1 / 16, 1 / 12, 1 / 8, 1 / 6, 1 / 4, 1 / 3, 1 / 2,
          1, 2, 3, 4, 6, 8, 12, 16, 24, 32)


@dataclass(frozen=True)
class Scale:
    """Screen pixels per page pixel.

    Enlarged, each page pixel becomes ``up`` by ``up`` screen pixels. Reduced, blocks of
    ``block`` by ``block`` page pixels are averaged first and ``parts`` such blocks then
    become ``UNIT`` screen pixels; ``parts`` = ``UNIT`` means that the blocks are the pixels.
    """

    up: int = 1
    block: int = 1
    parts: int = UNIT

    @property
    def value(self) -> float:
        """Screen pixels per page pixel.

        >>> Scale(block=4).value
        0.25
        """
        return self.up * UNIT / (self.block * self.parts)

    def shown(self, length: int) -> int:
        """Screen pixels of a side of ``length`` page pixels; whole ones only, at least 1.

        >>> Scale(block=4).shown(103)
        25
        """
        if self.up > 1:
            return length * self.up
        return max(length // self.block * UNIT // self.parts, 1)


ONE = Scale()


def scale_below(wanted: float) -> Scale:
    """The largest scale that is not larger than ``wanted`` (within a hundredth below 1).

    >>> scale_below(0.25), scale_below(2.9).up
    (Scale(up=1, block=4, parts=96), 2)
    """
    if wanted >= 1:
        return Scale(up=min(int(wanted), MOST_UP))
    inverse = min(1 / wanted, 4096.0)
    if abs(inverse - round(inverse)) < 1e-9:
        return Scale(block=round(inverse))
    block = max(int(inverse / _OVERSAMPLED), 1)
    return Scale(block=block, parts=-int(-UNIT * inverse / block // 1))


def next_scale(scale: Scale, *, larger: bool) -> Scale:
    """The next of the even steps of zoom, up or down.

    >>> next_scale(ONE, larger=True).up, next_scale(ONE, larger=False).block
    (2, 2)
    """
    here = scale.value
    if larger:
        steps = [step for step in _STEPS if step > here * 1.001]
        return scale_below(steps[0]) if steps else scale
    steps = [step for step in _STEPS if step < here / 1.001]
    return scale_below(steps[-1]) if steps else scale


@dataclass(frozen=True)
class Box:
    """A rectangle in whole pixels: ``left`` and ``top`` belong to it, ``right`` does not."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def width(self) -> int:
        """Columns."""
        return self.right - self.left

    @property
    def height(self) -> int:
        """Rows."""
        return self.bottom - self.top

    def clipped(self, width: int, height: int) -> "Box":
        """What of it lies within (0, 0, width, height).

        >>> Box(-5, 2, 9, 9).clipped(8, 20)
        Box(left=0, top=2, right=8, bottom=9)
        """
        left, top = min(max(self.left, 0), width), min(max(self.top, 0), height)
        return Box(left, top, min(max(self.right, left), width), min(max(self.bottom, top), height))


@dataclass(frozen=True)
class View:
    """How a page lies in a window of ``room`` (width, height) screen pixels.

    ``page`` is its width and height in page pixels; ``left`` and ``top`` say where its corner
    lies in the window. ``fitted`` means that it follows the window's size.
    """

    room: tuple[int, int]
    page: tuple[int, int]
    scale: Scale = ONE
    left: int = 0
    top: int = 0
    fitted: bool = True

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the whole page on the screen."""
        return self.scale.shown(self.page[0]), self.scale.shown(self.page[1])

    @property
    def seen(self) -> Box:
        """The part of the page that is in the window, in screen pixels from its corner."""
        width, height = self.room
        box = Box(-self.left, -self.top, width - self.left, height - self.top)
        return box.clipped(*self.size)

    def placed(self, room: tuple[int, int], page: tuple[int, int]) -> "View":
        """The same view in another window or on another page: place and zoom are kept.

        >>> View((100, 100), (400, 200)).placed((200, 200), (400, 200)).scale.block
        2
        """
        if self.fitted:
            return fit(room, page)
        middle = (self.room[0] / 2 - self.left, self.room[1] / 2 - self.top)
        moved = replace(
            self, room=room, page=page,
            left=round(room[0] / 2 - middle[0]), top=round(room[1] / 2 - middle[1]),
        )
        return moved.kept()

    def zoomed(self, scale: Scale, x: float, y: float) -> "View":
        """The scale changed about the window's point (x, y), which stays where it is."""
        page_x, page_y = self.page_at(x, y)
        new = replace(self, scale=scale, fitted=False)
        left, top = round(x - page_x * scale.value), round(y - page_y * scale.value)
        return replace(new, left=left, top=top).kept()

    def pushed(self, right: int, down: int) -> "View":
        """The page pushed by so many screen pixels."""
        return replace(self, left=self.left + right, top=self.top + down, fitted=False).kept()

    def kept(self) -> "View":
        """Centred where the page is smaller than the window, else no gap wider than a third."""
        width, height = self.size
        return replace(
            self, left=_kept(self.left, width, self.room[0]),
            top=_kept(self.top, height, self.room[1]),
        )

    def page_at(self, x: float, y: float) -> tuple[float, float]:
        """The page's point, in page pixels, under the window's point."""
        return (x - self.left) / self.scale.value, (y - self.top) / self.scale.value


def fit(room: tuple[int, int], page: tuple[int, int]) -> View:
    """The whole page, as large as the window allows; a small page is not enlarged past 1:1.

    >>> view = fit((500, 300), (1000, 1000))
    >>> view.size, view.left
    ((300, 300), 100)
    """
    wanted = min(room[0] / page[0], room[1] / page[1], 1.0)
    return View(room, page, scale_below(max(wanted, 1 / 4096))).kept()


def _kept(corner: int, length: int, room: int) -> int:
    if length <= room:
        return (room - length) // 2
    gap = room // 3
    return min(max(corner, room - length - gap), gap)
