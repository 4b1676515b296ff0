"""Darkness to alpha, and ink laid over a ground: exact integers at 8 and 16 bits."""

from decimal import Decimal, localcontext

import numpy as np
import numpy.typing as npt

from core.sheet import Plane, Rgb, full_scale, plane_type

_SURE = 1e-12  # of full scale: a float power this near to a half is decided in decimals


def lift_ink(grey: Plane) -> Plane:
    """Alpha of one ink on white: full scale minus the grey, (H, W) uint8 or uint16.

    50 % grey is 50 % ink, and black ink of this alpha laid over white is the grey
    again, bit for bit.

    >>> lift_ink(np.array([[0, 128, 255]], np.uint8)).tolist()
    [[255, 127, 0]]
    """
    return np.invert(grey)


def over(ink: Plane | int, alpha: Plane, ground: Plane | int) -> Plane:
    """Ink of straight ``alpha`` over an opaque ground, rounded to nearest.

    Porter and Duff, "Compositing digital images" (SIGGRAPH 1984), table on p. 256, *over*
    with an opaque ground; W3C Compositing and Blending Level 1, 5.1, simple alpha
    compositing. ``ink`` and ``ground`` are planes of alpha's shape and dtype, or one value.

    >>> over(0, np.array([64], np.uint8), 255).tolist()
    [191]
    """
    full = np.uint32(full_scale(alpha))
    cover = alpha.astype(np.uint32)
    total = np.asarray(ink, np.uint32) * cover
    total += np.asarray(ground, np.uint32) * (full - cover)
    total += full // np.uint32(2)
    total //= full
    return total.astype(alpha.dtype)


def build_up_table(full: int, times: float) -> Plane:
    """Alpha of a line laid over itself ``times`` times: 1 - (1 - alpha)^times, (full + 1,).

    It is ``over`` applied to the line and itself; ``times`` may be a fraction, 1 changes
    nothing. Rounded to nearest; where a float power lands too near to a half to be
    sure, decimals decide, so that every machine has the same table.

    >>> build_up_table(255, 2)[[0, 64, 128, 255]].tolist()
    [0, 112, 192, 255]
    """
    if not times > 0:
        raise ValueError("a line is laid over itself more than 0 times")
    clear = (full - np.arange(full + 1, dtype=np.float64)) / full
    exact = full * (1 - clear**times)
    table = np.floor(exact + 0.5)
    for index in np.flatnonzero(np.abs(exact - np.floor(exact) - 0.5) < _SURE * full):
        table[index] = _build_up_surely(full, int(index), times)
    return table.astype(plane_type(full))


def _build_up_surely(full: int, alpha: int, times: float) -> int:
    with localcontext() as context:
        context.prec = 50
        clear = Decimal(full - alpha) / full
        power = clear ** Decimal(times) if clear else Decimal(0)
        return int(full * (1 - power) + Decimal("0.5"))


def lift_own(colour: Plane, paper: tuple[float, float, float]) -> Plane:
    """The least alpha that explains all three channels over the paper's colour, (H, W).

    Per channel, with S the scan and P the paper: (P - S) / P where S is darker,
    (S - P) / (full - P) where it is lighter; the largest of the three, rounded up so that
    ``unmix`` never has to clip. ``paper`` is in tone 0-255.

    >>> lift_own(np.array([[[200, 190, 90]]], np.uint8), (200, 190, 180)).tolist()
    [[128]]
    """
    full = full_scale(colour)
    alpha = np.zeros(colour.shape[:2], np.uint32)
    for channel, ground in enumerate(paper_codes(paper, full)):
        table = _least_alpha(full, ground)
        np.maximum(alpha, np.take(table, colour[..., channel]), out=alpha)
    return alpha.astype(colour.dtype)


def _least_alpha(full: int, ground: int) -> npt.NDArray[np.uint32]:
    scan = np.arange(full + 1, dtype=np.int64)
    room = np.where(scan < ground, ground, max(full - ground, 1))
    return (-(-np.abs(scan - ground) * full // np.maximum(room, 1))).astype(np.uint32)


def paper_codes(paper: tuple[float, float, float], full: int) -> tuple[int, int, int]:
    """The paper's colour (tone 0-255) as code values.

    >>> paper_codes((200.0, 190.4, 180.0), 255)
    (200, 190, 180)
    """
    red, green, blue = (min(max(round(tone * full / 255), 0), full) for tone in paper)
    return red, green, blue


def unmix(colour: Plane, alpha: Plane, paper: tuple[float, float, float], clear: Rgb) -> Plane:
    """The ink's own colour beneath ``alpha``: C with ``over(C, alpha, paper)`` = the scan.

    ``colour`` (H, W, 3), ``alpha`` (H, W). Recomposing gives the scan within 2/255 (the
    rounding of C and of the sum). Where alpha is 0 the ink takes the colour ``clear``, so
    that later scaling draws no fringe.

    >>> scan = np.array([[[200, 190, 90]]], np.uint8)
    >>> unmix(scan, lift_own(scan, (200, 190, 180)), (200, 190, 180), (0, 0, 0)).tolist()
    [[[200, 190, 1]]]
    """
    full = full_scale(colour)
    wide = alpha.astype(np.int64)
    ink = np.empty_like(colour)
    for channel, ground in enumerate(paper_codes(paper, full)):
        through = (colour[..., channel].astype(np.int64) - ground) * full
        own = ground + (2 * through + wide) // np.maximum(2 * wide, 1)
        own = np.where(alpha == 0, clear[channel] * full // 255, own)
        ink[..., channel] = np.clip(own, 0, full)
    return ink


def scale_alpha(alpha: Plane, grey: Plane, plain: Plane) -> Plane:
    """Alpha times what toning did to the darkness: (full - grey) / (full - plain), at most full.

    All (H, W) of one dtype. ``plain`` is the grey before any step changed it, ``grey`` the
    one after. Where they are equal alpha is unchanged, but where ``grey`` is white it is 0:
    paper that the scan clipped at white is no ink either.

    >>> one = np.array([100], np.uint8)
    >>> scale_alpha(one, np.array([255], np.uint8), np.array([200], np.uint8)).tolist()
    [0]
    """
    full = np.uint32(full_scale(alpha))
    dark = full - plain.astype(np.uint32)
    scaled = alpha.astype(np.uint32) * (full - grey.astype(np.uint32))
    scaled += dark // np.uint32(2)
    scaled //= np.maximum(dark, np.uint32(1))
    return np.minimum(scaled, full).astype(alpha.dtype)


def to_depth(plane: Plane, bits: int) -> Plane:
    """The plane at 8 or 16 bits, by the rule of sample depth scaling.

    Portable Network Graphics, third edition, 13.12: full scale stays full scale, rounded
    to nearest. Any shape.

    >>> to_depth(np.array([32896], np.uint16), 8).tolist()
    [128]
    """
    wanted = np.dtype(np.uint8 if bits == 8 else np.uint16)
    if plane.dtype == wanted:
        return plane
    if bits == 16:
        return plane.astype(np.uint16) * np.uint16(257)
    return ((plane.astype(np.uint32) + np.uint32(128)) // np.uint32(257)).astype(np.uint8)
