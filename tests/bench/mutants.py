"""How many small faults the tests see: a sample of changes to the code, each tried by itself.

    python tests/bench/mutants.py [--sample 400] [--seed 7] [--jobs 1] [--limit 90] [--slow]
        [--wide] [--rooms music box] [--only FILE:LINE:COLUMN]

A change (a mutant) swaps a comparison or moves its bound, turns + to - or and to or, moves a
whole number by one, drops a `not`, returns None, and the like, in one place.  It is made in a
copy in a temporary folder; there the quick tests of its room run (tests/box for backing/box)
and the examples in its docstrings.  It is killed where a test fails or cannot run, or where
they take longer than the limit; what is alive no quick test of the room has seen.  With
--slow its slow tests are asked then, with --wide the quick ones of the other rooms.  First the
tests must pass on the code as it is.
The draw is the same for one seed and one state of the code.
"""

import argparse
import ast
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import islice
from pathlib import Path
from queue import SimpleQueue
from random import Random
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
ROOMS = ("music", "arranging", "box", "practice", "harmony", "live")
#: What the tests need, or read.
COPIED = ("backing", "tests", "styles", "examples", "pyproject.toml", "README.md", "DEVELOPERS.md")
#: Each comparison with what stands in for it.
COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt), ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,), ast.In: (ast.NotIn,), ast.NotIn: (ast.In,),
}  # fmt: skip
OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.FloorDiv, ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.FloorDiv, ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
}  # fmt: skip
NAMES = {"min": "max", "max": "min", "any": "all", "all": "any", "bisect_left": "bisect_right",
         "bisect_right": "bisect_left"}  # fmt: skip
#: The folders whose quick tests are asked with --wide, and how long they may take together.
WIDE = tuple(f"tests/{room}" for room in (*ROOMS, "parse", "render", "files", "cli"))
WIDE_LIMIT = 600.0
PYTEST = ("-x", "-q", "-p", "no:cacheprovider")
#: How pytest ends where no test fails, or none has the mark.
ALIVE = (0, 5)


class Mutant(NamedTuple):
    """One change at a line and column (from 1); `text` is the whole file with it."""

    file: str
    line: int
    column: int
    was: str
    now: str
    text: str

    @property
    def room(self) -> str:
        """The room that the file is in."""
        return Path(self.file).parts[1]

    @property
    def place(self) -> str:
        """Where it is: file, line and column."""
        return f"{self.file}:{self.line}:{self.column}"


class Verdict(NamedTuple):
    """What came of a mutant: "killed", "timeout" or "alive", and by which test."""

    mutant: Mutant
    word: str
    test: str
    seconds: float


# -- changes ---------------------------------------------------------------------------


def swaps(node: ast.AST) -> Iterator[ast.expr]:
    """What may stand in for an expression."""
    match node:
        case ast.Compare(left=left, ops=[first, *rest], comparators=others):
            for kind in COMPARISONS[type(first)]:
                yield ast.Compare(left, [kind(), *rest], others)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in OPERATORS and not texts(node):
            yield ast.BinOp(left, OPERATORS[type(op)](), right)
        case ast.BoolOp(op=op, values=values):
            yield ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), values)
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            yield operand
        case ast.Constant(value=bool() as value):
            yield ast.Constant(not value)
        case ast.Constant(value=int() as value):
            yield ast.Constant(value + 1)
            yield ast.Constant(value - 1)
        case ast.Call(func=ast.Name(id=name), args=args, keywords=keywords) if name in NAMES:
            yield ast.Call(ast.Name(NAMES[name]), args, keywords)
        case ast.IfExp(test=test, body=body, orelse=orelse):
            yield ast.IfExp(test, orelse, body)


def texts(node: ast.BinOp) -> bool:
    """True for sums with a text: taken away, they only fail."""
    return any(
        isinstance(side, ast.JoinedStr)
        or (isinstance(side, ast.Constant) and isinstance(side.value, str))
        for side in (node.left, node.right)
    )


def parts(tree: ast.AST) -> Iterator[ast.expr]:
    """The expressions of code that runs: no types, and nothing inside a text with braces."""
    for name, value in ast.iter_fields(tree):
        if name in ("annotation", "returns", "type_params"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.JoinedStr) or not isinstance(child, ast.AST):
                continue
            if isinstance(child, ast.expr):
                yield child
            yield from parts(child)


def mutants_of(file: str, source: str) -> Iterator[Mutant]:
    """All changes to a file."""
    tree = ast.parse(source)
    for node in parts(tree):
        for other in swaps(node):
            yield changed(file, source, node, ast.unparse(ast.fix_missing_locations(other)))
    for each in ast.walk(tree):
        if isinstance(each, ast.Return) and each.value and ast.unparse(each.value) != "None":
            yield changed(file, source, each.value, "None")


def changed(file: str, source: str, node: ast.expr, other: str) -> Mutant:
    """The source with something else in the place of a node."""
    assert node.end_lineno is not None
    assert node.end_col_offset is not None
    lines = source.encode().splitlines(keepends=True)
    start = sum(map(len, lines[: node.lineno - 1])) + node.col_offset
    stop = sum(map(len, lines[: node.end_lineno - 1])) + node.end_col_offset
    data = source.encode()
    text = data[:start] + f"({other})".encode() + data[stop:]
    was = " ".join(data[start:stop].decode().split())
    return Mutant(file, node.lineno, node.col_offset + 1, was, other, text.decode())


