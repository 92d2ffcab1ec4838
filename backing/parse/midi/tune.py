"""One MIDI file: its melody, its bars, and the value they make."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

from backing.errors import Notice, TuneError
from backing.music.chord import is_chord, parse_chord
from backing.music.form import lay_out_form, odd_lengths
from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.tempo import FASTEST, SLOWEST, Tempo
from backing.music.tune import Bar, ChordSymbol, TempoMark, Tune, Voice
from backing.music.unfold import MOST_WHOLES
from backing.parse.midi.choice import choose_melody
from backing.parse.midi.events import (
    PERCUSSION,
    ChannelLine,
    MetreEvent,
    Said,
    TextEvent,
    read_lines,
    read_said,
)
from backing.parse.midi.frame import (
    Span,
    even_frame,
    full_bar,
    metre_of,
    near,
    own_frame,
    signature_frame,
    signatures,
    simplest,
    too_long,
)
from backing.parse.midi.grid import Grid, beats_of, find_grid
from backing.parse.midi.heard import MetreHearing
from backing.parse.midi.key import find_key, fits_poorly, key_text, settle_mode
from backing.parse.midi.metre import Accents, accents_of, find_metre, find_pickup
from backing.parse.midi.notes import cut_into_bars, place_presses
from backing.parse.midi.played import off_the_beat, retime
from backing.parse.midi.safe import read_midi
from backing.parse.midi.swing import Struck, straighten
from backing.parse.midi.told import told_dance, told_keys
from backing.parse.played_as import PlayedAs

MOST_NOTES = 30_000
_USUAL_TEMPO = 500_000
_MINUTE = 60_000_000
_NEAR = Fraction(1, 32)
_MOST_TEMPOS = 8
_QUAVER, _SEMIQUAVER = Fraction(1, 8), Fraction(1, 16)
_LOOSE_MS = 40.0
_UNTOLD = PlayedAs()
_NO_BEAT = "the notes follow no steady beat, neither the file's nor one of their own"
_TELL_BEAT = (
    "check them; --beat 3/8=112 says how fast it was played, --metre 6/8 in which metre; a score "
    "is read better than free playing"
)
_TOLD_WRONG = "check --beat and --metre: the file's own beats were taken"
_VALUES = {1: "semibreves", 2: "minims", 4: "crotchets", 8: "quavers", 16: "semiquavers",
           32: "demisemiquavers", 64: "hemidemisemiquavers"}  # fmt: skip


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
    symbols: list[TextEvent] | None = None
    hearing: MetreHearing | None = None
    graces: dict[int, tuple[int, ...]] = field(default_factory=dict)

    def listen(self, told: PlayedAs) -> None:
        """Put what was played without a click, or otherwise than the file says, on the beats
        that are heard, or told."""
        stop = max(press.stop for press in self.melody.presses)
        if own_frame(self.said, self.ppq, stop) is not None:
            return
        off = off_the_beat(self.melody.presses, self.ppq)
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
        self.tell_grid(grid)
        spans = self.settle(spans, notes)
        keys = self.keys(spans, notes)
        marks, tempo = self.tempos(spans, grid)
        bars = self.bars(spans, keys, marks, grid)
        self.notices += odd_lengths(bars) if not self.own else []
        title = self.said.title or "untitled"
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
        chords = [Fraction(event.tick, 4 * self.ppq) for event in self.chord_texts()]
        return accents_of(notes, bass, chords)

    def fit(self, spans: list[Span]) -> tuple[Grid, list[Struck]]:
        """The notes on the grids of these bars."""
        ticks = sorted({press.start for press in self.melody.presses})
        speed = self.speed()
        grid = find_grid(ticks, beats_of(spans), self.ppq, speed)
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

    def settle(self, spans: list[Span], notes: list[Struck]) -> list[Span]:
        """The bars that hold all notes; but in our own files, which tell their bars, without
        empty ones at both ends, and the pickup and the last bar complete each other."""
        while spans[-1].stop < notes[-1].stop:
            metre = spans[-1].metre
            spans.append(Span(spans[-1].stop, full_bar(metre), metre))
        if self.own:
            return spans
        spans = self.begun(spans, notes[0].onset)
        while len(spans) > 1 and spans[-1].start >= notes[-1].stop:
            spans.pop()
        first, last = spans[0], spans[-1]
        shorter = Span(last.start, last.length - first.length, last.metre, last.label)
        short = first.length < first.metre.length and last.length == last.metre.length
        if len(spans) > 2 and short and notes[-1].stop <= shorter.stop:
            spans[-1] = shorter
        return spans

    def begun(self, spans: list[Span], onset: Fraction) -> list[Span]:
        """The bars from the one where the melody begins; a first bar whose first half is
        empty is a pickup."""
        empty = sum(1 for span in spans if span.stop <= onset)
        spans = spans[empty:]
        if empty:
            bars = "1 empty bar" if empty == 1 else f"{empty} empty bars"
            self.note(f"{bars} at the start", "left out")
        first = spans[0]
        if len(spans) > 1 and first.length < spans[1].metre.length and not empty:
            spans[0] = Span(first.start, first.length, spans[1].metre)
        elif len(spans) > 1 and onset - first.start >= first.length / 2:
            spans[0] = Span(onset, first.stop - onset, first.metre)
        return spans

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

    def tell_grid(self, grid: Grid) -> None:
        """Say what was moved, by how much, to which grid."""
        moved = [far for far in grid.moved if far >= 0.5]
        if not moved:
            return
        mean, most = sum(moved) / len(moved), max(moved)
        steps = {grid.beats[index].length / d for index, d in grid.divisions.items()}
        straight = max((step.denominator for step in steps if _straight(step)), default=4)
        values = _VALUES.get(straight, f"1/{straight}")
        triplets = " and triplets" if any(not _straight(step) for step in steps) else ""
        many = "1 note" if len(moved) == 1 else f"{len(moved)} notes"
        self.note(
            f"{many} moved by {mean:.0f} ms on average, {most:.0f} ms at most, "
            f"to a grid of {values}{triplets}",
            "the playing does not follow the file's beats: check the notes"
            if mean > _LOOSE_MS
            else "",
        )

    # -- what stands above the notes --------------------------------------------

    def place_of(self, tick: int, grid: Grid) -> Fraction:
        """Where an event that is no note is meant to stand."""
        place = grid.exact_place(tick)
        return grid.near_place(tick, _SEMIQUAVER) if place is None else place

    def chord_texts(self) -> list[TextEvent]:
        """The texts that are chord symbols; markers where no texts are, but for the
        letters of sections."""
        if self.symbols is None:
            self.symbols = self.find_chord_texts()
        return self.symbols

    def find_chord_texts(self) -> list[TextEvent]:
        """The same, looked for."""
        texts = [event for event in self.said.texts if is_chord(event.text)]
        if texts:
            return texts
        marked = [event for event in self.said.markers if is_chord(event.text)]
        names = list(dict.fromkeys(event.text for event in marked))
        return [] if names == list("ABCDEFG"[: len(names)]) else marked

    def chords(self, spans: list[Span], grid: Grid) -> list[tuple[ChordSymbol, ...]]:
        """The chord symbols of each bar."""
        found = [(self.place_of(event.tick, grid), event.text) for event in self.chord_texts()]
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
        """The key of each bar: the one told in words; else the file's, with the mode that
        the tune has; else worked out."""
        start = spans[0].start + _NEAR
        told = told_keys(self.said)
        if told and near(told[0][0], self.ppq) > start:
            told = []
        rows = [(near(tick, self.ppq), key) for tick, key in told or self.said.keys]
        before = next((key for place, key in reversed(rows) if place <= start), None)
        changes = len({key for _, key in rows}) > 1
        head = before if before and (told or changes) else self.head_key(before, notes)
        later = [(place, key) for place, key in rows if place > start and changes]
        places = [place for place, _ in later]
        keys = [head, *(key for _, key in later)]
        return [keys[bisect_right(places, span.start + _NEAR)] for span in spans]

    def head_key(self, told: Key | None, notes: list[Struck]) -> Key:
        """The key of a tune that stays in one: told by the file, but for its mode and for a
        signature that was never set; else worked out."""
        weights = weights_of(notes)
        last = notes[-1].keys[-1] % 12
        found = find_key(weights, last)
        if told is None:
            self.note(f"the file has no key signature; {key_text(found)} is taken, by the notes")
            return found
        if not self.own and not told.fifths and fits_poorly(told, found, weights):
            self.note(f"the file says {key_text(told)}; {key_text(found)} fits the notes")
            return found
        settled = settle_mode(told, weights, last)
        if settled != told:
            self.note(f"the file says {key_text(told)}; the notes make it {key_text(settled)}")
        return settled

    def tempos(self, spans: list[Span], grid: Grid) -> tuple[list[list[TempoMark]], Tempo]:
        """The marks of each bar, and the tempo at the head."""
        unit = _beat(spans[0].metre)
        events = self.tempo_events(spans)
        head = self.tempo(*events[0], unit)
        marks: list[list[TempoMark]] = [[] for _ in spans]
        current = head
        index = 0
        for tick, microseconds in events[1:]:
            place = self.place_of(tick, grid)
            while index + 1 < len(spans) and spans[index].stop <= place:
                index += 1
            span = spans[index]
            tempo = self.tempo(tick, microseconds, _beat(span.metre))
            if span.start <= place < span.stop and tempo != current:
                marks[index].append(TempoMark(place - span.start, tempo, str(tempo)))
                current = tempo
        return marks, head

    def tempo_events(self, spans: list[Span]) -> list[tuple[int, int]]:
        """The tempi from the start of the tune: one at a tick, each where it changes; the
        mean of all where they change all the time."""
        start = round((spans[0].start + Fraction(1, 128)) * 4 * self.ppq)
        stop = round(spans[-1].stop * 4 * self.ppq)
        events: dict[int, int] = {0: _USUAL_TEMPO}
        for tick, microseconds in self.said.tempos:
            if tick <= start:
                events = {0: microseconds}
            elif tick < stop:
                events[tick] = microseconds
        found = [*events.items()]
        if self.own or len(found) <= max(_MOST_TEMPOS, len(spans) // 2):
            return found
        first = round(spans[0].start * 4 * self.ppq)
        bounds = [max(tick, first) for tick, _ in found] + [stop]
        total = sum(us * (b - a) for (_, us), (a, b) in zip(found, pairwise(bounds), strict=True))
        mean = total // max(stop - first, 1)
        self.note(f"the tempo changes {len(found) - 1} times", "its mean is taken")
        return [(0, mean)]

    def tempo(self, tick: int, microseconds: int, unit: Fraction) -> Tempo:
        """A tempo in felt beats, as simple as the microseconds allow."""
        quarters = Fraction(_MINUTE) / (4 * unit)
        low = quarters * 2 / (2 * microseconds + 1)
        high = quarters * 2 / (2 * microseconds - 1)
        tempo = Tempo(simplest(low, high), unit)
        if not SLOWEST <= tempo.beats <= FASTEST:
            raise TuneError(
                f"tick {tick}: the tempo is {tempo} beats a minute",
                f"{SLOWEST} to {FASTEST} are possible",
            )
        return tempo


def weights_of(notes: Sequence[Struck]) -> list[float]:
    """How long each of the 12 pitch classes sounds, in whole notes."""
    weights = [0.0] * 12
    for note in notes:
        for key in note.keys:
            weights[key % 12] += float(note.stop - note.onset)
    return weights


def _beat(metre: Metre) -> Fraction:
    """The felt beat; a crotchet in free metre."""
    return metre.beats[0] if metre.beats else Fraction(1, 4)


def _straight(step: Fraction) -> bool:
    return step.denominator & (step.denominator - 1) == 0


def _unit_length(notes: Sequence[Struck]) -> Fraction:
    """The unit that the tune would be counted in as ABC: semiquavers where half of the
    notes are."""
    short = sum(1 for a, b in pairwise(notes) if b.onset - a.onset <= _SEMIQUAVER)
    return _SEMIQUAVER if 2 * short > len(notes) else _QUAVER
