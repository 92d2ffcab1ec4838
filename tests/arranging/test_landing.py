"""Harmony lands: each is heard where it enters, with its bass, in every style and metre."""

import importlib.util
import itertools
from fractions import Fraction
from pathlib import Path

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.basses import run_step
from backing.arranging.spans import chord_spans
from backing.arranging.style import Hand
from backing.arranging.style_file import parse_style
from backing.files import load_style, style_files
from backing.harmony.suggest import suggest_chords, with_chords
from backing.music.chord import KINDS, parse_chord
from backing.music.key import Key
from backing.parse.abc import parse_abc

#: Swing moves an entry by less than this.
SWUNG = Fraction(1, 12)
ROOT = Path(__file__).parents[2]
NAMES = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"]


def events_of(tune, style):
    """Bass and chord events of a tune."""
    return [track.events for track in arrange(tune, load_style(style)).tracks[1:]]


def read(text, style, number):
    """A bar as it is first played, as notes: the felt beat, the bass, "+" for a chord, the beats
    that each lasts."""
    arrangement = arrange(parse_abc(text), load_style(style))
    bar = next(bar for bar in arrangement.bars if bar.number == number and not bar.begins)
    unit = bar.metre.beats[0]
    found = {}
    for track, is_bass in zip(arrangement.tracks[1:], (True, False), strict=True):
        for event in track.events:
            if bar.onset <= event.onset < bar.stop:
                sign = NAMES[event.pitches[0] % 12] if is_bass else "+"
                at = (event.onset - bar.onset) / unit + 1
                found.setdefault(at, []).append(f"{sign}{event.length / unit}")
    return "  ".join(f"{at} {' '.join(signs)}" for at, signs in sorted(found.items()))


NAMED = [
    ("the-winding-hole", "three-two", 4, "1 A1/2  2 A1 +1  3 D1 +1"),
    ("the-winding-hole", "three-two", 8, "1 A1/2  2 A1 +1  3 D1 +1"),
    ("mist-on-the-bottom-lock", "jig", 4, "1 D1/3  5/3 +2/15  2 B1/3  3 E1/2 +2/9"),
    ("mist-on-the-bottom-lock", "jig", 8, "1 D1/3  5/3 +2/15  2 D1/3  3 E1 +2/9"),
    ("mist-on-the-bottom-lock", "jig", 12, "1 A1/3  5/3 +2/15  2 B1/3  3 E1/2 +2/9"),
    ("mist-on-the-bottom-lock", "jig", 16, "1 D1/3  5/3 +2/15  2 D1/3  3 E1 +2/9"),
    ("the-frozen-basin", "mazurka", 4, "1 A1/2  2 B1 +2/3"),
    ("the-frozen-basin", "mazurka", 7, "1 E1/2  2 B1/2 +2/3  3 +1/3"),
    ("the-frozen-basin", "mazurka", 15, "1 E1/2  2 B1/2 +2/3  3 +1/3"),
    ("the-eel-trap", "bourree", 7, "1 G1/6  4/3 +1/6  5/3 E1/6 +1/6"),
    ("the-eel-trap", "bourree", 8, "1 A1 +1"),
    ("the-eel-trap", "bourree", 16, "1 A1 +1"),
    ("roses-on-the-water-can", "schottische", 3, "1 A2/3  3 G2/3 +1/2"),
    ("roses-on-the-water-can", "schottische", 7, "1 A2/3  3 D1/3 +1/4  4 F#1/2"),
    ("roses-on-the-water-can", "schottische", 11, "1 C2/3  3 G2/3 +1/2"),
    ("roses-on-the-water-can", "schottische", 15, "1 C2/3  3 D1/3 +1/4  4 F#1/2"),
    ("forty-sacks-of-coal", "sparing", 12, "1 A1/2  2 D3/4"),
    ("forty-sacks-of-coal", "sparing", 16, "1 A1/2  2 D1 +1"),
]


