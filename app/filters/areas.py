"""The areas of a drawing: where they lie, under the line too."""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.adjacent import Lines, measured
from app.filters.grid import cells_of, disc
from app.filters.grouping import joined
from app.filters.strips import Strip, side_by_side, strips
from app.filters.trapped_ball import Floats, Labels, Mask, pieces_of
from core.matte import to_depth
from core.placing import Places
from core.sheet import Plane
from core.units import mm_to_px, px_to_mm

_ENOUGH_PPI = 300.0  # areas are looked for at no more than about this resolution
_SURE = 51  # of 255: ink from there on bounds an area by itself
_FAINT = 13  # and fainter ink where it gathers to a stroke
_STROKE = 20  # of 255, softened
_STROKE_MM = 0.12
_CRUMB_MM = 0.9  # a mark shorter than that bounds nothing by itself
_NEAR_MM = 0.17  # but marks so near to one another are one mark
_HATCH_MM = 0.9  # half the width of the widest space between hatching lines
_CUT_PX = 2


@dataclass(frozen=True)
class Bounds:
    """What decides where areas end.

    The widest gap that is shut in mm, the smallest area in mm2, and lines, each (n, 2) places on
    the page in mm, that cut areas in two.
    """

    gap: float
    smallest: float
    cuts: tuple[Places, ...] = ()


@dataclass(frozen=True, eq=False)
class AreaMap:
    """The areas, seen in cells of ``side`` pixels.

    ``labels`` (h, w) uint16 numbers the areas from 1 and has no holes; ``count``
    is how many areas there are.
    """

    labels: Labels
    side: int
    count: int

    def at(self, places: Places, ppi: float) -> npt.NDArray[np.int64]:
        """The areas at (n, 2) places on the page in mm; 0 off the page."""
        height, width = self.labels.shape
        cells = np.floor(places * mm_to_px(1, ppi) / self.side).astype(np.int64)
        inside = np.asarray(((cells >= 0) & (cells < (width, height))).all(axis=1))
        column, row = np.where(inside[:, None], cells, 0).T
        return np.where(inside, self.labels[row, column], 0).astype(np.int64)


def find_areas(alpha: Plane, ppi: float, bounds: Bounds) -> AreaMap:
    """Every area of a page, (H, W) uint8 or uint16 alpha; together they cover all of it.

    >>> page = np.zeros((200, 200), np.uint8)
    >>> page[50:150, 50:150] = 255
    >>> page[54:146, 54:146] = 0
    >>> found = find_areas(page, 254, Bounds(gap=1.0, smallest=1.0))
    >>> found.count, found.at(np.array([[1.0, 1.0], [10.0, 10.0]]), 254).tolist()
    (2, [1, 2])
    """
    side = max(1, int(ppi / _ENOUGH_PPI))
    cells = to_depth(alpha, 8)
    cells = np.rint(cells_of(cells, side)).astype(np.uint8) if side > 1 else cells.copy()
    scale = ppi / side
    line = _line_of(cells, scale)
    bare = 1 - line
    solid = half_width(line) * np.float32(px_to_mm(1, scale))
    line = _without_crumbs(line, scale)
    cut = np.zeros(line.shape, np.uint8)
    for path in bounds.cuts:
        line_of_cut = np.rint(path * mm_to_px(1, scale) - 0.5).astype(np.int32)
        cv2.polylines(line, [line_of_cut], False, 1, 1)
        cv2.polylines(cut, [line_of_cut], False, 1, 2 * _CUT_PX + 1)
    labels, far = pieces_of(line, bounds.gap, scale)
    if not labels.any():  # nothing but ink
        labels[...] = 1
        return AreaMap(labels, side, 1)
    filled = fill_under(labels)
    edges, pieces = measured(filled, Lines(cells, bare, solid, cut), scale)
    pieces.wide[labels[far > mm_to_px(_HATCH_MM, scale)]] = True
    groups = joined(edges, pieces, bounds.smallest, bounds.gap)
    table, count = _numbered(groups)
    return AreaMap(looked_up(table, filled), side, count)


def _line_of(cells: Plane, ppi: float) -> Mask:
    """1 where the line is: sure ink, and the faint ink of strokes."""
    soft = cv2.GaussianBlur(cells, (0, 0), max(mm_to_px(_STROKE_MM, ppi), 0.3))
    faint = (soft >= _STROKE) & (cells >= _FAINT)
    return ((cells >= _SURE) | faint).astype(np.uint8)


def half_width(line: Mask) -> Floats:
    """How far each pixel of the line lies from its edge, in pixels; within 8 %.

    >>> half_width(np.array([[0, 1, 1, 1, 0]], np.uint8)).round().tolist()
    [[0.0, 1.0, 2.0, 1.0, 0.0]]
    """
    return np.asarray(cv2.distanceTransform(line, cv2.DIST_L2, cv2.DIST_MASK_3), np.float32)


def _without_crumbs(line: Mask, ppi: float) -> Mask:
    """The line without grains that lie alone: those of a broken stroke lie close, and stay."""
    gathered = cv2.morphologyEx(line, cv2.MORPH_CLOSE, disc(mm_to_px(_NEAR_MM, ppi)))
    _, marks, stats, _ = cv2.connectedComponentsWithStats(gathered, connectivity=8)
    long = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    kept = (long >= mm_to_px(_CRUMB_MM, ppi)).astype(np.uint8)
    kept[0] = 0
    return np.asarray(line & kept[marks])


def fill_under(labels: Labels) -> Labels:
    """Every pixel that has no number takes that of the nearest that has one.

    So two areas meet in the middle of the line between them. Five-by-five distances: within 2 %.

    >>> fill_under(np.array([[1, 0, 0, 0, 2]], np.uint16)).tolist()
    [[1, 1, 1, 2, 2]]
    """
    bare = (labels == 0).astype(np.uint8)
    _, nearest = cv2.distanceTransformWithLabels(
        bare, cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL,
    )
    table = np.zeros(int(nearest.max()) + 1, np.uint16)
    known = bare == 0
    for rows, _, _ in strips(len(bare)):
        table[nearest[rows][known[rows]]] = labels[rows][known[rows]]
    return looked_up(table, nearest)


def looked_up(table: Labels, numbers: npt.NDArray[np.integer]) -> Labels:
    """What a table holds for each number of a plane, (H, W) uint16.

    >>> looked_up(np.array([0, 7], np.uint16), np.array([[1, 0]])).tolist()
    [[7, 0]]
    """
    out = np.empty(numbers.shape, np.uint16)

    def work(strip: Strip) -> None:
        out[strip[0]] = table[numbers[strip[0]]]

    side_by_side(work, strips(len(numbers)))
    return out


def _numbered(groups: npt.NDArray[np.int64]) -> tuple[npt.NDArray[np.uint16], int]:
    """For each piece the number, from 1, of the area that it lies in; how many areas there are."""
    found, place = np.unique(groups[1:], return_inverse=True)
    return np.concatenate([[0], place + 1]).astype(np.uint16), len(found)
