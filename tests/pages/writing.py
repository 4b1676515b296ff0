"""Pages and what is shared by the tests of what is written."""

import io
import struct
import zlib

import numpy as np
from PIL import Image

from app.pages.write import write_page
from core.sheet import Sheet

BROWN = (90, 40, 20)
STEPS = '{"name": "café ☕ 🖋", "steps": []}'


def drawn(height, width, *, bits=8, ink=(0, 0, 0), ppi=300.0):
    """A page that is mostly clear, with noise, solids and bands where nothing is drawn."""
    rng = np.random.default_rng(1)
    full = 255 if bits == 8 else 65535
    kind = np.uint8 if bits == 8 else np.uint16
    alpha = rng.integers(0, full + 1, (height, width)) * (rng.random((height, width)) < 0.3)
    alpha[height // 3 : height // 3 + 9, : width // 2] = full
    alpha[height // 2 :] = 0
    alpha[-1, -1] = full - 3
    alpha = alpha.astype(kind)
    colour = None
    if ink is None:
        colour = rng.integers(0, full + 1, (height, width, 3)).astype(kind)
        colour[alpha == 0] = np.array((40, 30, 60)) * (full // 255)
    return Sheet(ppi=ppi, alpha=alpha, colour=colour, ink=ink)


def rgba_of(sheet, bits=None):
    """What an RGBA file of the sheet holds, worked out by itself."""
    full = int(np.iinfo(sheet.alpha.dtype).max)
    if sheet.ink is None:
        colour = sheet.colour
    else:
        colour = np.broadcast_to(np.array(sheet.ink) * (full // 255), (*sheet.shape, 3))
    whole = np.dstack([colour, sheet.alpha]).astype(np.int64)
    wanted = full if bits is None else 2**bits - 1
    scaled = np.floor(whole * wanted / full + 0.5)
    return scaled.astype(np.uint8 if wanted == 255 else np.uint16)


def over_ground(sheet, ground):
    """The ink laid on a ground, 8 bit, in floating point, rounded to nearest."""
    pixels = rgba_of(sheet, 8).astype(np.float64)
    share = pixels[..., 3:] / 255
    return np.floor(pixels[..., :3] * share + np.array(ground) * (1 - share) + 0.5 + 1e-9)


def write(sheet, rendition, path, **options):
    """Write one rendition without waiting for the disk."""
    asked = {"steps_json": STEPS, "workers": 1, "durable": False} | options
    write_page(sheet, [(rendition, path)], **asked)
    return path


def chunks_of(data):
    """The chunks of a PNG as (name, data), every checksum verified (PNG, 5.3)."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    found, at = [], 8
    while at < len(data):
        length, name = struct.unpack(">I4s", data[at : at + 8])
        body = data[at + 8 : at + 8 + length]
        (checksum,) = struct.unpack(">I", data[at + 8 + length : at + 12 + length])
        assert checksum == zlib.crc32(name + body)
        found.append((name, body))
        at += 12 + length
    return found


def opened(path):
    """The image as Pillow reads it, its file closed."""
    image = Image.open(io.BytesIO(path.read_bytes()))
    image.load()
    return image
