"""Finding the light on the paper beneath whatever was drawn on it.

Ink adds only dark, and adds it with sharp edges or with a texture of its own; light changes
slowly and scales the paper's grain with it (the parting of the two goes back to E. H. Land and
J. J. McCann, "Lightness and retinex theory", J. Opt. Soc. Am. 61 (1971) 1-11). So bare paper
is what is as smooth as the smoothest of the page; areas of it that touch are lit alike, and
from one area to the next the light goes on across what parts them. Where paper is bare its own
tone is the light; beneath ink the light is carried on from round about.
"""

from dataclasses import dataclass
from functools import reduce
from typing import TypeVar

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.beyond import at_size, beyond_sheet
from app.filters.bowl import fit_bowl
from app.filters.cast import Seen, find_cast, lightest
from app.filters.clouds import find_clouded, find_clouds
from app.filters.edges import find_edges
from app.filters.grid import (
    Mask,
    box,
    cells_of,
    pairs,
    some,
)
from app.filters.haze import find_haze
from app.filters.lit import FEW, SEEN, SOLID, Cells, broad, lit
from app.filters.meetings import Meetings, all_along, find_meetings, find_offsets, linked
from app.filters.opaque import light_spots
from app.filters.smooth import smooth_paper
from app.filters.strips import both
from core.sheet import Plane, full_scale
from core.units import mm_to_px

_CELL_MM = 0.25
_RAGGED_MM = 1.0  # of a sheet's edge in which no paper is looked for
_TONED = 0.03  # the same for an area that its rim alone parts from paper
_LEAST_AREA = 5  # squares that the core of an area holds, or it is too small to judge by
_CROSS = np.array([[0, 1, 0], [1, 1, 1], [0, 1, 0]], np.uint8)
_LEAST_SHARE = np.float32(0.1)  # of nine squares: one of them at least
_RIM = 3.0  # squares round its core that belong to an area
_LARGE_AREA = 40  # squares: smaller areas must come the closer to the tone of the others
_MOST_AREAS = 300
_KNOWN = 0.9  # of a shadow that was paper before: nothing is new about it
_NO_PAPER = 40  # of 255: a page with nothing lighter holds no paper
_SMOOTH_MM = 3.0  # the light is a mean over about twice this where it bends little

T = TypeVar("T", np.float32, np.bool_)


@dataclass(frozen=True, eq=False)
class Light:
    """The tone of bare paper, one value for each square of ``side`` pixels.

    ``tones`` is (h, w, channels) float32, in the plane's own code values; ``bare`` (h, w) bool
    is where paper was seen and not guessed.
    """

    tones: npt.NDArray[np.float32]
    bare: Mask
    side: int


def find_light(plane: Plane, ppi: float, reach: float) -> Light | None:
    """The light on a plane (H, W) or (H, W, 3); None on a page without any paper.

    ``reach`` is in mm: what is plain, sharp-edged, lighter than 55 % of the light round it and
    at least so wide is taken for paper in shadow; narrower, for a drawn tone.

    >>> light = find_light(np.full((60, 60), 200, np.uint8), 300, 40)
    >>> light.tones.shape, round(float(light.tones[3, 3, 0]), 3)
    ((10, 10, 1), 200.0)
    """
    side = max(1, round(mm_to_px(_CELL_MM, ppi)))
    cells = np.atleast_3d(cells_of(plane, side))
    channels = [np.ascontiguousarray(cells[..., channel]) for channel in range(cells.shape[2])]
    away = at_size(beyond_sheet(reduce(np.maximum, channels), ppi / side, _RAGGED_MM), cells.shape)
    share = _share(channels, ~away, full_scale(plane))
    if share is None:
        return None
    plain = smooth_paper(share, ~away)
    many = pairs(plain.astype(np.uint8))
    paper = many == pairs(np.ones(plain.shape, np.uint8))
    weight = many.astype(np.float32)
    step_mm = 2 * side / mm_to_px(1, ppi)
    near = max(1, round(_SMOOTH_MM / step_mm))
    tone = _logs(share, plain, weight)
    border = _border(away, tone.shape)
    sizes = step_mm, reach, near
    bare, (cast, wash) = _bare_and_cast(tone, share, (paper, border), sizes)
    if bare.any() and np.median(tone.ravel()[some(bare)]) < np.log(SOLID):
        # solids are the smoothest that the page has
        paper &= tone > np.log(SOLID)
        bare, (cast, wash) = _bare_and_cast(tone, share, (paper, border), sizes)
    if not bare.any():
        return None
    bare &= ~wash
    logs = [_logs(channel, plain, weight) for channel in channels]
    bare &= ~light_spots(logs, bare & ~cast, border, step_mm)
    base = bare & ~_new(cast, bare, paper)
    tones = _tones(channels, logs, (bare, base, cast), step_mm)
    return Light(np.exp(np.stack(tones, axis=2)), bare | cast, 2 * side)


