"""The one table of the files that are read: how each is known, counted and opened."""

from collections.abc import Callable
from dataclasses import dataclass

from app.pages.bmp_in import open_bmp
from app.pages.jpeg_in import open_jpeg
from app.pages.limits import Limits
from app.pages.png_in import open_png
from app.pages.raster import Raster
from app.pages.refusing import refuse
from app.pages.source import FileSource, Source, read_at
from app.pages.tiff_in import open_tiff, tiff_pages
from app.pages.webp_in import open_webp


@dataclass(frozen=True)
class Format:
    """One kind of file. ``starts`` are its first bytes, ``suffixes`` what its names end in."""

    name: str
    suffixes: tuple[str, ...]
    starts: tuple[bytes, ...]
    open: Callable[[FileSource, int, Limits], Raster]
    count: Callable[[FileSource, Limits], int] = lambda source, limits: 1  # noqa: ARG005


def _single(open_page: Callable[[Source, Limits], Raster]) -> Callable[..., Raster]:
    return lambda source, number, limits: open_page(source, limits)  # noqa: ARG005


def _open_pdf(source: FileSource, number: int, limits: Limits) -> Raster:
    from app.pages.pdf_in import open_pdf  # noqa: PLC0415 - slow to import, and rarely needed

    return open_pdf(source, number, limits)


def _count_pdf(source: FileSource, limits: Limits) -> int:
    from app.pages.pdf_in import count_pdf  # noqa: PLC0415 - slow to import, and rarely needed

    return count_pdf(source, limits)


FORMATS = (
    Format(
        "TIFF", (".tif", ".tiff"), (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"),
        open_tiff, lambda source, limits: len(tiff_pages(source, limits)),
    ),
    Format("PNG", (".png",), (b"\x89PNG\r\n\x1a\n",), _single(open_png)),
    Format("JPEG", (".jpg", ".jpeg"), (b"\xff\xd8\xff",), _single(open_jpeg)),
    Format("WebP", (".webp",), (b"RIFF",), _single(open_webp)),
    Format("BMP", (".bmp",), (b"BM",), _single(open_bmp)),
    Format("PDF", (".pdf",), (b"%PDF-",), _open_pdf, _count_pdf),
)  # fmt: skip

SUFFIXES = frozenset(suffix for kind in FORMATS for suffix in kind.suffixes)

NAMES = ", ".join(kind.name for kind in FORMATS[:-1]) + f" or {FORMATS[-1].name}"


def format_of(source: FileSource) -> Format:
    """The kind of a file, by its first bytes and not by its name; refuses what is not read."""
    head = read_at(source, 0, min(source.size, 12))
    for kind in FORMATS:
        if head.startswith(kind.starts) and (kind.name != "WebP" or head[8:12] == b"WEBP"):
            return kind
    raise refuse("it is not a picture of a kind that is read", f"give {NAMES}")
