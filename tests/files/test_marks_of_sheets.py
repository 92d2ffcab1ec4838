"""The mark in sheets: PDF, PNG and SVG."""

import struct
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree
from zlib import crc32

import pytest
from PIL import Image

from backing.files.marks import CHANGED, NOT_OURS, UNSEALED, marked, why_keep
from backing.parse.abc import parse_abc
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.sheets import render_sheet

pytestmark = pytest.mark.slow
KINDS = ("pdf", "png", "svg")


@pytest.fixture(scope="module")
def bare() -> dict[str, bytes]:
    """A sheet in each kind of file, not marked yet."""
    page = SheetPage(parse_abc("X:1\nT:Mark\nM:4/4\nL:1/8\nK:D\nd8|\n"))
    return {
        kind: render_sheet([page], SheetLook(), kind, keywords=[UNSEALED]).files[0]
        for kind in KINDS
    }


def why(folder: Path, kind: str, data: bytes) -> str:
    """Why a file with these bytes is kept."""
    path = folder / f"sheet.{kind}"
    path.write_bytes(data)
    return why_keep(path)


@pytest.mark.parametrize("kind", KINDS)
def test_ours_and_others(tmp_path, bare, kind):
    """A marked sheet is known for ours; the same without a mark, and an empty file, are not."""
    other = bare[kind].replace(UNSEALED.encode(), b"-" * len(UNSEALED))
    assert why(tmp_path, kind, marked(bare[kind], f".{kind}")) == ""
    assert why(tmp_path, kind, other) == NOT_OURS
    assert why(tmp_path, kind, b"") == NOT_OURS


@pytest.mark.parametrize("kind", KINDS)
def test_a_changed_sheet_is_seen(tmp_path, bare, kind):
    """Whichever byte is another, or one more at the end: the sheet is not as we made it."""
    whole = marked(bare[kind], f".{kind}")
    step = max(len(whole) // 40, 1)
    for place in range(0, len(whole) - 1, step):
        other = bytearray(whole)
        other[place] ^= 1
        assert why(tmp_path, kind, bytes(other)) in {CHANGED, NOT_OURS}, place
    assert why(tmp_path, kind, whole + b"x") == CHANGED


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_data_is_marked_the_same(bare, kind):
    """Marking is a function of the bytes, and a marked file is not marked again differently."""
    assert marked(bare[kind], f".{kind}") == marked(bare[kind], f".{kind}")


def test_a_png_stays_a_png(bare):
    """Every chunk of the marked PNG has the CRC that PNG asks for (W3C Recommendation, clause
    5.3), the text chunk stands before the last one, and Pillow reads the same picture."""
    data = marked(bare["png"], ".png")
    at, kinds = 8, []
    while at < len(data):
        length, kind = struct.unpack(">I4s", data[at : at + 8])
        body = data[at + 8 : at + 8 + length]
        assert struct.unpack(">I", data[at + 8 + length : at + 12 + length])[0] == crc32(
            kind + body
        )
        kinds.append(kind)
        at += 12 + length
    assert kinds[0] == b"IHDR"
    assert kinds[-2:] == [b"tEXt", b"IEND"]
    with Image.open(BytesIO(data)) as one, Image.open(BytesIO(bare["png"])) as two:
        one.load()
        assert one.text["Comment"].startswith("made by backing, checksum ")
        assert one.tobytes() == two.tobytes()


def test_what_is_no_png_is_left_as_it_is():
    """Bytes that are no whole PNG get no mark."""
    for data in (b"", b"\x89PNG\r\n\x1a\n", b"text"):
        assert marked(data, ".png") == data


def test_a_pdf_keeps_its_length(bare):
    """In a PDF the checksum takes the place of eight zeros: no offset in it moves."""
    assert len(marked(bare["pdf"], ".pdf")) == len(bare["pdf"])


def test_an_svg_stays_well_formed(bare):
    """The mark of an SVG is a comment after the last element."""
    data = marked(bare["svg"], ".svg")
    ElementTree.fromstring(data)
    assert data.rstrip().endswith(b"-->")
