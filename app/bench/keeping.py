"""Keeping the job: after each change on disk, offered back after a crash."""

from pathlib import Path

from app.bench.background import Line, Workers
from app.bench.state.places import Places
from app.kinds import KINDS
from app.pages.whole import replace_file
from app.replay.job import Job, dumps_job, loads_job
from core.fault import Refused


class Keeper:
    """Writes the job in the background; the newest counts, and it is whole or as it was."""

    def __init__(self, places: Places, workers: Workers) -> None:
        self._places = places
        self._line = Line(workers, self._failed)
        self.fault = ""
        self.last: Job | None = None

    def begin(self) -> bool:
        """Mark the bench as open, and read the last job; whether the bench was never closed."""
        crashed = self._places.mark.exists()
        self.last = last_job(self._places.job)
        self._places.state.mkdir(parents=True, exist_ok=True)
        self._places.mark.touch()
        return crashed and self.last is not None

    def keep(self, job: Job) -> None:
        """Write this job; one without pages takes the place of none, for it is no work."""
        path = self._places.job
        if job.pages:
            self._line.ask_again(lambda _: _write(path, job), self._kept)

    @property
    def busy(self) -> bool:
        """Whether a job is still being written."""
        return self._line.busy

    def _kept(self, _: object) -> None:
        self.fault = ""

    def _failed(self, error: Exception) -> None:
        self.fault = str(error)

    def end(self, job: Job) -> None:
        """The bench closes in order."""
        try:
            if job.pages:
                _write(self._places.job, job)
        except Refused as refused:
            self.fault = str(refused)
        self._places.mark.unlink(missing_ok=True)


def last_job(path: Path) -> Job | None:
    """The job in a file; None where there is none that can be read, or it has no pages."""
    try:
        job = loads_job(path.read_bytes(), KINDS, path.name)
    except (OSError, Refused):
        return None
    return job if job.pages else None


def _write(path: Path, job: Job) -> None:
    replace_file(path, dumps_job(job).encode("ascii"))
