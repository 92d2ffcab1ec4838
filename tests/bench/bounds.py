"""Inputs that grow: how long each takes, how much memory, and whether both grow in step.

    python tests/bench/bounds.py [CASE ...] [--largest 4] [--stages read chords ...]

Each case is a tune of one kind, made at a size, at twice and at four times that size (the
last are past a stated limit in some: then the limit is named).  Every size is read, and what
is read goes through the stages, in a process of its own, which may take 60 seconds and 3 GB.
The table has processor seconds, MB (what the program takes with nothing in it is not counted)
and how much the time grows where the size doubles.  The goal: 10 seconds, 1 GB, growth about 2.
The exit code is 1 where a case misses it.
"""

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import NamedTuple

SEED = 1
SECONDS, BYTES = 60, 3 * 2**30
GOAL_SECONDS, GOAL_MB = 10.0, 1024
STAGES = ("read", "abc", "chords", "arrange", "fit")
HEAD = "X:1\nT:Bounds\nM:4/4\nL:1/8\nK:G\n"


class Case(NamedTuple):
    """A kind of tune: the file's suffix, its first size, and the bytes of a size."""

    suffix: str
    size: int
    make: Callable[[int], bytes]


def abc(music: str, head: str = HEAD, tail: str = "") -> Callable[[int], bytes]:
    """A tune with one piece of music so many times."""
    return lambda size: (head + music * size + tail).encode()


# -- MIDI -----------------------------------------------------------------------


def midi(*events: bytes, ppq: int = 480) -> bytes:
    """A file with one track of these events."""
    track = b"".join(events) + bytes.fromhex("00FF2F00")
    head = b"MThd" + bytes.fromhex("00000006 0000 0001") + ppq.to_bytes(2, "big")
    return head + b"MTrk" + len(track).to_bytes(4, "big") + track


def at_one_tick(size: int) -> bytes:
    """Notes that all begin at once."""
    on = b"".join(bytes([0, 0x90, 40 + n % 60, 80]) for n in range(size))
    off = b"".join(bytes([0, 0x80, 40 + n % 60, 0]) for n in range(size))
    return midi(on, bytes.fromhex("8360 B0 07 40"), off)


def in_a_row(size: int) -> bytes:
    """Quavers one after the other."""
    note = bytes.fromhex("00 90 3C 50 8170 80 3C 40")
    return midi(note * size)


def trill(size: int) -> bytes:
    """Notes so near together that they can only be grace notes."""
    note = bytes.fromhex("00 90 3C 50 01 80 3C 40")
    return midi(note * size)


