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
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from fractions import Fraction
from pathlib import Path, PurePosixPath
from typing import Any, NamedTuple, get_args, get_type_hints

from backing.cli import typed
from backing.cli.asking import a4_of, step_of, tremolo_of
from backing.cli.wish import Wish
from backing.data.file_kind import FileKind
from backing.data.key_path import KeyPath, shown
from backing.data.reader import DataReader
from backing.errors import BackingError, DataError
from backing.files import load_style
from backing.files.boxes import load_box
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
_NAMES = ("practice", "melody", "step")
_HEAD = ("practice", "tune", "number", "melody", "step", *_OPTIONS)
_STEP = (
    "for", "tune", "number", "follows", "change", "rest",
    *(name for name in _OPTIONS if name not in _FOR_ALL),
)  # fmt: skip
_MOST_STEPS, _MOST_REST = 200, 60


class WantedStep(NamedTuple):
    """A step as the file has it: its place, its tune's file and number in a book, its options as
    they would be typed, what it is for, minutes of rest; whether it follows at once, and whether
    only the change into it is wanted.  One that is not `sound` has faults that were kept."""

    path: KeyPath
    tune: str
    wish: Wish
    name: str = ""
    rest: int = 0
    follows: bool = False
    change: bool = False
    sound: bool = True


class PracticeReader(DataReader):
    """Checks a practice file key by key and keeps every fault."""

    kind = PRACTICE_FILE

    def __init__(self, text: str, path: Path) -> None:
        super().__init__(text, path.name)
        self._folder = path.parent
        self.title = self.text(self.data, "practice") if "practice" in self.data else ""
        if next(iter(self.data), "practice") != "practice" or not self.data:
            self.fault(("practice",), 'is the first key of a practice file: practice = "its name"')

    @property
    def melody(self) -> str:
        """The mark that the tune had when the file was written; "" where none was noted."""
        return self.text(self.data, "melody") if "melody" in self.data else ""

    @property
    def tuning(self) -> Wish:
        """How the whole practice is tuned."""
        return self._wish({key: self.data[key] for key in ("a4", "tremolo") if key in self.data})

    def steps(self) -> list[WantedStep]:
        """All steps."""
        self.known(self.data, (), _HEAD)
        head = {key: value for key, value in self.data.items() if key not in _NAMES}
        example = "tables [[step]]"
        found = self.tables(self.data, "step", (), example)
        if len(found) > _MOST_STEPS:
            self.fault(("step",), f"{len(found)} steps; up to {_MOST_STEPS} are possible")
            return []
        faulty = self._check_options(head, ())
        head = {key: value for key, value in head.items() if key not in faulty}
        return [self._step(path, table, head) for path, table in found]

    def _step(self, path: KeyPath, table: dict[str, Any], head: dict[str, Any]) -> WantedStep:
        before = len(self.faults)
        self._check_keys(table, path)
        name = self.text(table, "for", path) if "for" in table else ""
        if "rest" in table:
            rest = self.whole(table["rest"], (*path, "rest"), 1, _MOST_REST, "minutes")
            for key in sorted(table.keys() - {"rest", "for"}):
                self.fault((*path, key), "a rest has nothing but what it is for")
            return WantedStep(path, "", Wish(), name, rest)
        said = [kind for chosen, kind in _KINDS_OF_KEYS if not chosen.isdisjoint(table)]
        kept = {k: v for k, v in head.items() if not any(k in kind for kind in said)}
        follows, change = (key in table and self.flag(table, key, path) for key in _JOINED)
        for key in _JOINED:
            if table.get(key):
                self._check_joined((*path, key))
        if change and not _WHICH.isdisjoint(table):
            self.fault(path, "a change has bars of its own; leave bars, part, ending, join out")
        self._check_options(table, path)
        whole = {**kept, **table}
        tune = self._tune({**head, **table}, () if "tune" in head.keys() - table.keys() else path)
        wish = self._wish(whole)
        if len(self.faults) == before:
            with self.keeping(path):
                step_of(wish)
        sound = len(self.faults) == before
        return WantedStep(path, tune, wish, name, 0, follows or change, change, sound)

    def _check_keys(self, table: dict[str, Any], path: KeyPath) -> None:
        """A fault for every key that a step cannot have."""
        for key in [key for key in table if key in _FOR_ALL]:
            self.fault((*path, key), "is for the whole practice; write it above the first [[step]]")
        self.known({k: v for k, v in table.items() if k not in _FOR_ALL}, path, _STEP)

    def _check_joined(self, path: KeyPath) -> None:
        """A fault for a step that can follow none."""
        steps, at = self.data["step"], int(path[1])
        if not at:
            self.fault(path, "the first step has none before it")
        elif isinstance(steps[at - 1], dict) and "rest" in steps[at - 1]:
            self.fault(path, "a rest is before it; what follows a rest is counted in")

    def _tune(self, table: dict[str, Any], path: KeyPath) -> str:
        """The path of a tune, beside this file or in a folder there; nothing at a fault."""
        text = self.text(table, "tune", path)
        if not text:
            return ""
        if _outside(text) or ":" in text:
            self.fault((*path, "tune"), "a tune lies beside this file, or in a folder there")
        elif text.lower().endswith(SUFFIX):
            self.fault(
                (*path, "tune"), "a practice file is no tune; name an ABC, MusicXML or MIDI file"
            )
        else:
            return text
        return ""

    # -- options -------------------------------------------------------------------------

    def _wish(self, table: dict[str, Any]) -> Wish:
        """The options of a table, as they would be typed; those with faults are left out."""
        kept = len(self.faults)
        given: dict[str, Any] = {
            _OPTIONS.get(key, key): self._option(_OPTIONS.get(key, key), value, ())
            for key, value in table.items()
            if key in _OPTIONS or key == "number"
        }
        del self.faults[kept:]
        return Wish(**{name: value for name, value in given.items() if value is not None})

    def _check_options(self, table: dict[str, Any], path: KeyPath) -> set[str]:
        """A fault for every option that cannot be understood by itself; their keys."""
        faulty: set[str] = set()
        for key, given in table.items():
            name, faults = _OPTIONS.get(key, key), len(self.faults)
            if key not in _OPTIONS and key != "number":
                continue
            value: Any = self._option(name, given, (*path, key))
            if value and name in _ALONE and len(self.faults) == faults:
                with self.keeping((*path, key)):
                    _ALONE[name](Wish()._replace(**{name: value}))
            if len(self.faults) > faults:
                faulty.add(key)
        return faulty

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
            files = _FILES.findall(value)
            if any(map(_outside, files)):
                self.fault(path, "a file of yours lies beside this one, or in a folder there")
            return _FILES.sub(lambda file: str(self._folder / file[0]), value)
        if isinstance(value, int | Fraction) and not isinstance(value, bool):
            return f"{float(value):g}" if isinstance(value, Fraction) else str(value)
        self.fault(path, f'expected a text in "quotes" or a number, got {shown(value)}')
        return ""

    @contextmanager
    def keeping(self, path: KeyPath) -> Iterator[None]:
        """What is found wrong inside is kept as a fault at this place."""
        try:
            yield
        except BackingError as error:
            self.fault(path, in_file(error))


