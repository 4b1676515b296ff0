"""Layers laid over one another, against the W3C formula; colours and inks."""

import numpy as np
import pytest

from core.colours import Named, Palette, distinct_colours, rgb_to_cmyk
from core.fault import Refused
from core.layers import composite, flattened
from core.sheet import Overlay, Sheet
from core.steps.overlay import Lay


def page(kind=np.uint8, *, own=False, overlay=None):
    rng = np.random.default_rng(3)
    full = int(np.iinfo(kind).max)
    alpha = rng.integers(0, full + 1, (40, 50)).astype(kind)
    colour = rng.integers(0, full + 1, (40, 50, 3)).astype(kind) if own else None
    return Sheet(
        ppi=300, alpha=alpha, colour=colour, ink=None if own else (10, 30, 50),
        flats=rng.integers(0, 4, (40, 50)).astype(np.uint16), overlay=overlay or Overlay(),
        palette=((0, 0, 0), (250, 200, 150), (20, 120, 220), (255, 255, 255)),
    )


def by_the_formula(sheet):
    """W3C Compositing and Blending Level 1, 5.1: co = cs x as + cb x ab x (1 - as), in 0-1."""
    overlay, full = sheet.overlay, float(np.iinfo(sheet.alpha.dtype).max)
    ink = sheet.colour / full if sheet.ink is None else np.array(sheet.ink) / 255
    lines = (np.broadcast_to(ink, (*sheet.shape, 3)), sheet.alpha[..., None] / full * overlay.lines)
    flats = np.array(sheet.palette)[sheet.flats] / 255, np.full((1, 1, 1), overlay.colour)
    out = np.broadcast_to(np.array(overlay.paper) / 255, (*sheet.shape, 3))
    for colour, alpha in ([lines, flats] if overlay.colour_above else [flats, lines]):
        out = colour * alpha + out * (1 - alpha)
    return out * 255


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
@pytest.mark.parametrize("own", [False, True])
@pytest.mark.parametrize("overlay", [
    Overlay(), Overlay(0.5, 1.0), Overlay(1.0, 0.3, (200, 220, 180)),
    Overlay(0.8, 0.6, (10, 0, 30), colour_above=True),
], ids=repr)
def test_the_composite_is_the_formulas(kind, own, overlay):
    sheet = page(kind, own=own, overlay=overlay)
    found = np.dstack(composite(sheet)).astype(float)
    # one level for the alpha that is rounded to 8 bits, half a level for each layer laid
    assert np.abs(found - by_the_formula(sheet)).max() <= 2.0
    if overlay == Overlay() and kind == np.uint8:
        assert np.abs(found - by_the_formula(sheet)).max() <= 0.501


def test_flattened_is_its_own_composite():
    flat = flattened(page())
    assert (np.dstack(composite(flat)) == np.dstack(composite(page()))).all()


def test_bands_are_the_page():
    whole = np.dstack(composite(page()))
    rows = [np.dstack(composite(page().rows(top, top + 8))) for top in range(0, 40, 8)]
    assert (np.concatenate(rows) == whole).all()


def test_the_step_sets_the_overlay_and_no_plane():
    before = page()
    after = Lay(order="below", lines=40, colour=70, paper=(1, 2, 3)).apply(before)
    assert after.overlay == Overlay(0.4, 0.7, (1, 2, 3), colour_above=True)
    assert all(getattr(after, name) is plane for name, plane in before.planes())


def test_inks_give_the_colour_back_by_the_published_conversion():
    # CSS Color Module Level 5, 10.3: red = 1 - min(1, cyan x (1 - black) + black), and so on.
    rng = np.random.default_rng(1)
    colour = rng.integers(0, 256, (500, 3))
    inks = rgb_to_cmyk(colour) / 255
    back = 1 - np.minimum(1, inks[:, :3] * (1 - inks[:, 3:]) + inks[:, 3:])
    assert np.abs(back * 255 - colour).max() <= 0.51
    assert (inks[:, :3].min(axis=1) == 0).all()


def test_distinct_colours_are_distinct_and_avoid_those_taken():
    first = distinct_colours(3000)
    assert len(set(first)) == 3000
    assert not set(distinct_colours(3000, first)) & set(first)
    assert distinct_colours(7) == first[:7]


def test_a_palette_is_reordered_and_added_to():
    palette = Palette("p", (Named((1, 1, 1), "a"), Named((2, 2, 2), "b"), Named((3, 3, 3), "c")))
    assert [named.name for named in palette.moved(2, 0).colours] == ["c", "a", "b"]
    added = palette.with_all([Named((2, 2, 2)), Named((4, 4, 4), "d"), Named((4, 4, 4), "e")])
    assert [named.name for named in added.colours] == ["a", "b", "c", "d"]
    assert [named.name for named in palette.without(1).colours] == ["a", "c"]
    assert [named.name for named in palette.put(1, Named((9, 9, 9), "x")).colours] == [
        "a", "x", "c"]
    assert (palette.place_of((3, 3, 3)), palette.place_of((9, 9, 9))) == (2, None)
    assert (palette.said((1, 1, 1)), palette.said((9, 9, 9))) == ("a", "#090909")


def test_a_colour_out_of_range_is_refused():
    with pytest.raises(Refused, match="0 to 255"):
        Named((0, 0, 256))
    with pytest.raises(Refused, match="0 to 400"):
        Palette(most_ink=401)
