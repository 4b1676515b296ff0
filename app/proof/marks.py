"""Where ink was drawn on a page, as its own paper tells: the measure of what may print."""

from dataclasses import dataclass

import numpy as np

from app.filters.drop_specks import DropSpecks
from app.filters.even_light import EvenLight
from app.filters.keep_marks import KeepMarks
from app.proof.cells import CELL_MM, Mask, grid_of, regrid, side_of, tally, widened
from core.readings import grey_plane, survey
from core.sheet import Bands, Each, Paper, Sheet, whole
from core.steps.build_up import BuildUp
from core.steps.fold import Replayed, replay
from core.steps.lift import Lift
from core.steps.step import Step
from core.steps.steplist import StepList
from core.steps.tone import Tone

SETS_TONES = (Tone.kind, Lift.kind, BuildUp.kind)
"""The kinds of step that set tones: marks are told before the first of them."""

_NEAR_MM = 1.0


@dataclass(frozen=True, eq=False)
class Drawn:
    """The drawn marks of a page, and its dust, by cells (h, w).

    ``marks`` are the cells that a drawn mark touches, ``rim`` these and their neighbours, ``near``
    all within 1 mm; ``dust`` those that a speck touches which belongs to no mark. ``paper`` is
    what steps that follow the paper are settled by, if it was measured.
    """

    marks: Mask
    rim: Mask
    near: Mask
    dust: Mask
    paper: Paper | None = None

    @classmethod
    def of(cls, marks: Mask, dust: Mask, paper: Paper | None = None) -> "Drawn":
        """What follows from the marks and the dust alone."""
        near = widened(marks, round(_NEAR_MM / CELL_MM))
        return cls(marks, widened(marks, 1), near, dust, paper)

    def on(self, grid: tuple[int, int]) -> "Drawn":
        """The same over another grid."""
        marks, rim, near, dust = (
            regrid(mask, grid) for mask in (self.marks, self.rim, self.near, self.dust))
        return Drawn(marks, rim, near, dust, self.paper)


def find_drawn(evened: Sheet, by_hand: tuple[Step, ...] = (), each: Each = map) -> Drawn:
    """Tell marks, dust and paper apart on a page whose light is even and whose tones are not set.

    What *keep marks* keeps is drawn, but for what *drop specks* takes for dust, both settled by
    the page's paper as in a list; ``by_hand`` are the page's own *let stand* and *take out*,
    which overrule both.

    >>> page = np.full((300, 300), 230, np.uint8)
    >>> page[150:153, 50:250] = 60
    >>> found = find_drawn(Sheet(ppi=300, grey=page))
    >>> bool(found.marks[75, 75]), bool(found.marks[20, 20])
    (True, False)
    """
    plain = Sheet(ppi=evened.ppi, grey=grey_plane(evened), placing=evened.placing)
    paper = survey(plain, each).paper()
    kept = KeepMarks().settle(paper).apply(plain)
    clean = DropSpecks().settle(paper).apply(kept)
    for step in by_hand:
        clean = step.apply(clean)
    side = side_of(evened.ppi)
    grid = grid_of(evened.shape, side)
    marks = _inked(clean, side)
    dust = (_inked(kept, side) & ~marks) if kept is not clean else np.zeros(grid, np.bool_)
    return Drawn.of(marks, dust, paper)


def _inked(sheet: Sheet, side: int) -> Mask:
    assert sheet.grey is not None
    return np.asarray(tally(np.invert(sheet.grey), 1, side).pixels > 0)


@dataclass(frozen=True)
class Evidence:
    """What of a list decides where its marks lie: a change of anything else leaves them.

    ``leading`` lead to the page with its light even, ``by_hand`` are *let stand* and *take out*.
    The list's own *keep marks* and *drop specks* are left out, so that they are judged and do
    not judge; so is all that is done to the ink once it is lifted.
    """

    leading: tuple[Step, ...]
    by_hand: tuple[Step, ...]

    @classmethod
    def of(cls, steps: StepList) -> "Evidence":
        """That of a list, whose light is evened where the list leaves it uneven.

        >>> [step.kind for step in Evidence.of(StepList("", (KeepMarks(), Tone()))).leading]
        ['even light']
        """
        flat = tuple(steps.flat())
        clearing = tuple(step for step in flat if step.clears or step.restores)
        leading = tuple(
            step for step in flat
            if step not in clearing and not step.on_ink and step.kind not in SETS_TONES)
        if not any(step.kind == EvenLight.kind for step in leading):
            leading = (*leading, EvenLight())
        return cls(leading, tuple(step for step in clearing if step.one_page))

    def drawn(self, scan: Bands, each: Each = map) -> Drawn:
        """The marks of a page as scanned."""
        evened = replay(StepList("", self.leading), scan, each).page
        return find_drawn(whole(evened, each), self.by_hand, each)


def drawn_on(replayed: Replayed, scan: Bands, each: Each = map) -> Drawn:
    """The marks of a page that was replayed from ``scan``, as it lay before its tones were set."""
    steps = tuple(replayed.settled.flat())
    evidence = Evidence.of(replayed.settled)
    count = len(evidence.leading)
    led = steps[:count] == evidence.leading and steps[count - 1].kind == EvenLight.kind
    if led and all(step.kind in SETS_TONES for step in steps[count:]):
        return find_drawn(whole(replayed.before, each), each=each)  # it is at hand, evened
    return evidence.drawn(scan, each)
