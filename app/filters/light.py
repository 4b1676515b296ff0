"""Finding the light on the paper beneath whatever was drawn on it.

Ink adds only dark, and adds it with sharp edges or with a texture of its own; light changes
slowly and scales the paper's grain with it (the parting of the two goes back to E. H. Land and
J. J. McCann, "Lightness and retinex theory", J. Opt. Soc. Am. 61 (1971) 1-11). So bare paper
is what is as smooth as the smoothest of the page; areas of it that touch are lit alike, and
from one area to the next the light goes on across what parts them. Where paper is bare its own
tone is the light; beneath ink the light is carried on from round about.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.beyond import at_size, beyond_sheet
from app.filters.grid import Grid, Mask, beyond, box, cells_of, filled, pairs, within
from core.sheet import Plane, full_scale
from core.units import mm_to_px

_CELL_MM = 0.25
_DARK = 0.2  # of the page's lightest paper: darker than this is never followed
_SOLID = 0.55  # of the light round it: a wide area darker than this is ink, not shadow
_SEEN = 0.05  # of the light round it: by so much must a plain area be darker to be a tone
_SHARP = 0.025  # of the light: a sharper bend between cells is an edge, whatever the noise
_BENDS = 4.5  # times the paper's own bending beyond which a cell is no paper
_ROUGHER = 1.4  # times the paper's own texture beyond which an area may be drawn on
_SHADOWED = 3.5  # times the paper's own texture that an area may have whose cells bend more
_NO_SHADOW = 4.5  # times the paper's own texture: more than that is no paper even in a shadow
_ONE_SIDED = 1.2  # times the energy of the lights that darks have where ink is
_ROUGHEST = 0.025  # of its light: no paper that was seen bends so much from cell to cell
_TEXTURE = 9  # cells over which texture is measured
_BEND = np.array([[1, 0, -2, 0, 1]], np.float32)
_ROOM = 5  # cells that bare paper is wide at least
_ENOUGH = 0.02  # of the page: where less bare paper is as wide as that, any will do
_FEW = 0.005  # of the page: less bare paper than that tells no slope
_LEAST_AREA = 5  # squares that the core of an area holds, or it is too small to judge by
_CROSS = np.array([[0, 1, 0], [1, 1, 1], [0, 1, 0]], np.uint8)
_RIM = 3.0  # squares round its core that belong to an area
_LARGE_AREA = 40  # squares: smaller areas must come the closer to the tone of the others
_MOST_AREAS = 300
_SURE = 3.0  # times its noise must the light's own variance exceed, to be followed closely
_FITTED = 20_000  # squares at most are fitted
_FITS = 4
_NO_PAPER = 40  # of 255: a page with nothing lighter holds no paper
_SMOOTH_MM = 3.0  # the light is a mean over about twice this where it bends little

Cells = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Light:
    """The tone of bare paper, one value for each square of ``side`` pixels.

    ``tones`` is (h, w, channels) float64, in the plane's own code values; ``bare`` (h, w) bool
    is where paper was seen and not guessed.
    """

    tones: Grid
    bare: Mask
    side: int


def find_light(plane: Plane, ppi: float, reach: float) -> Light | None:
    """The light on a plane (H, W) or (H, W, 3); None on a page without any paper.

    ``reach`` is in mm: what is plain, sharp-edged, lighter than 55 % of the light round it and
    at least so wide is taken for paper in shadow; narrower, for a drawn tone.

    >>> light = find_light(np.full((60, 60), 200, np.uint8), 300, 40)
    >>> light.tones.shape, round(float(light.tones[3, 3, 0]), 6)
    ((10, 10, 1), 200.0)
    """
    side = max(1, round(mm_to_px(_CELL_MM, ppi)))
    cells = np.atleast_3d(cells_of(plane, side))
    away = at_size(beyond_sheet(cells.max(axis=2), ppi / side), cells.shape)
    most = np.quantile(cells[::3, ::3][~away[::3, ::3]], 0.98, axis=0)
    if most.max() < _NO_PAPER * full_scale(plane) / 255:
        return None
    # the least over the channels, each by its own paper: an ink of any colour is dark in one
    share = (cells / np.maximum(most, 1)).min(axis=2).astype(np.float32)
    plain = _plain(share, ~away)
    weight = pairs(plain.astype(np.float64))
    paper = weight == pairs(np.ones(plain.shape))
    if not paper.any():
        return None
    step_mm = 2 * side / mm_to_px(1, ppi)
    near = max(1, round(_SMOOTH_MM / step_mm))
    tone = _logs(share, plain, weight)
    bare = _bare(tone, paper, near, reach / step_mm)
    if np.median(tone[bare]) < np.log(_SOLID):  # solids are the smoothest that the page has
        paper &= tone > np.log(_SOLID)
        if not paper.any():
            return None
        bare = _bare(tone, paper, near, reach / step_mm)
    tones = [
        np.exp(_no_lighter(_lit(seen, bare, near), seen, bare))
        for seen in (_logs(cells[..., channel], plain, weight) for channel in range(cells.shape[2]))
    ]
    return Light(np.stack(tones, axis=2), bare, 2 * side)


def _no_lighter(lit: Grid, seen: Grid, bare: Mask) -> Grid:
    """Never lighter than paper was seen anywhere: what no paper bears out may run away."""
    return np.minimum(lit, np.quantile(seen[bare], 0.999) + _SEEN) if bare.any() else lit


def _logs(cells: npt.NDArray[np.floating], plain: Mask, weight: Grid) -> Grid:
    """The logarithm of the mean over each square's plain cells; 0 where it has none."""
    mean = pairs(np.where(plain, cells, 0.0)) / np.maximum(weight, 1.0)
    return np.asarray(np.log(np.maximum(mean, 1e-3), out=np.zeros_like(mean), where=weight > 0))


