"""A tune written as ABC and read again is the same tune."""

import importlib.util
import random
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from backing.errors import BackingError
from backing.music.chord import parse_chord
from backing.music.tempo import Tempo
from backing.music.tune import ChordSymbol, Jump, TempoMark, Voice
from backing.music.unfold import unfold
from backing.parse.abc import parse_abc, split_book, tune_of
from backing.render.abc import render_abc

EXAMPLES = sorted((Path(__file__).parent.parent.parent / "examples").glob("*.abc"))
HEAD = "X:1\nT:Round\nM:4/4\nL:1/8\n"
#: Small tunes of ours, each with one thing that is hard to write (clauses of ABC 2.1).
PIECES = {
    "accidentals (4.2)": "K:D\n^^F __B =c ^c|c f|",
    "accidental held by a tie (4.11)": "K:C\n^F8-|F4 F4|",
    "partial ties in chords (4.17)": "K:C\n[C-E]4 [CE-G]4|[EA]8|",
    "tuplets (4.13)": "K:C\n(3abc (3:2:4A2B2de (5:4:5abcde|",
    "a tuplet over a bar line": "K:C\nA6 (3ab|cA6|",
    "graces (4.12)": "K:C\n{gef}c2 {/a}d2 {[ce]^f}g4|",
    "repeats and endings (4.8, 4.9)": "K:C\n|:A8|1,3B8:|2,4c8|]",
    "counts (4.8)": "K:C\n|::A8::|::B8::|",
    "pickups and split bars": "K:C\nA|B8|A7:|B|c8|d7|]",
    "keys, metres, tempi inside (3.2)": "K:C\nA8|[M:3/4][K:Ador]f6|[Q:1/4=90]c4 [Q:1/4=60]d2|",
    "modes (3.1.14)": "K:D Phr ^f\nf c _e|\n",
    "explicit keys": "K:E exp ^g\ngf|",
    "labels and an order (3.1.9)": "P:AAB\nK:C\nP:A\nA8|\nP:B\nB8|",
    "slurs, decorations, texts": 'K:C\n(A!trill!B .c) "^slow"d "4"e Hf2|',
    "chord symbols": 'K:C\n"Em7"A4 "D/F#"B4|"N.C."c8|',
    "lyrics (5.1)": "K:C\nA2 B2 c2 d2|\nw:ca-nal boat_\nw:* two~words hey\\-ho",
    "second voices (7.4)": "K:C\nc4 d4 & A8|^g8|",
    "voices (7)": 'V:1\nV:2\nK:C\nV:1\n"C"c8|d8|\nV:2\nC4 E4|F8|',
    "jumps (4.14)": "K:C\n!segno!A8|!coda!B8|c8!D.S.!|!coda!d8|]",
    "free metre": "M:none\nK:none\nA B2 c3|z x2|",
    "texts with signs (8.2)": "N:50 \\% \\& \\\\ \\u0022 Caf\\'e\nK:C\nA8|",
    "rests of bars (4.5)": "K:C\nZ2|X|A8|",
    "odd tempi (3.1.8)": 'Q:"Slow" 3/8=50.5\nK:C\nA8|',
    "swing (11.5)": "%%backing:swing 2:1\nK:C\nABcd|",
    "a tuplet that wants many more notes": "K:C\nA4 (5:4:32 B2c2|d8|e8|f8|g8|a8|b8|",
    "a tuplet that a second voice ends": "K:C\nA4 (3:2:9 Bcd ef & (3:2:4 CD E4|F8|",
    "a tuplet over a bar that is filled up": "V:1\nV:2\nK:C\nV:1\nA8|B8|\nV:2\n(3:2:5C4E2|DEFG|",
    "a tuplet of more than nine": "K:C\n(11:8:11ABcdefgabc'd'|",
    "an accidental that the second voice hears too": "K:C\n^c4 =f4 & c4 ^f4|",
    "an editorial accidental (4.14)": "K:C\n!editorial!^c2 c2 ^c2 c2|",
    "a second voice with rests alone": "K:C\nA8|B8 & x4 x4|c8|",
    "a second voice with nothing in it": "K:C\nA8|B8 & x8|c8|",
    "a voice of rests first": 'V:1\nV:2\nK:C\nV:1\n"C"x4 "G"x4|\nV:2\nc8|',
    "a second voice above rests": "V:1\nV:2\nK:C\nV:2\nx8|z8 & C8|\nV:1\nc8|d8|",
    "tempi inside and at the end of a bar": "K:C\nA8[Q:1/4=90]|B8 & c4 [Q:1/2=40.125]d4|",
    "a tempo in words beside another": 'Q:"Slow"\nK:C\nA4[Q:"Fast"]B4[Q:"Go" 1/4=120]|c8|',
    "a tempo that counts other units": "Q:120\nL:1/4\nK:C\nA4[L:1/8]|B4[Q:90]B4|",
    "lyrics under some lines only": "K:C\nA8|B8|c8|d8|e8|\nf8|\nw:on-ly here\\_",
    "signs in lyrics": "K:C\nA2 B2 c2 d2|\nw:\\u007eone a\\u007cb c\\u002ad e\\u005f",
    "a label with a bracket": "K:C\nP:the [top]\nA8|\nB8|",
    "an order that is none": 'P:as you "like" it\nK:C\nA8|',
    "texts above and below the key": "N:a \nT:two\nO:here\nK:C\nT:three\nN:four\nA8|\nW:five",
    "blanks round a text": "N:\\u0020 a \\u005c\nK:C\nA8|",
    "three codas": "K:C\n!coda!A8|B8|!coda!c8|d8|!coda!e8!fine!!segno!|f8|",
    "two chord symbols on a note": 'K:C\nA4 B4|\ns:"Am" "G"\ns:* "D"',
    "a letter for a text": 'U:n="^up"\nU:o="G"\nK:C\nnA4 oB4|',
    "unisons, tied and not": "K:C\n[cc]4-[cc]4|[c-c]4 [c-c-]4|",
    "a voice that is called like a shift": "K:D\nV:transpose=2\nA8|[V:octave=1 transpose=2]B8|",
    "a tempo without anything": "K:C\nA4[Q:]B4|",
    "an empty slash": "K:C\n{/}A4{/c}{}B4|",
}


