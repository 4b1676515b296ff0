"""Scan file to line PNG, whole, against plain scripts that make the same pixels.

Run: python tests/speed/line_art.py [--runs 7]
In-process, files on a memory disk, no fsync on any side; an A3 page at 600 ppi, 8-bit grey.
Pillow and OpenCV are what a script in a hurry would be; pyvips is a good pipeline.
"""

import argparse
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pyvips
import tifffile
from measuring import RUNS, a_page, in_turn, machine, memory_disk, peak_of, table
from PIL import Image

from app.pages.listing import PageAt
from app.pages.renditions import Line
from app.replay.page import Request, replay_page
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from core.tone import apply_table, tone_table

Image.MAX_IMAGE_PIXELS = None
STEPS = StepList("pen", (Tone(points=Fixed(black=40, white=218)), Lift()))
GREY = tone_table(255, 40, 218)
FORMS = {"grey-alpha": 2, "rgba": 4}
STORED = {"uncompressed": None, "deflate": "zlib", "LZW": "lzw"}


def ours(scan: Path, out: Path, form: str) -> None:
    """Stetline, as the command line calls it, without waiting for the disk."""
    request = Request(PageAt(scan, 1, 1), STEPS, ((Line(form=form, bits=None), out),))
    replay_page(request, workers=2, durable=False)


def with_pillow(scan: Path, out: Path, form: str) -> None:
    """Open, point, putalpha, save."""
    toned = Image.open(scan).point(GREY.tolist())
    alpha = toned.point(list(range(255, -1, -1)))
    if form == "rgba":
        line = Image.new("RGBA", toned.size)
        line.putalpha(alpha)
    else:
        line = Image.merge("LA", (Image.new("L", toned.size), alpha))
    line.save(out, compress_level=6)


def with_opencv(scan: Path, out: Path, form: str) -> None:
    """imread, LUT, merge, imwrite; it has no grey and alpha, so it always writes RGBA."""
    alpha = cv2.LUT(cv2.imread(str(scan), cv2.IMREAD_GRAYSCALE), 255 - GREY)
    clear = np.zeros_like(alpha)
    cv2.imwrite(str(out), cv2.merge([clear, clear, clear, alpha]))


def with_vips(scan: Path, out: Path, form: str) -> None:
    """A sequential pipeline on both cores."""
    page = pyvips.Image.new_from_file(str(scan), access="sequential")
    alpha = page.maplut(pyvips.Image.new_from_array((255 - GREY)[None, :].tolist()).cast("uchar"))
    clear = (alpha * 0).cast("uchar")
    if form == "rgba":
        line = clear.bandjoin([clear, clear, alpha]).copy(interpretation="srgb")
    else:
        line = clear.bandjoin([alpha]).copy(interpretation="b-w")
    line.pngsave(str(out))


SIDES: dict[str, Callable[[Path, Path, str], None]] = {
    "Stetline": ours, "Pillow": with_pillow, "OpenCV": with_opencv, "pyvips": with_vips,
}


def compare(folder: Path, scan: Path, form: str, runs: int) -> list[str]:
    """One row: milliseconds of each side, ratios, sizes; the pixels are checked first."""
    for name, side in SIDES.items():
        side(scan, folder / f"{name}.png", form)
    first = np.asarray(Image.open(folder / "Stetline.png"))[..., -1]
    for name in SIDES:
        assert (np.asarray(Image.open(folder / f"{name}.png"))[..., -1] == first).all(), name
    took = in_turn({
        name: lambda side=side, name=name: side(scan, folder / f"{name}.png", form)
        for name, side in SIDES.items()
    }, runs)
    mine = took["Stetline"]
    sizes = {name: (folder / f"{name}.png").stat().st_size / 1e6 for name in SIDES}
    return [
        scan.stem, form, *(f"{took[name] * 1e3:.0f}" for name in SIDES),
        *(f"{took[name] / mine:.1f}" for name in list(SIDES)[1:]),
        f"{sizes['Stetline']:.1f} / {sizes['Pillow']:.1f}",
    ]


