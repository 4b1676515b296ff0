"""PNG, JPEG, WebP and BMP, against files written by Pillow, OpenCV, and byte by byte."""

import struct
from io import BytesIO

import cv2
import numpy as np
import pytest
from PIL import Image

from app.pages.limits import Limits
from app.pages.read import read
from core.fault import Refused
from tests.pages.read_making import AT_300, grey_page, pixels, png, png_chunk, rgb_page


def save(tmp_path, data, name="page.png"):
    path = tmp_path / name
    path.write_bytes(data)
    return path


def as_bytes(picture, kind, **options):
    file = BytesIO()
    picture.save(file, kind, **options)
    return file.getvalue()


@pytest.mark.parametrize(("depth", "row", "expected"), [
    (1, b"\xa5", [255, 0, 255, 0, 0, 255, 0, 255]),
    (2, b"\x1b", [0, 85, 170, 255]),
    (4, b"\x01\xef", [0, 17, 238, 255]),
    (8, b"\1\2\3", [1, 2, 3]),
    (16, b"\1\2\xff\xff", [0x0102, 65535]),
])  # fmt: skip
def test_png_grey_at_every_depth(tmp_path, depth, row, expected):
    """The full scale of each depth: PNG, third edition, section 12.4."""
    path = save(tmp_path, png(len(expected), 1, (depth, 0), [row]))
    assert pixels(path).tolist() == [expected]
    assert read(path, given=AT_300).stored == f"grey, {depth} bit, PNG"


def test_png_rgb_of_sixteen_bits_stays_so(tmp_path):
    page = rgb_page(dtype=np.uint16)
    path = tmp_path / "page.png"
    cv2.imwrite(str(path), page[..., ::-1])
    np.testing.assert_array_equal(pixels(path), page)
    assert read(path, given=AT_300).stored == "RGB, 16 bit, PNG"


def test_png_palettes(tmp_path):
    colours = png_chunk(b"PLTE", bytes([200, 10, 20, 5, 250, 6]))
    path = save(tmp_path, png(8, 1, (1, 3), [b"\xa5"], colours))
    assert pixels(path)[0, :3].tolist() == [[5, 250, 6], [200, 10, 20], [5, 250, 6]]
    clear = colours + png_chunk(b"tRNS", b"\x80")
    path = save(tmp_path, png(8, 1, (1, 3), [b"\xa5"], clear))
    assert pixels(path)[0, :2].tolist() == [[5, 250, 6], [227, 132, 137]]
    greys = png_chunk(b"PLTE", bytes([9, 9, 9, 200, 200, 200]))
    for extra in (greys, greys + png_chunk(b"tRNS", b"\xff\xff")):
        path = save(tmp_path, png(8, 1, (1, 3), [b"\xa5"], extra))
        assert pixels(path)[0, :2].tolist() == [200, 9]


def test_png_alpha_and_clear_colours_are_laid_on_white(tmp_path):
    path = save(tmp_path, png(3, 1, (8, 4), [bytes([100, 255, 100, 0, 0, 128])]))
    assert pixels(path).tolist() == [[100, 255, 127]]
    path = save(tmp_path, png(1, 1, (16, 6), [struct.pack(">4H", 40000, 0, 65535, 32768)]))
    assert pixels(path).tolist() == [[[52767, 32767, 65535]]]
    path = save(tmp_path, png(3, 1, (8, 0), [bytes([1, 2, 3])], png_chunk(b"tRNS", b"\0\2")))
    assert pixels(path).tolist() == [[1, 255, 3]]


def test_png_interlaced(tmp_path):
    path = save(tmp_path, adam7(grey_page()))
    np.testing.assert_array_equal(np.asarray(Image.open(path)), grey_page())
    np.testing.assert_array_equal(pixels(path), grey_page())


def adam7(page):
    """An interlaced PNG: PNG, third edition, section 8.2."""
    rows = b""
    for y, x, down, across in (
        (0, 0, 8, 8), (0, 4, 8, 8), (4, 0, 8, 4), (0, 2, 4, 4), (2, 0, 4, 2), (0, 1, 2, 2),
        (1, 0, 2, 1),
    ):  # fmt: skip
        for row in page[y::down, x::across]:
            rows += b"\0" + row.tobytes()
    plain = png(page.shape[1], page.shape[0], (8, 0), [rows[1:]])
    header = bytearray(plain[16:29])
    header[12] = 1
    return plain[:8] + png_chunk(b"IHDR", bytes(header)) + plain[33:]


def test_png_chunks_that_are_not_about_pixels_never_reach_the_decoder(tmp_path, capfd):
    noise = png_chunk(b"gAMA", struct.pack(">I", 100_000)) + png_chunk(b"cHRM", b"x")
    path = save(tmp_path, png(3, 1, (8, 0), [b"\1\2\x80"], noise, after=png_chunk(b"zTXt", b"?")))
    assert pixels(path).tolist() == [[1, 2, 128]]
    assert capfd.readouterr() == ("", "")
    assert read(path, given=AT_300).notes[0].startswith("It states a gamma of 1, which was not")
    usual = png_chunk(b"gAMA", struct.pack(">I", 45455))
    assert not read(save(tmp_path, png(1, 1, (8, 0), [b"\1"], usual)), given=AT_300).notes


