"""Faults of files in one place: who says what, and how a name is put before it."""

import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

from core.fault import Fault, Refused

ENDS_EARLY = Fault("the file ends before the picture does", remedy="scan or copy it again")
BROKEN = Fault("its picture data are broken", remedy="scan or copy it again")

DECODER_ERRORS = (
    RuntimeError, ValueError, TypeError, LookupError, ArithmeticError, EOFError, zlib.error,
)  # fmt: skip
"""What decoders were seen to raise on broken data; imagecodecs' own are RuntimeErrors."""


def refuse(what: str, remedy: str) -> Refused:
    """A refusal that does not yet know its file; ``naming`` adds that.

    >>> print(refuse("it holds no bytes", "scan the page again"))
    it holds no bytes; scan the page again.
    """
    return Refused(Fault(what, remedy=remedy))


@contextmanager
def naming(where: str) -> Iterator[None]:
    """Put ``where`` before every fault raised inside that has no place yet.

    What the system refuses (no such file, no leave to read, no memory) becomes a fault too.

    >>> with naming("page-07.tif"):
    ...     raise Refused(ENDS_EARLY)
    Traceback (most recent call last):
    ...
    core.fault.Refused: page-07.tif: the file ends before the picture does; scan or copy it again.
    """
    try:
        yield
    except Refused as refused:
        faults = [replace(fault, where=fault.where or where) for fault in refused.faults]
        raise Refused(faults) from refused
    except OSError as error:
        raise Refused(replace(_from_system(error), where=where)) from error
    except MemoryError as error:
        too_large = Fault("there is too little memory for it", where, "close other programs")
        raise Refused(too_large) from error


@contextmanager
def decoding(fault: Fault = BROKEN) -> Iterator[None]:
    """Turn whatever a decoder raises inside into ``fault``.

    >>> with decoding():
    ...     raise ValueError("not a JPEG")
    Traceback (most recent call last):
    ...
    core.fault.Refused: its picture data are broken; scan or copy it again.
    """
    try:
        yield
    except DECODER_ERRORS as error:
        raise Refused(fault) from error


def _from_system(error: OSError) -> Fault:
    match error:
        case FileNotFoundError():
            return Fault("there is no such file", remedy="check its name and its disk")
        case PermissionError():
            return Fault("it may not be read", remedy="ask its owner, or change its permissions")
        case IsADirectoryError():
            return Fault("it is a folder, not a scan", remedy="give the scans in it, or the folder")
        case _:
            why = error.strerror or type(error).__name__
            return Fault(f"it cannot be read ({why.lower()})", remedy="copy it again")
