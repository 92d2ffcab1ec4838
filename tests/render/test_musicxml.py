"""What we write as MusicXML: read back it is the same tune, for us and for other readers."""

import io
import os
import sys
import warnings
from dataclasses import replace
from fractions import Fraction
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backing.music.tune import Jump, Tune
from backing.music.unfold import unfold
from backing.parse.abc import parse_abc, split_book, tune_of
from backing.parse.musicxml import parse_musicxml
from backing.render.musicxml import render_musicxml

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[2] / "examples"
TUNES = {
    tune.title: tune
    for path in sorted(EXAMPLES.glob("*.abc"))
    for tune in map(tune_of, split_book(path.read_text(encoding="utf-8")))
}
RICH = """X:1
T:The Weathercock's Wager
T:Rope & Rust
C:A. Nobody
C:B. Nobody
R:hornpipe
M:4/4
L:1/8
Q:1/2=88
K:Dmix
P:Top
|:AG|"D"{/g}F>A (3dcB "A7/C#"~A2 .GE|"N.C."[FA]-[FA]2 z "Bm7"(B(c)d)e|"^slow"G4 E4-|E2 !fermata!A4:|
w:Ca-nal wa-ter_ runs * slow
P:Turn
|:!segno!"G7sus4"B/c/B/c/ !p!d2 Te2 (3:2:4f/g/f2e2|1,3 A3/2B/ c/4d/4e/4f/4 g [Q:1/4=100]a2 a:|2 g8||
[K:Em][M:6/8]!fine!G3 B2e|!coda![M:3/4]e2 z4|[M:2+3/8]"Cadd9"e2 e3!D.S.!|]
"""


def back(tune: Tune) -> Tune:
    """The tune written and read again."""
    return parse_musicxml(render_musicxml(tune).encode())


def sounding(tune: Tune) -> list[list[tuple[Fraction, Fraction, tuple[int, ...]]]]:
    """The notes of each voice as they sound: onset, length with ties, key numbers."""
    rows = []
    for voice in tune.voices:
        row: list[tuple[Fraction, Fraction, tuple[int, ...]]] = []
        start, tied = Fraction(0), False
        for bar, notes in zip(tune.bars, voice.bars, strict=True):
            for note in notes:
                keys = tuple(pitch.midi for pitch in note.pitches)
                if tied and row and row[-1][2] == keys:
                    row[-1] = (row[-1][0], row[-1][1] + note.length, keys)
                elif keys:
                    row.append((start + note.onset, note.length, keys))
                tied = bool(keys) and note.ties == note.pitches
            start += bar.length
        rows.append(row)
    return rows


@pytest.fixture(scope="module")
def rich() -> Tune:
    """A tune with something of everything."""
    return parse_abc(RICH)


# -- there and back -------------------------------------------------------------


@pytest.mark.parametrize("title", TUNES)
def test_the_examples_come_back(title: str) -> None:
    """Every example is the same tune when it is written and read again."""
    tune = TUNES[title]
    again = back(tune)
    assert again.bars == tune.bars
    assert [voice.bars for voice in again.voices] == [voice.bars for voice in tune.voices]
    kept = ("title", "titles", "composers", "dance", "metre", "key", "tempo", "swing", "order")
    assert [getattr(again, name) for name in kept] == [getattr(tune, name) for name in kept]
    assert [n.message for n in again.notices if "several" not in n.message] == []


def test_everything_comes_back(rich: Tune) -> None:
    """Repeats, endings, jumps, labels, tempi, keys, metres, chord symbols and notes of a tune
    that has them all are the same when it is written and read again."""
    again = back(rich)
    for one, other in zip(again.bars, rich.bars, strict=True):
        written = replace(other, tempos=one.tempos, key=one.key, metre=one.metre)
        assert one == written
        assert [m.tempo for m in one.tempos] == [m.tempo for m in other.tempos]
        assert (str(one.key), str(one.metre)) == (str(other.key), str(other.metre))
        assert one.metre.beats == other.metre.beats
    assert again.melody.bars == rich.melody.bars
    assert (again.titles, again.composers) == (rich.titles, rich.composers)
    assert (str(again.tempo), again.dance) == ("1/2 = 88", "hornpipe")
    assert unfold(again) == unfold(rich)
    assert Jump.DAL_SEGNO in again.bars[-1].jumps


