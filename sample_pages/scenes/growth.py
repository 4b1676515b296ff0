"""Things that grow or fly, shared by several pages: reeds, grass, trees far off, gulls, water."""

from __future__ import annotations

import numpy as np

from sample_pages.form import Tone, scaled, times
from sample_pages.instruments import Tool
from sample_pages.path import F64, ellipse, smooth
from sample_pages.sketch import FLICK, PLAIN, Hand, Region, Sketch

BLADE = Hand(0.05, 0.6, 5.0, 0.1, 0.12)
TWIG = Hand(0.12, 0.6, 1.5, 0.2, 0.2)


def blade(s: Sketch, tool: Tool, foot: tuple[float, float], tall: float, lean: float,
          pressure: float) -> F64:
    """One blade of grass or reed: thick at the foot, bending over as it thins."""
    x, y = foot
    droop = abs(lean) * s.rng.uniform(0.1, 0.5)
    path = smooth([
        (x, y), (x + lean * 0.12, y - tall * 0.4), (x + lean * 0.45, y - tall * 0.8),
        (x + lean, y - tall + droop),
    ])
    s.line(tool, path, pressure, BLADE)
    return path


def reeds(s: Sketch, tool: Tool, left: float, right: float, ground: Tone, tall: float,
          count: int, wind: float = 3.0) -> None:
    """A stand of reeds with some feathery heads and a few broken leaves; `ground` gives y by x."""
    for _ in range(count):
        x = float(s.rng.uniform(left, right))
        y = float(ground(np.array([[x, 0.0]]))[0])
        high = tall * float(s.rng.uniform(0.45, 1.1))
        lean = wind + float(s.rng.normal(0.0, 0.14)) * high
        path = blade(s, tool, (x, y), high, lean, float(s.rng.uniform(0.25, 0.6)))
        if high > tall * 0.72 and s.rng.random() < 0.55:
            plume(s, tool, path)
        elif s.rng.random() < 0.3:
            bend = path[len(path) // 2]
            side = float(s.rng.choice([-1.0, 1.0])) * high * 0.25
            s.curve(tool, [tuple(bend), (bend[0] + side * 0.6, bend[1] - high * 0.1),
                           (bend[0] + side, bend[1] + high * 0.02)], 0.35, FLICK)


def plume(s: Sketch, tool: Tool, stem: F64) -> None:
    """The seed head at the end of a reed: short strokes falling away on the lee side."""
    tip, way = stem[-1], stem[-1] - stem[-6]
    way = way / max(float(np.hypot(*way)), 1e-6)
    for number in range(int(s.rng.integers(9, 15))):
        start = tip - way * number * 0.42
        length = 1.1 + 0.17 * number
        side = s.rng.normal(0.55, 0.3)
        end = start + np.array([way[1] * -side * length + way[0] * 0.4, length * 0.75])
        s.line(tool, [tuple(start), tuple((start + end) / 2 + (0.1, -0.1)), tuple(end)],
               float(s.rng.uniform(0.25, 0.5)), FLICK)


def grass(s: Sketch, tool: Tool, line: F64, tall: float, per_mm: float,
          pressure: float = 0.35) -> None:
    """Tufts along a line: blades in fans, gathered in clumps with bare ground between."""
    along = np.linspace(0, len(line) - 1, max(2, int(len(line) * 0.35 * per_mm)))
    clump = np.convolve(s.rng.random(len(along) + 8), np.ones(9) / 9.0, "valid")
    for place, dense in zip(along, clump, strict=True):
        if dense < s.rng.uniform(0.42, 0.56):
            continue
        x, y = line[int(place)]
        lean = float(s.rng.normal(0.15, 0.5)) * tall
        blade(s, tool, (x, y), tall * float(s.rng.uniform(0.5, 1.2)), lean * 0.7, pressure)


def gull(s: Sketch, tool: Tool, place: tuple[float, float], span: float, bank: float) -> None:
    """A gull on the wing: two bent wings, thick at the shoulder, and a short body."""
    x, y = place
    turn = np.radians(bank)
    c, sn = np.cos(turn), np.sin(turn)

    def put(px: float, py: float) -> tuple[float, float]:
        return x + span * (c * px - sn * py), y + span * (sn * px + c * py)

    s.curve(tool, [put(0, 0), put(-0.14, -0.12), put(-0.3, -0.1), put(-0.52, 0.08)], 0.55, FLICK)
    s.curve(tool, [put(0, 0), put(0.12, -0.15), put(0.27, -0.14), put(0.5, 0.0)], 0.55, FLICK)
    s.curve(tool, [put(-0.05, 0.05), put(0.02, 0.03), put(0.1, 0.06)], 0.5, PLAIN)
    if span > 9:
        s.curve(tool, [put(-0.06, 0.02), put(-0.2, -0.03), put(-0.36, 0.0)], 0.22, FLICK)
        s.curve(tool, [put(0.07, 0.02), put(0.18, -0.06), put(0.34, -0.04)], 0.22, FLICK)


def tree_line(s: Sketch, tool: Tool, left: float, right: float, foot: float, tall: float,
              pressure: float = 0.3) -> None:
    """Trees far off: a low broken crown line, its mass in slanting hatching."""
    x, crown = left, [(left, foot)]
    while x < right:
        step = float(s.rng.uniform(1.2, 4.2))
        crown.append((x + step / 2, foot - tall * float(s.rng.uniform(0.25, 1.0))))
        x += step
    crown.append((right, foot))
    edge = smooth(crown)
    s.line(tool, edge, pressure, PLAIN)
    mass = np.vstack([edge, [(right, foot), (left, foot)]])
    s.hatch(tool, s.region(mass), 68, 0.75, 0.9, pressure, FLICK)
    s.claim(mass)


def water(s: Sketch, tool: Tool, top: float, region: Region, tone: Tone, pressure: float = 0.4,
          spacing: float = 0.75) -> None:
    """Level strokes that part and widen toward the viewer, each a little wave, as tone allows."""
    rows = np.flatnonzero(region.any(axis=1)) / 10.0
    if rows.size == 0:
        return
    y, number = max(top, float(rows[0])) + 0.4, 0
    while y < rows[-1]:
        near = (y - top) / max(s.size[1] - top, 1.0)
        x = np.arange(0.0, s.size[0], 0.3)
        swell = 0.12 + 0.55 * near
        phase = s.rng.uniform(0.0, 6.3, 3)
        long, short, slow = np.sin(
            x / np.array([[3.0 + 9.0 * near], [1.6 + 4.0 * near], [17.0]]) + phase[:, None]
        )
        line = np.column_stack([x, y + 0.4 * swell * (long + 0.7 * short + 0.5 * slow)])
        gaps = _gaps(near, phase)
        s.rule(tool, [line] if number % 2 else [line[::-1]], region, times(tone, gaps),
               scaled(tone, pressure * (0.6 + 0.6 * near), 0.2 * pressure), PLAIN)
        y += spacing * (0.75 + 1.5 * near) * float(s.rng.uniform(0.75, 1.3))
        number += 1


def _gaps(near: float, phase: F64) -> Tone:
    """Where a wavelet breaks off and starts again, farther apart toward the viewer."""

    def tone(points: F64) -> F64:
        x = points[:, 0]
        beat = np.sin(x / (4.5 + 8.0 * near) + phase[1]) * np.sin(x / 7.7 + phase[2])
        return np.asarray(1.07 + 0.38 * beat)

    return tone


def pebbles(s: Sketch, tool: Tool, region: Region, count: int) -> None:
    """Stones lying on mud or path: flat ovals with a dark underside."""
    rows, columns = np.nonzero(region)
    for _ in range(count):
        pick = int(s.rng.integers(len(rows)))
        x, y = columns[pick] / 10.0, rows[pick] / 10.0
        wide = float(s.rng.uniform(0.5, 1.7))
        s.curve(tool, ellipse((x, y), (wide, wide * 0.5), 150, 380), 0.3, PLAIN)
        s.curve(tool, ellipse((x, y), (wide, wide * 0.55), 10, 160), 0.55, PLAIN)
        s.claim(ellipse((x, y), (wide, wide * 0.5)))
