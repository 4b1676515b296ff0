"""Pages of a PDF for the press: the line in black alone, overprinting what lies beneath.

The line is painted in Separation Black with overprint on (ISO 32000-1:2008, 8.6.6.4 and 8.6.7),
so that cyan, magenta and yellow beneath it stay as they are. See-through (PDF/X-4), a full tint
is painted through a soft mask, the page's own alpha; flat (PDF/X-1a), the alpha is the tint,
and clear pixels are masked out by their value (8.9.6.4). Cut to 1 bit, the line is a stencil.

Colour (flats, ink that was held in one) is an image in the four inks beneath it. Flat, with the
tones of the line kept, that image holds the line too: what overprints is then in its black plate.
"""

import math
from dataclasses import dataclass
from typing import Any, BinaryIO

import numpy as np
import pikepdf
from pikepdf import Array, Dictionary, Name

from app.pages.bitmap import CoverPage, cut_rows, pack_t6, resized
from app.pages.coloured import Plates
from app.pages.deflate import START, Block, deflate, ending, join_adler
from app.pages.pdf_boxes import PageBoxes, PointsBox, boxes
from app.pages.pdf_press import black_alone, to_inks
from app.pages.pdf_x import Intent, begin_document, document_bytes, intent_of
from app.pages.picture import Frame
from app.pages.renditions import Pdf
from core.press.size import POINTS_PER_INCH
from core.sheet import Plane, Sheet, spans
from core.units import px_to_mm

_MARK_POINTS = 0.25


class PdfPage:
    """The *pdf* rendition in the making: one page."""

    def __init__(self, file: BinaryIO, frame: Frame, pdf: Pdf, title: str) -> None:
        self._file, self._frame, self._pdf, self._title = file, frame, pdf, title
        self._intent = intent_of(pdf, coloured=_is_coloured(frame))
        self._page = _page_of(frame, pdf, self._intent)
        self.pack = self._page.pack
        self.add = self._page.add

    def close(self) -> None:
        """Write the file."""
        document = begin_document(self._pdf.standard, self._intent, self._title)
        shape = self._frame.height, self._frame.width
        place = boxes_of(self._pdf, shape, self._frame.ppi)
        _add_page(document, self._page, place, self._pdf, self._intent)
        self._file.write(document_bytes(document, self._pdf.standard))


class _ColouredPage:
    """A page's cover in black, and the four inks beneath it, gathered band by band."""

    def __init__(self, plates: Plates, *, flat: bool) -> None:
        self._plates, self._flat = plates, flat
        self._bands: list[tuple[Plane, Plane]] = []

    def pack(self, band: Sheet, top: int) -> tuple[Plane, Plane]:  # noqa: ARG002 - all alike
        """The black and the four inks of a band: a pure function."""
        if self._flat:
            return np.zeros(band.shape, np.uint8), np.dstack(self._plates.planes(band))
        black, inks = self._plates.apart(band)
        return black, np.dstack(inks)

    def add(self, packed: tuple[Plane, Plane]) -> None:
        """Take the next band."""
        self._bands.append(packed)

    def plane(self) -> Plane:
        """The whole page's black that lies apart, (H, W) uint8."""
        return np.concatenate([black for black, _ in self._bands])

    def colour(self) -> Plane:
        """The whole page's inks beneath it, (H, W, 4) uint8."""
        return np.concatenate([inks for _, inks in self._bands])


def _page_of(frame: Frame, pdf: Pdf, intent: Intent) -> "_ColouredPage | CoverPage":
    if not _is_coloured(frame):
        return CoverPage(frame)
    own = intent.profile if pdf.profile is not None else None
    return _ColouredPage(Plates.of(frame, black_alone(to_inks(own))), flat=_is_flat(pdf))


def _is_coloured(frame: Frame) -> bool:
    """Whether colour lies beneath the line, or ink was held in one."""
    return frame.layered or frame.held


def _is_flat(pdf: Pdf) -> bool:
    """Whether line and colour become one image."""
    return pdf.standard == "x1a" and pdf.form == "grey"


