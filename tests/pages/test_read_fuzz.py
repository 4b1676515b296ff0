"""Files cut short or changed anywhere: a page whose rows can be had, or a refusal; nothing else."""

from io import BytesIO

import imagecodecs
import numpy as np
import pikepdf
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from app.pages.limits import Limits
from app.pages.listing import list_pages
from app.pages.read import read
from core.fault import Refused
from tests.pages.read_making import AT_300, grey_page, rgb_page
from tests.pages.read_profiles import WIDE, matrix_profile

SMALL = Limits(pixels=1_000_000)
PROFILE = matrix_profile(WIDE, 2.2)


def tiff_bytes(page, **options):
    file = BytesIO()
    tifffile.imwrite(file, page, metadata=None, resolution=(300, 300), **options)
    return file.getvalue()


def pillow_bytes(page, kind, **options):
    file = BytesIO()
    Image.fromarray(page).save(file, kind, dpi=(300, 300), **options)
    return file.getvalue()


def pdf_bytes():
    with pikepdf.new() as pdf:
        page = pdf.add_blank_page(page_size=(100, 100))
        image = pdf.make_stream(rgb_page().tobytes())
        image.Type, image.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
        image.Width, image.Height, image.BitsPerComponent = 53, 37, 8
        image.ColorSpace = pikepdf.Name.DeviceRGB
        page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Im0=image))
        page.Contents = pdf.make_stream(b"q 12.72 0 0 8.88 20 30 cm /Im0 Do Q")
        file = BytesIO()
        pdf.save(file)
    return file.getvalue()


WHOLE = {
    "raw.tif": tiff_bytes(grey_page(), photometric="minisblack", rowsperstrip=9),
    "lzw.tif": tiff_bytes(rgb_page(), photometric="rgb", compression="lzw", predictor=2,
                          iccprofile=PROFILE),
    "tiles.tif": tiff_bytes(grey_page(dtype=np.uint16), photometric="minisblack",
                            compression="deflate", tile=(16, 16), byteorder=">", bigtiff=True),
    "jpeg.tif": tiff_bytes(rgb_page(), photometric="ycbcr", compression="jpeg", rowsperstrip=16),
    "fax.tif": pillow_bytes(grey_page() > 99, "tiff", compression="group4"),
    "palette.tif": pillow_bytes(grey_page(), "tiff"),
    "grey.png": pillow_bytes(grey_page(), "png", icc_profile=PROFILE),
    "deep.png": imagecodecs.png_encode(rgb_page(dtype=np.uint16)),
    "grey.jpg": pillow_bytes(grey_page(), "jpeg", icc_profile=PROFILE),
    "rgb.jpg": pillow_bytes(rgb_page(), "jpeg", progressive=True),
    "rgb.webp": pillow_bytes(rgb_page(), "webp", lossless=True),
    "grey.bmp": pillow_bytes(grey_page(), "bmp"),
    "scan.pdf": pdf_bytes(),
}  # fmt: skip


def read_all(path, data):
    """The page as read, or None where it was refused, with one fault that names the file."""
    path.write_bytes(data)
    faults = ()
    try:
        scan = read(path, given=AT_300, limits=SMALL)
        for top in range(0, scan.shape[0], 16):
            bottom = min(top + 16, scan.shape[0])
            assert scan.rows(top, bottom).shape == (bottom - top, scan.shape[1])
    except Refused as refused:
        faults = refused.faults
    if not faults:
        return scan
    assert len(faults) == 1
    assert faults[0].where.startswith(path.name)
    return None


@pytest.mark.parametrize("name", WHOLE)
def test_the_whole_files_are_read(tmp_path, name):
    assert read_all(tmp_path / name, WHOLE[name]).shape == (37, 53)


@pytest.mark.parametrize("name", WHOLE)
def test_cut_anywhere(tmp_path, name):
    whole = WHOLE[name]
    refused = 0
    cuts = sorted({*range(0, 64, 7), *range(64, len(whole) - 1, max(len(whole) // 40, 1))})
    for cut in cuts:
        refused += read_all(tmp_path / name, whole[:cut]) is None
    # A library may mend a PDF that lost its end; every other file is refused wherever it is cut.
    assert refused == len(cuts) or name.endswith("pdf")


@pytest.mark.parametrize("name", WHOLE)
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(changes=st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)),
                        min_size=1, max_size=6),
       front=st.booleans())
def test_changed_anywhere(tmp_path, name, changes, front):
    data = bytearray(WHOLE[name])
    reach = min(200, len(data)) if front else len(data)
    for place, value in changes:
        data[int(place * reach)] = value
    path = tmp_path / name
    read_all(path, bytes(data))
    list_pages([path])


@given(st.binary(max_size=200), st.sampled_from([data[:8] for data in WHOLE.values()]))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_true_beginning_and_then_nonsense(tmp_path, noise, start):
    read_all(tmp_path / "a.tif", start + noise)
