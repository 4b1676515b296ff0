"""The report of a run: one page of HTML that needs no network, and the same as JSON."""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import Any

from app.pages.names import in_letters
from app.pages.whole import replace_file
from app.replay.book import Row
from app.replay.plots import Plot
from app.replay.records import dump

NAME = "stetline-report"
"""The report's files are called so, in the folder of the outputs."""

_MOST_PICTURES = 2000
_HEADS = (
    ("Page", True), ("Scan", False), ("State", False), ("Size,\N{NO-BREAK SPACE}mm", False),
    ("ppi", True), ("Paper", True), ("Grain", True), ("Ink at", True), ("Covered", True),
    ("Printing", True), ("Remarks", False),
)

Picture = Callable[[Row], str]
"""Gives a page's small picture, a JPEG in base 64, or nothing."""


@dataclass(frozen=True)
class Report:
    """What a run has to say: a row a page, ``remarks`` on the book as a whole.

    ``about`` is kept in the JSON: versions, the list, how long it took.
    """

    title: str
    rows: tuple[Row, ...]
    remarks: tuple[str, ...] = ()
    about: Mapping[str, Any] = field(default_factory=dict)

    def write(self, folder: Path, picture: Picture) -> tuple[Path, Path]:
        """Write both files into the folder; gives their paths."""
        page, data = folder / f"{NAME}.html", folder / f"{NAME}.json"
        replace_file(page, self.to_html(picture).encode("utf-8"))
        replace_file(data, self.to_json().encode("ascii"))
        return page, data

    def to_json(self) -> str:
        """All that the page says, for programs; without the pictures."""
        said = {"title": self.title, "remarks": list(self.remarks), "pages": dump(self.rows)}
        return json.dumps(said | dict(self.about), indent=1, allow_nan=False) + "\n"

    def to_html(self, picture: Picture) -> str:
        """The report as one page; every text in it is escaped. Pages that stand out come first."""
        ordered = sorted(self.rows, key=lambda row: (not _stands_out(row), row.number))
        parts = {
            "title": escape(self.title), "summary": "".join(_summary(self.rows, self.remarks)),
            "heads": "".join(_heads()), "rows": "".join(map(_table_row, ordered)),
            "plots": "".join(_plots(self.rows)), "cards": "".join(_cards(ordered, picture)),
        }
        page = files("app.replay").joinpath("report.html").read_text(encoding="utf-8")
        made = []
        for piece in page.split("<!--"):
            name, mark, rest = piece.partition("-->")
            made.append(parts[name] + rest if mark else piece)
        return in_letters("".join(made))


def _stands_out(row: Row) -> bool:
    return bool(row.flags or row.faults)


def _summary(rows: Sequence[Row], remarks: Sequence[str]) -> Iterator[str]:
    states = [row.status for row in rows]
    said = [
        f"{states.count(state)} {words}" for state, words in (
            ("done", "done now"), ("unchanged", "done before and unchanged"),
            ("failed", "not done"),
        ) if state in states
    ]
    flagged = sum(bool(row.flags) for row in rows)
    yield f"<p>{len(rows)} page{'s' * (len(rows) != 1)}: {', '.join(said)}. "
    stand = "stands" if flagged == 1 else "stand"
    yield f"{flagged} of them {stand} apart from the others.</p>" if flagged else "</p>"
    if remarks:
        yield "<ul>" + "".join(f"<li>{escape(remark)}</li>" for remark in remarks) + "</ul>"
    yield (
        '<p class="faint">Paper, grain and ink are tones, 0 black to 255 white, of the scan. '
        "Covered is the share of the page that is ink; printing is the share of its bare "
        "paper whose cover is 1 % or more. On large pages one row in sixteen, or in thirty-two, "
        "was read.</p>"
    )


def _heads() -> Iterator[str]:
    for name, is_number in _HEADS:
        kind = ' class="number"' if is_number else ""
        yield f'<th scope="col" aria-sort="none"{kind}><button>{escape(name)}</button></th>'


def _table_row(row: Row) -> str:
    cells = [
        _cell(str(row.number), row.number), _cell(row.name), _cell(row.status), *_scan_cells(row),
        _cell(_percent(row.ink, 2), row.ink), _cell(_percent(row.printing, 3), row.printing),
        f"<td>{'<br>'.join(_remarks(row))}</td>",
    ]
    kind = ' class="flagged"' if _stands_out(row) else ""
    return f"<tr{kind}>{''.join(cells)}</tr>\n"


def _scan_cells(row: Row) -> list[str]:
    look = row.look
    if look is None:
        return [_cell(""), *[_cell("", None, is_number=True)] * 4]
    width, height = look.mm
    return [
        _cell(f"{width:.0f} x {height:.0f}", width * height, is_number=False),
        _cell(f"{look.ppi:g}", look.ppi), _cell(f"{look.paper:.0f}", look.paper),
        _cell(f"{look.noise:.1f}", look.noise),
        _cell("none" if look.ink is None else f"{look.ink:.0f}", look.ink, is_number=True),
    ]


def _cell(said: str, key: float | None = None, *, is_number: bool | None = None) -> str:
    numeric = key is not None if is_number is None else is_number
    kind = ' class="number"' if numeric else ""
    sort = f' data-key="{"" if key is None else key}"' if numeric or key is not None else ""
    return f"<td{kind}{sort}>{escape(said)}</td>"


def _percent(share: float | None, digits: int) -> str:
    return "" if share is None else f"{100 * share:.{digits}f} %"


def _remarks(row: Row) -> Iterable[str]:
    for fault in row.faults:
        yield f'<span class="why">{escape(str(fault))}</span>'
    for flag in row.flags:
        yield f'<span class="why">{escape(flag.why)}</span>'
    yield from (escape(f"Settled by hand: {said}") for said in row.own)
    yield from map(escape, row.notes)


def _plots(rows: Sequence[Row]) -> Iterator[str]:
    flagged = [_stands_out(row) for row in rows]
    names = [row.name for row in rows]
    papers = [None if row.look is None else row.look.paper for row in rows]
    residue = [None if row.printing is None else 100 * row.printing for row in rows]
    for plot in (
        Plot("Where the paper lies, tone", "", papers, flagged, names, 255, least=16),
        Plot("Bare paper that would print", " %", residue, flagged, names, 100, least=0.1),
    ):
        if drawn := plot.svg():
            yield f"<figure><figcaption>{escape(plot.title)}</figcaption>{drawn}</figure>"


def _cards(rows: Sequence[Row], picture: Picture) -> Iterator[str]:
    for row in rows[:_MOST_PICTURES]:
        data = picture(row)
        if not data and not _stands_out(row):
            continue
        kind = ' class="flagged"' if _stands_out(row) else ""
        image = (
            f'<img alt="{escape(row.name)}, before and after" '
            f'src="data:image/jpeg;base64,{escape(data)}">'
        ) if data else ""
        why = "".join(f"<div>{remark}</div>" for remark in _remarks(row))
        yield (
            f"<figure{kind}>{image}<figcaption>{row.number}. {escape(row.name)}</figcaption>"
            f"{why}</figure>\n"
        )
