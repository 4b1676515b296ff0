"""TIFF in all its forms, against files written by tifffile, Pillow, and byte by byte."""

import itertools
import subprocess
import sys
import zlib
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO

import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image

from app.pages.read import count_pages, read
from app.pages.strips import DEFLATE, Chunks, Layout
from core.fault import Refused
from tests.pages.read_making import AT_300, grey_page, pixels, rgb_page, tiff

GREY = {"t258": 8, "t259": 1, "t262": 1}


def save(tmp_path, data):
    path = tmp_path / "page.tif"
    path.write_bytes(data)
    return path


FORMS = [
    (compression, dtype, colours, order, {"predictor": predictor, **laid})
    for compression, dtype, colours, order, predictor, laid in itertools.product(
        (None, "lzw", "deflate", "adobe_deflate", "packbits"),
        (np.uint8, np.uint16), ("minisblack", "rgb"), ("<", ">"), (None, 2),
        ({"rowsperstrip": 5}, {"rowsperstrip": 37}, {"tile": (16, 32)}),
    )
    if not (predictor and compression in (None, "packbits"))
]  # fmt: skip


@pytest.mark.parametrize("planar", ["contig", "separate"])
def test_every_compression_depth_order_and_layout(tmp_path, planar):
    path = tmp_path / "page.tif"
    for compression, dtype, colours, order, laid in FORMS:
        rgb = colours == "rgb"
        page = rgb_page(dtype=dtype) if rgb else grey_page(dtype=dtype)
        stored = page
        how = dict(laid)
        if rgb:
            how["planarconfig"] = planar
            stored = np.moveaxis(page, 2, 0) if planar == "separate" else page
        tifffile.imwrite(
            path, stored, compression=compression, byteorder=order, photometric=colours,
            metadata=None, **how,
        )  # fmt: skip
        np.testing.assert_array_equal(pixels(path), page, f"{compression} {dtype} {order} {how}")


@pytest.mark.parametrize("compression", ["raw", "group3", "group4", "tiff_ccitt", "packbits"])
def test_one_bit_pages(tmp_path, compression):
    bits = grey_page(width=77) % 5 > 1
    path = tmp_path / "page.tif"
    Image.fromarray(bits).save(path, compression=compression)
    page = pixels(path)
    np.testing.assert_array_equal(page, np.where(bits, 255, 0))
    assert read(path, given=AT_300).stored.startswith("grey, 1 bit, ")


def test_stored_is_told_in_trade_words(tmp_path):
    path = tmp_path / "page.tif"
    Image.fromarray(grey_page()).convert("CMYK").save(path, compression="tiff_lzw")
    assert read(path, given=AT_300).stored == "CMYK, 8 bit, LZW, strips"


@pytest.mark.parametrize(("order", "dtype"), [("<", "u2"), (">", "u2"), ("<", "u1")])
def test_min_is_white_is_turned_over(tmp_path, order, dtype):
    page = grey_page(dtype=np.dtype(dtype).type)
    data = tiff([page.astype(order + dtype).tobytes()], 53, 37, order=order,
                t258=page.dtype.itemsize * 8, t262=0)
    np.testing.assert_array_equal(pixels(save(tmp_path, data)), np.invert(page))


def test_fill_order_two_reads_bits_from_the_low_end(tmp_path):
    bits = grey_page() % 3 > 0
    packed = np.packbits(bits, axis=1, bitorder="little").tobytes()
    data = tiff([packed], 53, 37, t258=1, t262=1, t266=2)
    np.testing.assert_array_equal(pixels(save(tmp_path, data)), np.where(bits, 255, 0))


def test_fill_order_two_holds_for_packed_strips_too(tmp_path):
    packed = np.frombuffer(imagecodecs.packbits_encode(grey_page().tobytes()), np.uint8)
    turned = np.packbits(np.unpackbits(packed, bitorder="little")).tobytes()
    data = tiff([turned], 53, 37, t258=8, t259=32773, t262=1, t266=2)
    np.testing.assert_array_equal(pixels(save(tmp_path, data)), grey_page())


def test_four_and_two_bits_are_spread_over_the_full_scale(tmp_path):
    data = tiff([bytes([0x0F, 0x70, 0x1E, 0xA0])], 3, 2, t258=4, t262=1)
    assert pixels(save(tmp_path, data)).tolist() == [[0, 255, 119], [17, 238, 170]]
    data = tiff([bytes([0b00011011])], 4, 1, t258=2, t262=1)
    assert pixels(save(tmp_path, data)).tolist() == [[0, 85, 170, 255]]


