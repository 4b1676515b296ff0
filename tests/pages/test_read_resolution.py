"""Resolution: as files state it, as people give it, and where it cannot be believed."""

import re
import struct
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from app.pages.read import read
from app.pages.resolution import Ppi, SheetSize, iso_sizes, parse_resolution, settle
from core.fault import Refused
from tests.pages.read_making import grey_page, png, png_chunk, tiff

ROWS = [row.tobytes() for row in grey_page()]


def ppi_of(tmp_path, data, name):
    path = tmp_path / name
    path.write_bytes(data)
    return read(path).ppi


def resolution(across, down, unit, kind=5):
    return {"t258": 8, "t262": 1, "t282": (kind, [across]), "t283": (kind, [down]), "t296": unit}


@pytest.mark.parametrize(("across", "unit", "ppi"), [
    ((600, 1), 2, 600), ((118110, 1000), 3, 300), ((4724409, 20000), 3, 600),
    ((2400, 8), None, 300), ((1, 3), 2, "says 0.333333 ppi"),
    ((300, 1), 1, None), ((300, 0), 2, None),
    ((0, 1), 2, None), ((4294967295, 1), 2, "says 4.29497e+09 ppi, and a scan has"),
    ((1, 1), 2, "says 1 ppi, and a scan has 10 to 20000; give it with --ppi 300"),
])  # fmt: skip
def test_tiff_units(tmp_path, across, unit, ppi):
    """Inch, centimetre, none; the inch where the unit is unsaid: TIFF 6.0, section 8."""
    data = tiff([grey_page().tobytes()], 53, 37, **resolution(across, across, unit))
    if ppi is None:
        with pytest.raises(Refused, match="does not say its resolution; give it with --ppi 300"):
            ppi_of(tmp_path, data, "a.tif")
    elif isinstance(ppi, str):
        with pytest.raises(Refused, match=re.escape(ppi)):
            ppi_of(tmp_path, data, "a.tif")
    else:
        assert ppi_of(tmp_path, data, "a.tif") == pytest.approx(ppi, abs=0.001)


def test_png_pixels_per_metre(tmp_path):
    """PNG, third edition, section 11.3.4.3."""
    for per_metre, unit, ppi in ((11811, 1, 300), (23622, 1, 600), (5000, 1, 127)):
        data = png(53, 37, (8, 0), ROWS, png_chunk(b"pHYs", struct.pack(">IIB", per_metre,
                                                                       per_metre, unit)))
        assert ppi_of(tmp_path, data, "a.png") == ppi
    for body in (struct.pack(">IIB", 11811, 11811, 0), b"short", b""):
        with pytest.raises(Refused, match="does not say its resolution"):
            ppi_of(tmp_path, png(53, 37, (8, 0), ROWS, png_chunk(b"pHYs", body)), "a.png")


def jpeg(tmp_path, *, unit=None, density=0, exif=None):
    """A JPEG with a JFIF segment as told, or none (ITU-T T.871, 10.1), and an EXIF one or none."""
    path = tmp_path / "a.jpg"
    options = {}
    if exif is not None:
        data = Image.Exif()
        data[282] = data[283] = exif
        data[296] = 2
        options["exif"] = data.tobytes()
    Image.fromarray(grey_page()).save(path, **options)
    whole = path.read_bytes()
    at = whole.index(b"JFIF\0") - 4
    segment = whole[at:at + 18]
    fresh = b"" if unit is None else segment[:11] + struct.pack(">BHH", unit, density, density)
    return whole.replace(segment, fresh + segment[16:] if fresh else b"", 1)


@pytest.mark.parametrize(("stated", "ppi"), [
    ({"unit": 1, "density": 300}, 300), ({"unit": 2, "density": 236}, 599.44),
    ({"exif": 400}, 400), ({"unit": 0, "density": 1, "exif": 400}, 400),
    ({"unit": 1, "density": 72, "exif": 400}, 400), ({"unit": 1, "density": 300, "exif": 72}, 300),
    ({"unit": 0, "density": 1}, None), ({}, None), ({"unit": 1, "density": 0}, None),
])  # fmt: skip
def test_jpeg_in_jfif_and_exif(tmp_path, stated, ppi):
    data = jpeg(tmp_path, **stated)
    if ppi is None:
        with pytest.raises(Refused, match=r"a\.jpg: the file does not say its resolution"):
            ppi_of(tmp_path, data, "a.jpg")
    else:
        assert ppi_of(tmp_path, data, "a.jpg") == pytest.approx(ppi)


def test_webp_and_bmp(tmp_path):
    data = Image.Exif()
    data[282] = data[283] = 450
    data[296] = 2
    picture = Image.fromarray(grey_page())
    picture.save(tmp_path / "a.webp", exif=data.tobytes())
    assert read(tmp_path / "a.webp").ppi == 450
    picture.save(tmp_path / "a.bmp", dpi=(600, 600))
    assert read(tmp_path / "a.bmp").ppi == pytest.approx(600, abs=0.02)


