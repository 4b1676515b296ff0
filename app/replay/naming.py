"""What outputs are called and into which folders they go: a pattern with a few words in braces."""

import os
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Literal

from app.pages.listing import PageAt
from app.pages.names import LONGEST, Guard, caseless, plan_outputs, safe_stem, safe_text
from app.pages.renditions import Rendition
from app.pages.true_paths import true_paths
from core.fault import Fault, Refused

WORDS = ("stem", "number", "side", "list", "rendition")
"""What may stand in braces."""

PLAIN = "{stem}-{rendition}"

Side = Literal["left", "right"]

_LAST_DIGITS = re.compile(r"[0-9]+(?=[^0-9]*$)")


@dataclass(frozen=True)
class Naming:
    """How outputs are named.

    ``pattern`` may hold ``{stem}`` (the scan's name), ``{number}`` (of the page in this run,
    counted from ``start`` and padded with zeros to ``padding`` digits), ``{side}`` (left or
    right, the first page lying on the side ``first``), ``{list}`` (the step list's name) and
    ``{rendition}``. ``folders``: "flatten" puts all into one folder, "keep" repeats those that
    the scans lie in.
    """

    pattern: str = PLAIN
    start: int = 1
    padding: int = 3
    first: Side = "right"
    folders: Literal["flatten", "keep"] = "flatten"

    def __post_init__(self) -> None:
        self._check_pattern()
        if not 0 <= self.start <= 1_000_000 or not 1 <= self.padding <= 12:
            raise Refused(Fault("page numbers start at 0 or later and have 1 to 12 digits",
                                "the names of outputs", "number them otherwise"))

    def _check_pattern(self) -> None:
        words = re.findall(r"\{([^{}]*)\}", self.pattern)
        unknown = [word for word in words if word not in WORDS]
        bare = re.sub(r"\{[^{}]*\}", "", self.pattern)
        if unknown or "{" in bare or "}" in bare:
            known = ", ".join(f"{{{word}}}" for word in WORDS)
            raise Refused(Fault(
                f"the pattern {self.pattern} cannot be read", "the names of outputs",
                f"in braces may stand {known}",
            ))
        if not {"stem", "number"} & set(words):
            raise Refused(Fault(
                f"the pattern {self.pattern} gives all pages one name", "the names of outputs",
                "put {stem} or {number} into it",
            ))

    def side(self, place: int) -> Side:
        """The side of a spread on which a page lies; ``place`` counts the pages from 0.

        >>> Naming().side(1), Naming(first="left").side(1)
        ('left', 'right')
        """
        other: dict[Side, Side] = {"left": "right", "right": "left"}
        return other[self.first] if place % 2 else self.first

    def stem(self, page: PageAt, place: int, rendition: Rendition, list_name: str) -> str:
        """The name of one output, without its suffix; ``place`` counts the pages from 0.

        >>> from app.pages.renditions import Line
        >>> page = PageAt(Path("scans/inks 07.tif"), 1, 1)
        >>> Naming("{number}-{side}").stem(page, 1, Line(), "")
        '002-left'
        """
        several = f"-p{page.number:03}" if page.count > 1 else ""
        words = {
            "stem": page.path.stem + several, "number": f"{self.start + place:0{self.padding}}",
            "side": self.side(place), "list": list_name or "list",
            "rendition": rendition.name,
        }
        return re.sub(r"\{(\w+)\}", lambda found: safe_text(words[found[1]]), self.pattern)


Targets = tuple[tuple[Path, ...] | Fault, ...]


def name_outputs(
    pages: Sequence[PageAt], lists: Sequence[str], renditions: Sequence[Rendition], folder: Path,
    naming: Naming,
) -> Targets:
    """For each page a path for each rendition, or why it can have none.

    ``lists`` are the names of the pages' step lists. No two outputs meet in one name, and none
    in a scan's.
    """
    folders = _folders(pages, folder, naming)
    if naming.pattern == PLAIN:
        return _plainly(pages, renditions, folders)
    met = _Met(set(true_paths(page.path for page in pages)))
    return tuple(
        met.named(page, [
            into / _file_name(naming.stem(page, place, form, list_name), form)
            for form in renditions
        ])
        for place, (page, list_name, into) in enumerate(zip(pages, lists, folders, strict=True))
    )


def _file_name(stem: str, rendition: Rendition) -> str:
    ending = Path(f"x{rendition.suffix}").suffix
    return safe_stem(stem, "", LONGEST - len(ending)) + ending


