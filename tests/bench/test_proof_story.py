"""Sittings with the proof, driven by the events that hands make."""

import json
from dataclasses import replace

import cv2
import numpy as np
import pikepdf
import pytest
from PIL import Image
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QFileDialog

from app.bench.opening import Opening
from app.bench.state.hatch import PRINTS
from app.bench.state.job import find_pages
from app.kinds import KINDS
from app.pages.trims import TrimRule
from app.proof.press_file import read_press
from app.replay.job import loads_job
from app.replay.printing import Printing, Scaled
from core.press.size import mm_to_points
from tests.bench.conftest import settle
from tests.bench.test_story import drag_handle
from tests.proof.proof_pages import paper, scan, strokes, toned, white_for

LEFT = Qt.MouseButton.LeftButton
CTRL = Qt.KeyboardModifier.ControlModifier
VEIL = (40, 430, 210, 560)  # left, top, right, bottom of what the paper's stain leaves


def stained():
    """Strokes on paper, and a pale stain that the white point leaves as a veil of 2 %.

    It fades, as no wash does.
    """
    page = strokes(paper())
    left, top, right, bottom = VEIL
    stain = np.zeros(page.shape)
    stain[top:bottom, left:right] = 8
    return scan(page - cv2.GaussianBlur(stain, (0, 0), 12)).grey


def put_on_rack(bench, qtbot, path):
    """A page put on the rack with a list, and shown."""
    job = bench.desk.job.now
    page = replace(find_pages((path,)).pages[0], steps=toned(226))
    made = replace(job, pages=(*job.pages, page))
    bench.become(bench.desk.then(made, "put a page on the rack").on_page(len(job.pages)))
    settle(qtbot, bench)


@pytest.fixture
def proved(bench, qtbot, tmp_path):
    """The bench with the stained page under a list, its Proof panel opened by its key."""
    path = tmp_path / "stained.png"
    Image.fromarray(stained()).save(path, dpi=(300, 300))
    put_on_rack(bench, qtbot, path)
    assert bench.window.proof.headline.text() == ""
    qtbot.keyClick(bench.window, Qt.Key.Key_F3)
    settle(qtbot, bench)
    return bench


def said(bench):
    return bench.window.proof.headline.text()


def hatched(bench):
    """Whether the hatch of what would print shows anywhere on the page."""
    bench.viewing.look(replace(bench.desk.looking, side="after"))
    image = bench.window.page.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    pixels = np.frombuffer(image.constBits(), np.uint32).reshape(image.height(), image.width())
    return bool((pixels[60:] & 0xFFFFFF == PRINTS & 0xFFFFFF).any())


def test_a_veil_is_hatched_gone_to_cleared_and_the_page_exported(proved, qtbot, tmp_path):
    bench, panel = proved, proved.window.proof
    assert "would print that should not" in said(bench)
    assert bench.desk.looking.aside == "proof"
    assert hatched(bench)
    assert panel.offers["all"].isVisible()

    item = panel.list.item(1)
    qtbot.mouseClick(panel.list.viewport(), LEFT, pos=panel.list.visualItemRect(item).center())
    settle(qtbot, bench)
    lay = bench.window.page.lay
    assert lay.view.scale.value == 1
    assert all(lay.after.contains(lay.at(corner)) for corner in (VEIL[:2], VEIL[2:]))

    button = panel.offers["region"]
    assert button.isVisible()
    assert "costs no drawn ink" in button.accessibleName()
    changes = len(bench.desk.job.past)
    qtbot.mouseClick(button, LEFT)
    settle(qtbot, bench)
    assert said(bench) == "Nothing would print that should not."
    assert not hatched(bench)
    assert len(bench.desk.job.past) == changes + 1
    assert not button.isVisible()

    qtbot.keyClick(bench.window, Qt.Key.Key_Z, CTRL)
    settle(qtbot, bench)
    assert "would print that should not" in said(bench)
    qtbot.keyClick(bench.window, Qt.Key.Key_Y, CTRL)
    settle(qtbot, bench)
    assert said(bench) == "Nothing would print that should not."

    bench.do("export")
    dialog = bench.out._dialog
    for box in dialog.forms:
        box.setChecked("grey TIFF" in box.text())
    dialog.folder.setText(str(tmp_path / "out"))
    qtbot.mouseClick(dialog.go, LEFT)
    qtbot.waitUntil(lambda: not bench.out.busy, timeout=30_000)
    with Image.open(tmp_path / "out" / "stained-print.tif") as image:
        left, top, right, bottom = VEIL
        printed = 255 - np.asarray(image)
    assert printed[top:bottom, left:right].max() < 3, "under 1 %"
    assert printed.max() == 255


