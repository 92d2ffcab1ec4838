"""Sheets as other programs see them: poppler and mupdf open them, no text lies on another, and
title, chords and buttons are there in order."""

import re
import shutil
import subprocess
from collections.abc import Callable
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

from backing.box.under_notes import under_notes
from backing.music.tune import Tune
from backing.render.chord_grid import chord_grid
from backing.render.sheet.boxes import printed_chord
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.sheets import render_sheet

pytestmark = pytest.mark.slow
#: What poppler and mupdf say of every file by Typst: of its tags, and of its colour profile.
KNOWN = ("Suspects object is wrong type", "ICC")


def across(one: Any, other: Any) -> bool:
    """Whether two words lie on each other: by more than half a point across, and more than a
    third of the lower one's height, for a word's box is higher than its letters."""
    wide = min(one.right, other.right) - max(one.left, other.left)
    high = min(one.bottom, other.bottom) - max(one.top, other.top)
    return wide > 0.5 and high > 0.35 * min(one.bottom - one.top, other.bottom - other.top)


def test_no_word_lies_on_another_or_off_the_page(sheets):
    """In every look of every tune, as poppler reads it, no two words overlap, and none leaves
    the page."""
    faults = []
    for title, sheet in sheets[1].items():
        for width, height, words in sheet.pages:
            faults += [
                (title, word)
                for word in words
                if word.left < 0 or word.top < 0 or word.right > width or word.bottom > height
            ]
            faults += [(title, one, two) for one, two in combinations(words, 2) if across(one, two)]
    assert faults == []


def test_the_title_is_there(sheets):
    """Every sheet begins with its title (all letters that the fonts have, in their order)."""
    for title, sheet in sheets[1].items():
        if title.isascii():
            assert sheet.text.startswith(title[:60])


def test_every_chord_is_there_in_order(sheets, fitted):
    """The chord letters of a sheet, line by line and from left to right, are those of the tune;
    in a grid, where endings stand under each other, every one is there."""
    look, found = sheets
    for title, sheet in found.items():
        tune = fitted[title].tune
        if not title.isascii():  # poppler turns the order of lines beside a title in Hebrew
            continue
        if look.kind == "grid":
            cells = [c for part in chord_grid(tune) for row in part.rows for c in row.cells]
            left = "".join(rows_of(sheet))
            for chord in (printed_chord(word) for cell in cells for word in cell.words):
                assert chord in left, (title, chord)
                left = left.replace(chord, "", 1)
            continue
        text, at = " ".join(rows_of(sheet)), 0
        for chord in (printed_chord(s.text) for bar in tune.bars for s in bar.chords):
            assert text.find(chord, at) >= 0, (title, chord)
            at = text.find(chord, at) + len(chord)


def rows_of(sheet: Any) -> list[str]:
    """The words of a sheet, joined, that stand on one line, from the top."""
    rows: list[str] = []
    for _, _, words in sheet.pages:
        lines: list[list[Any]] = []
        for word in sorted(words, key=lambda w: w.bottom):
            if lines and word.bottom - lines[-1][0].bottom < 4:
                lines[-1].append(word)
            else:
                lines.append([word])
        rows += [
            "".join(w.text for w in sorted(line, key=lambda w: w.left)).replace("\u00a0", "")
            for line in lines
        ]
    return rows


def test_every_button_is_there_in_order(fitted, look_at):
    """On a page of staff notation the buttons of the push line and of the pull line stand line
    by line, from left to right, as the fingering has them."""
    for title, one in fitted.items():
        if title.startswith(("Three Verses", "Rests under", "Characters")):  # other words there
            continue
        assert one.fit is not None
        sheet = look_at(render_sheet([one], SheetLook()).files[0])
        under = [u for bar in under_notes(one.tune, one.fit.fingering) for u in bar]
        for name, wanted in (
            ("push", [u.push for u in under if u.push]),
            ("pull", [u.pull for u in under if u.pull]),
        ):
            assert "".join(_row(sheet, name)) == "".join(wanted), (title, name)


def _row(sheet: Any, name: str) -> Any:
    """The words right of each of these names of rows."""
    for _, _, words in sheet.pages:
        legend = {word.bottom for word in words if word.text == "push,"}
        for label in sorted(words, key=lambda w: w.bottom):
            if label.text.strip("\u00a0") != name or label.bottom in legend:
                continue
            inside = [
                w for w in words if w.left > label.left and abs(w.bottom - label.bottom) < 1.5
            ]
            for word in sorted(inside, key=lambda w: w.left):
                yield from word.text.replace("\u00a0", " ").split()


@pytest.mark.parametrize("program", ["pdfinfo", "pdftoppm", "mutool"])
def test_poppler_and_mupdf_open_every_page(program, fitted, tmp_path: Path):
    """poppler and mupdf draw every page without an error; what they say of every file by Typst,
    of its tags and its colour profile, is left out."""
    if shutil.which(program) is None:
        pytest.skip(f"{program} is not installed (Debian: poppler-utils, mupdf-tools)")
    path = tmp_path / "all.pdf"
    path.write_bytes(render_sheet(list(fitted.values()), SheetLook()).files[0])
    call = {
        "pdfinfo": ["pdfinfo", str(path)],
        "pdftoppm": ["pdftoppm", "-r", "20", str(path), str(tmp_path / "p")],
        "mutool": ["mutool", "draw", "-r", "20", "-o", str(tmp_path / "m%d.png"), str(path)],
    }[program]
    done = subprocess.run(call, capture_output=True, text=True, check=True)
    said = [
        line for line in done.stderr.splitlines()
        if line.strip() and not any(known in line for known in KNOWN)
        and not line.startswith("page ")
    ]  # fmt: skip
    assert said == []


def test_the_metadata(page: Callable[..., SheetPage], tunes: dict[str, Tune], tmp_path: Path):
    """pdfinfo tells title, author, key and box, and the keywords that are asked for; all fonts
    are embedded."""
    if shutil.which("pdfinfo") is None:
        pytest.skip("pdfinfo is not installed (Debian: poppler-utils)")
    path = tmp_path / "mare.pdf"
    one = page(tunes["The Towpath Mare"])
    path.write_bytes(render_sheet([one], SheetLook(), keywords=["reed"]).files[0])
    told = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True).stdout
    facts = dict(re.findall(r"(?m)^(\w+): +(.*)$", told))
    assert facts["Title"] == "The Towpath Mare"
    assert facts["Author"] == "The Lock Cottage Band"
    assert facts["Keywords"] == "reed"
    assert facts["Subject"] == "hornpipe, D major, for D/G"
    fonts = subprocess.run(["pdffonts", path], capture_output=True, text=True, check=True).stdout
    rows = fonts.splitlines()[2:]
    assert rows
    assert all(" yes " in row for row in rows)


def test_a_tune_of_32_bars_takes_one_page(sheets):
    """Each of the tunes, none longer than 32 bars, takes one page in usual print, with buttons
    as well as without."""
    look, found = sheets
    if not look.large:
        assert {title: len(sheet.pages) for title, sheet in found.items()} == dict.fromkeys(
            found, 1
        )
