"""What is read off a page: its paper, its ink, and what paper would still print."""

from dataclasses import dataclass

import numpy as np

from core.fault import Watch, unwatched
from core.histogram import Counts, Peaks, count_tones, find_peaks, fold_counts
from core.light import grey_of
from core.sheet import Bands, Each, Paper, Plane, Sheet, by_bands

MAY_PRINT = 0.01
"""Cover from which a press may hold a dot: 1 % (common practice, no source)."""

BARE = 4.0
"""Standard deviations of the paper's own noise within which a tone counts as bare paper."""

_CORE = 0.005  # without an ink peak, the darkest half per cent stands for the ink


@dataclass(frozen=True, eq=False)
class Survey:
    """Exact counts of a page: its grey, and its channels where it has colour."""

    grey: Counts
    channels: tuple[Counts, ...] = ()

    def peaks(self) -> Peaks:
        """The paper and ink peaks of the grey."""
        return find_peaks(self.grey)

    def paper(self) -> Paper:
        """The page's paper, and the colour of its ink."""
        peaks = self.peaks()
        channels = self.channels or (self.grey,) * 3
        red, green, blue = (find_peaks(counts) for counts in channels)
        ink = [
            round(_darkest(counts) if peak.ink is None else peak.ink)
            for counts, peak in zip(channels, (red, green, blue), strict=True)
        ]
        return Paper(
            peak=peaks.paper, noise=peaks.noise, ink=(ink[0], ink[1], ink[2]),
            channels=(red.paper, green.paper, blue.paper) if self.channels else None,
        )


def _darkest(counts: Counts) -> int:
    tones = np.cumsum(fold_counts(counts))
    return int(np.searchsorted(tones, tones[-1] * _CORE))


def grey_plane(sheet: Sheet) -> Plane:
    """The sheet's grey, made by luma where no step has made one; (H, W).

    >>> int(grey_plane(Sheet(ppi=300, colour=np.full((1, 1, 3), 7, np.uint8)))[0, 0])
    7
    """
    if sheet.grey is not None:
        return sheet.grey
    if sheet.alpha is not None:
        return np.asarray(np.invert(sheet.alpha))
    assert sheet.colour is not None
    return grey_of(sheet.colour)


def survey(page: Bands, each: Each = map, watch: Watch = unwatched) -> Survey:
    """Count the tones of a whole page, band by band.

    >>> page = Sheet(ppi=300, grey=np.full((200, 9), 231, np.uint8))
    >>> survey(page).peaks().paper
    231.0
    """
    totals: list[Counts] = []

    def count(span: tuple[int, int]) -> list[Counts]:
        band = page.rows(*span)
        planes = [grey_plane(band)]
        if band.colour is not None and band.alpha is None:
            planes += [band.colour[..., channel] for channel in range(3)]
        return [count_tones(plane) for plane in planes]

    for counts in by_bands(count, page.shape[0], each, watch):
        totals = counts if not totals else [a + b for a, b in zip(totals, counts, strict=True)]
    return Survey(totals[0], tuple(totals[1:]))


@dataclass(frozen=True)
class Cover:
    """What a list leaves of a page, as shares of 0-1.

    ``ink`` is the mean alpha; ``printing`` the share of bare paper (tones within ``BARE``
    deviations of the paper peak, or lighter) whose cover may print, ``not_clear`` the
    share of it whose cover is anything above 0.
    """

    ink: float
    printing: float
    not_clear: float


def measure_cover(
    before: Bands, after: Bands, peaks: Peaks, each: Each = map, watch: Watch = unwatched,
) -> Cover:
    """Compare a page before its tones are set with the same page lifted; one shape.

    >>> page = Sheet(ppi=300, grey=np.array([[255, 250, 0]], np.uint8))
    >>> lifted = Sheet(ppi=300, alpha=np.array([[0, 5, 255]], np.uint8))
    >>> measure_cover(page, lifted, Peaks(paper=252, noise=2)).printing
    0.5
    """
    if before.shape != after.shape:
        raise ValueError("the two are not one page")
    height, width = before.shape

    def count(span: tuple[int, int]) -> tuple[int, int, int, float]:
        grey = grey_plane(before.rows(*span))
        lifted = after.rows(*span)
        assert lifted.alpha is not None
        limit = (peaks.paper - BARE * max(peaks.noise, 0.5)) * lifted.full / 255
        bare = lifted.alpha[grey >= limit]
        prints = int((bare >= MAY_PRINT * lifted.full).sum())
        total = float(lifted.alpha.sum(dtype=np.uint64)) / lifted.full
        return bare.size, prints, int(np.count_nonzero(bare)), total

    paper = printing = unclear = 0
    ink = 0.0
    for bare, prints, some, total in by_bands(count, height, each, watch):
        paper, printing, unclear, ink = paper + bare, printing + prints, unclear + some, ink + total
    return Cover(ink / (height * width), printing / max(paper, 1), unclear / max(paper, 1))
