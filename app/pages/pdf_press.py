"""The inks of a press for coloured pages: its profile, and how colours go to its plates.

Where the printer has given no profile, a plain one stands for it: the four inks of
``core.colours.rgb_to_cmyk``, which knows nothing of a press. Its layout is that of ICC.1:2001-04:
output profiles of many channels 6.3.3, lut16Type 6.5.8.
"""

import io
import struct
from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageCms

from app.pages.profiles import assembled, common_tags
from app.pages.refusing import refuse
from core.colours import rgb_to_cmyk

Bytes = npt.NDArray[np.uint8]

ToInks = Callable[[npt.ArrayLike], Bytes]
"""sRGB (..., 3) 0-255 to cyan, magenta, yellow and black (..., 4), 255 full ink."""

PLAIN_NAME = "Four inks by plain conversion: an estimate, no press was measured"

_INK_STEPS, _LAB_STEPS = 9, 33  # along each side of a table's grid
_RELATIVE = ImageCms.Intent.RELATIVE_COLORIMETRIC


def to_inks(profile: bytes | None) -> ToInks:
    """How colours become inks: by the printer's ``profile``, else by the plain conversion.

    By the relative colorimetric intent with black point compensation. Refused where the profile
    is none for CMYK output.

    >>> to_inks(None)([(255, 0, 0)]).tolist()
    [[0, 255, 255, 0]]
    """
    if profile is None:
        return rgb_to_cmyk
    try:
        change = ImageCms.buildTransform(
            ImageCms.createProfile("sRGB"), ImageCms.ImageCmsProfile(io.BytesIO(profile)), "RGB",
            "CMYK", _RELATIVE, ImageCms.Flags.BLACKPOINTCOMPENSATION,
        )
    except (ImageCms.PyCMSError, OSError, TypeError, ValueError):
        raise refuse("it is no profile for CMYK output", "ask the printer for one") from None

    def inks(colour: npt.ArrayLike) -> Bytes:
        value = np.ascontiguousarray(colour, np.uint8)
        row = Image.fromarray(value.reshape(1, -1, 3))
        return np.array(_applied(row, change)).reshape(*value.shape[:-1], 4)

    return inks


def black_alone(inks: ToInks) -> ToInks:
    """The same, but black is black ink alone, whatever the press makes of it: the line's own.

    >>> black_alone(lambda colour: np.full((1, 4), 255, np.uint8))([(0, 0, 0)]).tolist()
    [[0, 0, 0, 255]]
    """
    def made(colour: npt.ArrayLike) -> Bytes:
        value = np.asarray(colour)
        dark = (value == 0).all(axis=-1)[..., None]
        return np.where(dark, np.array([0, 0, 0, 255], np.uint8), inks(value))

    return made


@cache
def plain_press() -> bytes:
    """An output profile of the plain conversion, ICC version 2.4.

    >>> plain_press()[12:20], len(plain_press()) == int.from_bytes(plain_press()[:4], "big")
    (b'prtrCMYK', True)
    """
    to_lab, from_lab = _lut(4, _labs_of_inks()), _lut(3, _inks_of_labs())
    gamut = _lut(3, np.zeros((2**3, 1)))
    tables = {
        b"A2B0": to_lab, b"A2B1": to_lab, b"A2B2": to_lab,
        b"B2A0": from_lab, b"B2A1": from_lab, b"B2A2": from_lab, b"gamt": gamut,
    }
    return assembled(common_tags(PLAIN_NAME) | tables, b"CMYK", b"prtr", b"Lab ", _RELATIVE)


def _lut(channels: int, grid: npt.NDArray[np.float64]) -> bytes:
    """A table of 16 bits over an even grid, (steps ** channels, outputs) 0-65535."""
    count, outputs = grid.shape
    steps = round(count ** (1 / channels))
    matrix = struct.pack(">9i", *(65536 if place % 4 == 0 else 0 for place in range(9)))
    straight = struct.pack(">2H", 0, 65535)
    return b"".join([
        struct.pack(">4s4x3Bx", b"mft2", channels, outputs, steps), matrix,
        struct.pack(">2H", 2, 2), straight * channels,
        np.rint(grid).astype(">u2").tobytes(), straight * outputs,
    ])


def _grid(steps: int, channels: int) -> npt.NDArray[np.float64]:
    """Every place of a grid, 0-1, the last channel changing first."""
    sides = np.meshgrid(*[np.linspace(0, 1, steps)] * channels, indexing="ij")
    return np.stack(sides, axis=-1).reshape(-1, channels)


def _labs_of_inks() -> npt.NDArray[np.float64]:
    """L*a*b* as 16 bits for each place of the grid of inks."""
    inks = _grid(_INK_STEPS, 4)
    rgb = np.rint(255 * (1 - inks[:, :3]) * (1 - inks[:, 3:])).astype(np.uint8)
    return _changed(rgb, "RGB", "LAB").astype(np.float64) * 256


def _inks_of_labs() -> npt.NDArray[np.float64]:
    """Inks as 16 bits for each place of the grid of L*a*b*, 65280 for 100 and for 127."""
    lab = np.minimum(np.rint(_grid(_LAB_STEPS, 3) * 65535 / 256), 255).astype(np.uint8)
    return rgb_to_cmyk(_changed(lab, "LAB", "RGB")).astype(np.float64) * 257


def _changed(values: Bytes, one: str, other: str) -> Bytes:
    """(n, 3) of one space as (n, 3) of the other, through the system's own sRGB and L*a*b*."""
    spaces = {"RGB": ImageCms.createProfile("sRGB"), "LAB": ImageCms.createProfile("LAB")}
    change = ImageCms.buildTransform(spaces[one], spaces[other], one, other, _RELATIVE)
    signed = np.array([0, 128, 128], np.uint8)  # as Pillow's bytes have a* and b*
    row = Image.frombytes(one, (len(values), 1),
                          (values ^ signed if one == "LAB" else values).tobytes())
    made = np.frombuffer(_applied(row, change).tobytes(), np.uint8).reshape(-1, 3)
    return np.asarray(made ^ signed if other == "LAB" else made)


def _applied(row: Image.Image, change: ImageCms.ImageCmsTransform) -> Image.Image:
    made = ImageCms.applyTransform(row, change)
    assert made is not None, "it is None for a change in place alone"
    return made
