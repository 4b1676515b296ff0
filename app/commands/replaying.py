"""What ``stetline replay`` does: a list over pages, or a whole job; once, or as pages come."""

import argparse
import base64
import os
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, closing
from dataclasses import replace
from pathlib import Path
from typing import NoReturn

from app.commands import say
from app.commands.asked import cores_of, reading_of, renditions_of
from app.commands.print_asked import printing_of
from app.commands.status import ALL_DONE, SOME_FAILED
from app.kinds import KINDS
from app.pages.formats import SUFFIXES
from app.pages.limits import Limits
from app.pages.listing import PageAt, book_pages, natural_key
from app.pages.lists import read_list
from app.pages.names import check_target
from app.pages.refusing import naming as said_of
from app.pages.renditions import Pdf
from app.pages.true_paths import true_paths
from app.replay.book import Planned, Row, hold_back, look_back, plan_job, recorded_on
from app.replay.crew import Crew, LocalCrew
from app.replay.forecast import forecast
from app.replay.hot import HotFolder
from app.replay.job import FORMAT, Job, JobPage, is_job_file, read_job, write_job
from app.replay.journal import Journal, versions
from app.replay.naming import Naming, numbering
from app.replay.page import Request
from app.replay.progress import Tally
from app.replay.report import Report
from app.replay.rescan import scanned_since
from app.replay.run import Outcome, run
from core.fault import Fault, Refused

_BESIDE_JOB = frozenset({
    "book", "task", "into", "report", "leave_out", "keep", "like", "plan", "watch", "again",
    "check", "quiet", "json", "cores", "cluster", "tls_ca_file", "tls_cert", "tls_key",
})
_LOOK_EVERY = 1.0  # seconds between two looks into a hot folder


def replay_list(request: argparse.Namespace) -> int:
    """Do what was asked; a page that fails is named and the rest go on."""
    if request.watch:
        _check_watched(request.pages)
    job, unread = _job(request)
    _check_places(request, job)
    with Journal(job.into, read_only=request.plan) as journal:
        job = _without_outputs(job, journal)
        if not job.pages and not request.watch:
            raise Refused(unread or (Fault("there is no page to do", str(request.book),
                                           "name scans, or a folder of them"),))
        say.faults(unread)
        with _crew(request) as crew:
            if request.like:
                job = recorded_on(job, PageAt(request.like, 1, 1), crew)
            if request.keep:
                write_job(request.keep, job)
            if request.plan:
                ahead = forecast(plan_job(job, KINDS), crew, journal, again=request.again)
                say.forecast(ahead, as_json=request.json)
                return SOME_FAILED if unread else ALL_DONE
            if request.watch:
                _watch(request, job, crew, journal)
            failed = _once(request, job, unread, crew, journal)
    return SOME_FAILED if failed or unread else ALL_DONE


def _check_places(request: argparse.Namespace, job: Job) -> None:
    """Refuse, before any page is read, what could not be written in the end."""
    into = job.into
    if os.path.lexists(into) and not into.is_dir():
        raise Refused(Fault(f"{into} is no folder, and the outputs need one", "--into",
                            "name a folder"))
    if request.keep:
        read = [request.book, *(page.path for page in job.pages), *filter(None, [request.like])]
        check_target(request.keep, FORMAT, "--keep", read)
    for form in job.renditions:
        if isinstance(form, Pdf) and form.profile:
            from app.pages.pdf_x import intent_of  # noqa: PLC0415 - it takes 100 ms to load

            with said_of("--profile"):
                intent_of(form)


def _check_watched(folders: Sequence[Path]) -> None:
    if not folders:
        raise Refused(Fault("there is nothing to watch", "--watch", "name a folder"))
    faults = [
        Fault("it is no folder", str(path), "watch a folder") for path in folders
        if not path.is_dir()
    ]
    if faults:
        raise Refused(faults)


def _crew(request: argparse.Namespace) -> AbstractContextManager[Crew]:
    if not request.cluster:
        return LocalCrew(cores_of(request))
    try:
        from app.replay.cluster import ClusterCrew, Tls  # noqa: PLC0415 - an extra, slow to import
    except ImportError as error:
        raise Refused(Fault(
            f"the library for more than one machine is missing ({error})", "--cluster",
            "install stetline[cluster]",
        )) from error
    tls = Tls(request.tls_ca_file, request.tls_cert, request.tls_key)
    return ClusterCrew(request.cluster, tls)


def _job(request: argparse.Namespace) -> tuple[Job, tuple[Fault, ...]]:
    """The job that was asked for, and what was named and holds no page.

    A page that cannot be read is one of the job's: its fault is found where it is done.
    """
    if is_job_file(request.book):
        _check_beside_job(request)
        job = read_job(request.book, KINDS)
        return replace(
            job, into=request.into or job.into, report=job.report or request.report,
            leave_out=job.leave_out or request.leave_out,
        ), ()
    steps = read_list(request.book, KINDS)
    if request.into is None:
        raise Refused(Fault("the outputs need a folder", "--into", "name one"))
    if not steps.steps:
        raise Refused(Fault("the list has no steps, so there is nothing to do", str(request.book),
                            "name another, or let stetline suggest make one"))
    reading, naming = reading_of(request), _naming(request)
    pages, unread = _listed(request, reading.limits)
    return Job(
        pages=tuple(map(JobPage.of, pages)),
        lists=(steps,), renditions=renditions_of(request), into=request.into, naming=naming,
        reading=reading, leave_out=request.leave_out, report=request.report,
        name=request.keep.stem if request.keep else "", printing=printing_of(request),
    ), unread


