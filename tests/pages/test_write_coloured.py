"""Pages on which colour has begun, as other programs' readers see them."""

import io
import zipfile
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import tifffile
from PIL import Image

from app.filters.holds import Hold
from app.filters.reach import Outline
from app.pages.renditions import Flat, Layered, Line, Print, Web
from core.colours import distinct_colours, rgb_to_cmyk
from core.fault import Refused
from core.layers import composite
from core.sheet import Overlay, Sheet
from core.steps.overlay import Lay
from tests.pages.writing import opened, write

RED = (200, 20, 10)
LEFT = Outline(corners=((0.0, 0.0), (2.0, 0.0), (2.0, 30.0), (0.0, 30.0)))


def page(*, areas=5, held=False, overlay=None):
    """300 rows, so that several bands are written."""
    rng = np.random.default_rng(4)
    alpha = rng.integers(0, 256, (300, 40)).astype(np.uint8)
    alpha[alpha < 120] = 0
    flats = np.arange(300 * 40).reshape(300, 40) * areas // (300 * 40)
    sheet = Sheet(
        ppi=254, alpha=alpha, flats=flats.astype(np.uint16), overlay=overlay or Overlay(),
        palette=((0, 0, 0), *distinct_colours(areas)),
    )
    return Hold(colour=RED, area=LEFT).apply(sheet) if held else sheet


def shown(sheet):
    return np.dstack(composite(sheet))


def of_layer(archive, name):
    image = Image.open(io.BytesIO(archive.read(f"data/{name}.png")))
    return np.asarray(image.convert("RGBA")).astype(float)


def stacked(archive):
    """The layers laid over one another by what stack.xml says; 0-255."""
    layers = ET.fromstring(archive.read("stack.xml")).findall("stack/layer")
    out = np.zeros((300, 40, 3))
    for layer in layers[::-1]:
        pixels = of_layer(archive, layer.get("name"))
        share = pixels[..., 3:] / 255 * float(layer.get("opacity"))
        out = pixels[..., :3] * share + out * (1 - share)
    return [layer.get("name") for layer in layers], out


@pytest.mark.parametrize(("asked", "overlay", "names"), [
    (False, Overlay(), ["lines", "colour", "paper"]),
    (True, Overlay(), ["holds", "lines", "colour", "paper"]),
    (True, Overlay(0.6, 0.5, (250, 240, 200)), ["holds", "lines", "colour", "paper"]),
    (False, Overlay(1.0, 0.4, (9, 8, 7), colour_above=True), ["colour", "lines", "paper"]),
])
def test_the_layers_of_an_openraster_file_make_the_merged_page(tmp_path, asked, overlay, names):
    sheet = page(held=True, overlay=overlay)
    with zipfile.ZipFile(write(sheet, Layered(holds=asked), tmp_path / "a.ora")) as archive:
        found, out = stacked(archive)
        assert found == names
        merged = np.asarray(Image.open(io.BytesIO(archive.read("mergedimage.png"))))
        assert (merged == shown(sheet)).all()
        assert np.abs(out - merged).max() <= 2
        if asked:
            holds, lines = (of_layer(archive, name)[..., 3] for name in ("holds", "lines"))
            assert ((holds == 0) | (lines == 0)).all()
            assert (holds + lines == sheet.alpha).all()
        small = Image.open(io.BytesIO(archive.read("Thumbnails/thumbnail.png")))
        assert small.size == (34, 256)


def test_a_folder_is_numbered_from_the_bottom(tmp_path):
    folder = write(page(held=True), Layered("folder", holds=True), tmp_path / "a")
    assert sorted(path.name for path in folder.iterdir()) == [
        "01-paper.png", "02-colour.png", "03-lines.png", "04-holds.png"]
    assert {opened(path).size for path in folder.iterdir()} == {(40, 300)}


