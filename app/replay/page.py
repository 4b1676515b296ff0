"""One page through a step list and out to files: what window and command line both call."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeGuard

import cv2

from app.pages.bitmap import said_of_flats
from app.pages.limits import Limits
from app.pages.listing import PageAt
from app.pages.picture import Frame
from app.pages.read import read
from app.pages.renditions import Bitmap, Flat, Pdf, Print, Rendition, Web
from app.pages.resolution import Resolution
from app.pages.scan import Scan, place_of
from app.pages.write import write_page
from app.replay.figures import Figures, Sampler
from app.replay.printing import Printing, filled, trim_of
from core.fault import Watch, unwatched
from core.sheet import Bands, Each, whole
from core.steps.document import dumps
from core.steps.fold import Folded, Replayed, replay
from core.steps.lift import Lift
from core.steps.steplist import StepList

_Outputs = tuple[tuple[Rendition, Path], ...]


@dataclass(frozen=True)
class Reading:
    """How scans are read: ``given`` overrides their resolution, ``profile`` honours theirs."""

    given: Resolution | None = None
    limits: Limits = Limits()
    profile: bool = True


@dataclass(frozen=True)
class Request:
    """Everything that decides what is written for one page.

    ``printing`` says what a rendition for print leaves open; ``left_page`` that the page lies on
    the left of a spread.
    """

    page: PageAt
    steps: StepList
    outputs: _Outputs
    reading: Reading = Reading()
    printing: Printing = Printing()
    left_page: bool = False

    @property
    def place(self) -> str:
        """How a fault names the page."""
        return place_of(self.page.path, self.page.number, self.page.count)


@dataclass(frozen=True)
class Done:
    """What was done to one page: the files written, and what the person should know."""

    outputs: tuple[Path, ...]
    pixels: int
    notes: tuple[str, ...]
    settled: StepList
    figures: Figures | None = None


@contextmanager
def bands_by(workers: int) -> Iterator[Each]:
    """A ``map`` over bands that keeps ``workers`` cores busy.

    OpenCV has as many threads, for steps that take the whole page at once; asked by several
    bands at a time, it works in the threads that ask.
    """
    cv2.setNumThreads(workers)
    if workers <= 1:
        yield map
        return
    with ThreadPoolExecutor(workers, thread_name_prefix="band") as pool:
        try:
            yield pool.map
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def replay_page(
    request: Request, *, workers: int = 1, durable: bool = True, figures: bool = False,
    watch: Watch = unwatched,
) -> Done:
    """Read the page, fold the list over it, write every rendition; Refused where it cannot.

    A page without flats has none alone: they are left out, and that is noted.
    ``workers`` threads share the bands; the bytes do not depend on how many. ``durable``
    waits until the disk has the files. With ``figures`` the page is read off on its way.
    """
    scan = read_page(request.page, request.reading)
    sampler = Sampler(scan) if figures else None

    def working(_: int, __: int) -> None:  # nothing is written yet, but it may be stopped
        watch(0, scan.shape[0])

    with bands_by(workers) as each:
        page = lifted(replay(request.steps, sampler.before if sampler else scan, each, working))
        going, outputs, said = _printed(request, page.page, each)
    page = replace(page, page=going)
    outputs, left_out = _with_flats(going, outputs)
    write_page(
        sampler.after(page) if sampler else page.page, outputs,
        steps_json=dumps(request.steps), workers=workers, durable=durable, watch=watch,
    )
    notes = [form.note(*page.page.shape) for form, _ in outputs if isinstance(form, Web | Bitmap)]
    return Done(
        tuple(path for _, path in outputs), scan.shape[0] * scan.shape[1],
        (*scan.notes, *said, *left_out, *filter(None, notes),
         *_lost_colour(page.page, outputs)),
        page.settled,
        sampler.figures() if sampler else None,
    )


def _with_flats(page: Bands, outputs: _Outputs) -> tuple[_Outputs, tuple[str, ...]]:
    """The outputs that the page can have, and a sentence where it has no flats to go alone."""
    kept = tuple((form, path) for form, path in outputs if not isinstance(form, Flat))
    if len(kept) == len(outputs) or page.rows(0, 1).flats is not None:
        return outputs, ()
    return kept, ("The page has no flats: flats alone are left out.",)


def _lost_colour(page: Bands, outputs: _Outputs) -> tuple[str, ...]:
    """What becomes of coloured ink and flats where a rendition has none."""
    frame = Frame.of(page.shape, page.rows(0, 1))
    flats = said_of_flats(frame)
    if flats and any(isinstance(form, Bitmap) for form, _ in outputs):
        return (flats,)
    plain = frame.ink is not None and len(set(frame.ink)) == 1
    if plain or frame.layered or frame.held or not any(
        isinstance(form, Print | Bitmap) for form, _ in outputs
    ):
        return ()
    return (("The ink is coloured, and a print TIFF or bitmap keeps no colour: the grey one holds "
             "how dark it looks, the 1-bit one how much ink there is; a PDF keeps its colour."),)


def _printed(
    request: Request, page: Bands, each: Each,
) -> tuple[Bands, _Outputs, tuple[str, ...]]:
    """The page, its renditions as the book is printed, and what is to be said of its trim.

    Only where a trim must be found is the page made whole for it, and then once.
    """
    size = request.printing.size_of(page.shape, page.rows(0, 1).ppi)
    outputs = tuple((filled(form, request.printing, size), path) for form, path in request.outputs)
    if request.printing.trim is None or not any(_untrimmed(form) for form, _ in outputs):
        return page, outputs, ()
    done = whole(page, each)
    found = trim_of(done, request.printing, size, left_page=request.left_page)
    assert found is not None
    if found.frame is None:
        return done, outputs, (f"The trim is not placed: {found.why}.",)
    return done, tuple(
        (replace(form, frame=found.frame) if _untrimmed(form) else form, path)
        for form, path in outputs
    ), ()


def _untrimmed(form: Rendition) -> TypeGuard[Pdf]:
    return isinstance(form, Pdf) and form.frame is None


def read_page(page: PageAt, reading: Reading) -> Scan:
    """The scan of a page, as ``reading`` says; Refused where it cannot be read."""
    return read(
        page.path, page.number, given=reading.given, limits=reading.limits,
        profile=reading.profile,
    )


def lifted(replayed: Replayed) -> Replayed:
    """The same with its ink lifted in black, where the list leaves the page grey."""
    if replayed.page.rows(0, 1).alpha is not None:
        return replayed
    steps = StepList(replayed.settled.name, (*replayed.settled.steps, Lift()))
    return Replayed(Folded(replayed.page, (Lift(),)), replayed.before, steps)
