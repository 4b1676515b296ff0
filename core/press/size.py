"""The size at which a page is printed, and the resolution that it then has."""

from dataclasses import dataclass

from core.units import MM_PER_INCH, px_to_mm

POINTS_PER_INCH = 72


def mm_to_points(length: float) -> float:
    """Points of 1/72 inch, the unit of PDF (ISO 32000-1:2008, 8.3.2.3).

    >>> mm_to_points(25.4)
    72.0
    """
    return length / MM_PER_INCH * POINTS_PER_INCH


def points_to_mm(points: float) -> float:
    """Millimetres of points of 1/72 inch.

    >>> round(points_to_mm(0.25), 4)
    0.0882
    """
    return points / POINTS_PER_INCH * MM_PER_INCH


@dataclass(frozen=True)
class Trim:
    """A finished page, in mm, and the bleed that is usual for it."""

    width: float
    height: float
    source: str = ""

    @property
    def bleed(self) -> float:
        """3 mm, or an eighth of an inch where the trim is measured in inches.

        >>> Trim(210, 297).bleed, Trim(152.4, 228.6).bleed
        (3.0, 3.175)
        """
        eighths = [side / MM_PER_INCH * 8 for side in (self.width, self.height)]
        in_inches = all(abs(count - round(count)) < 1e-6 for count in eighths)
        return MM_PER_INCH / 8 if in_inches else 3.0


_ISO = "ISO 216"
_USUAL = "common practice, no source"


def _inches(width: float, height: float) -> Trim:
    return Trim(width * MM_PER_INCH, height * MM_PER_INCH, _USUAL)


TRIMS = {
    "A3": Trim(297, 420, _ISO), "A4": Trim(210, 297, _ISO), "A5": Trim(148, 210, _ISO),
    "A6": Trim(105, 148, _ISO), "B4": Trim(250, 353, _ISO), "B5": Trim(176, 250, _ISO),
    "B6": Trim(125, 176, _ISO), "square book": Trim(210, 210, _USUAL),
    "album": Trim(225, 297, _USUAL), "small comic": Trim(128, 182, _USUAL),
    "comic": _inches(6.625, 10.25), "digest": _inches(5.5, 8.5), "novel": _inches(6, 9),
}
"""Trims to choose from, upright."""


@dataclass(frozen=True)
class PrintSize:
    """How large a page of ``shape`` pixels (height, width) is printed: ``scale`` of its own size.

    ``ppi`` is the scan's. All lengths in mm on the printed sheet.
    """

    shape: tuple[int, int]
    ppi: float
    scale: float = 1.0

    def __post_init__(self) -> None:
        if not (self.scale > 0 and self.ppi > 0 and min(self.shape) > 0):
            raise ValueError("a page has a size, a resolution and a scale above 0")

    @classmethod
    def of_width(cls, shape: tuple[int, int], ppi: float, width: float) -> "PrintSize":
        """Printed ``width`` mm wide.

        >>> PrintSize.of_width((3508, 2480), 300, 105).ppi_printed
        599.9
        """
        return cls(shape, ppi, width / px_to_mm(shape[1], ppi))

    @classmethod
    def of_height(cls, shape: tuple[int, int], ppi: float, height: float) -> "PrintSize":
        """Printed ``height`` mm high."""
        return cls(shape, ppi, height / px_to_mm(shape[0], ppi))

    @property
    def width(self) -> float:
        """Millimetres across, printed."""
        return px_to_mm(self.shape[1], self.ppi) * self.scale

    @property
    def height(self) -> float:
        """Millimetres down, printed."""
        return px_to_mm(self.shape[0], self.ppi) * self.scale

    @property
    def ppi_printed(self) -> float:
        """Effective pixels per inch: those of the scan over the scale, to a tenth."""
        return round(self.ppi / self.scale, 1)
