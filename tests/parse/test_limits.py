"""Readers end soon: what is too much is refused with its limit, and work grows with the notes."""

from fractions import Fraction

import pytest

from backing.errors import TuneError
from backing.harmony import heard, slots
from backing.harmony.suggest import suggest_chords
from backing.music.tune import Tune
from backing.music.unfold import unfold
from backing.parse.abc import limits, parse_abc
from backing.parse.midi import parse_midi
from backing.parse.midi import tune as midi_tune
from backing.parse.musicxml import parse_musicxml

HEAD = "X:1\nT:Much\nM:4/4\nL:1/8\nK:G\n"
NO_MEASURE = "".join(f"A/{number} " for number in range(99_991, 99_971, -2))

SLOW = pytest.mark.slow


def refused(text: str) -> TuneError:
    """The error that a text ends in."""
    with pytest.raises(TuneError) as raised:
        unfold(parse_abc(text))
    return raised.value


# -- ABC ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "said", "line"),
    [
        (HEAD + "A" * 1_000_000, "longer than 1,000,000 signs", 6),
        (HEAD + "N:" + "a" * 600_000 + "\nN:" + "a" * 600_000 + "\nA|", "1,000,000 signs", 7),
        pytest.param(HEAD + "A8|" + "Z1000|" * 20, "more than 20,000 bars", 6, marks=SLOW),
        (HEAD + "".join(f"V:{n}\nA8|\n" for n in range(101)), "more than 100 voices", 206),
        (HEAD + "A|" + "&&A|" * 9, "more than 8 voices in one bar", 6),
        (HEAD + NO_MEASURE, "no common measure", 6),
        (HEAD + "A2048 A2049", "longer than 256 semibreves", 6),
        (HEAD + "A2000>B2000", "longer than 256 semibreves", 6),
        ("X:1\nT:a\n" + ("+:" + "b" * 99 + "\n") * 203 + "K:G\nA|", "more than 20,000 signs", 205),
        ("X:1\nm:~A=B\nK:G\n" + "A" * 20_001, "longer than 20,000 signs", 4),
    ],
    ids=lambda value: value if isinstance(value, str) and len(value) < 40 else "",
)
def test_what_is_too_much(text, said, line):
    """A text that is past a limit is refused with the limit, at its line."""
    error = refused(text)
    assert said in error.message
    assert error.line == line


def test_too_many_notes(monkeypatch):
    """Notes and rests of all voices are counted together."""
    monkeypatch.setattr(limits, "MOST_NOTES", 6)
    assert parse_abc(HEAD + "V:1\nA4 z4|\nV:2\nA4 z4|\n")
    error = refused(HEAD + "V:1\nA4 z4|z8|\nV:2\nA4 z4|A4 B4|\n")
    assert error.message == "the tune has more than 6 notes and rests: split the tune in two"
    assert (error.line, error.column) == (9, 10)


@pytest.mark.slow
def test_too_many_bars_in_all_voices():
    """A voice of one bar is filled up to all the bars of the first, so both count."""
    others = "".join(f"V:{n}\nA8|\n" for n in range(2, 25))
    error = refused(f"{HEAD}V:1\nA8|{'Z999|' * 18}\n{others}")
    assert "all voices together have more than 400,000 bars" in error.message


def test_a_hundred_verses():
    """Lines below the music have a limit; what is left out is said once."""
    tune = parse_abc(HEAD + "AB|\n" + "w:la la\n" * 120 + "s:!f!\n" * 120)
    first = tune.melody.bars[0][0]
    assert (len(first.lyrics), len(first.decorations)) == (100, 100)
    said = [notice.message for notice in tune.notices if "more than 100" in notice.message]
    assert said == [
        "more than 100 verses: the others are left out",
        "more than 100 symbol lines: the others are left out",
    ]


def test_verses_that_go_on_are_put_once():
    """What goes on from a line of lyrics or symbols is put where that line ended (clause 3.3)."""
    tune = parse_abc(HEAD + "ABcd|efga|\nw:one two |\n+:three\ns:* !f!\n+:!p!\n+:| !ff!\n")
    notes = [note for bar in tune.melody.bars for note in bar]
    assert [note.lyrics for note in notes[:5]] == [("one",), ("two",), (), (), ("three",)]
    assert [note.decorations for note in notes[:5]] == [(), ("f",), ("p",), (), ("ff",)]


def test_a_thousand_odd_places():
    """Past a thousand notices the rest is counted."""
    tune = parse_abc(HEAD + "A" + "}" * 1_500)
    assert len(tune.notices) < 1_010
    assert any(notice.message.startswith("500 more places are odd") for notice in tune.notices)


