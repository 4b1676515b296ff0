"""PDFs whose pages are scanned images: the image is taken out as it is, never redrawn.

ISO 32000-1: content streams (7.8.2), placement by the current matrix (8.3), images (8.9).
"""

import logging
import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

import pikepdf

from app.pages.limits import Limits
from app.pages.pdf_picture import picture_raster
from app.pages.raster import Raster
from app.pages.refusing import DECODER_ERRORS, refuse
from app.pages.source import FileSource

_Matrix = tuple[float, float, float, float]
"""a, b, c, d of a PDF matrix; where on the page things lie does not matter here."""

_DRAWS = frozenset({"f", "F", "f*", "B", "B*", "b", "b*", "S", "s", "sh"})
_WRITES = frozenset({"Tj", "TJ", "'", '"'})
_UNSEEN_TEXT = 3  # how scanners lay recognised words over the image
_DEEPEST_FORM, _MOST_FORMS = 8, 1000
_MOST_CONTENT = 64 << 20
_UPRIGHT_TOLERANCE = 0.05

_PLAIN = "give the scans themselves, as TIFF, PNG or JPEG"
_LEFT_OUT = "Its page also holds text or drawing, which was left out."

# The library's own bound on what a stream may unpack to: it is set for the whole process,
# once, because it knows no other way; without it a small file can fill the memory.
pikepdf.settings.set_qpdf_limits(
    flate_max_memory=_MOST_CONTENT, run_length_max_memory=_MOST_CONTENT,
    png_max_memory=_MOST_CONTENT, tiff_max_memory=_MOST_CONTENT,
)  # fmt: skip

# What the library thinks of a broken file belongs in the log, if there is one, not on the screen.
logging.getLogger("pikepdf").addHandler(logging.NullHandler())


@dataclass
class _Seen:
    """What a page's content was found to show."""

    images: list[tuple[pikepdf.Object, _Matrix]] = field(default_factory=list)
    drawn: bool = False
    forms: int = 0


def count_pdf(source: FileSource, limits: Limits) -> int:
    """How many pages a PDF has."""
    with _opened(source) as pdf:
        count = len(pdf.pages)
    if count > limits.pages:
        raise refuse(f"it says it has more than {limits.pages} pages", "save it again")
    if not count:
        raise refuse("it is a PDF without a page", _PLAIN)
    return count


def open_pdf(source: FileSource, number: int, limits: Limits) -> Raster:
    """The one image of page ``number``, from 1; refuses a page that is not a scanned image."""
    with _opened(source) as pdf:
        page = pdf.pages[number - 1]
        seen = _Seen()
        _look_over(page.obj, page.resources, (1, 0, 0, 1), seen, 0)
        image, matrix = _only_image(seen)
        place = image.objgen

        def fetch() -> bytes:
            with _opened(source) as again:
                return bytes(again.get_object(place).read_raw_bytes())

        raster = picture_raster(image, fetch, limits)
        scale = float(page.obj.get("/UserUnit", 1)) / 72
        ppi, orientation = _placement(matrix, page.rotation, scale, raster)
    notes = (*raster.notes, _LEFT_OUT) if seen.drawn else raster.notes
    return replace(raster, ppi=ppi, orientation=orientation, notes=notes)


@contextmanager
def _opened(source: FileSource) -> Iterator[pikepdf.Pdf]:
    try:
        with pikepdf.open(source.path) as pdf:
            yield pdf
    except pikepdf.PasswordError as error:
        raise refuse("it is locked with a password", "unlock it, or " + _PLAIN) from error
    except (pikepdf.PikepdfError, *DECODER_ERRORS) as error:
        raise refuse("it is a broken PDF", "save it again, or " + _PLAIN) from error


def _only_image(seen: _Seen) -> tuple[pikepdf.Object, _Matrix]:
    if not seen.images:
        raise refuse("its page holds no scanned image, only text or drawing", _PLAIN)
    if len(seen.images) > 1:
        raise refuse(f"its page is put together from {len(seen.images)} images", _PLAIN)
    return seen.images[0]


def _look_over(
    content: pikepdf.Object, resources: Any, matrix: _Matrix, seen: _Seen, depth: int
) -> None:
    """Note every image and every drawn or written thing of a page or form."""
    if depth > _DEEPEST_FORM or seen.forms > _MOST_FORMS:
        raise refuse("its page is nested too deep", _PLAIN)
    mode, saved = 0, list[tuple[_Matrix, int]]()
    for step in pikepdf.parse_content_stream(content):
        operands, operator = step.operands, str(step.operator)
        if operator == "q":
            saved.append((matrix, mode))
        elif operator == "Q" and saved:
            matrix, mode = saved.pop()
        elif operator == "cm":
            matrix = _times(operands, matrix)
        elif operator == "Tr":
            mode = int(operands[0])
        elif operator == "Do":
            _look_at(resources["/XObject"][str(operands[0])], resources, matrix, seen, depth)
        elif operator == "INLINE IMAGE":
            raise refuse("its page holds an image inside its text", _PLAIN)
        elif operator in _DRAWS or (operator in _WRITES and mode != _UNSEEN_TEXT):
            seen.drawn = True


def _look_at(thing: Any, resources: Any, matrix: _Matrix, seen: _Seen, depth: int) -> None:
    if thing["/Subtype"] == "/Image":
        seen.images.append((thing, matrix))
    elif thing["/Subtype"] == "/Form":
        seen.forms += 1
        inner = _times(thing.get("/Matrix", [1, 0, 0, 1, 0, 0]), matrix)
        _look_over(thing, thing.get("/Resources", resources), inner, seen, depth + 1)


def _times(first: Any, then: _Matrix) -> _Matrix:
    a, b, c, d, *_ = (float(value) for value in first)
    e, f, g, h = then
    return a * e + b * g, a * f + b * h, c * e + d * g, c * f + d * h


def _placement(
    matrix: _Matrix, rotation: int, scale: float, raster: Raster
) -> tuple[tuple[float, float] | None, int]:
    """Pixels per inch across and down the stored image, and its orientation as EXIF counts.

    ``scale`` is inches per unit of the page.
    """
    a, b, c, d = matrix
    across, down = math.hypot(a, b) * scale, math.hypot(c, d) * scale
    if not (across > 0 and down > 0):
        return None, 1
    # On the screen, y runs down; a row of the image runs along (a, b), a column against (c, d).
    right, below = (a, -b), (-c, d)
    for _ in range(rotation // 90 % 4):
        right, below = (-right[1], right[0]), (-below[1], below[0])
    orientation = _ORIENTATIONS.get((_quarter(right), _quarter(below)))
    if orientation is None:
        raise refuse("its image lies askew on the page", _PLAIN)
    return (raster.width / across, raster.height / down), orientation


def _quarter(way: tuple[float, float]) -> tuple[int, int]:
    """The nearest of right, down, left, up; refuses what is near to none."""
    length = math.hypot(*way)
    x, y = way[0] / length, way[1] / length
    if min(abs(x), abs(y)) > _UPRIGHT_TOLERANCE:
        raise refuse("its image lies askew on the page", _PLAIN)
    return round(x), round(y)


_ORIENTATIONS = {
    ((1, 0), (0, 1)): 1, ((-1, 0), (0, 1)): 2, ((-1, 0), (0, -1)): 3, ((1, 0), (0, -1)): 4,
    ((0, 1), (1, 0)): 5, ((0, 1), (-1, 0)): 6, ((0, -1), (-1, 0)): 7, ((0, -1), (1, 0)): 8,
}  # fmt: skip
"""Where a stored row and a stored column run on the screen: EXIF's eight orientations."""

