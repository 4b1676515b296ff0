"""Lists of older programs: refused as they are, and brought up to date when that is asked for."""

from collections.abc import Callable
from typing import TypeVar

from core.fault import Refused

RENEW = "“stetline renew” brings it up to date"
"""How the command line remedies steps of older editions."""

T = TypeVar("T")


class Outdated(Refused):
    """Nothing is wrong but that steps are of older editions: read with ``renew``, all is well."""


def renewing(read: Callable[..., T]) -> tuple[T, Outdated | None]:
    """What ``read(renew=...)`` reads, brought up to date where it must be, and why it must.

    Refused where more is wrong.

    >>> renewing(lambda renew: renew)
    (False, None)
    """
    try:
        return read(renew=False), None
    except Outdated as outdated:
        return read(renew=True), outdated
