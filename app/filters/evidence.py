"""Evidence of drawn marks: smoothed darkness over the paper's own noise, round and along lines."""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.hatching import TURNS, Keyed, together
from app.filters.noise import DARKEST, STEPS, Ground, Levels, blur, patches
from app.filters.strips import Strip, both, side_by_side, strips
from app.filters.white import whitened
from core.histogram import count_tones

Evidence = npt.NDArray[np.int16]
"""Evidence in 1/64 of what bare paper almost never shows."""

ONE = 64
"""Evidence that bare paper shows on about one pixel in 100,000."""

SURE = 4 * ONE
"""Evidence that needs no other."""

_ALL_DARK = int(0.8 * DARKEST)  # of the most that a pixel can say, said by all about it
_FAR_OUT = 0.005  # of bare paper exceeds what a limit is measured by
_LOUD = 3.0  # times that limit: a pixel that is a mark by itself
_PLAIN = 4 * STEPS  # what one pixel may say for the line it lies on
_OWN = STEPS // 2  # the same for a loud one: a solid must not vouch for bare paper beyond it
_MOST_SKEW = 1.9  # of the dark tail of bare paper over its light one
_USUAL_SKEW = 1.3  # where drawing lies all over the page, so that its dark tail tells nothing
_HERE_AREA = 0.8  # the same for areas, which reach out to all sides
_ZERO = 1 << 15  # levels with their sign as numbers without one
_ROWS = 128  # in a strip, with all the sums along its lines near the processor
_TILES = 32  # patches of bare paper worked on together
_HERE = 1.0  # times the limit on the spot: evidence from afar counts for no more than that


@dataclass(frozen=True)
class Filter:
    """One way of smoothing.

    ``size`` is the deviation of a bell or the length of a line, in mm. ``certain`` is how many
    times the measured limit stands for ``ONE``, ``skew`` how much more than on the spot the
    dark tail of bare paper may outreach its light one, ``least`` the tone that ``ONE`` is
    never below.
    """

    size: float
    certain: float
    skew: float
    least: float


NEAR = Filter(0.1, 2.2, 1.0, 2.5)
CLOSE = Filter(0.2, 2.4, 1.05, 2.0)
AREAS = (Filter(0.35, 3.0, 1.15, 2.0), Filter(0.7, 4.0, 1.25, 2.5))
SHORT = Filter(1.0, 1.8, 1.0, 1.5)
LINES = (Filter(2.0, 1.46, 1.0, 1.5), Filter(4.0, 1.42, 1.0, 1.5))


@dataclass(frozen=True, eq=False)
class Found:
    """Evidence at each pixel of a ground, (h, w) int16.

    ``near`` is that of the pixel and its neighbours, ``far`` what lines and areas add; ``turn``
    (h, w) uint8 is the direction of the line through it, of ``TURNS``.
    """

    near: Evidence
    far: Evidence
    turn: npt.NDArray[np.uint8]


def find_evidence(ground: Ground) -> Found:
    """Weigh each pixel of the ground against the noise of the page's own bare paper.

    >>> from app.filters.noise import measure_ground
    >>> page = np.full((80, 80), 230, np.uint8)
    >>> page[38:42, 10:70] = 60
    >>> found = find_evidence(measure_ground(page, 150))
    >>> bool(found.near[40, 40] > ONE), bool(found.near[10, 40] > ONE)
    (True, False)
    """
    near = blur(ground.levels, ground.pixels(NEAR.size))
    paper = _bare_paper(ground, near)
    near_limit = paper.limit(NEAR, near)
    # on rough paper levels end before they are so loud
    heard = _heard(ground.levels, near, min(int(_LOUD * near_limit), _ALL_DARK))
    close = blur(heard, ground.pixels(CLOSE.size))
    close_limit = paper.limit(CLOSE, close)
    areas, lines = both(
        lambda: [_area(ground, area, paper) for area in AREAS],
        lambda: _lines(whitened(heard, ground), paper))
    dark, far, keyed = (np.empty_like(near) for _ in range(3))
    turn = np.empty(near.shape, np.uint8)

    def weigh(strip: Strip) -> None:
        rows = strip[0]
        best = _scaled(close[rows], ONE / paper.one(CLOSE, close_limit))
        here = _scaled(close[rows], _HERE_AREA * ONE / close_limit)
        for response, factor in areas:
            cv2.max(best, cv2.min(_scaled(response[rows], factor), here), best)
        far[rows] = best
        keyed[rows] = lines.strongest(rows)
        turn[rows] = keyed[rows] % TURNS
        dark[rows] = _scaled(near[rows], ONE / paper.one(NEAR, near_limit))
        # levels end at DARKEST, which on rough paper may be less than a mark by itself should need
        dark[rows][near[rows] > _ALL_DARK] = SURE

    side_by_side(weigh, strips(len(near), rows=_ROWS))
    cv2.max(far, together(keyed, np.maximum(dark, far), ground, ONE), far)
    return Found(dark, far, turn)


