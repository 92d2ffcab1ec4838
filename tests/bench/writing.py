"""What becomes of files where writing them is stopped, killed, doubled or has no room.

    python tests/bench/writing.py [--runs 60] [--seed 1] [--only .mid,.ogg] [--cases signal]

Every command that writes, in every kind of file, writes over a file of its own, in a process
forked from one in which all is loaded, so that moments fall into the work and not into the
start of Python.  Of each kind so many runs are

- stopped by SIGINT, SIGTERM, SIGHUP and SIGQUIT by turns, once and twice (the second up to
  50 ms later), half of them at any moment, half while they write;
- killed (SIGKILL); the run after it must clear up;
- two at once with the same process number in one folder, writing two files and the same one;
- without room: on a disk of 64 kB, in a full folder for temporary files, in a folder that is
  read-only, and where the size of files is limited.

After each the file must be the old one or the new one, to the byte, and nothing beside it
(after SIGKILL at most one part file, which the next run removes).  Moments are seeded.
"""

import argparse
import os
import resource
import select
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, redirect_stderr, redirect_stdout, suppress
from io import StringIO
from pathlib import Path
from random import Random
from typing import NamedTuple

from backing.cli.main import run as run_command
from backing.files import outputs
from backing.files.parts import PartFile

TUNE = Path(__file__).parents[2] / "examples" / "the-lock-keepers-kettle.abc"
SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT)
NOBODY = 65534
SECOND = 0.05  # seconds up to a second signal


class Kind(NamedTuple):
    """A command and the kind of file that it writes; what it is asked for, in two ways."""

    name: str
    suffix: str
    command: str
    first: tuple[str, ...]
    second: tuple[str, ...]


MADE = [
    Kind(f"make {suffix}", suffix, "make", ("--bars", "1-2"), ("--bars", "3-4"))
    for suffix in (".mid", ".wav", ".flac", ".ogg", ".opus", ".mp3")
]
KINDS = [
    *MADE,
    Kind("chords .abc", ".abc", "chords", ("--again",), ("--again", "--box", "C/F")),
    Kind("move .abc", ".abc", "move", ("--to-key", "G"), ("--to-key", "C")),
    Kind("move .musicxml", ".musicxml", "move", ("--to-key", "G"), ("--to-key", "C")),
]


class Run(NamedTuple):
    """A command in a process of its own: pipes that tell when it begins to write, and what it
    says."""

    pid: int
    writes: int
    said: int


class Ended(NamedTuple):
    """How a run ended: its exit code as shells count it, and all that it said."""

    code: int
    said: str


