"""The wheel in its pit beside the sluice, in fine pen on smooth paper."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sample_pages.form import Face, Place, Tone, View, away_from, patches, ramp, scaled, times
from sample_pages.instruments import FINE_PEN
from sample_pages.path import F64, smooth
from sample_pages.scenes.growth import blade, water
from sample_pages.sketch import FLICK, LOOSE, PLAIN, STEADY, Hand, Region, Sketch
from sample_pages.stroke import Drawing

SIZE = (105.0, 148.0)
VIEW = View((0.0, 0.0, 2.3), 0.0, 152.0, (50.0, 74.0))
TURN = np.radians(33.0)
AXIS = np.array([np.sin(TURN), np.cos(TURN), 0.0])
ACROSS = np.array([np.cos(TURN), -np.sin(TURN), 0.0])
UPWARD = np.array([0.0, 0.0, 1.0])
HUB = np.array([0.25, 9.6, 2.15])
RIM, INNER, FLOAT_TIP, WIDE = 2.55, 2.18, 2.82, 1.5
SPOKES, FLOATS = 8, 20
LEVEL = -0.12
HATCH = Hand(0.05, 0.5, 1.0, 0.5, 0.08)


def wheel(rng: np.random.Generator) -> Drawing:
    """Draw the wheel; chance turns it and moves the water, the stones and the ferns."""
    s = Sketch(SIZE, rng)
    start = float(rng.uniform(0.0, 360.0 / SPOKES))
    _spill(s)
    _axle(s)
    _side(s, start, 0.0, 1.0)
    _floats(s, start)
    _side(s, start, WIDE, 0.7)
    _gate(s)
    _door(s)
    _ferns(s)
    _wall(s)
    _race(s)
    return s.drawing()


def _at(radius: npt.ArrayLike, degrees: npt.ArrayLike, depth: npt.ArrayLike) -> F64:
    """Page points of places on the wheel: radius m, angle from level, depth along the axle."""
    out, turn, back = np.broadcast_arrays(
        np.asarray(radius, np.float64), np.radians(np.asarray(degrees, np.float64)),
        np.asarray(depth, np.float64),
    )
    places = (
        HUB + (out * np.cos(turn)).reshape(-1, 1) * ACROSS
        + (out * np.sin(turn)).reshape(-1, 1) * UPWARD + back.reshape(-1, 1) * AXIS
    )
    return VIEW.project(places)


def _circle(radius: float, depth: float) -> F64:
    return _at(radius, np.linspace(0.0, 360.0, 160), depth)


def _corner(across: float, depth: float, height: float) -> Place:
    x, y, _ = HUB + across * ACROSS + depth * AXIS
    return (float(x), float(y), height)


def _face(across: float, depth: float, height: float, wide: float, tall: float) -> Face:
    """A flat upright thing parallel to the wheel."""
    way = wide * ACROSS
    return Face(VIEW, _corner(across, depth, height), (float(way[0]), float(way[1]), 0.0),
                (0.0, 0.0, tall))


def _ring(s: Sketch, path: F64, pressure: float) -> None:
    s.line(FINE_PEN, path, pressure, STEADY)


def _axle(s: Sketch) -> None:
    """The axle's near end in its iron bands, and the post it turns on."""
    for depth, radius in ((-0.95, 0.2), (-0.3, 0.24), (-0.12, 0.4)):
        end = _circle(radius, depth)
        _ring(s, end, 0.85)
        if depth < -0.9:
            for share in (0.7, 0.42, 0.15):
                _ring(s, _circle(radius * share, depth), 0.4)
        body = np.vstack([_at(radius, np.linspace(80, 260, 30), depth),
                          _at(radius, np.linspace(260, 80, 30), depth + 0.65)])
        inside = s.region(end) if depth < -0.9 else s.region(np.vstack([end, body]))
        lines = [_at(radius, turn, np.array([depth, depth + 0.65])) for turn in range(0, 360, 13)]
        if depth > -0.9:
            s.rule(FINE_PEN, lines, inside, 0.9, 0.5, HATCH)
        s.claim_region(inside)
        tube = s.region(_at(radius, np.array([100, 280, 280, 100]),
                            np.array([depth, depth, depth + 0.7, depth + 0.7])))
        s.rule(FINE_PEN, lines, tube, 0.95, 0.5, HATCH)
        s.claim_region(tube)
    _pier(s)
    post = _face(-0.24, -0.75, 0.55, 0.5, HUB[2] - 0.75)
    s.line(FINE_PEN, np.vstack([post.quad(), post.quad()[:1]]), 0.8, STEADY)
    grain = [post.upright(u) for u in np.linspace(0.06, 0.96, 9)]
    s.rule(FINE_PEN, grain, s.region(post.quad()), 0.7, 0.35, PLAIN, reach=12)
    s.hatch(FINE_PEN, s.region(post.quad(0.5, 0, 1, 1)), 35, 0.42, 0.9, 0.4, HATCH)
    s.claim(post.quad())


