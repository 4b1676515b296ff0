"""What a page shows once colour has begun: its flats alone, and its four inks."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from app.pages.pdf_press import ToInks
from app.pages.picture import Frame, Picture, look_up
from app.pages.refusing import refuse
from core.colours import rgb_to_cmyk
from core.layers import palette_tables
from core.matte import over, to_depth
from core.sheet import BLACK, Plane, Rgb, Sheet

_MOST_INDEXED = 256


def flats_picture(frame: Frame) -> Picture:
    """The flats alone: indices where there are no more than 256 colours, else RGB.

    Raises ``Refused`` where the page has none.

    >>> frame = Frame(1, 2, 8, 300.0, (0, 0, 0), ((255, 255, 255), (9, 8, 7)))
    >>> page = Sheet(ppi=300, alpha=np.zeros((1, 2), np.uint8), flats=np.array([[1, 0]], np.uint8))
    >>> picture = flats_picture(frame)
    >>> picture.planes(page)[0].tolist(), picture.colours
    ([[1, 0]], ((255, 255, 255), (9, 8, 7)))
    """
    if not frame.palette:
        raise refuse("the page has no flats", "put the step flats into its list")
    colours = tuple(dict.fromkeys(frame.palette))
    place = {colour: number for number, colour in enumerate(colours)}
    indexed = len(colours) <= _MOST_INDEXED
    tables = (
        [np.array([place[colour] for colour in frame.palette], np.uint8)] if indexed
        else palette_tables(frame.palette)
    )

    def planes(strip: Sheet) -> Sequence[Plane]:
        assert strip.flats is not None
        return [look_up(strip.flats, table) for table in tables]

    return Picture(frame.height, frame.width, 8, frame.ppi, len(tables), planes, own=True,
                   busy=not indexed, colours=colours if indexed else ())


def plates_picture(frame: Frame) -> Picture:
    """Cyan, magenta, yellow and black, 255 full ink: the flats, and the ink over them.

    Ink without a colour of its own, black or grey, lies in black alone and overprints: the
    flats go on beneath it. Coloured ink knocks out what lies beneath, as ``over`` does.

    >>> frame = Frame(1, 2, 8, 300.0, (0, 0, 0), ((255, 0, 0),))
    >>> page = Sheet(ppi=300, alpha=np.array([[0, 255]], np.uint8),
    ...              flats=np.zeros((1, 2), np.uint8), palette=((255, 0, 0),))
    >>> [plane.tolist() for plane in plates_picture(frame).planes(page)]
    [[[0, 0]], [[255, 255]], [[255, 255]], [[0, 255]]]
    """
    plates = Plates.of(frame, rgb_to_cmyk)
    return Picture(frame.height, frame.width, 8, frame.ppi, 4, plates.planes, own=True, inks=True)


@dataclass(frozen=True, eq=False)
class Plates:
    """How the four inks of a page are laid, band by band.

    ``beneath`` are their tables of the flats' palette, ``cover`` is that of the line by its
    alpha, ``inks`` says which inks a colour takes.
    """

    beneath: tuple[Plane, ...]
    cover: Plane
    inks: ToInks

    @classmethod
    def of(cls, frame: Frame, inks: ToInks) -> "Plates":
        """The plates of a page."""
        beneath = np.ascontiguousarray(inks(frame.palette or (frame.overlay.paper,)).T)
        whole = round(frame.overlay.colour * 255) if frame.palette else 255
        laid = tuple(over(table, np.full_like(table, whole), 0) for table in beneath)
        return cls(laid, np.rint(np.arange(256) * frame.overlay.lines).astype(np.uint8), inks)

    def planes(self, strip: Sheet) -> Sequence[Plane]:
        """The four inks of some rows, the line among them."""
        return self._laid(strip, self._own(strip), self._alpha(strip))

    def apart(self, strip: Sheet) -> tuple[Plane, Sequence[Plane]]:
        """The cover of black ink by itself, and the four inks of all that lies beneath it."""
        own, alpha = self._own(strip), self._alpha(strip)
        black = (own == (0, 0, 0, 255)).all(axis=-1)
        return np.where(black, alpha, 0).astype(np.uint8), self._laid(
            strip, own, np.where(black, 0, alpha).astype(np.uint8))

    def _alpha(self, strip: Sheet) -> Plane:
        assert strip.alpha is not None
        return look_up(to_depth(strip.alpha, 8), self.cover)

    def _own(self, strip: Sheet) -> npt.NDArray[np.uint8]:
        """The four inks of a strip's own ink, (H, W, 4)."""
        if strip.ink is not None:
            return np.broadcast_to(self.inks(strip.ink), (*strip.shape, 4))
        assert strip.colour is not None
        return self.inks(to_depth(strip.colour, 8))

    def _laid(
        self, strip: Sheet, own: npt.NDArray[np.uint8], alpha: Plane,
    ) -> Sequence[Plane]:
        places = np.zeros(strip.shape, np.uint8) if strip.flats is None else strip.flats
        coloured = own[..., :3].any(axis=-1)
        plates: list[Plane] = []
        for channel, table in enumerate(self.beneath):
            ground = look_up(places, table)
            inked = over(own[..., channel], alpha, ground)
            plates.append(inked if channel == 3 else np.where(coloured, inked, ground))
        return plates


def one_part(strip: Sheet, *, held: bool) -> Sheet:
    """The strip with the ink alone that was held by hand, or that was not; the rest is clear.

    >>> page = Sheet(ppi=300, alpha=np.array([[7, 9]], np.uint8),
    ...              held=np.array([[0, 255]], np.uint8))
    >>> one_part(page, held=True).alpha.tolist(), one_part(page, held=False).alpha.tolist()
    ([[0, 9]], [[7, 0]])
    """
    assert strip.alpha is not None
    if strip.held is None:
        return replace(strip, alpha=np.zeros_like(strip.alpha)) if held else strip
    mine = (strip.held > 0) == held
    return replace(strip, alpha=np.where(mine, strip.alpha, 0).astype(strip.alpha.dtype))


def bare(frame: Frame, paper: Rgb) -> tuple[Frame, Sheet]:
    """A page as large as this one with nothing on it, on paper of a colour."""
    nothing = np.broadcast_to(np.uint8(0), (frame.height, frame.width))
    sheet = Sheet(ppi=frame.ppi, alpha=nothing, ink=BLACK)
    made = Frame.of((frame.height, frame.width), sheet)
    return replace(made, overlay=replace(made.overlay, paper=paper)), sheet
