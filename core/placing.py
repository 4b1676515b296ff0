"""Where a page lies on the scan that it was cut and turned from."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Places = npt.NDArray[np.float64]
"""(n, 2) float64: mm from the left and from the top."""


@dataclass(frozen=True)
class Placing:
    """How places of the scan become places of the page, all in mm: turned, then shifted.

    x' = ``along`` x - ``aside`` y + ``right`` and y' = ``aside`` x + ``along`` y + ``down``,
    y down the page; ``along`` and ``aside`` are the cosine and sine of a clockwise angle.

    >>> AS_SCANNED.shifted(-2.0, 1.0).on_page([(5.0, 5.0)]).tolist()
    [[3.0, 6.0]]
    """

    along: float = 1.0
    aside: float = 0.0
    right: float = 0.0
    down: float = 0.0

    def shifted(self, right: float, down: float) -> "Placing":
        """The placing once the page is moved by so much on its ground."""
        return Placing(self.along, self.aside, self.right + right, self.down + down)

    def turned(self, degrees: float, about: tuple[float, float]) -> "Placing":
        """The placing once the page is turned clockwise about one of its places.

        >>> AS_SCANNED.turned(90, (0.0, 0.0)).on_page([(3.0, 1.0)]).round(9).tolist()
        [[-1.0, 3.0]]
        """
        along, aside = _direction(degrees)
        x, y = self.right - about[0], self.down - about[1]
        return Placing(
            along * self.along - aside * self.aside, aside * self.along + along * self.aside,
            along * x - aside * y + about[0], aside * x + along * y + about[1],
        )

    def on_page(self, places: npt.ArrayLike) -> Places:
        """(n, 2) places of the scan as places of the page."""
        x, y = np.asarray(places, np.float64).reshape(-1, 2).T
        return np.column_stack([
            self.along * x - self.aside * y + self.right,
            self.aside * x + self.along * y + self.down,
        ])

    def on_scan(self, places: npt.ArrayLike) -> Places:
        """(n, 2) places of the page as places of the scan: what ``on_page`` undoes.

        >>> placing = AS_SCANNED.turned(30, (50.0, 70.0)).shifted(-4.0, -3.0)
        >>> placing.on_scan(placing.on_page([(12.0, 34.0)])).round(9).tolist()
        [[12.0, 34.0]]
        """
        x, y = (np.asarray(places, np.float64).reshape(-1, 2) - (self.right, self.down)).T
        return np.column_stack([
            self.along * x + self.aside * y, self.along * y - self.aside * x,
        ])


AS_SCANNED = Placing()
"""Of a page that nothing has cut or turned."""


def _direction(degrees: float) -> tuple[float, float]:
    """Cosine and sine; exact for quarter turns."""
    if degrees % 90 == 0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(degrees / 90) % 4]
    turn = math.radians(degrees)
    return math.cos(turn), math.sin(turn)