def _pier(s: Sketch) -> None:
    """The stone block that carries the post."""
    front = _face(-0.5, -1.0, LEVEL, 1.05, 0.62 - LEVEL)
    end = Face(VIEW, _corner(0.55, -1.0, LEVEL), tuple(0.6 * AXIS), (0.0, 0.0, 0.62 - LEVEL))
    top = VIEW.project([_corner(a, d, 0.62) for a, d in
                        ((-0.5, -1.0), (0.55, -1.0), (0.55, -0.4), (-0.5, -0.4))])
    post = s.region(_face(-0.24, -0.75, 0.5, 0.5, 2.0).quad())
    for outline, angle, spacing in ((front.quad(), 62, 0.8), (end.quad(), 40, 0.4), (top, 5, 1.6)):
        s.line(FINE_PEN, np.vstack([outline, outline[:1]]), 0.85, PLAIN, ~post)
        s.hatch(FINE_PEN, s.region(outline) & ~post, angle, spacing, 0.8, 0.3, HATCH)
    s.hatch(FINE_PEN, s.region(front.quad(0, 0, 1, 0.4)), 88, 0.5, 0.9, 0.4, FLICK)
    for outline in (front.quad(), end.quad(), top):
        s.claim_region(s.region(outline) & ~post)


def _side(s: Sketch, start: float, depth: float, weight: float) -> None:
    """One side of the wheel: hub, spokes in pairs of edges, and the rim with its joints."""
    hub = _circle(0.42, depth)
    _ring(s, hub, 0.7 * weight)
    s.hatch(FINE_PEN, s.region(hub), 55, 0.4, 0.9, 0.5, HATCH)
    s.claim(hub)
    outer, inner = _circle(RIM, depth), _circle(INNER, depth)
    dry = _dry(s, depth)
    for path in (outer, inner):
        s.line(FINE_PEN, path, 0.95 * weight, STEADY, dry)
    band = s.region(outer) & ~s.region(inner) & dry
    s.line(FINE_PEN, _circle(RIM - 0.06, depth), 0.3 * weight, STEADY, dry)
    for number in range(SPOKES):
        turn = start + number * 360.0 / SPOKES
        joint = turn + 180.0 / SPOKES
        for bolt in (-3.0, 3.0):
            x, y = _at((RIM + INNER) / 2, turn + bolt, depth)[0]
            s.dot(FINE_PEN, (float(x), float(y)), 0.9)
        s.line(FINE_PEN, _at([INNER, RIM], joint, depth), 0.6 * weight, STEADY, band)
    under = _shadow(depth)
    sweep = [_at([INNER, RIM], turn, depth) for turn in np.arange(0.0, 360.0, 0.9)]
    s.rule(FINE_PEN, sweep, band, under, 0.35 * weight, HATCH)
    grain = [_at(radius, np.linspace(0, 360, 200), depth) for radius in (2.27, 2.4)]
    s.rule(FINE_PEN, grain, band, 0.75, 0.12, PLAIN, reach=7)
    s.claim_region(band)
    for number in range(SPOKES):
        _spoke(s, start + number * 360.0 / SPOKES, depth, weight)


