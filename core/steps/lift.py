"""Darkness becomes alpha."""

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from core.light import grey_of
from core.matte import lift_ink, lift_own, paper_codes, scale_alpha, unmix
from core.sheet import Paper, Rgb, Sheet, full_scale, plane_type
from core.steps.fields import Record, colour, either
from core.steps.step import Step
from core.tone import Table


@dataclass(frozen=True, kw_only=True)
class One(Record):
    """All ink takes one colour."""

    words: ClassVar[str] = "in {colour}"

    colour: Rgb = colour("ink colour", (0, 0, 0))


@dataclass(frozen=True, kw_only=True)
class Own(Record):
    """Each pixel keeps the scan's own colour, the share of this page's own paper taken out."""

    words: ClassVar[str] = "in the scan's own colour, the paper's share taken out"


@dataclass(frozen=True, kw_only=True)
class Over(Record):
    """The same over a paper whose colour is given; ``clear`` is what bare paper carries."""

    words: ClassVar[str] = (
        "in the scan's own colour over paper of the colour {paper}; clear ground carries {clear}"
    )

    paper: Rgb = colour("paper colour", (255, 255, 255))
    clear: Rgb = colour("colour where clear", (0, 0, 0))


@dataclass(frozen=True, kw_only=True)
class Lift(Step):
    """Lift the ink off the paper: alpha is how dark the page is.

    In one colour alpha is full scale minus grey, exactly. In the scan's own colour it is
    the least that explains all three channels over the paper's colour, times what the
    steps before it did to the grey. A second lift only changes the ink's colour.
    """

    kind: ClassVar[str] = "lift"
    edition: ClassVar[int] = 1
    words: ClassVar[str] = "Lift the ink off the paper {ink}."

    ink: One | Own | Over = either("ink", One, Own, Over)

    @property
    def lifts_in(self) -> Rgb | None:
        """The one colour, if it is one."""
        return self.ink.colour if isinstance(self.ink, One) else None

    @property
    def needs_paper(self) -> bool:
        """The scan's own colour is told from the paper's."""
        return isinstance(self.ink, Own)

    def settle(self, paper: Paper) -> "Lift":
        """The page's own paper becomes a given one.

        >>> Lift(ink=Own()).settle(Paper(228, 3, (230.2, 228, 220), (20, 22, 30))).ink
        Over(paper=(230, 228, 220), clear=(20, 22, 30))
        """
        if not isinstance(self.ink, Own):
            return self
        return replace(self, ink=Over(paper=paper_codes(paper.colour, 255), clear=paper.ink))

    def table(self, full: int) -> Table | None:
        """Grey to alpha, in one colour."""
        if not isinstance(self.ink, One):
            return None
        return lift_ink(np.arange(full + 1, dtype=plane_type(full)))

    def apply(self, sheet: Sheet) -> Sheet:
        """The scan's own colour, lifted; a grey scan has none and is lifted in its ink's tone.

        >>> page = Sheet(ppi=300, colour=np.array([[[255, 255, 255], [255, 0, 0]]], np.uint8))
        >>> lifted = Lift(ink=Over()).apply(page)
        >>> lifted.alpha.tolist(), lifted.colour[0, 1].tolist()
        ([[0, 255]], [255, 0, 0])
        """
        if sheet.alpha is not None:
            return sheet
        if not isinstance(self.ink, Over):
            raise TypeError("a following step is settled before it is used")
        scan, grey, paper = sheet.colour, sheet.grey, self.ink.paper
        if scan is None:
            assert grey is not None
            scan, grey = np.repeat(grey[..., None], 3, axis=2), None
        least = lift_own(scan, paper)
        own = unmix(scan, least, paper, self.ink.clear)
        if grey is None:
            return replace(sheet, grey=None, colour=own, alpha=least, ink=None)
        alpha = scale_alpha(least, grey, grey_of(scan))
        own[alpha == 0] = np.array(self.ink.clear) * full_scale(own) // 255
        return replace(sheet, grey=None, colour=own, alpha=alpha, ink=None)
