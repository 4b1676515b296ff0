"""Strokes that run side by side: each may be too faint to be sure of, together they are certain."""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.noise import Ground, patches
from app.filters.strips import ROWS, Strip, side_by_side, strips

Keyed = npt.NDArray[np.int16]
"""Evidence of lines (h, w), ``TURNS`` times its value, plus the direction that it comes from."""

TURNS = 16
"""Directions, from 0 along the rows, by 180 degrees / 16."""

Floats = npt.NDArray[np.float32]
Places = npt.NDArray[np.intp]

_CELL_MM, _FIELD = 1.8, 5  # cells, and how many of them wide a neighbourhood is
_FROM = 0.35  # times ONE: what says anything at all
_MOST = 0.25  # times ONE beyond that, so that one strong line is no group
_LOUDEST = 4.0  # times ONE: as strong as a line of a group can be
_LEAST = 0.0008  # times ONE is said on the blankest paper
_EVEN = 0.5  # of the mean, from block to block of bare paper; where it is more, more is asked
_GROUP, _SURE = 4.0, 2.0  # times what bare paper says; and for each once more that a line counts
_MORE = 2.5  # times the evidence, at most
_ENOUGH = 1.3  # times ONE: what the lines of a group need not be brought beyond


def together(keyed: Keyed, other: Keyed, ground: Ground, one: int) -> Keyed:
    """Evidence of lines (h, w), more of it where faint lines run side by side.

    ``other`` is what else each pixel says, ``one`` what bare paper almost never does. What the
    lines of one direction say in a neighbourhood of 9 mm is compared with what bare paper says
    in that direction and in all of them: laid paper has lines of its own. Where
    the lines of a neighbourhood are certain by themselves no more is made of the faint ones
    between them, which may be paper.

    >>> from app.filters.noise import measure_ground
    >>> page = np.full((90, 180), 230, np.uint8)
    >>> page[20:70:8, 10:80] = 200
    >>> ground = measure_ground(page, 150)
    >>> keyed = np.where(page < 230, TURNS * 40 + 3, 0).astype(np.int16)
    >>> keyed[2, 2] = TURNS * 40 + 9
    >>> more = together(keyed, np.zeros_like(keyed), ground, 64)
    >>> int(more[44, 40]), int(more[2, 2])
    (83, 40)
    """
    side = max(1, round(ground.pixels(_CELL_MM)))
    cells = [-(-length // side) for length in keyed.shape]
    sums, made = np.empty((2, TURNS, *cells), np.float32), np.empty_like(keyed)
    parts = strips(len(keyed), rows=max(ROWS // side, 1) * side)

    def gather(strip: Strip) -> None:
        rows = strip[0]
        places, evidence, cell = _speaking(keyed[rows], side, one)
        said = _said(evidence, one)
        strength = said * np.clip(other[rows].ravel()[places], evidence, _LOUDEST * one)
        here = sums[:, :, rows.start // side : -(-rows.stop // side)]
        for into, what in zip(here, (said, strength), strict=True):
            into[...] = np.bincount(cell, what, into.size).reshape(into.shape)

    side_by_side(gather, parts)
    more = _more(sums[0], sums[1], _usual(keyed, ground, one) * side**2, one)

    def strengthen(strip: Strip) -> None:
        rows = strip[0]
        places, evidence, cell = _speaking(keyed[rows], side, one)
        made[rows] = keyed[rows] // TURNS
        here = more[:, rows.start // side : -(-rows.stop // side)]
        made[rows].ravel()[places] = np.rint(evidence * here.ravel()[cell])

    side_by_side(strengthen, parts)
    return made


def _speaking(keyed: Keyed, side: int, one: int) -> tuple[Places, Keyed, Places]:
    """The flat places in some rows that say anything; their evidence, and their direction's cell.

    Cells count through the directions, and in each through squares of ``side``.
    """
    places = np.flatnonzero(keyed >= TURNS * (int(_FROM * one) + 1))
    found = keyed.ravel()[places]
    row, column = np.divmod(places, keyed.shape[1])
    down, across = (-(-length // side) for length in keyed.shape)
    cell = (found % TURNS * np.intp(down) + row // side) * across + column // side
    return places, found // TURNS, cell


def _said(evidence: Keyed, one: int) -> npt.NDArray[np.float64]:
    """What a pixel says for its group."""
    return np.clip(evidence - _FROM * one, 0, _MOST * one)


def _usual(keyed: Keyed, ground: Ground, one: int) -> Floats:
    """What a pixel of bare paper says in each direction; in none less than in all on average."""
    quiet = patches(keyed, ground.bare, ground.side)
    said = _said(quiet // TURNS, one)
    turns = np.bincount((quiet % TURNS).ravel(), said.ravel(), TURNS) / quiet.size
    around = _with_next(turns.astype(np.float32))
    least = max(float(around.mean()), _LEAST * one)
    blocks = said.mean(axis=(1, 2))
    uneven = float(blocks.std()) / max(float(blocks.mean()), _LEAST * one)
    return np.maximum(around, np.float32(least)) * np.float32(max(1, uneven / _EVEN))


def _more(said: Floats, strength: Floats, usual: Floats, one: int) -> Floats:
    """How many times the evidence counts, by direction and cell."""
    here, strong = (
        np.stack([cv2.blur(plane, (_FIELD, _FIELD), borderType=cv2.BORDER_REFLECT)
                  for plane in _with_next(planes)]) for planes in (said, strength))
    certain = 1 + (here / usual[:, None, None] - _GROUP) / _SURE
    enough = _ENOUGH * one * here / np.maximum(strong, np.float32(1e-3))
    return np.asarray(np.clip(np.minimum(certain, enough), 1, _MORE), np.float32)


def _with_next(turns: Floats) -> Floats:
    """Each direction and half of either beside it: a stroke never lies quite in one."""
    beside = np.roll(turns, 1, axis=0) + np.roll(turns, -1, axis=0)
    return np.asarray(turns + beside / 2, np.float32)
