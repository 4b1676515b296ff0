"""The line laid over itself."""

from dataclasses import dataclass
from typing import ClassVar

from core.matte import build_up_table
from core.steps.fields import number
from core.steps.step import Step
from core.tone import Table, complement


@dataclass(frozen=True, kw_only=True)
class BuildUp(Step):
    """Lay the line over itself ``times`` times: faint lines gain, and so does any veil.

    >>> BuildUp(times=2).sentence()
    'Lay the line over itself, 2 times in all.'
    """

    kind: ClassVar[str] = "build up"
    edition: ClassVar[int] = 1
    words: ClassVar[str] = "Lay the line over itself, {times} in all."

    times: float = number("times", "times", 0.1, 20, 2)

    def table(self, full: int) -> Table:
        """Grey to grey, as the cover it stands for builds up."""
        return complement(build_up_table(full, self.times))
