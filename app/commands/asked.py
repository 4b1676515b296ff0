"""What the words of a command mean, as frozen values."""

import argparse

from app.commands.print_asked import bitmap_of, pdf_of
from app.pages.limits import Limits
from app.pages.refusing import naming
from app.pages.renditions import Flat, Layered, Line, Print, Rendition, Web
from app.pages.resolution import Resolution, parse_ppi, parse_sheet
from app.replay.page import Reading
from app.replay.worker import cores
from core.fault import Fault, Refused


def reading_of(request: argparse.Namespace) -> Reading:
    """How scans are to be read."""
    return Reading(
        given=_size_of(request),
        limits=Limits(pixels=request.megapixels * 1_000_000),
        profile=not request.no_profile,
    )


def _size_of(request: argparse.Namespace) -> Resolution | None:
    if request.ppi is not None:
        with naming(f'--ppi "{request.ppi}"'):
            return parse_ppi(request.ppi)
    if request.sheet is not None:
        with naming(f'--sheet "{request.sheet}"'):
            return parse_sheet(request.sheet)
    return None


def cores_of(request: argparse.Namespace) -> int:
    """How many cores to use."""
    return int(request.cores) or cores()


def renditions_of(request: argparse.Namespace) -> tuple[Rendition, ...]:
    """What is to be written, each form once."""
    names = dict.fromkeys(request.rendition or ["line"])
    return tuple(_named(name, request) for name in names)


def _named(name: str, request: argparse.Namespace) -> Rendition:
    with naming(f"--rendition {name}"):
        return _rendition(name, request)


def _rendition(  # noqa: PLR0911 - one for each form
    name: str, request: argparse.Namespace,
) -> Rendition:
    if name == "line":
        return Line(form=request.line_form, bits=request.bits)
    if name == "print":
        return Print(steps=request.with_steps)
    if name == "layered":
        return Layered(form=request.layered_form, holds=request.holds)
    if name == "flats":
        return Flat(form=request.flats_form)
    if name == "bitmap":
        return bitmap_of(request)
    if name == "pdf":
        return pdf_of(request)
    ground = None if request.ground == "none" else _colour(request.ground)
    return Web(
        form=request.web_form, width=request.web_width, long_edge=request.web_long_edge,
        ground=ground, steps=request.with_steps,
    )


def _colour(digits: str) -> tuple[int, int, int]:
    hexadecimal = digits.removeprefix("#")
    if len(hexadecimal) == 3:  # each stands for two
        hexadecimal = "".join(2 * digit for digit in hexadecimal)
    if len(hexadecimal) != 6 or not all(d in "0123456789abcdefABCDEF" for d in hexadecimal):
        raise Refused(Fault(f"{digits} is not a colour", "--ground", "write it as #rrggbb"))
    red, green, blue = bytes.fromhex(hexadecimal)
    return red, green, blue
