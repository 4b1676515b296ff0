"""A rowing boat left on the mud at low water, in loaded brush and dry brush."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from sample_pages.form import View, moved, patches, ramp, times
from sample_pages.instruments import BRUSH, DRY_BRUSH
from sample_pages.path import F64, smooth
from sample_pages.scenes.growth import gull, pebbles
from sample_pages.sketch import FLICK, LOOSE, PLAIN, STEADY, Hand, Sketch
from sample_pages.stroke import Drawing

SIZE = (148.0, 105.0)
VIEW = View((0.0, 0.0, 2.35), 0.0, 190.0, (74.0, 22.0))
MIDDLE = np.array([-0.2, 6.4, 0.0])
BOWWARD = np.array([0.83, -0.56, 0.0])
SIDEWARD = np.array([-0.56, -0.83, 0.0])
UPWARD = np.array([0.0, 0.08, 1.0])
STERN, BOW = -1.75, 1.95
ROLL = -0.10
NEAR, FAR = 1.0, -1.0
SWEEP = Hand(0.4, 0.8, 5.0, 0.2, 0.2)
SMALL_DRY = replace(DRY_BRUSH, width=2.6, reach=26.0)
BROAD_DRY = replace(DRY_BRUSH, width=9.0, reach=32.0, wet=0.7)


def boat(rng: np.random.Generator) -> Drawing:
    """Draw the boat; chance moves the oars, the rope, the post, stones and sky."""
    s = Sketch(SIZE, rng)
    _rope_and_post(s)
    _oars(s)
    _hull(s)
    _inside(s)
    _ground(s)
    _behind(s)
    _sky(s)
    return s.drawing()


def _half_beam(station: F64) -> F64:
    share = np.clip((station + 0.25) / 2.2, -1.0, 1.0)
    return np.asarray(0.68 * np.maximum(1.0 - np.abs(share) ** 2.4, 0.0) ** 0.72)


def _sheer(station: F64) -> F64:
    return np.asarray(0.52 + 0.05 * station**2 + 0.03 * np.maximum(station, 0.0) ** 3)


def _keel(station: F64) -> F64:
    return np.asarray(0.03 + 1.35 * np.maximum(station - 1.38, 0.0) ** 2)


def _at(station: npt.ArrayLike, side: float, down: npt.ArrayLike, tuck: float = 1.0) -> F64:
    """Page points on the hull: metres from midships, which side, 0 at the gunwale to 1 at the keel.

    `tuck` below 1 moves inward, for the inner face of the planking.
    """
    along, low = np.broadcast_arrays(np.asarray(station, np.float64), np.asarray(down, np.float64))
    wide = side * tuck * _half_beam(along) * np.maximum(1.0 - low**2.3, 0.0) ** 0.62
    high = _sheer(along) - (_sheer(along) - _keel(along)) * low**0.92
    return _place(along, wide + ROLL * high, high - ROLL * wide)


def _place(along: npt.ArrayLike, wide: npt.ArrayLike, high: npt.ArrayLike) -> F64:
    """Page points of places in the boat's own axes, in metres."""
    lengths, widths, heights = (
        np.asarray(value, np.float64).reshape(-1, 1) for value in (along, wide, high)
    )
    return VIEW.project(MIDDLE + lengths * BOWWARD + widths * SIDEWARD + heights * UPWARD)


def _stations() -> F64:
    return np.linspace(STERN, BOW, 60)


def _plank(s: Sketch, corners: F64, pressure: float, grain: int) -> None:
    s.line(BRUSH, np.vstack([corners, corners[:1]]), pressure, STEADY)
    inside = s.region(corners)
    for share in np.linspace(0.0, 1.0, grain + 2)[1:-1]:
        ends = [corners[0] * (1 - share) + corners[3] * share,
                corners[1] * (1 - share) + corners[2] * share]
        s.line(SMALL_DRY, np.array(ends), 0.15, SWEEP, inside)
    s.claim(corners)