def _dry(s: Sketch, depth: float) -> Region:
    """What stands above the water at one depth along the axle."""
    line = VIEW.project([_corner(across, depth, LEVEL) for across in (-5.0, 5.0)])
    return s.region(np.vstack([line, [(line[1, 0], -5.0), (line[0, 0], -5.0)]]))


def _shadow(depth: float) -> Tone:
    """Tone on the wheel's timbers: lit from the upper left, dark below and behind."""
    left, right = _at(RIM, 140.0, depth)[0], _at(RIM, -40.0, depth)[0]
    return ramp((float(left[0]), float(left[1])), (float(right[0]), float(right[1])),
                0.0 if depth == 0.0 else 0.55, 0.95)


def _spoke(s: Sketch, turn: float, depth: float, weight: float) -> None:
    radii = np.array([0.38, INNER])
    aside = np.degrees(0.085 / radii)
    plank = np.vstack([_at(radii, turn - aside, depth), _at(radii[::-1], turn + aside[::-1],
                                                            depth)])
    inside = s.region(plank) & _dry(s, depth)
    s.line(FINE_PEN, plank[:2], 0.8 * weight, STEADY, inside)
    s.line(FINE_PEN, plank[2:], 0.6 * weight, STEADY, inside)
    lines = [_at(radii, turn + share * aside, depth) for share in (-0.7, -0.4, 0.1, 0.5)]
    s.rule(FINE_PEN, lines, inside, 0.8, 0.25, PLAIN, reach=10)
    dark = _shadow(depth)
    rungs = [_at(radius, turn + np.degrees(0.085 / radius) * np.array([-1.0, 1.0]), depth)
             for radius in np.arange(0.5, INNER, 0.035)]
    s.rule(FINE_PEN, rungs, inside, times(dark, 0.9), 0.3, HATCH)
    s.claim_region(inside)


def _floats(s: Sketch, start: float) -> None:
    """The boards that the tide pushes, each a plank right across the wheel."""
    dry = _dry(s, WIDE / 2)
    order = sorted(range(FLOATS), key=lambda n: -_at(RIM, start + n * 360 / FLOATS, 0.0)[0, 0])
    for number in order:
        turn = start + number * 360.0 / FLOATS
        board = _at([1.98, FLOAT_TIP, FLOAT_TIP, 1.98], turn, [0.06, 0.06, WIDE - 0.06,
                                                               WIDE - 0.06])
        inside = s.region(board) & dry
        s.line(FINE_PEN, np.vstack([board, board[:1]]), 0.75, STEADY, dry)
        for share in (0.33, 0.66):
            joint = _at(1.98 + share * (FLOAT_TIP - 1.98), turn, [0.1, WIDE - 0.1])
            s.line(FINE_PEN, joint, 0.4, STEADY, inside)
        grain = [_at(radius, turn, np.linspace(0.08, WIDE - 0.08, 20))
                 for radius in np.linspace(2.02, FLOAT_TIP - 0.04, 15)]
        below = float(np.cos(np.radians(turn - 160.0)))
        s.rule(FINE_PEN, grain, inside, 0.85 if below < 0.2 else 0.45, 0.32, PLAIN, reach=9)
        if below < 0.2:
            s.hatch(FINE_PEN, inside, 62, 0.5, 0.9, 0.3, HATCH)
        s.claim_region(inside)
    sole = [_at(INNER - 0.02, np.linspace(0, 360, 200), depth) for depth in np.linspace(0.1, 1.45,
                                                                                        12)]
    drum = s.region(_circle(RIM, WIDE)) & ~s.region(_circle(INNER, 0.0)) & dry
    s.rule(FINE_PEN, sole, drum, 0.9, 0.35, PLAIN, reach=8)