def test_png_whose_pixels_are_broken_or_too_few(tmp_path):
    noise = np.random.default_rng(1).integers(0, 256, (37, 53), np.uint8)
    data = as_bytes(Image.fromarray(noise), "png")
    at = data.index(b"IDAT") + 30
    path = save(tmp_path, data[:at] + b"\xff\xff" + data[at + 2:])
    with pytest.raises(Refused, match=r"page\.png: its picture data are broken; scan or copy"):
        pixels(path)
    stored = png(3, 1, (8, 0), [bytes([1, 2, 3])])
    checked = stored[:-16] + b"\0\0\0\0" + stored[-12:]  # only the checksum is wrong
    with pytest.raises(Refused, match="its picture data are broken"):
        pixels(save(tmp_path, checked))
    path = save(tmp_path, png(4, 4, (8, 0), [b"\1\2\3\4"]))
    with pytest.raises(Refused, match="broken"):
        pixels(path)


@pytest.mark.parametrize("mode", ["L", "RGB"])
@pytest.mark.parametrize("options", [{}, {"progressive": True}, {"restart_marker_blocks": 2}])
def test_jpeg_is_what_another_decoder_gives(tmp_path, mode, options):
    data = as_bytes(Image.fromarray(rgb_page()).convert(mode), "jpeg", quality=90, **options)
    judge = np.asarray(Image.open(BytesIO(data)))
    np.testing.assert_array_equal(pixels(save(tmp_path, data, "page.jpg")), judge)


def test_jpeg_cmyk_with_an_adobe_segment_holds_the_inverse(tmp_path):
    ink = np.zeros((16, 16, 4), np.uint8)
    ink[..., 0], ink[..., 3] = 255, 51
    data = as_bytes(Image.fromarray(ink, "CMYK"), "jpeg", quality=100, subsampling=0)
    assert b"Adobe" in data
    np.testing.assert_allclose(pixels(save(tmp_path, data, "a.jpg"))[8, 8], [0, 204, 204], atol=2)
    at = data.index(b"\xff\xee")
    bare = data[:at] + data[at + 16:]
    page = pixels(save(tmp_path, bare, "b.jpg"))
    np.testing.assert_allclose(page[8, 8], [51, 0, 0], atol=2)  # the numbers are the ink itself


def test_jpeg_of_twelve_bits_and_lossless_ones_are_refused(tmp_path):
    data = as_bytes(Image.fromarray(grey_page()), "jpeg")
    at = data.index(b"\xff\xc0")
    deep = data[:at + 4] + b"\x0c" + data[at + 5:]
    with pytest.raises(Refused, match="JPEG of 12 bits a channel, which is rare; save it as TIFF"):
        read(save(tmp_path, deep, "a.jpg"), given=AT_300)
    lossless = data[:at] + b"\xff\xc3" + data[at + 2:]
    with pytest.raises(Refused, match="JPEG of a rare kind"):
        read(save(tmp_path, lossless, "a.jpg"), given=AT_300)


