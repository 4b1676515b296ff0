"""Whole or absent, in one pass, whatever goes wrong."""

import builtins
import errno
import os
import stat
import threading
from pathlib import Path

import numpy as np
import pytest

from app.pages.pool import in_order
from app.pages.renditions import Layered, Line, Print, Web
from app.pages.whole import MARK_BYTES, Part, replace_file, telling
from app.pages.write import write_page
from core.fault import Cancelled, Fault, Refused
from core.sheet import Sheet
from tests.pages.writing import STEPS, drawn, opened, rgba_of, write

EVERYTHING = [(Line(), "a-line.png"), (Line("tiff"), "a-line.tif"), (Print(), "a-print.tif"),
              (Layered(), "a-layered.ora"), (Layered("folder"), "a-layered"),
              (Web(), "a-web.webp")]


class Failing:
    """A page whose rows can be had down to a point."""

    def __init__(self, sheet, error, good_rows):
        self.sheet, self.error, self.good_rows = sheet, error, good_rows
        self.asked = []

    @property
    def shape(self):
        return self.sheet.shape

    def rows(self, top, bottom):
        self.asked.append((top, bottom))
        if top >= self.good_rows:
            raise self.error
        return self.sheet.rows(top, bottom)


def write_all(page, folder, **options):
    asked = {"steps_json": STEPS, "workers": 2, "durable": False} | options
    write_page(page, [(rendition, folder / name) for rendition, name in EVERYTHING], **asked)


def test_all_renditions_in_one_pass(tmp_path):
    page = Failing(drawn(700, 30), None, 1000)
    done = []
    write_all(page, tmp_path, watch=lambda *rows: done.append(rows))
    assert sorted(page.asked) == [(0, 128), (128, 256), (256, 384), (384, 512), (512, 640),
                                  (640, 700)]
    assert done == [(128, 700), (256, 700), (384, 700), (512, 700), (640, 700), (700, 700)]
    assert {path.name for path in tmp_path.iterdir()} == {name for _, name in EVERYTHING}
    for rendition, name in EVERYTHING:
        if not rendition.is_folder:
            alone = write(page.sheet, rendition, tmp_path / "alone")
            assert alone.read_bytes() == (tmp_path / name).read_bytes()


@pytest.mark.parametrize("workers", [1, 2, 3])
@pytest.mark.parametrize("error", [
    RuntimeError("a bug"), KeyboardInterrupt(), OSError(errno.EIO, "the card was pulled out"),
    Refused(Fault("a strip is broken", "scan.tif")),
])
def test_nothing_is_left_when_the_page_fails_midway(tmp_path, workers, error):
    page = Failing(drawn(900, 30), error, 400)
    with pytest.raises(type(error)) as caught:
        write_all(page, tmp_path, workers=workers)
    assert caught.value is error, "the reader's errors are not told as the output's"
    assert not list(tmp_path.iterdir())
    assert len(page.asked) <= 4 + 2 * workers, "no band is begun long after the fault"


@pytest.mark.parametrize("workers", [1, 2])
def test_cancelling_leaves_what_was_there(tmp_path, workers):
    (tmp_path / "a-line.png").write_bytes(b"as it was")

    def watch(done, _):
        if done > 300:
            raise Cancelled

    with pytest.raises(Cancelled):
        write_all(drawn(900, 30), tmp_path, workers=workers, watch=watch)
    assert [path.name for path in tmp_path.iterdir()] == ["a-line.png"]
    assert (tmp_path / "a-line.png").read_bytes() == b"as it was"


def test_an_older_output_is_replaced(tmp_path):
    path = tmp_path / "a.png"
    path.write_bytes(b"older")
    sheet = drawn(50, 9)
    np.testing.assert_array_equal(np.asarray(opened(write(sheet, Line(), path))), rgba_of(sheet))
    assert list(tmp_path.iterdir()) == [path]


class FullDisk:
    """A file that takes so many bytes and then says that the disk is full."""

    def __init__(self, file, room):
        self._file, self._room = file, room

    def __getattr__(self, name):
        return getattr(self._file, name)

    def write(self, data):
        self._room -= len(data)
        if self._room < 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        return self._file.write(data)

    def writelines(self, lines):
        for line in lines:
            self.write(line)


@pytest.mark.parametrize(("rendition", "name"), EVERYTHING)
@pytest.mark.parametrize("room", [0, 900])
def test_a_full_disk_is_told_in_a_sentence(tmp_path, monkeypatch, rendition, name, room):
    real = Part.open
    monkeypatch.setattr(Part, "open", lambda self, *child: FullDisk(real(self, *child), room))
    with pytest.raises(Refused) as caught:
        write(drawn(400, 40), rendition, tmp_path / name)
    assert str(caught.value) == (
        f"{name}: the disk is full; free some space, or write to another disk."
    )
    assert not list(tmp_path.iterdir())


def test_a_full_disk_found_at_the_end(tmp_path, monkeypatch):
    def full(_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(Refused, match=r"a\.png: the disk is full"):
        write(drawn(9, 9), Line(), tmp_path / "a.png", durable=True)
    assert not list(tmp_path.iterdir())


def test_an_absent_folder_is_named(tmp_path):
    with pytest.raises(Refused, match=r"a\.png: the folder .*/nowhere is not there; make it"):
        write(drawn(9, 9), Line(), tmp_path / "nowhere" / "a.png")


def test_a_read_only_folder_is_named(tmp_path, monkeypatch):
    def refuse(*_):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)  # root may write anywhere, so the system is played
    with pytest.raises(Refused, match=r"a\.png: the folder .* may not be written to; choose"):
        write(drawn(9, 9), Line(), tmp_path / "a.png")


