"""Dust told from what it lies among by its colour, on a scan that has one.

Dust is paler than graphite and black ink: on tinted paper, where it looks as dark as they do, it
hides more of the paper and so more of the paper's tint. Its *tint*, how much more blue than red
comes with so much darkness, is then another than that of all that lies near it. Beside ink of a
colour nothing is told: small dots of it look grey too, on a scan that was kept as JPEG. Nor is
anything where colours are kept more coarsely than specks are small, as JPEG does at ordinary
resolutions: there the tint of one pixel goes along with that of the next, where a sensor's noise
leaves each by itself.
"""

import math
from dataclasses import replace

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import some
from app.filters.pieces import find_pieces
from app.filters.specks import BLUR_MM, CELL_MM, FIRM, Bits, Ground, Specks, cell_of, disc
from app.filters.strips import ROWS, Strip, side_by_side, strips
from core.sheet import Plane, full_scale
from core.units import mm_to_px

_REACH_MM = 1.6  # so near to a place, what lies there says which tint is usual
_ENOUGH = 4  # times as dark as a pixel that counts as marked, what is near tells a tint
_GREY = 0.08  # of its darkness: the tint of black ink and of graphite is no more
_GRAIN_MM = 0.085  # so far about a pixel, its tint is gathered
_CERTAIN = 4.0  # deviations of the page's grey marks from what is usual near each;
_TWENTIETH = 1.96  # so many, a twentieth of what is normally distributed is off
_LEAST = 0.8  # tones by which the tint of a pixel varies at least
_APART, _COLOUR = 0.04, 0.3  # of its darkness: tints that differ less are alike; that more is ink
_COARSE, _ORDINARY = 0.35, 0.8  # more alike, pixels share their colours; such a share is ordinary
_SMALLEST_MM2 = 0.02
_LONGEST_MM, _WIDEST_MM = 3.0, 0.2  # of a hair, or a piece of one
_ALONG = 0.4  # of it, no more may lie at the edge of firm ink, which is coloured
_ABOUT_MM, _FIRM, _CROWDED = 0.35, 0.35, 0.8  # so near, no more may be firm ink, or marked
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


