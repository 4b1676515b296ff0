"""Frames while a handle is dragged: ``python tests/speed/frames.py [megapixels]``.

A raw page with tooth, in the proportions of A3, is opened in a real window and the white point
dragged by mouse events, at fit and pixel for pixel: well clear of the paper, within the
paper's own noise, and on the page whose drawn marks were kept. For each event: milliseconds
by the clock until the exact frame has been painted, and of processor. The floor, taken in the
same run, is the table over the page and an area average by a whole number, nothing more,
strips shared out to the same threads.

Then everyday work, and for each piece the longest time in which the screen's thread did not
come round, by the clock and of its own processor time: the latter does not depend on what else
the machine is doing. Run it on a machine that does nothing else; by itself it draws into memory.
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import tifffile
from measuring import a_page
from PIL import Image
from PySide6.QtCore import QEventLoop, QPoint, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.bench.opening import Opening
from app.bench.state.exporting import Export
from app.bench.state.places import Places
from app.bench.wiring import Wiring
from app.filters.keep_marks import KeepMarks
from app.pages.renditions import Line
from core.sheet import spans
from core.steps.lift import Lift, Over
from core.steps.step import Step
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from core.tone import tone_table

MOVES = 40
RACK = 500


def draw(path: Path, megapixels: float) -> np.ndarray:
    """A raw page in the proportions of A3, uncompressed."""
    height = round((megapixels * 1e6 * 2**0.5) ** 0.5)
    page = a_page((height, round(megapixels * 1e6 / height)))
    tifffile.imwrite(path, page, resolution=(600, 600), resolutionunit="INCH")
    return page


@dataclass(frozen=True)
class Round:
    """The longest between two rounds: milliseconds by the clock, and of the thread's processor."""

    clock: float
    worked: float


class Rounds:
    """What the screen's thread does between two rounds of its own."""

    def __init__(self) -> None:
        self._timer = QTimer(interval=2, timerType=Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._round)
        self._last = time.perf_counter(), time.thread_time()
        self._longest = Round(0, 0)
        self._timer.start()

    def taken(self) -> Round:
        """The longest since this was asked last."""
        self._round()
        longest, self._longest = self._longest, Round(0, 0)
        return longest

    def _round(self) -> None:
        now = time.perf_counter(), time.thread_time()
        clock, worked = (1000 * (b - a) for a, b in zip(self._last, now, strict=True))
        old = self._longest
        self._longest = Round(max(old.clock, clock), max(old.worked, worked))
        self._last = now


def wait(until: Callable[[], bool]) -> None:
    while not until():
        QApplication.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)


def drag(bench: Wiring, first: int, over: int) -> tuple[list[float], float]:
    """Milliseconds from each mouse event to the end of painting, and of processor time each."""
    handle, strip = bench.window.strip.handles["white"], bench.window.strip
    painted: list[float] = []
    page = bench.window.page
    old = [page.frame]
    page.painted.connect(
        lambda: painted.append(time.perf_counter()) if page.frame is not old[0] else None)
    QTest.mousePress(handle, Qt.MouseButton.LeftButton, pos=QPoint(14, 12))
    took = []
    spent = time.process_time()
    for number in range(MOVES):
        x = round(strip.x_of(first - number % over) - handle.x())
        old[0] = page.frame
        painted.clear()
        began = time.perf_counter()
        QTest.mouseMove(handle, QPoint(x, 12))
        wait(lambda: bool(painted))
        took.append(1000 * (painted[0] - began))
    spent = time.process_time() - spent
    QTest.mouseRelease(handle, Qt.MouseButton.LeftButton, pos=QPoint(14, 12))
    wait(lambda: bench.idle)
    return took, 1000 * spent / MOVES


