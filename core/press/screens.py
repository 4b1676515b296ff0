"""From graded cover to black and white pixels: a cut, a screen, or error diffusion.

A screen is a *supercell*: a square of n x n cells whose corners lie on whole pixels, so that it
tiles the page without a seam at any angle. Its pixels are ranked by the shape of the dot, and the
rank is the tone from which a pixel turns black. So the mean area over a supercell is the asked
tone to within one pixel, whatever the ruling; ruling and angle are those of the nearest such
square, and ``Screen.made`` says what they are.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from core.fault import Fault, Refused
from core.press.diffusion import diffuse
from core.sheet import Plane, full_scale, plane_type

Bits = npt.NDArray[np.bool_]
"""(H, W): True is ink."""

Dot = Literal["round", "line"]

_MOST_CELLS = 14  # along a side: 196 cells, over which the mean area is exact
_LARGEST = 1 << 21  # pixels of a supercell
_ALIKE = 1e-4  # of a side: squares that miss their corners by this little are alike


@dataclass(frozen=True)
class Plain:
    """Ink where the cover is ``percent`` or more."""

    percent: float = 50.0

    def __post_init__(self) -> None:
        if not 0 < self.percent <= 100:
            raise Refused(Fault("a cut lies above 0 % and up to 100 %", remedy="give 50 %"))

    def cut(self, alpha: Plane, top: int, ppi: float, left: int = 0) -> Bits:  # noqa: ARG002
        """The part of a page (H, W) that starts at row ``top`` and column ``left``.

        >>> Plain().cut(np.array([[127, 128]], np.uint8), 0, 600).tolist()
        [[False, True]]
        """
        return np.asarray(alpha >= math.ceil(self.percent / 100 * full_scale(alpha)))


@dataclass(frozen=True)
class Screen:
    """Dots or lines of ``ruling`` to the inch, turned by ``angle`` degrees against the rows.

    Angles run counter-clockwise from the horizontal, as printers count them.
    """

    ruling: float
    angle: float = 45.0
    dot: Dot = "round"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.angle) and 1 <= self.ruling <= 1000):
            raise Refused(Fault("a screen has 1 to 1000 lines per inch, and an angle",
                                remedy="give its ruling anew"))

    def cut(self, alpha: Plane, top: int, ppi: float, left: int = 0) -> Bits:
        """The part of a page (H, W) that starts at row ``top`` and column ``left`` of the page.

        >>> half = Screen(100, 0).cut(np.full((160, 160), 128, np.uint8), 0, 1600)
        >>> round(float(half.mean()), 3)
        0.502
        """
        cell = self.made(ppi)
        rows = _rows_of(cell, self.dot, full_scale(alpha))
        out = np.empty(alpha.shape, np.bool_)
        row = 0
        while row < len(alpha):
            some = rows.at(top + row, len(alpha) - row, left, alpha.shape[1])
            done = slice(row, row + len(some))
            np.greater(alpha[done], some, out=out[done])
            row += len(some)
        return out

    def made(self, ppi: float) -> "Supercell":
        """The supercell at that resolution, with its true ruling and angle."""
        if ppi < 2 * self.ruling:
            raise Refused(Fault(f"{ppi:g} ppi are too few for {self.ruling:g} lines per inch",
                                remedy="give at least twice as many"))
        return _supercell(self.ruling, self.angle % 90 if self.dot == "round" else self.angle % 180,
                          ppi)


@dataclass(frozen=True)
class Diffusion:
    """Each pixel's error goes to its neighbours; no pattern, but no solid edges either."""

    def cut(self, alpha: Plane, top: int, ppi: float, left: int = 0) -> Bits:  # noqa: ARG002
        """A whole page (H, W), for each pixel hangs on those before it."""
        return diffuse(alpha)


Cut = Plain | Screen | Diffusion


@dataclass(frozen=True)
class Supercell:
    """A square of ``cells`` x ``cells`` cells; its lower side runs (``across``, ``up``) pixels."""

    across: int
    up: int
    cells: int
    ppi: float

    @property
    def ruling(self) -> float:
        """Lines per inch."""
        return self.ppi * self.cells / math.hypot(self.across, self.up)

    @property
    def angle(self) -> float:
        """Degrees counter-clockwise from the horizontal."""
        return math.degrees(math.atan2(self.up, self.across))

    @property
    def pixels(self) -> int:
        """How many pixels it has: as many tones in the mean."""
        return self.across**2 + self.up**2


