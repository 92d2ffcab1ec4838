"""What stands at notes: chord symbols, annotations, decorations, chords of notes, lyrics.

Clauses are those of ABC 2.1.
"""

from fractions import Fraction

import pytest

from backing.errors import TuneError
from backing.music.tune import Jump
from backing.parse.abc import parse_abc


def read(music, *head):
    """The tune of this music in C, in free metre."""
    return parse_abc("\n".join(["X:1", "M:none", "L:1/8", *head, "K:C", music, ""]))


def first_notes(music, *head):
    """The notes of its first bar."""
    return read(music, *head).melody.bars[0]


@pytest.mark.parametrize(
    ("text", "chord", "classes"),
    [
        # clause 4.18; pitch classes from C = 0 after MusicXML's kinds
        ("G", "G", "7 11 2"), ("Em7", "Em7", "4 7 11 2"), ("D/F#", "D/F#", "2 6 9"),
        ("D(Bm)", "D", "2 6 9"), ("Bb/f", "Bb/F", "10 2 5"), ("B\\u266d", "Bb", "10 2 5"),
        ("F\\u266fm", "F#m", "6 9 1"), ("B♭", "Bb", "10 2 5"), ("F♯", "F#", "6 10 1"),
        ("Amin", "Am", "9 0 4"), ("CM7", "Cmaj7", "0 4 7 11"), ("Gsus", "Gsus4", "7 0 2"),
        (" G ", "G", "7 11 2"), ("A7", "A7", "9 1 4 7"), ("C+", "Caug", "0 4 8"),
    ],
)  # fmt: skip
def test_chord_symbols(text, chord, classes):
    """A quoted text that names a chord is one, and plays these pitch classes (4.18)."""
    tune = read(f'"{text}"C|')
    (symbol,) = tune.bars[0].chords
    assert str(symbol.chord) == chord
    assert symbol.chord.pitch_classes == tuple(map(int, classes.split()))
    assert tune.melody.bars[0][0].texts == ()
    assert tune.notices == ()


@pytest.mark.parametrize("text", ["N.C.", "NC", "n.c.", "N"])
def test_no_chord(text):
    """These words are a chord symbol that silences (common practice, no source; 4.18 has none)."""
    (symbol,) = read(f'"{text}"C|').bars[0].chords
    assert symbol.chord.silent


@pytest.mark.parametrize(
    ("music", "onsets"),
    [
        ('"G"C2"D"D2|', "0 1/4"), ('C2"G"D2|', "1/4"), ('"G"z2"D"C2|', "0 1/4"),
        ('C"G"(3CDE"D"F|', "1/8 3/8"), ('"G"|C|', "0"), ('"G"[CE]2|', "0"), ('["G"CE]2|', "0"),
        ('"G"{ab}C|', "0"), ('{ab}"G"C|', "0"), ('"G"!trill!C|', "0"), ('"G""^loud"C|', "0"),
        ('C>"G"D|', "3/16"), ('C|"G"x2D|', "0"),
    ],
)  # fmt: skip
def test_where_chord_symbols_stand(music, onsets):
    """A chord symbol stands where the note or rest after it begins (clause 4.18)."""
    tune = read(music)
    found = [symbol.onset for bar in tune.bars for symbol in bar.chords]
    assert found == [Fraction(onset) for onset in onsets.split()]


@pytest.mark.parametrize(
    ("text", "capital"),
    [("d", "D"), ("am", "Am"), ("g7", "G7"), ("bb", "Bb"), ("f#m", "F#m"), ("d/f#", "D/f#"),
     ("ebmaj7", "Ebmaj7"), ("a", "A"), ("e", "E")],
)  # fmt: skip
@pytest.mark.parametrize("music", ['CE"{}"D|"{}"E|', 'CED|E|\ns:* * "{}" "{}"'])
def test_chords_in_small_letters(text, capital, music):
    """A chord begins with a capital letter (clause 4.18): a small one is a text, since it may
    be a label, and it is said once, with the chord that may be meant."""
    tune = read(music.format(text, text))
    assert [bar.chords for bar in tune.bars] == [(), ()]
    assert tune.melody.bars[0][2].texts == (text,)
    (notice,) = tune.notices
    assert (notice.line, notice.column) == ((5, 3) if "s:" not in music else (6, 1))
    assert notice.hint == f"a chord begins with a capital letter: {capital}"