@pytest.mark.parametrize("order", ["<", ">"])
def test_twelve_bits_become_sixteen(tmp_path, order):
    data = tiff([bytes.fromhex("000fff800123")], 4, 1, order=order, t258=12, t262=1)
    page = pixels(save(tmp_path, data))
    assert page.tolist() == [[0, 65535, 0x800 * 65535 // 4095 + 1, round(0x123 * 65535 / 4095)]]
    assert read(save(tmp_path, data), given=AT_300).bits == 16


@pytest.mark.parametrize("order", ["<", ">"])
def test_big_tiff(tmp_path, order):
    page = grey_page(dtype=np.uint16)
    strips = [page[top:top + 8].astype(order + "u2").tobytes() for top in range(0, 37, 8)]
    data = tiff(strips, 53, 37, order=order, big=True, t258=16, t262=1, t278=8)
    np.testing.assert_array_equal(pixels(save(tmp_path, data)), page)
    path = tmp_path / "other.tif"
    tifffile.imwrite(path, page, bigtiff=True, photometric="minisblack", byteorder=order)
    np.testing.assert_array_equal(pixels(path), page)


def test_palettes_are_looked_up(tmp_path):
    picture = Image.fromarray(rgb_page()).quantize(16)
    path = tmp_path / "page.tif"
    picture.save(path)
    np.testing.assert_array_equal(pixels(path), np.asarray(picture.convert("RGB")))
    assert read(path, given=AT_300).stored == "palette, 8 bit, uncompressed, strips"


def test_a_palette_of_greys_gives_a_grey_page(tmp_path):
    ramp = [v * 257 for v in range(255, -1, -1)]
    data = tiff([grey_page().tobytes()], 53, 37, t258=8, t262=3, t320=ramp * 3)
    page = pixels(save(tmp_path, data))
    np.testing.assert_array_equal(page, 255 - grey_page())


def test_straight_and_associated_alpha_are_laid_on_white(tmp_path):
    straight = bytes([100, 50, 0, 255, 100, 50, 0, 0, 100, 50, 0, 128])
    tags = {"t258": [8] * 4, "t262": 2, "t277": 4}
    on_white = [[100, 50, 0], [255, 255, 255], [177, 152, 127]]  # 100*128/255 + 127 and so on
    page = pixels(save(tmp_path, tiff([straight], 3, 1, t338=2, **tags)))
    assert page.tolist() == [on_white]
    associated = bytes([100, 50, 0, 255, 0, 0, 0, 0, 50, 25, 0, 128])
    page = pixels(save(tmp_path, tiff([associated], 3, 1, t338=1, **tags)))
    assert page.tolist() == [on_white]


def test_sixteen_bit_alpha(tmp_path):
    page = np.array([[[40000, 65535], [40000, 0], [0, 32768]]], np.uint16)
    data = tiff([page.tobytes()], 3, 1, t258=[16, 16], t262=1, t277=2, t338=2)
    assert pixels(save(tmp_path, data)).tolist() == [[40000, 65535, 32767]]


def test_a_channel_of_no_stated_meaning_is_left_out_with_a_note(tmp_path):
    page = np.dstack([rgb_page(), np.full((37, 53), 9, np.uint8)])
    tags = {"t258": [8] * 4, "t262": 2, "t277": 4}
    for extra in ({"t338": 0}, {}):
        path = save(tmp_path, tiff([page.tobytes()], 53, 37, **extra, **tags))
        np.testing.assert_array_equal(pixels(path), rgb_page())
        assert "left out" in read(path, given=AT_300).notes[0]


def test_cmyk_without_a_profile_is_the_plain_rule_with_a_note(tmp_path):
    ink = np.array([[[255, 0, 0, 0], [0, 0, 0, 255], [0, 255, 128, 51], [0, 0, 0, 0]]], np.uint8)
    expected = [[[0, 255, 255], [0, 0, 0], [204, 0, 102], [255, 255, 255]]]
    tags = {"t262": 5, "t277": 4}
    path = save(tmp_path, tiff([ink.tobytes()], 4, 1, t258=[8] * 4, **tags))
    assert pixels(path).tolist() == expected
    assert "without a profile" in read(path, given=AT_300).notes[0]
    deep = (ink * np.uint16(257)).tobytes()
    path = save(tmp_path, tiff([deep], 4, 1, t258=[16] * 4, **tags))
    np.testing.assert_allclose(pixels(path) / 257, expected, atol=0.51)


@pytest.mark.parametrize("colours", ["minisblack", "rgb", "ycbcr"])
@pytest.mark.parametrize("laid", [{"rowsperstrip": 16}, {"tile": (16, 16)}])
def test_jpeg_in_tiff(tmp_path, colours, laid):
    page = grey_page(48, 64) if colours == "minisblack" else rgb_page(48, 64)
    path = tmp_path / "page.tif"
    tifffile.imwrite(path, page, compression="jpeg", photometric=colours, metadata=None, **laid)
    judge = tifffile.imread(path)  # the same codec, told by another reader how to use it
    np.testing.assert_array_equal(pixels(path), judge)


def test_missing_strip_counts_and_wrong_ones_of_raw_strips(tmp_path):
    data = grey_page().tobytes()
    whole = tiff([data], 53, 37, **GREY)
    counts = whole.index(b"\x17\x01\x04\0\x01\0\0\0")  # tag 279
    wrong = whole[:counts + 8] + b"\1\0\0\0" + whole[counts + 12:]
    np.testing.assert_array_equal(pixels(save(tmp_path, wrong)), grey_page())
    missing = whole[:counts] + b"\xff\xff" + whole[counts + 2:]
    np.testing.assert_array_equal(pixels(save(tmp_path, missing)), grey_page())


def test_a_last_strip_filled_up_to_full_height_is_read(tmp_path):
    page = np.vstack([grey_page(), np.zeros((3, 53), np.uint8)])
    strips = [zlib.compress(page[top:top + 8].tobytes()) for top in range(0, 37, 8)]
    data = tiff(strips, 53, 37, t258=8, t259=8, t262=1, t278=8)
    np.testing.assert_array_equal(pixels(save(tmp_path, data)), grey_page())


def test_every_page_of_a_file_is_read_and_thumbnails_are_not_pages(tmp_path):
    path = tmp_path / "book.tif"
    with tifffile.TiffWriter(path) as book:
        for number in range(3):
            book.write(grey_page() // (number + 1), photometric="minisblack", metadata=None)
            book.write(grey_page(4, 5), photometric="minisblack", subfiletype=1, metadata=None)
    assert count_pages(path) == 3
    for number in (1, 2, 3):
        np.testing.assert_array_equal(pixels(path, number=number), grey_page() // number)
    scan = read(path, 2, given=AT_300)
    assert (scan.number, scan.count) == (2, 3)
    with pytest.raises(Refused, match=r"book\.tif: it has no page 4; it has 3 pages"):
        read(path, 4)


class WatchedFile(BytesIO):
    """A file that tells where it is read."""

    def __init__(self, held, seeks):
        super().__init__(held)
        self.told = seeks

    def seek(self, offset, whence=0):
        self.told.append(offset)
        return super().seek(offset, whence)


class WatchedSource:
    """Bytes that remember every place where they were read."""

    def __init__(self, held):
        self.held, self.size, self.seeks = held, len(held), []

    def open(self):
        return WatchedFile(self.held, self.seeks)


def test_strips_that_straddle_bands_are_decoded_once_though_two_threads_ask():
    page = grey_page(200, 40)
    strips = [zlib.compress(page[top:top + 24].tobytes()) for top in range(0, 200, 24)]
    starts = np.cumsum([0, *map(len, strips)])
    source = WatchedSource(b"".join(strips))
    layout = Layout(40, 200, 1, 8, DEFLATE, 40, 24, starts[:-1], np.diff(starts))
    chunks = Chunks(source, layout)
    spans = [(top, top + 20) for top in range(0, 200, 20)]
    with ThreadPoolExecutor(2) as pool:
        bands = list(pool.map(lambda span: chunks.rows(*span), spans))
    np.testing.assert_array_equal(np.concatenate(bands)[..., 0], page)
    assert sorted(source.seeks) == starts[:-1].tolist()


def test_only_the_strips_of_a_band_are_read():
    page = grey_page(200, 40)
    for compression, pack in ((1, bytes), (DEFLATE, zlib.compress)):
        strips = [pack(page[top:top + 10].tobytes()) for top in range(0, 200, 10)]
        starts = np.cumsum([0, *map(len, strips)])
        source = WatchedSource(b"".join(strips))
        layout = Layout(40, 200, 1, 8, compression, 40, 10, starts[:-1], np.diff(starts))
        band = Chunks(source, layout).rows(50, 70)
        np.testing.assert_array_equal(band[..., 0], page[50:70])
        assert source.seeks == starts[5:7].tolist()


BOMB = """
import resource, sys
from pathlib import Path
from app.pages.read import read
from app.pages.resolution import Ppi
from core.fault import Refused
scan = read(Path(sys.argv[1]), given=Ppi(300))
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try:
    scan.rows(0, 64)
except Refused as refused:
    print(refused)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="peak memory is read the POSIX way")
def test_a_strip_that_unpacks_past_what_it_declares_is_refused_in_no_memory(tmp_path):
    strip = zlib.compress(bytes(200_000_000), 9)
    path = save(tmp_path, tiff([strip], 64, 64, t258=8, t259=8, t262=1))
    assert path.stat().st_size < 200_000
    out = subprocess.run(
        [sys.executable, "-c", BOMB, str(path)], capture_output=True, text=True, check=True
    ).stdout.splitlines()
    assert out[0].startswith("page.tif: one of its strips unpacks to more than it declares; ")
    assert int(out[1]) < 8000  # KiB


@pytest.mark.parametrize(("compression", "pack"), [
    (5, imagecodecs.lzw_encode), (32773, imagecodecs.packbits_encode), (8, zlib.compress),
])  # fmt: skip
def test_strips_too_short_or_too_long(tmp_path, compression, pack):
    tags = {"t258": 8, "t259": compression, "t262": 1}
    short = save(tmp_path, tiff([pack(grey_page()[:20].tobytes())], 53, 37, **tags))
    with pytest.raises(Refused, match="the file ends before the picture does"):
        pixels(short)
    long = save(tmp_path, tiff([pack(grey_page(90).tobytes())], 53, 37, **tags))
    if compression == 5:  # an LZW strip is left where it is full
        np.testing.assert_array_equal(pixels(long), grey_page(90)[:37])
        return
    with pytest.raises(Refused, match="unpacks to more than it declares"):
        pixels(long)


@pytest.mark.parametrize(("tags", "says"), [
    ({"t258": 32, "t339": 3}, "its samples are fractions of 32 bits"),
    ({"t258": 32}, "its samples have 32 bits"),
    ({"t258": 16, "t339": 2}, "its samples are signed numbers of 16 bits"),
    ({"t259": 6}, "compressed in a way that is not read .TIFF's 6."),
    ({"t262": 8, "t258": [8] * 3, "t277": 3}, "it holds CIE Lab colours"),
    ({"t262": 6, "t258": [8] * 3, "t277": 3}, "it holds colours of a rare kind"),
    ({"t262": 5, "t258": [8] * 4, "t277": 4, "t332": 2}, "inks other than cyan"),
    ({"t258": [8, 8, 16], "t262": 2, "t277": 3}, "its channels are of different depths"),
    ({"t262": 3}, "its palette is missing"),
    ({"t259": 8, "t317": 3}, "its samples are differenced in a rare way"),
    ({"t259": 4}, "it is CCITT T.6 of 8 bits"),
    ({"t262": 2}, "it says it has 1 channels"),
    ({"t256": (4, 0)}, "it says it is 0 x 37 pixels"),
    ({"t256": (4, 100_000), "t257": (4, 100_000)}, "more than 600 million; if it truly is"),
    ({"t322": (4, 1 << 30), "t323": (4, 1 << 30)}, "its strips or tiles are said to be"),
    ({"t257": (4, 38)}, "the file ends before the picture does"),
    ({"t278": 8}, "the file ends before the picture does"),
])  # fmt: skip
def test_what_is_not_read_is_refused_in_one_sentence(tmp_path, tags, says):
    path = save(tmp_path, tiff([grey_page().tobytes()], 53, 37, **{**GREY, **tags}))
    with pytest.raises(Refused, match=says) as caught:
        read(path, given=AT_300)
    assert len(caught.value.faults) == 1
    assert caught.value.faults[0].where == "page.tif"


def test_a_chain_of_pages_that_loops(tmp_path):
    data = bytearray(tiff([grey_page().tobytes()], 53, 37, **GREY))
    end = 8 + 2 + 12 * 7
    assert data[8] == 7
    assert data[end:end + 4] == bytes(4)
    data[end:end + 4] = (8).to_bytes(4, "little")
    path = save(tmp_path, bytes(data))
    with pytest.raises(Refused, match=r"page\.tif: its chain of pages loops"):
        count_pages(path)


def test_a_broken_strip_is_found_late_and_named(tmp_path):
    strips = [zlib.compress(grey_page()[:20].tobytes()), b"nothing packed"]
    scan = read(save(tmp_path, tiff(strips, 53, 37, t258=8, t259=8, t262=1, t278=20)),
                given=AT_300)
    assert scan.rows(0, 20).shape == (20, 53)
    with pytest.raises(Refused, match=r"page\.tif: its picture data are broken"):
        scan.rows(15, 37)
    with pytest.raises(ValueError, match="rows 30 to 38 of a page of 37"):
        scan.rows(30, 38)
