"""Renditions: the forms in which a page goes out, as frozen requests."""

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar, Literal

from app.pages.refusing import refuse
from core.press.advice import grade_ruling
from core.press.dots import MOST_GAIN
from core.press.screens import Cut, Plain, Screen
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

    A page with flats or held ink goes into the four inks instead: lines stay in black and
    overprint, a hold leaves black and goes to its colour's plates.

    ``steps`` writes the step list into the file. ``ppi`` is the resolution at print size that is
    written in it; None is the scan's.
    """

    name: ClassVar[str] = "print"
    is_folder: ClassVar[bool] = False
    suffix: ClassVar[str] = "-print.tif"
    steps: bool = False
    ppi: float | None = None

    def __post_init__(self) -> None:
        if self.ppi is not None and not 1 <= self.ppi <= 100_000:
            raise refuse("a page has 1 to 100000 pixels per inch", "leave it as scanned")


@dataclass(frozen=True)
class Layered:
    """Lines, colour and paper: one OpenRaster file, or a folder of PNGs numbered from the bottom.

    With ``holds`` the ink that took a colour by hand lies in a layer of its own.
    """

    name: ClassVar[str] = "layered"
    form: Literal["ora", "folder"] = "ora"
    holds: bool = False

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
class Flat:
    """The flats alone, opaque: PNG or TIFF, indexed where there are at most 256 colours."""

    name: ClassVar[str] = "flats"
    is_folder: ClassVar[bool] = False
    form: Literal["png", "tiff"] = "png"

    def __post_init__(self) -> None:
        _known("form of flats", self.form, ("png", "tiff"))

    @property
    def suffix(self) -> str:
        """What follows the page's name.

        >>> Flat("tiff").suffix
        '-flats.tif'
        """
        return "-flats.tif" if self.form == "tiff" else "-flats.png"


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


@dataclass(frozen=True)
class Bitmap:
    """Black and white pixels alone, 1-bit TIFF in T.6, at ``ppi`` of the printed page.

    The full-resolution line is resampled, then cut. ``width_mm`` is the printed width of the
    whole page; None is as scanned. One cut by a screen is not to be scaled afterwards.
    """

    name: ClassVar[str] = "bitmap"
    is_folder: ClassVar[bool] = False
    suffix: ClassVar[str] = "-bitmap.tif"
    ppi: float = 1200
    cut: Cut = Plain()
    width_mm: float | None = None

    def __post_init__(self) -> None:
        if not 50 <= self.ppi <= 5080:
            raise refuse("a bitmap has 50 to 5080 pixels per inch", "1200 is usual")
        if self.width_mm is not None and not 1 <= self.width_mm <= 5000:
            raise refuse("a printed page is 1 to 5000 mm wide", "give its width in mm")
        if isinstance(self.cut, Screen):
            self.cut.made(self.ppi)

    def note(self, height: int, width: int) -> str:  # noqa: ARG002 - the same on any page
        """What the person should be told: a sentence, or nothing.

        >>> Bitmap(cut=Screen(75)).note(900, 600)
        'The bitmap is screened: place it at 100 %, do not scale it.'
        """
        if isinstance(self.cut, Plain):
            return ""
        if not isinstance(self.cut, Screen):
            return "The bitmap is diffused: place it at 100 %, do not scale it."
        said = "The bitmap is screened: place it at 100 %, do not scale it."
        tones = grade_ruling(self.ppi, self.cut.ruling)
        return said if tones.grade == "good" else f"{said} But {tones.said}; 256 are usual."


@dataclass(frozen=True)
class Pdf:
    """A page for the press: trim, bleed and crop marks, the line in black alone, overprinting.

    ``standard`` ``x4`` (PDF/X-4) keeps the line see-through, ``x1a`` (PDF/X-1a:2003) lays it
    flat. ``form`` ``grey`` keeps the page's tones, ``1-bit`` cuts them at ``ppi``. ``width_mm``
    is the printed width of the whole scan; ``frame`` (left, top, width, height, in mm of the
    scan) is what the guillotine leaves, None is all. ``bleed`` in mm. ``gain`` is that of the
    press, for its profile; ``profile`` is the printer's own, grey or CMYK.
    """

    name: ClassVar[str] = "pdf"
    is_folder: ClassVar[bool] = False
    suffix: ClassVar[str] = "-page.pdf"
    standard: Literal["x4", "x1a"] = "x4"
    form: Literal["grey", "1-bit"] = "grey"
    ppi: float = 1200
    cut: Cut = Plain()
    width_mm: float | None = None
    frame: tuple[float, float, float, float] | None = None
    bleed: float = 3.0
    marks: bool = True
    gain: float = 16.0
    profile: Path | None = None

    def __post_init__(self) -> None:
        _known("PDF standard", self.standard, ("x4", "x1a"))
        _known("form of PDF", self.form, ("grey", "1-bit"))
        Bitmap(self.ppi, self.cut, self.width_mm)
        if self.frame is not None and min(self.frame[2:]) <= 0:
            raise refuse("the trim has no size", "give left, top, width and height in mm")
        if not (0 <= self.bleed <= 50 and 0 <= self.gain <= MOST_GAIN):
            raise refuse(f"a bleed is 0 to 50 mm and a gain 0 to {MOST_GAIN:g} %", "3 mm is usual")


Rendition = Line | Print | Layered | Flat | Web | Bitmap | Pdf


def _share(length: int, edge: int, whole: int) -> int:
    return (2 * length * edge + whole) // (2 * whole)


def _known(what: str, value: object, known: tuple[object, ...]) -> None:
    if value not in known:
        choices = ", ".join(str(choice) for choice in known)
        raise refuse(f"there is no {what} called {value}", f"choose one of {choices}")
