"""Practice files: a player's plan of steps, in TOML, with the words of the options of `make`::

    practice = "Bar 6 and its neighbours"       # first of all: what it is called
    tune = "the-lock-keepers-kettle.abc"        # beside this file
    box = "D/G"                                 # what stands here is for every step

    [[step]]
    for = "Bar 6 alone, with the leap"          # one line: what for
    bars = "6"
    percent = "50..80"
    mute = "melody"

    [[step]]
    rest = 3                                    # minutes

    [[step]]
    tune = "the-eel-trap.abc"                   # another tune
    follows = true                              # at once after the step before, as in a set

A key is the name of an option without its hyphens before it.  A step of its own `change = true`
practises the change from the step before into it.
"""

import re
from enum import StrEnum
from fractions import Fraction
from pathlib import Path, PurePosixPath
from typing import Any, NamedTuple, get_args, get_type_hints

from backing.cli import typed
from backing.cli.asking import step_of
from backing.cli.wish import Wish
from backing.data.file_kind import FileKind
from backing.data.key_path import KeyPath, shown
from backing.data.reader import DataReader
from backing.errors import BackingError, DataError
from backing.files.toml_files import SUFFIX

PRACTICE_FILE = FileKind(
    noun="practice file",
    error=DataError,
    pattern="keys are the options of 'backing make' without their hyphens: bars, percent, times",
    items={"step": "step"},
)
#: A set is written as steps.
_NOT_HERE = ("number", "then", "changes")
_OPTIONS = {name.replace("_", "-"): name for name in Wish._fields if name not in _NOT_HERE}
#: Those that are for the whole practice.
_FOR_ALL = ("a4", "tremolo", "balance")
_HEAD = ("practice", "tune", "number", "step", *_OPTIONS)
_STEP = (
    "for", "tune", "number", "follows", "change", "rest",
    *(name for name in _OPTIONS if name not in _FOR_ALL),
)  # fmt: skip
_MOST_STEPS, _MOST_REST = 200, 60
_CHANGE_TIMES = 4


class WantedStep(NamedTuple):
    """A step as the file has it: its place, its tune's file and number in a book, its options as
    they would be typed, what it is for, minutes of rest; whether it follows at once, and whether
    only the change into it is wanted."""

    path: KeyPath
    tune: str
    wish: Wish
    name: str = ""
    rest: int = 0
    follows: bool = False
    change: bool = False


def is_practice(path: Path) -> bool:
    """True for the name of a practice file."""
    return path.suffix.lower() == SUFFIX


