"""Work on many bands at once, results in order."""

from collections import deque
from collections.abc import Callable, Generator, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

_Item = TypeVar("_Item")
_Result = TypeVar("_Result")


def in_order(
    work: Callable[[_Item], _Result], items: Iterable[_Item], workers: int
) -> Generator[_Result]:
    """``map`` on threads: at most twice as many results wait as there are workers.

    One worker needs no thread. The first exception is raised in its place and no further
    item is begun; the same when the iterator is closed early. Close it, or exhaust it.

    >>> list(in_order(abs, [-1, 2, -3], workers=2))
    [1, 2, 3]
    """
    if workers <= 1:
        yield from map(work, items)
        return
    with ThreadPoolExecutor(workers) as pool:
        waiting: deque[Future[_Result]] = deque()
        try:
            for item in items:
                waiting.append(pool.submit(work, item))
                if len(waiting) >= 2 * workers:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()
