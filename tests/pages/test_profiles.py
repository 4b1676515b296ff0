"""Our profiles, as a colour engine (LittleCMS, through Pillow) understands them."""

import io
import struct
from fractions import Fraction

import numpy as np
import pytest
from PIL import Image, ImageCms

from app.pages.profiles import grey_profile, srgb_profile


def opened(data):
    return ImageCms.ImageCmsProfile(io.BytesIO(data))


def through(pixels, mode, profile):
    """Pixels taken to the engine's own sRGB."""
    srgb = ImageCms.createProfile("sRGB")
    transform = ImageCms.buildTransform(opened(profile), srgb, mode, "RGB")
    return np.asarray(ImageCms.applyTransform(Image.fromarray(pixels), transform)).astype(int)


def test_srgb_is_the_engines_srgb_within_one():
    steps = np.arange(0, 256, 5)
    cube = np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(1, -1, 3).astype(np.uint8)
    assert np.abs(through(cube, "RGB", srgb_profile()) - cube).max() <= 1


def test_grey_is_srgb_with_equal_channels_within_one():
    ramp = np.arange(256, dtype=np.uint8)[None]
    assert np.abs(through(ramp, "L", grey_profile()) - ramp[..., None]).max() <= 1


@pytest.mark.parametrize(("data", "space"), [(srgb_profile(), "RGB "), (grey_profile(), "GRAY")])
def test_header_and_description(data, space):
    profile = opened(data).profile
    assert profile.version == pytest.approx(2.4)
    assert profile.device_class == "mntr"
    assert profile.xcolor_space == space
    assert profile.connection_space == "XYZ "
    assert "sRGB curve" in profile.profile_description
    assert "IEC 61966-2-1" in profile.profile_description
    assert profile.creation_date.isoformat() == "2024-01-01T00:00:00"


@pytest.mark.parametrize("data", [srgb_profile(), grey_profile()])
def test_sizes_and_places_hold_together(data):
    # ICC.1:2001-04, 6.1 and 6.2: the size, and tags on four bytes inside it
    (size,) = struct.unpack(">I", data[:4])
    assert size == len(data)
    (count,) = struct.unpack(">I", data[128:132])
    for entry in range(count):
        _, offset, length = struct.unpack(">4sII", data[132 + 12 * entry : 144 + 12 * entry])
        assert offset % 4 == 0
        assert 132 + 12 * count <= offset
        assert offset + length <= size
    assert size < 3000


def tag(data, name):
    (count,) = struct.unpack(">I", data[128:132])
    for entry in range(count):
        found, offset, length = struct.unpack(">4sII", data[132 + 12 * entry : 144 + 12 * entry])
        if found == name:
            return data[offset : offset + length]
    raise KeyError(name)


def test_the_curve_is_that_of_iec_61966_2_1():
    # IEC 61966-2-1:1999, 5.2, equations 5 and 6
    values = np.frombuffer(tag(srgb_profile(), b"rTRC")[12:], ">u2")
    code = np.arange(1024) / 1023
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    assert np.abs(values / 65535 - light).max() <= 0.5001 / 65535


def test_the_primaries_are_those_of_srgb_brought_to_d50():
    # IEC 61966-2-1:1999, table 1; the Bradford matrix as in ICC.1:2022, E.3, equation E.1
    def tristimulus(x, y):
        return [x / y, Fraction(1), (1 - x - y) / y]

    def decimal(*values):
        return [Fraction(value) for value in values]

    corners = [decimal("0.64", "0.33"), decimal("0.30", "0.60"), decimal("0.15", "0.06")]
    columns = np.array([tristimulus(x, y) for x, y in corners], float).T
    white = np.array(tristimulus(*decimal("0.3127", "0.3290")), float)
    rgb_to_xyz = columns * np.linalg.solve(columns, white)
    bradford = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367],
                         [0.0389, -0.0685, 1.0296]])
    ratio = (bradford @ [0.9642, 1.0, 0.8249]) / (bradford @ white)
    adapted = np.linalg.solve(bradford, ratio[:, None] * (bradford @ rgb_to_xyz))
    for column, name in zip(adapted.T, (b"rXYZ", b"gXYZ", b"bXYZ"), strict=True):
        stored = np.array(struct.unpack(">3i", tag(srgb_profile(), name)[8:])) / 65536
        assert np.abs(stored - column).max() < 1 / 65536


def test_white_is_the_sum_of_the_primaries():
    total = sum(np.array(struct.unpack(">3i", tag(srgb_profile(), name)[8:]))
                for name in (b"rXYZ", b"gXYZ", b"bXYZ"))
    white = np.array(struct.unpack(">3i", tag(srgb_profile(), b"wtpt")[8:]))
    assert np.abs(total - white).max() <= 2
