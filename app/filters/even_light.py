"""Lamp fall-off, gutter shadow and the paper's tint divided out."""

from dataclasses import dataclass, replace
from typing import ClassVar

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.light import Light, find_light
from app.filters.strips import side_by_side
from core.histogram import count_tones, find_peaks
from core.sheet import Paper, Plane, Sheet, full_scale
from core.steps.fields import number
from core.steps.step import Step

PAPER_TONE = 230
"""Where even paper comes to lie: below white, so that the light half of the tooth is kept."""

_STRIP = 8  # rows of squares at a time: what they are multiplied by stays in cache
_LOOK = 2  # rows of squares in each of the strips in which the paper's peak is looked for
_LOOKED_AT = 4_000_000  # pixels in all of these at least, if the page has them

Gain = npt.NDArray[np.float32]


@dataclass(frozen=True, kw_only=True)
class EvenLight(Step):
    """Bring the paper to one tone, 230, all over the page, each channel on its own.

    Light changes slowly and scales the paper's grain with it; what has sharp edges or a
    texture of its own was drawn, and the light beneath it is taken from round about. A plain,
    sharp-edged area as wide as ``reach`` is a shadow's, unless it is darker than 55 % of the
    paper beside it; so is a narrower one that runs off the page, if its rim is soft over 0.3 mm
    or more, and a pale haze between strokes, as a smudge is, that is soft all
    round. The rounding of another machine may differ by 1 of 255.
    """

    kind: ClassVar[str] = "even light"
    edition: ClassVar[int] = 10
    whole: ClassVar[bool] = True
    words: ClassVar[str] = "Even the light, looking past drawn tones narrower than {reach}."

    reach: float = number("reach", "mm", 4, 400, 40)

    def after(self, paper: Paper) -> Paper | None:  # noqa: ARG002 - it moves the paper
        """The paper has moved."""
        return None

    def apply(self, sheet: Sheet) -> Sheet:
        """The page in even light; as it was where it holds no paper or was lifted already.

        >>> shaded = np.linspace(150, 200, 400).astype(np.uint8) * np.ones((400, 1), np.uint8)
        >>> even = EvenLight().apply(Sheet(ppi=100, grey=shaded)).grey
        >>> bool(abs(even.astype(int) - 230).max() <= 2)
        True
        """
        def evened(plane: Plane | None) -> Plane | None:
            return None if plane is None else even_plane(plane, sheet.ppi, self.reach)

        if sheet.alpha is not None:
            return sheet
        return replace(sheet, grey=evened(sheet.grey), colour=evened(sheet.colour))


def even_plane(plane: Plane, ppi: float, reach: float) -> Plane:
    """The plane (H, W) or (H, W, 3) with its paper's peak at 230; ``reach`` in mm.

    >>> even_plane(np.full((50, 50), 115, np.uint8), 300, 40)[0, 0]
    np.uint8(230)
    """
    light = find_light(plane, ppi, reach)
    if light is None:
        return plane
    gain = _gain(light, full_scale(plane))
    gain *= PAPER_TONE / _peaks(plane, light, gain)
    out = np.empty(plane.shape, plane.dtype)

    def strip(first: int) -> None:
        squares = slice(first, first + _STRIP)
        rows = slice(squares.start * light.side, squares.stop * light.side)
        _even_rows(plane, light.side, gain, squares, out[rows])

    side_by_side(strip, range(0, len(light.tones), _STRIP))
    return out


def paper_light(plane: Plane, ppi: float, reach: float) -> npt.NDArray[np.float32]:
    """The tone of bare paper as a small grid of about half a mm, in the plane's own code values.

    Shape (h, w) or (h, w, 3); white all over on a page that holds no paper.

    >>> paper_light(np.full((60, 60), 200, np.uint8), 300, 40).shape
    (10, 10)
    """
    light = find_light(plane, ppi, reach)
    if light is None:
        return np.full((1, 1, *plane.shape[2:]), full_scale(plane), np.float32)
    tones = light.tones.astype(np.float32)
    return tones if plane.ndim == 3 else tones[..., 0]


def _gain(light: Light, full: int) -> Gain:
    """What each square is multiplied by, (h + 2, w + 2, channels): one more on every side."""
    rim = [(1, 1) if side > 1 else (0, 0) for side in light.tones.shape[:2]]
    wide = np.pad(np.log(light.tones), (*rim, (0, 0)), mode="reflect", reflect_type="odd")
    flat = [(1 - before, 1 - before) for before, _ in rim]
    wide = np.pad(wide, (*flat, (0, 0)), mode="edge")
    return np.asarray(PAPER_TONE * full / 255 * np.exp(-wide), np.float32)


def _even_rows(
    plane: Plane, side: int, gain: Gain, squares: slice, out: Plane | None = None,
) -> Plane:
    """Some rows of squares, multiplied by the gain between the squares' middles."""
    first, last = squares.start, squares.stop
    rows = plane[first * side : last * side]
    here = gain[first : last + 2]
    size = (here.shape[1] * side, here.shape[0] * side)
    wide = cv2.resize(here, size, interpolation=cv2.INTER_LINEAR)
    wide = wide[side : side + rows.shape[0], side : side + rows.shape[1]]
    depth = cv2.CV_8U if plane.dtype == np.uint8 else cv2.CV_16U
    return np.asarray(cv2.multiply(rows, wide, dst=out, dtype=depth), plane.dtype)


def _peaks(plane: Plane, light: Light, gain: Gain) -> npt.NDArray[np.float32]:
    """The tone of each channel's paper peak after the gain; (channels,)."""
    full, side = full_scale(plane), light.side
    counts = np.zeros((gain.shape[2], full + 1), np.int64)
    every = max(1, plane.shape[0] * plane.shape[1] // _LOOKED_AT)
    for first in range(0, len(light.tones), _LOOK * every):
        squares = slice(first, first + _LOOK)
        even = np.atleast_3d(_even_rows(plane, side, gain, squares))
        bare = light.bare[squares].repeat(side, axis=0).repeat(side, axis=1)
        bare = bare[: even.shape[0], : even.shape[1]]
        for channel in range(len(counts)):
            counts[channel] += count_tones(even[..., channel][bare])
    # something dark beside it, spread flat, so that the light class is all paper
    dark = counts.sum(axis=1, keepdims=True)
    counts *= full + 1
    counts[:, : full // 4] += dark
    return np.array([find_peaks(count).paper for count in counts], np.float32)
