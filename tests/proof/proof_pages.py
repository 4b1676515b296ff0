"""Pages for the tests of the proof: paper with a little grain, strokes, hatching, veils."""

import cv2
import numpy as np

from core.sheet import Sheet
from core.steps.lift import Lift
from core.steps.steplist import StepList
from core.steps.tone import Fixed, Tone

PPI = 300
PAPER = 230
BLACK = 30


def paper(height=600, width=600, *, noise=0.6, seed=3):
    """Bare paper with grain, float64 (H, W)."""
    return PAPER + np.random.default_rng(seed).normal(0, noise, (height, width))


def strokes(page, tone=22):
    """A few broad strokes of a pen across the page's upper part."""
    for row in (60, 90, 120):
        cv2.line(page, (60, row), (540, row + 25), float(tone), 7, cv2.LINE_AA)
    return page


def hatch(page, tone, *, box=(330, 150, 500, 450), step=14):
    """Parallel strokes of one tone, 4 px wide, in a box: top, left, bottom, right."""
    top, left, bottom, right = box
    for row in range(top, bottom, step):
        cv2.line(page, (left, row), (right, row - 20), float(tone), 4, cv2.LINE_AA)
    return page


def scan(page, ppi=PPI):
    """The page as a scanner gives it."""
    return Sheet(ppi=ppi, grey=np.clip(np.rint(page), 0, 255).astype(np.uint8))


def toned(white, black=BLACK):
    """A list of two points and a lift."""
    return StepList("points", (Tone(points=Fixed(black=black, white=white)), Lift()))


def white_for(cover, tone=PAPER, black=BLACK):
    """The white point at which a tone becomes that cover (0-1)."""
    return (tone - cover * black) / (1 - cover)
