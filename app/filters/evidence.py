"""Evidence of drawn marks: smoothed darkness over the paper's own noise, round and along lines."""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.noise import DARKEST, STEPS, Ground, Levels, blur, patches

Evidence = npt.NDArray[np.int16]
"""Evidence in 1/64 of what bare paper almost never shows."""

ONE = 64
"""Evidence that bare paper shows on about one pixel in 100,000."""

SURE = 4 * ONE
"""Evidence that needs no other."""

_ALL_DARK = 0.8  # of the most that a pixel can say, said by all about it
_DIRECTIONS = 16
_FAR_OUT = 0.005  # of bare paper exceeds what a limit is measured by
_LOUD = 3.0  # times that limit: a pixel that is a mark by itself
_PLAIN = 4 * STEPS  # what one pixel may say for the line it lies on
_OWN = STEPS // 2  # the same for a loud one: a solid must not vouch for bare paper beyond it
_MOST_SKEW = 1.9  # of the dark tail of bare paper over its light one
_USUAL_SKEW = 1.3  # where drawing lies all over the page, so that its dark tail tells nothing
_HERE_AREA = 0.8  # the same for areas, which reach out to all sides
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
LINES = (Filter(2.0, 1.62, 1.0, 1.5), Filter(4.0, 1.58, 1.0, 1.5))


@dataclass(frozen=True, eq=False)
class Found:
    """Evidence at each pixel of a ground, (h, w) int16.

    ``near`` is that of the pixel and its neighbours, ``far`` what lines and areas add.
    """

    near: Evidence
    far: Evidence


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
    loud = cv2.dilate((near > _LOUD * near_limit).astype(np.uint8), np.ones((3, 3), np.uint8))
    heard = np.minimum(ground.levels, np.where(loud > 0, np.int16(_OWN), np.int16(_PLAIN)))
    close = blur(heard, ground.pixels(CLOSE.size))
    close_limit = paper.limit(CLOSE, close)
    far = _scaled(close, ONE / paper.one(CLOSE, close_limit))
    here = _scaled(close, _HERE_AREA * ONE / close_limit)
    for area in AREAS:
        response = blur(ground.levels, ground.pixels(area.size))
        one = paper.one(area, max(paper.limit(area, response), _tail(np.negative(response))))
        np.maximum(far, np.minimum(_scaled(response, ONE / one), here), out=far)
    np.maximum(far, _along_lines(blur(heard, ground.pixels(NEAR.size)), paper), out=far)
    dark = _scaled(near, ONE / paper.one(NEAR, near_limit))
    # levels end at DARKEST, which on rough paper may be less than a mark by itself should need
    dark[near > _ALL_DARK * DARKEST] = SURE
    return Found(dark, far)


def _bare_paper(ground: Ground, near: Levels) -> "_BarePaper":
    quiet = patches(near, ground.bare, ground.side)
    dark, light = _tail(quiet), max(_tail(np.negative(quiet)), 1.0)
    skew = dark / light if ground.clipped or dark < _MOST_SKEW * light else _USUAL_SKEW
    return _BarePaper(ground, skew)


def _tail(response: npt.NDArray[np.signedinteger] | npt.NDArray[np.floating]) -> float:
    return float(np.quantile(response, 1 - _FAR_OUT))


@dataclass(frozen=True, eq=False)
class _BarePaper:
    """Where the page is quiet, and how its noise there comes through a filter."""

    ground: Ground
    skew: float

    def limit(self, way: Filter, response: Levels) -> float:
        """The level that bare paper rarely exceeds, read off a response to the whole page."""
        quiet = patches(response, self.ground.bare, self.ground.side)
        return self.tail(way, quiet, np.negative(quiet))

    def tail(self, way: Filter, dark: Levels, light: Levels) -> float:
        """The dark tail where it can be believed: ink only lengthens it, never the light one."""
        darker, lighter = _tail(dark), _tail(light)
        if self.ground.clipped:
            return max(darker, 1.0)
        return max(0.95 * lighter, min(darker, way.skew * self.skew * lighter), 1.0)

    def one(self, way: Filter, limit: float) -> float:
        """The response that stands for ``ONE``."""
        return max(way.certain * limit, way.least * STEPS / self.ground.noise)


