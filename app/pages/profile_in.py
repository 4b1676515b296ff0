"""Embedded colour profiles: from the numbers of the scanner to sRGB-coded ones.

A profile is known by what it does. One that changes nothing is passed over; a grey one
becomes a table; one whose three channels add up in linear light (a matrix) becomes three
tables, at 16 bits; the rest go through the colour engine as they are. Intent: relative
colorimetric with black point compensation (common practice for scans, no source).
"""

from collections.abc import Callable
from functools import cache, partial
from io import BytesIO
from typing import Any

import imagecodecs
import numpy as np
import numpy.typing as npt
from PIL import Image, ImageCms

from app.pages.raster import Kind
from app.pages.refusing import refuse
from core.light import linear_to_srgb
from core.matte import over
from core.sheet import Plane

Convert = Callable[[Plane], Plane]
"""A band of stored colours made sRGB: (H, W) stays (H, W), the others become (H, W, 3)."""

Tables = tuple[npt.NDArray[np.float32], npt.NDArray[np.float32], npt.NDArray[np.float32]]

_SPACES: dict[bytes, Kind] = {b"GRAY": "grey", b"RGB ": "rgb", b"CMYK": "cmyk"}
_ENGINE_NAMES: dict[Kind, str] = {"grey": "gray", "rgb": "rgb", "cmyk": "cmyk"}
_EXACT = imagecodecs.CMS.FLAGS.NOOPTIMIZE | imagecodecs.CMS.FLAGS.BLACKPOINTCOMPENSATION
_REMEDY = "save it with a sound profile, or take its numbers as sRGB with --no-profile"
_FINE = 1 << 20  # so fine that the darkest tones keep their 16 bits

NO_CMYK_PROFILE = (
    "It is CMYK without a profile: red was taken as (1 - cyan)(1 - black), and so on,"
    " which is near the truth only."
)
GREY_WITH_RGB_PROFILE = "It is grey with a profile for RGB: its greys were taken through that."


def converter(
    profile: bytes | None, kind: Kind, bits: int
) -> tuple[Convert | None, tuple[str, ...]]:
    """What makes a page of this kind sRGB, None where nothing need be done, and notes.

    Raises ``Refused`` for a profile that cannot be read or is for another kind of picture.
    """
    if profile is None:
        return (ink_to_rgb, (NO_CMYK_PROFILE,)) if kind == "cmyk" else (None, ())
    space = _space(profile, kind)
    try:
        if kind == "grey":
            notes = (GREY_WITH_RGB_PROFILE,) if space == "rgb" else ()
            return _grey(profile, space, bits), notes
        return (_deep(profile, kind) if bits == 16 else _shallow(profile, kind)), ()
    except (RuntimeError, ValueError, OSError, TypeError, ImageCms.PyCMSError) as error:
        raise refuse("its colour profile cannot be read", _REMEDY) from error


def ink_to_rgb(ink: Plane) -> Plane:
    """CMYK (H, W, 4) to RGB by the plainest rule: (1 - the channel's ink)(1 - black).

    >>> ink_to_rgb(np.array([[[255, 0, 0, 51]]], np.uint8)).tolist()
    [[[0, 204, 204]]]
    """
    left = ~ink
    return over(left[..., :3], np.broadcast_to(left[..., 3:], left[..., :3].shape), 0)


def _space(profile: bytes, kind: Kind) -> Kind:
    """The kind of picture that the profile is for: ICC.1, section 7.2."""
    space = _SPACES.get(profile[16:20])
    if len(profile) < 132 or profile[36:40] != b"acsp" or space is None:
        raise refuse("its colour profile cannot be read", _REMEDY)
    if space != kind and (space, kind) != ("rgb", "grey"):
        raise refuse(f"its colour profile is for {space.upper()}, the picture is not", _REMEDY)
    return space