def test_the_verdict_follows_a_handle_and_the_hatch_melts(proved, qtbot):
    handle = drag_handle(proved, qtbot, "white", 215)
    qtbot.waitUntil(lambda: said(proved) == "Nothing would print that should not.", timeout=20_000)
    assert proved.desk.draft is not None
    assert not hatched(proved)
    qtbot.keyClick(handle, Qt.Key.Key_Escape)
    qtbot.mouseRelease(handle, LEFT, pos=QPoint(14, 12))
    settle(qtbot, proved)
    assert "would print that should not" in said(proved)
    assert hatched(proved)


def test_one_key_takes_the_hatch_away_and_brings_it_back(proved, qtbot):
    qtbot.keyClick(proved.window, Qt.Key.Key_P)
    assert not hatched(proved)
    assert not proved.window.actions_by_name["what would print"].isChecked()
    qtbot.keyClick(proved.window, Qt.Key.Key_F2)
    qtbot.keyClick(proved.window, Qt.Key.Key_P)
    settle(qtbot, proved)
    assert hatched(proved)


def test_the_hatch_goes_with_the_proof_and_from_under_the_dots_of_a_press(proved, qtbot):
    qtbot.keyClick(proved.window, Qt.Key.Key_F2)
    settle(qtbot, proved)
    assert not hatched(proved)
    qtbot.keyClick(proved.window, Qt.Key.Key_F3)
    settle(qtbot, proved)
    assert hatched(proved)
    proved.do("as printed")
    settle(qtbot, proved)
    assert not hatched(proved)


def test_the_press_is_part_of_the_job_and_is_undone_with_it(proved, qtbot):
    panel, before = proved.window.proof.order, said(proved)
    proved.window.proof.turn.click()
    panel.press.setFocus()
    panel.press.setCurrentIndex(panel.press.findData("stencil duplicator"))
    panel.press.activated.emit(panel.press.currentIndex())
    settle(qtbot, proved)
    assert proved.desk.job.now.printing == Printing("stencil duplicator")
    assert proved.desk.job.undo_name == "press"
    assert said(proved) != before, "it holds no tint so pale"
    qtbot.waitUntil(lambda: proved.idle)
    assert loads_job(proved.keeper.path.read_bytes(), KINDS, "job").printing.press == (
        "stencil duplicator")
    qtbot.keyClick(proved.window, Qt.Key.Key_Z, CTRL)
    settle(qtbot, proved)
    assert proved.desk.job.now.printing == Printing()
    assert panel.press.currentData() == "coated"
    assert said(proved) == before


def test_print_size_is_that_of_the_print(proved, qtbot):
    proved.viewing.dots_per_mm = 8.0
    proved.do("print size")
    whole = proved.desk.looking.view.size[0]
    assert whole == pytest.approx(600 / 300 * 25.4 * 8, rel=0.02)
    proved.proving.print_as(Printing(size=Scaled(50)), False)
    proved.do("print size")
    assert proved.desk.looking.view.size[0] == pytest.approx(whole / 2, rel=0.02)


def test_the_proof_can_be_stopped_and_says_so(proved, qtbot):
    proved.lists.take(toned(white_for(0.06)))
    qtbot.waitUntil(proved.window.proof.stop.isVisible, timeout=20_000)
    qtbot.mouseClick(proved.window.proof.stop, LEFT)
    qtbot.waitUntil(lambda: proved.idle, timeout=20_000)
    assert proved.window.proof.state.text().startswith("Stopped")


def test_the_glass_shows_dots_under_the_pointer(proved, qtbot):
    page, glass = proved.window.page, proved.pressing.glass
    proved.do("fit")
    qtbot.keyClick(proved.window, Qt.Key.Key_M)
    assert glass.open
    lay = page.lay
    place = lay.at((125, 495))  # in the stain: a tint of 2 % there
    qtbot.mouseMove(page, place.toPoint())
    assert (glass.at - place).manhattanLength() < 3
    seen = page.grab(glass.covered).toImage()
    tones = {seen.pixelColor(x, y).lightness() for x in range(100, 160) for y in range(100, 160)}
    assert min(tones) < 90
    assert max(tones) > 200
    before = page.accessibleDescription()
    assert before.startswith("8 times, coated, 150 lines per inch")
    qtbot.keyClick(page, Qt.Key.Key_Plus)
    assert page.accessibleDescription().startswith("12 times")
    qtbot.keyClick(page, Qt.Key.Key_Escape)
    assert not glass.open


