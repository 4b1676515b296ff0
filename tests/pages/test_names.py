"""Where outputs go: safe names, no two alike, never a scan's."""

import os
import random
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.pages.listing import PageAt
from app.pages.names import PDF, caseless, check_target, plan_outputs
from app.pages.renditions import Layered, Line, Print, Web
from app.pages.whole import MARK_BYTES
from core.fault import Fault, Refused

OUT = Path("/out")
LINE = (Line(),)


def page(path, number=1, count=1):
    return PageAt(Path(path), number, count)


def names_of(pages, renditions=LINE, folder=OUT, scans=()):
    """The outputs' names, one tuple a page; faults as they are."""
    return [planned if isinstance(planned, Fault) else tuple(path.name for path in planned)
            for planned in plan_outputs(pages, renditions, folder, scans)]


def test_each_rendition_has_its_suffix():
    asked = (Line(), Print(), Layered(), Web())
    assert names_of([page("/scans/page 1.tif")], asked) == [
        ("page 1-line.png", "page 1-print.tif", "page 1-layered.ora", "page 1-web.webp"),
    ]
    (planned,) = plan_outputs([page("/scans/a.tif")], asked, OUT)
    assert {path.parent for path in planned} == {OUT}


@pytest.mark.parametrize("name", [
    "two  words", "Käse", "猫の目", "🖋 ink", "-x", "--help", "a.b.c", ".hidden", "%s {0} $HOME",
    "it's", "ends ", "x" * 200,
])
def test_names_stay_as_they_are(name):
    assert names_of([page(f"/scans/{name}.tif")]) == [(f"{name}-line.png",)]


def test_pages_of_one_file_are_numbered():
    pages = [page("/s/book.tif", number, 12) for number in (1, 3, 12)]
    assert names_of(pages) == [
        ("book-p001-line.png",), ("book-p003-line.png",), ("book-p012-line.png",),
    ]


def test_one_stem_and_two_suffixes():
    assert names_of([page("/s/a.tif"), page("/s/a.png"), page("/s/b.png")]) == [
        ("a-tif-line.png",), ("a-png-line.png",), ("b-line.png",),
    ]


def test_one_name_in_two_folders():
    assert names_of([page("/s/one/a.tif"), page("/s/two/a.tif")]) == [
        ("one-a-tif-line.png",), ("two-a-tif-line.png",),
    ]


def test_one_name_in_two_folders_of_one_name():
    names = names_of([page("/s/x/a.tif"), page("/t/x/a.tif")])
    assert len(set(names)) == 2
    assert all(name.startswith("a-tif-") for (name,) in names)


def test_names_that_differ_in_case_only_do_not_meet():
    names = names_of([page("/s/Page.tif"), page("/s/page.tif"), page("/s/PAGE.png")])
    assert len({caseless(name) for (name,) in names}) == 3


def test_one_word_in_two_encodings():
    composed, decomposed = (unicodedata.normalize(form, "é") for form in ("NFC", "NFD"))
    assert names_of([page(f"/s/{decomposed}.tif")]) == [(f"{composed}-line.png",)]
    names = names_of([page(f"/s/{composed}.tif"), page(f"/s/{decomposed}.tif")])
    assert len({caseless(name) for (name,) in names}) == 2


def test_a_name_made_distinct_meets_no_other():
    pages = [page("/s/a.tif"), page("/s/a.png"), page("/s/a-tif.jpg"), page("/s/a-p002.png"),
             page("/s/a.tiff", 2, 3)]
    names = names_of(pages)
    assert len({caseless(name) for (name,) in names}) == len(pages)


@pytest.mark.parametrize("stem", ["con", "NUL", "Com1", "aux.tar"])
def test_device_names_are_avoided(stem):
    # Microsoft Learn, "Naming Files, Paths, and Namespaces": the part before the first dot
    (name,) = names_of([page(f"/s/{stem}.tif")], (Layered("folder"),))[0]
    assert name == f"_{stem}-layered"


def test_characters_that_not_every_system_takes():
    strange = 'a:b?c*"<>|\\d\n\x7f\udcff.tif'
    assert names_of([page(f"/s/{strange}")]) == [("a_b_c______d___-line.png",)]
    assert len(set(names_of([page("/s/a:b.tif"), page("/s/a?b.tif")]))) == 2


