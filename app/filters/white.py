"""Bare paper's noise made alike at all wavelengths and in all directions.

Relief lit from one side, and the lines of laid paper, are loud at some wavelengths and in some
directions and quiet at others, where a faint line is seen the better. Noise is divided by its
amplitude, not by its power as for a mark of one known shape: marks have many.
"""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.noise import STEPS, Ground, Levels, patches
from app.filters.strips import Strip, side_by_side, strips

_REACH_MM = 0.85
_SOFT_MM = 0.1
_LEAST = 0.2  # of the mean power that no wavelength is taken to fall below
_SLOW = 0.4  # of what a slow change of tone would say is taken away: light may be to blame
_SPREAD = 0.7 * STEPS
_MOST = 8 * STEPS


def whitened(levels: Levels, ground: Ground) -> Levels:
    """Levels (h, w) softened by 0.1 mm and whitened by what blocks of bare paper show.

    >>> from app.filters.noise import measure_ground
    >>> noise = np.random.default_rng(1).normal(230, 3, (90, 90)).round().astype(np.uint8)
    >>> ground = measure_ground(noise, 150)
    >>> bool(abs(whitened(ground.levels, ground).std() - 0.7 * STEPS) < 5)
    True
    """
    weights = _weights(patches(levels, ground.bare, ground.side), ground)
    made = np.empty_like(levels)

    def work(strip: Strip) -> None:
        rows, around, inner = strip
        white = _through(levels[around], weights)[inner]
        np.rint(white, out=white)
        made[rows] = np.clip(white, -_MOST, _MOST, out=white)

    side_by_side(work, strips(len(levels), len(weights) // 2))
    return made


def _weights(quiet: Levels, ground: Ground) -> npt.NDArray[np.float32]:
    """The filter that blocks of bare paper (n, side, side) ask for, (2 r + 1, 2 r + 1)."""
    side = ground.side
    waves = np.fft.fft2((quiet - quiet.mean()) * _bell(side))
    power = np.mean(np.abs(waves) ** 2, axis=0) + 1
    gain = (power + _LEAST * power.mean()) ** -0.5
    reach = min(round(ground.pixels(_REACH_MM)), (side - 1) // 2)
    middle = slice(side // 2 - reach, side // 2 + reach + 1)
    bell = _bell(2 * reach + 1)
    weights = np.fft.fftshift(np.fft.ifft2(gain).real)[middle, middle] * bell
    weights -= _SLOW * weights.sum() / bell.sum() * bell
    soft = max(ground.pixels(_SOFT_MM), 0.1)
    softer = cv2.GaussianBlur(weights, (0, 0), soft, borderType=cv2.BORDER_CONSTANT)
    unit = softer.astype(np.float32) / np.float32(softer.max())
    spread = float(np.std([_through(block, unit) for block in quiet]))
    return np.asarray(unit * np.float32(_SPREAD / max(spread, 1.0)), np.float32)


def _through(levels: Levels, weights: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    plane = levels.astype(np.float32)
    white = cv2.filter2D(plane, cv2.CV_32F, weights, borderType=cv2.BORDER_REFLECT_101)
    return np.asarray(white, np.float32)


def _bell(side: int) -> npt.NDArray[np.float64]:
    """A window that falls to its edges, (side, side)."""
    row = np.hanning(side + 2)[1:-1]
    return np.outer(row, row)
