"""Laws that hold for every ABC text, good or bad."""

import importlib.util
import random
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backing.errors import BackingError
from backing.music.unfold import unfold
from backing.parse.abc import parse_abc, split_book, tune_of
from backing.render.abc import render_abc

pytestmark = pytest.mark.slow

EXAMPLES = sorted((Path(__file__).parent.parent.parent / "examples").glob("*.abc"))
TEXTS = [path.read_text(encoding="utf-8") for path in EXAMPLES]
SIGNS = "ABCDEFGabcdefgzxyZX|:[]()<>{}^_=,'/-0123456789 \"!+~.&$*\\%\n\tKLMQPVUwsmI"
HEAD = "X:1\nM:6/8\nL:1/8\nK:D\n"


def collection():
    """The files of ryansMammoth, a collection of 1,059 tunes inside the music21 package."""
    spec = importlib.util.find_spec("music21")
    return sorted(Path(spec.submodule_search_locations[0], "corpus", "ryansMammoth").glob("*.abc"))


def read(text):
    """Read every tune of a text; only our own errors may come of it."""
    said = ""
    try:
        for tune in split_book(text):
            unfold(tune_of(tune))
    except BackingError as error:
        said = error.text()
    assert not said or said.startswith("error: ")


@given(st.text(SIGNS, max_size=200))
@settings(max_examples=400, deadline=None)
def test_any_music_is_read_or_refused(text):
    """Any run of signs is read or refused with an error of ours."""
    read(HEAD + text)


@given(st.text(max_size=120))
@settings(max_examples=200, deadline=None)
def test_any_text_is_read_or_refused(text):
    """Any text at all is read or refused with an error of ours."""
    read(text)
    read("X:1\nK:" + text)
    read("X:1\nV:1\nK:C\nV:" + text + "\nABc|")


@given(st.sampled_from(TEXTS), st.randoms(use_true_random=False))
@settings(max_examples=200, deadline=None)
def test_damaged_tunes_are_read_or_refused(text, chance):
    """A tune with some signs changed, lost or doubled is read or refused by us."""
    signs = list(text)
    for _ in range(chance.randint(1, 12)):
        at = chance.randrange(len(signs))
        signs[at] = chance.choice(["", chance.choice(SIGNS), signs[at] * 2])
    read("".join(signs))


@given(st.lists(st.sampled_from(["A2", "B", "(3abc", "z", "c>d", "[DFA]2", "{e}f", "^G/", "x3"]),
                min_size=1, max_size=20))  # fmt: skip
@settings(max_examples=200, deadline=None)
def test_bars_last_as_long_as_their_notes(parts):
    """The notes of a bar follow each other without a gap and make its length."""
    tune_text = HEAD + "|".join(["".join(parts[at : at + 3]) for at in range(0, len(parts), 3)])
    try:
        tune = parse_abc(tune_text)
    except BackingError:
        return
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        at = 0
        for note in notes:
            assert note.onset == at
            at += note.length
        assert at == bar.length


def test_reading_twice_gives_the_same_tune():
    """A tune is a value: read twice, it is equal."""
    for text in TEXTS:
        assert parse_abc(text) == parse_abc(text)


def test_a_collection_against_another_reader():
    """Pitches and lengths of 40 tunes of ryansMammoth are those that music21 reads.

    Tunes with accidentals in the body are left out, since music21 does not carry one
    through its bar; so are broken rhythms with a sign between (`F>uG`), which it misses.
    """
    import music21

    files = [path for path in collection() if _plain(path)]
    for path in random.Random(21).sample(files, 40):
        ours = [
            (note.length * 4, sorted(pitch.midi for pitch in note.pitches))
            for bar in parse_abc(path.read_text(encoding="utf-8", errors="replace")).melody.bars
            for note in bar
        ]
        score = music21.converter.parse(path, format="abc", forceSource=True)
        theirs = [
            (music21.common.opFrac(item.quarterLength), sorted(p.midi for p in item.pitches))
            for item in score.flatten().notesAndRests
            if item.quarterLength and not isinstance(item, music21.harmony.ChordSymbol)
        ]
        assert ours == theirs, path.name


def _plain(path):
    body = path.read_text(encoding="utf-8", errors="replace").split("K:", 1)[1]
    return not re.search(r"[\^_=xZy&{~!]|K:|[<>][uvTHM.]", body)


@pytest.mark.parametrize("number", ["7\\\\", "7\\ \\", "\\7"])
def test_a_number_has_no_backslash(number):
    """Backslashes at a tune's number are left out (ABC 2.1 clause 3.1.1: it is a whole number);
    written at the end of its line they would join the next field to it."""
    tune = parse_abc(f"X:{number}\nT:The Slipped Sign\nK:D\nABc|\n")
    assert tune.number.strip() == "7"
    assert parse_abc(render_abc(tune)).title == "The Slipped Sign"
