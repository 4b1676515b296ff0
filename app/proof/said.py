"""A proof in sentences and figures: what the window, the command line and the sheet all say."""

from collections.abc import Iterator
from typing import Any

from app.pages.trims import Frame
from app.proof.prove import Proof
from app.proof.regions import Region
from core.press.advice import Advice, Grade
from core.press.presses import CAUTION, Press
from core.press.size import PrintSize
from core.steps.fields import plain

_FEW = 3  # regions that are named one by one
_SEEN_MM = 0.1  # of a trim that lies outside the scan: less is the rounding of pixels


def press_said(press: Press) -> str:
    """The press, where its figures are from, and the caution that stands beside them."""
    return f"{press.sentence()} {press.source} {CAUTION}"


def findings(proof: Proof) -> tuple[Advice, ...]:
    """Everything found on a page, what is worst first within each part."""
    return (*_dirt(proof), *_losses(proof), *_solids(proof), *_lines(proof), *proof.advice,
            *_forms(proof), *_trims(proof))


def _dirt(proof: Proof) -> Iterator[Advice]:
    residue = proof.residue
    if residue.clean:
        rest = "" if not proof.not_clear else (
            f" ({_percent(proof.not_clear)} of the bare paper is not exactly clear, but below "
            f"{plain(proof.order.press.may_print)} %)")
        yield Advice("good", f"nothing would print that should not{rest}")
        return
    regions = _count(residue.count, "region")
    will = f"{_mm2(residue.will)} of it will" if residue.will else "none of it surely"
    yield Advice("strong" if residue.will else "warn",
                 f"{regions}, {_mm2(residue.area)}, may print that should not; {will}")
    for region in residue.regions[:_FEW]:
        yield Advice("warn", region_said(region))
    for remedy in proof.remedies:
        yield Advice("good", remedy.said[:1].lower() + remedy.said[1:-1])


def region_said(region: Region) -> str:
    """A region in words.

    >>> region_said(Region("will print", (10, 20, 4, 2), 3.14159, 0.041, number=1))
    'will print: 3.14 mm2 at 4.1 %, 12 mm from the left and 21 mm from the top of the scan'
    """
    left, top = region.middle
    sort = "dust " if region.dust else ""
    dark = "" if region.verdict == "gone" else f" at {100 * region.cover:.1f} %"
    return (f"{sort}{region.verdict}: {_mm2(region.area)}{dark}, "
            f"{left:.0f} mm from the left and {top:.0f} mm from the top of the scan")


def _losses(proof: Proof) -> Iterator[Advice]:
    weak, press = proof.weak, proof.order.press
    if weak.lost_count:
        yield Advice("warn", (
            f"{_mm2(weak.lost_area)} of drawn marks, in {_count(weak.lost_count, 'place')}, would "
            f"be lost: nowhere {plain(press.holds)} % dark, which this press needs to hold a dot"))
        for region in weak.lost[:_FEW]:
            yield Advice("warn", region_said(region))
    if weak.faint_count:
        yield Advice("good", (
            f"{_mm2(weak.faint_area)} of drawn marks, in {_count(weak.faint_count, 'place')}, are "
            "faint ink, not dirt, and hold"))


def _solids(proof: Proof) -> Iterator[Advice]:
    cores = proof.cores
    if cores is None or cores.solid:
        return
    mend = "" if proof.mended is None else f"; a black point of {proof.mended[0]:.0f} mends it"
    yield Advice("warn", (
        f"{100 * cores.share:.1f} % of the insides of strokes ({_mm2(cores.open_area)}) are not "
        f"solid ink, and a screen would make them ragged{mend}"))


def _lines(proof: Proof) -> Iterator[Advice]:
    press = proof.order.press
    if proof.lines.length:
        yield Advice("warn", (
            f"{proof.lines.length:.0f} mm of line are thinner than {plain(press.line)} pt, the "
            "finest that this press holds"))
    if proof.gaps.length:
        yield Advice("warn", (
            f"{proof.gaps.length:.0f} mm of white line within ink are thinner than "
            f"{plain(press.reversed_line)} pt and may fill in"))


def _forms(proof: Proof) -> Iterator[Advice]:
    form, why = proof.suggested
    grade: Grade = "good" if form == proof.order.form else "warn"
    yield Advice(grade, f"{form} suits this page: {why[:1].lower()}{why[1:].rstrip('.')}")


