"""A storm lantern alight on the keeper's bench, in mechanical and soft pencil."""

from __future__ import annotations

import numpy as np

from sample_pages.form import Lathe, away_from, moved, patches, ramp, scaled, times
from sample_pages.instruments import MECHANICAL_PENCIL, SOFT_PENCIL, SOFT_PENCIL_SIDE
from sample_pages.path import F64, between, ellipse, normals, smooth
from sample_pages.sketch import FLICK, LOOSE, PLAIN, STEADY, Hand, Sketch
from sample_pages.stroke import Drawing

SIZE = (105.0, 148.0)
FLAME = (53.0, 76.0)
TANK = Lathe(53, ((99, 9), (101, 12), (103, 16.5), (105.5, 19), (107, 19.6), (116, 19.6),
                  (117.5, 20.3), (119, 20.3)), (0.17, 0.25))
COLLAR = Lathe(53, ((92.5, 9.2), (93.6, 9.4), (94, 7.6), (99, 7.6)), (0.14, 0.17))
GLOBE = Lathe(53, ((62, 8.6), (64, 9.4), (68, 12.2), (73, 14.4), (78, 15.0), (83, 14.2),
                   (88, 11.6), (92.5, 8.6)), (0.02, 0.13))
PLATE = Lathe(53, ((59.2, 10.6), (62, 11)), (0.02, 0.06))
HOOD = Lathe(53, ((47.5, 6.6), (48.6, 7.6), (52, 8), (59, 8.6)), (0.1, 0.03))
CAP = Lathe(53, ((40.5, 1.2), (41.2, 4.6), (43, 7.6), (45.2, 8.8), (46.4, 8.9)), (0.16, 0.1))
RING_HAND = Hand(0.05, 1.0, 1.5, 0.5, 0.1)


def lantern(rng: np.random.Generator) -> Drawing:
    """Draw the lantern; chance moves the rope, the matches, the light and the hatching."""
    s = Sketch(SIZE, rng)
    _bail(s)
    _tubes(s)
    _cap_and_hood(s)
    _globe(s)
    _collar(s)
    _tank(s)
    _matchbox(s)
    _rope(s)
    _bench(s)
    _dark(s)
    return s.drawing()


def _wire(s: Sketch, path: F64, thick: float, pressure: float = 0.62) -> None:
    """A bent wire or tube: two edges, a dark side, and its own place kept free."""
    normal = normals(path)
    left, right = path - normal * thick / 2, path + normal * thick / 2
    s.curve(MECHANICAL_PENCIL, left[::4], pressure, STEADY)
    s.curve(MECHANICAL_PENCIL, right[::4], pressure + 0.2, STEADY)
    if thick > 2.0:
        for share in (0.62, 0.76, 0.88):
            s.curve(SOFT_PENCIL, between(left, right, share)[::5], 0.2 + 0.3 * share, PLAIN)
    s.claim(np.vstack([left, right[::-1]]))


def _bail(s: Sketch) -> None:
    lean = s.rng.uniform(-2.0, 4.0)
    arch = smooth([(33.2, 62), (30.5, 50), (34 + lean, 30), (53 + lean, 20.5), (72 + lean, 30),
                   (75.5, 50), (72.8, 62)])
    grip = (arch[:, 1] < 22.6)
    _wire(s, arch[grip], 2.8, 0.7)
    _wire(s, arch[~grip & (arch[:, 0] < 50)], 0.9)
    _wire(s, arch[~grip & (arch[:, 0] > 50)], 0.9)
    for x in (33.2, 72.8):
        s.curve(MECHANICAL_PENCIL, ellipse((x, 62.6), (1.3, 1.3)), 0.8, STEADY)
        s.claim(ellipse((x, 62.6), (1.3, 1.3)))


def _tubes(s: Sketch) -> None:
    for side in (-1, 1):
        knee = [(53 + side * 7.6, 54.5), (53 + side * 13, 52.8), (53 + side * 18, 55.5),
                (53 + side * 20.2, 61), (53 + side * 20.4, 75), (53 + side * 19.6, 92),
                (53 + side * 17.6, 102), (53 + side * 16.4, 104.6)]
        path = smooth(knee)
        if side > 0:
            path = path[::-1]
        _wire(s, path, 3.4)


