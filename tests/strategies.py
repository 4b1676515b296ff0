"""Random planes, and random steps built from the declarations of the kinds' own fields."""

from collections.abc import Mapping
from typing import Any

import numpy as np
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from core.sheet import Plane, Sheet
from core.steps.build_up import BuildUp
from core.steps.fields import (
    Choice,
    Colour,
    Either,
    Flag,
    Number,
    Record,
    Spec,
    Text,
    specs,
)
from core.steps.grey import Grey
from core.steps.lift import Lift, One, Over
from core.steps.paths import Paths, Seeds
from core.steps.places import FARTHEST, Point, Polygon
from core.steps.step import Step
from core.steps.steplist import Lists, StepList
from core.steps.tone import Fixed, Tone

DEPTHS = (np.uint8, np.uint16)
depths = st.sampled_from(DEPTHS)
places = st.tuples(*[st.floats(0, FARTHEST).map(lambda x: x + 0.0)] * 2)
rgb = st.tuples(*[st.integers(0, 255)] * 3)


def every_value(dtype: type) -> Plane:
    """A plane of all values that the depth has."""
    full = np.iinfo(dtype).max
    return np.arange(full + 1).astype(dtype).reshape(256, -1) if full > 255 else (
        np.arange(256, dtype=dtype).reshape(16, 16)
    )


@st.composite
def scans(draw: st.DrawFn, *, colour: bool, most: int = 12) -> Sheet:
    """A small scan of random pixels, in colour or in grey."""
    dtype = draw(depths)
    shape = (draw(st.integers(1, most)), draw(st.integers(1, most)))
    if colour:
        plane = draw(hnp.arrays(dtype, (*shape, 3)))
        return Sheet(ppi=300, colour=plane)
    return Sheet(ppi=300, grey=draw(hnp.arrays(dtype, shape)))


def value_of(  # noqa: C901 - one case for each kind of field
    spec: Spec, lists: st.SearchStrategy[StepList],
) -> st.SearchStrategy[Any]:
    """Any value that the field may hold."""
    match spec:
        case Number(lowest=low, highest=high):
            whole = st.integers(int(np.ceil(low)), int(high)).map(float)
            made = whole | st.floats(low, high).map(lambda x: x + 0.0)
        case Flag():
            made = st.booleans()
        case Choice(options=options):
            made = st.sampled_from([value for value, _ in options])
        case Colour():
            made = rgb
        case Text(most=most):
            made = st.text(max_size=min(most, 30))
        case Either(options=options):
            made = st.one_of([records(option, lists) for option in options])
        case Point():
            made = places
        case Polygon():
            made = st.lists(places, min_size=3, max_size=9).map(tuple)
        case Paths(least=least):
            line = st.lists(places, min_size=least, max_size=4).map(tuple)
            made = st.lists(line, max_size=3).map(tuple)
        case Seeds():
            made = st.lists(st.tuples(places, rgb), max_size=3).map(tuple)
        case Lists():
            made = lists
        case _:
            raise TypeError(spec)
    return made


def records(
    record: type[Record], lists: st.SearchStrategy[StepList],
) -> st.SearchStrategy[Any]:
    """Any record of the class without a fault."""
    fields = {name: value_of(spec, lists) for name, spec in specs(record).items()}
    if record is Grey:  # the shares have to add up
        return st.builds(_mixed, st.fixed_dictionaries(fields))
    return st.builds(record, **fields).filter(lambda made: not made.faults())


def _mixed(fields: dict[str, Any]) -> Grey:
    shares = [fields.pop(name) + 1e-6 for name in ("red", "green", "blue")]
    red, green, blue = (100 * share / sum(shares) for share in shares)
    return Grey(red=red, green=green, blue=blue, **fields)


def step_lists(kinds: Mapping[str, type[Step]], nested: int = 2) -> st.SearchStrategy[StepList]:
    """Lists of any kinds of step, with lists in them ``nested`` deep."""
    inner = step_lists(kinds, nested - 1) if nested else st.just(StepList())
    steps = st.one_of([records(kind, inner) for kind in kinds.values()])
    return st.builds(
        StepList, st.text(max_size=30), st.lists(steps, max_size=4).map(tuple),
    )


def fixed_tones() -> st.SearchStrategy[Tone]:
    """Tone steps that need no paper."""
    points = records(Fixed, st.nothing())
    return st.builds(Tone, points=points, middle=st.floats(1, 99))


def build_ups() -> st.SearchStrategy[BuildUp]:
    """The line laid over itself, a fraction of times too."""
    return st.builds(BuildUp, times=st.floats(0.1, 20) | st.integers(1, 20).map(float))


def table_steps() -> st.SearchStrategy[Step]:
    """Any step that is a table."""
    lifts = st.builds(Lift, ink=st.builds(One, colour=rgb))
    return st.one_of(fixed_tones(), lifts, build_ups())


def pointwise_steps() -> st.SearchStrategy[Step]:
    """Any step that needs no neighbours: tables, greys with drop-out, lifts in own colour."""
    own = st.builds(Lift, ink=st.builds(Over, paper=rgb, clear=rgb))
    return st.one_of(table_steps(), records(Grey, st.nothing()), own)
