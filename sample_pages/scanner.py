"""The scanner: light on the sheet, optics, sensor, dust on the glass, and the coding of tones.

All light is linear until `coded`, the last thing done.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from core.light import linear_to_srgb
from sample_pages.instruments import Reflectance
from sample_pages.surface import F32, Surface

U16 = npt.NDArray[np.uint16]
Mask = npt.NDArray[np.bool_]

TINTS: dict[str, Reflectance] = {
    "white": (0.86, 0.86, 0.85),
    "cream": (0.86, 0.815, 0.70),
    "grey": (0.66, 0.66, 0.645),
    "warm": (0.80, 0.765, 0.71),
}
LAMP_TILT = 0.8
VALLEY_SHADE = 0.006
FLARE = 0.004
SPREAD_MM = 0.036


@dataclass(frozen=True)
class Lamp:
    """How evenly the sheet is lit.

    `fall_off` is the share of light lost at the far side and corners, `gutter` the share of
    reflectance lost at the bound edge, falling off over `gutter_mm`; `exposure` a plain gain.
    """

    fall_off: float = 0.04
    gutter: float = 0.0
    gutter_mm: float = 7.0
    gutter_side: str = "left"
    exposure: float = 1.0


def relief(surface: Surface, strength: float) -> F32:
    """Light on the tooth from the foot of the page: (H, W) factor around 1, brighter and darker."""
    height = surface.height
    rise = np.empty_like(height)
    rise[1:-1] = height[2:] - height[:-2]
    rise[0], rise[-1] = rise[1], rise[-2]
    slope: F32 = rise * np.float32(surface.height_mm / (2.0 * surface.pixel_mm))
    lit: F32 = np.float32(LAMP_TILT) * slope
    depth = np.float32(VALLEY_SHADE * surface.height_mm / 0.0065)
    lit += np.asarray(depth * np.clip(height, -3.0, 1.5))
    lit -= np.float32(lit.mean())
    return np.asarray(lit * np.float32(strength) + np.float32(1.0))


def illumination(surface: Surface, lamp: Lamp) -> F32:
    """Light over the page as (H, W): fall-off by distance from the middle, and the gutter."""
    shape, pixel_mm = surface.height.shape, surface.pixel_mm
    y = np.linspace(-1.0, 1.0, shape[0], dtype=np.float32)[:, None]
    x = np.linspace(-1.0, 1.0, shape[1], dtype=np.float32)[None, :]
    even = 1.0 - np.float32(lamp.fall_off) * (0.55 * x * x + 0.25 * (y - 0.3) ** 2 + 0.2 * x)
    from_edge = np.arange(shape[1], dtype=np.float32) * np.float32(pixel_mm)
    if lamp.gutter_side == "right":
        from_edge = from_edge[::-1]
    near = np.clip(1.0 - from_edge / np.float32(lamp.gutter_mm), 0.0, 1.0)
    shade = 1.0 - np.float32(lamp.gutter) * near * near * (1.5 - 0.5 * near)
    return np.asarray(np.float32(lamp.exposure) * even * shade[None, :], np.float32)


def through_optics(plane: F32, pixel_mm: float) -> F32:
    """A plane of any channels, blurred by the lens as the sensor gets it."""
    blurred = cv2.GaussianBlur(plane, (0, 0), SPREAD_MM / pixel_mm)
    return blurred.astype(np.float32, copy=False)


def add_sensor_noise(light: F32, strength: float, rng: np.random.Generator) -> None:
    """Shot noise that grows with the root of the light, and read noise, both in place."""
    for channel in range(light.shape[2]):
        plane = light[..., channel]
        deviation = np.sqrt(np.maximum(plane, 0.0) * np.float32(1.1e-5) + np.float32(6e-7))
        plane += np.float32(strength) * deviation * rng.standard_normal(plane.shape, np.float32)


def coded(light: F32) -> U16:
    """Linear light 0-1 to sRGB-coded uint16, by a table of 65,536 steps.

    >>> coded(np.array([0.0, 0.2140411, 1.0], np.float32)).tolist()
    [0, 32767, 65535]
    """
    table = np.round(linear_to_srgb(np.arange(65536) / 65535.0) * 65535.0).astype(np.uint16)
    place = np.clip(light * np.float32(65535.0) + np.float32(0.5), 0.0, 65535.0)
    return np.asarray(table[place.astype(np.uint16)])