def boxes_of(pdf: Pdf, shape: tuple[int, int], ppi: float) -> PageBoxes:
    """Where a scan of (height, width) pixels lies on its page."""
    height, width = (px_to_mm(side, ppi) for side in shape)
    scale = 1.0 if pdf.width_mm is None else pdf.width_mm / width
    return boxes((width, height), pdf.frame, scale, pdf.bleed, marks=pdf.marks)


@dataclass(frozen=True, eq=False)
class _Piece:
    """The part of the page's pixels that lies within the bleed, and where it goes.

    ``alpha`` (H, W) uint8 is its cover in black, ``colour`` (H, W, 4) uint8 the four inks that lie
    beneath it, 255 full ink.
    """

    alpha: Plane
    colour: Plane | None
    box: PointsBox


def add_sheet(
    document: pikepdf.Pdf, sheet: Sheet, place: PageBoxes, pdf: Pdf, intent: Intent,
) -> None:
    """Add a page that was lifted: its line, and the colour beneath it where it has any."""
    page = _page_of(Frame.of(sheet.shape, sheet), pdf, intent)
    packed: Any = page.pack(sheet, 0)
    page.add(packed)
    _add_page(document, page, place, pdf, intent)


def _add_page(
    document: pikepdf.Pdf, made: "_ColouredPage | CoverPage", place: PageBoxes, pdf: Pdf,
    intent: Intent,
) -> None:
    colour = made.colour() if isinstance(made, _ColouredPage) else None
    piece = _within_bleed(made.plane(), colour, place)
    resources = _resources(document, piece, pdf, intent)
    page = document.add_blank_page(page_size=(3, 3))
    page.obj.MediaBox = _array(place.media)
    page.obj.BleedBox, page.obj.TrimBox = _array(place.bleed_box), _array(place.trim_box)
    page.obj.Resources = resources
    page.obj.Contents = document.make_stream(_content(piece, place, pdf))
    if pdf.standard == "x4" and pdf.form == "grey" and intent.colours == Name.DeviceCMYK:
        # a soft mask is blended in the colours of the press, not in those of a screen; a press
        # of black alone needs no group, and one of grey would swallow colour laid beneath
        page.obj.Group = Dictionary(Type=Name.Group, S=Name.Transparency, CS=intent.colours)


def _resources(
    document: pikepdf.Pdf, piece: _Piece | None, pdf: Pdf, intent: Intent,
) -> Dictionary:
    """The inks of a page, its overprint, and its images."""
    black, every = (document.make_indirect(separation(intent, ink))
                    for ink in (Name.Black, Name.All))
    resources = Dictionary(
        ColorSpace=Dictionary(Black=black, All=every),
        ExtGState=Dictionary(Over=Dictionary(
            Type=Name.ExtGState, OP=True, op=True, OPM=1,
        )),
    )
    if piece is not None:
        resources.XObject = Dictionary()
        if piece.colour is not None:
            resources.XObject.Colour = _colour(document, piece.colour)
        if piece.colour is None or not _is_flat(pdf):
            resources.XObject.Line = _line(document, piece, pdf, black)
    return resources


def _within_bleed(alpha: Plane, colour: Plane | None, place: PageBoxes) -> _Piece | None:
    """The pixels that the bleed box touches: nothing beyond it goes to the printer."""
    height, width = alpha.shape
    across, down = place.scan_width / width, place.scan_height / height
    left = max(math.floor((-place.bleed - place.left) / across + 1e-6), 0)
    top = max(math.floor((-place.bleed - place.top) / down + 1e-6), 0)
    right = math.ceil((place.width + place.bleed - place.left) / across - 1e-6)
    bottom = math.ceil((place.height + place.bleed - place.top) / down - 1e-6)
    within = np.s_[top : max(bottom, 0), left : max(right, 0)]
    part = alpha[within]
    if not part.size:
        return None
    x, y, _, upper = place.scan_box()
    one, row = (place.scan_box()[2] - x) / width, (upper - y) / height
    return _Piece(part, None if colour is None else colour[within], (
        x + left * one, upper - (top + part.shape[0]) * row,
        x + (left + part.shape[1]) * one, upper - top * row,
    ))


