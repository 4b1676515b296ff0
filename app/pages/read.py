"""Scans in: any file that is read, as a page of sRGB-coded grey or colour."""

from dataclasses import replace
from pathlib import Path

from app.pages.formats import format_of
from app.pages.limits import Limits
from app.pages.profile_in import converter
from app.pages.raster import Raster
from app.pages.refusing import naming, refuse
from app.pages.resolution import Resolution, settle
from app.pages.scan import Scan, place_of
from app.pages.source import FileSource
from app.pages.turned import upright
from core.sheet import Plane


def read(
    path: Path,
    number: int = 1,
    *,
    given: Resolution | None = None,
    limits: Limits = Limits(),  # noqa: B008 - frozen
    profile: bool = True,
) -> Scan:
    """Page ``number`` of a file, from 1. Its header is read now, its pixels when asked for.

    ``given`` overrides the resolution that the file states. Without ``profile`` an
    embedded colour profile is passed over and the numbers are taken as sRGB. Raises
    ``Refused`` with one fault, which names the file.
    """
    with naming(place_of(path)):
        source = FileSource.of(path)
        kind = format_of(source)
        count = kind.count(source, limits)
        if not 1 <= number <= count:
            have = "1 page" if count == 1 else f"{count} pages"
            raise refuse(f"it has no page {number}", f"it has {have}")
        with naming(place_of(path, number, count)):
            raster = kind.open(source, number, limits)
            if not profile:
                raster = replace(raster, profile=None)
            return _scan(path, (number, count), raster, given)


def count_pages(path: Path, limits: Limits = Limits()) -> int:  # noqa: B008 - frozen
    """How many pages a file has; raises ``Refused`` for one that cannot be read."""
    with naming(place_of(path)):
        source = FileSource.of(path)
        return format_of(source).count(source, limits)


def _scan(
    path: Path, place: tuple[int, int], raster: Raster, given: Resolution | None
) -> Scan:
    look = raster.look
    convert, notes = converter(raster.profile, look.kind, look.bits)

    def plane(top: int, bottom: int) -> Plane:
        band = raster.rows(top, bottom)
        return band if convert is None else convert(band)

    rows, shape = upright(plane, (raster.height, raster.width), raster.orientation)
    stated = raster.ppi
    if stated is not None and raster.orientation >= 5:
        stated = stated[::-1]
    ppi, ppi_from = settle(stated, given, shape)
    return Scan(
        path, *place, shape, look.bits, look.kind != "grey", raster.stored, ppi, ppi_from,
        raster.notes + notes, rows,
    )  # fmt: skip
