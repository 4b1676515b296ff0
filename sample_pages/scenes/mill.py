"""The tide mill from across the water, in dip pen with dry brush in the water and sky."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import cv2
import numpy as np

from sample_pages.form import Face, Tone, View, moved, patches, ramp, scaled, times
from sample_pages.instruments import BRUSH, DIP_PEN, DRY_BRUSH
from sample_pages.path import F64, smooth
from sample_pages.scenes.growth import grass, gull, reeds, tree_line, water
from sample_pages.sketch import FLICK, LOOSE, PLAIN, STEADY, Hand, Sketch
from sample_pages.stroke import Drawing

SIZE = (210.0, 148.0)
HORIZON = 86.0
VIEW = View((0.0, 0.0, 3.0), 0.0, 240.0, (112.0, HORIZON))
LONG, DEEP = (13.1, 9.2, 0.0), (-5.9, 8.1, 0.0)
CORNER = (4.2, 44.0, 0.0)
EAVES, RIDGE, SILL = 9.4, 14.2, 2.3
SWEEP = Hand(0.5, 1.0, 6.0, 0.2, 0.2)


def _up(place: tuple[float, float, float], z: float) -> tuple[float, float, float]:
    return (place[0], place[1], place[2] + z)


LONG_WALL = Face(VIEW, _up(CORNER, SILL), LONG, (0, 0, EAVES - SILL))
LONG_FOOT = Face(VIEW, CORNER, LONG, (0, 0, SILL))
GABLE_WALL = Face(VIEW, _up(CORNER, SILL), DEEP, (0, 0, RIDGE - SILL))
GABLE_FOOT = Face(VIEW, CORNER, DEEP, (0, 0, SILL))
ROOF = Face(
    VIEW, (CORNER[0] + 0.35, CORNER[1] - 0.7, EAVES - 0.3), (LONG[0] + 0.3, LONG[1] + 0.2, 0.0),
    (DEEP[0] * 0.5 - 0.35, DEEP[1] * 0.5 + 0.5, RIDGE - EAVES + 0.45),
)


def mill(rng: np.random.Generator) -> Drawing:
    """Draw the mill; chance moves reeds, gulls, boat, windows and the play of the water."""
    s = Sketch(SIZE, rng)
    _foreground(s)
    _boat(s)
    _posts(s)
    _lucam(s)
    _walls(s)
    _roof(s)
    _lean_to(s)
    _cottage(s)
    _dam(s)
    _far_shore(s)
    _water(s)
    _sky(s)
    return s.drawing()


def _foreground(s: Sketch) -> None:
    bank = smooth([(-2, 121), (14, 123), (34, 129), (52, 135.5), (66, 143), (70, 150)])
    x, y = bank[:, 0], bank[:, 1]
    reeds(s, DIP_PEN, 3, 48, lambda p: np.interp(p[:, 0], x, y) + s.rng.uniform(0, 12), 38.0,
          int(s.rng.integers(70, 90)), 2.5)
    grass(s, DIP_PEN, bank, 5.0, 3.0)
    mud = np.vstack([bank, [(-2, 150)]])
    inside = s.region(mud)
    lines = [moved(bank, 0.0, 1.3 * n) for n in range(1, 22)]
    shade = patches(SIZE, 11.0, s.rng)
    s.rule(DIP_PEN, lines, inside, scaled(shade, 0.9), 0.3, PLAIN, reach=9)
    s.claim_region(inside)


def _boat(s: Sketch) -> None:
    """A small boat on its mooring, with its reflection."""
    x, y = 78.0 + s.rng.uniform(-5, 5), 116.0 + s.rng.uniform(-2, 3)
    sheer = smooth([(x - 11, y - 1.8), (x - 5, y + 0.2), (x + 4, y + 0.1), (x + 12.5, y - 3.4)])
    keel = smooth([(x + 12.5, y - 3.4), (x + 9.5, y + 2.4), (x + 2, y + 3.6), (x - 7, y + 3.2),
                   (x - 10.4, y + 1.6), (x - 11, y - 1.8)])
    hull = np.vstack([sheer, keel])
    far = smooth([(x - 11, y - 1.8), (x - 4, y - 2.6), (x + 5, y - 3.0), (x + 12.5, y - 3.4)])
    s.line(DIP_PEN, sheer, 0.55, STEADY)
    s.line(DIP_PEN, keel, 0.5, STEADY)
    for drop in (0.9, 1.9, 2.8):
        plank = moved(sheer, 0.0, drop)
        s.line(DIP_PEN, plank, 0.22, PLAIN, s.region(hull))
    s.hatch(DIP_PEN, s.region(hull), 52, 0.8, ramp((x, y), (x, y + 3.4), 0.1, 1.0), 0.35)
    s.claim(hull)
    well = np.vstack([sheer, far[::-1]])
    s.line(DIP_PEN, far, 0.35, STEADY)
    for shift in (-4.0, 3.5):
        s.line(DIP_PEN, [(x + shift, y - 2.6), (x + shift + 1.2, y + 0.2)], 0.4, STEADY)
    s.hatch(DIP_PEN, s.region(well), 8, 0.5, 1.0, 0.35, STEADY)
    s.claim(well)
    s.line(DIP_PEN, [(x + 12.4, y - 3.2), (x + 17.5, y + 0.6), (x + 22.4, y + 1.8)], 0.15, PLAIN)
    under = s.region(np.vstack([keel, [(x - 12, y + 7), (x + 12, y + 6)]]))
    s.hatch(DIP_PEN, under, 0, 0.7, ramp((x, y + 3), (x, y + 7.5), 1.0, 0.1), 0.45, PLAIN, reach=7)


def _posts(s: Sketch) -> None:
    for east, y, height in ((101, 118, 17), (183, 126, 24), (191.5, 121, 18)):
        x, tall = east + s.rng.uniform(-2, 2), height + s.rng.uniform(-2, 2)
        lean, wide = s.rng.uniform(-0.8, 0.8), 1.0 + tall * 0.035
        post = np.array([(x - wide / 2, y), (x - wide / 2 + lean, y - tall),
                         (x + wide / 2 + lean, y - tall - 0.5), (x + wide / 2, y)])
        s.line(DIP_PEN, post, 0.5, STEADY)
        s.hatch(DIP_PEN, s.region(post), 86, 0.42, ramp((x - wide / 2, 0), (x + wide / 2, 0), 0, 1),
                0.45, STEADY)
        s.hatch(DIP_PEN, s.region(post), 10, 0.6, ramp((0, y - 5), (0, y), 0.0, 1.0), 0.5)
        s.claim(post, 0.25)
        twin = s.region(post * (1, -1) + (0.0, 2 * y + 0.8))
        s.hatch(DIP_PEN, twin, 2, 0.62, ramp((0, y), (0, y + tall), 1.0, 0.35), 0.5, LOOSE)


def _window(s: Sketch, face: Face, u: float, v: float, wide: float, tall: float) -> None:
    """A casement: frame, sill and dark panes, some of which give back the sky."""
    frame = face.quad(u, v, u + wide, v + tall)
    s.line(DIP_PEN, np.vstack([frame, frame[:1]]), 0.35, STEADY)
    s.line(DIP_PEN, face.level(v - 0.012, u - 0.01, u + wide + 0.012), 0.55, STEADY)
    for column in range(2):
        for row in range(3):
            left, foot = u + wide * (0.1 + 0.44 * column), v + tall * (0.07 + 0.31 * row)
            pane = face.quad(left, foot, left + wide * 0.36, foot + tall * 0.24)
            if s.rng.random() < 0.8:
                s.solid(BRUSH, pane, 0.2)
            else:
                s.hatch(DIP_PEN, s.region(pane), 55, 0.45, 1.0, 0.15, STEADY)
    s.claim(frame)


def _boards(s: Sketch, face: Face, outline: F64, count: int, pressure: float) -> None:
    """Weatherboards: level lines, here and there lost, with a nail or a split."""
    inside = s.region(outline)
    worn = patches(SIZE, 9.0, s.rng)
    paths = [face.level(v) for v in np.linspace(0.0, 1.0, count)[1:]]
    s.rule(DIP_PEN, paths, inside, scaled(worn, 1.1, 0.5), pressure, PLAIN, reach=16)
    for _ in range(count):
        u, v = s.rng.uniform(0.02, 0.98), s.rng.integers(0, count - 1) / (count - 1.0)
        s.line(DIP_PEN, face.upright(u, v, v + 1.0 / (count - 1.0)), pressure, STEADY, inside)


def _walls(s: Sketch) -> None:
    for row, v in enumerate((0.12, 0.46, 0.74)):
        for u in (0.07, 0.27, 0.6, 0.8):
            if not (row == 2 and u > 0.25 and u < 0.7):
                _window(s, LONG_WALL, u, v, 0.1, 0.17)
    _window(s, GABLE_WALL, 0.2, 0.14, 0.18, 0.13)
    _window(s, GABLE_WALL, 0.6, 0.14, 0.18, 0.13)
    _window(s, GABLE_WALL, 0.4, 0.42, 0.18, 0.13)
    door = LONG_WALL.quad(0.42, 0.0, 0.52, 0.3)
    s.line(DIP_PEN, door, 0.5, STEADY)
    s.hatch(DIP_PEN, s.region(door), 88, 0.5, 1.0, 0.6, STEADY)
    s.claim(door)
    side = LONG_WALL.quad()
    s.line(DIP_PEN, LONG_WALL.upright(0.0), 0.7, STEADY)
    s.line(DIP_PEN, LONG_WALL.upright(1.0), 0.55, STEADY)
    _boards(s, LONG_WALL, side, 26, 0.26)
    dark = ramp(tuple(LONG_WALL.at(0.0, 0.9)[0]), tuple(LONG_WALL.at(1.0, 0.2)[0]), 0.95, 0.5)
    s.hatch(DIP_PEN, s.region(side), 58, 0.55, dark, 0.27, PLAIN, reach=22)
    deeper = ramp(tuple(LONG_WALL.at(0.1, 1.0)[0]), tuple(LONG_WALL.at(0.5, 0.0)[0]), 0.9, 0.25)
    s.hatch(DIP_PEN, s.region(side), 80, 0.7, deeper, 0.22, PLAIN, reach=15)
    s.hatch(DIP_PEN, s.region(LONG_WALL.quad(0, 0.82, 1, 1)), 40, 0.6, 1.0, 0.32, FLICK)
    s.claim(side)
    lit = np.vstack([GABLE_WALL.at([0, 1, 1, 0.5, 0],
                                   [0, 0, (EAVES - SILL) / (RIDGE - SILL), 1,
                                    (EAVES - SILL) / (RIDGE - SILL)])])
    s.line(DIP_PEN, lit[1:4], 0.5, STEADY)
    _boards(s, GABLE_WALL, lit, 40, 0.12)
    s.hatch(DIP_PEN, s.region(lit), 62, 1.0, ramp(tuple(lit[3]), tuple(lit[0]), 0.75, 0.0), 0.15)
    s.claim(lit)
    _piles(s)


def _piles(s: Sketch) -> None:
    """The brick foot of the mill: two dark water arches, courses, weed at the tide mark."""
    for u in (0.16, 0.56):
        t = np.linspace(0, np.pi, 24)
        arch = LONG_FOOT.at(np.concatenate([[u], u + 0.13 - 0.13 * np.cos(t), [u + 0.26]]),
                            np.concatenate([[0.0], 0.42 + 0.42 * np.sin(t), [0.0]]))
        ring = LONG_FOOT.at(u + 0.13 - 0.152 * np.cos(t), 0.44 + 0.49 * np.sin(t))
        s.line(DIP_PEN, ring, 0.3, STEADY)
        s.solid(BRUSH, arch, 0.3)
        s.claim(arch)
    for face, weight in ((LONG_FOOT, 0.26), (GABLE_FOOT, 0.14)):
        outline = face.quad()
        inside = s.region(outline)
        s.line(DIP_PEN, face.level(1.0), 0.55, STEADY)
        s.line(DIP_PEN, face.level(0.0), 0.6, PLAIN)
        for row in range(9):
            v = (row + 0.5) / 9.5
            s.line(DIP_PEN, face.level(v), weight, FLICK, inside)
            for u in np.arange(s.rng.uniform(0, 0.03), 1.0, 0.05):
                if s.rng.random() < 0.5:
                    s.line(DIP_PEN, face.upright(u, v - 0.09, v), weight, STEADY, inside)
        weed = ramp(tuple(face.at(0.5, 0.45)[0]), tuple(face.at(0.5, 0.0)[0]), 0.0, 1.0)
        s.hatch(DIP_PEN, inside, 84, 0.55, weed, 0.45, FLICK)
        s.claim(outline)


def _lucam(s: Sketch) -> None:
    """The hoist housing that juts from the eaves, with its rope."""
    out = (0.57 * 2.2, -0.82 * 2.2)
    base = (CORNER[0] + LONG[0] * 0.36, CORNER[1] + LONG[1] * 0.36)
    near = (base[0] + out[0], base[1] + out[1], 8.6)
    wide = (LONG[0] * 0.17, LONG[1] * 0.17, 0.0)
    front = Face(VIEW, near, wide, (0, 0, 2.8))
    flank = Face(VIEW, near, (-out[0], -out[1], 0.0), (0, 0, 2.8))
    peak = front.view.project([(near[0] + wide[0] / 2, near[1] + wide[1] / 2, 12.7)])[0]
    back = front.view.project([(near[0] + wide[0] / 2 - out[0] * 1.5,
                                near[1] + wide[1] / 2 - out[1] * 1.5, 12.7)])[0]
    house = np.vstack([front.quad()[:3], [peak], front.quad()[3:]])
    hatch = front.quad(0.3, 0.1, 0.7, 0.75)
    s.solid(BRUSH, hatch, 0.25)
    s.claim(hatch)
    s.line(DIP_PEN, np.vstack([house, house[:1]]), 0.5, STEADY)
    _boards(s, front, house, 9, 0.22)
    s.hatch(DIP_PEN, s.region(house), 60, 0.8, 0.7, 0.2)
    foot = front.at(0.5, 0.1)[0]
    s.line(DIP_PEN, [tuple(foot), (foot[0] + 0.2, foot[1] + 34)], 0.12, STEADY)
    s.claim(house)
    slope = np.array([peak, back, flank.at(1.6, 1.0)[0], flank.at(0.0, 1.0)[0]])
    for outline, angle in ((flank.quad(), 64), (slope, 30)):
        s.line(DIP_PEN, np.vstack([outline, outline[:1]]), 0.45, STEADY)
        s.hatch(DIP_PEN, s.region(outline), angle, 0.8, 0.6, 0.18)
        s.claim(outline)
    brace = flank.at([0.0, 1.0], [0.0, -0.6])
    s.line(DIP_PEN, brace, 0.5, STEADY)
    shadow = np.vstack([front.at([0, 1], [0, 0]), front.at([1.15, 0.25], [-0.75, -0.9])])
    s.hatch(DIP_PEN, s.region(shadow), 58, 0.5, 0.95, 0.4)


def _roof(s: Sketch) -> None:
    outline = ROOF.quad()
    inside = s.region(outline)
    s.line(DIP_PEN, np.vstack([outline, outline[:1]]), 0.62, STEADY)
    worn = patches(SIZE, 12.0, s.rng)
    rows = np.linspace(0.0, 1.0, 17)
    s.rule(DIP_PEN, [ROOF.level(v) for v in rows], inside, scaled(worn, 1.0, 0.3), 0.25, PLAIN,
           reach=14)
    for low, high in pairwise(rows):
        for u in np.arange(s.rng.uniform(0, 0.02), 1.0, 0.026):
            place = ROOF.at(u, low)
            if s.rng.random() < 0.25 + 0.6 * float(worn(place)[0]):
                s.line(DIP_PEN, ROOF.upright(u, low, high), 0.16, STEADY, inside)
    s.hatch(DIP_PEN, inside, 34, 0.7, scaled(worn, 0.9, 0.25), 0.25, FLICK, reach=12)
    s.claim(outline)
    verge = VIEW.project([(CORNER[0] + DEEP[0] * t - 0.3, CORNER[1] + DEEP[1] * t - 0.2,
                           EAVES + (RIDGE - EAVES) * (1 - abs(2 * t - 1)) + 0.1)
                          for t in (0.5, 0.75, 1.04)])
    s.line(DIP_PEN, verge, 0.6, STEADY)
    s.line(DIP_PEN, moved(verge, -0.9, 0.5), 0.4, STEADY)


def _lean_to(s: Sketch) -> None:
    """The wheel house at the far end, low, under a single slope."""
    corner = (CORNER[0] + LONG[0], CORNER[1] + LONG[1], 0.0)
    right = (LONG[0] * 0.3, LONG[1] * 0.3, 0.0)
    wall = Face(VIEW, corner, right, (0, 0, 4.4))
    slope = np.vstack([wall.at([0.0, 1.05], [1.0, 1.0]), VIEW.project([
        (corner[0] + right[0] + DEEP[0] * 0.4, corner[1] + right[1] + DEEP[1] * 0.4, 6.6),
        (corner[0], corner[1], 6.9)])])
    s.line(DIP_PEN, np.vstack([slope, slope[:1]]), 0.5, STEADY)
    s.hatch(DIP_PEN, s.region(slope), 40, 0.7, 0.7, 0.22)
    s.claim(slope)
    t = np.linspace(0, np.pi, 20)
    gap = wall.at(0.52 - 0.3 * np.cos(t), 0.5 * np.sin(t))
    for turn in t[2:-2:3]:
        float_board = wall.at([0.52, 0.52 - 0.27 * np.cos(turn)], [0.0, 0.45 * np.sin(turn)])
        s.claim(np.vstack([float_board, moved(float_board[::-1], 0.6, 0.3)]))
    s.hatch(DIP_PEN, s.region(gap), 70, 0.32, 1.0, 0.5, STEADY)
    s.hatch(DIP_PEN, s.region(gap), 10, 0.4, 1.0, 0.5, STEADY)
    s.claim(gap)
    s.line(DIP_PEN, np.vstack([wall.quad(), wall.quad()[:1]]), 0.5, STEADY)
    _boards(s, wall, wall.quad(), 14, 0.22)
    s.hatch(DIP_PEN, s.region(wall.quad()), 62, 0.7, 0.8, 0.25)
    s.claim(wall.quad())


def _cottage(s: Sketch) -> None:
    """The keeper's house behind the dam: white walls, a dark roof, a chimney with smoke."""
    front = Face(VIEW, (-13.5, 62.0, 1.4), (9.4, 1.0, 0.0), (0, 0, 3.6))
    slope = Face(VIEW, (-13.8, 61.6, 4.9), (10.0, 1.1, 0.0), (0.2, 3.0, 2.9))
    stack = Face(VIEW, (-6.2, 64.4, 7.2), (1.3, 0.1, 0.0), (0, 0, 2.2)).quad()
    s.line(DIP_PEN, np.vstack([stack, stack[:1]]), 0.45, STEADY)
    s.hatch(DIP_PEN, s.region(stack), 8, 0.7, 0.9, 0.22)
    s.claim(stack)
    top = stack[2:].mean(axis=0)
    drift = s.rng.uniform(4, 10)
    for wide in (-0.8, 0.8):
        plume = [(wide, -0.5), (wide * 2 - drift * 0.3, -7.0), (wide * 3 - drift, -13.0),
                 (wide * 6 - drift * 1.5, -20.0)]
        s.curve(DIP_PEN, moved(plume, float(top[0]), float(top[1])), 0.12, FLICK)
    s.line(DIP_PEN, np.vstack([slope.quad(), slope.quad()[:1]]), 0.45, STEADY)
    s.hatch(DIP_PEN, s.region(slope.quad()), 66, 0.62, 0.95, 0.3, PLAIN)
    s.hatch(DIP_PEN, s.region(slope.quad()), 3, 0.9, 0.8, 0.2, PLAIN)
    s.claim(slope.quad())
    for u in (0.14, 0.66):
        _window(s, front, u, 0.3, 0.15, 0.42)
    door = front.quad(0.43, 0.0, 0.54, 0.7)
    s.hatch(DIP_PEN, s.region(door), 88, 0.45, 1.0, 0.4)
    s.line(DIP_PEN, door, 0.35, STEADY)
    s.claim(door)
    s.line(DIP_PEN, np.vstack([front.quad(), front.quad()[:1]]), 0.4, STEADY)
    s.hatch(DIP_PEN, s.region(front.quad(0, 0.86, 1, 1)), 60, 0.6, 1.0, 0.2)
    s.claim(front.quad())


