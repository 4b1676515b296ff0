"""A page of a file, ready to be read by bands."""

from dataclasses import dataclass, field
from pathlib import Path

from app.pages.raster import RowsOf
from app.pages.refusing import naming
from core.sheet import Sheet


@dataclass(frozen=True, eq=False)
class Scan:
    """One page of a file: what it is, and its rows when they are asked for (a ``Bands``).

    ``number`` counts from 1 among the ``count`` pages of the file. ``shape`` is (height,
    width) of the upright page in pixels; ``bits`` 8 or 16; ``colour`` says whether the
    rows give ``colour`` or ``grey``, sRGB-coded either way. ``stored`` tells how the file
    holds it, ``ppi_from`` whether ``ppi`` comes from "the file" or was "given"; ``notes``
    are sentences that the person should read.
    """

    path: Path
    number: int
    count: int
    shape: tuple[int, int]
    bits: int
    colour: bool
    stored: str
    ppi: float
    ppi_from: str
    notes: tuple[str, ...]
    plane: RowsOf = field(repr=False)

    def rows(self, top: int, bottom: int) -> Sheet:
        """The band of rows; any thread may ask, in any order.

        Raises ``Refused`` where the file turns out to be broken, or has gone.
        """
        if not 0 <= top < bottom <= self.shape[0]:
            raise ValueError(f"rows {top} to {bottom} of a page of {self.shape[0]}")
        with naming(place_of(self.path, self.number, self.count)):
            plane = self.plane(top, bottom)
        if self.colour:
            return Sheet(ppi=self.ppi, colour=plane)
        return Sheet(ppi=self.ppi, grey=plane)


def place_of(path: Path, number: int = 1, count: int = 1) -> str:
    """How a fault names a page.

    >>> place_of(Path("scans/book.tif"), 3, 40)
    'book.tif, page 3'
    """
    name = path.name or str(path)
    return name if count == 1 else f"{name}, page {number}"
