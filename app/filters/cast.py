"""Tones that run off the page: shadows cast on it from beyond, and washes.

What casts a shadow stands off the page before a lamp or a sun that is no point, so the rim of
the shadow is soft; a wash ends sharply. Between strokes the paper shows, and the lightest tones
nearby tell which part of a rim, and which ground beneath lettering, lies in the shadow.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.filters import grid
from app.filters.grid import Mask

_STROKE_MM = 2.5  # what is drawn is narrower, or it is not looked past
_SEEN = 0.06  # below the light of the page (a logarithm): something lies on it
_HALF, _DEEPER = 0.5, 1.4  # of the usual depth of such a tone: its rim; something drawn in it
_RIM = (0.25, 0.75)  # of that depth, between which a rim is measured
_NEAR_MM = 2.0  # of a rim, within which it is measured
_SOFT_MM, _SHARP_MM = 0.26, 0.24  # so wide at least the rim of a shadow, at most that of a wash
_UNKNOWN = (_SOFT_MM + _SHARP_MM) / 2
_NOISY = 0.3  # of the ground beside a rim lies between such depths too: nothing is told
_ABOUT_MM = 12.0  # of a shadow, within which paper between strokes is told to be in the light
_LONG_MM = 6.0  # of a rim that must be seen clear of strokes
_TOLD_MM = 4.0  # from what is seen of a rim, to which the rest of it goes on alike
_STRETCH_MM = 15.0  # of a shadow's rim, each of which is soft
_WITHIN_MM = 1.0  # of its rim and of strokes, its depth is not measured
_UNEVEN = 0.25  # of its depth: it varies by less
_FEW = 0.05  # of stretches, or of the lightest and of the darkest, are not counted
_MARGIN_MM, _ALL_ALONG = 8.0, 0.9  # no deeper, along so much of a side: it is no wash
_BROAD = 0.2  # of the page: hardly a wash so broad is so even, wherever drawing hides its rim
_BORDER_MM = 5.0  # along which it must touch the page's border
_AREA_MM = 8.0  # it is as large as a square of that side
_INK = 0.08  # below the lightest tones nearby (a logarithm): something is drawn
_ABOUT_INK_MM = 0.6
_ROUGHER = 2.0  # times the depth of the paper's pits beside strokes: it is shading
_BLACK = np.float32(1e-3)

Cells = npt.NDArray[np.float32]
Bits = npt.NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class Seen:
    """What is known of a page in cells of ``mm``, (h, w).

    ``share`` is the tone as a share of the page's lightest paper, ``light`` the logarithm of the
    page's light without any shadow, ``border`` the page's border.
    """

    share: Cells
    light: Cells
    border: Mask
    mm: float = 0.25

    def cells(self, length: float) -> int:
        """How many cells a length in mm is."""
        return max(1, round(length / self.mm))

    def disc(self, length: float) -> Bits:
        """A disc reaching so many mm from its middle."""
        return grid.disc(self.cells(length))


def lightest(cells: Cells, mm: float = 0.25) -> Cells:
    """The tone of cells (h, w) of ``mm``, strokes narrower than 2.5 mm filled by what is round.

    >>> page = np.full((40, 40), 0.9, np.float32)
    >>> page[:, 20:22] = 0.1
    >>> bool(np.allclose(lightest(page), 0.9))
    True
    """
    about = max(1, round(_STROKE_MM / mm)) | 1
    return np.asarray(
        cv2.morphologyEx(cells, cv2.MORPH_CLOSE, np.ones((about, about), np.uint8)), np.float32)


def find_cast(seen: Seen) -> tuple[Mask, Mask]:
    """Where shadows lie that fall in from beyond the page, rims included, and where washes do.

    A shadow is soft along all of its rim and of one depth. Whatever is in doubt is neither: to
    lose a wash is worse than to keep a shadow.

    >>> share = np.ones((160, 160), np.float32)
    >>> share[100:, 80:] = 0.85
    >>> border = np.ones((160, 160), bool)
    >>> border[3:-3, 3:-3] = False
    >>> shadow, wash = find_cast(Seen(share, np.zeros_like(share), border))
    >>> bool(shadow.any()), bool(wash[130, 120])
    (False, True)
    """
    shadow, wash = np.zeros((2, *seen.share.shape), np.bool_)
    light = lightest(seen.share, seen.mm)
    light = np.log(np.maximum(light, _BLACK))
    pits = light - np.log(np.maximum(seen.share, _BLACK))
    strokes = cv2.dilate((pits > _INK).astype(np.uint8), seen.disc(_ABOUT_INK_MM)) > 0
    depth = light - seen.light
    paper = (np.abs(depth) < _SEEN) & ~strokes
    if not paper.any():
        return shadow, wash
    depth -= np.median(depth[paper])
    rough = _ROUGHER * float(pits[paper].mean())
    for part in _at_border(depth, seen):
        bare = part & ~strokes
        deep = depth / np.median(depth[bare]) if bare.any() else depth
        whole = _grown(part, deep)
        bare &= whole
        if not bare.any() or pits[bare].mean() > rough:
            continue
        hidden = strokes | seen.border
        least, width = _rim_widths(deep, whole, hidden, seen)
        if (least >= _SOFT_MM and _even(deep, bare, seen)
                and (whole.mean() > _BROAD or _unseen(whole, deep, hidden, seen) < _LONG_MM)):
            near, about = (
                cv2.dilate(whole.astype(np.uint8), np.ones((size, size), np.uint8)) > 0
                for size in (2 * seen.cells(reach) + 1 for reach in (_NEAR_MM, _ABOUT_MM)))
            shadow |= whole | (near & (deep < _HALF)) | (about & (depth > -_SEEN / 4))
        elif width <= _SHARP_MM and not _is_margin(whole, seen):
            wash |= whole
    return shadow, wash


def _at_border(depth: Cells, seen: Seen) -> Iterator[Mask]:
    """Large connected parts below the light that touch the border."""
    low = (depth < -_SEEN).astype(np.uint8)
    dark = cv2.morphologyEx(low, cv2.MORPH_OPEN, seen.disc(_ABOUT_INK_MM))
    _, label, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=4)
    touching = np.bincount(label[seen.border], minlength=len(stats)) >= seen.cells(_BORDER_MM)
    large = stats[:, cv2.CC_STAT_AREA] >= seen.cells(_AREA_MM) ** 2
    for number in np.flatnonzero(touching & large):
        if number:
            yield label == number


def _is_margin(part: Mask, seen: Seen) -> bool:
    """Whether a part is no more than a strip along the whole of a side: the scan's, not drawn."""
    reach, deep = seen.cells(_NEAR_MM), seen.cells(_MARGIN_MM)
    sides = (part[:reach], part[-reach:], part[:, :reach].T, part[:, -reach:].T)
    return any(
        side.any(axis=0).mean() >= _ALL_ALONG and part.sum() <= deep * side.shape[1]
        for side in sides
    )