def begin(arguments: Sequence[str], prepare: Callable[[], None] | None = None) -> Run:
    """Fork a process that runs a command; `prepare` is called in it first."""
    told, tell = os.pipe()
    said, say = os.pipe()
    pid = os.fork()
    if pid:
        os.close(tell)
        os.close(say)
        return Run(pid, told, said)
    code = 99
    try:
        sys.stdout = sys.stderr = open(say, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
        make_part = outputs.make_part

        def telling(folder: Path) -> PartFile:
            os.write(tell, b"!")
            return make_part(folder)

        outputs.make_part = telling
        sys.argv = ["backing", *arguments]
        if prepare:
            prepare()
        run_command()
        code = 0
    except SystemExit as stop:
        code = stop.code if isinstance(stop.code, int) else 1
    except KeyboardInterrupt:
        code = 130
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


def end(run: Run) -> Ended:
    """Wait for a run."""
    with open(run.said, errors="replace") as said:
        text = said.read()
    _, status = os.waitpid(run.pid, 0)
    os.close(run.writes)
    code = os.waitstatus_to_exitcode(status)
    return Ended(128 - code if code < 0 else code, text)


def arguments(kind: Kind, options: tuple[str, ...], out: Path) -> tuple[str, ...]:
    """A command line."""
    return (kind.command, str(TUNE), *options, "-o", str(out))


class Bench:
    """One kind of file in a folder of its own: what its two files hold, how long they take."""

    def __init__(self, kind: Kind, folder: Path, chance: Random, tally: Counter[str]) -> None:
        self.kind, self.folder, self.chance, self.tally = kind, folder, chance, tally
        self.out = folder / f"out{kind.suffix}"
        self.old = self.clean(kind.first)
        start = time.perf_counter()
        self.new = self.clean(kind.second)
        self.seconds = time.perf_counter() - start
        assert self.old != self.new
        run = begin(arguments(kind, kind.first, self.out))
        os.read(run.writes, 1)
        start = time.perf_counter()
        end(run)
        self.writing = time.perf_counter() - start

    def clean(self, options: tuple[str, ...]) -> bytes:
        """What an undisturbed run writes."""
        ended = end(begin(arguments(self.kind, options, self.out)))
        assert ended.code == 0, ended.said
        return self.out.read_bytes()

    def fault(self, what: str) -> None:
        """Count and show what must not be."""
        self.tally["faults"] += 1
        print(f"FAULT {self.kind.name}: {what}")

    def parts(self) -> list[str]:
        """What lies beside the file."""
        return sorted(set(os.listdir(self.folder)) - {self.out.name})

    def check(self, ended: Ended, *, parts: int = 0) -> None:
        """The file is whole, old or new, and nothing lies beside it."""
        data = self.out.read_bytes()
        if data not in (self.old, self.new):
            self.fault(f"the file holds neither the old nor the new: {ended}")
        if ended.code == 0 and data != self.new:
            self.fault(f"it says that it wrote, and the file is the old one: {ended}")
        if len(self.parts()) > parts:
            self.fault(f"left behind: {self.parts()}")
        if "Traceback" in ended.said:
            self.fault(f"a traceback: {ended.said[-200:]}")
        self.tally["new" if data == self.new else "old"] += 1

    def disturbed(self, number: int, *, twice: bool, writing: bool) -> Ended:
        """A run that gets a signal at some moment."""
        self.clean(self.kind.first)
        run = begin(arguments(self.kind, self.kind.second, self.out))
        if writing:
            select.select([run.writes], [], [], 30)
        time.sleep(self.chance.random() * (self.writing if writing else self.seconds))
        os.kill(run.pid, number)  # not waited for yet, so that the number is nobody else's
        if twice:
            time.sleep(self.chance.random() * SECOND)
            os.kill(run.pid, number)
        return end(run)

    # -- what is tried -------------------------------------------------------------

    def signals(self, runs: int, *, twice: bool) -> None:
        """Stopped by a signal, or by two."""
        for index in range(runs):
            number = SIGNALS[index % len(SIGNALS)]
            ended = self.disturbed(number, twice=twice, writing=index % 2 == 0)
            if ended.code not in (0, 128 + number):
                self.fault(f"after signal {number}: {ended}")
            self.check(ended)

    def killed(self, runs: int) -> None:
        """Killed; the next run clears up."""
        for index in range(runs):
            ended = self.disturbed(signal.SIGKILL, twice=False, writing=index % 4 != 0)
            self.check(ended, parts=1)
            self.tally["parts"] += len(self.parts())
            self.clean(self.kind.first)
            if self.parts():
                self.fault(f"not cleared up: {self.parts()}")

    def doubled(self, runs: int) -> None:
        """Two runs at once with the same process number: two files, then the same one."""
        other = self.folder / f"other{self.kind.suffix}"
        for index in range(runs):
            self.clean(self.kind.first)
            second = other if index % 2 else self.out
            pair = [
                begin(arguments(self.kind, self.kind.first, self.out), _same_number),
                begin(arguments(self.kind, self.kind.second, second), _same_number),
            ]
            ended = [end(run) for run in pair]
            if [each.code for each in ended] != [0, 0]:
                self.fault(f"of two runs {ended}")
            if index % 2 and (self.out.read_bytes(), other.read_bytes()) != (self.old, self.new):
                self.fault("two runs mixed")
            other.unlink(missing_ok=True)
            if self.out.read_bytes() not in (self.old, self.new) or self.parts():
                self.fault(f"two runs left {os.listdir(self.folder)}")
            self.tally["new" if self.out.read_bytes() == self.new else "old"] += 1

    def limited(self, runs: int) -> None:
        """Files may only be so large."""
        for _ in range(runs):
            most = self.chance.randrange(len(self.new))
            self.refused(lambda most=most: _limit(most))

    def refused(self, prepare: Callable[[], None]) -> None:
        """A run that cannot write: it says so, and the old file stays."""
        self.clean(self.kind.first)
        self.refuses(prepare)

    def refuses(self, prepare: Callable[[], None] | None = None) -> None:
        """The same over a file that is there."""
        ended = end(begin(arguments(self.kind, self.kind.second, self.out), prepare))
        self.check(ended)
        if ended.code != 1 or "error: " not in ended.said or "cannot be" not in ended.said:
            self.fault(f"not refused: {ended.code} {ended.said[-200:]}")
        if self.out.read_bytes() != self.old:
            self.fault(f"the old file is gone: {ended}")


def _same_number() -> None:
    os.getpid = lambda: 7


def _limit(most: int) -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))


@contextmanager
def small_disk(folder: Path, size: str) -> Iterator[None]:
    """A disk of so many bytes in a folder; OSError where we may not have one."""
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={size}", "none", str(folder)]
    if subprocess.run(command, check=False, capture_output=True).returncode:
        raise OSError("no disk can be mounted here")
    try:
        yield
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def full_disk(kind: Kind, work: Path, chance: Random, tally: Counter[str], runs: int) -> None:
    """A disk that is nearly full: the old file stays."""
    disk = work / "disk"
    with small_disk(disk, "16m"):
        folder = disk / "music"
        folder.mkdir()
        bench = Bench(kind, folder, chance, tally)
        for _ in range(runs):
            room = chance.randrange(min(len(bench.new), 60_000))
            bench.refused(lambda room=room: _fill(disk, room))
            (disk / "filler").unlink()
    disk.rmdir()


