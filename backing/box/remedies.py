"""What helps a tune that does not sit on a box: another octave, and odd notes changed."""

from typing import NamedTuple

from backing.box.fingering import Fingered
from backing.box.fit import BarNumbers, Fit
from backing.box.layout import Layout
from backing.box.line import ChordWish, MelodyLine
from backing.music.key import Key
from backing.music.pitch import Pitch
from backing.music.tonality import spell

#: More odd notes than this are another tune.
_MOST_CHANGES = 4
#: Notes are changed by this much at most.
_NEAR = 5
_OCTAVES = (-12, 12)


class Change(NamedTuple):
    """A note that the box lacks, and one to play in its place."""

    note: Pitch
    instead: Pitch
    bars: BarNumbers

    @property
    def octaves(self) -> int:
        """By how many octaves it is the same note, 0 where it is another."""
        apart = self.instead.midi - self.note.midi
        return 0 if apart % 12 else apart // 12


def octaves(line: MelodyLine, layout: Layout) -> tuple[int, ...]:
    """The octaves, up or down, in which every note of the tune is on the box; nearest first."""
    return tuple(12 * octave for octave in (-1, 1, -2, 2) if not lacking(line, layout, 12 * octave))


def lacking(line: MelodyLine, layout: Layout, semitones: int = 0) -> int:
    """How many of the tune's notes a box lacks when it is moved."""
    have: dict[int, bool] = {}
    count = 0
    for moment in line.moments:
        for pitch in moment.pitches:
            there = have.get(pitch)
            if there is None:
                there = have[pitch] = bool(layout.presses(pitch + semitones))
            count += not there
    return count


def changes(found: Fit) -> tuple[Change, ...]:
    """What to play for the odd notes that the box lacks; () where there are too many, or
    nothing near.

    A note in passing becomes one that is played in the direction that the bellows have there,
    of the chord where there is one, then the nearest.  The key note, and the last note of a
    part, stay what they are, an octave away: without them it is another tune.  Common
    practice, no source.
    """
    made: dict[tuple[int, int], dict[int, None]] = {}
    line, layout = found.line, found.layout
    for note in found.fingering.notes:
        for pitch in note.missing:
            if note.moment.last or (line.key.mode != "none" and pitch % 12 == line.key.tonic):
                instead = _octave_of(note, pitch, layout)
            else:
                instead = _instead(note, pitch, layout, line.key)
            if instead is None:
                return ()
            made.setdefault((pitch, instead), {})[line.bars[note.moment.bar].number] = None
    if len(made) > _MOST_CHANGES or sum(map(len, made.values())) > 2 * _MOST_CHANGES:
        return ()
    return tuple(
        Change(spell(pitch, line.key), spell(other, line.key), tuple(sorted(bars)))
        for (pitch, other), bars in sorted(made.items())
    )


def _octave_of(note: Fingered, pitch: int, layout: Layout) -> int | None:
    """The same note an octave away: in the direction that is played there, if there is one."""
    there = [pitch + octave for octave in _OCTAVES if layout.presses(pitch + octave)]
    return min(there, key=lambda other: not _goes(note, other, layout), default=None)


def _instead(note: Fingered, pitch: int, layout: Layout, key: Key) -> int | None:
    wishes: tuple[ChordWish, ...] = note.moment.wishes
    tones = wishes[0].chord.pitch_classes if wishes else key.scale
    near = [
        other
        for other in range(pitch - _NEAR, pitch + _NEAR + 1)
        if other != pitch and other % 12 in key.scale and _goes(note, other, layout)
    ]
    return min(
        near, key=lambda other: (other % 12 not in tones, abs(other - pitch), other), default=None
    )


def _goes(note: Fingered, other: int, layout: Layout) -> bool:
    """True where a note is there in the direction that another is played in."""
    return any(press.direction is note.direction for press in layout.presses(other))