def test_a_length_that_no_note_has() -> None:
    """Five quavers are written as a minim tied to a quaver, and sound as they did."""
    tune = parse_abc("X:1\nT:Five\nM:4/4\nL:1/8\nK:C\nG5 z3|z5 [CE]3|")
    again = back(tune)
    assert sounding(again) == sounding(tune)
    assert [str(note.length) for note in again.melody.bars[0]] == ["1/2", "1/8", "3/8"]


def test_the_lowest_octave() -> None:
    """A pitch in the octave below 0 comes back as it was: its octave is no flat sign."""
    tune = parse_abc("X:1\nT:Deep\nM:2/4\nL:1/8\nK:C\nA,,,,,2 ^C,,,,,2|")
    assert [str(n.pitches[0]) for n in tune.melody.bars[0]] == ["A-1", "C#-1"]
    assert back(tune).melody.bars == tune.melody.bars


def test_lengths_that_need_a_tuplet() -> None:
    """A third of a quaver, and other lengths beyond halving, keep their exact length."""
    tune = parse_abc(
        "X:1\nT:Thirds\nM:2/4\nL:1/8\nK:C\nG/3A/3B/3 c d2|G/7A/7 B12/7 c2|C/64D127/64 E2|"
    )
    again = back(tune)
    assert sounding(again) == sounding(tune)


def test_an_implied_repeat() -> None:
    """Where a repeat goes back to a double bar, the score says so without a printed sign
    (MusicXML 4.0, `forward-repeat` of `sound`), and the signs stay as they were."""
    tune = parse_abc("X:1\nT:Implied\nM:2/4\nL:1/8\nK:C\nC4|D4||E4|F4:|G4|A4:|")
    text = render_musicxml(tune)
    assert text.count('forward-repeat="yes"') == 2
    assert 'direction="forward"' not in text
    assert back(tune).bars == tune.bars


def test_three_times() -> None:
    """A strain played three times has `times="3"` (MusicXML 4.0, element `repeat`)."""
    tune = parse_abc("X:1\nT:Thrice\nM:2/4\nL:1/8\nK:C\n|::C4|D4::|E4|")
    assert 'times="3"' in render_musicxml(tune)
    assert back(tune).bars == tune.bars


def test_voices_are_parts() -> None:
    """Every voice is a part of its own with the same bars; chord symbols stand in the first."""
    tune = parse_abc('X:1\nT:Two\nM:2/4\nL:1/8\nK:C\nV:1\n|:"C"c4|"G7"B4:|\nV:2\n|:C2E2|G,,4:|\n')
    text = render_musicxml(tune)
    again = parse_musicxml(text.encode())
    assert text.count("<harmony>") == 2
    assert [voice.name for voice in again.voices] == ["1", "2"]
    assert [voice.bars for voice in again.voices] == [voice.bars for voice in tune.voices]
    assert again.bars == tune.bars


def test_free_metre_and_no_key() -> None:
    """A tune without metre is senza misura, one without key has the mode "none"
    (MusicXML 4.0, elements `senza-misura`, `mode`)."""
    tune = parse_abc("X:1\nT:Free\nM:none\nL:1/8\nK:none\nCDE|F6 G|")
    again = back(tune)
    assert (again.metre.free, str(again.key)) == (True, "no key")
    assert again.melody.bars == tune.melody.bars


@pytest.mark.parametrize("key", ["D exp _e ^f", "HP", "G#", "Dphr ^f"])
def test_unusual_keys_keep_their_signature(key: str) -> None:
    """A key that MusicXML has no words for keeps the notes that it alters."""
    tune = parse_abc(f"X:1\nT:Odd\nM:2/4\nL:1/8\nK:{key}\nEFGA|")
    again = back(tune)
    assert again.bars[0].key.signature == tune.bars[0].key.signature
    assert sounding(again) == sounding(tune)


