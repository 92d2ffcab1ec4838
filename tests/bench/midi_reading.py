"""How well MIDI files are read, over Ryan's Mammoth Collection (in the music21 package).

    python tests/bench/midi_reading.py [--sample COUNT]

Each tune is performed and written by this program, then read back: as it is; without the
markers and names by which this program knows its own files; with the timing of a player
(each onset moved by chance, up to 15 and 25 milliseconds); without what a file may leave
out, which is then worked out (metre, pickup, key).  Printed are the shares of tunes, and
of notes, that come back as they were played, and the time that reading takes.  Of this
program's own files title, dance, bars, metres, keys with their modes, tempo and chords are
compared too; the chords are invented here by rule.  The exit code is 1 where anything but
a BackingError is raised, or one tune does not come back whole from its own file.
"""

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from io import BytesIO
from pathlib import Path
from random import Random
from statistics import median

import mido
from common import SEED, STYLES, collection_paths, sample_of, with_chords

from backing.arranging.arrange import Manner, arrange
from backing.arranging.arrangement import Arrangement
from backing.errors import BackingError
from backing.files import load_style
from backing.music.tune import Note, Tune
from backing.parse.abc import parse_abc
from backing.parse.midi import parse_midi
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi

PLAIN = Manner(swing=Fraction(1), ornaments=False)
#: (onset, length, highest key) of a note struck
Struck = tuple[Fraction, Fraction, int]
WHOLE = "own file: tunes with all that stands above their notes"
_MARKS = {"marker", "text", "track_name"}


def plain_tune(path: Path) -> Tune:
    """A tune of the collection without staccatos, which a file tells as shorter notes."""
    text = path.read_bytes().decode("utf-8", errors="replace")
    return parse_abc(text.replace(".", ""))


def midi_of(tune: Tune, style: str, count_in: int) -> tuple[Arrangement, bytes]:
    """What is played, and its file."""
    arrangement = arrange(tune, load_style(style), PLAIN)
    plan = Plan((Step(count_in=count_in),))
    return arrangement, render_midi(perform(arrangement, plan, tune))


def changed(
    data: bytes, drop: set[str], jitter_ms: float = 0, seed: int = 0, *, tracks: int = 9
) -> bytes:
    """The file without some kinds of message, its notes moved by chance, names left out."""
    file = mido.MidiFile(file=BytesIO(data), charset="utf-8")
    tempo = next(m.tempo for m in file.tracks[0] if m.type == "set_tempo")
    most = jitter_ms * 1000 * file.ticks_per_beat / tempo
    chance = Random(seed)
    out = mido.MidiFile(type=1, ticks_per_beat=file.ticks_per_beat, charset="utf-8")
    for track in file.tracks[:tracks]:
        at, placed = 0, []
        shift: dict[tuple[int, int], int] = {}
        for message in track:
            at += message.time
            tick = at
            if message.type == "note_on":
                tick = max(0, at + round(chance.uniform(-most, most)))
                shift[(at, message.channel)] = tick
            if message.type not in drop and message.type != "end_of_track":
                placed.append((tick, message.type != "note_off", len(placed), message))
        placed.sort(key=lambda item: item[:3])
        new, at = mido.MidiTrack(), 0
        for tick, _, _, message in placed:
            new.append(message.copy(time=tick - at))
            at = tick
        out.tracks.append(new)
    file_out = BytesIO()
    out.save(file=file_out)
    return file_out.getvalue()


def struck(rows: Iterator[tuple[Fraction, Note]]) -> list[Struck]:
    """The notes struck, ties joined, from the first onset."""
    found: list[Struck] = []
    held: set[int] = set()
    for start, note in rows:
        key = max(pitch.midi for pitch in note.pitches)
        if key in held:
            onset, length, _ = found[-1]
            found[-1] = (onset, length + note.length, key)
        else:
            found.append((start + note.onset, note.length, key))
        held = {pitch.midi for pitch in note.ties}
    first = found[0][0]
    return [(onset - first, length, key) for onset, length, key in found]


def played(tune: Tune, arrangement: Arrangement) -> list[Struck]:
    """The notes of the tune as it is played."""
    return struck(
        (bar.onset, note)
        for bar in arrangement.bars
        for note in tune.melody.bars[bar.index]
        if note.pitches
    )


def read(tune: Tune) -> list[Struck]:
    """The notes of a tune read."""

    def rows() -> Iterator[tuple[Fraction, Note]]:
        at = Fraction(0)
        for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
            yield from ((at, note) for note in notes if note.pitches)
            at += bar.length

    return struck(rows())


class Tally:
    """Shares of tunes and notes, by trial."""

    def __init__(self) -> None:
        self.right: Counter[str] = Counter()
        self.of: Counter[str] = Counter()
        self.refused: list[str] = []
        self.raised: list[str] = []
        self.wrong: dict[str, list[str]] = {}

    def add(self, trial: str, right: int, of: int = 1, name: str = "") -> None:
        """Count."""
        self.right[trial] += right
        self.of[trial] += of
        if right < of and name:
            self.wrong.setdefault(trial, []).append(name)

    def parse(self, name: str, data: bytes) -> Tune | None:
        """Read a file; nothing that goes wrong stops the sweep."""
        try:
            return parse_midi(data)
        except BackingError as error:
            self.refused.append(f"{name}: {error.message}")
        except Exception as error:
            self.raised.append(f"{name}: {error!r}")
        return None

    def notes(self, trial: str, name: str, wanted: list[Struck], tune: Tune | None) -> None:
        """Compare the notes."""
        found = read(tune) if tune else []
        self.add(f"{trial}: tunes", int(wanted == found), name=name)
        same = sum((Counter(wanted) & Counter(found)).values())
        self.add(f"{trial}: notes", same, len(wanted))


