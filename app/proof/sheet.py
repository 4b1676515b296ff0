"""The proof sheet: one self-contained page of HTML for the printer and for the desk."""

import base64
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape

import cv2
import numpy as np

from app.pages.bitmap import resized
from app.pages.names import in_letters
from app.pages.trims import Frame
from app.proof.prove import Proof
from app.proof.regions import Region
from app.proof.said import findings, press_said
from core.press.size import PrintSize
from core.sheet import Plane
from core.units import mm_to_px

_PPI = 220  # of the pictures at print size: finer than a screen, as fine as an office printer needs
_CONTACT_MM = 58.0
_CONTACT_PPI = 200
_MARKED = 60  # regions that are outlined on a picture
_UPRIGHT, _ACROSS = (180.0, 220.0), (250.0, 155.0)  # mm left for a picture on A4 or letter paper

_STYLE = """
:root { color-scheme: light; --ink: #26221d; --quiet: #7a7268; --rule: #d9d2c6; --bad: #9a3412; }
* { box-sizing: border-box; }
body { font: 15px/1.5 system-ui, sans-serif; color: var(--ink); background: #f4f1ea; margin: 0;
  padding: 32px; font-variant-numeric: tabular-nums; }
header, section, footer { max-width: 1120px; margin: 0 auto 32px; }
h1 { font-size: 26px; font-weight: 600; margin: 0 0 4px; } h2 { font-size: 19px; font-weight: 600;
  margin: 0 0 4px; }
p { margin: 0 0 8px; max-width: 78ch; } .quiet { color: var(--quiet); }
section { background: #fff; border: 1px solid var(--rule); border-radius: 6px; padding: 24px;
  overflow-x: auto; }
.page { display: flex; flex-wrap: wrap; gap: 24px; align-items: flex-start; }
.contact .page { gap: 16px; } .words { flex: 1 1 300px; min-width: 0; }
figure { margin: 0; flex: none; position: relative; line-height: 0; max-width: 100%; overflow: auto;
  border: 1px solid var(--rule); background: #fff; }
figure div { position: relative; } figure img, figure svg { position: absolute; inset: 0;
  width: 100%; height: 100%; display: block; }
ul { list-style: none; margin: 0 0 8px; padding: 0; } li { padding-left: 24px; position: relative; }
li::before { position: absolute; left: 0; } li.good::before { content: "\\2713"; }
li.warn::before { content: "!"; left: 5px; font-weight: 600; }
li.strong::before { content: "\\2715"; color: var(--bad); } li.strong { font-weight: 600; }
table { border-collapse: collapse; width: 100%; } th, td { text-align: left;
  padding: 4px 16px 4px 0; border-bottom: 1px solid var(--rule); vertical-align: top; }
th { font-weight: 600; }
th.n, td.n { text-align: right; white-space: nowrap; } ol { margin: 8px 0 0; padding-left: 24px; }
@media print { body { background: #fff; padding: 0; font-size: 10pt; } section { border: 0; padding:
  0 0 8mm; overflow: visible; } section, figure, li, tr { break-inside: avoid; }
  h2, h2 + p { break-after: avoid; } figure { overflow: visible; }
  figure div { width: var(--paper) !important; } .across { page: across; }
  @page { margin: 12mm; } @page across { size: landscape; } }
"""


# once for all pages: a name may stand once in a document
_HATCH = (
    '<svg width="0" height="0" style="position:absolute" aria-hidden="true"><defs>'
    '<pattern id="hatch" width="1.2" height="1.2" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><rect width=".4" height="1.2" fill="#c2410c"/></pattern>'
    "</defs></svg>"
)


