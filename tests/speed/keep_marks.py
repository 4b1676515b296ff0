"""How well the paper is told from the drawing, on pages that nobody tuned on, and how fast.

Run: python tests/speed/keep_marks.py [--seeds 1 2 3] [--ppi 300] [--tooth 1] [--time]
Pages come from the sample generator by seed. Where ../shared/real/paper exists, every third
page is drawn on its height map, lit from one side. ``--tooth`` deepens the shadow of the
paper's tooth so many times. All figures are in per cent:

residue  bare paper (over 0.35 mm from any ink) with alpha of 2 % or more; then any alpha at all
loss     sum of |alpha - truth| over the ink, over the sum of truth, after the best single gain
faint    share of the weight of strokes that cover 10-22 % of the paper which survives, at that gain
dust     share of dust pixels left, of those clear of ink
apart    the same of dust that touches no ink, so that it can be told from a stroke's own rim
grain    correlation of the high-passed alpha with the high-passed truth in pencil and dry brush

Truth is how dark the true cover would be on flat paper in even light, as a scanner codes it.
What a mishap touched is left out. Otsu's and Sauvola's thresholds are scikit-image's.
"""

import argparse
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import cv2
import numpy as np
from measuring import a_page, in_turn
from skimage.filters import threshold_otsu, threshold_sauvola

from app.filters.drop_specks import DropSpecks
from app.filters.even_light import EvenLight
from app.filters.keep_marks import KeepMarks
from app.replay.page import bands_by
from app.suggest import suggest
from core.light import grey_of, linear_to_srgb
from core.sheet import Sheet, whole
from core.steps.fold import replay
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone
from core.units import mm_to_px
from sample_pages import request as making
from sample_pages import surface
from sample_pages.instruments import TOOLS, DryBrush, Pencil

REAL = Path(__file__).parents[3] / "shared/real/paper/Paper001_2K_Displacement.jpg"
REAL_PPI, REAL_SOUND = 599, 1880  # its resolution, and the column beyond which it has defects
FIGURES = ("residue", "any", "loss", "faint", "dust", "apart", "grain")
BLACK_INK, WHITE_PAPER = 0.022, 0.86
INK = 0.004
SOLID = 0.9