def _cap_and_hood(s: Sketch) -> None:
    for body, dark in ((CAP, 0.75), (HOOD, 0.8), (PLATE, 0.9)):
        outline = body.outline()
        s.line(MECHANICAL_PENCIL, np.vstack([outline, outline[:1]]), 0.75, STEADY)
        inside = s.region(outline)
        if body is HOOD:
            for turn in (-62, -38, -13, 13, 38, 62):
                x, y = body.meridian(turn, 55, 55.2)[0]
                hole = ellipse((x, y), (1.0 * np.cos(np.radians(turn)) + 0.25, 1.7))
                s.hatch(SOFT_PENCIL, s.region(hole), 80, 0.35, 1.0, 0.9, STEADY)
                s.curve(MECHANICAL_PENCIL, hole, 0.8, STEADY)
                s.claim(hole)
        _model(s, body, dark)
        s.claim_region(inside)


def _globe(s: Sketch) -> None:
    outline = GLOBE.outline()
    inside = s.region(outline)
    _guard(s)
    flicker = s.rng.uniform(-1.0, 1.0)
    x, y = FLAME
    flame = smooth([(x - 3.4, y + 10), (x - 3.8, y + 5), (x - 1.6 + flicker, y - 2),
                    (x + flicker, y - 8.5), (x + 2.2 + flicker, y - 1.5), (x + 3.6, y + 5),
                    (x + 3.2, y + 10)])
    s.line(MECHANICAL_PENCIL, flame, 0.42, PLAIN)
    core = [(x - 1.6, y + 9.6), (x - 1.5, y + 7), (x, y + 3.2), (x + 1.5, y + 7), (x + 1.5,
                                                                                   y + 9.6)]
    s.curve(MECHANICAL_PENCIL, core, 0.25, PLAIN)
    wick = np.array([(x - 2.6, y + 10.2), (x + 2.6, y + 10.2), (x + 2.6, y + 12.5), (x - 2.6,
                                                                                     y + 12.5)])
    s.hatch(SOFT_PENCIL, s.region(wick), 10, 0.4, 1.0, 0.85, STEADY)
    s.claim(wick)
    s.claim(flame)
    s.line(MECHANICAL_PENCIL, np.vstack([outline, outline[:1]]), 0.66, STEADY)
    for turn, y0, y1 in ((-66, 66, 84), (-60, 69, 79), (58, 72, 88)):
        s.line(MECHANICAL_PENCIL, GLOBE.meridian(turn, y0, y1), 0.3, FLICK)
    rim = [GLOBE.ring(y, -60, 60) for y in np.arange(65, 91, 0.9)]
    glow = away_from(FLAME, 8.5, 15.5, 0.0, 0.8)
    s.rule(MECHANICAL_PENCIL, rim, inside, times(glow, GLOBE.shade(-60)), 0.3, PLAIN)
    s.hatch(SOFT_PENCIL, inside, 62, 0.95, times(glow, 0.9), 0.16, PLAIN)
    s.claim_region(inside)


def _guard(s: Sketch) -> None:
    """The wires that cross before the glass, and the ring they are tied to."""
    for tilt in (-1, 1):
        wire = smooth([(53 - tilt * 12.5, 63.5), (53 - tilt * 15.6, 70), (53 - tilt * 8, 79.5),
                       (53 + tilt * 6, 86.5), (53 + tilt * 12, 92)])
        _wire(s, wire, 0.75, 0.6)
    ring = ellipse((53, 77.5), (16.2, 1.9), 8, 172)
    _wire(s, ring, 0.75, 0.6)


def _collar(s: Sketch) -> None:
    outline = COLLAR.outline()
    inside = s.region(outline)
    s.line(MECHANICAL_PENCIL, np.vstack([outline, outline[:1]]), 0.8, STEADY)
    for turn in range(-70, 80, 14):
        x, y = COLLAR.meridian(turn, 96.4, 96.5)[0]
        s.dot(SOFT_PENCIL, (x, y), 0.75)
    _model(s, COLLAR, 0.9)
    s.claim_region(inside)


