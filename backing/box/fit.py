"""Whether a tune sits on a box, and what there is to say about it.

Which notes are missing, which need an accidental button, which way each can be played, which
of the tune's chords the left hand has in the direction that the melody needs, how the
fingering goes, and the air.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from backing.box.at_hand import AtHand, Found, at_hand
from backing.box.bellows import Bellows, bellows
from backing.box.costs import Costs
from backing.box.fingering import Fingering, finger
from backing.box.grips import tonic_of
from backing.box.layout import Direction, Layout
from backing.box.line import BeatPlace, MelodyLine
from backing.music.chord import Chord
from backing.music.pitch import Pitch
from backing.music.tonality import spell

BarNumbers = tuple[int, ...]


class FoundNote(NamedTuple):
    """A note of the tune, its bars as numbered in print, and how often it is played."""

    pitch: Pitch
    bars: BarNumbers
    times: int


class NoteWays(NamedTuple):
    """The notes of the tune that a box has one way only, or both."""

    push: tuple[Pitch, ...]
    pull: tuple[Pitch, ...]
    both: tuple[Pitch, ...]


class Gap(NamedTuple):
    """A chord that the left hand lacks on a beat in the direction of the melody, and what is
    played in its place."""

    chord: Chord
    direction: Direction
    bars: BarNumbers
    instead: AtHand


class SectionMoves(NamedTuple):
    """How often the bellows and the row change in a section, once through."""

    section: str
    changes: int
    crossings: int
    bars: int


@dataclass(frozen=True, slots=True)
class Fit:
    """A tune on a box.

    `octave` says in which octave of its home row it lies, "low" or "high"; `homes` are the
    home rows of the sections, `off_home` the bars that leave them.  `unreached` are notes of
    stops that no hand can hold together.  `share` is the part of the time in which the chord
    that the tune wants is at hand whole, None where it gives none.
    """

    fingering: Fingering
    missing: tuple[FoundNote, ...]
    unreached: tuple[FoundNote, ...]
    accidentals: tuple[FoundNote, ...]
    ways: NoteWays
    octave: str
    homes: tuple[int, ...]
    off_home: BarNumbers
    bars: int
    gaps: tuple[Gap, ...]
    share: float | None
    parts: tuple[SectionMoves, ...]
    bellows: Bellows

    @property
    def layout(self) -> Layout:
        """The box."""
        return self.fingering.layout

    @property
    def line(self) -> MelodyLine:
        """The melody."""
        return self.fingering.line

    @property
    def fits(self) -> bool:
        """True where every note of the tune is on the box."""
        return not self.missing


def fit(
    line: MelodyLine, layout: Layout, costs: Costs | None = None, *, percent: float = 100.0
) -> Fit:
    """A melody on a box, fingered at its tempo; the air at so many per cent of it (above 0).

    Notes that the box lacks raise nothing: they are the fit's `missing`.  Raises TuneError past
    10,000 notes as they are played.
    """
    return fit_of(finger(line, layout, costs), percent=percent)


def fit_of(fingering: Fingering, *, percent: float = 100.0) -> Fit:
    """What there is to say about a melody that is fingered."""
    line, layout = fingering.line, fingering.layout
    gaps, share = _chords(fingering)
    lacking = [pitch for note in fingering.notes for pitch in note.missing]
    has = {pitch for pitch in lacking if layout.presses(pitch)}
    return Fit(
        fingering,
        _notes(line, set(lacking) - has),
        _notes(line, has) if has else (),
        _notes(line, set(_accidentals(fingering))),
        _ways(line, layout),
        _octave(fingering),
        tuple(sorted(set(fingering.homes))),
        _off_home(fingering),
        len({bar.number for bar in line.bars if not bar.pickup}),
        gaps,
        share,
        _parts(fingering),
        bellows(fingering, percent=percent),
    )


def _notes(line: MelodyLine, wanted: set[int]) -> tuple[FoundNote, ...]:
    """These of the tune's notes, the lowest first, with their bars."""
    bars: dict[int, dict[int, None]] = {pitch: {} for pitch in sorted(wanted)}
    times = dict.fromkeys(wanted, 0)
    if wanted:
        for moment in line.moments:
            for pitch in moment.pitches:
                if pitch in wanted:
                    bars[pitch][line.bars[moment.bar].number] = None
                    times[pitch] += 1
    return tuple(
        FoundNote(spell(pitch, line.key), tuple(sorted(at)), times[pitch])
        for pitch, at in bars.items()
    )


