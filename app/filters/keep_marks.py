"""Telling drawn marks from the paper they lie on."""

from dataclasses import dataclass, replace
from typing import ClassVar

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.evidence import ONE, Evidence, Found, find_evidence
from app.filters.grid import disc
from app.filters.noise import DARKEST, Ground, Some, cell_side, measure_ground
from app.filters.onward import going_on
from app.filters.opaque import hidden_paper
from app.filters.outline import BESIDE, HERE, Mask, keep_inside
from app.filters.strips import ROWS, Strip, both, side_by_side, strips
from app.filters.surround import outside_sheet
from app.filters.weakest import about_dark
from core.matte import paper_codes
from core.readings import grey_plane, survey
from core.sheet import Paper, Plane, Sheet
from core.steps.fields import Record, either, flag, number
from core.steps.step import Step
from core.units import px_to_mm

_NO_PAPER = 64.0  # a page whose lightest peak is darker than this shows no paper
_USUAL = 3.0  # times the noise: the limit at which evidence counts from 0.6 of ONE on
_LOW = 0.6 * ONE
_BY_ITSELF = 2.5  # times the limit: a pixel that needs no length
_PART, _PART_BY_ITSELF = 0.8, 3.0  # the same for what only touches a dark mark: less is asked
_PALE_PART = 0.15  # the same where nothing strong is near that it could be the edge of
_WEIGHT_PER_MM = 0.4  # evidence beyond the limit, in mm2, of each mm that a mark must have
_RIM_MM = 0.17
_GAP_MM = 0.17  # to either side: what a gap of paper parts may be one mark
_GROUP_MM, _FELLOWS = 0.75, 2  # half the way to the next grain of a group, and how many there are
_STRONG, _ABOUT_MM = 2.5, 1.0  # times the limit: no more than itself is one mark so near to it
_SIDE_MM = 0.5  # so near to a side of the page, what is pale goes on inwards or is shade
_OUT = 0.6  # times the limit: so much is said beside a faint stroke, as it fades
_NO_RELIEF = 10.0  # deviations: no relief gets so far below the paper
_FIRM, _PALE = 2.0, 0.7  # deviations below the paper: where an outline runs


@dataclass(frozen=True, kw_only=True)
class Pale(Record):
    """However pale a mark is."""

    words: ClassVar[str] = "however pale they are"


@dataclass(frozen=True, kw_only=True)
class Dark(Record):
    """What is so much darker than the paper, and 0.13 mm about it; what is paler goes."""

    words: ClassVar[str] = "if their darkest part is at least {share} darker than the paper"

    share: float = number("darker than the paper", "%", 1, 95, 50)


@dataclass(frozen=True, kw_only=True)
class KeepMarks(Step):
    """Keep what was drawn and turn all else to white.

    A drawn mark stands out from the noise of the page's own paper, by itself, along a line or as a
    tone. Within its outline the scan is left value for value; a feather of at most 0.085 mm lies
    outside it. Correction white goes with the ink that ghosts through it; what is drawn upon it
    stays. A page that shows no paper is kept as it is. With ``sheet`` lid, bed and table beyond the
    sheet go too, and binding holes; it is off unless asked for, since ink that runs off the sheet
    along the whole of a side looks the same to it.

    Another machine may place an outline differently where the evidence is within 1 part in 64 of
    the limit.
    """

    kind: ClassVar[str] = "keep marks"
    edition: ClassVar[int] = 12
    whole: ClassVar[bool] = True
    clears: ClassVar[bool] = True
    words: ClassVar[str] = (
        "Keep the drawn marks that stand out {limit} the paper's own noise and are at least "
        "{shortest} long or dark by themselves, {weakest}; all else becomes white, and {sheet}."
    )

    limit: float = number("limit", "times", 1, 20, 3)
    shortest: float = number("shortest faint mark", "mm", 0, 20, 1.5)
    weakest: Pale | Dark = either("weakest mark kept", Pale, Dark)
    sheet: bool = flag(
        "sheet only", False, yes="so does what lies beyond the sheet's edge and in its holes",
        no="what lies beyond the sheet's edge stays")

    @property
    def needs_paper(self) -> bool:
        """The paper is measured before it goes: steps after this one still refer to it."""
        return True

    def after(self, paper: Paper) -> Paper | None:
        """The paper that the marks still lie on."""
        return paper

    def apply(self, sheet: Sheet) -> Sheet:
        """The page with white instead of paper; a lifted one as it was.

        >>> page = np.full((300, 300), 230, np.uint8)
        >>> page[150:153, 50:250] = 60
        >>> kept = KeepMarks().apply(Sheet(ppi=300, grey=page)).grey
        >>> int(kept[151, 150]), int(kept[20, 20])
        (60, 255)
        """
        if sheet.alpha is not None:
            return sheet
        grey = grey_plane(sheet)
        found = self.find(grey, sheet.ppi, sheet.colour)
        if found is None:
            return sheet
        kept = found.kept_of(grey, sheet.ppi, self.weakest)
        return replace(sheet, grey=kept, colour=_bared(replace(sheet, grey=grey), kept))

    def find(self, grey: Plane, ppi: float, colour: Plane | None = None) -> "Marks | None":
        """The marks of a page (H, W), however pale; None where it shows no paper.

        Where its ``colour`` (H, W, 3) is known, white that hides the paper is told by it.
        """
        ground = measure_ground(grey, ppi)
        if ground.paper < _NO_PAPER:
            return None
        evidence = find_evidence(ground)
        # of these neither keeps two threads busy all the time, which evidence does
        support, hidden = both(
            lambda: find_support(ground, evidence, self.limit, self.shortest),
            lambda: hidden_paper(ground, colour, ppi))
        found = Marks(ground, support).on_paper(hidden)
        return found.on_sheet() if self.sheet else found


