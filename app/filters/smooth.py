"""Where a page is as smooth as its bare paper."""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask, some
from app.filters.strips import Strip, side_by_side, strips

_DARK = 0.2  # of the page's lightest paper: darker than this is never followed
_SHARP = 0.025  # of the light: a sharper bend between cells is an edge, whatever the noise
_BENDS = 4.5  # times the paper's own bending beyond which a cell is no paper
_ROUGHER = 1.4  # times the paper's own texture beyond which an area may be drawn on
_SHADOWED = 3.5  # times the paper's own texture that an area may have whose cells bend more
_NO_SHADOW = 4.5  # times the paper's own texture: more than that is no paper even in a shadow
_ONE_SIDED = 1.2  # times the energy of the lights that darks have where ink is
_ROUGHEST = 0.025  # of its light: no paper that was seen bends so much from cell to cell
_TEXTURE = 9  # cells over which texture is measured
_BEND = np.array([[1, 0, -2, 0, 1]], np.float32)
_ROOM = 5  # cells that bare paper is wide at least
_ENOUGH = 0.02  # of the page: where less bare paper is as wide as that, any will do

Cells = npt.NDArray[np.float32]


def smooth_paper(share: Cells, sheet: Mask) -> Mask:
    """Cells of the sheet as smooth as bare paper that are not dark, nor lie next to others.

    ``share`` is each cell's tone as a share of the page's lightest paper.

    Relief and noise go both ways, ink only darkens: a rough area whose darks are stronger
    than its lights was drawn on, one that is as strong both ways is paper, in a shadow where
    a camera's noise grows.

    >>> page = np.full((80, 80), 1.0, np.float32)
    >>> page[:, 60:] = 0.5
    >>> smooth = smooth_paper(page, np.ones(page.shape, bool))
    >>> bool(smooth[40, 30]), bool(smooth[40, 60])
    (True, False)
    """
    swings = _swings(share)
    light = share > _DARK
    places = some(light)
    # even a page that is drawn nearly full has a tenth that is as smooth as its paper
    own, own_edge = (
        max(_calmest(np.sqrt(squares.ravel()[places]), most), _SHARP / 8)
        for squares, most in ((swings.texture, _ROUGHEST), (swings.edges, 2 * _ROUGHEST))
    )
    drawn = _drawn(swings, light & sheet, own, own_edge)
    plain = (drawn == 0).astype(np.uint8)
    # what is left between strokes or inside shading by chance is too darkened to go by
    roomy = cv2.morphologyEx(plain, cv2.MORPH_OPEN, np.ones((_ROOM, _ROOM), np.uint8))
    return np.asarray((roomy if roomy.mean() > _ENOUGH else plain) > 0)


@dataclass(frozen=True, eq=False)
class _Swings:
    """How far each cell lies from those about it, how sharply means bend there, (h, w).

    As shares of the light there; ``texture`` and ``edges`` are the mean squares about a cell.
    """

    bend: Cells
    edge: Cells
    texture: Cells
    edges: Cells


def _swings(share: Cells) -> _Swings:
    found = _Swings(*(np.empty_like(share) for _ in range(4)))

    def strip(part: Strip) -> None:
        rows, wide, inner = part
        around = np.asarray(cv2.blur(share[wide], (3, 3)), np.float32)
        floor = np.maximum(around, np.float32(_DARK / 2))
        bend = np.asarray((share[wide] - around) / floor, np.float32)
        edge = np.asarray(_edge(around) / floor, np.float32)
        found.bend[rows], found.edge[rows] = bend[inner], edge[inner]
        for swing, squares in ((bend, found.texture), (edge, found.edges)):
            # rounding might take it below 0
            np.maximum(_mean(swing * swing, _TEXTURE)[inner], np.float32(0), out=squares[rows])

    side_by_side(strip, strips(len(share), _TEXTURE))
    return found


def _drawn(swings: _Swings, paper: Mask, own: float, own_edge: float) -> npt.NDArray[np.uint8]:
    """1 where something sharp or rougher than paper was drawn, and where nothing is paper."""
    drawn = np.empty(paper.shape, np.uint8)
    about = np.ones((2 * _TEXTURE + 1, 2 * _TEXTURE + 1), np.uint8)

    def strip(part: Strip) -> None:
        rows, wide, inner = part
        calmest = np.sqrt(cv2.erode(swings.texture[wide], about))
        sharp = np.abs(swings.bend[wide]) > _limit(calmest, own, own, _SHARP)
        sharp |= swings.edge[wide] > _limit(calmest, own, own_edge, 2 * _SHARP)
        rest = _clear(sharp | ~paper[wide])
        drawn[rows] = (~rest | _rough(swings.bend[wide], rest, own))[inner]

    side_by_side(strip, strips(len(paper), 2 * _TEXTURE + 2))
    return drawn


def _limit(calmest: Cells, own: float, usual: float, sharp: float) -> Cells:
    """What paper does not exceed, where its own swing is ``usual`` and more in a shadow."""
    least, most = (max(_BENDS * usual * times, sharp) for times in (1.0, _SHADOWED))
    limit = calmest * np.float32(_BENDS * usual / own)
    return np.asarray(np.clip(limit, np.float32(least), np.float32(most), out=limit))


def _rough(bend: Cells, rest: Mask, own: float) -> Mask:
    """Where the rest is rougher than paper, and its darks stronger than its lights."""
    count = _mean(rest.astype(np.float32), 2 * _TEXTURE) + np.float32(1e-6)
    left = bend * rest
    lights = _mean(np.square(np.maximum(left, np.float32(0))), 2 * _TEXTURE)
    energy = _mean(np.square(left, out=left), 2 * _TEXTURE)
    rough = energy > count * np.float32((_ROUGHER * own) ** 2)
    rough &= energy > lights * np.float32(1 + _ONE_SIDED)
    return np.asarray(rough | (energy > count * np.float32((_NO_SHADOW * own) ** 2)))


def _calmest(values: Cells, most: float) -> float:
    """The value that a tenth of the values do not exceed, or fewer where that is ``most`` or more.

    A page may be drawn so full that not a tenth of it is bare; then the least will have to do.
    """
    if not values.size:
        return 1.0
    least, tenth = np.quantile(values, (0.02, 0.1))
    return float(tenth if tenth < most else min(least, most))


def _edge(around: Cells) -> Cells:
    """How sharply means of three by three cells bend, along or across."""
    bends = [cv2.filter2D(around, -1, turn(_BEND), borderType=cv2.BORDER_REPLICATE)
             for turn in (np.asarray, np.transpose)]
    return np.asarray(np.maximum(*(np.abs(bend, out=bend) for bend in bends)))


def _mean(cells: Cells, reach: int) -> Cells:
    """Means over squares of ``reach`` cells or one more."""
    return np.asarray(cv2.blur(cells, (reach | 1, reach | 1)))


def _clear(drawn: Mask) -> Mask:
    """Cells that neither are drawn nor touch one that is."""
    return np.asarray(cv2.dilate(drawn.astype(np.uint8), np.ones((3, 3), np.uint8)) == 0)
