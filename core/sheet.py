"""One page as it passes through the steps."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Protocol, TypeVar

import numpy as np
import numpy.typing as npt

from core.fault import Watch, unwatched
from core.placing import AS_SCANNED, Placing

Plane = npt.NDArray[np.unsignedinteger[Any]]
"""uint8 or uint16, (H, W) or (H, W, 3); 0 is black or no ink, the largest value white or ink."""

Rgb = tuple[int, int, int]
"""An sRGB-coded colour, 0-255 each."""

Each = Callable[[Callable[[tuple[int, int]], Any], Iterable[tuple[int, int]]], Iterable[Any]]
"""``map``, or something like it that works on several bands at once and keeps their order."""

T = TypeVar("T")

BLACK: Rgb = (0, 0, 0)
WHITE: Rgb = (255, 255, 255)

BAND_ROWS = 128
"""Rows that are folded, and deflated, together. It shows in the bytes of files: never change it."""


def full_scale(plane: Plane) -> int:
    """The value of white: 255 or 65535.

    >>> full_scale(np.zeros((1, 1), np.uint16))
    65535
    """
    return int(np.iinfo(plane.dtype).max)


def plane_type(full: int) -> type[np.uint8] | type[np.uint16]:
    """What a plane whose white is 255, or 65535, is made of.

    >>> plane_type(65535)
    <class 'numpy.uint16'>
    """
    return np.uint8 if full == 255 else np.uint16


@dataclass(frozen=True)
class Paper:
    """The bare paper of a page, as read off its histogram; all in tone 0-255.

    ``peak`` is the tone of most of the paper, ``noise`` its spread (one standard
    deviation), ``channels`` the peak of each channel, None on a page without a colour
    plane, and ``ink`` each channel's ink peak.
    """

    peak: float
    noise: float
    channels: tuple[float, float, float] | None = None
    ink: Rgb = BLACK

    @property
    def colour(self) -> tuple[float, float, float]:
        """The paper's red, green and blue.

        >>> Paper(peak=228, noise=3).colour
        (228, 228, 228)
        """
        return self.channels or (self.peak, self.peak, self.peak)


@dataclass(frozen=True)
class Overlay:
    """How the layers of a coloured page lie: from the bottom paper, colour and lines.

    ``lines`` and ``colour`` are opacities, 0-1; with ``colour_above`` the flats lie over the
    lines. ``paper`` is the colour of what lies beneath both.
    """

    lines: float = 1.0
    colour: float = 1.0
    paper: Rgb = WHITE
    colour_above: bool = False


@dataclass(frozen=True, eq=False)
class Sheet:
    """A page or a band of its rows.

    ``grey`` (H, W), ``colour`` (H, W, 3) and ``alpha`` (H, W) are uint8 or uint16,
    all of one dtype, sRGB-coded, 0 black. A scan comes with ``grey`` or ``colour``;
    once its darkness is lifted it has ``alpha`` (full scale is all ink) and no
    ``grey``. ``ink`` is the colour of that ink, or None where ``colour`` holds the
    ink's own colour pixel by pixel. ``ppi`` is pixels per inch, both ways.

    A page on which colour has begun has ``flats`` (H, W) uint8 or uint16, for each pixel a
    place in ``palette``, and ``held`` (H, W) uint8, not 0 where the ink took a colour by hand.
    ``overlay`` says how the layers lie, ``placing`` where the page lies on its scan.

    >>> Sheet(ppi=300, grey=np.zeros((4, 6), np.uint8)).shape
    (4, 6)
    """

    ppi: float
    grey: Plane | None = None
    colour: Plane | None = None
    alpha: Plane | None = None
    ink: Rgb | None = BLACK
    flats: Plane | None = None
    palette: tuple[Rgb, ...] = ()
    held: Plane | None = None
    overlay: Overlay = Overlay()
    placing: Placing = AS_SCANNED

    def __post_init__(self) -> None:
        planes = [p for p in (self.grey, self.colour, self.alpha) if p is not None]
        if not planes:
            raise ValueError("a sheet needs a plane")
        laid = [p for p in (self.flats, self.held) if p is not None]
        if len({p.dtype for p in planes}) != 1 or len({p.shape[:2] for p in planes + laid}) != 1:
            raise ValueError("the planes of a sheet have one size and one depth")

    @property
    def _any(self) -> Plane:
        for plane in (self.alpha, self.grey, self.colour):
            if plane is not None:
                return plane
        raise ValueError("a sheet needs a plane")

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width in pixels."""
        height, width = self._any.shape[:2]
        return height, width

    @property
    def height(self) -> int:
        """Rows."""
        return self.shape[0]

    @property
    def full(self) -> int:
        """The value of white in these planes: 255 or 65535."""
        return full_scale(self._any)

    def rows(self, top: int, bottom: int) -> "Sheet":
        """The band of rows from ``top`` up to, not including, ``bottom``: a view, not a copy."""
        return self.each_plane(lambda plane: plane[top:bottom])

    def each_plane(self, change: Callable[[Plane], Plane]) -> "Sheet":
        """The sheet with every plane that it has changed in one way: cut, turned.

        >>> Sheet(ppi=300, grey=np.zeros((4, 6), np.uint8)).each_plane(np.transpose).shape
        (6, 4)
        """
        changed: dict[str, Any] = {name: change(plane) for name, plane in self.planes()}
        return replace(self, **changed)

    def planes(self) -> Iterator[tuple[str, Plane]]:
        """The planes that it has, by their names."""
        for name in ("grey", "colour", "alpha", "flats", "held"):
            plane = getattr(self, name)
            if plane is not None:
                yield name, plane


