"""The files of a site: names of their own, what a page was made from, what has gone."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.errors import FileError
from backing.files.fingerprint import fingerprint, program_mark
from backing.files.marks import marked
from backing.files.site_names import page_stems, sheet_stems
from backing.files.site_pages import (
    SitePage,
    gone_files,
    is_as_made,
    save_if_changed,
    site_page_at,
    site_pages,
    with_site_line,
)
from backing.files.site_tunes import site_tunes
from backing.render.page.index import IndexRow, RowOnBox

MADE_FROM = "0123456789abcdef" * 2
ROW = IndexRow(
    "eel.html", "Eel --> <b>", ("Élan", "x"), "jig", (RowOnBox("D/G", "D major", 2),),
    ("eel_d-g.pdf",),
)  # fmt: skip
PAGE = SitePage(MADE_FROM, ROW)
BOOK = "X:1\nT:Eel\nK:G\nGAB|\n\nX:2\nT:Eel\nK:G\nGAB|\n\nX:3\nT:***\nK:G\nGAB|\n"


# -- names ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tunes", "stems"),
    [
        ([("Eel", "1"), ("EEL!", "2"), ("Éel", "3")], ["eel", "eel-2", "eel-3"]),
        ([("Eel", "2"), ("Eel", "1"), ("Eel 1", "3")], ["eel", "eel-1-2", "eel-1"]),
        ([("", "1"), ("***", "2"), ("Tune", "3")], ["tune-1", "tune-2", "tune-3"]),
        ([("Вальс", "7"), ("Вальс two", "8")], ["tune-7", "two"]),
        ([("Index", "1"), ("con", "2"), ("Aux ж", "3")], ["index-1", "tune-con", "tune-aux"]),
        ([("Eel", ""), ("Eel", "")], ["eel", "eel-2"]),
        ([("../up", "1"), ("a/b?c#d%2e", "2")], ["up", "a-b-c-sharp-d-percent-2e"]),
    ],
)
def test_what_pages_are_called(tunes, stems):
    """After their titles; what tells equal ones apart is added, to those without letters too."""
    assert page_stems(tunes) == stems


def test_a_name_stays_whatever_else_comes_into_the_book():
    """A title's first tune is called after it alone, wherever others of that title stand."""
    before = page_stems([("Eel", "5"), ("Heron", "6")])
    after = page_stems([("?", "1"), ("Heron 5", "2"), ("Eel", "5"), ("Heron", "6"), ("Eel", "9")])
    assert before == [after[2], after[3]] == ["eel", "heron"]


@given(st.lists(st.tuples(st.text(max_size=40), st.text(max_size=8)), max_size=20))
def test_names_differ_and_need_no_escapes(tunes):
    """Whatever titles are: small ASCII letters, digits and hyphens, each name once on systems
    that take no notice of case, and none that Windows keeps for devices."""
    stems = page_stems(tunes)
    assert len(set(stems)) == len(stems)
    assert "index" not in stems
    for stem in stems:
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", stem)
        assert not re.fullmatch(r"con|prn|aux|nul|com\d|lpt\d", stem)
        assert len(stem) < 200
    assert page_stems(tunes) == stems


@given(st.lists(st.text(max_size=10), max_size=6), st.sampled_from(["a", "a-d", "d-g"]))
def test_sheets_have_names_that_no_page_has(boxes, stem):
    """Each box its own, with a sign that stands in no page's name."""
    stems = sheet_stems(stem, boxes)
    assert len(set(stems)) == len(boxes)
    assert all(re.fullmatch(r"[a-z0-9-]+_[a-z0-9-]+", name) for name in stems)


# -- tunes ---------------------------------------------------------------------------------


def test_the_tunes_of_a_book(tmp_path):
    """Each with its own text; what it is made from does not hang on what stands before it."""
    path = tmp_path / "book.abc"
    path.write_text(BOOK)
    found = site_tunes(path, tmp_path / "site")
    assert [tune.stem for tune in found.tunes] == ["eel", "eel-2", "tune-3"]
    assert found.title == "book"
    path.write_text(f"X:9\nT:Heron\nK:G\nG|\n\n{BOOK}")
    later = site_tunes(path, tmp_path / "site")
    assert later.tunes[1].content() == found.tunes[0].content()
    assert later.tunes[1].place == "book.abc, line 6"