def _plainly(
    pages: Sequence[PageAt], renditions: Sequence[Rendition], folders: Sequence[Path],
) -> Targets:
    """The plain names, folder by folder: only within one can two pages meet."""
    scans = {page.path for page in pages}
    planned: dict[int, tuple[Path, ...] | Fault] = {}
    for folder in dict.fromkeys(folders):
        places = [place for place, into in enumerate(folders) if into == folder]
        here = [pages[place] for place in places]
        others = scans.difference(page.path for page in here)
        made = plan_outputs(here, renditions, folder, others)
        planned.update(zip(places, made, strict=True))
    return tuple(planned[place] for place in range(len(pages)))


class _Met:
    """The names given so far, and the scans."""

    def __init__(self, scans: set[Path]) -> None:
        self._scans = scans
        self._guards: dict[Path, Guard] = {}
        self._taken: dict[str, str] = {}

    def named(self, page: PageAt, targets: list[Path]) -> tuple[Path, ...] | Fault:
        """The targets, if all are free; they are then the page's."""
        names = [caseless(str(target)) for target in targets]
        if len(set(names)) < len(names):
            return Fault("two renditions would be written to one name", page.path.name,
                         "put {rendition} into the pattern")
        for target, name in zip(targets, names, strict=True):
            if name in self._taken:
                return Fault(
                    f"{target.name} is also the name of an output of {self._taken[name]}",
                    page.path.name, "put more into the pattern, such as {number}",
                )
            if target.parent not in self._guards:
                self._guards[target.parent] = Guard(self._scans, target.parent)
            if self._guards[target.parent].holds(target):
                return Fault(f"{target.name} would be written over, and it is a scan",
                             page.path.name, "write into another folder")
        self._taken |= dict.fromkeys(names, page.path.name)
        return tuple(targets)


def _folders(pages: Sequence[PageAt], folder: Path, naming: Naming) -> list[Path]:
    if naming.folders == "flatten" or not pages:
        return [folder] * len(pages)
    parents = [page.path.absolute().parent for page in pages]
    try:
        top = Path(os.path.commonpath(parents))
    except ValueError:  # several drives
        return [folder] * len(pages)
    return [folder / parent.relative_to(top) for parent in parents]


def numbering(pages: Sequence[PageAt]) -> tuple[str, ...]:
    """Gaps and doubles in the numbers that scans carry in their names, as sentences.

    The last digits in a name are its number. Scans of one folder that are called alike up to
    it are a series; a series with more gaps than pages is taken to be numbered otherwise.

    >>> numbering([PageAt(Path(f"p{n}.tif"), 1, 1) for n in (1, 2, 4, 7)])
    ('p3 is missing, after p2.tif.', 'p5 to p6 are missing, after p4.tif.')
    """
    series: dict[tuple[Path, str], dict[int, list[Path]]] = {}
    for path in dict.fromkeys(page.path for page in pages):
        found = _LAST_DIGITS.search(path.stem)
        if found and len(found[0]) <= 9:
            numbers = series.setdefault((path.parent, path.stem[: found.start()].casefold()), {})
            numbers.setdefault(int(found[0]), []).append(path)
    return tuple(
        said for numbers in series.values() for said in (*_doubles(numbers), *_gaps(numbers))
    )


def _doubles(numbers: Mapping[int, list[Path]]) -> Iterator[str]:
    for _, paths in sorted(numbers.items()):
        tails: dict[str, list[str]] = {}
        for path in paths:
            tail = path.stem[_digits_of(path).end() :].casefold()
            tails.setdefault(tail, []).append(path.name)
        for names in tails.values():
            if len(names) > 1:
                yield f"{' and '.join(sorted(names))} carry one number."


def _gaps(numbers: Mapping[int, list[Path]]) -> Iterator[str]:
    order = sorted(numbers)
    if order[-1] - order[0] + 1 > 2 * len(order):
        return
    for low, high in pairwise(order):
        if high - low > 1:
            before = numbers[low][0]
            digits = _digits_of(before)
            head, width = before.stem[: digits.start()], len(digits[0])
            first, last = (f"{head}{number:0{width}}" for number in (low + 1, high - 1))
            missing = f"{first} is" if first == last else f"{first} to {last} are"
            yield f"{missing} missing, after {before.name}."


def _digits_of(path: Path) -> re.Match[str]:
    found = _LAST_DIGITS.search(path.stem)
    assert found
    return found