def _gate(s: Sketch) -> None:
    """The sluice: two posts, a cross head with its rack, and the leaf, half drawn up."""
    for across in (-4.3, -2.95):
        post = _face(across, 0.2, LEVEL, 0.24, 4.4)
        s.line(FINE_PEN, post.quad()[[0, 3, 2, 1]], 0.8, STEADY)
        s.rule(FINE_PEN, [post.upright(u) for u in (0.2, 0.4, 0.55, 0.7, 0.8, 0.9)],
               s.region(post.quad()), 0.9, 0.35, PLAIN, reach=20)
        s.claim(post.quad())
    head = _face(-4.7, 0.15, 3.75, 2.4, 0.32)
    s.line(FINE_PEN, np.vstack([head.quad(), head.quad()[:1]]), 0.8, STEADY)
    s.rule(FINE_PEN, [head.level(v) for v in (0.2, 0.45, 0.65, 0.85)], s.region(head.quad()), 0.8,
           0.3, PLAIN, reach=8)
    s.claim(head.quad())
    rack = _face(-3.62, 0.2, 2.2, 0.16, 3.0)
    s.line(FINE_PEN, rack.quad()[[0, 3, 2, 1]], 0.7, STEADY)
    for v in np.linspace(0.03, 0.97, 30):
        s.line(FINE_PEN, rack.level(v), 0.7, STEADY)
    s.claim(rack.quad())
    crank = _face(-3.3, 0.1, 3.0, 0.01, 0.01).at(0, 0)[0]
    spin = float(s.rng.uniform(-50, 50))
    cog = np.column_stack([np.cos(np.linspace(0, 2 * np.pi, 49)), np.sin(np.linspace(0, 2 * np.pi,
                                                                                     49))])
    size = np.where(np.arange(49) % 4 < 2, 3.4, 2.8)[:, None]
    s.line(FINE_PEN, crank + cog * size, 0.7, STEADY)
    s.line(FINE_PEN, crank + cog * 0.8, 0.7, STEADY)
    arm = crank + 7.5 * np.array([np.cos(np.radians(spin)), np.sin(np.radians(spin))])
    s.line(FINE_PEN, [tuple(crank), tuple(arm)], 0.95, STEADY)
    s.line(FINE_PEN, [tuple(arm), (arm[0] - 1.5, arm[1] + 1.8)], 0.95, STEADY)
    s.claim(crank + cog * 3.3)
    leaf = _face(-4.06, 0.25, 0.55, 1.11, 1.9)
    s.line(FINE_PEN, np.vstack([leaf.quad(), leaf.quad()[:1]]), 0.8, STEADY)
    for u in np.linspace(0.2, 0.8, 4):
        s.line(FINE_PEN, leaf.upright(u), 0.6, STEADY)
    s.rule(FINE_PEN, [leaf.upright(u) for u in np.linspace(0.04, 0.98, 22)], s.region(leaf.quad()),
           0.75, 0.28, PLAIN, reach=11)
    s.hatch(FINE_PEN, s.region(leaf.quad()), 40, 0.6, ramp((0, 70), (0, 100), 0.2, 1.0), 0.35,
            HATCH)
    s.claim(leaf.quad())
    gap = _face(-4.06, 0.3, LEVEL, 1.11, 0.7)
    s.hatch(FINE_PEN, s.region(gap.quad()), 4, 0.34, 1.0, 0.9, HATCH)
    s.claim(gap.quad())


