"""From key presses to the notes of bars: lengths, ties at bar lines, rests, tuplets."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise
from statistics import median

from backing.errors import Notice
from backing.music.key import Key
from backing.music.tonality import spell
from backing.music.tune import Grace, Note, Tuplet
from backing.parse.midi.events import HeldKey
from backing.parse.midi.frame import Span, plain
from backing.parse.midi.grid import TOGETHER_MS, Grid
from backing.parse.midi.swing import Struck

#: A note held for so much of the time to the next one, by how this player holds notes, is held
#: up to it; a note of which less sounds is no measure of that.
_HELD, _SOUNDS = 0.8, 0.7
_LEAST_REST = Fraction(1, 16)
#: Up to this long to the next note a note is held up to it, whatever the file says.
_SHORT = Fraction(1, 8)
_STEP = Fraction(1, 16)
_GRACE = Fraction(1, 32)
#: What a last note may be meant for, and how much of it is enough.
_LAST_VALUES = tuple(Fraction(n, 16) for n in (1, 2, 4, 6, 8, 12, 16, 24))
_FILLED = Fraction(93, 100)
#: In the time of how many a tuplet stands.
_NORMAL = {3: 2, 5: 4, 7: 4, 9: 8, 11: 8, 13: 8, 15: 8}


@dataclass(slots=True)
class _StruckGroup:
    """Presses at one place: the keys, the tick they begin and end at, graces before."""

    onset: Fraction
    start: int
    stop: int
    keys: list[int]
    graces: list[int]


def place_presses(
    presses: Sequence[HeldKey], grid: Grid, tick_ms: float, *, as_told: bool
) -> tuple[list[Struck], list[Notice]]:
    """The notes of a line, one after the other.

    With `as_told` every rest is kept; else a note that is held for most of the time to
    the next one is held up to it, and only rests of a semiquaver or more are kept.  What
    overlaps the next note is ended there, with a notice.
    """
    groups = _groups(presses, grid, tick_ms)
    held = _held(groups)
    notes: list[Struck] = []
    overlaps = 0
    for index, group in enumerate(groups):
        following = groups[index + 1] if index + 1 < len(groups) else None
        stop = _stop(group, following, grid, held, as_told=as_told)
        if following and (group.stop - following.start) * tick_ms > TOGETHER_MS:
            overlaps += 1
        keys = tuple(sorted(set(group.keys)))
        notes.append(Struck(group.onset, stop, keys, tuple(group.graces)))
    if not overlaps:
        return notes, []
    many = "1 note overlaps" if overlaps == 1 else f"{overlaps} notes overlap"
    return notes, [Notice(f"{many} the next one", "ended where the next one begins")]


def _groups(presses: Sequence[HeldKey], grid: Grid, tick_ms: float) -> list[_StruckGroup]:
    """The presses by place, in order; keys struck clearly before the last are graces."""
    placed = sorted(presses, key=lambda press: (grid.places[press.start], press.start))
    groups: list[_StruckGroup] = []
    for onset, row in groupby(placed, key=lambda press: grid.places[press.start]):
        found = list(row)
        last = found[-1].start
        before = [grid.exact or (last - p.start) * tick_ms <= TOGETHER_MS for p in found].index(
            True
        )
        struck = found[before:]
        graces = [press.key for press in found[:before]]
        stop = max(press.stop for press in struck)
        groups.append(_StruckGroup(onset, last, stop, [press.key for press in struck], graces))
    return groups


def _held(groups: Sequence[_StruckGroup]) -> float:
    """How much of its time a note sounds that lasts to the next one, in the middle."""
    times = ((a.stop - a.start, b.start - a.start) for a, b in pairwise(groups))
    shares = [min(sounds / time, 1.0) for sounds, time in times if time > 0]
    return median([share for share in shares if share >= _SOUNDS] or [1.0])


def _stop(
    group: _StruckGroup, following: _StruckGroup | None, grid: Grid, held: float, *, as_told: bool
) -> Fraction:
    """Where a note ends."""
    told = grid.exact_place(group.stop) if grid.exact else None
    if following is None:
        told = told or grid.near_beat(group.stop)
        if (
            told is not None
            and told > group.onset
            and (as_told or plain(told) or plain(told - group.onset))
        ):
            return told
        return group.onset + _last_length(Fraction(group.stop - group.start, 4 * grid.ppq))
    until = following.onset
    if told is not None and told > group.onset and (as_told or until - told >= _LEAST_REST):
        return min(told, until)
    room, sounds = following.start - group.start, (group.stop - group.start) / held
    if until - group.onset <= _SHORT or sounds >= _HELD * room:
        return until
    stop = max(grid.near_place(round(group.start + sounds), _STEP), group.onset + _STEP)
    return until if until - stop < _LEAST_REST else stop


def _last_length(played: Fraction) -> Fraction:
    """The value that the last note was meant for: the shortest that it fills, or nearly."""
    for value in _LAST_VALUES:
        if value >= played * _FILLED:
            return value
    return -(-played * _FILLED // _SHORT) * _SHORT


# -- bars -----------------------------------------------------------------------


@dataclass(slots=True)
class _NotePiece:
    """What a bar has of a note, or a rest without keys."""

    onset: Fraction
    length: Fraction
    keys: tuple[int, ...] = ()
    tied: bool = False
    graces: tuple[int, ...] = ()
    tuplet: Tuplet | None = None


def cut_into_bars(
    notes: Sequence[Struck], spans: Sequence[Span], keys: Sequence[Key]
) -> tuple[tuple[Note, ...], ...]:
    """The notes bar by bar, tied over bar lines, rests filled in, spelled by each bar's key."""
    bars = []
    at = 0
    for span, key in zip(spans, keys, strict=True):
        pieces: list[_NotePiece] = []
        start, end = span.start, span.stop
        while at < len(notes) and notes[at].onset < end:
            note = notes[at]
            tied = note.stop > end
            onset, stop = max(note.onset, start), end if tied else note.stop
            if stop > onset:
                graces = note.graces if onset == note.onset else ()
                pieces.append(_NotePiece(onset - start, stop - onset, note.keys, tied, graces))
            if tied:
                break
            at += 1
        filled = _filled(pieces, span.length)
        _mark_tuplets(filled)
        bars.append(tuple(_note(piece, key) for piece in filled))
    return tuple(bars)