def floor(page: np.ndarray, block: int, cores: int) -> tuple[float, float]:
    """The table and the average alone: milliseconds by the clock and of processor."""
    table = tone_table(255, 30, 205, 40)
    height, width = (side // block * block for side in page.shape)

    def strip(span: tuple[int, int]) -> None:
        toned = cv2.LUT(page[span[0] : span[1], :width], table)
        size = (width // block, len(toned) // block)
        cv2.resize(toned, size, interpolation=cv2.INTER_AREA)

    wall, spent = [], []
    with ThreadPoolExecutor(cores) as pool:
        for _ in range(9):
            began, worked = time.perf_counter(), time.process_time()
            list(pool.map(strip, spans(height, block * 4)))
            wall.append(1000 * (time.perf_counter() - began))
            spent.append(1000 * (time.process_time() - worked))
    return sorted(wall)[4], sorted(spent)[4]


SORTS = {
    "clear of the paper": ((), 205, 30),
    "within the paper's noise": ((), 236, 15),
    "drawn marks kept": ((KeepMarks(),), 235, 30),
}


def frames(bench: Wiring, rounds: Rounds, page: np.ndarray) -> None:
    """The white point dragged on every sort of page, by every sort of curve."""
    for sort, (led, first, over) in SORTS.items():
        for curve, middle in (("straight", 50.0), ("bent", 40.0)):
            tone = Tone(points=Fixed(black=30.0, white=float(first)), middle=middle)
            show(bench, (*led, tone, Lift()))
            for way in ("fit", "one"):
                case(bench, rounds, f"{sort}, {curve}, {way}", way, first, over)
    tone = Tone(points=Fixed(black=30.0, white=205.0))
    show(bench, (tone, Lift(ink=Over(paper=(228, 228, 228)))))
    case(bench, rounds, "own colours, one", "one", 205, 30)
    bench.do("fit")
    wait(lambda: bench.idle)
    view = bench.desk.looking.view
    assert view is not None
    wall, spent = floor(page, view.scale.block, bench.workers.cores)
    print(f"{'floor: table and average':40} median {wall:6.1f} ms, {'':15} {spent:6.1f} ms of "
          f"processor (blocks of {view.scale.block})")


def show(bench: Wiring, steps: tuple[Step, ...]) -> None:
    bench.lists.take(StepList("speed", steps))
    wait(lambda: bench.idle)


def case(bench: Wiring, rounds: Rounds, name: str, way: str, first: int, over: int) -> None:
    bench.do(way)
    wait(lambda: bench.idle)
    rounds.taken()
    took, spent = drag(bench, first, over)
    longest = rounds.taken()
    took = sorted(took)
    print(f"{name:40} median {took[len(took) // 2]:6.1f} ms, worst {took[-1]:6.1f} ms, "
          f"{spent:6.1f} ms of processor; longest round {longest.clock:5.1f} ms, "
          f"worked {longest.worked:5.1f}")


def everyday(bench: Wiring, rounds: Rounds, folder: Path) -> None:
    """What else people do, each piece with its longest round."""
    many = StepList("many", (*(Tone(points=Fixed(black=float(n))) for n in range(39)), Lift()))
    small = sorted((folder / "rack").glob("*.png"))
    work: dict[str, Callable[[], object]] = {
        "a list of 40 steps": lambda: bench.lists.take(many),
        "undo": lambda: bench.do("undo"),
        "zoom in": lambda: bench.do("in"),
        "save the list": lambda: bench.lists.save_to(folder / "list.json"),
        "export the page": lambda: bench.out.export(Export((0,), (Line(),), folder / "out")),
        f"{RACK} pages onto the rack, thumbnails": lambda: bench.incoming.open_paths(tuple(small)),
        "next page": lambda: bench.go_to(RACK // 2),
        "back to the large page": lambda: bench.go_to(0),
        "undo with a full rack": lambda: bench.do("undo"),
    }
    for name, act in work.items():
        wait(lambda: bench.idle)
        rounds.taken()
        act()
        wait(lambda: bench.idle)
        say_round(name, rounds.taken())


def say_round(name: str, longest: Round) -> None:
    print(f"{name:40} longest round {longest.clock:6.1f} ms, worked {longest.worked:6.1f}")


def main() -> None:
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    megapixels = float(sys.argv[1]) if len(sys.argv) > 1 else 69.6
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        page = draw(folder / "a3.tif", megapixels)
        (folder / "rack").mkdir()
        for number in range(RACK):
            Image.fromarray(page[:400, :300]).save(
                folder / "rack" / f"{number:03}.png", dpi=(600, 600))
        application = QApplication([])
        opened = Opening(application, Places.under(folder))
        bench = opened.bench
        bench.window.resize(1280, 800)
        bench.window.show()
        opened.begin([folder / "a3.tif"])
        wait(lambda: bench.window.page.frame is not None)
        rounds = Rounds()
        wait(lambda: bench.idle)
        say_round("a list is proposed", rounds.taken())
        frames(bench, rounds, page)
        everyday(bench, rounds, folder)
        bench.window.close()
        opened.end()


if __name__ == "__main__":
    main()
