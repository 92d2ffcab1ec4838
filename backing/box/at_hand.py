"""Which of the tune's chords the left hand has in a direction, and what can stand for one.

`music/buttons.py` ranks what stands for a chord; where a box has none of it, the chord's bass
sounds alone, or the left hand rests (common practice, no source).
"""

from enum import StrEnum
from typing import NamedTuple

from backing.box.layout import Direction, Layout
from backing.music.buttons import StandIn, stand_ins
from backing.music.chord import KINDS, Chord
from backing.music.pitch import name_of


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
    """What the left hand can play for a chord in a direction: the best that stands for it,
    else its bass alone, else nothing."""
    chords, basses = layout.chords(direction), layout.basses(direction)
    bass = next((tone for tone in (wanted.bass_class, wanted.root) if tone in basses), None)
    for chord in chords:
        if (chord.root, chord.kind) == (wanted.root, wanted.kind):
            return AtHand(Found.WHOLE, chord, bass)
    for best in stand_ins(wanted, bass, thirds=layout.thirds):
        for chord in chords:
            if _is(chord, best, thirds=layout.thirds):
                if best.whole:
                    return AtHand(Found.WHOLE, chord, bass)
                own = chord.root if chord.root in basses else None
                return AtHand(Found.SUBSTITUTE, chord, own if bass is None else bass)
    return AtHand(Found.NOTHING if bass is None else Found.BASS, None, bass)


def _is(chord: Chord, best: StandIn, *, thirds: bool) -> bool:
    """True where a box's button is the one that is looked for, by its triad."""
    if chord.root != best.root:
        return False
    if not thirds and best.kind == "power":
        return True
    return KINDS[chord.kind][:3] == KINDS[best.kind]


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
