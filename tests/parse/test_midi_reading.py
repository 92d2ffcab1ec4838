"""MIDI files are read as they were meant: notes, metre, key, tempo, chords, melody.

The files are built here with mido; the tunes are invented.
"""

from fractions import Fraction
from io import BytesIO
from random import Random

import mido
import pytest

from backing.errors import TuneError
from backing.music.tempo import Tempo
from backing.music.tune import Tuplet
from backing.parse.midi import parse_midi

#: Standard MIDI Files 1.0 (RP-001), bytes worked out from its clauses.
ONE_NOTE = bytes.fromhex(
    "4D546864 00000006 0000 0001 01E0 4D54726B 00000022 00FF510307A120 00FF580406032408"
    "00FF59020100 00903C50 8360803C40 00FF2F00"
)
RUNNING = bytes.fromhex(
    "4D546864 00000006 0000 0001 01E0 4D54726B 00000013 00903C50 83603C00 003E5083603E00 00FF2F00"
)
Q, H = Fraction(1, 4), Fraction(1, 8)
#: (key, length in quavers); a jig in G, eight bars.
JIG = [
    (67, 2), (69, 1), (71, 1), (69, 1), (67, 1), (74, 2), (71, 1), (74, 1), (71, 1), (67, 1),
    (72, 2), (76, 1), (74, 1), (72, 1), (71, 1), (69, 2), (66, 1), (69, 1), (66, 1), (62, 1),
    (67, 2), (69, 1), (71, 1), (69, 1), (67, 1), (74, 2), (71, 1), (74, 1), (71, 1), (67, 1),
    (72, 1), (71, 1), (69, 1), (66, 1), (69, 1), (66, 1), (67, 3), (67, 3),
]  # fmt: skip
#: A reel in D, eight bars of quavers.
REEL = [
    (key, length)
    for bar in (
        "62 66 69 66 71 66 69 66", "62 66 69 66 69 64 64 66", "62 66 69 66 71 69 74 73",
        "71 69 67 66 64 62 61 64", "62 66 69 66 71 66 69 66", "74 73 71 69 67 66 64 67",
        "66 69 74 69 67 71 76 74", "73 69 71 73 74 74 74 74",
    )
    for key, length in ((int(word), 1) for word in bar.split())
]  # fmt: skip


def pressed(notes, unit=H, start=Fraction(0)):
    """(onset, length, key) of notes one after the other; key 0 is a rest."""
    found, at = [], start
    for key, length in notes:
        if key:
            found.append((at, length * unit, key))
        at += length * unit
    return found


def track(presses, ppq=480, *, channel=0, name="", head=(), jitter=None, held=1.0):
    """A track of presses; `head` are messages at given positions before them."""
    events = [(round(at * 4 * ppq), 0, message) for at, message in head]
    if name:
        events.append((0, 0, mido.MetaMessage("track_name", name=name)))
    for onset, length, key in presses:
        on, off = round(onset * 4 * ppq), round((onset + length * Fraction(held)) * 4 * ppq)
        if jitter:
            on, off = max(0, on + jitter()), off + jitter()
        on_message = mido.Message("note_on", note=key, velocity=80, channel=channel)
        off_message = mido.Message("note_off", note=key, velocity=0, channel=channel)
        events += [(on, 2, on_message), (max(off, on + 1), 1, off_message)]
    events.sort(key=lambda event: event[:2])
    made, at = mido.MidiTrack(), 0
    for tick, _, message in events:
        made.append(message.copy(time=tick - at))
        at = tick
    return made


def file_of(*tracks, ppq=480, kind=1):
    """The bytes of a file."""
    file = mido.MidiFile(type=kind, ticks_per_beat=ppq, charset="utf-8")
    file.tracks.extend(tracks)
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def metre(upper, lower, clocks=24):
    """A time signature."""
    return mido.MetaMessage(
        "time_signature", numerator=upper, denominator=lower, clocks_per_click=clocks
    )


def meta(kind, **values):
    """A meta message at the start."""
    return Fraction(0), mido.MetaMessage(kind, **values)


def head(upper=4, lower=4, key="D", quarters=120, clocks=24):
    """What stands above a tune."""
    return (
        (Fraction(0), metre(upper, lower, clocks)),
        meta("key_signature", key=key),
        meta("set_tempo", tempo=round(60_000_000 / quarters)),
    )


def lengths(tune):
    """(lowest key, length) of the notes and rests, bar by bar."""
    return [[(n.pitches[0].midi if n.pitches else 0, n.length) for n in bar] for bar in
            tune.melody.bars]  # fmt: skip


