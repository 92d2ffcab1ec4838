"""What the benchmarks and the collection tests share.

The collection is Ryan's Mammoth Collection, 1,059 tunes in ABC, which comes with the
music21 package as its folder `ryansMammoth`.  The tunes give no chords, so some are
invented here by rule.  The checks read the MIDI files with mido and know nothing of how
they were made; what the melody must be is worked out here a second time, from the tune.
"""

import importlib.util
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from io import BytesIO
from itertools import chain
from pathlib import Path
from random import Random

import mido

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import CHANNELS, Role
from backing.arranging.style import Style
from backing.music.chord import Chord
from backing.music.key import Key
from backing.music.pitch import name_of, pitch_class
from backing.music.tune import Bar, ChordSymbol, Note, Tune
from backing.music.unfold import unfold
from backing.parse.abc import parse_abc
from backing.practice.passages import Bars, OneSection, Whole
from backing.practice.performance import Performance, perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi
from backing.render.presses import PPQ

TUNES = 1059
STYLES = ("alternating", "drone", "sustained")
SEED = 1883
_LETTERS = "CDEFGAB"
_FIGURES = {
    "roll", "trill", "mordent", "lowermordent", "uppermordent", "pralltriller", "turn", "turnx",
    "invertedturn", "invertedturnx",
}  # fmt: skip
_KIND_OF = {(4, 7): "major", (3, 7): "minor", (3, 6): "diminished", (4, 8): "augmented"}
_WORD_OF = {"major": "", "minor": "m", "diminished": "dim", "augmented": "aug"}


# -- the collection ---------------------------------------------------------------


def collection_folder() -> Path | None:
    """The folder of the tunes in the installed music21, which is not imported; else None."""
    spec = importlib.util.find_spec("music21")
    if spec is None or not spec.submodule_search_locations:
        return None
    folder = Path(next(iter(spec.submodule_search_locations))) / "corpus" / "ryansMammoth"
    return folder if folder.is_dir() else None


def collection_paths() -> list[Path]:
    """All tune files, by name; empty where music21 is not installed."""
    folder = collection_folder()
    return sorted(folder.glob("*.abc")) if folder else []


def sample_of(paths: list[Path], count: int, seed: int = SEED) -> list[Path]:
    """So many of the files, always the same for one seed, by name."""
    return sorted(Random(seed).sample(paths, min(count, len(paths))))


# -- invented chords --------------------------------------------------------------


def main_chords(key: Key) -> tuple[ChordSymbol, ...]:
    """The triads on the first, fourth and fifth degree of a key, as its scale has them."""
    if key.mode == "none":
        return ()
    start = _LETTERS.index(key.step)
    signature = key.signature
    found = []
    for degree in (0, 3, 4):
        steps = [_LETTERS[(start + degree + third) % 7] for third in (0, 2, 4)]
        root, *others = (pitch_class(step, signature.get(step, 0)) for step in steps)
        third, fifth = ((other - root) % 12 for other in others)
        kind = _KIND_OF.get((third, fifth), "major")
        alter = signature.get(steps[0], 0)
        text = name_of(steps[0], alter) + _WORD_OF[kind]
        found.append(ChordSymbol(Fraction(0), Chord(steps[0], alter, kind), text))
    return tuple(found)


def with_chords(tune: Tune) -> Tune:
    """The tune with chord symbols invented by rule, unless it gives some.

    Each half of a full bar (the whole bar where it has not an even number of beats) takes
    the one of I, IV and V that holds most of the notes that begin there, by their lengths;
    the first of them where two hold as much.  A symbol stands where a note or rest begins:
    at the start of every bar, and in its middle where the chord changes.
    """
    if tune.has_chords:
        return tune
    bars = tuple(
        replace(bar, chords=tuple(_bar_symbols(bar, notes)))
        for bar, notes in zip(tune.bars, tune.melody.bars, strict=True)
    )
    return replace(tune, bars=bars)


