"""Ways to vary a drawing: other tools, other inks, and faint pencil shading laid over it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sample_pages.form import patches, scaled
from sample_pages.instruments import (
    DIP_PEN,
    FINE_PEN,
    FOUNTAIN_PEN,
    INKS,
    MECHANICAL_PENCIL,
    SOFT_PENCIL,
    SOFT_PENCIL_SIDE,
    Pen,
    Pencil,
    Tool,
)
from sample_pages.path import smooth
from sample_pages.sketch import LOOSE, PLAIN, Sketch
from sample_pages.stroke import Drawing, Solid, Stroke

LINE_TOOLS: dict[str, Tool] = {
    tool.name: tool
    for tool in (FINE_PEN, DIP_PEN, FOUNTAIN_PEN, MECHANICAL_PENCIL, SOFT_PENCIL)
}


def shaded(drawing: Drawing, patches_of_tone: int, rng: np.random.Generator) -> Drawing:
    """The drawing with so many patches of hatching, each so light that 10-22 % is covered."""
    s = Sketch(drawing.size_mm, rng)
    wide, high = drawing.size_mm
    for _ in range(patches_of_tone):
        x, y = rng.uniform(0.15, 0.85) * wide, rng.uniform(0.15, 0.85) * high
        turn = np.linspace(0.0, 2.0 * np.pi, 9)[:-1]
        size = rng.uniform(0.6, 1.2, 8) * rng.uniform(8.0, 22.0)
        ring = np.column_stack([x + size * np.cos(turn), y + 0.7 * size * np.sin(turn)])
        region, angle = s.region(smooth(ring, closed=True)), float(rng.uniform(15, 75))
        kind, light = int(rng.integers(3)), patches(drawing.size_mm, 14.0, rng)
        if kind == 0:
            s.hatch(MECHANICAL_PENCIL, region, angle, rng.uniform(0.8, 1.4), 1.0,
                    scaled(light, 0.1, 0.05), PLAIN, reach=16)
        elif kind == 1:
            s.hatch(SOFT_PENCIL, region, angle, rng.uniform(1.0, 2.0), 1.0,
                    scaled(light, 0.12, 0.06), PLAIN, reach=20)
        else:
            s.hatch(SOFT_PENCIL_SIDE, region, angle, 2.1, 1.0,
                    scaled(light, 0.12, 0.08), LOOSE, reach=24)
    return Drawing(drawing.size_mm, drawing.marks + s.drawing().marks)


def drawn_with(drawing: Drawing, tool: str, ink: str) -> Drawing:
    """The drawing with its pen lines drawn by another tool or in another ink; "" leaves each.

    KeyError for a name that is not in LINE_TOOLS or INKS.
    """
    marks: list[Stroke | Solid] = []
    for mark in drawing.marks:
        mine = mark.tool
        if tool and isinstance(mark, Stroke) and mine.name in LINE_TOOLS and isinstance(mine, Pen):
            mine = LINE_TOOLS[tool]
        if ink and not isinstance(mine, Pencil):
            mine = replace(mine, ink=INKS[ink])
        marks.append(mark if mine is mark.tool else replace(mark, tool=mine))
    return Drawing(drawing.size_mm, tuple(marks))