def _tank(s: Sketch) -> None:
    cap = Lathe(64, ((99.4, 2.5), (101.5, 2.6), (104, 2.3)), (0.3, 0.3))
    s.line(MECHANICAL_PENCIL, np.vstack([cap.outline(), cap.outline()[:1]]), 0.8, STEADY)
    s.rule(MECHANICAL_PENCIL, [cap.meridian(t, 100, 104) for t in range(-70, 80, 16)], None, 1.0,
           0.6)
    s.claim(cap.outline())
    outline = TANK.outline()
    inside = s.region(outline)
    s.line(MECHANICAL_PENCIL, np.vstack([outline, outline[:1]]), 0.8, STEADY)
    for y in (107, 116.4, 117.4):
        s.line(MECHANICAL_PENCIL, TANK.ring(y, 4, 176), 0.62, STEADY)
    _model(s, TANK, 1.0)
    s.claim_region(inside)


def _model(s: Sketch, body: Lathe, dark: float) -> None:
    """Round a turned body off: rings that follow it, then soft tone that deepens to the right."""
    inside = s.region(body.outline())
    left, right = body.shade(-38), body.shade(6, 0.15)
    rings = [body.ring(y) for y in np.arange(body.top + 0.3, body.foot, 0.55)]
    s.rule(MECHANICAL_PENCIL, rings, inside, times(left, 1.2), times(left, 0.75 * dark), RING_HAND)
    s.hatch(SOFT_PENCIL, inside, 72, 0.8, 1.0, times(left, 0.95 * dark), PLAIN)
    s.hatch(SOFT_PENCIL, inside, 40, 0.95, 1.0, times(right, 1.5 * dark), PLAIN)
    rim = [body.meridian(turn) for turn in (-86, -82, -77, -71)]
    s.rule(SOFT_PENCIL, rim, inside, 1.0, 0.4 * dark, PLAIN)


def _matchbox(s: Sketch) -> None:
    x, y = 82 + s.rng.uniform(-1.5, 2.0), 121 + s.rng.uniform(-1.0, 2.0)
    top = moved([(0, 0), (12.5, 2.6), (17, -1.2), (5, -3.4)], x, y)
    front = moved([(0, 0), (12.5, 2.6), (12.5, 6.4), (0, 3.6)], x, y)
    end = moved([(12.5, 2.6), (17, -1.2), (17, 2.4), (12.5, 6.4)], x, y)
    for sides in (top, front, end):
        s.line(MECHANICAL_PENCIL, np.vstack([sides, sides[:1]]), 0.75, STEADY)
    s.hatch(MECHANICAL_PENCIL, s.region(front), -12, 0.62, 1.0, 0.55, PLAIN)
    s.hatch(SOFT_PENCIL, s.region(end), 70, 0.7, 1.0, 0.6, PLAIN)
    label = top.mean(axis=0)
    s.curve(MECHANICAL_PENCIL, ellipse(tuple(label), (3.4, 1.3), lean=8), 0.5, STEADY)
    for sides in (top, front, end):
        s.claim(sides)
    for turn in (-28, 14, 31):
        start = np.array([x - 7 + s.rng.uniform(-2, 3), y + 6.5 + s.rng.uniform(-1, 3)])
        way = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn)) * 0.5]) * 8.0
        s.line(MECHANICAL_PENCIL, [tuple(start), tuple(start + way)], 0.7, STEADY)
        s.line(MECHANICAL_PENCIL, moved([tuple(start), tuple(start + way)], 0.0, 0.5), 0.4,
               STEADY)
        s.dot(SOFT_PENCIL, tuple(start + way), 0.95)