@pytest.mark.parametrize(
    "text",
    ["f", "ff", "fz", "dim.", "cresc.", "a tempo", "break", "end", "b section", "dance", "p"],
)
def test_small_words_are_texts(text):
    """Dynamics and words in small letters, as collections have them, are no chords."""
    tune = read(f'C"{text}"D|')
    assert tune.melody.bars[0][1].texts == (text,)
    assert tune.notices == ()


@pytest.mark.parametrize("text", ["fine", "d.c.", "D.S. al Fine", "da capo", "Coda"])
def test_jumps_in_words_are_said(text):
    """A jump in words is not followed, and it is said how one is written (clause 4.14)."""
    (notice,) = read(f'C"{text}"D|').notices
    assert "is not followed" in notice.message
    assert (notice.line, notice.column) == (5, 2)


@pytest.mark.parametrize("text", ["Gnarl", "Fine", "D.C.", "Bridge", "C7/H"])
def test_chords_that_are_none(text):
    """Text that begins like a chord and is none is kept as a text, and said (4.18)."""
    tune = read(f'C"{text}"D|')
    assert tune.bars[0].chords == ()
    assert tune.melody.bars[0][1].texts == (text,)
    assert [(notice.line, notice.column) for notice in tune.notices] == [(5, 2)]
    assert text in tune.notices[0].message


@pytest.mark.parametrize(
    "text", ["^slow", "_C", "<(", ">G", "@1,2 Am", "^G", "4", "slow", "rit.", "^Fine"]
)
def test_annotations_are_never_chords(text):
    """A text that begins with ^ _ < > or @ is printed only, whatever it says (4.19)."""
    tune = read(f'"{text}"C|')
    assert tune.bars[0].chords == ()
    assert tune.melody.bars[0][0].texts == (text,)
    assert tune.notices == ()


def test_several_chord_symbols_on_one_note():
    """Of several symbols on one note the last is played, and that is said."""
    tune = read('C"G""D7"D|')
    assert [symbol.text for symbol in tune.bars[0].chords] == ["D7"]
    (notice,) = tune.notices
    assert (notice.line, notice.column) == (5, 5)


@pytest.mark.parametrize(("music", "line", "column"), [('C|"G"', 5, 3), ('C|"G"\nK:D', 5, 3)])
def test_a_chord_symbol_without_a_note(music, line, column):
    """A chord symbol that no note follows is left out, and said where it stands."""
    (notice,) = read(music).notices
    assert "no note after it" in notice.message
    assert (notice.line, notice.column) == (line, column)


@pytest.mark.parametrize(
    ("sign", "name"),
    [
        # clause 4.14: the shorthands that need no definition
        (".", "staccato"), ("~", "roll"), ("H", "fermata"), ("L", "accent"), ("M", "lowermordent"),
        ("P", "uppermordent"), ("T", "trill"), ("u", "upbow"), ("v", "downbow"),
        ("!trill!", "trill"), ("!mf!", "mf"), ("!<(!", "<("), ("!crescendo(!", "crescendo("),
        ("!5!", "5"), ("!unheard-of!", "unheard-of"), ("+trill+", "trill"), ("+accent+", "accent"),
    ],
)  # fmt: skip
def test_decorations(sign, name):
    """Decorations stay with their note, known or not (clause 4.14)."""
    note, plain = first_notes(f"{sign}C D|")
    assert (note.decorations, plain.decorations) == ((name,), ())


@pytest.mark.parametrize(
    "music", ["!trill!.~C", '!trill!"^up".~C', "!trill!.{a}~C", "[!trill!.~CE]"]
)
def test_decorations_stack(music):
    """Several decorations may stand on one note, with what else hangs on it (4.14, 4.20)."""
    (note,) = first_notes(f"{music}|")
    assert note.decorations == ("trill", "staccato", "roll")


@pytest.mark.parametrize(
    ("music", "column"),
    [("C!fermata!|D|", 11), ("CH|D|", 3), ("CTy D|", 3), ("C!trill! y2 D|", 10)],
)
def test_decorations_on_bar_lines_and_spacers(music, column):
    """A decoration on a bar line or a spacer (clause 4.14) is not for the note after it: it is
    left out, and said."""
    tune = read(music)
    assert [note.decorations for bar in tune.melody.bars for note in bar] == [(), ()]
    assert [(notice.line, notice.column) for notice in tune.notices] == [(5, column)]


@pytest.mark.parametrize("sign", ["!p!", "!ff!", "!<(!", "!crescendo(!", "!diminuendo)!", "!>(!"])
@pytest.mark.parametrize("place", ["C{}|D|", "C{}yD|"])
def test_dynamics_before_bar_lines_and_spacers(sign, place):
    """Dynamics hold from where they stand on: from the note after the bar line (common
    practice)."""
    tune = read(place.format(sign))
    notes = [note for bar in tune.melody.bars for note in bar]
    assert [note.decorations for note in notes] == [(), (sign.strip("!"),)]
    assert tune.notices == ()


