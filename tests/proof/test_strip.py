"""The test strip: a bar of 100 mm, veils, lines; as a PDF and as pixels."""

import errno
import subprocess
import sys
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest
from PIL import Image

from app.pages.renditions import Pdf
from app.proof.press_file import find_press, read_press, write_press
from app.proof.strip import LINES, SIZE, VEILS, Words, draw_strip, shapes, write_strip
from core.fault import Refused
from core.press.presses import PRESSES, my_printer

PPI = 1200


def at(plane, x, y, wide, high):
    """The part of a picture at ``ppi`` that lies in a box of mm."""
    scale = plane.shape[1] / SIZE[0]
    return plane[round(y * scale) : round((y + high) * scale),
                 round(x * scale) : round((x + wide) * scale)]


def test_the_bar_is_100_mm_in_the_pixels():
    bar = at(draw_strip(PPI), 0, 5.5, 120, 1)
    columns = np.flatnonzero(bar.max(axis=0) > 127)
    assert (columns[-1] - columns[0] + 1) / PPI * 25.4 == pytest.approx(100, abs=0.05)


def test_veils_are_of_the_asked_cover_in_the_pixels():
    strip = draw_strip(300)
    for number, cover in enumerate(VEILS):
        patch = at(strip, 10 + number * 15.6, 24, 9, 9)
        assert patch.mean() / 255 * 100 == pytest.approx(cover, abs=0.2)


def test_a_line_of_pixels_is_solid_and_as_wide_as_it_is_called():
    strip = draw_strip(PPI)
    called = [shape.text for shape in shapes(PPI) if isinstance(shape, Words)
              and shape.text.endswith(" pt")]
    assert called[2:6:2] == ["0.18 pt", "0.24 pt"], "3 and 4 pixels of 1200 to the inch"
    for number, points in enumerate(LINES):
        said = float(called[2 * number].split()[0])
        assert said == pytest.approx(points, abs=0.5 / PPI * 72 + 0.005)
        for top, ink in ((43.5, 255), (64, 0)):
            down = at(strip, 10 + number * 17.8, top, 5, 1.5)[:, 20]
            assert set(down.tolist()) == {0, 255}
            assert (down == ink).sum() / PPI * 72 == pytest.approx(said, abs=0.006)


def test_the_strip_says_where_what_is_read_off_it_goes_and_does_not_call_itself_a_screen_proof():
    said = " ".join(shape.text for shape in shapes() if isinstance(shape, Words))
    assert "stetline strip press.json --held" in said
    assert "screen proof" not in said


def test_the_pdf_is_the_same_strip(tmp_path):
    path = tmp_path / "strip.pdf"
    write_strip(path, Pdf(), durable=False)
    with pikepdf.open(path) as document:
        assert document.check_pdf_syntax() == []
        content = document.pages[0].Contents.read_bytes().decode()
        bounds = [float(side) for side in document.pages[0].obj.TrimBox]
    assert bounds[2] / 72 * 25.4 == pytest.approx(SIZE[0], abs=0.01)
    assert "0.0050 scn" in content  # half a percent goes to the printer's own screen
    with pypdfium2.PdfDocument(path) as document:
        picture = document[0].render(scale=300 / 72).to_numpy()[..., 0]
    pixels = 255 - draw_strip(300).astype(int)
    for number in range(len(VEILS)):
        box = (10 + number * 15.6, 24, 9, 9)
        assert at(picture, *box).mean() == pytest.approx(at(pixels, *box).mean(), abs=1)
    bar = np.flatnonzero(at(picture, 0, 5.5, 120, 1).min(axis=0) < 128)
    assert (bar[-1] - bar[0] + 1) / 300 * 25.4 == pytest.approx(100, abs=0.2)


def test_the_tiff_is_grey_at_1200(tmp_path):
    path = tmp_path / "strip.tif"
    write_strip(path, Pdf(), durable=False)
    Image.MAX_IMAGE_PIXELS = None
    with Image.open(path) as picture:
        assert picture.mode == "L"
        assert picture.info["dpi"] == (1200, 1200)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device here that is always full")
def test_a_full_disk_beneath_a_pdf_is_an_error_like_any_other():
    script = (
        "import numpy as np\n"
        "from app.pages.pdf_out import PdfPage\n"
        "from app.pages.picture import Frame\n"
        "from app.pages.renditions import Pdf\n"
        "from core.sheet import Sheet\n"
        "sheet = Sheet(ppi=300, alpha=np.zeros((99, 99), np.uint8))\n"
        "try:\n"
        "    with open('/dev/full', 'wb') as file:\n"
        "        page = PdfPage(file, Frame.of(sheet.shape, sheet), Pdf(), 'page')\n"
        "        page.add(page.pack(sheet, 0))\n"
        "        page.close()\n"
        "except OSError as error:\n"
        "    print(error.errno)\n"
    )
    told = subprocess.run([sys.executable, "-c", script], cwd=Path(__file__).parents[2],
                          capture_output=True, text=True, check=True)
    assert int(told.stdout) == errno.ENOSPC


def test_what_was_read_off_a_strip_is_kept(tmp_path):
    mine = my_printer(PRESSES["inkjet"], faintest=1, even=2, line=0.2, reversed_line=0.35)
    path = tmp_path / "my printer.json"
    write_press(path, mine)
    assert read_press(path) == mine == find_press(str(path))


@pytest.mark.parametrize("text", [
    "", "{}", "[]", '{"format": "stetline press", "version": 2}',
    '{"format": "stetline press", "version": 1, "holds": 400}',
    '{"format": "stetline press", "version": 1, "hold": 3}',
    '{"format": "stetline press", "version": 1, "may_print": 5, "holds": 3}',
])
def test_a_press_file_that_is_none_is_refused(tmp_path, text):
    path = tmp_path / "press.json"
    path.write_text(text)
    with pytest.raises(Refused):
        read_press(path)
    with pytest.raises(Refused, match="choose one of coated"):
        find_press("letterpress")
    with pytest.raises(Refused, match="cannot be read"):
        find_press(str(tmp_path / "none.json"))
