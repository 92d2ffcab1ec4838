"""One voice of a tune as lines of ABC music."""

import re
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.music.chord import is_chord, parse_chord
from backing.music.tune import Bar, ChordSymbol, Jump, Note, Tune, Voice
from backing.render.abc_fields import write_key, write_metre, write_tempo
from backing.render.abc_notes import BarSpelling, NoteNumber, struck_at, tuplet_sizes, write_note
from backing.render.abc_text import escape_text, write_syllable

_BARS_A_LINE = 4
_JUMPS = {
    Jump.SEGNO: "segno", Jump.CODA: "coda", Jump.TO_CODA: "dacoda", Jump.FINE: "fine",
    Jump.DA_CAPO: "D.C.", Jump.DAL_SEGNO: "D.S.",
}  # fmt: skip
_OPENING = (Jump.SEGNO, Jump.CODA)
_QUOTED = re.compile(r'"[^"\]]*"')

#: Signs by the index of their bar, the layer and the place that they stand at.
Marks = Mapping[tuple[int, int, Fraction], str]


class MusicLine(NamedTuple):
    """A line of music, what stands below it, and the line of the source that it comes from
    (0: none)."""

    text: str
    lyrics: tuple[str, ...]
    source: int


def layers_of(tune: Tune, voice: Voice) -> list[Voice]:
    """A voice and the second voices in its bars, in their order."""
    pattern = re.compile(re.escape(voice.name) + "( &)+")
    seconds = [other for other in tune.voices if pattern.fullmatch(other.name)]
    return [voice, *sorted(seconds, key=lambda other: len(other.name))]


def even_rows(bars: Sequence[Bar]) -> Iterator[range]:
    """Four bars a line; a section begins a new one."""
    start = 0
    for index in range(1, len(bars) + 1):
        ends = index == len(bars) or bars[index].section != bars[start].section
        if ends or index - start == _BARS_A_LINE:
            yield range(start, index)
            start = index


def rows_of_source(voice: Voice) -> Iterator[range]:
    """Bars a line as their source had them, by the line that each bar ends in."""
    start, line = 0, 0
    for index, notes in enumerate(voice.bars):
        here = max(map(_source_line, notes), default=0) or line
        if line and here != line:
            yield range(start, index)
            start = index
        line = here
    yield range(start, len(voice.bars))


class VoiceWriter:
    """Writes one voice and the second voices in its bars.

    The one that `leads` is written first: chord symbols, tempi and labels stand there.
    """

    def __init__(self, tune: Tune, voice: Voice, *, leads: bool) -> None:
        self.tune = tune
        self.leads = leads
        self.layers = [each.bars for each in layers_of(tune, voice)]
        self.marks: Marks = {}
        if leads:
            self.marks = _marks(tune.bars, self.layers)
            wanted: dict[int, set[Fraction]] = {}
            for index, layer, onset in self.marks:
                if layer == 0:
                    wanted.setdefault(index, set()).add(onset)
            first = self.layers[0]
            self.layers[0] = tuple(
                struck_at(notes, wanted.get(index, ())) for index, notes in enumerate(first)
            )
        self.shown = [self._shown(index) for index in range(len(tune.bars))]
        if len(self.layers) > 1 and max(self.shown) < len(self.layers):
            self.shown[0] = len(self.layers)
        layered = {index for index, count in enumerate(self.shown) if count > 1}
        self.tuplets = [tuplet_sizes(bars, layered) for bars in self.layers]
        self.held: Sequence[Note] = ()
        self.coda = _coda_of(tune.bars)

    def _shown(self, index: int) -> int:
        """How many layers are written in a bar: up to the last that has anything to say."""
        filling = Note(Fraction(0), self.tune.bars[index].length, hidden=True)
        layers = range(len(self.layers) - 1, 0, -1)
        return 1 + next((n for n in layers if self.layers[n][index] != (filling,)), 0)

    def lines(self, rows: Iterator[range]) -> Iterator[MusicLine]:
        """The lines of music, a row of bars each."""
        verses = max((len(note.lyrics) for bar in self.layers[0] for note in bar), default=0)
        for row in rows:
            text = "".join(map(self._bar, row))
            if row.start == 0:
                text = self._opening() + text
            notes = [note for index in row for note in self.layers[0][index]]
            lyrics = tuple(_lyrics(notes, verses))
            yield MusicLine(
                text.removeprefix("\n"), lyrics, max(map(_source_line, notes), default=0)
            )

    def _opening(self) -> str:
        count = self.tune.bars[0].opens_repeat
        return "|" + ":" * (count - 1) if count else ""

    def _bar(self, index: int) -> str:
        """One bar with what stands at its start and the bar line after it."""
        bars = self.tune.bars
        bar = bars[index]
        parts = [f"[{bar.ending} " if bar.ending and bar.ending.first else ""]
        parts.append(self._changes(index))
        parts += [self._jump(jump, index) for jump in bar.jumps if jump in _OPENING]
        spelling = BarSpelling(bar.key)
        if self.held:
            spelling.ties = self.held[-1].ties
        for layer in range(self.shown[index]):
            parts.append(" & " if layer else "")
            parts += self._notes(index, layer, spelling)
            spelling.ties = ()
        self.held = self.layers[0][index]
        parts += [f"!{_JUMPS[jump]}!" for jump in bar.jumps if jump not in _OPENING]
        following = bars[index + 1] if index + 1 < len(bars) else None
        return "".join(parts) + _bar_line(bar, following)

    def _jump(self, jump: Jump, index: int) -> str:
        """A sign at the start of a bar; a second coda where another sign says where to leave,
        which nothing leads to, is a text: as a sign it would be where to leave."""
        idle = jump is Jump.CODA and self.coda is not None and index != self.coda
        return '"^Coda"' if idle else f"!{_JUMPS[jump]}!"

    def _changes(self, index: int) -> str:
        """Metre, key and label where they differ from the bar before, or from the header."""
        bar = self.tune.bars[index]
        metre = self.tune.bars[index - 1].metre if index else self.tune.metre
        key = self.tune.bars[index - 1].key if index else self.tune.key
        out = ""
        if bar.label and self.leads:
            out += f"\nP:{bar.label}\n" if "]" in bar.label else f"[P:{bar.label}]"
        if bar.metre != metre:
            out += f"[M:{write_metre(bar.metre)}]"
        if bar.key != key:
            out += f"[K:{write_key(bar.key)}]"
        return out

    def _notes(self, index: int, layer: int, spelling: BarSpelling) -> Iterator[str]:
        unit = self.tune.unit_length
        end = Fraction(0)
        for place, note in enumerate(self.layers[layer][index]):
            size = self.tuplets[layer].get(NoteNumber(index, place))
            if size is not None and note.tuplet is not None:
                yield f"({note.tuplet.notes}:{note.tuplet.normal}:{size}"
            yield self.marks.get((index, layer, note.onset), "")
            yield write_note(note, unit, spelling)
            end = note.onset + note.length
        yield self.marks.get((index, layer, end), "")


