"""What ``stetline proof`` and ``stetline strip`` do."""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from datetime import date
from pathlib import Path
from typing import Any

from app.commands import say
from app.commands.asked import cores_of, reading_of
from app.commands.print_asked import order_of, pdf_of
from app.commands.status import ALL_DONE, SOME_FAILED
from app.kinds import KINDS
from app.pages.listing import PageAt, book_pages
from app.pages.lists import read_list
from app.pages.names import NEW, PDF, SHEET, check_target
from app.pages.pdf_x import intent_of
from app.pages.refusing import naming
from app.pages.renditions import Pdf
from app.pages.whole import replace_file
from app.proof.book import BookPage, write_book
from app.proof.press_file import FORMAT, find_press, write_press
from app.proof.prove import Proof, prove
from app.proof.said import figures, findings, press_said
from app.proof.sheet import Proved, proof_sheet
from app.proof.strip import write_strip
from app.replay.naming import Naming
from app.replay.page import bands_by, lifted, read_page
from core.fault import Fault, Refused
from core.press.presses import my_printer
from core.sheet import whole
from core.steps.fields import checked
from core.steps.fold import replay
from core.steps.steplist import StepList

_MARKS = {"good": "  ", "warn": "! ", "strong": "!!"}


def prove_pages(request: argparse.Namespace) -> int:
    """Prove each page; a page that cannot be read is named and the others go on."""
    steps = read_list(request.list, KINDS)
    order_of(request)  # what is wrong with it is said before the first page is read
    at, unread = book_pages(request.pages, reading_of(request).limits)
    _check_places(request, at)
    proved: dict[PageAt, Proved] = {}
    faults = list(unread)
    for place, page in enumerate(at):
        try:
            proved[page] = Proved.of(_name(page), _proved(request, page, steps, place),
                                     contact=request.contact)
        except Refused as refused:
            faults += refused.faults
            continue
        if not request.json:
            _say_page(proved[page])
    if request.json:
        say.data(_json(request, proved, faults))
    elif proved:
        say.lines([press_said(order_of(request).press)])
    if proved:
        lacks = [_name(page) for page in at if page not in proved]
        _write_sheet(request, list(proved.values()), steps, lacks)
        faults += _write_book(request, proved, lacks)
    if not request.json:
        say.faults(faults)
    clean = all(page.proof.clean for page in proved.values())
    return ALL_DONE if clean and not faults else SOME_FAILED


def _check_places(request: argparse.Namespace, at: Sequence[PageAt]) -> None:
    """Refuse, before any page is read, what could not be written in the end."""
    read = [request.list, Path(request.press), *(page.path for page in at)]
    read += [path for path in (request.profile,) if path]
    if request.proof_sheet:
        check_target(request.proof_sheet, SHEET, "--proof-sheet", read)
        read.append(request.proof_sheet)
    if request.book:
        check_target(request.book, PDF, "--book", read)
        with naming("--profile"):
            intent_of(pdf_of(request))


def _name(page: PageAt) -> str:
    return page.path.name if page.count == 1 else f"{page.path.name}, {page.number}"


def _proved(
    request: argparse.Namespace, page: PageAt, steps: StepList, place: int,
) -> Proof:
    order = order_of(request)
    with naming(_name(page)), bands_by(cores_of(request)) as each:
        scan = read_page(page, reading_of(request))
        order = replace(order, left_page=Naming().side(place) == "left")
        return prove(scan, steps, order, each)


def _say_page(page: Proved) -> None:
    proof = page.proof
    head = (f"{page.name}: {proof.size.width:.1f} x {proof.size.height:.1f} mm in print, "
            f"{proof.out.ppi_printed:.0f} ppi, {proof.order.form}")
    say.lines([head, *(f"{_MARKS[one.grade]} {one.said}" for one in findings(proof))])


def _json(
    request: argparse.Namespace, proved: dict[PageAt, Proved], faults: list[Fault],
) -> dict[str, Any]:
    return {
        "pages": [
            {"page": at.path.name, "number": at.number} | figures(page.proof)
            for at, page in proved.items()
        ],
        "press": asdict(order_of(request).press), "faults": [asdict(fault) for fault in faults],
    }


def _write_sheet(
    request: argparse.Namespace, proved: list[Proved], steps: StepList, lacks: Sequence[str],
) -> None:
    if request.proof_sheet is None:
        return
    today = date.today().isoformat()  # noqa: DTZ011 - the day on the desk's own calendar
    title = steps.name or request.list.stem
    sheet = proof_sheet(title, today, proved, contact=request.contact, lacks=lacks)
    replace_file(request.proof_sheet, sheet.encode("utf-8"))


def _write_book(
    request: argparse.Namespace, proved: dict[PageAt, Proved], lacks: Sequence[str],
) -> list[Fault]:
    """Write the book; gives a fault for each page that has no place in it for want of a trim."""
    if request.book is None:
        return []
    trims = {at: page.proof.trimmed for at, page in proved.items()}
    untrimmed = {at: trim.fault(_name(at)) for at, trim in trims.items() if trim and not trim.frame}
    going = {at: page for at, page in proved.items() if at not in untrimmed}
    faults, lacks = [*untrimmed.values()], [*lacks, *map(_name, untrimmed)]
    if not going:
        return [*faults, Fault("it is not written, since no page of it is left", str(request.book),
                               "trim by something else, or not at all")]
    pdf = replace(pdf_of(request), gain=order_of(request).press.gain)
    coloured = any(page.proof.settled.on_ink for page in going.values())
    written = write_book(request.book, _book_pages(request, going), pdf, coloured=coloured)
    if not request.json:
        rest = f"; it lacks {', '.join(lacks)}" if lacks else ""
        say.lines([f"{request.book} has {written} of {written + len(lacks)} pages{rest}."])
    return faults


def _book_pages(
    request: argparse.Namespace, proved: dict[PageAt, Proved],
) -> Iterator[BookPage]:
    """The pages once more, as pixels: one at a time, so that a book needs the memory of a page."""
    for at, page in proved.items():
        with bands_by(cores_of(request)) as each:
            scan = read_page(at, reading_of(request))
            done = whole(lifted(replay(page.proof.settled, scan, each)).page, each)
        trimmed = page.proof.trimmed
        frame = None if trimmed is None else trimmed.frame
        yield BookPage(done, page.proof.size.width, frame)


def write_test_strip(request: argparse.Namespace) -> int:
    """Write a test strip, or the press that was read off one."""
    press = find_press(request.press)
    kinds = {".pdf": PDF, ".tif": NEW, ".tiff": NEW, ".json": FORMAT}
    kind = kinds.get(request.out.suffix.lower())
    if kind is None:
        raise Refused(Fault("a strip is a .pdf or .tif, and a press a .json", request.out.name,
                            "name it so"))
    check_target(request.out, kind, "OUT", [Path(request.press)])
    if (kind == FORMAT) != (request.held is not None):
        raise Refused(Fault("what was read off a strip goes into a .json, and nothing else does",
                            "--held", "give it with a .json alone"))
    if request.held is None:
        write_strip(request.out, Pdf(gain=press.gain))
        say.lines([f"The strip is in {request.out}: print it at 100 %."])
        return ALL_DONE
    faintest, even, line, white = request.held
    mine = my_printer(press, faintest=faintest, even=even, line=line, reversed_line=white)
    faults = checked(mine, "--held")
    if faults:
        raise Refused([replace(fault, remedy=fault.remedy or "read the strip again")
                       for fault in faults])
    write_press(request.out, mine)
    say.lines([press_said(mine)])
    return ALL_DONE