def _area(ground: Ground, area: Filter, paper: "_BarePaper") -> tuple[Levels, float]:
    """The response to an area, and what makes evidence of it."""
    response = blur(ground.levels, ground.pixels(area.size))
    return response, ONE / paper.one(area, max(paper.limit(area, response), _tails(response)[1]))


def _heard(levels: Levels, near: Levels, loud: int) -> Levels:
    """What each pixel may say for the lines it lies on: less where it is a mark by itself."""
    made = np.empty_like(levels)
    around_it = np.ones((3, 3), np.uint8)

    def work(strip: Strip) -> None:
        rows, around, inner = strip
        by_itself = cv2.dilate((near[around] > loud).astype(np.uint8), around_it)[inner]
        most = np.where(by_itself > 0, np.int16(_OWN), np.int16(_PLAIN))
        cv2.min(levels[rows], most, made[rows])

    side_by_side(work, strips(len(levels), 1))
    return made


def _bare_paper(ground: Ground, near: Levels) -> "_BarePaper":
    dark, light = _tails(patches(near, ground.bare, ground.side))
    light = max(light, 1.0)
    skew = dark / light if ground.clipped or dark < _MOST_SKEW * light else _USUAL_SKEW
    return _BarePaper(ground, skew)


def _tails(levels: Levels) -> tuple[float, float]:
    """How far the darks and the lights reach but for the share that is far out."""
    ranked = np.cumsum(count_tones(levels.view(np.uint16) ^ np.uint16(_ZERO)))
    last = levels.size - 1
    rank = int((1 - _FAR_OUT) * last)
    part = (1 - _FAR_OUT) * last - rank
    ranks = np.array([rank, min(rank + 1, last)])
    dark, light = (
        (np.searchsorted(ranked, at, side="right") - _ZERO) @ (1 - part, part)
        for at in (ranks, last - ranks)
    )
    return float(dark), float(-light)


@dataclass(frozen=True, eq=False)
class _BarePaper:
    """Where the page is quiet, and how its noise there comes through a filter."""

    ground: Ground
    skew: float

    def limit(self, way: Filter, response: Levels) -> float:
        """The level that bare paper rarely exceeds, read off a response to the whole page."""
        return self.tail(way, *_tails(patches(response, self.ground.bare, self.ground.side)))

    def tail(self, way: Filter, darker: float, lighter: float) -> float:
        """The dark tail where it can be believed: ink only lengthens it, never the light one."""
        if self.ground.clipped:
            return max(darker, 1.0)
        return max(0.95 * lighter, min(darker, way.skew * self.skew * lighter), 1.0)

    def one(self, way: Filter, limit: float) -> float:
        """The response that stands for ``ONE``."""
        return max(way.certain * limit, way.least * STEPS / self.ground.noise)


@dataclass(frozen=True, eq=False)
class _Lines:
    """What is heard, with a margin of two steps; one step of a line in pixels.

    ``factors`` make evidence of the sums over one, two and four steps.
    """

    wide: Levels
    step: int
    factors: tuple[float, float, float]

    def strongest(self, rows: slice) -> Keyed:
        """The most that any line through a pixel says, held to what its nearest stretch says."""
        part = self.wide[rows.start : rows.stop + 4 * self.step]
        here, *far = self.factors
        best, line, other = (
            np.zeros([size - 4 * self.step for size in part.shape], np.int16) for _ in range(3)
        )
        for turn, (short, middle, long) in enumerate(_line_sums(part, self.step)):
            _scaled(middle, far[0], line)
            cv2.max(line, _scaled(long, far[1], other), line)
            cv2.min(line, _scaled(short, here, other), line)
            line &= -TURNS
            line |= turn
            cv2.max(best, line, best)
        return best