class PracticeReader(DataReader):
    """Checks a practice file key by key and keeps every fault."""

    kind = PRACTICE_FILE

    def __init__(self, text: str, path: Path) -> None:
        super().__init__(text, path.name)
        self.title = self.text(self.data, "practice") if "practice" in self.data else ""
        if next(iter(self.data), "practice") != "practice" or not self.data:
            self.fault(("practice",), 'is the first key of a practice file: practice = "its name"')

    def steps(self) -> list[WantedStep]:
        """All steps."""
        self.known(self.data, (), _HEAD)
        head = {key: value for key, value in self.data.items() if key not in ("practice", "step")}
        example = "tables [[step]]"
        found = self.tables(self.data, "step", (), example)
        if len(found) > _MOST_STEPS:
            self.fault(("step",), f"{len(found)} steps; up to {_MOST_STEPS} are possible")
            return []
        self._wish(head, ())
        return [self._step(path, table, head) for path, table in found]

    def _step(self, path: KeyPath, table: dict[str, Any], head: dict[str, Any]) -> WantedStep:
        self.known(table, path, _STEP)
        name = self.text(table, "for", path) if "for" in table else ""
        if "rest" in table:
            rest = self.whole(table["rest"], (*path, "rest"), 1, _MOST_REST, "minutes")
            for key in sorted(table.keys() - {"rest", "for"}):
                self.fault((*path, key), "a rest has nothing but what it is for")
            return WantedStep(path, self._tune(head, path), self._wish(head, ()), name, rest)
        said = [kind for kind in (_WHICH, _HOW_FAST) if not kind.isdisjoint(table)]
        kept = {k: v for k, v in head.items() if not any(k in kind for kind in said)}
        follows, change = (key in table and self.flag(table, key, path) for key in _JOINED)
        if path[-1] == 0 and (follows or change):
            self.fault(path, "the first step has none before it")
        return WantedStep(
            path,
            self._tune({**head, **table}, path if "tune" in table else ()),
            self._wish({**kept, **table}, path),
            name,
            follows=follows or change,
            change=change,
        )

    def _tune(self, table: dict[str, Any], path: KeyPath) -> str:
        """The path of a tune, beside this file or in a folder there."""
        text = self.text(table, "tune", path)
        parts = PurePosixPath(text.replace("\\", "/")).parts
        if not text:
            return ""
        if ".." in parts or text.startswith(("/", "\\", "~")) or ":" in text:
            self.fault((*path, "tune"), "a tune lies beside this file, or in a folder there")
        elif text.lower().endswith(SUFFIX):
            self.fault(
                (*path, "tune"), "a practice file is no tune; name an ABC, MusicXML or MIDI file"
            )
        return text

    # -- options -------------------------------------------------------------------------

    def _wish(self, table: dict[str, Any], path: KeyPath) -> Wish:
        """The options of a table, as they would be typed."""
        given: dict[str, Any] = {}
        for key, value in table.items():
            if key == "number":
                given["number"] = self._typed(value, (*path, key))
            elif key in _OPTIONS:
                given[_OPTIONS[key]] = self._option(_OPTIONS[key], value, (*path, key))
        wish = Wish(**{name: value for name, value in given.items() if value is not None})
        faults = len(self.faults)
        for name, value in wish._asdict().items():
            if name in _ALONE and value:
                self.attempt(lambda one=name: _ALONE[one](wish), (*path, name.replace("_", "-")))
        if len(self.faults) == faults and path:
            self.attempt(lambda: step_of(wish), path)
        return wish

    def _option(self, name: str, value: object, path: KeyPath) -> object:
        kind = _KINDS[name]
        if kind is bool:
            if isinstance(value, bool):
                return value
            self.fault(path, f"expected true or false, got {shown(value)}")
            return None
        if kind is list:
            return [
                self._typed(each, path) for each in (value if isinstance(value, list) else [value])
            ]
        if issubclass(kind, StrEnum):
            word = self.word(value, path, [each.value for each in kind])
            return kind(word) if word else None
        return self._typed(value, path)

    def _typed(self, value: object, path: KeyPath) -> str:
        """A value as it would be typed."""
        if isinstance(value, str):
            return value
        if isinstance(value, int | Fraction) and not isinstance(value, bool):
            return f"{float(value):g}" if isinstance(value, Fraction) else str(value)
        self.fault(path, f'expected a text in "quotes" or a number, got {shown(value)}')
        return ""

    def attempt(self, read: Any, path: KeyPath) -> None:
        """Keep what is not understood as a fault."""
        try:
            read()
        except BackingError as error:
            self.fault(path, in_file(error))


#: Keys that say what is played, and how fast: one of them in a step stands for all that are
#: for every step.
_WHICH = frozenset({"bars", "part", "ending", "join"})
_HOW_FAST = frozenset({"percent", "tempo", "step", "beyond", "down"})
_JOINED = ("follows", "change")


def _kind_of(hint: Any) -> type:
    """What stands at an option: bool, list, one of some words, text."""
    inner = get_args(hint)[0] if get_args(hint) else hint
    found = [each for each in (get_args(inner) or (inner,)) if each is not type(None)]
    if found and isinstance(found[0], type) and issubclass(found[0], (bool, StrEnum)):
        return found[0]
    return list if "list" in str(inner) else str


_KINDS = {name: _kind_of(hint) for name, hint in get_type_hints(Wish, include_extras=True).items()}
#: What reads each option alone, for its faults.
_ALONE: dict[str, Any] = {
    "bars": lambda wish: typed.span(wish.bars, "", ""),
    "join": lambda wish: typed.part_join(wish.join),
    "mute": lambda wish: typed.tracks(wish.mute or ()),
    "tempo": lambda wish: typed.tempo(wish.tempo),
    "percent": lambda wish: (
        typed.ladder(wish.percent, wish.step)
        if typed.is_ladder(wish.percent)
        else typed.share(wish.percent)
    ),
    "times": lambda wish: typed.how_often(wish.times),
    "count_in": lambda wish: typed.whole_number(wish.count_in, "--count-in", "2"),
    "gap": lambda wish: typed.whole_number(wish.gap, "--gap", "1"),
    "every": lambda wish: typed.whole_number(wish.every, "--every", "2"),
    "swing": lambda wish: typed.swing(wish.swing),
    "balance": lambda wish: typed.balance(wish.balance),
    "key": lambda wish: typed.key(wish.key, "--key"),
}


def in_file(error: BackingError) -> str:
    """What is wrong, with options named as a file has them.

    >>> in_file(BackingError("--bars 'x' are no bars", "give bars like 5-6, or 5"))
    "bars 'x' are no bars; give bars like 5-6, or 5"
    """
    said = "; ".join(filter(None, (error.message, error.hint)))
    return re.sub(r"--([a-z])", r"\1", said)
