"""Verses put below the lines of an ABC text."""

import importlib.util
import random
from pathlib import Path

import pytest

from backing.box.fingering import finger
from backing.box.line import line_of
from backing.box.under_notes import with_buttons, without_buttons
from backing.errors import BackingError
from backing.files import load_box
from backing.music.tune import Tune
from backing.parse.abc import TuneText, parse_abc, split_book, tune_of
from backing.render.abc import render_abc
from backing.render.abc_verses import write_verses

HEAD = "X:1\nT:Verses\nM:4/4\nL:1/8\nK:D\n"


def buttoned(tune: Tune) -> Tune:
    """The tune with the buttons of a D/G."""
    return with_buttons(tune, finger(line_of(tune), load_box("D/G")))


def put_below(body: str) -> str:
    """The body of a tune with its buttons below its lines."""
    text = next(split_book(HEAD + body))
    tune = tune_of(text)
    written = write_verses(text.lines, text.first, tune, buttoned(tune))
    assert parse_abc(written) == buttoned(tune)
    return written.removeprefix(HEAD)


def test_the_rest_is_untouched():
    """Two lines stand below each line of music, what is pushed above what is pulled; all other
    lines stay to the letter."""
    assert put_below(
        "% as she played it\nD>E F2 | (3FED A2 |  % here\nP:B\nz4 d4-|d2 z2 d4|]\nW:words\n"
    ) == (
        "% as she played it\nD>E F2 | (3FED A2 |  % here\nw:3 * * * * 3 5\nw:* 3 2' 2' 3 * *\n"
        "P:B\nz4 d4-|d2 z2 d4|]\nw:6 * 6\nw:*\nW:words\n"
    )


def test_lyrics_stay_first():
    """Lyrics stay above the buttons, also the ones that go on in another line; where a line of
    music has fewer verses than another, empty ones hold their place."""
    assert put_below(
        "D2E2 A4|\nw:first\n+:line of\ns:!trill!\n% between\nw:* two\nA4 A4|\n\n"
    ).startswith(
        "D2E2 A4|\nw:first\n+:line of\ns:!trill!\n% between\nw:* two\nw:3 * 5\nw:* 3 *\n"
        "A4 A4|\nw:*\nw:*\nw:5 5\nw:*\n"
    )


def test_buttons_take_the_place_of_buttons():
    """Buttons that stand there are taken away; writing them twice is writing them once."""
    once = put_below("D2F2 A4|\nw:one two three\nD2E2 F4|\n")
    assert put_below(once) == once
    other = once.replace("w:3 4 5", "w:2' 4' 5'").replace("w:*\nw:3 * 4", "w:*\nw:8 * 8")
    assert other != once
    assert put_below(other) == once


def test_a_rest_alone_has_none():
    """A line without a note has nothing below it."""
    assert put_below("z8|\nD4 E4|\n") == "z8|\nD4 E4|\nw:3 *\nw:* 3\n"


def test_all_on_the_push():
    """A tune that is all on the push has that line alone."""
    assert put_below("D4 F4|\nA8|\n") == "D4 F4|\nw:3 4\nA8|\nw:5\n"


def test_grace_notes_and_chords():
    """Grace notes take no syllable, a chord takes one, tied notes one each (ABC 2.1 clause
    5.1)."""
    assert put_below("{e}D2 [DF]2 {gf}A4-|A4 e4|\n") == (
        "{e}D2 [DF]2 {gf}A4-|A4 e4|\nw:3 3+4 5 * *\nw:* * * * 7\n"
    )


def collection() -> list[TuneText]:
    """A seeded sample of 100 tunes of the collections that the music21 package carries."""
    found = importlib.util.find_spec("music21")
    if found is None or not found.submodule_search_locations:
        pytest.skip("the music21 package is not installed")
    corpus = Path(found.submodule_search_locations[0], "corpus")
    texts = [
        text
        for name in ("ryansMammoth", "airdsAirs", "miscFolk", "essenFolksong")
        for path in sorted((corpus / name).glob("*.abc"))[:40]
        for text in split_book(path.read_text(encoding="utf-8", errors="replace"))
    ]
    return random.Random(11).sample(texts, 100)


@pytest.mark.slow
def test_a_collection():
    """Buttons below the lines of a seeded sample of collections read as the tune with its
    buttons, and nothing else of the tune is changed."""
    for text in collection():
        try:
            tune = tune_of(text)
        except BackingError:
            continue
        wanted = buttoned(tune)
        head = [line for _, line in text.header]
        lines = write_verses(text.lines, text.first, tune, wanted)
        again = parse_abc("\n".join([*head, "", lines]) if head else lines)
        assert again.voices == wanted.voices == parse_abc(render_abc(wanted)).voices, text.title
        assert without_buttons(again).voices == tune.voices, text.title
