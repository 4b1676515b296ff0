"""A whole book: pages a second and peak memory, against plain scripts that make the same pixels.

Run: python tests/speed/book.py [--pages N] [--size A4|A5] [--ppi N] [--form grey-alpha|rgba]
     [--stored LZW|uncompressed]
Files lie on a memory disk, no side waits for the disk; every side is a process of its own, so that
its peak memory is its own too, and what it takes to start its workers counts. The pages are made
from the sample generator: A6 drawings side by side. The plain sides may do fewer pages
(``--plain-pages``); their pages a second do not depend on how many. The time of the processors,
a page, is told beside the pages a second: it holds where other programs take their share.
"""

import argparse
import json
import os
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import active_children
from pathlib import Path

import numpy as np
import tifffile
from measuring import machine, memory_disk, table
from PIL import Image

from app.kinds import KINDS
from app.pages.listing import list_pages
from app.pages.renditions import Line
from app.replay.book import plan_job
from app.replay.crew import LocalCrew
from app.replay.job import Job, JobPage
from app.replay.run import Outcome, run
from core.light import grey_of
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from core.tone import tone_table

Image.MAX_IMAGE_PIXELS = None
BLACK, WHITE = 40, 218
STEPS = StepList("pen", (Tone(points=Fixed(black=BLACK, white=WHITE)), Lift()))
ALPHA = (255 - tone_table(255, BLACK, WHITE)).tolist()
ACROSS = {"A4": (2, 2), "A5": (1, 2), "A6": (1, 1)}
STORED = {"LZW": "lzw", "uncompressed": None}


def draw_pages(folder: Path, pages: int, size: str, ppi: int, stored: str) -> None:
    """Scans of one size; each its own, by turning one drawing's rows and columns round."""
    from sample_pages.request import Request, render  # noqa: PLC0415 - only the parent draws

    sheet = render(Request("lantern", 5, ppi=ppi)).scan
    grey = (grey_of(sheet) >> 8).astype(np.uint8)
    if grey.shape[0] < grey.shape[1] or size == "A5":
        grey = np.ascontiguousarray(np.rot90(grey))
    page = np.tile(grey, ACROSS[size][::-1] if size == "A5" else ACROSS[size])
    for number in range(pages):
        moved = np.roll(page, (61 * number, 37 * number), (0, 1))
        tifffile.imwrite(folder / f"page {number:03}.tif", moved, compression=STORED[stored],
                         rowsperstrip=64, resolution=(ppi, ppi), resolutionunit="INCH")


def with_pillow(scan: str, out: str, form: str) -> None:
    """Open, point, putalpha, save: one page."""
    Image.MAX_IMAGE_PIXELS = None
    page = Image.open(scan)
    ppi = page.info["dpi"]
    alpha = page.point(ALPHA)
    blank = Image.new("L" if form == "grey-alpha" else "RGB", page.size)
    blank.putalpha(alpha)
    blank.save(out, dpi=ppi)


def do_side(side: str, scans: Path, out: Path, form: str, pages: int) -> dict[str, float]:
    """Do the job in this process and say what it took."""
    files = sorted(scans.iterdir())[:pages]
    out.mkdir()
    start = time.perf_counter()
    children = [0.0]
    if side == "loop":
        for file in files:
            with_pillow(str(file), str(out / f"{file.stem}-line.png"), form)
    elif side == "pool":
        with ProcessPoolExecutor(2) as pool:
            targets = [str(out / f"{file.stem}-line.png") for file in files]
            list(pool.map(with_pillow, map(str, files), targets, [form] * len(files)))
            children = [high_water(child.pid) for child in active_children()]
    else:
        listed, _ = list_pages(files)
        book = Job(tuple(map(JobPage.of, listed)), (STEPS,), (Line(form=form),), out)
        planned = plan_job(book, KINDS)
        with LocalCrew(int(side[0])) as crew:
            ends = [event for event in run(planned, crew, durable=False, figures="bare" not in side)
                    if isinstance(event, Outcome)]
            children = [high_water(child.pid) for child in active_children()]
        assert not any(end.failed for end in ends), ends
    seconds = time.perf_counter() - start
    own = high_water(os.getpid())
    cpu = sum(os.times()[:4])
    return {"seconds": seconds, "cpu": cpu / len(files), "parent": own, "worker": max(children),
            "peak": own + sum(children)}


