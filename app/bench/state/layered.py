"""Pictures of sheets that make no single table: own colours, flats, and the page as it stands."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any, Literal

import numpy as np

from app.bench.state.picture import Bytes, Ground, Pixels, Place, view_plane
from app.bench.state.scale import UNIT, Box
from app.pages.picture import look_up
from core.fault import Watch
from core.layers import composite
from core.readings import grey_plane
from core.sheet import BLACK, Each, Rgb, Sheet, spans
from core.steps.fold import fold
from core.steps.step import Step

Layer = Literal["all", "lines", "flats"]
"""What of a page is drawn: everything, the lines over the ground, or the flats alone."""


def view_plain(sheet: Sheet, place: Place, each: Each = map) -> Pixels:
    """The sheet as it stands: its colour where it has one, its grey, or its ink on white."""
    if sheet.colour is not None and sheet.alpha is None:
        return _packed(view_plane(sheet.colour, None, place, each))
    grey = view_plane(grey_plane(sheet), None, place, each).astype(np.int32)
    return grey << 16 | grey << 8 | grey


def _packed(colour: Bytes) -> Pixels:
    red, green, blue = (colour[..., channel].astype(np.int32) for channel in range(3))
    return red << 16 | green << 8 | blue


def watched(each: Each, watch: Watch) -> Each:
    """The same, told to ``watch`` band by band, which may stop it."""
    def bands(
        work: Callable[[tuple[int, int]], Any], spans_of: Iterable[tuple[int, int]],
    ) -> Iterator[Any]:
        wanted = list(spans_of)
        for done, result in enumerate(each(work, wanted), start=1):
            watch(done, len(wanted))
            yield result

    return bands


def view_folded(
    sheet: Sheet, steps: tuple[Step, ...], ground: Ground, place: Place, each: Each = map,
    layer: Layer = "all",
) -> Pixels:
    """The page after steps that need no neighbours but make no single table, over the ground.

    Only the seen part is folded, laid together at full resolution, then averaged.
    """
    part, inner = seen_part(sheet, place)
    laid = np.empty((*part.shape, 3), np.uint8)

    def put(span: tuple[int, int]) -> None:
        laid[slice(*span)] = composed(fold(steps, part.rows(*span)), ground.colours[0], layer)

    for _ in each(put, spans(part.height)):
        pass
    return _packed(view_plane(laid, None, inner, each))


def seen_part(sheet: Sheet, place: Place) -> tuple[Sheet, Place]:
    """The part of the sheet under the seen pixels, and the place as seen from there."""
    scale, seen = place.scale, place.seen
    if scale.up > 1:
        pixels, step = scale.up, 1
    else:
        pixels, step = UNIT, scale.block * scale.parts
    left, top = seen.left // pixels, seen.top // pixels
    right, bottom = -(-seen.right // pixels), -(-seen.bottom // pixels)
    rows, columns = slice(top * step, bottom * step), slice(left * step, right * step)
    part = sheet.each_plane(lambda plane: np.ascontiguousarray(plane[rows, columns]))
    moved = Box(
        seen.left - left * pixels, seen.top - top * pixels,
        seen.right - left * pixels, seen.bottom - top * pixels,
    )
    return part, Place(scale, moved)


def composed(sheet: Sheet, ground: Rgb, layer: Layer = "all") -> Bytes:
    """A folded band laid together, (H, W, 3) at 8 bits; grey is ink of that darkness.

    With flats it is what the merged rendition shows, on the paper of its own overlay: the
    ground lies beneath lines alone.

    >>> page = Sheet(ppi=300, alpha=np.array([[255, 0]], np.uint8),
    ...              flats=np.array([[0, 0]], np.uint8), palette=((9, 8, 7),))
    >>> composed(page, (255, 255, 255)).tolist()
    [[[0, 0, 0], [9, 8, 7]]]
    >>> composed(page, (255, 255, 255), "lines").tolist()
    [[[0, 0, 0], [255, 255, 255]]]
    """
    if sheet.alpha is None:
        alpha = np.asarray(np.invert(grey_plane(sheet)))
        sheet = replace(sheet, grey=None, colour=None, alpha=alpha, ink=BLACK)
    assert sheet.alpha is not None
    if layer == "lines":
        sheet = replace(sheet, flats=None)
    elif layer == "flats":
        sheet = replace(sheet, alpha=np.zeros_like(sheet.alpha))
    paper = ground if sheet.flats is None else None
    return np.asarray(np.dstack(composite(sheet, paper, look_up)), np.uint8)
