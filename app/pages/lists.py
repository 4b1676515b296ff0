"""Step lists on disk."""

from pathlib import Path

from app.pages.whole import replace_file
from core.fault import Fault, Refused
from core.steps.document import MOST_BYTES, Kinds, dumps, loads
from core.steps.steplist import StepList


def read_list(path: Path, kinds: Kinds) -> StepList:
    """The list in a file; Refused with every fault in it, each with its place."""
    try:
        with path.open("rb") as file:
            text = file.read(MOST_BYTES + 1)  # one more than allowed, to see that it is too long
    except OSError as error:
        why = error.strerror or str(error)
        raise Refused(
            Fault(f"the step list cannot be read ({why})", str(path), "check its name"),
        ) from None
    return loads(text, kinds, path.name)


def write_list(path: Path, steps: StepList) -> None:
    """Write the list; the file is whole or as it was."""
    replace_file(path, dumps(steps).encode("ascii"))
