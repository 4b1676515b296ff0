"""Small books, and ways to look at what became of them."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from app.kinds import KINDS
from app.pages.listing import list_pages
from app.pages.renditions import Line, Web
from app.replay.book import plan_job
from app.replay.crew import LocalCrew
from app.replay.job import Job, JobPage
from app.replay.run import Outcome
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone

STEPS = StepList("pen", (Tone(points=Fixed(black=40, white=215)), Lift()))
FORMS = (Line(), Web(form="png", long_edge=100))


def draw(path: Path, number: int = 1, *, shape=(420, 300), ppi: float | None = 300,
         paper: int = 232) -> Path:
    """A page of grained paper with strokes of its own: the number decides where they lie."""
    chance = np.random.default_rng(number)
    page = np.clip(paper + chance.normal(0, 2, shape), 0, 255).astype(np.uint8)
    for _ in range(9 * shape[0] * shape[1] // 126_000):
        top, left = chance.integers(10, shape[0] - 60), chance.integers(10, shape[1] - 120)
        page[top : top + 8, left : left + int(chance.integers(30, 110))] = 24
    picture = Image.fromarray(page)
    if path.suffix == ".tif":
        picture.save(path, compression="tiff_lzw", **({"dpi": (ppi, ppi)} if ppi else {}))
    else:
        picture.save(path, **({"dpi": (ppi, ppi)} if ppi else {}))
    return path


def draw_book(folder: Path, pages: int, **how) -> Path:
    """A folder of numbered pages."""
    folder.mkdir(exist_ok=True)
    for number in range(1, pages + 1):
        draw(folder / f"page {number}.tif", number, **how)
    return folder


def planned(scans: Path, out: Path, steps: StepList = STEPS, forms=FORMS):
    """Requests for all pages of a folder."""
    pages, faults = list_pages([scans])
    assert not faults
    return plan_job(Job(tuple(map(JobPage.of, pages)), (steps,), tuple(forms), out), KINDS)


def outcomes(events) -> list[Outcome]:
    """How the pages ended, in the order told."""
    return [event for event in events if isinstance(event, Outcome)]


def contents(folder: Path) -> dict[str, bytes]:
    """Every output by its name; whatever else lies there too, except the journal."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and ".stetline" not in path.parts
    }


@pytest.fixture(scope="session")
def crew():
    """Two workers that serve many tests, so that each need not start its own."""
    with LocalCrew(2) as crew:
        yield crew


@pytest.fixture
def book(tmp_path):
    """Four pages."""
    return draw_book(tmp_path / "scans", 4)