def test_screen_values_are_believed_only_for_a_small_sheet(tmp_path):
    path = tmp_path / "a.png"
    for ppi in (72, 96):
        Image.fromarray(np.zeros((9, 3900), np.uint8)).save(path, dpi=(ppi, ppi))
        with pytest.raises(Refused, match=rf"says {ppi} ppi, .* 1\.\d m long; give it with"):
            read(path)
        assert read(path, given=Ppi(400)).ppi == 400
        Image.fromarray(np.zeros((9, 900), np.uint8)).save(path, dpi=(ppi, ppi))
        assert read(path).ppi == ppi
    # a long sheet at a resolution that scanners have is taken at its word
    Image.fromarray(np.zeros((9, 4100), np.uint8)).save(path, dpi=(100, 100))
    assert read(path).ppi == 100


def test_pixels_out_of_square_by_more_than_one_in_a_hundred(tmp_path):
    def stated(across, down):
        return tiff([grey_page().tobytes()], 53, 37, **resolution((across, 1), (down, 1), 2))

    assert ppi_of(tmp_path, stated(600, 596), "a.tif") == 598
    with pytest.raises(Refused, match="must be square"):
        ppi_of(tmp_path, stated(600, 590), "a.tif")
    with pytest.raises(Refused, match=r"says 204 ppi across and 98 down, .* be square"):
        ppi_of(tmp_path, stated(204, 98), "a.tif")


def test_what_is_given_wins_and_is_told(tmp_path):
    path = tmp_path / "a.png"
    Image.fromarray(grey_page()).save(path, dpi=(300, 300))
    assert (read(path).ppi, read(path).ppi_from) == (300, "the file")
    scan = read(path, given=Ppi(613.5))
    assert (scan.ppi, scan.ppi_from) == (613.5, "given")
    assert scan.rows(0, 1).ppi == 613.5


def test_sheet_sizes_against_pixels(tmp_path):
    """A4 at 300 and 600 ppi is 2480 x 3508 and 4961 x 7016 (common practice)."""
    for height, width, ppi in ((3508, 2480, 300), (2480, 3508, 300), (7016, 4961, 600)):
        assert SheetSize(210, 297).over(height, width) == pytest.approx(ppi, rel=1e-3)
    assert SheetSize(297, 210, either_way=False).over(2480, 3508) == pytest.approx(300, rel=1e-3)
    path = tmp_path / "a.png"
    Image.fromarray(np.zeros((300, 300), np.uint8)).save(path)
    with pytest.raises(Refused, match=r"a\.png: its 300 x 300 pixels have not the shape"):
        read(path, given=SheetSize(210, 297))
    with pytest.raises(Refused, match="have not the shape"):
        SheetSize(210, 297, either_way=False).over(2480, 3508)


def test_iso_216():
    """ISO 216:2007, tables 1 and 2 (from memory)."""
    sizes = iso_sizes()
    a = [(841, 1189), (594, 841), (420, 594), (297, 420), (210, 297), (148, 210), (105, 148),
         (74, 105), (52, 74), (37, 52), (26, 37)]  # fmt: skip
    b = [(1000, 1414), (707, 1000), (500, 707), (353, 500), (250, 353), (176, 250), (125, 176),
         (88, 125), (62, 88), (44, 62), (31, 44)]  # fmt: skip
    assert [sizes[f"A{n}"] for n in range(11)] == a
    assert [sizes[f"B{n}"] for n in range(11)] == b


@pytest.mark.parametrize(("text", "meant"), [
    ("600", Ppi(600)), ("600ppi", Ppi(600)), (" 299.72 PPI ", Ppi(299.72)), ("300 dpi", Ppi(300)),
    ("A4", SheetSize(210, 297)), ("a5 Landscape", SheetSize(210, 148, either_way=False)),
    ("b5 portrait", SheetSize(176, 250, either_way=False)),
    ("210x297mm", SheetSize(210, 297)), ("21 \N{MULTIPLICATION SIGN} 29.7 cm", SheetSize(210, 297)),
    ("8.5x11in", SheetSize(215.9, 279.4)), ('8.5 x 11"', SheetSize(215.9, 279.4)),
])  # fmt: skip
def test_what_a_person_types(text, meant):
    parsed = parse_resolution(text)
    assert type(parsed) is type(meant)
    assert vars(parsed) == pytest.approx(vars(meant))


@pytest.mark.parametrize("text", ["", "A11", "C4", "600px", "-300", "1e3", "210x297", "A4 sideways",
                                  "nan", "inf", "4xA4", "0x0mm", "5", "90000", "99999x2in"])
def test_what_makes_no_sense_is_refused(text):
    with pytest.raises(Refused) as got:
        parse_resolution(text)
    assert got.value.faults[0].where == f'"{text}"'


@given(st.text(max_size=20))
def test_any_words_give_a_resolution_or_a_refusal(text):
    try:
        parsed = parse_resolution(text)
    except Refused:
        return
    assert isinstance(parsed, Ppi | SheetSize)


@pytest.mark.parametrize("stated", [
    (float("nan"), 300.0), (float("inf"), float("inf")), (-300.0, -300.0), (0.0, 0.0),
])  # fmt: skip
def test_hostile_values(stated):
    with pytest.raises(Refused, match="does not say its resolution"):
        settle(stated, None, (10, 10))


def test_a_page_of_one_pixel(tmp_path):
    path = Path(tmp_path / "a.png")
    Image.fromarray(np.full((1, 1), 7, np.uint8)).save(path)
    scan = read(path, given=Ppi(300))
    assert scan.shape == (1, 1)
    assert scan.rows(0, 1).grey.tolist() == [[7]]
