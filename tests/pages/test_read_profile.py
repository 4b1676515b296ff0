"""Embedded profiles, against their own formulas and against Pillow's ImageCms at 8 bits."""

import struct
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO

import numpy as np
import pytest
from PIL import Image, ImageCms

from app.pages.profile_in import GREY_WITH_RGB_PROFILE
from app.pages.read import read
from core.fault import Refused
from core.light import linear_to_srgb
from tests.pages.read_making import AT_300, grey_page, pixels, rgb_page, tiff
from tests.pages.read_profiles import (
    D50,
    SRGB,
    WIDE,
    grey_profile,
    lamp,
    matrix_profile,
    press,
    table_profile,
)

SRGB_PROFILE = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
ENGINE = {"renderingIntent": ImageCms.Intent.RELATIVE_COLORIMETRIC,
          "flags": ImageCms.Flags.BLACKPOINTCOMPENSATION}  # fmt: skip


def save(tmp_path, page, profile):
    """A TIFF of grey, RGB or CMYK that holds a profile."""
    channels = 1 if page.ndim == 2 else page.shape[2]
    depth = page.dtype.itemsize * 8
    path = tmp_path / "page.tif"
    path.write_bytes(tiff(
        [page.tobytes()], page.shape[1], page.shape[0], t258=[depth] * channels,
        t262={1: 1, 3: 2, 4: 5}[channels], t277=channels, t34675=(7, profile),
    ))  # fmt: skip
    return path


def by_engine(page, profile, mode):
    picture = Image.fromarray(page, mode)
    return np.asarray(ImageCms.profileToProfile(
        picture, BytesIO(profile), BytesIO(SRGB_PROFILE), outputMode="RGB", **ENGINE
    )).astype(int)  # fmt: skip


def deepened(page):
    return page * np.uint16(257)


@pytest.mark.parametrize("full", [255, 65535])
def test_grey_goes_through_the_curve_of_its_profile(tmp_path, full):
    page = grey_page(dtype=np.min_scalar_type(full).type)
    path = save(tmp_path, page, grey_profile(1.8))
    power = 461 / 256  # as the profile holds it
    expected = linear_to_srgb((page / full) ** power) * full
    read_back = pixels(path)
    np.testing.assert_allclose(read_back, expected, atol=0.51 if full == 255 else 4)
    assert read(path, given=AT_300).bits == (8 if full == 255 else 16)
    assert len(np.unique(read_back)) > (100 if full == 255 else 390)  # 409 tones were scanned


def test_without_a_profile_or_with_one_that_says_srgb_no_number_changes(tmp_path):
    for page in (grey_page(), rgb_page(), grey_page(dtype=np.uint16), rgb_page(dtype=np.uint16)):
        np.testing.assert_array_equal(pixels(save(tmp_path, page, SRGB_PROFILE)), page)
    for page in (rgb_page(), rgb_page(dtype=np.uint16)):
        wide = save(tmp_path, page, matrix_profile(WIDE, 2.2))
        np.testing.assert_array_equal(pixels(wide, profile=False), page)
        assert (pixels(wide) != page).any()


def test_the_colorants_remembered_here_add_up_to_the_white_of_the_standard():
    for colorants in (SRGB, WIDE):
        np.testing.assert_allclose(np.sum(colorants, axis=0), D50, atol=3e-4)


@pytest.mark.parametrize("full", [255, 65535])
def test_rgb_goes_through_curves_and_matrix(tmp_path, full):
    page = rgb_page(dtype=np.min_scalar_type(full).type)
    path = save(tmp_path, page, matrix_profile(WIDE, 2.2))
    light = (page / full) ** 2.19921875  # 563/256, as the profile holds it
    linear = light @ np.array(WIDE) @ np.linalg.inv(SRGB)
    expected = linear_to_srgb(np.clip(linear, 0, 1)) * full
    inside = ((linear > 0.002) & (linear < 0.998)).all(axis=2)
    assert inside.mean() > 0.4
    # The colorants have five places here and s15Fixed16 numbers in the profile.
    np.testing.assert_allclose(pixels(path)[inside], expected[inside], atol=1.5 * full / 255 / 2)


def test_sixteen_bits_agree_with_the_engine_at_eight(tmp_path):
    page = rgb_page()
    profile = matrix_profile(WIDE, 2.2)
    expected = by_engine(page, profile, "RGB")
    shallow = pixels(save(tmp_path, page, profile))
    np.testing.assert_array_equal(shallow, expected)
    deep = pixels(save(tmp_path, deepened(page), profile))
    assert deep.dtype == np.uint16
    assert abs(deep / 257 - expected).max() <= 1


def test_a_profile_that_changes_little_is_not_passed_over(tmp_path):
    page, profile = rgb_page(), matrix_profile(SRGB, 2.0)
    expected = by_engine(page, profile, "RGB")
    assert 1 < abs(expected.astype(int) - page).max() < 30
    np.testing.assert_array_equal(pixels(save(tmp_path, page, profile)), expected)
    deep = pixels(save(tmp_path, deepened(page), profile))
    assert abs(deep / 257 - expected).max() <= 1


