"""A page as it stands before one step of its list, and what the steps from there on make of it."""

from dataclasses import dataclass, replace
from itertools import takewhile

import numpy as np

from app.bench.state.layered import Layer, view_folded
from app.bench.state.picture import Ground, Inked, Pixels, Place, inked, view_clipped, view_inked
from app.bench.state.tally import Tally
from core.fault import Watch, unwatched
from core.histogram import Counts, Peaks
from core.readings import grey_plane, survey
from core.sheet import Bands, Each, Paper, Plane, Sheet, spans, whole
from core.steps.fold import Replayed, fuse, replay
from core.steps.step import Step
from core.steps.steplist import StepList
from core.steps.tone import Tone
from core.tone import Table


@dataclass(frozen=True, eq=False)
class Standing:
    """A page before its step number ``index``: the pixels, whole, and what is read off them.

    ``before`` are the steps that led here, as the person wrote them; ``grey`` is the
    sheet's grey (H, W) and ``counts`` its tones; ``paper`` is what a following step would
    follow here. ``peaks`` are those of the page here, ``bare`` those of the page before
    anything was cleared off it, for cleared paper has no noise to tell faint marks from.
    ``scan`` is the page as scanned, but lying as it does here: turned, cut and level; None
    where it lies as it was scanned; ``lain`` is how it was first laid, ``moves`` what moved it
    later. All are made once: a drag asks for them at every move.
    """

    sheet: Sheet
    grey: Plane
    counts: Counts
    peaks: Peaks
    bare: Peaks
    paper: Paper
    before: tuple[Step, ...]
    scan: Sheet | None = None
    lain: "Lain | None" = None
    moves: tuple[Step, ...] = ()

    @property
    def index(self) -> int:
        """How many steps were done."""
        return len(self.before)


@dataclass(frozen=True, eq=False)
class Lain:
    """A page as scanned, but turned, cut and level by the ``steps`` that a list begins with."""

    steps: tuple[Step, ...]
    sheet: Sheet


@dataclass(frozen=True, eq=False)
class Shown:
    """What stands on the screen for a list: pixels and the settled steps still to do on them.

    ``exact`` is False where a step was left out because the page must be worked through
    whole for it.
    """

    sheet: Sheet
    rest: tuple[Step, ...]
    exact: bool = True
    one: Inked | None = None

    @classmethod
    def of(
        cls, sheet: Sheet, rest: tuple[Step, ...], *, exact: bool = True,
        grey: Plane | None = None,
    ) -> "Shown":
        """The same with its table worked out; ``grey`` is the sheet's, where it is known."""
        return cls(sheet, rest, exact, inked(sheet, rest, grey))

    @property
    def quick(self) -> bool:
        """Whether every frame of it is a matter of one table."""
        return self.table("all") is not None

    def table(self, layer: Layer) -> Inked | None:
        """The table that makes every frame of the layer, if one does."""
        if self.one is None or layer == "lines":
            return self.one
        if self.sheet.flats is not None:
            return None
        return self.one if layer == "all" else replace(
            self.one, table=np.zeros_like(self.one.table))

    def draw(
        self, ground: Ground, place: Place, each: Each = map, *, layer: Layer = "all",
        clipping: bool = False, tally: Tally | None = None,
    ) -> Pixels:
        """The seen pixels of the page over the ground; ``clipping`` what its points cut off."""
        if clipping and self.one is not None:
            return view_clipped(self.one, place, each, tally)
        one = self.table(layer)
        if one is not None:
            return view_inked(one, ground, place, each, tally)
        return view_folded(self.sheet, self.rest, ground, place, each, layer)


def tone_index(steps: tuple[Step, ...], chosen: int | None = None) -> int | None:
    """Which step the tone strip holds: the chosen one if it sets tones, else the first that does.

    >>> tone_index((Tone(on=False), Tone()))
    1
    """
    if chosen is not None and chosen < len(steps) and isinstance(steps[chosen], Tone):
        return chosen
    found = [n for n, step in enumerate(steps) if isinstance(step, Tone)]
    lit = [n for n in found if steps[n].on]
    return lit[0] if lit else (found[0] if found else None)


def standing_index(steps: tuple[Step, ...], chosen: int | None = None) -> int:
    """The step before which the page is held: the tone step, or where one would go.

    Without one that is behind the last step that needs the whole page.
    """
    found = tone_index(steps, chosen)
    if found is not None:
        return found
    wholes = [n for n, step in enumerate(steps) if step.on and _is_whole(step)]
    return wholes[-1] + 1 if wholes else 0


def _is_whole(step: Step) -> bool:
    return any(inner.whole for inner in StepList("", (step,)).flat())


def stand(
    page: Bands, steps: tuple[Step, ...], each: Each = map, watch: Watch = unwatched, *,
    known: Standing | None = None,
) -> Standing:
    """Do the steps and hold the page there, whole, with its tones counted.

    ``known`` is the page as it stood for another list, which may lay it alike: turning a large
    page takes as long as evening its light, so it is done once.
    """
    flat = tuple(StepList("", steps).flat())
    first = tuple(takewhile(lambda step: not step.in_place, flat))
    lain = _laid(page, first, None if known is None else known.lain, each, watch)
    laid, rest = (page, flat) if lain is None else (lain.sheet, flat[len(lain.steps) :])
    done = replay(StepList("", rest), laid, each, watch)
    sheet = whole(done.page, each, watch)
    grey = _grey_by_bands(sheet, each)
    read = survey(sheet, each)
    clearing = [n for n, step in enumerate(rest) if step.clears]
    bare = read
    if clearing:
        bare = survey(replay(StepList("", rest[: clearing[0]]), laid, each, watch).page, each)
    moves = tuple(step for step in done.settled.steps if not step.in_place)
    if known is not None and (known.lain, known.moves) == (lain, moves):
        scan = known.scan
    else:
        scan = whole(replay(StepList("", moves), laid, each).page, each) if lain or moves else None
    return Standing(sheet, grey, read.grey, read.peaks(), bare.peaks(), read.paper(), steps, scan,
                    lain, moves)


