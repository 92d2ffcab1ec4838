"""A practice made from its file: tunes read, a backing for each way that one is wanted, the steps
put into one plan."""

from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

from backing.cli import typed
from backing.cli.asking import asked_for, build, in_key, step_of
from backing.cli.practice_file import PRACTICE_FILE, PracticeReader, WantedStep, in_file
from backing.cli.printing import say_notices
from backing.cli.wish import Wish
from backing.data.key_path import KeyPath
from backing.errors import BackingError, Notice, UsageError
from backing.files import Reading, read_tune
from backing.files.toml_files import toml_text
from backing.music.tune import Tune
from backing.practice.backing import Backing, make_backing
from backing.practice.devices import laps_of
from backing.practice.passages import find_bars
from backing.practice.plan import Plan, Step, check_plan, with_first_part
from backing.practice.practice import Practice, change_between, in_a_set

_CHANGE_TIMES = 4


class PracticeRead(NamedTuple):
    """A practice from a file: what was asked for throughout, each tune as it was read, and what
    there is to say."""

    practice: Practice
    wish: Wish
    readings: tuple[Reading, ...]
    notices: tuple[Notice, ...]


def read_practice(path: Path) -> PracticeRead:
    """A practice from its file: every tune read, every step made.

    Raises DataError with every fault at once, each with its place, and FileError.
    """
    reader = PracticeReader(toml_text(path, PRACTICE_FILE), path)
    steps = reader.steps()
    reader.check()
    maker = _PracticeMaker(reader, steps, path.parent)
    practice = maker.practice()
    reader.check()
    return PracticeRead(
        practice, steps[0].wish, tuple(maker.readings.values()), tuple(maker.notices)
    )


def practice_in_a_set(path: Path, wish: Wish) -> Practice:
    """A tune and those that follow it at once, or only the changes between them.

    Raises UsageError where something does not go with a set.
    """
    if wish.bars or wish.part or wish.join or wish.once_to_yourself:
        raise UsageError(
            "a set is of whole tunes", "leave --bars, --part, --join, --once-to-yourself out"
        )
    alone = wish._replace(then=None, changes=False, number="")
    backings = []
    for at, name in enumerate([str(path), *(wish.then or ())]):
        file, _, number = name.rpartition("#") if at and "#" in name else (name, "", "")
        asked = alone._replace(number=number or ("" if at else wish.number))
        backings.append(build(Path(file), asked)[1])
    steps = [each.plan.steps[-1]._replace(piece=at) for at, each in enumerate(backings)]
    if wish.changes:
        times = int(wish.times) if wish.times.isdigit() else _CHANGE_TIMES
        steps = [
            step
            for (before, one), (after, two) in pairwise(zip(steps, backings, strict=True))
            for step in change_between(before, after, (one.tune, two.tune), times=times)
        ]
    else:
        steps = in_a_set(steps)
    title = ", then ".join(backing.arrangement.title for backing in backings)
    return Practice(title, tuple(backings), Plan(tuple(steps)))


def practice_at(path: Path, wish: Wish) -> Practice:
    """The practice of a file; what is odd about it, or about a tune, is said.

    Raises UsageError where more was typed than how it is tuned: the rest stands in the file.
    """
    if wish != Wish(a4=wish.a4, tremolo=wish.tremolo):
        raise UsageError(
            "a practice file says itself what is played",
            "change it there; here go -o, --a4, --tremolo, and ports and pedals",
        )
    read = read_practice(path)
    for reading in read.readings:
        say_notices((*reading.notices, *reading.tune.notices), reading.name)
    say_notices(read.notices)
    return read.practice


