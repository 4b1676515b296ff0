"""Paths in mm: how a hand's line runs before a tool is put to it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

F64 = npt.NDArray[np.float64]
Points = F64 | Sequence[tuple[float, float]]
Pressure = float | Callable[[F64], F64]

SPACING_MM = 0.35


def as_points(points: Points) -> F64:
    """(n, 2) float64 points from any list of pairs."""
    return np.asarray(points, np.float64).reshape(-1, 2)


def lengths(points: F64) -> F64:
    """(n,) mm along the path at each point."""
    along = np.zeros(len(points))
    run = points[1:] - points[:-1]
    np.cumsum(np.hypot(run[:, 0], run[:, 1]), out=along[1:])
    return along


def resample(points: Points, spacing: float = SPACING_MM) -> F64:
    """The same polyline with a point about every `spacing` mm, corners kept near enough."""
    path = as_points(points)
    along = lengths(path)
    if along[-1] <= 0.0:
        return path[:1]
    count = max(2, int(np.ceil(along[-1] / spacing)) + 1)
    places = np.linspace(0.0, along[-1], count)
    places = np.union1d(places, along) if len(path) < count // 3 else places
    return np.column_stack([np.interp(places, along, path[:, axis]) for axis in (0, 1)])


def smooth(points: Points, spacing: float = SPACING_MM, closed: bool = False) -> F64:
    """A curve through all the points (centripetal Catmull-Rom), with a point every `spacing` mm."""
    path = as_points(points)
    if len(path) < 3:
        return resample(path, spacing)
    if closed:
        ring = np.vstack([path[-1], path, path[:2]])
    else:
        ring = np.vstack([2 * path[0] - path[1], path, 2 * path[-1] - path[-2]])
    return resample(np.vstack([_catmull_rom(ring, spacing), ring[-2:-1]]), spacing)


def _catmull_rom(ring: F64, spacing: float) -> F64:
    """Points from the second of (n, 2) knots to just before the last but one."""
    gaps = np.maximum(np.sqrt(np.hypot(*(ring[1:] - ring[:-1]).T)), 1e-4)
    times = np.concatenate([[0.0], np.cumsum(gaps)])
    counts = np.maximum(2, (gaps[1:-1] ** 2 / spacing * 1.5).astype(np.int64))
    piece = np.repeat(np.arange(len(counts)), counts)
    share = (np.arange(len(piece)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[piece]
    t0, t1, t2, t3 = (times[piece + step][:, None] for step in range(4))
    p0, p1, p2, p3 = (ring[piece + step] for step in range(4))
    t = t1 + share[:, None] * (t2 - t1)
    a1 = (t1 - t) / (t1 - t0) * p0 + (t - t0) / (t1 - t0) * p1
    a2 = (t2 - t) / (t2 - t1) * p1 + (t - t1) / (t2 - t1) * p2
    a3 = (t3 - t) / (t3 - t2) * p2 + (t - t2) / (t3 - t2) * p3
    b1 = (t2 - t) / (t2 - t0) * a1 + (t - t0) / (t2 - t0) * a2
    b2 = (t3 - t) / (t3 - t1) * a2 + (t - t1) / (t3 - t1) * a3
    return np.asarray((t2 - t) / (t2 - t1) * b1 + (t - t1) / (t2 - t1) * b2)


def ellipse(
    centre: tuple[float, float], radii: tuple[float, float], start: float = 0.0,
    end: float = 360.0, lean: float = 0.0,
) -> F64:
    """Part of an ellipse, degrees clockwise on the page from its right end; `lean` turns it."""
    size = max(radii) * abs(np.radians(end - start))
    angle = np.radians(np.linspace(start, end, max(8, int(size / SPACING_MM))))
    x, y = radii[0] * np.cos(angle), radii[1] * np.sin(angle)
    c, s = np.cos(np.radians(lean)), np.sin(np.radians(lean))
    return np.column_stack([centre[0] + c * x - s * y, centre[1] + s * x + c * y])


def noise_along(along: F64, waves: Sequence[float], rng: np.random.Generator) -> F64:
    """(waves, n) smooth noise of deviation about 1 along a path, one swing per wave (mm) each."""
    place = along / (0.5 * np.array(waves)[:, None]) + rng.random((len(waves), 1))
    values = rng.standard_normal((len(waves), int(place[:, -1].max()) + 2))
    left = place.astype(np.int64)
    share = place - left
    share *= share * (3.0 - 2.0 * share)
    rows = np.arange(len(waves))[:, None]
    first = values[rows, left]
    return np.asarray(first + share * (values[rows, left + 1] - first))


def normals(path: F64) -> F64:
    """(n, 2) unit vectors across a path of two or more points, to the right of its run."""
    run = np.empty_like(path)
    run[1:-1] = path[2:] - path[:-2]
    run[0], run[-1] = path[1] - path[0], path[-1] - path[-2]
    size = np.maximum(np.hypot(run[:, 0], run[:, 1]), 1e-9)
    return np.stack([-run[:, 1] / size, run[:, 0] / size], axis=1)


def tremble(path: F64, amount: float, rng: np.random.Generator) -> F64:
    """Shift a path sideways as a hand does: a slow drift, an unsteadiness, a fine shake."""
    if len(path) < 2 or amount <= 0.0:
        return path
    along = lengths(path)
    drift, sway, shake = noise_along(along, (18.0, 5.0, 1.3), rng)
    shift = drift * min(1.0, along[-1] / 25.0) + 0.4 * sway + 0.14 * shake
    return np.asarray(path + normals(path) * (amount * shift)[:, None])


def runs(kept: npt.NDArray[np.bool_]) -> Iterator[slice]:
    """Slices of the stretches where `kept` holds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], kept, [False]]).astype(np.int8)))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        yield slice(int(start), int(end))


def between(first: Points, second: Points, share: float, count: int = 80) -> F64:
    """The path that lies a share (0-1) of the way from one path to another."""
    ends = []
    for points in (first, second):
        path = as_points(points)
        along = lengths(path)
        places = np.linspace(0.0, along[-1], count)
        ends.append(np.column_stack([np.interp(places, along, path[:, axis]) for axis in (0, 1)]))
    return np.asarray(ends[0] * (1.0 - share) + ends[1] * share)
