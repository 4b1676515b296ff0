"""Pages out to files: what is asked for, and which pages are held back."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from app.bench.state.job import is_set
from app.kinds import KINDS
from app.pages.renditions import Bitmap, Flat, Layered, Line, Pdf, Print, Rendition, Web
from app.pages.whole import telling
from app.replay.book import Planned, plan_job
from app.replay.job import Job, JobPage
from app.replay.page import Request, replay_page
from app.replay.run import Outcome
from core.fault import Fault, Refused, Watch, unwatched
from core.sheet import WHITE


@dataclass(frozen=True)
class Form:
    """One thing that can be asked for, in the person's words."""

    text: str
    tip: str
    rendition: Rendition


FORMS = (
    Form("Line, see-through PNG", "The ink alone, each pixel as much ink as the page is dark.",
         Line()),
    Form("Line, PNG of grey and alpha", "The same, smaller; for one ink that is black or grey.",
         Line("grey-alpha")),
    Form("Line, TIFF", "The ink alone, for programs that take no PNG of this depth.",
         Line("tiff")),
    Form("For the printer, grey TIFF", "The line on white, black ink only, at full resolution.",
         Print()),
    Form("For the printer, 1-bit TIFF", "Black and white alone, at the resolution and by the "
         "screen that are chosen in Proof.", Bitmap()),
    Form("For the printer, PDF", "A PDF of each page: printed and trimmed as is chosen in Proof.",
         Pdf()),
    Form("In layers, OpenRaster", "Lines, colour and paper, each a layer of its own.", Layered()),
    Form("In layers, held ink apart", "As OpenRaster, with the ink that took a colour by hand in a "
         "layer of its own.", Layered(holds=True)),
    Form("In layers, a folder of PNGs", "Paper, colour and lines, numbered from the bottom.",
         Layered("folder")),
    Form("Flats alone, PNG", "The colours without the line, hard-edged and exact; for pages that "
         "were coloured.", Flat()),
    Form("Flats alone, TIFF", "The same, for programs that take no indexed PNG.", Flat("tiff")),
    Form("For the web, see-through WebP", "A small picture of 1600 pixels, averaged after toning.",
         Web()),
    Form("For the web, JPEG on white", "The same on white, for pages that take only JPEG.",
         Web("jpeg", ground=WHITE)),
)


@dataclass(frozen=True)
class Export:
    """What is written, of which pages (numbers on the rack from 0), and where."""

    pages: tuple[int, ...]
    renditions: tuple[Rendition, ...]
    folder: Path


def written_as(job: Job, wanted: Export) -> Job:
    """The job with these renditions and this folder: its file, replayed, writes the same."""
    return replace(job, renditions=wanted.renditions, into=wanted.folder.absolute())


def plan_export(job: Job, pages: Sequence[int]) -> Planned:
    """A request for each of these pages, or why it is held back; writes nothing.

    They are called as they are when the whole job is replayed. A page that was only turned is
    held back: what is proposed for it, and shown, was not kept.
    """
    planned = plan_job(job, KINDS)
    return tuple(_or_held_back(job.pages[number], planned[number]) for number in pages)


def _or_held_back(page: JobPage, planned: Request | Outcome) -> Request | Outcome:
    if is_set(page) or page.steps is None or isinstance(planned, Outcome):
        return planned
    return Outcome(page.at, None, (Fault(
        "it was turned, but no step list has been kept for it", page.place, "keep one for it"),))


PAGE_PARTS = 1000
"""In how many parts ``run_export`` tells of a page."""


def run_export(
    planned: Planned, cores: int, watch: Watch = unwatched,
) -> tuple[Outcome, ...]:
    """Write the pages one after the other; a fault ends its page and no other.

    ``watch`` is told parts of pages and may stop between two bands: what is finished stands.
    """
    ended: list[Outcome] = []
    for number, item in enumerate(planned):
        ended.append(item if isinstance(item, Outcome) else _written(
            item, cores, _part_of(number, len(planned), watch)))
        watch((number + 1) * PAGE_PARTS, len(planned) * PAGE_PARTS)
    return tuple(ended)


def _part_of(number: int, pages: int, watch: Watch) -> Watch:
    def told(rows: int, height: int) -> None:
        watch(number * PAGE_PARTS + PAGE_PARTS * rows // height, pages * PAGE_PARTS)

    return told


def _written(request: Request, cores: int, watch: Watch) -> Outcome:
    try:
        for _, path in request.outputs:
            with telling(path.parent):
                path.parent.mkdir(parents=True, exist_ok=True)
        return Outcome(request.page, replay_page(request, workers=cores, watch=watch))
    except Refused as refused:
        return Outcome(request.page, None, refused.faults)
