"""What the tests of the readers share: small pages, and files put together byte by byte."""

import struct
import zlib
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from app.pages.read import read
from app.pages.resolution import Ppi

AT_300 = Ppi(300)


def grey_page(height=37, width=53, dtype=np.uint8):
    """A page whose every pixel tells where it is, dark to light over the full range."""
    full = np.iinfo(dtype).max
    place = np.arange(height)[:, None] * 7 + np.arange(width)[None, :] * 3
    return (place * full // place.max()).astype(dtype)


def rgb_page(height=37, width=53, dtype=np.uint8):
    grey = grey_page(height, width, dtype)
    return np.stack([grey, grey[::-1], np.invert(grey)], axis=2)


def pixels(path, *, rows=11, **options):
    """Every band of a page, put together; bands of an odd height, from the last to the first."""
    options.setdefault("given", AT_300)
    scan = read(Path(path), **options)
    tops = range(0, scan.shape[0], rows)
    bands = {}
    for top in reversed(tops):
        sheet = scan.rows(top, min(top + rows, scan.shape[0]))
        bands[top] = sheet.colour if scan.colour else sheet.grey
        assert sheet.ppi == scan.ppi
    whole = np.concatenate([bands[top] for top in tops])
    assert whole.shape[:2] == scan.shape
    assert whole.dtype.itemsize * 8 == scan.bits
    return whole


def tag(number, kind, values, order="<"):
    """One TIFF tag: ``values`` are numbers, or bytes as they are to stand."""
    if isinstance(values, bytes):
        return number, kind, len(values), values
    values = values if isinstance(values, Sequence) else [values]
    code = {1: "B", 2: "B", 3: "H", 4: "I", 5: "II", 16: "Q"}[kind]
    if kind == 5:
        return number, kind, len(values), b"".join(struct.pack(order + code, *v) for v in values)
    return number, kind, len(values), struct.pack(f"{order}{len(values)}{code}", *values)


def tiff(strips, width, height, *, order="<", big=False, **tags):
    """A TIFF file of one page, assembled by TIFF 6.0, section 2.

    ``tags`` are ``t258=8``: a short, shorts, or (kind, values). ``strips`` are bytes.
    """
    mark = {"<": b"II", ">": b"MM"}[order]
    head = mark + (struct.pack(order + "HHHQ", 43, 8, 0, 16) if big
                   else struct.pack(order + "HI", 42, 8))
    body = {256: tag(256, 4, width, order), 257: tag(257, 4, height, order)}
    for name, value in tags.items():
        number = int(name[1:])
        if value is None:
            body.pop(number, None)
            continue
        kind, values = value if isinstance(value, tuple) else (3, value)
        body[number] = tag(number, kind, values, order)
    count = len(body) + 2
    entry, room = (20, 8) if big else (12, 4)
    at = len(head) + (8 if big else 2) + count * entry + room
    at += sum(len(data) + len(data) % 2 for _, _, _, data in body.values() if len(data) > room)
    lists = 2 * (4 * len(strips) if 4 * len(strips) > room else 0)
    offsets = [at + lists + sum(len(s) for s in strips[:n]) for n in range(len(strips))]
    tiled = 322 in body
    body[273] = tag(324 if tiled else 273, 4, offsets, order)
    body[279] = tag(325 if tiled else 279, 4, [len(s) for s in strips], order)
    entries, values = b"", b""
    first = len(head) + (8 if big else 2) + count * entry + room
    for number, kind, many, data in sorted(body.values()):
        entries += struct.pack(order + ("HHQ" if big else "HHI"), number, kind, many)
        if len(data) <= room:
            entries += data.ljust(room, b"\0")
        else:
            entries += struct.pack(order + ("Q" if big else "I"), first + len(values))
            values += data + b"\0" * (len(data) % 2)
    counted = struct.pack(order + ("Q" if big else "H"), count)
    return head + counted + entries + b"\0" * room + values + b"".join(strips)


def png_chunk(name, body):
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def png(width, height, form, rows, extra=b"", *, after=b""):
    """A PNG of filter-0 rows, by PNG, third edition, sections 5 and 11.

    ``form`` is bit depth and colour type; ``extra`` comes before the pixels, ``after`` behind.
    """
    header = struct.pack(">IIBBBBB", width, height, *form, 0, 0, 0)
    data = b"".join(b"\0" + row for row in rows)
    return (
        b"\x89PNG\r\n\x1a\n" + png_chunk(b"IHDR", header) + extra
        + png_chunk(b"IDAT", zlib.compress(data)) + after + png_chunk(b"IEND", b"")
    )
