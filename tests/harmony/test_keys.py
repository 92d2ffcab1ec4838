"""The keys that a tune lives in, beside the ones that it names.

Which key our own melodies live in is common practice, no source, beside music21's key finder
with the weights of Krumhansl and Schmuckler.
"""

from collections import Counter

import pytest

from backing.files import read_tune
from backing.harmony.keys import keys_of
from backing.parse.abc import parse_abc

G_TUNE = "|:G2BG d2BG|c2ec d2BG|F2AF D2FA|G2BG G4:|"
EM_TUNE = "|:E2GE B2GE|e2ge B2GE|F2AF D2FA|E2GE E4:|"
D_PART = "|:d2fd A2FA|c2ec A2ce|d2fd A2FA|c2AB d4:|"


def read(body: str, key: str = "G"):
    return parse_abc(f"X:1\nT:Two Buckets\nM:4/4\nL:1/8\nK:{key}\n{body}\n")


def test_a_key_that_fits_is_kept():
    """A tune that moves round G and ends on it stays in G, and nothing is said."""
    keys, notices = keys_of(read(G_TUNE))
    assert {str(key) for key in keys} == {"G major"}
    assert notices == ()


def test_a_wrong_key_is_noticed():
    """A tune marked G that moves round E minor and ends on E is reported, with the remedy."""
    keys, notices = keys_of(read(EM_TUNE))
    assert {str(key) for key in keys} == {"E minor"}
    assert [notice.message for notice in notices] == [
        "the tune is marked G major, but its notes live in E minor"
    ]
    assert "correct the key" in notices[0].hint


def test_the_same_tune_marked_rightly_says_nothing():
    """Marked E minor, the same tune is in E minor without a word."""
    keys, notices = keys_of(read(EM_TUNE, "Em"))
    assert {str(key) for key in keys} == {"E minor"}
    assert notices == ()


def test_a_part_in_the_dominant():
    """The B part of a tune in G that has C sharps and moves round D lives in D; the key named
    is right, so nothing is said."""
    keys, notices = keys_of(read(G_TUNE + D_PART.replace("c", "^c")))
    assert [str(key) for key in keys] == ["G major"] * 4 + ["D major"] * 4
    assert notices == ()


def test_a_part_in_the_relative_minor():
    """The B part of a tune in G that moves round E minor lives there."""
    keys, _ = keys_of(read(G_TUNE + EM_TUNE))
    assert [str(key) for key in keys] == ["G major"] * 4 + ["E minor"] * 4


def test_a_tune_without_a_key():
    """Where no key is named, the likeliest is taken, and said."""
    keys, notices = keys_of(read(G_TUNE.replace("F", "^F"), "none"))
    assert {str(key) for key in keys} == {"G major"}
    assert "names no key" in notices[0].message


def test_a_key_change_is_kept():
    """A key change in the music is the key of what follows."""
    keys, _ = keys_of(read(G_TUNE + "[K:D]" + D_PART))
    assert [str(key) for key in keys] == ["G major"] * 4 + ["D major"] * 4


def test_a_signature_is_right_more_often_than_a_tonic():
    """A tune marked C whose part moves round A minor and comes to rest on A lives there, though
    its other part runs on into the next time through (common practice, no source)."""
    body = "|:A2eA cAeA|G2dB c2dB|A2eA cAea|e2dB A4:||:a2ea A2ea|g2eb a2ge|a2ea c2ea|edcB eABG:|"
    keys, notices = keys_of(read(body, "C"))
    assert {str(key) for key in keys} == {"A minor"}
    assert [notice.message for notice in notices] == [
        "the tune is marked C major, but its notes live in A minor"
    ]


def test_rests_tell_nothing():
    """A part of rests alone stays in the key named."""
    keys, notices = keys_of(read(G_TUNE + "|z8|z8|"))
    assert {str(key) for key in keys} == {"G major"}
    assert notices == ()


# -- beside another key finder ------------------------------------------------------------


def other_key(bars):
    """The key that music21 finds for the notes of bars: pitch class of the tonic, whether it is
    minor, and the pitch classes of its scale."""
    from music21.analysis.discrete import KrumhanslSchmuckler
    from music21.note import Note
    from music21.stream import Stream

    lengths = Counter()  # all that it goes by is how long each pitch class sounds
    for note in (note for bar in bars for note in bar):
        for pitch in note.pitches:
            lengths[pitch.midi % 12] += 4 * note.length
    stream = Stream([Note(60 + tone, quarterLength=long) for tone, long in lengths.items()])
    found = KrumhanslSchmuckler().getSolution(stream)
    return (found.tonic.pitchClass, found.mode == "minor"), {p.pitchClass for p in found.pitches}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("body", "key"),
    [(G_TUNE, "G"), (EM_TUNE, "G"), (EM_TUNE, "Em"), (D_PART, "D"),
     (D_PART.replace("c", "^c"), "G"), (G_TUNE.replace("F", "^F"), "none")],
)  # fmt: skip
def test_our_melodies_beside_another_key_finder(body, key):
    """Of each melody above, whatever it is marked, music21 finds the key that is found here."""
    tune = read(body, key)
    found = keys_of(tune)[0][0]
    assert other_key(tune.melody.bars)[0] == (found.tonic, found.minor)


@pytest.mark.slow
def test_a_collection_beside_another_key_finder(bench):
    """For more than 70 in 100 parts of tunes (30 of Ryan's Mammoth Collection, in the music21
    package) music21 finds the same key, for nearly all the rest a neighbour with six of the
    seven notes: it has no modes, and knows neither the key named nor the last note."""
    common = bench("common")
    paths = common.sample_of(common.collection_paths(), 30)
    if not paths:
        pytest.skip("music21's corpus is not here")
    same, near = [], []
    for path in paths:
        tune = read_tune(path).tune
        keys, _ = keys_of(tune)
        for section in tune.sections:
            key = keys[section.start]
            other, scale = other_key(tune.melody.bars[section.start : section.stop])
            same.append(other == (key.tonic, key.minor))
            near.append(len(scale & set(key.scale)) >= 6)
    assert len(same) > 50
    assert sum(same) / len(same) > 0.7
    assert sum(near) / len(near) > 0.95


def test_a_first_bar_in_another_key():
    """Keys run from where they are written: one bar of a key, then the next."""
    keys, _ = keys_of(read("D2FA d2AF|[K:A]c2ec A2ec|e2ae c2A2|A2cA e2cA|A8|", "D"))
    assert [str(key) for key in keys] == ["D major", *["A major"] * 4]