def flat(tune):
    """(key, length) of every note and rest."""
    return [item for bar in lengths(tune) for item in bar]


def told(tune, word):
    """The notices that say a word."""
    return [notice for notice in tune.notices if word in notice.message]


# -- the standard ---------------------------------------------------------------


def test_the_tiny_file_in_six_eight():
    """One crotchet in 6/8, G, 120 crotchets a minute (SMF 1.0) is a bar with a rest."""
    tune = parse_midi(ONE_NOTE)
    (bar,) = tune.bars
    assert (str(bar.metre), str(bar.key), bar.length) == ("6/8", "G major", Fraction(6, 8))
    assert flat(tune) == [(60, Q), (0, Fraction(1, 2))]
    assert tune.tempo == Tempo(Fraction(80), Fraction(3, 8))


def test_running_status_and_default_tempo():
    """Running status is read, and without a tempo it is 120 crotchets a minute (SMF 1.0)."""
    tune = parse_midi(RUNNING)
    assert flat(tune)[:2] == [(60, Q), (62, Q)]
    assert tune.tempo is not None
    assert tune.tempo.wholes == 30


def test_unknown_chunks_are_skipped():
    """A chunk of an unknown kind between header and track is skipped (SMF 1.0)."""
    alien = b"XFIH" + (4).to_bytes(4, "big") + b"\xff\xff\xff\xff"
    assert flat(parse_midi(RUNNING[:14] + alien + RUNNING[14:])) == flat(parse_midi(RUNNING))


def test_note_on_with_velocity_nought_ends_a_note():
    """A note-on with velocity 0 ends the note (MIDI 1.0)."""
    assert [key for key, _ in flat(parse_midi(RUNNING)) if key] == [60, 62]


@pytest.mark.parametrize("ppq", [96, 120, 480, 960, 10080])
def test_every_resolution(ppq):
    """The same tune at any ticks a quarter is the same tune."""
    data = file_of(track(pressed(JIG), ppq, head=head(6, 8, "G", 180, 36)), ppq=ppq)
    tune = parse_midi(data)
    assert flat(tune) == [(key, length * H) for key, length in JIG]
    assert len(tune.bars) == 8
    assert tune.tempo == Tempo(Fraction(120), Fraction(3, 8))


@pytest.mark.slow
def test_a_click_of_two_crotchets_is_felt_in_minims():
    """A 4/4 whose click is 48 clocks (24 a crotchet, SMF 1.0) is felt in two."""
    tune = parse_midi(file_of(track(pressed(REEL), head=head(clocks=48, quarters=216))))
    assert tune.metre.beats == (Fraction(1, 2), Fraction(1, 2))
    assert tune.tempo == Tempo(Fraction(108), Fraction(1, 2))


# -- which line -----------------------------------------------------------------


def band():
    """A file with a conductor, chords, a bass, a tune and percussion."""
    chords = [(onset, Q, key) for onset in (0, Q, 2 * Q, 3 * Q) for key in (50, 54, 57)]
    bars = [(Fraction(bar) + onset, length, key) for bar in range(8)
            for onset, length, key in chords]  # fmt: skip
    bass = [(Fraction(bar), Fraction(1, 2), 38) for bar in range(8)]
    drum = [(Q * beat, H, 76) for beat in range(32)]
    return [
        track([], head=head(), name="Four Winds"),
        track(bars, name="accordion chords", channel=1),
        track(bass, name="low end", channel=2),
        track(pressed(REEL), name="fiddle"),
        track(drum, name="click", channel=9),
    ]


@pytest.mark.slow
def test_the_highest_single_line_is_the_melody():
    """Without a telling name the melody is the high line of single notes, and a notice says
    which was taken and what else there is."""
    tune = parse_midi(file_of(*band()))
    assert flat(tune) == [(key, H) for key, _ in REEL]
    (notice,) = told(tune, "the melody is taken")
    assert "track 4 (fiddle)" in notice.message
    assert "low end" in notice.hint
    assert tune.title == "Four Winds"


@pytest.mark.slow
def test_a_track_called_melody_is_the_melody():
    """A track called melody is taken though another is higher."""
    tracks = band()
    tracks[2] = track([(Fraction(bar), Q, 45) for bar in range(8)], name="The Melody")
    assert {key for key, _ in flat(parse_midi(file_of(*tracks)))} == {45, 0}


