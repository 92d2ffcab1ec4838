"""Throw changed files at the readers: nothing but a BackingError may come out of them, and
what is read must be the same tune when it is written and read again.

    python tests/bench/fuzz.py abc [--seconds 120] [--seed 1] [--found FOLDER]
    python tests/bench/fuzz.py musicxml
    python tests/bench/fuzz.py midi
    python tests/bench/fuzz.py abc --chance [--inputs 500]    # seeded changes, without atheris
    python tests/bench/fuzz.py abc --replay FOLDER/FILE

The tunes of examples/ and tests/data are changed, for MusicXML and MIDI as this program
writes them.  Where atheris is installed (`pip install atheris`: coverage-guided, libFuzzer's
engine, for CPython on Linux; needed by nothing else) it keeps every change that reaches code
that no input had reached, in FOLDER/corpus, which the next run begins with; else, and with
`--chance`, changes are made by seeded chance (`changes.py`): the same seed makes the same
inputs.  Without `--found` FOLDER is a new one, which is named.

Laws: a tune from ABC is the same tune, note by note, when it is written as ABC and read
again; one from MusicXML or MIDI sounds the same when it is written as ABC, one from MusicXML
also as MusicXML.  A tune without a number is written with number 1.

The run goes on after a fault: of each place that raised anything, or each law that broke, the
smallest input so far is kept in FOLDER, and told.  An input may take 20 seconds and 2 GB.
`--replay` reads one such file again.  The exit code is 1 where anything was found.
"""

import argparse
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Callable, Iterator
from contextlib import nullcontext
from dataclasses import fields, replace
from fractions import Fraction
from multiprocessing import Process
from pathlib import Path
from typing import Any

try:
    import atheris
except ImportError:
    atheris = None

with atheris.instrument_imports(include=["backing"]) if atheris else nullcontext():
    from backing.arranging.arrange import arrange
    from backing.errors import BackingError
    from backing.files import load_style
    from backing.music.tune import Tune
    from backing.music.unfold import unfold
    from backing.parse.abc import kept_text, parse_abc, split_book, tune_of
    from backing.parse.midi import parse_midi
    from backing.parse.musicxml import parse_musicxml
    from backing.practice.performance import perform
    from backing.practice.plan import Plan, Step
    from backing.render.abc import render_abc
    from backing.render.midi import render_midi
    from backing.render.musicxml import render_musicxml

sys.path.insert(0, str(Path(__file__).parent))
from changes import CHANGES, WORDS

ROOT = Path(__file__).parent.parent.parent
LONGEST = {"abc": 2_000, "musicxml": 20_000, "midi": 4_000}
SECONDS_EACH, BYTES = 20, 2 * 2**30


class LawError(Exception):
    """A law that does not hold; `law` is its name, for each kind of difference another."""

    def __init__(self, law: str, one: object, other: object) -> None:
        super().__init__(f"{law}: {str(one)[:300]} became {str(other)[:300]}")
        self.law = law


# -- what is read, and the laws ---------------------------------------------------


def read_abc(data: bytes) -> None:
    """Read every tune of a text, as it is meant and strictly; each is the same again."""
    for text in split_book(data.decode("utf-8", errors="replace")):
        for strict in (False, True):
            try:
                tune = tune_of(text, strict=strict)
            except BackingError:
                continue
            same_tune(replace(tune, number=first_word(tune.number)), again_from_abc(tune))
            if kept := kept_text(text):
                render_abc(tune, kept)


def read_musicxml(data: bytes) -> None:
    """Read a score; it sounds the same again."""
    tune = parse_musicxml(data)
    same_sound(tune, again_from_abc(tune), "abc")
    try:
        same_sound(tune, parse_musicxml(render_musicxml(tune).encode()), "musicxml")
    except BackingError as error:
        raise LawError(f"refused as MusicXML: {error.message[:40]}", "it", error.message) from None


def read_midi(data: bytes) -> None:
    """Read a MIDI file; it sounds the same again."""
    tune = parse_midi(data)
    same_sound(tune, again_from_abc(tune), "abc")


