"""Which notes a left-hand button sounds, from one fixed octave of reeds each.

A box has major and minor chords, with the thirds out root and fifth; what else a symbol
asks for is made of these and a bass, as players do: a minor seventh is the major chord a
third up over its root ("Am7": A bass, C chord), a major seventh the minor chord a third
up ("Cmaj7": C bass, Em chord), a half-diminished seventh the minor chord a third up, a
diminished chord the major chord a third down ("F#dim": F# bass, D chord); other sevenths
and beyond are their plain triad, a suspended chord root and fifth.  The first two are
common cross-chords of two-row boxes; the others are common practice, no source.
"""

from functools import lru_cache

from backing.arranging.style import Tones
from backing.music.chord import KINDS, Chord

#: MIDI keys that the lower bass reeds sound: E2 to D#3, doubled an octave up (the upper
#: reeds carry on a phone's speaker).  Chords come from one fixed octave of reeds, G3 to
#: F#4, so inversions fall as on a box.  No published table; a working choice.
LOWEST_BASS, LOWEST_CHORD = 40, 55
_FIFTH = 7
#: The button for each kind of chord: semitones above its root, and the kind that it plays.
BUTTONS = {
    "major": (0, "major"), "minor": (0, "minor"),
    "augmented": (0, "major"), "diminished": (8, "major"),
    "dominant": (0, "major"), "major-seventh": (4, "minor"), "minor-seventh": (3, "major"),
    "diminished-seventh": (8, "major"), "augmented-seventh": (0, "major"),
    "half-diminished": (3, "minor"), "major-minor": (0, "minor"),
    "major-sixth": (0, "major"), "minor-sixth": (0, "minor"),
    "dominant-ninth": (0, "major"), "major-ninth": (0, "major"), "minor-ninth": (0, "minor"),
    "dominant-11th": (0, "major"), "dominant-13th": (0, "major"), "added-ninth": (0, "major"),
    "suspended-second": (0, "power"), "suspended-fourth": (0, "power"),
    "suspended-seventh": (0, "power"), "power": (0, "power"),
}  # fmt: skip


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
    up, kind = BUTTONS[chord.kind]
    if tones is Tones.ALL:
        return tuple((chord.root + up + step) % 12 for step in KINDS[kind])
    root = chord.root if _FIFTH in KINDS[chord.kind] else (chord.root + up) % 12
    return (root, (root + _FIFTH) % 12)
