"""What a person is told, and what stops work."""

import pickle

import pytest

from core.fault import Cancelled, Fault, Refused, unwatched


def test_a_fault_is_one_line_with_place_and_remedy():
    assert str(Fault("it is torn", "page-07.tif", "scan it again")) == (
        "page-07.tif: it is torn; scan it again."
    )
    assert str(Fault("it is torn", "page-07.tif")) == "page-07.tif: it is torn."
    assert str(Fault("it is torn", remedy="scan it again")) == "it is torn; scan it again."
    assert str(Fault("it is torn")) == "it is torn."


def test_a_refusal_carries_every_fault():
    faults = [Fault("one", "step 1"), Fault("two", "step 2")]
    assert Refused(faults).faults == tuple(faults)
    assert Refused(iter(faults)).faults == tuple(faults)
    assert Refused(faults[0]).faults == (faults[0],)
    assert str(Refused(faults)) == "step 1: one.\nstep 2: two."


def test_a_refusal_comes_whole_out_of_another_process():
    refused = Refused([Fault("one", "step 1", "mend it"), Fault("two")])
    assert pickle.loads(pickle.dumps(refused)).faults == refused.faults


def test_a_refusal_is_no_error_of_the_program():
    assert not issubclass(Refused, OSError | ValueError | TypeError)
    assert not issubclass(Cancelled, Refused)
    with pytest.raises(Cancelled):
        raise Cancelled


def test_watching_nothing_gives_nothing():
    assert unwatched(1, 2) is None