def played_freely(size: int) -> bytes:
    """Notes as somebody plays them: quavers and crotchets at a beat that the file knows
    nothing of, each up to 20 ticks off."""
    chance, at, last, events = Random(SEED), 0.0, 0, []
    for n in range(size):
        start, length = round(at + chance.uniform(0, 20)), 163 * (2 if n % 5 == 0 else 1)
        key = 60 + (n * 7 + n // 16) % 19
        events += [delta(start - last), bytes([0x90, key, 80])]
        events += [delta(round(length * 0.8)), bytes([0x80, key, 0])]
        last, at = start + round(length * 0.8), at + length
    return midi(*events)


def delta(ticks: int) -> bytes:
    """A time in a track, of up to 16,383 ticks."""
    return bytes([0x80 | ticks >> 7, ticks & 0x7F])


def tempos(size: int) -> bytes:
    """A tempo with every note."""
    note = bytes.fromhex("00 FF 51 03 07 A1 20 00 90 3C 50 8170 80 3C 40 00 FF 51 03 08 A1 20")
    return midi(note * size)


def chord_texts(size: int) -> bytes:
    """A chord symbol with every note."""
    return midi(bytes.fromhex("00 FF 01 01 47 00 90 3C 50 8170 80 3C 40") * size)


# -- MusicXML -------------------------------------------------------------------

NOTE = "<note><pitch><step>C</step><octave>5</octave></pitch><duration>{}</duration>{}</note>"


def score(measures: list[str], times: int = 1) -> bytes:
    """A score of these measures; so many parts of them."""
    start = (
        "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type>"
        "</time></attributes>"
    )
    rows = "".join(
        f'<measure number="{n}">{start if n == 1 else ""}{m}</measure>'
        for n, m in enumerate(measures, 1)
    )
    names = "".join(
        f'<score-part id="P{n}"><part-name>P</part-name></score-part>' for n in range(times)
    )
    parts = "".join(f'<part id="P{n}">{rows}</part>' for n in range(times))
    return (
        f'<score-partwise version="4.0"><part-list>{names}</part-list>{parts}</score-partwise>'
    ).encode()


def xml_bars(size: int) -> bytes:
    """Bars of eight quavers."""
    return score([NOTE.format(1, "") * 8] * size)


def xml_one_bar(size: int) -> bytes:
    """All notes in one bar."""
    return score([NOTE.format(1, "<type>eighth</type>") * size])


def xml_long(size: int) -> bytes:
    """Bars that last a thousand crotchets."""
    return score([NOTE.format(2000, "")] * size)


def xml_together(size: int) -> bytes:
    """Notes struck together."""
    together = NOTE.replace("<note>", "<note><chord/>").format(8, "")
    return score([NOTE.format(8, "") + together * size])


def xml_graces(size: int) -> bytes:
    """Grace notes before one note."""
    grace = "<note><grace/><pitch><step>C</step><octave>5</octave></pitch></note>"
    return score([grace * size + NOTE.format(8, "")])


def xml_slurs(size: int) -> bytes:
    """Slurs that never close."""
    slur = '<notations><slur type="start" number="1"/></notations>'
    return score([NOTE.format(1, slur) * 8] * (size // 8))


def xml_signs(tag: str) -> Callable[[int], bytes]:
    """So many of one element in a bar."""
    return lambda size: score([tag * size + NOTE.format(8, "")])


def xml_parts(size: int) -> bytes:
    """Parts of one name."""
    return score([NOTE.format(8, "")], size)


def xml_tuples(size: int) -> bytes:
    """Divisions that change all the time, to numbers without a common factor."""
    parts = [
        f"<attributes><divisions>{999_983 - 2 * n}</divisions></attributes>" + NOTE.format(1000, "")
        for n in range(size)
    ]
    return score(["".join(parts)])


HARMONY = "<harmony><root><root-step>G</root-step></root><kind>major</kind></harmony>"
TEMPO = (
    '<direction><direction-type><words>w</words></direction-type><sound tempo="90"/></direction>'
)

CASES = {
    "abc: no bar line": Case(".abc", 25_000, abc("ABcd ")),
    "abc: bars of wrong length": Case(".abc", 5_000, abc("ABc|")),
    "abc: short bars, repeats": Case(".abc", 5_000, abc("A:|")),
    "abc: bars in free metre": Case(".abc", 5_000, abc("ABcd|", HEAD.replace("4/4", "none"))),
    "abc: bars of chords": Case(".abc", 5_000, abc('"G"A2"C"B2"D"c2"G"d2|')),
    "abc: chords, no bar line": Case(".abc", 12_500, abc('"G"A"C"B')),
    "abc: tempi, no bar line": Case(".abc", 25_000, abc("[Q:1/4=90]A>")),
    "abc: broken rhythm signs": Case(".abc", 250_000, abc(" >", HEAD + "A", "B|")),
    "abc: long notes": Case(".abc", 25_000, abc("A2048 ")),
    "abc: long notes, quick metre": Case(".abc", 5_000, abc("A256|", HEAD.replace("4/4", "1/64"))),
    "abc: short notes, often repeated": Case(
        ".abc", 1_000, abc("A/512", HEAD + "|" + ":" * 99, ":" * 99 + "|")
    ),
    "abc: rests of bars": Case(".abc", 5, abc("Z1000|", HEAD + "A8|")),
    "abc: lengths without a common measure": Case(
        ".abc", 2_000, lambda n: (HEAD + "".join(f"A/{99_991 - 2 * i} " for i in range(n))).encode()
    ),
    "abc: signs not known": Case(".abc", 250_000, abc("}", HEAD + "A", "|")),
    "abc: 10 MB on one line": Case(".abc", 2_500_000, abc("A")),
    "abc: bar lines alone": Case(".abc", 250_000, abc("| ", HEAD + "A")),
    "abc: open brackets": Case(".abc", 250_000, abc("{", HEAD + "A")),
    "abc: open fields": Case(".abc", 100_000, abc("[K:", HEAD + "A")),
    "abc: open quotes": Case(".abc", 250_000, abc('A"', HEAD + "A", '"')),
    "abc: chord brackets": Case(".abc", 100_000, abc("[CEG", HEAD + "A")),
    "abc: a chord of many": Case(".abc", 100_000, abc("C", HEAD + "[", "]|")),
    "abc: grace notes": Case(".abc", 100_000, abc("C", HEAD + "{", "}A|")),
    "abc: a macro and quotes": Case(
        ".abc", 100_000, abc('"^x"~A', HEAD.replace("K:", "m:~A=ABA\nK:"))
    ),
    "abc: many macros": Case(
        ".abc", 10_000,
        lambda n: ("X:1\n" + "".join(f"m:~{i}z=A\n" for i in range(n)) + "K:G\n" + "AB|\n" * n)
        .encode(),
    ),
    "abc: voices": Case(
        ".abc", 2_000, lambda n: (HEAD + "".join(f"V:{i}\nA8|\n" for i in range(n))).encode()
    ),
    "abc: voices beside a long one": Case(
        ".abc", 2_000,
        lambda n: (HEAD + "V:1\n" + "A8|" * n + "".join(f"\nV:{i}\nA8|" for i in range(2, n)))
        .encode(),
    ),
    "abc: voices in one line": Case(".abc", 50_000, abc("[V:1]A[V:2]B")),
    "abc: second voices": Case(".abc", 50_000, abc("&&A|", HEAD + "A|B|")),
    "abc: verses": Case(".abc", 50_000, abc("w:la\n", HEAD + "AB|\n")),
    "abc: symbol lines": Case(".abc", 50_000, abc("s:!f!\n", HEAD + "AB|\n")),
    "abc: a verse that goes on": Case(".abc", 50_000, abc("+:la\n", HEAD + "AB|\nw:la\n")),
    "abc: a text that goes on": Case(".abc", 50_000, abc("+:la\n", HEAD + "AB|\nW:la\n")),
    "abc: a title that goes on": Case(".abc", 50_000, abc("+:la\n", "X:1\nT:la\n", "K:C\nABc|")),
    "abc: header without a key": Case(".abc", 50_000, abc("what is this\n", "X:1\n", "ABc|")),
    "abc: keys": Case(".abc", 5_000, abc("[K:D]ABcd[K:F]ABcd|")),
    "abc: jumps": Case(".abc", 50_000, abc("!segno!!coda!", HEAD + "A|", "B|")),
    "abc: sections": Case(".abc", 5_000, abc("[P:X]A8||")),
    "abc: endings": Case(".abc", 2_500, abc("|:A8|[1B8:|[2c8|")),
    "abc: tuplets": Case(".abc", 12_500, abc("(3ABc (5:4:5ABcde")),
    "abc: a book": Case(".abc", 20_000, abc("X:1\nT:t\nK:G\nABc|\n\n", "")),
    "abc: blocks between tunes": Case(".abc", 100_000, abc("M:4/4\n\n", "X:1\nK:G\nA|\n\n")),
    "abc: empty lines": Case(".abc", 8_000_000, abc("\n", HEAD + "A|\n")),
    "midi: at one tick": Case(".mid", 7_500, at_one_tick),
    "midi: in a row": Case(".mid", 7_500, in_a_row),
    "midi: a trill": Case(".mid", 7_500, trill),
    "midi: played freely": Case(".mid", 7_500, played_freely),
    "midi: tempi": Case(".mid", 7_500, tempos),
    "midi: chord texts": Case(".mid", 7_500, chord_texts),
    "musicxml: bars": Case(".musicxml", 900, xml_bars),
    "musicxml: one bar": Case(".musicxml", 25_000, xml_one_bar),
    "musicxml: bars of 1,000 crotchets": Case(".musicxml", 250, xml_long),
    "musicxml: notes together": Case(".musicxml", 7_000, xml_together),
    "musicxml: grace notes": Case(".musicxml", 5_000, xml_graces),
    "musicxml: open slurs": Case(".musicxml", 5_000, xml_slurs),
    "musicxml: harmonies in a bar": Case(".musicxml", 50_000, xml_signs(HARMONY)),
    "musicxml: tempi in a bar": Case(".musicxml", 50_000, xml_signs(TEMPO)),
    "musicxml: parts": Case(".musicxml", 25, xml_parts),
    "musicxml: divisions without a common measure": Case(".musicxml", 2_000, xml_tuples),
}  # fmt: skip


# -- one size, in its own process -----------------------------------------------------


def run_one(path: Path, stages: list[str]) -> None:
    """Read a file and go through the stages; print seconds and MB after each."""
    from backing.errors import BackingError

    work = {"read": read_, "abc": abc_, "chords": chords_, "arrange": arrange_, "fit": fit_}
    for stage in ("abc", "chords", "arrange", "fit"):
        if stage in stages:
            work[stage](None)
    base = peak()
    tune = None
    for stage in stages:
        start = time.process_time()
        said = ""
        try:
            tune = work[stage](path if stage == "read" else tune)
        except BackingError as error:
            said = error.message
        except (MemoryError, RecursionError) as error:
            said = f"!{type(error).__name__}"
        took = time.process_time() - start
        print(f"{stage}\t{took:.3f}\t{peak() - base:.0f}\t{said[:70]}", flush=True)
        if stage == "read" and said:
            return


def peak() -> float:
    """The most memory that this process has had, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def read_(path):
    from backing.files import read_tune

    return read_tune(path).tune if path else None


def abc_(tune):
    from backing.render.abc import render_abc

    if tune:
        render_abc(tune)
    return tune


def chords_(tune):
    from backing.harmony.suggest import suggest_chords, with_chords

    return with_chords(tune, suggest_chords(tune)) if tune else tune


def arrange_(tune):
    from backing.arranging.arrange import arrange
    from backing.files import load_style

    style = load_style("alternating")
    if tune:
        arrange(tune, style)
    return tune


def fit_(tune):
    from backing.box.fit import fit
    from backing.box.line import line_of
    from backing.files.boxes import load_box

    layout = load_box("D/G")
    if tune:
        fit(line_of(tune), layout)
    return tune


# -- the table ----------------------------------------------------------------------


class Measured(NamedTuple):
    """What a stage took at one size; `said` is the limit that was named."""

    seconds: float
    megabytes: float
    said: str


def measure(case: Case, size: int, stages: list[str]) -> dict[str, Measured]:
    """Each stage at one size."""
    with tempfile.NamedTemporaryFile(suffix=case.suffix) as file:
        file.write(case.make(size))
        file.flush()
        command = [sys.executable, __file__, "--one", file.name, "--stages", *stages]
        try:
            run = subprocess.run(
                command, capture_output=True, text=True, timeout=10 * SECONDS, check=False,
                preexec_fn=_limits,
            )  # fmt: skip
            out, end = run.stdout, "" if run.returncode == 0 else f"!ended with {run.returncode}"
        except subprocess.TimeoutExpired as error:
            out = (error.stdout or b"").decode()
            end = f"!more than {SECONDS} seconds"
    found = {}
    for line in out.splitlines():
        stage, seconds, megabytes, said = line.split("\t")
        found[stage] = Measured(float(seconds), float(megabytes), said)
    if end:
        stage = next((s for s in stages if s not in found), stages[-1])
        found[stage] = Measured(SECONDS, 0, end)
    return found


def _limits() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (BYTES, BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))


def row(name: str, stage: str, sizes: list[int], found: list[Measured | None]) -> bool:
    """Print a line of the table; False where the goal is missed."""
    cells, before, good = [], 0.0, True
    for _, each in zip(sizes, found, strict=True):
        if each is None:
            cells.append("-".rjust(16))
            continue
        growth = f"x{each.seconds / before:.1f}" if before > 0.05 and not each.said else ""
        cells.append(f"{each.seconds:7.2f} {each.megabytes:4.0f} {growth:>4}")
        before = 0.0 if each.said else each.seconds
        good &= each.seconds <= GOAL_SECONDS and each.megabytes <= GOAL_MB
        good &= not each.said.startswith("!")
    said = next((each.said for each in found if each is not None and each.said), "")
    print(f"{'' if good else '!'}{name[:40]:40} {stage:8}{''.join(cells)}  {said}", flush=True)
    return good


def main() -> None:
    """Measure cases, and print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("cases", nargs="*", help="parts of the names of cases; all without them")
    parser.add_argument("--largest", type=int, default=4, choices=(1, 2, 4))
    parser.add_argument("--stages", nargs="+", default=["read"], choices=STAGES)
    parser.add_argument("--one", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        run_one(asked.one, asked.stages)
        return
    chosen = [n for n in CASES if not asked.cases or any(part in n for part in asked.cases)]
    good = True
    for name in chosen:
        case = CASES[name]
        sizes = [case.size * times for times in (1, 2, 4) if times <= asked.largest]
        found = [measure(case, size, asked.stages) for size in sizes]
        for stage in asked.stages:
            if any(stage in each for each in found):
                label = f"{name} ({case.size:,} up)"
                good &= row(label, stage, sizes, [each.get(stage) for each in found])
    sys.exit(not good)


if __name__ == "__main__":
    main()
