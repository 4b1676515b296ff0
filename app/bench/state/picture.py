"""The picture on the screen: full-resolution pixels, toned first and averaged afterwards."""

from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
import numpy.typing as npt

from app.bench.state.scale import UNIT, Box, Scale
from app.bench.state.tally import MOST_BLOCK, Tally
from core.matte import over, to_depth
from core.readings import grey_plane
from core.sheet import BLACK, Each, Plane, Rgb, Sheet, spans
from core.steps.fold import fuse
from core.steps.step import Step
from core.tone import Table

Bytes = npt.NDArray[np.uint8]

Blocks = Bytes | npt.NDArray[np.float32]

Pixels = npt.NDArray[np.int32]
"""0x00RRGGBB, (H, W): what a screen takes without a change."""

_STRIP_PIXELS = 1 << 19  # a strip, toned, stays in a core's cache


@dataclass(frozen=True)
class Place:
    """Which screen pixels of a page are wanted, at which scale."""

    scale: Scale
    seen: Box

    @property
    def under(self) -> float:
        """How many page pixels lie under them.

        >>> Place(Scale(block=4), Box(0, 0, 10, 10)).under
        1600.0
        """
        return self.seen.width * self.seen.height / self.scale.value**2


@dataclass(frozen=True, eq=False)
class Inked:
    """A plane and the table that makes alpha of it, in one ink."""

    plane: Plane
    table: Table
    ink: Rgb


def inked(sheet: Sheet, steps: tuple[Step, ...], grey: Plane | None = None) -> Inked | None:
    """The page after settled table steps as one table over one plane; None where it is not.

    ``grey`` is the sheet's grey, where it has been made already.

    Where no step lifts the ink, it is lifted in black, as it is when the page is written.

    >>> from core.steps.tone import Fixed, Tone
    >>> page = Sheet(ppi=300, grey=np.array([[200]], np.uint8))
    >>> one = inked(page, (Tone(points=Fixed(black=0, white=200)),))
    >>> int(one.table[200]), int(one.table[100])
    (0, 127)
    """
    if sheet.ink is None or sheet.overlay.lines < 1:
        return None
    if any(step.table(255) is None for step in steps):
        return None
    lifted = sheet.alpha is not None
    table = fuse(steps, sheet.full, lifted=lifted)
    inks = [step.lifts_in for step in steps if step.lifts_in is not None]
    if lifted:
        assert sheet.alpha is not None
        return Inked(sheet.alpha, table, inks[-1] if inks else sheet.ink)
    grey = grey_plane(sheet) if grey is None else grey
    return Inked(grey, table if inks else np.invert(table), inks[-1] if inks else BLACK)


def view_plane(
    plane: Plane, table: Table | None, place: Place, each: Each = map, tally: Tally | None = None,
) -> Bytes:
    """The seen part of a plane (H, W) or (H, W, 3) after ``table``, at 8 bits, as shown.

    Every page pixel is toned before any is averaged. Each screen pixel is the mean of the
    scale's blocks that it covers, in the share in which it covers them, and each block the
    exact mean of its pixels; where a scale makes each block one screen pixel, that is all,
    rounded once. Enlarged, it is the page pixel itself. A ``tally`` of the blocks changes
    nothing but the time it takes.

    >>> page = np.array([[0, 100], [200, 100]], np.uint8)
    >>> view_plane(page, None, Place(Scale(block=2), Box(0, 0, 1, 1))).tolist()
    [[100]]
    """
    eight = _table_to_8(plane, table)
    scale, seen = place.scale, place.seen
    if scale.up > 1 or (scale.block == 1 and scale.parts == UNIT):
        return _enlarged(plane, eight, scale.up, seen)
    box = _block_box(scale, seen, plane.shape[:2])
    blocks = _average_blocks(plane, eight, scale.block, box, each, tally)
    return _finish(blocks, scale, seen)


def _table_to_8(plane: Plane, table: Table | None) -> Bytes | None:
    if table is None:
        if plane.dtype == np.uint8:
            return None
        table = np.arange(65536).astype(np.uint16)
    return np.asarray(to_depth(table, 8), np.uint8)


def _look_up(plane: Plane, table: Bytes | None) -> Bytes:
    return np.asarray(plane if table is None else cv2.LUT(plane, table), np.uint8)


