"""Rolls, trills, mordents and turns as they sound.

What each is made of is common practice, no source; ABC 2.1 clause 4.14 names them only.
"""

from fractions import Fraction
from importlib.util import find_spec
from itertools import groupby, pairwise
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from backing.arranging.arrange import Manner, arrange
from backing.arranging.arrangement import Role, cut
from backing.arranging.ornaments import figure, neighbour, ornament_of
from backing.files import load_style
from backing.music.key import MODES, parse_key
from backing.music.metre import parse_metre
from backing.music.pitch import parse_pitch, pitch_of
from backing.parse.abc import parse_abc
from backing.practice.passages import Bars
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step

HELD = load_style("sustained")
NAMES = (
    "roll", "trill", "mordent", "lowermordent", "uppermordent", "pralltriller", "turn",
    "turnx", "invertedturn", "invertedturnx",
)  # fmt: skip


JIG = "M:6/8\nL:1/8\nK:G"
REEL = "M:2/2\nL:1/8\nR:reel\nK:Ador"
POLKA = "M:2/4\nL:1/16\nK:D"
WALTZ = "M:3/4\nL:1/4\nK:Dm"


def melody(text, head=JIG, **manner):
    """The melody's events."""
    tune = parse_abc(f"X:1\nT:Ornaments\n{head}\n{text}\n")
    return arrange(tune, HELD, Manner(**manner)).tracks[0].events


def shown(events):
    """Each event as key and length."""
    return " ".join(f"{'+'.join(map(str, e.pitches))}:{e.length}" for e in events)


FIGURES = {
    "a long roll": ("~B3", JIG, "71:1/8 72:1/32 71:3/32 69:1/32 71:3/32"),
    "a short roll": ("~G2", JIG, "69:1/32 67:3/32 66:1/32 67:3/32"),
    "a roll on a quaver is a cut": ("~B", JIG, "72:1/32 71:3/32"),
    "a roll at the end of a minim": (
        "~A4", REEL, "69:1/4 71:1/32 69:3/32 67:1/32 69:3/32",
    ),
    "a roll named": ("!roll!A2", REEL, "71:1/32 69:3/32 67:1/32 69:3/32"),
    "a roll in semiquavers": (
        "~f3", POLKA, "78:1/16 79:1/64 78:3/64 76:1/64 78:3/64",
    ),
    "a roll of one and a half semiquavers is a cut": ("~f3/2", POLKA, "79:3/128 78:9/128"),
    "too short for anything": ("~A/2", REEL, "71:1/64 69:3/64"),
    "much too short": ("~A/4", REEL, "69:1/32"),
    "a trill in minims": ("Te4", REEL, "76:1/16 78:1/16 " * 3 + "76:1/8"),
    "a trill in crotchets": ("T^c", WALTZ, "73:1/32 74:1/32 " * 3 + "73:1/16"),
    "a trill in beats of three": ("!trill!G3", JIG, "67:1/16 69:1/16 " * 2 + "67:1/8"),
    "a trill without room": ("TA", REEL, "69:1/32 71:1/32 69:1/16"),
    "a lower mordent": ("Mc2", REEL, "72:1/32 71:1/32 72:3/16"),
    "a mordent named": ("!mordent!c2", REEL, "72:1/32 71:1/32 72:3/16"),
    "an upper mordent": ("Pd2", REEL, "74:1/32 76:1/32 74:3/16"),
    "the other name": ("!pralltriller!d2", REEL, "74:1/32 76:1/32 74:3/16"),
    "a turn": ("!turn!A2", REEL, "71:1/16 69:1/16 67:1/16 69:1/16"),
    "a turn on a long note": ("!turn!A4", REEL, "71:1/16 69:1/16 67:1/16 69:5/16"),
    "a turn upside down": ("!invertedturn!B2", REEL, "69:1/16 71:1/16 72:1/16 71:1/16"),
    "an accidental's neighbours": ("!turn!^G2", REEL, "69:1/16 68:1/16 66:1/16 68:1/16"),
    "a grace note before": (
        "{c}~B3", JIG, "72:1/32 71:3/32 72:1/32 71:3/32 69:1/32 71:3/32",
    ),
    "staccato": (".~B2", REEL, "72:1/32 71:3/32"),
    "a chord is left": ("T[ce]2", REEL, "72+76:1/4"),
    "a slide is left": ("!slide!A2", REEL, "69:1/4"),
    "the first of several": ("T~e4", REEL, "76:1/16 78:1/16 " * 3 + "76:1/8"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "head", "expected"), FIGURES.values(), ids=FIGURES)