def _bar_symbols(bar: Bar, notes: tuple[Note, ...]) -> Iterator[ChordSymbol]:
    choices = main_chords(bar.key)
    if bar.pickup or not choices:
        return
    middle = bar.metre.length / 2
    starts = [Fraction(0)]
    if len(bar.metre.beats) % 2 == 0 and any(note.onset == middle for note in notes):
        starts.append(middle)
    before = ""
    for start, stop in zip(starts, [*starts[1:], bar.length], strict=True):
        inside = [note for note in notes if start <= note.onset < stop]
        best = max(choices, key=lambda symbol: _held_by(symbol.chord, inside))
        if best.text != before:
            yield replace(best, onset=start)
        before = best.text


def _held_by(chord: Chord, notes: list[Note]) -> Fraction:
    """The length of the notes that a chord holds."""
    classes = set(chord.pitch_classes)
    return sum(
        (n.length for n in notes if any(p.midi % 12 in classes for p in n.pitches)), Fraction(0)
    )


def chorded_text(text: str) -> str:
    """ABC text with the same chord symbols written in, before the notes they stand on.

    The text must hold one tune.  Raises AssertionError where reading it does not give
    the tune with the chords.
    """
    tune = with_chords(parse_abc(text))
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    places = []
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        sources = {note.onset: note.source for note in reversed(notes)}
        places += [(sources[symbol.onset], symbol) for symbol in bar.chords if not symbol.source]
    for source, symbol in reversed(places):
        assert source is not None
        line = lines[source.line - 1]
        at = source.column - 1
        lines[source.line - 1] = f'{line[:at]}"{symbol.text}"{line[at:]}'
    chorded = "\n".join(lines)
    assert parse_abc(chorded) == tune, f"the chords do not read back in {tune.title}"
    return chorded


# -- making -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Made:
    """A practice file, and what it was made from."""

    tune: Tune
    step: Step
    performance: Performance
    data: bytes


def make_file(
    tune: Tune, style: Style, step: Step | None = None, *, single_track: bool = False
) -> Made:
    """A practice file by the steps that `backing make` takes.

    Rolls, trills and the like are left out: what they make of a note is tested by itself.
    """
    step = step or Step()
    performance = perform(arrange(without_figures(tune), style), Plan((step,)), tune)
    return Made(tune, step, performance, render_midi(performance, single_track=single_track))


def without_figures(tune: Tune) -> Tune:
    """The tune without the ornaments that become figures of notes; grace notes stay."""

    def plain(note: Note) -> Note:
        return note._replace(
            decorations=tuple(name for name in note.decorations if name not in _FIGURES)
        )

    bars = tuple(tuple(plain(note) for note in bar) for bar in tune.melody.bars)
    return replace(tune, voices=(tune.melody._replace(bars=bars), *tune.voices[1:]))


def steps_for(tune: Tune, chance: Random) -> Iterator[tuple[str, Step]]:
    """Practices of one tune, each with the options that ask for it.

    Bars: the first, the last, all, two and a range by chance; every section with each of
    its endings; a count-in of 0 and 2 bars; three times; every set of tracks to mute.
    """
    numbers = sorted({bar.number for bar in tune.bars})
    one, other = sorted((chance.choice(numbers), chance.choice(numbers)))
    two = chance.randrange(len(numbers) - 1) if len(numbers) > 1 else 0
    spans = [
        Bars(numbers[0], numbers[0]),
        Bars(numbers[-1], numbers[-1]),
        Bars(numbers[0], numbers[-1]),
        Bars(*numbers[two : two + 2]) if len(numbers) > 1 else Bars(numbers[0], numbers[0]),
        Bars(one, other),
    ]
    for span in spans:
        for count_in in (0, 2):
            asked = f"--bars {span.first}-{span.last} --count-in {count_in} --times 3"
            yield asked, Step(span, times=3, count_in=count_in)
    for section in tune.sections:
        bars = tune.bars[section.start : section.stop]
        endings = {number for bar in bars if bar.ending for number in bar.ending.numbers}
        for ending in (None, *sorted(endings)):
            for count_in in (0, 2):
                asked = f"--section {section.name} --ending {ending} --count-in {count_in}"
                step = Step(OneSection(section.name, ending), times=3, count_in=count_in)
                yield asked + " --times 3", step
    yield "--times 3 --count-in 0", Step(times=3, count_in=0)
    yield "--times 3 --count-in 2", Step(times=3, count_in=2)
    roles = (Role.MELODY, Role.BASS, Role.CHORDS, Role.CLICK)
    for mask in range(1, 16):
        muted = frozenset(role for place, role in enumerate(roles) if mask >> place & 1)
        count_in = mask % 2 * 2
        asked = " ".join(f"--mute {role}" for role in roles if role in muted)
        yield f"{asked} --count-in {count_in}", Step(muted=muted, count_in=count_in)


