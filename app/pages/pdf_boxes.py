"""Where a scan lies on a page of a PDF: trim, bleed and crop marks, in mm and in points.

ISO 32000-1:2008, 14.11.2: media box, bleed box and trim box, in points from the lower left.
"""

from dataclasses import dataclass

from core.press.size import mm_to_points

MARK_MM = 5.0
"""The length of a crop mark."""

_CLEAR_MM = 1.0  # between the bleed and a mark, so that no mark is ever cut with the page
_ROOM_MM = 2.0  # between a mark and the edge of the medium

PointsBox = tuple[float, float, float, float]
"""Left, bottom, right, top, in points."""


@dataclass(frozen=True)
class PageBoxes:
    """A finished page of ``width`` x ``height`` mm, and where the scan lies on it.

    ``left`` and ``top`` are mm from the trim's upper left corner to the scan's: below 0 where
    the scan goes beyond the trim. ``scan_width`` and ``scan_height`` are its printed size in mm.
    ``bleed`` in mm on all sides.
    """

    width: float
    height: float
    left: float
    top: float
    scan_width: float
    scan_height: float
    bleed: float = 3.0
    marks: bool = True

    @property
    def margin(self) -> float:
        """What lies round the trim, in mm: the bleed, and outside it the marks.

        >>> PageBoxes(100, 150, 0, 0, 100, 150).margin
        11.0
        """
        return self.bleed + (_CLEAR_MM + MARK_MM + _ROOM_MM if self.marks else 0.0)

    @property
    def media(self) -> PointsBox:
        """The whole medium."""
        return self._box(self.margin)

    @property
    def bleed_box(self) -> PointsBox:
        """The trim and the bleed round it."""
        return self._box(self.bleed)

    @property
    def trim_box(self) -> PointsBox:
        """What the guillotine leaves."""
        return self._box(0.0)

    def _box(self, out: float) -> PointsBox:
        near = self.margin - out
        return (
            mm_to_points(near), mm_to_points(near),
            mm_to_points(self.margin + self.width + out),
            mm_to_points(self.margin + self.height + out),
        )

    def scan_box(self) -> PointsBox:
        """The scan, in points."""
        left = self.margin + self.left
        top = self.margin + self.height - self.top
        return (
            mm_to_points(left), mm_to_points(top - self.scan_height),
            mm_to_points(left + self.scan_width), mm_to_points(top),
        )

    def crop_marks(self) -> tuple[PointsBox, ...]:
        """Eight lines, each from a point to a point, outside the bleed, in line with the trim."""
        left, bottom, right, top = self.trim_box
        near = mm_to_points(self.bleed + _CLEAR_MM)
        far = near + mm_to_points(MARK_MM)
        marks: list[PointsBox] = []
        for y in (bottom, top):
            marks += [(left - far, y, left - near, y), (right + near, y, right + far, y)]
        for x in (left, right):
            marks += [(x, bottom - far, x, bottom - near), (x, top + near, x, top + far)]
        return tuple(marks)


def boxes(
    scan: tuple[float, float], frame: tuple[float, float, float, float] | None, scale: float,
    bleed: float, *, marks: bool,
) -> PageBoxes:
    """A scan of (width, height) mm whose ``frame`` (mm of the scan) becomes the finished page.

    >>> made = boxes((210, 297), (10, 20, 100, 150), 0.5, 3, marks=False)
    >>> made.width, made.left, made.top, made.scan_width
    (50.0, -5.0, -10.0, 105.0)
    """
    left, top, width, height = frame or (0.0, 0.0, *scan)
    return PageBoxes(
        width * scale, height * scale, -left * scale, -top * scale, scan[0] * scale,
        scan[1] * scale, bleed, marks,
    )