def _rope_and_post(s: Sketch) -> None:
    """A leaning post to the right, and the painter that runs to it from the bow."""
    bow = _at(BOW - 0.05, NEAR, 0.12)[0]
    x, y, tall = 137 + s.rng.uniform(-3, 2), 66 + s.rng.uniform(-3, 2), 37 + s.rng.uniform(-3, 4)
    lean = s.rng.uniform(-3.0, 1.0)
    tie = (x + lean * 0.7, y - tall * 0.72)
    sag = smooth([tuple(bow), ((bow[0] + tie[0]) / 2, max(bow[1], tie[1]) + 7), tie])
    s.line(BRUSH, sag, 0.22, PLAIN)
    for lift in (-0.8, 0.2, 1.2):
        s.curve(BRUSH, [(tie[0] - 3.0, tie[1] + lift), (tie[0], tie[1] + lift + 0.9),
                        (tie[0] + 3.2, tie[1] + lift)], 0.25, STEADY)
    s.claim(np.vstack([moved(sag, 0, -0.5), moved(sag, 0, 0.5)[::-1]]))
    post = np.array([(x - 2.7, y), (x - 2.3 + lean, y - tall), (x + 0.4 + lean, y - tall - 1.2),
                     (x + 2.6 + lean, y - tall + 0.4), (x + 2.9, y + 0.8)])
    s.line(BRUSH, post, 0.36, STEADY)
    dark = np.array([post[2] + (0.8, 0.6), post[3], post[4], post[4] - (2.2, 0.3),
                     post[2] + (0.4, tall * 0.4)])
    s.solid(BRUSH, dark, 0.4)
    for share in (0.2, 0.42):
        s.line(SMALL_DRY, [tuple(post[1] + (5 * share, 2)), tuple(post[0] + (5 * share, -1))], 0.3,
               SWEEP)
    s.claim(post)
    for turn in range(3):
        wide = 12.0 - 2.5 * turn
        s.line(DRY_BRUSH, [(x - 4 - wide, y + 1.5 + 1.6 * turn), (x + 3, y + 1.2 + 1.2 * turn)],
               0.5, SWEEP)


def _oars(s: Sketch) -> None:
    """Two oars shipped across the thwarts, blades over the near quarter."""
    for shift in (0.0, 0.2):
        turn = float(s.rng.uniform(-0.06, 0.06))
        ends = _place([1.0 + shift, -2.1 + shift * 2], [-0.22 + turn + shift, 0.72 + shift],
                      [0.66, 0.60])
        way = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
        side = np.array([-way[1], way[0]])
        neck = ends[0] + (ends[1] - ends[0]) * 0.76
        loom = np.vstack([ends[0] - side * 0.5, neck - side * 0.62, neck + side * 0.62,
                          ends[0] + side * 0.5])
        leaf = smooth([tuple(neck - side * 0.6), tuple(neck + way * 5 - side * 1.9),
                       tuple(ends[1] - side * 2.1), tuple(ends[1] + side * 2.0),
                       tuple(neck + way * 5 + side * 1.8), tuple(neck + side * 0.6)])
        s.line(BRUSH, leaf, 0.24, STEADY)
        s.line(BRUSH, [tuple(neck + way), tuple(ends[1] - way * 1.5)], 0.12, FLICK)
        s.line(BRUSH, loom[:2], 0.14, STEADY)
        s.line(BRUSH, loom[2:], 0.3, STEADY)
        s.claim(leaf)
        s.claim(loom)


def _hull(s: Sketch) -> None:
    stations = _stations()
    rail = np.vstack([_at(stations, NEAR, 0.0), _at(stations, NEAR, 0.0, 0.91)[::-1]])
    s.line(BRUSH, _at(stations, NEAR, 0.0), 0.42, STEADY)
    s.line(BRUSH, _at(stations, NEAR, 0.0, 0.91), 0.2, STEADY)
    s.claim(rail)
    sides = np.stack([_at(stations, NEAR, down) for down in np.linspace(0, 1, 24)])
    low = sides[:, :, 1].argmax(axis=0)
    foot = sides[low, np.arange(len(stations))]
    outline = np.vstack([sides[0], foot[::-1]])
    inside = s.region(outline)
    s.line(BRUSH, foot, 0.5, PLAIN)
    s.line(BRUSH, _at(BOW, NEAR, np.linspace(0, 1, 12)), 0.5, STEADY)
    s.line(BRUSH, _at(BOW - 0.06, NEAR, np.linspace(0, 1, 12)), 0.2, STEADY, inside)
    for number, down in enumerate((0.1, 0.27, 0.44, 0.6, 0.75, 0.88)):
        line = _at(stations, NEAR, down)
        weight = 0.14 + 0.045 * number
        s.line(BRUSH, line, ramp((40, 0), (100, 0), 1.2 * weight, 0.7 * weight), PLAIN, inside)
        if number > 0:
            shade = _at(np.linspace(STERN + 0.05, 0.7 + 0.15 * number, 40), NEAR, down - 0.05)
            s.line(SMALL_DRY, shade[::-1], 0.12 + 0.11 * number, SWEEP, inside)
    for down in (0.66, 0.74, 0.81, 0.87, 0.93):
        s.line(DRY_BRUSH, _at(np.linspace(-1.7, 1.5, 40), NEAR, down), 0.55, SWEEP, inside)
    for station in np.arange(-1.4, 1.7, 0.42):
        for down in (0.06, 0.23, 0.4, 0.56):
            x, y = _at(station, NEAR, down)[0]
            s.dot(BRUSH, (float(x), float(y)), 0.1)
    s.claim_region(inside)


