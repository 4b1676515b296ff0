"""Where the tone of plain paper steps: along the rim of a flat tone, however soft or rough it is.

Light changes slowly, and the shadow in the paper's tooth is dark and light by turns, so that it
comes to nothing over a few mm. The rim of a wash is neither: means over strips along its two
sides differ, though no single place on it stands out from the tooth.
"""

from typing import TypeVar

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask, some
from app.filters.strips import side_by_side

_DIRECTIONS = 8
_LONG, _DEEP = 4, 1  # squares of half a mm that a strip reaches to each side of its middle
_OFF = 2  # from the line to the middle of a strip
_OUT = 6  # to a line further out: what slopes is as steep there
_LEAST = 0.02  # of the light: a lesser step is no tone
_OVER_NOISE = 5.0  # times what is usual on the page in that direction
_GOES_ON = 0.7  # of a step that counts: enough where it touches one
_NORMAL_HALF = 0.6745  # deviations within which half of a bell curve lies

Cells = npt.NDArray[np.float32]
Way = npt.NDArray[np.float64]
Bits = npt.NDArray[np.uint8]
T = TypeVar("T", bound=np.generic)
N = TypeVar("N", np.float32, np.uint8)


def find_edges(level: Cells, plain: Mask) -> Mask:
    """Plain squares of a page (h, w) where the level (a logarithm of tone) steps.

    >>> level = np.zeros((40, 40), np.float32)
    >>> level[:, 20:] = -0.1
    >>> edges = find_edges(level, np.ones(level.shape, bool))
    >>> bool(edges[20, 20]), bool(edges[20, 8])
    (True, False)
    """
    margin = _LONG + _DEEP + _OFF + _OUT
    weight = np.pad(plain.astype(np.uint8), margin)
    tones = np.pad(np.where(plain, level, np.float32(0)), margin)
    steps = np.empty((_DIRECTIONS, *plain.shape), np.float32)

    def step(number: int) -> None:
        steps[number] = _steps(tones, weight, number * np.pi / _DIRECTIONS)

    side_by_side(step, range(_DIRECTIONS))
    most = steps.max(axis=0)
    # where a rim is less sharp it goes on from where it is
    count, label = cv2.connectedComponents((most > _GOES_ON).astype(np.uint8), connectivity=8)
    known = np.zeros(count, np.bool_)
    known[label[most > 1]] = True
    known[0] = False
    return np.asarray(known[label] & plain)


def _steps(tones: Cells, weight: Bits, angle: float) -> Cells:
    """How much more strips to the two sides of a line differ than on lines further out.

    In multiples of the least that counts.
    """
    along = np.array([np.sin(angle), np.cos(angle)])
    across = np.array([along[1], -along[0]])
    total = _summed(_summed(tones, along, _LONG), across, _DEEP)
    many = _summed(_summed(weight, along, _LONG), across, _DEEP)
    mean = total / np.maximum(many, 1)
    # half of each strip must show paper
    enough = many > (2 * _LONG + 1) * (2 * _DEEP + 1) // 2
    one, other = (_moved(mean, side * _OFF * across, _OFF) for side in (1, -1))
    told = np.logical_and(*(_moved(enough, side * _OFF * across, _OFF) for side in (1, -1)))
    jump = (one - other) * told
    further = [side * _OUT * across for side in (1, -1)]
    slope = np.add(*(_moved(jump, way, _OUT) for way in further))
    slope /= np.maximum(sum(_moved(told, way, _OUT).view(np.uint8) for way in further), 1)
    here, told = _moved(jump, 0 * across, _OUT), _moved(told, 0 * across, _OUT)
    sharp = np.abs(here - slope)
    usual = float(np.median(sharp.ravel()[some(told)])) / _NORMAL_HALF if told.any() else 0.0
    limit = np.float32(max(_LEAST, _OVER_NOISE * usual))
    return np.asarray(np.minimum(sharp, np.abs(here)) / limit * told)


def _summed(plane: npt.NDArray[N], way: Way, reach: int) -> npt.NDArray[N]:
    """Sums along a line of ``reach`` squares to each side, by so much smaller all round."""
    total = np.zeros([side - 2 * reach for side in plane.shape], plane.dtype)
    for times in range(-reach, reach + 1):
        total += _moved(plane, times * way, reach)
    return total


def _moved(plane: npt.NDArray[T], by: Way, margin: int) -> npt.NDArray[T]:
    """What lies so far away from each square, without the ``margin`` all round."""
    down, right = (round(float(part)) for part in by)
    height, width = plane.shape
    return plane[margin + down : height - margin + down, margin + right : width - margin + right]
