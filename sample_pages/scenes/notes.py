"""A page of the keeper's notes, hand lettered in fountain pen, with small drawings beside them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sample_pages.form import moved, patches, ramp
from sample_pages.instruments import FOUNTAIN_PEN
from sample_pages.lettering import write
from sample_pages.path import F64, Points, ellipse, smooth
from sample_pages.scenes.growth import blade
from sample_pages.sketch import FLICK, LOOSE, PLAIN, STEADY, Sketch
from sample_pages.stroke import Drawing

SIZE = (148.0, 210.0)
LINE_MM = 7.0
TALL = 2.5
FINE = replace(FOUNTAIN_PEN, width=0.42)
OPENING = (
    "14 March. Wind SW and fresh, cold rain till noon.",
    "High water at 6.12, a neap, and the pond came only",
    "to the third mark. Shut the gates by hand; the rack",
    "was stiff with frost and took two of us. Ground nine",
    "sacks for Orchard & one of barley for the house.",
)
BESIDE_GATE = (
    "The upper leaf lets by as much",
    "as a bucket an hour. Caulk it",
    "at the next spring tide, when",
    "the pond is dry till four.",
    "Oak for the sill: 9 ft by 14 in.",
    "Ask Tam if his is seasoned.",
)
MIDDLE = (
    "The heron is back on the second post & stands there",
    "through the whole ebb. I think that he counts the eels.",
)
BESIDE_HERON = (
    "Tides for the week, by the post:",
    "Wed. 6.50    Thurs. 7.31",
    "Fri. 8.20    Sat. 9.24",
    "Sun. 10.41, and no milling.",
)
CLOSING = ("Key of the gear loft hangs", "behind the flour bin now.")


def notes(rng: np.random.Generator) -> Drawing:
    """Draw the page; chance moves every letter a little, and the vignettes more."""
    s = Sketch(SIZE, rng)
    heading = write(s, FOUNTAIN_PEN, "Of the tide & the wheel", (17, 19), 3.6, 0.75)
    for lift in (0.0, 1.3):
        s.line(FOUNTAIN_PEN, [(16.5, 24.0 + lift), (heading + 3, 23.2 + lift)], 0.45, LOOSE)
    y = _lines(s, OPENING, (17.0, 33.5))
    _slip(s, (17.0 + 46, y - LINE_MM * 2))
    _gate(s, (21.0, y + 1.0))
    _lines(s, BESIDE_GATE, (72.0, y + 6.0))
    y = _lines(s, MIDDLE, (17.0, y + 53.5))
    _heron(s, (111.0 + float(rng.uniform(-2, 3)), y - 0.5))
    y = _lines(s, BESIDE_HERON, (17.0, y + 2.5))
    _curve_of_tides(s, (21.0, y + 11.5), 66.0)
    _key(s, (22.0, y + 26.0))
    _lines(s, CLOSING, (47.0, y + 25.0))
    return s.drawing()


def _lines(s: Sketch, lines: tuple[str, ...], place: tuple[float, float]) -> float:
    """Write lines under one another; the y of the line that would come next."""
    x, y = place
    for line in lines:
        write(s, FOUNTAIN_PEN, line, (x + float(s.rng.normal(0, 0.5)), y), TALL, 0.5)
        y += LINE_MM + float(s.rng.normal(0, 0.12))
    return y


def _slip(s: Sketch, place: tuple[float, float]) -> None:
    """A blot, where the pen was set down too long."""
    x, y = place[0] + float(s.rng.uniform(0, 60)), place[1] + float(s.rng.uniform(-2, 2))
    turn = np.linspace(0, 2 * np.pi, 30)[:-1]
    size = 1.1 + 0.12 * np.sin(3 * turn + s.rng.uniform(0, 6)) + s.rng.uniform(-0.06, 0.06,
                                                                               len(turn))
    blot = smooth(np.column_stack([x + size * np.cos(turn), y + size * np.sin(turn)]), closed=True)
    s.solid(FOUNTAIN_PEN, blot, 0.45)


def _earth(s: Sketch, outline: Points, angle: float = 45) -> None:
    s.line(FOUNTAIN_PEN, outline, 0.5, PLAIN)
    s.hatch(FINE, s.region(outline), angle, 1.1, 0.8, 0.3, FLICK)
    s.claim(outline)


def _gate(s: Sketch, place: tuple[float, float]) -> None:
    """The sluice cut through: sill, leaf and rack, the pond high on one side, the tide low."""
    x, y = place
    wood = [(x + 21, y + 40), (x + 21, y - 1), (x + 24, y - 1), (x + 24, y + 40)]
    rack = [(x + 21.8, y + 18), (x + 21.8, y - 4), (x + 23.2, y - 4), (x + 23.2, y + 18)]
    for step in np.arange(y - 3.2, y + 12, 1.1):
        s.line(FINE, [(x + 21.8, step), (x + 23.2, step - 0.4)], 0.6, STEADY)
    s.line(FOUNTAIN_PEN, rack, 0.4, STEADY)
    s.claim(rack)
    wheel = ellipse((x + 27.2, y + 4), (3.1, 3.1))
    s.line(FOUNTAIN_PEN, wheel, 0.55, STEADY)
    for turn in np.arange(0, 360, 30) + float(s.rng.uniform(0, 30)):
        edge = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
        middle = np.array([x + 27.2, y + 4.0])
        s.line(FINE, np.array([middle + 3.1 * edge, middle + 3.9 * edge]), 0.7, STEADY)
    s.dot(FOUNTAIN_PEN, (x + 27.2, y + 4), 0.9)
    s.line(FOUNTAIN_PEN, [(x + 27.4, y + 4), (x + 33.5, y + 1.2), (x + 34.2, y + 3.2)], 0.6, STEADY)
    leaf = [(x + 21.2, y + 36), (x + 21.2, y + 14), (x + 23.8, y + 14), (x + 23.8, y + 36)]
    s.line(FOUNTAIN_PEN, np.vstack([leaf, leaf[:1]]), 0.6, STEADY)
    s.hatch(FINE, s.region(leaf), 88, 0.6, 0.9, 0.4, STEADY)
    s.claim(leaf)
    s.line(FOUNTAIN_PEN, wood[:2], 0.5, STEADY)
    s.line(FOUNTAIN_PEN, wood[2:], 0.5, STEADY)
    sill = [(x + 14, y + 40), (x + 14, y + 37), (x + 31, y + 37), (x + 31, y + 40)]
    s.line(FOUNTAIN_PEN, np.vstack([sill, sill[:1]]), 0.6, STEADY)
    s.claim(sill)
    _earth(s, smooth([(x - 3, y + 38), (x + 6, y + 38.5), (x + 14, y + 40), (x + 31, y + 40),
                      (x + 40, y + 41), (x + 49, y + 43), (x + 44, y + 47), (x + 22, y + 45.5),
                      (x + 2, y + 44)], closed=True))
    for level, left, right in ((y + 12, x - 2, x + 21), (y + 29, x + 24, x + 48)):
        swell = np.linspace(left, right, 30)
        s.line(FINE, np.column_stack([swell, level + 0.35 * np.sin(swell * 1.7)]), 0.5, PLAIN)
        for number in range(1, 5):
            inset = number * (right - left) * 0.11
            s.line(FINE, [(left + inset, level + 1.5 * number), (right - inset * 0.6,
                                                                 level + 1.5 * number)],
                   0.25, PLAIN)
    write(s, FINE, "pond", (x + 2, y + 9.5), 1.6, 0.5)
    write(s, FINE, "tide", (x + 33, y + 26.5), 1.6, 0.5)
    s.line(FINE, [(x + 36, y + 38), (x + 28, y + 36), (x + 24.6, y + 33)], 0.4, PLAIN)
    s.line(FINE, [(x + 26.6, y + 33.3), (x + 24.6, y + 33), (x + 25.2, y + 35)], 0.4, STEADY)
    write(s, FINE, "leaks", (x + 36.8, y + 38.4), 1.5, 0.5)


def _heron(s: Sketch, place: tuple[float, float]) -> None:
    """The heron on its post, waiting."""
    _head(s, place)
    _neck(s, place)
    _wing_and_legs(s, place)
    _post(s, place)


def _head(s: Sketch, place: tuple[float, float]) -> None:

    def put(points: Points) -> F64:
        return moved(points, *place)

    s.curve(FOUNTAIN_PEN, put([(-10.5, 1.3), (-5, -0.2), (-2.6, -0.8), (0, -2), (2.4, -1.2),
                               (3, 0.4)]), 0.55)
    s.line(FOUNTAIN_PEN, put([(-10.5, 1.3), (-5, 1.3), (-2.6, 0.9), (-1, 1.6)]), 0.5, STEADY)
    s.line(FINE, put([(-9.5, 1.1), (-2.6, 0.2)]), 0.4, STEADY)
    s.dot(FOUNTAIN_PEN, tuple(put([(-1.3, -0.5)])[0]), 1.0)
    for drop in (0.0, 0.7, 1.3):
        s.curve(FOUNTAIN_PEN, put([(-0.6, -1.6 + drop * 0.4), (3, -0.8 + drop),
                                  (8.5 - drop, 2.2 + drop)]), 0.6, FLICK)


def _neck(s: Sketch, place: tuple[float, float]) -> None:

    def put(points: Points) -> F64:
        return moved(points, *place)

    front = put([(-1, 1.6), (-1.4, 5), (1.4, 9), (3.4, 13), (2.2, 18), (3.2, 22), (5, 26)])
    s.curve(FOUNTAIN_PEN, front, 0.45, PLAIN)
    back = put([(3, 0.4), (2.6, 3.6), (5, 8), (7, 12.5), (6.6, 16), (9, 19), (15, 22), (21, 27),
                (27, 33.5)])
    s.curve(FOUNTAIN_PEN, back, 0.6, PLAIN)
    belly = put([(5, 26), (9, 30.6), (15, 32), (20, 32), (27, 33.5)])
    s.curve(FOUNTAIN_PEN, belly, 0.5, PLAIN)
    for number in range(6):
        start = (2.4 + number * 0.7, 15.5 + number * 1.8)
        s.curve(FINE, put([start, (start[0] - 0.5, start[1] + 3.4),
                          (start[0] + 0.6, start[1] + 7.5)]), 0.5, FLICK)
    for number in range(5):
        y = 4.0 + number * 2.2
        s.line(FINE, put([(0.2 + 0.75 * number, y), (0.7 + 0.75 * number, y + 1.2)]), 0.7, FLICK)


def _wing_and_legs(s: Sketch, place: tuple[float, float]) -> None:

    def put(points: Points) -> F64:
        return moved(points, *place)

    body = put([(8, 20), (15, 22), (21, 27), (27, 33.5), (20, 32), (13, 29.5), (9, 25)])
    inside = s.region(smooth(body, closed=True))
    wing = put([(7.6, 20.5), (9, 25.5), (14.5, 29.6), (26.5, 33.6)])
    s.curve(FOUNTAIN_PEN, wing, 0.55, PLAIN)
    for share in (0.25, 0.45, 0.62, 0.8):
        s.curve(FINE, put([(9 + 4 * share, 20 + 2.4 * share), (13 + 3 * share, 27 - 2 * share),
                           (25.5 - 2 * share, 33 - 1.4 * share)]), 0.5, FLICK)
    s.hatch(FINE, inside, -38, 0.85, 0.75, 0.4, FLICK, reach=6)
    for shift, knee in ((0.0, 1.2), (3.4, 2.6)):
        leg = put([(12 + shift, 31.6), (12 + shift + knee * 0.4, 37), (11.6 + shift + knee, 42),
                   (11.4 + shift, 51)])
        s.line(FOUNTAIN_PEN, smooth(leg), 0.55, STEADY)
        s.line(FOUNTAIN_PEN, put([(9.4 + shift, 51.6), (11.4 + shift, 51), (14 + shift, 51.8)]),
               0.6, STEADY)


def _post(s: Sketch, place: tuple[float, float]) -> None:

    def put(points: Points) -> F64:
        return moved(points, *place)

    post = put([(8, 64), (8.4, 52.3), (18.8, 52.1), (19.2, 64)])
    s.line(FOUNTAIN_PEN, post, 0.6, PLAIN)
    s.curve(FOUNTAIN_PEN, put([(8.4, 52.3), (13, 53.5), (18.8, 52.1)]), 0.5, STEADY)
    s.hatch(FINE, s.region(post), 84, 0.95, ramp(tuple(post[0]), tuple(post[3]), 0.2, 1.1), 0.45,
            PLAIN)
    s.claim(post)
    for number in range(5):
        wide = 9 + 2.5 * number
        s.curve(FINE, put([(13 - wide, 61.6 + number * 0.9), (13, 62.2 + number * 0.9),
                           (13 + wide * 0.8, 61.4 + number * 0.9)]), 0.35, LOOSE)
    for number in range(7):
        tall = float(s.rng.uniform(7, 17))
        blade(s, FINE, tuple(put([(-6 + number * 0.9, 66)])[0]), tall,
              float(s.rng.normal(1.5, 2.0)), 0.6)


def _curve_of_tides(s: Sketch, place: tuple[float, float], wide: float) -> None:
    """The tide through a day, between its marks on the post."""
    x, y = place
    s.line(FOUNTAIN_PEN, [(x, y - 13), (x, y + 4)], 0.5, PLAIN)
    s.line(FOUNTAIN_PEN, [(x - 2, y + 2.4), (x + wide, y + 2.8)], 0.5, PLAIN)
    for number in range(5):
        s.line(FINE, [(x - 1, y - 11 + 3 * number), (x + 1, y - 11 + 3 * number)], 0.5, STEADY)
    for hour in range(13):
        s.line(FINE, [(x + hour * wide / 13, y + 1.9), (x + hour * wide / 13, y + 3.3)], 0.5,
               STEADY)
    along = np.linspace(0, wide - 4, 60)
    start = float(s.rng.uniform(0.2, 1.0))
    high = y - 4.5 - 5.2 * np.sin(along / wide * 4 * np.pi + start) - along * 0.02
    s.line(FOUNTAIN_PEN, np.column_stack([x + along, high]), 0.6, STEADY)
    under = np.vstack([np.column_stack([x + along, high]), [(x + wide - 4, y + 2.4), (x, y + 2.4)]])
    s.hatch(FINE, s.region(under), 90, 1.3, patches(SIZE, 9.0, s.rng), 0.15, FLICK)
    write(s, FINE, "noon", (x + wide * 0.46, y + 7.2), 1.5, 0.5)


def _key(s: Sketch, place: tuple[float, float]) -> None:
    x, y = place
    for size in (3.9, 2.7):
        s.curve(FOUNTAIN_PEN, ellipse((x, y), (size, size * 0.86)), 0.55, STEADY)
    for rise in (-0.75, 0.75):
        s.line(FOUNTAIN_PEN, [(x + 3.8, y + rise), (x + 19.4, y + rise * 0.9)], 0.5, STEADY)
    s.curve(FOUNTAIN_PEN, ellipse((x + 19.4, y), (0.5, 0.7), -90, 90), 0.5, STEADY)
    bit = [(x + 14.6, y + 0.8), (x + 14.6, y + 5.4), (x + 16.2, y + 5.4), (x + 16.2, y + 3.4),
           (x + 17.2, y + 3.4), (x + 17.2, y + 5.2), (x + 18.9, y + 5.2), (x + 18.9, y + 0.8)]
    s.line(FOUNTAIN_PEN, bit, 0.55, STEADY)
    s.hatch(FINE, s.region(bit), 50, 0.7, 0.9, 0.35, STEADY)
    s.hatch(FINE, s.region([(x + 3.8, y), (x + 14, y), (x + 14, y + 0.8), (x + 3.8, y + 0.8)]), 50,
            0.6)
    for turn in (5.0, 7.0):
        s.curve(FOUNTAIN_PEN, ellipse((x + turn, y), (0.5, 1.25), -100, 100), 0.5, STEADY)
