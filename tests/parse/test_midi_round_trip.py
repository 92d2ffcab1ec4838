"""What this program writes as MIDI comes back as the tune that was played.

Compared are bars (length, metre and its beats, key and mode, pickup), tempo, chords, title,
dance and notes (keys as they sound, ties joined); in the tune read they are taken from the
value, in the tune played from the arrangement.  The tunes are those of examples/, thirty of
Ryan's Mammoth Collection (1883), which the music21 package carries, and some invented here.
"""

from dataclasses import replace
from fractions import Fraction
from importlib.util import find_spec
from pathlib import Path
from random import Random

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.files import load_style
from backing.parse.abc import parse_abc, split_book, tune_of
from backing.parse.midi import parse_midi
from backing.practice.passages import Bars
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
TUNES = [
    tune_of(text)
    for path in sorted(EXAMPLES.glob("*.abc"))
    for text in split_book(path.read_text(encoding="utf-8"))
]
STYLES = ("alternating", "sustained", "drone")
PLAIN = Manner(swing=Fraction(1), ornaments=False)
SEED, COUNT = 1883, 30
TITLES = [tune.title for tune in TUNES]


def collection():
    """Thirty files of the collection, chosen by a fixed seed."""
    spec = find_spec("music21")
    assert spec is not None
    assert spec.submodule_search_locations
    folder = Path(spec.submodule_search_locations[0]) / "corpus" / "ryansMammoth"
    return Random(SEED).sample(sorted(folder.glob("*.abc")), COUNT)


FILES = collection()


def without_staccato(tune):
    """The tune without its staccatos, which a file tells as shorter notes."""
    bars = tuple(
        tuple(
            note._replace(decorations=tuple(d for d in note.decorations if d != "staccato"))
            for note in bar
        )
        for bar in tune.melody.bars
    )
    return replace(tune, voices=(tune.melody._replace(bars=bars),))


def written(tune, style="alternating", count_in=1, manner=PLAIN, **step):
    """The arrangement, the performance and the bytes of the whole tune."""
    arrangement = arrange(tune, load_style(style), manner)
    performance = perform(arrangement, Plan((Step(count_in=count_in, **step),)), tune)
    return arrangement, performance, render_midi(performance)


def joined(rows, begin=Fraction(0)):
    """(onset, length, keys) of every note struck, ties joined, from (bar start, note) pairs."""
    found, open_keys = [], {}
    for start, note in rows:
        keys = tuple(sorted({pitch.midi for pitch in note.pitches}))
        held = [key for key in keys if key in open_keys]
        for key in held:
            open_keys[key][1] += note.length
        new = [key for key in keys if key not in held]
        entries = {key: [start + note.onset - begin, note.length, key] for key in new}
        found += entries.values()
        ties = {pitch.midi for pitch in note.ties}
        now = {**{key: open_keys[key] for key in held}, **entries}
        open_keys = {key: entry for key, entry in now.items() if key in ties}
    return [tuple(entry) for entry in found]


def played_rows(tune, arrangement):
    """(start, note) of the tune as it is played."""
    return [
        (bar.onset, note)
        for bar in arrangement.bars
        for note in tune.melody.bars[bar.index]
        if note.pitches
    ]


def read_rows(tune):
    """(start, note) of the tune read, its first full bar at 0."""
    at = -tune.bars[0].length if tune.bars[0].pickup else Fraction(0)
    rows = []
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        rows += [(at, note) for note in notes if note.pitches]
        at += bar.length
    return rows


def frame_of(bars):
    """What both kinds of bar tell: length, metre with its beats, key."""
    return [(bar.length, bar.metre, bar.key) for bar in bars]


def chords_of(tune):
    """(position, text) of the chord symbols of a tune read."""
    at = -tune.bars[0].length if tune.bars[0].pickup else Fraction(0)
    found = []
    for bar in tune.bars:
        found += [(at + symbol.onset, symbol.text) for symbol in bar.chords]
        at += bar.length
    return found


def check(tune, arrangement, performance, data):
    """The tune read is the tune played."""
    read = parse_midi(data)
    assert read.title == " ".join(tune.title.split())
    assert read.dance == tune.dance
    assert frame_of(read.bars) == frame_of(arrangement.bars)
    assert read.bars[0].pickup == tune.bars[0].pickup
    assert joined(read_rows(read)) == joined(played_rows(tune, arrangement))
    assert read.tempo.wholes == performance.tempos[0].tempo.wholes
    assert chords_of(read) == [(text.onset, text.text) for text in arrangement.chords]
    return read


