"""An area recoloured in the window: from the changed list to the first frame, and to the exact one.

Run: python tests/speed/recolour.py
The page is A3 at 600 ppi with all its flats, looked at as a whole and pixel for pixel in a window
of 768 by 545 pixels. The exact frame is drawn where the recoloured area lies, if that is less than
half of what is seen. Where it is more, a first frame is made of the last one, which differs by 1 of
255 at most, and the exact one is drawn whole after it. Two threads share the bands, as in the
window.
"""

import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from flats import large_page
from measuring import in_turn, machine, table

from app.bench.state.areas import largest_first, spot_in
from app.bench.state.colouring import fill
from app.bench.state.grounds import PAPER_WHITE
from app.bench.state.picture import Place
from app.bench.state.recolour import Worked, repainted_exactly, repainted_picture
from app.bench.state.scale import ONE, View, fit
from app.bench.state.standing import Shown
from app.filters.flats import Flats, Plain
from core.colours import Named
from core.sheet import Sheet
from core.steps.steplist import StepList

ROOM = (768, 545)
SEA = Named((40, 90, 140), "sea")


def row(laid: Sheet, area: int, view: View, pool: ThreadPoolExecutor, name: str) -> list[str]:
    """Milliseconds to a first frame and to the exact one, and how far apart they are."""
    steps, place = StepList("", (Flats(fill=Plain()),)), Place(view.scale, view.seen)
    old = Worked(steps.steps, Shown.of(laid, ()))
    wanted = fill(steps, laid, spot_in(laid, area), SEA).steps.steps
    picture = old.shown.draw(PAPER_WHITE, place, pool.map)

    def first():
        new = old.repainted(wanted)
        return repainted_picture(picture, old.shown, new.shown, place, pool.map)

    def exact():
        return old.repainted(wanted).shown.draw(PAPER_WHITE, place, pool.map)

    def part():
        new = old.repainted(wanted)
        return repainted_exactly(picture, old.shown, new.shown, PAPER_WHITE, place, pool.map)

    alone = part()
    assert alone is None or np.array_equal(alone, exact())
    apart = np.abs(first().view(np.uint8).astype(int) - exact().view(np.uint8)).max()
    taken = in_turn({"first": first, "exact": exact, "part": part}, 5)
    part_ms = "-" if alone is None else f"{1000 * taken['part']:.0f}"
    share = 100 * float((laid.flats == area).mean())
    return [name, f"{share:.2f} %", f"{1000 * taken['first']:.0f}", f"{1000 * taken['exact']:.0f}",
            str(apart), part_ms]


def main() -> None:
    """Print the table."""
    cv2.setNumThreads(2)
    print(machine().rpartition(",")[0], "medians of 5 runs", sep=", ", end="\n\n")
    laid = Flats(fill=Plain()).apply(large_page())
    order = largest_first(laid)
    whole = fit(ROOM, laid.shape[::-1])
    x, y = spot_in(laid, order[0])
    near = View(ROOM, whole.page, ONE, round(ROOM[0] / 2 - x), round(ROOM[1] / 2 - y), fitted=False)
    with ThreadPoolExecutor(2) as pool:
        rows = [row(laid, order[place], view, pool, f"{what}, {how}")
                for view, how in ((whole, "whole page"), (near, "pixel for pixel"))
                for place, what in ((0, "the largest area"), (len(order) // 20, "a large one"),
                                    (len(order) // 2, "one in the middle"))
                if view is whole or place == 0]
    head = ["recoloured", "of the page", "first frame, ms", "exact frame, ms", "apart",
            "exact where it lies, ms"]
    print(table(head, rows))


if __name__ == "__main__":
    main()