@dataclass(frozen=True, eq=False)
class Marks:
    """Where marks were drawn: the page's ground and their support on it, (h, w)."""

    ground: Ground
    support: Mask

    def on_paper(self, hidden: npt.NDArray[np.bool_] | None) -> "Marks":
        """Without what lies where the paper is ``hidden`` (h, w)."""
        if hidden is None:
            return self
        return replace(self, support=np.where(hidden, np.uint8(0), self.support))

    def on_sheet(self) -> "Marks":
        """Without what lies beyond the sheet's edge and in its holes."""
        away = outside_sheet(self.ground, self.support)
        return replace(self, support=np.where(away, np.uint8(0), self.support))

    def kept_of(self, grey: Plane, ppi: float, weakest: Pale | Dark) -> Plane:
        """The page that was looked at, (H, W), white where none of them is.

        >>> page = np.full((300, 300), 230, np.uint8)
        >>> page[150:153, 50:250] = 60
        >>> found = KeepMarks().find(page, 300)
        >>> int(found.kept_of(page, 300, Pale())[151, 150])
        60
        """
        ground = self.ground
        firm, pale = (ground.paper - times * ground.noise for times in (_FIRM, _PALE))
        kept = keep_inside(grey, self.support, cell_side(ppi), (firm, pale), ppi)
        if isinstance(weakest, Dark):
            return about_dark(kept, ground.paper * (1 - weakest.share / 100), ppi)
        return kept


def find_support(ground: Ground, found: Found, limit: float, shortest: float) -> Mask:
    """Where marks are, as ``keep_inside`` takes it, at the ground's resolution (h, w).

    ``found`` is the ground's evidence.

    >>> blank = measure_ground(np.full((300, 300), 230, np.uint8), 300)
    >>> bool(find_support(blank, find_evidence(blank), 3, 1.5).any())
    False
    """
    low = round(_LOW * limit / _USUAL)
    least = _WEIGHT_PER_MM * shortest / px_to_mm(1, ground.ppi) ** 2 * ONE
    ink = ground.tone < np.float32(ground.paper - _NO_RELIEF * ground.noise)
    strong = ((found.near > int(_STRONG * low)) | ink).view(np.uint8)
    gap, about = (np.ones_like(disc(ground.pixels(reach))) for reach in (_GAP_MM, _ABOUT_MM))
    weak = cv2.dilate(strong, about) == 0
    evidence = np.maximum(found.near, found.far)
    # light falls off steeply where a page goes into its book: that is no stroke
    evidence[weak & _along_sides(evidence > low, round(ground.pixels(_SIDE_MM)))] = 0
    above = (evidence > low).view(np.uint8)
    # the peaks of the tooth that a faint stroke touches belong together across small gaps
    joined = above | cv2.dilate(above, gap) * weak
    kept = _weighty(evidence, joined, (low, least, _BY_ITSELF * low))
    at_end = (ground.levels >= DARKEST) & ((found.near > ONE) | ink)
    kept |= _grains(above, at_end, kept, disc(ground.pixels(_GROUP_MM)))
    made = _parted(found, kept, weak, (low, least), disc(ground.pixels(_RIM_MM)))
    made.ravel()[going_on(made, found.far * weak, found.turn, low, ground)] = HERE
    # the evidence of a faint stroke ends within it: its outline runs a cell farther out
    out = cv2.dilate((made == HERE) * weak.view(np.uint8), disc(1)) * weak
    made[(out > 0) & (evidence > _OUT * low)] = HERE
    return np.asarray(made, np.uint8)


