"""How a page lies: which way up, how level, where it is cut; and what of that is its own.

A list brings all three to a page, but what was set on the page itself by hand stays there.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from app.bench.state.edits import for_page, way_up, with_own
from app.bench.state.job import Numbers, is_set, name_of, with_steps
from app.filters.straighten import Found, Straighten
from app.replay.job import ByHand, Job, JobPage
from core.steps.crop import Crop
from core.steps.step import Step
from core.steps.steplist import StepList
from core.steps.turn import Turn

_WORDS = {Turn.kind: "turn", Straighten.kind: "angle", Crop.kind: "crop"}
_NAMED = 3


def own_of(page: JobPage) -> frozenset[str]:
    """The kinds of step that were set on the page by hand: turn, straighten, crop."""
    return frozenset(page.by_hand) | ({Turn.kind} if page.turned else frozenset())


def kept_on(own: frozenset[str]) -> frozenset[str]:
    """What a page keeps that has these of its own.

    The edges of a crop are those of the page as it was turned and levelled before.
    """
    return frozenset(_WORDS) if Crop.kind in own else own


def marked(page: JobPage, before: StepList, after: StepList) -> JobPage:
    """The page with what a hand changed of how it lies made its own.

    An angle that is found on each page anew is a rule, and nobody's own.
    """
    own = set(page.by_hand)
    if _of(after, Crop) != _of(before, Crop):
        own.add("crop")
    angles = _of(after, Straighten)
    if angles != _of(before, Straighten):
        own.add("straighten")
    if any(isinstance(step, Straighten) and isinstance(step.angle, Found) for step in angles):
        own.discard("straighten")
    turned = page.turned or way_up(after) != way_up(before)
    return replace(page, turned=turned, by_hand=_sorted(own))


def _of(steps: StepList, kind: type[Step]) -> tuple[Step, ...]:
    return tuple(step for step in steps.steps if isinstance(step, kind))


def _sorted(own: Iterable[ByHand]) -> tuple[ByHand, ...]:
    return tuple(sorted(own))


@dataclass(frozen=True)
class Handed:
    """A job in which a page's list was given to others; what stayed with its page, and where.

    ``source`` is that page's number; ``stayed`` is what of the page's own did not go; ``kept``
    are the pages that have ``kinds`` of their own in place of the list's.
    """

    job: Job
    source: int
    stayed: frozenset[str] = frozenset()
    kept: tuple[int, ...] = ()
    kinds: frozenset[str] = frozenset()

    def told(self) -> str:
        """What stayed, in words; nothing where the list went as it is."""
        said = []
        if self.kept:
            names = [name_of(self.job.pages[number]) for number in self.kept]
            more = len(names) - _NAMED
            named = ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")
            one = len(names) == 1
            said.append(f"{named} {'keeps its' if one else 'keep their'} own "
                        f"{_listed(self.kinds, 'or')}.")
        if self.stayed:
            made_on = name_of(self.job.pages[self.source])
            said.append(f"The {_listed(self.stayed, 'and')} made on {made_on} by hand "
                        f"{'stays' if len(self.stayed) == 1 else 'stay'} there.")
        return " ".join(said)


def _listed(kinds: Iterable[str], last: str) -> str:
    return f" {last} ".join(word for kind, word in _WORDS.items() if kind in kinds)


def hand_on(job: Job, source: int, steps: StepList, numbers: Numbers) -> Handed:
    """The list of the page ``source`` given to others, which keep what is their own.

    Neither a turn nor an angle that was set by hand goes to another page, for it is of one scan
    alone; a crop does where a page has no list yet.
    """
    made, mine = with_steps(job, frozenset({source}), steps), own_of(job.pages[source])
    stayed: set[str] = set()
    kinds: set[str] = set()
    kept: list[int] = []
    for number in sorted(numbers - {source}):
        page = job.pages[number]
        stay = mine if is_set(page) else mine - {Crop.kind}
        own = own_of(page)
        got = for_page(steps, page.steps, kept_on(own) | stay)
        made = with_steps(made, frozenset({number}), got)
        missed = {kind for kind in own | stay if got != for_page(
            steps, page.steps, kept_on(own - {kind}) | stay - {kind})}
        stayed |= missed - own
        theirs = missed & own - {Turn.kind}
        kinds |= theirs
        kept += [number] if theirs else []
    return Handed(_shared(made), source, frozenset(stayed), tuple(kept), frozenset(kinds))


def _shared(job: Job) -> Job:
    """A crop that all pages have is no page's own."""
    first, *others = (None if page.steps is None else _of(page.steps, Crop) for page in job.pages)
    if not others or any(other != first for other in others):
        return job
    return replace(job, pages=tuple(
        replace(page, by_hand=_sorted({*page.by_hand} - {"crop"})) for page in job.pages))


def hand_on_wholly(job: Job, steps: StepList, numbers: Numbers) -> Job:
    """The list given to pages with how it lays them, in place of what was their own."""
    pages = list(job.pages)
    for number in numbers:
        page = pages[number]
        there = page.steps or StepList()
        alone = replace(there, steps=tuple(step for step in there.steps if step.one_page))
        pages[number] = replace(
            page, steps=with_own(steps, alone), turned=False, by_hand=())
    return replace(job, pages=tuple(pages))