def test_signs_that_xml_does_not_allow() -> None:
    """Control signs in a title are left out, and marks of XML are escaped (XML 1.0, 2.2)."""
    tune = replace(
        parse_abc("X:1\nT:x\nM:2/4\nL:1/8\nK:C\nC4|"), title="", titles=("A\x00<&>\x0b",)
    )
    assert back(tune).title == "A<&>"


def test_words_that_look_like_jumps() -> None:
    """A text that only looks like a jump is not obeyed when it comes back: its direction has
    an empty `sound` (MusicXML 4.0, element `sound`)."""
    tune = parse_abc('X:1\nT:Text\nM:2/4\nL:1/8\nK:C\nC4|"^Fine"D4|"_D.C."E4|')
    again = back(tune)
    assert [bar.jumps for bar in again.bars] == [(), (), ()]
    assert again.melody.bars == tune.melody.bars


NOTE = st.tuples(
    st.sampled_from(["C", "^F", "_B,", "e", "[ce]", "z", "(3ABc", "{d}e", "A-A", "(ce)"]),
    st.sampled_from(["", "2", "3", "/", "3/2", "5", "7"]),
)
BAR = st.tuples(st.lists(NOTE, min_size=1, max_size=5), st.sampled_from(["", '"Am7"', '"D/F#"']))
SIGN = st.sampled_from(["|", ":|", "|:", "||", "::", "|]", ":||:"])


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(BAR, SIGN), min_size=1, max_size=6),
    st.sampled_from(["4/4", "6/8", "C|", "none", "5/8"]),
    st.sampled_from(["C", "Ador", "Ebm", "F#mix"]),
)
def test_any_tune_comes_back(
    content: list[tuple[tuple[list[tuple[str, str]], str], str]], metre: str, key: str
) -> None:
    """Whatever notes and bar lines a tune has, it sounds and is played through as before."""
    music = "".join(
        chord + " ".join(note + length for note, length in notes) + sign
        for (notes, chord), sign in content
    )
    text = f"X:1\nT:Any\nM:{metre}\nL:1/8\nK:{key}\nC{music}"
    tune = parse_abc(text)
    again = back(tune)
    assert sounding(again) == sounding(tune)
    assert unfold(again) == unfold(tune)
    assert [bar.chords for bar in again.bars] == [bar.chords for bar in tune.bars]
    assert [bar.number for bar in again.bars] == [bar.number for bar in tune.bars]


# -- the text -------------------------------------------------------------------


def test_nothing_changes_between_runs(rich: Tune) -> None:
    """The same tune is the same text, without a date, a version or a maker."""
    text = render_musicxml(rich)
    assert text == render_musicxml(rich)
    for word in ("music21", "encoding-date", "software", "202"):
        assert word not in text


def optional(name: str) -> ModuleType:
    """A library that checks what we write; where all checks are asked for, it must be there."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if os.environ.get("BACKING_REQUIRE_ALL") == "1":
            return import_module(name)
        module: ModuleType = pytest.importorskip(name)
        return module


def optional_partitura() -> Any:
    """partitura; at its import it would fetch a sound font where it finds FluidSynth."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, "fluidsynth", None)
        return optional("partitura")


