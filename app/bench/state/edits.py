"""Changes of a step list: each gives a new list, and a name for the change."""

from dataclasses import dataclass, replace
from itertools import takewhile
from typing import Any, cast

from app.bench.state.sentence import Path, inmost
from app.bench.state.standing import tone_index
from app.filters.straighten import Straighten
from core.steps.crop import Crop
from core.steps.fields import Either, Record, specs
from core.steps.paths import Paths, Seeds
from core.steps.places import Point, Polygon
from core.steps.step import Step
from core.steps.steplist import Nested, StepList
from core.steps.tone import Tone
from core.steps.turn import Turn


@dataclass(frozen=True)
class Edit:
    """A list after a change, what the change is called, and which step is then chosen."""

    steps: StepList
    name: str
    chosen: int | None


def set_step(steps: StepList, index: int, step: Step, name: str) -> Edit:
    """One step replaced."""
    changed = (*steps.steps[:index], step, *steps.steps[index + 1 :])
    return Edit(replace(steps, steps=changed), name, index)


def insert(steps: StepList, index: int, step: Step) -> Edit:
    """A step put in before the one at ``index``."""
    changed = (*steps.steps[:index], step, *steps.steps[index:])
    return Edit(replace(steps, steps=changed), f"add {step.kind}", index)


def place_for(steps: StepList, step: Step) -> int:
    """Where a new step goes: before the first table, or at the end if it is one or colours ink.

    What looks at paper and colour must see them before the points clip them.

    >>> from core.steps.lift import Lift
    >>> from core.steps.turn import Turn
    >>> place_for(StepList("", (Lift(),)), Turn()), place_for(StepList("", (Turn(),)), Lift())
    (0, 1)
    """
    if isinstance(step, Nested) or step.on_ink or _sets_tones(step):
        return len(steps.steps)
    found = [index for index, there in enumerate(steps.steps) if _sets_tones(there)]
    return found[0] if found else len(steps.steps)


def _sets_tones(step: Step) -> bool:
    """Whether it is a table, or becomes one once it has seen the paper."""
    return not step.whole and (step.needs_paper or step.table(255) is not None)


def delete(steps: StepList, index: int) -> Edit:
    """One step taken out; the one after it is then chosen."""
    changed = (*steps.steps[:index], *steps.steps[index + 1 :])
    chosen = min(index, len(changed) - 1) if changed else None
    return Edit(replace(steps, steps=changed), f"delete {steps.steps[index].kind}", chosen)


def duplicate(steps: StepList, index: int) -> Edit:
    """A second of the step behind it."""
    twin = steps.steps[index]
    changed = (*steps.steps[: index + 1], twin, *steps.steps[index + 1 :])
    return Edit(replace(steps, steps=changed), f"duplicate {twin.kind}", index + 1)


def move(steps: StepList, index: int, to: int) -> Edit:
    """One step moved so that it has the place ``to`` in the new list.

    >>> from core.steps.turn import Turn
    >>> from core.steps.lift import Lift
    >>> [s.kind for s in move(StepList("", (Turn(), Lift())), 0, 1).steps.steps]
    ['lift', 'turn']
    """
    to = min(max(to, 0), len(steps.steps) - 1)
    rest = [*steps.steps[:index], *steps.steps[index + 1 :]]
    rest.insert(to, steps.steps[index])
    return Edit(replace(steps, steps=tuple(rest)), f"move {steps.steps[index].kind}", to)


def switch(steps: StepList, index: int) -> Edit:
    """One step switched on or off."""
    step = steps.steps[index]
    name = f"switch {step.kind} {'off' if step.on else 'on'}"
    return set_step(steps, index, replace(step, on=not step.on), name)


def insert_list(steps: StepList, index: int, inner: StepList) -> Edit:
    """Another list put in as one step, by value."""
    edit = insert(steps, index, Nested(list=inner))
    return replace(edit, name=f"insert the list “{inner.name}”")


def again(step: Step, steps: StepList) -> Step:
    """The step with the values that the last of its kind in a list has; as it is without one.

    Where a hand has been stays with the step that it aimed: the same brush, without its strokes.
    """
    last = [there for there in steps.steps if type(there) is type(step)]
    if not last:
        return step
    made = replace(last[-1], on=True, note="")
    return cast(Step, _unaimed(made))


def _unaimed(record: Record) -> Record:
    """The record without places on a page."""
    first: Any = type(record)()
    found: dict[str, Any] = {}
    for name, spec in specs(type(record)).items():
        if isinstance(spec, Either):
            found[name] = _unaimed(getattr(record, name))
        elif isinstance(spec, Paths | Seeds | Point | Polygon):
            found[name] = getattr(first, name)
    return cast(Record, replace(cast(Any, record), **found))


