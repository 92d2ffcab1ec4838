"""The bars of one voice as their bar lines come by."""

from dataclasses import replace
from fractions import Fraction

from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.transpose import UNISON, Interval, move_key
from backing.music.tune import ChordSymbol, Ending, Jump, Source, TempoMark
from backing.parse.abc.draft import BarDraft, NoteDraft
from backing.parse.abc.lengths import plus, times
from backing.parse.abc.limits import MOST_BARS

MOST_LAYERS = 8
START = Fraction(0)
_OPENING = (Jump.SEGNO, Jump.CODA)


class BarMaker:
    """Collects notes and signs into a bar until its bar line comes.

    `metre` and `key` are those of what follows; a bar has those that held when it began.
    `at` is where the next note begins.  `layers` are the notes of the bar, those of a
    second voice in it (`&`) after the first, `notes` those of the layer that is being read.
    `leading` is true where what is read belongs to the voice itself, not to a second one.
    """

    def __init__(self, metre: Metre, key: Key) -> None:
        self.metre = metre
        self.key = key
        self.shift = UNISON
        self.bars: list[BarDraft] = []
        self.ending: Ending | None = None
        self.jumps: list[Jump] = []
        self._next_jumps: list[Jump] = []
        self._opens_repeat = 0
        self._back: int | None = None
        self._clear()

    def _clear(self) -> None:
        self.at = START
        self.notes: list[NoteDraft] = []
        self.layers = [self.notes]
        self.leading = self._back is None
        self.chords: list[ChordSymbol] = []
        self.tempos: list[TempoMark] = []
        self.label = ""
        self.bar_metre, self._bar_key = self.metre, self.key

    @property
    def empty(self) -> bool:
        """True where nothing has been read since the last bar line."""
        return not any(self.layers)

    @property
    def full(self) -> bool:
        """True where the bar is as long as its metre, and always in free metre."""
        return self.metre.free or self.at >= self.metre.length

    def set_metre(self, metre: Metre) -> None:
        """The metre of what follows."""
        self.metre = metre
        if self.empty:
            self.bar_metre = metre

    def set_key(self, key: Key) -> None:
        """The key of what follows."""
        self.key = key
        if self.empty:
            self._bar_key = key

    def add(self, note: NoteDraft) -> None:
        """Put a note or rest at the end of the layer."""
        self.at = plus(self.at, note.length)
        self.notes.append(note)

    def stretch(self, factor: Fraction) -> None:
        """The last note becomes longer or shorter: what stood at its end moves with it."""
        last, at = self.notes[-1], self.at
        last.length = times(last.length, factor)
        self.at = plus(last.onset, last.length)
        for index in range(len(self.tempos) - 1, -1, -1):
            if self.tempos[index].onset != at:
                break
            self.tempos[index] = replace(self.tempos[index], onset=self.at)

    def add_layer(self, back: int = 1) -> None:
        """A second voice from the start of the bar; ValueError where there are too many.

        Where the bar has nothing yet, it goes back by so many bars.
        """
        if self.empty and self.bars:
            self._back = max(0, len(self.bars) - back)
            self.leading = False
            return
        _check_layers(self.layers)
        self.notes = []
        self.layers.append(self.notes)
        self.leading = False
        self.at = START

    def jump(self, jump: Jump) -> None:
        """Segno and coda belong to the start of a bar, the others to its end."""
        opens = jump in _OPENING
        (self._next_jumps if opens and not self.empty and self.full else self.jumps).append(jump)

    def end(self, close: str, plays: int, opens: int, source: Source) -> None:
        """A bar line: close the bar if it holds anything, and note what comes next.

        Its signs may come in pieces (`| :|`): what closes nothing adds to the last bar.
        ValueError where there are too many bars, or voices in one bar.
        """
        if self._back is not None:
            self._second_voice(self._back)
            return
        if not self.empty:
            self._close(close, plays, source)
        elif self.bars:
            last = self.bars[-1]
            last.plays = max(last.plays, plays)
            last.close = last.close if close == "|" else close
            last.jumps += [jump for jump in self.jumps if jump not in _OPENING]
            self.jumps = [jump for jump in self.jumps if jump in _OPENING]
        self._opens_repeat = max(self._opens_repeat, opens)
        if plays or opens or close != "|":
            self.ending = None

    def _second_voice(self, index: int) -> None:
        """What was read sounds with a bar before, and what follows with the next one."""
        if not self.empty:
            bar = self.bars[index]
            _check_layers(bar.layers)
            bar.layers.append(self.notes)
            bar.length = max(bar.length, self.at)
            index += 1
        self._back = index if index < len(self.bars) else None
        self._clear()

    def _close(self, close: str, plays: int, source: Source) -> None:
        if len(self.bars) == MOST_BARS:
            raise ValueError(f"more than {MOST_BARS:,} bars: split the tune in two")
        layers = [layer for layer in self.layers if layer]
        first = layers[0][0].source
        column = first.column if first.line == source.line else 1
        self.bars.append(
            BarDraft(
                metre=self.bar_metre,
                key=self._sounding_key(),
                layers=layers,
                length=max(plus(layer[-1].onset, layer[-1].length) for layer in layers),
                opens_repeat=self._opens_repeat,
                plays=plays,
                ending=self.ending,
                close=close,
                label=self.label,
                source=Source(source.line, column, source.end),
                jumps=self.jumps,
                tempos=sorted(self.tempos, key=lambda mark: mark.onset),
                chords=self.chords,
            )
        )
        self.jumps, self._next_jumps, self._opens_repeat = self._next_jumps, [], 0
        if self.ending is not None and self.ending.first:
            self.ending = self.ending._replace(first=False)
        self._clear()

    def _sounding_key(self) -> Key:
        """The bar's key as it sounds; octaves leave a key alone."""
        if self.shift is UNISON:
            return self._bar_key
        octaves = int(self.shift.semitones / 12)
        shift = Interval(self.shift.steps - 7 * octaves, self.shift.semitones - 12 * octaves)
        return move_key(self._bar_key, shift)

    def settle_jumps(self) -> None:
        """Of several coda signs the last says where to go, those before it where to leave;
        signs at the start of a bar come before those at its end."""
        signs = [bar for bar in self.bars if Jump.CODA in bar.jumps]
        for bar in signs[:-1]:
            bar.jumps = [Jump.TO_CODA if jump is Jump.CODA else jump for jump in bar.jumps]
        for bar in self.bars:
            if len(bar.jumps) > 1:
                bar.jumps.sort(key=lambda jump: jump not in _OPENING)


def _check_layers(layers: list[list[NoteDraft]]) -> None:
    if len(layers) == MOST_LAYERS:
        raise ValueError(f"more than {MOST_LAYERS} voices in one bar")
