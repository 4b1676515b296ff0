"""Which pages there are in the files and folders that a person names."""

import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from app.pages.formats import NAMES, SUFFIXES
from app.pages.limits import Limits
from app.pages.read import count_pages
from app.pages.refusing import naming, refuse
from app.pages.scan import place_of
from app.pages.true_paths import true_paths
from core.fault import Fault, Refused


@dataclass(frozen=True)
class PageAt:
    """A page by its place: ``number``, from 1, of the ``count`` pages of the file at ``path``."""

    path: Path
    number: int
    count: int


@dataclass(frozen=True)
class Listed:
    """What a name stands for: a page; one that cannot be read, with ``faults``; or no page.

    A file whose pages cannot be counted stands for one.
    """

    page: PageAt | None
    faults: tuple[Fault, ...] = ()


def find_pages(
    paths: Iterable[Path],
    limits: Limits = Limits(),  # noqa: B008 - frozen
) -> Iterator[Listed]:
    """Every page of these files and folders, in their place also those that cannot be read.

    Paths keep their order. A folder gives the scans that lie in it, not in folders
    below, in natural order; hidden files are passed over. A file named twice counts once.
    """
    seen: set[Path] = set()
    for path in paths:
        try:
            files = _files(path)
        except Refused as refused:
            yield Listed(None, refused.faults)
            continue
        for file, place in zip(files, true_paths(files), strict=True):
            if place not in seen:
                seen.add(place)
                yield from _pages(file, limits)


def book_pages(
    paths: Iterable[Path],
    limits: Limits = Limits(),  # noqa: B008 - frozen
) -> tuple[tuple[PageAt, ...], tuple[Fault, ...]]:
    """The pages of a book, in their place also those that cannot be read, and other faults.

    What is wrong with a page is found again when it is read. Raises ``Refused`` where names
    are given and not one page can be read.
    """
    found = list(find_pages(paths, limits))
    if found and all(each.faults for each in found):
        raise Refused([fault for each in found for fault in each.faults])
    others = tuple(fault for each in found if each.page is None for fault in each.faults)
    return tuple(each.page for each in found if each.page), others


def list_pages(
    paths: Iterable[Path],
    limits: Limits = Limits(),  # noqa: B008 - frozen
) -> tuple[tuple[PageAt, ...], tuple[Fault, ...]]:
    """The pages of these files and folders that can be read, and a fault for each other."""
    found = list(find_pages(paths, limits))
    pages = tuple(each.page for each in found if each.page and not each.faults)
    return pages, tuple(fault for each in found for fault in each.faults)


def natural_key(name: str) -> tuple[list[tuple[int, int, str]], str]:
    """Sorts names as a person does: by numbers where there are numbers, capitals or not.

    >>> sorted(["p10.tif", "P2.tif", "p1.tif"], key=natural_key)
    ['p1.tif', 'P2.tif', 'p10.tif']
    """
    parts = re.findall(r"([0-9]+)|([^0-9]+)", name.casefold())
    return [(0, int(digits), "") if digits else (1, 0, text) for digits, text in parts], name


def _files(path: Path) -> list[Path]:
    with naming(place_of(path)):
        if not path.is_dir():
            return [path]
        with os.scandir(path) as entries:
            found = [
                file for entry in entries if entry.is_file()
                and (file := path / entry.name).suffix.lower() in SUFFIXES
                and not entry.name.startswith(".")
            ]
        if not found:
            raise refuse("the folder holds no scans", f"give one that holds {NAMES} files")
        return sorted(found, key=lambda file: natural_key(file.name))


def _pages(file: Path, limits: Limits) -> Iterator[Listed]:
    try:
        count = count_pages(file, limits)
    except Refused as refused:
        yield Listed(PageAt(file, 1, 1) if file.is_file() else None, refused.faults)
        return
    for number in range(1, count + 1):
        yield Listed(PageAt(file, number, count))
