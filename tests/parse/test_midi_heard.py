"""What speaks for a way to hear a tune that was played without a click, sign by sign.

The tunes are invented: (place in pulses, key).
"""

from fractions import Fraction
from random import Random

import pytest

from backing.music.metre import parse_metre
from backing.parse.midi.heard import hearings, likeliest, points, seen_closely
from backing.parse.midi.heard_lengths import length_signs
from backing.parse.midi.heard_phrase import FoldedPhrase, filled_beats, phrase_signs
from backing.parse.midi.heard_row import GRID, PulseNote, row_of
from backing.parse.midi.pulse import find_pulse

#: Two bars of quavers, a rise and a fall in C; a bar comes to rest after four quavers.
RISE = [60, 62, 64, 65, 67, 69, 71, 72]
FALL = [72, 71, 69, 67, 65, 64, 62, 60]
QUAVER = Fraction(1, 8)


def part(keys, start, up):
    """A part of eight bars of 4/4 in quavers, a minim at the end of bars 4 and 8."""
    bars = [RISE, FALL, keys, [67, 65, 64, 65, 67], RISE, FALL, keys, [64, 62, 62, 59, 60]]
    return [
        PulseNote(Fraction(start + 8 * bar + n), key + up)
        for bar, row in enumerate(bars)
        for n, key in enumerate(row)
    ]


def tune():
    """Two parts, each played twice: 32 bars of 4/4."""
    parts = (([64, 65] * 4, 0), ([72, 74] * 4, 12))
    return [
        note
        for n, (keys, up) in enumerate((parts[0], parts[0], parts[1], parts[1]))
        for note in part(keys, 64 * n, up)
    ]


def row(pulse=QUAVER):
    """The tune with a pulse of such a value, a quarter of a second long."""
    return row_of(tune(), (), pulse, 0.25)


def test_places_are_counted_in_48ths_of_a_whole_note():
    """Places are rounded as `round` does, a half to the even side, whatever the value."""
    chance = Random(1)
    for value in (QUAVER, Fraction(1, 12), Fraction(3, 32), Fraction(1, 6)):
        pulses = sorted(Fraction(chance.randint(0, 900), chance.choice((1, 2, 3, 6)))
                        for _ in range(300))  # fmt: skip
        found = row_of([PulseNote(Fraction(0), 60)], pulses, value, 0.25)
        assert list(found.under) == [round(place * value * GRID) for place in pulses]


def test_parts_that_come_back_cover_the_tune():
    """Two parts of eight bars played twice come back whole after eight bars, half the tune
    long, sixteen bars apart, and not after six."""
    signs = length_signs(row(), parse_metre("4/4"))
    assert 0.45 < signs["4/4 covered 8"] <= 0.52
    assert signs["4/4 aligned 8"] == 0.5
    assert signs["4/4 covered 6"] == 0
    assert signs["4/4 melody 8"] > signs["4/4 melody 6"]


def test_sizes_lie_between_two_steps():
    """Tempo and density are told as two neighbouring steps whose shares make one."""
    signs = length_signs(row(), parse_metre("4/4"))
    for what in ("bars a minute", "crotchet", "note", "density"):
        shares = {
            int(name.rsplit(" ", 1)[1]): share
            for name, share in signs.items()
            if name.startswith(f"4/4 {what} ")
        }
        assert sum(shares.values()) == pytest.approx(1)
        assert max(shares) - min(shares) == 1


def test_phrases_come_to_rest():
    """The fourth bar of a phrase has its long note where it is; the other bars have none."""
    metre, whole = parse_metre("4/4"), row()
    folded = FoldedPhrase.of(whole, metre)
    signs = phrase_signs(whole, folded, metre, Fraction(0), filled_beats(whole, 12, 0))
    assert signs["4/4 fourth long 4"] > 3 * signs["4/4 second long 4"]
    assert signs["4/4 fourth struck 5"] == 0
    assert signs["4/4 other struck 5"] == pytest.approx(1, abs=0.05)
    assert signs["4/4 no pickup"] == 1
    assert (signs["4/4 size 32"], signs["4/4 wholes 8"]) == (1, 1)
    assert signs["4/4 tonic 0"] > 0


def test_beats_are_counted_by_their_rhythm():
    """Of the crotchets to the last note 112 are filled with quavers, and eight with one note."""
    whole = row()
    counts, beats = filled_beats(whole, 12, 0)
    assert (counts[0, 6], counts[0,], beats) == (112, 8, 127)
    assert counts.total() == 120


def test_the_likeliest_are_seen_closely():
    """Of each metre in a value three places of the bar lines are kept; seen closely they have
    more signs, and bars of eight quavers are likelier than nine."""
    found = list(hearings(tune(), (), 0.25))
    kept = likeliest(found)
    by_value = [hearing[:2] for hearing, _ in kept]
    assert len(kept) <= 24 < len(found)
    assert max(by_value.count(one) for one in by_value) == 3
    close = list(seen_closely(tune(), 0.25, kept))
    assert [hearing for hearing, _ in close] == [hearing for hearing, _ in kept]
    assert all(len(more) > len(less) for (_, more), (_, less) in zip(close, kept, strict=True))
    best, _ = max(close, key=lambda one: points(one[1]))
    assert str(best.metre) in ("4/4", "2/4")
    assert best.pickup == 0


@pytest.mark.parametrize("count", [1, 2, 7, 9])
def test_few_onsets_have_no_pulse_or_one(count):
    """Onsets that are few, or far apart, are no fault."""
    for seed in range(20):
        chance = Random(seed)
        onsets = sorted(chance.uniform(0, 90) for _ in range(count))
        pulse = find_pulse(onsets)
        assert pulse is None or 0 < pulse.kept <= 1