def high_water(pid: int) -> float:
    """The most memory that a process has had, in MB, by proc(5)."""
    status = Path(f"/proc/{pid}/status").read_text()
    return int(status.partition("VmHWM:")[2].split()[0]) / 1024


SIDES = ("2 workers", "1 worker", "2 workers, bare", "loop", "pool")


def measured(side: str, scans: Path, out: Path, form: str, pages: int) -> dict[str, float]:
    """One side in a process of its own."""
    ran = subprocess.run(
        [sys.executable, __file__, "--side", side, "--scans", str(scans), "--out", str(out),
         "--form", form, "--pages", str(pages)], capture_output=True, text=True, check=True,
    )
    return json.loads(ran.stdout)


def same_pixels(folder: Path) -> None:
    """Every side's first page, decoded."""
    first = [np.asarray(Image.open(next((folder / side).glob("*000-line.png"))))[..., -1]
             for side in SIDES]
    assert all((picture == first[0]).all() for picture in first)


def compare(asked: argparse.Namespace, stored: str) -> list[list[str]]:
    """One row a side: pages a second, the ratio to ours, memory."""
    with memory_disk() as folder:
        scans = folder / "scans"
        scans.mkdir()
        draw_pages(scans, asked.pages, asked.size, asked.ppi, stored)
        took = {}
        for side in SIDES:
            pages = asked.pages if "worker" in side else min(asked.plain_pages, asked.pages)
            took[side] = measured(side, scans, folder / side, asked.form, pages)
            took[side]["pages"] = pages / took[side]["seconds"]
        same_pixels(folder)
    ours = took["2 workers"]["pages"]
    return [[stored, side, f"{each['pages']:.2f}", f"{ours / each['pages']:.2f}",
             f"{each['cpu'] * 1000:.0f}",
             f"{each['parent']:.0f}", f"{each['worker']:.0f}", f"{each['peak']:.0f}"]
            for side, each in took.items()]


def flat(asked: argparse.Namespace) -> list[list[str]]:
    """Memory of 10 pages and of many."""
    rows = []
    with memory_disk() as folder:
        scans = folder / "scans"
        scans.mkdir()
        draw_pages(scans, asked.many, "A6", 150, "LZW")
        for pages in (10, asked.many):
            took = measured("2 workers", scans, folder / f"{pages}", "grey-alpha", pages)
            rows.append([str(pages), f"{took['parent']:.0f}", f"{took['worker']:.0f}"])
    return rows


def main() -> None:
    """Print the tables, or do one side where the parent asks for it."""
    words = argparse.ArgumentParser()
    words.add_argument("--pages", type=int, default=50)
    words.add_argument("--plain-pages", type=int, default=50)
    words.add_argument("--many", type=int, default=200)
    words.add_argument("--size", choices=tuple(ACROSS), default="A4")
    words.add_argument("--ppi", type=int, default=600)
    words.add_argument("--stored", choices=tuple(STORED), action="append")
    words.add_argument("--form", choices=("grey-alpha", "rgba"), default="grey-alpha")
    for word in ("--side", "--scans", "--out"):
        words.add_argument(word)
    asked = words.parse_args()
    if asked.side:
        print(json.dumps(do_side(asked.side, Path(asked.scans), Path(asked.out), asked.form,
                                 asked.pages)))
        return
    print(machine().partition(", medians")[0], end="\n\n")
    print(f"{asked.pages} pages {asked.size} at {asked.ppi} ppi, {asked.form}; the plain sides "
          f"{min(asked.plain_pages, asked.pages)} pages", end="\n\n")
    head = ["scan", "side", "pages/s", "ours / it", "CPU ms a page", "parent MB", "worker MB",
            "sum MB"]
    rows = [row for stored in asked.stored or STORED for row in compare(asked, stored)]
    print(table(head, rows), end="\n\n")
    print(table(["pages, A6 at 150 ppi", "parent MB", "worker MB"], flat(asked)))


if __name__ == "__main__":
    main()
