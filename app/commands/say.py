"""What the command line prints: plain text for files and pipes, tables and bars for a terminal."""

import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, TaskID, TextColumn
from rich.progress import Progress as Bars
from rich.table import Table

from app.pages.listing import PageAt
from app.replay.book import Row
from app.replay.forecast import Forecast
from app.replay.progress import Tally, minutes
from app.replay.run import Moved, Outcome
from core.fault import Fault

_UNITS = 1000  # steps of a page's bar
_CONTROLS = {code: repr(chr(code))[1:-1] for code in (*range(32), *range(127, 160))}


def one_line(said: str) -> str:
    r"""What is said without what would begin a line or move a terminal: a file's name may hold it.

    >>> one_line("page\n7")
    'page\\n7'
    """
    return said.translate(_CONTROLS)


def lines(said: Iterable[str], *, now: bool = False) -> None:
    """One sentence a line, to standard output; never wrapped, so that a pipe can cut it.

    ``now`` does not wait for more. Where whoever read it has gone, as ``| head`` does, the rest
    goes unheard and the work is done all the same.
    """
    try:
        sys.stdout.writelines(f"{one_line(line)}\n" for line in said)
        if now:
            sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def data(said: Any) -> None:
    """Something for programs, as JSON over several lines."""
    lines(json.dumps(said, default=str, indent=1).splitlines())


def numbered(sentences: Sequence[str]) -> None:
    """Steps with their numbers."""
    lines(f"{number:3}. {sentence}" for number, sentence in enumerate(sentences, start=1))


def faults(found: Iterable[Fault]) -> None:
    """One fault a line, to standard error."""
    sys.stderr.writelines(f"{one_line(str(fault))}\n" for fault in found)


def readings(rows: Sequence[dict[str, Any]]) -> None:
    """Readings as a table, or as one plain line a page where there is no terminal."""
    console = Console()
    if not console.is_terminal:
        lines(_plain_reading(row) for row in rows)
        return
    table = Table(box=None, pad_edge=False)
    for head in ("page", "size", "ppi", "depth", "paper", "grain", "ink"):
        table.add_column(head, justify="left" if head == "page" else "right")
    with_list = any("ink_percent" in row for row in rows)
    for head in ("covered", "paper printing") if with_list else ():
        table.add_column(head, justify="right")
    for row in rows:
        table.add_row(*(escape(one_line(cell)) for cell in _cells(row)))
    console.print(table)
    lines(f"{row['page']}: {note}" for row in rows for note in row["notes"])


def _cells(row: dict[str, Any]) -> list[str]:
    ink = "none" if row["ink"] is None else f"{row['ink']:.0f}"
    cells = [
        row["page"], f"{row['width_mm']:.1f} x {row['height_mm']:.1f} mm", f"{row['ppi']:g}",
        f"{row['bits']} bit", f"{row['paper']:.1f}", f"{row['noise']:.1f}", ink,
    ]
    if "ink_percent" in row:
        cells += [f"{row['ink_percent']:.2f} %", f"{row['paper_printing_percent']:.3f} %"]
    return cells


def _plain_reading(row: dict[str, Any]) -> str:
    _, size, ppi, _, paper, grain, at, *rest = _cells(row)
    ink = "no peak of ink" if row["ink"] is None else f"ink at {at}"
    said = (
        f"{row['page']}, page {row['number']}: {size} at {ppi} ppi, {row['stored']}; "
        f"paper at {paper}, grain {grain}, {ink}"
    )
    if rest:
        said += f"; covered {rest[0]}, paper that would print {rest[1]}"
    return " ".join([said + ".", *row["notes"]])


Told = Callable[[Moved | Outcome], None]
"""What a run is told to while it goes."""


