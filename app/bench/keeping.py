"""Keeping the job: after each change on disk, each sitting's in a file of its own."""

import itertools
import logging
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import IO

from app.bench.background import Line, Workers, said
from app.bench.state.places import Places
from app.kinds import KINDS
from app.pages.whole import replace_file
from app.replay.job import Job, dumps_job, loads_job
from app.replay.locking import lock
from core.fault import Refused
from core.steps.outdated import renewing

MOST_KEPT = 40
"""Jobs of earlier sittings that are kept; the oldest go."""

_OFFERED = 12


@dataclass(frozen=True)
class Kept:
    """A job of an earlier sitting, and when it was kept last, in seconds since 1970.

    None where the file cannot be read; ``why`` then says what is wrong with it, or that the job
    is of an older program.
    """

    time: float
    job: Job | None
    why: str = ""


class Keeper:
    """Writes the job in the background; the newest counts, and it is whole or as it was.

    ``failed`` is told once that it cannot be written, until it can again.
    """

    def __init__(
        self, places: Places, workers: Workers, failed: Callable[[Exception], None],
    ) -> None:
        self._places = places
        self._line = Line(workers, self._failed)
        self._tell, self._told = failed, False
        self._path: Path | None = None
        self._mark: IO[bytes] | None = None
        self.last: Kept | None = None

    def begin(self) -> bool:
        """Mark the bench as open, and read the last job; whether the bench was never closed."""
        self._path = None
        self.last = next(self._earlier(), None)
        self._places.state.mkdir(parents=True, exist_ok=True)
        crashed = self._mark_open()
        for path in self._files()[MOST_KEPT:]:
            path.unlink(missing_ok=True)
        return crashed and self.last is not None

    def _mark_open(self) -> bool:
        """Leave a mark for as long as the bench is open; whether one lay there, of no open bench.

        One bench has it to itself: another that is opened beside it has none.
        """
        self._close_mark()
        there = self._places.mark.exists()
        mark = self._places.mark.open("ab")
        try:
            lock(mark.fileno())
        except OSError:
            mark.close()
            return False
        self._mark = mark
        return there

    def _close_mark(self) -> None:
        if self._mark is not None:
            self._mark.close()
            self._mark = None

    @property
    def path(self) -> Path:
        """The file of this sitting's job, which no other sitting writes to."""
        if self._path is None:
            named = self._places.state / time.strftime("job %Y-%m-%d %H.%M.%S.json")
            others = (named.with_stem(f"{named.stem} {n}") for n in itertools.count(2))
            self._path = next(
                path for path in itertools.chain([named], others) if not path.exists())
        return self._path

    def earlier(self) -> tuple[Kept, ...]:
        """The jobs of earlier sittings, the newest first and equal ones once."""
        found: list[Kept] = []
        for kept in self._earlier():
            if len(found) < _OFFERED and all(kept.job != other.job for other in found):
                found.append(kept)
        return tuple(found)

    def _earlier(self) -> Iterator[Kept]:
        for path in self._files():
            kept = _read(path)
            if kept is not None and path != self._path:
                yield kept

    def _files(self) -> list[Path]:
        """The files of all sittings, the one that was written last first."""
        found = self._places.state.glob("job*.json")
        return sorted(found, key=lambda path: path.stat().st_mtime_ns, reverse=True)

    def keep(self, job: Job) -> None:
        """Write this job; one without pages takes the place of none, for it is no work."""
        if job.pages:
            path = self.path
            self._line.ask_again(lambda _: _write(path, job), self._kept)

    @property
    def busy(self) -> bool:
        """Whether a job is still being written."""
        return self._line.busy

    def _kept(self, _: object) -> None:
        self._told = False

    def _failed(self, error: Exception) -> None:
        if not self._told:
            self._told = True
            self._tell(error)

    def end(self, job: Job) -> None:
        """The bench closes in order."""
        try:
            if job.pages:
                _write(self.path, job)
        except Refused:  # it was said when it was to be kept before
            logging.getLogger("stetline").exception("the job is not kept")
        if self._mark is not None:
            self._close_mark()
            with suppress(OSError):
                self._places.mark.unlink(missing_ok=True)


def _read(path: Path) -> Kept | None:
    """The job in a file; None where there is no file, or the job has no pages."""
    try:
        when, text = path.stat().st_mtime, path.read_bytes()
    except OSError:
        return None
    try:
        job, outdated = renewing(partial(loads_job, text, KINDS, path.name))
    except Refused as refused:
        first, *more = refused.faults
        return Kept(when, None, f"{first} (+ {len(more)})" if more else str(first))
    why = said(outdated) if outdated else ""
    return Kept(when, job, why) if job.pages else None


def _write(path: Path, job: Job) -> None:
    replace_file(path, dumps_job(job).encode("ascii"))