@pytest.mark.parametrize("text", PIECES.values(), ids=PIECES.keys())
def test_there_and_back(text):
    """What is written reads back as the same tune, note by note, sign by sign."""
    tune = parse_abc(HEAD + text + "\n")
    again = parse_abc(render_abc(tune))
    assert again == tune
    assert again.notices == tune.notices or len(again.notices) <= len(tune.notices)


NOT_ON_NOTES = """X:1
T:Between
M:4/4
L:1/8
K:C
"C"c8|(3:2:2d2e4 f4|
"""


def test_chord_symbols_between_notes():
    """A chord symbol or a tempo that stands inside a held note cuts it into tied ones, and
    every chord sounds where it did; a rest is cut into rests."""
    tune = parse_abc(NOT_ON_NOTES)
    symbols = [ChordSymbol(Fraction(n, 4), parse_chord(t), t) for n, t in enumerate("CFGC")]
    marks = (TempoMark(Fraction(3, 8), Tempo(Fraction(90), Fraction(1, 4))),)
    first = replace(tune.bars[0], chords=tuple(symbols), tempos=marks)
    again = parse_abc(render_abc(replace(tune, bars=(first, *tune.bars[1:]))))
    assert [symbol.onset for symbol in again.bars[0].chords] == [s.onset for s in symbols]
    assert again.bars[0].tempos == marks
    notes = again.melody.bars[0]
    assert [str(note.length) for note in notes] == ["1/4", "1/8", "1/8", "1/4", "1/4"]
    assert [note.ties == note.pitches for note in notes] == [True] * 4 + [False]
    assert again.melody.bars[1] == tune.melody.bars[1]


