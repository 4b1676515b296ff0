"""The area of dots: read off densities, and how a press enlarges it."""

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

MOST_GAIN = 25.0
"""Percent at the 50 % tint: above it the curve used here would pass 100 % before the solid."""


def murray_davies(tint: npt.ArrayLike, solid: npt.ArrayLike) -> Floats:
    """Share of the paper that dots cover (0-1), of the densities of tint and solid.

    Densities are above the paper's. A. Murray, "Monochrome reproduction in photoengraving",
    J. Franklin Inst. 221 (1936) 721-744 (formula from memory): (1 - 10^-Dt) / (1 - 10^-Ds).
    ``tint`` and ``solid`` of any shapes that go together; a solid without density: ValueError.

    >>> float(murray_davies(0.30, 1.50).round(4))
    0.5151
    """
    return yule_nielsen(tint, solid, 1.0)


def yule_nielsen(tint: npt.ArrayLike, solid: npt.ArrayLike, n: float) -> Floats:
    """The same with light spread within the paper: (1 - 10^(-Dt/n)) / (1 - 10^(-Ds/n)).

    J. Yule and W. Nielsen, "The penetration of light into paper and its effect on halftone
    reproduction", TAGA Proceedings 3 (1951) 65-76 (formula from memory). ``n`` is 1 (then it
    is Murray-Davies) or more; about 1.7 for coated offset by common practice.

    >>> float(yule_nielsen(0.30, 1.50, 2.0).round(4))
    0.3552
    """
    full, part = np.asarray(solid, np.float64), np.asarray(tint, np.float64)
    if not n >= 1:
        raise ValueError("n is 1 or more")
    if not np.all(np.isfinite(full)) or not np.all(full > 0) or not np.all(np.isfinite(part)):
        raise ValueError("the solid is denser than the paper, and densities are numbers")
    cover: Floats = (1 - 10 ** (-part / n)) / (1 - 10 ** (-full / n))
    return cover


def printed_cover(cover: npt.ArrayLike, gain: float) -> Floats:
    """Cover on paper (0-1) of a cover in the file (0-1), for a gain in percent at 50 %.

    Tonal value increase as a parabola, a + 4 (gain / 100) a (1 - a): common practice, no
    source; nothing at 0 and 100 %, ``gain`` at 50 %. Rises everywhere up to ``MOST_GAIN``.

    >>> printed_cover([0, 0.25, 0.5, 1], 16).round(4).tolist()
    [0.0, 0.37, 0.66, 1.0]
    """
    if not 0 <= gain <= MOST_GAIN:
        raise ValueError(f"a gain is 0 to {MOST_GAIN:g} % at the 50 % tint")
    a = np.asarray(cover, np.float64)
    printed: Floats = a + 4 * (gain / 100) * a * (1 - a)
    return printed