def _grown(part: Mask, deep: Cells) -> Mask:
    """All that is about as deep as it and hangs together with a part."""
    alike = (deep > _HALF) & (deep < _DEEPER)
    return _joined(part & alike, alike)


def _joined(part: Mask, mask: Mask) -> Mask:
    """All of a mask that hangs together with a part of it."""
    _, label = cv2.connectedComponents(mask.astype(np.uint8), connectivity=4)
    there = np.bincount(label[part], minlength=int(label.max()) + 1) > 0
    there[0] = False
    return np.asarray(there[label])


def _rim_widths(deep: Cells, part: Mask, hidden: Mask, page: Seen) -> tuple[float, float]:
    """How wide in mm the rim is from a quarter to three quarters of the depth: least, and mean.

    Where too little of it is seen, or the ground beside it is as uneven, it tells nothing.
    """
    # where it borders on what is deeper it ends at something drawn or at another tone
    rim = _edge(part) & _edge(deep > _HALF)
    seen = rim & ~hidden
    # the gradient marks a cell on either side of it
    length = float(seen.sum()) / 2 * page.mm
    if length < _LONG_MM:
        return _UNKNOWN, _UNKNOWN
    near = cv2.dilate(seen.astype(np.uint8), page.disc(_NEAR_MM)) > 0
    low, high = _RIM
    between = (deep > low) & (deep < high) & ~hidden
    # noise reaches in between anywhere
    further = cv2.dilate(near.astype(np.uint8), page.disc(_NEAR_MM)) > 0
    further &= ~near & ~hidden
    noise = float(between[further].mean()) if further.any() else 0.0
    near &= ~hidden
    soft = np.where(near, between - np.float32(noise), np.float32(0)) * np.float32(page.mm)
    width = 2 * float(soft.sum()) / float(seen.sum())
    if width < 0 or noise >= _NOISY:
        return _UNKNOWN, _UNKNOWN
    return _least_width(soft, seen, page), width


def _least_width(soft: Cells, seen: Mask, page: Seen) -> float:
    """How wide a rim is where it is narrowest, over stretches of 15 mm."""
    size = 2 * page.cells(_STRETCH_MM / 2) + 1
    softs, many = (cv2.boxFilter(cells, cv2.CV_32F, (size, size), normalize=False,
                                 borderType=cv2.BORDER_CONSTANT)
                   for cells in (soft, seen.astype(np.float32)))
    long = seen & (many / 2 * page.mm >= _LONG_MM)
    return float(np.quantile(2 * softs[long] / many[long], _FEW)) if long.any() else _UNKNOWN


def _unseen(part: Mask, deep: Cells, hidden: Mask, page: Seen) -> float:
    """The longest stretch, in mm, of a part's rim within the page far from any that is seen.

    A wash's outline hides its rim, whatever else the wash runs into; the outline belongs to it.
    """
    seen = _edge(part) & _edge(deep > _HALF) & ~hidden
    told = cv2.dilate(seen.astype(np.uint8), page.disc(_TOLD_MM)) > 0
    rim = _edge(_joined(part, part | (deep > _DEEPER))) & ~page.border & ~told
    _, _, stats, _ = cv2.connectedComponentsWithStats(rim.astype(np.uint8))
    return float(stats[1:, cv2.CC_STAT_AREA].max(initial=0)) / 2 * page.mm


def _even(deep: Cells, bare: Mask, page: Seen) -> bool:
    """Whether what lies well within a rim is of one depth, as no wash laid by hand is."""
    inner = cv2.erode(bare.astype(np.uint8), page.disc(_WITHIN_MM)) > 0
    if not inner.any():
        return False
    size = 2 * page.cells(_WITHIN_MM) + 1
    low, high = np.quantile(cv2.blur(deep, (size, size))[inner], (_FEW, 1 - _FEW))
    return bool(high - low < _UNEVEN)


def _edge(part: Mask) -> Mask:
    """The cells on either side of a part's edge."""
    about = np.ones((3, 3), np.uint8)
    return np.asarray(cv2.morphologyEx(part.astype(np.uint8), cv2.MORPH_GRADIENT, about) > 0)
