"""A test strip for the printer's own press: what it holds is read off the print by eye.

A bar of 100 mm, veils, and lines of ink and of paper. All shapes are declared once, in mm from the
upper left, and drawn twice: as a PDF's own shapes, which the printer's screen renders, or as
pixels.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pikepdf
from pikepdf import Dictionary, Name
from PIL import Image, ImageDraw, ImageFont

from app.pages.bitmap import pack_t6
from app.pages.pdf_out import separation
from app.pages.pdf_x import Intent, begin_document, document_bytes, intent_of
from app.pages.renditions import Pdf, Print
from app.pages.whole import replace_file
from app.pages.write import write_page
from core.press.presses import LINES, VEILS
from core.press.size import mm_to_points, points_to_mm
from core.sheet import Plane, Sheet
from core.units import mm_to_px, px_to_mm

Floats = npt.NDArray[np.float64]

SIZE = (140.0, 96.0)
"""Width and height of the strip in mm."""

_LEFT, _PITCH, _SIDE = 8.0, 15.6, 13.6
_LINE_PITCH = 17.8
_TEXT_PPI = 1200
_HOW = """\
Print at 100 %. The bar is 100 mm. Note the palest veil of which anything shows, the palest that is
even, and the finest black and white lines that are unbroken. In the window they go into My printer,
on the command line behind stetline strip press.json --held."""


@dataclass(frozen=True)
class Patch:
    """A rectangle: left, top, width, height in mm, ``cover`` in percent; 0 takes ink away."""

    left: float
    top: float
    width: float
    height: float
    cover: float = 100.0


@dataclass(frozen=True)
class Words:
    """Text whose line begins at ``left`` and hangs from ``top``, ``size`` mm high."""

    left: float
    top: float
    text: str
    size: float = 2.6


def shapes(ppi: float | None = None) -> Iterator[Patch | Words]:
    """Everything on the strip, in the order in which it is laid.

    As pixels, ``ppi`` of them, a line is as many whole ones wide as comes nearest, and is called
    as wide as that.

    >>> sum(isinstance(shape, Words) for shape in shapes())
    27
    """
    yield from _bar()
    for number, cover in enumerate(VEILS):
        left = _LEFT + number * _PITCH
        yield Patch(left, 22, _SIDE, 14, cover)
        yield Words(left, 37, f"{cover:g} %")
    yield Patch(_LEFT, 63, 124, 11)
    for number, points in enumerate(LINES):
        left, thick = _LEFT + number * _LINE_PITCH, _whole(points_to_mm(points), ppi)
        yield Words(left, 56, f"{round(mm_to_points(thick), 2):g} pt")
        yield Words(left, 75, f"{round(mm_to_points(thick), 2):g} pt")
        for top, cover in ((44.0, 100.0), (64.5, 0.0)):
            for n in range(4):
                yield Patch(left + 1, _whole(top + 2 * n, ppi), 7, thick, cover)
            for n in range(3):
                yield Patch(_whole(left + 10 + 1.5 * n, ppi), top, thick, 8, cover)
    for number, line in enumerate(_HOW.splitlines()):
        yield Words(_LEFT, 81 + 4 * number, line)


def _whole(mm: float, ppi: float | None) -> float:
    """The length of at least one, and whole pixels, that comes nearest."""
    return mm if ppi is None else px_to_mm(max(round(mm_to_px(mm, ppi)), 1), ppi)


def _bar() -> Iterator[Patch | Words]:
    yield Patch(_LEFT, 10, 100, 0.4)
    for tick in range(11):
        tall = 5.0 if tick % 10 == 0 else 3.0 if tick == 5 else 2.0
        # the outer edges of the end ticks are 100 mm apart
        left = _LEFT + min(max(10 * tick - 0.1, 0), 99.8)
        yield Patch(left, 10.4 - tall, 0.2, tall)
    yield Words(_LEFT + 104, 8, "100 mm")
    yield Words(_LEFT, 13, "Stetline test strip", 3.4)


def write_strip(path: Path, pdf: Pdf, *, durable: bool = True) -> None:
    """Write the strip: a PDF by the rules of ``pdf``, or a grey TIFF at 1200 ppi for ``.tif``."""
    if path.suffix.lower() in (".tif", ".tiff"):
        sheet = Sheet(ppi=_TEXT_PPI, alpha=draw_strip(_TEXT_PPI))
        write_page(sheet, [(Print(), path)], steps_json="", workers=1, durable=durable)
        return
    intent = intent_of(pdf)
    document = begin_document(pdf.standard, intent, path.stem)
    _add_strip(document, intent)
    replace_file(path, document_bytes(document, pdf.standard), durable=durable)


def draw_strip(ppi: float) -> Plane:
    """The strip as cover in black, (H, W) uint8; edges between pixels are shared exactly.

    >>> strip = draw_strip(300)
    >>> strip.shape, int(strip[round(26 / 25.4 * 300), round(10 / 25.4 * 300)])
    ((1134, 1654), 1)
    """
    width, height = (round(mm_to_px(side, ppi)) for side in SIZE)
    page = np.zeros((height, width), np.float32)
    for shape in shapes(ppi):
        if isinstance(shape, Words):
            ink = _text(shape.text, mm_to_px(shape.size, ppi))
            left, top = round(mm_to_px(shape.left, ppi)), round(mm_to_px(shape.top, ppi))
            room = page[top : top + ink.shape[0], left : left + ink.shape[1]]
            np.maximum(room, ink[: room.shape[0], : room.shape[1]], out=room)
            continue
        columns, across = _shares(mm_to_px(shape.left, ppi), mm_to_px(shape.width, ppi))
        rows, down = _shares(mm_to_px(shape.top, ppi), mm_to_px(shape.height, ppi))
        part = page[rows, columns]
        part += (shape.cover / 100 - part) * np.outer(down, across)
    return np.rint(page * 255).astype(np.uint8)


def _shares(start: float, length: float) -> tuple[slice, Floats]:
    """The pixels from ``start`` on over ``length``, and how much of each lies there."""
    first, end = math.floor(start), math.ceil(start + length)
    edges = np.arange(first, end + 1, dtype=np.float64)
    return slice(first, end), np.diff(np.clip(edges, start, start + length))


def _text(text: str, height: float) -> Floats:
    """Text as ink of 0 and 1, some pixels high."""
    font = ImageFont.load_default(max(height, 4))
    left, top, right, bottom = font.getbbox(text)
    image = Image.new("1", (int(right - left) + 2, int(bottom - top) + 2))
    ImageDraw.Draw(image).text((1 - left, 1 - top), text, fill=1, font=font)
    return np.asarray(image, np.float64)


def _add_strip(document: pikepdf.Pdf, intent: Intent) -> None:
    width, height = (mm_to_points(side) for side in SIZE)
    said = ["/Black cs"]
    images = Dictionary()
    for number, shape in enumerate(shapes()):
        x, y = mm_to_points(shape.left), height - mm_to_points(shape.top)
        if isinstance(shape, Words):
            name = f"/T{number}"
            images[name], (wide, high) = _stencil(document, shape)
            said.append(f"1 scn q {wide:.4f} 0 0 {high:.4f} {x:.4f} {y - high:.4f} cm {name} Do Q")
        else:
            wide, high = mm_to_points(shape.width), mm_to_points(shape.height)
            said.append(f"{shape.cover / 100:.4f} scn "
                        f"{x:.4f} {y - high:.4f} {wide:.4f} {high:.4f} re f")
    page = document.add_blank_page(page_size=(width, height))
    page.obj.TrimBox = page.obj.BleedBox = page.obj.MediaBox
    page.obj.Resources = Dictionary(
        ColorSpace=Dictionary(Black=document.make_indirect(separation(intent, Name.Black))),
        XObject=images,
    )
    page.obj.Contents = document.make_stream("\n".join(said).encode("ascii"))


def _stencil(document: pikepdf.Pdf, words: Words) -> tuple[pikepdf.Object, tuple[float, float]]:
    ink = _text(words.text, mm_to_px(words.size, _TEXT_PPI)) > 0.5
    high, wide = ink.shape
    image = document.make_stream(pack_t6(ink), Dictionary(
        Type=Name.XObject, Subtype=Name.Image, Width=wide, Height=high, BitsPerComponent=1,
        ImageMask=True, Filter=Name.CCITTFaxDecode,
        DecodeParms=Dictionary(K=-1, Columns=wide, Rows=high),
    ))
    return image, (mm_to_points(px_to_mm(wide, _TEXT_PPI)), mm_to_points(px_to_mm(high, _TEXT_PPI)))
