"""The line as PNG: three readers see the numbers that went in."""

import io
import struct
import zlib

import cv2
import imagecodecs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from PIL import Image, ImageCms

from app.pages import deflate
from app.pages.picture import Frame, ink_picture
from app.pages.png import save_png
from app.pages.renditions import Line
from core.fault import Refused
from core.sheet import Sheet
from tests.pages.writing import BROWN, STEPS, chunks_of, drawn, opened, rgba_of, write

SIZES = [(1, 1), (1, 40), (40, 1), (127, 9), (128, 9), (129, 9), (400, 61)]


def by_opencv(path):
    """RGBA as OpenCV decodes it (it gives BGRA)."""
    pixels = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    return pixels[..., [2, 1, 0, 3]]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("ink", [(0, 0, 0), BROWN, None])
def test_rgba_is_the_same_in_three_readers(tmp_path, size, ink):
    sheet = drawn(*size, ink=ink)
    path = write(sheet, Line(), tmp_path / "a.png")
    expected = rgba_of(sheet)
    np.testing.assert_array_equal(np.asarray(opened(path)), expected)
    np.testing.assert_array_equal(by_opencv(path), expected)
    np.testing.assert_array_equal(imagecodecs.png_decode(path.read_bytes()), expected)


@pytest.mark.parametrize("size", [(1, 1), (129, 9)])
@pytest.mark.parametrize("ink", [(0, 0, 0), BROWN, None])
def test_16_bits_stay_16(tmp_path, size, ink):
    sheet = drawn(*size, bits=16, ink=ink)
    path = write(sheet, Line(), tmp_path / "a.png")
    np.testing.assert_array_equal(by_opencv(path), rgba_of(sheet))
    np.testing.assert_array_equal(imagecodecs.png_decode(path.read_bytes()), rgba_of(sheet))


@pytest.mark.parametrize(("scanned", "asked"), [(8, 16), (16, 8)])
def test_depth_can_be_asked_for(tmp_path, scanned, asked):
    # PNG, third edition, 13.12: linear scaling of sample depth
    sheet = drawn(150, 20, bits=scanned, ink=BROWN)
    path = write(sheet, Line(bits=asked), tmp_path / "a.png")
    np.testing.assert_array_equal(by_opencv(path), rgba_of(sheet, asked))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("tone", [0, 77])
def test_grey_and_alpha(tmp_path, size, tone):
    sheet = drawn(*size, ink=(tone,) * 3)
    path = write(sheet, Line("grey-alpha"), tmp_path / "a.png")
    image = opened(path)
    assert image.mode == "LA"
    np.testing.assert_array_equal(np.asarray(image)[..., 0], tone)
    np.testing.assert_array_equal(np.asarray(image)[..., 1], sheet.alpha)
    np.testing.assert_array_equal(by_opencv(path), rgba_of(sheet))


def test_grey_and_alpha_at_16_bits(tmp_path):
    sheet = drawn(130, 9, bits=16, ink=(77, 77, 77))
    path = write(sheet, Line("grey-alpha"), tmp_path / "a.png")
    pixels = imagecodecs.png_decode(path.read_bytes())
    np.testing.assert_array_equal(pixels[..., 0], 77 * 257)
    np.testing.assert_array_equal(pixels[..., 1], sheet.alpha)


@pytest.mark.parametrize("size", SIZES)
def test_the_indexed_form_shows_the_same_pixels(tmp_path, size):
    sheet = drawn(*size, ink=BROWN)
    path = write(sheet, Line("indexed"), tmp_path / "a.png")
    assert opened(path).mode == "P"
    np.testing.assert_array_equal(np.asarray(opened(path).convert("RGBA")), rgba_of(sheet))
    np.testing.assert_array_equal(by_opencv(path), rgba_of(sheet))


def test_the_indexed_form_of_a_deep_page_at_8_bits(tmp_path):
    sheet = drawn(50, 9, bits=16, ink=BROWN)
    path = write(sheet, Line("indexed", bits=8), tmp_path / "a.png")
    np.testing.assert_array_equal(np.asarray(opened(path).convert("RGBA")), rgba_of(sheet, 8))


def test_clear_pixels_carry_the_ink_colour(tmp_path):
    sheet = drawn(300, 9, ink=BROWN)
    pixels = np.asarray(opened(write(sheet, Line(), tmp_path / "a.png")))
    assert (pixels[sheet.alpha == 0] == (*BROWN, 0)).all()


@pytest.mark.parametrize(("sheet", "line", "word"), [
    (drawn(9, 9, ink=BROWN), Line("grey-alpha"), "coloured ink"),
    (drawn(9, 9, ink=None), Line("grey-alpha"), "coloured ink"),
    (drawn(9, 9, ink=None), Line("indexed"), "one ink colour"),
    (drawn(9, 9, bits=16), Line("indexed"), "8 bits"),
])
def test_a_form_that_does_not_fit_is_refused_by_name(tmp_path, sheet, line, word):
    with pytest.raises(Refused, match=f"a.png: .*{word}.*RGBA"):
        write(sheet, line, tmp_path / "a.png")
    assert not list(tmp_path.iterdir())


