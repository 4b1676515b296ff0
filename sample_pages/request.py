"""One request, one scan: `render` draws a scene on a sheet of paper and scans it.

The same request gives the same pixels on one machine and one set of library versions, and within
1 of 255 elsewhere (the blur and the resampling are floating point). The drawing, the paper and the
light are in mm, so a request at 600 ppi is the same sheet as at 300, seen more finely; sensor noise
belongs to a pixel and differs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from sample_pages import scanner
from sample_pages.dust import strew
from sample_pages.instruments import INKS
from sample_pages.laying import Page
from sample_pages.mishaps import OVER, UNDER, Bed
from sample_pages.scenes import SCENES
from sample_pages.stroke import Drawing
from sample_pages.surface import F32, TOOTHS, make_surface
from sample_pages.variety import LINE_TOOLS, drawn_with, shaded

DUST_LIGHT = 0.32
RELIEF_LEFT_ON_INK = 0.45


@dataclass(frozen=True)
class Request:
    """What to draw, on which paper, and how it is scanned.

    `scene` is a name in SCENES; `seed` settles all that chance settles. `paper` is smooth,
    cold-pressed or rough; `tooth` multiplies the shadow of its relief. `tint` is a name in
    scanner.TINTS. `exposure` is a gain, `gutter` the share of light lost at the bound edge,
    `fall_off` the lamp's, `dust` specks on 100 cm2, `noise` a factor on the sensor's. `tool` names
    another tool for the pen lines and `ink` another colour for what flows; `shading` is how many
    patches of faint pencil are added; `mishaps` are names in mishaps.UNDER and mishaps.OVER.
    """

    scene: str
    seed: int
    ppi: int = 300
    paper: str = "cold-pressed"
    tooth: float = 1.0
    tint: str = "white"
    exposure: float = 1.0
    gutter: float = 0.0
    gutter_side: str = "left"
    fall_off: float = 0.04
    dust: float = 12.0
    noise: float = 1.0
    tool: str = ""
    ink: str = ""
    shading: int = 0
    mishaps: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Drawn:
    """A scan with the truth about it.

    `scan` (H, W, 3) uint16, sRGB-coded; `cover` (H, W) float32 0-1, the ink cover as the optics see
    it; `instrument` (H, W) uint8, the code of the tool that made each pixel (0 none); `faint`
    (H, W) bool, where nothing lies but strokes that cover 10-22 % of the paper under them; `stray`
    (H, W) bool what a mishap touched; `dust` (H, W) bool.
    """

    scan: npt.NDArray[np.uint16]
    cover: F32
    instrument: npt.NDArray[np.uint8]
    faint: npt.NDArray[np.bool_]
    stray: npt.NDArray[np.bool_]
    dust: npt.NDArray[np.bool_]
    ppi: int


def render(request: Request) -> Drawn:
    """Draw and scan one page; KeyError where a scene, paper, tint, tool or mishap is not known."""
    chance = [
        np.random.Generator(np.random.PCG64([request.seed, part])) for part in range(6)
    ]
    drawing = drawn_with(SCENES[request.scene](chance[0]), request.tool, request.ink)
    drawing = shaded(drawing, request.shading, chance[0])
    surface = make_surface(TOOTHS[request.paper], drawing.size_mm, request.ppi, chance[1])
    page = Page(surface, chance[2])
    page.lay(drawing)
    bed = _put_on_bed(page, drawing, request, chance[5])
    light = _scan_light(bed, request)
    specks, dust = strew(page.shape, request.ppi, request.dust, chance[3])
    light += specks[..., None] * (np.float32(DUST_LIGHT) - light)
    light = scanner.through_optics(light, surface.pixel_mm)
    scanner.add_sensor_noise(light, request.noise, chance[4])
    cover = scanner.through_optics(bed.cover, surface.pixel_mm)
    instrument = _spread(page.instrument, cover)
    return Drawn(
        scanner.coded(light), cover, instrument, page.faint, bed.stray, dust, request.ppi
    )


def _put_on_bed(
    page: Page, drawing: Drawing, request: Request, chance: np.random.Generator
) -> Bed:
    """The inked sheet, with all that has happened to it before and after the ink."""
    others = [name for name in sorted(SCENES) if name != request.scene]
    back = SCENES[others[int(chance.integers(len(others)))]]
    bare = (np.float32(1.0) - page.cover)[..., None]
    bed = Bed(
        surface=page.surface, drawing=drawing, back=back, light=page.light, cover=page.cover,
        ground=np.full((*page.shape, 3), scanner.TINTS[request.tint], np.float32),
        off=np.zeros(page.shape, np.float32), stray=np.zeros(page.shape, np.bool_), chance=chance,
    )
    before = [name for name in UNDER if name in request.mishaps]
    after = [name for name in OVER if name in request.mishaps]
    if len(before) + len(after) < len(request.mishaps):
        raise KeyError(*(set(request.mishaps) - set(UNDER) - set(OVER)))
    for name in before:
        UNDER[name](bed)
    bed.light += bare * bed.ground
    for name in after:
        OVER[name](bed)
    return bed


def _scan_light(bed: Bed, request: Request) -> F32:
    """Light that reaches the lens: the page on its relief, under the lamp; flare over all."""
    lamp = scanner.Lamp(
        request.fall_off, request.gutter, gutter_side=request.gutter_side,
        exposure=request.exposure,
    )
    tooth = np.float32(1.0) - np.float32(1.0 - RELIEF_LEFT_ON_INK) * bed.cover
    tooth *= np.float32(1.0) - bed.off
    lit = scanner.relief(bed.surface, request.tooth)
    lit -= np.float32(1.0)
    lit *= tooth
    lit += np.float32(1.0)
    lit *= scanner.illumination(bed.surface, lamp)
    light = bed.light
    light *= lit[..., None]
    light += np.float32(scanner.FLARE)
    return light


def _spread(instrument: npt.NDArray[np.uint8], cover: F32) -> npt.NDArray[np.uint8]:
    """Name the tool also where the optics have carried its ink a pixel outward."""
    near = cv2.dilate(instrument, np.ones((5, 5), np.uint8))
    named = np.where(instrument > 0, instrument, near)
    return np.where(cover > np.float32(0.004), named, 0).astype(np.uint8)


def random_request(seed: int, ppi: int = 300, mishaps: int = 0) -> Request:
    """A page nobody has seen: scene, tools, paper, tooth, tint and light all by chance.

    So many `mishaps`, different ones, happen to it.
    """
    rng = np.random.Generator(np.random.PCG64([seed, 99]))

    def pick(choices: Sequence[str]) -> str:
        return choices[int(rng.integers(len(choices)))]

    return Request(
        scene=pick(sorted(SCENES)),
        seed=int(rng.integers(1 << 31)),
        ppi=ppi,
        paper=pick(("smooth", "cold-pressed", "cold-pressed", "rough", "rough")),
        tooth=float(rng.uniform(0.6, 1.5)),
        tint=pick(tuple(scanner.TINTS)),
        exposure=float(rng.uniform(0.86, 1.1)),
        gutter=float(rng.uniform(0.2, 0.4)) if rng.random() < 0.3 else 0.0,
        gutter_side=pick(("left", "right")),
        fall_off=float(rng.uniform(0.0, 0.1)),
        dust=float(rng.uniform(3.0, 30.0)),
        noise=float(rng.uniform(0.6, 1.6)),
        tool=pick(("", "", "", *sorted(LINE_TOOLS))),
        ink=pick(("", "", *sorted(INKS))),
        shading=int(rng.integers(1, 5)),
        mishaps=tuple(str(name) for name in rng.permutation([*UNDER, *OVER])[:mishaps]),
    )


def at_ppi(request: Request, ppi: int) -> Request:
    """The same sheet, scanned at another resolution."""
    return replace(request, ppi=ppi)