@pytest.mark.parametrize(("mode", "count", "grid", "made"), [
    ("RGB", 3, 17, lamp), ("CMYK", 4, 9, press),
])  # fmt: skip
def test_tables_go_through_the_engine_at_both_depths(tmp_path, mode, count, grid, made):
    profile = table_profile(mode.ljust(4).encode(), count, grid, made)
    page = np.dstack([rgb_page(), grey_page()[::-1] // 2])[..., :count].copy()
    expected = by_engine(page, profile, mode)
    np.testing.assert_array_equal(pixels(save(tmp_path, page, profile)), expected)
    deep = pixels(save(tmp_path, deepened(page), profile))
    # At 8 bits the engine takes a short cut through a coarser table; at 16 it takes none.
    assert np.percentile(abs(deep / 257 - expected), 95) <= 2
    assert read(save(tmp_path, deepened(page), profile), given=AT_300).bits == 16


def test_cmyk_of_a_press_has_white_paper_and_black_ink(tmp_path):
    ink = np.array([[[0, 0, 0, 0], [0, 0, 0, 255], [255, 255, 255, 255]]], np.uint8)
    profile = table_profile(b"CMYK", 4, 9, press)
    page = pixels(save(tmp_path, ink, profile))
    np.testing.assert_allclose(page, [[[255] * 3, [0] * 3, [0] * 3]], atol=1)
    assert not read(save(tmp_path, ink, profile), given=AT_300).notes


@pytest.mark.parametrize("deep", [False, True])
def test_bands_from_several_threads_are_the_same(tmp_path, deep):
    page = rgb_page(400, 200, np.uint16 if deep else np.uint8)
    path = save(tmp_path, page, matrix_profile(WIDE, 2.2))
    scan = read(path, given=AT_300)
    spans = [(top, top + 5) for top in range(0, 400, 5)]
    with ThreadPoolExecutor(4) as pool:
        bands = list(pool.map(lambda span: scan.rows(*span).colour, spans))
    np.testing.assert_array_equal(np.concatenate(bands), pixels(path, rows=400))


def test_grey_with_an_rgb_profile_goes_through_it_with_a_note(tmp_path):
    page = grey_page()
    path = save(tmp_path, page, matrix_profile(SRGB, 1.8))
    expected = linear_to_srgb((page / 255) ** 1.80078125) * 255
    np.testing.assert_allclose(pixels(path), expected, atol=1)
    assert read(path, given=AT_300).notes == (GREY_WITH_RGB_PROFILE,)
    assert not read(path, given=AT_300, profile=False).notes


def test_a_profile_that_the_file_does_not_wholly_hold(tmp_path):
    path = save(tmp_path, grey_page(), grey_profile(1.8))
    data = path.read_bytes()
    at = data.index(struct.pack("<HH", 34675, 7)) + 4
    for length in (1 << 20, 1 << 30):
        path.write_bytes(data[:at] + struct.pack("<I", length) + data[at + 4:])
        with pytest.raises(Refused, match="its colour profile cannot be read"):
            read(path, given=AT_300)
        np.testing.assert_array_equal(pixels(path, profile=False), grey_page())


BROKEN = {
    "nonsense": b"nonsense", "empty": b"", "cut short": matrix_profile(WIDE, 2.2)[:300],
    "no tags": matrix_profile(WIDE, 2.2)[:128] + bytes(8),
    "of a rare space": b"".join((SRGB_PROFILE[:16], b"Luv ", SRGB_PROFILE[20:])),
}  # fmt: skip


@pytest.mark.parametrize("profile", BROKEN.values(), ids=BROKEN)
@pytest.mark.parametrize("page", [grey_page(), rgb_page(), rgb_page(dtype=np.uint16)])
def test_a_profile_that_cannot_be_read_is_refused_and_can_be_passed_over(tmp_path, profile, page):
    path = save(tmp_path, page, profile or b"\0")
    with pytest.raises(Refused, match=r"its colour profile cannot be read; .* --no-profile") as got:
        read(path, given=AT_300)
    assert got.value.faults[0].where == "page.tif"
    np.testing.assert_array_equal(pixels(path, profile=False), page)


def test_a_profile_for_another_kind_of_picture_is_refused(tmp_path):
    with pytest.raises(Refused, match="its colour profile is for CMYK, the picture is not"):
        read(save(tmp_path, rgb_page(), table_profile(b"CMYK", 4, 2, press)), given=AT_300)


def test_profiles_are_found_in_every_file_that_holds_one(tmp_path):
    profile = matrix_profile(WIDE, 2.2) + bytes(150_000)  # so that a JPEG needs three segments
    profile = len(profile).to_bytes(4, "big") + profile[4:]
    picture = Image.fromarray(rgb_page())
    expected = by_engine(rgb_page(), profile, "RGB")
    for name, options in (("a.png", {}), ("a.webp", {"lossless": True}), ("a.tif", {})):
        picture.save(tmp_path / name, icc_profile=profile, **options)
        np.testing.assert_array_equal(pixels(tmp_path / name), expected, name)
    picture.save(tmp_path / "a.jpg", icc_profile=profile, quality=95)
    as_stored = np.asarray(Image.open(tmp_path / "a.jpg"))
    expected = by_engine(as_stored, profile, "RGB")
    np.testing.assert_array_equal(pixels(tmp_path / "a.jpg"), expected)


def test_parts_of_a_profile_that_are_missing_or_will_not_unpack(tmp_path):
    picture = Image.fromarray(rgb_page())
    picture.save(tmp_path / "a.jpg", icc_profile=matrix_profile(WIDE, 2.2))
    data = (tmp_path / "a.jpg").read_bytes()
    (tmp_path / "a.jpg").write_bytes(data.replace(b"ICC_PROFILE\0\1\1", b"ICC_PROFILE\0\1\2"))
    picture.save(tmp_path / "a.png", icc_profile=matrix_profile(WIDE, 2.2))
    data = bytearray((tmp_path / "a.png").read_bytes())
    at = data.index(b"iCCP") + 4
    data[data.index(b"\0", at) + 4] ^= 0xFF
    (tmp_path / "a.png").write_bytes(data)
    for name in ("a.jpg", "a.png"):
        with pytest.raises(Refused, match="its colour profile cannot be read"):
            read(tmp_path / name, given=AT_300)
        assert pixels(tmp_path / name, profile=False).shape == (37, 53, 3)