def _share(channels: list[Cells], sheet: Mask, full: int) -> Cells | None:
    """The tone of each cell by the sheet's lightest, in the channel where it is least.

    Each channel by its own paper: an ink of any colour is dark in one. None where none is light
    enough for paper.
    """
    seen = sheet[::3, ::3]
    most = [float(np.quantile(channel[::3, ::3][seen], 0.98)) for channel in channels]
    if max(most) < _NO_PAPER * full / 255:
        return None
    return reduce(np.minimum, (channel / np.float32(max(lights, 1))
                               for channel, lights in zip(channels, most, strict=True)))


def _tones(
    channels: list[Cells], logs: list[Cells], squares: tuple[Mask, Mask, Mask], step_mm: float,
) -> list[Cells]:
    """The logarithm of each channel's light; ``squares`` are bare, seen all over, and in shadow."""
    bare, base, cast = squares
    if cast.any():
        logs = [np.where(cast & ~bare, _between_strokes(channel, log, bare, step_mm), log)
                for channel, log in zip(channels, logs, strict=True)]
    near = max(1, round(_SMOOTH_MM / step_mm))
    tones = [lit(log, bare | cast, base, near) for log in logs]
    haze = find_haze(channels, tones, bare | cast, step_mm)
    return tones if haze is None else [np.add(*both) for both in zip(tones, haze, strict=True)]


def _bare_and_cast(
    tone: Cells, share: Cells, squares: tuple[Mask, Mask], sizes: tuple[float, float, int],
) -> tuple[Mask, tuple[Mask, Mask]]:
    """What ``_bare`` and ``_cast`` find; ``sizes`` are those of ``_cast`` and the cells near by."""
    (paper, border), (step, reach, near) = squares, sizes
    if not paper.any():
        return paper, (paper, paper)
    return both(lambda: _bare(tone, paper, border, near, reach / step),
                lambda: _cast(tone, share, squares, (step, reach)))


def _logs(cells: npt.NDArray[np.floating], plain: Mask, weight: Cells) -> Cells:
    """The logarithm of the mean over each square's plain cells; 0 where it has none."""
    mean = pairs(cells * plain)
    mean /= np.maximum(weight, np.float32(1))
    np.log(np.maximum(mean, np.float32(1e-3), out=mean), out=mean)
    return np.where(weight > 0, mean, np.float32(0))


def _cast(
    tone: Cells, share: Cells, squares: tuple[Mask, Mask], sizes: tuple[float, float],
) -> tuple[Mask, Mask]:
    """Squares in the shadow of what is not on the page, and of washes that run off it.

    ``share`` is the tone of cells, ``squares`` are what is paper and the border, ``sizes`` in mm
    a square's side and the width from which on a wash is taken for a shadow.
    """
    (paper, border), (step, reach) = squares, sizes
    light = fit_bowl(tone, some(paper), lighter=True)
    clouded = _clouded(tone, light, (paper, border), step)
    if not _touching(paper & (tone < light - SEEN), border).any():
        return np.zeros_like(paper), clouded

    def wide(grid: npt.NDArray[T]) -> npt.NDArray[T]:
        return grid.repeat(2, axis=0).repeat(2, axis=1)[: share.shape[0], : share.shape[1]]

    found = find_cast(Seen(share, wide(light), wide(border), step / 2))
    every = pairs(np.ones(share.shape, np.uint8))
    shadow, wash = (pairs(mask.astype(np.uint8)) == every for mask in found)
    # only what is seen of it counts, so nothing goes on beyond the page
    wash &= ~_wide(np.pad(wash, 1), reach / step)[1:-1, 1:-1]
    return shadow & ~clouded, wash | clouded


