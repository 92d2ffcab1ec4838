"""Notes of ABC: pitches, lengths, rests, tuplets, ties, chords (ABC 2.1 clause 4)."""

from fractions import Fraction

import pytest

from backing.errors import TuneError
from backing.parse.abc import parse_abc


def read(music, key="C", metre="4/4", unit="1/8", extra=""):
    """The tune of one line of music."""
    return parse_abc(f"X:1\nM:{metre}\nL:{unit}\n{extra}K:{key}\n{music}\n")


def keys(music, **head):
    """The MIDI key numbers of the notes, bars separated by "|"."""
    bars = read(music, **head).melody.bars
    return " | ".join(
        " ".join(str(note.pitches[0].midi) for note in bar if note.pitches) for bar in bars
    )


def quarters(music, **head):
    """The lengths of notes and rests in quarter notes."""
    bars = read(music, **head).melody.bars
    return [note.length * 4 for bar in bars for note in bar]


@pytest.mark.parametrize(
    ("music", "head", "expected"),
    [
        ("D, D d d' D',, D'", {}, "50 62 74 86 50 74"),  # clause 4.1
        ("C,', C'", {}, "48 72"),
        ("^F F f F|F", {"metre": "2/4"}, "66 66 77 66 | 65"),  # same octave only
        ("^F F f F|F", {"metre": "2/4", "extra": "%%propagate-accidentals pitch\n"},
         "66 66 78 66 | 65"),  # clause 11.3
        ("^F F f F|F", {"metre": "2/4", "extra": "I:propagate-accidentals not\n"},
         "66 65 77 65 | 65"),
        ("=F F|F", {"key": "G", "metre": "1/4"}, "65 65 | 66"),
        ("^^F __B =c ^c", {"key": "D"}, "67 69 72 73"),  # clause 4.2
        ("^F8-|F8|F8", {}, "66 | 66 | 65"),  # a tie carries its accidental
        ("F8|[K:G]F8|", {}, "65 | 66"),  # clause 3.2
        ("F|\nK:D\nFc|", {"metre": "1/4"}, "65 | 66 73"),
        ("F c", {"key": "D Phr ^f"}, "66 72"),
        ("G g f", {"key": "A =g"}, "67 79 78"),
        ("F C", {"key": "HP"}, "66 61"),
        ("F C G", {"key": "Hp"}, "66 61 67"),
        ("C", {"key": "C bass"}, "60"),  # clause 4.6: a clef alone changes no sound
        ("C", {"key": "C clef=bass middle=d"}, "60"),
        ("C", {"key": "C transpose=-2"}, "58"),
        ("C", {"key": "C octave=-1"}, "48"),
        ("c", {"key": "C clef=treble-8"}, "60"),
        ("c", {"key": "C treble+8"}, "84"),
        ("A", {"key": "G sound=DC"}, "67"),  # draft 2.2, clause 4.6
        ("C2 y D2 y E4", {}, "60 62 64"),  # clause 6.1.2
        ("z2 x2 C4", {}, "60"),  # clause 4.5
        ("d4-d4|d8", {}, "74 74 | 74"),  # clause 4.11
        ("G2``A``B", {}, "67 69 71"),  # clause 4.7
    ],
)  # fmt: skip
def test_pitches(music, head, expected):
    """Letters, octaves, accidentals and keys make these key numbers (middle C is 60)."""
    assert keys(music, **head) == expected


