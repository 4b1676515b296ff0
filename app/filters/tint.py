"""Specks told from what is drawn by their colour, on a scan that has one.

Dust is paler than graphite and black ink: on tinted paper, where it looks as dark as they do, it
hides more of the paper and so more of the paper's tint. Its *tint*, how much more blue than red
comes with so much darkness, is then another than that of all that lies near it. Beside ink of a
colour nothing is told: small dots of it look grey too, on a scan that was kept as JPEG.
"""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask, some
from app.filters.specks import CELL_MM, Bits, Ground, Specks, cell_of, disc
from app.filters.strips import ROWS, Strip, side_by_side, strips
from core.sheet import Plane, full_scale
from core.units import mm_to_px

_REACH_MM = 1.6  # so near to a speck, what lies there says which tint is usual
_LONGEST_MM, _WIDEST_MM = 3.0, 0.15  # of a hair whose tint is asked for
_CERTAIN = 3.5  # deviations of the page's specks from what is usual near each
_LEAST = 0.8  # tones by which the tint of a pixel varies at least
_APART, _COLOUR = 0.04, 0.3  # of its darkness: tints that differ less are alike; that more is ink
_GREY = 0.05  # of its darkness: the tint of black ink and of graphite is no more
_ENOUGH = 4  # times as dark as a pixel that counts as marked, what is near tells a tint
_EDGE_MM, _ALONG = 0.13, 0.4  # so near to firm ink, no more of it may lie: ink has coloured edges
_ABOUT_MM, _FIRM, _CROWDED = 0.35, 0.35, 0.6  # so near, no more may be firm ink, or marked
_OWN_MM, _PALER, _KIN = 0.2, 0.35, 0.03  # beyond its own rim, of what is that dark beside it or
# darker, so much of its tint is of its kind

Sums = npt.NDArray[np.float64]
Places = npt.NDArray[np.int64]
Tints = npt.NDArray[np.int32]


def tints_of(grey: Plane, red: Plane, blue: Plane, marked: Bits, paper: float) -> Tints:
    """How much more blue than red each marked pixel is than paper so dark; 0 elsewhere; (H, W).

    ``paper`` is the paper's tone in code values.

    >>> marked, red = np.array([[0, 0, 1]], np.uint8), np.array([[230, 230, 100]], np.uint8)
    >>> tints_of(red, red, red - np.uint8(20) * (1 - marked), marked, 230.0).tolist()
    [[0, 0, 9]]
    """
    bare = some(marked == 0)
    of_paper = 0.0
    if len(bare):
        more = blue.ravel()[bare].astype(np.int32) - red.ravel()[bare]
        of_paper = float(np.median(more))
    expected = np.rint(np.arange(full_scale(grey) + 1) * (of_paper / paper)).astype(np.int32)
    out = np.empty(grey.shape, np.int32)

    def tell(strip: Strip) -> None:
        rows = strip[0]
        np.subtract(blue[rows], red[rows], out=out[rows], dtype=np.int32)
        out[rows] -= expected[grey[rows]]
        out[rows] *= marked[rows]

    side_by_side(tell, strips(len(grey)))
    return out


def is_off_tint(
    grey: Plane, tints: Tints, ppi: float, ground: Ground, specks: Specks, size: float,
) -> Mask:
    """Which specks up to ``size`` mm, and short hairs, differ in tint from all near them; (n,)."""
    area = np.bincount(specks.owner, minlength=len(specks.place))
    own = _sums_of(grey, tints, ground, specks)
    near = _sums_about(grey, tints, ppi, ground, specks) - own
    asked = (specks.longest <= size) | (
        (specks.longest <= _LONGEST_MM) & (specks.area < _WIDEST_MM * specks.longest))
    asked &= near[0] > _ENOUGH * (ground.paper - ground.limit)
    usual = np.divide(near[1], near[0], out=np.zeros(len(asked)), where=asked)
    asked &= np.abs(usual) <= _GREY
    found = _far_off(
        own[1] - usual * own[0], own[0], area, asked, _LEAST * full_scale(grey) / 255)
    mine = np.flatnonzero(found[specks.owner])
    mine = mine[np.argsort(specks.owner[mine], kind="stable")]
    parts = np.split(specks.pixels[mine], np.cumsum(area[found])[:-1])
    for number, pixels in zip(np.flatnonzero(found), parts, strict=False):
        found[number] = _lies_open(pixels, ppi, specks) and not _has_kin(
            grey, tints, ppi, ground, specks, pixels, usual[number])
    return np.asarray(found)


