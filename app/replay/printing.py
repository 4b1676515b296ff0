"""How a book is printed, as a job keeps it, and what that says of its renditions."""

from contextlib import suppress
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

from app.pages.bitmap import sheet_cover
from app.pages.refusing import refuse
from app.pages.renditions import Bitmap, Pdf, Print, Rendition
from app.pages.resolution import SheetSize, parse_resolution
from app.pages.trims import Trimmed, TrimRule, find_trim
from core.fault import Fault, Refused
from core.press.advice import Form
from core.press.presses import PRESSES, Press
from core.press.screens import Cut, Plain
from core.press.size import TRIMS, PrintSize, Trim
from core.sheet import Sheet
from core.steps.fields import checked

T = TypeVar("T", Bitmap, Pdf)


def trim_named(said: str) -> Trim:
    """The size of a finished page, by name or in mm or inches.

    >>> trim_named("A5").height, trim_named("6x9in").bleed
    (210, 3.175)
    """
    if said in TRIMS:
        return TRIMS[said]
    size = None
    with suppress(Refused):
        size = parse_resolution(said)
    if not isinstance(size, SheetSize):
        raise refuse(f"{said} is no size of a page",
                     f"choose one of {', '.join(TRIMS)}, or write 170x240mm")
    return Trim(size.width, size.height)


@dataclass(frozen=True)
class Scaled:
    """Printed at so many percent of the size of the scanned sheet."""

    percent: float = 100.0

    def __post_init__(self) -> None:
        if not 1 <= self.percent <= 1000:
            raise Refused(Fault("a page is printed at 1 to 1000 % of its size",
                                remedy="give the percent anew"))


@dataclass(frozen=True)
class Wide:
    """Printed so that the whole scan is ``mm`` wide."""

    mm: float

    def __post_init__(self) -> None:
        _check_side(self.mm)


@dataclass(frozen=True)
class High:
    """Printed so that the whole scan is ``mm`` high."""

    mm: float

    def __post_init__(self) -> None:
        _check_side(self.mm)


PrintedAs = Scaled | Wide | High


def print_size(size: PrintedAs, shape: tuple[int, int], ppi: float) -> PrintSize:
    """The printed size of a page of (height, width) pixels.

    >>> round(print_size(Wide(148), (7016, 4961), 600).ppi_printed)
    851
    """
    match size:
        case Wide(mm):
            return PrintSize.of_width(shape, ppi, mm)
        case High(mm):
            return PrintSize.of_height(shape, ppi, mm)
        case Scaled(percent):
            return PrintSize(shape, ppi, percent / 100)


def _check_side(mm: float) -> None:
    if not 1 <= mm <= 5000:
        raise Refused(Fault("a printed page is 1 to 5000 mm wide and high",
                            remedy="give its size in mm"))


@dataclass(frozen=True)
class Printing:
    """How the pages of a book are printed.

    ``press`` names one of ``PRESSES``; ``own`` is a press read off a test strip and goes before
    it. ``form`` ``1-bit`` is cut at ``ppi`` by ``cut``. ``trim`` is in mm of the print, None does
    not trim; ``bleed`` in mm of the print.
    """

    press: str = "coated"
    own: Press | None = None
    form: Form = "grey"
    ppi: float = 1200.0
    cut: Cut = Plain()
    size: PrintedAs = Scaled()
    trim: TrimRule | None = None
    bleed: float = 3.0

    def __post_init__(self) -> None:
        if self.press not in PRESSES:
            raise Refused(Fault(f"there is no press called {self.press}",
                                remedy=f"choose one of {', '.join(PRESSES)}"))
        faults = () if self.own is None else checked(self.own)
        if faults:
            raise Refused(faults)
        Pdf(form=self.form, ppi=self.ppi, cut=self.cut, bleed=self.bleed)  # refuses what is wrong

    @property
    def in_hand(self) -> Press:
        """The press: the person's own where there is one.

        >>> Printing("newsprint").in_hand.ruling
        100
        """
        return PRESSES[self.press] if self.own is None else self.own

    def size_of(self, shape: tuple[int, int], ppi: float) -> PrintSize:
        """The printed size of a page of (height, width) pixels."""
        return print_size(self.size, shape, ppi)


def filled(form: Rendition, printing: Printing, size: PrintSize) -> Rendition:
    """The rendition with what it leaves at its default as the book is printed.

    >>> filled(Bitmap(), Printing(ppi=2400), PrintSize((10, 10), 300)).ppi
    2400
    """
    width = None if size.scale == 1 else size.width
    if isinstance(form, Print):
        return form if form.ppi or width is None else replace(form, ppi=size.ppi_printed)
    if isinstance(form, Bitmap):
        return _unless_said(form, ppi=printing.ppi, cut=printing.cut, width_mm=width)
    if isinstance(form, Pdf):
        return _unless_said(
            form, form=printing.form, ppi=printing.ppi, cut=printing.cut, width_mm=width,
            bleed=printing.bleed, gain=printing.in_hand.gain)
    return form


def _unless_said(made: T, /, **values: Any) -> T:
    """The rendition with the values of those fields that stand at their default."""
    unsaid = {field.name for field in fields(made) if getattr(made, field.name) == field.default}
    return replace(made, **{name: value for name, value in values.items() if name in unsaid})


def trim_of(
    page: Sheet, printing: Printing, size: PrintSize, *, left_page: bool,
) -> Trimmed | None:
    """Where a lifted page is trimmed, in mm of the scan; None where the book is not trimmed."""
    if printing.trim is None:
        return None
    rule = printing.trim.on_scan(size.scale)
    return find_trim(sheet_cover(page), page.ppi, rule, left_page=left_page)
