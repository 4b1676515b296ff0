"""Dust and hairs taken off the page, and pinholes out of its solids."""

from dataclasses import dataclass, replace
from typing import ClassVar

import cv2
import numpy as np

from app.filters.dust import PART_MM, is_dust, more_about
from app.filters.grid import Mask, fill_squares, reduced
from app.filters.hairs import find_hairs
from app.filters.pinholes import fill_pinholes
from app.filters.scraps import clear_scraps
from app.filters.specks import (
    RIM_MM,
    Bits,
    Floats,
    Specks,
    disc,
    find_marks,
    find_specks,
    ground_of,
    mark_limit,
)
from app.filters.strips import ROWS, Strip, both, side_by_side, strips
from app.filters.tint import find_stains, tints_of
from core.readings import grey_plane
from core.sheet import Paper, Plane, Sheet
from core.steps.fields import Record, either, number
from core.steps.step import Step

_ENOUGH_PPI = 290.0  # dust is looked for at no more than about this resolution
_ALONE = 3.0  # times as long as a speck: what lies there with nothing about it
_LEFT_MM = 0.4  # of paper round it, where the rest of the paper was taken away


@dataclass(frozen=True, kw_only=True)
class Following(Record):
    """What the page's own paper, as it was measured, is never as dark as."""

    words: ClassVar[str] = "the paper's own grain"


@dataclass(frozen=True, kw_only=True)
class Fixed(Record):
    """A tone, and that of the paper, by which it is told how dark a mark is."""

    words: ClassVar[str] = "{tone} on paper of {paper}"

    tone: float = number("lightest mark", "tone", 0, 255, 220)
    paper: float = number("paper", "tone", 0, 255, 230)


@dataclass(frozen=True, kw_only=True)
class Left(Record):
    """Pinholes stay."""

    words: ClassVar[str] = "pinholes stay as they are"


@dataclass(frozen=True, kw_only=True)
class Filled(Record):
    """Light spots no longer than ``hole`` in ink at least ``solid`` wide take its tone."""

    words: ClassVar[str] = "pinholes up to {hole} long are filled in ink at least {solid} wide"

    hole: float = number("longest pinhole", "mm", 0.02, 5, 0.3)
    solid: float = number("narrowest solid", "mm", 0.1, 50, 1.5)


@dataclass(frozen=True, kw_only=True)
class DropSpecks(Step):
    """Turn dust and hairs to exact white; what belongs to a drawn mark or a tone stays.

    A speck is no longer than ``size`` and has no mark of its own strength near by, nor others
    from one to the next, nor many of its kind round about, or no mark of its tint, on a coloured
    scan of tinted paper. Where the paper was taken away what is up to three times as long is one,
    if nothing else lies within 5 mm and the page's ink is darker. A hair is
    0.8 mm long at least, thin and evenly dark, and hardly anything near is as thin and as dark;
    its pieces between what it crosses count together. Dust within a tone, where the grain is of
    its kind and tint, stays. Small pieces of paper that stayed go too: those with no mark on
    them, and relief far paler than the ink about it.
    """

    kind: ClassVar[str] = "drop specks"
    edition: ClassVar[int] = 13
    whole: ClassVar[bool] = True
    clears: ClassVar[bool] = True
    words: ClassVar[str] = (
        "Drop specks darker than {limit} and up to {size} long, and hairs, if they belong to no "
        "mark; {pinholes}."
    )

    size: float = number("longest speck", "mm", 0.02, 5, 0.8)
    limit: Following | Fixed = either("what counts as a mark", Following, Fixed)
    pinholes: Left | Filled = either("pinholes", Left, Filled)

    @property
    def needs_paper(self) -> bool:
        """The paper may have been taken away before: it is measured where it still lies."""
        return isinstance(self.limit, Following)

    def settle(self, paper: Paper) -> "DropSpecks":
        """The tones of the lightest mark and of the paper become numbers.

        >>> DropSpecks().settle(Paper(peak=230, noise=4)).limit
        Fixed(tone=218.0, paper=230.0)
        """
        if isinstance(self.limit, Fixed):
            return self
        tone, peak = (min(max(float(of), 0.0), 255.0) for of in (
            mark_limit(paper.peak, paper.noise), paper.peak))
        return replace(self, limit=Fixed(tone=tone, paper=peak))

    def after(self, paper: Paper) -> Paper | None:
        """The paper stays as it was."""
        return paper

    def apply(self, sheet: Sheet) -> Sheet:
        """The page without its dust.

        >>> page = np.full((300, 300), 230, np.uint8)
        >>> page[150:153, 150:153] = 90
        >>> int(DropSpecks().apply(Sheet(ppi=300, grey=page)).grey[151, 151])
        255
        """
        side = max(1, int(sheet.ppi / _ENOUGH_PPI))
        grey = reduced(grey_plane(sheet), side)
        limit = (self.limit.tone, self.limit.paper) if isinstance(self.limit, Fixed) else None
        red_blue = None if sheet.colour is None else (
            reduced(sheet.colour[..., 0], side), reduced(sheet.colour[..., 2], side))
        dust = dust_mask(grey, sheet.ppi / side, self.size, limit, red_blue)
        cleared = replace(
            sheet, grey=_cleared(sheet.grey, dust, side, sheet.full),
            alpha=_cleared(sheet.alpha, dust, side, 0),
            colour=_cleared(sheet.colour, dust, side, sheet.full),
        )
        if isinstance(self.pinholes, Left):
            return cleared
        return fill_pinholes(cleared, self.pinholes.hole, self.pinholes.solid)


