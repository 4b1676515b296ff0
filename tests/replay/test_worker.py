"""One task in this process: what goes wrong with a page is in its answer."""

import errno
import logging
import os
from contextlib import ExitStack
from dataclasses import replace

import pytest

from app.pages.renditions import Layered, Line
from app.pages.whole import Part
from app.replay import memory, worker
from app.replay.leftovers import remove_leftovers
from app.replay.page import replay_page
from app.replay.worker import Task, do, end_of
from core.fault import Cancelled, Fault, Refused
from core.steps.steplist import StepList
from core.steps.turn import Turn
from tests.replay.conftest import contents, planned

BROKEN = Refused(Fault("it is broken", "page 1.tif"))


def refused_then_full():
    with ExitStack() as stack:
        stack.callback(os.rmdir, "/proc/self")  # a tidying-up that the system refuses as well
        raise BROKEN


@pytest.mark.parametrize(("raises", "said"), [
    (BROKEN, "page 1.tif: it is broken."),
    (MemoryError(), "page 1.tif: there is too little memory for it; close other programs."),
    (OSError(errno.EIO, "I/O error"), "page 1.tif: the system refuses (i/o error)"),
    (KeyError("x"), "page 1.tif: a mistake in this program ended the page (KeyError: 'x')"),
    (refused_then_full, "page 1.tif: it is broken."),
])
def test_whatever_ends_a_page_is_named(book, tmp_path, monkeypatch, caplog, raises, said):
    def replay_page(*_, **__):
        if callable(raises):
            raises()
        raise raises

    monkeypatch.setattr(worker, "replay_page", replay_page)
    with caplog.at_level(logging.ERROR):
        answer = do(Task(3, planned(book, tmp_path)[0]))
    assert answer.place == 3
    assert answer.done is None
    assert str(answer.faults[0]).startswith(said)
    assert bool(caplog.records) == isinstance(raises, KeyError), "only a bug is logged"


def test_a_cancelled_page_ends_at_its_next_band_and_leaves_nothing(book, tmp_path):
    def watch(done, total):
        raise Cancelled

    out = tmp_path / "out"
    out.mkdir()
    with pytest.raises(Cancelled):
        do(Task(0, planned(book, out, forms=(Line(), Layered("folder")))[0]), watch)
    assert contents(out) == {}


def test_only_what_belongs_to_the_outputs_is_swept(tmp_path):
    target = tmp_path / "page 1-line.png"
    Part(target).open().close()
    folder = Part(tmp_path / "page 1-layered", folder=True)
    folder.open("a.png").close()
    other = Part(tmp_path / "page 2-line.png")
    other.open().close()
    (tmp_path / ".page 1-line.png").write_bytes(b"kept")
    target.write_bytes(b"kept")
    remove_leftovers([target, tmp_path / "page 1-layered", tmp_path / "gone" / "x.png"])
    left = set(contents(tmp_path))
    assert {".page 1-line.png", "page 1-line.png"} < left
    assert len(left) == 3, "and the part of page 2"
    other.discard()


@pytest.mark.parametrize(("files", "free"), [
    ({"meminfo": "MemTotal: 9 kB\nMemAvailable:   2048 kB\n"}, 2048 * 1024),
    ({"meminfo": "MemAvailable: 2048 kB\n", "memory.max": "900\n", "memory.current": "400\n"}, 500),
    ({"meminfo": "MemAvailable: 2 kB\n", "memory.max": "max\n", "memory.current": "4\n"}, 2048),
    ({"memory.max": "100\n", "memory.current": "400\n"}, 0),
])
def test_free_memory_is_the_least_of_what_is_known(tmp_path, monkeypatch, files, free):
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    monkeypatch.setattr(memory, "_MEMINFO", tmp_path / "meminfo")
    monkeypatch.setattr(memory, "_CGROUP", tmp_path)
    assert memory.free_memory() == free


def test_ends_of_processes_are_said_in_words():
    assert end_of(-11) == "signal 11, SIGSEGV"
    assert end_of(1) == "exit status 1"
    assert end_of(-250) == "signal 250"


def test_a_page_may_be_stopped_between_the_steps_that_take_it_whole(book, tmp_path, monkeypatch):
    turns, told = [], []

    def turn(self, sheet):
        turns.append(self.angle)
        return sheet

    def stop(done, total):
        told.append(done)
        if turns:
            raise Cancelled

    monkeypatch.setattr(Turn, "apply", turn)
    request = replace(planned(book, tmp_path / "out")[0], steps=StepList("", (Turn(), Turn())))
    with pytest.raises(Cancelled):
        replay_page(request, watch=stop)
    assert turns == [90]
    assert set(told) == {0}
    assert not (tmp_path / "out").exists()
