"""What else lies on a sheet and is no drawing, or is half one: one function for each.

Those in UNDER change the paper before ink is laid; those in OVER change the page after it. Each
marks what it touched as stray. The truth keeps what the illustrator meant to be there: what lies
under correction white is gone from it, and white ink takes the black away that it covers.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from sample_pages.instruments import FINE_PEN, MECHANICAL_PENCIL, Reflectance
from sample_pages.laying import Page
from sample_pages.path import (
    F64,
    Points,
    as_points,
    lengths,
    noise_along,
    normals,
    resample,
    smooth,
)
from sample_pages.stroke import Drawing, Stroke
from sample_pages.surface import F32, SMOOTH, Surface, make_surface

NON_PHOTO_BLUE: Reflectance = (0.42, 0.66, 0.86)
WHITE: Reflectance = (0.84, 0.84, 0.83)
LIDS: tuple[Reflectance, ...] = ((0.9, 0.9, 0.9), (0.5, 0.5, 0.5), (0.03, 0.03, 0.03))
TOUCHED = 0.004


@dataclass(eq=False)
class Bed:
    """The page on the scanner's bed while mishaps happen to it.

    `ground` (H, W, 3) is what the paper sends back before ink, `light` what the page does after;
    `cover` the true ink cover; `off` (H, W) 0-1 where there is no paper at all; `stray` (H, W) bool
    what a mishap touched. `back` draws the other side of the sheet.
    """

    surface: Surface
    drawing: Drawing
    back: Callable[[np.random.Generator], Drawing]
    ground: F32
    light: F32
    cover: F32
    off: F32
    stray: npt.NDArray[np.bool_]
    chance: np.random.Generator

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the sheet in mm."""
        return self.drawing.size_mm

    def mask(self, outline: Points, soft_mm: float = 0.08) -> F32:
        """(H, W) 0-1 inside an outline in mm, with an edge that soft."""
        plane = np.zeros(self.cover.shape, np.uint8)
        corners = np.round((as_points(outline) / self.surface.pixel_mm - 0.5) * 256)
        cv2.fillPoly(plane, [corners.astype(np.int32)], 255, cv2.LINE_AA, 8)
        return self.soften(plane.astype(np.float32) / np.float32(255.0), soft_mm)

    def soften(self, plane: F32, soft_mm: float) -> F32:
        """A plane blurred by so many mm."""
        soft = cv2.GaussianBlur(plane, (0, 0), max(soft_mm / self.surface.pixel_mm, 0.3))
        return soft.astype(np.float32, copy=False)

    def darken(self, share: F32, colour: Reflectance = (0.0, 0.0, 0.0)) -> None:
        """Let a share (H, W) of the ground take a colour."""
        self.ground += share[..., None] * (np.array(colour, np.float32) - self.ground)
        self.stray |= np.abs(share) > TOUCHED

    def cover_up(self, share: F32, colour: F32 | Reflectance) -> None:
        """Let a share (H, W) of the finished page take a colour, ink and all."""
        self.light += share[..., None] * (np.asarray(colour, np.float32) - self.light)
        self.cover *= np.float32(1.0) - share
        self.stray |= share > TOUCHED


def _underdrawing(bed: Bed, ink: Reflectance, pressure: float) -> tuple[Page, F32]:
    """Loose construction lines along the longest lines of the drawing, and their cover."""
    strokes = [mark for mark in bed.drawing.marks if isinstance(mark, Stroke)]
    strokes.sort(key=lambda stroke: -float(lengths(stroke.points)[-1]))
    tool = replace(MECHANICAL_PENCIL, ink=ink, width=0.5)
    loose: list[Stroke] = []
    for stroke in strokes[:70]:
        path = resample(stroke.points[::6], 0.6)
        if len(path) < 8:
            continue
        drift = noise_along(lengths(path), (24.0,), bed.chance)[0]
        moved = path + normals(path) * (0.45 * drift)[:, None]
        loose.append(Stroke(tool, moved, np.full(len(moved), pressure)))
    page = Page(bed.surface, bed.chance)
    page.lay(Drawing(bed.size, tuple(loose)))
    return page, page.cover


def blue_pencil(bed: Bed) -> None:
    """Underdrawing in non-photo blue."""
    bed.darken(_underdrawing(bed, NON_PHOTO_BLUE, 0.38)[1], NON_PHOTO_BLUE)


