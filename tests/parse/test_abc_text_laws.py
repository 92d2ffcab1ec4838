"""More laws: whatever a text holds, what is read of it hangs together."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backing.errors import BackingError
from backing.music.unfold import unfold
from backing.parse.abc import parse_abc
from backing.parse.abc.book import split_lines

pytestmark = pytest.mark.slow

VALID = Path(__file__).parent.parent / "data" / "valid"
TEXTS = [path.read_text(encoding="utf-8") for path in sorted(VALID.glob("*.abc"))]
#: Pieces of music code, whole and broken.
PIECES = [
    "A", "B2", "c/", "^F", "=f'", "_B,3/2", "z", "x2", "Z", "[CE]", "[C-E]2", "(3abc", "(3:2:2ab",
    ">", "<<", "-", "(", ")", "|", "|:", ":|", "||", "|1", ":|2", "[1", "::", "|]", "&", "{g}",
    '"G"', '"^up"', '"', "!trill!", "~", "[K:G]", "[M:3/4]", "[L:1/16]", "[V:2]", "[P:B]", "y", " ",
    "\n", "\\\n", "% c\n", "\nw:la-la\n", "\ns:!f!\n", "\nK:Am\n", "\nM:6/8\n", "k", "[", "]", "}",
    "1", ",", "/", "[Q:1/4=90]", "!D.C.!", "!segno!", "\nP:A\n", "\nV:1\n",
    "\n%%propagate-accidentals not\n",
]  # fmt: skip
MUSIC = st.lists(st.sampled_from(PIECES), max_size=40).map(
    lambda parts: "X:1\nT:any\nM:4/4\nL:1/8\nK:D\nA" + "".join(parts) + "\n"
)
#: A tune of ours with one piece put in somewhere and another place cut out.
DAMAGED = st.builds(
    lambda text, at, piece, cut, size: (
        (damaged := text[: at % len(text)] + piece + text[at % len(text) :])[: cut % len(damaged)]
        + damaged[cut % len(damaged) + size :]
    ),
    st.sampled_from(TEXTS), st.integers(0, 2000), st.sampled_from(PIECES), st.integers(0, 2000),
    st.integers(0, 5),
)  # fmt: skip
ANY = MUSIC | DAMAGED
MANY = settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def read(text):
    """The tune of a text, or the text of our error."""
    try:
        return parse_abc(text)
    except BackingError as error:
        return error.text()


@given(ANY)
@MANY
def test_bars_hold_their_notes(text):
    """In every voice the notes of a bar follow each other from 0 to its length."""
    tune = read(text)
    if isinstance(tune, str):
        assert tune.startswith("error: ")
        return
    for voice in tune.voices:
        assert len(voice.bars) == len(tune.bars)
        for bar, notes in zip(tune.bars, voice.bars, strict=True):
            at = 0
            for note in notes:
                assert note.onset == at
                assert note.length > 0
                at += note.length
            assert at == bar.length or voice is not tune.melody


@given(ANY)
@MANY
def test_chords_and_tempi_stand_inside_their_bar(text):
    """Chord symbols and tempi stand in order, and not past the end of their bar."""
    tune = read(text)
    assert tune
    for bar in () if isinstance(tune, str) else tune.bars:
        onsets = [symbol.onset for symbol in bar.chords]
        assert onsets == sorted(onsets)
        assert all(0 <= onset < bar.length for onset in onsets)
        assert all(0 <= mark.onset <= bar.length for mark in bar.tempos)


@given(ANY)
@MANY
def test_places_lie_in_the_text(text):
    """Every source and every notice points at a place that the text has."""
    tune = read(text)
    assert tune
    if isinstance(tune, str) or any("run together" in n.message for n in tune.notices):
        return  # refused, or sources count in the lines as they were put right
    lines = split_lines(text)
    places = [note.source for voice in tune.voices for bar in voice.bars for note in bar]
    places += [bar.source for bar in tune.bars]
    for source in filter(None, places):
        assert 1 <= source.line <= len(lines)
        assert 1 <= source.column < source.end <= len(lines[source.line - 1]) + 2
    for notice in tune.notices:
        if notice.line:
            assert notice.excerpt == lines[notice.line - 1]
            assert 1 <= notice.column <= len(notice.excerpt) + 1


@given(ANY)
@MANY
def test_every_line_end_reads_the_same(text):
    """LF, CR LF and CR give the same tune or the same error (ABC 2.1 clause 8)."""
    plain = read(text)
    assert read(text.replace("\n", "\r\n")) == plain
    assert read(text.replace("\n", "\r")) == plain


@given(ANY)
@MANY
def test_a_text_always_means_the_same(text):
    """Reading a text again gives an equal tune with the same notices, or the same error."""
    first, second = read(text), read(text)
    assert first == second
    if not isinstance(first, str):
        assert first.notices == second.notices


@given(ANY)
@MANY
def test_only_bars_of_the_tune_are_played(text):
    """Unfolding plays bars that the tune has, each at a time that its ending names."""
    tune = read(text)
    assert tune
    if isinstance(tune, str):
        return
    for played in unfold(tune):
        ending = tune.bars[played.index].ending
        assert played.time >= 1
        assert ending is None or played.time in ending.numbers