def _enlarged(plane: Plane, table: Bytes | None, up: int, seen: Box) -> Bytes:
    part = plane[seen.top // up : -(-seen.bottom // up), seen.left // up : -(-seen.right // up)]
    toned = _look_up(part, table)
    if up == 1:
        return toned
    big = toned.repeat(up, axis=0).repeat(up, axis=1)
    top, left = seen.top % up, seen.left % up
    return np.ascontiguousarray(big[top : top + seen.height, left : left + seen.width])


def _block_box(scale: Scale, seen: Box, shape: tuple[int, ...]) -> Box:
    """The blocks under the seen pixels, out to where blocks and pixels begin together."""
    parts = scale.parts
    box = Box(
        seen.left // UNIT * parts, seen.top // UNIT * parts,
        -(-seen.right // UNIT) * parts, -(-seen.bottom // UNIT) * parts,
    )
    return box.clipped(max(shape[1] // scale.block, 1), max(shape[0] // scale.block, 1))


def _average_blocks(
    plane: Plane, table: Bytes | None, block: int, box: Box, each: Each, tally: Tally | None,
) -> Blocks:
    """The mean of each block of the box, not yet rounded; off its tally where there is one."""
    tall, wide = (min(block, side) for side in plane.shape[:2])
    if tall == wide == 1:
        return _look_up(plane[box.top : box.bottom, box.left : box.right], table)
    if tally is not None and tally.of(plane, block):
        results = np.arange(256, dtype=np.uint8) if table is None else table
        sums = tally.sums(results, box.top, box.bottom, each)[:, box.left : box.right]
        return sums.astype(np.float32) / np.float32(block * block)
    out = np.empty((box.height, box.width, *plane.shape[2:]), np.float32)
    columns = slice(box.left * wide, box.right * wide)
    rows = max(_STRIP_PIXELS // max(box.width * wide * tall * out[0, 0].size, 1), 1)

    def put(span: tuple[int, int]) -> None:
        first, last = span
        part = plane[(box.top + first) * tall : (box.top + last) * tall, columns]
        out[first:last] = _means(_look_up(part, table), tall, (last - first, box.width))

    for _ in each(put, spans(box.height, rows)):
        pass
    return out


def _means(toned: Plane, tall: int, size: tuple[int, int]) -> npt.NDArray[np.float32]:
    """Means of blocks, from exact sums: rows are summed 16 bits wide, then columns.

    Summing down first reads each byte once, in order. 255 x 257 rows fit into 16 bits.
    """
    height, width = size
    if tall > MOST_BLOCK:
        area = cv2.resize(toned, (width, height), interpolation=cv2.INTER_AREA)
        return np.asarray(area, np.float32)
    wide = toned.shape[1] // width
    sums = np.add.reduce(toned.reshape(height, tall, -1), axis=1, dtype=np.uint16)
    sums = sums.reshape(height * width, wide, *toned.shape[2:])
    across = np.asarray(cv2.reduce(sums, 1, cv2.REDUCE_SUM, dtype=cv2.CV_32F), np.float32)
    return across.reshape(height, width, *toned.shape[2:]) / np.float32(tall * wide)


def _finish(blocks: Blocks, scale: Scale, seen: Box) -> Bytes:
    """Blocks to screen pixels, rounded once, halves up."""
    left, top = seen.left % UNIT, seen.top % UNIT
    if scale.parts != UNIT:
        down, across = (-(-side // scale.parts) * scale.parts for side in blocks.shape[:2])
        padded = cv2.copyMakeBorder(
            blocks, 0, down - blocks.shape[0], 0, across - blocks.shape[1], cv2.BORDER_REPLICATE,
        )
        size = (across // scale.parts * UNIT, down // scale.parts * UNIT)
        blocks = cast(Blocks, cv2.resize(padded, size, interpolation=cv2.INTER_AREA))
    part = blocks[top : top + seen.height, left : left + seen.width]
    if part.dtype != np.uint8:
        part = (part + np.float32(0.5)).astype(np.uint8)
    return np.ascontiguousarray(part)


def on_ground(alpha: Bytes, ink: Rgb, ground: "Ground", seen: Box) -> Pixels:
    """Ink of straight ``alpha`` (H, W) laid over the ground, as the screen takes it."""
    laid = [cast(Pixels, cv2.LUT(alpha, _ground_table(ink, one))) for one in ground.colours]
    if len(laid) == 1:
        return laid[0]
    return np.where(ground.dots(seen), laid[1], laid[0])


def _ground_table(ink: Rgb, ground: Rgb) -> Pixels:
    """The screen's pixel for each alpha."""
    ramp = np.arange(256, dtype=np.uint8)
    laid = [over(one, ramp, under).astype(np.int32) for one, under in zip(ink, ground, strict=True)]
    return laid[0] << 16 | laid[1] << 8 | laid[2]


@dataclass(frozen=True)
class Ground:
    """What lies under the ink on the screen: one colour, or two in the see-through pattern."""

    name: str
    colours: tuple[Rgb, ...]

    def dots(self, seen: Box) -> npt.NDArray[np.bool_]:
        """Where the pattern's second colour lies: staggered rows of dots, as under a stet."""
        x = np.arange(seen.left, seen.right)[None, :]
        y = np.arange(seen.top, seen.bottom)[:, None]
        row = y // 8
        in_x = (x + 8 * (row % 2)) % 16
        in_y = y % 8
        corner = ((in_x == 0) | (in_x == 3)) & ((in_y == 0) | (in_y == 3))
        return np.asarray((in_x < 4) & (in_y < 4) & ~corner, np.bool_)


def view_inked(
    one: Inked, ground: Ground, place: Place, each: Each = map, tally: Tally | None = None,
) -> Pixels:
    """One ink over the ground: the frame that is wanted while a handle moves."""
    alpha = view_plane(one.plane, one.table, place, each, tally)
    return on_ground(alpha, one.ink, ground, place.seen)


def view_clipped(
    one: Inked, place: Place, each: Each = map, tally: Tally | None = None,
) -> Pixels:
    """What the points cut off: full ink black, bare ground white, all between in grey stripes."""
    full = int(np.iinfo(one.table.dtype).max)
    ends = [np.where(one.table == end, full, 0).astype(one.table.dtype) for end in (full, 0)]
    solid, bare = (
        view_plane(one.plane, end, place, each, tally).astype(np.int32) for end in ends)
    seen = place.seen
    x, y = np.arange(seen.left, seen.right)[None, :], np.arange(seen.top, seen.bottom)[:, None]
    between = np.where((x + y) // 3 % 2, 118, 176)
    level = (255 * bare + between * np.maximum(255 - solid - bare, 0)) // 255
    return np.asarray(level << 16 | level << 8 | level, np.int32)
