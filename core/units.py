"""Millimetres, inches and pixels."""

MM_PER_INCH = 25.4
"""Exactly, since the international inch of 1959 (ISO 31-1)."""

METRES_PER_INCH = MM_PER_INCH / 1000


def mm_to_px(length: float, ppi: float) -> float:
    """Pixels of a length in mm at ``ppi`` pixels per inch; not rounded.

    >>> mm_to_px(25.4, 600)
    600.0
    """
    return length / MM_PER_INCH * ppi


def px_to_mm(pixels: float, ppi: float) -> float:
    """The length in mm of a number of pixels.

    >>> px_to_mm(600, 600)
    25.4
    """
    return pixels / ppi * MM_PER_INCH
