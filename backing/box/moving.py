"""A tune on another box, every button kept: by which interval it moves, and what differs."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import zip_longest
from typing import NamedTuple

from backing.box.fingering import Fingered, Fingering
from backing.box.layout import ROWS, Layout, LeftButton, Press
from backing.box.line import Moment
from backing.box.same import Same, same_fingering
from backing.errors import Notice
from backing.music.chord import Chord
from backing.music.ledger import OCTAVES, best_octave
from backing.music.pitch import Pitch
from backing.music.saying import in_bars
from backing.music.transpose import (
    Interval,
    interval_of,
    move_chord,
    move_pitch,
    move_tune,
    readable_interval,
)
from backing.music.tune import Note, Tune
from backing.wording import listed

_MOST_NOTES = 6


class Moved(NamedTuple):
    """A tune on another box, the semitones between what is sounded, and what there is to say."""

    tune: Tune
    semitones: int
    notices: tuple[Notice, ...]


def move_to_box(tune: Tune, source: Layout, target: Layout, octaves: int = 0) -> Moved:
    """The tune as the same buttons sound it on another box, written `octaves` higher.

    A note that the source box lacks moves with the others, and is named; so are notes whose
    buttons sound something else there.  Raises BoxError where the fingering does not go on
    the target box, PracticeError where a note would lie outside MIDI keys 0 to 127.
    """
    same = same_fingering(source, target)
    moved = move_tune(tune, readable_interval(tune.key, same.semitones + 12 * octaves))
    notices = [*_numbers(same, source, target), *_notes(tune, same, source, target)]
    if tune.has_chords:
        notices += _left_hand(same, source, target)
    return Moved(moved, same.semitones, tuple(notices))


def same_buttons(fingering: Fingering, target: Layout) -> Fingering | None:
    """The same buttons on another box, under the melody as they sound it there.

    A note that the first box lacks has no button here either.  None where a button has none
    that answers it, or one that sounds something else.  Raises BoxError where the fingering
    does not go on the target box.
    """
    same = same_fingering(fingering.layout, target)
    line = fingering.line.moved(same.semitones)
    notes = [
        _same_note(note, moment, same, target)
        for note, moment in zip(fingering.notes, line.moments, strict=True)
    ]
    rows = [same.rows[row] for row in fingering.homes]
    kept = tuple(note for note in notes if note)
    homes = tuple(row[0] for row in rows if row)
    if len(kept) < len(notes) or len(homes) < len(rows):
        return None
    return replace(fingering, layout=target, line=line, homes=homes, notes=kept)


def _same_note(note: Fingered, moment: Moment, same: Same, target: Layout) -> Fingered | None:
    """A note on the buttons that answer its own; None where they do not sound it."""
    if not note.presses:
        return note._replace(moment=moment)
    answer = same.rows[note.row]
    buttons = [same.button(press.button, target) for press in note.presses]
    presses = tuple(
        Press(button, press.direction)
        for button, press in zip(buttons, note.presses, strict=True)
        if button and same.keeps(press, target)
    )
    if not answer or len(presses) < len(buttons):
        return None
    row, shift = answer
    return note._replace(moment=moment, presses=presses, row=row, hand=max(note.hand + shift, 1))


def _numbers(same: Same, source: Layout, target: Layout) -> Iterator[Notice]:
    """Which row it is, where the boxes do not have as many, and whether the numbers differ."""
    rows = [(row, answer[0]) for row, answer in enumerate(same.rows) if answer]
    if len(source.rows) < len(target.rows):
        yield Notice(f"the row of {source.name} is the {ROWS[rows[0][1]]} row of {target.name}")
    if len(source.rows) > len(target.rows):
        yield Notice(f"only the {ROWS[rows[0][0]]} row of {source.name} is there on {target.name}")
    shift = next(answer[1] for answer in same.rows if answer)
    if shift:
        way = "higher" if shift > 0 else "lower"
        yield Notice(
            f"button numbers are {('one', 'two')[abs(shift) - 1]} {way} on {target.name}: "
            f"4 becomes {4 + shift}",
            "counted from the key note of the row the buttons are the same",
        )


def _notes(tune: Tune, same: Same, source: Layout, target: Layout) -> Iterator[Notice]:
    """Notes that have no button to keep, or whose button sounds something else there."""
    interval = readable_interval(tune.key, same.semitones)
    lacking: dict[Pitch, list[int]] = {}
    elsewhere: dict[Pitch, list[int]] = {}
    nowhere: dict[Pitch, list[int]] = {}
    for pitch, bars in _places(tune).items():
        ways = source.presses(pitch.midi)
        if not ways:
            lacking[pitch] = bars
        elif not any(same.keeps(press, target) for press in ways):
            there = target.presses(pitch.midi + same.semitones)
            (elsewhere if there else nowhere)[move_pitch(pitch, interval)] = bars
    if lacking:
        yield Notice(
            f"{source.name} has no {_named(lacking)}",
            "these notes move with the others, and there is no button to keep",
        )
    if elsewhere:
        yield Notice(
            f"other buttons of {target.name} than of {source.name} sound {_named(elsewhere)}",
            "buttons at the chin end, or one that is turned round, differ: finger these bars anew",
        )
    if nowhere:
        yield Notice(f"{target.name} has no {_named(nowhere)}", "change these notes")


def _places(tune: Tune) -> dict[Pitch, list[int]]:
    """The melody's notes, grace notes too, and the bars that they stand in."""
    found: dict[Pitch, dict[int, None]] = {}
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        for note in notes:
            for pitch in _pitches(note):
                found.setdefault(pitch, {})[bar.number] = None
    return {pitch: list(bars) for pitch, bars in found.items()}


