"""In which octave a tune reads best: near the five lines, with few ledger lines."""

from collections.abc import Sequence

from backing.music.pitch import Pitch
from backing.music.tune import Tune

#: Octaves that a tune may be written away from where it stands.
OCTAVES = (0, 1, -1, 2, -2)
_LETTERS = "CDEFGAB"
_BOTTOM, _TOP = 7 * 4 + _LETTERS.index("E"), 7 * 5 + _LETTERS.index("F")


def ledger_lines(pitch: Pitch, octaves: int = 0) -> int:
    """How many ledger lines a note needs in the treble clef, written so many octaves higher.

    >>> [ledger_lines(Pitch(step, 0, octave)) for step, octave in (("D", 4), ("C", 4), ("A", 5))]
    [0, 1, 1]
    """
    place = 7 * (pitch.octave + octaves) + _LETTERS.index(pitch.step)
    return max(_BOTTOM - place, place - _TOP, 0) // 2


def best_octave(tune: Tune, octaves: Sequence[int] = OCTAVES) -> int:
    """By how many of these octaves a tune is to be moved to read best.

    The notes of its melody have the fewest ledger lines there; it stays where it is if that
    would save less than half of them.  Octaves are left out in which a note, of any voice,
    could not be written (MIDI keys 0 to 127).
    """
    pitches = [pitch for note in tune.notes() for pitch in note.pitches]
    keys = [
        pitch.midi
        for voice in tune.voices
        for bar in voice.bars
        for note in bar
        for pitch in note.pitches
    ]
    low, high = min(keys, default=0), max(keys, default=0)
    lines = {
        octave: sum(ledger_lines(pitch, octave) for pitch in pitches)
        for octave in (0, *octaves)
        if not octave or 0 <= low + 12 * octave <= high + 12 * octave <= 127
    }
    best = min(lines, key=lambda octave: (lines[octave], abs(octave)))
    return best if 2 * lines[best] <= lines[0] else 0
