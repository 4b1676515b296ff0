"""Step lists on disk."""

from pathlib import Path

from app.pages.small import read_small
from app.pages.whole import replace_file
from core.steps.document import MOST_BYTES, Kinds, dumps, loads
from core.steps.steplist import StepList


def read_list(path: Path, kinds: Kinds, *, renew: bool = False) -> StepList:
    """The list in a file; Refused with every fault in it, each with its place."""
    text = read_small(path, MOST_BYTES, "the step list")
    return loads(text, kinds, path.name, renew=renew)


def write_list(path: Path, steps: StepList) -> None:
    """Write the list; the file is whole or as it was."""
    replace_file(path, dumps(steps).encode("ascii"))
