"""A page scanned again: where its drawing lies now, and its own steps moved there."""

import dataclasses
import math
from typing import Any, TypeVar

import cv2
import numpy as np
import numpy.typing as npt

from core.matte import to_depth
from core.placing import AS_SCANNED, Placing
from core.sheet import Sheet
from core.steps.fields import Either, Record, Spec, specs
from core.steps.paths import Paths, Seeds
from core.steps.places import Place, Point, Polygon
from core.units import mm_to_px, px_to_mm

_PPI = 50.0  # at which the two are laid over one another
_SOFT = 1.5  # cells of blur, so that lines a cell apart still pull at each other
_ROUNDS, _ENOUGH = 200, 1e-5
_ALIKE = 0.7  # correlation from which on it is the same drawing

Floats = npt.NDArray[np.float32]

R = TypeVar("R", bound=Record)


def find_placing(before: Sheet, after: Sheet) -> Placing | None:
    """Where places of one scan's mm lie on another scan of the same page; None if unlike.

    Both lifted. Turned by a few degrees and shifted, at their own resolutions. First the shift
    by phase correlation, then both by the largest correlation coefficient (Evangelidis and
    Psarakis, "Parametric image alignment using enhanced correlation coefficient maximization",
    IEEE Transactions on Pattern Analysis and Machine Intelligence 30(10), 2008).

    >>> page = np.zeros((300, 300), np.uint8)
    >>> page[100:200, 80:90] = page[100:110, 80:190] = 255
    >>> placing = find_placing(*(Sheet(ppi=100, alpha=np.roll(page, n, 1)) for n in (0, 20)))
    >>> [round(abs(x)) for x in placing.on_page([(0.0, 0.0)])[0]]
    [5, 0]
    """
    one, other = _seen(before), _seen(after)
    height, width = (max(a, b) for a, b in zip(one.shape, other.shape, strict=True))
    one, other = (
        np.pad(cells, ((0, height - cells.shape[0]), (0, width - cells.shape[1])))
        for cells in (one, other)
    )
    if not one.any() or not other.any():
        return None
    (right, down), _ = cv2.phaseCorrelate(one.astype(np.float64), other.astype(np.float64))
    guess = np.array([[1, 0, right], [0, 1, down]], np.float32)
    rounds = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, _ROUNDS, _ENOUGH)
    try:
        alike, found = cv2.findTransformECC(one, other, guess, cv2.MOTION_EUCLIDEAN, rounds)
    except cv2.error:  # it ran away: they have nothing in common
        return None
    if alike < _ALIKE:
        return None
    turn = np.degrees(np.arctan2(found[1, 0], found[0, 0]))
    # a place in mm counts from a cell's edge, the found turn from the middle of the first
    middle = px_to_mm(0.5, _PPI)
    placing = AS_SCANNED.shifted(-middle, -middle).turned(float(turn), (0.0, 0.0))
    return placing.shifted(px_to_mm(float(found[0, 2]), _PPI) + middle,
                           px_to_mm(float(found[1, 2]), _PPI) + middle)


def _seen(sheet: Sheet) -> Floats:
    """The page's alpha, coarse and soft."""
    assert sheet.alpha is not None
    alpha = to_depth(sheet.alpha, 8)
    height, width = (
        max(1, round(mm_to_px(px_to_mm(side, sheet.ppi), _PPI))) for side in sheet.shape
    )
    scale = _PPI / sheet.ppi
    soft = cv2.GaussianBlur(alpha, (0, 0), _SOFT / scale).astype(np.float32)
    # scaled exactly: a whole number of cells would stretch the page
    shrink = np.array([[scale, 0, (scale - 1) / 2], [0, scale, (scale - 1) / 2]])
    return np.asarray(cv2.warpAffine(soft, shrink, (width, height)), np.float32)


def from_scan_to_scan(before: Placing, between: Placing, after: Placing) -> Placing:
    """From mm of one scan to mm of another: on its page, over to the other's, and off it.

    >>> cut = AS_SCANNED.shifted(-10.0, 0.0)
    >>> from_scan_to_scan(cut, AS_SCANNED, AS_SCANNED).on_page([(12.0, 5.0)]).tolist()
    [[2.0, 5.0]]
    """
    turn = _degrees(before) + _degrees(between) - _degrees(after)
    right, down = after.on_scan(between.on_page(before.on_page([(0.0, 0.0)])))[0]
    return AS_SCANNED.turned(turn, (0.0, 0.0)).shifted(float(right), float(down))


def _degrees(placing: Placing) -> float:
    return math.degrees(math.atan2(placing.aside, placing.along))


def has_places(record: Record) -> bool:
    """Whether a step, or a part of one, is tied to places of its page.

    >>> from app.filters.drop_specks import DropSpecks
    >>> from app.filters.flats import Flats
    >>> has_places(Flats()), has_places(DropSpecks())
    (True, False)
    """
    return any(
        isinstance(spec, Point | Polygon | Paths | Seeds)
        or (isinstance(spec, Either) and has_places(getattr(record, name)))
        for name, spec in specs(type(record)).items()
    )


def moved(record: R, placing: Placing) -> R:
    """A step, or a part of one, with every place in it moved.

    >>> from app.filters.overrule import TakeOut
    >>> from app.filters.reach import Mark
    >>> moved(TakeOut(area=Mark(at=(5.0, 6.0))), AS_SCANNED.shifted(1.0, -2.0)).area.at
    (6.0, 4.0)
    """
    changed = {
        name: _moved(spec, getattr(record, name), placing)
        for name, spec in specs(type(record)).items()
    }
    return dataclasses.replace(record, **changed)  # type: ignore[type-var]


def _moved(spec: Spec, value: Any, placing: Placing) -> Any:
    match spec:
        case Either():
            return moved(value, placing)
        case Point():
            return _path((value,), placing)[0]
        case Polygon():
            return _path(value, placing)
        case Paths():
            return tuple(_path(line, placing) for line in value)
        case Seeds():
            return tuple((_path((at,), placing)[0], colour) for at, colour in value)
        case _:
            return value


def _path(places: tuple[Place, ...], placing: Placing) -> tuple[Place, ...]:
    """Places moved; none leaves the sheet at its left or top, where there are no numbers."""
    made = np.maximum(placing.on_page(places), 0.0)
    return tuple((float(x), float(y)) for x, y in made)
