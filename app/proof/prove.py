"""One page, proved: everything that a printer would say of it, as one frozen value."""

from dataclasses import dataclass, field, replace

import numpy as np

from app.pages.bitmap import cut_rows, resized, sheet_cover
from app.pages.trims import Crossing, Trimmed, TrimRule, find_trim, ink_at_trim
from app.proof.lost import Lines, Weak, thin_lines, weak_marks
from app.proof.marks import Drawn, drawn_on
from app.proof.regions import Region
from app.proof.remedies import Case, Clearing, Remedy, remedies, with_black
from app.proof.residue import Residue, share_not_clear, would_print
from app.proof.solid import Cores, find_cores
from app.replay.page import lifted
from app.replay.printing import PrintedAs, Printing, Scaled, print_size
from core.fault import Watch, unwatched
from core.histogram import count_tones
from core.press.advice import (
    Advice,
    Form,
    grade_line_limits,
    grade_resolution,
    grade_ruling,
    suggest_form,
)
from core.press.presses import Press
from core.press.screens import Cut, Plain, Screen
from core.press.size import PrintSize
from core.readings import grey_plane
from core.sheet import Bands, Each, Plane, Sheet, whole
from core.steps.fold import replay
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone

STAGES = 6
"""In how many stages ``prove`` tells of a page."""


@dataclass(frozen=True)
class Order:
    """How a page is to be printed.

    ``size`` is that of the whole page. ``form`` ``1-bit`` is cut at ``ppi`` by ``cut``. ``trim``
    says how the page is trimmed, None not at all; it and ``bleed`` are in mm of the print.
    """

    press: Press
    form: Form = "grey"
    size: PrintedAs = Scaled()
    ppi: float = 1200
    cut: Cut = Plain()
    trim: TrimRule | None = None
    left_page: bool = False
    bleed: float = 3.0

    @classmethod
    def of(cls, printing: Printing, *, left_page: bool = False) -> "Order":
        """How a job prints a page.

        >>> order = Order.of(Printing("newsprint", size=Scaled(50)))
        >>> order.press.name, order.size
        ('newsprint', Scaled(percent=50))
        """
        return cls(
            printing.in_hand, printing.form, printing.size, printing.ppi, printing.cut,
            printing.trim, left_page, printing.bleed,
        )

    def size_of(self, shape: tuple[int, int], ppi: float) -> PrintSize:
        """The printed size of a page of (height, width) pixels."""
        return print_size(self.size, shape, ppi)


@dataclass(frozen=True, eq=False)
class Outgoing:
    """What goes out of a page: its cover (H, W) uint8; its resolution over the scan, in print.

    ``dots`` says that its tones are made of dots.
    """

    alpha: Plane
    ppi: float
    ppi_printed: float
    dots: bool = False


@dataclass(frozen=True, eq=False)
class Proof:
    """What was found. Lengths and areas are printed mm and mm2; see each part."""

    size: PrintSize
    order: Order
    out: Outgoing = field(repr=False)
    drawn: Drawn = field(repr=False)
    residue: Residue
    not_clear: float
    weak: Weak
    lines: Lines
    gaps: Lines
    cores: Cores | None
    suggested: tuple[Form, str]
    advice: tuple[Advice, ...]
    remedies: tuple[Remedy, ...]
    mended: tuple[float, StepList] | None
    trimmed: Trimmed | None
    crossings: tuple[Crossing, ...]
    ink: float
    settled: StepList
    case: Case | None = field(default=None, repr=False)

    def remedies_for(self, region: Region) -> tuple[Remedy, ...]:
        """The steps that would clear one region, the best first; none once the pixels are gone."""
        return () if self.case is None else remedies(self.case, region)

    def without_pixels(self) -> "Proof":
        """The same findings, without the page itself, to be kept for many pages."""
        return replace(self, case=None, out=replace(self.out, alpha=self.out.alpha[:0].copy()))

    @property
    def clean(self) -> bool:
        """Whether nothing would print that should not."""
        return self.residue.clean


def outgoing(cover: Plane, size: PrintSize, order: Order) -> Outgoing:
    """The page as the rendition has it: its tones, or black and white at the print's resolution.

    >>> made = outgoing(np.full((30, 30), 200, np.uint8), PrintSize((30, 30), 300),
    ...                 Order(Press(), "1-bit", ppi=600))
    >>> made.alpha.shape, int(made.alpha[0, 0])
    ((60, 60), 255)
    """
    if order.form == "grey":
        return Outgoing(cover, size.ppi, size.ppi_printed)
    factor = order.ppi * size.scale / size.ppi
    height, width = (max(round(side * factor), 1) for side in cover.shape)
    bits = cut_rows(resized(cover, height, width), order.cut, order.ppi)((0, height))
    alpha = np.where(bits, np.uint8(255), np.uint8(0))
    dots = not isinstance(order.cut, Plain)
    return Outgoing(alpha, size.ppi * width / cover.shape[1], order.ppi, dots)


def judge_residue(out: Outgoing, drawn: Drawn, press: Press, each: Each = map) -> Residue:
    """What would print of an outgoing page: see ``would_print``."""
    return would_print(out.alpha, drawn, press, ppi=out.ppi, ppi_printed=out.ppi_printed,
                       crumbs=not out.dots, each=each)


@dataclass(frozen=True, eq=False)
class Made:
    """A page as its list made it.

    ``before`` is the page after the last step that needs it whole, or later, and ``settled`` holds
    the steps as they were settled, from there on at least; ``cover`` (H, W) uint8 is the result's.
    ``clearing`` remembers what clearing steps leave of it.
    """

    steps: StepList
    settled: StepList
    before: Sheet
    cover: Plane
    clearing: Clearing = field(default_factory=Clearing)


