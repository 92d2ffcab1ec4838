"""Whether a tune sits on a box, and what is said about it."""

from dataclasses import replace
from fractions import Fraction

import pytest

from backing.box.at_hand import Found, at_hand
from backing.box.fit import fit
from backing.box.layout import Direction, LeftButton
from backing.box.line import BeatPlace, line_as_played, line_of
from backing.box.remedies import octaves
from backing.box.words import drifts_in_words, gaps_in_words, paragraph
from backing.errors import TuneError
from backing.files import load_box, read_tune
from backing.music.chord import parse_chord
from backing.music.played import as_played
from backing.parse.abc import parse_abc

PUSH, PULL = Direction.PUSH, Direction.PULL
DG = load_box("D/G")


def tune_line(body: str, head: str = "M:4/4\nL:1/8\nK:D", **how: object) -> object:
    """A line from ABC."""
    return line_of(parse_abc(f"X:1\nT:Test\n{head}\n{body}\n"), **how)


# -- the line ---------------------------------------------------------------------------


def test_a_line_is_unfolded_and_its_pickup_is_negative():
    """Repeats are played out; the first full bar stands at 0."""
    line = tune_line("|:A|d2f2 a2f2|d6:|")
    assert [str(moment.onset) for moment in line.moments] == [
        "-1/8", "0", "1/4", "1/2", "3/4", "1", "7/4", "15/8", "17/8", "19/8", "21/8", "23/8",
    ]  # fmt: skip


def slurred(body: str) -> str:
    """A character for each note struck: "s" where a slur joins it to the one before."""
    return "".join("s" if moment.slurred else "." for moment in tune_line(body).moments)


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("(d2e2)f2g2|", ".s.."),
        ("d2(e2f2)(g2|a2)b2", "..s.s."),
        ("(d2(e2f2)g2)a4|", ".sss."),
        ("(d2e2-|e2f2)g4|", ".ss."),
        ("(d2z2e2)f2|", ".s."),
    ],
)
def test_a_slur_joins_the_notes_up_to_its_end(body, expected):
    """Every note under a slur but its first is joined to the one before; the next is not (what a
    slur is, ABC 2.1 clause 4.11)."""
    assert slurred(body) == expected


def test_a_line_has_the_notes_as_they_are_written():
    """Swing is left out: the fingers have the even quavers of a hornpipe."""
    line = tune_line("dfed BAFA|", "R:hornpipe\nM:4/4\nL:1/8\nK:D")
    assert [moment.onset for moment in line.moments] == [Fraction(n, 8) for n in range(8)]


def test_the_time_from_one_note_to_the_next():
    """The gap before a note is the time since the one before was struck, in milliseconds,
    rests counted in; tied notes are struck once."""
    line = tune_line("d2z2 f-f2a|d8|", "Q:1/4=120\nM:4/4\nL:1/8\nK:D")
    assert [moment.gap for moment in line.moments] == [0, 1000, 750, 250]


def test_a_slur_ends_where_the_tune_goes_back():
    """An open slur goes on over the bar line, and not back to the start of a repeat; a
    slur's end that is reached without its start takes nothing from the next."""
    assert slurred("|:d4 (e4:|f4) g4|") == "." * 4 + "s."
    assert slurred("|:d4 (e4|1 f4) g4:|2 f4) (g4|a4) b4|")[-3:] == ".s."


def test_places_in_the_bar_are_those_of_the_felt_beats():
    """A reel in 4/4 is felt in minims: of its quavers the first and the fifth are beats."""
    line = tune_line("dfed BAFA|", "R:reel\nM:4/4\nL:1/8\nK:D")
    places = [moment.place for moment in line.moments]
    assert places[0] is BeatPlace.ONE
    assert places[4] is BeatPlace.BEAT
    assert {places[index] for index in (1, 2, 3, 5, 6, 7)} == {BeatPlace.OFF}


def test_phrases_begin_at_parts_and_every_four_bars_with_their_pickup():
    """Phrases of four bars, with the note that leads into them (common practice, no source)."""
    line = tune_line("|:A|d8|d8|d8|d7A|d8|d8|d8|d7:|")
    starts = [str(moment.onset) for moment in line.moments if moment.phrase]
    assert starts == ["-1/8", "31/8", "63/8", "95/8"]


