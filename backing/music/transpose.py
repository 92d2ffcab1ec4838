"""Moving pitches, chords and keys by an interval, spelling kept."""

from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

from backing.errors import PracticeError
from backing.music.chord import Chord
from backing.music.key import Key
from backing.music.pitch import SEMITONES, Pitch, pitch_of
from backing.music.tune import Bar, ChordSymbol, Note, Tune, Voice

_LETTERS = "CDEFGAB"
#: Letters moved for 0 to 11 semitones: unison, minor second, major second, … as usual.
_STEPS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)


class Interval(NamedTuple):
    """So many letters and semitones up (down where negative): a fifth up is 4 and 7."""

    steps: int
    semitones: int

    @property
    def unison(self) -> bool:
        """True where nothing moves."""
        return not self.steps and not self.semitones


UNISON = Interval(0, 0)


def interval_of(semitones: int) -> Interval:
    """The usual interval of so many semitones.

    >>> interval_of(-2)
    Interval(steps=-1, semitones=-2)
    """
    size = abs(semitones)
    steps = 7 * (size // 12) + _STEPS[size % 12]
    return Interval(steps if semitones >= 0 else -steps, semitones)


def interval_between(low: Pitch, high: Pitch) -> Interval:
    """The interval from one pitch to another."""
    steps = 7 * (high.octave - low.octave)
    steps += _LETTERS.index(high.step) - _LETTERS.index(low.step)
    return Interval(steps, high.midi - low.midi)


@lru_cache(maxsize=4096)
def move_pitch(pitch: Pitch, interval: Interval) -> Pitch:
    """The pitch moved by an interval; more than two signs are respelled.

    >>> str(move_pitch(Pitch("F", 1, 4), interval_of(5)))
    'B4'
    """
    place = _LETTERS.index(pitch.step) + interval.steps
    step, octave = _LETTERS[place % 7], pitch.octave + place // 7
    alter = pitch.midi + interval.semitones - (12 * (octave + 1) + SEMITONES[step])
    if abs(alter) > 2:
        step, alter = _name(pitch.midi + interval.semitones)
        octave = (pitch.midi + interval.semitones - alter) // 12 - 1
    return pitch_of(step, alter, octave)


def move_chord(chord: Chord, interval: Interval) -> Chord:
    """The chord moved by an interval."""
    if chord.silent:
        return chord
    step, alter = _move_name(chord.step, chord.alter, interval)
    bass = None if chord.bass is None else _move_name(*chord.bass, interval)
    return chord._replace(step=step, alter=alter, bass=bass)


def move_key(key: Key, interval: Interval) -> Key:
    """The key moved by an interval; past seven signs it is respelled."""
    if key.mode == "none" or interval.unison:
        return key
    step, alter = _move_name(key.step, key.alter, interval)
    changes = tuple(_move_change(key, step, alter, change) for change in key.changes)
    moved = replace(key, step=step, alter=alter, changes=changes, written="")
    if key.mode == "pipes":
        moved = replace(moved, mode="mixolydian")
    if abs(moved.fifths) > 7:
        step, alter = _name(moved.tonic)
        moved = replace(moved, step=step, alter=alter)
    return moved


def move_tune(tune: Tune, interval: Interval) -> Tune:
    """The tune moved by an interval: notes, chord symbols and keys.

    Raises PracticeError where a note would lie beyond what can be written (MIDI keys 0 to 127).
    """
    if interval.unison:
        return tune
    _check_range(tune, interval)
    return replace(
        tune,
        key=move_key(tune.key, interval),
        bars=tuple(_move_bar(bar, interval) for bar in tune.bars),
        voices=tuple(
            Voice(
                voice.name,
                tuple(tuple(_move_note(note, interval) for note in bar) for bar in voice.bars),
            )
            for voice in tune.voices
        ),
    )


def _check_range(tune: Tune, interval: Interval) -> None:
    for voice in tune.voices:
        for bar, notes in zip(tune.bars, voice.bars, strict=True):
            for pitch in (pitch for note in notes for pitch in note.pitches):
                if not 0 <= pitch.midi + interval.semitones <= 127:
                    raise PracticeError(
                        f"bar {bar.number}: {pitch} would be moved beyond what can be written",
                        "choose another key or octave",
                    )


def _move_bar(bar: Bar, interval: Interval) -> Bar:
    return replace(
        bar,
        key=move_key(bar.key, interval),
        chords=tuple(_move_symbol(symbol, interval) for symbol in bar.chords),
    )


def _move_symbol(symbol: ChordSymbol, interval: Interval) -> ChordSymbol:
    chord = move_chord(symbol.chord, interval)
    return replace(symbol, chord=chord, text=symbol.text if chord.silent else str(chord))


def _move_note(note: Note, interval: Interval) -> Note:
    def moved(pitches: tuple[Pitch, ...]) -> tuple[Pitch, ...]:
        return tuple(move_pitch(pitch, interval) for pitch in pitches)

    return note._replace(
        pitches=moved(note.pitches),
        ties=moved(note.ties),
        graces=tuple(grace._replace(pitches=moved(grace.pitches)) for grace in note.graces),
    )


def readable_interval(key: Key, semitones: int) -> Interval:
    """So many semitones, spelled so that the key that comes out has the fewest signs.

    >>> from backing.music.key import parse_key
    >>> str(move_key(parse_key("G"), readable_interval(parse_key("G"), 6)))
    'Db major'
    """
    usual = interval_of(semitones)
    ways = [usual, usual._replace(steps=usual.steps + 1), usual._replace(steps=usual.steps - 1)]
    return min(ways, key=lambda way: (_signs(key, way), way is not usual))


def interval_to_key(key: Key, wanted: Key) -> Interval:
    """The nearest way from a key's tonic to another's, spelled as the other is; up where
    both ways are as far.

    >>> from backing.music.key import parse_key
    >>> interval_to_key(parse_key("G"), parse_key("C#"))
    Interval(steps=3, semitones=6)
    """
    semitones = (wanted.tonic - key.tonic + 5) % 12 - 5
    letters = (_LETTERS.index(wanted.step) - _LETTERS.index(key.step)) % 7
    near = interval_of(semitones).steps
    steps = min((letters - 7, letters), key=lambda way: abs(way - near))
    spelled = Interval(steps, semitones)
    return spelled if _signs(key, spelled) <= 7 else readable_interval(key, semitones)


def _signs(key: Key, interval: Interval) -> int:
    """How many signs the moved tonic's key has; many where its name would have two or more."""
    step, alter = _move_name(key.step, key.alter, interval)
    spelled = _LETTERS[(_LETTERS.index(key.step) + interval.steps) % 7]
    moved = replace(key, step=step, alter=alter, changes=())
    return abs(moved.fifths) if step == spelled and abs(alter) < 2 else 99


def _move_change(key: Key, step: str, alter: int, change: tuple[str, int]) -> tuple[str, int]:
    """An explicit accidental of a key, at the same degree of the moved key."""
    degree = (_LETTERS.index(change[0]) - _LETTERS.index(key.step)) % 7
    low = pitch_of(key.step, key.alter, 4)
    high = pitch_of(
        change[0], change[1], 4 if _LETTERS.index(change[0]) >= _LETTERS.index(key.step) else 5
    )
    letter = _LETTERS[(_LETTERS.index(step) + degree) % 7]
    octave = 4 if _LETTERS.index(letter) >= _LETTERS.index(step) else 5
    plain = pitch_of(letter, 0, octave)
    wanted = pitch_of(step, alter, 4).midi + high.midi - low.midi
    return letter, wanted - plain.midi


def _move_name(step: str, alter: int, interval: Interval) -> tuple[str, int]:
    moved = move_pitch(pitch_of(step, alter, 4), interval)
    return moved.step, moved.alter


def _name(midi: int) -> tuple[str, int]:
    """The commonest spelling of a pitch class."""
    names = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    name = names[midi % 12]
    return name[0], {"#": 1, "b": -1}.get(name[1:], 0)
