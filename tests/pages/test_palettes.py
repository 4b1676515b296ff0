"""Palettes on disk, and the ink that colours lay."""

import io
import itertools
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms

from app.pages.ink_totals import ink_totals
from app.pages.palettes import from_cxf, from_plain, read_palette, to_cxf, to_plain, write_palette
from core.colours import MOST_INK, Named, Palette
from core.fault import Refused

COAST = Palette("coast", (Named((0, 0, 80), "deep sea"), Named((240, 220, 90)),
                          Named((1, 2, 3), "sable & “ink” <wet>")))
NAME = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), max_size=8)
COLOUR = st.tuples(*[st.integers(0, 255)] * 3)
PRESS = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")


@pytest.mark.parametrize("name", ["coast.txt", "coast.cxf"])
def test_a_palette_comes_back_from_its_file(tmp_path, name):
    write_palette(tmp_path / name, COAST)
    assert read_palette(tmp_path / name) == COAST


@given(st.lists(st.builds(Named, COLOUR, NAME), max_size=6).map(tuple))
def test_any_palette_comes_back(colours):
    palette = Palette("", colours)
    assert from_plain(to_plain(palette)) == palette
    assert from_cxf(to_cxf(palette)) == palette


def test_the_exchange_file_says_each_colour_by_the_names_of_the_format():
    # ISO 17972-1:2015, element names from memory
    space = {"cc": "http://colorexchangeformat.com/CxF3-core"}
    root = ET.fromstring(to_cxf(COAST))
    objects = root.findall("cc:Resources/cc:ObjectCollection/cc:Object", space)
    assert [made.get("Name") for made in objects] == ["deep sea", "", "sable & “ink” <wet>"]
    values = objects[0].find("cc:ColorValues/cc:ColorSRGB", space)
    assert [values.findtext(f"cc:{c}", namespaces=space) for c in "RGB"] == ["0", "0", "80"]


@pytest.mark.parametrize(("text", "said"), [
    ("#00005 sea\n\n#000050\nblue", ["line 1: it is no colour", "line 4: it is no colour"]),
    ("<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>", ["document type"]),
    ("<a>", ["not XML"]), ("<a/>", ["not a colour exchange file"]),
    (to_cxf(COAST).replace(">80<", ">8000<"), ["out of its range"]),
    (to_cxf(COAST).replace(">80<", ">blue<"), ["no red, green and blue"]),
    (to_cxf(COAST).replace('MaxRange="255"', 'MaxRange="0"'), ["no red, green and blue"]),
])
def test_what_is_no_palette_is_refused_with_a_reason(tmp_path, text, said):
    path = tmp_path / "palette"
    path.write_text(text, "utf-8")
    with pytest.raises(Refused) as refused:
        read_palette(path)
    for sentence in said:
        assert sentence in str(refused.value)


def test_bytes_that_are_no_text_are_refused(tmp_path):
    (tmp_path / "palette").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(Refused, match="UTF-8"):
        read_palette(tmp_path / "palette")
    with pytest.raises(Refused, match=r"no such file|not there|cannot|exist"):
        read_palette(tmp_path / "none")


def test_the_estimate_is_the_sum_of_four_inks():
    totals = ink_totals([(0, 0, 0), (255, 255, 255), (255, 0, 0), (0, 0, 51)])
    assert [(total.percent, total.estimate) for total in totals] == [
        (100, True), (0, True), (200, True), (280, True)]
    assert ink_totals([]) == ()


def test_no_estimate_reaches_three_full_inks_and_dark_rich_colours_pass_the_default_limit():
    grid = list(itertools.product(range(0, 256, 15), repeat=3))
    totals = {total.colour: total.percent for total in ink_totals([*grid, (0, 0, 1)])}
    assert max(totals.values()) < 300
    over = {colour for colour, percent in totals.items() if percent > Palette().most_ink}
    assert {(0, 0, 45), (90, 0, 0), (0, 60, 15)} <= over
    assert not over & {(0, 0, 0), (45, 45, 45), (30, 60, 120), (255, 0, 0), (0, 165, 0)}


@pytest.mark.skipif(not PRESS.exists(), reason="this machine has no CMYK profile")
def test_the_printers_profile_is_asked():
    # against ImageCms used by itself
    colours = [(255, 255, 255), (0, 0, 0), (30, 60, 120)]
    totals = ink_totals(colours, PRESS.read_bytes())
    assert not any(total.estimate for total in totals)
    change = ImageCms.buildTransform(
        ImageCms.createProfile("sRGB"), str(PRESS), "RGB", "CMYK", 1,
        ImageCms.Flags.BLACKPOINTCOMPENSATION)
    for colour, total in zip(colours, totals, strict=True):
        inks = ImageCms.applyTransform(Image.new("RGB", (1, 1), colour), change).getpixel((0, 0))
        assert total.percent == pytest.approx(sum(inks) / 2.55, abs=0.001)
    assert totals[0].percent < 10 < totals[1].percent


@pytest.mark.skipif(not PRESS.exists(), reason="this machine has no CMYK profile")
def test_what_the_estimate_marks_lays_as_much_by_a_profile():
    # against a profile for offset: the estimate cries out at nothing that it would not
    colours = list(itertools.product(range(0, 256, 51), repeat=3))
    marked = [total.colour for total in ink_totals(colours) if total.percent > MOST_INK]
    assert len(marked) == 6
    assert all(total.percent > MOST_INK for total in ink_totals(marked, PRESS.read_bytes()))


def test_a_profile_of_another_kind_is_refused():
    screen = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for profile in (b"", b"nothing", screen, io.BytesIO(b"\0" * 200).getvalue()):
        with pytest.raises(Refused, match="no profile for CMYK"):
            ink_totals([(1, 2, 3)], profile)
