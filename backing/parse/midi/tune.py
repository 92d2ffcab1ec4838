"""One MIDI file: its melody, its bars, and the value they make."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

from backing.errors import Notice, TuneError
from backing.music.chord import parse_chord
from backing.music.form import lay_out_form, odd_lengths
from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.tempo import Tempo
from backing.music.tune import UNTITLED, Bar, ChordSymbol, TempoMark, Tune, Voice
from backing.music.unfold import MOST_WHOLES
from backing.parse.midi.choice import choose_melody
from backing.parse.midi.chord_texts import chord_texts
from backing.parse.midi.events import (
    PERCUSSION,
    ChannelLine,
    MetreEvent,
    Said,
    read_lines,
    read_said,
)
from backing.parse.midi.frame import (
    Span,
    even_frame,
    metre_of,
    own_frame,
    signature_frame,
    signatures,
    too_long,
)
from backing.parse.midi.grid import Grid, beats_of, find_grid
from backing.parse.midi.heard import MetreHearing
from backing.parse.midi.keys_told import bar_keys
from backing.parse.midi.metre import Accents, accents_of, find_metre, find_pickup
from backing.parse.midi.moved import moved_notices
from backing.parse.midi.notes import cut_into_bars, place_presses
from backing.parse.midi.off_beat import off_the_beat
from backing.parse.midi.played import retime
from backing.parse.midi.safe import read_midi
from backing.parse.midi.settle import settle
from backing.parse.midi.swing import Struck, straighten
from backing.parse.midi.tempi import mean_tempo, tempi_of, tempo_marks
from backing.parse.midi.told import told_dance
from backing.parse.played_as import PlayedAs

MOST_NOTES = 30_000
_USUAL_TEMPO = 500_000
_MINUTE = 60_000_000
_NEAR = Fraction(1, 32)
_QUAVER, _SEMIQUAVER = Fraction(1, 8), Fraction(1, 16)
_UNTOLD = PlayedAs()
_NO_BEAT = "the notes follow no steady beat, neither the file's nor one of their own"
_TELL_BEAT = (
    "check them; --beat 3/8=112 says how fast it was played, --metre 6/8 in which metre; a score "
    "is read better than free playing"
)
_TOLD_WRONG = "check --beat and --metre: the file's own beats were taken"


def parse_midi(data: bytes, *, track: str = "", told: PlayedAs = _UNTOLD) -> Tune:
    """A tune from a MIDI file: its melody with bars, key, tempo and chord symbols.

    `track` names the melody by number or part of its name.  Metre and key are taken from
    the file, else worked out; performed notes are put on the grid that they were meant
    for.  Notes that lie off the file's beats are heard with beats of their own; `told` is what
    the player knows of them.  What was taken, worked out and moved is told in notices.
    Repeats are not folded.  Read are Standard MIDI Files 1.0 of format 0 and 1, of at most 32 MB,
    250,000 messages, 30,000 notes in the melody and 20,000 bars.  Raises TuneError for what
    is broken, larger, or without a melody, with track and tick.
    """
    file = read_midi(data)
    lines, notices = read_lines(file)
    melody, choice = choose_melody(lines, track)
    if len(melody.presses) > MOST_NOTES:
        raise TuneError(
            f"track {melody.track}, channel {melody.channel} has more than {MOST_NOTES:,} notes",
            "choose another as the melody with --voice, or save a piece of it",
        )
    reading = _MidiReading(file.ppq, read_said(file), melody, lines)
    reading.notices += [*file.notices, *notices, *choice]
    reading.listen(told)
    return reading.tune()


@dataclass(slots=True)
class _MidiReading:
    """A file on its way to a tune."""

    ppq: int
    said: Said
    melody: ChannelLine
    lines: list[ChannelLine]
    notices: list[Notice] = field(default_factory=list)
    own: bool = False
    hearing: MetreHearing | None = None
    graces: dict[int, tuple[int, ...]] = field(default_factory=dict)

    def listen(self, told: PlayedAs) -> None:
        """Put what was played without a click, or otherwise than the file says, on the beats
        that are heard, or told."""
        stop = max(press.stop for press in self.melody.presses)
        if own_frame(self.said, self.ppq, stop) is not None:
            return
        off = off_the_beat(self.melody.presses, self.ppq, self.said)
        if not off and told.beat is None:
            if told.metre and told.metre.count:
                self.said.metres = [MetreEvent(0, told.metre.count, told.metre.unit, 0)]
            return
        told = told._replace(metre=told.metre or self.signature())
        timed = retime(self.ppq, self.said, self.melody, self.lines, told)
        if timed is None:
            self.note(_NO_BEAT, _TOLD_WRONG if told.beat else _TELL_BEAT)
            return
        self.ppq, self.said, self.melody, self.lines = timed[:4]
        self.hearing, self.graces = timed.hearing, timed.graces
        self.note(timed.message, timed.hint)

    def signature(self) -> Metre | None:
        """The one metre that the file tells, but for 4/4, which programs write unasked."""
        found = {metre_of(event) for event in self.said.metres}
        return found.pop() if len(found) == 1 and {str(m) for m in found} != {"4/4"} else None

    def tune(self) -> Tune:
        """The finished value."""
        spans, grid, notes = self.place()
        notes, swing = straighten(notes, spans)
        if swing:
            self.note("the pairs are swung 2 to 1", "they are written even, and swung again")
        self.notices += moved_notices(grid)
        spans, empty = settle(spans, notes, told=self.own)
        if empty:
            many = "1 empty bar" if empty == 1 else f"{empty} empty bars"
            self.note(f"{many} at the start", "left out")
        keys = self.keys(spans, notes)
        marks, tempo = self.tempos(spans, grid)
        bars = self.bars(spans, keys, marks, grid)
        self.notices += odd_lengths(bars) if not self.own else []
        title = self.said.title or UNTITLED
        return Tune(
            title=title,
            bars=bars,
            voices=(Voice(self.melody.name or "melody", cut_into_bars(notes, spans, keys)),),
            metre=bars[0].metre,
            key=keys[0],
            unit_length=_unit_length(notes),
            tempo=tempo,
            swing=swing,
            titles=(title,),
            dance=told_dance(self.said),
            notices=tuple(self.notices),
        )

    def note(self, message: str, hint: str = "") -> None:
        """Add a notice."""
        self.notices.append(Notice(message, hint))

    # -- bars and notes ---------------------------------------------------------

    def place(self) -> tuple[list[Span], Grid, list[Struck]]:
        """The bars from the start of the file, and the notes at their places."""
        if self.end() > MOST_WHOLES:
            raise too_long()
        own = own_frame(self.said, self.ppq, max(press.stop for press in self.melody.presses))
        if own is not None:
            self.own = True
            return (own, *self.fit(own))
        if self.hearing is not None:
            heard = even_frame(self.hearing.metre, self.hearing.pickup, self.end())
            return (heard, *self.fit(heard))
        end = self.end() * 4 * self.ppq
        events = [event for event in signatures(self.said) if event.tick < end]
        spans = signature_frame(events, self.ppq, self.end())
        grid, notes = self.fit(spans)
        if self.said.metres and (len(events) > 1 or notes[0].onset > _NEAR):
            return spans, grid, notes
        return self.shifted(spans, grid, notes)

    def shifted(
        self, spans: list[Span], grid: Grid, notes: list[Struck]
    ) -> tuple[list[Span], Grid, list[Struck]]:
        """The same with the metre, or the pickup, that the accents speak for."""
        accents = self.accents(notes)
        if self.said.metres:
            metre, pickup = spans[0].metre, find_pickup(accents, spans[0].metre)
            if pickup:
                self.note(f"the notes begin with a pickup of {pickup}, by their accents")
        else:
            fit = find_metre(notes, accents)
            metre, pickup = fit.metre, fit.pickup
            self.note(f"the file has no time signature; {metre} is taken, by the accents")
        if str(metre) == str(spans[0].metre) and not pickup:
            return spans, grid, notes
        found = even_frame(metre, notes[0].onset + pickup, self.end())
        return (found, *self.fit(found))

    def accents(self, notes: list[Struck]) -> Accents:
        """How accented each place of the tune is."""
        bass = [
            Fraction(press.start, 4 * self.ppq)
            for line in self.lines
            if line is not self.melody and line.channel != PERCUSSION + 1
            for press in line.presses[:4096]
        ]
        chords = [Fraction(event.tick, 4 * self.ppq) for event in chord_texts(self.said)]
        return accents_of(notes, bass, chords)

    def fit(self, spans: list[Span]) -> tuple[Grid, list[Struck]]:
        """The notes on the grids of these bars."""
        keys: dict[int, int] = {}
        for press in self.melody.presses:
            keys[press.start] = max(press.key, keys.get(press.start, 0))
        speed = self.speed()
        grid = find_grid(keys, beats_of(spans), self.ppq, speed, heard=self.hearing is not None)
        tick_ms = 60_000 / (speed * 4 * self.ppq)
        notes, overlaps = place_presses(self.melody.presses, grid, tick_ms, as_told=self.own)
        self.notices = [n for n in self.notices if n not in overlaps] + overlaps
        if self.graces:
            graces = {grid.places[tick]: keys for tick, keys in self.graces.items()}
            notes = [
                replace(note, graces=(*graces.get(note.onset, ()), *note.graces)) for note in notes
            ]
        return grid, notes

    def speed(self) -> float:
        """Whole notes a minute where the melody begins."""
        first = self.melody.presses[0].start
        tempo = next((us for tick, us in reversed(self.said.tempos) if tick <= first), 0)
        return _MINUTE / (tempo or _USUAL_TEMPO) / 4

    def end(self) -> Fraction:
        """Where the melody ends, rounded up to a semiquaver."""
        stop = Fraction(max(press.stop for press in self.melody.presses), 4 * self.ppq)
        return max(-(-(stop - Fraction(1, 64)) // _SEMIQUAVER), 1) * _SEMIQUAVER

    def bars(
        self, spans: list[Span], keys: list[Key], marks: list[list[TempoMark]], grid: Grid
    ) -> tuple[Bar, ...]:
        """The finished bars."""
        chords = self.chords(spans, grid)
        last = len(spans) - 1
        return lay_out_form(
            [
                Bar(
                    number=index + 1,
                    length=span.length,
                    metre=span.metre,
                    key=keys[index],
                    close="|]" if index == last else "|",
                    label=span.label,
                    tempos=tuple(marks[index]),
                    chords=chords[index],
                )
                for index, span in enumerate(spans)
            ]
        )

    # -- what stands above the notes --------------------------------------------

    def place_of(self, tick: int, grid: Grid) -> Fraction:
        """Where an event that is no note is meant to stand."""
        place = grid.exact_place(tick)
        return grid.near_place(tick, _SEMIQUAVER) if place is None else place

    def chords(self, spans: list[Span], grid: Grid) -> list[tuple[ChordSymbol, ...]]:
        """The chord symbols of each bar."""
        texts = chord_texts(self.said)
        found = [(self.place_of(event.tick, grid), event.text) for event in texts]
        rows: list[tuple[ChordSymbol, ...]] = []
        at = 0
        for span in spans:
            row: dict[Fraction, ChordSymbol] = {}
            while at < len(found) and found[at][0] < span.stop:
                place, text = found[at]
                if place >= span.start:
                    onset = place - span.start
                    row[onset] = ChordSymbol(onset, parse_chord(text), text)
                at += 1
            rows.append(tuple(row.values()))
        return rows

    def keys(self, spans: list[Span], notes: list[Struck]) -> list[Key]:
        """The key of each bar."""
        keys, notices = bar_keys(self.said, spans, notes, self.ppq, own=self.own)
        self.notices += notices
        return keys

    def tempos(self, spans: list[Span], grid: Grid) -> tuple[list[list[TempoMark]], Tempo]:
        """The marks of each bar, and the tempo at the head."""
        events = tempi_of(self.said, spans, self.ppq)
        found = events if self.own else mean_tempo(events, spans, self.ppq)
        if len(found) < len(events):
            self.note(f"the tempo changes {len(events) - 1} times", "its mean is taken")
        return tempo_marks([(self.place_of(tick, grid), tick, us) for tick, us in found], spans)


def _unit_length(notes: Sequence[Struck]) -> Fraction:
    """The unit that the tune would be counted in as ABC: semiquavers where half of the
    notes are."""
    short = sum(1 for a, b in pairwise(notes) if b.onset - a.onset <= _SEMIQUAVER)
    return _SEMIQUAVER if 2 * short > len(notes) else _QUAVER
