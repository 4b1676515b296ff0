"""``stetline proof`` and ``stetline strip``, from arguments to files and exit status."""

import json
import re
from dataclasses import replace
from html import escape

import numpy as np
import pikepdf
import pypdfium2
import pytest
from PIL import Image

from app.command import main
from app.filters.drop_specks import DropSpecks
from app.pages.lists import write_list
from app.pages.trims import Crossing, TrimRule
from app.proof.prove import Order, prove
from app.proof.said import figures, findings
from app.proof.sheet import Proved, proof_sheet
from app.replay.printing import Wide
from core.fault import Cancelled
from core.press.presses import CAUTION, Press
from core.press.screens import Screen
from core.steps.steplist import StepList
from tests.proof.proof_pages import PPI, hatch, paper, scan, strokes, toned, white_for
from tests.replay.browser import Browser

CLEAR, VEILED = toned(226), toned(white_for(0.04))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Two pages, a list that clears them, and one that leaves a veil."""
    place = tmp_path_factory.mktemp("proof")
    for name in ("one & two.png", "three.png"):
        page = scan(hatch(strokes(paper(500, 400)), 219)).grey
        Image.fromarray(page).save(place / name, dpi=(PPI, PPI))
    write_list(place / "clear.json", CLEAR)
    write_list(place / "veiled.json", VEILED)
    return place


def run(folder, *more, pages=("three.png",), steps="clear.json"):
    return main(["proof", *(str(folder / page) for page in pages), "--list", str(folder / steps),
                 "--cores", "1", *map(str, more)])


def test_a_clean_page_ends_with_0_and_is_said(folder, capsys):
    assert run(folder, "--width", 20) == 0
    said = capsys.readouterr().out
    assert "nothing would print that should not" in said
    assert "three.png: 20.0 x 25.0 mm in print, 508 ppi, grey" in said
    assert CAUTION in said
    assert "ISO 12647-2:2013" in said


def test_a_veil_ends_with_1(folder, capsys):
    assert run(folder, steps="veiled.json") == 1
    said = capsys.readouterr().out
    assert "will print" in said
    assert "keep marks would clear" in said


def test_json_says_the_same(folder, capsys):
    assert run(folder, "--json", "--press", "newsprint", steps="veiled.json") == 1
    said = json.loads(capsys.readouterr().out)
    [page] = said["pages"]
    assert said["press"]["name"] == page["press"] == "newsprint"
    assert page["clean"] is False
    assert page["residue"]["will_print_mm2"] > 100
    assert page["residue"]["regions"][0]["verdict"] == "will print"
    assert page["caution"] == CAUTION
    assert said["faults"] == []


def test_a_sheet_and_a_book_are_written(folder, tmp_path):
    sheet, book = tmp_path / "sheet.html", tmp_path / "book.pdf"
    status = run(folder, "--proof-sheet", sheet, "--book", book, "--width", 30, "--trim", "sheet",
                 "--trim-size", "20x30mm", "--print-form", "1-bit", "--screen", "60@45",
                 pages=("one & two.png", "three.png"))
    assert status == 0
    text = sheet.read_text("utf-8")
    assert "one &amp; two.png" in text
    assert text.count("data:image/png;base64,") == 2
    assert not re.search(r'(?:src|href)="(?!data:)|url\((?!#)', text)  # nothing is fetched
    assert escape(CAUTION) in text
    assert "Lift the ink off the paper in black." in text
    with pikepdf.open(book) as document:
        assert len(document.pages) == 2
        bounds = [float(side) for side in document.pages[0].obj.TrimBox]
        assert (bounds[2] - bounds[0]) / 72 * 25.4 == pytest.approx(20, abs=0.01)
        assert (bounds[3] - bounds[1]) / 72 * 25.4 == pytest.approx(30, abs=0.01)


def test_bleed_follows_the_unit_of_the_trim(folder, tmp_path):
    book = tmp_path / "book.pdf"
    run(folder, "--book", book, "--trim-size", "1x1.5in")
    with pikepdf.open(book) as document:
        page = document.pages[0].obj
        assert float(page.TrimBox[0]) - float(page.BleedBox[0]) == pytest.approx(9, abs=0.01)


def test_a_book_says_which_pages_it_lacks(folder, tmp_path, capsys):
    bad, book, sheet = tmp_path / "bad.png", tmp_path / "book.pdf", tmp_path / "sheet.html"
    bad.write_bytes(b"no picture")
    assert run(folder, bad, "--book", book, "--proof-sheet", sheet) == 1
    assert f"{book} has 1 of 2 pages; it lacks bad.png." in capsys.readouterr().out
    assert "Missing here: bad.png." in sheet.read_text("utf-8")


def test_pages_that_cannot_be_read_are_named_and_the_others_go_on(folder, tmp_path, capsys):
    bad = tmp_path / "bad.png"
    bad.write_bytes(b"no picture")
    assert main(["proof", str(bad), str(folder / "three.png"), "--list",
                 str(folder / "clear.json")]) == 1
    said = capsys.readouterr()
    assert "bad.png" in said.err
    assert "three.png" in said.out


@pytest.mark.parametrize("wrong", [
    ("--press", "letterpress"), ("--screen", "a"), ("--width", "0"), ("--height", "0"),
    ("--trim-size", "pocket"), ("--trim-size", "0.5x0.5mm"),
    ("--screen", "900", "--print-form", "1-bit"),
    ("--nudge", "2", "0"), ("--nudge", "1e9", "0", "--trim", "sheet"), ("--bleed", "nan"),
])
def test_a_wrong_request_ends_with_2_and_the_option_is_named(folder, tmp_path, wrong, capsys):
    assert run(folder, *wrong) == 2
    assert wrong[0] in capsys.readouterr().err
    if wrong[0] not in ("--press", "--width", "--height"):
        assert main(["replay", str(folder / "clear.json"), str(folder / "three.png"), "--into",
                     str(tmp_path), "--rendition", "pdf", *wrong]) == 2
        assert capsys.readouterr().err.startswith(wrong[0])


def test_a_page_whose_trim_is_not_placed_is_left_out_of_the_book(folder, tmp_path, capsys):
    page = np.full((500, 400), 230, np.uint8)
    page[50:450, 50:350] = 20
    page[56:444, 56:344] = 230
    Image.fromarray(page).save(tmp_path / "bordered.png", dpi=(PPI, PPI))
    book = tmp_path / "book.pdf"
    assert run(folder, tmp_path / "bordered.png", "--trim", "borders", "--book", book) == 1
    said = capsys.readouterr()
    assert f"{book} has 1 of 2 pages; it lacks three.png." in said.out
    assert "three.png: its trim is not placed: its panel borders were not found" in said.err
    with pikepdf.open(book) as document:
        [only] = document.pages
        wide = float(only.obj.TrimBox[2]) - float(only.obj.TrimBox[0])
        assert wide / 72 * PPI == pytest.approx(300, abs=4)
    book.unlink()
    assert run(folder, "--trim", "borders", "--book", book) == 1
    assert "book.pdf: it is not written, since no page of it is left" in capsys.readouterr().err
    assert not book.exists()


def test_a_page_that_would_be_absurdly_large_is_named_and_the_others_go_on(folder, capsys):
    assert run(folder, "--print-form", "1-bit", "--width", 5000, "--print-ppi", 5080) == 1
    assert capsys.readouterr().err.startswith("three.png: it would have 1000000 x ")


def test_replay_writes_bitmaps_and_pdf(folder, tmp_path):
    assert main(["replay", str(folder / "clear.json"), str(folder / "three.png"), "--into",
                 str(tmp_path), "--rendition", "bitmap", "--rendition", "pdf", "--print-ppi",
                 "600", "--print-width", "16.9333333", "--cores", "1"]) == 0
    with Image.open(tmp_path / "three-bitmap.tif") as picture:
        assert picture.mode == "1"
        assert picture.size == (400, 500)
    with pikepdf.open(tmp_path / "three-page.pdf") as document:
        [page] = document.pages
        bounds = [float(side) for side in page.obj.TrimBox]
        assert (bounds[2] - bounds[0]) / 72 * 25.4 == pytest.approx(16.933, abs=0.01)


def test_a_strip_and_what_is_read_off_it(folder, tmp_path, capsys):
    assert main(["strip", str(tmp_path / "strip.pdf")]) == 0
    assert f"The strip is in {tmp_path / 'strip.pdf'}" in capsys.readouterr().out
    assert (tmp_path / "strip.pdf").read_bytes().startswith(b"%PDF-1.6")
    mine = tmp_path / "mine.json"
    assert main(["strip", str(mine), "--held", "8", "10", "0.35", "0.75"]) == 0
    for wrong in (["none.json"], ["none.xyz"], ["none.json", "--held", "4", "2", ".35", ".7"],
                  ["none.json", "--held", "200", "4", "-1", "0"],
                  ["none.pdf", "--held", "1", "2", ".35", ".7"]):
        assert main(["strip", str(tmp_path / wrong[0]), *wrong[1:]]) == 2
        assert not (tmp_path / wrong[0]).exists()
    capsys.readouterr()
    assert run(folder, "--press", mine, steps="veiled.json") == 0  # it holds no 4 %
    assert "my printer" in capsys.readouterr().out


def test_the_sheet_marks_what_would_print_and_speaks_plainly():
    proof = prove(scan(hatch(strokes(paper()), 219)), VEILED, Order(Press(name="<own>")))
    text = proof_sheet("A book & more", "2 May", [Proved.of("a<b", proof, contact=True)])
    assert "a&lt;b" in text
    assert "A book &amp; more" in text
    assert "&lt;own&gt;" in text
    assert "url(#hatch)" in text
    assert "On 1 of 1 pages" in text
    assert text.count("<section>") == text.count("</section>") == 2
    assert "hatched is what may print, in a whole outline what will" in text
    assert "the trim" not in text
    two = proof_sheet("A book", "2 May", [Proved.of(name, proof, contact=True) for name in "ab"])
    names = re.findall(r' id="([^"]+)"', two)
    assert sorted(set(names)) == sorted(names), "a name stands once in a document"
    assert names == ["hatch"]
    assert "width:58.00mm;--paper:58.00mm" in text, "as small on paper, and no smaller"
    trimmed = prove(scan(paper()), CLEAR, Order(Press(), trim=TrimRule("sheet", 40, 40)))
    text = proof_sheet("A book", "2 May", [Proved.of("a", trimmed)])
    assert "the blue dashes are the trim" in text
    assert "hatched" not in text


def test_the_sheet_says_a_list_once_though_pages_settle_it_each_by_its_own_paper():
    steps = StepList("dust", (DropSpecks(), *CLEAR.steps))
    proofs = [prove(scan(strokes(paper(noise=noise))), steps, Order(Press()))
              for noise in (0.6, 1.4)]
    assert proofs[0].settled != proofs[1].settled
    text = proof_sheet("A book", "2 May", [Proved.of("a", proof) for proof in proofs])
    assert text.count("What was done") == text.count("<h2>What was done</h2>") == 1


def test_printed_the_sheet_has_its_pictures_at_print_size_or_says_that_they_are_smaller(tmp_path):
    page = scan(strokes(paper(400, 600)))
    asked = (100, 210, 400)  # the last is too wide for office paper
    proofs = [prove(page, CLEAR, Order(Press(), size=Wide(wide))) for wide in asked]
    (tmp_path / "sheet.html").write_text(
        proof_sheet("A book", "2 May", [Proved.of("a", proof) for proof in proofs]), "utf-8")
    with Browser() as browser:
        browser.open(tmp_path / "sheet.html")
        assert browser.run(
            "return [...document.images].map(i => i.clientWidth / 96 * 25.4)",
        ) == pytest.approx(asked, abs=0.3)
        printed = browser.printed()
    widths = []
    with pypdfium2.PdfDocument(printed) as document:
        for sheet in document:
            for image in sheet.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE], max_depth=5):
                left, _, right, _ = image.get_bounds()
                widths.append((right - left) / 72 * 25.4)
                assert left >= 0
                assert right < sheet.get_width()
        said = "".join(sheet.get_textpage().get_text_range() for sheet in document)
    assert widths == pytest.approx((100, 210, 155 * 600 / 400), abs=0.6)
    assert said.count("shown at print size") == 3
    assert " ".join(said.split()).count("shown at print size on the screen") == 1


def test_figures_are_json_and_findings_are_graded():
    order = Order(Press(), "1-bit", ppi=600, cut=Screen(60), size=Wide(40))
    proof = prove(scan(hatch(strokes(paper()), 219)), CLEAR, order)
    assert json.loads(json.dumps(figures(proof)))["form"] == "1-bit"
    assert any("do not scale" in one.said for one in findings(proof))
    assert {one.grade for one in findings(proof)} <= {"good", "warn", "strong"}
    assert set(np.unique(proof.out.alpha)) == {0, 255}


def test_of_what_may_print_that_none_surely_will_is_said_in_words():
    proof = prove(scan(hatch(strokes(paper()), 219)), VEILED, Order(Press()))
    for will, said in ((0.0, "none of it surely"), (1.5, "1.50 mm2 of it will")):
        residue = replace(proof.residue, will=will)
        assert findings(replace(proof, residue=residue))[0].said.endswith(said)


def test_a_trim_beyond_the_scan_is_said_and_no_length_is_said_to_be_none():
    page = paper()
    page[:, :40] = 20
    height, width = (side / PPI * 25.4 for side in page.shape)
    rule = TrimRule("sheet", width + 4, height - 10)
    proof = prove(scan(page), CLEAR, Order(Press(), trim=rule))
    [beyond] = [one.said for one in findings(proof) if "reaches beyond" in one.said]
    assert beyond.endswith("2.0 mm at the left and 2.0 mm at the right: bare there")
    short = Crossing("left", 5.0, 0.2)
    assert any(one.said.startswith("5 mm of ink cross the trim at the left, and less than 1 mm of")
               for one in findings(replace(proof, crossings=(short,))))


def test_a_proof_can_be_stopped():
    def stop(done, total):
        if done == 2:
            raise Cancelled

    with pytest.raises(Cancelled):
        prove(scan(strokes(paper())), CLEAR, Order(Press()), watch=stop)
