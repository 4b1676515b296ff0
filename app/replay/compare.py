"""Same book, same look: which pages stand apart from the others, and why.

The limits are this program's own judgement, for pages that one scanner made of one paper.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

import numpy as np
import numpy.typing as npt

from app.replay.figures import SKETCH, Look

_PAPER = 8.0  # tones between two papers, or two settings of a scanner
_INK = 25.0
_GRAIN = 2.2  # times as rough, or as smooth
_LEAST_GRAIN = 2.0  # tones: below this a difference in grain is the scanner's own
_SIZE = 0.03  # of a length: a sheet does not lie on the glass to the millimetre
_LEAST_MM = 4.0
_PPI = 0.02
_BLANK = 0.0002  # of a page: less is dust
_ALIKE = 0.9  # correlation of two sketches, each smoothed, from which on they show one drawing
_FEW = 3  # pages: among fewer none can stand apart
_ROWS = 512


@dataclass(frozen=True)
class Flag:
    """Why a page stands apart: ``kind`` in a word or two, ``why`` in a sentence."""

    kind: str
    why: str


def usual(looks: Sequence[Look]) -> Look:
    """The look that most pages have: medians, and the commonest size and resolution."""
    width, height, ppi = _commonest((look.width, look.height, look.ppi) for look in _sizes(looks))
    inks = [look.ink for look in looks if look.ink is not None]
    return Look(
        width=width, height=height, ppi=ppi, bits=_commonest(look.bits for look in looks),
        paper=median(look.paper for look in looks), noise=median(look.noise for look in looks),
        ink=median(inks) if 2 * len(inks) > len(looks) else None,
        dark=median(look.dark for look in looks), sketch="",
    )


def _sizes(looks: Sequence[Look]) -> list[Look]:
    """The looks with nearly equal sizes made equal, so that the commonest can be counted."""
    kept: list[Look] = []
    made = []
    for look in looks:
        like = next((k for k in kept if _same_size(look.mm, k.mm) and k.ppi == look.ppi), None)
        if like is None:
            kept.append(look)
        made.append(like or look)
    return made


def _commonest(values: Any) -> Any:
    return Counter(values).most_common(1)[0][0]


def flags(
    looks: Sequence[Look | None], recorded_on: Look | None = None, names: Sequence[str] = (),
) -> list[tuple[Flag, ...]]:
    """For each page why it stands apart; a page without a look has no flags.

    ``recorded_on`` is the look of the page that the list was made on; without one the pages
    are compared with what is usual among them. ``names`` are what the pages are called; without
    them they are numbered from 1.
    """
    known = [look for look in looks if look is not None]
    reference = recorded_on
    if reference is None and len(known) >= _FEW:
        reference = usual(known)
    called = names or [f"page {number}" for number in range(1, len(looks) + 1)]
    twins = [None if twin is None else called[twin] for twin in _twins(looks)]
    return [
        () if look is None else _flags(look, reference, twin)
        for look, twin in zip(looks, twins, strict=True)
    ]


def _flags(look: Look, reference: Look | None, twin: str | None) -> tuple[Flag, ...]:
    found = []
    if look.dark < _BLANK:
        found.append(Flag("blank", "It is blank, or nearly."))
    elif twin is not None:
        found.append(Flag("duplicate", f"It shows the same drawing as {twin}."))
    if reference is not None:
        found += _scanned_otherwise(look, reference) + _of_other_size(look, reference)
    return tuple(found)


def _scanned_otherwise(look: Look, usual: Look) -> list[Flag]:
    found = []
    if abs(look.paper - usual.paper) > _PAPER:
        way = "darker" if look.paper < usual.paper else "lighter"
        found.append(Flag("paper", (
            f"Its paper lies at {look.paper:.0f}, the book's at {usual.paper:.0f}: "
            f"scanned {way}, or another paper."
        )))
    rough, smooth = max(look.noise, usual.noise), max(min(look.noise, usual.noise), 0.3)
    if rough > _GRAIN * smooth and rough - smooth > _LEAST_GRAIN:
        way = "rougher" if look.noise > usual.noise else "smoother"
        found.append(Flag("grain", (
            f"Its paper is {way}: the grain swings {look.noise:.1f} levels, "
            f"the book's {usual.noise:.1f}."
        )))
    both = look.ink is not None and usual.ink is not None
    if both and abs((look.ink or 0) - (usual.ink or 0)) > _INK and look.dark >= _BLANK:
        found.append(Flag("ink", f"Its ink lies at {look.ink:.0f}, the book's at {usual.ink:.0f}."))
    if look.bits != usual.bits:
        found.append(Flag("depth", f"It has {look.bits} bits, the book's pages {usual.bits}."))
    return found


def _of_other_size(look: Look, usual: Look) -> list[Flag]:
    found = []
    if abs(look.ppi - usual.ppi) > _PPI * usual.ppi:
        way = "lower" if look.ppi < usual.ppi else "higher"
        found.append(Flag("resolution", (
            f"It was scanned at {look.ppi:g} ppi, {way} than the book's {usual.ppi:g}."
        )))
    mine, theirs = look.mm, usual.mm
    if _same_size(mine, theirs):
        return found
    if _same_size(mine, theirs[::-1]):
        return [*found, Flag("turned", "It lies turned by a quarter.")]
    return [*found, Flag("size", (
        f"It is {mine[0]:.0f} x {mine[1]:.0f} mm, "
        f"the book's pages {theirs[0]:.0f} x {theirs[1]:.0f} mm."
    ))]


def _same_size(mine: tuple[float, float], theirs: tuple[float, float]) -> bool:
    return all(
        abs(a - b) <= max(_SIZE * b, _LEAST_MM) for a, b in zip(mine, theirs, strict=True)
    )


def _twins(looks: Sequence[Look | None]) -> list[int | None]:
    """For each page the first page before it that shows the same drawing."""
    twins: list[int | None] = [None] * len(looks)
    places = [
        place for place, look in enumerate(looks)
        if look is not None and look.sketch and look.dark >= _BLANK
    ]
    sketches = _normal([bytes.fromhex(looks[place].sketch) for place in places])  # type: ignore[union-attr]
    for start in range(0, len(places), _ROWS):
        alike = sketches[start : start + _ROWS] @ sketches[: start + _ROWS].T > _ALIKE
        for row, hits in enumerate(alike):
            before = np.flatnonzero(hits[: start + row])
            if before.size:
                twins[places[start + row]] = places[int(before[0])]
    return twins


def _normal(sketches: Sequence[bytes]) -> npt.NDArray[np.float32]:
    """Rows of mean 0 and length 1, so that a product of two is their correlation."""
    if not sketches:
        return np.zeros((0, 0), np.float32)
    rows = _smooth(np.stack([np.frombuffer(sketch, np.uint8) for sketch in sketches]))
    rows -= rows.mean(axis=1, keepdims=True)
    length = np.linalg.norm(rows, axis=1, keepdims=True)
    normal: npt.NDArray[np.float32] = np.divide(rows, length, where=length > 0, out=rows)
    return normal


def _smooth(sketches: npt.NDArray[np.uint8]) -> npt.NDArray[np.float32]:
    """Each sketch spread to its neighbouring cells: a sheet lies a millimetre off next time."""
    cells = sketches.reshape(-1, SKETCH, SKETCH).astype(np.float32)
    for axis in (1, 2):
        around = [(1, 1) if axis == which else (0, 0) for which in range(3)]
        wide = np.pad(cells, around, mode="edge")
        ends = [np.take(wide, range(start, start + SKETCH), axis=axis) for start in (0, 2)]
        cells = np.asarray((ends[0] + 2 * cells + ends[1]) / 4, np.float32)
    return cells.reshape(len(sketches), -1)
