"""Reading a page and proposing a step list for it, with the reasons in sentences."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from app.filters.beyond import at_size, beyond_sheet
from app.filters.blue import blue_pencil_share
from app.filters.drop_specks import DropSpecks
from app.filters.even_light import PAPER_TONE, EvenLight, paper_light
from app.filters.keep_marks import Dark, KeepMarks, Marks, Pale
from app.filters.noise import measure_ground
from app.filters.strengths import parting_tone
from app.filters.weakest import darkest_tones
from core.histogram import Counts, Peaks, count_tones, fold_counts
from core.readings import Survey, grey_plane, survey
from core.sheet import Bands, Each, Plane, Sheet, whole
from core.steps.grey import Grey, Pencil
from core.steps.lift import Lift
from core.steps.step import Step
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone

_ROUGHER = 2.5  # times as noisy as it was: even light has taken drawing for paper
_UNEVEN = 1.5  # tones between the page's lightest and darkest paper that may be left
_NEAR, _FLAT = 6, 0.001  # tones about the paper's, and the share of them that is no grain yet
_EVEN = 0.05  # deviation of the paper's tones: below it nobody would call it grain
_TWO_TONES = 0.95  # of all that is darker than paper: so much at full black is a page of two tones
_CLEAR = 3.2  # deviations of the paper's noise below its peak: one pixel in 1,500 lies darker
_ROUGH, _STRICTER, _STRICTEST = 2.6, 0.2, 3.5  # noise from which on a mark must stand out more
_TINT = 10.0  # tones between the channels of the paper, from which on it is called tinted
_BESIDE, _DARKER = 15, 0.03  # tones below a peak, and what share may lie there if it is the ink's
_BLUE = 0.0003  # of the page: so much of it is no chance
_BEYOND = 0.0005  # of the scan: so much beyond the sheet's edge is worth a word
_DARK_SIDE = 0.1  # of the dark half of the ink's peak: what may clip at full black
_PENCIL = 0.005  # of what is darker than paper: the darkest part that may reach full black


@dataclass(frozen=True)
class Suggestion:
    """A step list fitted to a page, and a sentence for each thing decided.

    ``ink`` is how much darker than the paper, in %, ink is at least where something paler lies
    beside it; None where all that is drawn is of one strength.
    """

    steps: StepList
    reasons: tuple[str, ...]
    ink: int | None = None

    def ink_only(self, steps: StepList) -> StepList:
        """The list, this one's or one made of it, with the weakest mark kept as dark as ink.

        >>> made = Suggestion(StepList("page", (KeepMarks(),)), (), ink=40)
        >>> made.ink_only(made.steps).steps[0].weakest
        Dark(share=40)
        """
        assert self.ink is not None
        weakest = Dark(share=self.ink)
        return replace(steps, steps=tuple(
            replace(step, weakest=weakest) if isinstance(step, KeepMarks) else step
            for step in steps.steps
        ))


def suggest(page: Bands, name: str, each: Each = map) -> Suggestion:
    """Read the page and set everything; ``name`` is what the list will be called.

    >>> from core.sheet import Sheet
    >>> blank = Sheet(ppi=300, grey=np.full((200, 200), 231, np.uint8))
    >>> [step.kind for step in suggest(blank, "blank").steps.steps]
    ['tone', 'lift']
    """
    read = _survey_sheet(page, each)
    page, steps, reasons = _evened(page, _unevenness(page, read, each), each)
    page, dropped, said_of_it = _without_blue(page, each)
    steps, reasons = [*steps, *dropped], [*reasons, *said_of_it]
    if steps:
        read = _survey_sheet(page, each)
    peaks = read.peaks()
    white, said, ink = _clearing(peaks), _plain_clearing(peaks), None
    if _has_grain(read, peaks):
        sheet = whole(page, each)
        grey = grey_plane(sheet)
        marks, found, unusual = _marks_of(sheet, grey, peaks.noise)
        if found is not None:
            said, ink, offer = _kept_instead(grey, sheet.ppi, peaks, found)
            reasons += [*unusual, *offer]
        steps += [marks, DropSpecks()]
        white = max(peaks.paper, 30.0)
    points, why_black = _points(read, peaks, white)
    steps += [Tone(points=points), Lift()]
    return Suggestion(StepList(name, tuple(steps)), (said, *reasons, why_black), ink)


def _evened(page: Bands, why: str, each: Each) -> tuple[Bands, list[Step], list[str]]:
    """The page in even light, unless its light is even or cannot be told from what is drawn."""
    if not why:
        return page, [], []
    sheet = whole(page, each)
    even = EvenLight().apply(sheet)
    before, after = (measure_ground(grey_plane(s), s.ppi).noise for s in (sheet, even))
    if after > _ROUGHER * before + 1:
        said = ("The light may be uneven, but hardly any bare paper shows to tell it by, so it is "
                "left as it is.")
        return page, [], [said]
    return even, [EvenLight()], [why]


def _without_blue(page: Bands, each: Each) -> tuple[Bands, list[Step], list[str]]:
    """The page without the pale blue pencil that lies beneath its ink, if there is any."""
    sheet = whole(page, each)
    if sheet.colour is None or blue_pencil_share(sheet.colour, sheet.ppi) < _BLUE:
        return page, [], []
    step = Grey(drop=Pencil())
    said = ("Pale blue pencil lies beneath the ink and drops out where grey is made of colour; "
            "if it is to stay, switch that step off.")
    return step.apply(sheet), [step], [said]


def _survey_sheet(page: Bands, each: Each) -> Survey:
    """The tones of the sheet alone, where the scan shows more than it."""
    sheet = whole(page, each)
    grey = grey_plane(sheet)
    away = beyond_sheet(grey, sheet.ppi)
    if not away.any():
        return survey(sheet, each)
    here = ~at_size(away, grey.shape)
    if sheet.colour is None:
        return Survey(count_tones(grey[here]))
    colour = sheet.colour[here]
    return Survey(count_tones(grey[here]), tuple(count_tones(colour[:, n]) for n in range(3)))


def _has_grain(read: Survey, peaks: Peaks) -> bool:
    """Whether the paper has more than one tone; a page made by a program may not."""
    top = round(peaks.paper)
    near = fold_counts(read.grey)[max(top - _NEAR, 0) : top + _NEAR + 1]
    return bool(near.sum() - near.max() > _FLAT * near.sum())


def _clearing(peaks: Peaks) -> float:
    """The white point that would clear the paper by itself."""
    return min(max(peaks.paper - max(_CLEAR * peaks.noise, 2.0), 30.0), 254.0)


def _plain_clearing(peaks: Peaks) -> str:
    if peaks.noise < _EVEN:
        return f"The paper is of one tone, {peaks.paper:.0f}, and has no grain to be cleared."
    return (
        f"The paper lies at {peaks.paper:.0f} and its grain swings {peaks.noise:.1f} levels; "
        f"{round(_clearing(peaks))} leaves all but the deepest grain behind."
    )


def _marks_of(
    sheet: Sheet, grey: Plane, noise: float,
) -> tuple[KeepMarks, Marks | None, list[str]]:
    """The step for this page, what it finds, and a word on what is not as usual.

    The deepest pits of rough paper lie in rows, as faint lines do: more is asked of these.
    """
    usual = KeepMarks()
    limit = round(min(usual.limit + _STRICTER * max(noise - _ROUGH, 0), _STRICTEST), 1)
    marks, said = replace(usual, limit=limit), []
    if limit > usual.limit:
        said.append(f"The grain is strong, so a faint mark must stand out {limit} times its noise; "
                    f"where one is lost, {usual.limit:.0f} brings back more, of the paper too.")
    found = marks.find(grey, sheet.ppi, sheet.colour)
    if found is None:
        return marks, None, said
    inside = found.on_sheet()
    share = float(np.count_nonzero(found.support != inside.support)) / found.support.size
    if share < _BEYOND:
        return marks, found, said
    said.append(
        f"What lies beyond the sheet's edge or in its holes ({_percent(share)} of the scan) is "
        "left out; if it is ink that runs off the sheet, say in the step that it stays."
    )
    return replace(marks, sheet=True), inside, said


def _kept_instead(
    grey: Plane, ppi: float, peaks: Peaks, found: Marks,
) -> tuple[str, int | None, list[str]]:
    """Why marks are kept by their shape, how dark ink is, and what to do about pencil under it."""
    weight = _weight(found.kept_of(grey, ppi, Pale()), peaks)
    pale = weight[round(_clearing(peaks)) :].sum() / max(weight.sum(), 1)
    said = (
        f"The paper lies at {peaks.paper:.0f} and its grain swings {_levels(2 * peaks.noise)}; "
        f"a white point of {_clearing(peaks):.0f} would leave all but the deepest of it behind, "
        f"{_why_by_shape(pale)}, and the white point lies at the paper."
    )
    between = parting_tone(darkest_tones(grey, ppi), found.ground, found.support)
    if between is None:
        return said, None, []
    weakest = round(100 * (1 - between / found.ground.paper))
    strong = _weight(found.kept_of(grey, ppi, Dark(share=weakest)), peaks)
    share = 1 - strong.sum() / max(weight.sum(), 1)
    offer = (
        "Two strengths of mark lie here, as ink and pencil do, or ink and what shows through the "
        f"paper ({_percent(share)} of what is drawn is the paler). Both are kept, unless you "
        f"want the ink only: then the weakest mark kept is {weakest} % darker than the paper."
    )
    return said, weakest, [offer]


def _weight(kept: Plane, peaks: Peaks) -> npt.NDArray[np.float64]:
    """How much darkness lies at each tone below the paper's; (paper,)."""
    tones = fold_counts(count_tones(kept))[: max(round(peaks.paper), 1)]
    return tones * (peaks.paper - np.arange(len(tones)))


