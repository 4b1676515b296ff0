"""Work off the screen's thread: pure functions go in, their answers come back by signal."""

import logging
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal

from app.bench.state.saying import told
from core.fault import Cancelled, Refused, Watch
from core.sheet import Each

_LOG = logging.getLogger("stetline")

Work = Callable[[Watch], Any]
Taken = Callable[[Any], None]

_TURN = 0.001  # s; how long a thread may keep the interpreter while the screen's waits for it
_LINES = 8  # lines of work that may run at one time; each runs one thing at once


class Workers(QObject):
    """The bench's threads: one pool for the lines of work, one for the bands of a page."""

    _came = Signal(object)

    def __init__(self, cores: int) -> None:
        super().__init__()
        sys.setswitchinterval(_TURN)
        self.cores = cores
        self.closed = False
        self._lines = ThreadPoolExecutor(_LINES, thread_name_prefix="line")
        self._bands = ThreadPoolExecutor(cores, thread_name_prefix="band")
        self._came.connect(self._call, Qt.ConnectionType.QueuedConnection)

    @property
    def each(self) -> Each:
        """``map`` over bands by all cores."""
        return self._bands.map

    def start(self, work: Callable[[], None]) -> None:
        """Run it in a thread of its own line; not once the bench is closed."""
        if not self.closed:
            self._lines.submit(work)

    def back(self, call: Callable[[], None]) -> None:
        """Have it called in the screen's thread."""
        self._came.emit(call)

    def _call(self, call: Callable[[], None]) -> None:
        if not self.closed:
            call()

    def close(self) -> None:
        """Stop what runs at its next band and wait for it, drop what waits."""
        self.closed = True
        self._lines.shutdown(wait=True, cancel_futures=True)
        self._bands.shutdown(wait=True, cancel_futures=True)


class Line:
    """One line of work in which only the newest request counts.

    A request that comes while another runs takes its place: the older one is asked to stop
    at its next band, and its answer, should there be one, is dropped by its generation.
    """

    def __init__(
        self, workers: Workers, failed: Callable[[Exception], None],
        progress: Callable[[int, int], None] | None = None,
    ) -> None:
        self._workers = workers
        self._failed = failed
        self._progress = progress
        self._generation = 0
        self._running = False
        self._waiting: tuple[Work, Taken, bool] | None = None

    @property
    def busy(self) -> bool:
        """Whether an answer that still counts is on its way."""
        return self._running or self._waiting is not None

    def ask(self, work: Work, taken: Taken) -> None:
        """Have the work done and its answer taken, unless something newer comes first."""
        self._generation += 1
        self._waiting = (work, taken, False)
        self._next()

    def ask_again(self, work: Work, taken: Taken, *, here: bool = False) -> None:
        """The same, but what runs may end and be taken: frames of a drag that follow each other.

        ``here`` is for work of a few milliseconds: it is done in the screen's own thread, when
        that next comes round, for to hand it over and back would take as long again.
        """
        self._waiting = (work, taken, here)
        self._next()

    def drop(self) -> None:
        """No answer counts any more."""
        self._generation += 1
        self._waiting = None

    def _next(self) -> None:
        if self._running or self._waiting is None:
            return
        (work, taken, here), self._waiting = self._waiting, None
        self._running = True
        generation = self._generation
        begin = self._workers.back if here else self._workers.start
        begin(lambda: self._run(work, taken, generation, here=here))

    def _run(self, work: Work, taken: Taken, generation: int, *, here: bool) -> None:
        def watch(done: int, total: int) -> None:
            if generation != self._generation or self._workers.closed:
                raise Cancelled
            if self._progress is not None:
                tell = self._progress
                self._workers.back(
                    lambda: tell(done, total) if generation == self._generation else None)

        answer: Any = None
        error: Exception | None = None
        try:
            answer = work(watch)
        except Cancelled:
            generation = -1
        except Exception as caught:  # noqa: BLE001 - it is reported on the screen
            error = caught
            if not isinstance(caught, Refused):
                _LOG.exception("work in the background")
        if here:
            self._end(answer, error, taken, generation)
        else:
            self._workers.back(lambda: self._end(answer, error, taken, generation))

    def _end(
        self, answer: Any, error: Exception | None, taken: Taken, generation: int,
    ) -> None:
        self._running = False
        current = generation == self._generation
        self._next()
        if not current:
            return
        if error is not None:
            self._failed(error)
        else:
            taken(answer)


def said(error: Exception) -> str:
    """An error in words: its faults, or that it is a mistake of the program's."""
    if isinstance(error, Refused):
        return "\n".join(told(error.faults))
    return f"This is a mistake of the program: {type(error).__name__}: {error}"
