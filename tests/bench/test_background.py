"""Background work: only the newest answer counts, errors reach the screen, nothing is lost."""

import threading

import pytest

from app.bench.background import Line, Workers, said
from core.fault import Cancelled, Fault, Refused


@pytest.fixture
def workers(qapp):
    made = Workers(2)
    yield made
    made.close()
    made.deleteLater()


@pytest.fixture
def line(workers):
    failed = []
    made = Line(workers, failed.append)
    made.failed = failed
    return made


def test_an_answer_comes_back_in_the_screens_thread(line, qtbot):
    came = []
    line.ask(lambda _: threading.get_ident(), lambda there: came.append(
        (there, threading.get_ident())))
    qtbot.waitUntil(lambda: bool(came))
    (there, here), = came
    assert here == threading.get_ident() != there
    assert not line.busy


def test_a_stale_answer_is_dropped_and_its_work_told_to_stop(line, qtbot):
    began, came, ended = threading.Event(), [], []
    let = threading.Event()

    def slow(watch):
        began.set()
        let.wait(10)
        try:
            watch(1, 2)
        finally:
            ended.append("slow")
        return "old"

    line.ask(slow, came.append)
    assert began.wait(10)
    line.ask(lambda _: "new", came.append)
    let.set()
    qtbot.waitUntil(lambda: bool(came))
    assert came == ["new"]
    assert ended == ["slow"]
    assert line.failed == []


def test_of_many_requests_only_the_last_that_waits_is_done(line, qtbot):
    let, done, came = threading.Event(), [], []

    def work(number):
        def run(_):
            let.wait(10)
            done.append(number)
            return number
        return run

    for number in range(20):
        line.ask_again(work(number), came.append)
    let.set()
    qtbot.waitUntil(lambda: not line.busy)
    assert done == [0, 19]
    assert came == [0, 19]


def test_short_work_is_done_in_the_screens_own_thread_when_it_comes_round(line, qtbot):
    came = []

    def work(_):
        return threading.get_ident()

    line.ask_again(work, came.append, here=True)
    assert came == []
    assert line.busy
    qtbot.waitUntil(lambda: bool(came))
    assert came == [threading.get_ident()]
    assert not line.busy


def test_short_work_that_is_dropped_never_comes_and_what_waits_goes_on(line, qtbot):
    came = []
    line.ask_again(lambda _: "old", came.append, here=True)
    line.drop()
    line.ask(lambda _: "new", came.append)
    qtbot.waitUntil(lambda: not line.busy)
    assert came == ["new"]


def test_what_is_dropped_never_comes(line, qtbot):
    came, let = [], threading.Event()
    line.ask(lambda _: let.wait(10), came.append)
    line.drop()
    let.set()
    qtbot.waitUntil(lambda: not line.busy)
    assert came == []


def test_an_error_reaches_the_screen_and_the_line_goes_on(line, qtbot):
    def wrong(_):
        raise Refused(Fault("the file has gone", "a.png", "bring it back"))

    came = []
    line.ask(wrong, came.append)
    qtbot.waitUntil(lambda: bool(line.failed))
    assert said(line.failed[0]) == "a.png: the file has gone; bring it back."
    line.ask(lambda _: 5, came.append)
    qtbot.waitUntil(lambda: came == [5])


def test_a_bug_is_shown_as_one():
    assert "mistake of the program" in said(ValueError("x"))


def test_progress_is_told_in_the_screens_thread_and_only_for_what_counts(workers, qtbot):
    told = []
    line = Line(workers, lambda _: None, lambda done, total: told.append(
        (done, total, threading.get_ident())))

    def work(watch):
        for done in (1, 2, 3):
            watch(done, 3)

    line.ask(work, lambda _: told.append("end"))
    qtbot.waitUntil(lambda: "end" in told)
    assert [item[:2] for item in told[:-1]] == [(1, 3), (2, 3), (3, 3)]
    assert {item[2] for item in told[:-1]} == {threading.get_ident()}


def test_once_closed_work_stops_and_no_answer_comes(qapp, qtbot):
    workers = Workers(1)
    began, came, stopped = threading.Event(), [], []
    line = Line(workers, came.append)

    def work(watch):
        began.set()
        while True:
            try:
                watch(1, 2)
            except Cancelled:
                stopped.append(True)
                raise

    line.ask(work, came.append)
    assert began.wait(10)
    workers.close()
    line.ask(work, came.append)
    qapp.processEvents()
    assert stopped == [True]
    assert came == []
    workers.deleteLater()