@pytest.mark.parametrize(
    ("music", "head", "expected"),
    [
        ("A A2 A3/2 A/ A// A/4 A3/4 A7", {}, "1/2 1 3/4 1/4 1/8 1/8 3/8 7/2"),  # clause 4.3
        ("A12", {"unit": "1/16"}, "3"),
        ("A/16", {}, "1/32"),  # clause 4.3: down to a 128th note
        ("d4-d4|d8", {}, "2 2 4"),
        ("g>a B<A e>>d f<<<g", {}, "3/4 1/4 1/4 3/4 7/8 1/8 1/16 15/16"),  # clause 4.4
        ("B<{d}B", {}, "1/4 3/4"),  # clause 4.12
        ("B{d}<B", {}, "1/4 3/4"),
        ("e>{f}e", {}, "3/4 1/4"),
        ("[CE]>[DF]", {}, "3/4 1/4"),
        ("z2 x2 C4", {}, "1 1 2"),  # clause 4.5
        ("Z2|C8", {}, "4 4 4"),
        ("Z2|C6", {"metre": "6/8"}, "3 3 3"),
        ("X|C8", {}, "4 4"),
        ("C2 y D2 y3 E4", {}, "1 1 2"),  # clause 6.1.2
        ("G2``A``B", {}, "1 1/2 1/2"),  # clause 4.7
        ("(3abc", {}, "1/3 1/3 1/3"),  # clause 4.13
        ("(3:2:2e4g2", {}, "4/3 2/3"),
        ("(3::2e4g2", {}, "4/3 2/3"),
        ("(3:2:4A2B2de", {}, "2/3 2/3 1/3 1/3"),
        ("(3::A2B2d2", {}, "2/3 2/3 2/3"),
        ("(3e3fg2", {}, "1 1/3 2/3"),
        ("(2ab", {"metre": "6/8"}, "3/4 3/4"),
        ("(4abcd", {"metre": "6/8"}, "3/8 3/8 3/8 3/8"),
        ("(5abcde", {}, "1/5 1/5 1/5 1/5 1/5"),
        ("(5abcde", {"metre": "6/8"}, "3/10 3/10 3/10 3/10 3/10"),
        ("(7cdefgab", {"metre": "9/8"}, " ".join(["3/14"] * 7)),
        ("(6abcabc", {}, " ".join(["1/6"] * 6)),
        ("(8abcdefga", {}, " ".join(["3/16"] * 8)),
        ("(9abcdefgab", {}, " ".join(["1/9"] * 9)),
        ("(3a>bc", {}, "1/2 1/6 1/3"),
        ("(3 abc", {}, "1/3 1/3 1/3"),
        ("(3z[ce]g", {}, "1/3 1/3 1/3"),  # rests and chords count
        ("{gef}c2 d2", {}, "1 1"),
        ("@a #b2 *c", {}, "1/2 1 1/2"),  # clause 8.1
        ("[C2E2G2]2", {}, "2"),  # clause 4.17
        ("[C2E4]", {}, "1"),
        ("C4|[L:1/4]C4|", {"metre": "2/4"}, "2 4"),
        ("C8|[L:1/4]C4|", {}, "4 4"),
        ("(CD(E)F)", {}, "1/2 1/2 1/2 1/2"),
        ("A B \\\nc d", {}, "1/2 1/2 1/2 1/2"),  # clause 6.1.1
        ("A $ B ! c", {}, "1/2 1/2 1/2"),
        ("~A2", {"extra": "m:~A2=A/B/A\n"}, "1/4 1/4 1/2"),  # clause 9
        ("~d2 ~c2", {"extra": "m:~n2=n/o/n/m/\n"}, "1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4"),
    ],
)  # fmt: skip
def test_lengths(music, head, expected):
    """Lengths, broken rhythm, rests and tuplets last this many quarter notes."""
    assert quarters(music, **head) == [Fraction(part) for part in expected.split()]


def test_transposing_macros_move_with_their_note():
    """In a transposing macro o is a step up, m a step down (ABC 2.1 clause 9.2)."""
    assert keys("~d2 ~C2", extra="m:~n2=n/o/n/m/\n") == "74 76 74 72 60 62 60 59"


@pytest.mark.parametrize(
    ("metre", "quarter_notes"),
    [("2/4", "1/4"), ("3/8", "1/4"), ("5/8", "1/4"), ("3/4", "1/2"), ("6/8", "1/2"),
     ("7/8", "1/2"), ("(2+3+2)/8", "1/2"), ("9/8", "1/2"), ("12/8", "1/2"), ("C", "1/2"),
     ("C|", "1/2"), ("3/2", "1/2"), ("none", "1/2")],
)  # fmt: skip
def test_the_default_unit_length(metre, quarter_notes):
    """Below 3/4 of a semibreve a bar the unit is 1/16, else 1/8 (ABC 2.1 clause 3.1.7)."""
    tune = parse_abc(f"X:1\nM:{metre}\nK:C\nA\n")
    assert tune.melody.bars[0][0].length * 4 == Fraction(quarter_notes)


@pytest.mark.parametrize(
    ("field", "unit", "quarters_a_minute"),
    [
        ("1/4=120", "1/8", 120), ("1/2=75", "1/8", 150), ("3/8=80", "1/8", 120),
        ("1/4 1/4 3/8=60", "1/8", 210), ('"Slow" 3/8=50', "1/8", 75),
        ('3/8=50 "Slow"', "1/8", 75), ("90", "1/8", 45), ("C=90", "1/8", 45),
        ("90", "1/16", "45/2"),
        ('"Lento"', "1/8", None), ("1/4 = 100", "1/8", 100),
    ],
)  # fmt: skip
def test_tempo_fields(field, unit, quarters_a_minute):
    """Every form of `Q:` (ABC 2.1 clauses 3.1.8 and 10.1)."""
    tune = parse_abc(f"X:1\nL:{unit}\nQ:{field}\nK:C\nA\n")
    found = tune.tempo.wholes * 4 if tune.tempo else None
    assert found == (None if quarters_a_minute is None else Fraction(quarters_a_minute))


def test_a_tempo_inside_the_tune():
    """`[Q:...]` acts from where it stands."""
    (bar,) = read("A4 [Q:1/4=90] B4|").bars
    assert [(mark.onset, mark.tempo.beats) for mark in bar.tempos] == [(Fraction(1, 2), 90)]


