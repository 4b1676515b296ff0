"""Flats and held ink in PDF: on their plates beneath a black line; three programs read it."""

import io
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pikepdf
import pypdfium2
import pytest
from PIL import Image, ImageCms

from app.pages.bitmap import said_of_flats, sheet_cover
from app.pages.ink_totals import ink_totals
from app.pages.pdf_press import plain_press, to_inks
from app.pages.picture import Frame
from app.pages.profiles import printing_profile
from app.pages.renditions import Pdf
from app.pages.write import write_page
from core.colours import rgb_to_cmyk
from core.fault import Refused
from core.layers import composite
from core.sheet import BLACK, WHITE, Overlay, Sheet

PPI = 288.0  # four pixels to a point, so that a renderer keeps every pixel apart
PALETTE = (BLACK, (240, 220, 90), (60, 120, 200), WHITE, (0, 0, 51))
FORMS = [Pdf(), Pdf("x1a"), Pdf(form="1-bit", ppi=PPI), Pdf("x1a", "1-bit", ppi=PPI)]
RED = (200, 30, 40)


def page(palette=PALETTE, held=False):
    """Four flats with a soft line between them, and the core of solid ink."""
    flats = np.full((320, 400), 1, np.uint16)
    flats[:, 200:], flats[160:], flats[160:, 200:] = 2, 3, 4
    alpha = np.zeros((320, 400), np.uint8)
    alpha[150:170] = np.interp(np.arange(20), [0, 6, 14, 19], [20, 255, 255, 20])[:, None]
    alpha[:, 190:210] = 140
    alpha[40:100, 40:100] = 255
    flats[60:80, 60:80] = 0
    sheet = Sheet(ppi=PPI, alpha=alpha, flats=flats, palette=palette)
    if not held:
        return sheet
    colour = np.zeros((320, 400, 3), np.uint8)
    mask = np.zeros_like(alpha)
    mask[:, 240:] = 255
    colour[mask > 0] = RED
    return replace(sheet, ink=None, colour=colour, held=mask & np.where(alpha > 0, 255, 0))


def write(tmp_path, pdf, sheet=None):
    path = tmp_path / "a-page.pdf"
    write_page(page() if sheet is None else sheet, [(replace(pdf, bleed=0, marks=False), path)],
               steps_json="{}", workers=1, durable=False)
    return path


def rendered(path):
    with pypdfium2.PdfDocument(path) as document:
        return document[0].render(scale=PPI / 72, rev_byteorder=True).to_numpy()[..., :3]


def inks_in(path):
    with pikepdf.open(path) as document:
        image = document.pages[0].obj.Resources.XObject.Colour
        assert str(image.ColorSpace) == "/DeviceCMYK"
        data = np.frombuffer(image.read_bytes(), np.uint8)
        return data.reshape(int(image.Height), int(image.Width), 4)


def shown(inks):
    """What plain inks show: what ``rgb_to_cmyk`` undoes, within a level."""
    light = (255 - inks.astype(int)) / 255
    return np.rint(255 * light[..., :3] * light[..., 3:]).astype(int)


@pytest.mark.parametrize("pdf", FORMS, ids=str)
def test_the_flats_lie_beneath_in_their_exact_inks(tmp_path, pdf):
    inks = inks_in(write(tmp_path, pdf))
    table = rgb_to_cmyk(PALETTE)
    sheet = page()
    clear = sheet.alpha == 0
    assert (inks[clear] == table[sheet.flats][clear]).all()
    # and on beneath the line, but for its black: it overprints
    assert (inks[..., :3] == table[sheet.flats][..., :3]).all()