def _why_by_shape(pale: float) -> str:
    if pale < 0.005:
        return ("but would thin the pale edges of what is drawn, so marks are kept by their shape "
                "instead")
    return (f"but {_percent(pale)} of what is drawn is paler than that, so marks are kept by "
            "their shape instead")


def _percent(share: float) -> str:
    return "hardly any" if share < 0.005 else f"{100 * share:.0f} %"


def _levels(tones: float) -> str:
    return "1 level" if round(tones) == 1 else f"{tones:.0f} levels"


def _unevenness(page: Bands, read: Survey, each: Each) -> str:
    """Why the light must be evened; empty where it need not be."""
    sheet = whole(page, each)
    light = paper_light(grey_plane(sheet), sheet.ppi, EvenLight().reach) * 255 / sheet.full
    low, high = (float(v) for v in np.quantile(light, (0.01, 0.99)))
    paper = read.paper()
    tint = max(paper.colour) - min(paper.colour)
    if high - low > _UNEVEN:
        return (
            f"The paper runs from {low:.0f} to {high:.0f} over the page, so its light is evened "
            f"and it comes to {PAPER_TONE} everywhere."
        )
    if tint > _TINT:
        return f"The paper is tinted by {_levels(tint)}, so its colour is divided out."
    return ""


def _points(read: Survey, peaks: Peaks, white: float) -> tuple[Fixed, str]:
    black, why = _black_point(read, peaks, white)
    return Fixed(black=round(black), white=round(white)), why


