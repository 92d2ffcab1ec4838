"""Where a bar stands: in its phrase, its section and the tune, and what the melody does there.

What a style may name is common practice, no source; the numbers are working values.
"""

from fractions import Fraction

import pytest

from backing.arranging.places import OF_THE_HARMONY, Place, possible_places, stands
from backing.music.played import as_played
from backing.parse.abc import parse_abc

ALL = frozenset(Place)
FORM = frozenset(
    {Place.PHRASE_START, Place.PHRASE_END, Place.SECTION_START, Place.BEFORE_SECTION_END,
     Place.SECTION_END, Place.SECOND_TIME, Place.TUNE_END}
)  # fmt: skip


def found(music, metre="4/4", unit="1/4", changes=(), wanted=ALL):
    """Where each bar of a tune stands as it is played."""
    tune = parse_abc(f"X:1\nM:{metre}\nL:{unit}\nK:G\n{music}\n")
    return stands(as_played(tune), changes, wanted)


def melody_of(bar, usual="GGGG", **how):
    """What the melody does in a bar that is the last of a phrase of four."""
    last = found(f"{usual}|" * 3 + f"{bar}|", **how)[-1]
    return last.places & {Place.CADENCE, Place.FAST, Place.SYNCOPATION}


def test_the_bars_of_a_section():
    """The first bar opens phrase and section, every fourth ends a phrase; the last bar but one
    stands before the section's end, and only at the second time through all is said to be it."""
    places = [stand.places & FORM for stand in found("|:D|" + "GGGG|" * 7 + "GGG:|")]
    once = [
        {Place.PHRASE_START, Place.SECTION_START},
        set(),
        set(),
        {Place.PHRASE_END},
        {Place.PHRASE_START},
        set(),
        {Place.BEFORE_SECTION_END},
        {Place.PHRASE_END, Place.SECTION_END},
    ]
    again = [each | {Place.SECOND_TIME} for each in once]
    again[-1].add(Place.TUNE_END)
    assert places == [set(), *once, set(), *again]


def test_the_halves_of_a_phrase():
    """Two bars of a phrase of four are its first half, two its second; a pickup is neither."""
    halves = {Place.FIRST_HALF: "1", Place.SECOND_HALF: "2"}
    bars = found("D|" + "GGGG|" * 8)
    said = ["".join(halves.get(place, "") for place in stand.places) for stand in bars]
    assert "".join(said) == "11221122"
    assert bars[0].places == frozenset()


def test_a_second_part_begins_anew():
    """Each section has its own first and second time; only the last one ends the tune."""
    bars = found("|:" + "GGGG|" * 3 + "GGGG::" + "cccc|" * 3 + "cccc:|")
    said = [
        (Place.SECOND_TIME in stand.places, Place.TUNE_END in stand.places) for stand in bars[3::4]
    ]
    assert said == [(False, False), (True, False), (False, False), (True, True)]
    assert [stand.position for stand in bars] == [0, 1, 2, 3] * 4


def test_a_bar_before_a_change():
    """Where new harmony begins with the next bar, this one stands before a change; a change in
    the middle of a bar does not count."""
    bars = found("GGGG|" * 4, changes=[Fraction(0), Fraction(2), Fraction(5, 2)])
    assert [Place.BEFORE_CHANGE in stand.places for stand in bars] == [False, True, False, False]


def test_only_what_is_asked_for_is_found():
    """What the melody and the harmony do costs time, and is left out where no style asks."""
    bars = found("GGGG|" * 3 + "G4|", changes=[Fraction(1)], wanted=FORM)
    assert not any(stand.places & {Place.CADENCE, Place.BEFORE_CHANGE} for stand in bars)
    bars = found("GGGG|" * 3 + "G4|", changes=[Fraction(1)], wanted=OF_THE_HARMONY)
    assert not any(Place.CADENCE in stand.places for stand in bars)
    assert Place.BEFORE_CHANGE in bars[0].places


@pytest.mark.parametrize(
    ("bar", "rests"),
    [
        ("G4", True),
        ("GG GG", True),
        ("G2 G3/2 G/", True),  # the fourth beat is held over
        ("G2 GG/G/", True),  # off the beat after the last beat
        ("GG/G/ G2", False),
        ("G2 G/G3/2", False),
        ("z4", True),
    ],
)
def test_a_melody_at_rest_at_a_phrase_end_is_a_cadence(bar, rests):
    """Nothing is struck off the beat before the last beat of the bar."""
    assert (Place.CADENCE in melody_of(bar)) is rests


@pytest.mark.parametrize(("bar", "rests"), [("G2", True), ("GG", True), ("G/G3/2", False)])
def test_rest_in_a_bar_of_one_beat(bar, rests):
    """In a bar of one beat nothing is struck off the beat before its middle."""
    assert (Place.CADENCE in melody_of(bar, "G2", metre="1/2")) is rests


def test_no_cadence_inside_a_phrase():
    """Only the end of a phrase can be a cadence, however long its notes are."""
    bars = found("G4|" * 8)
    assert [Place.CADENCE in stand.places for stand in bars] == [*[False] * 3, True] * 2


@pytest.mark.parametrize(
    ("bar", "fast"),
    [("G/G/G/G/ G/G/G/G/", True), ("G/G/G/G/ GG", True), ("GG/G/ GG", False)],
)
def test_fast_notes(bar, fast):
    """Half as many notes again as in the usual bar, and three or more on a felt beat: of four
    quavers usual, six notes in a bar of two beats."""
    assert (Place.FAST in melody_of(bar, metre="2/4", unit="1/8")) is fast


def test_many_notes_are_usual_in_a_tune_that_has_them():
    """Where the usual bar has as many notes, they are not said to be fast."""
    whole = "G/G/G/G/ G/G/G/G/"
    assert Place.FAST not in melody_of(whole, whole, metre="2/4", unit="1/8")


@pytest.mark.parametrize(
    ("bar", "syncopated"),
    [
        ("G/G G/ GG", True),  # off the first beat over the second
        ("G/G/- G/G/ GG", True),  # the same, tied
        ("GGGG", False),
        ("G>G GG", False),  # ends where the beat begins
        ("G2 G2", False),  # over a beat, but from one
    ],
)
def test_syncopation(bar, syncopated):
    """A note struck off the beat that sounds over the next one is a syncopation."""
    assert (Place.SYNCOPATION in melody_of(bar)) is syncopated


def test_what_a_bar_can_be():
    """A bar is the end of a tune only at a section's end, and a cadence only at a phrase's; a
    section of one bar is its start and its end."""
    possible = possible_places()
    assert all(Place.SECTION_END in places for places in possible if Place.TUNE_END in places)
    assert all(Place.PHRASE_END in places for places in possible if Place.CADENCE in places)
    assert any({Place.SECTION_START, Place.SECTION_END} <= places for places in possible)
    first = {Place.PHRASE_START, Place.SECTION_START}
    assert not any(places >= {*first, Place.BEFORE_SECTION_END, Place.SECTION_END}
                   for places in possible)  # fmt: skip
