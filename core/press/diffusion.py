"""Error diffusion, along diagonals so that numpy does many pixels at once."""

import numpy as np
import numpy.typing as npt

from core.sheet import Plane, full_scale


def diffuse(alpha: Plane) -> npt.NDArray[np.bool_]:
    """Black and white by error diffusion, (H, W) bool; the mean cover is kept.

    R. Floyd and L. Steinberg, "An adaptive algorithm for spatial grey scale", Proc. SID 17
    (1976) 75-77 (weights 7, 3, 5 and 1 sixteenths, from memory), every row from left to right;
    what would leave the page at its edges is lost. Exact integers, in 1/16 of a code value.

    >>> diffuse(np.full((4, 4), 255, np.uint8)).all(), diffuse(np.zeros((4, 4), np.uint8)).any()
    (np.True_, np.False_)
    """
    full = full_scale(alpha)
    height, width = alpha.shape
    # two columns more on the right and one on the left take what runs over the edge
    wide = width + 3
    want = np.zeros((height + 1, wide), np.int32)
    want[:height, 1 : width + 1] = alpha
    want *= 16
    out = np.zeros(want.shape, np.bool_)  # laid out as they are: a page may be one pixel wide
    flat, inked, step = want.reshape(-1), out.reshape(-1), wide - 2
    for diagonal in range(width + 2 * height - 2):
        # pixels x + 2 y = diagonal wait for nothing but earlier diagonals
        first = max(0, -(-(diagonal - width + 1) // 2))
        count = min(height - 1, diagonal // 2) - first + 1
        if count <= 0:
            continue
        start = 1 + diagonal + first * step
        end = start + (count - 1) * step + 1
        value = flat[start:end:step]
        ink = value > 8 * full
        error = value - ink * np.int32(16 * full)
        ahead, before, below = (share * error >> 4 for share in (7, 3, 5))
        flat[start + 1 : end + 1 : step] += ahead
        flat[start + wide - 1 : end + wide - 1 : step] += before
        flat[start + wide : end + wide : step] += below
        flat[start + wide + 1 : end + wide + 1 : step] += error - ahead - before - below
        inked[start:end:step] = ink
    return np.ascontiguousarray(out[:height, 1 : width + 1])