def test_figures(text, head, expected):
    """An ornament is this figure of notes (common practice, no source)."""
    assert shown(melody(text + "|", head)) == expected


def test_only_the_first_of_tied_notes_is_ornamented():
    """A tie holds the last note of the ornament on, and nothing is struck on the next."""
    assert shown(melody("T~A3-A3|~A6|")) == shown(melody("TA3-A3|~A6|"))
    assert shown(melody("!mordent!A3-!mordent!A3|")) == "69:1/32 67:1/32 69:11/16"


def test_plain_leaves_ornaments_out():
    """Without ornaments the notes are the written ones."""
    plain = melody("B3 A3|G6|", ornaments=False)
    assert melody("~B3 TA3|!turn!G6|", ornaments=False) == plain
    assert shown(plain) == shown(melody("B3 A3|G6|"))


def test_swung_pairs_stay_swung():
    """Both notes of a swung pair begin and end where they do without their ornaments: the
    ornament comes after the swing."""
    head = "M:4/4\nL:1/8\nR:hornpipe\nK:G"
    ornamented, plain = melody("~A!turn!B TcB|", head), melody("ABcB|", head)
    assert {e.onset for e in plain} <= {e.onset for e in ornamented}
    assert shown(ornamented[:2]) == "71:1/32 69:13/96"


def test_an_accent_is_on_the_whole_figure():
    """Every note of an accented ornament is as loud as the accented note, one step louder than
    the stressed beat; cuts and taps are a step softer than that."""
    (alone,) = melody("B3|")
    loud = alone.velocity + 15
    assert {event.velocity for event in melody("!accent!!trill!B3|")} == {loud}
    struck = [event.velocity for event in melody("!accent!~B3|")]
    assert struck == [loud, loud - 15, loud, loud - 15, loud]


def test_grace_notes_are_softer_than_their_note():
    """A cut is a step softer than the note that it leads into (common practice, no source)."""
    one, two, note, _ = [event.velocity for event in melody("{cd}B3 A3|")]
    assert one == two == note - 15


def test_every_note_of_a_figure_says_which_note_it_is():
    """All notes of an ornament have the origin of the written note."""
    origins = [event.origin for event in melody("A3 ~B3|")]
    assert len(origins) == 6
    assert {origin.note for origin in origins[1:]} == {1}


@pytest.mark.parametrize(
    ("pitch", "by", "key", "expected"),
    [
        ("E4", 1, "G", "F#4"),
        ("E4", 1, "F", "F4"),
        ("B4", 1, "C", "C5"),
        ("C4", -1, "Bb", "Bb3"),
        ("D4", -1, "Dphr", "C4"),
        ("D4", 1, "Dphr", "Eb4"),
        ("G4", -1, "A exp ^f", "F#4"),
        ("A4", 1, "HP", "B4"),
        ("B4", -1, "HP", "A4"),
        ("E4", 1, "none", "F4"),
        ("Eb4", 1, "D phr ^f", "F#4"),
        # beside a note that is not the signature's: a semitone to a tone away
        ("B#4", 1, "C", "C#5"),
        ("C#5", -1, "Dm", "B4"),
        ("Bb4", 1, "D", "C5"),
        ("F4", -1, "G", "E4"),
    ],
)
def test_neighbours_are_those_of_the_key(pitch, by, key, expected):
    """The note above or below is the next letter with the sign of the key signature."""
    assert str(neighbour(parse_pitch(pitch), by, parse_key(key))) == expected


def test_there_is_no_neighbour_past_the_ends_of_midi():
    """MIDI has keys 0 to 127 (MIDI 1.0): beyond them a note is its own neighbour, on the keys
    at the ends it is not."""
    key = parse_key("C")
    lowest, highest = pitch_of("C", 0, -1), pitch_of("G", 0, 9)
    assert (lowest.midi, highest.midi) == (0, 127)
    assert (neighbour(lowest, -1, key), neighbour(highest, 1, key)) == (lowest, highest)
    assert neighbour(pitch_of("D", 0, -1), -1, key) == lowest
    assert neighbour(pitch_of("F", 0, 9), 1, key) == highest