def _fill(disk: Path, room: int) -> None:
    """Leave less than `room` bytes, in whole pages."""
    page = os.sysconf("SC_PAGE_SIZE")
    state = os.statvfs(disk)
    with open(disk / "filler", "wb") as file:
        file.write(bytes(max(state.f_bavail * state.f_frsize - room // page * page, 0)))


def full_temporary(kind: Kind, work: Path, chance: Random, tally: Counter[str], runs: int) -> None:
    """The folder for temporary files is full, where sound is put aside."""
    folder, spare = work / "music", work / "spare"
    folder.mkdir()
    bench = Bench(kind, folder, chance, tally)
    with small_disk(spare, "64k"):
        for _ in range(runs):
            bench.refused(lambda: setattr(tempfile, "tempdir", str(spare)))
            if os.listdir(spare):
                bench.fault("something stayed in the folder for temporary files")
    spare.rmdir()


def _open_to_all() -> bool:
    """Whether anybody may read the package, its styles among others, and the tune."""
    return all(
        folder.stat().st_mode & 0o005 == 0o005
        for place in (Path(outputs.__file__), TUNE)
        for folder in place.resolve().parents
    )


def read_only(kind: Kind, work: Path, chance: Random, tally: Counter[str], runs: int) -> None:
    """A folder in which nobody may write: a disk that is read-only, and one without leave."""
    disk = work / "disk"
    with small_disk(disk, "16m"):
        work.chmod(0o755)
        bench = Bench(kind, disk, chance, tally)
        for index in range(runs):
            bench.clean(kind.first)
            os.chown(bench.out, NOBODY, NOBODY)
            mounted = index % 2 or not _open_to_all()
            if mounted:
                subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
            else:
                disk.chmod(0o555)
            bench.refuses(None if mounted else lambda: os.setuid(NOBODY))
            if mounted:
                subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
            disk.chmod(0o755)
    disk.rmdir()


def try_all(
    kind: Kind, runs: int, seed: int, cases: Sequence[str]
) -> Iterator[tuple[str, Counter[str]]]:
    """Everything on one kind of file; what came of it, by what was tried."""
    _load(kind)
    plain: tuple[tuple[str, Callable[[Bench], None]], ...] = (
        ("a signal", lambda bench: bench.signals(runs, twice=False)),
        ("two signals", lambda bench: bench.signals(runs, twice=True)),
        ("kill -9", lambda bench: bench.killed(runs)),
        ("two runs at once", lambda bench: bench.doubled(runs)),
        ("size limited", lambda bench: bench.limited(runs // 4 + 1)),
    )
    disks = [("disk full", full_disk), ("read-only", read_only)]
    if kind in MADE[1:]:
        disks.append(("temporary full", full_temporary))
    for name, tried in plain:
        if not _named(name, cases):
            continue
        tally: Counter[str] = Counter()
        with tempfile.TemporaryDirectory(prefix="writing-") as work:
            tried(Bench(kind, Path(work), Random(f"{seed} {kind.name} {name}"), tally))
        yield name, tally
    for name, tried_on in disks:
        if not _named(name, cases):
            continue
        tally = Counter()
        with tempfile.TemporaryDirectory(prefix="writing-") as work:
            try:
                chance = Random(f"{seed} {kind.name} {name}")
                tried_on(kind, Path(work), chance, tally, runs // 6 + 1)
            except OSError as error:
                print(f"{kind.name}, {name}: not tried ({error})")
                continue
        yield name, tally


def _load(kind: Kind) -> None:
    """Run the command here, so that all is loaded before it is forked: nobody cannot."""
    with (
        tempfile.TemporaryDirectory(prefix="writing-") as work,
        redirect_stdout(StringIO()),
        redirect_stderr(StringIO()),
    ):
        for options in (kind.first, kind.second):
            sys.argv = ["backing", *arguments(kind, options, Path(work) / f"out{kind.suffix}")]
            with suppress(SystemExit):
                run_command()


def _named(name: str, words: Sequence[str]) -> bool:
    return any(word in name for word in words)


def main() -> None:
    """Print a table, and end with 1 where there was a fault."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=60, help="of each kind")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="kinds whose names hold one of these")
    parser.add_argument("--cases", default="", help="cases whose names hold one of these")
    asked = parser.parse_args()
    only, cases = asked.only.split(","), asked.cases.split(",")
    for number in SIGNALS:  # which a shell may keep from what it starts in the background
        signal.signal(
            number, signal.default_int_handler if number == signal.SIGINT else signal.SIG_DFL
        )
    faults = 0
    print(f"{'':15} {'':17} {'runs':>5} {'old':>5} {'new':>5} {'parts left':>11} {'faults':>7}")
    for kind in KINDS:
        if _named(kind.name, only):
            for name, tally in try_all(kind, asked.runs, asked.seed, cases):
                runs = tally["old"] + tally["new"]
                faults += tally["faults"]
                print(
                    f"{kind.name:15} {name:17} {runs:5} {tally['old']:5} {tally['new']:5} "
                    f"{tally['parts'] or '':>11} {tally['faults']:7}",
                    flush=True,
                )
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
