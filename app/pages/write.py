"""Write a page in any number of renditions, in one pass over its bands."""

from collections.abc import Sequence
from contextlib import ExitStack, closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Protocol

from app.pages.bitmap import BitmapTiff
from app.pages.coloured import flats_picture, plates_picture
from app.pages.layered import LayerFolder, OpenRaster
from app.pages.picture import Frame, flat_picture, ink_picture
from app.pages.png import PngStream, is_written_here
from app.pages.pool import in_order
from app.pages.renditions import Bitmap, Flat, Layered, Line, Pdf, Print, Rendition, Web
from app.pages.tiff import TiffStream
from app.pages.web import WebPicture
from app.pages.whole import Part, telling
from core.fault import Watch, unwatched
from core.sheet import Bands, Sheet, spans


class Writer(Protocol):
    """One output in the making."""

    def pack(self, band: Sheet, top: int) -> Any:
        """What is to be written of the band that starts at row ``top``: pure, in any thread."""

    def add(self, packed: Any) -> None:
        """Write what ``pack`` made of the next band."""

    def close(self) -> None:
        """Write what comes after the last band."""


@dataclass(frozen=True)
class _Output:
    path: Path
    part: Part
    writer: Writer


def write_page(page: Bands, outputs: Sequence[tuple[Rendition, Path]], *, steps_json: str,
               workers: int, durable: bool = True, watch: Watch = unwatched) -> None:
    """Write ``page``, whose bands have alpha, to each of the paths.

    Each band is asked for once. Outputs appear all at the end, whole, by renaming, one after
    the other; until then what was there stays. After any exception none is left in part, nor any
    that was not yet renamed. The bytes do not depend on ``workers`` (threads). ``durable``
    waits for the disk. ``watch`` is told rows. Raises ``Refused`` where an output cannot be
    written or a rendition does not fit the page, and whatever ``page`` and ``watch`` raise.

    >>> import tempfile, numpy
    >>> line = Sheet(ppi=300, alpha=numpy.zeros((9, 9), numpy.uint8))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "a-line.png"
    ...     write_page(line, [(Line(), path)], steps_json="{}", workers=1)
    ...     path.read_bytes()[1:4]
    b'PNG'
    """
    first = page.rows(*next(spans(page.shape[0])))
    frame = Frame.of(page.shape, first)
    with ExitStack() as stack:
        begun: list[_Output] = []
        for rendition, path in outputs:
            with telling(path):
                part = Part(path, folder=rendition.is_folder, ours=is_written_here)
                stack.enter_context(part)
                writer = _writer(rendition, part, frame, steps_json, path.stem, workers)
                begun.append(_Output(path, part, writer))
        _pass(page, first, begun, workers, watch)
        for output in begun:
            with telling(output.path):
                output.writer.close()
                output.part.seal(durable=durable)
        for output in begun:
            with telling(output.path):
                output.part.publish(durable=durable)


def _pass(page: Bands, first: Sheet, outputs: Sequence[_Output], workers: int,
          watch: Watch) -> None:
    """Take every band to every output; ``first`` is the first band, already at hand."""
    height, _ = page.shape

    def pack(span: tuple[int, int]) -> tuple[int, list[Any]]:
        top, bottom = span
        band = page.rows(top, bottom) if top else first
        return bottom, [output.writer.pack(band, top) for output in outputs]

    with closing(in_order(pack, spans(height), workers)) as packed_bands:
        for done, packed_band in packed_bands:
            for output, packed in zip(outputs, packed_band, strict=True):
                with telling(output.path):
                    output.writer.add(packed)
            watch(done, height)


def _writer(  # noqa: PLR0911 - one for each form
    rendition: Rendition, part: Part, frame: Frame, steps: str, title: str, workers: int,
) -> Writer:
    match rendition:
        case Line():
            return _line_writer(rendition, part, frame, steps)
        case Print():
            return _print_writer(rendition, part, frame, steps)
        case Layered(form=shape):
            made = LayerFolder if shape == "folder" else OpenRaster
            return made(part, frame, steps, rendition)
        case Flat():
            return _flat_writer(rendition, part, frame)
        case Web():
            return WebPicture(part.open(), frame, rendition, steps)
        case Bitmap():
            return BitmapTiff(part.open(), frame, rendition, workers)
        case Pdf():
            from app.pages.pdf_out import PdfPage  # noqa: PLC0415 - it takes 100 ms to load

            return PdfPage(part.open(), frame, rendition, title)


def _line_writer(line: Line, part: Part, frame: Frame, steps: str) -> Writer:
    if line.form == "tiff":
        picture = ink_picture(frame, "rgba", line.bits)
        return TiffStream(part.open(), picture, "deflate", steps, profile=True)
    return PngStream(part.open(), ink_picture(frame, line.form, line.bits), steps)


def _print_writer(rendition: Print, part: Part, frame: Frame, steps: str) -> Writer:
    frame = replace(frame, ppi=rendition.ppi or frame.ppi)
    coloured = frame.layered or frame.held
    picture = plates_picture(frame) if coloured else flat_picture(frame, grey=True)
    return TiffStream(part.open(), picture, "lzw", steps if rendition.steps else "", profile=False)


def _flat_writer(flat: Flat, part: Part, frame: Frame) -> Writer:
    picture = flats_picture(frame)
    if flat.form == "tiff":
        return TiffStream(part.open(), picture, "lzw", profile=not picture.colours)
    return PngStream(part.open(), picture)