def test_flat_the_line_is_in_the_black_plate(tmp_path):
    # within 2 levels: the inks of a flat are rounded, and so is the black over them
    for held in (False, True):
        inks = inks_in(write(tmp_path, Pdf("x1a"), page(held=held)))
        wanted = np.dstack(composite(page(held=held))).astype(int)
        plain = np.ones(wanted.shape[:2], bool) if not held else page(held=True).held == 0
        assert np.abs(shown(inks) - wanted)[plain].max() <= 2
        solid = page(held=held).alpha == 255
        assert np.abs(shown(inks) - wanted)[solid].max() <= 2


@pytest.mark.parametrize("pdf", FORMS, ids=str)
def test_rendered_it_is_the_composite_where_no_press_changes_colours(tmp_path, pdf):
    # white is white by any conversion, exactly; black ink is what the renderer takes it for, and
    # between the two a see-through line is mixed as the composite mixes: within 2 of 255
    sheet = page((BLACK, WHITE, WHITE, WHITE, WHITE))
    picture = rendered(write(tmp_path, pdf, sheet)).astype(int)
    assert (picture[(sheet.alpha == 0) & (sheet.flats > 0)] == 255).all()
    black = picture[50, 50]
    assert black.max() <= 40
    if pdf == Pdf():
        inked = replace(sheet, ink=tuple(black.tolist()))
        apart = np.abs(picture - np.dstack(composite(inked)))[sheet.flats > 0]
        assert apart.max() <= 2


@pytest.mark.parametrize("pdf", FORMS, ids=str)
def test_rendered_each_flat_is_seen_in_its_place(tmp_path, pdf):
    picture = rendered(write(tmp_path, pdf)).astype(int)
    for (row, column), colour in {(20, 150): PALETTE[1], (20, 300): PALETTE[2],
                                  (300, 100): PALETTE[3], (300, 300): PALETTE[4]}.items():
        assert np.abs(picture[row, column] - colour).max() <= 60, colour
    assert picture[50, 50].max() <= 60  # the line
    assert picture[70, 70].max() <= 60  # and the core of it


@pytest.mark.skipif(shutil.which("gs") is None, reason="no program that renders separations here")
@pytest.mark.parametrize("pdf", FORMS, ids=str)
def test_separations_have_the_flats_beneath_an_overprinting_line(tmp_path, pdf):
    path = write(tmp_path, pdf)
    subprocess.run(
        ["gs", "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=tiffsep", f"-r{PPI:g}",
         f"-sOutputFile={tmp_path}/s-%d.tif", str(path)], check=True, capture_output=True)
    table = rgb_to_cmyk(PALETTE)[page().flats]
    for place, name in enumerate(("Cyan", "Magenta", "Yellow")):
        with Image.open(tmp_path / f"s-1({name}).tif") as plate:
            tones = 255 - np.asarray(plate.convert("L")).astype(int)
        assert np.abs(tones - table[..., place])[2:-2, 2:-2].max() <= 2, name
    with Image.open(tmp_path / "s-1(Black).tif") as plate:
        black = 255 - np.asarray(plate.convert("L")).astype(int)
    assert black[50, 50] >= 253
    assert black[20, 150] == table[20, 150, 3]


@pytest.mark.parametrize("pdf", FORMS, ids=str)
def test_ink_that_was_held_leaves_the_black_and_knocks_out(tmp_path, pdf):
    sheet = page(held=True)
    path = write(tmp_path, pdf, sheet)
    inks = inks_in(path)
    solid = (sheet.held > 0) & (sheet.alpha == 255)
    assert (inks[solid] == rgb_to_cmyk(RED)).all()
    if pdf == Pdf():
        with pikepdf.open(path) as document:
            mask = document.pages[0].obj.Resources.XObject.Line.SMask
            cover = np.frombuffer(mask.read_bytes(), np.uint8).reshape(sheet.shape)
        assert (cover[sheet.held > 0] == 0).all()
        assert (cover[sheet.held == 0] == sheet.alpha[sheet.held == 0]).all()


