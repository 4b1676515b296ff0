"""Scan colours to grey, and sRGB code values to linear light and back."""

import numpy as np
import numpy.typing as npt

from core.sheet import Plane

# Rec. 601 luma, 0.299 R + 0.587 G + 0.114 B, in 65,536ths that add up to one exactly.
LUMA = (19595, 38470, 7471)


def rgb_to_grey(colour: Plane, weights: tuple[int, int, int] = LUMA) -> Plane:
    """Grey of an (H, W, 3) uint8 or uint16 plane, rounded to the nearest integer.

    ``weights`` are 65,536ths and add up to 65,536. The default is the luma of
    ITU-R BT.601-7, section 2.5.1, in the integer form that most programs use.

    >>> int(rgb_to_grey(np.array([[[255, 0, 0]]], np.uint8))[0, 0])
    76
    """
    if sum(weights) != 1 << 16 or min(weights) < 0:
        raise ValueError("the weights are 65,536ths and add up to one")
    total = colour[..., 0] * np.uint32(weights[0])
    total += colour[..., 1] * np.uint32(weights[1])
    total += colour[..., 2] * np.uint32(weights[2])
    total += np.uint32(1 << 15)
    total >>= np.uint32(16)
    return total.astype(colour.dtype)


def srgb_to_linear(code: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Linear light (0-1) of sRGB code values (0-1); any shape.

    IEC 61966-2-1:1999, 5.2, equations 5 and 6: a straight foot up to 0.04045, then a
    power of 2.4.

    >>> float(srgb_to_linear(0.5).round(6))
    0.214041
    """
    value = np.asarray(code, np.float64)
    curve = ((np.maximum(value, 0.04045) + 0.055) / 1.055) ** 2.4
    return np.where(value <= 0.04045, value / 12.92, curve)


def linear_to_srgb(light: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Code values (0-1, sRGB) of linear light (0-1); any shape.

    IEC 61966-2-1:1999, 5.2, equations 9 and 10, the inverse of ``srgb_to_linear``.

    >>> float(linear_to_srgb(srgb_to_linear(0.5)).round(12))
    0.5
    """
    value = np.asarray(light, np.float64)
    curve = 1.055 * np.maximum(value, 0.0031308) ** (1 / 2.4) - 0.055
    return np.where(value <= 0.0031308, value * 12.92, curve)


def grey_of(colour: Plane) -> Plane:
    """Luma, one band at a time so that the wide sums stay in cache; (H, W, 3) to (H, W).

    >>> grey_of(np.full((200, 3, 3), 9, np.uint8)).shape
    (200, 3)
    """
    out = np.empty(colour.shape[:2], colour.dtype)
    for top in range(0, len(colour), 16):
        out[top : top + 16] = rgb_to_grey(colour[top : top + 16])
    return out

