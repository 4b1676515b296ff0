"""What a printer would say of a page before it goes out: resolution, ruling, lines, form."""

from dataclasses import dataclass
from typing import Literal

from core.histogram import Counts, find_peaks, fold_counts
from core.press.presses import Press
from core.press.size import points_to_mm
from core.units import mm_to_px

Form = Literal["grey", "1-bit"]
"""How the tones go out: graded grey, or black and white pixels alone."""

Grade = Literal["good", "warn", "strong"]

_LIMITS: dict[Form, tuple[float, float, float]] = {"1-bit": (800, 600, 1200),
                                                   "grey": (400, 300, 600)}

_BLACK = 0.35  # of the paper's tone: darker is called black
_DRAWN = 1e-5  # of the page: less is no drawing
_PEN = 0.25  # of what is darker than the paper: more black than that is pen or brush


@dataclass(frozen=True)
class Advice:
    """One thing said: how grave it is, and the sentence."""

    grade: Grade
    said: str


def grade_resolution(ppi: float, form: Form) -> Advice:
    """Whether ``ppi`` at print size suffices for line art (common practice, no source).

    1-bit: 1200 is usual, under 800 is warned of, under 600 strongly. Grey: 600 is good, under
    400 is warned of, under 300 strongly.

    >>> grade_resolution(350, "grey").grade
    'warn'
    """
    warn, strong, usual = _LIMITS[form]
    said = f"{ppi:.0f} ppi at print size"
    if ppi < strong:
        return Advice("strong", f"{said} is far too low for {form} line art: its edges will "
                                f"show steps; scan it again so that it has {usual:.0f}")
    if ppi < warn:
        return Advice("warn", f"{said} is low for {form} line art; {usual:.0f} is usual")
    return Advice("good", f"{said} is enough for {form} line art")


def grade_ruling(ppi: float, ruling: float) -> Advice:
    """Whether a page screened at ``ppi`` has tones enough: (ppi / ruling)^2 steps in a cell.

    >>> grade_ruling(2400, 150).said
    'a cell of 150 lines per inch at 2400 ppi has 256 tone steps'
    """
    steps = int((ppi / ruling) ** 2)
    said = f"a cell of {ruling:g} lines per inch at {ppi:g} ppi has {steps} tone steps"
    return Advice("good" if ppi >= 16 * ruling else "warn", said)


def grade_line_limits(ppi: float, press: Press) -> Advice:
    """Whether the page's pixels are fine enough to judge the press's finest line by.

    >>> grade_line_limits(300, Press()).grade
    'warn'
    """
    pixels = mm_to_px(points_to_mm(press.line), ppi)
    said = f"the finest line, {press.line:g} pt, is {pixels:.2f} pixels wide at {ppi:.0f} ppi"
    if pixels < 2:
        return Advice("warn", f"{said}: too few to tell whether a line is thinner")
    return Advice("good", said)


def suggest_form(counts: Counts) -> tuple[Form, str]:
    """1-bit for pen and brush, grey for pencil and dry brush; and why.

    ``counts`` are those of the page before its tones were set. Pen and brush have an ink peak,
    and much of what is darker than the paper is black (the shares were read off drawn pages).

    >>> import numpy as np
    >>> counts = np.zeros(256, np.int64)
    >>> counts[[30, 120, 230]] = 500, 300, 9000
    >>> suggest_form(counts)[0]
    '1-bit'
    """
    tones = fold_counts(counts)
    peaks = find_peaks(counts)
    marked = int(tones[: max(round(peaks.paper - max(6 * peaks.noise, 12)), 0)].sum())
    black = int(tones[: round(_BLACK * peaks.paper)].sum())
    if marked < _DRAWN * tones.sum():
        return "grey", "Nothing is drawn on it, so either form will do."
    is_black = black > _PEN * marked
    if peaks.ink is not None and is_black:
        return "1-bit", (
            f"The ink has a peak of its own at {peaks.ink:.0f}, as pen and brush have: 1-bit "
            "keeps its edges free of a screen. Dry brush on the page would rather have grey."
        )
    share = 100 * black / max(marked, 1)
    why = f"Only {share:.0f} %" if share >= 0.5 else "Hardly any"
    why = "The ink has no peak of its own" if is_black else f"{why} of what was drawn is near black"
    return "grey", (f"{why}, as with pencil and dry brush: grey keeps their grain, and the press "
                    "screens it.")
