"""Laying a drawing on a surface: strokes in mm become ink cover in pixels.

Only the pixels near each stroke are worked on. Every segment's surroundings are listed, the
distance to the segment is measured, and where segments of one stroke meet the deepest wins.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

import cv2
import numpy as np
import numpy.typing as npt

from sample_pages.instruments import Swath, Tool
from sample_pages.path import lengths
from sample_pages.stroke import Drawing, Solid, Stroke
from sample_pages.surface import F32, F64, Surface

I32 = npt.NDArray[np.int32]

RIM_MM = 0.27
CHUNK = 3_000_000
BATCH_POINTS = 6_000
SEGMENT_MM = 0.2
SEGMENT_WIDTHS = 0.6
FAINTEST = np.float32(0.002)
FAINT = (0.10, 0.22)
FAR = np.float32(-1e9)


class Page:
    """The sheet while ink is laid on it.

    `cover` (H, W) float32 0-1; `light` (H, W, 3) float32 is the light that the ink sends back,
    already weighted by cover; `instrument` (H, W) uint8 the tool that gave the larger share;
    `faint` (H, W) bool where nothing lies but strokes that cover FAINT of the paper under them.
    """

    def __init__(self, surface: Surface, rng: np.random.Generator) -> None:
        rows, columns = surface.height.shape
        self.shape = (rows, columns)
        self.surface = surface
        self.rng = rng
        self.cover = np.zeros(self.shape, np.float32)
        self.light = np.zeros((*self.shape, 3), np.float32)
        self.instrument = np.zeros(self.shape, np.uint8)
        self._light_hand = np.zeros(rows * columns, np.bool_)
        self._firm_hand = np.zeros(rows * columns, np.bool_)
        self._depth = np.full(rows * columns, FAR, np.float32)
        self._owner = np.zeros(rows * columns, np.int32)

    def lay(self, drawing: Drawing) -> None:
        """Lay every mark of a drawing, in order."""
        for _, group in groupby(drawing.marks, key=lambda mark: mark.tool):
            marks = list(group)
            for solid in (mark for mark in marks if isinstance(mark, Solid)):
                self._fill(solid)
            for batch in _batches([mark for mark in marks if isinstance(mark, Stroke)]):
                self._stroke(batch)

    @property
    def faint(self) -> npt.NDArray[np.bool_]:
        """Where nothing lies but faint strokes."""
        return (self._light_hand & ~self._firm_hand).reshape(self.shape)

    def _stroke(self, batch: Sequence[Stroke]) -> None:
        tool = batch[0].tool
        swath = self._swath(batch)
        if swath.index.size == 0:
            return
        cover = tool.cover(swath, self.surface)
        under = swath.depth > 0.0
        average = float(cover[under].mean()) if under.any() else 0.0
        hand = self._light_hand if FAINT[0] <= average <= FAINT[1] else self._firm_hand
        hand[swath.index[under]] = True
        self._add(swath.index, cover, tool)

    def _fill(self, solid: Solid) -> None:
        mask = np.zeros(self.shape, np.uint8)
        corners = np.round((solid.outline / self.surface.pixel_mm - 0.5) * 256).astype(np.int32)
        cv2.fillPoly(mask, [corners], 1, shift=8)
        index = np.flatnonzero(mask).astype(np.int32)
        self._firm_hand[index] = True
        self._add(index, np.ones(index.size, np.float32), solid.tool)

    def _add(self, index: I32, cover: F32, tool: Tool) -> None:
        kept = cover > FAINTEST
        index, cover = index[kept], cover[kept]
        flat, light = self.cover.ravel(), self.light.reshape(-1, 3)
        before = flat[index]
        rest = np.float32(1.0) - cover
        labels = self.instrument.ravel()
        labels[index[cover >= before]] = tool.code
        flat[index] = before * rest + cover
        ink = np.array(tool.ink, np.float32)
        light[index] = light[index] * rest[:, None] + cover[:, None] * ink

    def _swath(self, batch: Sequence[Stroke]) -> Swath:
        """All pixels a batch of strokes reaches, each with its deepest segment's measures."""
        segments = _segments(batch, self.surface.pixel_mm)
        boxes = _boxes(segments, self.surface.pixel_mm, self.shape)
        parts = [self._near(segments[rows], boxes[rows]) for rows in _chunks(boxes)]
        index = np.concatenate([part[0] for part in parts])
        values = np.concatenate([part[1] for part in parts], axis=1)
        depth = values[0]
        np.maximum.at(self._depth, index, depth)
        deepest = np.flatnonzero(depth >= self._depth[index])
        self._owner[index[deepest]] = deepest
        chosen = deepest[self._owner[index[deepest]] == deepest]
        self._depth[index] = FAR
        one = values[:, chosen]
        return Swath(index[chosen], one[0], one[1], one[2], one[3], one[4], one[5], self.rng)

    def _near(self, segments: F32, boxes: I32) -> tuple[I32, F32]:
        """Flat index and the six measures of a swath, for all pixels near (n, 12) segments."""
        left, top, wide, high = boxes.T
        count = wide * high
        which = np.repeat(np.arange(len(segments), dtype=np.int32), count)
        local = np.arange(count.sum(), dtype=np.int32)
        local -= np.repeat(np.cumsum(count, dtype=np.int32) - count, count)
        y = local // wide[which]
        x = local - y * wide[which] + left[which]
        y += top[which]
        ax, ay, ra, pa, sa, end, dx, dy, dr, dp, ds, _ = segments.T
        per_length = np.float32(1.0) / np.maximum(dx * dx + dy * dy, np.float32(1e-6))
        rx, ry = x.astype(np.float32) - ax[which], y.astype(np.float32) - ay[which]
        dx, dy = dx[which], dy[which]
        t = np.clip((rx * dx + ry * dy) * per_length[which], 0.0, 1.0)
        square = (rx - t * dx) ** 2 + (ry - t * dy) ** 2
        radius = ra[which] + t * dr[which]
        mm = np.float32(self.surface.pixel_mm)
        keep = np.flatnonzero(square < (radius + np.float32(RIM_MM) / mm) ** 2)
        which, t, off, radius = which[keep], t[keep], np.sqrt(square[keep]), radius[keep]
        depth = (radius - off) * mm
        side = np.sign(rx[keep] * dy[keep] - ry[keep] * dx[keep])
        side *= off / np.maximum(radius, np.float32(1e-3))
        along, press = sa[which] + t * ds[which], pa[which] + t * dp[which]
        values = np.stack([depth, radius * mm, side, along, end[which] - along, press])
        return y[keep] * np.int32(self.shape[1]) + x[keep], values.astype(np.float32, copy=False)


