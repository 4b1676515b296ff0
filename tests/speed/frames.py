"""Frames while a handle is dragged: ``python tests/speed/frames.py [megapixels]``.

An A3 page at 600 ppi is opened in a real window and the white point dragged by mouse
events, at fit and pixel for pixel. For each event: milliseconds until the exact frame has been
painted; for the whole sitting: the longest time in which the screen's thread did not come
round. Run it on a machine that is doing nothing else; by itself it draws into memory.
"""

import os
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import tifffile
from PySide6.QtCore import QElapsedTimer, QEventLoop, QPoint, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.bench.opening import Opening
from app.bench.state.places import Places
from core.steps.lift import Lift, Over
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone

MOVES = 40


def age() -> float:
    """Milliseconds since this process was started, by Linux's own count."""
    started = int(Path("/proc/self/stat").read_text().rpartition(")")[2].split()[19])
    now = time.clock_gettime(time.CLOCK_BOOTTIME)
    return 1000 * (now - started / os.sysconf("SC_CLK_TCK"))


def draw(path: Path, megapixels: float) -> None:
    """Paper with grain and strokes, in the proportions of A3, uncompressed."""
    height = round((megapixels * 1e6 * 2**0.5) ** 0.5)
    width = round(megapixels * 1e6 / height)
    rng = np.random.default_rng(0)
    tile = np.clip(rng.normal(228, 4, (1024, width)), 0, 255).astype(np.uint8)
    page = np.concatenate([tile] * -(-height // 1024))[:height]
    page[:, ::97] = 40
    tifffile.imwrite(path, page, resolution=(600, 600), resolutionunit="INCH")


class Rounds:
    """The longest time between two rounds of the screen's thread."""

    def __init__(self) -> None:
        self.longest = 0
        self._clock = QElapsedTimer()
        self._timer = QTimer(interval=2, timerType=Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._round)

    def start(self) -> None:
        self._clock.start()
        self._timer.start()

    def taken(self) -> float:
        """The longest round since the last time this was asked, in milliseconds."""
        longest, self.longest = self.longest / 1e6, 0
        return longest

    def _round(self) -> None:
        self.longest = max(self.longest, self._clock.nsecsElapsed())
        self._clock.restart()


def wait(application: QApplication, until) -> None:
    while not until():
        application.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)


def drag(application: QApplication, bench) -> tuple[list[float], float]:
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
        tone = 215 - number % 30
        x = round(strip.x_of(tone) - handle.x())
        old[0] = page.frame
        painted.clear()
        began = time.perf_counter()
        QTest.mouseMove(handle, QPoint(x, 12))
        wait(application, lambda: bool(painted))
        took.append(1000 * (painted[0] - began))
    spent = time.process_time() - spent
    QTest.mouseRelease(handle, Qt.MouseButton.LeftButton, pos=QPoint(14, 12))
    wait(application, lambda: bench.idle)
    return took, 1000 * spent / MOVES


def say(what: str, took: list[float], spent: float, longest: float) -> None:
    took = sorted(took)
    print(f"{what:20} median {took[len(took) // 2]:6.1f} ms, worst {took[-1]:6.1f} ms, "
          f"{spent:6.1f} ms of processor, longest round {longest:5.1f} ms")


def main() -> None:
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    imported = age()
    megapixels = float(sys.argv[1]) if len(sys.argv) > 1 else 69.6
    with tempfile.TemporaryDirectory() as folder:
        scan = Path(folder) / "a3.tif"
        draw(scan, megapixels)
        began = time.perf_counter()
        application = QApplication([])
        opened = Opening(application, Places.under(Path(folder)))
        bench = opened.bench
        bench.window.resize(1280, 800)
        bench.window.show()
        rounds = Rounds()
        first: list[float] = []
        bench.engine.drawn.connect(lambda _: first.append(time.perf_counter()))
        opened.begin([scan])
        wait(application, lambda: bool(first))
        print(f"start of Python to all imported {imported:.0f} ms; then to the first frame "
              f"{1000 * (first[0] - began):.0f} ms")
        rounds.start()
        wait(application, lambda: bench.idle)
        print(f"while a list is proposed, longest round of the screen's thread "
              f"{rounds.taken():.1f} ms")
        for name, middle, lift in (
            ("straight curve", 50.0, Lift()), ("bent curve", 40.0, Lift()),
            ("own colours", 50.0, Lift(ink=Over(paper=(228, 228, 228)))),
        ):
            tone = Tone(points=Fixed(black=30.0, white=215.0), middle=middle)
            bench.lists.take(StepList("speed", (tone, lift)))
            for way in ("one",) if name == "own colours" else ("fit", "one"):
                bench.do(way)
                wait(application, lambda: bench.idle)
                rounds.taken()
                say(f"{name}, {way}", *drag(application, bench), rounds.taken())
        bench.window.close()
        opened.end()


if __name__ == "__main__":
    main()