@pytest.mark.parametrize(
    ("name", "style", "bar", "expected"), NAMED, ids=[f"{row[0]} {row[2]}" for row in NAMED]
)
def test_bars_that_lost_their_harmony(name, style, bar, expected):
    """Where a harmony enters between a style's strokes its bass is there, and the last of a part
    is held as long as its note (common practice, no source)."""
    text = (ROOT / "examples" / f"{name}.abc").read_text(encoding="utf-8")
    assert read(text, style, bar) == expected


HEAD = "X:1\nT:Landing\nM:{}\nL:1/4\nK:D\n"


def test_a_harmony_enters_with_the_bass_of_its_slash():
    """The bass that is put is the one that the symbol names."""
    bass, _ = events_of(parse_abc(HEAD.format("3/4") + '"D"D"A/C#"A2|"D"D3|'), "light")
    assert [event.pitches[0] % 12 for event in bass[:2]] == [2, 1]


@pytest.mark.parametrize("style", ["drone", "pedal", "offbeats"])
def test_what_keeps_to_one_note_is_left_alone(style):
    """Drones, pedals and off-beat chords get no bass where harmony enters."""
    tune = parse_abc(HEAD.format("3/4") + '"D"DD"A"A|"D"D3|')
    bass, _ = events_of(tune, style)
    assert {event.pitches[0] % 12 for event in bass} <= {2}


def test_nothing_is_put_where_the_style_has_nothing():
    """A bar for which a style has no figure stays silent."""
    style = parse_style(
        'title = "t"\nuse = "u"\n[[figure]]\nmetres = ["3/4"]\n'
        'strokes = [{ when = "beat 1", play = "bass" }]\n',
        "mine",
    )
    tune = parse_abc(HEAD.format("3/4") + '"D"D3|[M:4/4]"G"G2"A"A2|[M:3/4]"D"D3|')
    bass = arrange(tune, style).tracks[1].events
    assert [str(event.onset) for event in bass] == ["0", "7/4"]


def test_no_chord_and_pickups_stay_silent():
    """Neither under "N.C." nor under a pickup is anything put."""
    tune = parse_abc(HEAD.format("3/4") + '"A"A|"D"DD"N.C."D|D"G"GG|"D"D2|]')
    bass, _ = events_of(tune, "waltz")
    assert [str(event.onset) for event in bass if event.onset < 1] == ["0"]
    assert bass[1].onset == 1


def test_an_entry_swings_with_its_note():
    """A harmony that enters on the second note of a swung pair is heard with that note."""
    text = 'X:1\nT:S\nR:hornpipe\nM:4/4\nL:1/8\nK:D\n"D"DE"G"GA FGAB|"D"d8|"D"DE F"A"A FGAB|"D"d8|'
    bass, _ = events_of(parse_abc(text), "hornpipe")
    melody = arrange(parse_abc(text), load_style("hornpipe")).tracks[0].events
    put = next(e for e in bass if e.onset > 2 and e.pitches[0] % 12 == 9)
    assert put.onset == 2 + Fraction(1, 4) + Fraction(1, 6)
    assert put.onset in {event.onset for event in melody}


# -- runs ------------------------------------------------------------------------

ROOTS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]


@pytest.mark.slow
@pytest.mark.parametrize("key", ["C", "G", "D", "A", "E", "B", "F", "Bb", "Eb", "Ab", "F#"])
@pytest.mark.parametrize("mode", ["major", "minor", "dorian", "mixolydian"])
def test_no_run_darkens_its_chord(key, mode):
    """In every key, between all pairs of chords, no step of a run is a fourth above the root of
    its chord."""
    home = Key(key[0], {"b": -1, "#": 1}.get(key[1:], 0), mode)
    chords = [parse_chord(root + kind) for root in ROOTS for kind in ("", "m", "7")]
    for chord, goal in itertools.product(chords, chords):
        for steps in (1, 2, 3):
            low = run_step(chord, goal, home, steps)[0]
            assert (low - chord.root) % 12 != 5 or 5 in KINDS[chord.kind]