def test_the_last_note_of_each_time_through_is_marked():
    """A part's last note is the one before the next part begins."""
    line = tune_line("|:d8|e8:|f8|d8|")
    assert [moment.pitches[0] for moment in line.moments if moment.last] == [76, 76, 74]


def test_a_chord_is_wanted_at_the_onset_and_at_beats_under_a_held_note():
    """A note held over the second half of a bar also wants the chord that comes there."""
    line = tune_line('"D"A8|', "M:2/2\nL:1/8\nK:D")
    assert [wish.place for wish in line.moments[0].wishes] == [BeatPlace.ONE, BeatPlace.BEAT]


def test_moving_a_line_there_and_back_is_the_identity():
    """Up a fifth and down a fifth nothing has changed."""
    line = tune_line('"D"dfed "A7"cAce|')
    assert line.moved(7).moved(-7) == line


def test_a_line_can_be_placed_as_it_is_swung():
    """With the swing of an arrangement the second of two swung quavers comes later (2:1)."""
    tune = parse_abc("X:1\nM:4/4\nL:1/8\nK:D\ndfed BAFA|\n")
    line = line_as_played(as_played(tune, swing=Fraction(2)))
    assert [moment.onset for moment in line.moments[:3]] == [
        Fraction(0), Fraction(1, 6), Fraction(1, 4)
    ]  # fmt: skip


def test_no_notes_no_line():
    """A tune of rests is refused with a message."""
    with pytest.raises(TuneError, match="no notes"):
        tune_line("z8|")


# -- chords at hand -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("chord", "direction", "words"),
    [
        ("G", PULL, "Em"), ("Bm", PULL, "D"), ("Am", PULL, "C over A bass"),
        ("Em", PUSH, "G"), ("Am", PUSH, "C"), ("Bm", PUSH, "D over B bass"), ("A", PUSH, "rest"),
    ],
)  # fmt: skip
def test_substitutes_on_a_d_g(chord, direction, words):
    """What stands for a chord on a D/G (common practice, no source)."""
    found = at_hand(DG, parse_chord(chord), direction)
    assert found.found is not Found.WHOLE
    assert found.words(DG) == words


@pytest.mark.parametrize(
    ("box", "chord", "direction", "words"),
    [
        ("G/C", "C", PULL, "Am"), ("G/C", "Dm", PULL, "F over D bass"), ("G/C", "Am", PUSH, "C"),
        ("G/C", "Em", PUSH, "G over E bass"), ("G/C", "D", PUSH, "rest"),
        ("A/D", "D", PULL, "Bm"), ("A/D", "Em", PULL, "G over E bass"),
        ("C/F", "F", PULL, "Dm"), ("C/F", "Am", PUSH, "C over A bass"),
    ],
)  # fmt: skip
def test_substitutes_on_the_other_quint_boxes(box, chord, direction, words):
    """The other boxes of that kind have the same, transposed."""
    layout = load_box(box)
    assert at_hand(layout, parse_chord(chord), direction).words(layout) == words


def test_with_the_thirds_out_em_does_not_stand_for_g():
    """With the thirds out Em holds no G: rest instead (common practice, no source)."""
    layout = load_box("D/G:thirds-out")
    assert at_hand(layout, parse_chord("G"), PULL).found is Found.NOTHING


def test_with_the_thirds_out_a_chord_serves_as_major_and_minor():
    """Root and fifth are the same in B and Bm (common practice, no source)."""
    layout = load_box("D/G:thirds-out")
    assert at_hand(layout, parse_chord("Bm"), PUSH).found is Found.WHOLE
    assert at_hand(DG, parse_chord("Bm"), PUSH).found is Found.SUBSTITUTE


def test_a_seventh_chord_is_its_triad():
    """The box has plain triads: A7 is played as A (common practice, no source)."""
    assert at_hand(DG, parse_chord("A7"), PULL).found is Found.WHOLE


def test_a_bass_alone_is_left_where_nothing_shares_two_notes():
    """E major shares too little with the pull chords of a D/G; its bass is there."""
    found = at_hand(DG, parse_chord("E"), PULL)
    assert (found.found, found.words(DG)) == (Found.BASS, "E bass")


# -- fit --------------------------------------------------------------------------------


