"""Lines, colour and paper laid over one another."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from core.matte import over, to_depth
from core.sheet import Overlay, Plane, Rgb, Sheet

Look = Callable[[Plane, npt.NDArray[np.uint8]], Plane]
"""``look(indices, table)``: the table's value at each index."""


def look_up(indices: Plane, table: npt.NDArray[np.uint8]) -> Plane:
    """The table's value at each index; both of any shape.

    >>> look_up(np.array([[1, 0]], np.uint8), np.array([7, 9], np.uint8)).tolist()
    [[9, 7]]
    """
    return np.asarray(np.take(table, indices))


def composite(sheet: Sheet, paper: Rgb | None = None, look: Look = look_up) -> list[Plane]:
    """Red, green and blue (H, W) uint8 of a lifted sheet on its paper, as its overlay says.

    W3C Compositing and Blending Level 1, 5.1: simple alpha compositing from the bottom, co =
    cs x as + cb x (1 - as) over an opaque ground, each layer rounded once, and 9: a layer's
    opacity multiplies its alpha. ``paper`` lies beneath instead of the overlay's, if given.

    >>> page = Sheet(ppi=300, alpha=np.array([[255, 0, 128]], np.uint8),
    ...              flats=np.array([[0, 0, 0]], np.uint8), palette=((200, 100, 50),))
    >>> [plane.tolist() for plane in composite(page)]
    [[[0, 200, 100]], [[0, 100, 50]], [[0, 50, 25]]]
    """
    overlay = sheet.overlay
    ground = list(overlay.paper if paper is None else paper)
    layers = [_lines, _flats] if overlay.colour_above else [_flats, _lines]
    planes: list[Plane | int] = [*ground]
    for layer in layers:
        planes = layer(sheet, planes, look)
    full = np.full(sheet.shape, 255, np.uint8)
    return [over(0, np.zeros_like(full), p) if isinstance(p, int) else p for p in planes]


def flattened(sheet: Sheet, look: Look = look_up) -> Sheet:
    """The sheet as one opaque layer, 8 bit: its ``composite`` as ink that covers all.

    >>> page = Sheet(ppi=300, alpha=np.array([[0]], np.uint8), flats=np.array([[0]], np.uint8),
    ...              palette=((9, 8, 7),))
    >>> flattened(page).colour.tolist(), flattened(page).alpha.tolist()
    ([[[9, 8, 7]]], [[255]])
    """
    return replace(
        sheet, ink=None, colour=np.dstack(composite(sheet, look=look)), flats=None, palette=(),
        alpha=np.full(sheet.shape, 255, np.uint8), held=None, overlay=Overlay(),
    )


def _flats(sheet: Sheet, ground: list[Plane | int], look: Look) -> list[Plane | int]:
    if sheet.flats is None:
        return ground
    channels = [look(sheet.flats, table) for table in palette_tables(sheet.palette)]
    cover = np.full((1, 1), round(sheet.overlay.colour * 255), np.uint8)
    if int(cover[0, 0]) == 255:
        return [*channels]
    return [over(own, np.broadcast_to(cover, own.shape), below)
            for own, below in zip(channels, ground, strict=True)]


def _lines(sheet: Sheet, ground: list[Plane | int], look: Look) -> list[Plane | int]:
    assert sheet.alpha is not None
    alpha = to_depth(sheet.alpha, 8)
    if sheet.overlay.lines < 1:
        shares = np.rint(np.arange(256) * sheet.overlay.lines).astype(np.uint8)
        alpha = look(alpha, shares)
    if sheet.ink is not None:
        return [over(ink, alpha, below) for ink, below in zip(sheet.ink, ground, strict=True)]
    assert sheet.colour is not None
    own = to_depth(sheet.colour, 8)
    return [over(own[..., channel], alpha, below) for channel, below in enumerate(ground)]


def palette_tables(palette: tuple[Rgb, ...]) -> list[npt.NDArray[np.uint8]]:
    """Red, green and blue of a palette, each (n,) uint8.

    >>> [table.tolist() for table in palette_tables(((1, 2, 3), (4, 5, 6)))]
    [[1, 4], [2, 5], [3, 6]]
    """
    return [np.ascontiguousarray(c) for c in np.array(palette, np.uint8).reshape(-1, 3).T]