@pytest.mark.parametrize(("signs", "open_"), [(1_000, False), (1_001, True)])
def test_a_bracket_that_does_not_close_soon(signs, open_):
    """A bracket counts as open when it is not closed within 1,000 signs: the reader does not
    look for its end through the whole line."""
    tune = parse_abc(HEAD + "{" + "c" * signs + "}A|")
    said = [notice.message for notice in tune.notices]
    assert ("a '{' is not closed" in said) is open_
    tune = parse_abc(HEAD + "[r:" + " " * (signs - 1) + "c]A|")
    assert (tune.texts == ()) is open_


def test_too_many_macros():
    """A hundred macros are read: more are refused in the header; in the body, where macros are
    rare, they are left out, which is said."""
    macros = "".join(f"m:~{n}x=A\n" for n in range(103))
    assert refused(HEAD.replace("K:G\n", macros + "K:G\n")).message == "more than 100 macros"
    tune = parse_abc(HEAD + macros + "~99x ~100x|\n")
    assert [notice.message for notice in tune.notices].count("more than 100 macros") == 3
    assert [str(n.pitches[0]) for n in tune.notes()] == ["A4"]


def test_a_text_that_goes_on_and_on():
    """A field in the body goes on for so many signs; what is more is left out, which is said."""
    tune = parse_abc(HEAD + "AB|\nW:a\n" + ("+:" + "b" * 99 + "\n") * 203)
    assert len(tune.texts[0][1]) == 1 + 202 * 100
    said = [notice.line for notice in tune.notices if "more than 20,000 signs" in notice.message]
    assert said == [210]


@pytest.mark.slow
def test_many_bars_of_wrong_length():
    """Each of thousands of wrong bars is said, and a short last bar that completes the pickup
    is not."""
    tune = parse_abc(HEAD + "A2|" + "A7|" * 3_000 + "A6|]")
    odd = [notice for notice in tune.notices if "lasts 7/8" in notice.message]
    assert len(odd) == 3_000
    assert not any("lasts 6/8" in notice.message for notice in tune.notices)


@pytest.mark.slow
def test_many_pickups_in_a_row():
    """Pickups one after the other belong to the section of the full bar that they lead into."""
    tune = parse_abc(HEAD + "A8|" + "A:|" * 2_000 + "B8|]")
    assert [(s.name, s.start, s.stop) for s in tune.sections] == [("A", 0, 2), ("B", 2, 2_002)]


def test_a_tune_that_lasts_too_long():
    """Bars may be long, but all of them as played have a limit."""
    unfold(parse_abc("X:1\nM:none\nL:1\nK:C\n" + "|:A250:|" * 100))
    error = refused("X:1\nM:none\nL:1\nK:C\n" + "|:A250:|" * 101)
    assert error.message == "the tune lasts longer than 50,000 semibreves"
    assert "the repeat signs" in error.hint


# -- chords -----------------------------------------------------------------------


def work(count: int, monkeypatch: pytest.MonkeyPatch) -> int:
    """How many lengths are looked at to find chords for so many notes without a bar line."""
    calls = []
    plain = heard.on_grid
    monkeypatch.setattr(heard, "on_grid", lambda length: calls.append(length) or plain(length))
    suggest_chords(parse_abc(HEAD + "A" * count))
    monkeypatch.undo()
    return len(calls)


@pytest.mark.slow
def test_chords_without_bar_lines(monkeypatch):
    """Twice as many notes in one bar take twice the work, not four times."""
    assert 0 < work(800, monkeypatch) <= 2.1 * work(400, monkeypatch)


def test_too_many_half_bars(monkeypatch):
    """Chords are found for so many half bars; the others are not even looked at."""
    monkeypatch.setattr(slots, "MOST_SLOTS", 10)
    suggest_chords(parse_abc(HEAD + "A8|" * 5))
    for music in ("A8|" * 6, "A2048|"):
        with pytest.raises(TuneError, match="more than 10 half bars") as raised:
            suggest_chords(parse_abc(HEAD + music))
        assert raised.value.hint == "split it in two, or write its chords into it"


# -- MIDI -------------------------------------------------------------------------


def midi(events: bytes) -> bytes:
    """A file of one track, 480 ticks a quarter."""
    track = events + bytes.fromhex("00FF2F00")
    head = bytes.fromhex("4D546864 00000006 0000 0001 01E0 4D54726B")
    return head + len(track).to_bytes(4, "big") + track