def _trims(proof: Proof) -> Iterator[Advice]:
    scale, trimmed = proof.size.scale, proof.trimmed
    if trimmed is None:
        return
    if trimmed.frame is None:
        yield Advice("strong", f"the trim is not placed: {trimmed.why}")
        return
    if beyond := beyond_said(trimmed.frame, proof.size):
        yield Advice("warn", beyond)
    for crossing in proof.crossings:
        side = f"{whole_mm(scale * crossing.crosses)} of ink cross the trim at the {crossing.side}"
        if crossing.stops:
            yield Advice("strong", f"{side}, and {whole_mm(scale * crossing.stops)} of it stop "
                                   "short of the bleed: a shaky cut will show white")
        else:
            yield Advice("good", f"{side} and reach the bleed")


def beyond_said(frame: Frame, size: PrintSize) -> str:
    """How far the trim (mm of the scan) lies outside the scan, in mm of the print; or nothing.

    >>> beyond_said((0, -10, 100, 130), PrintSize((1000, 1000), 254, 0.5))
    'the trim reaches beyond the scan, 5.0 mm at the top and 10.0 mm at the bottom: bare there'
    """
    left, top, width, height = (side * size.scale for side in frame)
    over = {"left": -left, "right": left + width - size.width, "top": -top,
            "bottom": top + height - size.height}
    said = [f"{mm:.1f} mm at the {side}" for side, mm in over.items() if mm >= _SEEN_MM]
    return f"the trim reaches beyond the scan, {' and '.join(said)}: bare there" if said else ""


def _count(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _percent(share: float) -> str:
    return f"{100 * share:.3f} %" if share >= 1e-5 else "under 0.001 %"


def whole_mm(length: float) -> str:
    """A length in mm, never as none.

    >>> whole_mm(1.6), whole_mm(0.2)
    ('2 mm', 'less than 1 mm')
    """
    return f"{length:.0f} mm" if length >= 0.5 else "less than 1 mm"


def _mm2(area: float) -> str:
    return f"{area:.2f} mm2" if area >= 0.01 or not area else "under 0.01 mm2"


def figures(proof: Proof) -> dict[str, Any]:
    """The proof as JSON: mm and mm2 in print, boxes in mm of the scan, shares of 100."""
    press, size = proof.order.press, proof.size
    return {
        "press": press.name, "form": proof.order.form, "clean": proof.clean,
        "printed_width_mm": round(size.width, 2), "printed_height_mm": round(size.height, 2),
        "ppi_printed": round(proof.out.ppi_printed, 1), "ink_percent": round(100 * proof.ink, 3),
        "residue": {
            "count": proof.residue.count, "mm2": round(proof.residue.area, 4),
            "will_print_mm2": round(proof.residue.will, 4),
            "paper_not_clear_percent": round(100 * proof.not_clear, 4),
            "regions": [_region(region) for region in proof.residue.regions],
        },
        "lost": {"count": proof.weak.lost_count, "mm2": round(proof.weak.lost_area, 4),
                 "regions": [_region(region) for region in proof.weak.lost]},
        "faint_ink": {"count": proof.weak.faint_count,
                      "mm2": round(proof.weak.faint_area, 4)},
        "not_solid_percent": None if proof.cores is None else round(100 * proof.cores.share, 3),
        "black_point": None if proof.mended is None else proof.mended[0],
        "thin_lines_mm": round(proof.lines.length, 1) if proof.lines.judged else None,
        "thin_white_lines_mm": round(proof.gaps.length, 1) if proof.gaps.judged else None,
        "trim_mm": None if proof.trimmed is None else proof.trimmed.frame,
        "remedies": [
            {"step": remedy.step.kind, "clears_percent": round(100 * remedy.clears, 2),
             "costs_percent": round(100 * remedy.costs, 4), "said": remedy.said}
            for remedy in proof.remedies
        ],
        "findings": [{"grade": one.grade, "said": one.said} for one in findings(proof)],
        "caution": CAUTION,
    }


def _region(region: Region) -> dict[str, Any]:
    return {
        "number": region.number, "verdict": region.verdict, "dust": region.dust,
        "box_mm": [round(side, 2) for side in region.box], "mm2": round(region.area, 4),
        "cover_percent": round(100 * region.cover, 2),
    }
