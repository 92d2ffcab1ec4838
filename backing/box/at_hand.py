"""Which of the tune's chords the left hand has in a direction, and what can stand for one.

Common practice, no source: a substitute shares two notes with the chord that is missing, the
relative minor or major first (Em for G, C over an A bass for Am); where none does, its bass
sounds alone, or the left hand rests.
"""

from enum import StrEnum
from typing import NamedTuple

from backing.box.layout import Direction, Layout
from backing.music.chord import KINDS, Chord
from backing.music.pitch import name_of

_THIRDS = (3, 4)


class Found(StrEnum):
    """How well the left hand can do it."""

    WHOLE = "whole"
    SUBSTITUTE = "substitute"
    BASS = "bass alone"
    NOTHING = "rest"


class AtHand(NamedTuple):
    """What the left hand plays for a chord: chord button and pitch class of the bass button,
    None where there is none."""

    found: Found
    chord: Chord | None = None
    bass: int | None = None

    def words(self, layout: Layout) -> str:
        """What is played, in a player's words: "Em", "C over A bass", "D bass", "rest"."""
        bass = "" if self.bass is None else bass_name(layout, self.bass)
        if self.chord is None:
            return f"{bass} bass" if bass else "rest"
        name = chord_name(self.chord)
        return name if self.bass in (None, self.chord.root) else f"{name} over {bass} bass"


def at_hand(layout: Layout, wanted: Chord, direction: Direction) -> AtHand:
    """What the left hand can play for a chord in a direction.

    A box has plain triads, so a seventh chord is whole where its triad is there.
    """
    chords, basses = layout.chords(direction), layout.basses(direction)
    bass = next((tone for tone in (wanted.bass_class, wanted.root) if tone in basses), None)
    for chord in chords:
        if _same(chord, wanted, thirds=layout.thirds):
            return AtHand(Found.WHOLE, chord, bass)
    ranked = [
        (rank, -place, chord)
        for place, chord in enumerate(chords)
        if (rank := _likeness(chord, wanted, bass, thirds=layout.thirds))
    ]
    if ranked:
        chord = max(ranked, key=lambda one: one[:2])[2]
        return AtHand(
            Found.SUBSTITUTE, chord, bass if bass is not None else _own_bass(chord, basses)
        )
    return AtHand(Found.BASS if bass is not None else Found.NOTHING, None, bass)


def _own_bass(chord: Chord, basses: tuple[int, ...]) -> int | None:
    return chord.root if chord.root in basses else None


def _triad(chord: Chord) -> tuple[int | None, int | None]:
    """Third and fifth above the root in semitones, None where the chord has none."""
    steps = KINDS[chord.kind]
    third = next((step for step in steps if step in _THIRDS), None)
    return third, next((step for step in steps if step in (6, 7, 8)), None)


def _same(chord: Chord, wanted: Chord, *, thirds: bool) -> bool:
    if chord.root != wanted.root:
        return False
    (third, fifth), (wanted_third, wanted_fifth) = _triad(chord), _triad(wanted)
    same_third = not thirds or None in (third, wanted_third) or third == wanted_third
    return same_third and wanted_fifth in (None, fifth)


def _tones(chord: Chord) -> set[int]:
    """Root, third and fifth."""
    return {chord.root, *((chord.root + step) % 12 for step in _triad(chord) if step is not None)}


def _likeness(
    chord: Chord, wanted: Chord, bass: int | None, *, thirds: bool
) -> tuple[int, bool] | None:
    """How well a chord stands for another, best highest; None where it cannot."""
    if chord.root == wanted.root:
        return None
    named, need = _tones(chord), _tones(wanted)
    sounding = (named if thirds else set(chord.without_third)) | ({bass} & need)
    if len(named & need) < 2 or len(sounding & need) < 2:
        return None
    third = _triad(wanted)[0]
    relative = (wanted.root + (3 if third == 3 else 9)) % 12
    return len(sounding & need), chord.root == relative


def chord_name(chord: Chord) -> str:
    """A chord button as players call it.

    >>> chord_name(Chord("E", 0, "minor"))
    'Em'
    """
    return str(chord)


def bass_name(layout: Layout, tone: int) -> str:
    """A bass button's note as the layout spells it."""
    for button in layout.left:
        for chord in (button.push, button.pull):
            if chord.root == tone:
                return name_of(chord.step, chord.alter)
    raise AssertionError(f"no button has {tone}")