def find_stains(
    grey: Plane, tints: Tints, ppi: float, ground: Ground, specks: Specks, size: float,
) -> Bits:
    """1 on what differs in tint from all that lies near it, loose or within a mark; (H, W).

    It is up to ``size`` mm long, or thin as a hair.
    """
    specks = replace(specks, firm=_firm_ink(grey, ppi, ground))
    soft = np.greater(specks.marked, specks.firm).view(np.uint8)
    usual = _usual_tints(grey, tints, ppi, ground, specks.marked)
    out, side = np.zeros_like(soft), cell_of(ppi)
    if _likeness(grey, tints, ppi, ground, soft, usual) > _COARSE:
        return out
    odd = _odd_places(grey, tints, ppi, ground, specks, usual)
    for pixels in _pieces(odd, ppi, size):
        row, column = divmod(int(pixels[len(pixels) // 2]), grey.shape[1])
        if _lies_open(pixels, ppi, specks) and not _has_kin(
            grey, tints, ppi, ground, specks, pixels, usual[row // side, column // side],
        ):
            out.ravel()[pixels] = 1
    if out.any():
        out = np.minimum(cv2.dilate(out, disc(_GRAIN_MM, ppi)), soft, dtype=np.uint8)
    return out


def _firm_ink(grey: Plane, ppi: float, ground: Ground) -> Bits:
    """1 on ink as dark as dust is not, short or long, and on its edge; (H, W)."""
    about, limit = disc(BLUR_MM, ppi), math.ceil(ground.paper * (1 - FIRM))
    firm = np.empty(grey.shape, np.uint8)

    def tell(strip: Strip) -> None:
        rows, wide, inner = strip
        firm[rows] = cv2.dilate((grey[wide] < limit).view(np.uint8), about)[inner]

    side_by_side(tell, strips(len(grey), len(about)))
    return firm


def _likeness(
    grey: Plane, tints: Tints, ppi: float, ground: Ground, soft: Bits, usual: Sums,
) -> float:
    """How alike neighbours in soft grey marks are in what they are off the usual tint; -1 to 1.

    It is their correlation along rows and columns. What is far off, as dust is, counts for no
    more than what is off as the most of them are.
    """
    side, width = cell_of(ppi), grey.shape[1]
    places = some(soft.view(np.bool_))
    here = usual[places // width // side, places % width // side]
    places, here = places[np.abs(here) <= _GREY], here[np.abs(here) <= _GREY]
    if not len(places):
        return 0.0

    def off(at: Places) -> Sums:
        return np.asarray(tints.ravel()[at] - here * (ground.paper - grey.ravel()[at]))

    most = float(np.quantile(np.abs(off(places)), _ORDINARY))
    mine, both, each = np.clip(off(places), -most, most), 0.0, 0.0
    for step, last in ((1, places % width == width - 1), (width, places >= grey.size - width)):
        beside = np.where(last, places, places + step)
        pairs = (soft.ravel()[beside] > 0) & ~last
        theirs = np.clip(off(beside), -most, most)
        both += float((mine * theirs)[pairs].sum())
        each += float((mine**2 + theirs**2)[pairs].sum()) / 2
    return both / each if each else 0.0


def _usual_tints(
    grey: Plane, tints: Tints, ppi: float, ground: Ground, marked: Bits,
) -> Sums:
    """The tint of all that is marked near each cell, of its darkness; infinite for none; (h, w)."""
    side = cell_of(ppi)
    height, width = (-(-extent // side) for extent in grey.shape)
    cells = np.empty((2, height, width))

    def gather(strip: Strip) -> None:
        rows = strip[0]
        here = slice(rows.start // side, -(-rows.stop // side))
        down, across = np.nonzero(marked[rows])
        cell = down // side * width + across // side
        for sums, values in zip(cells, (
            ground.paper - grey[rows][down, across], tints[rows][down, across],
        ), strict=True):
            found = np.bincount(cell, values, (here.stop - here.start) * width)
            sums[here] = found.reshape(-1, width)

    side_by_side(gather, strips(len(grey), rows=max(ROWS // side, 1) * side))
    reach = 2 * round(_REACH_MM / CELL_MM) + 1
    dark, tint = (_gathered(sums, reach) for sums in cells)
    least = _ENOUGH * (ground.paper - ground.limit)
    return np.where(dark > least, tint / np.maximum(dark, 1), np.inf)


def _gathered(plane: npt.NDArray[np.generic], size: int) -> Sums:
    """Sums over squares of ``size``; nothing lies beyond the edge."""
    return np.asarray(cv2.boxFilter(
        plane.astype(np.float32), cv2.CV_64F, (size, size), normalize=False,
        borderType=cv2.BORDER_CONSTANT))


def _odd_places(
    grey: Plane, tints: Tints, ppi: float, ground: Ground, specks: Specks, usual: Sums,
) -> Bits:
    """1 where a soft mark is surely off the usual tint of grey marks, yet of no colour; (H, W)."""
    side, reach = cell_of(ppi), max(1, round(mm_to_px(_GRAIN_MM, ppi)))
    off, odd = np.zeros(grey.shape, np.float32), np.zeros(grey.shape, np.uint8)

    def tell(strip: Strip) -> None:
        rows, wide, inner = strip
        at = np.nonzero(specks.marked[rows] > specks.firm[rows])
        here = usual[(at[0] + rows.start) // side, at[1] // side]
        marks_are_grey = np.abs(here) <= _GREY
        at, here = (at[0][marks_are_grey], at[1][marks_are_grey]), here[marks_are_grey]
        if not len(here):
            return
        marked = specks.marked[wide]
        dark, tint, area = (_gathered(plane, 2 * reach + 1)[inner][at] for plane in (
            (ground.paper - grey[wide]) * marked, tints[wide], marked))
        much = np.abs(tint - here * dark)
        off[rows][at] = much / np.sqrt(area)
        odd[rows][at] = (much > _APART * dark) & (much < _COLOUR * dark)

    side_by_side(tell, strips(len(grey), reach, rows=max(ROWS // side, 1) * side))
    return odd * (off > _CERTAIN * _swing(off, _LEAST * full_scale(grey) / 255)).view(np.uint8)


def _swing(off: npt.NDArray[np.float32], least: float) -> float:
    """The deviation with which a twentieth of these (H, W) would be as far off, 0 left out.

    They are sums of neighbours, which go together where a scan was kept as JPEG.
    """
    places = some(off > 0)
    tail = float(np.quantile(off.ravel()[places], 0.95)) if len(places) else 0.0
    return max(least, tail / _TWENTIETH)


def _pieces(odd: Bits, ppi: float, size: float) -> list[Places]:
    """The flat places of each connected piece that is as large as dust is."""
    side = mm_to_px(1, ppi)
    pieces = find_pieces(odd)
    area, long = pieces.area / side**2, pieces.longest / side
    fit = (area >= _SMALLEST_MM2) & (
        (long <= size) | ((long <= _LONGEST_MM) & (area < _WIDEST_MM * long)))
    fit[0] = False
    found, owner = pieces.place[fit[pieces.owner]], pieces.owner[fit[pieces.owner]]
    found = found[np.argsort(owner, kind="stable")]
    return np.split(found, np.cumsum(pieces.area[fit])[:-1]) if len(found) else []


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
    edges = cv2.dilate(specks.firm[box], disc(BLUR_MM, ppi)) > 0
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
