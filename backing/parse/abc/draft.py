"""Bars and notes in the making: what the scanner has read before all of it is known."""

from dataclasses import dataclass, field
from fractions import Fraction

from backing.music.pitch import Pitch
from backing.music.transpose import Interval, move_pitch
from backing.music.tune import Grace, Note, Source, Tuplet
from backing.parse.abc.lengths import times
from backing.parse.draft import FrameDraft


class NoteDraft:
    """A note that may still grow: a broken rhythm, a tie, a slur's end, lyrics may follow.

    `shift` is how its pitches sound above what is written, None for as written; `bar` is
    the index of its bar.
    """

    ties: tuple[Pitch, ...] = ()
    tuplet: Tuplet | None = None
    graces: tuple[Grace, ...] = ()
    slashed = False
    decorations: tuple[str, ...] = ()
    texts: tuple[str, ...] = ()
    opens = 0
    closes = 0
    hidden = False
    lyrics: tuple[str, ...] = ()

    def __init__(
        self,
        onset: Fraction,
        length: Fraction,
        pitches: tuple[Pitch, ...],
        shift: Interval | None,
        source: Source,
        bar: int,
    ) -> None:
        self.onset = onset
        self.length = length
        self.pitches = pitches
        self.shift = shift
        self.source = source
        self.bar = bar

    def note(self) -> Note:
        """The finished value, as it sounds."""
        pitches, ties, graces = self.pitches, self.ties, self.graces
        if self.shift is not None:
            pitches = _moved(pitches, self.shift)
            ties = _moved(ties, self.shift)
            graces = tuple(Grace(_moved(g.pitches, self.shift), g.length) for g in graces)
        return Note(
            self.onset, self.length, pitches, ties, self.tuplet, graces, self.slashed,
            self.decorations, self.texts, self.opens, self.closes, self.hidden, self.lyrics,
            self.source,
        )  # fmt: skip


def _moved(pitches: tuple[Pitch, ...], shift: Interval) -> tuple[Pitch, ...]:
    return tuple(move_pitch(pitch, shift) for pitch in pitches)


@dataclass(slots=True, eq=False, kw_only=True)
class BarDraft(FrameDraft):
    """A bar in the making; `layers` are its notes, the second voices in it after the first."""

    layers: list[list[NoteDraft]]


@dataclass(slots=True, eq=False)
class Pending:
    """What has been read and waits for the note that it belongs to."""

    graces: tuple[Grace, ...] = ()
    slashed: bool = False
    decorations: list[str] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    opens: int = 0
    any: bool = False

    def give_to(self, draft: NoteDraft) -> None:
        """Hand everything to a note, and be empty again."""
        draft.graces, draft.slashed = self.graces, self.slashed
        draft.decorations, draft.texts = tuple(self.decorations), tuple(self.texts)
        draft.opens = self.opens
        self.graces, self.slashed, self.opens, self.any = (), False, 0, False
        self.decorations.clear()
        self.texts.clear()


@dataclass(slots=True, eq=False)
class TupletDraft:
    """A tuplet in progress: its ratio and how many notes are still to come."""

    notes: int
    normal: int
    left: int
    source: Source
    first: bool = True

    @property
    def factor(self) -> Fraction:
        """What each length is multiplied by."""
        return Fraction(self.normal, self.notes)

    def take(self, draft: NoteDraft) -> None:
        """Put the next note into the group."""
        draft.length = times(draft.length, self.factor)
        draft.tuplet = Tuplet(self.notes, self.normal, self.first)
        self.first = False
        self.left -= 1