#: Keys that say what is played, and how fast: where a step has one of the first, none of the
#: second that are for every step go for it.
_WHICH = frozenset({"bars", "part", "join"})
_SPEED = frozenset({"percent", "tempo"})
_KINDS_OF_KEYS = (
    (_WHICH, _WHICH | {"ending", "edges"}),
    (_SPEED, _SPEED | {"step", "beyond", "down"}),
)
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
        typed.ladder(wish.percent, "")
        if typed.is_ladder(wish.percent)
        else typed.share(wish.percent)
    ),
    "step": lambda wish: typed.per_cent_more(wish.step, "--step"),
    "beyond": lambda wish: typed.per_cent_more(wish.beyond, "--beyond"),
    "times": lambda wish: typed.how_often(wish.times),
    "count_in": lambda wish: typed.whole_number(wish.count_in, "--count-in", "2"),
    "gap": lambda wish: typed.whole_number(wish.gap, "--gap", "1"),
    "every": lambda wish: typed.whole_number(wish.every, "--every", "2"),
    "swing": lambda wish: typed.swing(wish.swing),
    "balance": lambda wish: typed.balance(wish.balance),
    "key": lambda wish: typed.key(wish.key, "--key"),
    "ending": lambda wish: typed.whole_number(wish.ending, "--ending", "2"),
    "style": lambda wish: typed.styles(wish.style, load_style),
    "box": lambda wish: load_box(wish.box),
    "dance": lambda wish: typed.dance(wish.dance),
    "metre": lambda wish: typed.played_as(wish.metre, ""),
    "beat": lambda wish: typed.played_as("", wish.beat),
    "a4": a4_of,
    "tremolo": tremolo_of,
}


#: Names of files of a player's own in an option: styles, a box, costs.
_FILES = re.compile(rf"[^\s,:;][^,:;]*{re.escape(SUFFIX)}\b", re.IGNORECASE)


def _outside(name: str) -> bool:
    """True for a file that lies neither beside a practice file nor in a folder there, or that is
    none: standard input, a name with signs that no name has."""
    parts = PurePosixPath(name.replace("\\", "/")).parts
    odd = name == "-" or not name.isprintable()
    return odd or ".." in parts or name.startswith(("/", "\\", "~"))


def in_file(error: BackingError) -> str:
    """What is wrong, with options named as a file has them.

    >>> in_file(BackingError("--bars 'x' are no bars", "give bars like 5-6, or 5"))
    "bars 'x' are no bars; give bars like 5-6, or 5"
    """
    said = "; ".join(filter(None, (error.message, error.hint)))
    return re.sub(r"--([a-z])", r"\1", said)
