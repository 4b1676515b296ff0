"""What can go wrong in a way that a person can mend."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong, where, and what to do about it.

    ``what`` is a clause without a full stop, ``where`` names the file, step or
    field (may be empty), ``remedy`` is a clause that tells the person what to do.

    >>> print(Fault("the file holds no bytes", "page-07.tif", "scan the page again"))
    page-07.tif: the file holds no bytes; scan the page again.
    """

    what: str
    where: str = ""
    remedy: str = ""

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        mend = f"; {self.remedy}" if self.remedy else ""
        return f"{place}{self.what}{mend}."


class Refused(Exception):  # noqa: N818 - it is not an error of the program
    """Raised when work cannot go on; carries every fault found, not only the first.

    >>> raise Refused([Fault("one"), Fault("two", "step 3")])
    Traceback (most recent call last):
    ...
    core.fault.Refused: one.
    step 3: two.
    """

    def __init__(self, faults: Fault | Iterable[Fault]) -> None:
        self.faults = (faults,) if isinstance(faults, Fault) else tuple(faults)
        super().__init__(self.faults)

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


class Cancelled(Exception):  # noqa: N818 - it is not an error of the program
    """Raised by a ``Watch`` to stop long work between two bands."""


Watch = Callable[[int, int], None]
"""``watch(done, total)`` is called per band of rows; it may raise ``Cancelled``."""


def unwatched(done: int, total: int) -> None:
    """Watch nothing.

    >>> unwatched(1, 2)
    """