@contextmanager
def progress(tally: Tally, *, quiet: bool, as_json: bool) -> Iterator[Told]:
    """Pages done and pages in hand: a bar on a terminal, a line a page elsewhere.

    ``quiet`` says only what went wrong; ``as_json`` says one JSON object a line.
    """
    if as_json:
        yield partial(_tell_json, tally)
        lines([json.dumps({"event": "end", **tally.summary()})])
        return
    with _bars(quiet=quiet) as bars:
        pages = bars.add_task("pages", total=tally.total)
        in_hand: dict[PageAt, TaskID] = {}

        def tell(event: Moved | Outcome) -> None:
            if isinstance(event, Moved):
                if event.page not in in_hand:
                    name = one_line(event.page.path.name)
                    in_hand[event.page] = bars.add_task(name, total=_UNITS)
                done = _UNITS * event.done // event.total
                bars.update(in_hand[event.page], completed=done)
                return
            tally.ended(event)
            if event.page in in_hand:
                bars.remove_task(in_hand.pop(event.page))
            bars.update(pages, completed=tally.ends, description=tally.figures())
            _say_end(event, quiet=quiet)

        yield tell
    if not quiet:
        lines([tally.figures()] if tally.total > 1 else [])
        if tally.unchanged:
            was = "was done before and is" if tally.unchanged == 1 else "were done before and are"
            lines([f"{tally.unchanged} {was} unchanged; --again does it anew"])


def _bars(*, quiet: bool) -> Bars:
    console = Console(stderr=True)
    return Bars(
        TextColumn("{task.description}", markup=False), BarColumn(), console=console,
        transient=True, disable=quiet or not console.is_terminal,
    )


def watching(folders: Iterable[Path], *, quiet: bool, as_json: bool) -> None:
    """Say that folders are being watched."""
    names = [str(folder) for folder in folders]
    if as_json:
        lines([json.dumps({"event": "watching", "folders": names})])
    elif not quiet:
        lines([f"Watching {', '.join(names)}; Ctrl-C ends it."])
    lines([], now=True)


def end_of_page(outcome: Outcome, *, quiet: bool, as_json: bool) -> None:
    """Say how one page ended, where no bar is shown."""
    if as_json:
        lines([json.dumps(_page_event(outcome))])
    else:
        _say_end(outcome, quiet=quiet)
    lines([], now=True)


def flagged(rows: Sequence[Row], remarks: Sequence[str], *, as_json: bool) -> None:
    """Say which pages stand apart, and what is odd about the book as a whole."""
    if as_json:
        lines(json.dumps({"event": "flag", "page": row.name, "place": row.number, **asdict(flag)})
              for row in rows for flag in row.flags)
        lines(json.dumps({"event": "remark", "why": remark}) for remark in remarks)
        return
    lines(f"{row.name}: {flag.why}" for row in rows for flag in row.flags)
    lines(remarks)


def forecast(ahead: Forecast, *, as_json: bool) -> None:
    """Say what a run would do."""
    if as_json:
        data(asdict(ahead))
        return
    for page in ahead.pages:
        lines(f"{page.name} -> {path}" for path in page.outputs if page.state == "to do")
        faults(page.faults)
    waiting = sum(page.state == "to do" for page in ahead.pages)
    said = [f"{waiting} of {len(ahead.pages)} pages to do", f"{_bytes(ahead.reads)} to read"]
    if waiting and ahead.writes is not None and ahead.seconds is not None:
        said += [f"about {_bytes(ahead.writes)} to write",
                 f"about {minutes(ahead.seconds)} ({ahead.measured})"]
    lines([", ".join(said) + "; nothing was written"])


def _bytes(count: int) -> str:
    return f"{count / 1e6:.1f} MB" if count < 1e9 else f"{count / 1e9:.2f} GB"


def _say_end(outcome: Outcome, *, quiet: bool) -> None:
    if outcome.failed:
        faults(outcome.faults)
    elif outcome.done is not None and not quiet:
        lines(str(path) for path in outcome.done.outputs)
        lines(f"{outcome.page.path.name}: {note}" for note in outcome.done.notes)


def _tell_json(tally: Tally, event: Moved | Outcome) -> None:
    if isinstance(event, Moved):
        said = {"event": "rows", **_page(event), "done": event.done, "of": event.total}
    else:
        tally.ended(event)
        said = _page_event(event) | tally.summary()
    lines([json.dumps(said)], now=True)


def _page(event: Moved | Outcome) -> dict[str, Any]:
    return {"page": str(event.page.path), "number": event.page.number}


def _page_event(outcome: Outcome) -> dict[str, Any]:
    done = outcome.done
    return {
        "event": "page", **_page(outcome), "status": outcome.status,
        "outputs": [] if done is None else [str(path) for path in done.outputs],
        "notes": [] if done is None else list(done.notes),
        "faults": [asdict(fault) for fault in outcome.faults],
        "seconds": round(outcome.seconds, 3),
    }
