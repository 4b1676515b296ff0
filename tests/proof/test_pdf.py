"""PDF for the press: geometry, black that overprints, no white box; two programs read it."""

import io
import os
import re
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pikepdf
import pypdfium2
import pytest
from PIL import Image, ImageCms

from app.pages.pdf_boxes import MARK_MM
from app.pages.profiles import printing_profile
from app.pages.renditions import Pdf
from app.pages.write import write_page
from app.proof.book import BookPage, write_book
from core.fault import Refused
from core.matte import over
from core.press.dots import printed_cover
from core.press.screens import Screen
from core.sheet import Sheet

PPI = 288.0  # four pixels to a point, so that a renderer keeps every pixel apart
FRAME = (8.0, 10.0, 30.0, 40.0)
POINTS = 72 / 25.4
FORMS = [Pdf(), Pdf("x1a"), Pdf(form="1-bit", ppi=PPI), Pdf("x1a", "1-bit", ppi=PPI)]


def line(height=720, width=540):
    """Soft and hard ink out to every edge."""
    alpha = np.zeros((height, width), np.uint8)
    alpha[::40] = 255
    alpha[:, ::45] = 200
    alpha[200:400, 100:300] = np.linspace(0, 255, 200).astype(np.uint8)
    return alpha


def write(tmp_path, pdf, alpha=None, name="a page-page.pdf"):
    path = tmp_path / name
    sheet = Sheet(ppi=PPI, alpha=line() if alpha is None else alpha)
    write_page(sheet, [(pdf, path)], steps_json="{}", workers=1, durable=False)
    return path


def rendered(path, scale=PPI / 72, page=0, **how):
    with pypdfium2.PdfDocument(path) as document:
        picture = document[page].render(scale=scale, **how).to_numpy()
    return picture[..., 0] if picture.ndim == 3 else picture


def box(page, name):
    return [float(side) for side in page.obj[name]]


@pytest.mark.parametrize("pdf", FORMS, ids=str)
def test_boxes_are_exact_to_a_hundredth_of_a_point(tmp_path, pdf):
    path = write(tmp_path, replace(pdf, frame=FRAME, width_mm=22.86, bleed=3))
    scale = 22.86 / (540 / PPI * 25.4)
    width, height = 30 * scale * POINTS, 40 * scale * POINTS
    margin = (3 + 1 + MARK_MM + 2) * POINTS
    with pikepdf.open(path) as document:
        [page] = document.pages
        assert box(page, "/TrimBox") == pytest.approx(
            [margin, margin, margin + width, margin + height], abs=0.01)
        bleed = 3 * POINTS
        assert box(page, "/BleedBox") == pytest.approx(
            [margin - bleed, margin - bleed, margin + width + bleed, margin + height + bleed],
            abs=0.01)
        assert box(page, "/MediaBox") == pytest.approx(
            [0, 0, 2 * margin + width, 2 * margin + height], abs=0.01)


def test_the_scan_lies_where_the_trim_says(tmp_path):
    # the trim's upper left corner is 8 mm and 10 mm into the scan
    path = write(tmp_path, Pdf(frame=FRAME, marks=False))
    with pikepdf.open(path) as document:
        content = document.pages[0].Contents.read_bytes().decode()
    wide, high, x, y = map(float, re.search(
        r"(\S+) 0 0 (\S+) (\S+) (\S+) cm /Line Do", content).groups())
    left_px = np.floor((8 - 3) / 25.4 * PPI)
    top_px = np.floor((10 - 3) / 25.4 * PPI)
    assert x == pytest.approx((left_px / PPI * 25.4 - 8 + 3) * POINTS, abs=0.01)
    top = (3 + 40 + 3) * POINTS
    assert y + high == pytest.approx(top - (top_px / PPI * 25.4 - 10 + 3) * POINTS, abs=0.01)
    assert wide / high == pytest.approx(np.ceil((8 + 30 + 3) / 25.4 * PPI - left_px)
                                        / np.ceil((10 + 40 + 3) / 25.4 * PPI - top_px), rel=1e-4)


