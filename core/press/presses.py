"""Presses to choose from, and what each can hold: a frozen record, which is a file too."""

from dataclasses import dataclass, replace
from typing import ClassVar

from core.press.dots import MOST_GAIN
from core.readings import MAY_PRINT
from core.steps.fields import Record, number, text

CAUTION = (
    "The printer's own figures go before these; this is a screen proof, not a contract proof."
)
"""Stands beside every figure of a press."""


@dataclass(frozen=True, kw_only=True)
class Press(Record):
    """What a press holds and where these figures come from.

    Covers are percent: paper that carries ``may_print`` or more may print as dirt, and from
    ``holds`` on a tint is sure to hold (the same distance below 100 % stays open). ``gain``
    is the tonal value increase at the 50 % tint. Lines in points (1/72 inch). ``ruling`` in
    lines per inch, ``output`` in pixels per inch. ``source`` says where the figures are from.
    """

    words: ClassVar[str] = (
        "{name}: paper may print from {may_print}, tints hold from {holds}, gain {gain} at "
        "50 %, lines from {line}, reversed from {reversed_line}, {ruling} lines per inch."
    )

    name: str = text("name", 80)
    may_print: float = number("may print from", "%", 0.01, 50, 100 * MAY_PRINT)
    holds: float = number("sure to hold from", "%", 0.01, 50, 3)
    gain: float = number("tonal value increase at 50 %", "%", 0, MOST_GAIN, 16)
    line: float = number("finest line", "pt", 0.01, 10, 0.25)
    reversed_line: float = number("finest reversed line", "pt", 0.01, 10, 0.5)
    ruling: float = number("screen ruling", "", 20, 400, 150)
    output: float = number("output resolution", "", 100, 5080, 2400)
    source: str = text("where the figures come from", 400)

    def faults(self) -> tuple[str, ...]:
        """Dirt is feared from no more than what is sure to hold."""
        if self.may_print > self.holds:
            return ("what may print lies above what is sure to hold",)
        return ()


_LINES = "lines: common practice, no source."
_TONES = "3 to 97 % held: ISO 12647-2:2013 (from memory)."

PRESSES = {
    press.name: press
    for press in (
        Press(name="coated", gain=16, source=(
            f"Offset on coated paper. Gain: ISO 12647-2:2013, curve A (from memory). {_TONES} "
            f"Ruling and {_LINES}")),
        Press(name="uncoated", gain=22, ruling=133, reversed_line=0.75, source=(
            f"Offset on uncoated paper. Gain: ISO 12647-2:2013, curve C (from memory). {_TONES} "
            f"Ruling and {_LINES}")),
        Press(name="newsprint", gain=25, ruling=100, output=1270, line=0.5, reversed_line=1,
              source=(
            "Coldset offset. Gain and ruling: near ISO 12647-3:2013, which has 26 % (from "
            f"memory). Tones: as for offset, and {_LINES}")),
        Press(name="photocopy", may_print=2, holds=6, gain=20, ruling=106, output=600, line=0.5,
              reversed_line=0.75, source="All figures from memory; copiers differ widely."),
        Press(name="stencil duplicator", may_print=3, holds=10, gain=25, ruling=75, output=600,
              line=0.5, reversed_line=1.5,
              source="All figures from memory; they change with drum, ink and paper."),
        Press(name="inkjet", holds=2, gain=18, ruling=150, output=720, reversed_line=0.5, source=(
            "All figures from memory; a driver that corrects its own gain needs 0 %.")),
    )
}
"""The presses by name; the first is taken where none is named."""


VEILS = (0.5, 1, 2, 3, 5, 10, 50, 100)
"""Covers of a test strip, in percent."""

LINES = (0.1, 0.2, 0.25, 0.35, 0.5, 0.75, 1.0)
"""Lines of a test strip, in points."""


def my_printer(
    base: Press, *, faintest: float, even: float, line: float, reversed_line: float,
) -> Press:
    """The press as its test strip shows it: ``base`` with what the person saw held.

    ``faintest`` is the palest veil of which anything printed, ``even`` the palest that
    printed evenly, both in percent; the lines are the finest that are unbroken, in points.

    >>> mine = my_printer(PRESSES["coated"], faintest=2, even=5, line=0.35, reversed_line=0.5)
    >>> mine.name, mine.may_print, mine.holds
    ('my printer', 2, 5)
    """
    return replace(
        base, name="my printer", may_print=faintest, holds=even, line=line,
        reversed_line=reversed_line,
        source=f"Read off a test strip; gain and ruling as for {base.name}.",
    )