def test_the_whole_view_as_printed(proved, qtbot):
    proved.do("one")
    settle(qtbot, proved)
    qtbot.keyClick(proved.window, Qt.Key.Key_P)
    qtbot.keyClick(proved.window, Qt.Key.Key_3)
    proved.proving.print_as(Printing(form="1-bit", ppi=600), False)
    settle(qtbot, proved)
    view = proved.desk.looking.view
    image = proved.window.page.grab().toImage()

    def at(x, y):
        return image.pixelColor(x + view.left, y + view.top).lightness()

    assert at(500, 495) == 255
    assert at(400, 105) == 0
    page = proved.window.page
    x, y = page.width() // 2, view.top + 105
    seen = page.grab().toImage()
    assert all(seen.pixelColor(x + beside, y).lightness() == 0 for beside in range(3, 12))
    assert seen.pixelColor(x, y).lightness() > 50, "the divider lies over it"
    qtbot.keyClick(proved.window, Qt.Key.Key_3)
    assert not proved.pressing.printed.on


def test_the_trim_is_shown_moved_and_told_where_it_is_not_found(proved, qtbot):
    page = proved.window.page
    rule = TrimRule("sheet", 40, 40)
    proved.proving.print_as(Printing(trim=rule), False)
    qtbot.keyClick(proved.window, Qt.Key.Key_T)
    settle(qtbot, proved)
    assert proved.pressing.trim.on
    frame = proved.pressing.trim._shown.frame
    assert frame == pytest.approx((5.4, 5.4, 40, 40), abs=0.01)
    changes = len(proved.desk.job.past)
    qtbot.keyClick(page, Qt.Key.Key_Right)
    qtbot.keyClick(page, Qt.Key.Key_Up)
    settle(qtbot, proved)
    assert proved.desk.job.now.printing.trim == replace(rule, nudge=(0.5, -0.5))
    assert proved.pressing.trim._shown.frame[:2] == pytest.approx((5.9, 4.9), abs=0.01)
    assert len(proved.desk.job.past) == changes + 2
    proved.do("glass")
    at = proved.pressing.glass.at
    qtbot.keyClick(page, Qt.Key.Key_Right)  # the glass lies over the trim
    assert proved.pressing.glass.at.x() == at.x() + 12
    assert len(proved.desk.job.past) == changes + 2
    qtbot.keyClick(page, Qt.Key.Key_Escape)
    proved.proving.print_as(Printing(trim=TrimRule("corners")), False)
    settle(qtbot, proved)
    assert "the trim is not placed" in proved.pressing.trim._shown.words
    rows = [proved.window.proof.list.item(n).text()
            for n in range(proved.window.proof.list.count())]
    assert any("The trim is not placed" in row for row in rows)


def test_my_printer_is_kept_for_the_next_time(proved, qtbot, qapp):
    proved.do("my printer")
    dialog = proved.pressing._dialog
    dialog.faintest.setEditText("5")
    dialog.even.setEditText("10")
    qtbot.mouseClick(dialog.go, LEFT)
    settle(qtbot, proved)
    kept = read_press(proved.places.press)
    assert (kept.name, kept.may_print, kept.holds) == ("my printer", 5, 10)
    assert proved.desk.job.now.printing.own == kept
    assert said(proved) == "Nothing would print that should not."
    qtbot.waitUntil(lambda: proved.idle)
    job = json.loads(proved.keeper.path.read_text())
    assert job["printing"]["own"]["holds"] == 10
    later = Opening(qapp, proved.places)
    assert later.bench.proving.mine == kept
    later.end()
    later.bench.window.deleteLater()
    later.deleteLater()