def rubbed_pencil(bed: Bed) -> None:
    """Pencil underdrawing, rubbed out: paler and patchy, with a little smear around it."""
    _, cover = _underdrawing(bed, MECHANICAL_PENCIL.ink, 0.55)
    left = np.clip(_clouds(bed, 18.0) * np.float32(0.22) + np.float32(0.26), 0.04, 0.6)
    smear = bed.soften(cover, 0.7) * np.float32(0.12)
    bed.darken(cover * left + smear, MECHANICAL_PENCIL.ink)


def show_through(bed: Bed) -> None:
    """The drawing on the back, mirrored and soft."""
    drawing = bed.back(bed.chance)
    page = Page(make_surface(SMOOTH, drawing.size_mm, 75, bed.chance), bed.chance)
    page.lay(drawing)
    mirrored = np.ascontiguousarray(page.cover[:, ::-1])
    shape = bed.cover.shape
    wide = cv2.resize(mirrored, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)
    depth = np.float32(bed.chance.uniform(0.06, 0.14))
    bed.darken(depth * bed.soften(wide.astype(np.float32), 0.4))


def smudge(bed: Bed) -> None:
    """A drag of graphite under the hand."""
    for _ in range(int(bed.chance.integers(1, 4))):
        x, y = bed.chance.uniform(0.2, 0.8, 2) * bed.size
        turn, long = bed.chance.uniform(0, np.pi), bed.chance.uniform(8, 24)
        way = np.array([np.cos(turn), np.sin(turn)])
        side = np.array([-way[1], way[0]]) * bed.chance.uniform(2, 5)
        middle = np.array([x, y])
        ends = [middle - way * long + side, middle + way * long + side * 0.4,
                middle + way * long - side * 0.4, middle - way * long - side]
        share = bed.mask(smooth(np.array(ends), closed=True), 1.8)
        bed.darken(share * np.float32(bed.chance.uniform(0.05, 0.12)), MECHANICAL_PENCIL.ink)


def cockle(bed: Bed) -> None:
    """The sheet has not dried flat: broad light and shade."""
    bed.ground *= (np.float32(1.0) + np.float32(0.035) * _clouds(bed, 45.0))[..., None]


def patch(bed: Bed) -> None:
    """A piece pasted on, of paper a little different, with its edge's light and shadow."""
    x, y = bed.chance.uniform(0.25, 0.6, 2) * bed.size
    wide, high = bed.chance.uniform(0.2, 0.35, 2) * bed.size
    inside = bed.mask(_turned(x, y, wide, high, bed.chance.normal(0.0, 4.0)), 0.03)
    bed.darken(inside * np.float32(0.05), (0.5, 0.5, 0.4))
    rise = np.gradient(bed.soften(inside, 0.1), axis=0).astype(np.float32)
    rise /= np.float32(max(float(np.abs(rise).max()), 1e-6))
    bed.darken(np.clip(-rise, 0.0, 1.0) * np.float32(0.4))
    bed.darken(np.clip(rise, 0.0, 1.0) * np.float32(0.3), WHITE)