# -- what the melody must be --------------------------------------------------------

Struck = list[frozenset[int]]


def struck_bars(tune: Tune) -> list[tuple[int, Struck]]:
    """What the melody strikes in each bar as it is played, with the bar's index.

    One set of MIDI keys a note, grace notes before theirs; what a tie holds on from the
    note before is not struck again.
    """
    held: set[int] = set()
    found = []
    for played in unfold(tune):
        bar: Struck = []
        for note in tune.melody.bars[played.index]:
            keys = {pitch.midi for pitch in note.pitches}
            if keys - held:
                bar += [frozenset(pitch.midi for pitch in grace.pitches) for grace in note.graces]
                bar.append(frozenset(keys - held))
            held = keys & {pitch.midi for pitch in note.ties}
        found.append((played.index, bar))
    return found


def expected_melody(tune: Tune, step: Step) -> Struck:
    """What the melody of a practice strikes, note by note.

    Every time through begins with the pickup, but where the last bar has no room for it
    only the first time does.
    """
    if Role.MELODY in step.muted:
        return []
    played = struck_bars(tune)
    if isinstance(step.span, Whole):
        once = played
    else:
        first_time = dict(reversed(played))
        once = [(index, first_time[index]) for index in _straight(tune, step.span)]
    indices = [index for index, _ in once]
    again = once[1:] if _no_room(tune, indices[0], indices[-1]) else once
    whole = once + again * ((step.times or 1) - 1)
    return list(chain.from_iterable(bar for _, bar in whole))


def _no_room(tune: Tune, first: int, last: int) -> bool:
    """True where a loop's last bar has no room for its pickup: a note is struck in the time
    that the two have more than a bar has."""
    pickup, bar = tune.bars[first], tune.bars[last]
    if not pickup.pickup or first == last:
        return False
    start = max(bar.metre.length - bar.begins, bar.length) - pickup.length
    if bar.length <= start:
        return False
    tied: set[int] = set()
    for note in tune.melody.bars[last]:
        keys = {pitch.midi for pitch in note.pitches}
        if keys - tied and note.onset >= start:
            return True
        tied = {pitch.midi for pitch in note.ties}
    return False


def _straight(tune: Tune, span: Bars | OneSection) -> list[int]:
    """The written bars that a loop plays: its own, and the pickup that leads into them."""
    if isinstance(span, Bars):
        indices = [i for i, bar in enumerate(tune.bars) if span.first <= bar.number <= span.last]
        while len(indices) > 1 and tune.bars[indices[-1]].pickup:
            indices.pop()
    else:
        section = next(section for section in tune.sections if section.name == span.name)
        bars = list(enumerate(tune.bars))[section.start : section.stop]
        given = [number for _, bar in bars if bar.ending for number in bar.ending.numbers]
        ending = span.ending or min(given, default=1)
        indices = [i for i, bar in bars if bar.ending is None or ending in bar.ending.numbers]
    before = indices[0] - 1
    if before >= 0 and tune.bars[before].pickup and not tune.bars[indices[0]].pickup:
        indices.insert(0, before)
    return indices