def _inside(s: Sketch) -> None:
    stations = _stations()
    well = np.vstack([_at(stations, NEAR, 0.0, 0.91), _at(stations, FAR, 0.0, 0.91)[::-1]])
    whole = s.region(well)
    for station, deep in ((-1.42, 0.34), (-0.35, 0.26), (0.72, 0.24)):
        reach = _half_beam(np.array([station, station + deep])) * 0.9
        seat = _place([station, station + deep, station + deep, station],
                      [-reach[0], -reach[1], reach[1], reach[0]], 0.36)
        _plank(s, seat, 0.26, 3)
        front = np.vstack([seat[[1, 2]], seat[[2, 1]] + (0.2, 1.5)])
        s.solid(BRUSH, front, 0.3)
        s.claim(front)
    knee = _place([BOW - 0.5, BOW - 0.06, BOW - 0.5], [-0.2, 0.0, 0.25], 0.62)
    s.line(BRUSH, np.vstack([knee, knee[:1]]), 0.25, STEADY)
    s.claim(knee)
    boards = [_at(np.linspace(STERN + 0.2, 1.4, 40), FAR, down, 0.9) for down in (0.8, 0.9, 0.97)]
    for line in boards:
        s.line(BRUSH, line, 0.2, PLAIN, whole)
    ribs = np.arange(STERN + 0.2, BOW - 0.3, 0.21)
    for rib in ribs:
        s.line(BRUSH, _at(rib, FAR, np.linspace(0.03, 0.8, 14), 0.9), 0.26, STEADY, whole)
    for number, down in enumerate((0.16, 0.34, 0.52, 0.68)):
        s.line(BRUSH, _at(stations, FAR, down, 0.9), 0.1 + 0.05 * number, PLAIN, whole)
    for number in range(9):
        down = 0.3 + 0.075 * number
        s.line(SMALL_DRY, _at(np.linspace(STERN, 1.6, 50), FAR, down, 0.9), 0.2 + 0.09 * number,
               SWEEP, whole)
    hold = np.vstack([_at(np.linspace(STERN + 0.1, 1.35, 40), FAR, 0.86, 0.9),
                      _at(np.linspace(STERN + 0.1, 1.35, 40), NEAR, 0.35, 0.9)[::-1]])
    shade = s.region(hold) & whole
    s.hatch(BRUSH, shade, 8, 0.8, 1.0, 0.42, LOOSE)
    s.hatch(SMALL_DRY, shade, -30, 1.4, 1.0, 0.9, LOOSE)
    s.line(BRUSH, _at(stations, FAR, 0.0), 0.3, STEADY)
    s.line(BRUSH, _at(stations, FAR, 0.0, 0.91), 0.2, STEADY)
    transom = np.vstack([_at(STERN, NEAR, np.linspace(0, 1, 10)), _at(STERN, FAR, np.linspace(1, 0,
                                                                                              10))])
    s.line(BRUSH, transom, 0.3, STEADY)
    s.line(BRUSH, transom[[0, -1]] + (0.0, -0.4), 0.4, STEADY)
    s.claim(np.vstack([_at(stations, NEAR, 0.0), _at(stations, FAR, 0.0)[::-1]]))
    s.claim(transom)


