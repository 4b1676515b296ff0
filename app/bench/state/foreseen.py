"""The areas that a page would fall into, known before its first flat is laid."""

from dataclasses import dataclass, replace

from app.bench.state.standing import Shown
from app.filters.flats import Flats, Plain
from core.fault import Watch, unwatched
from core.sheet import Each, Sheet, whole
from core.steps.fold import replay
from core.steps.steplist import StepList


@dataclass(frozen=True, eq=False)
class Foreseen:
    """A page as it is shown, without flats, and with those that a step would lay, all white."""

    shown: Shown
    step: Flats
    laid: Sheet


def first_step(step: Flats | None) -> Flats:
    """The step that the first fill lays or switches on, without its colours."""
    return Flats(fill=Plain()) if step is None else replace(
        step, on=True, seeds=(), fill=Plain(), note="")


def foresee(
    shown: Shown, step: Flats, each: Each = map, watch: Watch = unwatched,
) -> Foreseen:
    """Lay the step's flats on what is shown; the map of areas is kept for the first fill."""
    done = replay(StepList("", shown.rest), shown.sheet, each, watch)
    return Foreseen(shown, step, step.apply(whole(done.page, each, watch)))