@pytest.mark.slow
@given(
    st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(0, 9), st.sampled_from([1, -1]),
    st.sampled_from("CDEFGAB"), st.sampled_from(list(MODES)),
)  # fmt: skip
def test_a_neighbour_is_near(step, alter, octave, by, tonic, mode):
    """A neighbour lies a semitone or a tone away on its own side, or is the note itself at
    the ends of MIDI."""
    pitch = pitch_of(step, alter, octave)
    if not 0 <= pitch.midi <= 127:
        return
    found = neighbour(pitch, by, parse_key(f"{tonic} {mode}")).midi
    assert 0 <= found <= 127
    assert found == pitch.midi or 1 <= (found - pitch.midi) * by <= 2


@pytest.mark.slow
@example("roll", Fraction(3, 32), "2/4")
@given(
    st.sampled_from(NAMES),
    st.fractions(Fraction(1, 256), Fraction(4), max_denominator=256),
    st.sampled_from(["2/4", "4/4", "C|", "3/4", "6/8", "9/8", "7/8", "3/2", "5/16", "none"]),
)
def test_a_figure_fills_its_note(name, length, metre):
    """Whatever the length, a figure lasts as long as its note, ends on it, and has no note
    shorter than a 64th."""
    pitch = parse_pitch("A4")
    found = figure(name, pitch, length, parse_key("D"), parse_metre(metre))
    assert sum(part for part, _ in found) == length
    assert found[-1][1] == pitch.midi
    assert min(part for part, _ in found) >= min(length, Fraction(1, 64))
    assert all(a != b for (_, a), (_, b) in pairwise(found))


def corpus():
    """The tunes of Ryan's Mammoth Collection (in the music21 package) with trills or rolls,
    every fourth."""
    spec = find_spec("music21")
    assert spec is not None
    assert spec.submodule_search_locations
    folder = Path(spec.submodule_search_locations[0]) / "corpus" / "ryansMammoth"
    texts = [
        path.read_bytes().decode("utf-8", errors="replace") for path in sorted(folder.glob("*.abc"))
    ]
    return [text for text in texts if "T" in text.partition("K:")[2] or "~" in text][::4]


CORPUS = [parse_abc(text) for text in corpus()]


@pytest.mark.parametrize("tune", CORPUS, ids=[tune.title for tune in CORPUS])
def test_the_beat_never_moves(tune):
    """In a collection's ornamented tunes the quick notes of each note begin where it does,
    follow each other without a gap, and end as it does, on its keys."""
    plain = arrange(tune, HELD, Manner(ornaments=False)).tracks[0].events
    ornamented = iter(arrange(tune, HELD).tracks[0].events)
    for event in plain:
        found = [next(ornamented)]
        while found[-1].stop < event.stop:
            found.append(next(ornamented))
            assert found[-1].onset == found[-2].stop
        assert found[0].onset == event.onset
        assert (found[-1].stop, found[-1].pitches) == (event.stop, event.pitches)
        assert {quick.origin for quick in found} == {event.origin}
    assert not list(ornamented)


def test_a_loop_never_strikes_a_note_that_began_before_it():
    """Where a loop begins, no part of an ornament sounds whose note began before."""
    text = "~B3- ~B3|Td6-|d3 !turn!c3-|c3 ~A3-|A6|"
    whole = arrange(parse_abc(f"X:1\nT:Loop\nM:6/8\nL:1/8\nK:G\n{text}\n"), HELD)
    begun = {
        origin: min(event.onset for event in events)
        for origin, events in groupby(whole.tracks[0].events, key=lambda event: event.origin)
    }
    for bar in whole.bars:
        piece = cut(whole, bar.onset, whole.stop)
        assert all(begun[event.origin] >= bar.onset for event in piece.tracks[0].events)


def test_a_pickup_takes_the_end_of_an_ornamented_note():
    """Where a loop's pickup needs the end of its last note, an ornament on that note changes
    nothing: the pickup comes on time."""
    onsets = []
    for roll in ("", "~"):
        tune = parse_abc(f"X:1\nT:Seam\nM:6/8\nL:1/8\nK:G\nd|G3 B3|A3 {roll}G3:|\n")
        plan = Plan((Step(Bars(1, 2), times=2, count_in=1),))
        performance = perform(arrange(tune, HELD), plan, tune)
        assert performance.notices
        events = performance.track(Role.MELODY).events
        onsets.append([event.onset for event in events if event.origin.bar == 0])
    assert onsets[0] == onsets[1] == [Fraction(-1, 8), Fraction(11, 8)]


def test_other_decorations_are_no_ornaments():
    """Bowings, fingers and slides are no figures."""
    assert ornament_of(("upbow", "3", "slide", "staccato", "trill(")) == ""
