"""What would be lost: marks that are paler, or lines that are thinner, than the press holds."""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.proof.cells import Mask, Tally, grid_of, side_of, tally, widened
from app.proof.marks import Drawn
from app.proof.regions import Labels, Region, Scale, Verdict, label, numbered
from app.proof.residue import LISTED, least_of
from core.matte import to_depth
from core.press.presses import Press
from core.press.size import points_to_mm
from core.sheet import Each, Plane
from core.units import mm_to_px

FAINT = 10.0
"""Percent: a mark no darker than this is called faint ink."""

_GONE = 0.002  # of full ink, on average: less than that is nothing
_RIM_MM = 0.35  # so near to ink that holds, a pale cell is that ink's own edge
_SHORTEST_MM = 1.0  # a thin line is at least as long; below that it is grain or a tip
_NET = 1.5  # times the area of a straight line as long: what has more is no line but a net

Bytes = npt.NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class Weak:
    """Drawn marks that are pale: what is lost of them, and what is faint but holds.

    Regions from the worst on, at most ``LISTED``; the figures, in printed mm2, count all.
    ``cells`` (h, w) marks what is lost, for a hatch over the page.
    """

    lost: tuple[Region, ...]
    lost_count: int
    lost_area: float
    faint: tuple[Region, ...]
    faint_count: int
    faint_area: float
    cells: Mask


def weak_marks(
    alpha: Plane, drawn: Drawn, press: Press, *, ppi: float, ppi_printed: float,
    each: Each = map,
) -> Weak:
    """Find drawn marks without a pixel that the press is sure to hold, and faint ones that hold.

    A cell's own ink and that within 0.35 mm of it count, so the pale edge of a line is not a
    loss.

    >>> marks = np.zeros((20, 20), bool)
    >>> marks[10, 2:18] = True
    >>> drawn = Drawn.of(marks, np.zeros((20, 20), bool))
    >>> found = weak_marks(np.zeros((80, 80), np.uint8), drawn, Press(), ppi=600, ppi_printed=600)
    >>> found.lost_count, found.lost[0].verdict
    (1, 'gone')
    """
    scale = Scale(side_of(ppi), ppi, ppi_printed)
    marks = drawn.on(grid_of((alpha.shape[0], alpha.shape[1]), scale.side)).marks
    reach = round(mm_to_px(_RIM_MM, ppi) / scale.side)
    ink = tally(alpha, 1, scale.side, each)
    held, dark = (
        widened(tally(alpha, least_of(percent), scale.side, each).pixels > 0, reach)
        for percent in (press.holds, FAINT)
    )
    gone = marks & ~held
    lost, lost_pixels = _listed(gone, ink, scale, "too pale")
    faint, faint_pixels = _listed(marks & held & ~dark, ink, scale, "faint ink")
    return Weak(lost[:LISTED], len(lost), scale.area(lost_pixels), faint[:LISTED], len(faint),
                scale.area(faint_pixels), gone)


def _listed(
    mask: Mask, ink: Tally, scale: Scale, verdict: Verdict,
) -> tuple[tuple[Region, ...], int]:
    """The regions of a mask from the largest on, by the area of their cells; and all its pixels."""
    whole_cells = np.where(mask, scale.side**2, 0)
    labels = label(mask, Tally(whole_cells, np.where(mask, ink.alpha, 0)))
    order = np.argsort(-labels.pixels, kind="stable")
    made = [
        Region(
            "gone" if verdict == "too pale" and _is_gone(labels, one) else verdict,
            scale.box(labels.boxes[one]), scale.area(int(labels.pixels[one])),
            int(labels.alpha[one]) / int(labels.pixels[one]) / 255,
        )
        for one in order if labels.pixels[one]
    ]
    return numbered(made), int(labels.pixels.sum())


def _is_gone(labels: Labels, one: int) -> bool:
    return bool(labels.alpha[one] < _GONE * 255 * labels.pixels[one])


@dataclass(frozen=True)
class Lines:
    """Lines too thin for the press: their length in printed mm, and where they lie.

    ``judged`` is False where the pixels are too coarse to tell a thin line by: a black line
    needs two across, a white one three.
    """

    regions: tuple[Region, ...]
    length: float
    judged: bool


def thin_lines(
    alpha: Plane, press: Press, *, ppi: float, ppi_printed: float, reversed_out: bool = False,
) -> Lines:
    """Find lines of ink thinner than ``press.line``, or of paper within ink than ``reversed_line``.

    Lines are what a disc of that width does not fit into, at 50 % cover, and at least 1 mm long
    in print. ``alpha`` is (H, W) of either depth.
    """
    points = press.reversed_line if reversed_out else press.line
    across = mm_to_px(points_to_mm(points), ppi_printed)
    if across < (3 if reversed_out else 2):
        return Lines((), 0.0, judged=False)
    ink = np.where(to_depth(alpha, 8) > 127, np.uint8(255), np.uint8(0))
    if reversed_out:
        ink = np.invert(ink)
    thin = cv2.bitwise_xor(ink, _opened(ink, int(across)))
    return _long_ones(np.asarray(thin, np.uint8), Scale(1, ppi, ppi_printed), across)


def _opened(mask: Bytes, size: int) -> Bytes:
    """What a disc of ``size`` pixels reaches within the mask; beyond the page nothing is thin."""
    place = (np.arange(size) - (size - 1) / 2) ** 2
    disc = (place[:, None] + place <= (size / 2) ** 2).astype(np.uint8)
    edge = size - 1
    wide = cv2.copyMakeBorder(mask, edge, edge, edge, edge, cv2.BORDER_REPLICATE)
    # an even disc has no middle pixel: what goes one way when eroding comes back when dilating
    inner = cv2.erode(wide, disc, anchor=(size // 2, size // 2))
    back = (size - 1) // 2
    outer = cv2.dilate(inner, disc, anchor=(back, back))
    return np.asarray(outer[edge : len(wide) - edge, edge : wide.shape[1] - edge], np.uint8)


def _long_ones(thin: Bytes, scale: Scale, across: float) -> Lines:
    count, _, stats, _ = cv2.connectedComponentsWithStats(thin, connectivity=8)
    longest = np.maximum(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    area = stats[:, cv2.CC_STAT_AREA]
    shortest = mm_to_px(_SHORTEST_MM, scale.ppi_printed)
    # what an opening nibs off corners is short, and the grain of a dry stroke is a net
    chosen = np.flatnonzero(
        (longest >= shortest) & (area >= shortest) & (area <= _NET * across * longest))
    chosen = chosen[chosen > 0]
    order = chosen[np.argsort(-area[chosen], kind="stable")]
    regions = numbered(
        Region("too thin", scale.box(np.asarray(stats[one, :4], np.int32)),
               scale.area(int(area[one])), 1.0)
        for one in order[:LISTED]
    )
    pixels = int(np.maximum(longest[chosen], area[chosen] / across).sum()) if count > 1 else 0
    return Lines(regions, pixels * scale.area(1) ** 0.5, judged=True)
