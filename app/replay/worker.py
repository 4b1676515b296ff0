"""What one worker process does: pages, one after the other, as they are sent to it."""

import logging
import os
import signal
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection

from app.pages.refusing import naming
from app.replay.digest import Stamp, digest_of, stamp_of
from app.replay.figures import Look, survey_look
from app.replay.page import Done, Request, read_page, replay_page
from core.fault import Cancelled, Fault, Refused, Watch, unwatched

_TELL = 0.1  # seconds between two reports on one page


@dataclass(frozen=True)
class Task:
    """A page to be done: ``place`` is where it stands in the run.

    ``survey`` only looks at the page and writes nothing. ``threads`` share its bands.
    """

    place: int
    request: Request
    threads: int = 1
    survey: bool = False
    durable: bool = True
    figures: bool = True


@dataclass(frozen=True)
class Rows:
    """How far a page is."""

    place: int
    done: int
    total: int


@dataclass(frozen=True)
class Answer:
    """How a task ended: ``done``, ``look`` or ``faults``. ``seconds`` is what it took.

    ``scan`` and ``outputs`` are what the files were: size, time and digest.
    """

    place: int
    done: Done | None = None
    look: Look | None = None
    faults: tuple[Fault, ...] = ()
    seconds: float = 0.0
    scan: Stamp | None = None
    outputs: tuple[Stamp, ...] = ()


def do(task: Task, watch: Watch = unwatched) -> Answer:
    """Do one task; whatever goes wrong with its page is in the answer. Raises only Cancelled."""
    begun = time.monotonic()
    try:
        answer = _survey(task) if task.survey else _replay(task, watch)
    except Refused as refused:
        answer = Answer(task.place, faults=refused.faults)
    except Cancelled:
        raise
    except OSError as error:
        answer = Answer(task.place, faults=_faults_of(error, task.request.place))
    except MemoryError:
        answer = Answer(task.place, faults=(Fault(
            "there is too little memory for it", task.request.place, "close other programs",
        ),))
    except Exception as error:
        logging.getLogger(__name__).exception("a page ended by a mistake of the program")
        answer = Answer(task.place, faults=(Fault(
            f"a mistake in this program ended the page ({type(error).__name__}: {error})",
            task.request.place, "please file it with the scan",
        ),))
    return replace(answer, seconds=time.monotonic() - begun)


def _faults_of(error: OSError, place: str) -> tuple[Fault, ...]:
    """What the system refused; or the refusal that it came on top of, while tidying up."""
    if isinstance(error.__context__, Refused):
        return error.__context__.faults
    why = (error.strerror or type(error).__name__).lower()
    return (Fault(f"the system refuses ({why})", place, "try again, or copy the scan"),)


def _survey(task: Task) -> Answer:
    return Answer(task.place, look=survey_look(read_page(task.request.page, task.request.reading)))


def _replay(task: Task, watch: Watch) -> Answer:
    path = task.request.page.path
    with naming(task.request.place):
        scan = stamp_of(path)  # before it is read: a later change is then seen as one
    done = replay_page(
        task.request, workers=task.threads, durable=task.durable, figures=task.figures,
        watch=watch,
    )
    return Answer(
        task.place, done=done, scan=Stamp(scan.size, scan.time, digest_of(path)),
        outputs=tuple(stamp_of(output, digest=True) for output in done.outputs),
    )


def serve(tasks: Connection, life: Connection) -> None:
    """Take tasks and send answers until the sender closes ``tasks``; its death is noticed.

    When ``life`` closes the page in hand is given up at its next band, leaving no half file.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides what ends
    over = threading.Event()
    threading.Thread(target=_notice_end, args=(life, over), daemon=True).start()
    try:
        while not over.is_set():
            task: Task = tasks.recv()
            tasks.send(do(task, _teller(tasks.send, task.place, over)))
    except (EOFError, OSError, Cancelled):
        return


def _notice_end(life: Connection, over: threading.Event) -> None:
    try:
        life.recv()
    except (EOFError, OSError):
        over.set()


def _teller(
    send: Callable[[Rows], None], place: int, over: threading.Event,
) -> Watch:
    """A watch that reports now and then, and ends the page when the run is over."""
    told = time.monotonic()

    def watch(done: int, total: int) -> None:
        nonlocal told
        if over.is_set():
            raise Cancelled
        if time.monotonic() - told >= _TELL:
            told = time.monotonic()
            send(Rows(place, done, total))

    return watch


def end_of(code: int | None) -> str:
    """How a process ended, in words.

    >>> end_of(-9)
    'signal 9, SIGKILL'
    >>> end_of(3)
    'exit status 3'
    """
    if code is None or code >= 0:
        return f"exit status {code}"
    try:
        return f"signal {-code}, {signal.Signals(-code).name}"
    except ValueError:
        return f"signal {-code}"


def cores() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
