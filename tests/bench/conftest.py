"""The window is tested without a screen: Qt draws into memory."""

import os
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from app.bench.system import INSTALL, missing_library

if missing := missing_library():
    raise ImportError(f"the window cannot be tested: {missing}; install it with: {INSTALL}")

import numpy as np
import pytest
from PIL import Image
from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication

from app.bench.opening import Opening
from app.bench.state.job import find_pages, with_steps
from app.bench.state.places import Places
from app.replay.job import Job
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone

KEPT = StepList("kept", (Tone(points=Fixed(black=30.0, white=225.0)), Lift()))
HEIGHT, WIDTH = 480, 640
PAPER, INK, PATCH = 232, 25, 150
PATCH_AT = (400, 300)  # column, row within the flat patch


def page_pixels(*, paper: int = PAPER, seed: int = 4) -> np.ndarray:
    """Paper with a little grain, one broad stroke, and a flat patch of a middle tone."""
    grain = np.random.default_rng(seed).integers(-3, 4, (HEIGHT, WIDTH))
    page = np.clip(paper + grain, 0, 255).astype(np.uint8)
    page[100:140, 50:550] = INK
    page[250:350, 300:500] = PATCH
    return page


def draw_page(path: Path, *, ppi: float | None = 300, **kinds: int) -> Path:
    """A page of ``page_pixels`` as a file."""
    image = Image.fromarray(page_pixels(**kinds))
    image.save(path, **({"dpi": (ppi, ppi)} if ppi else {}))
    return path


@pytest.fixture
def scans(tmp_path):
    """A folder of three pages."""
    folder = tmp_path / "scans"
    folder.mkdir()
    for number, paper in ((1, 232), (2, 230), (3, 228)):
        draw_page(folder / f"page {number}.png", paper=paper, seed=number)
    return folder


@pytest.fixture
def opened(qtbot, qapp, tmp_path):
    """The window, connected, with places of its own."""
    made = Opening(qapp, Places.under(tmp_path / "places"))
    made.choose_theme("light")
    window = made.bench.window
    window.resize(1280, 800)
    with qtbot.waitExposed(window):
        window.show()
    made.begin([])
    yield made
    qtbot.waitUntil(lambda: made.bench.idle, timeout=20_000)
    window.close()
    made.end()
    made.deleteLater()
    window.deleteLater()


@pytest.fixture
def bench(opened):
    return opened.bench


@pytest.fixture
def with_pages(bench, qtbot, scans):
    """The bench with the three pages on its rack; the first has a list and is shown."""
    job = with_steps(Job(find_pages((scans,)).pages), frozenset({0}), KEPT)
    bench.become(bench.desk.then(job, "put pages on the rack").on_page(0))
    settle(qtbot, bench)
    assert bench.window.page.current
    return bench


def settle(qtbot, bench) -> None:
    """Wait until all that was asked for is shown."""
    def settled() -> bool:
        shown = bench.window.page.current or bench.engine.page is None
        return bench.idle and shown

    qtbot.waitUntil(settled, timeout=20_000)


@pytest.fixture(autouse=True)
def no_widget_is_left(request):
    """A test that leaves a window behind fails."""
    yield
    if "qtbot" not in request.fixturenames and "qapp" not in request.fixturenames:
        return
    application = QApplication.instance()
    application.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    application.processEvents()
    left = [w for w in QApplication.topLevelWidgets() if w.isVisible()]
    assert left == []
