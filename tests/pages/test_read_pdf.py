"""PDFs of scanned pages, put together with pikepdf: the image is taken out as it is."""

import base64
import struct
import subprocess
import sys
import zlib
from io import BytesIO

import imagecodecs
import numpy as np
import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name
from PIL import Image, ImageOps

from app.pages.read import count_pages, read
from core.fault import Refused
from tests.pages.read_making import AT_300, grey_page, pixels, rgb_page
from tests.pages.read_profiles import WIDE, grey_profile, matrix_profile

PLACE = b"q 12.72 0 0 8.88 20 30 cm /Im0 Do Q"  # 53 x 37 pixels at 300 ppi
GREY = {"ColorSpace": Name.DeviceGray, "BitsPerComponent": 8}
RGB = {"ColorSpace": Name.DeviceRGB, "BitsPerComponent": 8}


def image(pdf, data, width=53, height=37, **entries):
    stream = pdf.make_stream(data)
    stream.Type, stream.Subtype, stream.Width, stream.Height = (
        Name.XObject, Name.Image, width, height,
    )  # fmt: skip
    for name, value in entries.items():
        stream[f"/{name}"] = value
    return stream


def page(pdf, images, content=PLACE, **entries):
    listed = Dictionary({f"/Im{n}": item for n, item in enumerate(images)})
    new = pdf.add_blank_page(page_size=(100, 100))
    new.Contents = pdf.make_stream(content)
    new.Resources = Dictionary(XObject=listed)
    for name, value in entries.items():
        new.obj[f"/{name}"] = value


def save(tmp_path, *pages, name="a.pdf"):
    """``pages`` are (data, entries of the image, content, entries of the page)."""
    with pikepdf.new() as pdf:
        for data, entries, *more in pages:
            content = more[0] if more else PLACE
            made = entries(pdf) if callable(entries) else entries
            page(pdf, [image(pdf, data, **made)], content, **(more[1] if len(more) > 1 else {}))
        pdf.save(tmp_path / name, compress_streams=False)
    return tmp_path / name


def packed(data, predictor=None, **parameters):
    entries = {"Filter": Name.FlateDecode}
    if predictor:
        entries["DecodeParms"] = Dictionary(Predictor=predictor, Columns=53, **parameters)
    return zlib.compress(data), entries


def test_flate_and_raw(tmp_path):
    data, entries = packed(grey_page().tobytes())
    path = save(tmp_path, (data, {**entries, **GREY}))
    np.testing.assert_array_equal(pixels(path), grey_page())
    scan = read(path)
    assert (scan.ppi, scan.ppi_from, scan.notes) == (300, "the file", ())
    assert scan.stored == "grey, 8 bit, deflate, PDF"
    path = save(tmp_path, (rgb_page().tobytes(), RGB))
    np.testing.assert_array_equal(pixels(path), rgb_page())


def test_other_ways_to_pack_bytes(tmp_path):
    plain = grey_page().tobytes()
    for name, data in (
        ("LZWDecode", imagecodecs.lzw_encode(plain)),
        ("RunLengthDecode", imagecodecs.packbits_encode(plain) + b"\x80"),
        ("ASCIIHexDecode", plain.hex().encode() + b">"),
        ("ASCII85Decode", base64.a85encode(plain, wrapcol=60) + b"~>"),
    ):
        path = save(tmp_path, (data, {"Filter": Name(f"/{name}"), **GREY}))
        np.testing.assert_array_equal(pixels(path), grey_page(), name)
    twice = base64.a85encode(zlib.compress(plain)) + b"~>"
    filters = Array([Name.ASCII85Decode, Name.FlateDecode])
    path = save(tmp_path, (twice, {"Filter": filters, **GREY}))
    np.testing.assert_array_equal(pixels(path), grey_page())


@pytest.mark.parametrize(("dtype", "colours"), [(np.uint8, 1), (np.uint8, 3), (np.uint16, 1),
                                                (np.uint16, 3), (np.uint8, 4)])