def change_name(step: Step, path: Path) -> str:
    """What a change of the value at ``path`` is called: the kind and the field's label."""
    step, path = inmost(step, path)
    record: type[Record] = type(step)
    label, value = "", step
    for name in path:
        assert isinstance(name, str)
        spec = specs(record)[name]
        value = getattr(value, name)
        label, record = spec.label, type(value) if isinstance(spec, Either) else record
    return f"{step.kind}, {label}"


def with_tone(steps: StepList, chosen: int | None) -> tuple[StepList, int]:
    """The list with a tone step in it, and where it is: one is put before the lift if need be.

    >>> from core.steps.lift import Lift
    >>> with_tone(StepList("", (Lift(),)), None)[1]
    0
    """
    found = tone_index(steps.steps, chosen)
    if found is not None:
        return steps, found
    lifts = [n for n, step in enumerate(steps.steps)
             if step.lifts_in is not None or step.needs_paper]
    index = lifts[0] if lifts else len(steps.steps)
    return insert(steps, index, Tone()).steps, index


def for_page(
    steps: StepList, page: StepList | None, kept: frozenset[str] = frozenset(),
) -> StepList:
    """The list as another page takes it: without the steps for one page, with the page's own.

    >>> for_page(StepList("pen", (Tone(),)), None).steps == (Tone(),)
    True
    """
    shared = replace(steps, steps=tuple(s for s in steps.steps if not s.one_page))
    return with_own(shared, page, kept)


def with_own(
    steps: StepList, page: StepList | None, kept: frozenset[str] = frozenset(),
) -> StepList:
    """The list with those steps of a page's that are for it alone, where it had not got them.

    ``kept`` are the kinds of step, of those that say how it lies, that the page has as it had
    them. One that was turned and has no list yet stays as it lies.

    >>> upright = StepList("", (Tone(),))
    >>> with_own(StepList("", (Turn(), Tone())), upright, frozenset({"turn"})).steps == (Tone(),)
    True
    """
    own = StepList() if page is None else page
    if Turn.kind in kept or only_turned(own):
        rest = steps.steps[len(way_up(steps)) :]
        steps = replace(steps, steps=(*way_up(own), *rest))
    before: tuple[str, ...] = ()
    for kind, above in ((Straighten.kind, Turn.kind), (Crop.kind, Straighten.kind)):
        before = (*before, above)
        if kind in kept:
            steps = _with_kind(steps, own, kind, before)
    for step in own.steps:
        if step.one_page and step not in steps.steps:
            steps = insert(steps, place_for(steps, step), step).steps
    return steps


def _with_kind(
    steps: StepList, own: StepList, kind: str, before: tuple[str, ...],
) -> StepList:
    """The list with another's steps of a kind in place of its own.

    Where it has none they go behind those ``before`` at its head or, if they stood deeper in
    the other, where a new one goes.
    """
    mine = [step for step in own.steps if step.kind == kind]
    rest = replace(steps, steps=tuple(step for step in steps.steps if step.kind != kind))
    if not mine:
        return rest
    found = [n for n, step in enumerate(steps.steps) if step.kind == kind]
    led = len(list(takewhile(lambda step: step.kind in before, steps.steps)))
    first = all(not step.in_place for step in own.steps[: own.steps.index(mine[0])])
    at = found[0] if found else led if first else place_for(rest, mine[0])
    return replace(rest, steps=(*rest.steps[:at], *mine, *rest.steps[at:]))


def way_up(steps: StepList) -> tuple[Step, ...]:
    """The quarter turns at the head of a list: which way up the page lies."""
    return tuple(takewhile(lambda step: isinstance(step, Turn), steps.steps))


def only_turned(steps: StepList) -> bool:
    """Whether nothing is done but to say which way up the page is."""
    return bool(steps.steps) and way_up(steps) == steps.steps


def with_crops_turned(steps: StepList, clockwise: int) -> StepList:
    """The list with its crops a quarter turn (90 or 270) on: they cut off what they did.

    >>> with_crops_turned(StepList("", (Crop(left=1, top=2),)), 90).steps
    (Crop(on=True, note='', left=0.0, top=1, right=2, bottom=0.0),)
    """
    def after(step: Step) -> Step:
        if not isinstance(step, Crop):
            return step
        edges = [step.left, step.top, step.right, step.bottom]
        left, top, right, bottom = edges[-1:] + edges[:-1] if clockwise == 90 else (
            edges[1:] + edges[:1])
        return replace(step, left=left, top=top, right=right, bottom=bottom)

    return replace(steps, steps=tuple(after(step) for step in steps.steps))


def turned(steps: StepList, clockwise: int) -> StepList:
    """The list with a quarter turn (90 or 270) at its head, joined with one that is there.

    >>> turned(turned(StepList(), 90), 270).steps
    ()
    """
    head = steps.steps[0] if steps.steps else None
    if not isinstance(head, Turn) or not head.on:
        return replace(steps, steps=(Turn(angle=clockwise), *steps.steps))
    angle = (head.angle + clockwise) % 360
    rest = steps.steps[1:]
    return replace(steps, steps=(replace(head, angle=angle), *rest) if angle else rest)
