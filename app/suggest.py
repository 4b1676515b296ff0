"""Reading a page and proposing a step list for it, with the reasons in sentences."""

from dataclasses import dataclass

import numpy as np

from app.filters.even_light import PAPER_TONE, EvenLight, paper_light
from core.histogram import Peaks, fold_counts
from core.readings import Survey, grey_plane, survey
from core.sheet import Bands, Each, whole
from core.steps.lift import Lift
from core.steps.step import Step
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone

_UNEVEN = 8.0  # tones between the page's lightest and darkest paper that a curve may span
_CLEAR = 3.2  # deviations of the paper's noise below its peak: one pixel in 1,500 lies darker
_TINT = 10.0  # tones between the channels of the paper, from which on it is called tinted
_PENCIL = 0.02  # of what is darker than paper: the darkest part that may reach full black


@dataclass(frozen=True)
class Suggestion:
    """A step list fitted to a page, and a sentence for each thing decided."""

    steps: StepList
    reasons: tuple[str, ...]


def suggest(page: Bands, name: str, each: Each = map) -> Suggestion:
    """Read the page and set everything; ``name`` is what the list will be called.

    >>> from core.sheet import Sheet
    >>> blank = Sheet(ppi=300, grey=np.full((200, 200), 231, np.uint8))
    >>> [step.kind for step in suggest(blank, "blank").steps.steps]
    ['tone', 'lift']
    """
    steps: list[Step] = []
    reasons: list[str] = []
    read = survey(page, each)
    why = _unevenness(page, read, each)
    if why:
        steps.append(EvenLight())
        reasons.append(why)
        read = survey(EvenLight().apply(whole(page, each)), each)
    points, said = _points(read)
    steps += [Tone(points=points), Lift()]
    return Suggestion(StepList(name, tuple(steps)), (*reasons, *said))


def _unevenness(page: Bands, read: Survey, each: Each) -> str:
    """Why the light must be evened; empty where it need not be."""
    sheet = whole(page, each)
    light = paper_light(grey_plane(sheet), sheet.ppi, EvenLight().reach) * 255 / sheet.full
    low, high = (float(v) for v in np.quantile(light, (0.01, 0.99)))
    paper = read.paper()
    tint = max(paper.colour) - min(paper.colour)
    if high - low > max(_UNEVEN, 2 * paper.noise):
        return (
            f"The paper runs from {low:.0f} to {high:.0f} over the page, so its light is evened "
            f"and it comes to {PAPER_TONE} everywhere."
        )
    if tint > _TINT:
        return f"The paper is tinted by {tint:.0f} levels, so its colour is divided out."
    return ""


def _points(read: Survey) -> tuple[Fixed, tuple[str, ...]]:
    peaks = read.peaks()
    white = min(max(peaks.paper - max(_CLEAR * peaks.noise, 2.0), 30.0), 254.0)
    black, why = _black_point(read, peaks, white)
    said = (
        f"The paper lies at {peaks.paper:.0f} and its grain swings {peaks.noise:.1f} levels; "
        f"{round(white)} leaves all but the deepest grain behind."
    )
    return Fixed(black=round(black), white=round(white)), (said, why)


def _black_point(read: Survey, peaks: Peaks, white: float) -> tuple[float, str]:
    if peaks.ink is not None and peaks.ink_foot is not None:
        black = min(peaks.ink_foot, white - 20)
        return black, (
            f"The ink lies at {peaks.ink:.0f}; the black point at its light foot, {black:.0f}, "
            "brings the cores of the strokes to full black."
        )
    tones = np.cumsum(fold_counts(read.grey)[: round(white)])
    dark = float(np.searchsorted(tones, tones[-1] * _PENCIL)) if tones[-1] else 0.0
    black = min(dark, white - 20)
    return black, (
        "The darks have no peak of their own, as with pencil, so only the darkest strokes "
        f"reach full black, at {black:.0f}."
    )