def _accidentals(fingering: Fingering) -> Iterable[int]:
    """The notes that are played on accidental buttons."""
    for note in fingering.notes:
        for press in note.presses:
            if press.button.accidental:
                yield press.midi


def _ways(line: MelodyLine, layout: Layout) -> NoteWays:
    sides: dict[tuple[Direction, ...], list[Pitch]] = {}
    for pitch in sorted({pitch for moment in line.moments for pitch in moment.pitches}):
        directions = {press.direction for press in layout.presses(pitch)}
        side = tuple(direction for direction in Direction if direction in directions)
        sides.setdefault(side, []).append(spell(pitch, line.key))
    push, pull = (Direction.PUSH,), (Direction.PULL,)
    return NoteWays(*(tuple(sides.get(side, ())) for side in (push, pull, push + pull)))


def _octave(fingering: Fingering) -> str:
    """Where most of the tune lies on its home row: below the second key note on the push,
    or above."""
    row = fingering.layout.rows[max(sorted(set(fingering.homes)), key=fingering.homes.count)]
    tonic = tonic_of(row)
    lowest = min(
        (b.push for b in row if b.push % 12 == tonic and not b.accidental), default=row[0].push
    )
    moments = fingering.line.moments
    total = sum(moment.seconds for moment in moments)
    mean = sum(moment.pitches[-1] * moment.seconds for moment in moments) / total
    return "low" if mean <= lowest + 12 else "high"


def _off_home(fingering: Fingering) -> BarNumbers:
    """The bars in which a note is played on another row than the home row."""
    bars = fingering.line.bars
    return tuple(
        sorted(
            {
                bars[note.moment.bar].number
                for note, home in zip(fingering.notes, fingering.homes, strict=True)
                if note.presses and note.row != home
            }
        )
    )


def _chords(fingering: Fingering) -> tuple[tuple[Gap, ...], float | None]:
    """The chords that are lacking on beats, and the share of the time in which they are not."""
    bars, layout = fingering.line.bars, fingering.layout
    known: dict[tuple[Chord, Direction], AtHand] = {}
    places: dict[tuple[Chord, Direction], dict[int, None]] = {}
    wanted = whole = 0.0
    for note in fingering.notes:
        for wish in note.moment.wishes:
            key = (wish.chord, note.direction)
            have = known.get(key) or known.setdefault(key, at_hand(layout, *key))
            if have.found is not Found.WHOLE and wish.place is not BeatPlace.OFF:
                places.setdefault(key, {})[bars[note.moment.bar].number] = None
        if note.moment.wishes:
            wanted += note.moment.seconds
            first = known[note.moment.wishes[0].chord, note.direction]
            whole += note.moment.seconds * (first.found is Found.WHOLE)
    gaps = [
        Gap(chord, direction, tuple(sorted(at)), known[chord, direction])
        for (chord, direction), at in places.items()
    ]
    gaps.sort(key=lambda gap: (-len(gap.bars), gap.bars, str(gap.chord), gap.direction))
    return tuple(gaps), (whole / wanted if wanted else None)


def _parts(fingering: Fingering) -> tuple[SectionMoves, ...]:
    """The sections, each the first time through."""
    line = fingering.line
    first: dict[str, int] = {}
    bars: Counter[int] = Counter()
    for bar in line.bars:
        first.setdefault(bar.section, bar.part)
        bars[bar.part] += not bar.pickup
    changes: Counter[int] = Counter()
    crossings: Counter[int] = Counter()
    for note in fingering.notes:
        part = line.bars[note.moment.bar].part
        changes[part] += note.changed
        crossings[part] += note.crossed
    return tuple(
        SectionMoves(section, changes[part], crossings[part], bars[part])
        for section, part in first.items()
    )