def try_tune(name: str, tune: Tune, style: str, count_in: int, tally: Tally) -> float:
    """Every trial of a tune; the seconds that its own file takes to read."""
    arrangement, data = midi_of(tune, style, count_in)
    wanted = played(tune, arrangement)
    started = time.perf_counter()
    back = tally.parse(name, data)
    taken = time.perf_counter() - started
    tally.notes("own file", name, wanted, back)
    try_whole(name, with_chords(tune), style, count_in, tally)
    tally.notes("no markers", name, wanted, tally.parse(name, changed(data, _MARKS)))
    for most in (15, 25):
        moved = changed(data, _MARKS, most, seed=len(name))
        tally.notes(f"moved by up to {most} ms", name, wanted, tally.parse(name, moved))
    guess(name, tune, arrangement, tally)
    return taken


def try_whole(name: str, tune: Tune, style: str, count_in: int, tally: Tally) -> None:
    """Whether a tune with chords comes back with all that stands above its notes."""
    arrangement, data = midi_of(tune, style, count_in)
    back = tally.parse(name, data)
    whole = (
        back is not None
        and same_frame(tune, arrangement, back)
        and played(tune, arrangement) == read(back)
    )
    tally.add(WHOLE, int(whole), name=name)


def same_frame(tune: Tune, arrangement: Arrangement, back: Tune) -> bool:
    """True where all but the notes is as it was played."""
    chords = [(text.onset, text.text) for text in arrangement.chords]
    at, found = arrangement.start, []
    for bar in back.bars:
        found += [(at + symbol.onset, symbol.text) for symbol in bar.chords]
        at += bar.length
    frame = [(bar.length, bar.metre, bar.key) for bar in arrangement.bars]
    return (
        back.title == " ".join(tune.title.split())
        and back.dance == tune.dance
        and back.tempo == arrangement.tempos[0].tempo
        and frame == [(bar.length, bar.metre, bar.key) for bar in back.bars]
        and found == chords
    )


def guess(name: str, tune: Tune, arrangement: Arrangement, tally: Tally) -> None:
    """What is worked out where a file does not tell it."""
    _, data = midi_of(tune, STYLES[0], 0)
    first = arrangement.bars[0]
    pickup = first.length if first.begins else Fraction(0)
    drop = _MARKS | {"time_signature"}
    metre = str(tune.metre)
    alike = {"2/2": "4/4", "12/8": "6/8"}
    for kind, tracks in (("melody alone", 2), ("with its left hand", 9)):
        bare = tally.parse(name, changed(data, drop, tracks=tracks))
        if bare:
            trial = f"no time signature, {kind}"
            same = alike.get(metre, metre) == str(bare.bars[0].metre)
            tally.add(f"{trial}: metre", int(same), name=name)
            lead = bare.bars[0].length if bare.bars[0].pickup else Fraction(0)
            tally.add(f"{trial}: metre and pickup", int(same and lead == pickup))
    wrong = tally.parse(name, one_signature(data))
    if wrong and metre in ("2/2", "2/4", "4/4", "3/4", "6/8", "9/8"):
        lead = wrong.bars[0].length if wrong.bars[0].pickup else Fraction(0)
        kind = "a pickup" if pickup else "no pickup"
        tally.add(f"melody alone, one time signature, {kind} at 0", int(lead == pickup), name=name)
    keyless = tally.parse(name, changed(data, _MARKS | {"key_signature"}))
    if keyless and tune.key.mode != "none":
        same = keyless.key.fifths == tune.key.fifths
        tally.add("no key: signature", int(same), name=name)
        tally.add("no key: tonic", int(keyless.key.tonic == tune.key.tonic))
    told = tally.parse(name, changed(data, _MARKS))
    if told and tune.key.mode != "none":
        right = told.key.tonic == tune.key.tonic
        tally.add(f"key told, tonic of {tune.key.mode}", int(right), name=name)


def one_signature(data: bytes) -> bytes:
    """The melody under the longest of its time signatures alone, from tick 0."""
    file = mido.MidiFile(file=BytesIO(data), charset="utf-8")
    found = [m for m in file.tracks[0] if m.type == "time_signature"]
    signature = max(found[:2], key=lambda m: Fraction(m.numerator, m.denominator))
    bare = mido.MidiFile(file=BytesIO(changed(data, _MARKS | {"time_signature"}, tracks=2)))
    bare.tracks[0].insert(0, signature.copy(time=0))
    out = BytesIO()
    bare.save(file=out)
    return out.getvalue()


def main() -> int:
    """Run every trial and print what comes back."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--sample", type=int, default=1059, help="how many tunes")
    parser.add_argument("--names", default="", help="show which tunes fail in this trial")
    asked = parser.parse_args()
    paths = sample_of(collection_paths(), asked.sample, SEED)
    if not paths:
        print("the collection is not here: install music21", file=sys.stderr)
        return 2
    tally, times = Tally(), []
    for place, path in enumerate(paths):
        try:
            tune = plain_tune(path)
            times.append(try_tune(path.stem, tune, STYLES[place % 3], place % 2, tally))
        except BackingError as error:
            tally.refused.append(f"{path.stem}: {error.message}")
    for trial, of in tally.of.items():
        print(f"  {100 * tally.right[trial] / of:5.1f} %  of {of:7,}  {trial}")
    print(f"  {1000 * median(times):.1f} ms to read a file at the median")
    for label, texts in (("refused", tally.refused), ("RAISED", tally.raised)):
        print(*(f"  {label}: {text}" for text in texts[:20]), sep="\n")
    if asked.names:
        print(*tally.wrong.get(asked.names, []))
    return 1 if tally.raised or tally.right[WHOLE] < tally.of[WHOLE] else 0


if __name__ == "__main__":
    sys.exit(main())