def test_a_thumbnail_in_a_jpeg_is_neither_its_frame_nor_its_end(tmp_path):
    data = as_bytes(Image.fromarray(grey_page()), "jpeg")
    small = as_bytes(Image.fromarray(grey_page(8, 8)), "jpeg")
    body = b"Exif\0\0" + small
    nested = data[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + data[2:]
    assert pixels(save(tmp_path, nested, "a.jpg")).shape == (37, 53)
    with pytest.raises(Refused, match="the file ends before the picture does"):
        read(save(tmp_path, nested[:-2], "a.jpg"), given=AT_300)


@pytest.mark.parametrize("options", [{"lossless": True}, {"quality": 80}])
@pytest.mark.parametrize("alpha", [False, True])
def test_webp(tmp_path, options, alpha):
    picture = Image.fromarray(rgb_page())
    if alpha:
        picture.putalpha(Image.fromarray(grey_page()))
    data = as_bytes(picture, "webp", exact=True, **options)
    judge = Image.open(BytesIO(data)).convert("RGBA")
    white = Image.new("RGBA", judge.size, "white")
    expected = np.asarray(Image.alpha_composite(white, judge).convert("RGB")).astype(int)
    page = pixels(save(tmp_path, data, "page.webp"))
    assert abs(page - expected).max() <= 1


def test_moving_webp_is_refused(tmp_path):
    frames = [Image.fromarray(grey_page() // n).convert("RGB") for n in (1, 2)]
    data = as_bytes(frames[0], "webp", save_all=True, append_images=frames[1:])
    with pytest.raises(Refused, match="it is a moving picture, not a scan"):
        read(save(tmp_path, data, "page.webp"), given=AT_300)


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGB"])
def test_bmp(tmp_path, mode):
    picture = Image.fromarray(rgb_page()).convert(mode)
    path = save(tmp_path, as_bytes(picture, "bmp"), "page.bmp")
    expected = picture if mode == "RGB" else picture.convert("RGB" if mode == "P" else "L")
    np.testing.assert_array_equal(pixels(path), np.asarray(expected))
    assert read(path, given=AT_300).colour == (mode in ("P", "RGB"))


def bmp(width, height, bits, rows, *, header=40, coding=0, masks=b"", palette=b""):
    if header == 12:
        info = struct.pack("<IHHHH", 12, width, height, 1, bits)
    else:
        info = struct.pack("<IiiHHIIiiII", header, width, height, 1, bits, coding, 0, 11811,
                           11811, 0, 0) + masks.ljust(header - 40, b"\0")
    start = 14 + len(info) + len(palette)
    head = b"BM" + struct.pack("<IHHI", start + len(rows), 0, 0, start)
    return head + info + palette + rows


def test_bmp_rows_from_the_top_core_headers_and_alpha(tmp_path):
    top_down = bmp(1, -2, 24, bytes([3, 2, 1, 0, 6, 5, 4, 0]))
    assert pixels(save(tmp_path, top_down, "a.bmp")).tolist() == [[[1, 2, 3]], [[4, 5, 6]]]
    core = bmp(3, 1, 4, b"\x01\x20\0\0", header=12, palette=bytes(range(48)))
    page = pixels(save(tmp_path, core, "a.bmp"))
    assert page.tolist() == [[[2, 1, 0], [5, 4, 3], [8, 7, 6]]]
    masks = struct.pack("<4I", 0xFF0000, 0xFF00, 0xFF, 0xFF000000)
    clear = bmp(2, 1, 32, bytes([3, 2, 1, 255, 3, 2, 1, 0]), header=108, coding=3, masks=masks)
    assert pixels(save(tmp_path, clear, "a.bmp")).tolist() == [[[1, 2, 3], [255, 255, 255]]]
    assert read(save(tmp_path, clear, "a.bmp")).ppi == 300


def test_bmp_of_a_rare_kind_or_cut_short(tmp_path):
    with pytest.raises(Refused, match="BMP of a rare kind; save it as PNG"):
        read(save(tmp_path, bmp(8, 8, 8, b"", coding=1), "a.bmp"))
    with pytest.raises(Refused, match="BMP of a rare kind"):
        read(save(tmp_path, bmp(8, 8, 16, bytes(128), header=12), "a.bmp"), given=AT_300)
    with pytest.raises(Refused, match="the file ends before the picture does"):
        read(save(tmp_path, bmp(8, 8, 24, bytes(100)), "a.bmp"))


HUGE = {
    "a.png": png(70_000, 70_000, (8, 0), [b""]),
    "a.bmp": bmp(70_000, 70_000, 24, b""),
    "a.jpg": b"\xff\xd8\xff\xc0\0\x0b\x08\xff\xff\xff\xff\1\1\x11\0\xff\xd9",
    "a.webp": b"RIFF\x16\0\0\0WEBPVP8L\x0a\0\0\0\x2f" + ((1 << 28) - 1).to_bytes(4, "little")
              + bytes(5),
}  # fmt: skip


@pytest.mark.parametrize("name", HUGE)
def test_absurd_sizes_are_refused_by_the_header_and_the_limit_is_an_option(tmp_path, name):
    path = save(tmp_path, HUGE[name], name)
    small = Limits(pixels=200_000_000)
    with pytest.raises(Refused, match=r"a\.\w+: it says it is \d+ x \d+ pixels, .* --megapixels"):
        read(path, given=AT_300, limits=small)
    page = save(tmp_path, png(53, 37, (8, 0), [bytes(53)] * 37), "small.png")
    with pytest.raises(Refused, match=r"which is more than 0\.001 million"):
        read(page, given=AT_300, limits=Limits(pixels=1000))
    assert pixels(page).shape == (37, 53)


def test_one_picture_in_its_forms_gives_one_grey(tmp_path):
    page = grey_page(40, 48)
    grey = Image.fromarray(page)
    forms = {
        "rgb.tif": grey.convert("RGB"), "palette.png": grey.convert("P"), "grey.png": grey,
        "palette.bmp": grey.convert("P"), "rgb.png": grey.convert("RGB"), "rgb.bmp": grey,
        "clear.png": grey.convert("LA"),
    }  # fmt: skip
    for name, picture in forms.items():
        picture.save(tmp_path / name)
    cv2.imwrite(str(tmp_path / "deep.png"), page * np.uint16(257))
    cv2.imwrite(str(tmp_path / "deep.tif"), page * np.uint16(257))
    grey.convert("RGB").save(tmp_path / "lossless.webp", lossless=True)
    grey.rotate(90, expand=True).save(tmp_path / "turned.png", exif=orientation(6))
    names = [*forms, "deep.png", "deep.tif", "lossless.webp", "turned.png"]
    for name in names:
        read_back = pixels(tmp_path / name).astype(float)
        tones = read_back / (257 if name.startswith("deep") else 1)
        expected = page if tones.ndim == 2 else np.dstack([page] * 3)
        np.testing.assert_allclose(tones, expected, atol=1, err_msg=name)


def orientation(code):
    exif = Image.Exif()
    exif[274] = code
    return exif.tobytes()
