"""Small files that are read whole: lists, jobs, presses, profiles, palettes."""

from pathlib import Path

from core.fault import Fault, Refused


def read_small(path: Path, most: int, called: str, where: str | None = None) -> bytes:
    """All bytes of a file, or ``most`` and one more, by which its reader sees that it is too long.

    ``called`` is what the fault calls it, ``where`` its place if that is not the file's own.
    Refused where the system does not give it.

    >>> read_small(Path("nowhere.json"), 9, "the step list")
    Traceback (most recent call last):
    ...
    core.fault.Refused: nowhere.json: the step list cannot be read (no such file or directory); \
check its name.
    """
    try:
        with path.open("rb") as file:
            return file.read(most + 1)
    except OSError as error:
        why = (error.strerror or type(error).__name__).lower()
        place = str(path) if where is None else where
        may = "ask its owner, or change its permissions"
        remedy = may if isinstance(error, PermissionError) else "check its name"
        raise Refused(Fault(f"{called} cannot be read ({why})", place, remedy)) from error
