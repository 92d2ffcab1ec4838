"""What the left hand plays in each metre and dance.

B is a bass, C a chord, a point nothing new; one sign is a cell of the length given.
The patterns are common practice, no source.
"""

import itertools
from fractions import Fraction

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.arranging.arrangement import Role
from backing.files import load_style
from backing.parse.abc import parse_abc


def arranged(text, style, **manner):
    """A tune's arrangement in a style that comes with us."""
    return arrange(parse_abc(text), load_style(style), Manner(**manner))


def eight_bars(metre, dance=""):
    """Eight bars of one note each under one chord."""
    head = f"X:1\nT:Eight bars\nR:{dance}\nM:{metre}\nL:1/1\nK:G\n"
    length = "1" if metre == "none" else metre.translate({67: "1", 124: ""})
    return f'{head}"G"' + f"G{length}|" * 8


def track(arrangement, role):
    """The events of the track with this role."""
    return next(track.events for track in arrangement.tracks if track.role is role)


def grid(arrangement, cell):
    """The left hand of the first bar as signs, each `cell` long; the second must be alike.

    What comes at the ends of phrases and sections is in the golden texts of the styles."""
    two = arrangement.bars[:2]
    stop = two[0].stop
    signs = {}
    for role, sign in ((Role.BASS, "B"), (Role.CHORDS, "C")):
        for event in (e for e in track(arrangement, role) if e.onset < two[1].stop):
            assert event.onset not in signs
            assert (event.onset / cell).denominator == 1
            signs[event.onset] = sign
    bars = [
        "".join(signs.get(bar.onset + cell * place, ".") for place in range(int(stop / cell)))
        for bar in two
    ]
    assert bars[0] == bars[1]
    return bars[0]


METRES = [
    ("2/4", "1/8", "BCBC"),
    ("3/4", "1/4", "BCC"),
    ("4/4", "1/4", "BCBC"),
    ("C", "1/4", "BCBC"),
    ("2/2", "1/4", "BCBC"),
    ("C|", "1/4", "BCBC"),
    ("3/2", "1/2", "BCC"),
    ("6/8", "1/8", "B.CB.C"),
    ("9/8", "1/8", "B.CB.CB.C"),
    ("12/8", "1/8", "B.CB.CB.CB.C"),
    ("3/8", "1/8", "BCC"),
    ("5/4", "1/4", "BCCBC"),
    ("7/8", "1/8", "B.CBCBC"),
    ("(2+2+3)/8", "1/8", "BCBCB.C"),
    ("5/8", "1/8", "B.CBC"),
    ("11/8", "1/8", "B.CB.CB.CBC"),
    ("6/4", "1/4", "B.CB.C"),
    ("none", "1/8", "BCBCBCBC"),
]


@pytest.mark.parametrize(("metre", "cell", "pattern"), METRES, ids=[row[0] for row in METRES])
def test_alternating_by_metre(metre, cell, pattern):
    """Without a dance, bass and chord alternate as the metre beats."""
    text = eight_bars(metre)
    if metre.startswith("("):
        text = text.replace("G(2+2+3)/8", "G7/8")
    assert grid(arranged(text, "alternating"), Fraction(cell)) == pattern


DANCES = [
    ("reel", "4/4", "1/4", "BCBC"),
    ("reel", "C|", "1/4", "BCBC"),
    ("reel", "2/4", "1/8", "BCBC"),
    ("polka", "2/4", "1/8", "BCBC"),
    ("march", "4/4", "1/4", "BCBC"),
    ("march", "6/8", "1/8", "B.CB.C"),
    ("hornpipe", "4/4", "1/4", "BCBC"),
    ("hornpipe", "C|", "1/4", "BCBC"),
    ("hornpipe", "3/2", "1/2", "BCC"),
    ("schottische", "4/4", "1/4", "BCBC"),
    ("strathspey", "4/4", "1/4", "BCBC"),
    ("waltz", "3/4", "1/4", "BCC"),
    ("mazurka", "3/4", "1/4", "BCC"),
    ("bourrée", "3/8", "1/8", "BCC"),
    ("bourrée", "2/4", "1/8", "BCBC"),
    ("jig", "6/8", "1/8", "B.CB.C"),
    ("slip jig", "9/8", "1/8", "B.CB.CB.C"),
    ("slide", "12/8", "1/8", "B.CB.CB.CB.C"),
    ("morris", "4/4", "1/4", "BCBC"),
]