def _dam(s: Sketch) -> None:
    """The bank that holds the pond: stone facing, a sluice with its winding gear, grass on top."""
    foot = VIEW.project([(x, 52.2 + 0.0 * x, 0.0) for x in np.linspace(-30, -1, 30)])
    crest = foot + np.column_stack([np.zeros(30), -9.5 + 0.8 * np.sin(np.linspace(0, 7, 30))])
    gate = foot[14]
    for shift in (-5.0, 0.0, 5.0):
        post = np.array([(gate[0] + shift - 0.6, gate[1]), (gate[0] + shift - 0.6, gate[1] - 18),
                         (gate[0] + shift + 0.6, gate[1] - 18), (gate[0] + shift + 0.6, gate[1])])
        s.line(DIP_PEN, post, 0.45, STEADY)
        s.hatch(DIP_PEN, s.region(post), 80, 0.4, 0.8, 0.3, STEADY)
        s.claim(post)
    beam = np.array([(gate[0] - 6.6, gate[1] - 16.6), (gate[0] + 6.6, gate[1] - 16.8),
                     (gate[0] + 6.6, gate[1] - 15.4), (gate[0] - 6.6, gate[1] - 15.2)])
    s.line(DIP_PEN, np.vstack([beam, beam[:1]]), 0.5, STEADY)
    s.claim(beam)
    for left in (-4.4, 0.6):
        leaf = np.array([(gate[0] + left, gate[1]), (gate[0] + left, gate[1] - 8),
                         (gate[0] + left + 3.8, gate[1] - 8), (gate[0] + left + 3.8, gate[1])])
        s.hatch(DIP_PEN, s.region(leaf), 1, 0.55, 1.0, 0.5, STEADY)
        s.hatch(DIP_PEN, s.region(leaf), 88, 1.1, 1.0, 0.5, STEADY)
        s.claim(leaf)
    bank = np.vstack([foot, crest[::-1]])
    inside = s.region(bank)
    grass(s, DIP_PEN, smooth(crest), 2.2, 4.0, 0.25)
    for row in range(7):
        line = foot + (crest - foot) * (row / 7.0)
        s.line(DIP_PEN, line, 0.3 if row == 0 else 0.18, LOOSE, inside)
        for x in np.arange(foot[0, 0] + s.rng.uniform(0, 3), foot[-1, 0], 3.6):
            y = float(np.interp(x, line[:, 0], line[:, 1]))
            s.line(DIP_PEN, [(x, y), (x + s.rng.normal(0.2, 0.2), y - 1.3)], 0.25, STEADY, inside)
    s.hatch(DIP_PEN, inside, 64, 0.95, patches(SIZE, 8.0, s.rng), 0.25, FLICK)
    s.claim(bank)


