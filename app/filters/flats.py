"""Flats: the page falls into the areas that the line encloses, and each takes a colour."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from app.filters.areas import AreaMap, Bounds, find_areas
from app.filters.trap import laid_under
from core.colours import distinct_colours
from core.placing import Placing
from core.sheet import BLACK, WHITE, Plane, Rgb, Sheet
from core.steps.fields import Record, colour, either, number
from core.steps.fold import fold
from core.steps.lift import Lift
from core.steps.paths import Path, Seed, paths, seeds
from core.steps.step import Step

TRAP_MM = 0.3
"""How far flats spread beneath the ink unless something else is asked for."""

GAP_MM = 1.0


@dataclass(frozen=True, kw_only=True)
class Distinct(Record):
    """All areas take colours of their own, no two alike."""

    words: ClassVar[str] = "a colour of its own, no two alike"


@dataclass(frozen=True, kw_only=True)
class Plain(Record):
    """All areas take one colour."""

    words: ClassVar[str] = "{colour}"

    colour: Rgb = colour("colour", (255, 255, 255))


@dataclass(frozen=True, kw_only=True)
class Flats(Step):
    """Lay flats beneath the line, for one page alone; places are in mm of the scan.

    They cover the page, have hard edges and exact colours. Two meet in the middle of the line
    between them, but where ink that shows nothing is wider than twice ``trap``, its core has
    the ink's own colour, so that no paper can show. ``joins`` are lines through areas that
    become one, ``cuts`` lines that part an area, ``seeds`` places whose areas take the colour
    given there.
    """

    kind: ClassVar[str] = "flats"
    edition: ClassVar[int] = 3
    whole: ClassVar[bool] = True
    one_page: ClassVar[bool] = True
    on_ink: ClassVar[bool] = True
    words: ClassVar[str] = (
        "Lay flats: gaps in the line up to {gap} are shut, areas under {smallest} join a "
        "neighbour ({joins}, {cuts}); each takes {fill} ({seeds}), and spreads up to {trap} "
        "beneath the ink."
    )

    gap: float = number("widest gap that is shut", "mm", 0, 5, GAP_MM)
    trap: float = number("trap", "mm", 0, 5, TRAP_MM)
    smallest: float = number("smallest area", "mm2", 0, 1000, 1)
    fill: Distinct | Plain = either("what an area takes", Distinct, Plain)
    seeds: tuple[Seed, ...] = seeds("coloured place")
    joins: tuple[Path, ...] = paths("join", 2)
    cuts: tuple[Path, ...] = paths("cut", 2)

    def apply(self, sheet: Sheet) -> Sheet:
        """The sheet with its flats; one that was not lifted is lifted in black.

        >>> page = np.full((60, 60), 255, np.uint8)
        >>> page[20:40, 20:40] = 0
        >>> page[22:38, 22:38] = 255
        >>> step = Flats(fill=Plain(), seeds=(((3.0, 3.0), (200, 0, 0)),))
        >>> laid = step.apply(Sheet(ppi=254, grey=page))
        >>> laid.palette, laid.flats[30, 30], laid.flats[5, 5]
        (((0, 0, 0), (255, 255, 255), (200, 0, 0)), np.uint16(2), np.uint16(1))
        """
        sheet = lifted(sheet)
        assert sheet.alpha is not None
        placing = sheet.placing
        drawn = _Drawn.of(sheet)
        cuts = tuple(placing.on_page(cut) for cut in self.cuts)
        areas = _areas(drawn, sheet, Bounds(self.gap, self.smallest, cuts))
        groups = self._groups(areas, placing, sheet.ppi)
        seeded = self._seeded(areas, groups, placing, sheet.ppi)
        return replace(
            sheet, flats=_laid(areas, groups, sheet, self.trap),
            palette=(sheet.ink or BLACK, *self.colours(areas.count, seeded)),
        )

    def _groups(self, areas: AreaMap, placing: Placing, ppi: float) -> Plane:
        """For each area the first of those that it is joined with."""
        groups = np.arange(areas.count + 1, dtype=np.uint16)
        for join in self.joins:
            met = groups[areas.at(placing.on_page(join), ppi)]
            met = met[met > 0]
            if met.size:
                groups[np.isin(groups, met)] = met.min()
        return groups

    def colours(self, count: int, seeded: Sequence[int]) -> tuple[Rgb, ...]:
        """The colour of each of so many areas, from area 1; ``seeded`` are the seeds' areas.

        A seed whose area is 0 lies off the page.

        >>> Flats(fill=Plain(), seeds=(((1.0, 1.0), (9, 9, 9)),)).colours(2, (2,))
        ((255, 255, 255), (9, 9, 9))
        """
        taken = {given for _, given in self.seeds} | {WHITE, BLACK}
        made: list[Rgb] = (
            list(distinct_colours(count, taken)) if isinstance(self.fill, Distinct)
            else [self.fill.colour] * count
        )
        for (_, given), area in zip(self.seeds, seeded, strict=True):
            if area:
                made[area - 1] = given
        return tuple(made)

    def _seeded(self, areas: AreaMap, groups: Plane, placing: Placing, ppi: float) -> list[int]:
        """The area of each seed."""
        if not self.seeds:
            return []
        places = placing.on_page([at for at, _ in self.seeds])
        found: list[int] = groups[areas.at(places, ppi)].tolist()
        return found


def lifted(sheet: Sheet) -> Sheet:
    """The sheet with alpha: as it is, or lifted in black.

    >>> lifted(Sheet(ppi=300, grey=np.array([[55]], np.uint8))).alpha.tolist()
    [[200]]
    """
    if sheet.alpha is not None:
        return sheet
    return fold([Lift()], sheet)


@dataclass(frozen=True)
class _Drawn:
    """What a page's areas follow from: the digest of its alpha, and its resolution."""

    digest: bytes
    ppi: float

    @classmethod
    def of(cls, sheet: Sheet) -> "_Drawn":
        assert sheet.alpha is not None
        digest = hashlib.sha256(np.ascontiguousarray(sheet.alpha).data)
        digest.update(repr((sheet.shape, sheet.alpha.dtype.str)).encode("ascii"))
        return cls(digest.digest(), sheet.ppi)


@dataclass
class _Kept:
    """The latest map of areas and the latest flats: a colour that is changed makes none anew.

    Not more than one of each, for they are large.
    """

    areas: tuple[object, AreaMap] | None = None
    flats: tuple[object, Plane] | None = None


_KEPT = _Kept()


def _areas(drawn: _Drawn, sheet: Sheet, bounds: Bounds) -> AreaMap:
    assert sheet.alpha is not None
    cuts = tuple(cut.tobytes() for cut in bounds.cuts)
    known = drawn, bounds.gap, bounds.smallest, cuts
    kept = _KEPT.areas
    if kept is None or kept[0] != known:
        kept = _KEPT.areas = known, find_areas(sheet.alpha, sheet.ppi, bounds)
    return kept[1]


def _laid(areas: AreaMap, groups: Plane, sheet: Sheet, trap: float) -> Plane:
    """The flats of a map that is still kept, to be read only."""
    assert sheet.alpha is not None
    known = id(areas), groups.tobytes(), trap
    kept = _KEPT.flats
    if kept is None or kept[0] != known or _KEPT.areas is None or _KEPT.areas[1] is not areas:
        plane = laid_under(areas, groups, sheet.alpha, sheet.ppi, trap)
        plane.setflags(write=False)
        kept = _KEPT.flats = known, plane
    return kept[1]