def test_marks_stay_outside_the_bleed(tmp_path):
    path = write(tmp_path, Pdf(frame=FRAME), np.zeros((720, 540), np.uint8))
    picture = rendered(path, scale=4)
    with pikepdf.open(path) as document:
        left, bottom, right, top = (4 * side for side in box(document.pages[0], "/BleedBox"))
        trim = [4 * side for side in box(document.pages[0], "/TrimBox")]
    height = len(picture)
    inside = picture[round(height - top) : round(height - bottom), round(left) : round(right)]
    assert (inside == 255).all()
    dark = np.argwhere(picture < 128)
    assert len(dark)
    rows, columns = set(dark[:, 0]), set(dark[:, 1])
    for side in (trim[0], trim[2]):
        assert any(abs(column + 0.5 - side) < 1 for column in columns)
    for side in (trim[1], trim[3]):
        assert any(abs(height - row - 0.5 - side) < 1 for row in rows)


@pytest.mark.parametrize("pdf", [Pdf(), Pdf("x1a")], ids=str)
def test_rendered_it_is_the_line_over_white(tmp_path, pdf):
    path = write(tmp_path, replace(pdf, bleed=0, marks=False))
    picture = rendered(path)
    assert picture.shape == (720, 540)
    wanted = over(0, line(), 255)
    assert np.abs(picture.astype(int) - wanted).max() <= 2


def test_over_a_ground_it_is_composited_as_the_matte_is(tmp_path):
    path = write(tmp_path, Pdf(bleed=0, marks=False))
    with pikepdf.open(path, allow_overwriting_input=True) as document:
        document.pages[0].contents_add(b"q 0.7 g 0 0 999 999 re f Q\n", prepend=True)
        document.save()
    picture = rendered(path).astype(int)
    assert np.abs(picture - over(0, line(), 178)).max() <= 2


@pytest.mark.parametrize("pdf", FORMS, ids=str)
def test_no_white_box_lies_round_the_line(tmp_path, pdf):
    path = write(tmp_path, replace(pdf, bleed=0, marks=False))
    with pikepdf.open(path, allow_overwriting_input=True) as document:
        document.pages[0].contents_add(b"q 0.5 g 0 0 999 999 re f Q\n", prepend=True)
        document.save()
    picture = rendered(path)
    assert (picture[line() == 0] <= 128).mean() > 0.99


@pytest.mark.parametrize("pdf", FORMS, ids=str)
def test_the_line_is_black_alone_and_overprints(tmp_path, pdf):
    with pikepdf.open(write(tmp_path, pdf)) as document:
        page = document.pages[0]
        resources = page.obj.Resources
        space = resources.ColorSpace.Black
        assert [str(space[0]), str(space[1])] == ["/Separation", "/Black"]
        over_state = resources.ExtGState.Over
        assert bool(over_state.OP)
        assert bool(over_state.op)
        assert over_state.OPM == 1
        image = resources.XObject.Line
        content = page.Contents.read_bytes().decode()
        assert content.index("/Over gs") < content.index("/Line Do")
        assert not re.search(r"\b(g|rg|k)\b", content)
        if pdf.form == "1-bit":
            assert bool(image.ImageMask)
            assert str(image.Filter) == "/CCITTFaxDecode"
        elif pdf.standard == "x4":
            assert str(image.ColorSpace[1]) == "/Black"
            assert image.SMask.BitsPerComponent == 8
        else:
            assert "/SMask" not in image
            assert list(image.Mask) == [0, 0]


@pytest.mark.skipif(shutil.which("gs") is None, reason="no program that renders separations here")
@pytest.mark.parametrize("pdf", FORMS, ids=str)
def test_separations_show_colour_unchanged_beneath_the_line(tmp_path, pdf):
    path = write(tmp_path, replace(pdf, bleed=0, marks=False))
    with pikepdf.open(path, allow_overwriting_input=True) as document:
        document.pages[0].contents_add(b"q 0.4 0.2 0.6 0 k 0 0 999 999 re f Q\n", prepend=True)
        document.save()
    subprocess.run(
        ["gs", "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=tiffsep", "-r100",
         f"-sOutputFile={tmp_path}/s-%d.tif", str(path)], check=True, capture_output=True)
    for name, cover in {"Cyan": 0.4, "Magenta": 0.2, "Yellow": 0.6}.items():
        with Image.open(tmp_path / f"s-1({name}).tif") as plate:
            tones = np.asarray(plate.convert("L"))[2:-2, 2:-2]
        assert np.abs(tones - 255 * (1 - cover)).max() <= 1.5, name
    with Image.open(tmp_path / "s-1(Black).tif") as plate:
        assert np.asarray(plate.convert("L")).min() < 20