@pytest.mark.parametrize(("form", "suffix"), [("png", ".png"), ("tiff", ".tif")])
@pytest.mark.parametrize(("areas", "mode"), [(5, "P"), (255, "P"), (700, "RGB")])
def test_flats_alone_are_indexed_where_they_can_be_and_exact(tmp_path, form, suffix, areas, mode):
    sheet = page(areas=areas)
    path = write(sheet, Flat(form), tmp_path / f"a{suffix}")
    image = opened(path)
    assert image.mode == mode
    wanted = np.array(sheet.palette, np.uint8)[sheet.flats]
    assert (np.asarray(image.convert("RGB")) == wanted).all()
    assert image.info["dpi"][0] == pytest.approx(254, abs=0.01)
    if form == "tiff" and mode == "P":  # TIFF 6.0, section 5, by a second reader
        with tifffile.TiffFile(path) as tiff:
            colours = (tiff.pages[0].colormap >> 8).T
            assert (colours[tiff.asarray()] == wanted).all()


def test_a_page_without_flats_has_none_to_write(tmp_path):
    bare = Sheet(ppi=300, alpha=np.zeros((3, 3), np.uint8))
    with pytest.raises(Refused, match="no flats"):
        write(bare, Flat(), tmp_path / "a.png")
    assert not list(tmp_path.iterdir())


def test_lines_stay_in_black_and_a_hold_goes_to_its_plates(tmp_path):
    sheet = page(held=True)
    path = write(sheet, Print(), tmp_path / "a.tif")
    inks = tifffile.imread(path)
    assert inks.shape == (300, 40, 4)
    with tifffile.TiffFile(path) as tiff:
        assert tiff.pages[0].photometric == tifffile.PHOTOMETRIC.SEPARATED
        assert 338 not in tiff.pages[0].tags  # no alpha
    beneath = rgb_to_cmyk(np.array(sheet.palette))[sheet.flats].astype(float)
    share = sheet.alpha[..., None] / 255
    own = rgb_to_cmyk(sheet.colour)
    held = sheet.held > 0
    over = own * share + beneath * (1 - share)
    assert np.abs(inks - over)[held].max() <= 0.501
    lines = ~held & (sheet.alpha > 0)
    assert (inks[lines][:, :3] == beneath[lines][:, :3]).all()  # overprinted
    assert np.abs(inks - over)[lines][:, 3].max() <= 0.501
    solid = held & (sheet.alpha == 255)
    assert (inks[solid] == rgb_to_cmyk(RED)).all()


def test_the_same_page_without_colour_is_grey(tmp_path):
    sheet = Sheet(ppi=254, alpha=page().alpha)
    assert tifffile.imread(write(sheet, Print(), tmp_path / "a.tif")).ndim == 2


def test_the_web_picture_is_the_average_of_the_merged_page(tmp_path):
    sheet = Lay(lines=80, paper=(250, 250, 240)).apply(page(held=True))
    path = write(sheet, Web("png", width=20), tmp_path / "a.png")
    found = np.asarray(opened(path).convert("RGB")).astype(float)
    wanted = shown(sheet).astype(float).reshape(150, 2, 20, 2, 3).mean(axis=(1, 3))
    assert np.abs(found - wanted).max() <= 0.501
    full = write(sheet, Web("png", width=40, ground=(1, 2, 3)), tmp_path / "b.png")
    assert (np.asarray(opened(full).convert("RGB")) == shown(sheet)).all()


def test_the_line_carries_its_holds_and_no_flats(tmp_path):
    sheet = page(held=True)
    found = np.asarray(opened(write(sheet, Line(), tmp_path / "a.png")))
    assert (found[..., :3] == sheet.colour).all()
    assert (found[..., 3] == sheet.alpha).all()


@pytest.mark.parametrize("rendition", [Layered(holds=True), Flat("tiff"), Print(), Web("png")])
def test_bytes_do_not_depend_on_the_number_of_workers(tmp_path, rendition):
    one, many = (
        write(page(held=True), rendition, tmp_path / str(n), workers=n).read_bytes() for n in (1, 3)
    )
    assert one == many