@lru_cache(maxsize=64)
def _supercell(ruling: float, angle: float, ppi: float) -> Supercell:
    """The most faithful square of whole pixels; the larger one, with more tones, of two alike."""
    best: tuple[float, Supercell] | None = None
    for cells in range(1, _MOST_CELLS + 1):
        side = cells * ppi / ruling
        right, up = (side * turn(math.radians(angle)) for turn in (math.cos, math.sin))
        made = Supercell(round(right), round(up), cells, ppi)
        if made.pixels > _LARGEST:
            break
        error = math.hypot(made.across - right, made.up - up) / side
        if best is None or error < best[0] + _ALIKE:
            best = error, made
    assert best is not None
    return best[1]


@dataclass(frozen=True, eq=False)
class _Rows:
    """Thresholds of a supercell as rows: they repeat across, and shift from block to block down."""

    block: Plane
    shift: int
    period: int

    def at(self, row: int, most: int, left: int, width: int) -> Plane:
        """Thresholds of some rows from that row of the page on, 1 to ``most``, and (.., width)."""
        start = (left - row // len(self.block) * self.shift) % self.period
        first = row % len(self.block)
        rows: Plane = self.block[first : first + most]
        if start + width > rows.shape[1]:
            return rows[:, (start + np.arange(width)) % self.period]
        return rows[:, start : start + width]


_ROOM = 1 << 15  # pixels of a page's row that need no fresh array


@lru_cache(maxsize=8)
def _rows_of(cell: Supercell, dot: Dot, full: int) -> _Rows:
    """Pixel ranks as thresholds: a pixel is ink where its alpha lies above.

    The lattice of (a, b) and (-b, a) repeats across after (a^2 + b^2) / g pixels and, g rows
    down, moved by some ``shift``; g is the greatest common divisor of a and b.
    """
    a, b = cell.across, cell.up
    deep = math.gcd(a, b)
    period = cell.pixels // deep
    y, x = np.indices((deep, period))
    rank = np.argsort(_order(x.ravel(), y.ravel(), cell, dot), kind="stable")
    threshold = np.empty(rank.size, np.int64)
    threshold[rank] = (2 * np.arange(rank.size) + 1) * full // (2 * rank.size)
    block = threshold.reshape(deep, period).astype(plane_type(full))
    room = np.arange(period + _ROOM) % period
    return _Rows(np.ascontiguousarray(block[:, room]), _shift(a, b, deep, period), period)


def _shift(a: int, b: int, deep: int, period: int) -> int:
    """How far right the pattern has moved, ``deep`` rows down.

    Rows count downwards, so the square's sides are (a, -b) and (b, a).
    """
    # find p, q with -p b + q a = deep; the pattern is then the same at (p a + q b, deep)
    p = 0 if b == 0 else -pow(b // deep, -1, abs(a) // deep) if a else -1
    if b == 0:
        q = deep // a
    elif a == 0:
        q = 0
    else:
        q = (deep + p * b) // a
    return (p * a + q * b) % period


def _order(
    x: npt.NDArray[np.int64], y: npt.NDArray[np.int64], cell: Supercell, dot: Dot,
) -> npt.NDArray[np.float64]:
    """In which order the pixels of a supercell turn black: small first."""
    a, b, side = cell.across, cell.up, cell.pixels
    # whole numbers: along the sides of the square, in units of 1 / side of it
    along, over = (x * a - y * b) * cell.cells, (x * b + y * a) * cell.cells
    u, v = (((2 * w + cell.cells) % (2 * side)) / (2 * side) for w in (along, over))
    bump = np.cos(2 * np.pi * (u - 0.5)) + np.cos(2 * np.pi * (v - 0.5))
    shape = bump if dot == "round" else np.cos(2 * np.pi * (v - 0.5))
    # pixels of equal shape take turns from cell to cell, far apart, so that no dot leads
    turns = (np.floor_divide(along, side) * 0.7548776662 + np.floor_divide(over, side)
             * 0.5698402910 + np.floor(u * 8) * 0.1234 + np.floor(v * 8) * 0.3819) % 1
    order: npt.NDArray[np.float64] = -np.round(shape, 9) + turns * 1e-10
    return order
