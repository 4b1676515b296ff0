"""The paper's own noise, and the page measured in multiples of it."""

from dataclasses import dataclass
from typing import TypeVar

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.beyond import at_size, beyond_sheet
from app.filters.grid import cells_of
from app.filters.strips import Strip, side_by_side, strips
from core.histogram import Peaks, count_tones, find_peaks
from core.sheet import Plane, full_scale
from core.units import mm_to_px

Levels = npt.NDArray[np.int16]
"""How much darker than the paper, in ``STEPS`` to the noise; what is lighter is negative."""

Tones = npt.NDArray[np.float32]
"""(h, w), 0-255."""

Some = npt.NDArray[np.bool_]

Corners = npt.NDArray[np.int64]

T = TypeVar("T", bound=np.generic)

STEPS = 64
WORK_PPI = 150
LIGHTEST, DARKEST = -5 * STEPS, 8 * STEPS
"""What one pixel may say at most, so that one spark or one solid does not speak for many."""

_LEAST_NOISE = 0.4  # tones: what rounding to whole tones leaves even on a flawless sheet
_FAR, _NORMAL_90 = 0.1, 1.645  # of a bell curve lies so many deviations off, or farther
_OFFSET = 1 << 14  # brings levels above zero, where OpenCV's blur is exact
_PER_TONE = 16  # levels to a tone before the noise is known
_BLOCKS_MM = (4.0, 2.0, 1.0)
_WHITE, _CUT_OFF = 254.5, 0.02  # of what is lighter than the paper is white where it was cut off
_LEAST_SIDE = 8  # pixels
_LOUDEST = 0.97  # of a block's pixels are no darker than what it is judged by
_QUIETEST = 0.03  # of the blocks stand for bare paper where there is none
_DRAWN = 24.0  # tones that darks swing: more than any paper's, blocks so large hold drawing
_NEARLY = 1.2  # times as loud as bare blocks usually are: more is drawn on
_OFF = 4.0  # tones, or the paper's own noise if that is more: further off a block is no paper
_FEW = 4  # blocks: fewer may not be alike, and smaller ones tell more
_ENOUGH = 300  # blocks: more would measure the paper no better
_FIELD_MM = 10.0
_ENOUGH_LIGHT = 0.15  # of a field lies above the paper's tone, or too little of it is bare
_ONE_SIDED = 1.6  # times the spread of the lights that the darks have where something is drawn
_QUIETER, _LOUDER = 0.6, 2.5  # times the page's noise: as far as a field's own may go


@dataclass(frozen=True, eq=False)
class Ground:
    """A page in cells, at about ``WORK_PPI``, in levels above its own paper.

    ``tone`` (h, w) float32, ``paper`` and ``noise`` in tone 0-255; ``levels`` (h, w) int16;
    ``ppi`` is that of both planes. ``bare`` (n, 2) are the top left corners of blocks of ``side``
    pixels that hold nothing but paper, as far as one can tell. ``clipped`` says that white cut
    off the paper's lights, so that nothing can be learnt from them.
    """

    tone: Tones
    levels: Levels
    paper: float
    noise: float
    ppi: float
    bare: Corners
    side: int
    clipped: bool = False

    def pixels(self, length: float) -> float:
        """Pixels of ``length`` mm."""
        return mm_to_px(length, self.ppi)


def measure_ground(plane: Plane, ppi: float) -> Ground:
    """Measure the paper of a grey plane (H, W), finer than in whole tones.

    Paper and noise are read off blocks that seem bare, the noise off what is *lighter* than
    the paper there: relief is light and dark alike, and no ink lies on the light side.

    >>> flat = np.full((200, 200), 230, np.uint8)
    >>> ground = measure_ground(flat, 300)
    >>> ground.paper, ground.noise, int(abs(ground.levels).max())
    (230.0, 0.4, 0)
    """
    cell = cell_side(ppi)
    ppi /= cell
    tone = cells_of(plane, cell) * np.float32(255 / full_scale(plane))
    sheet = ~at_size(beyond_sheet(tone, ppi), tone.shape)
    seen = tone if sheet.all() or not sheet.any() else tone[sheet]
    peaks = find_peaks(count_tones(np.rint(seen).astype(np.uint8)))
    clipped = _is_clipped(seen, peaks)
    bare, side = _bare_blocks(tone, sheet, peaks, ppi, clipped)
    quiet = patches(tone, bare, side)
    paper = float(np.mean(quiet, dtype=np.float64))
    step = 255 / full_scale(plane) / cell**2
    lights = float(quiet.std(dtype=np.float64)) if clipped else _spreads(quiet, paper, step)[0]
    noise = max(lights, _LEAST_NOISE)
    local = np.float32(noise) if clipped else _local_noise(tone, paper, noise, step, ppi)
    levels = _in_levels(tone, paper, local, (LIGHTEST, DARKEST))
    return Ground(tone, levels, paper, noise, ppi, bare, side, clipped)