def test_an_empty_folder_has_no_tunes(tmp_path):
    """It is said; hidden files and the site's own folder do not count."""
    (tmp_path / ".hidden.abc").write_text(BOOK)
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "copy.abc").write_text(BOOK)
    with pytest.raises(FileError, match="there are no tunes in"):
        site_tunes(tmp_path, tmp_path / "site")


# -- pages ---------------------------------------------------------------------------------


@pytest.fixture
def out(tmp_path):
    """A site with one page and its sheet, as they were made."""
    data = with_site_line("<!doctype html><p>Eel</p></html>", PAGE)
    assert save_if_changed(tmp_path / "site" / "eel.html", data)
    sheet = b"%PDF made by backing, checksum 00000000"
    save_if_changed(tmp_path / "site" / "eel_d-g.pdf", marked(sheet, ".pdf"))
    return tmp_path / "site"


def test_a_page_says_what_it_was_made_from(out):
    """In a line that no title can end."""
    assert site_page_at(out / "eel.html") == PAGE
    assert site_pages(out) == {"eel.html": PAGE}
    assert is_as_made(out, PAGE, MADE_FROM)
    assert not is_as_made(out, PAGE, MADE_FROM[::-1])
    assert (out / "eel.html").read_text().count("-->") == 2


def test_a_page_or_a_sheet_that_changed_is_not_as_it_was_made(out):
    """Nor one whose sheet is not there."""
    sheet = out / "eel_d-g.pdf"
    kept = sheet.read_bytes()
    sheet.write_bytes(kept + b"%")
    assert not is_as_made(out, PAGE, MADE_FROM)
    sheet.unlink()
    assert not is_as_made(out, PAGE, MADE_FROM)
    sheet.write_bytes(kept)
    assert is_as_made(out, PAGE, MADE_FROM)
    page = out / "eel.html"
    page.write_text(page.read_text().replace("<p>Eel", "<p>Elver"))
    assert not is_as_made(out, PAGE, MADE_FROM)


def test_the_same_bytes_are_not_written_again(out):
    """The file keeps its time, even where it is read-only."""
    page = out / "eel.html"
    page.chmod(0o444)
    before = page.stat().st_mtime_ns
    assert not save_if_changed(page, with_site_line("<!doctype html><p>Eel</p></html>", PAGE))
    assert page.stat().st_mtime_ns == before


def test_what_is_left_of_tunes_that_are_gone(out):
    """Pages and sheets that are in no page any more, and whether somebody changed them."""
    assert list(gone_files(out, [PAGE], PAGE.files)) == []
    assert list(gone_files(out, [PAGE], [])) == [("eel.html", True), ("eel_d-g.pdf", True)]
    (out / "eel.html").write_text("mine")
    assert list(gone_files(out, [PAGE], ["eel_d-g.pdf"])) == [("eel.html", False)]


@pytest.mark.parametrize(
    "row",
    [
        ["x", "Eel", [], "", [], ["../../precious.pdf"]],
        ["x", "Eel", [], "", [], ["precious.txt"]],
        ["x", "Eel", [], "", "D/G", []],
        ["x", "Eel", [], "", [["D/G", "D major", "hard"]], []],
        ["x"],
        {},
        "x",
    ],
)
def test_a_line_that_we_did_not_write_is_no_page_of_ours(tmp_path, row):
    """Least of all one that names files elsewhere as its sheets."""
    path = tmp_path / "eel.html"
    path.write_bytes(with_site_line("<p>", SitePage(MADE_FROM, row)))
    assert site_page_at(path) is None


def test_a_row_is_always_of_the_page_it_stands_in(out):
    """A copy under another name is another page."""
    (out / "copy.html").write_bytes((out / "eel.html").read_bytes())
    assert site_pages(out)["copy.html"].row.page == "copy.html"


def test_a_fingerprint_tells_pieces_apart():
    """However they are cut; the program's own is the same throughout a run."""
    assert fingerprint(b"a", b"") != fingerprint(b"", b"a")
    assert len(program_mark()) == 32
    assert program_mark() == program_mark()