@dataclass(frozen=True, eq=False)
class Proved:
    """A page's name, its proof without its pixels, its list in sentences, and its picture."""

    name: str
    proof: Proof
    steps: tuple[str, ...]
    picture: str

    @classmethod
    def of(cls, name: str, proof: Proof, *, contact: bool = False) -> "Proved":
        """The page ready for the sheet: at print size, or 58 mm wide where ``contact`` is set."""
        widths = _CONTACT_MM, _CONTACT_MM
        if not contact:
            widths = proof.size.width, _on_paper(proof.size)[0]
        picture = _picture(proof, widths, _CONTACT_PPI if contact else _PPI)
        steps = proof.settled if proof.case is None else proof.case.steps
        return cls(name, proof.without_pixels(), steps.sentences(), picture)


def proof_sheet(
    title: str, date: str, pages: Sequence[Proved], *, contact: bool = False,
    lacks: Sequence[str] = (),
) -> str:
    """The sheet as HTML text; ``date`` as the person writes it.

    ``contact`` says that the pages were made for a contact sheet. ``lacks`` are the names of
    pages that belong here and could not be read.
    """
    press = pages[0].proof.order.press if pages else None
    dirty = sum(not page.proof.clean for page in pages)
    verdict = ("Nothing would print that should not." if not dirty else
               f"On {dirty} of {len(pages)} pages something would print that should not.")
    head = [
        f"<header><h1>{escape(title)}</h1>",
        f'<p class="quiet">Proof sheet, {escape(date)}. {escape(verdict)}</p>',
        f"<p><strong>Missing here: {escape(', '.join(lacks))}.</strong></p>" if lacks else "",
        f"<p>{escape(_capital(press_said(press)))}</p>" if press else "", "</header>",
        _table(pages) if len(pages) > 1 else "",
    ]
    body = [_section(page, contact=contact) for page in pages]
    kind = ' class="contact"' if contact else ""
    return in_letters("\n".join([
        "<!doctype html>", '<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(title)}: proof sheet</title><style>{_STYLE}</style></head><body{kind}>",
        _HATCH if any("#hatch" in page.picture for page in pages) else "",
        *filter(None, head), *body, *_steps(pages), "</body></html>", "",
    ]))


def _table(pages: Sequence[Proved]) -> str:
    rows = [
        "<tr>" + "".join((
            f"<td>{escape(page.name)}</td>", _cell(f"{_mm(page.proof.size)}"),
            _cell(f"{page.proof.out.ppi_printed:.0f}"), _cell(f"{100 * page.proof.ink:.1f} %"),
            _cell(f"{page.proof.residue.area:.2f}"), _cell(f"{page.proof.weak.lost_area:.2f}"),
        )) + "</tr>" for page in pages
    ]
    first, *heads = ("page", "printed, mm", "ppi", "ink", "would print, mm2", "would be lost, mm2")
    head = f"<th>{first}</th>" + "".join(f'<th class="n">{_unit(text)}</th>' for text in heads)
    return f"<section><table><tr>{head}</tr>{''.join(rows)}</table></section>"


def _cell(text: str) -> str:
    return f'<td class="n">{escape(text)}</td>'


def _capital(said: str) -> str:
    return said[:1].upper() + said[1:]


def _sentence(said: str) -> str:
    return _unit(escape(f"{_capital(said)}."))


def _unit(text: str) -> str:
    return text.replace("mm2", "mm\N{SUPERSCRIPT TWO}")


def _mm(size: PrintSize) -> str:
    return f"{size.width:.1f} x {size.height:.1f}"


def _section(page: Proved, *, contact: bool) -> str:
    proof = page.proof
    items = "".join(f'<li class="{one.grade}">{_sentence(one.said)}</li>'
                    for one in findings(proof))
    paper, across = _on_paper(proof.size)
    shown = "" if contact else ", shown at print size"
    if shown and paper < proof.size.width:
        shown += " on the screen"
    facts = (f"{_mm(proof.size)} mm in print{shown}; {proof.out.ppi_printed:.0f} ppi, "
             f"{proof.order.form}; ink on {100 * proof.ink:.1f} %")
    if proof.residue.regions:
        first = f" (the {_MARKED} gravest)" if len(proof.residue.regions) > _MARKED else ""
        facts += f"; hatched is what may print{first}, in a whole outline what will"
    if _trim_frame(proof) is not None:
        facts += "; the blue dashes are the trim"
    kind = ' class="across"' if across and not contact else ""
    return (f'<section{kind}><h2>{escape(page.name)}</h2><p class="quiet">{escape(facts)}.</p>'
            f'<div class="page">{page.picture}<div class="words"><ul>{items}</ul></div></div>'
            "</section>")