def test_the_schema(rich: Tune) -> None:
    """What we write is valid by the schema of MusicXML 3.1, as partitura carries it."""
    xmlschema: Any = optional("xmlschema")
    partitura = optional_partitura()
    folder = Path(xmlschema.__file__).parent / "schemas"
    schema = xmlschema.XMLSchema(
        str(Path(str(partitura.__file__)).parent / "assets" / "musicxml.xsd"),
        locations={
            "http://www.w3.org/XML/1998/namespace": str(folder / "XML" / "xml.xsd"),
            "http://www.w3.org/1999/xlink": str(folder / "XLINK" / "xlink.xsd"),
        },
    )
    signed = parse_abc(
        "X:1\nT:Signs\nM:4/4\nL:1/8\nK:C\n"
        "!trill!!4!!>!!roll!!fermata!!arpeggio!!snap!!tremolo![^c=e]5 (3{/g}z(c/_d/ x|"
        "(5:4:5{[ce]f}c/d/e/f/)g/ c5/7 e13/128 x|"
    )
    for tune in (rich, signed, TUNES["The Lamplighter's Round"], TUNES["Roses on the Water Can"]):
        faults = [f"{e.path}: {e.reason}" for e in schema.iter_errors(render_musicxml(tune))]
        assert faults == []


# -- other readers --------------------------------------------------------------


def read_by_music21(tune: Tune) -> Any:
    """The score that music21 makes of what we write."""
    from music21 import converter

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return converter.parseData(render_musicxml(tune), format="musicxml")


def flat(tune: Tune) -> list[tuple[Fraction, Fraction, int]]:
    """Onset, length and key number of the melody's notes, in quarter notes, ties apart."""
    found, start = [], Fraction(0)
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        for note in notes:
            place = (start + note.onset) * 4
            found += [(place, note.length * 4, pitch.midi) for pitch in note.pitches]
        start += bar.length
    return sorted(found)


@pytest.mark.parametrize("title", TUNES)
def test_music21_reads_the_examples(title: str) -> None:
    """music21 reads the notes, chord symbols, repeats and endings that we wrote."""
    tune = TUNES[title]
    score = read_by_music21(tune)
    notes = [n for n in score.flatten().notes if "ChordSymbol" not in n.classes]
    found = [
        (Fraction(*n.offset.as_integer_ratio()), Fraction(*n.quarterLength.as_integer_ratio()), key)
        for n in notes
        if not n.duration.isGrace
        for key in (pitch.midi for pitch in n.pitches)
    ]
    assert sorted(found) == flat(tune)
    symbols = [s for s in score.recurse() if "ChordSymbol" in s.classes]
    chords = [symbol.chord for bar in tune.bars for symbol in bar.chords]
    assert [(s.root().pitchClass, {p.pitchClass for p in s.pitches}) for s in symbols] == [
        (chord.root, set(chord.pitch_classes)) for chord in chords
    ]
    measures = list(score.parts[0].getElementsByClass("Measure"))
    closes = [getattr(m.rightBarline, "direction", None) == "end" for m in measures]
    opens = [getattr(m.leftBarline, "direction", None) == "start" for m in measures]
    assert closes == [bool(bar.plays) for bar in tune.bars]
    assert opens == [bool(bar.opens_repeat) for bar in tune.bars]
    brackets = list(score.recurse().getElementsByClass("RepeatBracket"))
    assert len(brackets) == sum(bar.ending is not None and bar.ending.first for bar in tune.bars)


@pytest.mark.parametrize("title", TUNES)
def test_partitura_reads_the_examples(title: str) -> None:
    """partitura reads the notes that we wrote, each where it stands and as long as it is."""
    partitura = optional_partitura()
    tune = TUNES[title]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = partitura.load_musicxml(io.BytesIO(render_musicxml(tune).encode()))
        rows = score.parts[0].note_array()
    pickup = tune.bars[0].length * 4 if tune.bars[0].pickup else Fraction(0)
    found = sorted(
        (round(float(row["onset_quarter"]), 3), round(float(row["duration_quarter"]), 3),
         int(row["pitch"]))
        for row in rows
        if row["duration_div"] > 0
    )  # fmt: skip
    start = min(onset for onset, _, _ in found)
    expected = [
        (round(float(onset - pickup), 3), round(float(length), 3), key)
        for onset, length, key in flat(tune)
    ]
    first = min(onset for onset, _, _ in expected)
    assert [(round(o - start, 2), d, k) for o, d, k in found] == [
        (round(o - first, 2), d, k) for o, d, k in expected
    ]
