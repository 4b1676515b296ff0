"""What was said about printing, as frozen values."""

import argparse
import re

from app.pages.refusing import naming
from app.pages.renditions import Bitmap, Pdf
from app.pages.trims import TrimRule
from app.proof.press_file import find_press
from app.proof.prove import Order
from app.replay.printing import High, PrintedAs, Printing, Scaled, Wide, trim_named
from core.fault import Fault, Refused
from core.press.screens import Cut, Diffusion, Plain, Screen
from core.press.size import Trim

_SCREEN = re.compile(r"(\d+(?:\.\d+)?)(?:@(-?\d+(?:\.\d+)?))?(line|round)?")


def cut_of(said: str | None) -> Cut:
    """How 1-bit pages are cut.

    >>> cut_of("60@30line")
    Screen(ruling=60.0, angle=30.0, dot='line')
    """
    if said is None:
        return Plain()
    if said == "diffuse":
        return Diffusion()
    found = _SCREEN.fullmatch(said)
    if found is None:
        raise Refused(Fault(f"{said} is no screen", "--screen",
                            "write 85@45, 60@30line or diffuse"))
    ruling, angle, dot = found.groups()
    return Screen(float(ruling), float(angle or 45), "line" if dot == "line" else "round")


def bleed_of(request: argparse.Namespace) -> float:
    """The bleed in mm: as said, or as is usual for the trim."""
    if request.bleed is not None:
        return float(request.bleed)
    size = _trim_of(request)
    return size.bleed if size else 3.0


def _trim_of(request: argparse.Namespace) -> Trim | None:
    with naming("--trim-size"):
        return trim_named(request.trim_size) if request.trim_size else None


def bitmap_of(request: argparse.Namespace) -> Bitmap:
    """The bitmap that was asked for; what is wrong with it names the option that said it."""
    width = _width_of(request)
    with naming("--print-ppi"):
        Bitmap(ppi=request.print_ppi)
    with naming("--print-width"):
        Bitmap(width_mm=width)
    with naming("--screen"):
        return Bitmap(ppi=request.print_ppi, cut=cut_of(request.screen), width_mm=width)


def _width_of(request: argparse.Namespace) -> float | None:
    return getattr(request, "print_width", None)


def pdf_of(request: argparse.Namespace) -> Pdf:
    """The PDF rendition that was asked for, without its place on the page."""
    form = bitmap_of(request)
    with naming("--bleed"):
        return Pdf(
            standard=request.pdf_standard, form=request.print_form, ppi=form.ppi, cut=form.cut,
            width_mm=form.width_mm, bleed=bleed_of(request), marks=not request.no_marks,
            profile=request.profile,
        )


def order_of(request: argparse.Namespace) -> Order:
    """How the pages are printed."""
    pdf = pdf_of(request)
    return Order(
        press=find_press(request.press), form=pdf.form, size=_size(request), ppi=pdf.ppi,
        cut=pdf.cut, bleed=pdf.bleed, trim=rule_of(request),
    )


def _size(request: argparse.Namespace) -> PrintedAs:
    with naming("--width"):
        if request.width is not None:
            return Wide(request.width)
    with naming("--height"):
        return Scaled() if request.height is None else High(request.height)


def rule_of(request: argparse.Namespace) -> TrimRule | None:
    """How the pages are trimmed, in mm of the print; None if nothing was said."""
    size = _trim_of(request)
    if request.trim is None and size is None:
        if any(request.nudge) or request.mirrored:
            raise Refused(Fault("there is no trim to move", "--nudge",
                                "say what it is with --trim or --trim-size"))
        return None
    with naming("--nudge"):
        return TrimRule(
            by=request.trim or "sheet", width=size.width if size else None,
            height=size.height if size else None, nudge=tuple(request.nudge),
            mirrored=request.mirrored,
        )


def printing_of(request: argparse.Namespace) -> Printing:
    """How a book that is replayed is printed, as far as its renditions do not say it."""
    width = _width_of(request)
    with naming("--print-width"):
        size = Scaled() if width is None else Wide(width)
    trim = rule_of(request)
    with naming("--bleed"):
        return Printing(size=size, trim=trim, bleed=bleed_of(request))
