"""Several voices: lines of their own, pieces of a line, second voices in a bar.

Clauses are those of ABC 2.1.
"""

from fractions import Fraction

import pytest

from backing.errors import TuneError
from backing.music.tune import Voice
from backing.parse.abc import split_book, tune_of


def read(music, *head, voice=""):
    """The tune of this music in C."""
    text = "\n".join(["X:1", "M:2/4", "L:1/8", *head, "K:C", music, ""])
    return tune_of(next(split_book(text)), voice=voice)


def names(voice: Voice) -> str:
    """The voice's pitches, rests as z, bars separated."""
    return "|".join(
        " ".join("+".join(map(str, note.pitches)) or "z" for note in bar) for bar in voice.bars
    )


@pytest.mark.parametrize(
    "music",
    [
        "V:1\nc4|d4|\nV:2\nC4|D4|",
        "V:1\nc4|\nV:2\nC4|\nV:1\nd4|\nV:2\nD4|",
        "[V:1]c4|d4|\n[V:2]C4|D4|",
        "[V:1]c4|[V:2]C4|\n[V:1]d4|[V:2]D4|",
        "[V:1] c4|d4|\n[V: 2 ] C4|D4|",
        "c4|d4|\nV:2\nC4|D4|",
    ],
)
def test_where_voices_begin(music):
    """`V:` on a line or in brackets hands what follows to its voice (clause 7)."""
    tune = read(music)
    assert [names(voice) for voice in tune.voices] == ["C5|D5", "C4|D4"]


def test_voices_of_the_header():
    """The header's `V:` gives a voice its properties, not its place (clause 7.1)."""
    tune = read("[V:2]C4|\n[V:1]c4|", "V:1", "V:2 octave=-1 clef=bass name=Bass")
    assert [(voice.name, names(voice)) for voice in tune.voices] == [("2", "C3"), ("1", "C5")]


@pytest.mark.parametrize(
    ("wanted", "melody"), [("", "1"), ("2", "2"), ("Low One", "2"), ("low one", "2"), ("1", "1")]
)
def test_choosing_the_melody(wanted, melody):
    """The melody is the first voice, or the one that is named by its id or name."""
    tune = read("[V:1]c4|\n[V:2]C4|", "V:1", 'V:2 name="Low One"', voice=wanted)
    assert tune.melody.name == melody
    assert len(tune.voices) == 2


def test_a_voice_that_is_not_there():
    """A voice that is not there is an error that lists those that are."""
    with pytest.raises(TuneError, match="there is no voice 'oboe'") as caught:
        read("[V:1]c4|\n[V:2]C4|", voice="oboe")
    assert "1, 2" in caught.value.hint


def test_several_voices_are_said():
    """Where the tune has several voices and none was asked for, that is said."""
    (notice,) = read("[V:1]c4|\n[V:2]C4|").notices
    assert "several voices; the melody is voice 1" in notice.message
    assert read("[V:1]c4|\n[V:2]C4|", voice="1").notices == ()


@pytest.mark.parametrize(
    ("music", "said", "second"),
    [
        ("[V:1]c4|d4|\n[V:2]C4|", "voice 2 has 1 bars, voice 1 2", "C4|z"),
        ("[V:1]c4|\n[V:2]C4|D4|", "voice 2 has 2 bars, voice 1 1", "C4"),
    ],
)
def test_voices_of_unequal_length(music, said, second):
    """A voice with more or fewer bars is cut or filled up, and that is said (clause 7)."""
    tune = read(music)
    assert said in tune.notices[0].message
    assert names(tune.voices[1]) == second


def test_a_voice_without_a_name_is_named_in_notices():
    """The voice before the first `V:` has a name in what is said about it."""
    message = read("c4|\nV:2\nC4|D4|").notices[0].message
    assert "  " not in message
    assert not message.endswith("voice  1")


@pytest.mark.parametrize("music", ["V:1\nV:2\nc4|d4|", "V:2\nc4|d4|\nV:1", "[V:1][V:2]c4|d4|"])
def test_a_voice_without_notes(music):
    """A voice without a note rests through the tune, bar by bar."""
    tune = read(music)
    assert sorted(names(voice) for voice in tune.voices) == ["C5|D5", "z|z"]


