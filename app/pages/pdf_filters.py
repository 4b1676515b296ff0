"""The filters of PDF streams, each unpacked within a bound: ISO 32000-1, 7.4."""

import base64
import zlib
from typing import Any

import imagecodecs
import pikepdf

from app.pages.refusing import BROKEN, ENDS_EARLY, decoding, refuse
from core.fault import Fault, Refused

_TOO_LARGE = Fault(
    "a stream in it unpacks to more than it declares",
    remedy="do not trust this copy; scan or save it again",
)


def filters_of(stream: Any) -> list[tuple[str, dict[str, int]]]:
    """The names of a stream's filters with their whole-number parameters, the outermost first."""
    names, parameters = stream.get("/Filter", []), stream.get("/DecodeParms", [])
    listed = [str(names)] if isinstance(names, pikepdf.Name) else [str(name) for name in names]
    given = [parameters] if isinstance(parameters, pikepdf.Dictionary) else list(parameters)
    plain = [
        {str(key): int(value) for key, value in one.as_dict().items() if _whole(value)}
        if isinstance(one, pikepdf.Dictionary) else {}
        for one in given
    ]  # fmt: skip
    return list(zip(listed, plain + [{}] * (len(listed) - len(plain)), strict=False))


def unpack(data: bytes, name: str, parameters: dict[str, int], most: int) -> bytes:
    """Undo one filter that packs bytes; what comes after the first ``most`` is not unpacked."""
    with decoding():
        match name:
            case "/FlateDecode":
                return zlib.decompressobj().decompress(data, most)
            case "/LZWDecode" if parameters.get("/EarlyChange", 1) == 1:
                return bytes(imagecodecs.lzw_decode(data, out=most))
            case "/RunLengthDecode":
                return bytes(imagecodecs.packbits_decode(data, out=most))
            case "/ASCII85Decode":
                text = b"".join(data.split()).partition(b"~>")[0].removeprefix(b"<~")
                return base64.a85decode(text)
            case "/ASCIIHexDecode":
                text = b"".join(data.split()).partition(b">")[0]
                return bytes.fromhex(text.decode("ascii") + "0" * (len(text) % 2))
    raise refuse(f"it is packed in a way that is not read ({name[1:]})", "save it as TIFF or PNG")


def whole_stream(stream: Any, most: int) -> bytes:
    """A small stream with every filter undone; refuses one of more than ``most`` bytes."""
    data = bytes(stream.read_raw_bytes())
    for name, parameters in filters_of(stream):
        if parameters.get("/Predictor", 1) != 1:
            raise Refused(BROKEN)
        data = unpack(data, name, parameters, most + 1)
    if len(data) > most:
        raise Refused(_TOO_LARGE)
    return data


def undo_png_filters(data: bytes, row_bytes: int, height: int, pixel_bytes: int) -> bytes:
    """Rows that were differenced as PNG does it, each led by a byte, made plain.

    The work is left to the PNG decoder: the rows are dressed as a PNG of pixels of as
    many bytes, since PNG's filters know only those.
    """
    if len(data) != (row_bytes + 1) * height:
        raise Refused(ENDS_EARLY)
    colour_type, depth = {
        1: (0, 8), 2: (4, 8), 3: (2, 8), 4: (6, 8), 6: (2, 16), 8: (6, 16),
    }.get(pixel_bytes, (0, 0))  # fmt: skip
    if not depth:
        raise Refused(BROKEN)
    header = b"".join(
        number.to_bytes(size, "big") for number, size in (
            (row_bytes // pixel_bytes, 4), (height, 4), (depth, 1), (colour_type, 1), (0, 3),
        )
    )  # fmt: skip
    dressed = b"\x89PNG\r\n\x1a\n" + b"".join(
        len(body).to_bytes(4, "big") + name + body + zlib.crc32(name + body).to_bytes(4, "big")
        for name, body in (
            (b"IHDR", header), (b"IDAT", zlib.compress(data, 0)), (b"IEND", b""),
        )
    )  # fmt: skip
    with decoding():
        plane = imagecodecs.png_decode(dressed)
    return bytes(plane.astype(plane.dtype.newbyteorder(">")).tobytes())


def _whole(value: object) -> bool:
    return isinstance(value, int)