@pytest.mark.slow
@pytest.mark.parametrize("wanted", ["3", "low end", "LOW"])
def test_a_track_can_be_named(wanted):
    """A track is named by its number or part of its name."""
    assert {key for key, _ in flat(parse_midi(file_of(*band()), track=wanted))} == {38, 0}


@pytest.mark.slow
@pytest.mark.parametrize("wanted", ["9", "5", "flute"])
def test_a_track_that_is_not_there(wanted):
    """A track that is not there, or is percussion, is an error that names the others."""
    with pytest.raises(TuneError, match="there is no track") as caught:
        parse_midi(file_of(*band()), track=wanted)
    assert caught.value.hint


@pytest.mark.slow
def test_format_nought_by_channels():
    """In format 0 the lines are the channels, and the number is a channel's."""
    melody = track(pressed(REEL), head=head(), name="Small Hours")
    bass = track([(Fraction(bar), Q, 38) for bar in range(8)], channel=4)
    data = file_of(mido.merge_tracks([melody, bass]), kind=0)
    assert flat(parse_midi(data)) == [(key, H) for key, _ in REEL]
    assert {key for key, _ in flat(parse_midi(data, track="5"))} == {38, 0}
    assert parse_midi(data).title == "Small Hours"


def test_keys_struck_together_are_a_chord():
    """Keys struck at one time in the melody are one note with several pitches."""
    presses = [(Fraction(0), Q, 74), (Fraction(0), Q, 66), (Q, Q, 69)]
    first, second = parse_midi(file_of(track(presses, head=head()))).melody.bars[0][:2]
    assert [str(pitch) for pitch in first.pitches] == ["F#4", "D5"]
    assert len(second.pitches) == 1


def test_what_overlaps_is_ended():
    """A note that is held over the next one ends where the next begins, with a notice."""
    presses = [(Fraction(0), Fraction(1), 62), (Q, Q, 69), (2 * Q, 2 * Q, 74)]
    tune = parse_midi(file_of(track(presses, head=head())))
    assert flat(tune) == [(62, Q), (69, Q), (74, 2 * Q)]
    assert told(tune, "1 note overlaps")


# -- values ---------------------------------------------------------------------


def test_triplets_are_tuplets():
    """Three notes in the time of a crotchet are a triplet, its first note marked."""
    notes = [(62, 3), (64, 3), (66, 3), (67, 1), (69, 1), (71, 1), (74, 6), (73, 3), (71, 3)]
    data = file_of(track(pressed(notes, Fraction(1, 12)), head=head()))
    row = parse_midi(data).melody.bars[0][3:6]
    assert [note.tuplet for note in row] == [
        Tuplet(3, 2, True), Tuplet(3, 2, False), Tuplet(3, 2, False)
    ]  # fmt: skip
    assert {note.length for note in row} == {Fraction(1, 12)}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(
    ("notes", "unit", "above"),
    [
        (JIG * 2, H, head(6, 8, "G", 168, 36)),
        (REEL * 2, H, head(quarters=180)),
        ([(0, 4), *[(key, 3 if n % 2 else 1) for n, (key, _) in enumerate(REEL)]],
         Fraction(1, 16), head(quarters=120)),
        ([(62, 6), (64, 6), (66, 2), (67, 2), (69, 2), (71, 3), (69, 3)] * 6,
         Fraction(1, 24), head(quarters=110)),
    ],
    ids=["jig", "reel", "snap", "triplets"],
)  # fmt: skip
def test_a_player_is_understood(notes, unit, above, seed):
    """Onsets and ends moved by up to 15 ms give the note values that were meant."""
    quarters = 60_000_000 / above[2][1].tempo
    most = int(0.015 * quarters / 60 * 480)
    chance = Random(seed)
    start = Fraction(0) if notes[0][0] else Fraction(1) - notes[0][1] * unit
    presses = pressed(notes, unit, start)
    data = file_of(track(presses, head=above, jitter=lambda: chance.randint(-most, most)))
    tune = parse_midi(data)
    at, found = Fraction(0), []
    for bar, row in zip(tune.bars, tune.melody.bars, strict=True):
        found += [(at + n.onset, n.pitches[0].midi) for n in row if n.pitches]
        at += bar.length
    wanted = [(onset, key) for onset, _, key in presses]
    shift = wanted[0][0] - found[0][0]
    assert [(onset + shift, key) for onset, key in found] == wanted
    (notice,) = told(tune, "on average")
    assert "to a grid of" in notice.message


@pytest.mark.slow
def test_detached_notes_are_written_full():
    """Notes held for four fifths of their time, as programs write them, have no rests."""
    tune = parse_midi(file_of(track(pressed(REEL), head=head(), held=0.8)))
    assert flat(tune) == [(key, H) for key, _ in REEL]