def _laid(
    page: Bands, moves: tuple[Step, ...], known: Lain | None, each: Each, watch: Watch,
) -> Lain | None:
    """The page as the moves lay it; None where there are none."""
    if not moves or (known is not None and known.steps == moves):
        return known if moves else None
    done = replay(StepList("", moves), page, each, watch)
    return Lain(moves, whole(done.page, each, watch))


def _grey_by_bands(sheet: Sheet, each: Each) -> Plane:
    if sheet.grey is not None:
        return sheet.grey
    bands = list(each(lambda span: grey_plane(sheet.rows(*span)), spans(sheet.height)))
    return np.concatenate(bands)


def tables_from(standing: Standing, rest: tuple[Step, ...]) -> tuple[Table, Table]:
    """What the table steps among the settled ``rest`` do: alpha of each grey, alpha of each alpha.

    The second leaves out the first step: it is what happens behind the points.
    """
    full = standing.sheet.full
    lifted = standing.sheet.alpha is not None
    tables = tuple(step for step in rest if step.table(255) is not None)
    alpha_of = fuse(tables, full, lifted=lifted)
    if lifted:
        alpha_of = alpha_of[::-1]
    elif not any(step.lifts_in is not None for step in tables):
        alpha_of = np.invert(alpha_of)
    after = tuple(step for step in rest[1:] if step.table(255) is not None)
    return alpha_of, fuse(after, full, lifted=True)


def settle_quickly(standing: Standing, steps: tuple[Step, ...]) -> tuple[Step, ...] | None:
    """The steps from the held one on, settled without a look at the page; None where one is due.

    Only the first of them may follow the paper, and only if none before it did: then the
    paper is the one that was counted here.
    """
    rest = tuple(StepList("", steps[standing.index :]).flat())
    led = StepList("", standing.before).flat()
    if not any(step.needs_paper for step in rest):
        return rest
    if any(step.needs_paper for step in (*led, *rest[1:])):
        return None
    return (rest[0].settle(standing.paper), *rest[1:])


def before_side(scan: Sheet, standing: Standing, shown: Shown) -> Sheet:
    """What stands left of the divider: the scan, lying as the result does.

    Where a step behind the held one moves the drawing it is the page before the steps that are
    shown.
    """
    here = scan if standing.scan is None else standing.scan
    lies = here.shape == shown.sheet.shape and here.placing == shown.sheet.placing
    return here if lies else shown.sheet


def show_now(standing: Standing, steps: tuple[Step, ...]) -> Shown | None:
    """What can be shown at once for a list that begins as the standing page's did.

    A step that needs the whole page, and all behind it, are left out and it is not
    ``exact``; None where nothing true can be shown without more work.
    """
    if steps[: standing.index] != standing.before:
        return None
    rest = settle_quickly(standing, steps)
    if rest is None:
        return None
    wholes = [n for n, step in enumerate(rest) if step.whole]
    upto = rest[: wholes[0]] if wholes else rest
    return Shown.of(standing.sheet, upto, exact=not wholes, grey=standing.grey)


def show_fully(
    standing: Standing, steps: tuple[Step, ...], page: Bands, each: Each = map,
    watch: Watch = unwatched,
) -> Shown:
    """The exact result of a list, however long it takes; ``page`` is the page as scanned."""
    now = show_now(standing, steps)
    if now is not None and now.exact:
        return now
    rest = steps[standing.index :]
    done = (
        replay(StepList("", rest), standing.sheet, each, watch) if _goes_on(standing.before, rest)
        else _replayed(standing.lain, steps, page, each, watch)
    )
    sheet = whole(done.before, each, watch)
    flat = done.settled.steps
    wholes = [n for n, step in enumerate(flat) if step.whole]
    return Shown.of(sheet, flat[wholes[-1] + 1 :] if wholes else flat)


def _replayed(
    lain: Lain | None, steps: tuple[Step, ...], page: Bands, each: Each, watch: Watch,
) -> Replayed:
    """The whole list done, on the page as it was laid where the list begins so."""
    flat = tuple(StepList("", steps).flat())
    if lain is not None and flat[: len(lain.steps)] == lain.steps:
        page, flat = lain.sheet, flat[len(lain.steps) :]
    return replay(StepList("", flat), page, each, watch)


def _goes_on(led: tuple[Step, ...], rest: tuple[Step, ...]) -> bool:
    """Whether the rest of a list can be done on what the steps before it left, and no more.

    It cannot where it brings back what they cleared, or follows a paper that they measured.
    """
    before, after = (tuple(StepList("", steps).flat()) for steps in (led, rest))
    restored = any(step.restores for step in after) and any(step.clears for step in before)
    followed = any(step.needs_paper for step in after) and any(
        step.needs_paper for step in before)
    return not (restored or followed)
