"""The demo scans: drawn again they are the same, and their physics agrees with their truth."""

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from core.light import srgb_to_linear
from sample_pages import draw, scanner
from sample_pages.instruments import BRUSH, DRY_BRUSH, FINE_PEN, SOFT_PENCIL, Tool
from sample_pages.laying import Page
from sample_pages.mishaps import OVER, UNDER
from sample_pages.path import ellipse
from sample_pages.request import Drawn, Request, at_ppi, random_request, render
from sample_pages.scenes import SCENES
from sample_pages.sketch import Sketch
from sample_pages.stroke import Drawing
from sample_pages.surface import COLD_PRESSED, make_surface

REDRAWN = "rowing-boat"


def swatch(rng: np.random.Generator) -> Drawing:
    """A small sheet with a solid, pen lines, pencil hatching and one dry stroke on it."""
    s = Sketch((36.0, 30.0), rng)
    s.solid(BRUSH, ellipse((8.0, 8.0), (5.0, 4.0)))
    for y in (4.0, 7.0, 10.0):
        s.line(FINE_PEN, [(16.0, y), (33.0, y + 1.0)], 0.8)
    s.hatch(SOFT_PENCIL, s.region([(3, 15), (17, 15), (17, 27), (3, 27)]), 50, 1.1, 1.0, 0.4)
    s.curve(DRY_BRUSH, [(20, 18), (26, 17), (34, 20)], 0.6)
    s.curve(DRY_BRUSH, [(20, 25), (26, 24), (34, 26)], 0.9)
    return s.drawing()


@pytest.fixture(scope="module", autouse=True)
def _test_sheets_among_the_scenes():
    SCENES["swatch"], SCENES["blank"] = swatch, lambda _: Drawing((36.0, 30.0))
    yield
    del SCENES["swatch"], SCENES["blank"]


@pytest.fixture(scope="module")
def drawn() -> Drawn:
    return render(Request("swatch", 5, dust=0.0, fall_off=0.0))


def tones(one: Drawn) -> np.ndarray:
    return one.scan[..., 1].astype(np.float64) / 257.0


def from_cmyk(inks: np.ndarray) -> np.ndarray:
    """The plain way back from inks without a profile (common practice, no source)."""
    left = 255.0 - inks.astype(np.float64)
    return left[..., :3] * left[..., 3:] / 255.0


def test_a_committed_page_is_drawn_again_within_one_level(tmp_path: Path):
    demo = next(demo for demo in draw.DEMOS if demo.request.scene == REDRAWN)
    draw.draw([demo], tmp_path)
    with Image.open(draw.FOLDER / demo.file) as kept, Image.open(tmp_path / demo.file) as again:
        assert kept.mode == again.mode == "CMYK"
        apart = np.abs(from_cmyk(np.asarray(kept)) - from_cmyk(np.asarray(again)))
    # One level in the colours, and what rounding the inks adds on either side.
    assert apart.max() <= 2.0
    assert apart.mean() <= 0.1


@pytest.mark.parametrize("demo", draw.DEMOS, ids=lambda demo: demo.file)
def test_every_page_is_there_at_300_ppi_and_a6_or_a5(demo: draw.Demo):
    with Image.open(draw.FOLDER / demo.file) as page:
        assert round(float(page.info["dpi"][0])) == 300
        sides = sorted(round(side / 300 * 25.4) for side in page.size)
    assert sides in ([105, 148], [148, 210])


