"""Solid things to draw round: a view in perspective, flat faces, turned bodies, patches of tone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sample_pages.path import F64, Points, as_points, ellipse

Place = tuple[float, float, float]
Tone = Callable[[F64], F64]


@dataclass(frozen=True)
class View:
    """Two-point perspective: uprights stay upright. Metres in the scene, mm on the page.

    `eye` is x, y, z (z up); `heading` degrees clockwise from the y axis; `focal` mm; `centre` the
    point of the page that the eye looks at, so that the horizon lies at its y.
    """

    eye: Place
    heading: float
    focal: float
    centre: tuple[float, float]

    def project(self, places: npt.ArrayLike) -> F64:
        """(n, 2) points on the page of (n, 3) places in the scene."""
        x, y, z = (np.asarray(places, np.float64).reshape(-1, 3) - np.array(self.eye)).T
        turn = np.radians(self.heading)
        aside = x * np.cos(turn) - y * np.sin(turn)
        ahead = np.maximum(x * np.sin(turn) + y * np.cos(turn), 0.05)
        return np.column_stack([
            self.centre[0] + self.focal * aside / ahead,
            self.centre[1] - self.focal * z / ahead,
        ])


@dataclass(frozen=True)
class Face:
    """A flat parallelogram in a view: a corner and its two sides, u along `right`, v along `up`."""

    view: View
    corner: Place
    right: Place
    up: Place

    def at(self, u: npt.ArrayLike, v: npt.ArrayLike) -> F64:
        """(n, 2) page points of places on the face; u and v run 0-1."""
        along, above = np.broadcast_arrays(np.asarray(u, np.float64), np.asarray(v, np.float64))
        places = (
            np.array(self.corner)
            + along.reshape(-1, 1) * np.array(self.right)
            + above.reshape(-1, 1) * np.array(self.up)
        )
        return self.view.project(places)

    def quad(self, u0: float = 0.0, v0: float = 0.0, u1: float = 1.0, v1: float = 1.0) -> F64:
        """Outline of part of the face, from its lower left corner along the foot."""
        return self.at([u0, u1, u1, u0], [v0, v0, v1, v1])

    def level(self, v: float, u0: float = 0.0, u1: float = 1.0) -> F64:
        """Line at one height of the face."""
        return self.at(np.linspace(u0, u1, 12), v)

    def upright(self, u: float, v0: float = 0.0, v1: float = 1.0) -> F64:
        """Line at one place along the face."""
        return self.at(u, np.linspace(v0, v1, 12))

    def mirrored(self) -> Face:
        """The same face as it is reflected in the water at z = 0."""
        (x, y, z), (rx, ry, rz), (ux, uy, uz) = self.corner, self.right, self.up
        return Face(self.view, (x, y, -z), (rx, ry, -rz), (ux, uy, -uz))


@dataclass(frozen=True)
class Lathe:
    """A turned body seen a little from above: centre line x, and (y, radius) down its side.

    `squash` is the height of a ring over its width, at the top and at the foot.
    """

    x: float
    profile: tuple[tuple[float, float], ...]
    squash: tuple[float, float]

    @property
    def top(self) -> float:
        """Page y of the highest ring's centre."""
        return self.profile[0][0]

    @property
    def foot(self) -> float:
        """Page y of the lowest ring's centre."""
        return self.profile[-1][0]

    def radius(self, y: npt.ArrayLike) -> F64:
        """Radius in mm at a height on the page."""
        heights, radii = as_points(self.profile).T
        return np.asarray(np.interp(np.asarray(y, np.float64), heights, radii))

    def flatness(self, y: npt.ArrayLike) -> F64:
        """Ring height over width at a height on the page."""
        return np.asarray(np.interp(np.asarray(y, np.float64), [self.top, self.foot], self.squash))

    def ring(self, y: float, start: float = 0.0, end: float = 180.0) -> F64:
        """Part of the ring at y; 0-180 degrees is its near half, from right to left."""
        radius = float(self.radius(y))
        return ellipse((self.x, y), (radius, radius * float(self.flatness(y))), start, end)

    def meridian(self, turn: float, y0: float | None = None, y1: float | None = None) -> F64:
        """Line down the side, `turn` degrees right of the nearest (-90 left edge, 90 right)."""
        y = np.linspace(self.top if y0 is None else y0, self.foot if y1 is None else y1, 60)
        radius, angle = self.radius(y), np.radians(turn)
        return np.column_stack([
            self.x + radius * np.sin(angle), y + radius * self.flatness(y) * np.cos(angle)
        ])

    def outline(self) -> F64:
        """Closed outline: down the right side, round the foot, up the left, over the top."""
        y = np.linspace(self.top, self.foot, 80)
        side = self.radius(y)
        right, left = np.column_stack([self.x + side, y]), np.column_stack([self.x - side, y])
        return np.vstack([
            right, self.ring(self.foot, 0, 180), left[::-1], self.ring(self.top, 180, 360)
        ])

    def shade(self, light: float = -40.0, edge: float = 0.25) -> Tone:
        """Tone 0-1 round the body, lit from `light` degrees; the far edge gets light back."""

        def tone(points: F64) -> F64:
            x, y = points.T
            share = np.clip((x - self.x) / np.maximum(self.radius(y), 1e-6), -1.0, 1.0)
            turn = np.degrees(np.arcsin(share)) - light
            dark = 0.5 - 0.5 * np.cos(np.radians(np.clip(turn, -180.0, 180.0)) * 1.25)
            return np.asarray(np.clip(dark - edge * np.maximum(0.0, share - 0.75) * 4.0, 0.0, 1.0))

        return tone


