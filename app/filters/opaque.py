"""What hides the paper: correction white, and whatever else is laid on it opaque and light.

Ink lets the paper through, so in no colour is it lighter than the paper. What is lighter in one, in
a compact spot that ends sharply, hides it; light changes slowly, and all colours with it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.bowl import fit_bowl
from app.filters.grid import Mask, cells_of, disc, filled, pairs, some, square
from app.filters.noise import Ground, cell_side, patches
from core.sheet import Plane, full_scale

_WIDEST_MM = 28.0
_LIGHTER, _OVER_NOISE = 0.04, 4.0  # than the light (a logarithm), and times the paper's own swing
_COLOURED = 0.5  # of that will do where one channel is so much lighter than another
_LEAST_MM2 = 0.4
_RING_MM = (1.0, 2.5)  # about a spot, where it is over
_OVER = 0.4  # of its height: no more is left there
_RIM_MM = 0.5
_DIM = 32.0  # tones: a channel in which paper is darker tells nothing by its lights
_CELLS = 2  # of the ground to a side of those that white is looked for in
_LIT, _SWINGS = 0.02, 4.0  # than the paper (a share), and times its own swing: lighter
_TINTED, _TINTS, _NO_DARKER = 0.015, 5.0, 0.01  # the same of how far channels are apart
_GHOSTLY = 0.4  # of how much darker one channel is, another may be, as no ghost of ink is by itself
_SURE, _SURELY = 2.0, 0.3  # times as much, on so much of a spot
_NO_INK = 0.7  # of the paper's tone: nothing darker is white
_CORE_MM, _GAP_MM = 0.4, 1.0  # half as wide at least it is; as wide are ghosts of ink within it
_EDGE_MM = 0.17  # beyond it that goes with it: its rim and the shadow of that
_GHOST, _DRAWN = 0.65, 0.75  # of the paper's tone: what is darker is ink upon it, or beside it
_PALE_EDGE_MM = 0.34  # of such ink that stays with it

Cells = npt.NDArray[np.float32]
Bits = npt.NDArray[np.uint8]


def light_spots(logs: Sequence[Cells], bare: Mask, border: Mask, mm: float) -> Mask:
    """Squares of ``mm`` (h, w) that are lighter in some channel than light can make them.

    ``logs`` are the logarithms of each channel's tone where the paper is ``bare``. What touches
    the ``border`` is none.

    >>> tone, border = np.zeros((60, 60), np.float32), np.zeros((60, 60), bool)
    >>> tone[20:30, 20:30] = 0.1
    >>> found = light_spots([tone], tone > -1, border, 0.5)
    >>> bool(found[25, 25]), bool(found[40, 40])
    (True, False)
    """
    many = pairs(bare.astype(np.float32))
    seen = many > 0
    found = np.zeros(seen.shape, np.uint8)
    if seen.any():
        rises = [_rise(pairs(np.where(bare, tone, np.float32(0))) / np.maximum(many, 1), seen, mm)
                 for tone in logs]
        beside = pairs(border.astype(np.uint8)) > 0
        most = np.max(rises, axis=0)
        high = _high(most, most - np.min(rises, axis=0), seen)
        low = seen & ~high
        for part, here in _spots(high, 2 * mm):
            if not beside[here][part].any() and _ends(part, most[here], low[here], 2 * mm):
                found[here][part] = 1
    wide = cv2.dilate(found, square(_RIM_MM / 2 / mm)).repeat(2, axis=0).repeat(2, axis=1)
    return wide[: bare.shape[0], : bare.shape[1]] > 0


def _high(most: Cells, apart: Cells, seen: Mask) -> Mask:
    """Squares so light that no light makes them so, or of another colour and half as light."""
    noise = float(np.median(np.abs(most[seen]))) / 0.6745
    limit = max(_LIGHTER, _OVER_NOISE * noise)
    coloured = (most > _COLOURED * limit) & (apart - np.median(apart[seen]) > limit)
    return seen & ((most > limit) | coloured)


def _rise(tone: Cells, seen: Mask, mm: float) -> Cells:
    """How much lighter squares are than the page's light and than all that lies within 28 mm."""
    places, weight = some(seen), seen.astype(np.float32)
    # where no paper is seen a spot beside it must not stand for it
    about = np.minimum(filled(tone * weight, weight), fit_bowl(tone, places) + _LIGHTER / 2)
    many = cv2.blur(weight, (3, 3))
    mean = cv2.blur(tone * weight, (3, 3)) / np.maximum(many, np.float32(1e-3))
    soft = np.asarray(np.where(seen, mean, about), np.float32)
    low = cv2.morphologyEx(soft, cv2.MORPH_OPEN, square(_WIDEST_MM / 2 / (2 * mm)))
    near = soft - cv2.blur(low, (9, 9))
    near -= np.median(near[seen])
    if near[seen].max() < _COLOURED * _LIGHTER:
        return near
    return np.asarray(np.minimum(near, soft - fit_bowl(tone, places, lighter=True)))


