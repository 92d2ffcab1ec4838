"""Throw changed files at the readers: nothing but a BackingError may come out of them.

    pip install atheris                # needed by nothing else; for CPython on Linux
    python tests/bench/fuzz.py abc [--seconds 120] [--seed 1] [--found FOLDER]
    python tests/bench/fuzz.py musicxml
    python tests/bench/fuzz.py midi
    python tests/bench/fuzz.py abc --replay FOLDER/FILE

Atheris (coverage-guided, libFuzzer's engine) changes the tunes of examples/ and tests/data,
for MusicXML and MIDI as this program writes them, and keeps every change that reaches
code that no input had reached, in FOLDER/corpus, which the next run begins with (without
`--found` FOLDER is a new one, which is named).  It goes on after a fault: of each place
that raised anything else, the smallest input so far is kept in FOLDER, and its traceback
is printed.  An input that takes longer than 20 seconds, or
more than 2 GB, ends the run; it is kept there too.  `--replay` reads one such file
again.  The exit code is 1 where anything was found.
"""

import argparse
import sys
import tempfile
import traceback
import warnings
from collections.abc import Callable, Iterator
from multiprocessing import Process
from pathlib import Path

try:
    import atheris
except ImportError:
    sys.exit("the fuzzer is not here: pip install atheris")

with atheris.instrument_imports(include=["backing"]):
    from backing.arranging.arrange import arrange
    from backing.errors import BackingError
    from backing.files import load_style
    from backing.music.tune import Tune
    from backing.parse.abc import read_tune, split_book
    from backing.parse.midi import parse_midi
    from backing.parse.musicxml import parse_musicxml
    from backing.practice.performance import perform
    from backing.practice.plan import Plan, Step
    from backing.render.midi import render_midi
    from backing.render.musicxml import render_musicxml

ROOT = Path(__file__).parent.parent.parent
LONGEST = {"abc": 2_000, "musicxml": 20_000, "midi": 4_000}
#: Words of ABC that chance would take long to find, as libFuzzer wants them.
WORDS = ("X:1", "K:", "K:HP", "M:none", "L:1/16", "Q:1/4=", "[K:", "[M:", "[V:2]", "V:1", "w:",
         "s:", "m:~n2=", "U:k=", "P:A2", "+:", "%%", "I:", "(3", "(5:4:3", "|:", ":|", "[1", "[2",
         "|]", "{/", "!trill!", "!D.C.!", "&", "Z2", ">>", "^^", "__", ",,", "transpose=",
         "octave=", "sound=", "clef=", "%abc-2.1", "[CEG]", "/4", ".|", "`", "$")  # fmt: skip


def read_abc(data: bytes) -> None:
    """Read every tune of a text, as it is meant and strictly."""
    for text in split_book(data.decode("utf-8", errors="replace")):
        for strict in (False, True):
            try:
                read_tune(text, strict=strict)
            except BackingError:
                continue


def read_musicxml(data: bytes) -> None:
    """Read a score."""
    parse_musicxml(data)


def read_midi(data: bytes) -> None:
    """Read a MIDI file."""
    parse_midi(data)


READERS: dict[str, Callable[[bytes], None]] = {
    "abc": read_abc, "musicxml": read_musicxml, "midi": read_midi,
}  # fmt: skip


def tunes() -> Iterator[Tune]:
    """The tunes of examples/ and tests/data."""
    for text in texts():
        for tune in split_book(text):
            try:
                yield read_tune(tune)
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
        if len(data) >= self.smallest.get(name, sys.maxsize):
            return
        if name not in self.smallest:
            traceback.print_exception(error)
        self.smallest[name] = len(data)
        (self.folder / name).write_bytes(data)
        print(f"found: {self.folder / name}, {len(data)} bytes", flush=True)


def fuzz(reader: str, seconds: int, seed: int, found: Path) -> None:
    """Change inputs for so many seconds."""
    corpus = found / "corpus"
    corpus.mkdir(exist_ok=True)
    for index, data in enumerate(seeds(reader)):
        (corpus / f"seed-{index}").write_bytes(data)
    words = corpus / "words.dict"
    words.write_text("".join(f'"{word}"\n' for word in WORDS if reader == "abc") or '"x"\n')
    options = [f"-max_total_time={seconds}", f"-seed={seed}", f"-max_len={LONGEST[reader]}",
               f"-artifact_prefix={found}/", f"-dict={words}", "-timeout=20",
               "-verbosity=0", "-print_final_stats=1"]  # fmt: skip
    atheris.Setup([sys.argv[0], str(corpus), *options], Finder(READERS[reader], found))
    atheris.Fuzz()


def main() -> None:
    """Fuzz a reader, or read one file again."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("reader", choices=READERS)
    parser.add_argument("--seconds", type=int, default=120)
    parser.add_argument("--seed", type=int, default=1)
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
    run = Process(target=fuzz, args=(asked.reader, asked.seconds, asked.seed, found))
    run.start()
    run.join()
    kept = sum(path.is_file() for path in found.iterdir())
    print(f"{kept} faults in {found}")
    sys.exit(bool(kept or run.exitcode))


if __name__ == "__main__":
    main()
