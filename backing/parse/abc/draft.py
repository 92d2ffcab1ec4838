"""Bars in the making: what the scanner has read of a bar before its bar line comes."""

from dataclasses import dataclass, field
from fractions import Fraction

from backing.music.pitch import Pitch
from backing.music.tune import Grace, Note, Source, Tuplet


class NoteDraft:
    """A note that may still grow: a broken rhythm, a tie or the end of a slur may follow."""

    __slots__ = (
        "closes",
        "decorations",
        "graces",
        "hidden",
        "length",
        "onset",
        "opens",
        "pitches",
        "slashed",
        "source",
        "texts",
        "ties",
        "tuplet",
    )  # fmt: skip

    def __init__(
        self, onset: Fraction, length: Fraction, pitches: tuple[Pitch, ...], source: Source
    ) -> None:
        self.onset = onset
        self.length = length
        self.pitches = pitches
        self.ties: tuple[Pitch, ...] = ()
        self.tuplet: Tuplet | None = None
        self.graces: tuple[Grace, ...] = ()
        self.slashed = False
        self.decorations: tuple[str, ...] = ()
        self.texts: tuple[str, ...] = ()
        self.opens = 0
        self.closes = 0
        self.hidden = False
        self.source = source

    def note(self) -> Note:
        """The finished value."""
        return Note(
            self.onset, self.length, self.pitches, self.ties, self.tuplet, self.graces,
            self.slashed, self.decorations, self.texts, self.opens, self.closes, self.hidden,
            source=self.source,
        )  # fmt: skip


@dataclass(slots=True)
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


@dataclass(slots=True)
class TupletDraft:
    """A tuplet in progress: its ratio and how many notes are still to come."""

    notes: int
    normal: int
    left: int
    first: bool = True
    column: int = 0

    def take(self, draft: NoteDraft) -> None:
        """Put the next note into the group."""
        draft.length = draft.length * Fraction(self.normal, self.notes)
        draft.tuplet = Tuplet(self.notes, self.normal, self.first)
        self.first = False
        self.left -= 1