@pytest.mark.parametrize(
    ("field", "first", "second"),
    [("K:G", "F#5", "F4"), ("L:1/4", "F5", "F4"), ("I:propagate-accidentals not", "F5", "F4")],
)
def test_fields_belong_to_their_voice(field, first, second):
    """Fields about the music act in the voice that they stand in (clause 7.3)."""
    tune = read(f"V:1\n{field}\nf2|\nV:2\nF4|")
    assert (names(tune.voices[0]), names(tune.voices[1])) == (first, f"{second}")


def test_accidentals_and_ties_belong_to_their_voice():
    """Accidentals, ties and tuplets of one voice do not reach into another."""
    tune = read("[V:1]^c4-|[V:2]C4|\n[V:1]c2c2|[V:2]C2C2|")
    assert [names(voice) for voice in tune.voices] == ["C#5|C#5 C5", "C4|C4 C4"]


def test_repeats_and_chords_come_from_the_first_voice():
    """The first voice is the frame: its bar lines and chord symbols hold for all."""
    tune = read('[V:1]|:"C"c4:|"G"d4|]\n[V:2]C4|D4|]')
    assert [bar.plays for bar in tune.bars] == [2, 0]
    assert [symbol.text for bar in tune.bars for symbol in bar.chords] == ["C", "G"]


@pytest.mark.parametrize(
    ("music", "voices"),
    [
        # clause 7.4: "&" goes back to the bar's start for a voice beside the first
        ("c d e f & A,4|g4|", ["C5 D5 E5 F5|G5", "A3|z"]),
        ("c4&A4&F4|g4|", ["C5|G5", "A4|z", "F4|z"]),
        ("c4&A4|d4&B4|", ["C5|D5", "A4|B4"]),
        ("c4&z2A2|", ["C5", "z A4"]),
        ("c4&A2|", ["C5", "A4 z"]),
        ("c4&\\\nA4|", ["C5", "A4"]),
    ],
)
def test_second_voices_in_a_bar(music, voices):
    """`&` begins the bar again for another voice; bars without one rest there (7.4)."""
    tune = read(music)
    assert [names(voice) for voice in tune.voices] == voices
    assert {bar.length for bar in tune.bars} == {Fraction(1, 2)}


@pytest.mark.parametrize("music", ["c4|&A4|", "c4|d4|\n&&A4|B4|"])
def test_a_second_voice_over_a_bar_line(music):
    """`&` after a bar line goes back over it (clause 7.4, from memory): its notes are not
    played after the melody, or it is said."""
    tune = read(music)
    assert tune.notices or not names(tune.melody).endswith(("A4", "B4"))


def test_too_many_voices_in_a_bar():
    """More second voices than anyone writes are refused at the sign."""
    with pytest.raises(TuneError, match="voices in one bar") as caught:
        read("c4" + "&A4" * 20 + "|")
    assert caught.value.line == 5


@pytest.mark.parametrize("music", ["V:1 transpose=x\nc4|", "c4|[V:1 octave=high]d4|"])
def test_properties_that_cannot_be_read(music):
    """A shift that is no number is left out and said; where ABC 2.1 is asked for it is an
    error at its line."""
    tune = read(music)
    assert {str(note.pitches[0]) for bar in tune.melody.bars for note in bar} == {"C5"}
    (notice,) = [each for each in tune.notices if "is not known" in each.message]
    assert (notice.line, notice.hint) == (5, "left out")
    with pytest.raises(TuneError, match="is not a number") as caught:
        read(music, "I:abc-version 2.1")
    assert caught.value.line == 6


@pytest.mark.parametrize(
    "words",
    ['name="Low One" subname=L', "nm=Low snm=L", "clef=bass", "stem=up", "clef=alto stem=down"],
)
def test_properties_that_do_not_sound(words):
    """Names, clefs and stems of a voice change nothing that sounds (clauses 7.1, 4.6)."""
    tune = read("[V:1]c4|\n[V:2]C4|", "V:1", f"V:2 {words}", voice="1")
    assert [names(voice) for voice in tune.voices] == ["C5", "C4"]
    assert tune.notices == ()


def test_long_names_of_voices():
    """At least twenty letters of a voice's id count (clause 7)."""
    long = "a" * 19
    tune = read(f"[V:{long}b]c4|\n[V:{long}c]C4|")
    assert [voice.name for voice in tune.voices] == [f"{long}b", f"{long}c"]
