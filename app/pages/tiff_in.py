"""TIFF scans: TIFF 6.0 and BigTIFF, page by page, by strips and tiles."""

from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from app.pages.limits import Limits
from app.pages.raster import CHANNELS, Kind, Look, Raster
from app.pages.refusing import ENDS_EARLY, refuse
from app.pages.source import Source
from app.pages.strips import (
    CCITT_RLE,
    CCITT_T4,
    CCITT_T6,
    COMPRESSIONS,
    JPEG,
    RAW,
    Chunks,
    Layout,
)
from app.pages.tags import Directory, directories
from core.fault import Refused

NEW_SUBFILE, WIDTH, LENGTH, BITS, COMPRESSION, PHOTOMETRIC, FILL_ORDER = (
    254, 256, 257, 258, 259, 262, 266,
)  # fmt: skip
STRIP_OFFSETS, SAMPLES, ROWS_PER_STRIP, STRIP_COUNTS, PLANAR, T4_OPTIONS = (
    273, 277, 278, 279, 284, 292,
)  # fmt: skip
PREDICTOR, COLOUR_MAP, TILE_WIDTH, TILE_LENGTH, TILE_OFFSETS, TILE_COUNTS = (
    317, 320, 322, 323, 324, 325,
)  # fmt: skip
INK_SET, EXTRA_SAMPLES, SAMPLE_FORMAT, JPEG_TABLES, PROFILE = 332, 338, 339, 347, 34675

_MIN_IS_WHITE, _MIN_IS_BLACK, _RGB, _PALETTE, _SEPARATED, _YCBCR = 0, 1, 2, 3, 5, 6
_KINDS: MappingProxyType[int, Kind] = MappingProxyType({
    _MIN_IS_WHITE: "grey", _MIN_IS_BLACK: "grey", _RGB: "rgb", _PALETTE: "grey",
    _SEPARATED: "cmyk", _YCBCR: "rgb",
})  # fmt: skip
_RARE = MappingProxyType({
    4: "a see-through mask", 8: "CIE Lab colours", 9: "ICC Lab colours", 10: "ITU Lab colours",
    32803: "raw camera colours", 34892: "raw camera colours",
})  # fmt: skip
_JPEG_COLOURS = MappingProxyType({
    _YCBCR: ("YCBCR", "RGB"), _RGB: ("RGB", "RGB"), _SEPARATED: ("CMYK", "CMYK"),
})  # fmt: skip
_SUITS = MappingProxyType({JPEG: (8, 4), CCITT_RLE: (1, 1), CCITT_T4: (1, 1), CCITT_T6: (1, 1)})
"""The bits of a sample, and at most how many channels, that a compression is made for."""

_NOT_A_PAGE = 1 | 4  # reduced picture, mask
_ASSOCIATED, _UNASSOCIATED = 1, 2
_LARGE_TILE = 1 << 24
_REMEDY = "save it as grey or RGB TIFF of 8 or 16 bits"


def tiff_pages(source: Source, limits: Limits) -> list[Directory]:
    """The directories that are pages; thumbnails and masks are not."""
    every = directories(source, limits)
    if not every:
        raise refuse("it is a TIFF file without a page", "scan or save it again")
    return [d for d in every if not d.number(NEW_SUBFILE, 0) & _NOT_A_PAGE] or every


def open_tiff(source: Source, number: int, limits: Limits) -> Raster:
    """Page ``number``, from 1; rows are read from the file as they are due."""
    page = tiff_pages(source, limits)[number - 1]
    width, height = page.number(WIDTH, 0), page.number(LENGTH, 0)
    limits.check(width, height)
    photometric = _photometric(page)
    look, notes = _look(page, photometric)
    layout = _layout(source, page, (width, height), photometric)
    laid = "tiles" if layout.tiled else "strips"
    stored = f"{look}, {COMPRESSIONS[layout.compression]}, {laid}"
    return Raster(
        width, height, look, Chunks(source, layout).rows, stored,
        ppi=page.ppi(), orientation=page.orientation(),
        profile=_profile(page, limits), notes=notes,
    )  # fmt: skip


def _profile(page: Directory, limits: Limits) -> bytes | None:
    """The profile; empty, so unreadable, where the file does not hold the whole of it."""
    try:
        return page.data(PROFILE, limits.profile_bytes)
    except Refused:
        return b""


def _photometric(page: Directory) -> int:
    samples = page.number(SAMPLES, 1)
    photometric = page.number(PHOTOMETRIC, _MIN_IS_BLACK if samples < 3 else _RGB)
    compression = page.number(COMPRESSION, RAW)
    if compression not in COMPRESSIONS:
        raise refuse(f"it is compressed in a way that is not read (TIFF's {compression})", _REMEDY)
    if photometric not in _KINDS or (photometric == _YCBCR and compression != JPEG):
        rare = _RARE.get(photometric, f"colours of a rare kind (TIFF's {photometric})")
        raise refuse(f"it holds {rare}", _REMEDY)
    if photometric == _SEPARATED and page.number(INK_SET, 1) != 1:
        raise refuse("it holds inks other than cyan, magenta, yellow and black", _REMEDY)
    return photometric


def _depth(page: Directory, channels: int) -> int:
    depths = page.numbers(BITS)
    depth = 1 if depths is None or not depths.size else int(depths[0])
    if depths is not None and (depths[:channels] != depth).any():
        raise refuse("its channels are of different depths", _REMEDY)
    form = page.number(SAMPLE_FORMAT, 1)
    if form not in (1, 4):
        signed = "signed numbers" if form == 2 else "fractions"
        raise refuse(f"its samples are {signed} of {depth} bits", _REMEDY)
    if not 1 <= depth <= 16:
        raise refuse(f"its samples have {depth} bits", _REMEDY)
    return depth


