"""Pens, pencils and brushes: how each covers a surface with what it carries.

A tool sees a `Swath`, the pixels under its stroke, and answers with cover from 0 to 1. Pens and
loaded brushes flow: they cover peaks and valleys and only their edge feels the tooth. Pencils and
dry brushes touch the peaks, the more of the paper the harder they press.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sample_pages.path import normals
from sample_pages.surface import Surface

F32 = npt.NDArray[np.float32]
F64 = npt.NDArray[np.float64]
Reflectance = tuple[float, float, float]

BLACK_INK: Reflectance = (0.022, 0.021, 0.023)
BROWN_INK: Reflectance = (0.155, 0.065, 0.028)
BLUE_BLACK_INK: Reflectance = (0.024, 0.028, 0.055)
GRAPHITE: Reflectance = (0.085, 0.085, 0.088)
INKS: dict[str, Reflectance] = {
    "black": BLACK_INK,
    "brown": BROWN_INK,
    "blue": (0.03, 0.045, 0.2),
    "red": (0.33, 0.035, 0.03),
    "washed-out": (0.13, 0.125, 0.12),
}


@dataclass(frozen=True, eq=False)
class Swath:
    """The pixels one stroke reaches, as equal-length arrays.

    `index` into the flat page; `depth` mm inside the stroke's edge (negative outside); `radius`
    mm; `across` -1..1 from left edge to right; `along` mm from the start, `left` mm to the end;
    `pressure` 0-1. `chance`
    is for what differs from stroke to stroke.
    """

    index: npt.NDArray[np.int32]
    depth: F32
    radius: F32
    across: F32
    along: F32
    left: F32
    pressure: F32
    chance: np.random.Generator


@dataclass(frozen=True)
class Tool(ABC):
    """What all tools share: name, the code it has in the instrument map, and its size.

    `width` is in mm at full pressure, `thin` the share of it left at no pressure. A broad nib held
    at `nib` degrees draws strokes along that direction `nib_thin` times as wide.
    """

    name: str
    code: int
    width: float
    thin: float
    ink: Reflectance
    nib: float | None = None
    nib_thin: float = 1.0

    builds_up = True

    def widths(self, points: F64, pressure: F64) -> F64:
        """Width in mm at each of (n, 2) points under (n,) pressure."""
        wide = self.width * (self.thin + (1.0 - self.thin) * pressure)
        if self.nib is None or len(points) < 2:
            return wide
        slant = np.radians(self.nib)
        turn = np.abs(normals(points) @ np.array([np.cos(slant), -np.sin(slant)]))
        return np.asarray(wide * (self.nib_thin + (1.0 - self.nib_thin) * turn))

    @abstractmethod
    def cover(self, swath: Swath, surface: Surface) -> F32:
        """Ink cover 0-1 at each pixel of the swath."""


@dataclass(frozen=True)
class Pen(Tool):
    """A tool that flows. `bleed` mm of its edge follow the valleys; a light, quick pull skips."""

    bleed: float = 0.012
    skip: float = 0.25

    builds_up = False

    def cover(self, swath: Swath, surface: Surface) -> F32:
        """Ink cover 0-1 at each pixel of the swath."""
        height = surface.height.ravel()[swath.index]
        edge = swath.depth - np.float32(self.bleed * surface.height_mm / 0.0065) * height
        inside = _edge(edge, surface.pixel_mm)
        held = np.clip(swath.pressure / np.float32(max(self.skip, 1e-6)), 0.0, 1.0)
        touched = _touch(height, 0.86 + 0.14 * held, surface, 0.5)
        flow = np.where(held < 1.0, touched, np.float32(1.0))
        return (inside * flow).astype(np.float32)


@dataclass(frozen=True)
class Pencil(Tool):
    """Graphite: touches peaks. Fractions of paper touched and density there, light and hard."""

    touch: tuple[float, float] = (0.12, 0.9)
    density: tuple[float, float] = (0.42, 0.9)
    blunt: float = 0.06
    give: float = 0.55

    def cover(self, swath: Swath, surface: Surface) -> F32:
        """Ink cover 0-1 at each pixel of the swath."""
        height = surface.height.ravel()[swath.index]
        inward = np.clip(swath.depth / swath.radius, 0.0, 1.0)
        press = swath.pressure * (0.6 + 0.4 * np.sqrt(inward))
        fraction = self.touch[0] + (self.touch[1] - self.touch[0]) * press ** np.float32(0.8)
        density = self.density[0] + (self.density[1] - self.density[0]) * swath.pressure
        inside = _edge(swath.depth, surface.pixel_mm + self.blunt)
        return (inside * density * _touch(height, fraction, surface, self.give)).astype(np.float32)


@dataclass(frozen=True)
class DryBrush(Tool):
    """A brush running out of ink: streaks of bristles, each touching fewer peaks as it dries.

    `reach` is the length in mm after which it is nearly dry; `wet` how much it touches at first.
    """

    wet: float = 0.82
    reach: float = 45.0
    split: float = 0.55
    give: float = 0.3

    def cover(self, swath: Swath, surface: Surface) -> F32:
        """Ink cover 0-1 at each pixel of the swath."""
        height = surface.height.ravel()[swath.index]
        streak = _bristles(swath, self.width, 2.5)
        ends = np.maximum(_bristles(swath, self.width, 1e6), np.float32(-1.2))
        down = np.clip((swath.along - 0.8 - 0.5 * ends) / np.float32(0.8), 0.0, 1.0)
        lifted = np.clip((swath.left - 2.0 - 1.6 * ends) / np.float32(5.0), 0.0, 1.0)
        load = self.wet * np.exp(-swath.along / np.float32(self.reach)) * (
            0.35 + 0.65 * swath.pressure
        )
        fraction = np.clip(load + np.float32(0.16) * streak, 0.0, 1.0) * down * np.sqrt(lifted)
        touched = _touch(
            height + np.float32(self.split) * streak, fraction, surface, self.give
        )
        ragged = swath.depth + np.float32(0.06 * self.width) * (streak - 1.0)
        inside = _edge(ragged, surface.pixel_mm + 0.15) * np.minimum(4.0 * down * lifted, 1.0)
        return (np.float32(0.96) * inside * touched).astype(np.float32)


@dataclass(frozen=True)
class Wash(Tool):
    """Thinned ink: a flat tone, deeper in the valleys and along the edge where it dried last."""

    tone: float = 0.2
    rim: float = 0.35

    builds_up = False

    def cover(self, swath: Swath, surface: Surface) -> F32:
        """Ink cover 0-1 at each pixel of the swath."""
        height = surface.height.ravel()[swath.index]
        inside = _edge(swath.depth, surface.pixel_mm + 0.04)
        drying = np.exp(-np.maximum(swath.depth, 0.0) / np.float32(0.22))
        pooled = 1.0 - np.float32(0.1) * np.clip(height, -2.0, 2.0)
        tone = np.float32(self.tone) * pooled * (1.0 + np.float32(self.rim) * drying)
        return np.clip(inside * tone * (0.6 + 0.4 * swath.pressure), 0.0, 1.0).astype(np.float32)


def _edge(depth: F32, soft_mm: float) -> F32:
    """Share of a pixel that lies inside an edge which is `soft_mm` wide."""
    return np.asarray(np.clip(np.float32(0.5) + depth / np.float32(soft_mm), 0.0, 1.0))


def _touch(height: F32, fraction: npt.NDArray[np.floating], surface: Surface, give: float) -> F32:
    """Contact 0-1 of a tool resting on the highest `fraction` of the paper; it gives a little."""
    level = surface.level_touched(np.minimum(fraction, 1.0))
    soft = np.float32(give + surface.step)
    above = np.clip(np.float32(0.5) + (height - level) / (np.float32(2.0) * soft), 0.0, 1.0)
    return np.asarray(above * above * (np.float32(3.0) - np.float32(2.0) * above))


def _bristles(swath: Swath, width: float, wave: float) -> F32:
    """Streaks about -1.5..1.5, one every 0.2 mm across the full width, changing every `wave` mm."""
    count, ages = max(4, round(width / 0.2)), 64
    noise = swath.chance.standard_normal((ages, count)).astype(np.float32)
    noise = 0.75 * noise[:1] + 0.65 * noise
    late = swath.chance.uniform(0.0, ages / 2.0, count).astype(np.float32)
    place = np.clip((swath.across * 0.5 + 0.5) * (count - 1), 0.0, count - 1.001)
    column = place.astype(np.int64)

    def bristle(number: npt.NDArray[np.int64]) -> F32:
        age = (swath.along / np.float32(wave) + late[number]) % np.float32(ages - 1)
        row = age.astype(np.int64)
        share = (age - row).astype(np.float32)
        return np.asarray(noise[row, number] * (1 - share) + noise[row + 1, number] * share)

    right = (place - column).astype(np.float32)
    return np.asarray(bristle(column) * (1 - right) + bristle(column + 1) * right)


FINE_PEN = Pen("fine pen", 1, 0.25, 0.5, BLACK_INK, bleed=0.008, skip=0.12)
DIP_PEN = Pen("dip pen", 2, 0.72, 0.2, BLACK_INK, 35.0, 0.72, bleed=0.014, skip=0.3)
FOUNTAIN_PEN = Pen(
    "fountain pen", 3, 0.62, 0.7, BLUE_BLACK_INK, 42.0, 0.5, bleed=0.016, skip=0.15
)
MECHANICAL_PENCIL = Pencil(
    "mechanical pencil", 4, 0.42, 0.8, GRAPHITE, touch=(0.22, 1.1), density=(0.36, 0.92), blunt=0.05
)
SOFT_PENCIL = Pencil(
    "soft pencil", 5, 0.85, 0.55, GRAPHITE, touch=(0.1, 1.08), density=(0.46, 1.0), blunt=0.12
)
SOFT_PENCIL_SIDE = Pencil(
    "soft pencil, on its side", 6, 2.6, 0.85, GRAPHITE,
    touch=(0.08, 0.98), density=(0.42, 0.9), blunt=0.5,
)
BRUSH = Pen("brush", 7, 2.2, 0.08, BLACK_INK, bleed=0.016, skip=0.12)
DRY_BRUSH = DryBrush("dry brush", 8, 4.0, 0.5, BLACK_INK)
WASH = Wash("wash", 9, 4.0, 0.8, BLACK_INK)
TOOLS = (
    FINE_PEN, DIP_PEN, FOUNTAIN_PEN, MECHANICAL_PENCIL, SOFT_PENCIL, SOFT_PENCIL_SIDE, BRUSH,
    DRY_BRUSH, WASH,
)
