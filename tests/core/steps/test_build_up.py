"""The line laid over itself."""

import numpy as np
from hypothesis import given

from core.matte import build_up_table, over
from core.sheet import Sheet
from core.steps.build_up import BuildUp
from core.steps.fold import fold
from core.steps.lift import Lift
from tests.strategies import build_ups, scans


@given(scans(colour=False), build_ups())
def test_grey_builds_up_as_the_cover_it_stands_for(sheet, step):
    before = fold([step, Lift()], sheet)
    after = fold([Lift(), step], sheet)
    assert (before.alpha == after.alpha).all()
    assert (after.alpha == build_up_table(sheet.full, step.times)[np.invert(sheet.grey)]).all()


@given(scans(colour=False))
def test_twice_is_the_line_over_the_line(sheet):
    line = fold([Lift()], sheet).alpha
    twice = fold([Lift(), BuildUp(times=2)], sheet).alpha
    by_hand = np.invert(over(0, line, over(0, line, sheet.full)))  # two coats of ink on white
    assert (np.abs(twice.astype(int) - by_hand) <= 1).all()


def test_what_is_clear_stays_clear_and_what_is_solid_solid():
    ends = Sheet(ppi=300, alpha=np.array([[0, 255]], np.uint8))
    assert fold([BuildUp(times=20)], ends).alpha.tolist() == [[0, 255]]
    assert fold([BuildUp(times=0.1)], ends).alpha.tolist() == [[0, 255]]
