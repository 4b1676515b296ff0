"""What each command does."""

import argparse
import json
import os
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from app import say
from app.kinds import KINDS
from app.pages.limits import Limits
from app.pages.listing import PageAt, list_pages
from app.pages.lists import read_list, write_list
from app.pages.read import read
from app.pages.renditions import Layered, Line, Print, Rendition, Web
from app.pages.resolution import parse_resolution
from app.pages.scan import Scan
from app.replay.page import Reading, bands_by, lifted
from app.replay.run import plan, run
from app.suggest import suggest
from core.fault import Fault, Refused
from core.readings import measure_cover, survey
from core.steps.fold import replay
from core.steps.steplist import StepList
from core.units import px_to_mm

ALL_DONE, SOME_FAILED, WRONG_REQUEST = 0, 1, 2


def run_task(request: argparse.Namespace) -> int:
    """Do what was asked; a request that cannot be begun is said and gives status 2."""
    tasks: dict[str, Callable[[argparse.Namespace], int]] = {
        "suggest": suggest_list, "replay": replay_list, "measure": measure, "show": show,
    }
    try:
        return tasks[request.task](request)
    except Refused as refused:
        say.faults(refused.faults)
        return WRONG_REQUEST


def suggest_list(request: argparse.Namespace) -> int:
    """Read one page, write a list for it, and say why."""
    reading = _reading(request)
    pages, faults = list_pages([request.page], reading.limits)
    if faults:
        raise Refused(faults)
    with bands_by(_cores(request)) as each:
        scan = _read(pages[0], reading)
        suggestion = suggest(scan, request.name or request.out.stem, each)
    write_list(request.out, suggestion.steps)
    say.lines([*scan.notes, *suggestion.reasons, f"The list is in {request.out}:"])
    say.numbered(suggestion.steps.sentences())
    return ALL_DONE


def replay_list(request: argparse.Namespace) -> int:
    """Do a list over pages and write them out; a page that fails is named and the rest go on."""
    steps = read_list(request.list, KINDS)
    reading = _reading(request)
    renditions = tuple(_rendition(name, request) for name in _asked(request))
    pages, unread = list_pages(request.pages, reading.limits)
    if not pages:
        raise Refused(unread)
    say.faults(unread)
    planned = plan(pages, steps, renditions, request.into, reading)
    failed = len(unread)
    with say.Progress(len(planned), quiet=request.quiet) as progress:
        for outcome in run(planned, workers=_cores(request), watch_page=progress.watch_page):
            progress.ended(outcome)
            failed += outcome.done is None
    return SOME_FAILED if failed else ALL_DONE


def _asked(request: argparse.Namespace) -> tuple[str, ...]:
    return tuple(dict.fromkeys(request.rendition or ["line"]))


def _rendition(name: str, request: argparse.Namespace) -> Rendition:
    if name == "line":
        return Line(form=request.line_form, bits=request.bits)
    if name == "print":
        return Print(steps=request.with_steps)
    if name == "layered":
        return Layered(form=request.layered_form)
    ground = None if request.ground == "none" else _colour(request.ground)
    return Web(
        form=request.web_form, width=request.web_width, long_edge=request.web_long_edge,
        ground=ground, steps=request.with_steps,
    )


def _colour(digits: str) -> tuple[int, int, int]:
    hexadecimal = digits.removeprefix("#")
    if len(hexadecimal) != 6 or not all(d in "0123456789abcdefABCDEF" for d in hexadecimal):
        raise Refused(Fault(f"{digits} is not a colour", "--ground", "write it as #rrggbb"))
    red, green, blue = bytes.fromhex(hexadecimal)
    return red, green, blue


def measure(request: argparse.Namespace) -> int:
    """Say what is read off each page."""
    steps = read_list(request.list, KINDS) if request.list else None
    reading = _reading(request)
    pages, unread = list_pages(request.pages, reading.limits)
    if not pages:
        raise Refused(unread)
    rows, faults = [], list(unread)
    for page in pages:
        try:
            rows.append(_measured(page, steps, reading, _cores(request)))
        except Refused as refused:
            faults += refused.faults
    if request.json:
        say.lines([json.dumps(
            {"pages": rows, "faults": [asdict(fault) for fault in faults]}, indent=1,
        )])
    else:
        say.readings(rows)
        say.faults(faults)
    return SOME_FAILED if faults else ALL_DONE


def _measured(
    page: PageAt, steps: StepList | None, reading: Reading, cores: int,
) -> dict[str, Any]:
    """The readings of one page, in mm, tone 0-255 and shares of 100."""
    with bands_by(cores) as each:
        scan = _read(page, reading)
        height, width = scan.shape
        peaks = survey(scan, each).peaks()
        row: dict[str, Any] = {
            "page": page.path.name, "number": page.number,
            "width_mm": round(px_to_mm(width, scan.ppi), 1),
            "height_mm": round(px_to_mm(height, scan.ppi), 1),
            "ppi": scan.ppi, "bits": scan.bits, "stored": scan.stored,
            "paper": peaks.paper, "noise": peaks.noise, "ink": peaks.ink,
            "notes": list(scan.notes),
        }
        if steps is not None:
            done = lifted(replay(steps, scan, each))
            cover = measure_cover(done.before, done.page, survey(done.before, each).peaks(), each)
            row["ink_percent"] = round(100 * cover.ink, 3)
            row["paper_printing_percent"] = round(100 * cover.printing, 4)
            row["paper_not_clear_percent"] = round(100 * cover.not_clear, 4)
    return row


def show(request: argparse.Namespace) -> int:
    """Say a list in plain sentences."""
    steps = read_list(request.list, KINDS)
    say.lines([steps.name] if steps.name else [])
    say.numbered(steps.sentences())
    return ALL_DONE


def _read(page: PageAt, reading: Reading) -> Scan:
    return read(
        page.path, page.number, given=reading.given, limits=reading.limits,
        profile=reading.profile,
    )


def _reading(request: argparse.Namespace) -> Reading:
    size = f"{request.ppi}ppi" if request.ppi else request.sheet
    return Reading(
        given=parse_resolution(size) if size else None,
        limits=Limits(pixels=request.megapixels * 1_000_000),
        profile=not request.no_profile,
    )


def _cores(request: argparse.Namespace) -> int:
    return int(request.cores) or os.cpu_count() or 1