def _look(page: Directory, photometric: int) -> tuple[Look, tuple[str, ...]]:
    """What the samples mean, and what the person should know about it."""
    channels = page.number(SAMPLES, 1)
    depth = _depth(page, channels)
    kind = _KINDS[photometric]
    base = CHANNELS[kind]
    if not base <= channels <= 32:
        raise refuse(f"it says it has {channels} channels", _REMEDY)
    stated = page.numbers(EXTRA_SAMPLES)
    extra = [] if stated is None else stated[:channels - base].tolist()
    alphas = [n for n, use in enumerate(extra) if use in (_ASSOCIATED, _UNASSOCIATED)]
    alpha = base + alphas[0] if alphas else None
    notes: tuple[str, ...] = ()
    if channels - base > len(alphas[:1]):
        notes = ("A channel of no stated meaning was left out.",)
    if photometric == _PALETTE:
        return Look.of_palette(_palette(page, depth), depth, alpha), notes
    associated = bool(alphas) and extra[alphas[0]] == _ASSOCIATED
    inverted = photometric == _MIN_IS_WHITE
    return Look(kind, depth, inverted, alpha, associated), notes


def _palette(page: Directory, depth: int) -> npt.NDArray[np.uint8]:
    """The colour map; its 16-bit numbers are cut to 8 as is the custom, since some hold 256 n."""
    stored = page.numbers(COLOUR_MAP, 3 << depth) if depth <= 8 else None
    if stored is None or stored.size != 3 << depth:
        raise refuse("its palette is missing or of the wrong size", _REMEDY)
    if stored.max() > 255:  # a few writers give 8-bit numbers
        stored = stored >> 8
    return np.ascontiguousarray(stored.reshape(3, -1).T.astype(np.uint8))


def _layout(source: Source, page: Directory, size: tuple[int, int], photometric: int) -> Layout:
    width, height = size
    tiled = TILE_WIDTH in page.entries
    if tiled:
        chunk = page.number(TILE_WIDTH, 0), page.number(TILE_LENGTH, 0)
    else:
        chunk = width, min(page.number(ROWS_PER_STRIP, height), height)
    if min(chunk) < 1 or chunk[0] * chunk[1] > max(4 * width * height, _LARGE_TILE):
        raise refuse(f"its strips or tiles are said to be {chunk[0]} x {chunk[1]}", _REMEDY)
    channels = page.number(SAMPLES, 1)
    planar = page.number(PLANAR, 1) == 2 and channels > 1
    chunks = -(-width // chunk[0]) * -(-height // chunk[1]) * (channels if planar else 1)
    offsets = page.numbers(TILE_OFFSETS if tiled else STRIP_OFFSETS, 4 * chunks)
    counts = page.numbers(TILE_COUNTS if tiled else STRIP_COUNTS, 4 * chunks)
    if offsets is None or offsets.size < chunks:
        raise Refused(ENDS_EARLY)
    compression = page.number(COMPRESSION, RAW)
    layout = Layout(
        width, height, channels, _depth(page, channels), compression, *chunk,
        offsets[:chunks], _counts(source, offsets[:chunks], counts),
        tiled=tiled, planar=planar, differenced=_differenced(page, compression),
        order=page.order, bits_reversed=page.number(FILL_ORDER, 1) == 2,
        t4_options=page.number(T4_OPTIONS, 0), jpeg_tables=page.data(JPEG_TABLES, 1 << 16),
        jpeg_colours=(None, None) if planar else _JPEG_COLOURS.get(photometric, (None, None)),
    )  # fmt: skip
    bits, most = _SUITS.get(compression, (layout.depth, layout.interleaved))
    if layout.depth != bits or layout.interleaved > most:
        raise refuse(f"it is {COMPRESSIONS[compression]} of {layout.depth} bits", _REMEDY)
    _check_extent(source, layout)
    return layout


def _counts(
    source: Source, offsets: npt.NDArray[np.int64], stated: npt.NDArray[np.int64] | None
) -> npt.NDArray[np.int64]:
    if stated is None and offsets.size == 1:
        return source.size - offsets
    if stated is None or stated.size < offsets.size:
        return np.zeros_like(offsets)
    return stated[:offsets.size]


def _differenced(page: Directory, compression: int) -> bool:
    predictor = page.number(PREDICTOR, 1) if compression not in (RAW, JPEG) else 1
    if predictor not in (1, 2) or (predictor == 2 and page.number(BITS, 1) not in (8, 16)):
        raise refuse("its samples are differenced in a rare way", _REMEDY)
    return predictor == 2


def _check_extent(source: Source, layout: Layout) -> None:
    """Refuse a page whose strips reach past the end of the file."""
    if layout.compression == RAW:  # what it says of their sizes is not needed, and often wrong
        down = np.arange(layout.offsets.size) // layout.across % layout.down
        left = layout.height - down * layout.chunk_height
        rows = layout.chunk_height if layout.tiled else np.minimum(layout.chunk_height, left)
        sizes = rows * layout.stride
    else:
        sizes = layout.counts
    ends = layout.offsets + sizes
    outside = (layout.offsets < 0) | (sizes <= 0) | (sizes > source.size) | (ends > source.size)
    if outside.any():
        raise Refused(ENDS_EARLY)
