"""What kind of file a player gave, and what is said where it holds no tune.

The first bytes are those of the formats' own specifications (PDF 32000-1 7.5.2, PNG 5.2, RFC
1952, ISO/IEC 14496-12, RIFF), the entries of the archives those of ECMA-376 and OpenDocument.
"""

import io
import zipfile

import pytest

from backing.errors import BackingError, FileError
from backing.files import read_book, read_tune

TUNE = "X:1\nT:Wet Rope\nL:1/8\nK:D\nDFA|\n"
PAGE = "<!DOCTYPE html>\n<html><head><title>Not found</title></head></html>\n"
STYLE = 'title = "Odd"\nuse = "Never."\nharmony = "tonic"\n[[figure]]\nmetres = "any"\n'


def archive(*names):
    """A zip archive with these entries."""
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as file:
        for name in names:
            file.writestr(name, "text")
    return data.getvalue()


def written(folder, name, data):
    """A file with this in it."""
    path = folder / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return path


@pytest.mark.parametrize(
    ("name", "data", "what", "hint"),
    [
        ("t.docx", archive("[Content_Types].xml", "word/document.xml"), "a Word document",
         "copy the tune's text into a plain text file"),
        ("t.abc", archive("[Content_Types].xml", "word/document.xml"), "a Word document", "copy"),
        ("t.odt", b"PK\x03\x04" + b"mimetypeapplication/vnd.oasis.opendocument.text",
         "an OpenDocument text", "copy the tune's text"),
        ("t.xlsx", archive("xl/workbook.xml"), "a spreadsheet", "copy"),
        ("t.zip", archive("one.abc", "two.abc"), "an archive", "unpack it"),
        ("t.gz", b"\x1f\x8b\x08\x00", "a compressed file", "unpack it"),
        ("t.doc", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old Word", "copy the tune's text"),
        ("t.rtf", b"{\\rtf1\\ansi X:1\\par K:G}", "a formatted text (RTF)", "copy"),
        ("t.pdf", b"%PDF-1.7\nX:1\n", "a PDF", "look for the tune as ABC, MusicXML or MIDI"),
        ("t.png", b"\x89PNG\r\n\x1a\n", "a picture", "look for the tune as ABC"),
        ("t.abc", b"\xff\xd8\xff\xe0\0\x10JFIF", "a picture", "look for the tune as ABC"),
        ("t.webp", b"RIFF\x24\0\0\0WEBPVP8 ", "a picture", "look for the tune as ABC"),
        ("t.wav", b"RIFF\x24\0\0\0WAVEfmt ", "a sound file", "look for the tune as ABC"),
        ("t.mp3", b"ID3\x04\0\0", "a sound file", "look for the tune as ABC"),
        ("t.html", PAGE, "a web page", "copy the tune's text"),
        ("t.abc", PAGE, "a web page instead of a tune", "download it again"),
        ("t.mid", "\n" + PAGE.lower(), "a web page instead of a tune", "download it again"),
        ("t.musicxml", PAGE, "a web page instead of a tune", "download it again"),
        ("t.toml", STYLE, "a style", "--style"), ("t.abc", STYLE, "a style", "--style"),
        ("t.txt", STYLE, "a style", "--style"), ("t.dat", STYLE, "a style", "--style"),
        ("t.toml", 'name = "D/G"\nouter = ["G#4 A#4"]\n', "a box", "--box"),
        ("t.toml", '[keys]\n"page up" = "slower"\n', "controls for", "--controls"),
        ("t.toml", 'profile = "basses-first"\n', "a profile of fingering", "--profile"),
        ("t.toml", 'colour = "red"\n', "a data file (TOML)", "give a tune"),
        ("t.dat", b"nothing known", "not a kind of file that is read here", "ABC, MusicXML"),
    ],
)  # fmt: skip
def test_files_that_hold_no_tune(tmp_path, name, data, what, hint):
    """A file of another kind is refused by its name, with what it is and what to do."""
    path = written(tmp_path, name, data)
    for read in (read_tune, read_book):
        with pytest.raises(FileError) as caught:
            read(path)
        assert caught.value.message.startswith(f"{name} is {what}")
        assert hint in caught.value.hint


@pytest.mark.parametrize("name", ["t.abc", "t.txt", "t", "t.dat"])
@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_codings(tmp_path, name, coding):
    """UTF-8 and UTF-16, with a byte order mark or without, are the same text."""
    text = TUNE.replace("Wet Rope", "Café au Quai")
    reading = read_tune(written(tmp_path, name, text.encode(coding)))
    assert (reading.tune.title, reading.notices) == ("Café au Quai", ())


@pytest.mark.slow
@pytest.mark.parametrize("name", ["t.abc", "t.txt", "t.xml", "t"])
def test_a_score_under_another_name(tmp_path, name):
    """MusicXML is read whatever the file is called."""
    from backing.parse.abc import parse_abc
    from backing.render.musicxml import render_musicxml

    score = render_musicxml(parse_abc(TUNE))
    assert read_tune(written(tmp_path, name, score)).tune.title == "Wet Rope"


@pytest.mark.parametrize("name", ["t.mid", "t.musicxml"])
def test_only_books_have_several_tunes(tmp_path, name):
    """A number or title is refused where the file is no book, never passed over."""
    from backing.parse.abc import parse_abc
    from backing.render.musicxml import render_musicxml

    data = b"MThd\0\0" if name == "t.mid" else render_musicxml(parse_abc(TUNE))
    with pytest.raises(BackingError, match="only ABC files are books") as caught:
        read_tune(written(tmp_path, name, data), "2")
    assert "--tune" in caught.value.hint


HEADER = "Y:unknown\n%%MIDI program 21\nQ:fast\n\n"
BOOK = (
    HEADER + "X:1\nT:One\nL:1/8\nK:C\nC?|\n\nX:2\nT:Two\nL:1/8\nK:C\nC|\n\nX:02\nT:Three\nK:C\nC|\n"
)


def test_a_book_says_once_what_concerns_it(tmp_path):
    """What is odd about a book (its header, numbers that stand twice) is said with the book,
    not with each of its tunes, which say what is odd in themselves."""
    path = written(tmp_path, "book.abc", BOOK)
    tunes, notices = read_book(path)
    assert len(tunes) == 3
    said = [notice.message for notice in notices]
    assert len(said) == 4
    for part, message in zip(("Y:", "MIDI", "tempo", "stand twice"), said, strict=True):
        assert part in message
    assert "--tune 2.2" in notices[-1].hint
    for wanted, own in (("1", ["?"]), ("2.1", []), ("three", [])):
        reading = read_tune(path, wanted)
        assert reading.notices == ()
        assert len(reading.tune.notices) == len(own)


def test_a_file_with_one_tune_says_all(tmp_path):
    """Where there is but one tune, what is odd about the file's header is said with it."""
    reading = read_tune(written(tmp_path, "one.abc", HEADER + TUNE))
    assert [notice.line for notice in reading.notices] == [1, 2, 3]
    assert reading.tune.notices == ()


def test_the_first_of_a_book_is_named(tmp_path):
    """Where no tune of a book is asked for the first is taken, which is said with its number."""
    (notice,) = read_tune(written(tmp_path, "book.abc", BOOK)).notices
    assert notice.message == "a book of 3 tunes; the first is taken, 1 One"
    assert "--tune" in notice.hint


def test_latin_letters_are_said_where_they_matter(tmp_path):
    """That a text is not UTF-8 is said with the book, and with the tunes that it matters to."""
    book = "X:1\nT:Plain\nL:1/8\nK:C\nC|\n\nX:2\nT:Café\nL:1/8\nK:C\nC|\n"
    path = written(tmp_path, "latin.abc", book.encode("latin-1"))
    assert read_tune(path, "1").notices == ()
    assert [notice.line for notice in read_tune(path, "2").notices] == [8]
    assert [notice.line for notice in read_book(path)[1]] == [8]
