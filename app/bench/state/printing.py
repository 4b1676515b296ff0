"""How the book is printed, as the window asks for it and says it."""

from dataclasses import replace
from typing import Literal

from app.pages.trims import TrimRule
from app.proof.prove import Order
from app.replay.job import Job
from app.replay.printing import High, PrintedAs, Printing, Scaled, Wide
from core.press.presses import Press
from core.press.screens import Cut, Diffusion, Plain, Screen
from core.press.size import TRIMS, PrintSize
from core.steps.fields import Number
from core.units import px_to_mm

SizeWay = Literal["percent", "wide", "high"]
CutWay = Literal["plain", "screen", "diffusion"]

SIZE_WAYS: tuple[tuple[SizeWay, str, Number], ...] = (
    ("percent", "% of the sheet", Number("size", "%", 1, 1000)),
    ("wide", "mm wide", Number("width", "mm", 1, 5000)),
    ("high", "mm high", Number("height", "mm", 1, 5000)),
)
"""How a print size can be given: its name, its words, and what the number may be."""

_SCREEN = Screen(85)  # what a screen is at first: as coarse as 1200 ppi still give tones enough


def size_way(size: PrintedAs) -> tuple[SizeWay, float]:
    """How a print size was given, and its number.

    >>> size_way(Wide(148))
    ('wide', 148)
    """
    match size:
        case Wide(mm):
            return "wide", mm
        case High(mm):
            return "high", mm
        case Scaled(percent):
            return "percent", percent


def size_of_way(way: SizeWay, value: float) -> PrintedAs:
    """A print size as it was given."""
    made: dict[SizeWay, type[Scaled | Wide | High]] = {
        "percent": Scaled, "wide": Wide, "high": High}
    return made[way](value)


def turned_way(size: PrintedAs, way: SizeWay, page: PrintSize | None) -> PrintedAs:
    """The same size given in another way, rounded to a hundredth; 100 % where no page is known.

    >>> turned_way(Scaled(50), "wide", PrintSize((600, 300), 300, 0.5))
    Wide(mm=12.7)
    """
    if way == size_way(size)[0] or page is None:
        return size if way == size_way(size)[0] else Scaled()
    value = {"percent": 100 * page.scale, "wide": page.width, "high": page.height}[way]
    return size_of_way(way, round(value, 2))


def filling(name: str, shape: tuple[int, int], ppi: float) -> PrintedAs:
    """The size at which a page of (height, width) pixels just fills a trim by name.

    >>> filling("A5", (7016, 4961), 600)
    High(mm=210)
    """
    trim = TRIMS[name]
    height, width = (px_to_mm(side, ppi) for side in shape)
    across, down = trim.width / width, trim.height / height
    return Wide(trim.width) if across > down else High(trim.height)


def size_said(size: PrintSize) -> str:
    """The size and effective resolution in one line.

    >>> size_said(PrintSize((600, 300), 300, 0.5))
    '12.7 x 25.4 mm, 600 ppi'
    """
    return f"{size.width:.1f} x {size.height:.1f} mm, {size.ppi_printed:.0f} ppi"


def cut_way(cut: Cut) -> CutWay:
    """Which of the three ways to black and white it is."""
    names: dict[type[Cut], CutWay] = {Plain: "plain", Screen: "screen", Diffusion: "diffusion"}
    return names[type(cut)]


def cut_of_way(way: CutWay, ppi: float) -> Cut:
    """A cut of that sort, as it is at first, that ``ppi`` can hold."""
    if way == "screen":
        return replace(_SCREEN, ruling=min(_SCREEN.ruling, ppi / 2))
    return Plain() if way == "plain" else Diffusion()


def order_for(job: Job, number: int) -> Order:
    """How page ``number`` (from 0) of a job is printed."""
    return Order.of(job.printing_of(job.pages[number]),
                    left_page=job.naming.side(number) == "left")


def with_printing(job: Job, printing: Printing, number: int, *, own_size: bool) -> Job:
    """The job printed otherwise; with ``own_size`` its print size is that of one page alone."""
    page = replace(job.pages[number], size=printing.size if own_size else None)
    pages = (*job.pages[:number], page, *job.pages[number + 1 :])
    kept = replace(printing, size=job.printing.size) if own_size else printing
    return replace(job, printing=kept, pages=pages)


def with_press(printing: Printing, name: str, mine: Press | None) -> Printing:
    """Printed on the press of that name; ``mine`` is the person's own, where they have one.

    >>> with_press(Printing(), "newsprint", None).in_hand.name
    'newsprint'
    """
    if mine is not None and name == mine.name:
        return replace(printing, own=mine)
    return replace(printing, press=name, own=None)


def nudged(rule: TrimRule, across: float, down: float, *, left_page: bool) -> TrimRule:
    """The trim moved by so many mm of the print, as it is seen on this page.

    >>> nudged(TrimRule(mirrored=True), 0.5, 0, left_page=True).nudge
    (-0.5, 0.0)
    """
    if rule.mirrored and left_page:
        across = -across
    x, y = (round(old + by, 2) for old, by in zip(rule.nudge, (across, down), strict=True))
    return replace(rule, nudge=(x, y))


def change_said(old: Printing, new: Printing) -> str:
    """What a change of the printing is called.

    >>> change_said(Printing(), Printing(form="1-bit"))
    'form of the print'
    """
    names = {"press": "press", "own": "press", "form": "form of the print", "size": "print size",
             "trim": "trim", "bleed": "bleed"}
    for field, name in names.items():
        if getattr(old, field) != getattr(new, field):
            return name
    return "cut of the 1-bit page"