@pytest.mark.parametrize("thing", ["z2", "[CE]2", "(3CDE", "C2-C2", "{a}C2"])
def test_decorations_on_other_things(thing):
    """Rests and chords carry decorations too (clause 4.14)."""
    assert first_notes(f"C!fermata!{thing}|")[1].decorations == ("fermata",)


@pytest.mark.parametrize(
    ("sign", "jump"),
    [("!segno!", Jump.SEGNO), ("S", Jump.SEGNO), ("!coda!", Jump.CODA), ("O", Jump.CODA),
     ("!D.C.!", Jump.DA_CAPO), ("!D.S.!", Jump.DAL_SEGNO), ("!fine!", Jump.FINE),
     ("!dacoda!", Jump.TO_CODA), ("!dacapo!", Jump.DA_CAPO),
     # the longer names of the draft 2.2
     ("!D.C.alfine!", Jump.DA_CAPO), ("!D.C.alcoda!", Jump.DA_CAPO),
     ("!D.S.alfine!", Jump.DAL_SEGNO), ("!D.S.alcoda!", Jump.DAL_SEGNO),
     ("!dalsegno!", Jump.DAL_SEGNO)],
)  # fmt: skip
def test_jump_signs(sign, jump):
    """Segno, coda, D.C. and their kin are signs of their bar (clause 4.14)."""
    bars = read(f"C|{sign}D|E|").bars
    assert [bar.jumps for bar in bars] == [(), (jump,), ()]


@pytest.mark.parametrize(
    ("field", "music", "decorations", "texts"),
    [
        # clause 4.16: letters H-W, h-w and ~ may be given a meaning or lose it
        ("U:k=!trill!", "kC", ("trill",), ()), ("U: W = !roll! ", "WC", ("roll",), ()),
        ("U:k=+trill+", "kC", ("trill",), ()), ('U:k="^hop"', "kC", (), ("^hop",)),
        ("U:T=!nil!", "TC", (), ()), ("U:~=!none!", "~C", (), ()),
        ("U:u=!thumb!", "uC", ("thumb",), ()), ("U:k=!trill!", "[kCE]", ("trill",), ()),
    ],
)  # fmt: skip
def test_symbols_of_the_user(field, music, decorations, texts):
    """`U:` gives a letter its meaning, in the header or in the body (clause 4.16)."""
    for tune in (read(f"{music}|", field), read(f"{field}\n{music}|")):
        note = tune.melody.bars[0][0]
        assert (note.decorations, note.texts) == (decorations, texts)


def test_symbols_of_a_file_header():
    """The file header's symbols hold for every tune that does not override them (clause 4.16)."""
    music = "L:1/8\nK:C\nkClD|\n"
    book = f"U:k=!trill!\nU:l=!roll!\n\nX:1\nU:k=!accent!\n{music}\nX:2\n{music}"
    found = [
        [note.decorations for note in parse_abc(book, number).melody.bars[0]] for number in "12"
    ]
    assert found == [[("accent",), ("roll",)], [("trill",), ("roll",)]]


@pytest.mark.parametrize("letter", "hjkQWJ")
def test_letters_without_a_meaning_are_said(letter):
    """A letter that nothing was said of is left out, and said where it stands (4.16)."""
    tune = read(f"C{letter}D|")
    assert [(notice.line, notice.column) for notice in tune.notices] == [(5, 2)]
    assert letter in tune.notices[0].message


@pytest.mark.parametrize(
    ("music", "pitches", "length"),
    [
        # clause 4.17: the length outside multiplies, the first note's length counts
        ("[CEG]", "C4 E4 G4", "1/8"), ("[CEG]2", "C4 E4 G4", "1/4"),
        ("[C2E2G2]", "C4 E4 G4", "1/4"),
        ("[C2E2G2]2", "C4 E4 G4", "1/2"), ("[C2E4]", "C4 E4", "1/4"),
        ("[D2F2A2]2", "D4 F4 A4", "1/2"),
        ("[^C=E_G]/", "C#4 E4 Gb4", "1/16"), ("[C,c']", "C3 C6", "1/8"), ("[DD]2", "D4 D4", "1/4"),
        ("[C E]", "C4 E4", "1/8"), ("[C]", "C4", "1/8"), ("[C3/2E3/2]", "C4 E4", "3/16"),
    ],
)  # fmt: skip
def test_chords_of_notes(music, pitches, length):
    """Notes in brackets are struck together (clause 4.17)."""
    (note,) = first_notes(f"{music}|")
    assert " ".join(map(str, note.pitches)) == pitches
    assert note.length == Fraction(length)


