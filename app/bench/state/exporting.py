"""Pages out to files: what is asked for, and which pages are held back."""

from collections import defaultdict
from collections.abc import Generator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from app.bench.state.job import is_set
from app.kinds import KINDS
from app.pages.renditions import Bitmap, Flat, Layered, Line, Pdf, Print, Rendition, Web
from app.pages.whole import telling
from app.replay.book import Planned, plan_job
from app.replay.crew import Event
from app.replay.job import Job, JobPage
from app.replay.journal import Journal
from app.replay.page import Request
from app.replay.run import Outcome, run, standing
from app.replay.worker import Task, do
from core.fault import Cancelled, Fault, Watch, unwatched
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
    Form("Line, PNG of grey and alpha", "Instead of the see-through PNG: smaller; for one ink that "
         "is black or grey.", Line("grey-alpha")),
    Form("Line, TIFF", "The ink alone, for programs that take no PNG of this depth.",
         Line("tiff")),
    Form("For the printer, grey TIFF", "The line on white, black ink only, at full resolution.",
         Print()),
    Form("For the printer, 1-bit TIFF", "Black and white alone, at the resolution and by the "
         "screen that are chosen in Proof.", Bitmap()),
    Form("For the printer, PDF", "A PDF of each page: printed and trimmed as is chosen in Proof.",
         Pdf()),
    Form("In layers, OpenRaster", "Lines, colour and paper, each a layer of its own.", Layered()),
    Form("In layers, held ink apart", "Instead of that: the ink that took a colour by hand lies in "
         "a layer of its own.", Layered(holds=True)),
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


def find_taken(planned: Planned, into: Path) -> tuple[Path, ...]:
    """The files that the pages would replace, though no run into the folder left them so."""
    taken: list[Path] = []
    with telling(into), Journal(into, read_only=True) as journal:
        for item in planned:
            if isinstance(item, Request):
                taken += _taken(item, journal)
    return tuple(taken)


def _taken(request: Request, journal: Journal) -> tuple[Path, ...]:
    return tuple(
        path for form, path in request.outputs
        if journal.taken(replace(request, outputs=((form, path),)))
    )


@dataclass(frozen=True)
class Exported:
    """How each page ended, and why the journal of the folder could not be kept.

    ``left`` is how many pages did not end, where it was stopped before.
    """

    pages: tuple[Outcome, ...]
    faults: tuple[Fault, ...] = ()
    left: int = 0


def noted(pages: Sequence[Outcome]) -> tuple[str, ...]:
    """What is to be known of the pages that went out: each sentence once, and of which pages."""
    of: defaultdict[str, list[str]] = defaultdict(list)
    for page in pages:
        for note in page.done.notes if page.done else ():
            of[note].append(page.page.path.name)
    return tuple(
        f"{names[0] if len(names) == 1 else f'{len(names)} pages'}: {note}"
        for note, names in of.items()
    )


PAGE_PARTS = 1000
"""In how many parts ``run_export`` tells of a page."""


def run_export(
    planned: Planned, into: Path, cores: int, watch: Watch = unwatched, *,
    over: frozenset[Path] = frozenset(),
) -> Exported:
    """Write the pages one after the other; a fault ends its page and no other.

    The journal of the folder is read and kept as by a replay: a page that is done and unchanged
    is not done again, and one that would replace a file that is not the journal's is left,
    unless all such files of it are in ``over``. ``watch`` is told parts of pages and may stop
    between two bands: what is finished stands, and the same export goes on from there. Refused
    where another run writes there.
    """
    with Journal(into) as journal:
        lists = [item.steps.name for item in planned if isinstance(item, Request)]
        journal.begin({"lists": list(dict.fromkeys(lists))})
        settled = [_standing(item, journal, over) or item for item in planned]
        crew = _Here(cores, len(planned), watch)
        ended: list[Outcome] = []
        try:
            events = run(settled, crew, journal=journal, again=True)  # what stands is settled
            ended.extend(event for event in events if isinstance(event, Outcome))
            watch(len(planned) * PAGE_PARTS, len(planned) * PAGE_PARTS)
        except Cancelled:
            ended += [item for item in settled[len(ended) :] if isinstance(item, Outcome)]
    return Exported(tuple(ended), tuple(journal.faults), len(planned) - len(ended))


def _standing(
    item: Request | Outcome, journal: Journal, over: frozenset[Path],
) -> Outcome | None:
    taken = _taken(item, journal) if isinstance(item, Request) else ()
    return standing(item, journal, again=bool(taken) and over.issuperset(taken))


@dataclass
class _Here:
    """A crew without processes: page by page, each by all cores of this one."""

    cores: int
    pages: int
    watch: Watch
    size: int = 1

    def work(self, tasks: Sequence[Task]) -> Generator[Event]:
        """Do the tasks; Cancelled where the watch says so."""
        for task in tasks:
            yield do(replace(task, threads=self.cores), self._part(task.place))

    def _part(self, place: int) -> Watch:
        def told(rows: int, height: int) -> None:
            self.watch(place * PAGE_PARTS + PAGE_PARTS * rows // height, self.pages * PAGE_PARTS)

        return told