def test_ties_and_slurs():
    """A tie holds the pitch on; slurs open and close on their notes (clause 4.11)."""
    first, second, third = read("(d4-d2 e2)").melody.bars[0]
    assert [str(pitch) for pitch in first.ties] == ["D5"]
    assert (first.opens, second.ties, third.closes) == (1, (), 1)
    chord, _ = read("[C-E]4 [CE]4").melody.bars[0]
    assert [str(pitch) for pitch in chord.ties] == ["C4"]


def test_graces_stay_with_their_note():
    """Grace notes take no time and are kept with their note (clause 4.12)."""
    note, slashed = read("{gef}c2 {/a}d2").melody.bars[0]
    assert [str(grace.pitches[0]) for grace in note.graces] == ["G5", "E5", "F5"]
    assert (note.slashed, slashed.slashed) == (False, True)


def test_decorations_and_texts():
    """Shorthands, named decorations and annotations are kept with their note (4.14, 4.19)."""
    note, second, third = read('.~!trill!A2 "^slow""<("H+accent+B2 "4"c4').melody.bars[0]
    assert note.decorations == ("staccato", "roll", "trill")
    assert (second.decorations, second.texts) == (("fermata", "accent"), ("^slow", "<("))
    assert third.texts == ("4",)


def test_symbols_of_the_user():
    """`U:` gives a letter a meaning or takes it away (clause 4.16)."""
    notes = read("TA uB .c", extra="U:T=!roll!\nU:u=!nil!\n").melody.bars[0]
    assert [note.decorations for note in notes] == [("roll",), (), ("staccato",)]


def test_chord_symbols_stand_at_their_note():
    """A chord symbol has the onset of the note after it; one in brackets is not played."""
    (bar,) = read('"Em7"e2"D/F#"d2"D(Bm)"f4|').bars
    found = [(str(symbol.onset), str(symbol.chord), symbol.text) for symbol in bar.chords]
    assert found == [("0", "Em7", "Em7"), ("1/4", "D/F#", "D/F#"), ("1/2", "D", "D(Bm)")]
    assert [symbol.chord.pitch_classes for symbol in bar.chords] == [
        (4, 7, 11, 2), (2, 6, 9), (2, 6, 9),
    ]  # fmt: skip


def test_transposed_chords_and_keys_move_too():
    """`transpose=` moves notes, chord symbols and key together."""
    tune = read('"D"d4 "A7"e4|', key="D transpose=-2")
    assert [str(symbol.chord) for symbol in tune.bars[0].chords] == ["C", "G7"]
    assert tune.bars[0].key.fifths == 0


def test_second_voices_in_a_bar():
    """`&` starts the bar again for a second voice, kept beside the melody (clause 7.4)."""
    tune = read("c d e f & A,4|g4|", metre="2/4")
    assert [bar.length for bar in tune.bars] == [Fraction(1, 2), Fraction(1, 2)]
    assert [voice.name for voice in tune.voices] == ["melody", "melody &"]
    second = tune.voices[1].bars
    assert [str(note.pitches[0]) for note in second[0]] == ["A3"]
    assert [note.rest and note.hidden for note in second[1]] == [True]


@pytest.mark.parametrize(
    "music",
    [
        "A/0", "A0", "A999999", "A/" + "9" * 41, "A//////////", "(0abc", "(3:0:3abc", "A,,,,,,,,,",
        "Z5000", "|1-400A", "[A/0B]",
    ],
)  # fmt: skip
def test_absurd_numbers_are_errors(music):
    """Lengths of nothing, absurd numbers and pitches that nobody hears are refused with
    their place."""
    with pytest.raises(TuneError) as caught:
        read(f"A2 {music} |")
    assert caught.value.line == 5
    assert caught.value.column >= 4


def test_a_short_metre_halves_the_unit():
    """In 3/8 without `L:` the unit is 1/16 (clause 3.1.7)."""
    tune = parse_abc("X:1\nM:3/8\nK:C\nA2B\n")
    assert [note.length * 4 for note in tune.melody.bars[0]] == [Fraction(1, 2), Fraction(1, 4)]


def test_the_order_of_what_stands_at_a_note():
    """Grace notes, chord symbol, annotation, decoration, accidental, note, octave, length,
    tie: all of one note (clause 4.20)."""
    tune = read("""{g}"G7""^up".!trill!^c,'3/2- z5/2|""")
    note = tune.melody.bars[0][0]
    assert (str(note.graces[0].pitches[0]), str(note.pitches[0])) == ("G5", "C#5")
    assert [(symbol.text, symbol.onset) for symbol in tune.bars[0].chords] == [("G7", 0)]
    assert (note.texts, note.decorations) == (("^up",), ("staccato", "trill"))
    assert (note.length, note.ties) == (Fraction(3, 16), note.pitches)


@pytest.mark.parametrize("music", ["C[K:G]F", "(3C[K:G]FG", "C>[K:G]F"])
def test_a_field_inside_a_beam(music):
    """An inline field may stand inside a beam, a tuplet, a broken rhythm (clause 3.2)."""
    assert keys(music, metre="none").split()[:2] == ["60", "66"]
    assert quarters(music, metre="none") == quarters(music.replace("[K:G]", ""), metre="none")
