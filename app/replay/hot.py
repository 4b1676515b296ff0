"""A hot folder: pages are done as a scanner drops them in."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from app.pages.formats import SUFFIXES
from app.pages.limits import Limits
from app.pages.listing import PageAt, list_pages, natural_key
from app.pages.true_paths import true_paths
from app.replay.book import plan_job
from app.replay.crew import Crew
from app.replay.digest import Stamp, stamp_of
from app.replay.job import Job, JobPage
from app.replay.journal import Journal
from app.replay.run import Outcome, run
from core.fault import Fault, Refused
from core.steps.document import Kinds

_QUIET = 2.0
"""Seconds that a file must lie unchanged before it is taken for whole."""

_PATIENCE = 30.0
"""Seconds that a file that cannot be read is given: some scanners write with pauses."""


@dataclass
class _Seen:
    """A file as it was last seen, unchanged ``since``; ``settled`` once it is done or given up."""

    stamp: Stamp
    since: float
    settled: bool = False
    pages: tuple[PageAt, ...] = ()


class HotFolder:
    """Folders that are looked into again and again; ``clock`` gives seconds and is handed in.

    What was done before is in the journal, so a restart does nothing twice.
    """

    def __init__(
        self, folders: Sequence[Path], clock: Callable[[], float], limits: Limits,
    ) -> None:
        self._folders, self._clock, self._limits = folders, clock, limits
        self._seen: dict[Path, _Seen] = {}

    def round(
        self, job: Job, kinds: Kinds, crew: Crew, journal: Journal,
    ) -> Iterator[Outcome]:
        """Look once, and do what has come; what the job has for such a page holds.

        A page that fails is told of only when its file has lain unchanged for a while.
        """
        if any(word in job.naming.pattern for word in ("{number}", "{side}")):
            raise Refused(Fault("pages that come one by one cannot be numbered",
                                "the names of outputs", "use {stem}"))
        self._look(journal)
        fresh = self._fresh()
        yield from self._unreadable(fresh)
        known = {page.at: page for page in job.pages}
        pages = tuple(
            known.get(page, JobPage.of(page))
            for seen in self._seen.values() for page in seen.pages
        )
        if not any(self._seen[path].pages for path in fresh):
            return
        planned = [
            item for item in plan_job(replace(job, pages=pages), kinds)
            if item.page.path in fresh
        ]
        good = dict.fromkeys((item.page.path for item in planned), True)
        for event in run(planned, crew, journal=journal):
            if isinstance(event, Outcome):
                ends = not event.failed or self._is_late(event.page.path)
                good[event.page.path] &= ends
                if ends and not event.unchanged:
                    yield event
        for path, ends in good.items():
            self._seen[path].settled = ends

    def _look(self, journal: Journal) -> None:
        """Note what lies in the folders, and since when it has been as it is."""
        written = set(true_paths(journal.outputs()))
        there = [path for folder in self._folders for path in _scans_in(folder)]
        found = [path for path, place in zip(there, true_paths(there), strict=True)
                 if place not in written]
        for gone in self._seen.keys() - set(found):
            del self._seen[gone]
        for path in found:
            try:
                stamp = stamp_of(path)
            except OSError:  # it has just gone
                continue
            seen = self._seen.get(path)
            if seen is None or seen.stamp != stamp:
                self._seen[path] = _Seen(stamp, self._clock())

    def _fresh(self) -> list[Path]:
        """Files that have become quiet and are not settled."""
        now = self._clock()
        return [
            path for path, seen in self._seen.items()
            if not seen.settled and now - seen.since >= _QUIET
        ]

    def _unreadable(self, fresh: Sequence[Path]) -> Iterator[Outcome]:
        """Count the pages of quiet files; those that cannot be read are given up in time."""
        for path in fresh:
            seen = self._seen[path]
            if not seen.pages:
                seen.pages, faults = list_pages([path], self._limits)
                if faults and self._is_late(path):
                    seen.settled = True
                    yield Outcome(PageAt(path, 1, 1), None, faults)

    def _is_late(self, path: Path) -> bool:
        return self._clock() - self._seen[path].since >= _PATIENCE


def _scans_in(folder: Path) -> list[Path]:
    """The scans of a folder in natural order; none while it cannot be looked into.

    One on a network comes and goes: that ends no watch.
    """
    try:
        found = sorted(folder.iterdir(), key=lambda path: natural_key(path.name))
    except OSError:
        return []
    return [path for path in found
            if path.suffix.lower() in SUFFIXES and not path.name.startswith(".")]
