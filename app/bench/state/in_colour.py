"""A press's dots in the ink's own colours, over the flats: what a coloured page prints as."""

import cv2
import numpy as np
import numpy.typing as npt

from app.bench.state.layered import Layer
from app.bench.state.picture import Bytes, Ground, Place
from app.bench.state.standing import Shown
from core.sheet import BLACK, WHITE, Each, Rgb

Colours = npt.NDArray[np.float32]
"""(H, W, 3), 0-255."""

_BESIDE = 5  # pixels about the ink into which a press spreads it, in its colour


def is_coloured(shown: Shown) -> bool:
    """Whether a page has more on it than black ink."""
    return shown.sheet.flats is not None or shown.sheet.held is not None


def in_colour(shown: Shown, dots: Bytes, place: Place, each: Each = map) -> Bytes:
    """What the press makes of a place in grey (H, W), 0 full ink, as colours (H, W, 3).

    Each ink's dots take its own colour; the flats beneath are even, for no screens are made
    of them.
    """
    size = (dots.shape[1], dots.shape[0])
    beneath = _drawn(shown, "flats", WHITE, place, size, each)
    ink = _ink_of(*(_drawn(shown, "lines", ground, place, size, each) for ground in (WHITE, BLACK)))
    share = (255 - dots.astype(np.float32))[..., None] / 255
    return np.rint(beneath * (1 - share) + ink * share).astype(np.uint8)


def _drawn(
    shown: Shown, layer: Layer, ground: Rgb, place: Place, size: tuple[int, int], each: Each,
) -> Colours:
    pixels = shown.draw(Ground("", (ground,)), place, each, layer=layer)
    colours = np.stack([pixels >> shift & 255 for shift in (16, 8, 0)], axis=2)
    return np.asarray(
        cv2.resize(colours.astype(np.float32), size, interpolation=cv2.INTER_NEAREST), np.float32)


def _ink_of(light: Colours, dark: Colours) -> Colours:
    """The ink's colour, from lines over white and over black; where none is, that beside it.

    >>> over_white = np.array([[[255, 127.5, 127.5]]], np.float32)
    >>> _ink_of(over_white, np.array([[[127.5, 0, 0]]], np.float32)).tolist()
    [[[255.0, 0.0, 0.0]]]
    """
    cover = np.clip(1 - (light - dark).mean(axis=2, keepdims=True) / 255, 0, 1)
    spread = [np.asarray(cv2.blur(plane, (_BESIDE, _BESIDE))) for plane in (dark, cover)]
    near = spread[0] / np.maximum(spread[1].reshape(cover.shape), 1e-6)
    own = dark / np.maximum(cover, 1e-6)
    return np.asarray(np.clip(np.where(cover > 0.02, own, near), 0, 255), np.float32)
