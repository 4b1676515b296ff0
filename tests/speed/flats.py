"""Flats on sample pages and on a large one: named areas, halos, and what it costs.

Run: python tests/speed/flats.py
A named area (sample_pages/areas.py) comes out as one where at least four fifths of its bare
paper have one area that no other named one has most of. A halo is a pixel of lines over flats
that is lighter than the lightest of ink and flats at it and beside it. The large page is A3 at
600 ppi, a sample page enlarged and repeated: as much line as a drawing has.
"""

import statistics
import sys
import time
from collections import Counter
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from measuring import A3_600, machine, table

from app.filters.flats import Flats, Plain
from app.pages.listing import PageAt
from app.replay.page import Reading, lifted, read_page
from app.suggest import suggest
from core.layers import composite
from core.matte import to_depth
from core.sheet import Sheet, whole
from core.steps.fold import replay
from core.units import mm_to_px
from sample_pages.areas import NAMED
from sample_pages.draw import DEMOS, FOLDER

MOST_OF = 0.8
DARK = (24, 20, 18)


def lifted_page(file: str) -> Sheet:
    """The line art that the suggested list makes of a sample page."""
    scan = read_page(PageAt(FOLDER / file, 1, 1), Reading())
    return whole(lifted(replay(suggest(scan, "flats").steps, scan)).page)


def named(page: Sheet, laid: Sheet, outlines: dict[str, tuple[tuple[float, float], ...]],
          ) -> tuple[int, list[str]]:
    """How many of the named areas come out as one, and the names of the others."""
    bare = to_depth(page.alpha, 8) < 51
    most: dict[str, tuple[int, float]] = {}
    for name, outline in outlines.items():
        inside = np.zeros(page.shape, np.uint8)
        corners = np.rint(np.array(outline) * mm_to_px(1, page.ppi)).astype(np.int32)
        cv2.fillPoly(inside, [corners], 1)
        counts = np.bincount(laid.flats[(inside > 0) & bare])
        most[name] = int(counts.argmax()), float(counts.max() / counts.sum())
    times = Counter(area for area, _ in most.values())
    lost = [name for name, (area, share) in most.items() if share < MOST_OF or times[area] > 1]
    return len(outlines) - len(lost), lost


def halos(laid: Sheet) -> int:
    """Pixels lighter than the lightest of what meets there, by their lightest channel."""
    shown = np.dstack(composite(laid)).max(axis=-1)
    flats = np.array(laid.palette).max(axis=-1).astype(np.uint8)[laid.flats]
    beside = cv2.dilate(flats, np.ones((3, 3), np.uint8))
    return int((shown > np.maximum(beside, max(laid.ink))).sum())


def on_samples() -> list[list[str]]:
    """One row a page, and their sum."""
    rows, good, all_named = [], 0, 0
    for demo in DEMOS:
        page = lifted_page(demo.file)
        laid = Flats().apply(page)
        dark = Flats(fill=Plain(colour=DARK)).apply(page)
        outlines = NAMED[demo.request.scene]
        one, lost = named(page, laid, outlines)
        good, all_named = good + one, all_named + len(outlines)
        rows.append([demo.file, str(len(laid.palette) - 1), f"{one} / {len(outlines)}",
                     str(halos(laid)), str(halos(dark)), ", ".join(lost)])
    rows.append(["together", "", f"{good} / {all_named} ({100 * good / all_named:.0f} %)", "", "",
                 ""])
    return rows


def large_page() -> Sheet:
    """A sample page enlarged twice and repeated to A3 at 600 ppi."""
    page = lifted_page("mill-across-the-water.tif")
    big = cv2.resize(page.alpha, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    rows = -(-A3_600[0] // big.shape[0])
    columns = -(-A3_600[1] // big.shape[1])
    alpha = np.ascontiguousarray(np.tile(big, (rows, columns))[: A3_600[0], : A3_600[1]])
    return Sheet(ppi=600, alpha=alpha)


def seconds(step: Flats, page: Sheet) -> tuple[float, float]:
    """Wall and processor seconds."""
    wall, processor = time.perf_counter(), time.process_time()
    step.apply(page)
    return time.perf_counter() - wall, time.process_time() - processor


def main() -> None:
    """Print the tables."""
    cv2.setNumThreads(2)
    print(machine().rpartition(",")[0], "medians of 3 runs", sep=", ", end="\n\n")
    head = ["page", "areas", "named areas that are one", "halos", "halos, dark flats", "lost"]
    print(table(head, on_samples()), end="\n\n")
    page = large_page()
    # another smallest area each time, or the map that was kept is taken
    runs = [seconds(Flats(smallest=1 + count / 1000), page) for count in range(3)]
    wall, processor = (statistics.median(taken) for taken in zip(*runs, strict=True))
    again, _ = seconds(Flats(smallest=1.002, seeds=(((9.0, 9.0), (1, 2, 3)),)), page)
    print(table(["A3 at 600 ppi", "seconds", "processor seconds"], [
        ["all flats, gap and trap", f"{wall:.2f}", f"{processor:.2f}"],
        ["a colour changed", f"{again:.2f}", ""],
    ]))


if __name__ == "__main__":
    main()
