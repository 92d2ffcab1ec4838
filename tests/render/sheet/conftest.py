"""Sheets to look into, made once: the examples and tunes that are hard to set, in each look."""

import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree

import pytest

from backing.box.handout import handout
from backing.files import load_box, read_tune
from backing.files.tunes import read_book
from backing.harmony.source import with_chords_from
from backing.music.tune import Tune
from backing.parse.abc import tune_of
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.sheets import render_sheet

ROOT = Path(__file__).parents[3]
UGLY = ROOT / "tests" / "data" / "sheets" / "ugly.abc"
LOOKS = {
    "plain": SheetLook(),
    "marks": SheetLook(air=True, fingers=True, hard=True),
    "large": SheetLook(large=True),
    "notes": SheetLook(buttons=False),
    "buttons": SheetLook(kind="strip"),
    "buttons, large": SheetLook(kind="strip", large=True),
    "grid": SheetLook(kind="grid"),
    "letter": SheetLook(paper="letter"),
}


class Word(NamedTuple):
    """A word on a page, in points from its upper left corner."""

    left: float
    top: float
    right: float
    bottom: float
    text: str


class Looked(NamedTuple):
    """A sheet, as its PDF and as words, page by page, each page with its width and height."""

    data: bytes
    pages: tuple[tuple[float, float, tuple[Word, ...]], ...]

    @property
    def words(self) -> list[Word]:
        """The words of all pages."""
        return [word for page in self.pages for word in page[2]]

    @property
    def text(self) -> str:
        """All words in the order of the file."""
        return " ".join(word.text for word in self.words)


def page_for(tune: Tune, box: str = "D/G") -> SheetPage:
    """The page of a tune for a box, chords found where it has none."""
    layout = load_box(box)
    tune, _ = with_chords_from(tune, None, layout.all_chords)
    return SheetPage(*handout(tune, [layout])[0])


def looked_at(data: bytes) -> Looked:
    """A PDF as poppler reads it."""
    text = _run("pdftotext", "-bbox", "-", "-", data=data).decode("utf-8", errors="replace")
    text = re.sub(r"<!DOCTYPE[^>]*>|xmlns=\"[^\"]*\"", "", text)
    text = re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f]", "", text)
    pages = ElementTree.fromstring(text).iter("page")
    return Looked(data, tuple(map(_page, pages)))


def _page(page: ElementTree.Element) -> tuple[float, float, tuple[Word, ...]]:
    def place(element: ElementTree.Element, name: str) -> float:
        return float(element.get(name, "nan"))

    words = tuple(
        Word(*(place(w, n) for n in ("xMin", "yMin", "xMax", "yMax")), w.text or "")
        for w in page.iter("word")
    )
    return place(page, "width"), place(page, "height"), words


def _run(program: str, *arguments: str, data: bytes) -> bytes:
    if shutil.which(program) is None:
        pytest.skip(f"{program} is not installed (Debian: poppler-utils, mupdf-tools)")
    return subprocess.run([program, *arguments], input=data, capture_output=True, check=True).stdout


@pytest.fixture(scope="session")
def page() -> Callable[..., SheetPage]:
    """The page of a tune for a box."""
    return page_for


@pytest.fixture(scope="session")
def look_at() -> Callable[[bytes], Looked]:
    """A PDF as words."""
    return looked_at


@pytest.fixture(scope="session")
def tunes() -> dict[str, Tune]:
    """The examples, and tunes that are hard to set, by their titles."""
    found = [read_tune(path).tune for path in sorted((ROOT / "examples").glob("*.abc"))
             if "book" not in path.name]  # fmt: skip
    found += [tune_of(text) for text in read_book(UGLY)[0]]
    return {tune.title: tune for tune in found}


@pytest.fixture(scope="session")
def ugly() -> dict[str, Tune]:
    """The tunes that are hard to set, by their titles."""
    return {text.title: tune_of(text) for text in read_book(UGLY)[0]}


@pytest.fixture(scope="session")
def fitted(tunes: dict[str, Tune]) -> dict[str, SheetPage]:
    """The page of each tune for a D/G box."""
    return {title: page_for(tune) for title, tune in tunes.items()}


@pytest.fixture(scope="session", params=LOOKS)
def sheets(
    request: pytest.FixtureRequest, fitted: dict[str, SheetPage]
) -> tuple[SheetLook, dict[str, Looked]]:
    """A look, and each of the tunes in it, by their titles."""
    look = LOOKS[request.param]
    return (
        look,
        {title: looked_at(render_sheet([p], look).files[0]) for title, p in fitted.items()},
    )