def test_an_exported_pdf_is_printed_as_was_chosen(proved, qtbot, tmp_path):
    proved.proving.print_as(Printing(size=Scaled(50), trim=TrimRule("sheet", 20, 22)), False)
    proved.do("export")
    dialog = proved.out._dialog
    for box in dialog.forms:
        box.setChecked("PDF" in box.text())
    dialog.folder.setText(str(tmp_path / "out"))
    qtbot.mouseClick(dialog.go, LEFT)
    qtbot.waitUntil(lambda: not proved.out.busy, timeout=30_000)
    with pikepdf.open(tmp_path / "out" / "stained-page.pdf") as document:
        trim = [float(side) for side in document.pages[0].obj.TrimBox]
    assert (trim[2] - trim[0], trim[3] - trim[1]) == pytest.approx(
        (mm_to_points(20), mm_to_points(22)), abs=0.01)


def test_sheet_pdf_and_strip_are_written_from_the_menus(proved, qtbot, tmp_path, monkeypatch):
    for name, file in (("proof sheet", "sheet.html"), ("book pdf", "book.pdf"),
                       ("test strip", "strip.pdf")):
        path = tmp_path / file
        monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_, path=path: (str(path), ""))
        proved.do(name)
        qtbot.waitUntil(lambda: not proved.pressing.busy, timeout=30_000)
        assert file in proved.window.notice.text.text()
    assert "stained.png" in (tmp_path / "sheet.html").read_text("utf-8")
    for file in ("book.pdf", "strip.pdf"):
        with pikepdf.open(tmp_path / file) as document:
            assert len(document.pages) == 1


def test_that_a_book_is_not_written_for_the_sake_of_one_page_is_said(proved, qtbot, tmp_path):
    broken = tmp_path / "broken.png"
    broken.write_bytes(b"no picture")
    bench, notice = proved, proved.window.notice
    job = bench.desk.job.now
    pages = (*job.pages, replace(job.pages[0], path=broken))
    bench.become(bench.desk.then(replace(job, pages=pages), "put pages on the rack"))
    bench.pressing.write_pdf(tmp_path / "book.pdf")
    qtbot.waitUntil(lambda: not bench.pressing.busy, timeout=30_000)
    assert not (tmp_path / "book.pdf").exists()
    told = notice.text.text().splitlines()
    assert told[0] == "book.pdf was not written."
    assert told[1].startswith("broken.png: ")
    settle(qtbot, bench)


def test_nothing_is_written_over_a_scan_whatever_is_named(proved, tmp_path, monkeypatch):
    [page] = proved.desk.job.now.pages
    before = page.path.read_bytes()
    other = tmp_path / "other"
    other.symlink_to(page.path.parent)
    for name in ("proof sheet", "book pdf", "test strip", "save job", "save list",
                 "write palette", "pack drawer"):
        for path in (page.path, other / page.path.name):
            monkeypatch.setattr(
                QFileDialog, "getSaveFileName", lambda *_, path=path: (str(path), ""))
            proved.window.notice.hide()
            proved.do(name)
            assert not proved.pressing.busy
            assert "it is a scan, and nothing is written over one" in (
                proved.window.notice.text.text())
    assert page.path.read_bytes() == before


def test_what_is_being_written_is_not_given_up_for_what_is_asked_for_next(
    proved, qtbot, tmp_path, monkeypatch,
):
    sheet, asked = tmp_path / "sheet.html", []
    proved.pressing.write_sheet(sheet)
    assert proved.window.work.isVisible()
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: asked.append(_) or ("", ""))
    for name in ("book pdf", "test strip", "proof sheet", "export"):
        proved.do(name)
        assert "still being written" in proved.window.notice.text.text()
    proved.pressing.write_pdf(tmp_path / "book.pdf")
    assert asked == []
    qtbot.waitUntil(lambda: not proved.pressing.busy, timeout=30_000)
    assert sheet.exists()
    assert not (tmp_path / "book.pdf").exists()
    assert "sheet.html is written" in proved.window.notice.text.text()
    assert not proved.window.work.isVisible()
    proved.pressing.write_pdf(tmp_path / "book.pdf")
    qtbot.waitUntil(lambda: not proved.pressing.busy, timeout=30_000)
    assert (tmp_path / "book.pdf").exists()


def test_another_page_forgets_what_was_found(proved, qtbot, tmp_path):
    path = tmp_path / "clean.png"
    Image.fromarray(scan(strokes(paper(400, 500))).grey).save(path, dpi=(300, 300))
    put_on_rack(proved, qtbot, path)
    assert proved.desk.current == 1
    assert said(proved) == "Nothing would print that should not."
    assert not hatched(proved)
    qtbot.keyClick(proved.window, Qt.Key.Key_PageUp)
    settle(qtbot, proved)
    assert "would print that should not" in said(proved)