def drawn(rooms: Sequence[str], sample: int, seed: int) -> list[Mutant]:
    """A sample of all changes to these rooms that can be read as Python."""
    found: list[Mutant] = []
    for room in rooms:
        for path in sorted((ROOT / "backing" / room).rglob("*.py")):
            file = str(path.relative_to(ROOT))
            found += mutants_of(file, path.read_text(encoding="utf-8"))
    print(f"{len(found):,} changes in {', '.join(rooms)}", flush=True)
    Random(seed).shuffle(found)
    return list(islice(filter(can_be_read, found), sample))


def can_be_read(mutant: Mutant) -> bool:
    """True where the change leaves Python code (a pattern of `match` takes no brackets)."""
    try:
        ast.parse(mutant.text)
    except SyntaxError:
        return False
    return True


# -- trying them -----------------------------------------------------------------------


def copied(folder: Path) -> Path:
    """The project in a folder of its own."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, folder / name)
    return folder


def answered(
    place: Path, tests: Sequence[str], limit: float, marked: str = "not slow", fresh: bool = True
) -> tuple[str, str]:
    """The verdict of the tests with this mark, and the first that fails.

    What Python compiles is kept only where it is no `fresh` run: from code without a change.
    """
    command = [sys.executable, "-m", "pytest", *PYTEST, "-m", marked, *tests]
    env = {**os.environ, "PYTHONPATH": str(place), "PYTHONDONTWRITEBYTECODE": "1" if fresh else ""}
    program = subprocess.Popen(
        command, cwd=place, env=env, start_new_session=True,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL, text=True,
    )  # fmt: skip
    try:
        said, _ = program.communicate(timeout=limit)
    except subprocess.TimeoutExpired:
        os.killpg(program.pid, signal.SIGKILL)
        program.communicate()
        return "timeout", ""
    failed = [line for line in said.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return ("alive" if program.returncode in ALIVE else "killed"), failed[0] if failed else ""


def tried(mutant: Mutant, place: Path, asked: argparse.Namespace) -> Verdict:
    """The change made in a copy, tested, and taken back."""
    target, began = place / mutant.file, time.monotonic()
    kept = target.read_text(encoding="utf-8")
    target.write_text(mutant.text, encoding="utf-8")
    try:
        word, test = answered(place, (f"tests/{mutant.room}", mutant.file), asked.limit)
        if word == "alive" and asked.slow:
            word, test = answered(place, (f"tests/{mutant.room}",), WIDE_LIMIT, "slow")
        if word == "alive" and asked.wide:
            others = [folder for folder in WIDE if folder != f"tests/{mutant.room}"]
            word, test = answered(place, others, WIDE_LIMIT)
    finally:
        target.write_text(kept, encoding="utf-8")
    return Verdict(mutant, word, test, time.monotonic() - began)


def check_unchanged(place: Path, rooms: set[str], asked: argparse.Namespace) -> None:
    """Stop where the tests fail without a change: they would kill whatever they are shown."""
    tests = [f"tests/{room}" for room in sorted(rooms)] if not asked.wide else list(WIDE)
    marked = "slow or not slow" if asked.slow else "not slow"
    word, test = answered(place, tests, WIDE_LIMIT, marked, fresh=False) if tests else ("alive", "")
    if word != "alive":
        sys.exit(f"without a change: {word} {test}")


def all_tried(mutants: Sequence[Mutant], asked: argparse.Namespace) -> Iterator[Verdict]:
    """The verdicts, as they come; each job has a copy of its own."""
    with tempfile.TemporaryDirectory() as folder:
        places: SimpleQueue[Path] = SimpleQueue()
        for number in range(asked.jobs):
            places.put(copied(Path(folder) / str(number)))
        check_unchanged(Path(folder) / "0", {mutant.room for mutant in mutants}, asked)

        def one(mutant: Mutant) -> Verdict:
            place = places.get()
            try:
                return tried(mutant, place, asked)
            finally:
                places.put(place)

        with ThreadPoolExecutor(asked.jobs) as pool:
            yield from pool.map(one, mutants)


def told(verdict: Verdict) -> str:
    """A verdict in a line."""
    mutant = verdict.mutant
    change = f"{mutant.was}  ->  {mutant.now}"
    return f"{verdict.word:<8}{verdict.seconds:>5.1f} s  {mutant.place}  {change}"


def main() -> None:
    """Print each verdict, the share that was killed, and what is alive."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sample", type=int, default=400)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--limit", type=float, default=90.0, help="seconds for a run of tests")
    parser.add_argument("--slow", action="store_true", help="ask slow tests of the room as well")
    parser.add_argument("--wide", action="store_true", help="ask other rooms about what is alive")
    parser.add_argument("--rooms", nargs="+", choices=ROOMS, default=ROOMS)
    parser.add_argument("--only", default="", help="of the sample, those whose place begins so")
    asked = parser.parse_args()
    mutants = drawn(asked.rooms, asked.sample, asked.seed)
    mutants = [each for each in mutants if each.place.startswith(asked.only)]
    verdicts = []
    for verdict in all_tried(mutants, asked):
        verdicts.append(verdict)
        print(told(verdict), flush=True)
    alive = [verdict for verdict in verdicts if verdict.word == "alive"]
    killed = len(verdicts) - len(alive)
    print(f"\nkilled {killed} of {len(verdicts)} ({killed / max(len(verdicts), 1):.0%})")
    for verdict in alive:
        print(told(verdict))


if __name__ == "__main__":
    main()