def tables(page: np.ndarray) -> list[str]:
    """The tone table alone, numpy only, against Pillow's point."""
    image = Image.fromarray(page)
    took = in_turn({
        "ours": lambda: [apply_table(GREY, page[top : top + 128])
                         for top in range(0, len(page), 128)],
        "ours, whole": lambda: apply_table(GREY, page),
        "Pillow": lambda: image.point(GREY.tolist()),
    })
    return [f"{took[name] * 1e3:.0f}" for name in took] + [f"{took['Pillow'] / took['ours']:.1f}"]


IDLE = """
import app.replay.page
"""

ONE = """
import sys
from pathlib import Path
from app.pages.listing import PageAt
from app.pages.renditions import Line
from app.replay.page import Request, replay_page
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
steps = StepList("pen", (Tone(points=Fixed(black=40, white=218)), Lift()))
request = Request(PageAt(Path(sys.argv[1]), 1, 1), steps,
                  ((Line(form="grey-alpha", bits=None), Path(sys.argv[2])),))
replay_page(request, workers=2, durable=False)
"""


def main() -> None:
    """Print the tables."""
    asked = argparse.ArgumentParser(description=main.__doc__)
    asked.add_argument("--runs", type=int, default=RUNS, help="of each side, in turn")
    runs = asked.parse_args().runs
    print(machine(), f"plain sides: {runs}", end="\n\n")
    page = a_page()
    with memory_disk() as folder:
        for name, packed in STORED.items():
            tifffile.imwrite(folder / f"{name}.tif", page, compression=packed,
                             rowsperstrip=64, resolution=(600, 600), resolutionunit="INCH")
        head = ["scan", "form", *(f"{name} ms" for name in SIDES),
                *(f"{name} / ours" for name in list(SIDES)[1:]), "MB ours / Pillow"]
        print(table(head, [compare(folder, folder / f"{name}.tif", form, runs)
                           for form in FORMS for name in STORED]), end="\n\n")
        indexed = in_turn({
            form: lambda form=form: ours(folder / "uncompressed.tif", folder / f"{form}.png", form)
            for form in (*FORMS, "indexed")
        })
        print(table(["form", "ms", "MB"], [
            [form, f"{took * 1e3:.0f}", f"{(folder / f'{form}.png').stat().st_size / 1e6:.1f}"]
            for form, took in indexed.items()
        ]), end="\n\n")
        print(table(["tone table by bands ms", "whole ms", "Pillow point ms", "Pillow / ours"],
                    [tables(page)]), end="\n\n")
        idle, _ = peak_of(IDLE)
        rows = []
        for name in STORED:
            peak, wall = peak_of(ONE, str(folder / f"{name}.tif"), str(folder / "peak.png"))
            rows.append([name, f"{peak:.0f}", f"{idle:.0f}",
                         f"{(peak - idle) * 1e6 / page.size:.2f}", f"{wall * 1e3:.0f}"])
        print(table(["scan", "peak MB", "idle MB", "bytes a pixel over idle",
                     "whole process ms"], rows), end="\n\n")
        print(table(["page", "Mpx", "ms", "ns a pixel"], sizes(folder)))


def sizes(folder: Path) -> list[list[str]]:
    """Cost against size, from A6 to A2 at 600 ppi."""
    rows = []
    for name, shape in {"A6": (3496, 2480), "A5": (4961, 3496), "A4": (7016, 4961),
                        "A3": (9921, 7016), "A2": (14031, 9921)}.items():
        scan = folder / "size.tif"
        tifffile.imwrite(scan, a_page(shape), resolution=(600, 600), resolutionunit="INCH")
        took = in_turn({"ours": lambda scan=scan: ours(scan, folder / "size.png", "grey-alpha")})
        pixels = shape[0] * shape[1]
        rows.append([name, f"{pixels / 1e6:.1f}", f"{took['ours'] * 1e3:.0f}",
                     f"{took['ours'] * 1e9 / pixels:.2f}"])
    return rows


if __name__ == "__main__":
    main()
