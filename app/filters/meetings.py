"""Where areas of plain paper meet across what was drawn between them, and how their tones step."""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask

_ALIKE = 0.025  # so near to one another are the offsets of paper
_ALL_ALONG = 0.9  # of where an area meets others it is as dark as on the whole: a wash
_OUTLINE = 8.0  # squares at most lie between an area and the middle of its outline
_ENOUGH = 0.6  # of where it meets others must lie so near

Cells = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Meetings:
    """Pairs of squares at which the surroundings of two areas meet, (n,), seen from either.

    The numbers of the two areas, by how much the one's tone lies above the other's there (a
    logarithm) square by square and as means, how much that counts, and whether they are so near
    that no more than an outline lies between.
    """

    mine: Numbers
    other: Numbers
    jump: Cells
    step: Cells
    weight: npt.NDArray[np.float64]
    near: Mask


def find_meetings(tones: tuple[Cells, Cells], owner: Numbers, far: Cells) -> Meetings:
    """The meetings of areas on a page of squares (h, w).

    ``tones`` are those of the nearest square that belongs to an area, and their means; ``owner``
    is the number of that area, ``far`` its distance in squares.

    >>> tone = np.array([[0.0, 0.0, -0.5]], np.float32)
    >>> meetings = find_meetings((tone, tone), np.array([[0, 0, 1]]), np.zeros_like(tone))
    >>> meetings.mine.tolist(), meetings.jump.tolist()
    ([0, 1], [0.5, -0.5])
    """
    found = []
    for one, two in ((np.s_[:-1], np.s_[1:]), (np.s_[:, :-1], np.s_[:, 1:])):
        meet = owner[one] != owner[two]
        a, b, away = owner[one][meet], owner[two][meet], far[one][meet]
        weight, near = (1.0 + away.astype(np.float64)) ** -2, away <= _OUTLINE
        jump, step = (tone[one][meet] - tone[two][meet] for tone in tones)
        found += [(a, b, jump, step, weight, near), (b, a, -jump, -step, weight, near)]
    return Meetings(*map(np.concatenate, zip(*found, strict=True)))


def find_offsets(meetings: Meetings, area: Numbers) -> Cells:
    """How much darker each area lies than paper would there (logarithms, 0 for paper), (areas,).

    The jumps where the areas' surroundings meet, by least squares; the nearer the areas, the
    more a jump counts.

    >>> tone = np.array([[0.0, 0.0, -0.5]], np.float32)
    >>> meetings = find_meetings((tone, tone), np.array([[0, 0, 1]]), np.zeros_like(tone))
    >>> find_offsets(meetings, np.array([9, 1])).round(3).tolist()
    [0.0, -0.5]
    """
    # jumps leave the mean open; it is held at 0
    pull, push = np.full((area.size, area.size), 1 / area.size), np.zeros(area.size)
    mine, weight = meetings.mine, meetings.weight
    np.add.at(pull, (mine, mine), weight)
    np.add.at(pull, (mine, meetings.other), -weight)
    np.add.at(push, mine, meetings.jump * weight)
    _, found = cv2.solve(pull, push[:, None], flags=cv2.DECOMP_CHOLESKY)
    offset = found.ravel()
    # paper has the commonest offset, by area
    close = np.abs(offset[:, None] - offset[None]) < _ALIKE
    commonest = close[np.argmax(close @ area)] * area
    return np.asarray(offset - np.average(offset, weights=commonest))


def all_along(offset: Cells, meetings: Meetings) -> Mask:
    """Which areas are about as dark as their offset wherever they meet another near by, (areas,).

    A wash steps all along its outline; shade, and the light's own slope, steps on one side. What
    lies far from most of what is round it tells nothing.

    >>> tone = np.array([[0.0, 0.0, -0.5]], np.float32)
    >>> meetings = find_meetings((tone, tone), np.array([[0, 0, 1]]), np.zeros_like(tone))
    >>> all_along(np.array([0.0, -0.5]), meetings).tolist()
    [False, True]
    """
    own, here = offset[meetings.mine], offset[meetings.other] + meetings.step
    alike = meetings.near & (here < own / 2) & (here > own * 2)
    many, near, agreed = (np.bincount(meetings.mine, part, offset.size)
                          for part in (np.ones_like(alike), meetings.near, alike))
    return np.asarray((agreed >= _ALL_ALONG * near) & (near > _ENOUGH * many))


def linked(first: Mask, areas: Mask, meetings: Meetings) -> Mask:
    """Those of some areas that meet the first of them near by, or one of these, and so on.

    >>> tone = np.zeros((1, 3), np.float32)
    >>> meetings = find_meetings((tone, tone), np.array([[0, 1, 2]]), tone)
    >>> linked(np.array([True, False, False]), np.array([True, True, False]), meetings).tolist()
    [True, True, False]
    """
    links = meetings.near & areas[meetings.mine] & areas[meetings.other]
    mine, other = meetings.mine[links], meetings.other[links]
    found, known = first & areas, -1
    while int(found.sum()) != known:
        known = int(found.sum())
        found[mine[found[other]]] = True
    return found
