"""What would print and should not: every region that no drawn mark accounts for."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from app.proof.cells import Mask, grid_of, side_of, tally
from app.proof.marks import Drawn
from app.proof.regions import Labels, Region, Scale, label, numbered
from core.press.presses import Press
from core.sheet import Each, Plane
from core.tone import Table
from core.units import px_to_mm

LISTED = 200
"""Regions that are listed; the figures count all."""

_SPECK_MM2 = 1.0  # a region that is larger is not called dust
_CRUMB = 0.25  # cover from which on a region near a mark is its ink: paper is never so dark


@dataclass(frozen=True, eq=False)
class Residue:
    """What would print as dirt.

    ``regions`` from the worst on, at most ``LISTED``; ``count`` and ``area`` (printed mm2) of
    all, ``will`` the mm2 of those that will surely print. ``cells`` (h, w) marks them, for a
    hatch over the page: 0 clean, 1 may print, 2 will print.
    """

    regions: tuple[Region, ...]
    count: int
    area: float
    will: float
    cells: npt.NDArray[np.uint8]

    @property
    def clean(self) -> bool:
        """Whether nothing would print that should not."""
        return self.count == 0


def would_print(
    alpha: Plane, drawn: Drawn, press: Press, *, ppi: float, ppi_printed: float,
    crumbs: bool = True, each: Each = map, table: Table | None = None,
) -> Residue:
    """Find what would print of the paper: ``alpha`` (H, W) is that of the rendition.

    With a ``table`` ``alpha`` is any plane of which the table makes the alpha.

    Each region is the pixels of ``may_print`` cover or more that lie in touching cells no drawn
    mark reaches. It *will* print where their mean cover is ``holds`` or more. Crumbs of ink, a
    quarter full or more and within 1 mm of a mark, belong to it unless they are dust; on a screened
    page, where every dot is full, ``crumbs`` is to be off.

    >>> clean = Drawn.of(np.zeros((25, 25), bool), np.zeros((25, 25), bool))
    >>> page = np.zeros((100, 100), np.uint8)
    >>> page[40:44, 40:48] = 10
    >>> found = would_print(page, clean, Press(), ppi=600, ppi_printed=600)
    >>> found.count, found.regions[0].verdict, round(found.area, 4)
    (1, 'will print', 0.0573)
    """
    scale = Scale(side_of(ppi), ppi, ppi_printed)
    drawn = drawn.on(grid_of((alpha.shape[0], alpha.shape[1]), scale.side))
    counted = tally(alpha, least_of(press.may_print), scale.side, each, table=table,
                    within=~drawn.rim)
    labels = label(counted.pixels > 0, counted)
    cover = labels.alpha / np.maximum(labels.pixels, 1) / 255
    dusty = labels.any_of(drawn.dust)
    dirt = ~(labels.any_of(drawn.near) & (cover >= _CRUMB) & ~dusty & crumbs)
    will = dirt & (cover >= press.holds / 100)
    dirt[0] = will[0] = False
    return Residue(
        regions=_worst(labels, dirt, will, dusty, scale), count=int(np.count_nonzero(dirt)),
        area=scale.area(int(labels.pixels[dirt].sum())),
        will=scale.area(int(labels.pixels[will].sum())),
        cells=labels.spread(dirt.astype(np.uint8) + will),
    )


def least_of(percent: float) -> int:
    """The least alpha of 8 bits that is ``percent`` or more when rounded to a code value.

    >>> least_of(1), least_of(3), least_of(0.01)
    (3, 8, 1)
    """
    return max(math.floor(percent / 100 * 255 + 0.5), 1)


def _worst(
    labels: Labels, dirt: Mask, will: Mask, dusty: Mask, scale: Scale,
) -> tuple[Region, ...]:
    """Those that will print first, and the more ink the sooner."""
    order = np.lexsort((-labels.alpha, ~will))
    order = order[dirt[order]][:LISTED]
    cover = labels.alpha / np.maximum(labels.pixels, 1) / 255
    return numbered(
        Region(
            "will print" if will[one] else "may print", scale.box(labels.boxes[one]),
            scale.area(int(labels.pixels[one])), float(cover[one]),
            bool(dusty[one]) and px_to_mm(1, scale.ppi) ** 2 * int(labels.pixels[one]) < _SPECK_MM2,
        )
        for one in order
    )


def share_not_clear(alpha: Plane, drawn: Drawn, *, ppi: float, each: Each = map) -> float:
    """The share of bare paper, 0-1, by cells, that holds anything at all: it is clean at 0."""
    side = side_of(ppi)
    bare = ~drawn.on(grid_of((alpha.shape[0], alpha.shape[1]), side)).rim
    some = (tally(alpha, 1, side, each).pixels > 0) & bare
    return int(np.count_nonzero(some)) / max(int(np.count_nonzero(bare)), 1)