@pytest.mark.slow
def test_many_notes_at_one_tick():
    """Thousands of notes at one tick are one stroke, each key once."""
    keys = [40 + n % 60 for n in range(6_000)]
    on = b"".join(bytes([0, 0x90, key, 80]) for key in keys)
    off = b"".join(bytes([0, 0x80, key, 0]) for key in keys)
    tune = parse_midi(midi(on + bytes.fromhex("8360 B00740") + off))
    (note,) = [note for bar in tune.melody.bars for note in bar if note.pitches]
    assert [pitch.midi for pitch in note.pitches] == list(range(40, 100))


def test_too_many_notes_in_midi(monkeypatch):
    """The melody of a MIDI file has a limit of its own."""
    monkeypatch.setattr(midi_tune, "MOST_NOTES", 5)
    note = bytes.fromhex("00903C50 8170803C40")
    assert parse_midi(midi(note * 5))
    with pytest.raises(TuneError, match="channel 1 has more than 5 notes") as raised:
        parse_midi(midi(note * 6))
    assert "--voice" in raised.value.hint


# -- MusicXML ---------------------------------------------------------------------


def score(*parts: str) -> bytes:
    """A score of parts with one bar each."""
    rows = "".join(
        f'<part id="P{n}"><measure number="1">{bar}</measure></part>' for n, bar in enumerate(parts)
    )
    names = "".join(
        f'<score-part id="P{n}"><part-name>Box</part-name></score-part>' for n in range(len(parts))
    )
    return f"<score-partwise><part-list>{names}</part-list>{rows}</score-partwise>".encode()


def note(duration: int, inside: str = "") -> str:
    """A note; a quarter lasts 1 where nothing else is said."""
    return (
        "<note><pitch><step>C</step><octave>5</octave></pitch>"
        f"<duration>{duration}</duration>{inside}</note>"
    )


def read(bar: str) -> Tune:
    """A tune of one bar."""
    return parse_musicxml(score(bar))


@pytest.mark.slow
def test_parts_of_one_name():
    """Parts of the same name are numbered; more than a hundred are refused."""
    tune = parse_musicxml(score(*[note(4)] * 3))
    assert [voice.name for voice in tune.voices] == ["Box", "Box 2", "Box 3"]
    with pytest.raises(TuneError, match="more than 100 voices"):
        parse_musicxml(score(*[note(4)] * 101))


def test_divisions_without_a_common_measure():
    """Lengths that have no common measure are refused with the bar."""
    bar = "".join(
        f"<attributes><divisions>{number}</divisions></attributes>" + note(1000)
        for number in range(999_983, 999_961, -2)
    )
    with pytest.raises(TuneError, match="part Box, bar 1: the lengths up to here have no common"):
        read(bar)


def test_slurs_of_one_number():
    """Of slurs with the same number the first that began ends first; one without an end, and one
    from a grace note to its own note, are left out."""
    start, stop = (
        f'<notations><slur type="{kind}" number="1"/></notations>' for kind in ("start", "stop")
    )
    grace = f"<note><grace/><pitch><step>D</step><octave>5</octave></pitch>{start}</note>"
    bar = note(1, start) + note(1, start) + note(1, stop) + note(1, stop) + note(1, start)
    assert [(n.opens, n.closes) for n in read(bar).melody.bars[0]] == [
        (1, 0), (1, 0), (0, 1), (0, 1), (0, 0),
    ]  # fmt: skip
    alone = read(note(1) + grace + note(1, stop))
    assert [(n.opens, n.closes) for n in alone.melody.bars[0]] == [(0, 0), (0, 0)]


def test_many_signs_in_a_bar():
    """Tempi and chord symbols at one place: the last printed tempo, the last symbol; words stand
    at the note that they stand before, in order."""
    tempo = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit>"
        "<per-minute>{}</per-minute></metronome></direction-type></direction>"
    )
    symbol = "<harmony><root><root-step>{}</root-step></root><kind>major</kind></harmony>"
    words = "<direction><direction-type><words>{}</words></direction-type></direction>"
    signs = "".join(
        sign.format(value)
        for sign, values in ((tempo, (80, 90)), (symbol, "GC"), (words, ("one", "two")))
        for value in values
    )
    tune = read(note(1) + signs + note(3))
    (bar,) = tune.bars
    assert [(mark.onset, mark.tempo.beats) for mark in bar.tempos] == [(Fraction(1, 4), 90)]
    assert [(c.onset, c.text) for c in bar.chords] == [(Fraction(1, 4), "C")]
    assert [n.texts for n in tune.melody.bars[0]] == [(), ("^one", "^two")]
