"""Which pages there are, and every file that cannot be one: one clear sentence each."""

import os
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from app.pages.limits import Limits
from app.pages.listing import PageAt, list_pages
from app.pages.read import count_pages, read
from core.fault import Refused
from tests.pages.read_making import AT_300, grey_page, tiff


def picture(path, kind=None):
    Image.fromarray(grey_page()).save(path, kind, dpi=(300, 300))
    return path


def test_a_folder_is_listed_in_natural_order(tmp_path):
    for name in ("page 10.png", "page 2.png", "Page 1.png", "notes.txt", ".hidden.png",
                 "page 2b.PNG", "cover.JPEG"):
        picture(tmp_path / name, "JPEG" if name.endswith("JPEG") else "PNG")
    (tmp_path / "below").mkdir()
    picture(tmp_path / "below" / "deep.png")
    (tmp_path / "looks like one.tif").mkdir()
    pages, faults = list_pages([tmp_path])
    assert [page.path.name for page in pages] == [
        "cover.JPEG", "Page 1.png", "page 2.png", "page 2b.PNG", "page 10.png",
    ]  # fmt: skip
    assert not faults


def test_every_page_of_a_file_and_no_file_twice(tmp_path):
    book = tmp_path / "book.tif"
    tifffile.imwrite(book, np.stack([grey_page()] * 3), photometric="minisblack", metadata=None)
    single = picture(tmp_path / "a.png")
    pages, faults = list_pages([single, book, tmp_path, tmp_path / "." / "a.png"])
    assert pages == (PageAt(single, 1, 1), *(PageAt(book, n, 3) for n in (1, 2, 3)))
    assert not faults


def test_faulty_files_are_named_and_the_others_go_on(tmp_path):
    good = picture(tmp_path / "b.png")
    (tmp_path / "a.png").write_bytes(b"")
    (tmp_path / "c.tif").write_bytes(b"not a picture at all")
    pages, faults = list_pages([tmp_path, tmp_path / "gone.tif"])
    assert pages == (PageAt(good, 1, 1),)
    assert [str(fault) for fault in faults] == [
        "a.png: the file holds no bytes; scan or copy it again.",
        ("c.tif: it is not a picture of a kind that is read;"
        " give TIFF, PNG, JPEG, WebP, BMP or PDF."),
        "gone.tif: there is no such file; check its name and its disk.",
    ]


def test_a_folder_with_none(tmp_path):
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "one.txt").write_text("no scan")
    pages, faults = list_pages([tmp_path / "letters"])
    assert not pages
    assert str(faults[0]) == (
        "letters: the folder holds no scans;"
        " give one that holds TIFF, PNG, JPEG, WebP, BMP or PDF files."
    )


def test_the_kind_is_told_by_the_bytes_and_not_by_the_name(tmp_path):
    path = tmp_path / "page.png"
    Image.fromarray(grey_page()).save(path, "TIFF")
    assert "uncompressed" in read(path, given=AT_300).stored


def test_a_folder_given_as_a_page(tmp_path):
    for ask in (read, count_pages):
        with pytest.raises(Refused, match=f"{tmp_path.name}: it is a folder, not a scan"):
            ask(tmp_path)


def test_a_file_that_may_not_be_read(tmp_path, monkeypatch):
    path = picture(tmp_path / "a.png")

    def forbidden(*_, **__):
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "open", forbidden)
    with pytest.raises(Refused, match=r"a\.png: it may not be read; ask its owner, or change"):
        read(path)
    assert str(list_pages([path])[1][0]).startswith("a.png: it may not be read")


def test_a_disk_that_fails(tmp_path, monkeypatch):
    path = picture(tmp_path / "a.png")

    def failing(*_, **__):
        raise OSError(5, os.strerror(5))

    monkeypatch.setattr(Path, "open", failing)
    with pytest.raises(Refused, match=r"a\.png: it cannot be read \(input/output error\)"):
        read(path)


@pytest.mark.parametrize("name", ["a.tif", "a.png"])
def test_a_file_that_vanishes_after_it_was_opened(tmp_path, name):
    path = picture(tmp_path / name)
    scan = read(path)
    path.unlink()
    with pytest.raises(Refused, match=f"{name}: there is no such file"):
        scan.rows(0, 10)


def test_a_file_cut_short_after_it_was_opened(tmp_path):
    path = picture(tmp_path / "a.tif")
    scan = read(path)
    os.truncate(path, path.stat().st_size // 2)
    with pytest.raises(Refused, match=r"a\.tif: the file ends before the picture does"):
        scan.rows(0, 37)


def test_too_many_pages(tmp_path):
    path = tmp_path / "book.tif"
    tifffile.imwrite(path, np.stack([grey_page()] * 5), photometric="minisblack", metadata=None)
    pages, faults = list_pages([path], Limits(pages=4))
    assert not pages
    assert str(faults[0]) == "book.tif: it says it has more than 4 pages; save it again."


def test_a_fault_names_the_page_where_the_file_has_several(tmp_path):
    path = tmp_path / "book.tif"
    tifffile.imwrite(path, np.stack([grey_page()] * 2), photometric="minisblack", metadata=None)
    with pytest.raises(Refused, match=r"^book\.tif, page 2: the file does not say"):
        read(path, 2)


def test_a_tiff_with_no_page(tmp_path):
    path = tmp_path / "a.tif"
    path.write_bytes(b"II*\0\0\0\0\0")
    with pytest.raises(Refused, match="it is a TIFF file without a page"):
        count_pages(path)
    path.write_bytes(tiff([b""], 1, 1, t258=8)[:6])
    with pytest.raises(Refused, match=r"a\.tif: "):
        count_pages(path)