def _spots(high: Mask, mm: float) -> Iterator[tuple[Mask, tuple[slice, slice]]]:
    """Each connected part that is of a spot's size, with what lies round it."""
    _, label, stats, _ = cv2.connectedComponentsWithStats(high.astype(np.uint8), connectivity=8)
    margin = int(_RING_MM[1] / mm) + 1
    large = stats[1:, cv2.CC_STAT_AREA] >= _LEAST_MM2 / mm ** 2
    large &= stats[1:, cv2.CC_STAT_WIDTH : cv2.CC_STAT_AREA].max(axis=1) * mm < _WIDEST_MM
    for number in np.flatnonzero(large) + 1:
        left, top, width, height = (int(side) for side in stats[number, :4])
        here = (slice(max(top - margin, 0), top + height + margin),
                slice(max(left - margin, 0), left + width + margin))
        yield label[here] == number, here


def _ends(part: Mask, rise: Cells, low: Mask, mm: float) -> bool:
    """Whether a part is over within a mm of its rim, where what is no such part is seen there."""
    near, far = (cv2.dilate(part.astype(np.uint8), square(reach / mm)) > 0 for reach in _RING_MM)
    ring = far & ~near & low
    if not ring.any():
        return True
    return bool(np.median(rise[ring]) < _OVER * np.quantile(rise[part], 0.8))


def hidden_paper(ground: Ground, colour: Plane | None, ppi: float) -> Mask | None:
    """Where no mark is since opaque white lies there, ghosts of ink and its rim with it; (h, w).

    ``colour`` (H, W, 3) is the page in even light at ``ppi``, if it has any. What is drawn upon
    the white stays. None where there is nothing of the kind.

    >>> from app.filters.noise import measure_ground
    >>> page = np.full((300, 300), 200, np.uint8)
    >>> page[100:160, 100:160] = 230
    >>> page[130:134] = 190
    >>> hidden = hidden_paper(measure_ground(page, 150), None, 150)
    >>> bool(hidden[132, 130]), bool(hidden[132, 30])
    (True, False)
    """
    white = _white(_channels(ground, colour, ppi), ground)
    if not white.any():
        return None
    mm = _CELLS * 25.4 / ground.ppi
    reach = max(1, round(_GAP_MM / mm))
    closed = cv2.morphologyEx(np.pad(white, 2 * reach), cv2.MORPH_CLOSE, disc(reach))
    within = _to_ground(closed[2 * reach : -2 * reach, 2 * reach : -2 * reach], ground)
    about = cv2.dilate(within.view(np.uint8), disc(ground.pixels(_EDGE_MM))) > 0
    share = np.where(within, np.float32(_GHOST), np.float32(_DRAWN))
    drawn = (ground.tone < share * np.float32(ground.paper)).view(np.uint8)
    return np.asarray(about & (cv2.dilate(drawn, disc(ground.pixels(_PALE_EDGE_MM))) == 0))