@pytest.mark.parametrize("pdf", FORMS, ids=str)
def test_it_says_what_it_is(tmp_path, pdf):
    with pikepdf.open(write(tmp_path, pdf, name="café & <ink>-page.pdf")) as document:
        assert document.check_pdf_syntax() == []
        info, root = document.trailer.Info, document.Root
        assert str(info.Title) == "café & <ink>-page"
        assert str(info.Trapped) == "/False"
        [intent] = root.OutputIntents
        assert str(intent.S) == "/GTS_PDFX"
        profile = intent.DestOutputProfile.read_bytes()
        assert profile[12:20] == b"prtrGRAY"
        if pdf.standard == "x4":
            assert document.pdf_version == "1.6"
            with document.open_metadata() as facts:
                assert facts["pdfxid:GTS_PDFXVersion"] == "PDF/X-4"
                assert facts["dc:title"] == "café & <ink>-page"
                assert facts["pdf:Trapped"] == "False"
        else:
            assert document.pdf_version == "1.4"
            assert str(info.GTS_PDFXVersion) == "PDF/X-1a:2003"
            text = str(document.pages[0].obj.get("/Group", ""))
            assert "Transparency" not in text


def test_one_page_gives_one_file(tmp_path):
    first = write(tmp_path, Pdf()).read_bytes()
    assert write(tmp_path, Pdf()).read_bytes() == first
    other = write(tmp_path, Pdf(), np.zeros((30, 30), np.uint8)).read_bytes()
    ids = [re.search(rb"<xmpMM:DocumentID>([^<]+)<", data) for data in (first, other)]
    assert ids[0] is None or ids[0] != ids[1]


def test_nothing_beyond_the_bleed_goes_out(tmp_path):
    secret = np.zeros((720, 540), np.uint8)
    secret[:40] = 255
    path = write(tmp_path, Pdf(frame=(8, 10, 30, 40)), secret)
    with pikepdf.open(path) as document:
        alpha = document.pages[0].obj.Resources.XObject.Line.SMask
        assert alpha.Height < 560
        assert not any(alpha.read_bytes())


def test_a_frame_beside_the_scan_leaves_an_empty_page(tmp_path):
    path = write(tmp_path, Pdf(frame=(200, 200, 30, 40)))
    assert (rendered(path, scale=1)[30:-30, 30:-30] == 255).all()


def test_a_frame_above_the_scan_takes_none_of_it_along(tmp_path):
    with pikepdf.open(write(tmp_path, Pdf(frame=(8, -60, 30, 40)))) as document:
        assert "/XObject" not in document.pages[0].obj.Resources


def test_the_printers_own_profile_goes_in(tmp_path):
    own = tmp_path / "press.icc"
    own.write_bytes(printing_profile(10).replace(b"prtrGRAY", b"prtrCMYK", 1))
    with pikepdf.open(write(tmp_path, Pdf(profile=own))) as document:
        [intent] = document.Root.OutputIntents
        assert intent.DestOutputProfile.N == 4
        page = document.pages[0].obj
        assert str(page.Resources.ColorSpace.Black[2]) == "/DeviceCMYK"
        assert [int(n) for n in page.Resources.ColorSpace.Black[3].C1] == [0, 0, 0, 1]
        assert str(page.Group.CS) == "/DeviceCMYK"


@pytest.mark.parametrize("data", [b"", b"x" * 200, ImageCms.ImageCmsProfile(
    ImageCms.createProfile("sRGB")).tobytes()])
def test_a_profile_of_another_sort_is_refused(tmp_path, data):
    own = tmp_path / "own.icc"
    own.write_bytes(data)
    with pytest.raises(Refused, match="no profile of a press"):
        write(tmp_path, Pdf(profile=own))
    with pytest.raises(Refused, match="cannot be read"):
        write(tmp_path, Pdf(profile=tmp_path / "none.icc"))