class Bands(Protocol):
    """Anything that gives a page by bands of rows: a file, a whole sheet, a run of steps.

    ``rows`` may be called from several threads and in any order, with
    ``0 <= top < bottom <= shape[0]``, and gives equal pixels each time. A ``Sheet`` is one.
    """

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width in pixels."""
        ...

    def rows(self, top: int, bottom: int) -> Sheet:
        """The band of rows from ``top`` up to, not including, ``bottom``."""
        ...


def spans(height: int, rows: int = BAND_ROWS) -> Iterator[tuple[int, int]]:
    """The bands of a page, from the top.

    >>> list(spans(300))
    [(0, 128), (128, 256), (256, 300)]
    """
    for top in range(0, height, rows):
        yield top, min(top + rows, height)


def by_bands(
    work: Callable[[tuple[int, int]], T], height: int, each: Each, watch: Watch,
) -> Iterator[T]:
    """What ``work`` makes of each band of a page, from the top; ``watch`` is told as it is taken.

    >>> list(by_bands(lambda span: span[1] - span[0], 130, map, unwatched))
    [128, 2]
    """
    for (_, bottom), made in zip(spans(height), each(work, spans(height)), strict=True):
        yield made
        watch(bottom, height)


def whole(page: Bands, each: Each = map, watch: Watch = unwatched) -> Sheet:
    """The whole page in memory, each band put straight into its place.

    ``each`` is ``map`` or an executor's own ``map``: bands are then read by its threads.
    ``watch`` is told of a page that is in memory too: between two steps that take it whole it
    may be stopped.

    >>> page = Sheet(ppi=300, grey=np.arange(300, dtype=np.uint16).reshape(300, 1))
    >>> whole(page) is page
    True
    """
    if isinstance(page, Sheet):
        watch(page.height, page.height)
        return page
    height, width = page.shape
    first = page.rows(0, 1)
    made: dict[str, Any] = {
        name: np.empty((height, width, *plane.shape[2:]), plane.dtype)
        for name, plane in first.planes()
    }

    def put(span: tuple[int, int]) -> None:
        band = page.rows(*span)
        for name, plane in made.items():
            plane[span[0] : span[1]] = getattr(band, name)

    for _ in by_bands(put, height, each, watch):
        pass
    return replace(first, **made)
