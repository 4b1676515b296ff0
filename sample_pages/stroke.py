"""What a drawing is before it meets paper: strokes in mm, each made by one tool."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from sample_pages.instruments import Tool

F64 = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Stroke:
    """One pull of one tool: (n, 2) points x, y in mm, and (n,) pressure 0-1 along them."""

    tool: Tool
    points: F64
    pressure: F64


@dataclass(frozen=True, eq=False)
class Solid:
    """An area filled with ink: (n, 2) outline in mm. Its edge is drawn by strokes of its own."""

    tool: Tool
    outline: F64


@dataclass(frozen=True, eq=False)
class Drawing:
    """A finished drawing: the sheet's (width, height) in mm, and its marks in the order laid."""

    size_mm: tuple[float, float]
    marks: tuple[Stroke | Solid, ...] = field(default=())
