"""The keys that a tune lives in, which need not be the ones that it names.

A tune marked G may live in E minor; the B part of one in G may live in D.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from backing.errors import Notice
from backing.music.key import Key
from backing.music.tonality import likeliest_key, pitch_class_weights
from backing.music.tune import Tune

#: How much the key named is worth against the notes of the whole tune, and of a section.
_TRUST, _TRUST_IN_SECTION = 0.25, 0.3
#: How much of that another key of the same signature is worth for the whole tune.
_SAME_SIGNATURE = 0.06
#: What share of a felt beat a note lasts at least that comes to rest.
_AT_REST = Fraction(1, 2)


def keys_of(tune: Tune) -> tuple[tuple[Key, ...], tuple[Notice, ...]]:
    """The key that each bar lives in, and what there is to say about the keys named."""
    keys = [bar.key for bar in tune.bars]
    notices = []
    for start, stop in _runs(keys):
        told = keys[start]
        whole = _key_of(tune, start, stop, told, _TRUST, _SAME_SIGNATURE)
        if whole is not told:
            notices.append(_other_key(tune, start, stop, told, whole))
        sections = [tune.bars[index].section for index in range(start, stop)]
        for first, last in _runs(sections):
            key = _key_of(tune, start + first, start + last, whole, _TRUST_IN_SECTION)
            keys[start + first : start + last] = [key] * (last - first)
    return tuple(keys), tuple(notices)


def _runs(items: Sequence[object]) -> Iterator[tuple[int, int]]:
    """Start and stop of the stretches of equal items."""
    start = 0
    for index in range(1, len(items) + 1):
        if index == len(items) or items[index] != items[start]:
            yield start, index
            start = index


def _key_of(
    tune: Tune, start: int, stop: int, told: Key, trust: float, same_signature: float = 0.0
) -> Key:
    notes = [note for bar in tune.melody.bars[start:stop] for note in bar if note.pitches]
    ends = [
        (tone, rests)
        for first, last in _runs([bar.section for bar in tune.bars[start:stop]])
        for tone, rests in _last_tone(tune, start + first, start + last)
    ]
    at_rest = [tone for tone, rests in ends if rests] or [tone for tone, _ in ends]
    weights = pitch_class_weights(
        (pitch.midi, note.length.numerator / note.length.denominator)
        for note in notes
        for pitch in note.pitches
    )
    return likeliest_key(weights, at_rest, told, trust, same_signature)


def _last_tone(tune: Tune, start: int, stop: int) -> Iterator[tuple[int, bool]]:
    """The pitch class of the last note of some bars, its highest pitch, and whether it comes to
    rest: quick notes that lead back are no end.  Nothing where there is no note."""
    for index in range(stop - 1, start - 1, -1):
        beats = tune.bars[index].metre.beats
        at_rest = min(beats) * _AT_REST if beats else Fraction(0)
        for note in reversed(tune.melody.bars[index]):
            if note.pitches:
                yield max(pitch.midi for pitch in note.pitches) % 12, note.length >= at_rest
                return


def _other_key(tune: Tune, start: int, stop: int, told: Key, found: Key) -> Notice:
    part = "" if (start, stop) == (0, len(tune.bars)) else f" from bar {tune.bars[start].number} on"
    marked = "names no key" if told.mode == "none" else f"is marked {told}"
    return Notice(
        f"the tune {marked}, but its notes{part} live in {found}",
        f"chords are found for {found}; if that is right, correct the key (K: in ABC)",
    )
