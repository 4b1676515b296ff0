"""What each command does."""

import argparse
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from app.commands import say
from app.commands.asked import cores_of, reading_of
from app.commands.flatting import flat_pages, realign_page
from app.commands.proving import prove_pages, write_test_strip
from app.commands.renewing import renew
from app.commands.replaying import replay_list
from app.commands.status import ALL_DONE, SOME_FAILED, WRONG_REQUEST
from app.kinds import KINDS
from app.pages.listing import PageAt, find_pages, list_pages
from app.pages.lists import read_list, write_list
from app.pages.names import check_target, in_letters
from app.pages.scan import place_of
from app.replay.page import Reading, bands_by, lifted, read_page
from app.suggest import suggest
from core.fault import Fault, Refused
from core.readings import measure_cover, survey
from core.steps.document import FORMAT
from core.steps.fold import replay
from core.steps.steplist import NAME_LENGTH, StepList
from core.units import px_to_mm


def run_task(request: argparse.Namespace) -> int:
    """Do what was asked; a request that cannot be begun is said and gives status 2."""
    tasks: dict[str, Callable[[argparse.Namespace], int]] = {
        "suggest": suggest_list, "replay": replay_list, "measure": measure, "show": show,
        "proof": prove_pages, "strip": write_test_strip, "flats": flat_pages,
        "realign": realign_page, "renew": renew,
    }
    try:
        return tasks[request.task](request)
    except Refused as refused:
        say.faults(refused.faults)
        return WRONG_REQUEST
    finally:
        say.lines([], now=True)


def suggest_list(request: argparse.Namespace) -> int:
    """Read one page, write a list for it, and say why."""
    reading = reading_of(request)
    found = list(find_pages([request.page], reading.limits))
    page = next((each.page for each in found if not each.faults), None)
    if page is None:
        raise Refused([fault for each in found for fault in each.faults])
    check_target(request.out, FORMAT, "--out", [each.page.path for each in found if each.page])
    name = _list_name(request)
    with bands_by(cores_of(request)) as each_band:
        scan = read_page(page, reading)
        suggestion = suggest(scan, name, each_band)
    steps, ink = suggestion.steps, suggestion.ink
    reasons = [*scan.notes, *suggestion.reasons]
    if request.ink_only and ink is not None:
        steps = suggestion.ink_only(steps)
        reasons.append("The ink only is wanted, so what is paler is left out.")
    elif request.ink_only:
        reasons.append("All that is drawn is of one strength, so all of it is kept.")
    write_list(request.out, steps)
    place = place_of(page.path, page.number, page.count)
    of = f"The list is made for {place} alone, of the {len(found)} pages in {request.page}."
    say.lines([of] if len(found) > 1 else [])
    say.lines([*reasons, f"The list is in {request.out}:"])
    say.numbered(steps.sentences())
    return ALL_DONE


def _list_name(request: argparse.Namespace) -> str:
    """What the list will be called: as was said, or as its file."""
    name = in_letters(request.name or request.out.stem)
    if request.name and len(name) > NAME_LENGTH:
        raise Refused(Fault(f"the name has {len(name)} characters, more than {NAME_LENGTH}",
                            "--name", "give a shorter one"))
    return name[:NAME_LENGTH]


def measure(request: argparse.Namespace) -> int:
    """Say what is read off each page."""
    steps = read_list(request.list, KINDS) if request.list else None
    reading = reading_of(request)
    pages, unread = list_pages(request.pages, reading.limits)
    if not pages:
        raise Refused(unread)
    rows, faults = [], list(unread)
    for page in pages:
        try:
            rows.append(_measured(page, steps, reading, cores_of(request)))
        except Refused as refused:
            faults += refused.faults
    if request.json:
        say.data({"pages": rows, "faults": [asdict(fault) for fault in faults]})
    else:
        say.readings(rows)
        say.faults(faults)
    return SOME_FAILED if faults else ALL_DONE


def _measured(
    page: PageAt, steps: StepList | None, reading: Reading, cores: int,
) -> dict[str, Any]:
    """The readings of one page, in mm, tone 0-255 and shares of 100."""
    with bands_by(cores) as each:
        scan = read_page(page, reading)
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
    say.lines([] if steps.steps else ["The list has no steps, so there is nothing to replay."])
    return ALL_DONE
