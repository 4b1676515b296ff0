"""The tone curve: black point, white point and middle become a table, and a table is applied."""

import math
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from core.sheet import Plane, plane_type

Table = npt.NDArray[np.unsignedinteger[Any]]
"""(256,) uint8 or (65536,) uint16: the new value of each old one."""

_STRIP = 1 << 19  # pixels: a strip and its result stay in the second-level cache


def tone_table(full: int, black: float, white: float, middle: float = 50.0) -> Table:
    """The table that sends ``black`` to 0, ``white`` to full scale, and bends between them.

    ``black`` < ``white`` are tones 0-255 (fractions allowed; white may lie above 255).
    ``middle`` is how far from black to white, in percent, the tone lies that becomes
    50 % grey: 50 is a straight line, more darkens, less lightens. With x from 0 at black
    to 1 at white the curve is y = x (1 - m) / (m + x (1 - 2m)), m = middle / 100: it
    rises everywhere, its slopes at the ends are finite, and it needs no more than
    the four operations whose rounding IEEE 754 fixes, so every machine has one table.

    >>> tone_table(255, 50, 250)[[50, 100, 150, 200, 250]].tolist()
    [0, 64, 128, 191, 255]
    >>> int(tone_table(255, 0, 255, middle=20)[51])
    128
    """
    m = middle / 100
    if not -math.inf < black < white < math.inf or not 0 < m < 1:
        raise ValueError("the black point lies below the white point, the middle within 0-100 %")
    tone = np.arange(full + 1, dtype=np.float64) * 255 / full
    x = np.clip((tone - black) / (white - black), 0, 1)
    y = x * (1 - m) / (m + x * (1 - 2 * m))
    return np.floor(y * full + 0.5).astype(plane_type(full))


def complement(table: Table) -> Table:
    """The same change of tone, for a plane that holds alpha in place of grey.

    >>> complement(tone_table(255, 0, 200))[[255, 55]].tolist()
    [255, 0]
    """
    full = len(table) - 1
    return (full - table[::-1].astype(np.int64)).astype(table.dtype)


def compose(first: Table, *later: Table) -> Table:
    """One table that does what the tables do in turn, value for value.

    >>> twice = compose(tone_table(255, 10, 255), tone_table(255, 0, 245))
    >>> int(twice[10]), int(twice[255])
    (0, 255)
    """
    table = first
    for following in later:
        table = following[table]
    return table


def apply_table(table: Table, plane: Plane) -> Plane:
    """The plane with each value looked up in the table; any shape, the table's own depth.

    8-bit pixels are looked up two at a time: a table of all 65,536 pairs is fetched
    half as often, in strips that stay in cache.

    >>> apply_table(tone_table(255, 0, 255), np.array([[1, 2, 3]], np.uint8)).tolist()
    [[1, 2, 3]]
    """
    flat = np.ascontiguousarray(plane).reshape(-1)
    out = np.empty_like(flat)
    paired = flat.size - flat.size % 2 if flat.dtype == np.uint8 and flat.size > _STRIP // 8 else 0
    if paired:
        pairs = _pair_table(table.tobytes())
        _look_up(pairs, flat[:paired].view(np.uint16), out[:paired].view(np.uint16))
    _look_up(table, flat[paired:], out[paired:])
    return out.reshape(plane.shape)


@lru_cache(maxsize=16)
def _pair_table(table: bytes) -> npt.NDArray[np.uint16]:
    one = np.frombuffer(table, np.uint8).astype(np.uint16)
    return np.asarray((one[:, None] << 8) | one[None, :], np.uint16).reshape(-1)


def _look_up(table: Table, source: Plane, target: Plane) -> None:
    for start in range(0, source.size, _STRIP):
        # mode="clip" skips the bounds check that "raise" makes in a second pass
        np.take(table, source[start : start + _STRIP], out=target[start : start + _STRIP],
                mode="clip")
