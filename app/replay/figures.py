"""What is read off a page while it is replayed, at little cost: figures and a small picture.

The tones of one row in sixteen are read on a large page, of one in thirty-two on a very large
one, so that figures and picture cost a few per cent of the replay. Below three megapixels a page is
read whole.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import cv2
import imagecodecs
import numpy as np
import numpy.typing as npt

from app.pages.scan import Scan
from core.histogram import count_tones, find_peaks
from core.matte import over, to_depth
from core.readings import BARE, MAY_PRINT, grey_plane
from core.sheet import BAND_ROWS, BLACK, Bands, Plane, Sheet, spans
from core.steps.fold import Replayed
from core.units import px_to_mm

_STEPS = ((3_000_000, 1), (24_000_000, 16))  # up to so many pixels one row in so many is read
_LARGEST_STEP = 32
_EDGE = 250  # pixels: the longest edge of a small picture
SKETCH = 16
"""Cells along each side of a page's sketch."""
_QUALITY = 75
_GAP = 2  # white columns between before and after
_DARK = 8.0  # deviations of the paper's noise from which on a pixel is darker than paper

_PRINTS = math.ceil(MAY_PRINT * 255)

Bytes = npt.NDArray[np.uint8]


@dataclass(frozen=True)
class Look:
    """How a page was scanned: what tells it from the other pages of its book.

    Sizes in pixels; ``paper`` and ``ink`` are the peaks of its tones 0-255 (``ink`` None where
    the darks have no peak), ``noise`` the paper's standard deviation, ``dark`` the share 0-1 of
    what is darker than its paper. ``sketch`` is how dark each of 16 x 16 cells is, in
    hexadecimal: two scans of one drawing have nearly the same.
    """

    width: int
    height: int
    ppi: float
    bits: int
    paper: float
    noise: float
    ink: float | None
    dark: float
    sketch: str

    @property
    def mm(self) -> tuple[float, float]:
        """Its width and height in mm."""
        return px_to_mm(self.width, self.ppi), px_to_mm(self.height, self.ppi)


@dataclass(frozen=True)
class Figures:
    """What a replay made of a page: see ``core.readings.Cover``; shares of 0-1.

    ``picture`` is a JPEG of the page before and after, side by side, laid on white.
    """

    look: Look
    ink: float
    printing: float
    not_clear: float
    picture: bytes = field(repr=False)