def _grey(profile: bytes, space: Kind, bits: int) -> Convert | None:
    steps = np.arange(1 << bits, dtype=np.uint16) * np.uint16(65535 // ((1 << bits) - 1))
    samples = steps[None] if space == "grey" else np.dstack([steps[None]] * 3)
    exact = _engine(profile, space, _srgb(), np.uint16, samples)[0, :, 1].astype(np.int64)
    if abs(exact - steps).max() <= 257:
        return None
    table = (exact if bits == 16 else (exact + 128) // 257).astype(f"u{bits // 8}")
    return partial(np.take, table)


def _shallow(profile: bytes, kind: Kind) -> Convert | None:
    """8 bits: the colour engine, made ready once."""
    mode = kind.upper()
    transform = ImageCms.buildTransform(
        BytesIO(profile), BytesIO(_srgb()), mode, "RGB", ImageCms.Intent.RELATIVE_COLORIMETRIC,
        ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )  # fmt: skip

    def convert(band: Plane) -> Plane:
        flat = band.tobytes()
        picture = Image.frombuffer(mode, band.shape[1::-1], flat, "raw", mode, 0, 1)
        result = ImageCms.applyTransform(picture, transform)
        assert result is not None  # it is only where the picture is changed in place
        return np.asarray(result)

    return convert if kind == "cmyk" or _changes(convert, 1) else None


def _deep(profile: bytes, kind: Kind) -> Convert | None:
    """16 bits: three tables if the channels add up, or else the engine without its short cuts.

    The engine's short cuts at 16 bits were seen to be wrong by 20 of 255; without them it
    does four megapixels a second, the tables five times that.
    """
    convert: Convert = partial(_engine, profile, kind, _srgb(), np.uint16)
    if kind == "cmyk":
        return convert
    linear: Convert = partial(_engine, profile, kind, _linear_srgb(), np.float32)
    tables = _tables(linear)
    if _add_up(tables, linear):
        convert = partial(_by_tables, tables)
    return convert if _changes(convert, 257) else None


def _engine(
    profile: bytes, kind: Kind, outcome: bytes, dtype: npt.DTypeLike, samples: Plane
) -> npt.NDArray[Any]:
    return np.asarray(imagecodecs.cms_transform(
        np.ascontiguousarray(samples), profile, outcome, colorspace=_ENGINE_NAMES[kind],
        outcolorspace="rgb", outdtype=np.dtype(dtype).str[1:],
        intent=imagecodecs.CMS.INTENT.RELATIVE_COLORIMETRIC, flags=_EXACT,
    ))  # fmt: skip


def _changes(convert: Convert, step: int) -> bool:
    """Whether any of 17 x 17 x 17 colours moves by more than one ``step``, which is 1/255."""
    tones = (np.linspace(0, 255, 17).astype(np.int64) * step).astype(f"u{1 + (step > 1)}")
    probes = np.stack(np.meshgrid(tones, tones, tones), axis=-1).reshape(17, -1, 3)
    moved = convert(probes).astype(np.int64) - probes
    return bool(abs(moved).max() > step)


def _tables(linear: Convert) -> Tables:
    """What each channel alone adds, in linear sRGB: three of (65536, 3)."""
    ramps = np.zeros((3, 65536, 3), np.uint16)
    for channel in range(3):
        ramps[channel, :, channel] = np.arange(65536)
    lit = linear(ramps) - linear(np.zeros((1, 1, 3), np.uint16))
    return lit[0], lit[1], lit[2]


def _add_up(tables: Tables, linear: Convert) -> bool:
    probes = np.random.default_rng(5).integers(0, 65536, (1, 512, 3), np.uint16)
    return bool(abs(_light(tables, probes) - linear(probes)).max() < 1e-4)


def _light(tables: Tables, band: Plane) -> npt.NDArray[np.float32]:
    red, green, blue = (np.take(t, band[..., n], axis=0) for n, t in enumerate(tables))
    red += green
    red += blue
    return red


def _by_tables(tables: Tables, band: Plane) -> Plane:
    light = _light(tables, band)
    np.clip(light, 0, 1, out=light)
    light *= np.float32(_FINE)
    return np.take(_coded(), light.astype(np.int32))


@cache
def _coded() -> Plane:
    """Code values (sRGB, 16 bits) of ``_FINE`` steps of linear light."""
    coded: Plane = np.rint(linear_to_srgb(np.arange(_FINE + 1) / _FINE) * 65535).astype(np.uint16)
    return coded


@cache
def _srgb() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


@cache
def _linear_srgb() -> bytes:
    """The primaries and white of IEC 61966-2-1 with no curve."""
    return bytes(imagecodecs.cms_profile(
        "rgb", whitepoint=(0.3127, 0.3290, 1), gamma=1,
        primaries=(0.64, 0.33, 1, 0.30, 0.60, 1, 0.15, 0.06, 1),
    ))  # fmt: skip
