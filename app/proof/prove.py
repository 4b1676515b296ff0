"""One page, proved: everything that a printer would say of it, as one frozen value."""

from dataclasses import dataclass, field, replace

import numpy as np

from app.pages.bitmap import cut_rows, resized, sheet_cover
from app.proof.frames import Crossing, Trimmed, TrimRule, find_trim, ink_at_trim
from app.proof.lost import Lines, Weak, thin_lines, weak_marks
from app.proof.marks import Drawn, drawn_on
from app.proof.regions import Region
from app.proof.remedies import Case, Remedy, remedies, with_black
from app.proof.residue import Residue, share_not_clear, would_print
from app.proof.solid import Cores, find_cores
from app.replay.page import lifted
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
from core.sheet import Bands, Each, Plane, whole
from core.steps.fold import Replayed, replay
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone

_STAGES = 6


@dataclass(frozen=True)
class Order:
    """How a page is to be printed.

    ``width`` and ``height`` are those of the whole scan in print, in mm, at most one of them;
    without either it is printed at its own size. ``form`` ``1-bit`` is cut at ``ppi`` by ``cut``.
    ``trim`` says how the page is trimmed, None not at all; ``bleed`` in mm of the print.
    """

    press: Press
    form: Form = "grey"
    width: float | None = None
    height: float | None = None
    ppi: float = 1200
    cut: Cut = Plain()
    trim: TrimRule | None = None
    left_page: bool = False
    bleed: float = 3.0

    def size_of(self, shape: tuple[int, int], ppi: float) -> PrintSize:
        """The printed size of a page of (height, width) pixels."""
        if self.width is not None:
            return PrintSize.of_width(shape, ppi, self.width)
        if self.height is not None:
            return PrintSize.of_height(shape, ppi, self.height)
        return PrintSize(shape, ppi)


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


def prove(
    scan: Bands, steps: StepList, order: Order, each: Each = map, watch: Watch = unwatched,
) -> Proof:
    """Replay ``steps`` over a scan and judge what goes out; ``watch`` is told of six stages."""
    replayed = lifted(replay(steps, scan, each))
    page = whole(replayed.page, each)
    watch(1, _STAGES)
    drawn = drawn_on(replayed, scan, each)
    watch(2, _STAGES)
    cover = sheet_cover(page)
    size = order.size_of(page.shape, page.ppi)
    out = outgoing(cover, size, order)
    case = Case(
        steps, replayed.settled, whole(replayed.before, each), cover, drawn,
        judge_residue(out, drawn, order.press, each),
        lambda alpha: judge_residue(outgoing(alpha, size, order), drawn, order.press, each),
    )
    watch(3, _STAGES)
    mends = remedies(case)
    watch(4, _STAGES)
    form, why = suggest_form(count_tones(grey_plane(case.before)))
    cores = _cores(case, size, order, form, each)
    watch(5, _STAGES)
    trimmed, crossings = _trim(cover, size, order)
    # between the dots of a screen a mark is not lost, and there are no lines to judge
    graded = Outgoing(cover, size.ppi, size.ppi_printed) if out.dots else out
    proof = Proof(
        size=size, order=order, out=out, drawn=drawn, residue=case.residue,
        not_clear=share_not_clear(out.alpha, drawn, ppi=out.ppi, each=each),
        weak=weak_marks(graded.alpha, drawn, order.press, ppi=graded.ppi,
                        ppi_printed=graded.ppi_printed, each=each),
        lines=_thin(graded, order.press, reversed_out=False),
        gaps=_thin(graded, order.press, reversed_out=True), cores=cores, suggested=(form, why),
        advice=_advice(out, size, order), remedies=mends, mended=_mended(steps, replayed, cores),
        trimmed=trimmed, crossings=crossings, ink=float(cover.mean(dtype=np.float64)) / 255,
        settled=replayed.settled, case=case,
    )
    watch(_STAGES, _STAGES)
    return proof


def _thin(out: Outgoing, press: Press, *, reversed_out: bool) -> Lines:
    return thin_lines(out.alpha, press, ppi=out.ppi, ppi_printed=out.ppi_printed,
                      reversed_out=reversed_out)


def _trim(
    cover: Plane, size: PrintSize, order: Order,
) -> tuple[Trimmed | None, tuple[Crossing, ...]]:
    if order.trim is None:
        return None, ()
    trimmed = find_trim(cover, size.ppi, order.trim, left_page=order.left_page)
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
        ppi_printed=size.ppi_printed, each=each,
    )


def _mended(
    steps: StepList, replayed: Replayed, cores: Cores | None,
) -> tuple[float, StepList] | None:
    """The black point that makes cores solid, and the list with it."""
    if cores is None or cores.solid or cores.black is None:
        return None
    tone = next((s for s in replayed.settled.flat() if isinstance(s, Tone)), None)
    if tone is None or not isinstance(tone.points, Fixed) or cores.black >= tone.points.white - 20:
        return None
    return cores.black, with_black(steps, tone.points.black, cores.black)


def _advice(out: Outgoing, size: PrintSize, order: Order) -> tuple[Advice, ...]:
    said = [grade_resolution(out.ppi_printed, order.form)]
    if order.form == "1-bit" and size.ppi_printed < 0.5 * order.ppi:
        said.append(Advice("warn", (
            f"the scan has {size.ppi_printed:.0f} ppi at print size, less than half of the "
            f"bitmap's {order.ppi:.0f}: its edges are drawn between pixels")))
    if out.dots:
        said.append(Advice("warn", "it is made of dots: place it at 100 %, do not scale it"))
    if isinstance(order.cut, Screen) and order.form == "1-bit":
        said.append(grade_ruling(order.ppi, _ruled(order.press, order.cut)))
    elif order.form == "grey":
        said.append(grade_ruling(order.press.output, order.press))
    said.append(grade_line_limits(out.ppi_printed, order.press))
    return tuple(said)


def _ruled(press: Press, screen: Screen) -> Press:
    return replace(press, ruling=screen.ruling)
