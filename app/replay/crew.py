"""Worker processes, supervised: a page that kills its worker takes no other page with it."""

import contextlib
import multiprocessing
import os
import signal
import time
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import dataclass, field, replace
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from types import TracebackType
from typing import Protocol, Self

from app.replay.leftovers import remove_leftovers
from app.replay.memory import SHARE, free_memory, need_of
from app.replay.worker import Answer, Rows, Task, cores, end_of, serve
from core.fault import Fault

_GRACE = 1.2  # seconds that a page in hand has to reach its next band when a run is stopped
_SPAWN = multiprocessing.get_context("spawn")


@dataclass(frozen=True)
class Begun:
    """A worker has taken this task; ``pid`` is its process."""

    place: int
    pid: int


Event = Begun | Rows | Answer


class Crew(Protocol):
    """Whatever does tasks, ``size`` at a time: processes here, or other machines."""

    size: int

    def work(self, tasks: Sequence[Task]) -> Generator[Event]:
        """Do the tasks, telling how they go; closing the iterator gives up what is left."""
        ...


@dataclass(eq=False)
class _Worker:
    """A process, the pipe for its tasks, and the pipe whose end is the end of its life."""

    process: BaseProcess
    tasks: Connection
    life: Connection
    task: Task | None = None
    retry: bool = False
    need: int = 0


@dataclass(eq=False)
class LocalCrew:
    """One worker process for each core, at most; ``budget`` bytes for all of them together.

    Pages are begun in order, as many as there are cores and as the budget holds; the threads
    within a page are more than one only where fewer pages than cores are left, or fit. A worker
    that dies is replaced, and its page is tried once more, alone. Use it as a context manager.
    """

    size: int = field(default_factory=cores)
    budget: int = field(default_factory=lambda: int(free_memory() * SHARE))
    need: Callable[[Task], int] = lambda task: need_of(task.request, task.threads)
    _workers: list[_Worker] = field(default_factory=list, init=False)
    _next: tuple[Task, int] | None = field(default=None, init=False)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()

    def work(self, tasks: Sequence[Task]) -> Generator[Event]:
        """Do the tasks; answers come as pages end, not in order."""
        waiting, alone = deque(tasks), deque[Task]()
        told: list[Event] = []
        try:
            while waiting or alone or told or self._busy():
                begun = list(self._begin(waiting, alone))
                yield from told  # only now: nobody waits for a page while these are dealt with
                yield from begun
                told = []
                for event in self._events():
                    if isinstance(event, Task):
                        alone.append(event)
                    else:
                        told.append(event)
        finally:
            if self._busy():
                self.stop()

    def _busy(self) -> list[_Worker]:
        return [worker for worker in self._workers if worker.task is not None]

    def _begin(self, waiting: deque[Task], alone: deque[Task]) -> Iterator[Begun]:
        """Give tasks to workers while there is room."""
        if alone and not self._busy():
            yield self._give(replace(alone.popleft(), threads=self.size), retry=True)
        while waiting and not alone and len(busy := self._busy()) < self.size:
            if any(worker.retry for worker in busy):
                return
            task, need = self._sized(waiting[0], len(waiting))
            if busy and sum(worker.need for worker in busy) + need > self.budget:
                return
            waiting.popleft()
            yield self._give(task, need)

    def _sized(self, task: Task, left: int) -> tuple[Task, int]:
        """The task with as many threads as there are cores without a page of their own; its need.

        The need of the page that is next is asked for once, however long it has to wait.
        """
        if self._next is None or self._next[0] is not task:
            self._next = task, self.need(task)
        need = self._next[1]
        abreast = max(1, min(self.size, left + len(self._busy()), self.budget // max(need, 1)))
        if self.size // abreast <= 1:
            return task, need
        task = replace(task, threads=self.size // abreast)
        return task, self.need(task)

    def _give(self, task: Task, need: int = 0, *, retry: bool = False) -> Begun:
        free = [worker for worker in self._workers if worker.task is None]
        worker = free[0] if free else self._start()
        worker.task, worker.need = task, need
        worker.retry = retry
        with contextlib.suppress(OSError):  # it has just died: that is seen in a moment
            worker.tasks.send(task)
        return Begun(task.place, worker.process.pid or 0)

    def _start(self) -> _Worker:
        ours, theirs = _SPAWN.Pipe()
        end, life = _SPAWN.Pipe(duplex=False)
        process = _SPAWN.Process(target=serve, args=(theirs, end), daemon=True, name="page")
        with _without_interrupt():
            process.start()
        theirs.close()
        end.close()
        self._workers.append(_Worker(process, ours, life))
        return self._workers[-1]

    def _events(self) -> Iterator[Rows | Answer | Task]:
        """What the workers tell; a Task is one to be tried again alone."""
        busy = self._busy()
        ready = wait([worker.tasks for worker in busy]) if busy else []
        for worker in busy:
            if worker.tasks not in ready:
                continue
            try:
                told = worker.tasks.recv()
            except (EOFError, OSError):
                yield self._died(worker)
                continue
            if isinstance(told, Answer):
                worker.task = None
            yield told

    def _died(self, worker: _Worker) -> Answer | Task:
        task = worker.task
        assert task is not None
        self._workers.remove(worker)
        worker.process.join()
        worker.life.close()
        worker.tasks.close()
        remove_leftovers(output for _, output in task.request.outputs)
        if not worker.retry:
            return task
        return Answer(task.place, faults=(Fault(
            f"the process that worked on it died twice ({end_of(worker.process.exitcode)})",
            task.request.place,
            "the file may break its decoder: open it and save it anew; or memory ran out",
        ),))

    def stop(self) -> None:
        """End every worker; a page in hand is given up and leaves nothing behind."""
        for worker in self._workers:
            worker.life.close()
            worker.tasks.close()
        until = time.monotonic() + _GRACE
        for worker in self._workers:
            worker.process.join(max(until - time.monotonic(), 0))
            if worker.process.is_alive():
                worker.process.kill()
                worker.process.join()
            if worker.task is not None:
                remove_leftovers(output for _, output in worker.task.request.outputs)
        self._workers.clear()


@contextlib.contextmanager
def _without_interrupt() -> Iterator[None]:
    """A Ctrl-C is for the parent: the child is born deaf to it, and the parent hears it after."""
    if os.name != "posix":
        yield
        return
    resource_tracker.ensure_running()  # begun with the first child, it would let Ctrl-C through
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
