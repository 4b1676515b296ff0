"""What a process that was killed left beside its outputs."""

import os
import shutil
from collections.abc import Iterable
from pathlib import Path

from app.pages.whole import MARK_BYTES


def remove_leftovers(outputs: Iterable[Path]) -> None:
    """Remove the temporary files and folders of these outputs, whoever left them.

    Only for outputs that nobody is writing. What cannot be removed stays.
    """
    folders: dict[Path, set[str]] = {}
    for output in outputs:
        folders.setdefault(output.parent, set()).add(output.name)
    for folder, names in folders.items():
        try:
            entries = list(os.scandir(folder))
        except OSError:
            continue
        for entry in entries:
            if entry.name[0] == "." and _target_of(entry.name) in names:
                _remove(entry)


def _target_of(name: str) -> str:
    """The output that a temporary name stands for; see ``app.pages.whole``."""
    return name[1 : len(name) - MARK_BYTES + 1]


def _remove(entry: os.DirEntry[str]) -> None:
    if entry.is_dir(follow_symlinks=False):
        shutil.rmtree(entry.path, ignore_errors=True)
    else:
        Path(entry.path).unlink(missing_ok=True)
