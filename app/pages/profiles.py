"""The ICC profiles that go into files, built by code: sRGB, grey with its curve, black ink.

Layout after ICC.1:2001-04 (profile version 2.4): header 6.1, required tags 6.3, tag types
6.5. The date is fixed, so a profile's bytes never change.
"""

import struct
from functools import cache

import numpy as np
import numpy.typing as npt

from core.light import srgb_to_linear
from core.press.dots import printed_cover

_TITLE = "sRGB curve and primaries (IEC 61966-2-1)"
_GREY_TITLE = "Grey with the sRGB curve (IEC 61966-2-1)"
_RIGHTS = "No rights reserved"
_DATE = (2024, 1, 1, 0, 0, 0)
_SOLID = 1.6  # density of black ink above the paper; common practice, no source
_D50 = (0.9642, 1.0, 0.8249)  # the profile connection space's white, ICC.1:2001-04, 6.1.11
# The primaries and white point of IEC 61966-2-1 brought from D65 to D50 by the Bradford
# matrix; a test derives them anew. One column of X, Y, Z for each channel.
_PRIMARIES = {
    b"rXYZ": (0.436041, 0.222485, 0.013920),
    b"gXYZ": (0.385113, 0.716905, 0.097067),
    b"bXYZ": (0.143046, 0.060610, 0.713913),
}


@cache
def srgb_profile() -> bytes:
    """A display profile for RGB pixels, ICC version 2.4.

    >>> srgb_profile()[16:20], srgb_profile()[36:40]
    (b'RGB ', b'acsp')
    """
    columns = {tag: _xyz(*column) for tag, column in _PRIMARIES.items()}
    curves = dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), _curve())
    return assembled(common_tags(_TITLE) | columns | curves, b"RGB ")


@cache
def grey_profile() -> bytes:
    """A display profile for grey pixels with the sRGB curve, ICC version 2.4.

    >>> grey_profile()[16:20]
    b'GRAY'
    """
    return assembled(common_tags(_GREY_TITLE) | {b"kTRC": _curve()}, b"GRAY")


@cache
def printing_profile(gain: float) -> bytes:
    """An output profile for black ink on white paper, ICC version 2.4 (6.3.4.1, monochrome).

    ``gain`` is the tonal value increase in percent at 50 %. Its curve is the paper's light
    through dots of the printed size, the solid reflecting a fortieth (density 1.6).

    >>> printing_profile(16)[12:20]
    b'prtrGRAY'
    """
    cover = printed_cover(1 - np.linspace(0, 1, 256), gain)
    light = 1 - cover * (1 - 10**-_SOLID)
    title = f"Black ink on white paper, tonal value increase {gain:g} % at 50 %"
    return assembled(common_tags(title) | {b"kTRC": _curve(light)}, b"GRAY", b"prtr")


def common_tags(title: str) -> dict[bytes, bytes]:
    """What any profile says: its name (ASCII), its rights and its white.

    >>> list(common_tags("plain"))
    [b'desc', b'cprt', b'wtpt']
    """
    text = title.encode("ascii") + b"\0"
    described = struct.pack(">4s4xI", b"desc", len(text)) + text + bytes(4 + 4 + 2 + 1 + 67)
    rights = b"text" + bytes(4) + _RIGHTS.encode("ascii") + b"\0"
    return {b"desc": described, b"cprt": rights, b"wtpt": _xyz(*_D50)}


def _xyz(*values: float) -> bytes:
    return struct.pack(">4s4x3i", b"XYZ ", *(round(value * 65536) for value in values))


def _curve(light: npt.NDArray[np.float64] | None = None) -> bytes:
    """Light (0-1) at even steps of code value; the sRGB curve by default (6.5.3, curveType)."""
    if light is None:
        light = srgb_to_linear(np.linspace(0, 1, 1024))
    entries = np.rint(light * 65535).astype(">u2")
    return struct.pack(">4s4xI", b"curv", len(entries)) + entries.tobytes()


def assembled(
    tags: dict[bytes, bytes], space: bytes, sort: bytes = b"mntr", between: bytes = b"XYZ ",
    intent: int = 0,
) -> bytes:
    """Header, table and tags of a profile, ICC version 2.4 (6.1).

    ``sort`` of device, its colour ``space``, and the space ``between`` profiles (PCS), as the
    header names them; ``intent`` is the rendering intent.
    """
    start = 128 + 4 + 12 * len(tags)
    places: dict[bytes, int] = {}  # equal tags share their bytes
    body = b""
    for data in tags.values():
        if data not in places:
            places[data] = start + len(body)
            body += data + bytes(-len(data) % 4)
    table = struct.pack(">I", len(tags)) + b"".join(
        struct.pack(">4sII", tag, places[data], len(data)) for tag, data in tags.items()
    )
    head = struct.pack(
        ">I4xI4s4s4s6H4s16xQI3i4x44x", start + len(body), 0x02400000, sort, space, between,
        *_DATE, b"acsp", 0, intent, *(round(value * 65536) for value in _D50),
    )
    return head + table + body
