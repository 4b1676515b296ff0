"""Strips of rows, worked side by side on as many threads as OpenCV may use."""

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from queue import SimpleQueue
from typing import TypeVar

import cv2

ROWS = 256
"""Rows in a strip: few enough that a strip of an A3 page stays near the processor."""

Strip = tuple[slice, slice, slice]
"""Rows to make, the same with a halo around them, and where they lie within that."""

S = TypeVar("S")
T = TypeVar("T")


def strips(height: int, halo: int = 0, rows: int = ROWS) -> list[Strip]:
    """A page of ``height`` rows in strips, each with up to ``halo`` rows more on either side.

    >>> strips(300, 10)[1]
    (slice(256, 300, None), slice(246, 300, None), slice(10, 54, None))
    """
    made = []
    for top in range(0, height, rows):
        bottom = min(top + rows, height)
        start = max(top - halo, 0)
        made.append((slice(top, bottom), slice(start, min(bottom + halo, height)),
                     slice(top - start, bottom - start)))
    return made


def side_by_side(work: Callable[[S], None], parts: Iterable[S]) -> None:
    """Do ``work`` on every part, in any order; each writes where no other reads or writes.

    The threads are those that OpenCV was given: one in a worker that shares the machine with
    others, so that nothing is started there.

    >>> done = []
    >>> side_by_side(done.append, [1, 2])
    >>> sorted(done)
    [1, 2]
    """
    threads = cv2.getNumThreads()
    if threads < 2:
        for part in parts:
            work(part)
        return
    # each thread takes part after part: a task for every part costs as much as a small part's work
    waiting: SimpleQueue[S | None] = SimpleQueue()
    for one in (*parts, *[None] * threads):
        waiting.put(one)

    def take_turns(_: int) -> None:
        for taken in iter(waiting.get, None):
            work(taken)

    with ThreadPoolExecutor(threads, thread_name_prefix="strip") as pool:
        for _ in pool.map(take_turns, range(threads)):
            pass


def both(one: Callable[[], S], other: Callable[[], T]) -> tuple[S, T]:
    """What two pieces of work come to that need nothing of each other, done at the same time.

    With a single thread one after the other.

    >>> both(lambda: 1, lambda: "two")
    (1, 'two')
    """
    if cv2.getNumThreads() < 2:
        return one(), other()
    with ThreadPoolExecutor(1, thread_name_prefix="beside") as pool:
        coming = pool.submit(other)
        return one(), coming.result()