def _along_lines(heard: Levels, paper: _BarePaper) -> Evidence:
    """The most that any line through a pixel says, held to what its nearest stretch says."""
    step = 2 * max(1, round(paper.ground.pixels(SHORT.size) / 2))
    short_limit, *limits = _line_limits(heard, paper, step)
    here = _HERE * ONE / (short_limit * step)
    far = [
        ONE / (paper.one(way, limit) * step * times)
        for way, limit, times in zip(LINES, limits, (2, 4), strict=True)
    ]
    best = np.zeros_like(heard)
    for short, middle, long in _line_sums(heard, step):
        line = np.maximum(_scaled(middle, far[0]), _scaled(long, far[1]))
        np.minimum(line, _scaled(short, here), out=line)
        np.maximum(best, line, out=best)
    return best


def _line_limits(heard: Levels, paper: _BarePaper, step: int) -> list[float]:
    """The limits of the three lengths of line, per pixel of a line, in any direction."""
    margin = 2 * step
    quilt = patches(heard, paper.ground.bare, paper.ground.side, margin)
    inner = (slice(None), slice(margin, -margin), slice(margin, -margin))
    every = [
        [sums.reshape(quilt.shape)[inner] for sums in trio]
        for trio in _line_sums(quilt.reshape(-1, quilt.shape[2]), step)
    ]
    limits = []
    for way, sums, times in zip((SHORT, *LINES), zip(*every, strict=True), (1, 2, 4), strict=True):
        dark, light = np.maximum.reduce(sums), np.negative(np.minimum.reduce(sums))
        limits.append(paper.tail(way, dark / (step * times), light / (step * times)))
    return limits


def _line_sums(plane: Levels, step: int) -> Iterator[tuple[Levels, Levels, Levels]]:
    """Per direction: sums over ``step``, twice and four times ``step`` pixels along a line.

    Each longer line is two of the shorter ones end to end, so that the three cost
    ``step`` + 1 additions. An even ``step``; a line is centred on its pixel.
    """
    margins = (2 * step, step + step // 2, step, 0)
    wide = np.pad(plane, margins[0], mode="symmetric")
    rows, columns = plane.shape

    def moved(sums: Levels, to: int, by: tuple[float, float]) -> Levels:
        """A view of sums, moved, with the margin that is left ``to`` so many stages on."""
        margin = margins[to]
        have = (sums.shape[0] - rows) // 2
        top, left = (have - margin + int(np.floor(part + 0.5)) for part in by)
        return sums[top : top + rows + 2 * margin, left : left + columns + 2 * margin]

    def added(one: Levels, other: Levels) -> Levels:
        return np.asarray(cv2.add(one, other), np.int16)

    for number in range(_DIRECTIONS):
        angle = number * np.pi / _DIRECTIONS
        down, right = np.sin(angle), np.cos(angle)
        short = np.zeros_like(moved(wide, 1, (0, 0)))
        for place in np.arange(step) - (step - 1) / 2:
            cv2.add(short, moved(wide, 1, (place * down, place * right)), short)
        half, whole = step / 2, float(step)
        middle = added(moved(short, 2, (-half * down, -half * right)),
                       moved(short, 2, (half * down, half * right)))
        long = added(moved(middle, 3, (-whole * down, -whole * right)),
                     moved(middle, 3, (whole * down, whole * right)))
        yield moved(short, 3, (0, 0)), moved(middle, 3, (0, 0)), long


def _scaled(response: Levels, factor: float) -> Evidence:
    """A response times a factor, rounded, held within 16 bits."""
    return np.asarray(cv2.addWeighted(response, factor, response, 0.0, 0.0), np.int16)