def prove(
    scan: Bands, steps: StepList, order: Order, each: Each = map, watch: Watch = unwatched,
) -> Proof:
    """Replay ``steps`` over a scan and judge what goes out; ``watch`` is told of six stages."""
    replayed = lifted(replay(steps, scan, each))
    cover = sheet_cover(whole(replayed.page, each))
    watch(1, STAGES)
    drawn = drawn_on(replayed, scan, each)
    watch(2, STAGES)
    made = Made(steps, replayed.settled, whole(replayed.before, each), cover)
    return prove_made(made, drawn, order, each, watch)


def prove_made(
    made: Made, drawn: Drawn, order: Order, each: Each = map, watch: Watch = unwatched,
) -> Proof:
    """Judge a page that is made, whose marks are known; the last four of six stages."""
    cover, press = made.cover, order.press
    size = order.size_of((cover.shape[0], cover.shape[1]), made.before.ppi)
    out = outgoing(cover, size, order)

    def judge(alpha: Plane) -> Residue:
        return judge_residue(outgoing(alpha, size, order), drawn, press, each)

    case = Case(made.steps, made.settled, made.before, cover, drawn,
                judge_residue(out, drawn, press, each), judge, clearing=made.clearing)
    watch(3, STAGES)
    mends = remedies(case)
    watch(4, STAGES)
    form, why = suggest_form(count_tones(grey_plane(case.before)))
    cores = _cores(case, size, order, form, each)
    watch(5, STAGES)
    trimmed, crossings = trim_at(cover, size, order)
    # between the dots of a screen a mark is not lost, and there are no lines to judge
    weak, lines, gaps = _losses(
        Outgoing(cover, size.ppi, size.ppi_printed) if out.dots else out, drawn, press, each)
    proof = Proof(
        size=size, order=order, out=out, drawn=drawn, residue=case.residue,
        not_clear=share_not_clear(out.alpha, drawn, ppi=out.ppi, each=each), weak=weak,
        lines=lines, gaps=gaps, cores=cores, suggested=(form, why), advice=advise(size, order),
        remedies=mends, mended=_mended(made, cores), trimmed=trimmed, crossings=crossings,
        ink=float(cover.mean(dtype=np.float64)) / 255, settled=made.settled, case=case,
    )
    watch(STAGES, STAGES)
    return proof


def _losses(
    out: Outgoing, drawn: Drawn, press: Press, each: Each,
) -> tuple[Weak, Lines, Lines]:
    """Pale marks, thin lines and thin white lines."""
    ppi, ppi_printed = out.ppi, out.ppi_printed
    weak = weak_marks(out.alpha, drawn, press, ppi=ppi, ppi_printed=ppi_printed, each=each)
    lines, gaps = (
        thin_lines(out.alpha, press, ppi=ppi, ppi_printed=ppi_printed, reversed_out=reversed_out)
        for reversed_out in (False, True)
    )
    return weak, lines, gaps


def trim_at(
    cover: Plane, size: PrintSize, order: Order,
) -> tuple[Trimmed | None, tuple[Crossing, ...]]:
    """Where a page of that cover (H, W) is trimmed, None where it is not, and the ink there."""
    if order.trim is None:
        return None, ()
    rule = order.trim.on_scan(size.scale)
    trimmed = find_trim(cover, size.ppi, rule, left_page=order.left_page)
    if trimmed.frame is None:
        return trimmed, ()
    return trimmed, ink_at_trim(cover, size.ppi, trimmed.frame, order.bleed / size.scale)


def _cores(case: Case, size: PrintSize, order: Order, form: Form, each: Each) -> Cores | None:
    """Cores are looked for where ink is graded and was drawn by pen or brush."""
    if form == "grey" or order.form == "1-bit":
        return None
    before = grey_plane(case.before)
    return find_cores(
        case.alpha, before if before.shape == case.alpha.shape else None, ppi=size.ppi,
        ppi_printed=size.ppi_printed, may_print=order.press.may_print, each=each,
    )


def _mended(made: Made, cores: Cores | None) -> tuple[float, StepList] | None:
    """The black point that makes cores solid, and the list with it."""
    if cores is None or cores.solid or cores.black is None:
        return None
    tone = next((s for s in made.settled.flat() if isinstance(s, Tone)), None)
    if tone is None or not isinstance(tone.points, Fixed) or cores.black >= tone.points.white - 20:
        return None
    return cores.black, with_black(made.steps, tone.points.black, cores.black)


def advise(size: PrintSize, order: Order) -> tuple[Advice, ...]:
    """What is to be said of resolution, ruling and lines before anything is looked at.

    >>> advise(PrintSize((100, 100), 300, 2.0), Order(Press()))[0].grade
    'strong'
    """
    dots = order.form == "1-bit" and not isinstance(order.cut, Plain)
    ppi = order.ppi if order.form == "1-bit" else size.ppi_printed
    said = [grade_resolution(ppi, order.form)]
    if order.form == "1-bit" and size.ppi_printed < 0.5 * order.ppi:
        said.append(Advice("warn", (
            f"the scan has {size.ppi_printed:.0f} ppi at print size, less than half of the "
            f"bitmap's {order.ppi:.0f}: its edges are drawn between pixels")))
    if dots:
        said.append(Advice("warn", "it is made of dots: place it at 100 %, do not scale it"))
    if isinstance(order.cut, Screen) and order.form == "1-bit":
        said.append(grade_ruling(order.ppi, order.cut.ruling))
    elif order.form == "grey":
        said.append(grade_ruling(order.press.output, order.press.ruling))
    said.append(grade_line_limits(ppi, order.press))
    return tuple(said)