def test_what_follows_a_bracket():
    """After a bracket come a field, an ending, a bar line or notes, told apart by the next
    sign (clauses 3.2, 4.8, 4.9, 4.17)."""
    tune = read("[K:G][FA]2|[1F2:|[2A2[|[P:B]B2[|]c2")
    names = ["+".join(map(str, note.pitches)) for bar in tune.melody.bars for note in bar]
    assert names == ["F#4+A4", "F#4", "A4", "B4", "C5"]
    assert [str(bar.ending or "") for bar in tune.bars] == ["", "1", "2", "", ""]


@pytest.mark.parametrize(
    ("line", "syllables"),
    [
        # clause 5.1
        ("one two three four", "one two three four"), ("ca-nal boat", "ca- nal boat ."),
        ("slow_ly", "slow _ ly ."), ("a * b", "a . b ."), ("o'~the town", "o'_the town . ."),
        ("hey\\-ho now", "hey-ho now . ."),
        # clause 8.2: accents and entities in syllables
        ("se\\~nor caf\\'e", "señor café . ."), ("\\u00e9t&eacute; 5\\%", "été 5% . ."),
        ("a | b", "a . b ."), ("a  b", "a b . ."),
        ("a - b", "a _ b ."), ("a_", "a _ . ."), ("", ". . . ."),
    ],
)  # fmt: skip
def test_lyrics(line, syllables):
    """Syllables go to the notes above: "-" parts them, "_" holds, "*" skips, "~" is a
    space, "|" goes to the next bar (clause 5.1)."""
    tune = read(f"CzD|{{a}}EF|\nw:{line}")
    found = [note.lyrics for bar in tune.melody.bars for note in bar if note.pitches]
    shown = " ".join((lyrics[0] if lyrics else "").replace(" ", "_") or "." for lyrics in found)
    assert shown == syllables


@pytest.mark.parametrize("field", ["w:a b c d", "s:!trill! * * !roll!"])
def test_too_much_for_the_notes_is_said(field):
    """Syllables or symbols that no note is left for are said (clauses 4.15, 5.1)."""
    (notice,) = read(f"CD|\n{field}").notices
    assert "more" in notice.message
    assert (notice.line, notice.column) == (6, 1)


@pytest.mark.parametrize(
    ("music", "line", "syllables"),
    [
        ("C-C(DE)|", "a b c d", "a b c d"), ("C y D|", "a b", "a b"), ("{c}C{d}D|", "a b", "a b"),
        ("CD|\nEF|", "a b c d", "a b c d"), ("CxDz|E|", "a b c", "a . b . c"),
    ],
)  # fmt: skip
def test_which_notes_are_sung(music, line, syllables):
    """Tied and slurred notes count each, rests, spacers and grace notes do not; a line goes to
    the first note without lyrics, lines above it too (clause 5.1)."""
    tune = read(f"{music}\nw:{line}")
    found = [note.lyrics[0] if note.lyrics else "." for bar in tune.melody.bars for note in bar]
    assert " ".join(found) == syllables
    assert tune.notices == ()


@pytest.mark.parametrize("letter", "ws")
def test_second_voices_in_aligned_lines(letter):
    """A "&" in a line below the music is disallowed (clause 10.7.1): said, and refused where
    ABC 2.1 is asked for."""
    lines = f"X:1\nM:none\nL:1/8\nK:C\nCD&EF|\n{letter}:* & *\n"
    notice = parse_abc(lines).notices[0]
    assert notice.message.startswith("'&' in a line below the music")
    assert (notice.line, notice.column) == (6, 1)
    with pytest.raises(TuneError, match="in a line below the music"):
        parse_abc("%abc-2.1\n" + lines)
    assert not read("CD|\nw:salt&pepper &amp;").notices


def test_verses():
    """Lines of lyrics below each other are verses; new music takes new lyrics (5.1)."""
    tune = read("CD|\nw:a b\nw:c d\nEF|\nw:e f")
    assert [note.lyrics for bar in tune.melody.bars for note in bar] == [
        ("a", "c"), ("b", "d"), ("e",), ("f",),
    ]  # fmt: skip