def test_directions_of_the_notes_on_a_d_g():
    """D is push only, C sharp and E pull only, F sharp, G, A and B go both ways (computed
    from the rows, and rickmohr.net/Music/Melodeon)."""
    found = fit(tune_line("defg abc'd'|"), DG)
    assert [" ".join(map(str, side)) for side in found.ways] == [
        "D5 D6", "E5 C#6", "F#5 G5 A5 B5"
    ]  # fmt: skip


def test_missing_and_accidental_notes_are_told_with_their_bars():
    """A G sharp needs an accidental button on a D/G, and a box with low notes in their place
    lacks it (common practice, no source)."""
    line = tune_line("dfed|^GABc|d4|^G4|", "M:2/4\nL:1/8\nK:D")
    assert [(str(n.pitch), n.bars) for n in fit(line, DG).accidentals] == [("G#4", (2, 4))]
    low = fit(line, load_box("D/G:low-notes"))
    assert [(str(n.pitch), n.bars) for n in low.missing] == [("G#4", (2, 4))]


def test_a_tune_out_of_range_at_both_ends():
    """Notes below and above the box are both missing, and no octave helps."""
    line = tune_line("C,,4 c'''4|")
    found = fit(line, DG)
    assert [str(note.pitch) for note in found.missing] == ["C#2", "C#8"]
    assert octaves(line, DG) == ()


def test_a_seventh_chord_stands_for_its_triad():
    """Where a button sounds a dominant seventh, it is the major chord that is looked for, by
    its triad; a minor seventh is not (common practice, no source)."""
    fifth = LeftButton("outer", "chord", parse_chord("A7"), parse_chord("Am7"))
    box = replace(DG, left=(fifth,))
    assert at_hand(box, parse_chord("A"), PUSH).chord == parse_chord("A7")
    assert at_hand(box, parse_chord("A"), PULL).chord is None
    assert at_hand(box, parse_chord("Am"), PULL).chord == parse_chord("Am7")


def test_a_chord_that_no_box_has_leaves_the_left_hand_at_rest():
    """Under a B flat chord a D/G rests both ways."""
    found = fit(tune_line('"Bb"d4 "Bb"e4|'), DG)
    assert {gap.instead.words(DG) for gap in found.gaps} == {"rest"}
    assert found.share == 0


def test_free_metre_is_fitted_too():
    """Without a metre a tune is fingered by its bar lines."""
    assert fit(tune_line("d2 e2 fga|d4|", "M:none\nL:1/8\nK:D"), DG).fits


def test_the_paragraph_of_a_tune_that_fits():
    """Octave, row, changes, chords, air, in a player's words."""
    found = fit(tune_line('|:"D"d2f2 a2f2|"A"e2c2 A2c2|"G"B2g2 "A"e2c2|"D"d8:|'), DG)
    assert paragraph(found) == (
        "Sits on your D/G, high octave, all in one row, the D row. 4 bellows changes in an A "
        "part. A chord missing in bar 2 (push): rest. G chord missing in bar 3 (pull): Em "
        "instead. Air: the bellows come back to where they were."
    )


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (
            "|:e4 z4|e8:|",
            "end 6 beats further out each A part; use the air button in the rest of bar 1.",
        ),
        (
            "|:d4 z4|d8:|",
            "end 6 beats further in each A part; use the air button in the rest of bar 1.",
        ),
        (
            "|:e8|d8|e8|e8:|",
            "8 beats further out each A part; use the air button on the long D in bar 2.",
        ),
        (
            "|:d8|e8|d8|d8:|",
            "8 beats further in each A part; use the air button on the long E in bar 2.",
        ),
        ("|:e4c4|ddff|e8|e8:|", "use the air button with the push that begins on the D in bar 2."),
        ("|:d4f4|eecc|d8|d8:|", "use the air button with the pull that begins on the E in bar 2."),
        ("|:e8|d3e e4|e8|e8:|", "use the air button on the long D in bar 2."),  # a beat and a half
        ("|:e8|d2e2 e4|e8|e8:|", "no note is long: press the air button"),
        ("|:e4 e4:|", "no note is long: press the air button briefly on a push note."),
        ("|:d4 d4:|", "no note is long: press the air button briefly on a pull note."),
    ],
)
def test_the_paragraph_says_which_way_the_bellows_drift_and_where_air_helps(body, said):
    """Pull (E on a D/G) draws the bellows out and push (D) drives them in; air is let out on the
    push and taken in on the pull (the air button adds to the direction that is played: common
    practice, no source)."""
    assert said in paragraph(fit(tune_line(body), DG))