def _door(s: Sketch) -> None:
    """A small barred window in the mill's wall, above the wheel."""
    wall = _face(-0.5, 2.2, 5.1, 1.0, 1.1)
    stone = wall.quad(-0.16, -0.14, 1.16, 1.14)
    s.line(FINE_PEN, np.vstack([stone, stone[:1]]), 0.7, STEADY)
    inner = wall.quad()
    s.line(FINE_PEN, np.vstack([inner, inner[:1]]), 0.8, STEADY)
    for u in (0.25, 0.5, 0.75):
        bar = wall.quad(u - 0.025, 0.0, u + 0.025, 1.0)
        s.line(FINE_PEN, bar, 0.5, STEADY)
        s.claim(bar)
    for angle in (50, 88, 8):
        s.hatch(FINE_PEN, s.region(inner), angle, 0.42, 1.0, 0.8, HATCH)
    s.claim(inner)
    s.hatch(FINE_PEN, s.region(wall.quad(-0.16, 1.0, 1.16, 1.14)), 60, 0.6, 0.7, 0.3, HATCH)
    s.claim(stone)


def _ferns(s: Sketch) -> None:
    for across, height in ((1.9, 5.6), (-2.6, 6.0), (-5.0, 5.2)):
        x, y = _face(across + float(s.rng.uniform(-0.3, 0.3)), 2.2, height, 0.1, 0.1).at(0, 0)[0]
        for _ in range(9):
            turn = np.radians(s.rng.uniform(-20, 200))
            long = s.rng.uniform(5, 9)
            tip = (x + long * np.cos(turn), y - 0.5 * long * np.sin(turn) + 0.45 * long)
            rib = smooth([(x, y), ((x + tip[0]) / 2, min(y, tip[1]) - 2.2), tip])
            s.line(FINE_PEN, rib, 0.55, FLICK)
            for place in range(2, len(rib) - 1, 2):
                size = 1.3 * (1.0 - place / len(rib)) + 0.25
                way = rib[min(place + 1, len(rib) - 1)] - rib[place - 1]
                way = way / max(float(np.hypot(*way)), 1e-6)
                for side in (-1, 1):
                    leaf = rib[place] + size * (0.5 * way + side * np.array([-way[1], way[0]]))
                    s.line(FINE_PEN, [tuple(rib[place]), tuple(leaf)], 0.5, FLICK)


def _wall(s: Sketch) -> None:
    """Courses of rough stone behind the wheel, dark where it throws its shadow."""
    wall = _face(-6.4, 2.2, LEVEL, 11.2, 7.4)
    loose = s.region(smooth([(7, 13), (46, 6), (88, 13), (99, 40), (98, 118), (60, 128), (7, 116),
                             (5, 60)], closed=True))
    whole = s.region(wall.quad()) & loose
    middle = tuple(_at(0.4, -35.0, 1.0)[0])
    shade = away_from((float(middle[0]), float(middle[1])), 14, 52, 1.0, 0.0)
    v = 0.0
    while v < 1.0:
        tall = float(s.rng.uniform(0.045, 0.075))
        s.line(FINE_PEN, wall.level(min(v + tall, 1.0)), 0.42, LOOSE, whole)
        u = float(s.rng.uniform(-0.05, 0.0))
        while u < 1.0:
            wide = float(s.rng.uniform(0.045, 0.12))
            _stone(s, wall, (u, v, wide, tall), whole, shade)
            u += wide
        v += tall
    for angle, most, spacing in ((62, 1.3, 0.5), (28, 1.15, 0.52), (96, 0.95, 0.5)):
        s.hatch(FINE_PEN, whole, angle, spacing, scaled(shade, most), 0.4, HATCH,
                reach=9)


