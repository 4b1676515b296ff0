"""The path over the marsh, a thorn tree and the far mill: brown pen over pencil shading."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from sample_pages.form import Tone, patches, ramp, scaled, times
from sample_pages.instruments import (
    BROWN_INK,
    DIP_PEN,
    MECHANICAL_PENCIL,
    SOFT_PENCIL,
    SOFT_PENCIL_SIDE,
)
from sample_pages.path import F64, between, normals, smooth
from sample_pages.scenes.growth import TWIG, blade, grass, gull, pebbles, tree_line
from sample_pages.sketch import FLICK, LOOSE, PLAIN, STEADY, Sketch
from sample_pages.stroke import Drawing

SIZE = (148.0, 105.0)
HORIZON = 52.0
PEN = replace(DIP_PEN, width=0.6, ink=BROWN_INK)


def marsh(rng: np.random.Generator) -> Drawing:
    """Draw the path; chance grows the tree, the grass, the fence and the clouds."""
    s = Sketch(SIZE, rng)
    left = smooth([(38, 106), (46, 92), (63, 80), (79, 72.5), (84, 67), (77, 62.5), (68, 59.5),
                   (66, 57), (71, 54.6), (76, 53.2)])
    right = smooth([(84, 106), (84, 92), (90, 81), (97, 73.5), (96, 67), (85, 62.5), (73.5, 59.6),
                    (69.5, 57), (72.6, 54.7), (76.8, 53.2)])
    _verge(s, left, right)
    _thorn(s, (121.0 + float(rng.uniform(-4, 3)), 82.0))
    _fence(s, left)
    _stile(s)
    _far(s)
    _path(s, left, right)
    _fields(s)
    _sky(s)
    return s.drawing()


def _verge(s: Sketch, left: F64, right: F64) -> None:
    """Tall grass at the near edge of the sheet and along both sides of the path."""
    for start, end, foot in ((-2, 34, 103.5), (88, 150, 104.0)):
        for x in np.sort(s.rng.uniform(start, end, 95)):
            rise = 3.0 * np.sin(x * 0.21)
            tall = float(s.rng.uniform(5, 19)) * (1.2 if s.rng.random() < 0.2 else 0.8)
            blade(s, PEN, (float(x), foot + float(rise + s.rng.uniform(-3, 3))), tall,
                  tall * float(s.rng.normal(0.32, 0.22)), float(s.rng.uniform(0.2, 0.5)))
    for edge, offset in ((left, -0.6), (right, 0.6)):
        near = edge[edge[:, 1] > 64] + (offset, 0.0)
        heights = np.interp(near[:, 1], [64, 106], [1.2, 6.5])
        for place in range(0, len(near), 2):
            if s.rng.random() < 0.75:
                x, y = near[place]
                high = float(heights[place] * s.rng.uniform(0.5, 1.2))
                blade(s, PEN, (float(x), float(y)), high, high * float(s.rng.normal(0.25, 0.35)),
                      float(s.rng.uniform(0.18, 0.42)))


def _thorn(s: Sketch, foot: tuple[float, float]) -> None:
    """A thorn tree that the wind has combed to the right."""
    _limb(s, foot, 96.0, 17.0, 3.6, 0)
    x, y = foot
    for _ in range(16):
        tall = float(s.rng.uniform(2, 5))
        blade(s, PEN, (x + float(s.rng.uniform(-6, 7)), y + float(s.rng.uniform(-0.5, 1.5))), tall,
              float(s.rng.normal(0.8, 0.9)), 0.35)
    shade = s.region(smooth([(x - 2, y), (x + 14, y + 1), (x + 27, y + 3.5), (x + 14, y + 4.5),
                             (x - 1, y + 2)], closed=True))
    s.hatch(SOFT_PENCIL, shade, 8, 0.8, 0.9, 0.4, PLAIN, reach=10)


def _limb(
    s: Sketch, foot: tuple[float, float], turn: float, long: float, thick: float, depth: int
) -> None:
    """A limb and what grows from it; `turn` in degrees, 90 upward, drawn over by the wind."""
    bend = turn - s.rng.uniform(6, 20) - (4 if depth else 0)
    kink = s.rng.normal(0.0, 13.0)
    points = [foot]
    for share, angle in ((0.36, turn + kink), (0.34, turn - kink * 0.5), (0.3, bend)):
        x, y = points[-1]
        way = np.radians(angle)
        points.append((x + share * long * np.cos(way), y - share * long * np.sin(way)))
    path = smooth(points)
    if thick > 0.7:
        _bark(s, path, thick)
    else:
        s.line(PEN, path, 0.12 + 0.5 * thick, TWIG)
    if long < 2.2:
        return
    for number in range(4 if depth < 2 else 3):
        place = path[int(len(path) * (0.45 + 0.17 * number if depth else 0.62 + 0.12 * number)) - 1
                     if number < 3 else -1]
        side = (-1) ** number * s.rng.uniform(16, 52)
        lean = turn + side - 10 * (depth > 0)
        lean = float(np.clip(lean, -18, 150))
        _limb(s, (float(place[0]), float(place[1])), lean, long * float(s.rng.uniform(0.55, 0.76)),
              thick * 0.56, depth + 1)


def _bark(s: Sketch, path: F64, thick: float) -> None:
    """Both edges of a stout limb, and its shaded side."""
    normal = normals(path)
    half = np.linspace(0.5 * thick, 0.3 * thick, len(path))[:, None]
    lit, dark = path + normal * half * -1, path + normal * half
    s.line(PEN, lit, 0.3, PLAIN)
    s.line(PEN, dark, 0.55, PLAIN)
    outline = np.vstack([lit, dark[::-1]])
    inside = s.region(outline)
    for share in (0.55, 0.7, 0.82, 0.92):
        s.rule(PEN, [between(lit, dark, share)], inside, patches(SIZE, 5.0, s.rng), 0.3, PLAIN)
    s.hatch(SOFT_PENCIL, inside, 80, 0.7, 0.9, 0.45, PLAIN)
    s.claim_region(inside)


def _fence(s: Sketch, left: F64) -> None:
    """Posts that lean as they like along the path, growing smaller, with a sagging wire."""
    tops: list[tuple[float, float]] = []
    for y in (97.0, 84.0, 76.0, 70.5, 66.8, 64.0):
        near = left[np.argmin(np.abs(left[:, 1] - y))]
        size = (y - HORIZON) / 44.0
        x = float(near[0]) - 3.0 - 15.0 * size
        tall, wide = 24.0 * size, 2.5 * size
        lean = float(s.rng.normal(0.0, 1.6)) * size
        post = np.array([(x, y), (x + lean, y - tall), (x + lean + wide * 0.5,
                                                        y - tall - wide * 0.3),
                         (x + lean + wide, y - tall + 0.2), (x + wide, y)])
        s.line(PEN, post, 0.2 + 0.4 * size, STEADY)
        inside = s.region(post)
        s.hatch(PEN, inside, 86, 0.5, ramp((x, 0), (x + wide, 0), 0.2, 1.1), 0.15 + 0.3 * size,
                STEADY)
        s.hatch(SOFT_PENCIL, inside, 60, 0.8, 1.0, 0.35, PLAIN)
        s.claim(post)
        shadow = s.region([(x + wide, y - 0.3), (x + wide + 9 * size, y + 2.4 * size),
                           (x + 8 * size, y + 3.4 * size), (x, y + 0.3)])
        s.hatch(SOFT_PENCIL, shadow, -14, 0.8, 1.0, 0.35, PLAIN)
        tops.append((x + lean + wide * 0.5, y - tall * 0.82))
    for drop in (0.0, 0.42):
        for (x0, y0), (x1, y1) in pairwise(tops):
            fall = drop * (y0 - HORIZON), drop * (y1 - HORIZON)
            sag = ((x0 + x1) / 2, (y0 + y1) / 2 + sum(fall) / 2 + 0.07 * (x1 - x0))
            s.curve(PEN, [(x0, y0 + fall[0]), sag, (x1, y1 + fall[1])], 0.16, STEADY)


def _stile(s: Sketch) -> None:
    """A plank bridge with one rail where the path crosses a ditch."""
    for x0, y0, x1, y1 in ((78.0, 68.4, 98.5, 69.4), (77.4, 69.6, 99.0, 70.7)):
        s.line(PEN, [(x0, y0), (x1, y1)], 0.4, STEADY)
    for x in np.arange(79.0, 98.0, 2.1):
        s.line(PEN, [(x, 68.5 + 0.05 * (x - 78)), (x - 0.4, 69.6 + 0.05 * (x - 78))], 0.3, STEADY)
    s.claim([(77.7, 68.4), (98.5, 69.4), (99, 70.7), (77.4, 69.6)])
    for x, y in ((79.0, 68.4), (88.5, 68.8), (98.0, 69.3)):
        s.line(PEN, [(x, y), (x + 0.2, y - 6.2)], 0.55, STEADY)
    s.line(PEN, [(77.2, 63.0), (99.4, 63.9)], 0.5, STEADY)
    ditch = s.region([(62, 70.2), (78, 69.6), (99, 70.9), (118, 69.9), (117, 72.2), (96, 73.4),
                      (76, 72.2),
                      (63, 71.6)])
    s.hatch(SOFT_PENCIL, ditch, 1, 0.6, 1.0, 0.6, PLAIN, reach=12)
    s.hatch(PEN, ditch, 88, 0.9, 0.8, 0.25, FLICK)


def _far(s: Sketch) -> None:
    """On the skyline: the mill, a church among trees, and the sea wall."""
    x = 41.0 + float(s.rng.uniform(-6, 6))
    gable = np.array([(x, 52), (x, 44.6), (x + 3, 41), (x + 6, 44.6), (x + 6, 52)])
    roof = np.array([(x + 3, 41), (x + 13.6, 41.4), (x + 16, 44.8), (x + 6, 44.6)])
    wall = np.array([(x + 6, 44.6), (x + 15.6, 44.8), (x + 15.6, 52), (x + 6, 52)])
    for outline in (gable, roof, wall):
        s.line(PEN, np.vstack([outline, outline[:1]]), 0.22, STEADY)
    for row in (46.0, 48.6):
        for column in (7.6, 10.4, 13.0):
            s.line(PEN, [(x + column, row), (x + column, row + 1.2)], 0.7, STEADY)
    s.hatch(SOFT_PENCIL, s.region(roof), 40, 0.6, 1.0, 0.5, STEADY)
    s.hatch(MECHANICAL_PENCIL, s.region(wall), 70, 0.6, 1.0, 0.45, STEADY)
    for outline in (gable, roof, wall):
        s.claim(outline)
    tower = [(104, 52), (104, 44.2), (104.8, 43.2), (105.6, 44.2), (107.4, 44.2), (108.2, 43.2),
             (109, 44.2), (109, 52)]
    s.line(PEN, tower, 0.22, STEADY)
    s.hatch(MECHANICAL_PENCIL, s.region(tower), 75, 0.6, 1.0, 0.4, STEADY)
    s.claim(tower)
    pale = replace(MECHANICAL_PENCIL, width=0.36)
    tree_line(s, pale, 86, 104, HORIZON + 0.2, 5.0, 0.5)
    tree_line(s, pale, 109, 134, HORIZON + 0.2, 4.4, 0.5)
    tree_line(s, pale, 2, 24, HORIZON + 0.4, 3.2, 0.45)
    s.line(PEN, [(0, HORIZON + 0.3), (40, HORIZON), (100, HORIZON + 0.3), (148, HORIZON + 0.1)],
           0.2, LOOSE)


def _path(s: Sketch, left: F64, right: F64) -> None:
    worn = patches(SIZE, 10.0, s.rng)
    for edge in (left, right):
        s.rule(PEN, [edge], None, scaled(worn, 1.0, 0.3), 0.32, PLAIN)
    way = np.vstack([left, right[::-1]])
    inside = s.region(way)
    pebbles(s, replace(PEN, width=0.5), inside & (np.arange(inside.shape[0]) > 720)[:, None],
            int(s.rng.integers(16, 30)))
    ruts = [between(left, right, share) for share in (0.2, 0.27, 0.34, 0.68, 0.74, 0.8)]
    s.rule(SOFT_PENCIL, ruts, inside, scaled(worn, 1.2), 0.3, LOOSE, reach=14)
    across = [np.array([left_end, right_end]) for left_end, right_end in
              zip(between(left, left, 0.0, 46), between(right, right, 0.0, 46), strict=True)]
    s.rule(MECHANICAL_PENCIL, across, inside, scaled(worn, 0.8), 0.25, LOOSE, reach=9)
    s.claim_region(inside)


def _fields(s: Sketch) -> None:
    """Marsh: bands of sedge and standing water, closer together toward the horizon."""
    ground = s.region([(0, HORIZON + 0.5), (148, HORIZON + 0.5), (148, 104), (0, 104)])
    sedge = _level(patches((148.0, 210.0), 17.0, s.rng))
    y = HORIZON + 1.5
    while y < 100:
        near = (y - HORIZON) / 50.0
        x = np.linspace(0, 148, 70)
        roll = 0.8 * near * np.sin(x * 0.17 + y) + 0.4 * near * np.sin(x * 0.53)
        line = smooth(np.column_stack([x, y + roll]))
        tufted = line[(sedge(line) > 0.55) & s.uncovered(line)]
        if len(tufted) > 8:
            grass(s, PEN, tufted, 0.8 + 5.5 * near, 1.5 + 3.0 * (1 - near), 0.1 + 0.22 * near)
        y += 1.4 + 5.0 * near
    tone = _level(patches((148.0, 210.0), 22.0, s.rng))
    nearer = ramp((0, HORIZON), (0, 100), 1.2, 0.6)
    s.hatch(SOFT_PENCIL_SIDE, ground, 3, 1.9, scaled(tone, 1.4), 0.2, LOOSE, reach=30)
    s.hatch(MECHANICAL_PENCIL, ground, 2, 1.0, times(scaled(tone, 1.25, -0.2), nearer), 0.4, LOOSE,
            reach=16)
    s.hatch(SOFT_PENCIL, ground, 38, 1.2, scaled(tone, 2.4, -1.0), 0.42, FLICK, reach=7)


def _level(tone: Tone) -> Tone:
    """A tone in bands that lie flat, as land seen from a low eye."""

    def flat(points: F64) -> F64:
        return tone(points * np.array([1.0, 1.9]))

    return flat


def _sky(s: Sketch) -> None:
    """Big clouds left white, the sky between them laid in with the side of the lead, very light."""
    for _ in range(int(s.rng.integers(3, 6))):
        gull(s, PEN, (s.rng.uniform(14, 100), s.rng.uniform(10, 34)), s.rng.uniform(4, 8),
             s.rng.uniform(-22, 22))
    for east, height, wide in ((30.0, 25.0, 22.0), (84.0, 17.0, 27.0), (126.0, 31.0, 16.0)):
        x, y = east + float(s.rng.uniform(-5, 5)), height + float(s.rng.uniform(-3, 3))
        turn = np.linspace(np.pi, 2 * np.pi, 11)
        puff = 1.0 + s.rng.uniform(-0.2, 0.25, 11)
        crown = smooth(np.column_stack([x + wide * puff * np.cos(turn),
                                        y + wide * 0.36 * puff * np.sin(turn)]))
        s.rule(MECHANICAL_PENCIL, [crown], None, patches(SIZE, 8.0, s.rng), 0.3, LOOSE)
        belly = np.vstack([crown, [(x + wide * 0.7, y + 2.6), (x - wide * 0.7, y + 2.8)]])
        under = s.region(belly)
        s.hatch(SOFT_PENCIL_SIDE, under, 4, 1.8, ramp((x, y + 2), (x, y - wide * 0.2), 1.0, 0.0),
                0.12, LOOSE,
                reach=18)
        s.claim(belly)
    edge = [(9, 6), (50, 4), (98, 6.5), (141, 4.5), (144.5, 16), (138, 26), (146, 38), (147, 51),
            (74, 51.2), (1, 51), (1.5, 40), (7, 29), (2.5, 18)]
    air = s.region(smooth(edge, closed=True))
    breath = patches(SIZE, 34.0, s.rng)
    s.hatch(SOFT_PENCIL_SIDE, air, 24, 1.7, scaled(breath, 1.0, 0.5), ramp((0, 4), (0, HORIZON),
                                                                            0.24, 0.06),
            LOOSE, reach=34)
    s.hatch(MECHANICAL_PENCIL, air, 27, 1.3, times(breath, ramp((0, 4), (0, 44), 1.6, 0.3)), 0.34,
            LOOSE, reach=28)
