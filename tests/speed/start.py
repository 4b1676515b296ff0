"""From the start of Python to the first painted page: ``python tests/speed/start.py [megapixels]``.

Processes of their own open the window on one uncompressed page in the proportions of A3 and
stop once it has been painted. As after an installation the bytecode of all modules lies on the
disk: the first process writes it, and does not count. Each line is the median, in milliseconds by
the clock and of processor since the line before; the last is what a person waits.
"""

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

RUNS = 5


def age() -> float:
    """Milliseconds since this process was started, by Linux's own count."""
    started = int(Path("/proc/self/stat").read_text().rpartition(")")[2].split()[19])
    now = time.clock_gettime(time.CLOCK_BOOTTIME)
    return 1000 * (now - started / os.sysconf("SC_CLK_TCK"))


def open_window(scan: Path, folder: Path) -> None:
    """Open the window on a page; say when each part of the start was over."""
    laps: list[tuple[str, float, float]] = []

    def lap(name: str) -> None:
        laps.append((name, age(), 1000 * time.process_time()))

    lap("Python")
    import numpy as np  # noqa: F401, PLC0415

    lap("import numpy")
    import cv2  # noqa: F401, PLC0415

    lap("import OpenCV")
    from PySide6 import QtGui, QtSvg, QtWidgets  # noqa: F401, PLC0415

    lap("import Qt")
    from app.bench.opening import Opening  # noqa: PLC0415
    from app.bench.state.places import Places  # noqa: PLC0415

    lap("import Stetline and the rest")
    application = QtWidgets.QApplication([])
    opened = Opening(application, Places.under(folder))
    opened.bench.window.show()
    lap("build the window")
    opened.bench.engine.loaded.connect(lambda _: lap("read the page"))
    painted: list[bool] = []
    page = opened.bench.window.page
    page.painted.connect(lambda: painted.append(True) if page.frame is not None else None)
    opened.begin([scan])
    wait(application.processEvents, painted)
    lap("draw and paint it")
    sys.stdout.write(json.dumps(laps))
    sys.stdout.flush()
    os._exit(0)  # the rest of the work is not waited for


def wait(round_: Callable[..., object], painted: list[bool]) -> None:
    from PySide6.QtCore import QEventLoop  # noqa: PLC0415

    while not painted:
        round_(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)


def run(scan: Path, folder: Path) -> list[tuple[str, float, float]]:
    """One start in a process of its own."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment |= {"PYTHONPYCACHEPREFIX": str(folder / "bytecode"),
                    "PYTHONPATH": str(Path(__file__).parents[2])}
    environment.setdefault("QT_QPA_PLATFORM", "offscreen")
    given = [sys.executable, __file__, "--open", str(scan), str(folder)]
    done = subprocess.run(given, env=environment, check=True, capture_output=True)
    return json.loads(done.stdout)


def main() -> None:
    if sys.argv[1:2] == ["--open"]:
        open_window(Path(sys.argv[2]), Path(sys.argv[3]))
    from frames import draw  # noqa: PLC0415

    megapixels = float(sys.argv[1]) if len(sys.argv) > 1 else 69.6
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        scan = folder / "a3.tif"
        draw(scan, megapixels)
        run(scan, folder)
        runs = [run(scan, folder) for _ in range(RUNS)]
    before = [(0.0, 0.0)] * RUNS
    for place, (part, _, _) in enumerate(runs[0]):
        now = [(laps[place][1], laps[place][2]) for laps in runs]
        took = statistics.median(b[0] - a[0] for a, b in zip(before, now, strict=True))
        spent = statistics.median(b[1] - a[1] for a, b in zip(before, now, strict=True))
        print(f"{part:30} {took:7.0f} ms {spent:7.0f} ms of processor")
        before = now
    whole = sorted(laps[-1][1] for laps in runs)
    spent = statistics.median(laps[-1][2] for laps in runs)
    print(f"{'start to first painted page':30} {statistics.median(whole):7.0f} ms {spent:7.0f} ms "
          f"of processor (best {whole[0]:.0f}, worst {whole[-1]:.0f})")


if __name__ == "__main__":
    main()