READERS: dict[str, Callable[[bytes], None]] = {
    "abc": read_abc, "musicxml": read_musicxml, "midi": read_midi,
}  # fmt: skip


def first_word(number: str) -> str:
    """A tune's number as it is written."""
    return next(iter(number.split()), "1")


def again_from_abc(tune: Tune) -> Tune:
    """The tune written as ABC and read again."""
    try:
        return parse_abc(render_abc(tune))
    except BackingError as error:
        raise LawError(f"refused: {error.message[:40]}", "", "") from None


def same_tune(one: Any, other: Any, law: str = "tune") -> None:
    """Raise LawError where two values differ, with the name of the field that does."""
    if one == other:
        return
    if isinstance(one, tuple) and not hasattr(one, "_fields"):
        if len(one) != len(other):
            raise LawError(f"{law} length", one, other)
        for mine, its in zip(one, other, strict=True):
            same_tune(mine, its, law)
        return
    names = getattr(one, "_fields", None) or [
        each.name for each in fields(one) if each.compare
    ] if hasattr(one, "__dataclass_fields__") or hasattr(one, "_fields") else []  # fmt: skip
    for name in names:
        if name != "source":
            same_tune(getattr(one, name), getattr(other, name), f"{law}.{name}")
    raise LawError(law, one, other)


def same_sound(one: Tune, other: Tune, form: str) -> None:
    """Raise LawError where two tunes do not sound the same bars, notes and chords."""
    rows = {"bars": unfold, "notes": notes_of, "chords": chords_of}
    for name, row in rows.items():
        try:
            mine = row(one)
        except BackingError:
            continue
        if mine != row(other):
            raise LawError(f"{form} {name}", mine, row(other))


def notes_of(tune: Tune) -> list[tuple[Fraction, Fraction, tuple[int, ...]]]:
    """Onset, length with its ties, and keys of the melody's notes."""
    row: list[tuple[Fraction, Fraction, tuple[int, ...]]] = []
    start, tied = Fraction(0), False
    for bar, notes in zip(tune.bars, tune.melody.bars, strict=True):
        for note in notes:
            keys = tuple(sorted(pitch.midi for pitch in note.pitches))
            if tied and row and row[-1][2] == keys:
                row[-1] = (row[-1][0], row[-1][1] + note.length, keys)
            elif keys:
                row.append((start + note.onset, note.length, keys))
            tied = bool(keys) and set(note.ties) == set(note.pitches)
        start += bar.length
    return row


def chords_of(tune: Tune) -> list[tuple[Fraction, str]]:
    """Where each chord symbol stands that comes to sound."""
    start, row = Fraction(0), {}
    for bar in tune.bars:
        row |= {start + c.onset: str(c.chord) for c in bar.chords if c.onset < bar.length}
        start += bar.length
    return sorted(row.items())


# -- what it begins with ------------------------------------------------------------


def tunes() -> Iterator[Tune]:
    """The tunes of examples/ and tests/data."""
    for text in texts():
        for tune in split_book(text):
            try:
                yield tune_of(tune)
            except BackingError:
                continue


def texts() -> list[str]:
    """The ABC files of examples/ and tests/data."""
    paths = [*(ROOT / "examples").rglob("*.abc"), *(ROOT / "tests" / "data").rglob("*.abc")]
    return [path.read_text(encoding="utf-8") for path in sorted(paths)]


def written(tune: Tune) -> bytes:
    """A tune as a MIDI file."""
    return render_midi(perform(arrange(tune, load_style("alternating")), Plan((Step(),)), tune))


def seeds(reader: str) -> list[bytes]:
    """What the fuzzer begins with."""
    if reader == "abc":
        return [text.encode() for text in texts()]
    if reader == "midi":
        return [written(tune) for tune in tunes()]
    return [render_musicxml(tune).encode() for tune in tunes()]


# -- faults -------------------------------------------------------------------------


