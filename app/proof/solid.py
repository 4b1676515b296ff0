"""Ink that is not solid: cores of strokes that a screen would make ragged, and what mends it."""

from dataclasses import dataclass

import cv2
import numpy as np

from app.proof.cells import Mask, side_of, tally
from app.proof.regions import Region, Scale, label, numbered
from app.proof.residue import LISTED
from core.histogram import count_tones, fold_counts
from core.matte import to_depth
from core.sheet import Each, Plane
from core.units import mm_to_px

_CORE = 0.6  # of full cover, all round: the inside of a stroke that was meant to be black
_RIM_MM = 0.08  # how far inside an edge a core begins
_MOST = 0.005  # of the cores that may stay open: dust on the scanner's glass
_LEAST = 0.01  # of the cores: below that nothing is said


@dataclass(frozen=True, eq=False)
class Cores:
    """The insides of strokes: printed mm2 of all, and of those in which white may show.

    ``black`` is the black point (tone 0-255, of the page before its tones were set) from
    which all but a two-hundredth of them are solid; None where none is needed or known.
    """

    area: float
    open_area: float
    black: float | None
    regions: tuple[Region, ...]
    cells: Mask

    @property
    def share(self) -> float:
        """The share of the cores that is not solid, 0-1."""
        return self.open_area / self.area if self.area else 0.0

    @property
    def solid(self) -> bool:
        """Whether all but a hundredth of the cores closes up."""
        return self.share < _LEAST


def find_cores(
    alpha: Plane, before: Plane | None, *, ppi: float, ppi_printed: float, may_print: float,
    each: Each = map,
) -> Cores:
    """Find cores of strokes and solids, and where white may show in them.

    White dots close up where dots of ink as small would not print: below ``may_print`` per cent
    (as tints hold from 3 to 97 %, ISO 12647-2:2013, from memory; that it is alike at both ends
    is common practice, no source).

    ``alpha`` (H, W) is the rendition's, ``before`` the grey of the same pixels before the tones
    were set, or None. Pencil and dry brush have no cores to speak of: see ``suggest_form``.

    >>> alpha = np.zeros((60, 60), np.uint8)
    >>> alpha[20:40] = 240
    >>> before = np.full((60, 60), 50, np.uint8)
    >>> found = find_cores(alpha, before, ppi=600, ppi_printed=600, may_print=1)
    >>> found.solid, found.black
    (False, 50.0)
    """
    codes = to_depth(alpha, 8)
    reach = 2 * max(1, round(mm_to_px(_RIM_MM, ppi))) + 1
    least = cv2.erode(codes, np.ones((reach, reach), np.uint8), borderType=cv2.BORDER_REPLICATE)
    core = least >= _CORE * 255
    open_core = core & (codes <= 255 * (1 - may_print / 100))
    scale = Scale(side_of(ppi), ppi, ppi_printed)
    pixels, open_pixels = int(np.count_nonzero(core)), int(np.count_nonzero(open_core))
    black = None
    if before is not None and open_pixels > _LEAST * pixels:
        counts = fold_counts(count_tones(before[core]))
        black = float(np.searchsorted(np.cumsum(counts), (1 - _MOST) * pixels))
    counted = tally(np.where(open_core, codes, 0).astype(np.uint8), 1, scale.side, each)
    cells = counted.pixels > 0
    labels = label(cells, counted)
    order = np.argsort(-labels.pixels, kind="stable")[:LISTED]
    regions = numbered(
        Region("not solid", scale.box(labels.boxes[one]), scale.area(int(labels.pixels[one])),
               int(labels.alpha[one]) / int(labels.pixels[one]) / 255)
        for one in order if labels.pixels[one]
    )
    return Cores(scale.area(pixels), scale.area(open_pixels), black, regions, cells)