def test_rests_are_kept():
    """A rest of a quaver between notes is a rest."""
    tune = parse_midi(file_of(track(pressed([(62, 3), (0, 1), (66, 2), (69, 2)]), head=head())))
    assert flat(tune) == [(62, 3 * H), (0, H), (66, Q), (69, Q)]


def test_notes_are_tied_over_bar_lines():
    """A note that is held over a bar line is two notes with a tie."""
    tune = parse_midi(file_of(track(pressed([(62, 6), (66, 4), (69, 6)]), head=head())))
    assert lengths(tune) == [[(62, 6 * H), (66, 2 * H)], [(66, 2 * H), (69, 6 * H)]]
    assert tune.melody.bars[0][1].ties == tune.melody.bars[1][0].pitches


def test_swing_is_told_apart_from_the_notes():
    """Pairs of two to one throughout are even pairs, swung 2 to 1."""
    swung = []
    for index, (key, _) in enumerate(REEL):
        onset = Q * (index // 2) + (Fraction(1, 6) if index % 2 else 0)
        swung.append((onset, Fraction(1, 12) if index % 2 else Fraction(1, 6), key))
    tune = parse_midi(file_of(track(swung, head=head())))
    assert tune.swing == 2
    assert flat(tune) == [(key, H) for key, _ in REEL]


@pytest.mark.slow
def test_swing_that_a_player_swings():
    """Swung pairs moved by up to 15 ms are swung pairs."""
    chance = Random(7)
    swung = []
    for index, (key, _) in enumerate(REEL * 2):
        onset = Q * (index // 2) + (Fraction(1, 6) if index % 2 else 0)
        swung.append((onset, Fraction(1, 12) if index % 2 else Fraction(1, 6), key))
    made = track(swung, head=head(quarters=130), jitter=lambda: chance.randint(-15, 15))
    tune = parse_midi(file_of(made))
    assert tune.swing == 2
    assert flat(tune) == [(key, H) for key, _ in REEL * 2]


def test_dotted_pairs_are_no_swing():
    """Pairs of three to one are dotted, not swung."""
    dotted = [(key, 1 if n % 2 else 3) for n, (key, _) in enumerate(REEL)]
    tune = parse_midi(file_of(track(pressed(dotted, Fraction(1, 16)), head=head())))
    assert tune.swing is None
    assert flat(tune)[:2] == [(62, Fraction(3, 16)), (66, Fraction(1, 16))]


# -- bars -----------------------------------------------------------------------


def test_a_short_first_signature_is_a_pickup():
    """A first bar under a short time signature of its own is the pickup, bar 0."""
    above = (*head(1, 8, "G", 168, 12), (H, metre(6, 8, 36)))
    tune = parse_midi(file_of(track(pressed([(62, 1), *JIG]), head=above)))
    assert [(bar.number, bar.pickup) for bar in tune.bars[:2]] == [(0, True), (1, False)]
    assert str(tune.bars[0].metre) == "6/8"
    assert lengths(tune)[1][:2] == [(67, 2 * H), (69, H)]


def test_notes_at_the_end_of_an_empty_bar_are_a_pickup():
    """Where the first bar is empty but for its end, the notes there are the pickup."""
    notes = pressed([(62, 1), *JIG], start=Fraction(5, 8))
    tune = parse_midi(file_of(track(notes, head=head(6, 8, "G", 168, 36))))
    assert (tune.bars[0].number, tune.bars[0].length) == (0, H)
    assert len(tune.bars) == 9


def test_empty_bars_at_the_start_are_left_out():
    """Bars of silence before the tune, as under a count-in, are left out with a notice."""
    notes = pressed(REEL, start=Fraction(2))
    tune = parse_midi(file_of(track(notes, head=head())))
    assert flat(tune) == [(key, H) for key, _ in REEL]
    assert told(tune, "2 empty bars")


def test_a_metre_that_changes():
    """A time signature inside the file begins a new metre there."""
    above = (*head(), (Fraction(2), metre(3, 4)))
    tune = parse_midi(file_of(track(pressed(REEL[:40]), head=above)))
    assert [str(bar.metre) for bar in tune.bars] == ["4/4", "4/4", "3/4", "3/4", "3/4", "3/4"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("notes", "expected"), [(JIG * 2, "6/8"), (REEL * 2, "4/4")], ids=["jig", "reel"]
)
def test_a_metre_is_worked_out(notes, expected):
    """Without a time signature the metre is found from the notes, and a notice says so."""
    tune = parse_midi(file_of(track(pressed(notes))))
    assert str(tune.metre) == expected
    assert told(tune, f"no time signature; {expected}")


# -- key, chords, texts ---------------------------------------------------------


@pytest.mark.parametrize(
    ("notes", "expected"), [(JIG, "G major"), (REEL, "D major")], ids=["jig", "reel"]
)
def test_a_key_is_worked_out(notes, expected):
    """Without a key signature the key is found from the notes, and a notice says so."""
    tune = parse_midi(file_of(track(pressed(notes))))
    assert str(tune.key) == expected
    assert told(tune, f"no key signature; {expected}")


def test_a_mode_is_found_under_its_signature():
    """A tune on E under two sharps and a minor third is dorian; MIDI has no modes."""
    notes = [(64, 3), (71, 1), (71, 2), (67, 1), (66, 1), (64, 4), (69, 2), (73, 1), (74, 1),
             (71, 4), (64, 4), (64, 8), (67, 4), (71, 4), (64, 8)]  # fmt: skip
    tune = parse_midi(file_of(track(pressed(notes), head=head(key="Bm"))))
    assert str(tune.key) == "E dorian"


def test_notes_are_spelled_by_the_key():
    """In G minor key 66 is F sharp, the raised leading note, and key 70 is B flat."""
    tune = parse_midi(file_of(track(pressed([(67, 4), (66, 4), (70, 8)]), head=head(key="Gm"))))
    assert [str(note.pitches[0]) for note in tune.notes()] == ["G4", "F#4", "Bb4"]


def test_chord_symbols_at_their_places():
    """Texts that are chord symbols stand where they are; other texts are none."""
    symbols = ((Fraction(0), "D"), (Fraction(1, 2), "Em7"), (Fraction(1), "A7/C#"))
    above = [
        *head(),
        *((at, mido.MetaMessage("text", text=text)) for at, text in symbols),
        (Fraction(1), mido.MetaMessage("text", text="with a swagger")),
    ]
    tune = parse_midi(file_of(track(pressed(REEL[:16]), head=above, name="By the Weir")))
    assert [(s.onset, s.text) for s in tune.bars[0].chords] == [
        (Fraction(0), "D"), (Fraction(1, 2), "Em7")
    ]  # fmt: skip
    assert [s.text for s in tune.bars[1].chords] == ["A7/C#"]


def test_letters_of_sections_are_no_chords():
    """Markers A, B … in a row are sections."""
    above = [*head(), (Fraction(0), mido.MetaMessage("marker", text="A")),
             (Fraction(4), mido.MetaMessage("marker", text="B"))]  # fmt: skip
    assert not parse_midi(file_of(track(pressed(REEL), head=above))).has_chords


def test_tempi_are_simple_numbers():
    """434783 microseconds a crotchet are 138 crotchets a minute, not 137.99993."""
    above = [(Fraction(0), metre(3, 4)), meta("set_tempo", tempo=434_783),
             (Fraction(3, 2), mido.MetaMessage("set_tempo", tempo=500_000))]  # fmt: skip
    tune = parse_midi(file_of(track(pressed(REEL[:24]), head=above)))
    assert tune.tempo == Tempo(Fraction(138), Q)
    (mark,) = tune.bars[2].tempos
    assert (mark.onset, mark.tempo) == (0, Tempo(Fraction(120), Q))


def test_a_tempo_that_changes_all_the_time():
    """Where the tempo changes on every beat its mean is taken, with a notice."""
    bends = [(Q * n, mido.MetaMessage("set_tempo", tempo=500_000 + 10_000 * (n % 2)))
             for n in range(32)]  # fmt: skip
    tune = parse_midi(file_of(track(pressed(REEL), head=[(Fraction(0), metre(4, 4)), *bends])))
    assert not any(bar.tempos for bar in tune.bars)
    assert tune.tempo is not None
    assert 117 < tune.tempo.beats < 120
    assert told(tune, "the tempo changes 31 times")


@pytest.mark.slow
def test_texts_in_any_encoding():
    """Titles in UTF-8 and in Latin-1 are both read; SMF 1.0 names no character set."""
    for raw in ("Bourrée", "Bourrée".encode().decode("latin-1")):
        made = track(pressed(REEL), head=head())
        made.insert(0, mido.MetaMessage("track_name", name=raw, time=0))
        out = BytesIO()
        mido.MidiFile(tracks=[made], ticks_per_beat=480).save(file=out)
        assert parse_midi(out.getvalue()).title == "Bourrée"