def test_symbol_lines():
    """`s:` puts chords, texts and decorations to notes as lyrics are put (clause 4.15)."""
    tune = read('CzD|EF|\ns:"G" !trill! | "^up" "D7"')
    notes = [note for bar in tune.melody.bars for note in bar]
    assert [(s.text, s.onset) for bar in tune.bars for s in bar.chords] == [
        ("G", 0), ("D7", Fraction(1, 8)),
    ]  # fmt: skip
    assert (notes[2].decorations, notes[3].texts) == (("trill",), ("^up",))


@pytest.mark.parametrize(
    "lines",
    ['s:"G" !trill! | "^up" "D7"', 's:"G" * | * "D7"\ns:* !trill! | "^up" *',
     's:"G" !trill!\n+:| "^up" "D7"', 's:"G"\n+:!trill!\n+:| "^up"\n+:"D7"'],
)  # fmt: skip
def test_symbol_lines_stack(lines):
    """Symbol lines pass over grace notes, rests and spacers, may be stacked, and go on with
    `+:` (clauses 4.15, 3.3)."""
    tune = read("{a}C z y D|EF|\n" + lines)
    notes = [note for bar in tune.melody.bars for note in bar]
    assert [symbol.text for bar in tune.bars for symbol in bar.chords] == ["G", "D7"]
    assert [note.decorations for note in notes] == [(), (), ("trill",), (), ()]
    assert [note.texts for note in notes] == [(), (), (), ("^up",), ()]
    assert tune.notices == ()


def test_lyrics_go_on_below_symbols():
    """`+:` goes on with the field right before it (clause 3.3)."""
    tune = read("CDE|\ns:!trill!\nw:a b\n+:c")
    notes = tune.melody.bars[0]
    assert [note.lyrics for note in notes] == [("a",), ("b",), ("c",)]
    assert [note.decorations for note in notes] == [("trill",), (), ()]


@pytest.mark.parametrize("sign", ["!fine!", "!D.C.!", "!segno!"])
def test_jumps_in_symbol_lines_are_said(sign):
    """A jump in a symbol line (clause 4.15) is not followed, and that is said."""
    tune = read(f"CD|EF|\ns:* * * {sign}")
    assert [bar.jumps for bar in tune.bars] == [(), ()]
    assert [(notice.line, notice.column) for notice in tune.notices] == [(6, 1)]


@pytest.mark.parametrize(
    ("macro", "music"),
    [(f"m:{'~' * 31}=A", "~" * 31), (f"m:~A2={'A' * 200}", "~A2"),
     (f"m:{'~' * 29}n2=n", f"{'~' * 29}A2")],
)  # fmt: skip
def test_the_longest_macros(macro, music):
    """A macro's target of 31 signs and a text of 200 are read (clause 9)."""
    notes = first_notes(f"{music}|", macro)
    assert len(notes) == len(macro.partition("=")[2])
    assert {(str(note.pitches[0]), note.decorations) for note in notes} == {("A4", ())}


def test_macros_come_before_symbols():
    """A macro is written out before the letters of `U:` are read (clause 9)."""
    for field in ("m:k=T\nU:k=!roll!", "U:k=!roll!\nm:k=T"):
        assert first_notes("kC|", field)[0].decorations == ("trill",)


@pytest.mark.parametrize(
    ("macro", "music", "pitches"),
    [
        # clause 9: a static macro is replaced as it stands, in a moving one n is the note
        ("m:~A2=A/B/A", "~A2C", "A4 B4 A4 C4"), ("m: ~A2 = A{B}A", "~A2 A2", "A4 A4 A4"),
        ("m:~n2=n/o/n/m/", "~d2", "D5 E5 D5 C5"), ("m:~n2=n/o/n/m/", "~C,2", "C3 D3 C3 B2"),
        ("m:~n2=n/o/n/m/", "~d4 C", "D5 C4"), ("m:Tn3=nlnpn", "TG3", "G4 E4 G4 B4 G4"),
        ("m:~n2=n/o/n/m/", '"^~d2"C', "C4"),
    ],
)  # fmt: skip
def test_macros(macro, music, pitches):
    """Macros are written out before anything else is read (clause 9)."""
    notes = first_notes(f"{music}|", macro)
    assert " ".join(str(note.pitches[0]) for note in notes) == pitches


@pytest.mark.parametrize("macro", ["m:" + "~" * 32 + "=A", "m:~A2=" + "A" * 201, "m:=A"])
def test_macros_that_are_none(macro):
    """A macro's target has at most 31 signs and its text 200 (clause 9): others are left out
    and said."""
    tune = read("C|", macro)
    assert [(n.line, n.column, n.hint) for n in tune.notices] == [(4, 3, "left out")]