@pytest.mark.slow
@pytest.mark.parametrize("count_in", [0, 1, 2])
@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("tune", TUNES, ids=TITLES)
def test_examples_come_back(tune, style, count_in):
    """Every example comes back as it was played, in each style, after any count-in."""
    tune = without_staccato(tune)
    check(tune, *written(tune, style, count_in))


@pytest.mark.slow
@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_the_collection_comes_back(path):
    """Thirty tunes of Ryan's Mammoth Collection (1883) come back as they were played."""
    tune = without_staccato(parse_abc(path.read_bytes().decode("utf-8", errors="replace")))
    style = STYLES[len(path.stem) % 3]
    check(tune, *written(tune, style, len(path.stem) % 2))


@pytest.mark.slow
@pytest.mark.parametrize("tune", TUNES, ids=TITLES)
def test_ornaments_come_back_as_notes(tune):
    """With grace notes and ornaments, what is struck comes back as it was played: the quick
    notes as notes of their own."""
    arrangement, _, data = written(tune, manner=Manner(swing=Fraction(1)))
    played = [
        (event.onset, event.length, key)
        for event in arrangement.tracks[0].events
        for key in event.pitches
    ]
    assert sorted(joined(read_rows(parse_midi(data)))) == sorted(played)


def invented(head, body):
    """A tune of our own, from its fields and its notes."""
    return parse_abc(f"X:1\nT:Carried Home\n{head}\n{body}\n")


INVENTED = {
    "dorian": ("M:4/4\nL:1/8\nR:reel\nK:Ador", '"Am"A4 "G"B4|"Am"A8|'),
    "dorian that ends elsewhere": ("M:4/4\nL:1/8\nK:Ador", "A4 B4|d8|"),
    "mixolydian": ("M:6/8\nL:1/8\nR:jig\nK:Dmix", "d3 c3|A6|"),
    "lydian": ("M:3/4\nL:1/4\nR:waltz\nK:Flyd", "FGA|B3|"),
    "phrygian": ("M:3/4\nL:1/4\nK:Ephr", "EFG|E3|"),
    "locrian": ("M:3/4\nL:1/4\nK:Bloc", "Bcd|B3|"),
    "accidentals in the key": ("M:3/4\nL:1/4\nK:D phr ^f", "D_EF|D3|"),
    "a key of its own": ("M:3/4\nL:1/4\nK:D exp _b ^f", "DFG|D3|"),
    "Highland pipes": ("M:2/4\nL:1/8\nK:HP", "A2c2|A4|"),
    "no key": ("M:4/4\nL:1/4\nK:none", "CEGc|C4|"),
    "more than seven sharps": ("M:4/4\nL:1/4\nK:G#", "G4|G4|"),
    "modes that change": ("M:2/4\nL:1/4\nK:Ador", "AB|[K:Em]GE|[K:G]GG|[K:Ddor]DD|"),
    "a grouping": ("M:(2+2+3)/8\nL:1/8\nK:G", "GABcdef|g7|"),
    "another grouping": ("M:3+2+3/8\nL:1/8\nK:G", "GABcdefg|g8|"),
    "the usual sevens": ("M:7/8\nL:1/8\nK:G", "GABcdef|g7|"),
    "common time": ("M:C\nL:1/4\nK:G", "GABc|d4|"),
    "cut time": ("M:C|\nL:1/4\nR:reel\nK:G", "GABc|d4|"),
    "a reel felt in minims": ("M:C\nL:1/4\nR:reel\nK:G", "GABc|d4|"),
    "metres that change": ("M:4/4\nL:1/4\nK:G", "GABc|[M:3/4]GAB|[M:6/8]G3/B3/|[M:C|]d4|"),
    "one bar of another metre": ("M:4/4\nL:1/4\nK:G", "GABc|[M:2/4]GA|[M:4/4]GABc|d4|"),
    "free metre": ("M:none\nL:1/4\nQ:1/4=80\nK:Am", "A B c|d e|A5|"),
    "free metre in quavers": ("M:none\nL:1/8\nQ:1/8=100\nK:Am", "A B c|d e|A5|"),
    "a bar too long": ("M:3/4\nL:1/4\nK:G", "GAB|GABc|d3|"),
    "a bar too short": ("M:4/4\nL:1/4\nK:G", "GABc|GAB|d4|"),
    "a pickup": ("M:6/8\nL:1/8\nR:jig\nK:D", "A|d3 f3|a6|"),
    "a pickup and its rest": ("M:6/8\nL:1/8\nR:jig\nK:D", "A|d3 f3|a5|"),
    "a pickup that begins with a rest": ("M:4/4\nL:1/8\nK:D", "zA|d4 f4|a6|"),
    "a pickup with chords": ("M:4/4\nL:1/8\nK:D", '"A7"A2|"D"d4 f4|a6|'),
    "pickups inside": ("M:4/4\nL:1/4\nK:D", "|:A|dfaf|d3:||:a|fdfd|d3:|"),
    "a short last bar": ("M:4/4\nL:1/4\nK:D", "dfaf|d3|"),
    "a last bar that rests": ("M:4/4\nL:1/4\nK:D", "dfaf|d2 z2|"),
    "a bar of rests at the end": ("M:4/4\nL:1/4\nK:D", "dfaf|d4|Z|"),
    "a bar of rests at the start": ("M:4/4\nL:1/4\nK:D", "Z|dfaf|d4|"),
    "a dance that is not known": ("M:3/4\nL:1/4\nR:quay-side galop\nK:D", "dfa|d3|"),
}


