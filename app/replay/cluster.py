"""More than one machine: the same tasks, sent to a Dask distributed scheduler.

Scans and outputs lie on storage that every machine sees under one path, and each has this
program, in one version, or bytes may differ.
"""

from collections.abc import Generator, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from distributed import Client, Future, Security, as_completed
from distributed.scheduler import KilledWorker

from app.replay.crew import Event
from app.replay.leftovers import remove_leftovers
from app.replay.worker import Answer, Task, do
from core.fault import Fault, Refused

_PATIENCE = "15s"


@dataclass(frozen=True)
class Tls:
    """The files by which the machines know each other; None where there is none."""

    ca_file: Path | None = None
    cert: Path | None = None
    key: Path | None = None

    def security(self) -> Security | None:
        """As the library takes it; None where no file was named."""
        given = {"tls_ca_file": self.ca_file, "tls_client_cert": self.cert,
                 "tls_client_key": self.key}
        named = {name: str(path) for name, path in given.items() if path is not None}
        return Security(require_encryption=True, **named) if named else None


class ClusterCrew:
    """The workers of a scheduler; as a context manager, connected.

    A page whose worker is lost is sent to another, as often as the scheduler allows (its own
    setting ``allowed-failures``, three unless it was changed).
    """

    def __init__(self, address: str, tls: Tls = Tls()) -> None:
        self._address, self._tls = address, tls
        self._client: Any = None
        self.size = 1

    def __enter__(self) -> Self:
        try:
            self._client = Client(
                self._address, security=self._tls.security(), timeout=_PATIENCE,
                set_as_default=False,
            )
        except (OSError, ValueError, TypeError) as error:
            raise Refused(Fault(
                f"the scheduler cannot be reached ({error})", self._address,
                "check its address, that it runs, and its TLS files",
            )) from error
        self.size = max(sum(self._client.nthreads().values()), 1)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._client.close()

    def work(self, tasks: Sequence[Task]) -> Generator[Event]:
        """Do the tasks; answers come as pages end, not in order."""
        with self._sent(tasks) as sent:
            for future in as_completed(list(sent), loop=self._client.loop):
                answer = _answer(sent.pop(future), future)
                future.release()  # or it is done once more if the worker that holds it is lost
                yield answer

    @contextmanager
    def _sent(self, tasks: Sequence[Task]) -> Iterator[dict[Future, Task]]:
        whole = [_with_whole_paths(task) for task in tasks]
        sent = {
            self._client.submit(do, task, pure=False, priority=-task.place): task
            for task in whole
        }
        try:
            yield sent
        finally:
            self._client.cancel(list(sent))
            remove_leftovers(path for task in whole for _, path in task.request.outputs)


def _with_whole_paths(task: Task) -> Task:
    request = task.request
    page = replace(request.page, path=request.page.path.absolute())
    outputs = tuple((form, path.absolute()) for form, path in request.outputs)
    return replace(task, request=replace(request, page=page, outputs=outputs))


def _answer(task: Task, future: Future) -> Answer:
    try:
        answer: Answer = future.result()
    except KilledWorker:
        why = "the workers that took it died, one after the other"
    except Exception as error:  # noqa: BLE001 - whatever happened there, the run here goes on
        why = f"it was lost on another machine ({type(error).__name__}: {error})"
    else:
        return answer
    return Answer(task.place, faults=(Fault(
        why, task.request.place, "its file may break the decoder; or look at the workers' logs",
    ),))