def _clouded(tone: Cells, light: Cells, squares: tuple[Mask, Mask], step: float) -> Mask:
    """Washes that run off the page, however soft, by how unevenly they dried."""
    paper, border = squares
    calm = paper & ~find_clouds(tone, paper, step).lively()
    if calm.mean() > FEW:
        light = fit_bowl(tone, some(calm), lighter=True)
    flat = tone - broad(tone, calm, max(1, round(_SMOOTH_MM / step)))
    return find_clouded(tone - light, find_clouds(flat, paper, step), paper, border)


def _new(cast: Mask, bare: Mask, paper: Mask) -> Mask:
    """Shadows that were not taken for paper already."""
    count, label = cv2.connectedComponents(cast.astype(np.uint8), connectivity=8)
    known, every = (np.bincount(label[part], minlength=count) for part in (bare & paper, paper))
    new = known < _KNOWN * every
    new[0] = False
    return np.asarray(new[label])


def _between_strokes(channel: Cells, log: Cells, bare: Mask, step_mm: float) -> Cells:
    """The logarithm of each square's tone, or where strokes lie of the lightest tones about it."""
    light = lightest(channel, step_mm / 2)
    many = pairs(np.ones_like(light))
    mean, most = (np.log(np.maximum(pairs(part) / many, np.float32(1e-3)))
                  for part in (channel, light))
    most -= np.median((most - log)[bare])
    return np.where(mean < most - SEEN / 2, most, mean)


def _border(away: Mask, shape: tuple[int, ...]) -> Mask:
    """Squares near the page's border or what lies beyond the sheet."""
    outside = np.pad(at_size(away, shape).astype(np.uint8), 1, constant_values=1)
    about = np.ones((2 * int(_RIM) + 1, 2 * int(_RIM) + 1), np.uint8)
    return np.asarray(cv2.dilate(outside, about)[1:-1, 1:-1] > 0)


def _bare(tone: Cells, plain: Mask, border: Mask, near: int, reach: float) -> Mask:
    """Plain squares that are paper, in the light or in shadow, and not a flat tone.

    Plain areas that touch broadly are lit alike, however their tone changes. From one to
    another the light goes on across what parts them, so a jump there is a drawn tone's.
    """
    if not plain.any():
        return plain
    # between areas far apart the light's own slope is no jump
    level = tone - broad(tone, plain, near)
    edges = find_edges(level, plain)
    # what runs to the border may be the rim of a shadow that falls in from beyond the page
    edges &= ~_touching(edges, border)
    core = cv2.erode((plain & ~edges).astype(np.uint8), _CROSS)
    count, label = cv2.connectedComponents(core, connectivity=4)
    area = np.bincount(label.ravel(), minlength=count)[1:]
    kept = np.argsort(-area, kind="stable")[: min(_MOST_AREAS, int((area >= _LEAST_AREA).sum()))]
    if not kept.size:
        return plain
    number = np.full(count, -1)
    number[kept + 1] = np.arange(kept.size)
    number = number[label]
    far, seat = _nearest(number >= 0)
    owner = number.ravel()[seat]
    tones = (level.ravel()[seat], _means(level, number >= 0).ravel()[seat])
    meetings = find_meetings(tones, owner, far)
    offset = find_offsets(meetings, area[kept])
    reached = plain & (far <= _RIM)
    toned = reached & _dark(offset, meetings, (number, plain, border))[owner]
    shadow = toned & (offset > np.log(SOLID))[owner]
    bare = (reached & ~toned) | _wide(shadow, reach)
    return _without_strays(tone, bare, owner, area[kept] >= _LARGE_AREA, near)