def _far_shore(s: Sketch) -> None:
    tree_line(s, DIP_PEN, 0, 44, HORIZON + 0.6, 5.0, 0.14)
    tree_line(s, DIP_PEN, 196, 210, HORIZON + 0.8, 4.0, 0.14)
    s.line(DIP_PEN, [(0, HORIZON + 1), (210, HORIZON + 1.2)], 0.2, LOOSE)


def _reflected(s: Sketch) -> Tone:
    """How dark the water is: the mirrored faces of the mill, each with its own depth of tone."""
    parts = ((LONG_WALL, 0.95), (LONG_FOOT, 1.0), (ROOF, 0.62), (GABLE_WALL, 0.3), (GABLE_FOOT,
                                                                                    0.5))
    cells = np.zeros(s.free.shape)
    for face, dark in parts:
        cells = np.maximum(cells, dark * s.region(face.mirrored().quad()))
    left = s.region([(46, 97), (112, 97), (110, 104), (50, 105)])
    cells = cv2.GaussianBlur(np.maximum(cells, 0.5 * left), (0, 0), 16.0)

    def tone(points: F64) -> F64:
        sway = np.column_stack([1.3 * np.sin(points[:, 1] * 1.9) + 0.8 * np.sin(points[:, 1] * 0.7),
                                np.zeros(len(points))])
        column, row = np.clip(((points + sway) * 10).astype(np.int64), 0,
                              np.array(cells.shape)[::-1] - 1).T
        return np.asarray(cells[row, column])

    return tone


