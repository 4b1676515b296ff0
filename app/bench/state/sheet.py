"""The proof of a whole job: one sheet for the printer, and all pages as one PDF for the press."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from app.bench.state.job import name_of
from app.bench.state.printing import order_for
from app.bench.state.saying import told as told_of
from app.kinds import KINDS
from app.pages.renditions import Pdf
from app.pages.whole import replace_file
from app.proof.prove import STAGES, prove
from app.proof.sheet import Proved, proof_sheet
from app.replay.job import Job, JobPage
from app.replay.page import lifted, read_page
from app.replay.printing import filled, trim_of
from core.fault import Fault, Refused, Watch, unwatched
from core.sheet import Each, whole
from core.steps.fold import replay

if TYPE_CHECKING:
    from app.proof.book import BookPage


def write_sheet(
    job: Job, path: Path, day: str, each: Each = map, watch: Watch = unwatched,
) -> tuple[int, tuple[str, ...]]:
    """Prove every page and write the sheet; how many there are on it, and what was held back.

    ``day`` is written on it as it is. Refused where no page could be proved. ``watch`` is told
    stages of pages.
    """
    proved: list[Proved] = []
    faults: list[Fault] = []
    total = STAGES * len(job.pages)
    for number, page in enumerate(job.pages):
        begun = STAGES * number

        def told(done: int, _: int, begun: int = begun) -> None:
            watch(begun + done, total)

        try:
            proved.append(_proved(job, page, number, each, told))
        except Refused as refused:
            faults += refused.faults
            if number + 1 == len(job.pages) and not proved:
                raise
    title = job.name or (job.lists[0].name if job.lists else "") or "Proof"
    replace_file(path, proof_sheet(title, day, proved).encode("utf-8"))
    return len(proved), told_of(faults)


def _proved(job: Job, page: JobPage, number: int, each: Each, watch: Watch) -> Proved:
    steps = job.steps_of(page, KINDS)
    scan = read_page(page.at, job.reading_of(page))
    return Proved.of(name_of(page), prove(scan, steps, order_for(job, number), each, watch))


def write_pdf(job: Job, path: Path, each: Each = map, watch: Watch = unwatched) -> int:
    """Write all pages of the job as one PDF, each printed and trimmed as the book is; how many.

    Refused where a page has no list or its trim cannot be found: a book with a page too few, or
    one untrimmed, is none.
    """
    from app.proof.book import write_book  # noqa: PLC0415 - it takes 100 ms to load

    form = Pdf(form=job.printing.form, ppi=job.printing.ppi, cut=job.printing.cut,
               bleed=job.printing.bleed, gain=job.printing.in_hand.gain)

    def pages() -> Iterator["BookPage"]:
        for number, page in enumerate(job.pages):
            yield _book_page(job, page, number, each)
            watch(number + 1, len(job.pages))

    coloured = any(job.steps_of(page, KINDS).on_ink for page in job.pages)
    return write_book(path, pages(), form, coloured=coloured)


def _book_page(job: Job, page: JobPage, number: int, each: Each) -> "BookPage":
    from app.proof.book import BookPage  # noqa: PLC0415 - it takes 100 ms to load

    steps, printing = job.steps_of(page, KINDS), job.printing_of(page)
    scan = read_page(page.at, job.reading_of(page))
    done = whole(lifted(replay(steps, scan, each)).page, each)
    size = printing.size_of(done.shape, done.ppi)
    trimmed = trim_of(done, printing, size, left_page=job.naming.side(number) == "left")
    if trimmed is not None and trimmed.frame is None:
        raise Refused(trimmed.fault(page.place))
    made = filled(Pdf(), printing, size)
    assert isinstance(made, Pdf)
    return BookPage(done, made.width_mm,
                    None if trimmed is None else trimmed.frame)