def _is_clipped(tone: Tones, peaks: Peaks) -> bool:
    """Whether white cut off the lights of the paper, so that many of these tones are white."""
    near = peaks.paper + 2 * max(peaks.noise, _LEAST_NOISE) > 255
    lighter = np.count_nonzero(tone > peaks.paper)
    return near and bool(np.count_nonzero(tone > _WHITE) >= _CUT_OFF * lighter)


def _bare_blocks(
    tone: Tones, sheet: npt.NDArray[np.bool_], peaks: Peaks, ppi: float, clipped: bool,
) -> tuple[Corners, int]:
    """Top left corners of blocks of bare paper, and their side in pixels.

    They are the larger the better, but on a page that is drawn all over only small ones are left.
    """
    found: tuple[Corners, Some, int] | None = None
    sides = [max(_LEAST_SIDE, round(mm_to_px(size, ppi))) for size in _BLOCKS_MM]
    for side in sides:
        corners, swing, near, both_ways = _blocks(tone, sheet, peaks, ppi, side, clipped)
        usual = np.median(swing[near & both_ways]) if (near & both_ways).any() else np.inf
        if usual > _DRAWN * _PER_TONE:
            continue
        bare = near & both_ways & (swing <= _NEARLY * max(float(usual), 1.0))
        if np.count_nonzero(bare) >= _FEW:
            found = corners, bare, side
            break
        found = found or (corners, bare, side)
    if found is None:  # the quietest will do, of those as light as the paper if any is
        light = near if near.any() else np.ones_like(near)
        found = corners, light & (swing <= np.quantile(swing[light], _QUIETEST)), side
    corners, bare, side = found
    places = np.flatnonzero(bare)
    return corners[places[:: -(-len(places) // _ENOUGH)]], side


def _blocks(
    tone: Tones, sheet: npt.NDArray[np.bool_], peaks: Peaks, ppi: float, side: int,
    clipped: bool,
) -> tuple[Corners, npt.NDArray[np.int32], Some, Some]:
    """Blocks of the sheet: how far their darks swing, which are as light as paper, which even.

    Relief is light and dark alike, and much the same from block to block; ink is only dark.
    """
    within = _in_blocks(sheet, side).all(axis=(2, 3))
    within |= not within.any()
    limits = (2 * LIGHTEST, 2 * DARKEST)
    levels = _in_levels(tone, peaks.paper, np.float32(STEPS / _PER_TONE), limits)
    blocks = _in_blocks(blur(levels, mm_to_px(0.1, ppi)), side)
    ranks = [int(share * side**2) for share in (1 - _LOUDEST, 0.5, _LOUDEST)]
    ranked = np.empty((*within.shape, len(ranks)), np.int32)

    def rank(row: int) -> None:
        # 32 bits are sorted several times as fast as 16
        one = blocks[row].astype(np.int32).reshape(-1, side**2)
        one.sort(axis=1)
        ranked[row] = one[:, ranks]

    side_by_side(rank, range(len(blocks)))
    corners = np.argwhere(within) * side
    light, middle, dark = ranked[within].T
    near = np.abs(middle) <= _PER_TONE * max(_OFF, peaks.noise)
    both_ways = clipped | (dark - middle <= _ONE_SIDED * (middle - light) + _PER_TONE // 2)
    return corners, dark - middle, near, np.asarray(both_ways)


def _in_blocks(plane: npt.NDArray[T], side: int) -> npt.NDArray[T]:
    """Whole blocks of ``side`` pixels side by side, one at least: (rows, columns, side, side)."""
    short = [(0, max(side - size, 0)) for size in plane.shape]
    wide = np.pad(plane, short, mode="symmetric") if any(map(any, short)) else plane
    rows, columns = (size // side for size in wide.shape)
    whole = wide[: rows * side, : columns * side]
    return whole.reshape(rows, side, columns, side).swapaxes(1, 2)


def _spreads(tones: Tones, paper: float, step: float) -> tuple[float, float]:
    """The deviations of what is lighter and what is darker than the paper, as of half a bell.

    Each tone stands for all that lies within half a ``step`` of it, so that noise of less than a
    step is measured too; 0 where nothing is lighter, or darker.

    >>> _spreads(np.full((2, 2), 200, np.float32), 230, 1)[0]
    0.0
    """
    ranked = np.sort(tones, axis=None)
    below = np.append(np.flatnonzero(ranked[1:] != ranked[:-1]) + 1, ranked.size)
    values = ranked[below - 1]
    ends = np.concatenate([values[:1] - step / 2, values + step / 2])
    below = np.append(0, below)
    share = np.interp(paper, ends, below)
    lights, darks = below[-1] - share, share
    far = np.interp([below[-1] - _FAR * lights, _FAR * darks], below, ends)
    lighter, darker = (max(float(reach), 0.0) / _NORMAL_90
                       for reach in (far[0] - paper, paper - far[1]))
    return lighter, darker


def _local_noise(tone: Tones, paper: float, noise: float, step: float, ppi: float) -> Tones:
    """The noise about each pixel (h, w): where a lamp was weak, evening the light raised it.

    Every other pixel of every other row tells as much as all.
    """
    grid = [max(1, round(size / mm_to_px(_FIELD_MM, ppi))) for size in tone.shape]
    rows, columns = (
        np.linspace(0, size, parts + 1).astype(int)
        for size, parts in zip(tone.shape, grid, strict=True)
    )
    found = np.full(grid, noise, np.float32)
    for r, c in np.ndindex(*grid):
        field = tone[rows[r] : rows[r + 1] : 2, columns[c] : columns[c + 1] : 2]
        lights, darks = _spreads(field, paper, step)
        bare = darks < _ONE_SIDED * lights
        if bare and np.count_nonzero(field > paper) > _ENOUGH_LIGHT * field.size:
            found[r, c] = lights
    usual = np.clip(cv2.medianBlur(found, 3), noise * _QUIETER, noise * _LOUDER)
    soft = cv2.blur(usual, (3, 3), borderType=cv2.BORDER_REPLICATE)
    wide = cv2.resize(soft, tone.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(wide, np.float32)


def cell_side(ppi: float) -> int:
    """Pixels to the side of the cells, of about 0.17 mm, that marks are looked for in.

    >>> [cell_side(ppi) for ppi in (96, 300, 400, 600)]
    [1, 2, 3, 4]
    """
    return max(1, round(ppi / WORK_PPI))


def _in_levels(
    tone: Tones, paper: float, noise: Tones | np.float32, ends: tuple[int, int],
) -> Levels:
    """Levels held within their ends; the noise is one number or one for each pixel."""
    made = np.empty(tone.shape, np.int16)

    def work(strip: Strip) -> None:
        rows = strip[0]
        levels = np.float32(paper) - tone[rows]
        levels *= np.float32(STEPS) / (noise if isinstance(noise, np.float32) else noise[rows])
        np.rint(levels, out=levels)
        made[rows] = np.clip(levels, *ends, out=levels)

    side_by_side(work, strips(len(tone)))
    return made


def blur(levels: Levels, sigma: float) -> Levels:
    """Levels through a round bell of ``sigma`` pixels, by OpenCV's exact 16-bit path."""
    if sigma < 0.3:  # the nearest neighbours would weigh less than 1 in 256
        return levels
    made = np.empty_like(levels)

    def work(strip: Strip) -> None:
        rows, around, inner = strip
        raised = (levels[around] + np.int16(_OFFSET)).view(np.uint16)
        soft = cv2.GaussianBlur(raised, (0, 0), sigma, borderType=cv2.BORDER_REFLECT_101)
        np.subtract(soft[inner].view(np.int16), np.int16(_OFFSET), out=made[rows])

    side_by_side(work, strips(len(levels), max(2, round(5 * sigma))))
    return made


def patches(
    plane: npt.NDArray[T], places: Corners, side: int, margin: int = 0,
) -> npt.NDArray[T]:
    """Blocks of a plane beneath one another, each with a margin all round: (n, s, s).

    What lies beyond the plane is its mirror image, as often as it takes.
    """
    reach = np.arange(-margin, side + margin)
    rows, columns = (
        _mirrored(starts[:, None] + reach, size)
        for starts, size in zip(places.T, plane.shape, strict=True)
    )
    return np.asarray(plane[rows[:, :, None], columns[:, None, :]])


def _mirrored(index: npt.NDArray[np.int64], size: int) -> npt.NDArray[np.int64]:
    index = index % (2 * size)
    return np.minimum(index, 2 * size - 1 - index)