def _plain(share: Cells, sheet: Mask) -> Mask:
    """Cells of the sheet as smooth as bare paper that are not dark, nor lie next to others.

    Relief and noise go both ways, ink only darkens: a rough area whose darks are stronger
    than its lights was drawn on, one that is as strong both ways is paper, in a shadow where
    a camera's noise grows.
    """
    around = np.asarray(cv2.blur(share, (3, 3)), np.float32)
    floor = np.maximum(around, np.float32(_DARK / 2))
    bend, edge = (share - around) / floor, _edge(around) / floor
    light = share > _DARK
    texture = np.sqrt(_spread(bend * bend, _TEXTURE))
    # even a page that is drawn nearly full has a tenth that is as smooth as its paper
    own, own_edge = (
        max(_calmest(swing[light], most), _SHARP / 8)
        for swing, most in ((texture, _ROUGHEST), (np.sqrt(_spread(edge * edge, _TEXTURE)),
                                                   2 * _ROUGHEST))
    )
    about = np.ones((2 * _TEXTURE + 1, 2 * _TEXTURE + 1), np.uint8)
    calmest = np.clip(cv2.erode(texture, about) / own, 1.0, _SHADOWED)
    sharp = (np.abs(bend) > np.maximum(_BENDS * own * calmest, _SHARP)) | ~light | ~sheet
    rest = _clear(sharp | (edge > np.maximum(_BENDS * own_edge * calmest, 2 * _SHARP)))
    count = _spread(rest.astype(np.float32), 2 * _TEXTURE) + 1e-6
    darks, lights = (
        _spread(np.where(rest, side, np.float32(0)) ** 2, 2 * _TEXTURE) / count
        for side in (np.minimum(bend, 0.0), np.maximum(bend, 0.0))
    )
    rough = darks + lights
    drawn = (rough > (_ROUGHER * own) ** 2) & (darks > _ONE_SIDED * lights)
    drawn |= rough > (_NO_SHADOW * own) ** 2
    plain = (rest & ~drawn).astype(np.uint8)
    # what is left between strokes or inside shading by chance is too darkened to go by
    roomy = cv2.morphologyEx(plain, cv2.MORPH_OPEN, np.ones((_ROOM, _ROOM), np.uint8))
    return np.asarray((roomy if roomy.mean() > _ENOUGH else plain) > 0)