def _far_off(
    off: Sums, dark: Sums, area: npt.NDArray[np.int64], asked: Mask, least: float,
) -> Mask:
    """Which of those asked about are surely off the usual tint, yet of no colour; (n,).

    ``least`` is how much the tint of a pixel varies at least; the specks themselves tell if
    it is more.
    """
    each = np.abs(off) / np.sqrt(area)
    noise = max(least, 1.4826 * float(np.median(each[asked]))) if asked.any() else least
    share = np.abs(off) / dark
    found = (each > _CERTAIN * noise) & (share > _APART) & (share < _COLOUR)
    return np.asarray(found & asked)


def _sums_of(grey: Plane, tints: Tints, ground: Ground, specks: Specks) -> Sums:
    """Each speck's darkness and tint, gathered over its pixels; (2, n)."""
    dark = ground.paper - grey.ravel()[specks.pixels]
    return np.stack([np.bincount(specks.owner, values, len(specks.place))
                     for values in (dark, tints.ravel()[specks.pixels])])


def _sums_about(
    grey: Plane, tints: Tints, ppi: float, ground: Ground, specks: Specks,
) -> Sums:
    """The same of all that is marked near each speck, itself with it; (2, n)."""
    side = cell_of(ppi)
    height, width = (-(-extent // side) for extent in grey.shape)
    cells = np.empty((2, height, width))

    def gather(strip: Strip) -> None:
        rows = strip[0]
        here = slice(rows.start // side, -(-rows.stop // side))
        down, across = np.nonzero(specks.marked[rows])
        cell = down // side * width + across // side
        for sums, values in zip(cells, (
            ground.paper - grey[rows][down, across], tints[rows][down, across],
        ), strict=True):
            found = np.bincount(cell, values, (here.stop - here.start) * width)
            sums[here] = found.reshape(-1, width)

    side_by_side(gather, strips(len(grey), rows=max(ROWS // side, 1) * side))
    reach = 2 * round(_REACH_MM / CELL_MM) + 1
    down, across = (specks.place // side).T
    return np.stack([cv2.boxFilter(
        sums, -1, (reach, reach), normalize=False, borderType=cv2.BORDER_CONSTANT,
    )[down, across] for sums in cells])


def _about(
    pixels: Places, reach: float, shape: tuple[int, ...],
) -> tuple[tuple[slice, slice], Bits]:
    """The square about flat places of a plane, ``reach`` pixels wider, and 1 on them in it."""
    place = np.divmod(pixels, shape[1])
    rim = int(np.ceil(reach)) + 1
    box = tuple(slice(max(int(axis.min()) - rim, 0), int(axis.max()) + rim + 1) for axis in place)
    own = np.zeros(tuple(min(cut.stop, extent) - cut.start
                         for cut, extent in zip(box, shape, strict=True)), np.uint8)
    own[place[0] - box[0].start, place[1] - box[1].start] = 1
    return (box[0], box[1]), own


def _lies_open(pixels: Places, ppi: float, specks: Specks) -> bool:
    """Whether a speck lies neither along ink nor within what is drawn."""
    box, own = _about(pixels, mm_to_px(_ABOUT_MM, ppi), specks.marked.shape)
    firm, marked = specks.firm[box] > 0, specks.marked[box] > 0
    edges = cv2.dilate(specks.firm[box], disc(_EDGE_MM, ppi)) > 0
    about = cv2.dilate(own, disc(_ABOUT_MM, ppi)) > 0
    return bool(
        edges[own > 0].mean() <= _ALONG
        and firm[about].mean() <= _FIRM
        and marked[about].mean() <= _CROWDED
    )


def _has_kin(
    grey: Plane, tints: Tints, ppi: float, ground: Ground, specks: Specks,
    pixels: Places, usual: float,
) -> bool:
    """Whether some of what is near a speck and not much paler has its tint, not the usual one."""
    box, own = _about(pixels, mm_to_px(_REACH_MM, ppi), grey.shape)
    mine, rim = own > 0, cv2.dilate(own, disc(_OWN_MM, ppi)) > 0
    dark = np.where(specks.marked[box] > 0, ground.paper - grey[box], 0.0)
    of_it = tints[box][mine].sum() / dark[mine].sum()
    least = _PALER * dark[mine].mean()
    dark, tint = (cv2.boxFilter(values, cv2.CV_64F, (3, 3))
                  for values in (dark, tints[box].astype(np.float64)))
    alike = (tint - (usual + of_it) / 2 * dark) * (of_it - usual) > 0
    kin = dark[alike & (dark > least) & ~rim].sum()
    return bool(kin > _KIN * dark[~mine].sum())
