"""Where files truly lie, links followed: quickly for many files of few folders."""

import os
from collections.abc import Iterable, Iterator
from pathlib import Path


def true_paths(paths: Iterable[Path]) -> Iterator[Path]:
    """Each path with its links followed, as ``Path.resolve`` gives it; a folder is followed once.

    >>> list(true_paths([Path("/a/../b/p1.tif"), Path("/a/../b/p2.tif")])) == [
    ...     Path("/b/p1.tif"), Path("/b/p2.tif")]
    True
    """
    folders: dict[str, str] = {}  # names compare faster than paths
    for path in paths:
        folder, name = os.path.split(path)
        if name in ("", ".", "..") or path.is_symlink():
            yield path.resolve()
        else:
            if folder not in folders:
                folders[folder] = os.path.realpath(folder)
            # a path as it is costs far less than a new one
            yield path if folders[folder] == folder else Path(folders[folder], name)
