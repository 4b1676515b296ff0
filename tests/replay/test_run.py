"""Workers that are killed, memory that is short, disks that are full: each page for itself."""

import os
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from app.pages.renditions import Bitmap, Pdf
from app.replay.crew import Begun, LocalCrew
from app.replay.memory import free_memory, need_of
from app.replay.printing import Printing, Wide
from app.replay.run import run
from app.replay.worker import Answer, Task
from tests.replay.conftest import contents, draw, draw_book, outcomes, planned

ROOT = Path(__file__).parents[2]


def test_bytes_and_order_do_not_depend_on_the_number_of_workers(book, tmp_path, crew):
    with LocalCrew(1) as one:
        alone = outcomes(run(planned(book, tmp_path / "one"), one))
    both = outcomes(run(planned(book, tmp_path / "two"), crew))
    names = [f"page {n}.tif" for n in (1, 2, 3, 4)]
    assert [end.page.path.name for end in alone] == names
    assert [end.page.path.name for end in both] == names
    assert all(end.done for end in alone + both)
    assert len(contents(tmp_path / "one")) == 8
    assert contents(tmp_path / "one") == contents(tmp_path / "two")


def killing(crew: LocalCrew, tasks: list[Task], place: int, times: int) -> list[Answer]:
    """Do the tasks, and kill whatever process takes that one, so many times."""
    answers = []
    for event in crew.work(tasks):
        if isinstance(event, Begun) and event.place == place and times:
            times -= 1
            os.kill(event.pid, signal.SIGKILL)
        if isinstance(event, Answer):
            answers.append(event)
    assert times == 0
    return sorted(answers, key=lambda answer: answer.place)


def tasks_of(book: Path, out: Path, *, durable: bool = False) -> list[Task]:
    out.mkdir(exist_ok=True)
    return [Task(place, request, durable=durable)
            for place, request in enumerate(planned(book, out))]


_FIRST_WORKER = """
import sys
from pathlib import Path
from app.replay.crew import LocalCrew
from tests.replay.test_run import tasks_of

if __name__ == "__main__":
    with LocalCrew(1) as crew:
        events = crew.work(tasks_of(Path(sys.argv[1]), Path(sys.argv[2])))
        print(Path(f"/proc/{next(events).pid}/status").read_text())
"""


