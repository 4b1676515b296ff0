"""Draw the demo scans: `python sample_pages/draw.py [--only NAME] [--into FOLDER]`.

The pages come from the sketchbook of a tide-mill's keeper, who draws in whatever lies to hand: dip
pen, fine pen, fountain pen, pencils, a brush. None was ever drawn; each is made here from a fixed
seed, in five stages that follow what happens to a sheet:

- `scenes/` composes a drawing as strokes in mm: paths with a hand's tremor, and pressure;
- `surface.py` grows the paper's tooth, a height field in mm;
- `instruments.py` and `laying.py` lay the strokes on that field. Pencil and dry brush touch its
  peaks; pen and wet brush run into its valleys;
- `scanner.py` and `dust.py` light the same field from one side, so that the grain of a stroke and
  the shadow of the paper come from one surface, then add the lamp's fall-off, a book's gutter, the
  lens, dust on the glass, the sensor's noise and sRGB coding;
- `request.py` runs all of it for one frozen `Request` and returns the scan with the truth about it:
  the ink cover as the optics see it, which tool made each pixel, and where the dust lies.

Files here are written as scanners write them, a different form for each page, all at 300 ppi. RGB
values are sRGB and carry no profile. The CMYK page has no profile either: black is one minus the
lightest of red, green and blue, and the inks are what is left, so that the plain way back gives
the same colours within one level.

Drawn again, a page has the same pixels on one machine with the same library versions, and pixels
within 1 of 255 elsewhere (JPEG aside: one level more).
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import tifffile
from PIL import Image

if __package__ in {None, ""}:
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from core.light import rgb_to_grey
from sample_pages.request import Request, render

FOLDER = Path(__file__).resolve().parent
PPI = 300
U8 = npt.NDArray[np.uint8]
U16 = npt.NDArray[np.uint16]


@dataclass(frozen=True)
class Demo:
    """One committed page: its file name, what is drawn on it, and the form it is written in."""

    file: str
    request: Request
    save: Callable[[Path, U16], None]


def to_eight_bits(scan: npt.NDArray[np.unsignedinteger]) -> U8:
    """Plane of uint16 to uint8, rounded.

    >>> to_eight_bits(np.array([0, 128, 129, 65535], np.uint16)).tolist()
    [0, 0, 1, 255]
    """
    return ((scan.astype(np.uint32) + 128) // 257).astype(np.uint8)


def to_cmyk(colour: U8) -> U8:
    """(H, W, 3) uint8 RGB to (H, W, 4) uint8 CMYK, all the grey in black, 255 full ink.

    >>> to_cmyk(np.array([[[255, 255, 255], [100, 50, 0]]], np.uint8)).tolist()
    [[[0, 0, 0, 0], [0, 128, 255, 155]]]
    """
    lightest = colour.max(axis=2).astype(np.float64)
    share = colour / np.maximum(lightest, 1.0)[..., None]
    inks = np.dstack([np.where(lightest[..., None] > 0, 1.0 - share, 0.0) * 255.0,
                      255.0 - lightest])
    return np.round(inks).astype(np.uint8)


def _tiff(path: Path, plane: npt.NDArray[np.unsignedinteger], photometric: str) -> None:
    tifffile.imwrite(
        path, plane, photometric=photometric, compression="zlib", predictor=True,
        compressionargs={"level": 9}, rowsperstrip=64, resolution=(PPI, PPI),
        resolutionunit="INCH", metadata=None, software=False,
    )


def save_grey_tiff(path: Path, scan: U16) -> None:
    """Write 8-bit grey TIFF, deflate."""
    _tiff(path, to_eight_bits(rgb_to_grey(scan)), "minisblack")


def save_deep_grey_tiff(path: Path, scan: U16) -> None:
    """Write 16-bit grey TIFF, deflate; the sensor gives 12 bits, as the low four show."""
    twelve = (rgb_to_grey(scan) >> 4).astype(np.uint16)
    _tiff(path, (twelve << 4 | twelve >> 8).astype(np.uint16), "minisblack")


def save_png(path: Path, scan: U16) -> None:
    """Write 8-bit RGB PNG."""
    Image.fromarray(to_eight_bits(scan)).save(path, dpi=(PPI, PPI), optimize=True)


def save_jpeg(path: Path, scan: U16) -> None:
    """Write 8-bit RGB JPEG at quality 92."""
    Image.fromarray(to_eight_bits(scan)).save(path, quality=92, dpi=(PPI, PPI))


def save_grey_jpeg(path: Path, scan: U16) -> None:
    """Write 8-bit grey JPEG at quality 92."""
    Image.fromarray(to_eight_bits(rgb_to_grey(scan))).save(path, quality=92, dpi=(PPI, PPI))


def save_cmyk_tiff(path: Path, scan: U16) -> None:
    """Write CMYK TIFF, LZW with horizontal differencing (TIFF tag 317)."""
    image = Image.frombytes("CMYK", scan.shape[1::-1], to_cmyk(to_eight_bits(scan)).tobytes())
    image.save(path, compression="tiff_lzw", dpi=(PPI, PPI), tiffinfo={317: 2})


DEMOS = (
    Demo("mill-across-the-water.tif",
         Request("mill-across-the-water", 1, PPI, "rough", 1.0, "cream", 0.98, gutter=0.34,
                 noise=0.6),
         save_grey_tiff),
    Demo("lantern.tif", Request("lantern", 1, PPI, "cold-pressed", 1.0, "white", 0.96, noise=0.6),
         save_deep_grey_tiff),
    Demo("sluice-wheel.png", Request("sluice-wheel", 1, PPI, "smooth", 0.7, "warm", 1.02,
                                     noise=0.35),
         save_png),
    Demo("rowing-boat.tif", Request("rowing-boat", 1, PPI, "rough", 0.8, "white", 1.0, noise=0.3),
         save_cmyk_tiff),
    Demo("keepers-notes.jpg", Request("keepers-notes", 1, PPI, "smooth", 1.3, "grey", 1.0),
         save_grey_jpeg),
    Demo("marsh-path.jpg", Request("marsh-path", 1, PPI, "cold-pressed", 1.0, "cream", 1.0),
         save_jpeg),
)


def draw(demos: Iterable[Demo], folder: Path) -> None:
    """Draw pages into a folder."""
    for demo in demos:
        path = folder / demo.file
        demo.save(path, render(demo.request).scan)
        print(f"{demo.file}: {path.stat().st_size / 1e6:.1f} MB")


def main() -> None:
    """Read the command line and draw."""
    names = [demo.request.scene for demo in DEMOS]
    parser = argparse.ArgumentParser(description="Draw the demo scans again from their seeds.")
    parser.add_argument("--only", choices=names, help="one page, by name")
    parser.add_argument("--into", type=Path, default=FOLDER, help="folder to write to")
    wanted = parser.parse_args()
    wanted.into.mkdir(parents=True, exist_ok=True)
    draw((d for d in DEMOS if wanted.only in {None, d.request.scene}), wanted.into)


if __name__ == "__main__":
    main()