@pytest.mark.parametrize("letter", ["x", "é", "猫", "🖋"])
def test_long_names_are_shortened_to_what_file_systems_take(letter):
    long = letter * (250 // len(letter.encode()))
    pages = [page(f"/s/{long}.tif", 1, 2), page(f"/s/{long}.tif", 2, 2),
             page(f"/s/{long[:-1]}z.tif")]
    names = [name for (name,) in names_of(pages, (Layered(),))]
    assert len(set(names)) == 3
    for name in names:
        assert len(name.encode()) + MARK_BYTES <= 255
        assert name.startswith(letter * 20)
        assert name.endswith("-layered.ora")
    assert names[1].endswith("-p002-layered.ora")


def test_the_order_of_the_pages_makes_no_difference():
    pages = [page(f"/s/{folder}/{stem}{suffix}") for folder in ("x", "y", "y/x")
             for stem in ("a", "A", "b", "a-tif") for suffix in (".tif", ".png")]
    usual = dict(zip(pages, names_of(pages), strict=True))
    assert len({caseless(name) for (name,) in usual.values()}) == len(pages)
    for seed in range(5):
        mixed = random.Random(seed).sample(pages, len(pages))
        assert dict(zip(mixed, names_of(mixed), strict=True)) == usual


@given(st.lists(st.text("aAéÉ\u0301.-:ß", min_size=1, max_size=5), min_size=1, max_size=12),
       st.randoms(use_true_random=False))
def test_no_two_pages_ever_have_one_name(stems, mixer):
    pages = [page(f"/s/{index % 3}/{stem}.tif") for index, stem in enumerate(stems)]
    pages = list(dict.fromkeys(pages))
    planned = names_of(pages)
    assert len({caseless(name) for (name,) in planned}) == len(pages)
    mixed = list(pages)
    mixer.shuffle(mixed)
    assert dict(zip(mixed, names_of(mixed), strict=True)) == dict(zip(pages, planned, strict=True))


def test_a_page_given_twice_is_done_once():
    first, second = names_of([page("/s/a.tif"), page("/s/x/../a.tif")])
    assert first == ("a-line.png",)
    assert str(second) == "a.tif: the page is given twice; give it once."


def test_an_output_that_would_be_a_scan_is_a_fault_of_its_page_only(tmp_path):
    pages = [page(tmp_path / "page.png"), page(tmp_path / "page-line.png"),
             page(tmp_path / "other.png")]
    fault, *others = names_of(pages, folder=tmp_path)
    assert str(fault) == ("page.png: page-line.png would be written over, and it is a scan; "
                          "write into another folder.")
    assert others == [("page-line-line.png",), ("other-line.png",)]
    assert names_of(pages, folder=tmp_path / "out")[0] == ("page-line.png",)


def test_scans_that_are_not_among_the_pages_are_safe_too(tmp_path):
    (planned,) = names_of([page(tmp_path / "a.png")], folder=tmp_path,
                          scans=[tmp_path / "A-LINE.png"])
    assert isinstance(planned, Fault)


@pytest.mark.parametrize("link", [os.symlink, os.link])
def test_a_scan_under_another_name_is_recognised(tmp_path, link):
    scan, out = tmp_path / "a.png", tmp_path / "out"
    scan.write_bytes(b"scan")
    out.mkdir()
    link(scan, out / "a-line.png")
    (planned,) = names_of([page(scan)], folder=out)
    assert isinstance(planned, Fault)


def test_a_linked_output_folder_is_seen_through(tmp_path):
    scans = tmp_path / "scans"
    scans.mkdir()
    (tmp_path / "out").symlink_to(scans)
    pages = [page(scans / "page.png"), page(scans / "page-line.png")]
    assert isinstance(names_of(pages, folder=tmp_path / "out")[0], Fault)


def test_a_folder_with_scans_in_it_is_not_replaced(tmp_path):
    pages = [page(tmp_path / "a.png"), page(tmp_path / "a-layered" / "b.png")]
    fault, other = names_of(pages, (Layered("folder"),), tmp_path)
    assert isinstance(fault, Fault)
    assert other == ("b-layered",)


def test_two_renditions_of_one_name_are_refused():
    with pytest.raises(Refused, match="two renditions"):
        plan_outputs([page("/s/a.tif")], (Line(), Line("indexed")), OUT)


def test_ten_thousand_pages():
    pages = [page(f"/s/{n % 100}/scan{n // 100}.tif") for n in range(10_000)]
    pages = list(dict.fromkeys(pages))
    assert len(set(names_of(pages))) == len(pages) == 10_000


def test_another_programs_pdf_is_not_replaced_for_naming_this_one_far_within(tmp_path):
    ours, theirs = tmp_path / "ours.pdf", tmp_path / "theirs.pdf"
    ours.write_bytes(b"%PDF-1.6\n1 0 obj <</Creator (Stetline)>>" + bytes(100_000))
    theirs.write_bytes(b"%PDF-1.6\n1 0 obj <</Creator (other)>>" + bytes(100_000) + b"(Stetline)")
    check_target(ours, PDF, "--book")
    with pytest.raises(Refused, match=r"theirs\.pdf is there already and is no PDF of"):
        check_target(theirs, PDF, "--book")
