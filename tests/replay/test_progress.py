"""What is said while a run goes, with a clock that stands still until it is moved."""

import json
from pathlib import Path

import pytest

from app.commands import say
from app.pages.listing import PageAt
from app.replay.page import Done
from app.replay.progress import Tally
from app.replay.run import Moved, Outcome
from core.fault import Fault
from core.steps.steplist import StepList


class Clock:
    """Seconds that pass when they are told to."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


def page(number: int) -> PageAt:
    return PageAt(Path(f"p{number}.tif"), 1, 1)


def done(number: int, megapixels: int = 8) -> Outcome:
    outputs = (Path(f"out/p{number}-line.png"),)
    return Outcome(page(number), Done(outputs, megapixels * 1_000_000, ("a note",), StepList()))


def test_rate_and_time_left_follow_the_pages_that_were_worked_on():
    clock = Clock()
    tally = Tally(10, clock)
    assert (tally.rate, tally.left) == (0.0, None)
    tally.ended(Outcome(page(1), None, unchanged=True))
    tally.ended(Outcome(page(2), None, unchanged=True))
    assert tally.left is None, "pages that were done before say nothing of speed"
    clock.now = 4.0
    tally.ended(done(3))
    tally.ended(done(4))
    assert tally.rate == 4.0
    assert tally.left == 12.0
    assert tally.figures() == "4 of 10 pages, 4 Mpx/s, 12 s left"
    tally.ended(Outcome(page(5), None, (Fault("gone"),)))
    assert (tally.done, tally.unchanged, tally.failed, tally.ends) == (2, 2, 1, 5)
    assert tally.summary() == {
        "pages": 10, "finished": 2, "unchanged": 2, "failed": 1,
        "megapixels_per_second": 4.0, "seconds_left": 6.7,
    }


@pytest.mark.parametrize("as_json", [False, True])
def test_every_event_is_one_line(capsys, as_json):
    clock = Clock()
    tally = Tally(2, clock)
    with say.progress(tally, quiet=False, as_json=as_json) as tell:
        tell(Moved(page(1), 0, 1))
        tell(Moved(page(1), 128, 256))
        clock.now = 2.0
        tell(done(1))
        tell(Outcome(page(2), None, (Fault("it is gone", "p2.tif", "look"),)))
    told = capsys.readouterr()
    if as_json:
        events = [json.loads(line) for line in told.out.splitlines()]
        assert [event["event"] for event in events] == ["rows", "rows", "page", "page", "end"]
        assert (events[1]["done"], events[1]["of"]) == (128, 256)
        assert events[2]["outputs"] == ["out/p1-line.png"]
        assert events[3]["faults"] == [{"what": "it is gone", "where": "p2.tif", "remedy": "look"}]
        assert (events[4]["finished"], events[4]["failed"]) == (1, 1)
        assert told.err == ""
    else:
        assert told.out.splitlines() == [
            "out/p1-line.png", "p1.tif: a note", "1 of 2 pages, 1 failed, 4 Mpx/s",
        ]
        assert told.err == "p2.tif: it is gone; look.\n"


def test_quiet_says_only_what_went_wrong(capsys):
    with say.progress(Tally(2, Clock()), quiet=True, as_json=False) as tell:
        tell(done(1))
        tell(Outcome(page(2), None, (Fault("it is gone", "p2.tif"),)))
    assert capsys.readouterr() == ("", "p2.tif: it is gone.\n")


def test_on_a_terminal_a_bar_shows_the_pages_in_hand(capsys, monkeypatch):
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("COLUMNS", "80")
    with say.progress(Tally(2, Clock()), quiet=False, as_json=False) as tell:
        tell(Moved(page(1), 0, 1))
        tell(Moved(page(2), 64, 128))
        tell(done(1))
    shown = capsys.readouterr().err
    assert "p2.tif" in shown
    assert "1 of 2 pages" in shown
