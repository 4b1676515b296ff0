"""What the command line prints: plain text for files and pipes, tables and bars for a terminal."""

import sys
from collections.abc import Iterable, Sequence
from types import TracebackType
from typing import Any, Self

from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    TaskID,
    TextColumn,
    TimeRemainingColumn,
)
from rich.progress import Progress as Bars
from rich.table import Table

from app.pages.listing import PageAt
from app.replay.run import Outcome
from core.fault import Fault, Watch

_UNITS = 1000  # steps of a page's bar


def lines(said: Iterable[str]) -> None:
    """One sentence a line, to standard output; never wrapped, so that a pipe can cut it."""
    sys.stdout.writelines(f"{line}\n" for line in said)


def numbered(sentences: Sequence[str]) -> None:
    """Steps with their numbers."""
    lines(f"{number:3}. {sentence}" for number, sentence in enumerate(sentences, start=1))


def faults(found: Iterable[Fault]) -> None:
    """One fault a line, to standard error."""
    sys.stderr.writelines(f"{fault}\n" for fault in found)


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
        table.add_row(*_cells(row))
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
    _, size, ppi, _, paper, grain, ink, *rest = _cells(row)
    said = (
        f"{row['page']}, page {row['number']}: {size} at {ppi} ppi, {row['stored']}; "
        f"paper at {paper}, grain {grain}, ink at {ink}"
    )
    if rest:
        said += f"; covered {rest[0]}, paper that would print {rest[1]}"
    return " ".join([said + ".", *row["notes"]])


class Progress:
    """Pages done and the page in hand: a bar on a terminal, a line a page elsewhere."""

    def __init__(self, pages: int, *, quiet: bool) -> None:
        self._quiet = quiet
        console = Console(stderr=True)
        self._bars = Bars(
            TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(),
            TimeRemainingColumn(), console=console, transient=True,
            disable=quiet or not console.is_terminal,
        )
        self._task: TaskID = self._bars.add_task("pages", total=pages)
        self._page: TaskID | None = None

    def __enter__(self) -> Self:
        self._bars.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._bars.stop()

    def watch_page(self, page: PageAt) -> Watch:
        """Show that this page is being worked on; gives what is told of its bands."""
        task = self._bars.add_task(page.path.name, total=_UNITS)
        self._page = task

        def watch(done: int, total: int) -> None:
            self._bars.update(task, completed=_UNITS * done // total)

        return watch

    def ended(self, outcome: Outcome) -> None:
        """Say how a page ended."""
        if self._page is not None:
            self._bars.remove_task(self._page)
            self._page = None
        self._bars.advance(self._task)
        if outcome.done is None:
            faults(outcome.faults)
        elif not self._quiet:
            lines(str(path) for path in outcome.done.outputs)
            lines(f"{outcome.page.path.name}: {note}" for note in outcome.done.notes)