def _picture(proof: Proof, widths: tuple[float, float], ppi: float) -> str:
    """The page as it goes out, its dirt hatched and outlined; mm wide on the screen, on paper."""
    size, (width, paper) = proof.size, widths
    scan = size.width / size.scale, size.height / size.scale
    marks = "".join(_outline(region) for region in proof.residue.regions[:_MARKED])
    trim = ""
    if (frame := _trim_frame(proof)) is not None:
        x, y, wide, high = frame
        trim = (f'<rect x="{x:.2f}" y="{y:.2f}" width="{wide:.2f}" height="{high:.2f}" fill="none" '
                'stroke="#1d4ed8" stroke-width=".25" stroke-dasharray="2 1.2"/>')
    return (
        f'<figure><div style="width:{width:.2f}mm;--paper:{paper:.2f}mm;'
        f'aspect-ratio:{size.width:.2f}/{size.height:.2f}">'
        f'<img alt="the page as it would print" src="{_png(proof.out.alpha, width, ppi)}">'
        f'<svg viewBox="0 0 {scan[0]:.2f} {scan[1]:.2f}" aria-hidden="true">'
        f"{marks}{trim}</svg></div></figure>"
    )


def _on_paper(size: PrintSize) -> tuple[float, bool]:
    """How wide a page can be on office paper, in mm, and whether that is laid across for it.

    >>> _on_paper(PrintSize((1000, 2000), 254)), _on_paper(PrintSize((3000, 2000), 254))
    ((200.0, True), (146.66666666666666, False))
    """
    upright, across = (min(size.width, wide, high * size.width / size.height)
                       for wide, high in (_UPRIGHT, _ACROSS))
    return max(upright, across), across > upright


def _trim_frame(proof: Proof) -> Frame | None:
    return None if proof.trimmed is None else proof.trimmed.frame


def _outline(region: Region) -> str:
    left, top, width, height = region.box
    dash = "" if region.verdict == "will print" else ' stroke-dasharray=".8 .5"'
    return (f'<rect x="{left - 0.5:.2f}" y="{top - 0.5:.2f}" width="{width + 1:.2f}" '
            f'height="{height + 1:.2f}" fill="url(#hatch)" fill-opacity=".5" stroke="#c2410c" '
            f'stroke-width=".25"{dash}/>')


def _png(alpha: Plane, width: float, ppi: float) -> str:
    """The cover on white as a PNG within the text, no finer than ``ppi`` at that width."""
    across = min(round(mm_to_px(width, ppi)), alpha.shape[1])
    down = max(round(alpha.shape[0] * across / alpha.shape[1]), 1)
    small = np.invert(resized(alpha, down, across))
    _, packed = cv2.imencode(".png", small)
    return "data:image/png;base64," + base64.b64encode(packed.tobytes()).decode("ascii")


def _steps(pages: Iterable[Proved]) -> Iterator[str]:
    """Each list once, with the pages that went through it."""
    lists: dict[tuple[str, ...], list[str]] = {}
    for page in pages:
        lists.setdefault(page.steps, []).append(page.name)
    for sentences, names in lists.items():
        items = "".join(f"<li>{escape(sentence)}</li>" for sentence in sentences)
        whose = "What was done" if len(lists) == 1 else f"What was done to {', '.join(names)}"
        yield f"<section><h2>{escape(whose)}</h2><ol>{items}</ol></section>"
