"""Renditions: the forms in which a page goes out, as frozen requests."""

from dataclasses import dataclass
from typing import ClassVar, Literal

from app.pages.refusing import refuse
from core.sheet import Rgb


@dataclass(frozen=True)
class Line:
    """The line on nothing, in straight alpha, as large and as deep as the page.

    ``form``: ``rgba`` and ``tiff`` open as colour everywhere, ``grey-alpha`` and ``indexed``
    (256 alphas of one ink) are smaller. ``bits`` is 8 or 16; None is as scanned.
    """

    name: ClassVar[str] = "line"
    is_folder: ClassVar[bool] = False
    form: Literal["rgba", "grey-alpha", "indexed", "tiff"] = "rgba"
    bits: Literal[8, 16] | None = None

    def __post_init__(self) -> None:
        _known("form of line", self.form, ("rgba", "grey-alpha", "indexed", "tiff"))
        _known("depth", self.bits, (None, 8, 16))
        if self.form == "indexed" and self.bits == 16:
            raise refuse("the indexed form holds 8 bits", "ask for 8 bits or for the RGBA form")

    @property
    def suffix(self) -> str:
        """What follows the page's name.

        >>> Line("tiff").suffix
        '-line.tif'
        """
        return "-line.tif" if self.form == "tiff" else "-line.png"


@dataclass(frozen=True)
class Print:
    """The line on white, grey, 8 bit: 255 minus the grey number is its share of black.

    ``steps`` writes the step list into the file.
    """

    name: ClassVar[str] = "print"
    is_folder: ClassVar[bool] = False
    suffix: ClassVar[str] = "-print.tif"
    steps: bool = False


@dataclass(frozen=True)
class Layered:
    """Lines above paper: one OpenRaster file, or a folder of PNGs numbered from the bottom."""

    name: ClassVar[str] = "layered"
    form: Literal["ora", "folder"] = "ora"

    def __post_init__(self) -> None:
        _known("form of layered", self.form, ("ora", "folder"))

    @property
    def is_folder(self) -> bool:
        """Whether the output is a folder of files.

        >>> Layered("folder").is_folder
        True
        """
        return self.form == "folder"

    @property
    def suffix(self) -> str:
        """What follows the page's name.

        >>> Layered().suffix
        '-layered.ora'
        """
        return "-layered" if self.form == "folder" else "-layered.ora"


@dataclass(frozen=True)
class Web:
    """A small picture: averaged after toning, laid on ``ground`` or, if that is None, see-through.

    ``width`` in pixels, or else ``long_edge``; never more than the page has. ``quality``
    (1-100) is for WebP, which is lossless without it, and for JPEG, where None is 90.
    ``steps`` writes the step list into the file.
    """

    name: ClassVar[str] = "web"
    is_folder: ClassVar[bool] = False
    form: Literal["webp", "png", "jpeg"] = "webp"
    width: int | None = None
    long_edge: int = 1600
    ground: Rgb | None = None
    quality: int | None = None
    steps: bool = False

    def __post_init__(self) -> None:
        _known("form of web", self.form, ("webp", "png", "jpeg"))
        if self.form == "jpeg" and self.ground is None:
            raise refuse("JPEG cannot be see-through", "name a ground, or choose WebP or PNG")
        if self.quality is not None and not (self.form != "png" and 1 <= self.quality <= 100):
            raise refuse(f"{self.form} has no quality {self.quality}", "give 1 to 100, PNG none")
        if min(self.long_edge, 1 if self.width is None else self.width) < 1:
            raise refuse("a web picture is at least one pixel wide", "give its size in pixels")
        if self.ground is not None and not all(0 <= value <= 255 for value in self.ground):
            raise refuse("a ground colour is three numbers from 0 to 255", "give it anew")

    @property
    def suffix(self) -> str:
        """What follows the page's name.

        >>> Web("jpeg", ground=(255, 255, 255)).suffix
        '-web.jpg'
        """
        return "-web.jpg" if self.form == "jpeg" else f"-web.{self.form}"

    def size(self, height: int, width: int) -> tuple[int, int]:
        """Height and width of the picture of a page of that size in pixels.

        >>> Web(long_edge=1600).size(9921, 7016)
        (1600, 1131)
        """
        edge = self.long_edge if self.width is None else self.width
        whole = max(height, width) if self.width is None else width
        if edge >= whole:
            return height, width
        return max(_share(height, edge, whole), 1), max(_share(width, edge, whole), 1)

    def note(self, height: int, width: int) -> str:
        """What the person should be told: a sentence, or nothing.

        >>> Web(width=800).note(900, 600)
        'The page is 600 pixels wide, less than the 800 asked for, and was not enlarged.'
        """
        asked = self.long_edge if self.width is None else self.width
        has = max(height, width) if self.width is None else width
        way = "at its long edge" if self.width is None else "wide"
        if asked <= has:
            return ""
        return (f"The page is {has} pixels {way}, less than the {asked} asked for, "
                "and was not enlarged.")


Rendition = Line | Print | Layered | Web


def _share(length: int, edge: int, whole: int) -> int:
    return (2 * length * edge + whole) // (2 * whole)


def _known(what: str, value: object, known: tuple[object, ...]) -> None:
    if value not in known:
        choices = ", ".join(str(choice) for choice in known)
        raise refuse(f"there is no {what} called {value}", f"choose one of {choices}")