@pytest.mark.parametrize(
    ("dance", "metre", "cell", "pattern"), DANCES, ids=[f"{row[0]} {row[1]}" for row in DANCES]
)
def test_alternating_by_dance(dance, metre, cell, pattern):
    """Each dance has its usual left hand, in whichever metre it is written."""
    assert grid(arranged(eight_bars(metre, dance), "alternating"), Fraction(cell)) == pattern


ALL_METRES = sorted({row[0] for row in METRES if not row[0].startswith("(")})


@pytest.mark.parametrize("metre", ALL_METRES)
@pytest.mark.parametrize(("style", "times"), [("sustained", 2), ("drone", 1)])
def test_held_styles_strike_once(style, times, metre):
    """Over one chord and one section a drone strikes once, sustained once a phrase, and both
    hold to the end."""
    arrangement = arranged(eight_bars(metre), style)
    for role in (Role.BASS, Role.CHORDS):
        events = track(arrangement, role)
        starts = [arrangement.bars[at].onset for at in (0, 4)][:times]
        assert [event.onset for event in events] == starts
        assert events[-1].stop == arrangement.stop


@pytest.mark.parametrize("metre", ALL_METRES)
def test_no_stroke_reaches_into_the_next(metre):
    """An alternating bass or chord ends before the next stroke of either; only the last bass is
    held as long as the tune's last note."""
    arrangement = arranged(eight_bars(metre), "alternating")
    events = sorted(
        track(arrangement, Role.BASS) + track(arrangement, Role.CHORDS), key=lambda e: e.onset
    )
    assert len(events) > 3
    last = track(arrangement, Role.BASS)[-1]
    for event, following in itertools.pairwise(events):
        assert event.length > 0
        assert event.stop <= (arrangement.stop if event is last else following.onset)


def test_lengths_and_strengths_in_four():
    """In 4/4 a bass lasts half its crotchet, a chord a third; beat 1 is the strongest.  The
    last bass lasts as long as the last note.

    Common practice, no source."""
    arrangement = arranged(eight_bars("4/4"), "alternating")
    bass, chords = track(arrangement, Role.BASS), track(arrangement, Role.CHORDS)
    assert {event.length for event in bass[:-1]} == {Fraction(1, 8)}
    assert {event.length for event in chords} == {Fraction(1, 12)}
    assert bass[-1].stop == arrangement.stop
    assert [event.velocity for event in bass[:2]] == [100, 85]
    assert {event.velocity for event in chords} == {75}


def test_a_waltz_bass_rings_longer():
    """In 3/4 the bass lasts three quarters of its crotchet (common practice, no source)."""
    arrangement = arranged(eight_bars("3/4", "waltz"), "alternating")
    assert {event.length for event in track(arrangement, Role.BASS)[:3]} == {Fraction(3, 16)}


@pytest.mark.parametrize(
    ("text", "basses"),
    [
        ('"G"G4|"C"G4|', [(0, "G"), ("1/2", "G"), (1, "C"), ("3/2", "C")]),
        ('"G"G2"C"G2|G4|', [(0, "G"), ("1/2", "C"), (1, "C"), ("3/2", "C")]),
        ('"G"GG"C"GG|G4|', [(0, "G"), ("1/2", "C"), (1, "C"), ("3/2", "C")]),
        ('G2"C"G2|G4|', [("1/2", "C"), (1, "C"), ("3/2", "C")]),
        ('"G"G4|G2"N.C."G2|G2"D"G2|', [(0, "G"), ("1/2", "G"), (1, "G"), ("5/2", "D")]),
    ],
    ids=["a chord a bar", "half-bar", "on beat 3", "none before the first", "no chord"],
)
def test_each_bass_takes_the_chord_in_force(text, basses):
    """A stroke takes the chord that is in force where it falls; without one it is silent."""
    names = {43: "G", 48: "C", 50: "D"}
    style = load_style("alternating")._replace(fifths=False)
    arrangement = arrange(parse_abc("X:1\nT:Chords\nM:4/4\nL:1/4\nK:G\n" + text + "G4|" * 5), style)
    stop = Fraction(text.count("|"))
    events = [event for event in track(arrangement, Role.BASS) if event.onset < stop]
    assert [(event.onset, names[event.pitches[0]]) for event in events] == [
        (Fraction(on), name) for on, name in basses
    ]


def test_a_chord_on_the_offbeat_is_the_one_in_force_there():
    """A change in the middle of a beat is heard in the chord that follows it."""
    text = 'X:1\nT:Late\nM:2/4\nL:1/8\nK:G\n"G"G"D"A "G"G"D"A|G4|G4|G4|'
    found = [event.pitches for event in track(arranged(text, "alternating"), Role.CHORDS)]
    assert found[:2] == [(57, 62, 66)] * 2
