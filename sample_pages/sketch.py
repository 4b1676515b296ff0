"""Composing a drawing: lines, outlines, hatching and solids, laid from front to back.

A shape that has been drawn can be claimed; what is drawn afterwards stops at its edge, as an
illustrator's pen does. Everything is in mm from the top left corner of the sheet.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from sample_pages.instruments import Tool
from sample_pages.path import (
    Points,
    Pressure,
    as_points,
    lengths,
    noise_along,
    resample,
    runs,
    smooth,
    tremble,
)
from sample_pages.stroke import Drawing, Solid, Stroke

F64 = npt.NDArray[np.float64]
Region = npt.NDArray[np.bool_]
Tone = Callable[[F64], F64]

CELLS_PER_MM = 10
ORDER = (0.0, 0.62, 0.3, 0.82, 0.15, 0.7, 0.42, 0.92)


@dataclass(frozen=True)
class Hand:
    """How a line is pulled: sideways shake in mm, and the mm over which its ends thin out."""

    shake: float = 0.1
    lead_in: float = 1.2
    lead_out: float = 2.0
    lightest: float = 0.35
    uneven: float = 0.12


STEADY = Hand(0.05, 0.8, 1.0, 0.6, 0.07)
PLAIN = Hand()
LOOSE = Hand(0.22, 2.0, 3.5, 0.2, 0.18)
FLICK = Hand(0.08, 0.4, 4.0, 0.05, 0.1)


class Sketch:
    """A drawing in the making on a sheet of (width, height) mm."""

    def __init__(self, size_mm: tuple[float, float], rng: np.random.Generator) -> None:
        self.size = size_mm
        self.rng = rng
        self._marks: list[Stroke | Solid] = []
        cells = (round(size_mm[1] * CELLS_PER_MM), round(size_mm[0] * CELLS_PER_MM))
        self.free: Region = np.ones(cells, np.bool_)

    def drawing(self) -> Drawing:
        """What has been drawn so far."""
        return Drawing(self.size, tuple(self._marks))

    def region(self, outline: Points) -> Region:
        """The cells inside a closed outline."""
        cells = np.zeros(self.free.shape, np.uint8)
        corners = np.round(as_points(outline) * CELLS_PER_MM * 16 - 8).astype(np.int32)
        cv2.fillPoly(cells, [corners], 1, shift=4)
        return cells.view(np.bool_)

    def claim(self, outline: Points, gap: float = 0.0) -> Region:
        """Keep later marks out of an outline, and `gap` mm around it; the region it covers."""
        region = self.region(outline)
        self.claim_region(region, gap)
        return region

    def claim_region(self, region: Region, gap: float = 0.0) -> None:
        """Keep later marks out of a region, and `gap` mm around it."""
        cells = region.astype(np.uint8)
        reach = round(gap * CELLS_PER_MM)
        if reach > 0:
            disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
            cells = cv2.dilate(cells, disc).astype(np.uint8)
        self.free &= cells == 0

    def line(
        self, tool: Tool, points: Points, pressure: Pressure = 0.6, hand: Hand = PLAIN,
        inside: Region | None = None,
    ) -> None:
        """Pull a line along straight pieces, broken where another shape covers it."""
        path = tremble(resample(points), hand.shake, self.rng)
        self._pull(tool, path, pressure, hand, inside)

    def curve(
        self, tool: Tool, points: Points, pressure: Pressure = 0.6, hand: Hand = PLAIN,
        inside: Region | None = None, closed: bool = False,
    ) -> None:
        """Pull a smooth line through the points."""
        path = tremble(smooth(points, closed=closed), hand.shake, self.rng)
        self._pull(tool, path, pressure, hand, inside)

    def dot(self, tool: Tool, place: tuple[float, float], pressure: float = 0.5) -> None:
        """Touch the paper once."""
        spot = as_points([place])
        if self._open(spot, None)[0]:
            tail = spot + self.rng.normal(0.0, 0.04, (1, 2))
            self._marks.append(Stroke(tool, np.vstack([spot, tail]), np.full(2, pressure)))

    def solid(self, tool: Tool, outline: Points, rim: float = 0.35, hand: Hand = STEADY) -> None:
        """Fill what is uncovered of an outline, and go round it with a brush `rim` mm wide."""
        share = float(np.clip((rim / tool.width - tool.thin) / (1.0 - tool.thin), 0.0, 1.0))
        for shape in self._uncovered(resample(outline)):
            edge = tremble(shape, hand.shake, self.rng)
            self._marks.append(Solid(tool, edge))
            ring = np.vstack([edge, edge[:1]])
            self._marks.append(Stroke(tool, ring, np.full(len(ring), share)))

    def _uncovered(self, outline: F64) -> list[F64]:
        """The outlines of what no other shape covers of one outline."""
        region = self.region(outline)
        left = region & self.free
        if (left == region).all():
            return [outline]
        found, _ = cv2.findContours(
            left.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
        )
        shapes = [(shape.reshape(-1, 2) + 0.5) / CELLS_PER_MM for shape in found if len(shape) > 8]
        return [resample(smooth(shape[::4], closed=True)) for shape in shapes]

    def hatch(
        self, tool: Tool, region: Region, angle: float, spacing: float,
        tone: Pressure = 0.6, pressure: Pressure = 0.5, hand: Hand = PLAIN, bow: float = 0.0,
        reach: float = 1e9,
    ) -> None:
        """Fill a region with parallel strokes at an angle (degrees, 0 along x, 90 upward).

        Where `tone` (0-1) is light, only some of the lines are drawn. `bow` bends each line by that
        share of its length; `reach` is the longest stroke the hand makes before it lifts, in mm.
        """
        left, top, wide, high = cv2.boundingRect(region.view(np.uint8))
        box = np.s_[top : top + high, left : left + wide]
        rows, columns = np.nonzero(region[box] & self.free[box])
        if rows.size == 0:
            return
        cells = np.column_stack([columns + left, rows + top]) / CELLS_PER_MM
        turn = np.radians(angle)
        ahead = np.array([np.cos(turn), -np.sin(turn)])
        aside = np.array([np.sin(turn), np.cos(turn)])
        forward, sideways = cells @ ahead, cells @ aside
        low, high, last = forward.min(), forward.max(), sideways.max()
        offset = sideways.min() + spacing * self.rng.uniform(0.1, 0.9)
        number = 0
        while offset < last:
            tilt = self.rng.normal(0.0, 0.006)
            t = np.arange(low - 0.2, high + 0.2, 0.3)
            mid = (t - low) / max(high - low, 1e-6) - 0.5
            side = offset + tilt * (t - low) + bow * (high - low) * (0.25 - mid * mid)
            path = t[:, None] * ahead + side[:, None] * aside
            self._hatch_line(tool, path, region, ORDER[number % 8], tone, pressure, hand, reach)
            offset += spacing * float(np.clip(self.rng.normal(1.0, 0.13), 0.6, 1.5))
            number += 1

    def rule(
        self, tool: Tool, paths: list[F64], region: Region | None, tone: Pressure = 0.6,
        pressure: Pressure = 0.5, hand: Hand = PLAIN, reach: float = 1e9,
    ) -> None:
        """Hatch along given paths (across a form, round a barrel), thinned out where light."""
        whole = np.ones_like(self.free) if region is None else region
        for number, path in enumerate(paths):
            line = resample(path, 0.3)
            self._hatch_line(tool, line, whole, ORDER[number % 8], tone, pressure, hand, reach)

    def _hatch_line(
        self, tool: Tool, path: F64, region: Region, order: float, tone: Pressure,
        pressure: Pressure, hand: Hand, reach: float,
    ) -> None:
        dark = at(tone, path)
        press = at(pressure, path) * (0.6 + 0.4 * np.clip(dark, 0.0, 1.0))
        kept = self._open(path, region) & (dark > max(order, 0.02)) & (press > 0.025)
        along = lengths(path)
        if reach < along[-1]:
            lift = (along + self.rng.uniform(0, reach)) % (reach * self.rng.uniform(0.8, 1.2))
            kept &= lift > 0.5
        for run in runs(kept):
            if run.stop - run.start >= 3:
                stroke = tremble(path[run], hand.shake, self.rng)
                self._pull(tool, stroke, press[run], hand, None)

    def _pull(
        self, tool: Tool, path: F64, pressure: Pressure | F64, hand: Hand, inside: Region | None
    ) -> None:
        if len(path) < 2:
            return
        along = lengths(path)
        ramp_in = np.clip(along / max(hand.lead_in, 1e-6), 0.0, 1.0)
        ramp_out = np.clip((along[-1] - along) / max(hand.lead_out, 1e-6), 0.0, 1.0)
        ends = hand.lightest + (1.0 - hand.lightest) * np.sqrt(ramp_in * ramp_out)
        sway = 1.0 + hand.uneven * noise_along(along, (7.0,), self.rng)[0]
        press = np.clip(at(pressure, path) * ends * sway, 0.0, 1.0)
        for run in runs(self._open(path, inside)):
            if run.stop - run.start >= 2:
                self._marks.append(Stroke(tool, path[run], press[run]))

    def uncovered(self, path: F64) -> npt.NDArray[np.bool_]:
        """Which of (n, 2) points a mark may still be drawn at."""
        return self._open(path, None)

    def _open(self, path: F64, inside: Region | None) -> npt.NDArray[np.bool_]:
        """Which points of a path lie on the sheet, uncovered, and inside the region if any."""
        cells = np.floor(path * CELLS_PER_MM).astype(np.int64)
        inner = (cells >= 0) & (cells < np.array(self.free.shape)[::-1])
        on_sheet: Region = np.logical_and(inner[:, 0], inner[:, 1])
        column, row = np.where(on_sheet[:, None], cells, 0).T
        open_here: Region = on_sheet & self.free[row, column]
        if inside is not None:
            open_here &= inside[row, column]
        return np.asarray(open_here)


def at(value: Pressure | F64, path: F64) -> F64:
    """A pressure or tone, given plainly, by place or point by point, along a path."""
    if isinstance(value, np.ndarray):
        return value
    return np.asarray(value(path)) if callable(value) else np.full(len(path), float(value))