def test_half_a_profile_is_refused(tmp_path):
    own = tmp_path / "own.icc"
    own.write_bytes(printing_profile(16)[:300])
    with pytest.raises(Refused, match=r"own\.icc is not whole"):
        write(tmp_path, Pdf(profile=own))


@pytest.mark.skipif(os.name == "nt", reason="names are letters there")
def test_a_profile_may_be_called_what_is_no_text(tmp_path):
    own = tmp_path / os.fsdecode(b"press \xff.icc")
    own.write_bytes(printing_profile(16))
    with pikepdf.open(write(tmp_path, Pdf(profile=own))) as document:
        assert str(document.Root.OutputIntents[0].Info) == "press \\udcff"


def test_the_profile_of_black_ink_is_read_by_another_program():
    profile = ImageCms.ImageCmsProfile(io.BytesIO(printing_profile(16)))
    assert profile.profile.xcolor_space.strip() == "GRAY"
    lab = ImageCms.createProfile("LAB")
    to_lab = ImageCms.buildTransform(profile, lab, "L", "LAB", renderingIntent=3)
    grey = Image.fromarray(np.array([[255, 128, 0]], np.uint8))
    lightness = np.asarray(ImageCms.applyTransform(grey, to_lab))[0, :, 0] / 255 * 100
    # CIE 1976: L* of the light that is left between dots of the printed size
    light = 1 - printed_cover(127 / 255, 16) * (1 - 10**-1.6)
    assert lightness[0] == pytest.approx(100, abs=0.5)
    assert lightness[1] == pytest.approx(116 * float(light) ** (1 / 3) - 16, abs=1)
    assert lightness[2] == pytest.approx(116 * 10 ** (-1.6 / 3) - 16, abs=1)


def test_a_book_has_every_page_in_order(tmp_path):
    sheet = Sheet(ppi=PPI, alpha=line())
    pages = [BookPage(sheet, 47.625 / (1 + n), FRAME if n else None) for n in range(3)]
    path = tmp_path / "book.pdf"
    assert write_book(path, pages, Pdf(cut=Screen(60)), durable=False) == 3
    with pikepdf.open(path) as document:
        assert len(document.pages) == 3
        widths = [box(page, "/TrimBox")[2] - box(page, "/TrimBox")[0] for page in document.pages]
    assert widths == pytest.approx([47.625 * POINTS, 15 * POINTS, 10 * POINTS], abs=0.01)
    assert rendered(path, page=2).min() < 20
    with pytest.raises(Refused, match="at least one page"):
        write_book(tmp_path / "none.pdf", [], Pdf())
    assert not (tmp_path / "none.pdf").exists()


def test_a_book_has_colour_where_a_page_has_it(tmp_path):
    alpha = line()
    flats = np.zeros(alpha.shape, np.uint8)
    flats[:, 270:] = 1
    plain = Sheet(ppi=PPI, alpha=alpha)
    coloured = replace(plain, flats=flats, palette=((255, 255, 255), (255, 0, 0)))
    path = tmp_path / "book.pdf"
    write_book(path, [BookPage(plain), BookPage(coloured)], Pdf(), coloured=True, durable=False)
    with pikepdf.open(path) as document:
        first, second = (page.Resources.XObject for page in document.pages)
        assert "/Colour" not in first
        image = pikepdf.PdfImage(second.Colour)
        inks = np.frombuffer(image.read_bytes(), np.uint8).reshape(*alpha.shape, 4)
        assert int(document.Root.OutputIntents[0].DestOutputProfile.N) == 4
    clear = alpha == 0
    assert not inks[clear & (flats == 0)].any()
    assert (inks[clear & (flats == 1)] == (0, 255, 255, 0)).all()


@pytest.mark.parametrize("make", [
    lambda: Pdf("x3"), lambda: Pdf(form="grey 16"), lambda: Pdf(frame=(0, 0, 0, 5)),
    lambda: Pdf(bleed=-1), lambda: Pdf(gain=60), lambda: Pdf(width_mm=-4),
])
def test_what_no_page_can_be_is_refused(make):
    with pytest.raises(Refused):
        make()