class Finder:
    """Reads inputs, and keeps the smallest of each fault."""

    def __init__(self, reader: Callable[[bytes], None], folder: Path) -> None:
        self.read = reader
        self.folder = folder
        self.smallest: dict[str, int] = {}

    def __call__(self, data: bytes) -> None:
        """One input."""
        try:
            self.read(data)
        except BackingError:
            pass
        except Exception as error:
            self.keep(data, error)

    def keep(self, data: bytes, error: Exception) -> None:
        """Write the input down where it is the smallest that raises this error there."""
        last = traceback.extract_tb(error.__traceback__)[-1]
        name = f"{type(error).__name__}-{Path(last.filename).stem}-{last.lineno}"
        if isinstance(error, LawError):
            name = "law-" + "".join(c if c.isalnum() else "-" for c in error.law)
        if len(data) >= self.smallest.get(name, sys.maxsize):
            return
        if name not in self.smallest:
            traceback.print_exception(error)
        self.smallest[name] = len(data)
        (self.folder / name).write_bytes(data)
        print(f"found: {self.folder / name}, {len(data)} bytes", flush=True)


def fuzz(reader: str, seconds: int, seed: int, found: Path) -> None:
    """Change inputs for so many seconds, where new code is reached."""
    corpus = found / "corpus"
    corpus.mkdir(exist_ok=True)
    for index, data in enumerate(seeds(reader)):
        (corpus / f"seed-{index}").write_bytes(data)
    words = corpus / "words.dict"
    quoted = (word.encode("unicode_escape").decode().replace('"', '\\"') for word in WORDS)
    lines = [f'"{word}"\n' for word in quoted if reader == "abc" and "\\" not in word]
    words.write_text("".join(lines) or '"x"\n')
    options = [f"-max_total_time={seconds}", f"-seed={seed}", f"-max_len={LONGEST[reader]}",
               f"-artifact_prefix={found}/", f"-dict={words}", f"-timeout={SECONDS_EACH}",
               "-verbosity=0", "-print_final_stats=1"]  # fmt: skip
    atheris.Setup([sys.argv[0], str(corpus), *options], Finder(READERS[reader], found))
    atheris.Fuzz()


def by_chance(reader: str, seconds: int, seed: int, found: Path, most: int) -> None:
    """Change inputs for so many seconds, `most` of them at most (0: as many as there are time
    for), as seeded chance has it."""
    resource.setrlimit(resource.RLIMIT_AS, (BYTES, BYTES))
    signal.signal(signal.SIGALRM, _too_long)
    begin, chance, finder = seeds(reader), random.Random(seed), Finder(READERS[reader], found)
    count, stop = 0, time.monotonic() + seconds
    while time.monotonic() < stop and (count < most or not most):
        data = CHANGES[reader](chance.choice(begin), begin, chance)
        signal.alarm(SECONDS_EACH)
        finder(data)
        signal.alarm(0)
        count += 1
    print(f"{count:,} inputs of {reader}, seed {seed}")


def _too_long(*_: object) -> None:
    raise TimeoutError(f"an input took longer than {SECONDS_EACH} seconds")


def main() -> None:
    """Fuzz a reader, or read one file again."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("reader", choices=READERS)
    parser.add_argument("--seconds", type=int, default=120)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--chance", action="store_true", help="seeded changes, without atheris")
    parser.add_argument("--inputs", type=int, default=0, help="with --chance: no more than these")
    parser.add_argument("--found", type=Path, help="the folder for what is found")
    parser.add_argument("--replay", type=Path, help="a file to read again")
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    if asked.replay:
        READERS[asked.reader](asked.replay.read_bytes())
        return
    found = asked.found or Path(tempfile.mkdtemp(prefix="found-"))
    found.mkdir(parents=True, exist_ok=True)
    # libFuzzer ends its process without coming back
    told = (asked.reader, asked.seconds, asked.seed, found)
    if atheris and not asked.chance:
        run = Process(target=fuzz, args=told)
    else:
        run = Process(target=by_chance, args=(*told, asked.inputs))
    run.start()
    run.join()
    kept = sum(path.is_file() for path in found.iterdir())
    print(f"{kept} faults in {found}")
    sys.exit(bool(kept or run.exitcode))


if __name__ == "__main__":
    main()
