"""The ICC profiles that go into files: sRGB, and grey with the sRGB curve, built by code.

Layout after ICC.1:2001-04 (profile version 2.4): header 6.1, required tags 6.3, tag types
6.5. The date is fixed, so a profile's bytes never change.
"""

import struct
from functools import cache

import numpy as np

from core.light import srgb_to_linear

_TITLE = "sRGB curve and primaries (IEC 61966-2-1)"
_GREY_TITLE = "Grey with the sRGB curve (IEC 61966-2-1)"
_RIGHTS = "No rights reserved"
_DATE = (2024, 1, 1, 0, 0, 0)
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
    return _profile(b"RGB ", _common(_TITLE) | columns | curves)


@cache
def grey_profile() -> bytes:
    """A display profile for grey pixels with the sRGB curve, ICC version 2.4.

    >>> grey_profile()[16:20]
    b'GRAY'
    """
    return _profile(b"GRAY", _common(_GREY_TITLE) | {b"kTRC": _curve()})


def _common(title: str) -> dict[bytes, bytes]:
    text = title.encode("ascii") + b"\0"
    described = struct.pack(">4s4xI", b"desc", len(text)) + text + bytes(4 + 4 + 2 + 1 + 67)
    rights = b"text" + bytes(4) + _RIGHTS.encode("ascii") + b"\0"
    return {b"desc": described, b"cprt": rights, b"wtpt": _xyz(*_D50)}


def _xyz(*values: float) -> bytes:
    return struct.pack(">4s4x3i", b"XYZ ", *(round(value * 65536) for value in values))


def _curve() -> bytes:
    """The sRGB curve as 1024 entries from code value to linear light (6.5.3, curveType)."""
    light = np.rint(srgb_to_linear(np.linspace(0, 1, 1024)) * 65535).astype(">u2")
    return struct.pack(">4s4xI", b"curv", len(light)) + light.tobytes()


def _profile(space: bytes, tags: dict[bytes, bytes]) -> bytes:
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
        ">I4xI4s4s4s6H4s16xQI3i4x44x", start + len(body), 0x02400000, b"mntr", space, b"XYZ ",
        *_DATE, b"acsp", 0, 0, *(round(value * 65536) for value in _D50),
    )
    return head + table + body