def dust_mask(
    grey: Plane, ppi: float, size: float, limit: tuple[float, float] | None = None,
    red_blue: tuple[Plane, Plane] | None = None,
) -> Mask:
    """Where dust lies on a plane (H, W), the blurred rim of each speck with it; bool (H, W).

    ``size`` is in mm; ``limit`` the tones, 0-255, of the lightest mark and of the paper, or None
    to measure them;
    ``red_blue`` two planes (H, W) of the same scan, if it has colour.

    >>> bool(dust_mask(np.full((60, 60), 230, np.uint8), 300, 0.5).any())
    False
    """
    ground = ground_of(grey, limit)
    longest = max(size, 8.0)
    marks = find_marks(grey, ppi, ground, longest)

    def specks_and_more() -> tuple[Specks, Floats]:
        specks = find_specks(grey, ppi, ground, longest, marks)
        return specks, more_about(grey, ppi, specks, ground)

    hairs, (specks, more) = both(
        lambda: find_hairs(grey, ppi, ground, marks.firm), specks_and_more)
    dust, parts = is_dust(grey, ppi, ground, specks, size, hairs, more), more > PART_MM
    mask = np.zeros(grey.shape, np.uint8)
    if red_blue is not None:
        tints = tints_of(grey, *red_blue, specks.marked, ground.paper)
        mask = find_stains(grey, tints, ppi, ground, specks, size)
    # what is left about a part of more is that
    for out, which in ((mask, dust & ~parts), (hairs, dust & parts)):
        out.ravel()[specks.pixels[which[specks.owner]]] = 1
    if not ground.taken:
        return _with_rims(mask, hairs, specks.marked, RIM_MM, ppi)
    cleared = _with_rims(mask, hairs, specks.marked, _LEFT_MM, ppi)
    clear_scraps(cleared, grey, ground, ppi, _ALONE * size)
    return cleared


def _with_rims(dust: Bits, hairs: Bits, marked: Bits, reach: float, ppi: float) -> Mask:
    """Dust and hairs with their rims, which end where that of another mark begins."""
    left, rim = disc(reach, ppi), disc(RIM_MM, ppi)
    out = np.zeros(dust.shape, np.bool_)

    def spread(strip: Strip) -> None:
        rows, wide, inner = strip
        here = (dust[wide] | hairs[wide]) > 0
        if here.any():
            about = (cv2.dilate(dust[wide], left) > 0) | (cv2.dilate(hairs[wide], rim) > 0)
            other = cv2.dilate(np.greater(marked[wide], here).view(np.uint8), rim) > 0
            out[rows] = (here | (about & ~other))[inner]

    side_by_side(spread, strips(len(dust), max(len(left), len(rim))))
    return out


def _cleared(plane: Plane | None, dust: Mask, side: int, clear: int) -> Plane | None:
    """The plane with ``clear`` in each square of ``side`` pixels that is dust."""
    if plane is None or not dust.any():
        return plane
    out = np.empty_like(plane)

    def clean(strip: Strip) -> None:
        rows = strip[0]
        out[rows] = plane[rows]
        squares = dust[rows.start // side : -(-rows.stop // side)]
        fill_squares(out[rows], np.flatnonzero(squares), side, clear)

    side_by_side(clean, strips(len(plane), rows=ROWS * side))
    return out