def _to_ground(spots: cv2.typing.MatLike, ground: Ground) -> Mask:
    """Cells that are 1 at the ground's resolution, with even outlines."""
    size = tuple(_CELLS * side for side in spots.shape[::-1])
    wide = cv2.resize(spots * np.uint8(255), size, interpolation=cv2.INTER_LINEAR)
    return np.asarray(wide[: ground.tone.shape[0], : ground.tone.shape[1]] > 127)


def _channels(ground: Ground, colour: Plane | None, ppi: float) -> list[Cells]:
    """The tone of cells twice as large as the ground's in each channel."""
    if colour is None:
        size = tuple(-(-side // _CELLS) for side in ground.tone.shape[::-1])
        return [np.asarray(cv2.resize(ground.tone, size, interpolation=cv2.INTER_AREA))]
    cells = cells_of(colour, _CELLS * cell_side(ppi)) * np.float32(255 / full_scale(colour))
    return [np.ascontiguousarray(cells[..., channel]) for channel in range(cells.shape[2])]


def _white(channels: Sequence[Cells], ground: Ground) -> Bits:
    """1 in the cells that are lighter than paper in a channel, in compact spots."""
    mm = _CELLS * 25.4 / ground.ppi
    shares = [tone / max(float(np.median(_quiet(tone, ground))), _DIM) - 1 for tone in channels]
    soft = [np.asarray(cv2.blur(share, (3, 3)), np.float32) for share in shares]
    most, light = np.max(soft, axis=0), _lightness(soft, ground)
    seen = np.min(shares, axis=0) > _NO_INK - 1
    high = ((light.least > 1) & seen).astype(np.uint8)
    core = cv2.morphologyEx(high, cv2.MORPH_OPEN, disc(_CORE_MM / mm))
    white = np.zeros(high.shape, np.uint8)
    if not core.any():
        return white
    low = seen & (high == 0)
    for part, here in _spots(core > 0, mm):
        sure = bool((light.least[here][part] > _SURE).mean() > _SURELY)
        if sure and _ends(part, most[here], low[here], mm):
            white[here][part] = 1
    if not white.any():
        return white
    ghost = ((light.ghost > _SURE) & seen).astype(np.uint8)
    ghost = np.asarray(cv2.morphologyEx(ghost, cv2.MORPH_OPEN, disc(_CORE_MM / mm)), np.uint8)
    return _joined(white, ghost)


def _joined(white: Bits, ghost: Bits) -> Bits:
    """The white, and what hangs together with it of where denser ink ghosts through it."""
    count, label = cv2.connectedComponents(white | ghost, connectivity=8)
    known = np.zeros(count, np.uint8)
    known[label[white > 0]] = 1
    return np.asarray(known[label])


def _lightness(shares: Sequence[Cells], ground: Ground) -> "_Lightness":
    """How much lighter cells are than paper.

    In the channel where they are most so, or by how far one channel goes from another where none
    of what is about them is darker in all.
    """
    most, least = np.max(shares, axis=0), np.min(shares, axis=0)
    light = most / max(_LIT, _SWINGS * float(_quiet(most, ground).std()))
    if len(shares) == 1:
        return _Lightness(light, light)
    apart = most - least
    usual, often = np.quantile(_quiet(apart, ground), (0.5, 0.9))
    tinted = (apart - usual) / max(_TINTED, _TINTS * (often - usual))
    surely = np.where(cv2.blur(most, (5, 5)) > _NO_DARKER, tinted, 0)
    ghost = np.where(most > _GHOSTLY * least, tinted, 0)
    return _Lightness(np.maximum(light, surely), ghost)


@dataclass(frozen=True, eq=False)
class _Lightness:
    """How much lighter cells are than paper, in multiples of what counts.

    ``least`` is what they are without any ghost of ink, ``ghost`` where ink may make them darker.
    """

    least: Cells
    ghost: Cells


def _quiet(plane: Cells, ground: Ground) -> Cells:
    """Blocks of the plane where the page is bare."""
    return patches(plane, ground.bare // _CELLS, max(1, ground.side // _CELLS))