@pytest.mark.parametrize("count_in", [0, 1])
@pytest.mark.parametrize(("head", "body"), INVENTED.values(), ids=INVENTED)
def test_what_signatures_cannot_say_comes_back(head, body, count_in):
    """Modes, groupings, felt beats, free metre, odd bars, pickups, rests at both ends and the
    dance come back, though MIDI's own signatures have no words for them."""
    tune = invented(head, body)
    check(tune, *written(tune, count_in=count_in))


@pytest.mark.parametrize("text", ["key: D dorian", "metre: 3/4", "dance: jig", "end", "bar 1", "G"])
def test_titles_that_look_like_our_words(text):
    """A title that reads like a word of ours, or like a chord, is a title."""
    tune = replace(invented("M:4/4\nL:1/4\nK:G", '"C"GABc|d4|'), title=text)
    check(tune, *written(tune))


def test_a_loop_comes_back_as_it_is_played():
    """Of a loop of two times with a pickup, each time comes back with its pickup."""
    tune = invented("M:4/4\nL:1/4\nR:polka\nK:Ador", "|:A|Bcde|A3:|")
    arrangement = arrange(tune, load_style("drone"), PLAIN)
    step = Step(Bars(1, 2), times=2, count_in=1)
    read = parse_midi(render_midi(perform(arrangement, Plan((step,)), tune)))
    lengths = [Fraction(1, 4), Fraction(1), Fraction(3, 4)]
    assert [bar.length for bar in read.bars] == lengths * 2
    assert str(read.key) == "A dorian"


def test_the_same_in_one_track():
    """A file of one track (format 0) tells the same."""
    tune = invented("M:6/8\nL:1/8\nR:jig\nK:Dmix", "A|d3 c3|A5|")
    arrangement, performance, _ = written(tune)
    check(tune, arrangement, performance, render_midi(performance, single_track=True))


def test_words_that_the_signatures_belie_are_not_believed():
    """Where a file's signatures were changed afterwards, its metre and key are theirs, and no
    longer those in words."""
    tune = invented("M:3/4\nL:1/4\nK:Ador", "ABc|def|e3|A3|")
    data = written(tune, count_in=0)[2]
    in_four = data.replace(b"\xff\x58\x04\x03\x02", b"\xff\x58\x04\x04\x02")
    assert str(parse_midi(in_four).metre) == "4/4"
    in_g_minor = data.replace(b"\xff\x59\x02\x01\x01", b"\xff\x59\x02\xfe\x01")
    assert parse_midi(in_g_minor).key.fifths == -2


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"key: A dorian", b"key: H dorian"),
        (b"key: A dorian", b"key: A dorias"),
        (b"metre: 3/4", b"metre: 0/4"),
        (b"metre: 3/4", b"metre: (0)"),
        (b"metre: 3/4", b"metre: 9/9"),
        (b"metre: 3/4", b"metre: \xff\0\xff"),
    ],
)
def test_words_that_cannot_be_read_are_passed_over(old, new):
    """Words of ours that make no sense are passed over: the signatures are taken."""
    data = written(invented("M:3/4\nL:1/4\nK:Ador", "ABc|def|e3|A3|"), count_in=0)[2]
    assert old in data
    tune = parse_midi(data.replace(old, new))
    assert str(tune.metre) == "3/4"
    assert tune.key.fifths == 1
    assert len(tune.bars) == 4
