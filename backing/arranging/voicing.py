"""Which notes a left-hand button sounds, from one fixed octave of reeds each.

`music/buttons.py` tells which chord button stands for which symbol.
"""

from functools import lru_cache

from backing.arranging.style import Tones
from backing.music.buttons import stand_ins
from backing.music.chord import KINDS, Chord

#: MIDI keys that the lower bass reeds sound: E2 to D#3, doubled an octave up (the upper
#: reeds carry on a phone's speaker).  Chords come from one fixed octave of reeds, G3 to
#: F#4, so inversions fall as on a box.  No published table; a working choice.
LOWEST_BASS, LOWEST_CHORD = 40, 55


def bass_of(pitch: int, lowest: int = LOWEST_BASS) -> tuple[int, int]:
    """The two octaves that the bass button of a pitch class sounds.

    >>> bass_of(2)
    (50, 62)
    """
    low = lowest + (pitch - lowest) % 12
    return (low, low + 12)


@lru_cache(maxsize=512)
def bass_pitches(chord: Chord, degree: int = 1) -> tuple[int, int]:
    """The two octaves of a degree of a chord; the bass of a slash chord is its degree 1.

    >>> bass_pitches(Chord("D")), bass_pitches(Chord("D", bass=("F", 1)))
    ((50, 62), (42, 54))
    """
    return bass_of(chord.degree(degree))


@lru_cache(maxsize=1024)
def chord_pitches(
    chord: Chord, tones: Tones = Tones.ALL, *, full: bool = False, lowest: int = LOWEST_CHORD
) -> tuple[int, ...]:
    """The notes of a chord button, folded into the octave of its reeds, from the lowest.

    `full` sounds every note of the symbol, as a synth can; else what a box has.

    >>> chord_pitches(Chord("D", 0, "dominant"))
    (57, 62, 66)
    >>> chord_pitches(Chord("D", 0, "dominant"), full=True)
    (57, 60, 62, 66)
    """
    if tones is Tones.ROOT:
        classes: tuple[int, ...] = (chord.root,)
    elif full:
        classes = chord.pitch_classes if tones is Tones.ALL else chord.without_third
    else:
        classes = _button(chord, tones)
    return tuple(sorted({lowest + (pitch - lowest) % 12 for pitch in classes}))


def _button(chord: Chord, tones: Tones) -> tuple[int, ...]:
    """The pitch classes of the chord button that a player presses."""
    best = stand_ins(chord, chord.bass_class, thirds=tones is Tones.ALL)[0]
    return tuple((best.root + step) % 12 for step in KINDS[best.kind])