@pytest.mark.parametrize(
    ("here", "there", "expected"),
    [
        ("D", "Em", "D D"),
        ("D", "G", "E F#"),
        ("G", "C", "A B"),
        ("G", "D", "F# E"),
        ("G", "Em", "G F#"),
        ("Em", "D", "E E"),
        ("D", "A", "C# B"),
        ("D", "D7", "D D"),
    ],
)
def test_a_run_goes_the_shorter_way(here, there, expected):
    """A run of two goes by the scale the shorter way, and plays the present root again where the
    way has fewer steps (common practice, no source)."""
    found = [run_step(parse_chord(here), parse_chord(there), Key("D"), left) for left in (2, 1)]
    assert [NAMES[low % 12] for low, _ in found] == expected.split()


def test_a_run_leads_into_a_harmony_or_is_none():
    """Where the harmony stays, a style's run is root and fifth by turns."""
    text = 'X:1\nT:R\nM:4/4\nL:1/4\nK:D\n"D"D4|"G"G4|"D"D4|D4|'
    bass, _ = events_of(parse_abc(text), "march")
    assert [NAMES[e.pitches[0] % 12] for e in bass if e.onset >= 2] == ["D", "A", "D", "D", "D"]


# -- over collections --------------------------------------------------------------


def _collection():
    path = ROOT / "tests" / "bench" / "common.py"
    spec = importlib.util.spec_from_file_location("bench_common", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    paths = module.sample_of(module.collection_paths(), 12)
    texts = [path.read_text(errors="replace") for path in paths]
    return texts + [
        p.read_text(encoding="utf-8") for p in sorted((ROOT / "examples").glob("the-*"))
    ]


def lands(style):
    """True for styles with basses on changes."""
    basses = [s for figure in style.figures for s in figure.strokes if s.play is Hand.BASS]
    return not style.from_key and any(not stroke.on_tonic for stroke in basses)


OURS = [load_style(name) for name, file in style_files().items() if not file.own]
ALL = [*OURS, *(style.variant(variant.name) for style in OURS for variant in style.variants)]
LANDING = [style for style in ALL if lands(style)]


@pytest.fixture(scope="module")
def chorded():
    """Tunes of Ryan's Mammoth Collection (in the music21 package) with chords found, and ours."""
    tunes = map(parse_abc, _collection())
    return [t if t.has_chords else with_chords(t, suggest_chords(t)) for t in tunes]


@pytest.mark.slow
@pytest.mark.parametrize("style", LANDING, ids=[style.name for style in LANDING])
def test_every_harmony_of_a_collection_is_heard(style, chorded):
    """In every style, each harmony of real tunes is heard where it enters with the bass that its
    symbol names, no part ends on another note but in a run, and no downbeat of a new chord or a
    phrase has a fifth."""
    runs = "run" in {str(d) for f in style.figures for s in f.strokes for d in s.degrees}
    for tune in chorded:
        arrangement = arrange(tune, style)
        bass = arrangement.tracks[1].events
        at = {event.onset: event.pitches[0] % 12 for event in bass}
        spans = chord_spans(arrangement.bars, tune.bars).spans
        for span in spans:
            entered = [at[onset] for onset in at if span.start <= onset <= span.start + SWUNG]
            assert span.bar.pickup or span.chord.bass_class in entered[:1]
        for span, following in itertools.pairwise([*spans, None]):
            closes = following is None or following.bar.part != span.bar.part
            inside = [event for event in bass if span.start <= event.onset < span.stop]
            if closes and inside and not runs:
                assert inside[-1].pitches[0] % 12 == span.chord.bass_class
        for bar in arrangement.bars:
            here = next((s for s in spans if s.start <= bar.onset < s.stop), None)
            if here and bar.opens_phrase and bar.onset in at:
                assert at[bar.onset] == here.chord.bass_class
