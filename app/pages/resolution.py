"""How many pixels of a scan make an inch: from the file, or from the person."""

import math
import re
from dataclasses import dataclass

from app.pages.refusing import naming, refuse
from core.units import MM_PER_INCH

_LEAST_PPI, _MOST_PPI = 10, 20_000
_LONGEST_MM = 1000
_SCREEN_PPI = (72, 96)
_SAME = 0.01  # pixels may be out of square by this much
_FITS = 0.04  # a sheet's edges may differ from the scan's by this much: beds are not cut to ISO
_NUMBER = r"(\d+(?:\.\d+)?)"
_SHEETS = "A4, 210x297mm or 8.5x11in"
_UNIT_MM = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH, '"': MM_PER_INCH}

GIVE_IT = "give it with --ppi 300 or --sheet A4"
GIVE_SIZE = "give the size of what was scanned, or --ppi"
"""What the command line tells a person to do about a scan of unknown size."""


@dataclass(frozen=True)
class Ppi:
    """Pixels per inch, both ways."""

    ppi: float

    def over(self, height: int, width: int) -> float:  # noqa: ARG002 - the same on any page
        """The ppi of a page of this many pixels."""
        return self.ppi


@dataclass(frozen=True)
class SheetSize:
    """The size of the scanned sheet in mm; ``either_way`` if it may also lie on its side."""

    width: float
    height: float
    either_way: bool = True

    def over(self, height: int, width: int) -> float:
        """The ppi of a page of this many pixels; refuses one of another shape.

        >>> round(SheetSize(210, 297).over(7016, 4961))
        600
        """
        sizes = [(self.width, self.height), (self.height, self.width)]
        tries = [
            (width * MM_PER_INCH / across, height * MM_PER_INCH / down)
            for across, down in (sizes if self.either_way else sizes[:1])
        ]
        best = min(tries, key=_out_of_square)
        if _out_of_square(best) > _FITS:
            raise refuse(
                f"its {width} x {height} pixels have not the shape of a sheet of"
                f" {self.width:g} x {self.height:g} mm",
                GIVE_SIZE,
            )
        return (best[0] + best[1]) / 2


Resolution = Ppi | SheetSize
"""What the person says of a scan: its ppi, or the size of its sheet."""


def iso_sizes() -> dict[str, tuple[int, int]]:
    """The A and B sizes, width and height in mm: ISO 216, each half of the one before.

    >>> iso_sizes()["A4"], iso_sizes()["B5"]
    ((210, 297), (176, 250))
    """
    sizes: dict[str, tuple[int, int]] = {}
    for series, first in {"A": (841, 1189), "B": (1000, 1414)}.items():
        size = first
        for number in range(11):
            sizes[f"{series}{number}"] = size
            size = size[1] // 2, size[0]
    return sizes


def parse_resolution(text: str) -> Resolution:
    """The resolution that a person typed.

    ``600``, ``600 ppi``, ``A4``, ``A5 landscape``, ``210x297mm``, ``8.5 x 11 in``: a sheet lies
    either way unless *portrait* or *landscape* is said.

    >>> parse_resolution("A5 landscape")
    SheetSize(width=210, height=148, either_way=False)
    >>> parse_resolution("600ppi")
    Ppi(ppi=600.0)
    """
    with naming(f'"{text}"'):
        made = _ppi_of(text) or _sheet_of(text)
        if made is None:
            raise refuse("that is neither a resolution nor the size of a sheet",
                         f"write it like 600, {_SHEETS}")
    return made


def parse_ppi(text: str) -> Ppi:
    """The pixels per inch that a person typed, and nothing else.

    >>> parse_ppi("600 dpi")
    Ppi(ppi=600.0)
    """
    made = _ppi_of(text)
    if made is None:
        raise refuse("that is not a number of pixels per inch", "write it like 600")
    return made


def parse_sheet(text: str) -> SheetSize:
    """The size of a sheet that a person typed, and nothing else.

    >>> parse_sheet("10 x 20 cm")
    SheetSize(width=100.0, height=200.0, either_way=True)
    """
    made = _sheet_of(text)
    if made is None:
        raise refuse("that is not the size of a sheet", f"write it like {_SHEETS}")
    return made


def _ppi_of(text: str) -> Ppi | None:
    dense = re.fullmatch(rf"{_NUMBER} ?(?:ppi|dpi)?", _plain(text))
    return _checked_ppi(float(dense[1])) if dense else None


def _sheet_of(text: str) -> SheetSize | None:
    said = _plain(text)
    if size := re.fullmatch(rf"{_NUMBER} ?x ?{_NUMBER} ?(mm|cm|in|\")", said):
        unit = _UNIT_MM[size[3]]
        return _checked_size(float(size[1]) * unit, float(size[2]) * unit)
    name, _, way = said.partition(" ")
    named = iso_sizes().get(name.upper())
    if named is None or way not in ("", "portrait", "landscape"):
        return None
    width, height = named[::-1] if way == "landscape" else named
    return SheetSize(width, height, either_way=not way)


def _plain(text: str) -> str:
    return " ".join(text.lower().replace("\N{MULTIPLICATION SIGN}", "x").split())


def settle(
    stated: tuple[float, float] | None, given: Resolution | None, shape: tuple[int, int]
) -> tuple[float, str]:
    """The ppi of a page (height, width), and where it comes from: "given" or "the file".

    ``stated`` is what the file says, across and down. Raises ``Refused`` where it says
    nothing, or what cannot be so, and nothing is given.

    >>> settle((299.9994, 299.9994), None, (3508, 2480))
    (300.0, 'the file')
    """
    height, width = shape
    if given is not None:
        return given.over(height, width), "given"
    if stated is None or not all(0 < ppi < math.inf for ppi in stated):
        raise refuse("the file does not say its resolution", GIVE_IT)
    if not all(_LEAST_PPI <= ppi <= _MOST_PPI for ppi in stated):
        said = " by ".join(f"{ppi:g}" for ppi in dict.fromkeys(stated))
        raise refuse(f"the file says {said} ppi, and a scan has {_LEAST_PPI} to {_MOST_PPI}",
                     GIVE_IT)
    if _out_of_square(stated) > _SAME:
        raise refuse(
            f"the file says {stated[0]:g} ppi across and {stated[1]:g} down,"
            " but its pixels must be square",
            "scan it alike both ways, or " + GIVE_IT,
        )
    ppi = _whole((stated[0] + stated[1]) / 2)
    longest = max(shape) * MM_PER_INCH / ppi
    if ppi in _SCREEN_PPI and longest > _LONGEST_MM:
        raise refuse(
            f"the file says {ppi:g} ppi, which programs write when they do not know:"
            f" the sheet would be {longest / 1000:.1f} m long",
            GIVE_IT,
        )
    return ppi, "the file"


def _whole(ppi: float) -> float:
    """Whole where only the rounding of pixels per metre keeps it from being so."""
    return float(round(ppi)) if abs(ppi - round(ppi)) < 0.02 else ppi


def _out_of_square(ppi: tuple[float, float]) -> float:
    return max(ppi) / min(ppi) - 1


def _checked_ppi(ppi: float) -> Ppi:
    if not _LEAST_PPI <= ppi <= _MOST_PPI:
        raise refuse(f"a resolution lies between {_LEAST_PPI} and {_MOST_PPI} ppi",
                     "give it anew")
    return Ppi(ppi)


def _checked_size(width: float, height: float) -> SheetSize:
    if not all(1 <= side <= 10_000 for side in (width, height)):
        raise refuse("a sheet is between 1 mm and 10 m long", "give its size anew")
    return SheetSize(width, height)
