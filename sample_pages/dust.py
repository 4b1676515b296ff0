"""What lies on the scanner's glass: specks, lint and hairs, and a mask of all of them."""

from __future__ import annotations

import cv2
import numpy as np

from sample_pages.scanner import Mask
from sample_pages.surface import F32, MM_PER_INCH

FINE = 4


def strew(
    shape: tuple[int, int], ppi: int, per_page: float, rng: np.random.Generator
) -> tuple[F32, Mask]:
    """Dust as (H, W) float32 opacity 0-1, and where it is thick enough to be called dust.

    `per_page` is the expected number of specks on 100 cm2; there is one hair for every ten.
    """
    area = shape[0] * shape[1] * (MM_PER_INCH / ppi) ** 2 / 1e4
    opacity = np.zeros(shape, np.float32)
    for _ in range(int(rng.poisson(per_page * area))):
        _drop(opacity, ppi, _speck(rng), float(rng.uniform(0.35, 0.9)), rng)
    for _ in range(int(rng.poisson(per_page * area / 10.0))):
        _drop(opacity, ppi, _hair(rng), float(rng.uniform(0.3, 0.65)), rng)
    return opacity, opacity > np.float32(0.08)


Shape = tuple[list[tuple[float, float]], float]


def _speck(rng: np.random.Generator) -> Shape:
    """A crumb: a short crooked line of blobs, 0.06-0.3 mm, as points and thickness in mm."""
    size = float(0.06 + 0.24 * rng.random() ** 2.5)
    bend = rng.normal(0.0, size * 0.4, (3, 2))
    return [(float(x), float(y)) for x, y in np.cumsum(bend, axis=0)], size * 0.8


def _hair(rng: np.random.Generator) -> Shape:
    """A hair or thread, 1-5 mm long and 0.03-0.06 mm thick, curling as it goes."""
    steps = int(rng.integers(14, 40))
    turn = rng.normal(rng.normal(0.0, 0.08), 0.09, steps)
    heading = rng.uniform(0, 2 * np.pi) + np.cumsum(turn)
    stride = rng.uniform(0.07, 0.13)
    path = np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]) * stride, axis=0)
    return [(float(x), float(y)) for x, y in path], float(rng.uniform(0.03, 0.06))


def _drop(
    opacity: F32, ppi: int, form: Shape, strength: float, rng: np.random.Generator
) -> None:
    """Draw one form at a random place, finely, and average it down into the page."""
    points, thick = form
    per_mm = ppi / MM_PER_INCH
    path = np.array(points) * per_mm
    path -= path.min(axis=0) - 3.0
    wide, high = (int(side) + 4 for side in path.max(axis=0))
    fine = np.zeros((high * FINE, wide * FINE), np.uint8)
    corners = np.round(path * FINE * 16).astype(np.int32)
    cv2.polylines(fine, [corners], False, 255, max(1, round(thick * per_mm * FINE)), shift=4)
    small = cv2.resize(fine, (wide, high), interpolation=cv2.INTER_AREA)
    soft = cv2.GaussianBlur(small.astype(np.float32) / 255.0, (0, 0), 0.45)
    top = int(rng.integers(0, max(1, opacity.shape[0] - high)))
    left = int(rng.integers(0, max(1, opacity.shape[1] - wide)))
    spot = opacity[top : top + high, left : left + wide]
    np.maximum(spot, np.float32(strength) * soft[: spot.shape[0], : spot.shape[1]], out=spot)