def _stone(
    s: Sketch, wall: Face, box: tuple[float, float, float, float], whole: Region, shade: Tone
) -> None:
    u, v, wide, tall = box
    s.line(FINE_PEN, wall.upright(u, v, v + tall), 0.45, PLAIN, whole)
    place = wall.at(u + wide / 2, v + tall / 2)
    fate = s.rng.random() + 0.35 * float(shade(place)[0])
    if fate > 0.72:
        stone = s.region(wall.quad(u + 0.004, v + 0.006, u + wide - 0.004,
                                   v + tall - 0.006)) & whole
        angle = float(s.rng.choice([25.0, 60.0, 115.0]))
        s.hatch(FINE_PEN, stone, angle, 0.75, 0.8, 0.25, HATCH)
    elif fate > 0.3:
        under = wall.quad(u, v + 0.004, u + wide, v + tall * 0.4)
        s.hatch(FINE_PEN, s.region(under) & whole, 55, 0.7, 0.8, 0.25, FLICK)
    for _ in range(int(s.rng.integers(0, 4))):
        x, y = wall.at(u + wide * s.rng.uniform(0.1, 0.9), v + tall * s.rng.uniform(0.2, 0.9))[0]
        if whole[min(max(int(y * 10), 0), whole.shape[0] - 1), min(max(int(x * 10), 0),
                                                                   whole.shape[1] - 1)]:
            s.dot(FINE_PEN, (float(x), float(y)), 0.3)


def _spill(s: Sketch) -> None:
    """Grass on the near edge of the race, and the kerb it grows from."""
    kerb = smooth([(3, 134), (24, 136.5), (52, 139), (80, 138), (102, 134.5)])
    s.line(FINE_PEN, kerb, 0.75, PLAIN)
    for x in np.sort(s.rng.uniform(6, 98, 95)):
        y = float(np.interp(x, kerb[:, 0], kerb[:, 1]))
        tall = float(s.rng.uniform(3, 11)) * (1.3 if x < 30 or x > 78 else 0.5)
        blade(s, FINE_PEN, (float(x), y), tall, tall * float(s.rng.normal(0.2, 0.4)), 0.7)
    below = np.vstack([kerb, [(96, 143.5), (50, 145.5), (8, 142)]])
    s.hatch(FINE_PEN, s.region(below), 66, 0.9, 0.75, 0.35, FLICK)
    s.claim(np.vstack([kerb, [(105, 150), (0, 150)]]))


def _race(s: Sketch) -> None:
    """The water: drawn down under the gate, broken by the wheel, quick toward us."""
    top = float(_face(0, 2.2, LEVEL, 0.1, 0.1).at(0, 0)[0, 1])
    pool = s.region([(4, top), (101, top - 3), (100, 140), (3, 138)])
    foot = _at(FLOAT_TIP, -90.0, 0.4)[0]
    foam = away_from((float(foot[0]) + 6, float(foot[1]) - 1), 5, 24, 0.0, 1.0)
    calm = patches(SIZE, 9.0, s.rng)
    for number, wide in enumerate((9.0, 13.0, 17.0, 12.0)):
        bump = np.linspace(-wide, wide, int(wide * 3))
        x = float(foot[0]) + 3.0 + bump + s.rng.uniform(-2, 2)
        y = float(foot[1]) - 2.0 + 1.9 * number + 0.012 * bump * bump
        y -= 0.9 * np.abs(np.sin(bump * s.rng.uniform(0.8, 1.3)))
        y -= 0.25 * s.rng.standard_normal(len(bump))
        s.rule(FINE_PEN, [smooth(np.column_stack([x, y]))], None,
               scaled(patches(SIZE, 3.0, s.rng), 1.3, -0.2), 0.5)
    for _ in range(90):
        x, y = foot + s.rng.normal(0, 1, 2) * (11, 3.0) + (3.0, 0.5)
        s.dot(FINE_PEN, (float(x), float(y)), 0.4)
    depth = ramp((0, top), (0, 138), 1.1, 0.6)
    sides = times(ramp((3, 0), (22, 0), 0.0, 1.0), ramp((101, 0), (86, 0), 0.2, 1.0))
    water(s, FINE_PEN, top - 4, pool, times(foam, depth, sides, scaled(calm, 1.2, -0.1)),
          0.6, 0.5)
    under = s.region(np.vstack([_circle(FLOAT_TIP, WIDE / 2) * (1, 0.5) + (0, 0.62 * foot[1])]))
    water(s, FINE_PEN, top - 4, pool & under, times(foam, 0.75), 0.75, 0.45)