def _lines(heard: Levels, paper: _BarePaper) -> _Lines:
    step = 2 * max(1, round(paper.ground.pixels(SHORT.size) / 2))
    short, middle, long = _line_limits(heard, paper, step)
    wide = np.pad(heard, 2 * step)
    one = ONE * TURNS
    return _Lines(wide, step, (
        _HERE * one / (short * step), one / (paper.one(LINES[0], middle) * step * 2),
        one / (paper.one(LINES[1], long) * step * 4)))


def _line_limits(heard: Levels, paper: _BarePaper, step: int) -> list[float]:
    """The limits of the three lengths of line, per pixel of a line, in any direction."""
    side = paper.ground.side
    reach = side + 4 * step
    quilt = patches(heard, paper.ground.bare, side, 2 * step)
    ends = np.empty((3, 2, len(quilt), side, side), np.int16)

    def work(start: int) -> None:
        some = quilt[start : start + _TILES]
        row = some.swapaxes(0, 1).reshape(reach, -1)
        shape = (3, side, row.shape[1] - 4 * step)
        most, least = np.full(shape, -(1 << 15), np.int16), np.full(shape, (1 << 15) - 1, np.int16)
        for trio in _line_sums(row, step):
            for sums, high, low in zip(trio, most, least, strict=True):
                cv2.max(high, sums, high)
                cv2.min(low, sums, low)
        for way, (high, low) in enumerate(zip(most, least, strict=True)):
            for number, one in enumerate(range(start, start + len(some))):
                columns = slice(number * reach, number * reach + side)
                ends[way, :, one] = high[:, columns], low[:, columns]

    side_by_side(work, range(0, len(quilt), _TILES))
    return [
        paper.tail(way, _tails(high)[0] / (step * times), _tails(low)[1] / (step * times))
        for way, (high, low), times in zip((SHORT, *LINES), ends, (1, 2, 4), strict=True)
    ]


def _line_sums(wide: Levels, step: int) -> Iterator[tuple[Levels, Levels, Levels]]:
    """Per direction: sums over ``step``, twice and four times ``step`` pixels along a line.

    ``wide`` has a margin of two steps, which the sums lack. Each longer line is two of the
    shorter ones end to end, so that the three cost ``step`` + 1 additions. An even ``step``; a
    line is centred on its pixel. The same three arrays are written to for each direction.
    """
    margins = (2 * step, step + step // 2, step, 0)
    rows, columns = (size - 4 * step for size in wide.shape)
    short, middle, long = (
        np.empty((rows + 2 * margin, columns + 2 * margin), np.int16) for margin in margins[1:]
    )

    def moved(sums: Levels, to: int, by: tuple[float, float]) -> Levels:
        """A view of sums, moved, with the margin that is left ``to`` so many stages on."""
        margin = margins[to]
        have = (sums.shape[0] - rows) // 2
        top, left = (have - margin + int(np.floor(part + 0.5)) for part in by)
        return sums[top : top + rows + 2 * margin, left : left + columns + 2 * margin]

    for number in range(TURNS):
        angle = number * np.pi / TURNS
        down, right = np.sin(angle), np.cos(angle)
        places = [moved(wide, 1, (place * down, place * right))
                  for place in np.arange(step) - (step - 1) / 2]
        cv2.add(places[0], places[1], short)
        for place in places[2:]:
            cv2.add(short, place, short)
        for sums, to, double, half in ((short, 2, middle, step / 2), (middle, 3, long, step)):
            cv2.add(moved(sums, to, (-half * down, -half * right)),
                    moved(sums, to, (half * down, half * right)), double)
        yield moved(short, 3, (0, 0)), moved(middle, 3, (0, 0)), long


def _scaled(response: Levels, factor: float, into: Evidence | None = None) -> Evidence:
    """A response times a factor, rounded, held within 16 bits."""
    return np.asarray(cv2.addWeighted(response, factor, response, 0.0, 0.0, into), np.int16)
