"""The connected mark under the pointer, as a step that is given that place will find it."""

from dataclasses import dataclass

import cv2
import numpy as np

from app.bench.state.picture import Bytes
from app.bench.state.placing import Ruler, Spot
from app.bench.state.scale import Box, View
from app.filters.reach import marked, nearest_mark
from core.fault import Watch, unwatched
from core.sheet import Bands, Each, Sheet, whole
from core.steps.fold import replay
from core.steps.step import Step
from core.steps.steplist import StepList

_FOUND = 2  # in the plane of marks: the one that was found last


@dataclass(frozen=True, eq=False)
class MarkSeen:
    """A mark on the screen: how much of each pixel it is (H, W), 255 all; and where it lies.

    ``place`` is the left upper corner from that of the page, in pixels of the screen.
    """

    view: View
    place: tuple[int, int]
    share: Bytes


class Marks:
    """The marks of a page as it stands before a step; one at a time is found."""

    def __init__(self, sheet: Sheet) -> None:
        self._ruler, self._ppi = Ruler.of(sheet), sheet.ppi
        self._marked = marked(sheet)
        self._box: Box | None = None

    def near(self, spot: Spot) -> tuple[int, int] | None:
        """The row and column of the mark that a click there means; None where there is none."""
        place = self._ruler.placing.on_page(self._ruler.on_scan((spot,)))[0]
        return nearest_mark(self._marked, (float(place[0]), float(place[1])), self._ppi)

    def seen(self, spot: Spot, view: View) -> MarkSeen | None:
        """The mark that a click on a spot of the page means, as it lies in a view."""
        where = self.near(spot)
        if where is None:
            return None
        if self._marked[where] != _FOUND:
            self._find(where)
        assert self._box is not None
        scale, box = view.scale.value, view.seen
        left, top = (max(int(a), int(b / scale)) for a, b in (
            (self._box.left, box.left), (self._box.top, box.top)))
        right, bottom = (min(int(a), int(b / scale) + 1) for a, b in (
            (self._box.right, box.right), (self._box.bottom, box.bottom)))
        part = (self._marked[top:bottom, left:right] == _FOUND).view(np.uint8) * np.uint8(255)
        if not part.size:
            return None
        size = [max(round(side * scale), 1) for side in (right - left, bottom - top)]
        way = cv2.INTER_AREA if scale < 1 else cv2.INTER_NEAREST
        share = np.asarray(cv2.resize(part, size, interpolation=way), np.uint8)
        return MarkSeen(view, (round(left * scale), round(top * scale)), share)

    def _find(self, where: tuple[int, int]) -> None:
        """Have this mark be the one that was found, and no other."""
        if self._box is not None:
            old = self._marked[self._box.top : self._box.bottom, self._box.left : self._box.right]
            np.minimum(old, 1, out=old)
        row, column = where
        *_, (left, top, width, height) = cv2.floodFill(
            self._marked, None, (column, row), _FOUND, flags=8)
        self._box = Box(left, top, left + width, top + height)


def marks_before(
    page: Bands, steps: tuple[Step, ...], number: int, each: Each = map, watch: Watch = unwatched,
) -> Marks:
    """The marks among which the step of that number looks for its own."""
    made = replay(StepList("", ground_of(steps, number)), page, each, watch).page
    return Marks(whole(made, each, watch))


def ground_of(steps: tuple[Step, ...], number: int) -> tuple[Step, ...]:
    """The steps on whose page a step looks for its mark: one that restores, on the page uncleared.

    >>> from app.filters.overrule import LetStand, TakeOut
    >>> len(ground_of((TakeOut(), LetStand()), 1)), len(ground_of((TakeOut(), TakeOut()), 1))
    (0, 1)
    """
    before = steps[:number]
    if not steps[number].restores:
        return before
    flat = tuple(StepList("", before).flat())
    return tuple(step for step in flat if not (step.clears or step.restores))