def _calmest(values: Cells, most: float) -> float:
    """The value that a tenth of the values do not exceed, or fewer where that is ``most`` or more.

    A page may be drawn so full that not a tenth of it is bare; then the least will have to do.
    """
    some = values[:: max(1, values.size // _FITTED)]
    if not some.size:
        return 1.0
    least, tenth = np.quantile(some, (0.02, 0.1))
    return float(tenth if tenth < most else min(least, most))


def _edge(around: Cells) -> Cells:
    """How sharply means of three by three cells bend, along or across."""
    bends = [np.abs(cv2.filter2D(around, -1, turn(_BEND), borderType=cv2.BORDER_REPLICATE))
             for turn in (np.asarray, np.transpose)]
    return np.asarray(np.maximum(*bends))


def _spread(cells: npt.NDArray[np.floating], reach: int) -> Cells:
    """Means over squares of ``reach`` cells or one more; never below 0 by rounding."""
    size = (reach | 1, reach | 1)
    return np.asarray(np.maximum(cv2.blur(cells, size), np.float32(0)))


def _clear(drawn: Mask) -> Mask:
    """Cells that neither are drawn nor touch one that is."""
    return np.asarray(cv2.dilate(drawn.astype(np.uint8), np.ones((3, 3), np.uint8)) == 0)


def _bare(tone: Grid, plain: Mask, near: int, reach: float) -> Mask:
    """Plain squares that are paper, in the light or in shadow, and not a flat tone.

    Plain areas that touch broadly are lit alike, however their tone changes. From one to
    another the light goes on across what parts them, so a jump there is a drawn tone's.
    """
    core = cv2.erode(plain.astype(np.uint8), _CROSS)
    count, label = cv2.connectedComponents(core, connectivity=4)
    area = np.bincount(label.ravel(), minlength=count)[1:]
    kept = np.argsort(-area, kind="stable")[: min(_MOST_AREAS, int((area >= _LEAST_AREA).sum()))]
    if not kept.size:
        return plain
    number = np.full(count, -1)
    number[kept + 1] = np.arange(kept.size)
    far, seat = _nearest(number[label] >= 0)
    owner = number[label].ravel()[seat]
    offset = _offsets(tone.ravel()[seat], owner, far, area[kept])
    reached = plain & (far <= _RIM)
    toned = reached & (offset < -_SEEN)[owner]
    shadow = toned & (offset > np.log(_SOLID))[owner]
    bare = (reached & ~toned) | _wide(shadow, reach)
    return _without_strays(tone, bare, owner, area[kept] >= _LARGE_AREA, near)


def _without_strays(
    tone: Grid, bare: Mask, owner: npt.NDArray[np.int64], large: Mask, near: int,
) -> Mask:
    """Bare squares less those darker than the light that the large areas among them show.

    A small area is worth little and may be shading that happens to be smooth, so it goes as
    a whole, and for half as much.
    """
    base = bare & large[owner]
    if 2 * int(base.sum()) < int(bare.sum()):
        base = bare
    off = tone - _lit(tone, base, near)
    many = np.bincount(owner[bare], minlength=large.size)
    mean = np.bincount(owner[bare], off[bare], large.size) / np.maximum(many, 1)
    stray = ~large & (mean < -_SEEN / 2)
    return np.asarray(bare & (off > -_SEEN) & ~stray[owner])


def _nearest(there: Mask) -> tuple[Cells, npt.NDArray[np.int64]]:
    """How far each square is from the nearest one that is ``there``, and its flat index."""
    far, nearest = cv2.distanceTransformWithLabels(
        (~there).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL)
    seat = np.zeros(int(nearest.max()) + 1, np.int64)
    seat[nearest[there]] = np.flatnonzero(there)
    return np.asarray(far, np.float32), seat[nearest]


def _offsets(
    tone: Grid, owner: npt.NDArray[np.int64], far: Cells, area: npt.NDArray[np.int64],
) -> Grid:
    """How much darker each area lies than paper would there (logarithms, 0 for paper).

    The jumps where the areas' surroundings meet, by least squares; the nearer the areas, the
    more a jump counts.
    """
    pull, push = np.zeros((area.size, area.size)), np.zeros(area.size)
    for one, two in ((np.s_[:-1], np.s_[1:]), (np.s_[:, :-1], np.s_[:, 1:])):
        meet = owner[one] != owner[two]
        a, b = owner[one][meet], owner[two][meet]
        weight = (1.0 + far[one][meet].astype(np.float64)) ** -2
        jump = (tone[one][meet] - tone[two][meet]) * weight
        for mine, other, sign in ((a, b, 1.0), (b, a, -1.0)):
            np.add.at(pull, (mine, mine), weight)
            np.add.at(pull, (mine, other), -weight)
            np.add.at(push, mine, sign * jump)
    offset = np.linalg.lstsq(pull, push, rcond=None)[0]
    # paper has the commonest offset, by area
    close = np.abs(offset[:, None] - offset[None]) < _SEEN / 2
    return np.asarray(offset - offset[np.argmax(close @ area)])


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


def _lit(tone: Grid, bare: Mask, near: int) -> Grid:
    """One channel's light (logarithms): bare paper's own, carried on between, smoothed.

    What hardly any bare paper bears out is one tone all over.

    A bowl over the whole page first, then what goes with the column or the row alone (a
    gutter), which is kept as sharp as it is, then the rest.
    """
    if bare.mean() < _FEW:
        return np.full_like(tone, np.median(tone[bare]) if bare.any() else 0.0)
    light = _bowl(tone, bare)
    for axis in (0, 1):
        light = light + _profile(np.where(bare, tone - light, 0.0), bare, axis, near)
    rest = filled(np.where(bare, tone - light, 0.0), bare.astype(np.float64))
    return light + _calm(rest, bare, near)


def _bowl(tone: Grid, bare: Mask) -> Grid:
    """The polynomial of degree 2 that most of the bare squares lie close to."""
    y, x = np.meshgrid(*(np.linspace(-1, 1, side) for side in tone.shape), indexing="ij")
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y])
    every = max(1, int(bare.sum()) // _FITTED)
    some, seen = terms[:, bare][:, ::every].T, tone[bare][::every]
    trust = np.ones_like(seen)
    for _ in range(_FITS):
        weighed = some * trust[:, None]
        made = np.linalg.lstsq(weighed.T @ some, weighed.T @ seen, rcond=1e-10)[0]
        trust = 1.0 / (1.0 + ((some @ made - seen) / _SEEN * 2) ** 2) ** 2
    return np.asarray(np.tensordot(made, terms, 1))


def _profile(rest: Grid, bare: Mask, axis: int, near: int) -> Grid:
    """What is common to each column (axis 0) or row (1), as one row or column."""
    seen = np.asarray(bare.any(axis=axis, keepdims=True))
    many = np.maximum(bare.sum(axis=axis, keepdims=True), 1)
    mean = rest.sum(axis=axis, keepdims=True) / many
    apart = (rest * rest).sum(axis=axis, keepdims=True) / many - mean * mean
    # the share of it that the squares have in common: a gutter's is nearly all of it, that of
    # a shadow which lies across some rows only is little
    common = mean * mean / (mean * mean + np.maximum(apart, 0.0) + _SEEN ** 2 / many)
    return _calm(filled(np.where(seen, mean * common, 0.0), seen.astype(np.float64)), seen, near)


def _calm(tone: Grid, seen: Mask, near: int) -> Grid:
    """Smoothed by means over ``near`` cells each way, but kept where it swings more than noise.

    A guided filter with itself as the guide (K. He, J. Sun, X. Tang, "Guided image filtering",
    IEEE Trans. PAMI 35 (2013) 1397-1409), its share of the unsmoothed as in Wiener's filter.
    """
    # beyond the edge it goes on as it slopes there, or a gutter would be flattened
    wide = beyond(tone, 2 * near)
    mean = box(wide, near)
    swing = np.maximum(box(wide * wide, near) - mean * mean, 0.0)
    noise = float(np.median(np.abs(within(wide - mean, tone))[seen])) / 0.6745
    kept = np.maximum(1.0 - _SURE * noise * noise / np.maximum(swing, 1e-12), 0.0)
    return within(box(kept, near) * wide + box((1.0 - kept) * mean, near), tone)