def _check_beside_job(request: argparse.Namespace) -> None:
    """Refuse what a job says itself: it would go unheard."""
    heard = _BESIDE_JOB | ({"pages"} if request.watch else set())
    faults = [
        Fault(f"a job has its own {name if name == 'pages' else _option(name)}", str(request.book),
              "change it there, or replay a step list")
        for name in sorted(request.said - heard)
    ]
    if faults:
        raise Refused(faults)


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def _naming(request: argparse.Namespace) -> Naming:
    plain = Naming()
    return Naming(
        pattern=request.names or plain.pattern, start=request.start, padding=request.padding,
        first=request.first_page, folders=request.folders or plain.folders,
    )


def _listed(
    request: argparse.Namespace, limits: Limits,
) -> tuple[tuple[PageAt, ...], tuple[Fault, ...]]:
    if request.watch:
        return (), ()
    paths: Iterable[Path] = request.pages
    if request.folders:
        paths = [found for path in request.pages for found in _below(path, request.into)]
    return book_pages(paths, limits)


def _below(path: Path, into: Path) -> Iterator[Path]:
    """A folder and those below it that hold scans, in natural order; never the outputs' own."""
    if not path.is_dir():
        yield path
        return
    found, outputs = False, os.path.realpath(into)
    for top, folders, names in os.walk(path):
        folders[:] = sorted(
            (name for name in folders if not name.startswith(".")
             and os.path.realpath(Path(top, name)) != outputs), key=natural_key,
        )
        if any(Path(name).suffix.lower() in SUFFIXES for name in names):
            found = True
            yield Path(top)
    if not found:
        yield path  # whose fault is then named


def _without_outputs(job: Job, journal: Journal) -> Job:
    """The job without pages that earlier runs wrote: scans and outputs may share a folder."""
    written = set(true_paths(journal.outputs()))
    if not written:
        return job
    places = true_paths(page.path for page in job.pages)
    kept = tuple(
        page for page, place in zip(job.pages, places, strict=True) if place not in written)
    return replace(job, pages=kept)


def _once(
    request: argparse.Namespace, job: Job, unread: Sequence[Fault], crew: Crew, journal: Journal,
) -> bool:
    """Do the job; gives whether something failed."""
    planned = plan_job(job, KINDS)
    say.faults(scanned_since(job, journal))
    journal.begin({"lists": [steps.name for steps in job.lists]})
    if job.leave_out:
        planned = hold_back(job, planned, crew, journal)
    tally = Tally(len(planned), time.monotonic)
    try:
        outcomes = _followed(request, planned, crew, journal, tally)
    except KeyboardInterrupt:
        if request.again:  # the same command would begin anew
            raise
        raise _stopped(planned, journal) from None
    rows = look_back(job, outcomes, journal, unread)
    remarks = numbering([page.at for page in job.pages])
    if not request.quiet:
        say.flagged(rows, remarks, as_json=request.json)
    if job.report:
        _report(job, rows, remarks, tally, journal)
    say.faults(journal.faults)
    return bool(tally.failed or journal.faults)


def _followed(
    request: argparse.Namespace, planned: Planned, crew: Crew, journal: Journal, tally: Tally,
) -> list[Outcome]:
    """Run, telling the person; pictures are let go at once, for the journal has them."""
    outcomes = []
    with say.progress(tally, quiet=request.quiet, as_json=request.json) as told, closing(
        run(planned, crew, journal=journal, again=request.again, check=request.check),
    ) as events:
        for event in events:
            told(event)
            if isinstance(event, Outcome):
                done = event.done and replace(event.done, figures=None)
                outcomes.append(replace(event, done=done))
    return outcomes


def _stopped(planned: Planned, journal: Journal) -> KeyboardInterrupt:
    """That the run was stopped, and what the journal says of its pages."""
    done = sum(isinstance(item, Request) and journal.is_done(item) for item in planned)
    return KeyboardInterrupt(
        f"{done} of {len(planned)} pages are finished, {len(planned) - done} left; "
        "the same command goes on from there, and nothing is half-written")


def _report(
    job: Job, rows: Sequence[Row], remarks: Sequence[str], tally: Tally, journal: Journal,
) -> None:
    def picture(row: Row) -> str:
        if row.status == "failed":
            return ""
        figures = journal.record(job.pages[row.number - 1].at).get("figures", {})
        data = str(figures.get("picture", ""))
        return base64.b64encode(base64.b64decode(data)).decode("ascii")  # nothing else gets in

    title = job.name or (job.lists[0].name if job.lists else "") or job.into.name
    report = Report(title, tuple(rows), tuple(remarks), {
        "run": tally.summary(), "versions": versions(),
        "lists": {steps.name: list(steps.sentences()) for steps in job.lists},
    })
    try:
        report.write(job.into, picture)
    except Refused as refused:
        say.faults(refused.faults)


def _watch(request: argparse.Namespace, job: Job, crew: Crew, journal: Journal) -> NoReturn:
    """Do pages as they come, until Ctrl-C."""
    hot = HotFolder(request.pages, time.time, job.reading.limits)
    journal.begin({"lists": [steps.name for steps in job.lists]})
    say.watching(request.pages, quiet=request.quiet, as_json=request.json)
    while True:
        for outcome in hot.round(job, KINDS, crew, journal):
            say.end_of_page(outcome, quiet=request.quiet, as_json=request.json)
        time.sleep(_LOOK_EVERY)