def _pitches(note: Note) -> Iterator[Pitch]:
    yield from note.pitches
    for grace in note.graces:
        yield from grace.pitches


def _named(notes: Mapping[Pitch, list[int]]) -> str:
    words = [f"{pitch} ({in_bars(bars)})" for pitch, bars in notes.items()]
    more = [f"{len(words) - _MOST_NOTES} more"] if len(words) > _MOST_NOTES else []
    return listed([*words[:_MOST_NOTES], *more])


def _left_hand(same: Same, source: Layout, target: Layout) -> Iterator[Notice]:
    """Pairs of the left hand that are not the same, moved; they come in the rows' order."""
    interval = interval_of(same.semitones)
    row, other = next((row, answer[0]) for row, answer in enumerate(same.rows) if answer)
    pairs = zip_longest(_chord_buttons(source)[row:], _chord_buttons(target)[other:])
    differing = [
        f"{there.pair} {there.push} and {there.pull}" if there else f"no {here.pair} pair"
        for here, there in pairs
        if here and not (there and _alike(here, there, interval))
    ]
    if differing:
        yield Notice(
            f"the left hand of {target.name} differs: {listed(differing)}",
            f"backing boxes {target.name} draws it",
        )


def _chord_buttons(box: Layout) -> list[LeftButton]:
    return [button for button in box.left if button.hand == "chord"]


def _alike(here: LeftButton, there: LeftButton, interval: Interval) -> bool:
    def sounds(chord: Chord) -> tuple[int, str]:
        return chord.root, chord.kind

    return all(
        sounds(move_chord(one, interval)) == sounds(other)
        for one, other in ((here.push, there.push), (here.pull, there.pull))
    )


# -- the octave ------------------------------------------------------------------------


def reading_octave(tune: Tune, layout: Layout | None = None) -> int:
    """By how many octaves a tune is to be moved so that it reads best (`best_octave`).

    With a box only where no more of its notes are missing there than where it stands.
    """
    if layout is None:
        return best_octave(tune)
    midis = [pitch.midi for note in tune.notes() for pitch in note.pitches]
    lacking = {
        octave: sum(not layout.presses(midi + 12 * octave) for midi in midis) for octave in OCTAVES
    }
    return best_octave(tune, [octave for octave in OCTAVES if lacking[octave] <= lacking[0]])