def _rope(s: Sketch) -> None:
    """A flat coil of rope, seen from the side, each turn a row of leaning strands."""
    x, y = 22.0 + s.rng.uniform(-2, 2), 124.0 + s.rng.uniform(-1, 1.5)
    for number in range(3):
        wide = (15.5 - 1.2 * number, 4.6 - 0.5 * number)
        middle = (x + s.rng.uniform(-0.8, 0.8), y - 2.7 * number)
        for edge in (1.0, 0.78):
            s.curve(MECHANICAL_PENCIL, ellipse(middle, (wide[0] * edge, wide[1] * edge)),
                    0.0) if False else None
        _strands(s, ellipse(middle, wide, 8, 172), 2.7)
    _strands(s, smooth([(x - 12, y + 4.4), (x - 6, y + 8), (x + 6, y + 9.5), (x + 15, y + 8),
                        (x + 20, y + 11)]), 2.5)
    hole = ellipse((x, y - 6.6), (11.2, 2.6))
    s.curve(MECHANICAL_PENCIL, ellipse((x, y - 6.3), (13.4, 3.7), 170, 370), 0.7, STEADY)
    s.curve(MECHANICAL_PENCIL, hole, 0.7, STEADY)
    s.hatch(SOFT_PENCIL, s.region(hole), 30, 0.7, 1.0, 0.75, PLAIN)
    s.claim(ellipse((x, y - 6.3), (13.4, 3.7)))


def _strands(s: Sketch, path: F64, thick: float) -> None:
    normal = normals(path)
    left, right = path + normal * thick / 2, path - normal * thick / 2
    lay = int(thick * 1.1 / 0.35)
    for start in range(0, len(path) - lay, max(2, lay // 2)):
        twist = [tuple(left[start]), tuple(path[start + lay // 2] + 0.1), tuple(right[start + lay])]
        s.curve(MECHANICAL_PENCIL, twist, 0.6 + s.rng.uniform(-0.1, 0.15), STEADY)
    s.curve(MECHANICAL_PENCIL, left[::5], 0.7, PLAIN)
    s.curve(MECHANICAL_PENCIL, right[::5], 0.85, PLAIN)
    band = np.vstack([left, right[::-1]])
    s.hatch(SOFT_PENCIL, s.region(band), 75, 0.9, ramp((18, 0), (40, 0), 0.0, 1.0),
            0.35)
    s.claim(band)


def _bench(s: Sketch) -> None:
    """Boards running away under the lantern, their grain, and the shadow that falls on them."""
    floor = s.region([(4, 112), (101, 110), (101, 141), (6, 143)])
    shadow = ellipse((66, 122), (30, 6.2), lean=-3)
    s.hatch(SOFT_PENCIL, s.region(shadow), 4, 0.75, away_from((56, 121), 12, 36, 1.0, 0.35), 0.62,
            PLAIN, reach=22)
    s.hatch(SOFT_PENCIL, s.region(shadow), 32, 1.0, away_from((56, 121), 8, 28, 1.0, 0.0), 0.5)
    for x in (22, 84):
        under = s.region(ellipse((x, 131), (19, 3.6)))
        s.hatch(SOFT_PENCIL, under, 3, 0.8, 0.8, 0.42, PLAIN, reach=12)
    for start, end in (((3, 118.5), (102, 116)), ((3, 133), (103, 131.5)), ((8, 142), (98, 141))):
        s.line(MECHANICAL_PENCIL, [start, end], 0.7, LOOSE)
        s.line(MECHANICAL_PENCIL, [(start[0] + 4, start[1] + 0.6), (end[0] - 20, end[1] + 0.5)],
               0.4, LOOSE)
    bare = patches(SIZE, 14.0, s.rng)
    s.hatch(MECHANICAL_PENCIL, floor, 1.4, 1.5, scaled(bare, 0.75), 0.26, LOOSE, reach=26)


def _dark(s: Sketch) -> None:
    """The dark behind, which the flame pushes back: faint at the halo, deeper in the corners."""
    wall = s.region(smooth([(7, 14), (50, 8), (97, 13), (100, 60), (98, 114), (52, 117), (7, 116),
                            (5, 60)], closed=True))
    ragged = patches(SIZE, 22.0, s.rng)
    far = away_from(FLAME, 17, 62, 0.0, 1.0)
    s.hatch(SOFT_PENCIL_SIDE, wall, 57, 1.7, scaled(far, 1.0, 0.3), scaled(far, 0.3, 0.04),
            LOOSE, reach=34)
    s.hatch(SOFT_PENCIL, wall, 61, 0.95, times(far, scaled(ragged, 0.6, 0.8)),
            scaled(far, 0.5, 0.08), LOOSE, reach=30)
    s.hatch(SOFT_PENCIL, wall, 36, 1.1, 1.0, scaled(far, 1.1, -0.42), LOOSE, reach=24)
