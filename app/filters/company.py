"""How many specks of its own kind a speck has about it.

What a dry brush or a pencil leaves beside its stroke is one crumb of many, about as large and as
dark as the next. Dust lies where it fell: what there is of its kind lies anywhere on the page,
on bare paper too.
"""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask

_CELL_MM, _ABOUT = 1.0, 9  # mm; cells to each side in which others count
_DARKER, _LARGER = 0.23, 0.6  # steps, as logarithms: in the next one too a speck is alike

Floats = npt.NDArray[np.floating]


def company(place: Floats, dark: Floats, area: Floats, alone: Mask, bare: float) -> Floats:
    """How many others about as dark and as large lie within 9 mm of each speck; (n,).

    Less as many as would lie there if the whole page had what its bare paper has. ``place`` is
    (n, 2) in mm; ``alone`` (n,) are those that lie on bare paper, of which there are so many mm2.

    >>> place, kind = np.array([[5.0, 5.0], [6.0, 5.0], [40.0, 5.0]]), np.full(3, 0.1)
    >>> company(place, kind, kind, np.zeros(3, bool), 0).tolist()
    [1.0, 1.0, 0.0]
    """
    found = np.zeros(len(place))
    if not len(place):
        return found
    cells = (place / _CELL_MM).astype(np.int64)
    shape = tuple(cells.max(axis=0) + 1)
    flat = np.ravel_multi_index(tuple(cells.T), shape)
    steps = [np.floor(np.log(of) / step).astype(np.int64)
             for of, step in ((dark, _DARKER), (area, _LARGER))]
    room = _about(np.ones(shape)).ravel()[flat] * _CELL_MM**2
    for kind in np.unique(np.stack(steps, axis=1), axis=0):
        apart = np.max([np.abs(step - own) for step, own in zip(steps, kind, strict=True)], axis=0)
        there = np.bincount(flat[apart <= 1], minlength=shape[0] * shape[1]).reshape(shape)
        astray = np.count_nonzero((apart <= 1) & alone) / max(bare, 1.0)
        own = apart == 0
        found[own] = _about(there.astype(np.float64)).ravel()[flat[own]] - 1 - astray * room[own]
    return np.maximum(found, 0)


def _about(there: Floats) -> Floats:
    """Sums over the cells about each, (h, w); nothing lies beyond the page."""
    size = (2 * _ABOUT + 1,) * 2
    return np.asarray(cv2.boxFilter(
        there, cv2.CV_64F, size, normalize=False, borderType=cv2.BORDER_CONSTANT), np.float64)
