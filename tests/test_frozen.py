"""What must never change: a list file of each version, and what each edition of a kind does.

A sample in ``tests/data/editions`` is a step list, done over four small pages. What tables and
exact steps make of them is kept as digests; what steps that interpolate make of them is kept as
pixels, and may differ by 1 of 255. ``python -m tests.test_frozen`` freezes a sample that has no
result yet; one that has is never written over.
"""

import json
from hashlib import blake2b
from pathlib import Path

import numpy as np
import pytest

from app.filters.even_light import EvenLight
from app.filters.straighten import Given, Straighten
from app.kinds import KINDS
from core.sheet import Sheet, whole
from core.steps.build_up import BuildUp
from core.steps.crop import Crop
from core.steps.document import VERSION, loads
from core.steps.fold import replay
from core.steps.grey import Grey, Nothing, Pencil
from core.steps.lift import Lift, One, Over, Own
from core.steps.steplist import Nested, StepList
from core.steps.tone import Fixed, Following, Tone
from core.steps.turn import Turn

DATA = Path(__file__).parent / "data"
SAMPLES = DATA / "editions"
DIGESTS = SAMPLES / "digests.json"
INTERPOLATING = ("straighten", "even light")
HEIGHT, WIDTH, PPI = 64, 96, 60


def made_page(bits, *, colour):
    """Warm paper in falling light, strokes of ink and of blue and red; whole numbers only."""
    y, x = np.indices((HEIGHT, WIDTH))
    paper = 236 - x // 6 - (x * 7 + y * 13 + x * y) % 9
    pen, pale, red = (x * 3 + y * 5) % 41 < 6, (x - y) % 37 < 5, (2 * x + y) % 53 < 4
    planes = []
    for tint, blue, stain in ((0, 164, 200), (4, 221, 60), (13, 237, 50)):
        plane = np.where(pale, paper * blue // 255, paper - tint)
        plane = np.where(red, plane * stain // 255, plane)
        planes.append(np.where(pen, 24 + (x + y) % 40 + tint // 4, plane))
    page = np.stack(planes, axis=2) if colour else planes[1]
    if bits == 16:
        fine = (x * 31 + y * 17 + x * y * 3) % 257
        page = page * 257 - (fine[..., None] if colour else fine)
    plane = page.astype(np.uint8 if bits == 8 else np.uint16)
    return Sheet(ppi=PPI, **{"colour" if colour else "grey": plane})


PAGES = {
    f"{'colour' if colour else 'grey'} {bits}": (bits, colour)
    for bits in (8, 16) for colour in (False, True)
}


def sample_names():
    return sorted(path.stem for path in SAMPLES.glob("*.json") if path != DIGESTS)


def sample_list(name):
    return loads((SAMPLES / f"{name}.json").read_bytes(), KINDS, name)


def done_over(name, page):
    bits, colour = PAGES[page]
    return whole(replay(sample_list(name), made_page(bits, colour=colour)).page)


def planes_of(sheet):
    return dict(sheet.planes())


def digest_of(sheet):
    """Of every plane, its name, shape and depth, and the ink."""
    digest = blake2b(str(sheet.ink).encode(), digest_size=20)
    for name, plane in planes_of(sheet).items():
        digest.update(f"{name} {plane.dtype.name} {plane.shape}".encode())
        digest.update(plane.astype(plane.dtype.newbyteorder("<")).tobytes())
    return digest.hexdigest()


def is_interpolating(name):
    return any(step.kind in INTERPOLATING for step in sample_list(name).flat())


def pixels_file(name):
    return SAMPLES / f"{name}.npz"


def freeze_new():
    """Write the result of each sample that has none."""
    digests = json.loads(DIGESTS.read_text("ascii")) if DIGESTS.exists() else {}
    for name in sample_names():
        if is_interpolating(name) and not pixels_file(name).exists():
            pixels = {f"{page} {plane}": value for page in PAGES
                      for plane, value in planes_of(done_over(name, page)).items()}
            np.savez_compressed(pixels_file(name), **pixels)
            print("frozen:", name)
        if not is_interpolating(name) and name not in digests:
            digests[name] = {page: digest_of(done_over(name, page)) for page in PAGES}
            print("frozen:", name)
    DIGESTS.write_text(json.dumps(digests, indent=1, sort_keys=True) + "\n", "ascii")


def test_every_kind_has_a_sample_of_its_edition():
    frozen = {(step.kind, step.edition) for name in sample_names()
              for step in sample_list(name).steps}
    assert {(kind.kind, kind.edition) for kind in KINDS.values()} <= frozen


def test_every_result_that_is_kept_has_its_sample():
    kept = {*json.loads(DIGESTS.read_text("ascii")), *(p.stem for p in SAMPLES.glob("*.npz"))}
    assert kept == set(sample_names())


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("name", [name for name in sample_names() if not is_interpolating(name)])
def test_exact_steps_give_the_frozen_bytes(name, page):
    assert digest_of(done_over(name, page)) == json.loads(DIGESTS.read_text("ascii"))[name][page]


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("name", [name for name in sample_names() if is_interpolating(name)])
def test_interpolating_steps_give_the_frozen_pixels_within_one_of_255(name, page):
    done = done_over(name, page)
    with np.load(pixels_file(name)) as frozen:
        expected = {key: frozen[key] for key in frozen.files if key.startswith(page + " ")}
    assert {f"{page} {plane}" for plane in planes_of(done)} == expected.keys()
    for plane, pixels in planes_of(done).items():
        kept = expected[f"{page} {plane}"]
        assert pixels.dtype == kept.dtype
        assert pixels.shape == kept.shape
        away = np.abs(pixels.astype(np.int64) - kept).max()
        assert away <= done.full // 255


def test_the_pages_are_what_they_were():
    digests = {page: digest_of(made_page(bits, colour=colour))
               for page, (bits, colour) in PAGES.items()}
    assert digests == {
        "grey 8": "1fecf696d1418fae9f98e43c072eab61b30b904e",
        "colour 8": "24568d9be702c47ab36f81afa60a5817e4bf6e1a",
        "grey 16": "6f32abc027334c7e1b7671bfbfa1fb64f672cdbc",
        "colour 16": "be0d7cd964091e742c944aadadd7577c25820237",
    }


def test_a_file_of_version_1_is_read_as_it_was_meant():
    assert VERSION == 1, "add a file of the version before, and its steps, here"
    steps = loads((DATA / "version-1.json").read_bytes(), KINDS)
    assert steps == StepList("Field-book, “cold-pressed” 🖋", (
        Turn(angle=270),
        Straighten(angle=Given(degrees=-1.25)),
        Crop(left=4.0, top=3.5, note="the scanner's lid"),
        EvenLight(reach=25.0),
        Grey(red=20.0, green=30.0, blue=50.0, drop=Pencil(colour=(164, 221, 237), reach=30.0)),
        Grey(on=False, drop=Nothing()),
        Tone(points=Following(black=38.25, white=219.0, paper=230.0), middle=47.5),
        Nested(list=StepList("Line", (
            Tone(points=Fixed(black=2.0, white=250.0)),
            Lift(ink=One(colour=(10, 20, 30))),
            Nested(list=StepList()),
        ))),
        Lift(ink=Own()),
        Lift(ink=Over(paper=(230, 228, 220), clear=(20, 22, 30))),
        BuildUp(times=1.5),
        BuildUp(times=2.0),
    ))


if __name__ == "__main__":
    freeze_new()
