"""Web pictures: averaged as cover after toning, then laid on the ground."""

import io
import json

import numpy as np
import pytest
from PIL import ImageCms

from app.pages.renditions import Web
from core.fault import Refused
from core.sheet import Sheet
from tests.pages.writing import BROWN, STEPS, drawn, opened, write

GROUND = (250, 240, 200)


def halves_up(values):
    return np.floor(values + 0.5 + 1e-9)


def reduced(sheet, factor):
    """Alpha and ink's colour of a page reduced by a whole factor, in floating point."""
    height, width = (side // factor for side in sheet.shape)

    def blocks(plane):
        return plane.reshape(height, factor, width, factor, -1).astype(np.float64).sum(axis=(1, 3))

    cover = blocks(sheet.alpha)
    alpha = halves_up(cover[..., 0] / factor**2)
    if sheet.ink is not None:
        return alpha, np.broadcast_to(np.array(sheet.ink), (height, width, 3))
    weighted = blocks(sheet.colour * sheet.alpha[..., None].astype(np.float64))
    first = sheet.colour[::factor, ::factor]
    return alpha, np.where(cover > 0, halves_up(weighted / np.maximum(cover, 1)), first)


@pytest.mark.parametrize("form", ["webp", "png"])
@pytest.mark.parametrize("ink", [(0, 0, 0), BROWN, None])
@pytest.mark.parametrize("workers", [1, 2])
def test_see_through(tmp_path, form, ink, workers):
    sheet = drawn(300, 160, ink=ink)
    pixels = np.asarray(opened(write(sheet, Web(form, width=40), tmp_path / "a", workers=workers)))
    alpha, colour = reduced(sheet, 4)
    np.testing.assert_array_equal(pixels[..., 3], alpha)
    np.testing.assert_array_equal(pixels[..., :3], colour)


@pytest.mark.parametrize("form", ["webp", "png"])
@pytest.mark.parametrize("ink", [(0, 0, 0), BROWN, None])
def test_on_a_ground(tmp_path, form, ink):
    sheet = drawn(300, 160, ink=ink)
    image = opened(write(sheet, Web(form, width=40, ground=GROUND), tmp_path / "a"))
    assert image.mode == "RGB"
    alpha, colour = reduced(sheet, 4)
    share = alpha[..., None] / 255
    np.testing.assert_array_equal(np.asarray(image),
                                  halves_up(colour * share + np.array(GROUND) * (1 - share)))


def test_a_deep_page_is_averaged_before_it_is_rounded(tmp_path):
    alpha = np.array([[200, 100], [100, 200]], np.uint16)  # 0.58 of 255 on average
    sheet = Sheet(ppi=300, alpha=alpha)
    pixels = np.asarray(opened(write(sheet, Web("png", width=1), tmp_path / "a")))
    assert pixels[0, 0, 3] == 1


def test_jpeg(tmp_path):
    sheet = Sheet(ppi=600, alpha=np.repeat(np.uint8([[0, 255]]), 400, axis=1).repeat(300, axis=0))
    web = Web("jpeg", width=200, ground=(255, 255, 255), quality=95)
    image = opened(write(sheet, web, tmp_path / "a.jpg"))
    assert image.format == "JPEG"
    assert image.size == (200, 75)
    assert image.info["dpi"] == (150, 150)
    assert np.asarray(image)[:, :90].min() >= 250
    assert np.asarray(image)[:, 110:].max() <= 5


def test_a_line_has_one_weight_on_any_ground(tmp_path):
    sheet = drawn(300, 160)
    white, black = (
        np.asarray(opened(write(sheet, Web("png", width=40, ground=g), tmp_path / "a"))).astype(int)
        for g in ((255, 255, 255), (55, 55, 55))
    )
    alpha = np.asarray(opened(write(sheet, Web("png", width=40), tmp_path / "a")))[..., 3:]
    assert (white == 255 - alpha).all()
    assert np.abs(black - 55 * (1 - alpha / 255)).max() <= 0.5


@pytest.mark.parametrize("form", ["webp", "png", "jpeg"])
def test_profile_and_resolution_but_no_step_list(tmp_path, form):
    sheet = drawn(300, 160, ppi=600.0)
    path = write(sheet, Web(form, width=40, ground=GROUND), tmp_path / "a")
    image = opened(path)
    profile = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
    assert profile.profile.xcolor_space == "RGB "
    found = image.info.get("dpi") or (image.getexif()[282],)
    assert float(found[0]) == pytest.approx(150, abs=0.0128)  # half a pixel per metre
    assert b"steps" not in path.read_bytes()


@pytest.mark.parametrize("form", ["webp", "png", "jpeg"])
def test_the_step_list_when_asked(tmp_path, form):
    web = Web(form, width=40, ground=GROUND, steps=True)
    image = opened(write(drawn(300, 160), web, tmp_path / "a"))
    text = image.text["Stetline step list"] if form == "png" else image.getexif()[270]
    assert json.loads(text) == json.loads(STEPS)


def test_a_step_list_too_long_for_a_jpeg_is_refused(tmp_path):
    web = Web("jpeg", ground=GROUND, steps=True)
    with pytest.raises(Refused, match="too long for a JPEG; choose WebP or PNG"):
        write(drawn(9, 9), web, tmp_path / "a", steps_json='"' + "é" * 12_000 + '"')


@pytest.mark.parametrize(("web", "page", "size"), [
    (Web(width=100), (300, 200), (150, 100)),
    (Web(long_edge=150), (300, 200), (150, 100)),
    (Web(long_edge=150), (200, 300), (100, 150)),
    (Web(width=400), (300, 200), (300, 200)),
    (Web(long_edge=300), (300, 200), (300, 200)),
    (Web(width=1), (3, 900), (1, 1)),
])
def test_sizes(tmp_path, web, page, size):
    assert web.size(*page) == size
    assert opened(write(drawn(*page), web, tmp_path / "a")).size == size[::-1]


def test_it_says_that_it_does_not_enlarge():
    assert "900 pixels at its long edge" in Web(long_edge=1600).note(900, 600)
    assert not Web(long_edge=900).note(900, 600)


@pytest.mark.parametrize("wrong", [
    {"form": "jpeg"}, {"form": "gif"}, {"width": 0}, {"long_edge": 0}, {"quality": 0},
    {"form": "png", "quality": 90}, {"ground": (0, 0, 256)},
])
def test_a_request_that_fits_no_page_is_refused_at_once(wrong):
    with pytest.raises(Refused):
        Web(**wrong)


def test_a_side_too_long_for_webp_is_refused(tmp_path):
    sheet = drawn(1, 16_384)
    with pytest.raises(Refused, match="16383 pixels on a side at most; ask for a smaller"):
        write(sheet, Web(long_edge=20_000), tmp_path / "a")
    write(sheet, Web("png", long_edge=20_000), tmp_path / "a")


@pytest.mark.parametrize("form", ["webp", "jpeg"])
def test_quality_is_passed_on(tmp_path, form):
    sizes = [
        write(drawn(300, 160), Web(form, ground=GROUND, quality=q), tmp_path / "a").stat().st_size
        for q in (10, 60, 95)
    ]
    assert sizes == sorted(set(sizes))