def tape(bed: Bed) -> None:
    """Strips of yellowed tape over two corners."""
    for corner in bed.chance.permutation(4)[:2]:
        x, y = (corner % 2) * bed.size[0], (corner // 2) * bed.size[1]
        turn = (45.0 if corner in {1, 2} else -45.0) + bed.chance.normal(0.0, 6.0)
        strip = bed.mask(_turned(x - 17.0, y - 7.0, 34.0, 14.0, turn), 0.05)
        streaks = np.float32(0.12) + np.float32(0.012) * _clouds(bed, 3.0)
        edge = np.clip(strip - bed.soften(strip, 0.3), 0.0, 1.0) * np.float32(0.25)
        bed.darken(strip * streaks + edge, (0.55, 0.42, 0.16))


def deckle(bed: Bed) -> None:
    """The sheet's own ragged edge, its shadow, and the lid beyond it."""
    lid = LIDS[int(bed.chance.integers(len(LIDS)))]
    width, height = bed.size
    sides = bed.chance.uniform(1.5, 6.0, 4) * (bed.chance.random(4) < 0.7) - 1.0
    left, top, right, foot = (float(side) for side in sides)
    ring = resample([(left, top), (width - right, top), (width - right, height - foot),
                     (left, height - foot), (left, top)], 0.25)
    rough = noise_along(lengths(ring), (7.0, 1.6, 0.6), bed.chance)
    ring = ring + normals(ring) * (0.3 * rough[0] + 0.16 * rough[1] + 0.08 * rough[2])[:, None]
    away = np.float32(1.0) - bed.mask(ring, 0.05)
    shadow = _lowered(bed, bed.soften(np.float32(1.0) - away, 0.6), 0.5)
    beyond = np.array(lid, np.float32) * (np.float32(1.0) - np.float32(0.55) * shadow)[..., None]
    bed.cover_up(away, beyond)
    bed.off = np.maximum(bed.off, away)


def holes(bed: Bed) -> None:
    """Binding holes down one side, through which the lid is seen."""
    lid = LIDS[int(bed.chance.integers(len(LIDS)))]
    x = 9.0 if bed.chance.random() < 0.5 else bed.size[0] - 9.0
    for share in (0.31, 0.69):
        turn = np.linspace(0.0, 2.0 * np.pi, 60)
        y = share * bed.size[1]
        hole = bed.mask(np.column_stack([x + 2.8 * np.cos(turn), y + 2.8 * np.sin(turn)]), 0.04)
        lit = _lowered(bed, bed.soften(hole, 0.35), 0.55)
        seen = np.array(lid, np.float32) * (np.float32(0.35) + np.float32(0.65) * lit)[..., None]
        bed.cover_up(hole, seen)
        bed.off = np.maximum(bed.off, hole)


def correction(bed: Bed) -> None:
    """Correction white over slips, through which the ink still ghosts."""
    strokes = [mark for mark in bed.drawing.marks if isinstance(mark, Stroke)]
    for _ in range(int(bed.chance.integers(2, 5))):
        stroke = strokes[int(bed.chance.integers(len(strokes)))]
        path = stroke.points[: int(bed.chance.integers(8, 30))]
        if len(path) < 3:
            continue
        side = normals(path) * bed.chance.uniform(0.8, 2.2)
        ring = np.vstack([path + side, (path - side)[::-1]])
        share = bed.mask(smooth(ring[::3], closed=True), 0.12)
        share *= np.float32(bed.chance.uniform(0.86, 0.95))
        bed.cover_up(share, WHITE)
        bed.cover *= np.float32(1.0) - (share > np.float32(0.4))


def white_ink(bed: Bed) -> None:
    """White lines drawn across what is black: they belong to the drawing."""
    stray = bed.stray.copy()
    x, y = bed.chance.uniform(0.3, 0.7, 2) * bed.size
    tool = replace(FINE_PEN, ink=WHITE, width=0.4)
    rows = [[(x - 18.0, y + step), (x, y + step - 2.0), (x + 18.0, y + step + 1.0)]
            for step in np.arange(-10.0, 11.0, 1.4)]
    lines = tuple(Stroke(tool, path, np.full(len(path), 0.8)) for path in map(smooth, rows))
    page = Page(bed.surface, bed.chance)
    page.lay(Drawing(bed.size, lines))
    bed.cover_up(page.cover * (bed.cover > np.float32(0.02)), WHITE)
    bed.stray = stray


UNDER: dict[str, Callable[[Bed], None]] = {
    "blue pencil": blue_pencil,
    "rubbed pencil": rubbed_pencil,
    "show-through": show_through,
    "smudge": smudge,
    "cockle": cockle,
    "patch": patch,
    "tape": tape,
}
OVER: dict[str, Callable[[Bed], None]] = {
    "correction": correction,
    "white ink": white_ink,
    "deckle": deckle,
    "holes": holes,
}


def _turned(x: float, y: float, wide: float, high: float, degrees: float) -> F64:
    """Corners of a rectangle turned about its middle."""
    middle = np.array([x + wide / 2.0, y + high / 2.0])
    corners = np.array([(-wide, -high), (wide, -high), (wide, high), (-wide, high)]) / 2.0
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.asarray(middle + corners @ np.array([[c, s], [-s, c]]))


def _lowered(bed: Bed, plane: F32, down_mm: float) -> F32:
    """A plane moved down the page; nothing comes in from above."""
    rows = round(down_mm / bed.surface.pixel_mm)
    moved = np.zeros_like(plane)
    moved[rows:] = plane[:-rows]
    return moved


def _clouds(bed: Bed, wave_mm: float) -> F32:
    """Soft noise over the sheet, deviation 1, one swing about every `wave_mm`."""
    width, height = bed.size
    grid = bed.chance.standard_normal(
        (max(4, int(2 * height / wave_mm) + 2), max(4, int(2 * width / wave_mm) + 2)), np.float32
    )
    shape = bed.cover.shape
    large = cv2.resize(grid, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return np.asarray(large / np.float32(large.std()), np.float32)