def _filled(pieces: Iterable[_NotePiece], length: Fraction) -> list[_NotePiece]:
    """The pieces with rests between them."""
    filled: list[_NotePiece] = []
    at = Fraction(0)
    for piece in pieces:
        if piece.onset > at:
            filled.append(_NotePiece(at, piece.onset - at))
        filled.append(piece)
        at = piece.onset + piece.length
    if at < length:
        filled.append(_NotePiece(at, length - at))
    return filled


def _mark_tuplets(pieces: list[_NotePiece]) -> None:
    """Mark the notes whose lengths no notes make without tuplets; a group ends where its
    notes add up to such a length."""
    group: list[_NotePiece] = []
    for piece in pieces:
        if not group and plain(piece.length):
            continue
        group.append(piece)
        if plain(sum((one.length for one in group), Fraction(0))):
            _mark_group(group)
            group = []
    if group:
        _mark_group(group)


def _mark_group(group: list[_NotePiece]) -> None:
    odd = max(_odd(piece.length.denominator) for piece in group)
    if odd not in _NORMAL:
        return
    for index, piece in enumerate(group):
        piece.tuplet = Tuplet(odd, _NORMAL[odd], index == 0)


def _odd(number: int) -> int:
    while number % 2 == 0:
        number //= 2
    return number


def _note(piece: _NotePiece, key: Key) -> Note:
    pitches = tuple(spell(midi, key) for midi in piece.keys)
    return Note(
        piece.onset,
        piece.length,
        pitches,
        ties=pitches if piece.tied else (),
        tuplet=piece.tuplet,
        graces=tuple(Grace((spell(midi, key),), _GRACE) for midi in piece.graces),
    )
