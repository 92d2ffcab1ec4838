"""Laws of the left hand: whatever the style, the metre, the bars and the chords."""

import itertools
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.arranging.arrange import Manner, arrange
from backing.arranging.arrangement import LEFT_HAND, cut
from backing.arranging.style_file import parse_style
from backing.files import load_style, style_files
from backing.parse.abc import parse_abc

pytestmark = pytest.mark.slow

OURS = [name for name, file in style_files().items() if not file.own]
NAMES = OURS + [f"{name}:{v.name}" for name in OURS for v in load_style(name).variants]
STYLES = {name: load_style(name) for name in NAMES}
METRES = ["2/4", "3/4", "4/4", "2/2", "3/2", "4/2", "6/8", "9/8", "12/8", "3/8", "5/8", "7/8"]
METRES += ["11/8", "5/4", "7/4", "6/4", "1/4", "none"]
SYMBOLS = ["", '"G"', '"C"', '"D7"', '"Em"', '"Am7"', '"D/F#"', '"F#dim"', '"Bbmaj7"', '"N.C."']
DANCES = ["", "jig", "reel", "waltz", "hornpipe", "polka", "mazurka", "3/2", "bourree", "morris"]


@st.composite
def tunes(draw):
    """A tune in any metre: pickups, repeats, bars of a wrong length, chords anywhere."""
    metre = draw(st.sampled_from(METRES))
    full = 8 if metre == "none" else int(Fraction(metre) * 8)
    parts = []
    for _ in range(draw(st.integers(1, 2))):
        pickup = draw(st.booleans()) and full > 1
        strain = ["c"] if pickup else []
        for _ in range(draw(st.integers(1, 9))):
            wrong = draw(st.integers(0, 9)) == 0
            strain.append(bar(draw, max(1, full + draw(st.integers(-2, 3)) * wrong)))
        parts.append("|:" + "|".join(strain) + ":|")
    dance = draw(st.sampled_from(DANCES))
    key = draw(st.sampled_from(["G", "Ador", "Em", "F#m", "none"]))
    return parse_abc(f"X:1\nT:Any\nR:{dance}\nM:{metre}\nL:1/8\nK:{key}\n" + "\n".join(parts))


def bar(draw, quavers):
    """So many quavers as notes of any length, with chord symbols before some."""
    notes, left = [], quavers
    while left:
        length = min(left, draw(st.sampled_from([1, 1, 2, 3, 4])))
        symbol = draw(st.sampled_from(SYMBOLS)) if draw(st.booleans()) else ""
        notes.append(f"{symbol}{draw(st.sampled_from('GABcde'))}{length}")
        left -= length
    return " ".join(notes)


ANY_STYLE = st.sampled_from(NAMES)


def left_tracks(arrangement):
    """The tracks of the left hand."""
    return [track for track in arrangement.tracks if track.role in LEFT_HAND]


@given(tunes(), ANY_STYLE)
def test_every_event_sounds_inside_the_tune(tune, name):
    """Every event has a length, ends with the tune at the latest, has a velocity from 1 to 127
    and keys without a double."""
    arrangement = arrange(tune, STYLES[name])
    for track in left_tracks(arrangement):
        for event in track.events:
            assert arrangement.start <= event.onset < event.stop <= arrangement.stop
            assert 1 <= event.velocity <= 127
            assert 0 < len(event.pitches) == len(set(event.pitches))


@given(tunes(), ANY_STYLE)
def test_a_hand_never_sounds_into_its_next_stroke(tune, name):
    """On one track each event ends before the next begins, and none fall together."""
    for track in left_tracks(arrange(tune, STYLES[name])):
        for event, following in itertools.pairwise(track.events):
            assert event.stop <= following.onset


@given(tunes(), ANY_STYLE)
def test_nothing_sounds_under_a_pickup(tune, name):
    """Under a pickup neither bass nor chord sounds, in any style."""
    arrangement = arrange(tune, STYLES[name])
    pickups = [bar for bar in arrangement.bars if bar.begins]
    for track in left_tracks(arrangement):
        for event in track.events:
            assert not any(event.onset < b.stop and b.onset < event.stop for b in pickups)


@given(tunes(), ANY_STYLE)
def test_the_same_tune_gets_the_same_left_hand(tune, name):
    """Nothing is left to chance: arranged twice, the events are the same."""
    assert arrange(tune, STYLES[name]).tracks == arrange(tune, STYLES[name]).tracks


@given(tunes(), ANY_STYLE, st.fractions(0, 8, max_denominator=8), st.integers(1, 4))
def test_a_cut_keeps_the_strokes_of_the_whole(tune, name, start, length):
    """A cut plays the strokes of the whole tune at their places, figures of several bars and
    the ends of phrases too; it only adds what was held over its start."""
    whole = arrange(tune, STYLES[name])
    piece = cut(whole, start, start + length)
    for track, of_whole in zip(left_tracks(piece), left_tracks(whole), strict=True):
        onsets = [event.onset for event in of_whole.events]
        inside = [onset for onset in onsets if start <= onset < start + length]
        assert [event.onset for event in track.events if event.onset in onsets] == inside
        assert all(event.onset in (start, *inside) for event in track.events)


@pytest.mark.parametrize("metre", METRES)
@pytest.mark.parametrize("name", NAMES)
def test_every_style_plays_in_every_metre(name, metre):
    """In every metre each style strikes something in the first four of eight bars, and leaves
    no more than two bars together without a sound."""
    length = "1" if metre == "none" else metre
    text = f'X:1\nT:Eight\nM:{metre}\nL:1/1\nK:G\n"G"' + f"G{length}|" * 8
    arrangement = arrange(parse_abc(text), STYLES[name], Manner())
    events = sorted((e for t in left_tracks(arrangement) for e in t.events), key=lambda e: e.onset)
    bar_length, silent_from = arrangement.bars[0].length, arrangement.start
    for event in events:
        assert event.onset - silent_from <= 2 * bar_length
        silent_from = max(silent_from, event.stop)
    assert arrangement.stop - silent_from <= 2 * bar_length


@pytest.mark.parametrize("name", OURS)
def test_our_own_styles_have_no_faults(name):
    """Each style that comes with us passes the checks that a player's own has to pass."""
    file = style_files()[name]
    parse_style(file.path.read_text(encoding="utf-8"), name)
