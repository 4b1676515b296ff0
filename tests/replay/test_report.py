"""The report: escaped, self-contained, sortable; opened in a real browser."""

import base64
import io
import json
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from app.replay.book import Row
from app.replay.compare import Flag
from app.replay.figures import Look
from app.replay.plots import Plot
from app.replay.report import Report
from core.fault import Fault
from tests.replay.browser import Browser

NASTY = '<script>alert("x")</script> & \'"><img src=x onerror=alert(1)>'
LOOK = Look(width=1240, height=1748, ppi=300, bits=8, paper=232, noise=2, ink=24, dark=0.05,
            sketch="")


def picture(_row: Row) -> str:
    file = io.BytesIO()
    Image.fromarray(np.full((60, 80), 200, np.uint8)).save(file, "JPEG")
    return base64.b64encode(file.getvalue()).decode()


def book(pages: int = 12) -> Report:
    rows = [
        Row(number, f"page {number}.tif", "done", look=replace(LOOK, paper=232 - number),
            ink=0.05, printing=0.001 * number, not_clear=0.0, seconds=0.1)
        for number in range(1, pages + 1)
    ]
    rows[4] = replace(rows[4], name=NASTY, notes=(NASTY,), own=(NASTY,),
                      flags=(Flag("paper", NASTY),))
    rows[7] = Row(8, "page 8.tif", "failed", faults=(Fault(NASTY, NASTY, NASTY),))
    return Report(NASTY, tuple(rows), (NASTY,), {"versions": {"numpy": "2"}})


def test_one_page_is_spoken_of_as_one():
    page = replace(book(), rows=book().rows[4:5]).to_html(picture)
    assert "<p>1 page: 1 done now. 1 of them stands apart from the others.</p>" in page
    assert "<p>12 pages: 11 done now, 1 not done. 1 of them stands apart" in book().to_html(picture)


class Names(HTMLParser):
    """Every tag and attribute of a page."""

    def __init__(self):
        super().__init__()
        self.tags, self.sources, self.handlers = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.sources += [value for name, value in attrs if name in ("src", "href", "data")]
        self.handlers += [name for name, _ in attrs if name.startswith("on")]


def test_all_text_is_escaped_and_nothing_is_fetched():
    page = book().to_html(picture)
    names = Names()
    names.feed(page)
    assert names.tags.count("script") == 1, "our own, which sorts"
    assert not names.handlers
    assert all(source.startswith("data:image/jpeg;base64,") for source in names.sources)
    assert NASTY not in page
    assert "http" not in page.replace("http-equiv", "")
    assert page.count("<!--") == 0


def test_flagged_pages_come_first_in_the_order_of_the_book():
    page = book().to_html(picture)
    body = page[page.index("<tbody>") : page.index("</tbody>")]
    first = [line for line in body.splitlines() if line][:3]
    assert ['<tr class="flagged">' in line for line in first] == [True, True, False]


def test_the_json_says_the_same():
    data = json.loads(book().to_json())
    assert data["title"] == NASTY
    assert data["pages"][0]["look"]["paper"] == 231
    assert data["pages"][4]["flags"] == [{"kind": "paper", "why": NASTY}]
    assert data["pages"][7]["faults"][0]["where"] == NASTY
    assert data["versions"] == {"numpy": "2"}


@pytest.mark.parametrize("values", [[1.0], [0.0, 0.0], [None, 5.0, None], [-3.0, 250.0]])
def test_a_plot_stays_within_its_frame(values):
    drawn = Plot("<x>", "", values, [False] * len(values), ["n"] * len(values), 255, 1).svg()
    assert "<x>" not in drawn
    assert "nan" not in drawn
    (points,) = [part.split('"')[0] for part in drawn.split('points="')[1:]]
    for pair in points.split():
        x, y = map(float, pair.split(","))
        assert 0 <= x <= 720
        assert 0 <= y <= 168


def test_an_axis_ends_where_its_values_can_and_its_numbers_differ():
    assert Plot("x", " %", [100.0], [False], ["n"], 100, 0.1).svg().count(">100 %<") == 1
    drawn = Plot("x", " %", [99.99, 100.0], [False] * 2, ["n"] * 2, 100, 0.1).svg()
    marks = [part.rpartition(">")[2] for part in drawn.split(" %</text")[:3]]
    assert marks == ["99.9", "99.95", "100"]
    assert ">0 %<" in Plot("x", " %", [0.02], [False], ["n"], 100, 0.1).svg()


def test_printed_the_table_ends_on_the_paper_with_all_its_remarks(tmp_path):
    why = Flag("duplicate", "It shows the same drawing as a page of another name.")
    rows = [replace(row, name="a name of many words, as people give them.tif", printing=1.0,
                    flags=(why,)) for row in book().rows if row.look]
    page, _ = replace(book(), rows=tuple(rows)).write(tmp_path, picture)
    with Browser() as browser:
        browser.open(page)
        printed = browser.printed()
    with pypdfium2.PdfDocument(printed) as document:
        said = document[0].get_textpage().get_text_range()
    assert said.count("another name.") == said.count("105 x 148") > 4, "what is cut off is not said"


def test_an_empty_book_makes_a_page():
    assert "0 pages" in Report("none", ()).to_html(picture)


def test_in_a_browser_it_sorts_its_pictures_load_and_the_console_is_silent(tmp_path):
    page, _ = book().write(tmp_path, picture)
    with Browser() as browser:
        browser.open(page)
        column = (
            "return [...document.querySelectorAll('#table tbody tr')]"
            ".map(row => row.cells[{}].textContent)"
        )
        press = "document.querySelectorAll('#table th button')[{}].click();"
        assert browser.run(column.format(0))[:3] == ["5", "8", "1"], "flagged first"
        numbers = browser.run(press.format(0) + column.format(0))
        assert numbers == [str(number) for number in range(1, 13)]
        assert browser.run(press.format(0) + column.format(0)) == numbers[::-1]
        papers = browser.run(press.format(5) + column.format(5))
        assert papers[-1] == "", "pages without a figure stay last"
        assert papers[:-1] == sorted(papers[:-1], key=float)
        assert browser.run(press.format(5) + column.format(5))[-1] == ""
        names = browser.run(press.format(1) + column.format(1))
        assert names.index("page 2.tif") < names.index("page 10.tif"), "natural order"
        loaded = browser.run(
            "return [...document.images].map(i => i.complete && i.naturalWidth === 80)",
        )
        assert loaded == [True] * 12
        assert browser.run("return document.querySelectorAll('svg').length") == 2
        assert browser.run("return document.title") == NASTY
        shot = np.asarray(Image.open(io.BytesIO(browser.screenshot())).convert("L"))
        assert np.unique(shot).size > 16, "something is painted"
        assert browser.log() == []