def _parted(
    found: Found, kept: Mask, weak: Some, limits: tuple[int, float], rim: Mask,
) -> Mask:
    """What of the kept lies beside something dark, and where a mark is expected; (h, w)."""
    low, least = limits
    beside = np.asarray(cv2.dilate(kept * (found.near > low), rim), np.uint8)
    apart = found.far * ((kept > 0) & (beside == 0))
    pieces = (apart > low).view(np.uint8)
    by_itself = _PART_BY_ITSELF * low
    heavy, pale = both(
        lambda: _weighty(apart, pieces, (low, _PART * least, by_itself)),
        lambda: _between(pieces, beside * weak)
        | _weighty(apart * weak, pieces * weak, (low, _PALE_PART * least, by_itself)))
    here = heavy | pale
    here |= ((beside > 0) & (kept > 0) & (found.far > low)) * np.uint8(HERE)
    return np.asarray(np.maximum(beside & np.uint8(BESIDE), here), np.uint8)


def _bared(sheet: Sheet, kept: Plane) -> Plane | None:
    """The colour plane with the paper's own colour where no mark is, so that none is lifted."""
    colour = sheet.colour
    if colour is None:
        return None
    paper = paper_codes(survey(sheet).paper().colour, sheet.full)
    bare = np.full((ROWS, *colour.shape[1:]), paper, colour.dtype)
    out = np.empty(colour.shape, colour.dtype)

    def lay(strip: Strip) -> None:
        rows = strip[0]
        out[rows] = colour[rows]
        white = (kept[rows] == sheet.full).view(np.uint8)
        cv2.copyTo(bare[: len(white)], white, out[rows])

    side_by_side(lay, strips(len(colour)))
    return out


def _along_sides(above: Some, reach: int) -> Some:
    """Where so near to a side of the page nothing lies farther in; (h, w)."""
    found = np.zeros_like(above)
    for turn in range(4):
        side, here = np.rot90(above, turn), np.rot90(found, turn)
        here[:reach] |= ~side[reach : 2 * reach].any(axis=0)
    return found


def _weighty(evidence: Evidence, joined: Mask, limits: tuple[int, float, float]) -> Mask:
    """Evidence that has the weight of a mark, or holds a pixel that needs none; 0 or 255.

    ``joined`` is what hangs together; ``limits`` the low one, the weight and that of a pixel.
    """
    low, least, by_itself = limits
    count, labels = cv2.connectedComponents(joined, connectivity=8)
    inside = np.flatnonzero(evidence > low)
    label, strength = labels.ravel()[inside], evidence.ravel()[inside]
    good = np.bincount(label, strength - np.int64(low), minlength=count) > least
    good[label[strength > by_itself]] = True
    made = np.zeros_like(joined)
    made.ravel()[inside[good[label]]] = 255
    return made


def _grains(above: Mask, at_end: npt.NDArray[np.bool_], kept: Mask, near: Mask) -> Mask:
    """Grains too small to be marks by themselves that lie near marks or among others; 0 or 255.

    Each holds a pixel as dark as levels go, and no relief gets so dark; but alone it is dust.
    """
    alone = above & ~kept
    count, label = cv2.connectedComponents(alone, connectivity=8)
    places = np.flatnonzero(alone.view(np.bool_))
    own = label.ravel()[places]
    dark = np.zeros(count, np.bool_)
    dark[own[at_end.ravel()[places]]] = True
    places, own = places[dark[own]], own[dark[own]]
    made = np.zeros_like(above)
    made.ravel()[places] = 1
    many, group = cv2.connectedComponents(cv2.dilate(made, near))
    mine = group.ravel()[places]
    grains = np.unique(mine.astype(np.int64) * count + own)
    good = np.bincount(grains // count, minlength=many) > _FELLOWS
    good[group.ravel()[np.flatnonzero(kept.view(np.bool_))]] = True
    made.ravel()[places] = np.where(good[mine], np.uint8(255), np.uint8(0))
    return made


def _between(pieces: Mask, peaks: Mask) -> Mask:
    """The pieces that touch two of the peaks or more, as a faint stroke goes on between them."""
    count, label = cv2.connectedComponents(pieces, connectivity=8)
    many, peak = cv2.connectedComponents(np.pad(peaks, 1), connectivity=8)
    places = np.flatnonzero(pieces.view(np.bool_))
    rows, columns = np.divmod(places, pieces.shape[1])
    mine = label.ravel()[places].astype(np.int64)
    touched = np.unique(np.concatenate([
        mine * many + peak[rows + down, columns + right] for down, right in np.ndindex(3, 3)]))
    of_piece, which = np.divmod(touched, many)
    good = np.bincount(of_piece[which > 0], minlength=count) > 1
    made = np.zeros_like(pieces)
    made.ravel()[places[good[mine]]] = HERE
    return made