def test_rows_differenced_as_in_png_and_in_tiff(tmp_path, dtype, colours):
    whole = grey_page(dtype=dtype)[..., None] if colours == 1 else rgb_page(dtype=dtype)
    if colours == 4:
        whole = np.dstack([whole, grey_page() // 3])
    raw = whole.astype(whole.dtype.newbyteorder(">"))
    space = {1: Name.DeviceGray, 3: Name.DeviceRGB, 4: Name.DeviceCMYK}[colours]
    bits = dtype().itemsize * 8
    entries = {"ColorSpace": space, "BitsPerComponent": bits}
    told = {"Colors": colours, "BitsPerComponent": bits}
    step = colours * dtype().itemsize
    rows = raw.reshape(37, -1).view(np.uint8).astype(int)
    left = np.pad(rows, ((0, 0), (step, 0)))[:, :-step]
    above = np.pad(rows, ((1, 0), (0, 0)))[:-1]
    filtered = b"".join(
        bytes([n % 4]) + ((row - [0 * a, a, b, (a + b) // 2][n % 4]) % 256)
        .astype(np.uint8).tobytes()
        for n, (row, a, b) in enumerate(zip(rows, left, above, strict=True))
    )  # fmt: skip
    plain_path = save(tmp_path, (raw.tobytes(), entries), name="plain.pdf")
    data, more = packed(filtered, 15, **told)
    path = save(tmp_path, (data, {**more, **entries}))
    expected = pixels(plain_path)
    if colours < 4:
        np.testing.assert_array_equal(expected, whole[..., 0] if colours == 1 else whole)
    np.testing.assert_array_equal(pixels(path), expected)
    changes = np.diff(whole, axis=1, prepend=whole[:, :1] * 0)
    data, more = packed(changes.astype(raw.dtype).tobytes(), 2, **told)
    path = save(tmp_path, (data, {**more, **entries}))
    np.testing.assert_array_equal(pixels(path), expected)


def test_one_bit_scans_in_fax_code(tmp_path):
    bits = grey_page() % 5 > 1
    picture = BytesIO()
    Image.fromarray(bits).save(picture, "tiff", compression="group4")
    with Image.open(picture) as opened:
        at, size = opened.tag_v2[273][0], opened.tag_v2[279][0]
        assert opened.tag_v2[262] == 1  # the fax code has Pillow's white, 1, as its black runs
    fax = picture.getvalue()[at:at + size]
    told = Dictionary(K=-1, Columns=53, Rows=37, BlackIs1=False)
    entries = {"Filter": Name.CCITTFaxDecode, "DecodeParms": told, "BitsPerComponent": 1}
    expected = np.where(bits, 255, 0)
    inverse = 255 - expected
    path = save(tmp_path, (fax, {**entries, "ColorSpace": Name.DeviceGray}))
    np.testing.assert_array_equal(pixels(path), inverse)
    path = save(tmp_path, (fax, {**entries, "ImageMask": True}))
    np.testing.assert_array_equal(pixels(path), inverse)
    path = save(tmp_path, (fax, {**entries, "ImageMask": True, "Decode": Array([1, 0])}))
    np.testing.assert_array_equal(pixels(path), expected)
    turned = {**entries, "ColorSpace": Name.DeviceGray,
              "DecodeParms": Dictionary(K=-1, Columns=53, BlackIs1=True)}
    path = save(tmp_path, (fax, turned))
    np.testing.assert_array_equal(pixels(path), expected)
    assert read(path).stored == "grey, 1 bit, CCITT, PDF"


def jpeg_of(picture, **options):
    file = BytesIO()
    picture.save(file, "jpeg", quality=92, **options)
    return file.getvalue()


def test_jpeg_is_taken_out_as_it_is(tmp_path):
    for made, space in ((rgb_page(), Name.DeviceRGB), (grey_page(), Name.DeviceGray)):
        data = jpeg_of(Image.fromarray(made), dpi=(72, 72))
        entries = {"Filter": Name.DCTDecode, "ColorSpace": space, "BitsPerComponent": 8}
        path = save(tmp_path, (data, entries))
        np.testing.assert_array_equal(pixels(path), np.asarray(Image.open(BytesIO(data))))
        assert read(path).ppi == 300
    assert read(path).stored == "grey, 8 bit, JPEG, PDF"
    twice = zlib.compress(data)
    filters = Array([Name.FlateDecode, Name.DCTDecode])
    path = save(tmp_path, (twice, {**GREY, "Filter": filters}))
    np.testing.assert_array_equal(pixels(path), np.asarray(Image.open(BytesIO(data))))


def test_cmyk_jpeg_is_inverted_only_where_the_page_says_so(tmp_path):
    ink = Image.new("CMYK", (53, 37), (255, 0, 0, 51))
    data = jpeg_of(ink, subsampling=0)
    entries = {"Filter": Name.DCTDecode, "ColorSpace": Name.DeviceCMYK, "BitsPerComponent": 8,
               "Decode": Array([1, 0] * 4)}
    np.testing.assert_allclose(pixels(save(tmp_path, (data, entries)))[9, 9], [0, 204, 204], atol=3)
    del entries["Decode"]
    np.testing.assert_allclose(pixels(save(tmp_path, (data, entries)))[9, 9], [51, 0, 0], atol=3)


@pytest.mark.parametrize("made", [grey_page(), rgb_page(), grey_page(dtype=np.uint16)])
def test_jpeg_2000(tmp_path, made):
    space = Name.DeviceRGB if made.ndim == 3 else Name.DeviceGray
    for form in ("jp2", "j2k"):
        data = imagecodecs.jpeg2k_encode(made, level=0, codecformat=form, reversible=True)
        path = save(tmp_path, (data, {"Filter": Name.JPXDecode, "ColorSpace": space}))
        np.testing.assert_array_equal(pixels(path), made)
    path = save(tmp_path, (data, {"Filter": Name.JPXDecode}))  # the codestream tells the colours
    np.testing.assert_array_equal(pixels(path), made)
    data = data[:len(data) // 2]
    with pytest.raises(Refused, match=r"a\.pdf: "):
        pixels(save(tmp_path, (data, {"Filter": Name.JPXDecode, "ColorSpace": space})))


def test_profiles_of_icc_based_colours(tmp_path):
    def told(profile, channels):
        def entries(pdf):
            stream = pdf.make_stream(zlib.compress(profile))
            stream.N, stream.Filter = channels, Name.FlateDecode
            return {"ColorSpace": Array([Name.ICCBased, stream]), "BitsPerComponent": 8}

        return entries

    for made, profile, channels in (
        (grey_page(), grey_profile(1.8), 1), (rgb_page(), matrix_profile(WIDE, 2.2), 3),
    ):  # fmt: skip
        path = save(tmp_path, (made.tobytes(), told(profile, channels)))
        twin = tmp_path / "twin.png"
        Image.fromarray(made).save(twin, icc_profile=profile)
        np.testing.assert_array_equal(pixels(path), pixels(twin))
        assert (pixels(path) != made).any()
        np.testing.assert_array_equal(pixels(path, profile=False), made)
    path = save(tmp_path, (made.tobytes(), told(b"nonsense", 3)))
    with pytest.raises(Refused, match=r"a\.pdf: its colour profile cannot be read"):
        read(path)


def test_palettes(tmp_path):
    table = bytes([255, 0, 0, 0, 255, 0, 0, 0, 255])
    indexed = {"ColorSpace": Array([Name.Indexed, Name.DeviceRGB, 2, pikepdf.String(table)]),
               "BitsPerComponent": 2, "width": 4, "height": 1}  # fmt: skip
    path = save(tmp_path, (bytes([0b00011011]), indexed))
    assert pixels(path)[0].tolist() == [[255, 0, 0], [0, 255, 0], [0, 0, 255], [0, 0, 0]]
    greys = {**indexed, "ColorSpace": Array([Name.Indexed, Name.DeviceGray, 1,
                                             pikepdf.String(b"\x09\xc8")])}
    path = save(tmp_path, (bytes([0b00010001]), greys))
    assert pixels(path)[0].tolist() == [9, 200, 9, 200]


TURNS = {0: 1, 90: 6, 180: 3, 270: 8}


@pytest.mark.parametrize("rotate", TURNS)
def test_a_turned_page(tmp_path, rotate):
    path = save(tmp_path, (rgb_page().tobytes(), RGB, PLACE, {"Rotate": rotate}))
    expected = np.rot90(rgb_page(), -rotate // 90)
    np.testing.assert_array_equal(pixels(path), expected)
    assert read(path).ppi == 300


@pytest.mark.parametrize(("matrix", "code"), [
    (b"12.72 0 0 8.88 0 0", 1), (b"-12.72 0 0 8.88 0 0", 2), (b"-12.72 0 0 -8.88 0 0", 3),
    (b"12.72 0 0 -8.88 0 0", 4), (b"0 -12.72 -8.88 0 0 0", 5), (b"0 -12.72 8.88 0 0 0", 6),
    (b"0 12.72 8.88 0 0 0", 7), (b"0 12.72 -8.88 0 0 0", 8),
])  # fmt: skip
def test_a_turned_image_is_as_a_viewer_shows_it(tmp_path, matrix, code):
    """Image space has its first row at the top of the unit square: ISO 32000-1, 8.9.5.1."""
    path = save(tmp_path, (rgb_page().tobytes(), RGB, b"q " + matrix + b" cm /Im0 Do Q"))
    exif = Image.Exif()
    exif[274] = code
    file = BytesIO()
    Image.fromarray(rgb_page()).save(file, "png", exif=exif.tobytes())
    expected = np.asarray(ImageOps.exif_transpose(Image.open(file)))
    np.testing.assert_array_equal(pixels(path), expected)
    assert read(path).ppi == 300
    # And by the matrix itself: the corner of the first pixel lies at (0, 1) of the unit square.
    a, b, c, d, *_ = (float(value) for value in matrix.split())
    corners = {(u, v): (a * u + c * v, -(b * u + d * v)) for u in (0, 1) for v in (0, 1)}
    left = min(x for x, _ in corners.values())
    top = min(y for _, y in corners.values())
    x, y = corners[0, 1]
    shown = pixels(path)
    at = shown[0 if y == top else -1, 0 if x == left else -1]
    assert at.tolist() == rgb_page()[0, 0].tolist()


def test_matrices_multiply_and_user_units_count(tmp_path):
    content = b"q 0.5 0 0 0.5 9 9 cm q 2 0 0 2 0 0 cm 25.44 0 0 17.76 0 0 cm /Im0 Do Q Q"
    path = save(tmp_path, (grey_page().tobytes(), GREY, content))
    assert read(path).ppi == 150
    path = save(tmp_path, (grey_page().tobytes(), GREY, content, {"UserUnit": 2}))
    assert read(path).ppi == 75


def test_words_that_were_recognised_do_not_count_and_seen_ones_are_noted(tmp_path):
    unseen = PLACE + b" BT 3 Tr /F0 9 Tf (hidden) Tj ET"
    assert not read(save(tmp_path, (grey_page().tobytes(), GREY, unseen))).notes
    clipped = b"0 0 9 9 re W n " + PLACE
    assert not read(save(tmp_path, (grey_page().tobytes(), GREY, clipped))).notes
    for more in (b" BT /F0 9 Tf (seen) Tj ET", b" 0 0 9 9 re f"):
        notes = read(save(tmp_path, (grey_page().tobytes(), GREY, PLACE + more))).notes
        assert notes == ("Its page also holds text or drawing, which was left out.",)


def test_an_image_inside_a_form(tmp_path):
    with pikepdf.new() as pdf:
        form = pdf.make_stream(PLACE)
        form.Subtype, form.Matrix = Name.Form, Array([2, 0, 0, 2, 0, 0])
        form.Resources = Dictionary(XObject=Dictionary(
            Im0=image(pdf, grey_page().tobytes(), **GREY)
        ))  # fmt: skip
        page(pdf, [form])
        pdf.pages[0].Contents = pdf.make_stream(b"/Im0 Do")
        pdf.save(tmp_path / "a.pdf")
    np.testing.assert_array_equal(pixels(tmp_path / "a.pdf"), grey_page())
    assert read(tmp_path / "a.pdf").ppi == 150


def test_every_page_is_numbered(tmp_path):
    path = save(tmp_path, *[(bytes([n]) * 53 * 37, GREY) for n in (10, 20, 30)])
    assert count_pages(path) == 3
    assert [int(pixels(path, number=n)[0, 0]) for n in (1, 2, 3)] == [10, 20, 30]
    scan = read(path, 2)
    assert (scan.number, scan.count) == (2, 3)


@pytest.mark.parametrize(("content", "says"), [
    (b"BT /F0 9 Tf (words) Tj ET", "its page holds no scanned image, only text or drawing"),
    (b"", "its page holds no scanned image"),
    (PLACE + PLACE, "its page is put together from 2 images"),
    (b"q 9 9 -9 9 0 0 cm /Im0 Do Q", "its image lies askew on the page"),
    (b"q 0 0 0 0 0 0 cm /Im0 Do Q", "the file does not say its resolution"),
    (b"BI /W 1 /H 1 /BPC 8 /CS /G ID x EI", "its page holds an image inside its text"),
    (b"/Im9 Do", "it is a broken PDF"),
    (b"/Im0 cm Q Q Do", "it is a broken PDF"),
])  # fmt: skip
def test_pages_that_are_not_one_scanned_image(tmp_path, content, says):
    path = save(tmp_path, (grey_page().tobytes(), GREY, content))
    with pytest.raises(Refused, match=rf"^a\.pdf: {says}"):
        read(path)


@pytest.mark.parametrize(("entries", "says"), [
    ({"Filter": Name.JBIG2Decode}, "its image is packed as JBIG2, which is not read; scan it"),
    ({"Mask": Array([0, 1])}, "its image has a mask"),
    ({"ColorSpace": Array([Name.Separation, Name.Gold, Name.DeviceGray, Dictionary()])},
     "its image has Separation colours"),
    ({"Decode": Array([0, 0.5])}, "its image stretches its tones"),
    ({"BitsPerComponent": 3}, "its picture data are broken"),
    ({"width": 100_000, "height": 100_000}, "it says it is 100000 x 100000 pixels"),
    ({"width": -5}, "it says it is -5 x 37 pixels"),
    ({"ColorSpace": Name.DeviceRGB, "Filter": Name.DCTDecode}, "its picture data are broken"),
])  # fmt: skip
def test_images_that_are_not_read(tmp_path, entries, says):
    path = save(tmp_path, (grey_page().tobytes(), {**GREY, **entries}))
    with pytest.raises(Refused, match=rf"^a\.pdf: {says}"):
        read(path)


@pytest.mark.parametrize(("data", "entries"), [
    (grey_page().tobytes()[:900], {}),
    (zlib.compress(grey_page().tobytes())[:60], {"Filter": Name.FlateDecode}),
    (b"nonsense", {"Filter": Name.FlateDecode}),
    (b"", {"Filter": Name.LZWDecode}),
])  # fmt: skip
def test_images_that_are_too_short(tmp_path, data, entries):
    path = save(tmp_path, (data, {**GREY, **entries}))
    with pytest.raises(Refused, match=r"^a\.pdf: (the file ends before|its picture data are bro)"):
        pixels(path)


def test_locked_and_broken_files(tmp_path):
    path = save(tmp_path, (grey_page().tobytes(), GREY))
    with pikepdf.open(path) as pdf:
        pdf.save(tmp_path / "locked.pdf", encryption=pikepdf.Encryption(user="word", owner="own"))
        pdf.save(tmp_path / "open.pdf", encryption=pikepdf.Encryption(user="", owner="own"))
    with pytest.raises(Refused, match=r"^locked\.pdf: it is locked with a password; unlock it"):
        count_pages(tmp_path / "locked.pdf")
    np.testing.assert_array_equal(pixels(tmp_path / "open.pdf"), grey_page())
    (tmp_path / "b.pdf").write_bytes(b"%PDF-1.7\nnothing of the kind")
    with pytest.raises(Refused, match=r"^b\.pdf: it is a broken PDF; save it again"):
        read(tmp_path / "b.pdf")
    with pikepdf.new() as pdf:
        pdf.save(tmp_path / "empty.pdf")
    with pytest.raises(Refused, match=r"^empty\.pdf: it is a PDF without a page"):
        read(tmp_path / "empty.pdf")


BOMB = """
import resource, sys
from pathlib import Path
from app.pages.read import read
from app.pages.resolution import Ppi
from app.pages import pdf_in
from core.fault import Refused
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try:
    scan = read(Path(sys.argv[1]), given=Ppi(300))
    print(scan.rows(0, 37).shape)
except Refused as refused:
    print(refused)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
"""


@pytest.fixture(scope="module")
def bomb():
    """A stream that unpacks to 300 million bytes."""
    packer = zlib.compressobj(1)
    return b"".join(packer.compress(bytes(1_000_000)) for _ in range(300)) + packer.flush()


@pytest.mark.skipif(sys.platform == "win32", reason="peak memory is read the POSIX way")
def test_forms_that_draw_one_another_over_and_over_end(tmp_path):
    with pikepdf.new() as pdf:
        form = pdf.make_stream(b"0 0 m 1 1 l S")
        form.Subtype = Name.Form
        for _ in range(7):  # each draws the one before thirty times, in all thirty to the seventh
            outer = pdf.make_stream(b"/Inner Do " * 30)
            outer.Subtype, outer.Resources = Name.Form, Dictionary(XObject=Dictionary(Inner=form))
            form = pdf.make_indirect(outer)
        page(pdf, [form])
        pdf.save(tmp_path / "a.pdf")
    with pytest.raises(Refused, match=r"a\.pdf: its page is nested too deep"):
        read(tmp_path / "a.pdf")


@pytest.mark.parametrize("where", ["image", "content", "profile"])
def test_streams_that_unpack_to_fill_the_memory_do_not(tmp_path, bomb, where):
    with pikepdf.new() as pdf:
        stream = pdf.make_stream(bomb)
        stream.Filter = Name.FlateDecode
        entries = dict(GREY)
        data = grey_page().tobytes()
        if where == "image":
            data, entries["Filter"] = bomb, Name.FlateDecode
        if where == "profile":
            stream.N = 1
            entries["ColorSpace"] = Array([Name.ICCBased, stream])
        page(pdf, [image(pdf, data, **entries)])
        if where == "content":
            pdf.pages[0].Contents = stream
        pdf.save(tmp_path / "a.pdf", compress_streams=False)
    out = subprocess.run(
        [sys.executable, "-c", BOMB, str(tmp_path / "a.pdf")], capture_output=True, text=True,
        check=True,
    ).stdout.splitlines()
    # Only what the picture needs is unpacked of the first; the others are refused.
    assert (out[0] == "(37, 53)") == (where == "image")
    assert int(out[-1]) < 150_000  # KiB


def test_jpeg_2000_of_an_absurd_size_is_refused_by_its_header(tmp_path):
    data = imagecodecs.jpeg2k_encode(grey_page(), level=0, codecformat="j2k")
    huge = data[:8] + struct.pack(">II", 1 << 20, 1 << 20) + data[16:]
    path = save(tmp_path, (huge, {"Filter": Name.JPXDecode, "ColorSpace": Name.DeviceGray}))
    with pytest.raises(Refused, match="it says it is 1048576 x 1048576 pixels"):
        read(path, given=AT_300)