class _PracticeMaker:
    """Reads the tunes of a practice and makes a backing for each way that one is wanted."""

    def __init__(self, reader: PracticeReader, steps: list[WantedStep], folder: Path) -> None:
        self._reader, self._steps, self._folder = reader, steps, folder
        self.readings: dict[tuple[str, ...], Reading] = {}
        self.notices: list[Notice] = []
        self._failed: set[tuple[str, ...]] = set()

    def practice(self) -> Practice:
        """All of it; where there are faults they are kept, and the practice is none."""
        groups: dict[tuple[str, Wish], list[Step]] = {}
        placed: list[tuple[tuple[str, Wish], WantedStep, Step]] = []
        tunes: dict[tuple[str, Wish], Tune] = {}
        for wanted in self._steps:
            piece = (wanted.tune, _of_the_piece(wanted.wish))
            tune = tunes.get(piece) or self._tune(wanted)
            if tune is None:
                continue
            tunes[piece] = tune
            step = Step(rest=wanted.rest * 60) if wanted.rest else step_of(wanted.wish)
            step = step._replace(name=wanted.name)
            self._reader.attempt(lambda t=tune, s=step: _check(s, t), wanted.path)
            groups.setdefault(piece, []).append(step)
            placed.append((piece, wanted, step))
        backings: dict[tuple[str, Wish], Backing] = {}
        if not self._reader.faults:
            for piece, found in groups.items():
                first = next(wanted for one, wanted, _ in placed if one == piece)
                self._reader.attempt(
                    lambda p=piece, f=found: backings.__setitem__(p, self._made(p, tunes[p], f)),
                    first.path,
                )
        self._reader.check()
        numbers = {piece: number for number, piece in enumerate(groups)}
        for backing in backings.values():
            self.notices += [each for each in backing.notices if each not in self.notices]
        plan = Plan(tuple(self._in_order(placed, numbers, tunes)))
        return Practice(self._reader.title, tuple(backings.values()), plan)

    def _tune(self, wanted: WantedStep) -> Tune | None:
        """The tune of a step, in its key."""
        wish = wanted.wish
        known = (wanted.tune, wish.number, wish.voice, f"{wish.metre} {wish.beat}")
        if known in self._failed:
            return None
        try:
            if known not in self.readings:
                path = self._folder / wanted.tune
                told = typed.played_as(wish.metre, wish.beat)
                self.readings[known] = read_tune(path, wish.number, voice=wish.voice, told=told)
            tune = self.readings[known].tune
            return in_key(tune, wish.key) if wish.key else tune
        except BackingError as error:
            self._failed.add(known)
            where = wanted.path if "tune" in _table(self._reader.data, wanted.path) else ()
            self._reader.fault((*where, "tune"), in_file(error))
            return None

    def _made(self, piece: tuple[str, Wish], tune: Tune, steps: list[Step]) -> Backing:
        asked = asked_for(piece[1])
        sounding = tuple(step for step in steps if not step.rest) or (Step(),)
        return make_backing(tune, asked._replace(plan=Plan(sounding)))

    def _in_order(
        self,
        placed: list[tuple[tuple[str, Wish], WantedStep, Step]],
        numbers: dict[tuple[str, Wish], int],
        tunes: dict[tuple[str, Wish], Tune],
    ) -> list[Step]:
        """The steps of the plan, those that follow at once led into."""
        found: list[Step] = []
        before: tuple[Step, Tune] | None = None
        for piece, wanted, asked in placed:
            tune = tunes[piece]
            times = asked.times
            if not asked.rest and not wanted.change:
                times = times or laps_of(asked, tune).rounds
            step = asked._replace(piece=numbers[piece], times=times)
            if wanted.change and before:
                both = (before[1], tune)
                found += change_between(before[0], step, both, times=times or _CHANGE_TIMES)
            else:
                steps = [step]
                if wanted.wish.once_to_yourself:
                    steps = list(with_first_part(Plan((step,)), tune).steps)
                if wanted.follows and found:
                    steps = in_a_set([found.pop(), *steps])
                found += steps
            before = (step, tune)
        return found


def _table(data: dict[str, Any], path: KeyPath) -> dict[str, Any]:
    """The table of a step in the file."""
    found: Any = data
    for key in path:
        found = found[key]
    return dict(found)


#: Options that are a step's own; the others make another backing.
_OF_THE_STEP = (
    "bars", "part", "ending", "join", "edges", "mute", "percent", "tempo", "times", "lead_in",
    "close", "pickup", "count_in", "click", "step", "beyond", "down", "echo", "gap", "grow",
    "less_help", "left_hand_stages", "every", "ears",
)  # fmt: skip


def _of_the_piece(wish: Wish) -> Wish:
    """What of a wish makes its backing another one."""
    return wish._replace(**{name: Wish._field_defaults[name] for name in _OF_THE_STEP})


def _check(step: Step, tune: Tune) -> None:
    """Raise PracticeError where a step cannot be played from its tune."""
    if step.rest:
        return
    find_bars(tune, step.span)
    check_plan(Plan((step,)), (tune,))
    laps_of(step, tune)