def _content(piece: _Piece | None, place: PageBoxes, pdf: Pdf) -> bytes:
    said = []
    if piece is not None:
        left, bottom, right, top = place.bleed_box
        x, y, far, high = piece.box
        laid = f"{_n(far - x)} 0 0 {_n(high - y)} {_n(x)} {_n(y)} cm"
        said = ["q", f"{_n(left)} {_n(bottom)} {_n(right - left)} {_n(top - bottom)} re W n"]
        if piece.colour is not None:
            said.append(f"q {laid} /Colour Do Q")
        if piece.colour is None or not _is_flat(pdf):
            said += ["/Over gs /Black cs 1 scn", f"{laid} /Line Do"]
        said.append("Q")
    if place.marks:
        said += ["q", f"/All CS 1 SCN {_MARK_POINTS} w"]
        said += [f"{_n(a)} {_n(b)} m {_n(c)} {_n(d)} l S" for a, b, c, d in place.crop_marks()]
        said += ["Q"]
    return "\n".join(said).encode("ascii")


def _n(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _array(box: PointsBox) -> Array:
    return Array([round(side, 4) for side in box])


def _line(
    document: pikepdf.Pdf, piece: _Piece, pdf: Pdf, black: pikepdf.Object,
) -> pikepdf.Object:
    """The line as an image; what is not ink is not painted."""
    if pdf.form == "1-bit":
        return _stencil(document, piece, pdf)
    height, width = piece.alpha.shape
    alpha = _image(document, _zlib(np.ascontiguousarray(piece.alpha)), width, height,
                   BitsPerComponent=8, Filter=Name.FlateDecode)
    if pdf.standard == "x1a":
        alpha.ColorSpace, alpha.Mask = black, Array([0, 0])
        return alpha
    alpha.ColorSpace = Name.DeviceGray
    full = _zlib(np.full((height, -(-width // 8)), 255, np.uint8))
    return _image(document, full, width, height, BitsPerComponent=1, ColorSpace=black,
                  SMask=alpha, Filter=Name.FlateDecode)


def _colour(document: pikepdf.Pdf, inks: Plane) -> pikepdf.Object:
    """The four inks as an image, which covers whatever lies beneath it."""
    height, width = inks.shape[:2]
    return _image(
        document, _zlib(np.ascontiguousarray(inks).reshape(height, width * 4)), width, height,
        BitsPerComponent=8, ColorSpace=Name.DeviceCMYK, Filter=Name.FlateDecode,
    )


def _stencil(document: pikepdf.Pdf, piece: _Piece, pdf: Pdf) -> pikepdf.Object:
    left, bottom, right, top = piece.box
    height, width = (max(round(side / POINTS_PER_INCH * pdf.ppi), 1)
                     for side in (top - bottom, right - left))
    bits = cut_rows(resized(piece.alpha, height, width), pdf.cut, pdf.ppi)((0, height))
    return _image(
        document, pack_t6(bits), width, height, BitsPerComponent=1, ImageMask=True,
        Filter=Name.CCITTFaxDecode,
        DecodeParms=Dictionary(K=-1, Columns=width, Rows=height),
    )


def _image(
    document: pikepdf.Pdf, data: bytes, width: int, height: int, **facts: Any,
) -> pikepdf.Object:
    return document.make_stream(data, Dictionary(
        Type=Name.XObject, Subtype=Name.Image, Width=width, Height=height, **facts))


def _zlib(plane: Plane) -> bytes:
    """The rows of a plane as one zlib stream."""
    parts: list[bytes] = [START]
    adler = 1
    for top, bottom in spans(len(plane)):
        block: Block = deflate([plane[top:bottom].astype(np.uint8, copy=False)])
        parts.append(block.data)
        adler = join_adler(adler, block)
    return b"".join([*parts, ending(adler)])


def separation(intent: Intent, ink: Name) -> Array:
    """A colour space of one ink; other devices show it by its tint in the intent's colours."""
    clear: tuple[int, ...] = (1,)
    full: tuple[int, ...] = (0,)
    if intent.colours == Name.DeviceCMYK:
        clear, full = (0, 0, 0, 0), ((0, 0, 0, 1) if ink == Name.Black else (1, 1, 1, 1))
    tint = Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array(clear), C1=Array(full), N=1)
    return Array([Name.Separation, ink, intent.colours, tint])