def _ground(s: Sketch) -> None:
    """Mud: the boat's shadow, its furrow, stones and runnels of water."""
    keel = _at(np.linspace(STERN, 1.6, 40), NEAR, 0.98)
    outer = keel + np.column_stack([np.linspace(-8, 4, 40), np.linspace(3.4, 2.6, 40)])
    shadow = np.vstack([moved(keel, 0.0, -1.5), outer[::-1]])
    s.solid(BRUSH, smooth(shadow[::6], closed=True), 0.6)
    s.claim(shadow)
    land = s.region([(0, 40), (148, 38), (148, 103), (0, 103)])
    for number in range(14):
        y = 58 + 3.2 * number + s.rng.uniform(-1.2, 1.2)
        x = s.rng.uniform(2, 60 + 2 * number)
        wide = s.rng.uniform(22, 60)
        path = smooth([(x, y), (x + wide * 0.4, y + s.rng.uniform(-1.6, 1.6)),
                       (x + wide, y + s.rng.uniform(-1, 2))])
        s.line(BROAD_DRY if number > 7 else DRY_BRUSH, path, s.rng.uniform(0.12, 0.45), SWEEP, land)
    for number in range(9):
        y = 66 + 4.2 * number + s.rng.uniform(-1.5, 1.5)
        x = s.rng.uniform(-4, 110)
        s.curve(BRUSH, [(x, y), (x + 8, y + 1.2), (x + 17, y + 0.4), (x + 30, y + 1.8)], 0.13,
                FLICK, land)
    low = s.region([(6, 84), (142, 82), (140, 101), (8, 101)])
    pebbles(s, replace(BRUSH, width=1.0), low, int(s.rng.integers(14, 26)))
    for tuft in (14.0, 21.0, 128.0):
        x = tuft + float(s.rng.uniform(-4, 4))
        for _ in range(9):
            tall = s.rng.uniform(5, 15)
            lean = s.rng.normal(0.2, 0.35) * tall
            s.curve(replace(BRUSH, width=1.2), [(x, 99), (x + lean * 0.3, 99 - tall * 0.6),
                                                (x + lean, 99 - tall)], 0.3, FLICK)
            x += float(s.rng.uniform(0.2, 1.0))


def _behind(s: Sketch) -> None:
    """The far bank, the mill on it no bigger than a thumb nail, and the last of the water."""
    x = 30.0 + float(s.rng.uniform(-8, 14))
    gable = np.array([(x, 23), (x, 15), (x + 4.5, 10.2), (x + 9, 14.6), (x + 9, 23)])
    roof = np.array([(x + 4.5, 10.2), (x + 17.5, 10.0), (x + 22, 14.6), (x + 9, 14.6)])
    wall = np.array([(x + 9, 14.6), (x + 21.5, 14.6), (x + 21.5, 23), (x + 9, 23)])
    s.line(BRUSH, gable, 0.16, STEADY)
    s.claim(gable)
    s.solid(BRUSH, roof, 0.3)
    s.claim(roof)
    s.line(BRUSH, wall[1:3], 0.14, STEADY)
    s.hatch(SMALL_DRY, s.region(wall), 84, 1.6, 1.0, 0.55, STEADY)
    s.claim(wall)
    for left, right, y in ((-2, 62, 23.4), (58, 116, 23.0), (104, 150, 23.6)):
        s.line(DRY_BRUSH, [(left, y), ((left + right) / 2, y + 0.5), (right, y)], 0.34, SWEEP)
    for number in range(6):
        start, y = float(s.rng.uniform(-5, 90)), 27.5 + 2.4 * number
        s.line(BRUSH, [(start, y), (start + s.rng.uniform(12, 44), y + 0.3)],
               0.09, FLICK)
    tide = patches(SIZE, 16.0, s.rng)
    strip = s.region([(0, 25), (148, 25), (148, 45), (0, 45)])
    s.hatch(SMALL_DRY, strip, 0.5, 2.6, times(tide, ramp((0, 29), (0, 45), 1.2, 0.6)), 0.25, LOOSE,
            reach=30)


def _sky(s: Sketch) -> None:
    for _ in range(int(s.rng.integers(2, 5))):
        gull(s, replace(BRUSH, width=1.5), (s.rng.uniform(70, 138), s.rng.uniform(6, 17)),
             s.rng.uniform(6, 11), s.rng.uniform(-20, 20))
    x, y = float(s.rng.uniform(60, 76)), float(s.rng.uniform(6, 10))
    for shift, drop, wide in ((0, 0, 58), (-44, 4, 40)):
        s.curve(BROAD_DRY, [(x + shift, y + drop), (x + shift + wide * 0.5, y + drop - 2),
                            (x + shift + wide, y + drop + 1)], 0.16, SWEEP)