def test_a_request_that_fits_no_page_is_refused_at_once():
    with pytest.raises(Refused, match="8 bits"):
        Line("indexed", bits=16)
    with pytest.raises(Refused, match="choose one of rgba"):
        Line("gif")


def test_chunks_profile_resolution_and_step_list(tmp_path):
    data = write(drawn(300, 9, ppi=600.0), Line(), tmp_path / "a.png").read_bytes()
    found = chunks_of(data)
    names = [name for name, _ in found]
    # order: PNG, third edition, 5.6
    assert names == [b"IHDR", b"iCCP", b"pHYs", b"iTXt", *[b"IDAT"] * 4, b"IEND"]
    assert struct.unpack(">IIB", dict(found)[b"pHYs"]) == (23622, 23622, 1)
    image = Image.open(io.BytesIO(data))
    image.load()
    assert image.text == {"Stetline step list": STEPS}
    profile = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
    assert profile.profile.xcolor_space == "RGB "
    stream = b"".join(body for name, body in found if name == b"IDAT")
    assert len(zlib.decompress(stream)) == 300 * (1 + 9 * 4)


def test_grey_files_have_a_grey_profile(tmp_path):
    image = opened(write(drawn(9, 9), Line("grey-alpha"), tmp_path / "a.png"))
    profile = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
    assert profile.profile.xcolor_space == "GRAY"


def test_the_palette_comes_after_the_profile_and_before_its_alphas(tmp_path):
    data = write(drawn(9, 9), Line("indexed"), tmp_path / "a.png").read_bytes()
    names = [name for name, _ in chunks_of(data)]
    assert names[:4] == [b"IHDR", b"iCCP", b"PLTE", b"tRNS"]


@pytest.mark.parametrize("ink", [(0, 0, 0), BROWN, None])
def test_bytes_do_not_depend_on_the_number_of_workers(tmp_path, ink):
    sheet = drawn(1500, 31, ink=ink)
    one, two, five = (
        write(sheet, Line(), tmp_path / f"{n}.png", workers=n).read_bytes() for n in (1, 2, 5)
    )
    assert one == two == five


@pytest.mark.parametrize("form", ["rgba", "grey-alpha", "indexed"])
def test_the_standard_zlib_gives_the_same_pixels(tmp_path, monkeypatch, form):
    sheet = drawn(300, 40)
    usual = write(sheet, Line(form), tmp_path / "a.png")
    monkeypatch.setattr(deflate, "engine", zlib)
    plain = write(sheet, Line(form), tmp_path / "b.png")
    for path in (usual, plain):
        np.testing.assert_array_equal(np.asarray(opened(path).convert("RGBA")),
                                      rgba_of(sheet))


@pytest.mark.parametrize("ink", [(0, 0, 0), BROWN])
def test_no_larger_than_pillow_at_its_default(tmp_path, ink):
    rng = np.random.default_rng(3)
    blurred = cv2.GaussianBlur(rng.normal(0, 60, (700, 500)).astype(np.float32), (0, 0), 1.6)
    noisy = np.clip(blurred * 5 - 100 + rng.normal(0, 20, blurred.shape), 0, 255)
    sheet = Sheet(ppi=300, alpha=noisy.astype(np.uint8), ink=ink)
    assert 0.8 < (sheet.alpha == 0).mean() < 0.97
    ours = write(sheet, Line(), tmp_path / "a.png").stat().st_size
    Image.fromarray(rgba_of(sheet)).save(tmp_path / "b.png")
    assert ours <= (tmp_path / "b.png").stat().st_size


@given(hnp.arrays(np.uint8, hnp.array_shapes(min_dims=2, max_dims=2, max_side=140)),
       st.sampled_from([(0, 0, 0), BROWN, (9, 9, 9)]))
def test_any_matte_comes_back(alpha, ink):
    sheet = Sheet(ppi=300, alpha=alpha, ink=ink)
    file = io.BytesIO()
    save_png(file, ink_picture(Frame.of(sheet.shape, sheet), "rgba"), sheet)
    np.testing.assert_array_equal(np.asarray(Image.open(file)), rgba_of(sheet))


def test_planes_that_are_views_of_others(tmp_path):
    whole = drawn(300, 60)
    sheet = Sheet(ppi=300, alpha=whole.alpha[::-1, 10:50:2])
    path = write(sheet, Line(), tmp_path / "a.png")
    np.testing.assert_array_equal(np.asarray(opened(path)), rgba_of(sheet))