def _black_point(read: Survey, peaks: Peaks, white: float) -> tuple[float, str]:
    tones = np.cumsum(fold_counts(read.grey)[: round(_clearing(peaks))])
    if peaks.ink is not None and _is_solid(tones, round(peaks.ink)):
        black = min(_darkest(tones[: round(peaks.ink) + 1], _DARK_SIDE), white - 20)
        return black, (
            f"The ink lies at {peaks.ink:.0f} and its darkest at {black:.0f}; the black point "
            "there leaves the edges as they are and one black apart from another. The proof names "
            "the point that makes all of it solid for a press."
        )
    black = min(_darkest(tones, _PENCIL), white - 20)
    if not (tones.size and tones[-1]):
        return black, "Nothing on it is darker than the paper: the page is blank."
    if tones[0] > _TWO_TONES * tones[-1]:
        return black, "What is drawn is full black already, as in a 1-bit scan."
    return black, (
        "The darks have no peak of their own, as with pencil, so only the darkest strokes "
        f"reach full black, at {black:.0f}."
    )


def _darkest(tones: Counts, share: float) -> float:
    """The tone at or below which a share of what is counted lies; ``tones`` add up."""
    return float(np.searchsorted(tones, tones[-1] * share)) if tones.size and tones[-1] else 0.0


def _is_solid(tones: Counts, ink: int) -> bool:
    """Whether hardly anything that is drawn lies beside a peak on its dark side."""
    return bool(tones[max(ink - _BESIDE, 0)] <= _DARKER * tones[-1])
