"""Areas that a line encloses though it has gaps: a ball that is wider than a gap is shut in.

After Song-Hai Zhang, Tao Chen, Yi-Fei Zhang, Shi-Min Hu and Ralph R. Martin, "Vectorizing
cartoon animations" (IEEE Transactions on Visualization and Computer Graphics 15(4), 2009),
section 4.1, trapped-ball segmentation. Where they fill and shrink, here one distance transform
answers for balls of every size: a ball's middle may be wherever the line is farther away than
its radius. Smaller balls find an area that the largest does not fit into only where the narrows
that lead into it are clearly narrower than it is, so that corners never become areas.
"""

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.strips import Strip, side_by_side, strips
from core.units import mm_to_px

Mask = npt.NDArray[np.uint8]
"""(H, W), 0 or 1."""

Labels = npt.NDArray[np.uint16]
"""(H, W), 0 for none."""

Floats = npt.NDArray[np.float32]

MOST = 65_000
"""Pieces that a page may fall into; the smallest beyond that belong to the line."""

_SHRINK = 0.55  # each ball's radius over that of the one before
_SMALLEST_MM = 0.2  # radius of the smallest ball
_CHAMBER = 1.3  # times as wide as its door, a hollow is a chamber of its own
_DOOR_MM = 0.35  # a gap narrower than that is a hole in the line
_PIECE_MM2 = 0.04  # a hole smaller than that is the line's own grain

_CROSS = np.array([[0, 1, 0], [1, 1, 1], [0, 1, 0]], np.uint8)


def pieces_of(line: Mask, gap: float, ppi: float) -> tuple[Labels, Floats]:
    """The pieces of paper that a ball of ``gap`` mm, and then smaller ones, are shut into.

    ``line`` (H, W) is 1 where the line is. Pieces are numbered from 1; holes that are grain of
    the line are 0 as the line is. With them comes how far, in pixels, each pixel lies from the
    line. A gap of ``gap`` mm is shut, one that is wider by more than a pixel is open.

    >>> ring = np.zeros((60, 60), np.uint8)
    >>> ring[10:50, 10:50] = 1
    >>> ring[14:46, 14:46] = 0
    >>> ring[10:14, 28:32] = 0  # four pixels of it are missing
    >>> labels, _ = pieces_of(ring, 0.5, 254)
    >>> int(labels[30, 30]) != int(labels[2, 2]), int(labels.max())
    (True, 2)
    """
    far: Floats = np.asarray(
        cv2.distanceTransform(1 - line, cv2.DIST_L2, cv2.DIST_MASK_PRECISE), np.float32)
    reach = (mm_to_px(gap, ppi) + 1) / 2 if gap > 0 else 0.0
    labels: Labels = np.zeros(line.shape, np.uint16)
    count = _add(labels, far > reach, None, 0)
    radius = reach * _SHRINK
    while radius > mm_to_px(_SMALLEST_MM, ppi):
        count = _add(labels, far > radius, far > radius * _CHAMBER, count)
        radius *= _SHRINK
    labels = _grown(labels, line, int(1.5 * reach) + 2)
    _add_rest(labels, line, count, ppi)
    return labels, far


def _add(labels: Labels, open_here: npt.NDArray[np.bool_], deep: npt.NDArray[np.bool_] | None,
         count: int) -> int:
    """Number the connected parts that hold no number yet and, if given, something deep."""
    parts, number = _connected(open_here)
    new = np.ones(number, np.bool_)
    new[0] = False
    if count:
        new &= ~_met(parts, labels > 0, number)
    if deep is not None:
        new &= _met(parts, deep, number)
    return _numbered(labels, parts, np.flatnonzero(new), count)


def _met(parts: npt.NDArray[np.int32], where: npt.NDArray[np.bool_],
         number: int) -> npt.NDArray[np.bool_]:
    """Which of the parts have a pixel there."""
    met = np.zeros(number, np.bool_)
    for rows, _, _ in strips(len(parts)):
        met[parts[rows][where[rows]]] = True
    return met


def _numbered(labels: Labels, parts: npt.NDArray[np.int32], chosen: npt.NDArray[np.int64],
              count: int) -> int:
    """Give the chosen parts numbers from ``count`` + 1."""
    chosen = chosen[: MOST - count]
    table = np.zeros(int(parts.max()) + 1, np.uint16)
    table[chosen] = np.arange(count + 1, count + 1 + len(chosen))
    _put(labels, table, parts)
    return count + len(chosen)


def _put(labels: Labels, table: Labels, parts: npt.NDArray[np.int32]) -> None:
    """Add each part's number, 0 for those that already have one."""

    def work(strip: Strip) -> None:
        rows = strip[0]
        labels[rows] |= table[parts[rows]]

    side_by_side(work, strips(len(parts)))


def _connected(mask: npt.NDArray[np.bool_]) -> tuple[npt.NDArray[np.int32], int]:
    """Parts connected by edges, and one more than how many there are."""
    count, parts = cv2.connectedComponents(mask.view(np.uint8), connectivity=4)
    return np.asarray(parts), count


def _grown(labels: Labels, line: Mask, steps: int) -> Labels:
    """Every piece spread over bare paper; where two meet, they stop."""
    out = np.empty_like(labels)

    def work(strip: Strip) -> None:
        rows, around, inner = strip
        part, paper = labels[around].copy(), line[around] == 0
        for _ in range(steps):
            bare = (part == 0) & paper
            if not bare.any():
                break
            cv2.copyTo(cv2.dilate(part, _CROSS), bare.view(np.uint8), part)
        out[rows] = part[inner]

    side_by_side(work, strips(len(labels), steps))
    return out


def _add_rest(labels: Labels, line: Mask, count: int, ppi: float) -> None:
    """What no ball has reached: what lies open to a piece is its own, the rest is numbered.

    The largest are numbered first; the grain of strokes is left out.
    """
    parts, number = _connected((labels == 0) & (line == 0))
    size = np.zeros(number, np.int64)
    for rows, _, _ in strips(len(parts)):
        size += np.bincount(parts[rows].ravel(), minlength=number)
    size[0] = 0
    into = _open_to(labels, parts, mm_to_px(_DOOR_MM, ppi))
    _put(labels, into, parts)
    size[np.flatnonzero(into)] = 0
    chosen = np.flatnonzero(size >= max(mm_to_px(1, ppi) ** 2 * _PIECE_MM2, 2))
    _numbered(labels, parts, chosen[np.argsort(-size[chosen], kind="stable")], count)


def _open_to(labels: Labels, parts: npt.NDArray[np.int32], door: float) -> Labels:
    """For each part the piece that it touches over the widest edge, 0 if none is a ``door``."""
    near = cv2.dilate(labels, _CROSS)
    at = np.flatnonzero((parts > 0) & (near > 0))
    key = parts.ravel()[at].astype(np.int64) * (MOST + 1) + near.ravel()[at]
    pairs, length = np.unique(key, return_counts=True)
    wide = np.flatnonzero(length >= door)
    wide = wide[np.argsort(length[wide], kind="stable")]  # the widest is written last
    part, piece = np.divmod(pairs[wide], MOST + 1)
    into = np.zeros(int(parts.max()) + 1, np.uint16)
    into[part] = piece
    return into
