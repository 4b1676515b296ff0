"""The colour spaces of PDF images: ISO 32000-1, 8.6 and 8.9.5."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
import pikepdf

from app.pages.limits import Limits
from app.pages.pdf_filters import whole_stream
from app.pages.profile_in import ink_to_rgb
from app.pages.raster import CHANNELS, KINDS, Kind
from app.pages.refusing import BROKEN, refuse
from core.fault import Refused

_DEVICE: dict[str, Kind] = {
    "/DeviceGray": "grey", "/CalGray": "grey", "/DeviceRGB": "rgb", "/CalRGB": "rgb",
    "/DeviceCMYK": "cmyk",
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Space:
    """What the numbers of an image mean; with a ``palette`` (n, 3) they are indices into it."""

    kind: Kind
    profile: bytes | None = field(default=None, repr=False)
    palette: npt.NDArray[np.uint8] | None = None

    @property
    def channels(self) -> int:
        """Samples of one pixel."""
        return CHANNELS[self.kind] if self.palette is None else 1


def space_of(stated: Any, limits: Limits) -> Space:
    """The space that an image names; refuses the rare ones."""
    if isinstance(stated, pikepdf.Name):
        name, parts = str(stated), [stated]
    else:
        parts = list(stated)
        name = str(parts[0])
    if name in _DEVICE:
        return Space(_DEVICE[name])
    if name == "/ICCBased":
        kind = KINDS.get(int(parts[1]["/N"]))
        if kind is None:
            raise Refused(BROKEN)
        return Space(kind, whole_stream(parts[1], limits.profile_bytes))
    if name == "/Indexed":
        return _indexed(space_of(parts[1], limits), int(parts[2]), parts[3])
    raise refuse(f"its image has {name[1:]} colours", "save it as grey or RGB TIFF")


def _indexed(base: Space, highest: int, table: Any) -> Space:
    if base.palette is not None or not 0 <= highest <= 255:
        raise Refused(BROKEN)
    need = (highest + 1) * base.channels
    stored = bytes(table) if isinstance(table, pikepdf.String) else whole_stream(table, 1 << 16)
    if len(stored) < need:
        raise Refused(BROKEN)
    colours = np.frombuffer(stored[:need], np.uint8).reshape(1, -1, base.channels)
    if base.kind == "cmyk":
        return Space("rgb", None, ink_to_rgb(colours)[0].astype(np.uint8))
    return Space("rgb", base.profile, np.broadcast_to(colours[0], (highest + 1, 3)))
