"""How much ink a job's colours lay on a press: by estimate, or by the printer's own profile."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.pages.pdf_press import to_inks
from core.sheet import Rgb


@dataclass(frozen=True)
class InkTotal:
    """The sum of cyan, magenta, yellow and black for a colour, in per cent.

    ``estimate`` says that no profile was asked, but ``core.colours.rgb_to_cmyk``, as it goes
    into files for which no profile is given.
    """

    colour: Rgb
    percent: float
    estimate: bool


def ink_totals(colours: Sequence[Rgb], profile: bytes | None = None) -> tuple[InkTotal, ...]:
    """The total of each colour; ``profile`` is an ICC profile for CMYK output.

    With it, colours go from sRGB by the relative colorimetric intent and black point
    compensation. Refused where it is no such profile.

    >>> [total.percent for total in ink_totals([(0, 0, 0), (0, 0, 51)])]
    [100.0, 280.0]
    """
    if not colours:
        return ()
    inks = to_inks(profile)(np.array(colours, np.uint8)).astype(np.int64)
    return tuple(
        InkTotal(colour, round(int(sum_of) / 2.55, 6), estimate=profile is None)
        for colour, sum_of in zip(colours, inks.sum(axis=-1), strict=True)
    )
