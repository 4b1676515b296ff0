"""ICC profiles put together byte by byte: ICC.1:2001-04 (version 2), sections 6.1 to 6.5."""

import itertools
import struct

# The media-independent colorants of sRGB and of a wider RGB space, adapted to D50 (from memory;
# rows are red, green, blue). Their sums are D50 itself, which the tests check.
SRGB = ((0.43607, 0.22249, 0.01392), (0.38515, 0.71687, 0.09708), (0.14307, 0.06061, 0.71410))
WIDE = ((0.60974, 0.31111, 0.01947), (0.20528, 0.62567, 0.06087), (0.14919, 0.06322, 0.74457))
D50 = (0.9642, 1.0, 0.8249)


def number(value):
    return struct.pack(">i", round(value * 65536))


def xyz(values):
    return b"XYZ \0\0\0\0" + b"".join(map(number, values))


def gamma(value):
    return b"curv\0\0\0\0" + struct.pack(">IH", 1, round(value * 256))


def profile(space, tags, *, connection=b"XYZ ", kind=b"scnr"):
    words = b"made for a test\0"
    tags = {
        b"desc": b"desc\0\0\0\0" + struct.pack(">I", len(words)) + words + bytes(78),
        b"cprt": b"text\0\0\0\0none\0", b"wtpt": xyz(D50), **tags,
    }  # fmt: skip
    start = 132 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for name, data in tags.items():
        table += name + struct.pack(">II", start + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    head = struct.pack(">I4xI", start + len(body), 0x02400000) + kind + space + connection
    head += struct.pack(">6H", 2024, 1, 1, 0, 0, 0) + b"acsp" + bytes(28)
    return (head + b"".join(map(number, D50))).ljust(128, b"\0") + table + body


def grey_profile(power):
    return profile(b"GRAY", {b"kTRC": gamma(power)})


def matrix_profile(colorants, power):
    tags = {name: xyz(values)
            for name, values in zip((b"rXYZ", b"gXYZ", b"bXYZ"), colorants, strict=True)}
    tags |= dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), gamma(power))
    return profile(b"RGB ", tags, kind=b"mntr")


def table_profile(space, inputs, grid, lab_of):
    """A profile that is a table: ``lab_of`` gives L* (0-100), a*, b* of device colours 0-1."""
    points = bytearray()
    for place in itertools.product(range(grid), repeat=inputs):
        lightness, a, b = lab_of(*(value / (grid - 1) for value in place))
        points += bytes([round(lightness * 2.55), round(a) + 128, round(b) + 128])
    straight = bytes(range(256))
    unit = b"".join(map(number, (1, 0, 0, 0, 1, 0, 0, 0, 1)))
    table = b"mft1\0\0\0\0" + bytes([inputs, 3, grid, 0]) + unit
    table += straight * inputs + bytes(points) + straight * 3
    return profile(space, {b"A2B0": table}, connection=b"Lab ", kind=b"prtr")


def press(cyan, magenta, yellow, black):
    """A press of no place in the world, but smooth, white without ink and black with it."""
    light = (1 - black) * (1 - 0.35 * cyan) * (1 - 0.45 * magenta) * (1 - 0.1 * yellow)
    return (
        100 * light, 40 * (magenta - cyan) * (1 - black),
        60 * (yellow - 0.5 * cyan - 0.2 * magenta) * (1 - black),
    )  # fmt: skip


def lamp(red, green, blue):
    """A scanner whose channels do not add up: its lightness is not linear in any of them."""
    light = 100 * (0.3 * red + 0.6 * green + 0.1 * blue)
    return light, 60 * (red - green) * (1 - 0.5 * blue), 60 * (green - blue) * (1 - 0.5 * red)
