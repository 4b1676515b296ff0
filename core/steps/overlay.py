"""How lines, colour and paper lie over one another."""

from dataclasses import dataclass, replace
from typing import ClassVar

from core.sheet import WHITE, Overlay, Rgb, Sheet
from core.steps.fields import choice, colour, number
from core.steps.step import Step


@dataclass(frozen=True, kw_only=True)
class Lay(Step):
    """Lay lines and colour on paper of a colour, each as opaque as wished.

    >>> Lay().sentence()
    'Lay the lines (100 %) above the colour (100 %), on paper of white.'
    """

    kind: ClassVar[str] = "overlay"
    edition: ClassVar[int] = 1
    on_ink: ClassVar[bool] = True
    words: ClassVar[str] = (
        "Lay the lines ({lines}) {order} the colour ({colour}), on paper of {paper}."
    )

    order: str = choice("the lines lie", {"above": "above", "below": "below"}, "above")
    lines: float = number("opacity of the lines", "%", 0, 100, 100)
    paper: Rgb = colour("paper", WHITE)
    colour: float = number("opacity of the colour", "%", 0, 100, 100)

    def apply(self, sheet: Sheet) -> Sheet:
        """The sheet with its overlay; no plane of it changes.

        >>> import numpy as np
        >>> Lay(lines=50).apply(Sheet(ppi=300, alpha=np.zeros((1, 1), np.uint8))).overlay.lines
        0.5
        """
        overlay = Overlay(
            self.lines / 100, self.colour / 100, self.paper, colour_above=self.order == "below",
        )
        return replace(sheet, overlay=overlay)
