"""Names of outputs by a pattern, folders, and the numbering of scans."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.pages.listing import PageAt
from app.pages.renditions import Layered, Line, Print, Web
from app.replay.naming import Naming, name_outputs, numbering
from core.fault import Fault, Refused


def pages(*names: str) -> list[PageAt]:
    return [PageAt(Path(name), 1, 1) for name in names]


LINE = (Line(),)


def named(naming, *names, forms=LINE):
    found = pages(*names)
    made = name_outputs(found, ["pen"] * len(found), forms, Path("out"), naming)
    return [item if isinstance(item, Fault) else [path.as_posix() for path in item]
            for item in made]


def test_words_are_replaced_and_numbers_padded():
    naming = Naming("{number}-{side}-{list}-{stem}-{rendition}", start=9, padding=4, first="left")
    assert named(naming, "a/x.tif", "a/y.tif", forms=(Line(), Print())) == [
        ["out/0009-left-pen-x-line.png", "out/0009-left-pen-x-print.tif"],
        ["out/0010-right-pen-y-line.png", "out/0010-right-pen-y-print.tif"],
    ]


def test_a_folder_of_layers_has_no_suffix():
    assert named(Naming("{number}"), "x.tif", forms=(Layered("folder"),)) == [["out/001"]]


def test_two_pages_never_get_one_name():
    made = named(Naming("{stem}"), "a/Cafe\u0301.tif", "b/CAF\u00c9.tif")
    assert made[0] == ["out/Caf\u00e9.png"]
    assert "is also the name of an output of Cafe" in made[1].what


def test_two_renditions_of_one_suffix_need_the_word():
    made = named(Naming("{stem}"), "x.tif", forms=(Line(), Web("png")))
    assert "{rendition}" in made[0].remedy
    assert named(Naming("{stem}"), "x.tif", forms=(Line(), Print())) == [["out/x.png", "out/x.tif"]]


def test_a_scan_is_never_written_over(tmp_path):
    scan = tmp_path / "x.png"
    scan.write_bytes(b"scan")
    made = name_outputs([PageAt(scan, 1, 1)], ["pen"], (Line(),), tmp_path, Naming("{stem}"))
    assert "it is a scan" in made[0].what


@pytest.mark.parametrize("pattern", [
    "{stem", "stem}", "{}", "{0}", "{stem.__class__}", "{number:03}", "{page}", "page",
    "{rendition}",
])
def test_patterns_that_cannot_be_read_are_refused(pattern):
    with pytest.raises(Refused):
        Naming(pattern)


@given(st.text(min_size=1, max_size=300), st.text(max_size=300))
def test_every_name_is_one_safe_path_part(stem, list_name):
    page = PageAt(Path("scans") / (stem.replace("/", "_").replace("\0", "_") + ".tif"), 1, 1)
    (made,) = name_outputs([page], [list_name], (Line(),), Path("out"),
                           Naming("{list}-{stem}-{rendition}"))
    (path,) = made
    assert path.parent == Path("out")
    assert len(path.name.encode("utf-8", "surrogateescape")) <= 255
    assert not set(path.name) & set('<>:"/\\|?*\0')


def test_folders_are_kept_or_flattened():
    names = ("book/one/1.tif", "book/two/deep/1.tif")
    kept = named(Naming(folders="keep"), *names)
    assert kept == [["out/one/1-line.png"], ["out/two/deep/1-line.png"]]
    flat = named(Naming(), *names)
    assert flat[0] != flat[1]
    assert all(len(Path(name).parts) == 2 for (name,) in flat)


@pytest.mark.parametrize(("names", "said"), [
    (["p1.tif", "p2.tif", "p3.tif"], ()),
    (["p01.tif", "p02.tif", "p04.tif", "p08.tif"],
     ("p03 is missing, after p02.tif.", "p05 to p07 are missing, after p04.tif.")),
    (["p1.tif", "p01.png", "p2.tif"], ("p01.png and p1.tif carry one number.",)),
    (["p1a.tif", "p1b.tif", "p2a.tif"], ()),
    (["img20240131.tif", "img20250716.tif"], ()),  # dates, not numbers
    (["cover.tif"], ()),
    (["9" * 40 + ".tif"], ()),
])
def test_gaps_and_doubles_in_the_numbering_are_told(names, said):
    assert numbering(pages(*names)) == said
