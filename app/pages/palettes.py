"""Palettes on disk: plain text lists, and the colour exchange format (CxF3).

A plain list has a colour a line, ``#rrggbb``, then its name; an empty line is passed over.
Of CxF3 (ISO 17972-1:2015; element names from memory) the objects that carry ``ColorSRGB`` are
read and written; a file with a DTD is refused.
"""

import re
from pathlib import Path
from xml.etree import ElementTree as ET

from app.pages.refusing import naming, refuse
from app.pages.small import read_small
from app.pages.whole import replace_file
from core.colours import Named, Palette, rgb_to_hex
from core.fault import Fault, Refused
from core.sheet import Rgb

_SPACE = "{http://colorexchangeformat.com/CxF3-core}"
_DATE = "1980-01-01T00:00:00Z"  # fixed, so that equal palettes make equal files
_MOST_BYTES, _MOST_COLOURS = 4_000_000, 10_000
_LINE = re.compile(r"#?([0-9a-fA-F]{6})(?:\s+(.*))?")
_NOT_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def read_palette(path: Path) -> Palette:
    """The palette in a file of either form; Refused with what is wrong."""
    data = read_small(path, _MOST_BYTES, "the palette")
    with naming(path.name):
        if len(data) > _MOST_BYTES:
            raise refuse(f"it is longer than {_MOST_BYTES} bytes", "give a palette")
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise refuse(f"byte {error.start} is not UTF-8", "save it as UTF-8") from None
        is_xml = text.lstrip().startswith("<")
        return from_cxf(text) if is_xml else from_plain(text, path.stem)


def write_palette(path: Path, palette: Palette) -> None:
    """Write a palette as CxF3 where the name ends in ``.cxf``, else as a plain list."""
    text = to_cxf(palette) if path.suffix.lower() == ".cxf" else to_plain(palette)
    replace_file(path, text.encode("utf-8"))


def to_plain(palette: Palette) -> str:
    r"""A colour a line.

    >>> to_plain(Palette("", (Named((0, 0, 80), "deep sea"),)))
    '#000050 deep sea\n'
    """
    return "".join(
        f"{rgb_to_hex(named.colour)} {' '.join(named.name.split())}".rstrip() + "\n"
        for named in palette.colours
    )


def from_plain(text: str, name: str = "") -> Palette:
    """The palette of a plain list; Refused with every line that is none of it.

    >>> from_plain("#000050 deep sea").colours
    (Named(colour=(0, 0, 80), name='deep sea'),)
    """
    colours, faults = [], []
    for number, line in enumerate(text.splitlines(), start=1):
        found = _LINE.fullmatch(line.strip())
        if found:
            colours.append(Named(_colour(found[1]), found[2] or ""))
        elif line.strip():
            faults.append(Fault("it is no colour", f"line {number}", "write #rrggbb and a name"))
    if faults:
        raise Refused(faults)
    return Palette(name, _few(colours))


def to_cxf(palette: Palette) -> str:
    """The palette as CxF3.

    >>> from_cxf(to_cxf(Palette("coast", (Named((0, 0, 80), "sea"),)))).colours
    (Named(colour=(0, 0, 80), name='sea'),)
    """
    root = ET.Element(f"{_SPACE}CxF")
    about = ET.SubElement(root, f"{_SPACE}FileInformation")
    _add(about, "CreationDate", _DATE)
    _add(about, "Description", palette.name)
    listed = ET.SubElement(ET.SubElement(root, f"{_SPACE}Resources"), f"{_SPACE}ObjectCollection")
    for number, named in enumerate(palette.colours, start=1):
        made = ET.SubElement(listed, f"{_SPACE}Object", {
            "ObjectType": "Standard", "Name": _NOT_XML.sub("", named.name), "Id": f"c{number}"})
        _add(made, "CreationDate", _DATE)
        values = ET.SubElement(
            ET.SubElement(made, f"{_SPACE}ColorValues"), f"{_SPACE}ColorSRGB", {"MaxRange": "255"})
        for channel, value in zip("RGB", named.colour, strict=True):
            _add(values, channel, str(value))
    ET.indent(root, " ")
    return ET.tostring(root, encoding="unicode", xml_declaration=True) + "\n"


def _add(parent: ET.Element, name: str, text: str) -> None:
    ET.SubElement(parent, _SPACE + name).text = _NOT_XML.sub("", text)


def from_cxf(text: str) -> Palette:
    """The sRGB colours of CxF3; Refused where it is none, or has a DTD."""
    if "<!" in re.sub(r"<!--.*?-->", "", text, flags=re.DOTALL):
        raise refuse("it has a document type of its own", "export the palette anew")
    try:
        root = ET.fromstring(text.encode("utf-8"))  # noqa: S314 - a DTD was refused above
    except ET.ParseError as error:
        raise refuse(f"it is not XML ({error})", "export the palette anew") from None
    if root.tag != f"{_SPACE}CxF":
        raise refuse("it is not a colour exchange file", "give a plain list or CxF3")
    name = root.findtext(f"{_SPACE}FileInformation/{_SPACE}Description") or ""
    colours = [
        Named(_srgb(values), made.get("Name", ""))
        for made in root.iter(f"{_SPACE}Object") for values in made.iter(f"{_SPACE}ColorSRGB")
    ]
    return Palette(name, _few(colours))


def _srgb(values: ET.Element) -> Rgb:
    try:
        most = float(values.get("MaxRange", "255"))
        red, green, blue = (
            round(float(values.findtext(_SPACE + channel, "")) * 255 / most) for channel in "RGB"
        )
    except (ValueError, ZeroDivisionError, OverflowError):
        raise refuse("a colour of it has no red, green and blue", "export it anew") from None
    if not all(0 <= value <= 255 for value in (red, green, blue)):
        raise refuse("a colour of it lies out of its range", "export it anew")
    return red, green, blue


def _few(colours: list[Named]) -> tuple[Named, ...]:
    if len(colours) > _MOST_COLOURS:
        raise refuse(f"it has more than {_MOST_COLOURS} colours", "give a palette")
    return tuple(colours)


def _colour(digits: str) -> Rgb:
    red, green, blue = bytes.fromhex(digits)
    return red, green, blue