def test_something_else_in_the_way_is_left_there(tmp_path):
    (tmp_path / "a.png").mkdir()
    with pytest.raises(Refused, match="something else of that name is in the way"):
        write(drawn(9, 9), Line(), tmp_path / "a.png")
    assert [path.name for path in tmp_path.iterdir()] == ["a.png"]


def test_a_file_where_a_folder_is_to_be_is_left_there_and_said_to_be_in_the_way(tmp_path):
    (tmp_path / "a-layered").write_bytes(b"somebody's")
    with pytest.raises(Refused, match="a-layered: something else of that name is in the way"):
        write(drawn(9, 9), Layered("folder"), tmp_path / "a-layered")
    assert [path.name for path in tmp_path.iterdir()] == ["a-layered"]


def test_a_link_to_a_folder_is_replaced_and_what_it_leads_to_stays(tmp_path):
    elsewhere, out = tmp_path / "elsewhere", tmp_path / "out"
    elsewhere.mkdir()
    out.mkdir()
    (elsewhere / "01-paper.png").write_bytes(b"older")
    (out / "a-layered").symlink_to(elsewhere)
    path = write(drawn(9, 9), Layered("folder"), out / "a-layered")
    assert list(out.iterdir()) == [path]
    assert not path.is_symlink()
    assert (elsewhere / "01-paper.png").read_bytes() == b"older"


def test_the_second_output_failing_leaves_no_part_of_the_first(tmp_path):
    outputs = [(Line(), tmp_path / "a.png"), (Line(), tmp_path / "nowhere" / "b.png")]
    with pytest.raises(Refused, match=r"b\.png"):
        write_page(drawn(300, 9), outputs, steps_json="{}", workers=1)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("code", [errno.EXDEV, errno.ENAMETOOLONG, errno.EROFS, errno.EDQUOT])
def test_every_system_error_names_the_output_and_a_remedy(code):
    with pytest.raises(Refused) as caught, telling(Path("out") / "a.png"):
        raise OSError(code, os.strerror(code))
    (fault,) = caught.value.faults
    assert fault.where == "a.png"
    assert fault.remedy


def test_a_durable_output_is_synced_before_and_after_its_rename(tmp_path, monkeypatch):
    order = []
    real_sync, real_replace = os.fsync, Path.replace

    def sync(handle):
        kind = "folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file"
        order.append(kind)
        real_sync(handle)

    def replace(path, target):
        order.append("rename")
        return real_replace(path, target)

    monkeypatch.setattr(os, "fsync", sync)
    monkeypatch.setattr(Path, "replace", replace)
    write(drawn(9, 9), Line(), tmp_path / "a.png", durable=True)
    assert order == ["file", "rename", "folder"]


def test_outputs_have_the_usual_permissions(tmp_path):
    plain = tmp_path / "plain"
    with builtins.open(plain, "wb"):  # noqa: PTH123 - what any program would do
        pass
    path = write(drawn(9, 9), Line(), tmp_path / "a.png")
    assert path.stat().st_mode == plain.stat().st_mode


@pytest.mark.parametrize("name", [
    "two words.png", "-x.png", "--help.png", "Käse é.png", "Ka\u0308se.png", "猫🖋.png",
    "n" * (255 - MARK_BYTES - 4) + ".png", "a'b\"c.png", "%s{}.png",
])
def test_awkward_names(tmp_path, name):
    sheet = drawn(9, 9)
    path = write(sheet, Line(), tmp_path / name)
    np.testing.assert_array_equal(np.asarray(opened(path)), rgba_of(sheet))
    assert list(tmp_path.iterdir()) == [path]


def test_replace_file(tmp_path):
    path = tmp_path / "list.json"
    replace_file(path, b"one")
    replace_file(path, b"two", durable=False)
    assert path.read_bytes() == b"two"
    with pytest.raises(Refused, match=r"list\.json: the folder .* is not there"):
        replace_file(tmp_path / "nowhere" / "list.json", b"")


def test_only_a_lifted_page_is_written(tmp_path):
    grey = Sheet(ppi=300, grey=np.zeros((9, 9), np.uint8))
    with pytest.raises(ValueError, match="lifted"):
        write(grey, Line(), tmp_path / "a.png")


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_results_come_in_order(workers):
    assert list(in_order(lambda n: n * n, range(50), workers)) == [n * n for n in range(50)]


@pytest.mark.parametrize("workers", [2, 3])
def test_only_so_many_results_wait(workers):
    begun = []
    results = in_order(begun.append, range(100), workers)
    for taken in range(1, 20):
        next(results)
        assert len(begun) < taken + 2 * workers
    results.close()
    assert len(begun) < 20 + 2 * workers


def test_the_exception_of_the_earliest_item_is_raised():
    def work(n):
        if n >= 3:
            raise ValueError(n)
        return n

    results = in_order(work, range(100), 2)
    assert [next(results) for _ in range(3)] == [0, 1, 2]
    with pytest.raises(ValueError, match="3"):
        next(results)


def test_no_thread_outlives_its_work():
    before = threading.active_count()
    results = in_order(abs, range(100), 3)
    next(results)
    results.close()
    assert threading.active_count() == before
