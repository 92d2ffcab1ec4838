"""A bar in the making, as every reader of notation knows it before the form is clear."""

from dataclasses import dataclass, field
from fractions import Fraction

from backing.music.form import BarForm
from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.tune import Bar, ChordSymbol, Ending, Jump, Source, TempoMark


@dataclass(slots=True, eq=False, kw_only=True)
class FrameDraft:
    """What the bar says to all voices: length, metre, key, repeats, endings, chords, tempi."""

    metre: Metre
    key: Key
    length: Fraction
    opens_repeat: int = 0
    plays: int = 0
    ending: Ending | None = None
    close: str = "|"
    label: str = ""
    jumps: list[Jump] = field(default_factory=list)
    tempos: list[TempoMark] = field(default_factory=list)
    chords: list[ChordSymbol] = field(default_factory=list)
    source: Source | None = None

    def bar(self, place: BarForm) -> Bar:
        """The finished value, at its place in the form."""
        return Bar(
            number=place.number,
            section=place.section,
            pickup=place.pickup,
            length=self.length,
            metre=self.metre,
            key=self.key,
            opens_repeat=self.opens_repeat,
            plays=self.plays,
            ending=self.ending,
            close=self.close,
            label=self.label,
            jumps=tuple(self.jumps),
            tempos=tuple(self.tempos),
            chords=tuple(self.chords),
            source=self.source,
        )