def _coda_of(bars: Sequence[Bar]) -> int | None:
    """The bar to which "to coda" leads, where the tune has one."""
    if not any(Jump.TO_CODA in bar.jumps for bar in bars):
        return None
    return next((index for index, bar in enumerate(bars) if Jump.CODA in bar.jumps), None)


def _marks(bars: Sequence[Bar], layers: Sequence[Sequence[Sequence[Note]]]) -> Marks:
    """Tempi and chord symbols, each at a place of the first layer where there is one."""
    found: dict[tuple[int, int, Fraction], str] = {}
    for index, bar in enumerate(bars):
        if not bar.tempos and not bar.chords:
            continue
        points = [_points(layer[index]) for layer in layers]
        stop = max(points[0])
        for mark in bar.tempos:
            layer = next((n for n, each in enumerate(points) if mark.onset in each), 0)
            place = index, layer, mark.onset if layer else min(mark.onset, stop)
            words = "".join(_QUOTED.findall(mark.text))
            found[place] = found.get(place, "") + f"[Q:{words} {write_tempo(mark.tempo)}]"
        for symbol in bar.chords:
            place = index, 0, min(symbol.onset, stop)
            found[place] = found.get(place, "") + f'"{escape_text(_symbol_text(symbol))}"'
    return found


def _symbol_text(symbol: ChordSymbol) -> str:
    """The symbol as it was written, where that is a chord's name in ABC too."""
    same = is_chord(symbol.text) and parse_chord(symbol.text) == symbol.chord
    return symbol.text if same else str(symbol.chord)


def _points(notes: Sequence[Note]) -> set[Fraction]:
    """Where notes begin, and where the last one ends."""
    points = {note.onset for note in notes}
    points.add(notes[-1].onset + notes[-1].length if notes else Fraction(0))
    return points


def _bar_line(bar: Bar, following: Bar | None) -> str:
    """The bar line between two bars."""
    before = ":" * (bar.plays - 1) if bar.plays else ""
    after = ""
    if following is not None and following.opens_repeat:
        after = ":" * (following.opens_repeat - 1)
    core = bar.close or ("|" if following is not None or before else "")
    if following is not None and following.ending and not following.ending.first and not before:
        core = "|"  # any other line would end the ending
    if before and core == "[|":
        core = "|[|"
    return f" {before}{core}{after} " if following is not None else f" {before}{core}"


def _lyrics(notes: Sequence[Note], verses: int) -> Iterator[str]:
    """The lyric lines of a row, as many as the voice has verses: where the row has none one that
    says so, else those of the next row would be put to it."""
    sung = [note for note in notes if not note.rest]
    for verse in range(verses if sung else 0):
        words = [note.lyrics[verse] if verse < len(note.lyrics) else "" for note in sung]
        yield "w:" + " ".join(map(write_syllable, words)) if any(words) else "w:*"


def _source_line(note: Note) -> int:
    return note.source.line if note.source else 0
