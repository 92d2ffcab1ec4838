"""A book on paper: contents with page numbers, the tunes, an index of first bars by key."""

import pytest

from backing.box.handout import handout
from backing.files import load_box
from backing.parse.abc import parse_abc
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.sheets import render_book

pytestmark = pytest.mark.slow

TUNES = [
    parse_abc(f"X:{n}\nT:{title}\nR:{dance}\nM:2/4\nL:1/8\nK:{key}\n" + music)
    for n, (title, dance, key, music) in enumerate(
        [
            ("Otter on the Sluice", "polka", "G", '"G"GB dB|"D"A2 FA|"G"GB dB|"D"A2 "G"G2|]'),
            ("The Dry Dock Door", "reel", "D", '"D"d2 fd|"A"e2 ce|"D"d2 fd|"A"ec "D"d2|]'),
            ("Ferrywoman's Lamp", "polka", "G", '"G"dB GB|"C"c2 ec|"D"A2 FA|"G"G4|]'),
            ("Nameless Lock", "", "Em", '"Em"E2 GB|"D"A2 FD|"Em"E2 GB|"Em"E4|]'),
        ],
        start=1,
    )
]
TITLES = [tune.title for tune in TUNES]


@pytest.fixture(scope="module")
def pages(look_at):
    """The words of each page of a book for two boxes."""
    boxes = [load_box("D/G"), load_box("G/C")]
    made = ([SheetPage(*page) for page in handout(tune, boxes)] for tune in TUNES)
    book = render_book("Four Tunes", made, SheetLook())
    return [
        " ".join(
            word.text for word in sorted(words, key=lambda word: (word.bottom // 4, word.left))
        )
        for _, _, words in look_at(book.files[0]).pages
    ]


def test_each_tune_has_a_page_for_each_box(pages):
    """One page of contents, two for each tune, one of first bars; each has its number."""
    assert len(pages) == 1 + 2 * len(TUNES) + 1
    for at, title in enumerate(TITLES):
        for page, box in ((2 * at + 1, "D/G"), (2 * at + 2, "G/C")):
            assert title in pages[page][: len(title) + 5]
            assert box in pages[page]
    assert [page.split()[-1] for page in pages] == [str(n) for n in range(1, len(pages) + 1)]


def test_the_contents_name_the_page_of_each_tune(pages):
    """Titles stand in the order of the book, each with dance, key and metre, and the number of
    its first page."""
    contents = [word for word in pages[0].replace(".", " ").split() if word != "Tunes"]
    places = []
    for at, title in enumerate(TITLES):
        first, last = title.split()[0], title.split()[-1]
        start = contents.index(first)
        numbers = [word for word in contents[start:] if word.isdecimal()]
        assert last in contents[start : start + 4]
        assert numbers[0] == str(2 * at + 2)
        places.append(start)
    assert places == sorted(places)
    assert "polka, G major, 2/4" in pages[0]


def test_the_first_bars_stand_by_key_and_by_the_first_notes(pages):
    """Keys in the order of their names, the lower beginnings first, with the tune's page."""
    index = pages[-1]
    assert index.startswith("First bars, by key")
    order = ["D major", "Dry Dock", "E minor", "Nameless", "G major", "Otter", "Ferrywoman"]
    places = [index.index(words) for words in order]
    assert places == sorted(places)
    assert "2" in index.split("Otter on the Sluice")[1].split()[:1]


def test_a_book_has_its_title_in_the_metadata():
    """A reader of PDF shows what it is and how many tunes are in it."""
    book = render_book("Four Tunes", [[SheetPage(tune)] for tune in TUNES], SheetLook())
    assert b"/Title(Four Tunes)" in book.files[0]
    assert b"/Subject(4 tunes)" in book.files[0]


def test_as_pictures_a_book_is_a_file_for_each_page():
    """PNG and SVG have no pages: contents, tunes and index are files of their own."""
    pages = [[SheetPage(tune)] for tune in TUNES]
    for kind, start in (("svg", b"<svg"), ("png", b"\x89PNG")):
        book = render_book("Four Tunes", pages, SheetLook(), kind)
        assert len(book.files) == 1 + len(TUNES) + 1
        assert all(file.startswith(start) for file in book.files)
