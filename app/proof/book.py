"""All pages of a job as one PDF for the press."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from app.pages.pdf_out import add_sheet, boxes_of
from app.pages.pdf_x import begin_document, document_bytes, intent_of
from app.pages.refusing import refuse
from app.pages.renditions import Pdf
from app.pages.trims import Frame
from app.pages.whole import replace_file
from core.sheet import Sheet


@dataclass(frozen=True, eq=False)
class BookPage:
    """One page, whole and lifted; how wide the whole scan is printed; its trim.

    ``width`` in mm of the print, ``frame`` in mm of the scan; None is the scan's own.
    """

    sheet: Sheet
    width: float | None = None
    frame: Frame | None = None


def write_book(
    path: Path, pages: Iterable[BookPage], pdf: Pdf, *, coloured: bool = False,
    durable: bool = True,
) -> int:
    """Write the pages in their order, all to the rules of ``pdf``; how many there were.

    ``coloured`` says that some page may have colour beneath its line: the book is then one for
    a press of four inks.
    Each page is packed as it comes, so that only one is held as pixels. The file is whole or
    absent. Raises ``Refused`` where there are no pages or the file cannot be written.
    """
    intent = intent_of(pdf, coloured=coloured)
    document = begin_document(pdf.standard, intent, path.stem)
    for page in pages:
        one = replace(pdf, width_mm=page.width, frame=page.frame)
        place = boxes_of(one, page.sheet.shape, page.sheet.ppi)
        add_sheet(document, page.sheet, place, one, intent)
    if not len(document.pages):
        raise refuse("a book has at least one page", "give the pages that belong to it")
    replace_file(path, document_bytes(document, pdf.standard), durable=durable)
    return len(document.pages)