@pytest.mark.parametrize(
    ("chords", "named", "more"),
    [
        ("Bb Eb Ab Db", 4, ""),
        ("Bb Eb Ab Db Gb", 4, "Gb is missing now and then too."),
        ("Bb Eb Ab Db Gb Fm", 4, "Gb and Fm are missing now and then too."),
    ],
)
def test_the_paragraph_names_four_chords_that_are_missing(chords, named, more):
    """Of the chords that a box has not the first four are told, the others named."""
    bars = "".join(f'"{chord}"d8|' for chord in chords.split())
    text = paragraph(fit(tune_line(bars), DG))
    assert text.count("chord missing in") == named
    assert ("now and then" in text) is bool(more)
    assert more in text


def test_where_the_bellows_end_is_told_in_beats():
    """A part with two pulls of four beats and a push of four ends four beats further out, each
    time alike; one that is as long both ways where it began."""
    found = fit(tune_line("|:e8|e8|d8:|:d8|e8:|"), DG)
    assert list(drifts_in_words(found.bellows)) == [
        "A part: 4 beats further out",
        "B part: where it began",
        "the whole tune: 8 beats further out",
    ]


def test_a_chord_that_is_missing_both_ways_is_told_once():
    """B flat is on no button of a D/G: one sentence for the push and the pull."""
    found = fit(tune_line('"Bb"d4 e4|"A"e8|"Bb"d8|'), DG)
    assert gaps_in_words(found) == ["Bb chord missing in bars 1 and 3 (push and pull): rest."]


@pytest.mark.parametrize(("body", "octave"), [("d8|d8|", "low"), ("d8|e8|", "high")])
def test_a_tune_lies_low_up_to_the_second_key_note(body, octave):
    """On the D row of a D/G the low octave goes from D4 up to D5, as the tune lies on average
    (what players call low and high: common practice, no source)."""
    assert f"{octave} octave" in paragraph(fit(tune_line(body), DG))


def test_the_paragraph_of_a_tune_that_does_not_fit():
    """What is missing, where."""
    text = paragraph(fit(tune_line("d2=f2 a2=f2|d8|"), load_box("D/G:low-notes")))
    assert text.startswith("Does not sit on your D/G:low-notes: F5 (bar 1) is not there.")


def test_the_main_chords_of_the_home_keys_are_at_hand():
    """A tune of the tonic, fourth and fifth chords in G sits on a D/G with all of them where
    its notes go both ways."""
    line = tune_line('"G"G2B2 d2B2|"C"c2e2 g2e2|"D"f2a2 d2f2|"G"g8|', "M:4/4\nL:1/8\nK:G")
    found = fit(line, DG)
    assert found.share == 1


# -- an open collection -------------------------------------------------------------------


@pytest.mark.slow
def test_tunes_in_d_and_g_sit_on_a_d_g_and_those_in_f_do_not(bench):
    """Of tunes of Ryan's Mammoth Collection (music21's corpus) in D and G most have all their
    notes on a D/G, of those in F and B flat none (computed from the rows)."""
    common = bench("common")
    paths = common.sample_of(common.collection_paths(), 200)
    if not paths:
        pytest.skip("music21's corpus is not here")
    whole: dict[str, list[bool]] = {}
    for path in paths:
        tune = read_tune(path).tune
        pitches = {pitch.midi for note in tune.notes() for pitch in note.pitches}
        there = all(DG.presses(pitch) for pitch in pitches)
        whole.setdefault(str(tune.key), []).append(there)
    home = whole["D major"] + whole["G major"]
    assert sum(home) / len(home) > 0.7
    assert not any(whole["F major"] + whole["Bb major"])


# -- limits -----------------------------------------------------------------------------


def played_often(notes: int, times: int) -> object:
    """The line of a bar of so many quavers, played so many times."""
    return tune_line(f"|{':' * (times - 1)}{'ABde' * (notes // 4)}{':' * (times - 1)}|", "K:D")


def test_a_tune_with_too_many_notes_for_a_fingering():
    """More than 10,000 notes as they are played are refused before the search."""
    line = played_often(104, 100)
    assert len(line.moments) == 10_400
    with pytest.raises(TuneError, match="more than 10,000 notes") as caught:
        fit(line, DG)
    assert "split the tune" in caught.value.hint
