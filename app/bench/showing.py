"""What each view is given to show, worked out from the desk and from what was found out."""

import time
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from app.bench.state.desk import Desk
from app.bench.state.edits import way_up
from app.bench.state.job import Source, is_set, name_of, source_of
from app.bench.state.picture import Bytes
from app.bench.state.placing import as_looked_at
from app.bench.state.standing import (
    Standing,
    settle_quickly,
    standing_index,
    tables_from,
    tone_index,
)
from app.bench.state.strip import Points, heights, points_of, readings
from app.bench.views.card import CardShown
from app.bench.views.look import tr
from app.bench.views.rack import RackItem
from app.bench.views.strip import StripShown
from app.pages.listing import PageAt
from app.replay.job import Job, JobPage
from app.suggest import Suggestion
from core.steps.step import Step
from core.steps.steplist import StepList
from core.steps.tone import Tone
from core.steps.turn import Turn


@dataclass
class Known:
    """What was found out about pages; it can always be found out again."""

    faults: dict[Source, str] = field(default_factory=dict)
    thumbs: dict[Source, Bytes] = field(default_factory=dict)
    proposals: dict[Source, Suggestion] = field(default_factory=dict)

    def forget_faults(self, pages: Collection[PageAt]) -> bool:
        """What was wrong with these pages may be mended; whether anything was."""
        mended = [source for source in self.faults if source.at in pages]
        for source in mended:
            del self.faults[source]
            self.thumbs.pop(source, None)
        return bool(mended)


class Laid:
    """The pages that lie on the rack, and in which rows each source of pixels lies."""

    def __init__(self) -> None:
        self._pages: tuple[JobPage, ...] = ()
        self._rows: dict[Source, list[int]] | None = None

    def become(self, pages: tuple[JobPage, ...]) -> tuple[int, ...] | None:
        """Other pages, perhaps: the rows that have another; None where they are more or fewer."""
        old, self._pages = self._pages, pages
        changed = tuple(
            row for row, (was, now) in enumerate(zip(old, pages, strict=False)) if was is not now)
        if changed or len(old) != len(pages):
            self._rows = None
        return changed if len(old) == len(pages) else None

    @property
    def rows(self) -> dict[Source, list[int]]:
        """The rows of each source, in the order of the rack."""
        if self._rows is None:
            self._rows = {}
            for row, page in enumerate(self._pages):
                self._rows.setdefault(source_of(page), []).append(row)
        return self._rows


def steps_of(page: JobPage, known: Known) -> StepList | None:
    """The page's own list, or the proposed one; None where there is neither yet."""
    if is_set(page):
        return page.steps
    made = known.proposals.get(source_of(page))
    if made is None:
        return page.steps
    led = () if page.steps is None else page.steps.steps
    return StepList(made.steps.name, (*led, *made.steps.steps))


def list_shown(desk: Desk, known: Known) -> StepList | None:
    """The list on the card: what is being dragged, else the page's."""
    if desk.draft is not None or desk.page is None:
        return desk.draft
    return steps_of(desk.page, known)


def looked_at(desk: Desk, known: Known) -> StepList | None:
    """The list by which the page is shown: the card's, but before the cut of a chosen crop."""
    steps = list_shown(desk, known)
    return None if steps is None else replace(steps, steps=as_looked_at(steps.steps, desk.held))


def card_shown(desk: Desk, known: Known) -> CardShown | None:
    """The card, or None where no list is known yet."""
    steps = list_shown(desk, known)
    page = desk.page
    if steps is None or page is None:
        return None
    made = known.proposals.get(source_of(page))
    proposed = not is_set(page) and made is not None and desk.draft is None
    if made is None or not proposed:
        return CardShown(steps, chosen=desk.step)
    return CardShown(steps, proposed, made.reasons, made.ink is not None, desk.step)


def rack_items(desk: Desk, known: Known) -> tuple[RackItem, ...]:
    """The rack."""
    return tuple(rack_item(page, known) for page in desk.job.now.pages)


def rack_item(page: JobPage, known: Known) -> RackItem:
    """One page of the rack, its picture lying as the page does."""
    at = source_of(page)
    thumb, steps = known.thumbs.get(at), page.steps or StepList()
    clockwise = sum(step.angle for step in way_up(steps) if isinstance(step, Turn) and step.on)
    if thumb is not None and clockwise % 360:
        thumb = np.ascontiguousarray(np.rot90(thumb, -clockwise // 90))
    return RackItem(name_of(page), is_set(page), known.faults.get(at, ""), thumb)


def strip_shown(
    standing: Standing | None, steps: tuple[Step, ...], chosen: int | None, *, log: bool,
) -> StripShown | None:
    """The tone strip of a page that stands before its tone step.

    Without readings as long as it stands elsewhere: they would be those of another list.
    """
    if standing is None:
        return None
    index = tone_index(steps, chosen)
    rest = settle_quickly(standing, steps)
    if rest is None:  # the numbers of a list that must be worked through: by the paper here
        later = StepList("", steps[standing.index :]).flat()
        rest = tuple(step.settle(standing.paper) for step in later)
    alpha_of, after = tables_from(standing, rest)
    full = standing.sheet.full
    step = steps[index] if index is not None else None
    points = points_of(step, standing.paper) if isinstance(step, Tone) else Points()
    curve = alpha_of[np.arange(256) * (full // 255)] / full
    stands = standing.before == steps[: standing_index(steps, chosen)]
    return StripShown(
        heights(standing.counts, log=log), standing.bare, points,
        tuple(float(value) for value in curve),
        readings(standing.counts, standing.peaks, standing.bare, alpha_of, after)
        if stands else None,
    )


def earlier_shown(job: Job | None, kept_at: float, why: str) -> tuple[str, str, bool]:
    """A job of an earlier sitting: what a menu calls it and says of it, whether it can be had.

    ``kept_at`` is when it was kept last, in seconds since 1970; ``why`` it cannot be read.
    """
    when = time.strftime("%Y-%m-%d, %H:%M", time.localtime(kept_at))
    if job is None:
        return f"{when}: {tr('cannot be read')}", why, False
    first, *others = job.pages
    more = f" {tr('and')} {len(others)} {tr('more')}" if others else ""
    done = f"{sum(map(is_set, job.pages))} {tr('of')} {len(job.pages)}"
    tip = f"{first.path.parent}\n{done} {tr('pages have their list')}"
    return f"{when}: {name_of(first)}{more}", tip, True


def commands_there(desk: Desk, known: Known) -> frozenset[str]:
    """What there is for commands to be done to."""
    there = set()
    if desk.page is not None:
        there.add("page")
        if list_shown(desk, known) is not None:
            there.add("list")
        if desk.step is not None:
            there.add("step")
    if desk.job.undo_name:
        there.add("undo")
    if desk.job.redo_name:
        there.add("redo")
    return frozenset(there)


def checked_commands(desk: Desk, theme: str) -> frozenset[str]:
    """Which of the commands that stay on are on."""
    on: Mapping[str, bool] = {
        "split": desk.looking.side == "split", "log": desk.looking.log, theme: True,
        "what would print": desk.looking.hatch, "as printed": desk.looking.printed,
        "trim": desk.looking.trim,
    }
    return frozenset(name for name, is_on in on.items() if is_on)