def test_bare_paper_has_the_paper_s_own_tone_and_is_light_and_dark_about_it(drawn: Drawn):
    near_ink = cv2.dilate((drawn.cover > 0.001).astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    bare = srgb_to_linear(drawn.scan[~near_ink] / 65535.0)
    expected = np.array(scanner.TINTS["white"]) + scanner.FLARE
    np.testing.assert_allclose(bare.mean(axis=0), expected, atol=0.008)
    apart = bare[:, 1] - bare[:, 1].mean()
    assert (apart > 0.01).mean() > 0.05
    assert (apart < -0.01).mean() > 0.05


def test_solid_ink_is_as_dark_as_the_ink(drawn: Drawn):
    solid = cv2.erode((drawn.cover > 0.98).astype(np.uint8), np.ones((7, 7), np.uint8)) > 0
    assert solid.sum() > 2000
    light = srgb_to_linear(drawn.scan[solid] / 65535.0).mean(axis=0)
    np.testing.assert_allclose(light, np.array(BRUSH.ink) + scanner.FLARE, atol=0.004)


def test_light_is_shared_between_ink_and_paper_as_the_cover_says(drawn: Drawn):
    pen = drawn.instrument == FINE_PEN.code
    light = srgb_to_linear(drawn.scan[..., 1][pen] / 65535.0)
    cover = drawn.cover[pen]
    paper, ink = scanner.TINTS["white"][1], FINE_PEN.ink[1]
    expected = paper * (1.0 - cover) + ink * cover + scanner.FLARE
    assert np.abs(light - expected).mean() < 0.02


@pytest.fixture(scope="module")
def page() -> Page:
    chance = [np.random.Generator(np.random.PCG64(seed)) for seed in (1, 2, 3)]
    drawing = swatch(chance[0])
    page = Page(make_surface(COLD_PRESSED, drawing.size_mm, 300, chance[1]), chance[2])
    page.lay(drawing)
    return page


@pytest.mark.parametrize("tool", [SOFT_PENCIL, DRY_BRUSH], ids=lambda tool: tool.name)
def test_pencil_and_dry_brush_lie_on_the_peaks(page: Page, tool: Tool):
    mine = cv2.dilate((page.instrument == tool.code).astype(np.uint8), np.ones((5, 5))) > 0
    assert np.corrcoef(page.cover[mine], page.surface.height[mine])[0, 1] > 0.3


def test_a_wet_brush_covers_peaks_and_valleys_alike(page: Page):
    inside = cv2.erode((page.instrument == BRUSH.code).astype(np.uint8), np.ones((9, 9))) > 0
    assert page.cover[inside].min() > 0.98


def test_the_paper_s_shadow_is_that_of_the_same_surface(page: Page):
    lit = scanner.relief(page.surface, 1.0)
    slope = np.gradient(page.surface.height, axis=0)
    assert np.corrcoef(lit.ravel(), slope.ravel())[0, 1] > 0.9


def test_the_same_sheet_at_600_ppi_reduces_to_the_one_at_300(drawn: Drawn):
    fine = render(at_ppi(Request("swatch", 5, dust=0.0, fall_off=0.0), 600))
    assert fine.cover.shape == tuple(2 * side for side in drawn.cover.shape)
    reduced = cv2.resize(fine.cover, drawn.cover.shape[::-1], interpolation=cv2.INTER_AREA)
    assert np.abs(reduced - drawn.cover).mean() < 0.01
    assert np.corrcoef(reduced.ravel(), drawn.cover.ravel())[0, 1] > 0.99
    assert reduced.sum() == pytest.approx(drawn.cover.sum(), rel=0.02)


def test_a_seed_settles_everything():
    request = Request("swatch", 11, paper="rough", tint="cream", gutter=0.3)
    one, two = render(request), render(request)
    for field in ("scan", "cover", "instrument", "faint", "dust"):
        assert np.array_equal(getattr(one, field), getattr(two, field))
    other = render(replace(request, seed=12))
    assert not np.array_equal(one.scan, other.scan)
    assert not np.array_equal(one.cover, other.cover)


def test_faint_shading_covers_a_tenth_to_a_fifth_of_the_paper():
    one = render(Request("blank", 4, dust=0.0, shading=6))
    assert one.faint.sum() > 2000
    assert 0.08 < one.cover[one.faint].mean() < 0.28
    assert not render(Request("blank", 4, dust=0.0)).faint.any()


def test_dust_is_dark_on_paper_and_nowhere_in_the_truth():
    clean = render(Request("blank", 3, dust=0.0))
    dusty = render(Request("blank", 3, dust=400.0))
    assert dusty.dust.sum() > 50
    assert dusty.cover.max() == 0.0
    assert tones(dusty)[dusty.dust].mean() < tones(clean)[dusty.dust].mean() - 15
    assert np.abs(tones(dusty) - tones(clean))[~dusty.dust].mean() < 0.5


def test_the_gutter_takes_a_third_of_the_light_within_7_mm():
    page = render(Request("blank", 3, dust=0.0, gutter=1 / 3, fall_off=0.0))
    light = srgb_to_linear(page.scan[..., 1] / 65535.0).mean(axis=0)
    per_mm = 300 / 25.4
    assert light[0] / light[-40:].mean() == pytest.approx(2 / 3, abs=0.03)
    assert light[round(7.5 * per_mm)] / light[-40:].mean() == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("mishap", sorted(UNDER))
def test_what_lies_under_the_ink_is_seen_and_is_not_in_the_truth(drawn: Drawn, mishap: str):
    one = render(Request("swatch", 5, dust=0.0, fall_off=0.0, mishaps=(mishap,)))
    assert np.array_equal(one.cover, drawn.cover)
    assert np.abs(tones(one) - tones(drawn)).max() > 4
    assert one.stray.any() == (mishap != "cockle")
    assert np.abs(tones(one) - tones(drawn))[~one.stray].mean() < (4 if mishap == "cockle" else 0.3)


@pytest.mark.parametrize("mishap", sorted(OVER))
def test_what_lies_over_the_ink_takes_it_from_the_truth(drawn: Drawn, mishap: str):
    plain, changed = (
        [render(Request("swatch", seed, dust=0.0, mishaps=mishaps)) for seed in (5, 6, 7, 8)]
        for mishaps in ((), (mishap,))
    )
    taken = [one.cover - other.cover for one, other in zip(plain, changed, strict=True)]
    assert min(part.min() for part in taken) > -1e-5
    assert max(part.max() for part in taken) > 0.3
    assert any(one.stray.any() for one in changed) == (mishap != "white ink")


def test_a_mishap_nobody_knows_is_refused():
    with pytest.raises(KeyError, match="earthquake"):
        render(Request("swatch", 5, mishaps=("earthquake",)))


def test_random_requests_differ_and_name_what_exists():
    some = [random_request(seed, 600) for seed in range(40)]
    assert len(set(some)) == 40
    assert {request.ppi for request in some} == {600}
    assert {request.paper for request in some} == {"smooth", "cold-pressed", "rough"}
    assert {request.scene for request in some} <= set(SCENES)
    assert {request.tint for request in some} <= set(scanner.TINTS)
    assert {len(set(random_request(seed, mishaps=3).mishaps)) for seed in range(9)} == {3}


def test_cmyk_goes_back_to_the_same_colours_within_a_level():
    colour = np.random.default_rng(1).integers(0, 256, (64, 64, 3)).astype(np.uint8)
    assert np.abs(from_cmyk(draw.to_cmyk(colour)) - colour).max() <= 1.0
