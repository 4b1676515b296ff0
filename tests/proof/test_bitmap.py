"""The 1-bit TIFF: two readers decode it alike, and it is cut from the full-resolution line."""

import io
from dataclasses import replace

import numpy as np
import pytest
import tifffile
from PIL import Image

from app.pages.bitmap import pack_t6, resized, sheet_cover
from app.pages.renditions import Bitmap, Pdf
from app.pages.scaled import average
from app.pages.write import write_page
from core.fault import Refused
from core.press.screens import Diffusion, Plain, Screen
from core.sheet import Sheet


def line(height=301, width=203, bits=8):
    rng = np.random.default_rng(7)
    alpha = rng.integers(0, 256, (height, width))
    alpha[:, width // 2 :] = 0
    alpha[40:90] = 255
    return alpha.astype(np.uint8) if bits == 8 else (alpha * 257).astype(np.uint16)


def write(tmp_path, bitmap, alpha, *, ppi=300.0, workers=1, ink=(0, 0, 0), colour=None):
    path = tmp_path / "page-bitmap.tif"
    sheet = Sheet(ppi=ppi, alpha=alpha, ink=ink, colour=colour)
    write_page(sheet, [(bitmap, path)], steps_json="{}", workers=workers, durable=False)
    return path


def ink_in(path):
    """Where each of two readers sees ink."""
    with Image.open(path) as picture:
        assert picture.mode == "1"
        pillow = np.asarray(picture) == 0
    with tifffile.TiffFile(path) as tiff:
        [page] = tiff.pages
        assert page.compression == 4
        assert page.photometric == 0
        return pillow, np.asarray(page.asarray(), bool)


@pytest.mark.parametrize("cut", [Plain(), Plain(20), Screen(40, 45), Screen(50, 15, "line"),
                                 Diffusion()], ids=str)
@pytest.mark.parametrize("bits", [8, 16])
def test_two_readers_decode_it_alike(tmp_path, cut, bits):
    path = write(tmp_path, Bitmap(ppi=300, cut=cut), line(bits=bits))
    pillow, other = ink_in(path)
    assert (pillow == other).all()
    assert (pillow == cut.cut(line(), 0, 300)).all()


def test_it_is_resampled_before_it_is_cut(tmp_path):
    pillow, _ = ink_in(write(tmp_path, Bitmap(ppi=600), line()))
    assert pillow.shape == (602, 406)
    assert (pillow == (resized(line(), 602, 406) >= 128)).all()
    smaller, _ = ink_in(write(tmp_path, Bitmap(ppi=150), line()))
    assert (smaller == (average(line(), 150, 102) >= 128)).all()


def test_a_slanted_edge_is_drawn_between_pixels(tmp_path):
    # twice as many pixels put the edge of a soft line within a third of an output pixel of the
    # true one, not on the steps of the scan's pixels
    y, x = np.mgrid[:200, :200]
    distance = (x - 100) * np.cos(0.3) + (y - 100) * np.sin(0.3)
    alpha = np.rint(np.clip(0.5 - distance, 0, 1) * 255).astype(np.uint8)
    ink, _ = ink_in(write(tmp_path, Bitmap(ppi=600), alpha))
    rows = np.arange(20, 380)
    edge = ink[rows].sum(axis=1)
    true = 2 * (100 + 0.5 - ((rows + 0.5) / 2 - 0.5 - 100) * np.tan(0.3))
    assert np.abs(edge - true)[np.abs(true - 200) < 150].max() < 0.9


def test_print_size_and_resolution_are_in_the_file(tmp_path):
    path = write(tmp_path, Bitmap(ppi=1200, width_mm=10), line())
    with Image.open(path) as picture:
        assert picture.size == (472, 701)
        assert picture.info["dpi"] == (1200, 1200)
    with tifffile.TiffFile(path) as tiff:
        tags = tiff.pages[0].tags
        assert tags["BitsPerSample"].value == 1
        assert tags["ResolutionUnit"].value == 2


def test_ink_of_any_one_colour_is_black_of_the_same_cover(tmp_path):
    blue, _ = ink_in(write(tmp_path, Bitmap(ppi=300), line(), ink=(40, 90, 200)))
    assert (blue == (line() >= 128)).all()


def test_own_colours_print_as_their_darkness(tmp_path):
    alpha = np.full((20, 20), 255, np.uint8)
    colour = np.full((20, 20, 3), 250, np.uint8)
    colour[:, :10] = 10
    ink, _ = ink_in(write(tmp_path, Bitmap(ppi=300), alpha, ink=None, colour=colour))
    assert ink[:, :10].all()
    assert not ink[:, 10:].any()


def test_ink_held_in_a_pale_colour_keeps_its_cover():
    alpha = np.tile(np.arange(256, dtype=np.uint8), (4, 1))
    colour = np.zeros((4, 256, 3), np.uint8)
    held = np.zeros((4, 256), np.uint8)
    colour[2:], held[2:, 1:] = (250, 230, 60), 255
    page = Sheet(ppi=300, alpha=alpha, ink=None, colour=colour, held=held)
    assert (sheet_cover(page) == alpha).all()
    paler = sheet_cover(replace(page, held=None))
    assert paler[2:].max() < 128


def test_bytes_do_not_depend_on_workers(tmp_path):
    alpha = np.tile(line(), (9, 1))
    bitmap = Bitmap(ppi=300, cut=Screen(60))
    one = write(tmp_path, bitmap, alpha).read_bytes()
    assert write(tmp_path, bitmap, alpha, workers=2).read_bytes() == one


def test_a_bare_strip_is_coded_as_the_recommendation_says():
    # ITU-T T.6: each white row is one V0, "1"; the block ends with two end-of-line codes
    assert f"{int.from_bytes(pack_t6(np.zeros((3, 17), bool)), 'big'):032b}".startswith(
        "111" + "000000000001" * 2)


def test_one_pixel(tmp_path):
    ink, _ = ink_in(write(tmp_path, Bitmap(ppi=300), np.full((1, 1), 255, np.uint8)))
    assert ink.tolist() == [[True]]


@pytest.mark.parametrize("make", [
    lambda: Bitmap(ppi=20), lambda: Bitmap(ppi=9000), lambda: Bitmap(width_mm=0),
    lambda: Bitmap(ppi=100, cut=Screen(85)), lambda: Bitmap(ppi=float("nan")),
])
def test_what_cannot_be_written_is_refused_before(make):
    with pytest.raises(Refused):
        make()


@pytest.mark.parametrize("form", [
    Bitmap(ppi=5080, width_mm=5000), Pdf(form="1-bit", ppi=5080, width_mm=5000),
])
def test_what_would_be_absurdly_large_in_print_is_refused_in_a_sentence(tmp_path, form):
    with pytest.raises(Refused, match=r"it would have 10\d+ x 10\d+ pixels in print; ask"):
        write(tmp_path, form, np.full((9, 9), 255, np.uint8))
    assert not list(tmp_path.iterdir())


def test_a_screened_bitmap_is_marked_not_to_be_scaled():
    assert Bitmap().note(10, 10) == ""
    assert "do not scale" in Bitmap(cut=Screen(75)).note(10, 10)
    assert "has 4 tone steps; 256 are usual." in Bitmap(cut=Screen(600)).note(10, 10)
    assert "do not scale" in Bitmap(cut=Diffusion()).note(10, 10)


def test_pillow_reads_what_it_packed():
    bits = np.random.default_rng(1).random((70, 90)) < 0.4
    data = pack_t6(bits)
    file = io.BytesIO()
    from app.pages.bitmap import write_t6  # noqa: PLC0415 - the one use of it here

    write_t6(file, [data], bits.shape, 600.0, 70)
    file.seek(0)
    with Image.open(file) as picture:
        assert ((np.asarray(picture) == 0) == bits).all()