# -- the checks ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Sounded:
    """A MIDI file as mido reads it: messages of each track at their ticks."""

    kind: int
    ppq: int
    names: tuple[str, ...]
    tracks: tuple[tuple[tuple[int, mido.Message], ...], ...]
    lowest_delta: int

    def __iter__(self) -> Iterator[tuple[int, mido.Message]]:
        return chain.from_iterable(self.tracks)


def read_midi(data: bytes) -> Sounded:
    """Read a MIDI file with mido, which raises where the file is damaged."""
    file = mido.MidiFile(file=BytesIO(data), charset="utf-8")
    tracks, names, lowest = [], [], 0
    for track in file.tracks:
        tick, placed = 0, []
        for message in track:
            lowest = min(lowest, message.time)
            tick += message.time
            placed.append((tick, message))
        tracks.append(tuple(placed))
        first = track[0] if track else None
        names.append(first.name if first is not None and first.type == "track_name" else "")
    return Sounded(file.type, file.ticks_per_beat, tuple(names), tuple(tracks), lowest)


def pairing_faults(sounded: Sounded) -> list[str]:
    """Note-ons and note-offs that do not pair, by channel and key."""
    faults = []
    for track, name in zip(sounded.tracks, sounded.names, strict=True):
        open_notes: Counter[tuple[int, int]] = Counter()
        for tick, message in track:
            if message.type not in ("note_on", "note_off"):
                continue
            place = (message.channel, message.note)
            open_notes[place] += 1 if message.type == "note_on" and message.velocity else -1
            if open_notes[place] not in (0, 1):
                count = open_notes[place]
                faults.append(f"{count} open notes on key {message.note} at {tick} of {name}")
        faults += [f"key {key} of {name} is never ended" for (_, key), n in open_notes.items() if n]
    return faults


def melody_of(sounded: Sounded) -> Struck:
    """The keys that the melody's channel strikes, one set a tick."""
    channel = CHANNELS[Role.MELODY] - 1
    at: dict[int, set[int]] = {}
    for tick, message in sounded:
        if message.type == "note_on" and message.channel == channel:
            at.setdefault(tick, set()).add(message.note)
    return [frozenset(keys) for _, keys in sorted(at.items())]


def form_faults(made: Made, sounded: Sounded) -> list[str]:
    """What is wrong with names, times, length and muting."""
    faults = [f"track {i} has no name" for i, name in enumerate(sounded.names) if not name]
    if sounded.lowest_delta < 0:
        faults.append(f"a message {sounded.lowest_delta} ticks before the one before it")
    length = (made.performance.stop - made.performance.start) * 4 * PPQ
    ends = [track[-1][0] for track in sounded.tracks]
    if sounded.ppq != PPQ or any(abs(end - length) > 1 for end in ends):
        faults.append(f"tracks end at {ends}, the practice lasts {float(length)} ticks")
    struck = {
        message.channel + 1
        for _, message in sounded
        if message.type == "note_on" and message.velocity
    }
    silent = made.step.muted - ({Role.CLICK} if made.step.count_in != 0 else set())
    faults += [f"{role} is muted and sounds" for role in silent if CHANNELS[role] in struck]
    return faults


def melody_faults(made: Made, sounded: Sounded) -> list[str]:
    """The first place where the melody is not the tune's."""
    wanted, found = expected_melody(made.tune, made.step), melody_of(sounded)
    if wanted == found:
        return []
    for place, (one, other) in enumerate(zip(wanted, found, strict=False)):
        if one != other:
            return [f"melody note {place + 1} is {sorted(other)}, not {sorted(one)}"]
    return [f"the melody has {len(found)} notes, not {len(wanted)}"]


def faults_in(made: Made) -> list[str]:
    """Everything that the checks find wrong with a file."""
    sounded = read_midi(made.data)
    return pairing_faults(sounded) + form_faults(made, sounded) + melody_faults(made, sounded)
