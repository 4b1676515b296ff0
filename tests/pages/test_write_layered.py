"""Layered pages: OpenRaster, and the same as a folder."""

import io
import struct
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from app.pages.renditions import Layered
from core.fault import Refused
from tests.pages.writing import BROWN, STEPS, drawn, opened, over_ground, rgba_of, write


def picture(archive, name):
    image = Image.open(io.BytesIO(archive.read(name)))
    image.load()
    return image


@pytest.fixture(params=[(0, 0, 0), BROWN, None], ids=["black", "brown", "own"])
def page(request):
    return drawn(400, 300, ink=request.param, ppi=600.0)


def test_the_mimetype_is_first_and_stored(tmp_path, page):
    # OpenRaster, file layout: readable at byte 38 without unpacking
    data = write(page, Layered(), tmp_path / "a.ora").read_bytes()
    assert data[:4] == b"PK\x03\x04"
    assert data[30:54] == b"mimetypeimage/openraster"
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
        first = archive.infolist()[0]
        assert first.filename == "mimetype"
        assert first.compress_type == zipfile.ZIP_STORED
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_the_stack_has_lines_above_paper(tmp_path, page):
    with zipfile.ZipFile(write(page, Layered(), tmp_path / "a.ora")) as archive:
        root = ET.fromstring(archive.read("stack.xml"))
        assert root.attrib == {"version": "0.0.5", "w": "300", "h": "400", "xres": "600",
                               "yres": "600"}
        layers = list(root.find("stack"))
        assert [layer.get("name") for layer in layers] == ["lines", "paper"]
        for layer in layers:
            assert (layer.get("x"), layer.get("y")) == ("0", "0")
            assert picture(archive, layer.get("src")).size == (300, 400)


def test_layers_may_be_larger_than_an_entry_of_the_plain_form_holds(tmp_path, monkeypatch):
    page = drawn(900, 700, ink=None)
    plain = write(page, Layered(), tmp_path / "plain.ora").read_bytes()
    monkeypatch.setattr(zipfile, "ZIP64_LIMIT", 250_000)  # 2 GiB as it is
    with zipfile.ZipFile(write(page, Layered(), tmp_path / "a.ora")) as archive:
        assert archive.getinfo("data/lines.png").file_size > 250_000
        np.testing.assert_array_equal(np.asarray(picture(archive, "data/lines.png")),
                                      rgba_of(page))
        assert archive.testzip() is None
    monkeypatch.undo()
    assert write(page, Layered(), tmp_path / "b.ora").read_bytes() == plain


def test_the_pictures_in_it(tmp_path, page):
    with zipfile.ZipFile(write(page, Layered(), tmp_path / "a.ora", workers=2)) as archive:
        lines = np.asarray(picture(archive, "data/lines.png"))
        np.testing.assert_array_equal(lines, rgba_of(page))
        assert (np.asarray(picture(archive, "data/paper.png")) == 255).all()
        merged = np.asarray(picture(archive, "mergedimage.png"))
        np.testing.assert_array_equal(merged, over_ground(page, (255, 255, 255)))
        small = picture(archive, "Thumbnails/thumbnail.png")
        assert small.size == (192, 256)
        box = cv2.resize(merged, (192, 256), interpolation=cv2.INTER_AREA).astype(int)
        assert np.abs(np.asarray(small) - box).max() <= 2  # three roundings
        assert archive.read("steplist.json").decode("utf-8") == STEPS
        assert len(archive.read("data/paper.png")) < 6000


def test_a_deep_page_keeps_its_depth_in_the_lines(tmp_path):
    page = drawn(40, 30, bits=16)
    with zipfile.ZipFile(write(page, Layered(), tmp_path / "a.ora")) as archive:
        bits = {name: struct.unpack(">B", archive.read(name)[24:25])[0]
                for name in ("data/lines.png", "mergedimage.png", "Thumbnails/thumbnail.png")}
    assert list(bits.values()) == [16, 8, 8]


