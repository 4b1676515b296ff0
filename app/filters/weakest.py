"""Marks of a stated darkness at least: ink without the pencil beneath it."""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import disc
from app.filters.noise import Ground, cell_side
from app.filters.outline import Mask
from app.filters.pieces import find_pieces
from app.filters.specks import BLUR_MM
from app.filters.strips import Strip, side_by_side, strips
from core.sheet import Plane, full_scale
from core.units import mm_to_px

_PALE_EDGE_MM = 0.35
_GRAIN_MM = 1.2  # what is paler, touches a dark mark and is shorter is its own grain

Bits = npt.NDArray[np.uint8]


def about_dark(support: Mask, ground: Ground, limit: float) -> tuple[Mask, Bits]:
    """The support near what is no lighter than ``limit``, a tone 0-255; (h, w).

    And 1 where a paler mark runs on from it and is to be cut there, (h, w). A paler mark that
    touches none goes whole; a dark one keeps its pale edge and grain.

    >>> from app.filters.noise import measure_ground
    >>> page = np.full((90, 90), 230, np.uint8)
    >>> page[:, 43:46], page[43:46, 46:] = 40, 190
    >>> ground = measure_ground(page, 150)
    >>> dark, met = about_dark((page < 200).view(np.uint8), ground, 115)
    >>> dark[44, [44, 47, 60]].tolist(), met[44, [44, 47, 60]].tolist()
    ([1, 1, 0], [0, 1, 1])
    """
    near = disc(ground.pixels(_PALE_EDGE_MM))
    about = cv2.dilate(np.where(ground.tone <= limit, support, np.uint8(0)), near) > 0
    paler = ((support > 0) & ~about).view(np.uint8)
    pieces = find_pieces(paler)
    touching = np.zeros(len(pieces.box), np.bool_)
    touching[pieces.labels[cv2.dilate(about.view(np.uint8), disc(1)) > 0]] = True
    grain = touching & (pieces.longest < ground.pixels(_GRAIN_MM))
    grain[0] = False
    own = grain[pieces.labels]
    paler[own] = 0
    dark = np.where(about | own, support, np.uint8(0))
    return dark, np.asarray(cv2.dilate(paler, near), np.uint8)


def cut(kept: Plane, there: Bits, limit: float, ppi: float) -> None:
    """Turn a plane (H, W) white in place, ``there`` and over 0.13 mm from what is dark.

    ``there`` (h, w) is 1 on cells of the ground's size; dark is what is no lighter than ``limit``,
    a tone 0-255. Ink's blurred edge reaches no farther: beyond lies a stub of what was paler.

    >>> page = np.full((1, 9), 190, np.uint8)
    >>> page[0, :2] = 40
    >>> cut(page, np.ones((1, 5), np.uint8), 100, 300)
    >>> page.tolist()
    [[40, 40, 190, 190, 255, 255, 255, 255, 255]]
    """
    full, cell = full_scale(kept), cell_side(ppi)
    edge = disc(mm_to_px(BLUR_MM, ppi))
    dark = (kept <= limit * full / 255).view(np.uint8)
    columns = np.arange(kept.shape[1]) // cell

    def work(strip: Strip) -> None:
        rows, around, inner = strip
        met = there[np.arange(rows.start, rows.stop) // cell]
        if met.any():
            ink = cv2.dilate(dark[around], edge)[inner]
            kept[rows][(met[:, columns] > 0) & (ink == 0)] = full

    side_by_side(work, strips(len(kept), len(edge)))