@pytest.mark.parametrize("pdf", FORMS, ids=str)
def test_no_place_lays_more_ink_than_its_flat_and_black(tmp_path, pdf):
    totals = {total.colour: total.percent for total in ink_totals(PALETTE)}
    beneath = [rgb_to_cmyk(colour)[:3].sum() / 2.55 for colour in PALETTE]
    inks = inks_in(write(tmp_path, pdf)).astype(int)
    most = np.zeros(len(PALETTE))
    np.maximum.at(most, page().flats, inks.sum(axis=-1) / 2.55)
    assert (most <= np.array(beneath) + 100 + 1e-9).all()
    clear = inks[page().alpha == 0].sum(axis=-1) / 2.55
    assert clear.max() == pytest.approx(totals[(0, 0, 51)])


@pytest.mark.parametrize("pdf", FORMS, ids=str)
def test_it_states_a_press_of_four_inks(tmp_path, pdf):
    with pikepdf.open(write(tmp_path, pdf)) as document:
        assert document.check_pdf_syntax() == []
        [intent] = document.Root.OutputIntents
        assert intent.DestOutputProfile.N == 4
        assert "estimate" in str(intent.OutputCondition)
        assert intent.DestOutputProfile.read_bytes() == plain_press()
        names = set(document.pages[0].obj.Resources.XObject.keys())
        assert names == ({"/Colour"} if pdf == Pdf("x1a") else {"/Colour", "/Line"})
        assert ("/Group" in document.pages[0].obj) == (pdf == Pdf())


def test_the_printers_own_profile_makes_the_inks(tmp_path):
    own = tmp_path / "press.icc"
    own.write_bytes(plain_press())
    inks = inks_in(write(tmp_path, Pdf("x1a", profile=own)))
    assert (inks[20, 150] == to_inks(plain_press())(PALETTE[1])).all()
    assert (inks[50, 50, 3] == 255).all()
    own.write_bytes(printing_profile(10))
    with pytest.raises(Refused, match="a press of black alone"):
        write(tmp_path, Pdf(profile=own))


def test_another_program_reads_the_plain_press_as_the_plain_conversion():
    # within 6 of 255 where a channel is not near an end: 8 bits of L*a*b* lie between
    press = ImageCms.ImageCmsProfile(io.BytesIO(plain_press()))
    assert press.profile.xcolor_space.strip() == "CMYK"
    colours = np.random.default_rng(4).integers(30, 226, (300, 3)).astype(np.uint8)
    back = ImageCms.buildTransform(
        press, ImageCms.createProfile("sRGB"), "CMYK", "RGB",
        ImageCms.Intent.RELATIVE_COLORIMETRIC)
    inks = Image.frombytes("CMYK", (300, 1), rgb_to_cmyk(colours).tobytes())
    seen = np.asarray(ImageCms.applyTransform(inks, back)).reshape(-1, 3).astype(int)
    assert np.abs(seen - colours).max() <= 6


def test_a_page_without_colour_is_black_alone_as_before(tmp_path):
    bare = replace(page(), flats=None, palette=())
    with pikepdf.open(write(tmp_path, Pdf(), bare)) as document:
        assert document.Root.OutputIntents[0].DestOutputProfile.N == 1
        assert set(document.pages[0].obj.Resources.XObject.keys()) == {"/Line"}


def test_paper_alone_is_no_colour_and_lines_made_light_are(tmp_path):
    light = replace(page(), flats=None, palette=(), overlay=Overlay(lines=0.5))
    inks = inks_in(write(tmp_path, Pdf("x1a"), light))
    assert inks[50, 50].tolist() == [0, 0, 0, 128]


def test_a_bitmap_holds_the_line_alone_and_says_so():
    for held in (False, True):
        sheet = page(held=held)
        cover = sheet_cover(sheet)
        assert (cover[sheet.alpha == 0] == 0).all()
        assert (cover[50, 50] == 255).all()
    frame = Frame.of(page().shape, page())
    assert "flats" in said_of_flats(frame)
    assert said_of_flats(replace(frame, palette=())) == ""