def test_a_second_coda_that_nothing_leads_to():
    """Where a score says where to leave and has two coda signs, the first is where to go; ABC
    would take it for where to leave, so the second is written as a text."""
    tune = parse_abc("X:1\nM:4/4\nL:1/8\nK:C\nA8!dacoda!|B8!D.C.!|!coda!c8|d8|]\n")
    last = replace(tune.bars[3], jumps=(Jump.CODA,))
    twice = replace(tune, bars=(*tune.bars[:3], last))
    again = parse_abc(render_abc(twice))
    assert unfold(again) == unfold(twice)
    assert again.melody.bars[3][0].texts == ("^Coda",)


def test_lengths_of_other_formats():
    """A length that no player would write, of a score with a million divisions, comes back."""
    tune = parse_abc("X:1\nL:1/8\nM:none\nK:C\nA4 B4|\n")
    first, second = tune.melody.bars[0]
    odd = Fraction(125_362, 37_605 * 250_000)
    notes = (first._replace(length=odd), second._replace(onset=odd))
    bars = (replace(tune.bars[0], length=odd + second.length),)
    tune = replace(tune, bars=bars, voices=(Voice("melody", (notes,)),))
    assert parse_abc(render_abc(tune)) == tune


def test_an_ending_over_a_double_bar():
    """An ending that goes on after a double bar is written with a plain bar line there, for any
    other would end it in ABC."""
    tune = parse_abc("X:1\nM:4/4\nL:1/8\nK:C\n|:A8|[1B8:|[2c8|d8|e8|]\n")
    double = replace(tune, bars=(*tune.bars[:2], replace(tune.bars[2], close="||"), *tune.bars[3:]))
    again = parse_abc(render_abc(double))
    assert [bar.ending for bar in again.bars] == [bar.ending for bar in double.bars]
    assert unfold(again) == unfold(double)


def test_names_that_no_decoration_may_have():
    """A sign whose name no text can hold between exclamation marks is written as near as it
    can be, and one that stands for such a name is said and left out when it is read."""
    tune = parse_abc("X:1\nK:C\nA8|\n")
    bent = tune.melody.bars[0][0]._replace(decorations=("bend up!",))
    written = render_abc(replace(tune, voices=(Voice("melody", ((bent,),)),)))
    assert parse_abc(written).melody.bars[0][0].decorations == ("bend_up_",)
    tune = parse_abc("X:1\nU:n=!a|b!\nK:C\nnA8|\n")
    assert tune.melody.bars[0][0].decorations == ()
    assert "'a|b' is no name of a decoration" in [notice.message for notice in tune.notices]


def test_a_tune_takes_its_file_header_along():
    """A tune that is written alone keeps what its file's header said (ABC 2.1 clause 2.2.2)."""
    book = "%abc-2.1\nM:3/4\nL:1/4\nC:the file\nO:the weir\n\nX:1\nT:One\nK:G\nG3|\n"
    tune = parse_abc(book)
    written = render_abc(tune).splitlines()
    assert {"M:3/4", "L:1/4", "C:the file", "O:the weir"} <= set(written[: written.index("K:G")])
    assert parse_abc(render_abc(tune)) == tune


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_examples_there_and_back(path):
    """Every example reads back as the same tune; what is written is stable."""
    for text in split_book(path.read_text(encoding="utf-8")):
        tune = tune_of(text)
        written = render_abc(tune)
        assert parse_abc(written) == tune
        assert render_abc(parse_abc(written)) == written


@pytest.mark.slow
def test_collections_there_and_back():
    """A seeded sample of 300 tunes of the collections that the music21 package carries
    (ryansMammoth, airdsAirs, oneills1850, miscFolk, essenFolksong) reads back the same."""
    corpus = Path(importlib.util.find_spec("music21").submodule_search_locations[0], "corpus")
    names = ("ryansMammoth", "airdsAirs", "oneills1850", "miscFolk", "essenFolksong")
    texts = [
        text
        for name in names
        for path in sorted((corpus / name).glob("*.abc"))[:60]
        for text in split_book(path.read_text(encoding="utf-8", errors="replace"))
    ]
    for text in random.Random(7).sample(texts, 300):
        try:
            tune = tune_of(text)
        except BackingError:
            continue
        assert parse_abc(render_abc(tune)) == tune, text.title
