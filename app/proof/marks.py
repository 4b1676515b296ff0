"""Where ink was drawn on a page, as its own paper tells: the measure of what may print."""

from dataclasses import dataclass, replace

import numpy as np

from app.filters.drop_specks import DropSpecks
from app.filters.even_light import EvenLight
from app.filters.keep_marks import KeepMarks
from app.proof.cells import CELL_MM, Mask, grid_of, regrid, side_of, tally, widened
from core.readings import grey_plane
from core.sheet import Bands, Each, Sheet, whole
from core.steps.fold import Replayed, replay
from core.steps.step import Step

_SETS_TONES = ("tone", "lift", "build up")
_CLEARS = ("keep marks", "drop specks")
_BY_HAND = ("let stand", "take out")
_NEAR_MM = 1.0


@dataclass(frozen=True, eq=False)
class Drawn:
    """The drawn marks of a page, and its dust, by cells (h, w).

    ``marks`` are the cells that a drawn mark touches, ``rim`` these and their neighbours, ``near``
    all within 1 mm; ``dust`` those that a speck touches which belongs to no mark.
    """

    marks: Mask
    rim: Mask
    near: Mask
    dust: Mask

    @classmethod
    def of(cls, marks: Mask, dust: Mask) -> "Drawn":
        """What follows from the marks and the dust alone."""
        return cls(marks, widened(marks, 1), widened(marks, round(_NEAR_MM / CELL_MM)), dust)

    def on(self, grid: tuple[int, int]) -> "Drawn":
        """The same over another grid."""
        return Drawn(*(regrid(mask, grid) for mask in (self.marks, self.rim, self.near, self.dust)))


def find_drawn(evened: Sheet, by_hand: tuple[Step, ...] = ()) -> Drawn:
    """Tell marks, dust and paper apart on a page whose light is even and whose tones are not set.

    What *keep marks* keeps is drawn, but for what *drop specks* takes for dust; ``by_hand``
    are the page's own *let stand* and *take out*, which overrule both.

    >>> page = np.full((300, 300), 230, np.uint8)
    >>> page[150:153, 50:250] = 60
    >>> found = find_drawn(Sheet(ppi=300, grey=page))
    >>> bool(found.marks[75, 75]), bool(found.marks[20, 20])
    (True, False)
    """
    plain = Sheet(ppi=evened.ppi, grey=grey_plane(evened))
    kept = KeepMarks().apply(plain)
    clean = DropSpecks().apply(kept)
    for step in by_hand:
        clean = step.apply(clean)
    side = side_of(evened.ppi)
    grid = grid_of(evened.shape, side)
    marks = _inked(clean, side)
    dust = (_inked(kept, side) & ~marks) if kept is not clean else np.zeros(grid, np.bool_)
    return Drawn.of(marks, dust)


def _inked(sheet: Sheet, side: int) -> Mask:
    assert sheet.grey is not None
    return np.asarray(tally(np.invert(sheet.grey), 1, side).pixels > 0)


def drawn_on(replayed: Replayed, scan: Bands, each: Each = map) -> Drawn:
    """The marks of a page that was replayed from ``scan``, as it lay before its tones were set.

    The list's own *keep marks* and *drop specks* are left out, so that they are judged and do
    not judge; light that the list leaves uneven is evened.
    """
    steps = tuple(replayed.settled.flat())
    before = [step for step in steps if step.kind not in (*_SETS_TONES, *_CLEARS, *_BY_HAND)]
    rest = steps[len(before) :]
    if before and before[-1].kind == EvenLight.kind and all(s.kind in _SETS_TONES for s in rest):
        return find_drawn(whole(replayed.before, each))  # what it was evened to is at hand
    if not any(step.kind == EvenLight.kind for step in before):
        before.append(EvenLight())
    by_hand = tuple(step for step in steps if step.kind in _BY_HAND)
    evened = replay(replace(replayed.settled, steps=tuple(before)), scan, each).page
    return find_drawn(whole(evened, each), by_hand)