def _batches(strokes: Sequence[Stroke]) -> Iterator[list[Stroke]]:
    """One stroke at a time where ink builds up, many together where it only joins."""
    if not strokes:
        return
    if strokes[0].tool.builds_up:
        yield from ([stroke] for stroke in strokes)
        return
    counts = np.cumsum([len(stroke.points) for stroke in strokes]) // BATCH_POINTS
    for _, places in groupby(range(len(strokes)), key=lambda place: counts[place]):
        yield [strokes[place] for place in places]


def _segments(batch: Sequence[Stroke], pixel_mm: float) -> F32:
    """Rows of x, y, radius (pixels), pressure, mm so far and in all; and how each changes."""
    tables: list[F64] = []
    for stroke in batch:
        along = lengths(stroke.points)
        kept = _sparse(stroke, along)
        points, pressure, along = stroke.points[kept], stroke.pressure[kept], along[kept]
        radius = 0.5 * stroke.tool.widths(points, pressure) / pixel_mm
        ending = np.full(len(along), along[-1])
        nodes = np.column_stack([points / pixel_mm - 0.5, radius, pressure, along, ending])
        tables.append(np.hstack([nodes[:-1], np.diff(nodes, axis=0)]))
    return np.vstack(tables).astype(np.float32)


def _sparse(stroke: Stroke, along: F64) -> npt.NDArray[np.bool_]:
    """The points that matter: a broad stroke bends no finer than a share of its width."""
    pace = np.floor(along / max(SEGMENT_MM, SEGMENT_WIDTHS * stroke.tool.width))
    kept = np.ones(len(along), np.bool_)
    kept[1:-1] = pace[1:-1] > pace[:-2]
    return kept


def _boxes(segments: F32, pixel_mm: float, shape: tuple[int, int]) -> I32:
    """(n, 4) left, top, width and height in pixels of what each segment may reach on the page."""
    start, run = segments[:, :3].astype(np.float64), segments[:, 6:9]
    reach = (start[:, 2] + np.maximum(run[:, 2], 0.0) + RIM_MM / pixel_mm + 1.0)[:, None]
    edge = np.array(shape[::-1])
    first = np.clip(np.floor(start[:, :2] + np.minimum(run[:, :2], 0.0) - reach), 0, edge)
    last = np.clip(np.ceil(start[:, :2] + np.maximum(run[:, :2], 0.0) + reach), 0, edge)
    return np.hstack([first, last - first]).astype(np.int32)


def _chunks(boxes: I32) -> Iterator[slice]:
    """Runs of segments whose surroundings hold no more than CHUNK pixels together."""
    total = np.cumsum(boxes[:, 2].astype(np.int64) * boxes[:, 3]) // CHUNK
    starts = np.flatnonzero(np.diff(total, prepend=-1))
    for start, end in zip(starts, [*starts[1:], len(boxes)], strict=True):
        yield slice(int(start), int(end))