def real_surface(tooth, size_mm, ppi, rng):
    """A surface like the generator's own, of the real sheet's height map, mirrored to any size."""
    rows, columns = surface.pixels_of(size_mm, ppi)
    scale = ppi / REAL_PPI
    height = cv2.imread(str(REAL), cv2.IMREAD_GRAYSCALE)[:, :REAL_SOUND].astype(np.float32)
    height = cv2.resize(height, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    height -= cv2.GaussianBlur(height, (0, 0), mm_to_px(4, ppi))
    height = np.hstack([height, height[:, ::-1]])
    height = np.vstack([height, height[::-1]])
    down, right = (int(rng.integers(side)) for side in height.shape)
    times = (rows // height.shape[0] + 2, columns // height.shape[1] + 2)
    height = np.tile(height, times)[down : down + rows, right : right + columns].copy()
    height = (height - height.mean()) / height.std()
    step = float(np.abs(np.diff(height[::4], axis=1)).mean())
    ranks = np.quantile(height[::3, ::5], np.linspace(0, 1, surface.RANKS))
    return surface.Surface(height, surface.COLD_PRESSED.height_mm, ppi, step, ranks)


def draw(seed: int, ppi: int, tooth: float = 1.0):
    """A page by seed, on real tooth where its number says so."""
    request = making.random_request(seed, ppi)
    request = replace(request, tooth=request.tooth * tooth)
    made = making.make_surface
    if seed % 3 == 0 and REAL.exists():
        making.make_surface = real_surface
    try:
        return request, making.render(request)
    finally:
        making.make_surface = made


def truth_of(drawn) -> SimpleNamespace:
    """What the figures are measured against: planes and masks, (H, W)."""
    flat = linear_to_srgb(drawn.cover * BLACK_INK + (1 - drawn.cover) * WHITE_PAPER)
    ends = linear_to_srgb(np.array([WHITE_PAPER, BLACK_INK]))
    ink = drawn.cover > INK
    size = 2 * round(mm_to_px(0.35, drawn.ppi)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    taken = (ink | drawn.stray | drawn.dust).astype(np.uint8)
    dust = drawn.dust & ~ink & ~drawn.stray
    _, pieces = cv2.connectedComponents((ink | drawn.dust).astype(np.uint8), connectivity=8)
    inked = np.unique(pieces[ink])
    return SimpleNamespace(
        dark=((ends[0] - flat) / (ends[0] - ends[1])).astype(np.float32),
        ink=ink & ~drawn.stray, bare=cv2.dilate(taken, disc) == 0,
        faint=drawn.faint & ~drawn.stray, dust=dust, apart=dust & ~np.isin(pieces, inked),
        solid=drawn.cover > SOLID, grainy=np.isin(drawn.instrument, grainy_codes()),
        blur=mm_to_px(0.5, drawn.ppi),
    )


def grainy_codes() -> list[int]:
    """The codes of the tools that touch only the peaks of the tooth."""
    return [tool.code for tool in TOOLS if isinstance(tool, Pencil | DryBrush)]


def figures(alpha: np.ndarray, truth: SimpleNamespace) -> dict[str, float]:
    """The figures of one alpha (H, W) of 0-1."""
    found, true = alpha[truth.ink], truth.dark[truth.ink]
    gains = np.linspace(0.5, 2, 61)
    losses = [np.abs(gain * found - true).sum() for gain in gains]
    kept = np.minimum(gains[np.argmin(losses)] * alpha, truth.dark)
    grain = np.nan
    if truth.grainy.sum() > 2000:
        high = [p - cv2.GaussianBlur(p, (0, 0), truth.blur) for p in (alpha, truth.dark)]
        grain = np.corrcoef(*(p[truth.grainy] for p in high))[0, 1]
    faint = truth.faint.sum() > 2000
    return dict(zip(FIGURES, (100 * float(v) for v in (
        (alpha[truth.bare] >= 0.02).mean(), (alpha[truth.bare] > 0).mean(),
        min(losses) / true.sum(),
        kept[truth.faint].sum() / truth.dark[truth.faint].sum() if faint else np.nan,
        *((alpha[dust] >= 0.02).mean() if dust.any() else np.nan
          for dust in (truth.dust, truth.apart)), grain,
    )), strict=True))


def curve(grey: np.ndarray, black: float, white: float) -> np.ndarray:
    """Alpha after a straight two-point curve."""
    return np.clip((white - grey.astype(np.float32)) / (white - black), 0, 1)


def ink_tone(grey: np.ndarray, truth: SimpleNamespace) -> float:
    """The tone of solid ink, known from the truth."""
    dark = grey[truth.solid] if truth.solid.sum() > 500 else np.quantile(grey, [0.002])
    return float(np.median(dark))


def best_curve(grey: np.ndarray, truth: SimpleNamespace) -> np.ndarray:
    """The highest white point with residue of at most 0.1 %, chosen with the truth in hand."""
    black = ink_tone(grey, truth)
    for white in range(254, int(black) + 10, -1):
        alpha = curve(grey, black, white)
        if (alpha[truth.bare] >= 0.02).mean() <= 0.001:
            return alpha
    return alpha


def divided(grey: np.ndarray, ppi: int) -> np.ndarray:
    """Division by a blurred background (5 mm), then a fixed curve."""
    back = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), mm_to_px(5, ppi))
    return curve(np.minimum(255 * (grey / np.maximum(back, 1)), 255), 60, 235)


def methods(drawn, truth: SimpleNamespace) -> dict[str, Callable[[], np.ndarray]]:
    """Every way of making alpha from a scan, by name."""
    scan = (drawn.scan >> 8).astype(np.uint8)
    grey = grey_of(scan)
    sheet = Sheet(ppi=drawn.ppi, colour=scan)

    def perfect() -> np.ndarray:
        even = grey_of(EvenLight().apply(sheet).colour)
        return np.where(truth.ink, curve(even, ink_tone(even, truth), 230), 0)

    def ours() -> np.ndarray:
        done = whole(replay(suggest(sheet, "suggested").steps, sheet).page)
        return done.alpha.astype(np.float32) / 255

    window = 2 * round(mm_to_px(1, drawn.ppi)) + 1
    return {
        "Otsu": lambda: (grey <= threshold_otsu(grey)).astype(np.float32),
        "Sauvola": lambda: (grey <= threshold_sauvola(grey, window)).astype(np.float32),
        "divided by its blur": lambda: divided(grey, drawn.ppi),
        "best curve, truth in hand": lambda: best_curve(grey, truth),
        "suggested": ours,
        "perfect mask": perfect,
    }


def row(name: str, values: dict[str, float]) -> str:
    """One line of the table."""
    return f"{name:28}" + "".join(f"{values[figure]:9.3f}" for figure in FIGURES)


def quality(seeds: list[int], ppi: int, tooth: float) -> None:
    """Print the table: per page, then mean and worst of each method."""
    every: dict[str, list[dict[str, float]]] = {}
    print(" " * 28 + "".join(f"{figure:>9}" for figure in FIGURES))
    for seed in seeds:
        request, drawn = draw(seed, ppi, tooth)
        truth = truth_of(drawn)
        paper = "real" if seed % 3 == 0 and REAL.exists() else request.paper
        print(f"{seed}: {request.scene}, {paper}, tooth {request.tooth:.2f}, {request.tint}, "
              f"gutter {request.gutter:.2f}, {request.tool or 'own tools'}", flush=True)
        for name, made in methods(drawn, truth).items():
            values = figures(made(), truth)
            every.setdefault(name, []).append(values)
            print(row("  " + name, values), flush=True)
    for name, pages in every.items():
        columns = {figure: np.array([page[figure] for page in pages]) for figure in FIGURES}
        worst = {f: np.nanmin(v) if f in {"faint", "grain"} else np.nanmax(v)
                 for f, v in columns.items()}
        print(row(name + ", mean", {f: np.nanmean(v) for f, v in columns.items()}))
        print(row(name + ", worst", worst))


def speed() -> None:
    """Time of the whole list on A3 at 600 ppi as a multiple of one blur of sigma 4."""
    page = Sheet(ppi=600, grey=a_page())
    points = Fixed(black=40, white=230)
    steps = StepList("all", (EvenLight(), KeepMarks(), DropSpecks(), Tone(points=points), Lift()))
    with bands_by(cv2.getNumThreads()) as each:
        taken = in_turn({
            "blur": lambda: cv2.GaussianBlur(page.grey, (0, 0), 4.0),
            "list": lambda: whole(replay(steps, page, each).page, each),
        })
    print(", ".join(step.kind for step in steps.steps))
    blur, made = taken["blur"], taken["list"]
    print(f"one blur {blur:.3f} s, the list {made:.3f} s: {made / blur:.1f} times")


def main() -> None:
    """Read the words and measure."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seeds", type=int, nargs="+", default=list(range(1, 11)))
    words.add_argument("--ppi", type=int, default=300)
    words.add_argument("--tooth", type=float, default=1.0)
    words.add_argument("--time", action="store_true")
    asked = words.parse_args()
    if asked.time:
        speed()
    else:
        quality(asked.seeds, asked.ppi, asked.tooth)


if __name__ == "__main__":
    main()
