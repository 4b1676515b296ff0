"""All pages of a job as one PDF for the press."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from app.pages.pdf_out import add_page, placing_of
from app.pages.pdf_x import begin_document, intent_of, save_document
from app.pages.refusing import refuse
from app.pages.renditions import Pdf
from app.pages.whole import Part, telling
from app.proof.frames import Frame
from core.sheet import Plane


@dataclass(frozen=True, eq=False)
class BookPage:
    """One page: its cover (H, W) uint8, its ppi, how wide the whole scan is printed, its trim.

    ``width`` in mm of the print, ``frame`` in mm of the scan; None is the scan's own.
    """

    cover: Plane
    ppi: float
    width: float | None = None
    frame: Frame | None = None


def write_book(path: Path, pages: Iterable[BookPage], pdf: Pdf, *, durable: bool = True) -> int:
    """Write the pages in their order, all to the rules of ``pdf``; how many there were.

    Each page is packed as it comes, so that only one is held as pixels. The file is whole or
    absent. Raises ``Refused`` where there are no pages or the file cannot be written.
    """
    intent = intent_of(pdf)
    document = begin_document(pdf.standard, intent, path.stem)
    for page in pages:
        one = replace(pdf, width_mm=page.width, frame=page.frame)
        shape = page.cover.shape[0], page.cover.shape[1]
        add_page(document, page.cover, placing_of(one, shape, page.ppi), one, intent)
    if not len(document.pages):
        raise refuse("a book has at least one page", "give the pages that belong to it")
    with telling(path), Part(path) as part:
        save_document(document, part.open(), pdf.standard)
        part.seal(durable=durable)
        part.publish(durable=durable)
    return len(document.pages)