def _water(s: Sketch) -> None:
    sea = s.region([(0, HORIZON + 1.5), (210, HORIZON + 1.5), (210, 146), (0, 146)])
    dark = _reflected(s)
    calm = patches(SIZE, 30.0, s.rng)
    fade = ramp((0, 92), (0, 146), 1.0, 0.5)
    glints = patches(SIZE, 7.0, s.rng)
    water(s, DIP_PEN, HORIZON, sea, times(fade, dark, scaled(glints, 0.5, 0.65)), 0.55,
          0.5)
    ripples = ramp((0, 90), (0, 140), 0.62, 0.45)
    water(s, DIP_PEN, HORIZON, sea, times(ripples, scaled(calm, 1.0, -0.22)), 0.4,
          1.1)
    for _ in range(int(s.rng.integers(30, 40))):
        y = s.rng.uniform(101, 139)
        x, wide = s.rng.uniform(120, 186), s.rng.uniform(12, 36)
        line = smooth([(x - wide / 2, y), (x, y + s.rng.normal(0, 0.5)), (x + wide / 2, y)])
        if dark(line).mean() > 0.45:
            s.line(DRY_BRUSH, line, s.rng.uniform(0.25, 0.7) * fade(line)[0], SWEEP, sea)


def _sky(s: Sketch) -> None:
    for _ in range(int(s.rng.integers(4, 7))):
        gull(s, DIP_PEN, (s.rng.uniform(20, 100), s.rng.uniform(16, 52)), s.rng.uniform(5, 12),
             s.rng.uniform(-25, 25))
    broad = replace(DRY_BRUSH, width=8.0, reach=30.0, wet=0.6)
    x, y = s.rng.uniform(112, 128), s.rng.uniform(17, 22)
    for shift, drop, wide in ((0, 0, 62), (-28, 7, 44), (26, -6, 40)):
        start = (x + shift, y + drop + s.rng.uniform(-1, 1))
        s.curve(broad, [start, (start[0] + wide * 0.4, start[1] - 2.5),
                        (start[0] + wide, start[1] - 1.0 - s.rng.uniform(0, 3))], 0.12, SWEEP)