@pytest.mark.skipif(sys.platform != "linux", reason="what a process hears is read in /proc")
def test_the_first_worker_too_is_born_deaf_to_ctrl_c(book, tmp_path):
    script = tmp_path / "first.py"
    script.write_text(_FIRST_WORKER)
    ran = subprocess.run(
        [sys.executable, str(script), str(book), str(tmp_path / "out")], cwd=ROOT, check=True,
        capture_output=True, text=True, env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    (blocked,) = [line for line in ran.stdout.splitlines() if line.startswith("SigBlk")]
    assert int(blocked.split()[1], 16) & 1 << signal.SIGINT - 1


def test_a_page_whose_worker_is_killed_is_tried_once_more(book, tmp_path):
    with LocalCrew(2) as crew:
        answers = killing(crew, tasks_of(book, tmp_path / "out"), place=1, times=1)
    assert [answer.faults for answer in answers] == [()] * 4
    assert len(contents(tmp_path / "out")) == 8


def test_a_page_that_kills_its_worker_twice_takes_no_other_with_it(book, tmp_path):
    with LocalCrew(2) as crew:
        answers = killing(crew, tasks_of(book, tmp_path / "out"), place=2, times=2)
    assert [bool(answer.done) for answer in answers] == [True, True, False, True]
    assert str(answers[2].faults[0]).startswith(
        "page 3.tif: the process that worked on it died twice (signal 9, SIGKILL",
    )
    assert {name[:6] for name in contents(tmp_path / "out")} == {"page 1", "page 2", "page 4"}


def test_the_second_try_is_alone(book, tmp_path):
    killed, abreast, most_with_retry, retried = False, set(), 0, False
    with LocalCrew(2) as crew:
        for event in crew.work(tasks_of(book, tmp_path / "out")):
            if isinstance(event, Answer):
                abreast.discard(event.place)
            elif isinstance(event, Begun):
                retried = retried or (event.place == 0 and killed)
                abreast.add(event.place)
                if retried and 0 in abreast:
                    most_with_retry = max(most_with_retry, len(abreast))
                if event.place == 0 and not killed:
                    killed = True
                    os.kill(event.pid, signal.SIGKILL)
    assert retried
    assert most_with_retry == 1


@pytest.mark.parametrize(("budget", "most"), [(250, 2), (10, 1)])
def test_pages_in_flight_fit_in_the_budget(book, tmp_path, budget, most):
    flying, peak = set(), 0
    with LocalCrew(3, budget=budget, need=lambda _: 100) as crew:
        for event in crew.work(tasks_of(book, tmp_path / "out")):
            if isinstance(event, Begun):
                flying.add(event.place)
            elif isinstance(event, Answer):
                flying.discard(event.place)
            peak = max(peak, len(flying))
    assert peak == most
    assert len(contents(tmp_path / "out")) == 8


@pytest.mark.parametrize(("cores", "budget", "pages", "threads"), [
    (4, 1 << 40, 1, [4]), (2, 1 << 40, 3, [1, 1, 1]), (2, 100, 2, [2, 2]),
])
def test_threads_serve_only_where_fewer_pages_than_cores_are_in_flight(
    tmp_path, cores, budget, pages, threads,
):
    asked = []

    class Watching(LocalCrew):
        def _give(self, task, need=0, *, retry=False):
            asked.append(task.threads)
            return super()._give(task, need, retry=retry)

    scans = draw_book(tmp_path / "scans", pages)
    with Watching(cores, budget=budget, need=lambda _: 80) as crew:
        list(crew.work(tasks_of(scans, tmp_path / "out")))
    assert asked == threads


def test_need_grows_with_the_page_and_with_steps_that_need_it_whole(tmp_path):
    from app.filters.even_light import EvenLight  # noqa: PLC0415
    from tests.replay.conftest import STEPS, StepList  # noqa: PLC0415

    small = planned(draw_book(tmp_path / "a", 1), tmp_path / "out")[0]
    large = planned(draw_book(tmp_path / "b", 1, shape=(4200, 3000)), tmp_path / "out")[0]
    whole = planned(
        tmp_path / "b", tmp_path / "out", StepList("", (EvenLight(), *STEPS.steps)),
    )[0]
    assert need_of(small, 1) < need_of(large, 1) < need_of(large, 4)
    assert need_of(whole, 1) > need_of(large, 1) + 3 * 4200 * 3000
    assert free_memory() > 1 << 20


@pytest.mark.parametrize("form", [Bitmap(ppi=1200), Pdf(form="1-bit", ppi=1200)])
def test_need_grows_with_the_size_in_print(tmp_path, form):
    request = planned(draw_book(tmp_path / "a", 1, shape=(900, 600)), tmp_path / "out")[0]

    def need(size=None, **said):
        printing = Printing(size=size) if size else Printing()
        outputs = ((replace(form, **said), tmp_path / "a"),)
        return need_of(replace(request, outputs=outputs, printing=printing), 1)

    across = 500 / 25.4 * 1200  # pixels of 500 mm at 1200 ppi
    more = 2 * (across**2 - (across / 10) ** 2) * 900 / 600  # its cover and its bits, a byte each
    assert need(width_mm=500) - need(width_mm=50) == pytest.approx(more, rel=0.01)
    assert need(Wide(500)) == need(width_mm=500)


def test_faults_of_pages_are_named_and_the_others_are_done(book, tmp_path, crew):
    whole = (book / "page 2.tif").read_bytes()
    draw(book / "page 5.tif", ppi=None)
    plans = planned(book, tmp_path / "out")
    (book / "page 2.tif").write_bytes(whole[: len(whole) * 2 // 3])
    (book / "page 3.tif").unlink()
    (tmp_path / "out" / "page 4-line.png").mkdir(parents=True)
    (tmp_path / "out" / "page 4-line.png" / "kept").write_bytes(b"x")
    ends = outcomes(run(plans, crew))
    assert [end.failed for end in ends] == [False, True, True, True, True]
    said = ["; ".join(str(fault) for fault in end.faults) for end in ends]
    assert said[1].startswith("page 2.tif: ")
    assert said[2].startswith("page 3.tif: there is no such file")
    assert "page 4-line.png: something else of that name is in the way" in said[3]
    assert "does not say its resolution" in said[4]
    names = {name for name in contents(tmp_path / "out") if "kept" not in name}
    assert names == {"page 1-line.png", "page 1-web.png"}, "nothing half written"


@pytest.fixture
def small_disk(tmp_path):
    """A memory disk of 200 kB, mounted for the test."""
    place = tmp_path / "disk"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=200k", "none", str(place)],
        check=False, capture_output=True, text=True,
    )
    if mounted.returncode:
        pytest.skip(f"a memory disk may not be mounted here: {mounted.stderr.strip()}")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_a_full_disk_is_named_and_leaves_no_half_file(book, small_disk, crew):
    (small_disk / "ballast").write_bytes(b"\0" * 174_000)
    ends = outcomes(run(planned(book, small_disk), crew))
    assert ends[-1].failed
    assert "the disk is full" in str(ends[-1].faults[0])
    done = {output.name for end in ends if end.done for output in end.done.outputs}
    assert set(contents(small_disk)) == done | {"ballast"}
    (small_disk / "ballast").unlink()
    draw(book / "page 1.tif", 1)
    assert not outcomes(run(planned(book, small_disk)[3:], crew))[0].failed


def test_a_read_only_folder_is_named(book, small_disk, crew):
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    ends = outcomes(run(planned(book, small_disk), crew))
    assert all(end.failed for end in ends)
    assert "may not be written to" in str(ends[0].faults[0])


def test_a_closed_run_leaves_nothing_behind(tmp_path):
    scans = draw_book(tmp_path / "scans", 3, shape=(3000, 2000))
    with LocalCrew(1) as crew:
        events = run(planned(scans, tmp_path / "out"), crew)
        next(events)
        events.close()
    assert contents(tmp_path / "out") == {}