def patches(
    size_mm: tuple[float, float], wave: float, rng: np.random.Generator
) -> Tone:
    """Soft patches between 0 and 1 over the sheet, about one per `wave` mm."""
    shape = (int(size_mm[1] / wave * 2) + 4, int(size_mm[0] / wave * 2) + 4)
    grid = rng.random(shape)

    def tone(points: F64) -> F64:
        x, y = (np.clip(points / wave * 2.0, 0.0, np.array(shape)[::-1] - 2.001)).T
        column, row = x.astype(np.int64), y.astype(np.int64)
        right, below = (part * part * (3.0 - 2.0 * part) for part in (x - column, y - row))
        upper = grid[row, column] * (1 - right) + grid[row, column + 1] * right
        lower = grid[row + 1, column] * (1 - right) + grid[row + 1, column + 1] * right
        return np.asarray(upper * (1 - below) + lower * below)

    return tone


def ramp(start: tuple[float, float], end: tuple[float, float], low: float, high: float) -> Tone:
    """Tone that goes from `low` at one point of the sheet to `high` at another, level beyond."""
    first, way = np.array(start), np.array(end) - np.array(start)

    def tone(points: F64) -> F64:
        share = np.clip((points - first) @ way / (way @ way), 0.0, 1.0)
        return np.asarray(low + (high - low) * share)

    return tone


def away_from(place: tuple[float, float], near: float, far: float, low: float, high: float) -> Tone:
    """Tone `low` within `near` mm of a point, `high` beyond `far` mm."""

    def tone(points: F64) -> F64:
        distance = np.hypot(*(points - np.array(place)).T)
        share = np.clip((distance - near) / (far - near), 0.0, 1.0)
        return np.asarray(low + (high - low) * share)

    return tone


def scaled(tone: Tone, gain: float, low: float = 0.0) -> Tone:
    """A tone multiplied by a gain and raised by `low`."""

    def changed(points: F64) -> F64:
        return np.asarray(low + gain * tone(points))

    return changed


def times(*tones: Tone | float) -> Tone:
    """Tones multiplied by one another."""

    def tone(points: F64) -> F64:
        product = np.ones(len(points))
        for part in tones:
            product *= part(points) if callable(part) else part
        return product

    return tone


def moved(points: Points, x: float = 0.0, y: float = 0.0, grow: float = 1.0) -> F64:
    """Points grown about the origin, then shifted."""
    return np.asarray(as_points(points) * grow + np.array([x, y]))