def test_equal_pages_make_equal_files(tmp_path, page):
    one, two = (
        write(page, Layered(), tmp_path / f"{n}.ora", workers=n).read_bytes() for n in (1, 2)
    )
    assert one == two


@pytest.mark.parametrize("size", [(1, 1), (1, 3000), (3000, 1)])
def test_extreme_pages(tmp_path, size):
    with zipfile.ZipFile(write(drawn(*size), Layered(), tmp_path / "a.ora")) as archive:
        assert max(picture(archive, "Thumbnails/thumbnail.png").size) <= 256


def test_the_folder_holds_pictures_of_one_size_from_the_bottom(tmp_path, page):
    folder = write(page, Layered("folder"), tmp_path / "a-layered")
    names = sorted(path.name for path in folder.iterdir())
    assert names == ["01-paper.png", "02-lines.png"]
    paper, lines = (opened(folder / name) for name in names)
    assert paper.size == lines.size == (300, 400)
    assert (np.asarray(paper) == 255).all()
    np.testing.assert_array_equal(np.asarray(lines), rgba_of(page))
    assert lines.text == {"Stetline step list": STEPS}
    assert [path.name for path in tmp_path.iterdir()] == ["a-layered"]


def test_a_folder_replaces_the_one_written_before(tmp_path, page):
    write(drawn(5, 5), Layered("folder"), tmp_path / "a-layered")
    folder = write(page, Layered("folder"), tmp_path / "a-layered")
    assert opened(folder / "02-lines.png").size == (300, 400)
    assert [path.name for path in tmp_path.iterdir()] == ["a-layered"]


def test_a_folder_that_cannot_be_replaced_is_there_as_it_was(tmp_path, page, monkeypatch):
    write(drawn(5, 5), Layered("folder"), tmp_path / "a-layered")
    real = Path.rename

    def rename(path, target):
        if target == tmp_path / "a-layered" and ".part-" in path.name and not done:
            done.append(path)
            raise PermissionError(1, "no")
        return real(path, target)

    done = []
    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises(Refused, match="may not be written to"):
        write(page, Layered("folder"), tmp_path / "a-layered")
    assert [path.name for path in tmp_path.iterdir()] == ["a-layered"]
    assert opened(tmp_path / "a-layered" / "02-lines.png").size == (5, 5)


def test_a_folder_with_somebodys_work_in_it_is_left_alone(tmp_path, page):
    folder = write(page, Layered("folder"), tmp_path / "a-layered")
    (folder / "03-colour.png").write_bytes(b"hours of work")
    before = (folder / "02-lines.png").read_bytes()
    with pytest.raises(Refused, match=r"a-layered: the folder holds 03-colour.png, which"):
        write(drawn(5, 5), Layered("folder"), folder)
    assert (folder / "03-colour.png").read_bytes() == b"hours of work"
    assert (folder / "02-lines.png").read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["a-layered"]


def test_a_folder_is_replaced_though_the_page_had_other_layers_then(tmp_path, page):
    flats = np.zeros(page.shape, np.uint8)
    coloured = replace(page, flats=flats, palette=((9, 8, 7),))
    folder = tmp_path / "a-layered"
    for made, names in ((page, ["01-paper.png", "02-lines.png"]),
                        (coloured, ["01-paper.png", "02-colour.png", "03-lines.png"]),
                        (page, ["01-paper.png", "02-lines.png"])):
        write(made, Layered("folder"), folder)
        assert sorted(path.name for path in folder.iterdir()) == names
    write(coloured, Layered("folder"), folder)
    with Image.open(folder / "02-colour.png") as layer:
        layer.save(folder / "02-colour.png", icc_profile=layer.info["icc_profile"])  # painted in
    with pytest.raises(Refused, match=r"the folder holds 02-colour.png, which Stetline did not"):
        write(page, Layered("folder"), folder)


def test_unknown_form_is_refused():
    with pytest.raises(Refused, match="choose one of ora, folder"):
        Layered("zip")