@dataclass(frozen=True)
class _Grain:
    """How finely a page is sampled: tones from one row in ``step``, cells of ``cell`` pixels."""

    step: int
    cell: int

    @classmethod
    def of(cls, shape: tuple[int, int]) -> "_Grain":
        cell = 1
        while max(shape) > cell * _EDGE and cell < BAND_ROWS:
            cell *= 2
        pixels = shape[0] * shape[1]
        step = next((step for most, step in _STEPS if pixels <= most), _LARGEST_STEP)
        return cls(step, cell)

    def rows(self, plane: Plane) -> Plane:
        """The rows of a band whose tones are counted."""
        return plane if self.step == 1 else np.ascontiguousarray(plane[:: self.step])

    def thin(self, plane: Plane) -> Plane:
        """The rows of a band that are averaged to cells: four to a cell keep fine lines."""
        return np.ascontiguousarray(plane[:: max(self.cell // 4, 1)])

    def small(self, thin: Plane) -> Bytes:
        """Thin rows averaged to cells: uint8; halved first, which is many times faster."""
        down = min(self.cell, 4)
        height, width = len(thin) // down, thin.shape[1] // self.cell
        if not height or not width:
            return np.empty((0, width, *thin.shape[2:]), np.uint8)
        cells: Bytes = to_depth(thin[: height * down, : width * self.cell], 8)
        if down > 2:
            half = (cells.shape[1] // 2, cells.shape[0] // 2)
            cells = _averaged(cells, half)
        return _averaged(cells, (width, height)).reshape(height, width, *thin.shape[2:])


def _averaged(plane: Bytes, size: tuple[int, int]) -> Bytes:
    return np.asarray(cv2.resize(plane, size, interpolation=cv2.INTER_AREA), np.uint8)


@dataclass(frozen=True, eq=False)
class _Sample:
    """What is kept of a band, or of a whole page: a small picture, and the sampled tones.

    Of a lifted page ``tones`` is uint16: its tone before the points were set, times 256, plus
    its cover.
    """

    small: Bytes
    tones: Plane

    @classmethod
    def joined(cls, bands: "Sequence[_Sample]") -> "_Sample":
        """Bands from the top down as one."""
        small = np.concatenate([band.small for band in bands])
        return cls(small, np.concatenate([band.tones.reshape(-1) for band in bands]))


class Sampler:
    """A page's ``Bands`` that keep a sample of each band as it is first asked for.

    Use ``before`` in place of the scan, ``after`` in place of the lifted page, and ask for the
    ``figures`` once every band has been through.
    """

    def __init__(self, scan: Scan) -> None:
        self._scan = scan
        grain = _Grain.of(scan.shape)
        self.before = _Tapped(scan, lambda band, _: _sample_scan(band, grain))
        self._after: _Tapped | None = None

    def after(self, page: Replayed) -> Bands:
        """The lifted page, sampled on its way to the writers."""
        grain, source, before = _Grain.of(page.page.shape), page.before, self.before

        def sample(band: Sheet, top: int) -> _Sample:  # without self: a cycle would hold the page
            if source is before:
                return _sample_lifted(band, before.samples[top].tones, grain)
            bottom = min(top + BAND_ROWS, source.shape[0])
            rows = grain.rows(grey_plane(source.rows(top, bottom)))
            return _sample_lifted(band, to_depth(rows, 8), grain)

        self._after = _Tapped(page.page, sample)
        return self._after

    def figures(self) -> Figures:
        """What was read off; every band of both must have been asked for."""
        assert self._after is not None
        scan, lifted = self.before.gathered(), self._after.gathered()
        joint = count_tones(lifted.tones).reshape(256, 256)  # by tone before, by cover after
        peaks = find_peaks(joint.sum(axis=1))
        bare = joint[max(math.ceil(peaks.paper - BARE * max(peaks.noise, 0.5)), 0):]
        paper = max(int(bare.sum()), 1)
        ink = int(joint.sum(axis=0) @ np.arange(256)) / 255
        return Figures(
            look=_look_of(self._scan, scan),
            ink=round(ink / lifted.tones.size, 6),
            printing=round(int(bare[:, _PRINTS:].sum()) / paper, 7),
            not_clear=round(int(bare[:, 1:].sum()) / paper, 7),
            picture=_side_by_side(scan.small, lifted.small),
        )


class _Tapped:
    """Bands that hand each band on, and keep what ``take`` makes of it the first time."""

    def __init__(self, page: Bands, take: Callable[[Sheet, int], _Sample]) -> None:
        self._page, self._take = page, take
        self.samples: dict[int, _Sample] = {}

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width in pixels."""
        return self._page.shape

    def rows(self, top: int, bottom: int) -> Sheet:
        """The band; a whole one is sampled."""
        band = self._page.rows(top, bottom)
        is_band = top % BAND_ROWS == 0 and bottom == min(top + BAND_ROWS, self.shape[0])
        if is_band and top not in self.samples:
            self.samples[top] = self._take(band, top)
        return band

    def gathered(self) -> _Sample:
        """The samples of all bands together."""
        return _Sample.joined([self.samples[top] for top, _ in spans(self.shape[0])])


def _sample_scan(band: Sheet, grain: _Grain) -> _Sample:
    plane = grey_plane(band) if band.colour is None else band.colour
    rows = grain.rows(plane)
    grey = rows if rows.ndim == 2 else grey_plane(Sheet(ppi=band.ppi, colour=rows))
    return _Sample(_coloured(grain.small(grain.thin(plane))), to_depth(grey, 8))


def _sample_lifted(band: Sheet, grey: Bytes, grain: _Grain) -> _Sample:
    assert band.alpha is not None
    thin = to_depth(grain.thin(band.alpha), 8)
    if band.ink is None and band.colour is not None:
        own = to_depth(grain.thin(band.colour), 8)
        small = grain.small(over(own, thin[..., None], 255))
    else:
        ink: Bytes = np.array(band.ink or BLACK, np.uint8)
        small = over(ink, grain.small(thin)[..., None], 255)
    pairs: Plane = np.left_shift(grey, 8, dtype=np.uint16)
    return _Sample(small, pairs | to_depth(grain.rows(band.alpha), 8))


def _coloured(picture: Bytes) -> Bytes:
    return np.repeat(picture[..., None], 3, axis=2) if picture.ndim == 2 else picture


def _side_by_side(before: Bytes, after: Bytes) -> bytes:
    """One JPEG of both, each at its own size, on white."""
    pictures = [picture for picture in (before, after) if picture.size]
    if not pictures:
        pictures = [np.full((1, 1, 3), 255, np.uint8)]
    height = max(len(picture) for picture in pictures)
    width = sum(picture.shape[1] for picture in pictures) + _GAP * (len(pictures) - 1)
    sheet = np.full((height, width, 3), 255, np.uint8)
    left = 0
    for picture in pictures:
        sheet[: len(picture), left : left + picture.shape[1]] = picture
        left += picture.shape[1] + _GAP
    return bytes(imagecodecs.jpeg8_encode(sheet, level=_QUALITY))


def _look_of(scan: Scan, sampled: _Sample) -> Look:
    counts = count_tones(sampled.tones)
    peaks = find_peaks(counts)
    # on a page in uneven light the noise is that of the light: half its paper's tone is dark there
    limit = round(peaks.paper - min(max(_DARK * peaks.noise, 12), peaks.paper / 2))
    return Look(
        width=scan.shape[1], height=scan.shape[0], ppi=scan.ppi, bits=scan.bits,
        paper=round(peaks.paper, 1), noise=round(peaks.noise, 2),
        ink=None if peaks.ink is None else round(peaks.ink, 1),
        dark=round(int(counts[:limit].sum()) / sampled.tones.size, 6),
        sketch=_sketch(sampled.small, peaks.paper),
    )


def _sketch(small: Bytes, paper: float) -> str:
    if not small.size:
        return ""
    darkness = np.clip(paper - small.mean(axis=2), 0, 255).astype(np.float32)
    cells = cv2.resize(darkness, (SKETCH, SKETCH), interpolation=cv2.INTER_AREA)
    return bytes(np.clip(np.round(cells), 0, 255).astype(np.uint8)).hex()


def survey_look(scan: Scan) -> Look:
    """The look of a page, as ``Figures`` has it, before anything is replayed."""
    grain = _Grain.of(scan.shape)
    samples = [_sample_scan(scan.rows(*span), grain) for span in spans(scan.shape[0])]
    return _look_of(scan, _Sample.joined(samples))
