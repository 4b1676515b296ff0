"""What would print, and pages for the press, timed.

Run: python tests/speed/proof.py
In-process, two cores; an A3 page at 600 ppi for what would print, an A4 page at 600 ppi for the
bitmap of 1200. Beside them what a plain script does: labels by scipy, and Pillow's own writer.
"""

import io
from pathlib import Path

import cv2
import numpy as np
from measuring import a_page, in_turn, machine, memory_disk, table
from PIL import Image
from scipy import ndimage

from app.bench.state.glass import ACROSS, TIMES, Glass, under_glass
from app.bench.state.standing import Shown
from app.pages.renditions import Bitmap, Pdf
from app.pages.write import write_page
from app.proof.marks import find_drawn
from app.proof.prove import Order
from app.proof.residue import would_print
from app.replay.page import bands_by
from core.press.presses import PRESSES, Press
from core.press.screens import Diffusion, Plain, Screen
from core.sheet import Sheet
from core.steps.lift import Lift
from core.steps.tone import Fixed, Tone
from core.tone import apply_table, tone_table

Image.MAX_IMAGE_PIXELS = None
A4_600 = (7016, 4961)
WHITES = {"clean": 210, "specks": 222, "a veil over all": 230}


def residue() -> list[list[str]]:
    """What would print after a released handle: marks are known, the table is new."""
    page = a_page()
    drawn = find_drawn(Sheet(ppi=600, grey=page))
    rows = []
    for name, white in WHITES.items():
        table_of = np.invert(tone_table(255, 40, white))
        alpha = apply_table(table_of, page)
        with bands_by(2) as each:
            found = would_print(alpha, drawn, Press(), ppi=600, ppi_printed=600, each=each)
            took = in_turn({
                "ours": lambda t=table_of, e=each: would_print(
                    page, drawn, Press(), ppi=600, ppi_printed=600, each=e, table=t),
                "scipy": lambda a=alpha: ndimage.label(a >= 3, np.ones((3, 3))),
            }, runs=3)
        rows.append([name, str(found.count), f"{found.area:.1f}",
                     *(f"{took[side] * 1e3:.0f}" for side in ("ours", "scipy"))])
    return rows


def bitmaps(folder: Path, alpha: np.ndarray) -> list[list[str]]:
    """An A4 page from 600 ppi to a bitmap of 1200, written to memory."""
    sheet = Sheet(ppi=600, alpha=alpha)

    def ours(cut: Plain | Screen | Diffusion) -> None:
        write_page(sheet, [(Bitmap(1200, cut), folder / "a-bitmap.tif")], steps_json="",
                   workers=2, durable=False)

    def with_pillow() -> None:
        height, width = A4_600
        larger = Image.fromarray(alpha).resize((2 * width, 2 * height), Image.Resampling.BILINEAR)
        bits = larger.point(lambda value: 0 if value >= 128 else 255).convert("1", dither=0)
        bits.save(io.BytesIO(), "TIFF", compression="group4", dpi=(1200, 1200))

    cuts = {"half full": Plain(), "screen 85 at 45": Screen(85, 45)}
    took = in_turn({name: lambda cut=cut: ours(cut) for name, cut in cuts.items()}, runs=3)
    took |= in_turn({"Pillow, half full": with_pillow}, runs=3)
    return [[name, f"{seconds * 1e3:.0f}"] for name, seconds in took.items()]


def pdfs(folder: Path, alpha: np.ndarray) -> list[list[str]]:
    """The same page as a PDF."""
    sheet = Sheet(ppi=600, alpha=alpha)
    forms = {"PDF/X-4, grey": Pdf(), "PDF/X-1a, grey": Pdf("x1a"),
             "PDF/X-4, 1-bit 1200": Pdf(form="1-bit")}
    took = in_turn({
        name: lambda pdf=pdf: write_page(
            sheet, [(pdf, folder / "a-page.pdf")], steps_json="", workers=2, durable=False)
        for name, pdf in forms.items()
    }, runs=3)
    return [[name, f"{seconds * 1e3:.0f}"] for name, seconds in took.items()]


def glass() -> list[list[str]]:
    """One move of the glass over an A3 page at 600 ppi: only what lies under it is made."""
    page = Sheet(ppi=600, grey=a_page())
    shown = Shown.of(page, (Tone(points=Fixed(black=40, white=210)), Lift()))
    orders = {"coated, 150 lpi": Order(PRESSES["coated"]),
              "1-bit 1200": Order(PRESSES["coated"], "1-bit"),
              "1-bit 1200, 85 lpi": Order(PRESSES["coated"], "1-bit", cut=Screen(85))}
    rows = []
    for name, order in orders.items():
        took = in_turn({
            str(times): lambda t=times, o=order: under_glass(
                shown, o, Glass((3000.0, 4000.0), t, ACROSS, 3.78))
            for times in TIMES
        }, runs=9)
        rows.append([name, *(f"{took[str(times)] * 1e3:.1f}" for times in TIMES)])
    return rows


def main() -> None:
    """Print the tables."""
    print(machine(), "(here three)", end="\n\n")
    print(table(["what would print, A3 at 600 ppi", "regions", "mm2", "ms",
                 "scipy label alone ms"], residue()), end="\n\n")
    alpha = np.invert(apply_table(tone_table(255, 40, 210), a_page(A4_600)))
    with memory_disk() as folder:
        print(table(["bitmap of 1200 ppi, A4 from 600", "ms"], bitmaps(folder, alpha)),
              end="\n\n")
        print(table(["PDF, A4 at 600", "ms"], pdfs(folder, alpha)), end="\n\n")
    print(table(["a move of the glass", *(f"{times} times, ms" for times in TIMES)], glass()))
    cv2.setNumThreads(-1)


if __name__ == "__main__":
    main()
