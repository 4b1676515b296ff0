"""The paper's tooth: one height field that shapes both the stroke's grain and the paper's shadow.

The field is summed from bands of noise whose wavelengths are in mm. Each band is drawn on a
lattice fixed to the sheet, so the same seed gives the same surface at any resolution.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

F32 = npt.NDArray[np.float32]
F64 = npt.NDArray[np.float64]

MM_PER_INCH = 25.4
LATTICE_CELLS_PER_WAVE = 4.0
RANKS = 256


@dataclass(frozen=True)
class Tooth:
    """A kind of paper: wavelengths in mm with their weights, and the height of its relief.

    The bands of `COLD_PRESSED` follow the spread of power that was measured on the height map of
    one real drawing paper at 599 ppi (most of it between 0.17 and 1.5 mm); the other two are
    shifted finer and coarser by eye.
    """

    name: str
    bands: tuple[tuple[float, float], ...]
    height_mm: float
    felt: float
    pitting: float


SMOOTH = Tooth("smooth", ((0.22, 0.9), (0.38, 0.5), (0.9, 0.3), (6.0, 0.15)), 0.0016, 0.1, 0.05)
COLD_PRESSED = Tooth(
    "cold-pressed", ((0.24, 0.55), (0.45, 0.8), (0.85, 0.75), (1.6, 0.35), (7.0, 0.1)),
    0.0065, 0.3, 0.14,
)
ROUGH = Tooth(
    "rough", ((0.26, 0.4), (0.55, 0.6), (1.05, 0.9), (2.1, 0.75), (9.0, 0.12)),
    0.0135, 0.45, 0.2,
)
TOOTHS = {tooth.name: tooth for tooth in (SMOOTH, COLD_PRESSED, ROUGH)}


@dataclass(frozen=True)
class Surface:
    """A sheet's height field at one resolution.

    `height` is (H, W) float32 with mean 0 and deviation 1, peaks positive. `height_mm` is what one
    unit of it measures. `step` is how much the height changes from pixel to pixel on average: the
    edge of whatever breaks on the tooth is softened by it, which keeps 300 and 600 ppi alike.
    """

    height: F32
    height_mm: float
    ppi: int
    step: float
    ranks: F64

    @property
    def pixel_mm(self) -> float:
        """Side of a pixel in mm."""
        return MM_PER_INCH / self.ppi

    def level_touched(self, fraction: npt.NDArray[np.floating]) -> F32:
        """Height above which the given fraction (0-1) of the paper lies."""
        places = np.linspace(0.0, 1.0, RANKS)
        return np.asarray(np.interp(1.0 - fraction, places, self.ranks), np.float32)


def pixels_of(size_mm: tuple[float, float], ppi: int) -> tuple[int, int]:
    """Rows and columns of a sheet of (width, height) mm; 600 ppi is exactly twice 300.

    >>> pixels_of((148.0, 210.0), 300)
    (2480, 1748)
    """
    columns, rows = (round(side * 300.0 / MM_PER_INCH) * ppi // 300 for side in size_mm)
    return rows, columns


def make_surface(
    tooth: Tooth, size_mm: tuple[float, float], ppi: int, rng: np.random.Generator
) -> Surface:
    """Grow a sheet with this tooth; `rng` settles its form, `ppi` how finely it is seen."""
    shape = pixels_of(size_mm, ppi)
    height = np.zeros(shape, np.float32)
    for wave, weight in tooth.bands:
        height += np.float32(weight) * _band(size_mm, shape, wave, 1.0, rng)
    for lean in (0.35, -0.5) if tooth.felt else ():
        height += np.float32(tooth.felt) * _felt(size_mm, shape, lean, rng)
    height /= np.float32(height.std())
    # Fibres fill the ground to rounded hills with narrower pits between them.
    height -= np.float32(tooth.pitting) * height * height
    height -= np.float32(height.mean())
    height /= np.float32(height.std())
    step = float(np.abs(np.diff(height[::4], axis=1)).mean())
    ranks = np.quantile(height[::3, ::5], np.linspace(0.0, 1.0, RANKS)).astype(np.float64)
    return Surface(height, tooth.height_mm, ppi, step, ranks)


def _band(
    size_mm: tuple[float, float], shape: tuple[int, int], wave: float, stretch: float,
    rng: np.random.Generator,
) -> F32:
    """Noise of about one wavelength (mm), `stretch` times longer down the sheet; deviation 1."""
    across = max(4, round(size_mm[0] / wave * LATTICE_CELLS_PER_WAVE))
    down = max(4, round(size_mm[1] / (wave * stretch) * LATTICE_CELLS_PER_WAVE))
    white = rng.standard_normal((down, across), np.float32)
    band = cv2.GaussianBlur(white, (0, 0), 0.95) - cv2.GaussianBlur(white, (0, 0), 2.1)
    band /= np.float32(band.std())
    enlarged = cv2.resize(band, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return enlarged.astype(np.float32, copy=False)


def _felt(
    size_mm: tuple[float, float], shape: tuple[int, int], lean: float, rng: np.random.Generator
) -> F32:
    """The print of the maker's felt: soft ridges that run down the sheet at a lean (mm per mm)."""
    slack = size_mm[1] * abs(lean)
    wide = (size_mm[0] + slack, size_mm[1])
    per_mm = shape[1] / size_mm[0]
    columns = round(wide[0] * per_mm)
    straight = _band(wide, (shape[0], columns), 1.3, 4.0, rng)
    shift = 0.0 if lean > 0 else -slack * per_mm
    shear = np.array([[1.0, slack * per_mm / shape[0] * np.sign(lean), -shift], [0.0, 1.0, 0.0]])
    return cv2.warpAffine(
        straight, shear, (shape[1], shape[0]), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    ).astype(np.float32, copy=False)
