"""What a tune is: bars, the frame that all voices share, and voices, the notes bar by bar.

Lengths and onsets are `Fraction`s of a whole note; onsets count from the start of
the bar.  Sources are where things stand in the text they were read from; they are
left out of comparison.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from backing.errors import Notice
from backing.music.chord import Chord
from backing.music.key import NO_KEY, Key
from backing.music.metre import FREE, Metre
from backing.music.pitch import Pitch
from backing.music.tempo import Tempo

#: What a tune is called that has no title.
UNTITLED = "untitled"


class Source(NamedTuple):
    """A place in a text: line and column from 1, `end` the column after the last."""

    line: int
    column: int
    end: int


class Tuplet(NamedTuple):
    """`notes` in the time of `normal`; `first` marks the note that opens the group."""

    notes: int
    normal: int
    first: bool = False


class Grace(NamedTuple):
    """A grace note: its pitches, and its length relative to its neighbours in the group."""

    pitches: tuple[Pitch, ...]
    length: Fraction


class Note(NamedTuple):
    """One or more pitches struck together, or a rest where there are none.

    `ties` are the pitches held on into the next note.  `length` is what sounds:
    tuplets and broken rhythm are already in it.  `opens` and `closes` count the slurs
    that begin and end here.  `hidden` marks a rest that is not printed.  `lyrics` has a
    syllable for each verse ("" where a verse has none), with a hyphen where the word goes
    on.
    """

    onset: Fraction
    length: Fraction
    pitches: tuple[Pitch, ...] = ()
    ties: tuple[Pitch, ...] = ()
    tuplet: Tuplet | None = None
    graces: tuple[Grace, ...] = ()
    slashed: bool = False
    decorations: tuple[str, ...] = ()
    texts: tuple[str, ...] = ()
    opens: int = 0
    closes: int = 0
    hidden: bool = False
    lyrics: tuple[str, ...] = ()
    source: Source | None = None

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Note) and self[:-1] == other[:-1]

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
        return hash(self[:-1])

    @property
    def grace_keys(self) -> tuple[tuple[int, ...], ...]:
        """The MIDI keys of each grace note, in order."""
        return tuple(
            tuple(dict.fromkeys(pitch.midi for pitch in grace.pitches)) for grace in self.graces
        )

    @property
    def rest(self) -> bool:
        """True where nothing sounds."""
        return not self.pitches


@dataclass(frozen=True, slots=True)
class ChordSymbol:
    """A chord symbol at a place in its bar; `text` as written."""

    onset: Fraction
    chord: Chord
    text: str
    source: Source | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class TempoMark:
    """A tempo that begins at a place in its bar; `text` as written."""

    onset: Fraction
    tempo: Tempo
    text: str = field(default="", compare=False)


class Ending(NamedTuple):
    """A first-time, second-time … bar: the times through at which it is played."""

    numbers: tuple[int, ...]
    first: bool = False

    def __str__(self) -> str:
        return ",".join(map(str, self.numbers))


class Jump(StrEnum):
    """A sign that sends the player elsewhere, or says where to go.

    Segno and coda stand at the start of a bar, the others at its end.  "To coda" and
    "fine" count only after a jump; repeats are not played again then.
    """

    SEGNO = "segno"
    CODA = "coda"
    TO_CODA = "to coda"
    FINE = "fine"
    DA_CAPO = "D.C."
    DAL_SEGNO = "D.S."


@dataclass(frozen=True, slots=True)
class Bar:
    """The frame of one written bar, shared by all voices.

    `number` is as printed: 0 for a pickup; the two halves of a bar that a repeat splits
    share one.  `pickup` marks a short bar that leads into the next one.  `plays` is how
    often the strain is played that ends here with a repeat sign (0: no sign);
    `opens_repeat` is the count that a sign at the bar's start asks for (0: no sign).
    `close` is the bar line: "|", "||", "|]", "[|", or "" at the end of the text.
    `label` is what a part label says at the bar's start; `jumps` are its jump signs.
    """

    number: int
    length: Fraction
    metre: Metre
    key: Key
    section: str = "A"
    pickup: bool = False
    opens_repeat: int = 0
    plays: int = 0
    ending: Ending | None = None
    close: str = "|"
    label: str = ""
    jumps: tuple[Jump, ...] = ()
    tempos: tuple[TempoMark, ...] = ()
    chords: tuple[ChordSymbol, ...] = ()
    source: Source | None = field(default=None, compare=False)

    @property
    def begins(self) -> Fraction:
        """Where in its metre the bar begins: 0, but later for a pickup."""
        return self.metre.length - self.length if self.pickup else Fraction(0)


class Voice(NamedTuple):
    """A line of notes, bar by bar, as many bars as the tune has."""

    name: str
    bars: tuple[tuple[Note, ...], ...]


class Section(NamedTuple):
    """A section of a tune: its name and its bars, indices [start, stop)."""

    name: str
    start: int
    stop: int


@dataclass(frozen=True, slots=True)
class Tune:
    """A tune: what stands above it, its bars, and its voices, the melody first.

    `order` is the order of the sections, where the tune gives one.  `tempo` is what the
    tune gives at its head, `swing` the ratio of its swung pairs, where it gives one.
    `texts` are (field, text) pairs kept as written.  `notices`
    are what was odd but playable.
    """

    title: str
    bars: tuple[Bar, ...]
    voices: tuple[Voice, ...]
    number: str = ""
    composers: tuple[str, ...] = ()
    dance: str = ""
    metre: Metre = FREE
    key: Key = NO_KEY
    unit_length: Fraction = Fraction(1, 8)
    tempo: Tempo | None = None
    swing: Fraction | None = None
    order: tuple[str, ...] = ()
    texts: tuple[tuple[str, str], ...] = ()
    titles: tuple[str, ...] = ()
    notices: tuple[Notice, ...] = field(default=(), compare=False)

    @property
    def melody(self) -> Voice:
        """The first voice."""
        return self.voices[0]

    @property
    def sections(self) -> tuple[Section, ...]:
        """The sections in written order."""
        found: list[Section] = []
        for index, bar in enumerate(self.bars):
            if found and found[-1].name == bar.section:
                found[-1] = Section(bar.section, found[-1].start, index + 1)
            else:
                found.append(Section(bar.section, index, index + 1))
        return tuple(found)

    @property
    def has_chords(self) -> bool:
        """True where the tune gives at least one chord symbol."""
        return any(bar.chords for bar in self.bars)

    def notes(self) -> Iterator[Note]:
        """The melody's notes in written order, rests left out."""
        return (note for bar in self.melody.bars for note in bar if note.pitches)