def _means(level: Cells, there: Mask) -> Cells:
    """Means over those squares about each that are there: a single one is as rough as the tooth."""
    mean = box(np.where(there, level, np.float32(0)), 1)
    mean /= np.maximum(box(there.astype(np.float32), 1), _LEAST_SHARE)
    return np.asarray(mean, np.float32)


def _touching(mask: Mask, border: Mask) -> Mask:
    """The parts of a mask that touch the border."""
    count, label = cv2.connectedComponents(mask.astype(np.uint8), connectivity=8)
    touching = np.zeros(count, np.bool_)
    touching[label[border]] = True
    return np.asarray(touching[label] & mask)


def _dark(
    offset: Cells, meetings: Meetings, squares: tuple[npt.NDArray[np.int64], Mask, Mask],
) -> Mask:
    """Which areas are darker than paper would be.

    ``squares`` are the number of each one's area, or -1, what is plain, and the border. What a
    rim of tone alone parts from paper is so for less, and what is darker all along the line
    about it, but not if it reaches the border: a wash lies within the page as a rule, a shadow
    falls in from beyond it.
    """
    number, plain, border = squares
    core = cv2.erode(plain.astype(np.uint8), _CROSS)
    _, label = cv2.connectedComponents(core, connectivity=4)
    there = number >= 0
    home = np.zeros(offset.size, np.int64)
    home[number[there]] = label[there]
    beside = np.isin(home, home[offset >= -_TONED])
    toned = offset < -_TONED
    inside = ~np.isin(np.arange(offset.size), number[there & border])
    outlined = all_along(offset, meetings) & ~linked(~inside, toned, meetings)
    return np.asarray(toned & inside & (beside | outlined) | ~beside & (offset < -SEEN))


def _without_strays(
    tone: Cells, bare: Mask, owner: npt.NDArray[np.int64], large: Mask, near: int,
) -> Mask:
    """Bare squares less those darker than the light that the large areas among them show.

    A small area is worth little and may be shading that happens to be smooth, so it goes as
    a whole, and for half as much.
    """
    base = bare & large[owner]
    if 2 * int(base.sum()) < int(bare.sum()):
        base = bare
    off = tone - lit(tone, base, base, near)
    many = np.bincount(owner[bare], minlength=large.size)
    mean = np.bincount(owner[bare], off[bare], large.size) / np.maximum(many, 1)
    stray = ~large & (mean < -SEEN / 2)
    return np.asarray(bare & (off > -SEEN) & ~stray[owner])


def _nearest(there: Mask) -> tuple[Cells, npt.NDArray[np.int64]]:
    """How far each square is from the nearest one that is ``there``, and its flat index."""
    far, nearest = cv2.distanceTransformWithLabels(
        (~there).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL)
    seat = np.zeros(int(nearest.max()) + 1, np.int64)
    seat[nearest[there]] = np.flatnonzero(there)
    return np.asarray(far, np.float32), seat[nearest]


def _wide(mask: Mask, reach: float) -> Mask:
    """The parts of a mask that hold a disc of ``reach`` cells across."""
    if not mask.any():
        return mask
    # what goes on beyond the page may be as wide as it likes there, but half of it is seen
    beyond_edge = int(reach / 2) + 1
    inside = np.pad(mask, beyond_edge, mode="edge").astype(np.uint8)
    depth = cv2.distanceTransform(inside, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    seen = depth[beyond_edge:-beyond_edge, beyond_edge:-beyond_edge]
    core = (seen * 2 < reach).astype(np.uint8)
    if core.all():
        return np.zeros_like(mask)
    far = cv2.distanceTransform(core, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(mask & (far <= reach / 2 + 2))
