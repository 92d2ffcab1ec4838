"""A practice made from its file: tunes read, a backing for each way that one is wanted, the steps
put into one plan."""

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from backing.cli import typed
from backing.cli.asking import asked_for, build, in_key, span_of, step_of
from backing.cli.practice_file import PRACTICE_FILE, PracticeReader, WantedStep, in_file
from backing.cli.printing import say_notices, say_reading
from backing.cli.wish import Wish
from backing.errors import BackingError, Notice, UsageError
from backing.files import Reading, read_tune
from backing.files.toml_files import toml_text
from backing.language.tables import ENGLISH
from backing.music.melody_mark import melody_mark
from backing.music.saying import Fact, said_in, title_said
from backing.music.tune import Tune
from backing.practice.backing import Backing, make_backing
from backing.practice.course import Course
from backing.practice.devices import with_times
from backing.practice.passages import find_bars
from backing.practice.plan import Plan, Step, check_plan, with_first_part
from backing.practice.practice import Practice, change_between, checked_course, course_of, in_a_set


class PracticeAsked(NamedTuple):
    """A practice that was asked for, its walk, which has not begun, and how it is tuned."""

    practice: Practice
    course: Course
    tuning: Wish


class PracticeRead(NamedTuple):
    """A practice from a file: its walk, how it is tuned, each tune as it was read, and
    what there is to say."""

    practice: Practice
    course: Course
    tuning: Wish
    readings: tuple[Reading, ...]
    notices: tuple[Notice, ...]

    def tuned(self, wish: Wish) -> Wish:
        """How it is tuned: as was typed, else as the file says."""
        a4, tremolo = wish.a4 or self.tuning.a4, wish.tremolo or self.tuning.tremolo
        return Wish(a4=a4, tremolo=tremolo)


_CHANGED = Notice(
    "the tune has changed since this practice file was written: its bars may be others now",
    "look through the steps, and take the line with melody out; or make the plan anew",
)


def read_practice(path: Path) -> PracticeRead:
    """A practice from its file: every tune read, every step made.

    Raises DataError with every fault at once, each with its place, and FileError.
    """
    reader = PracticeReader(toml_text(path, PRACTICE_FILE), path)
    maker = _PracticeMaker(reader, reader.steps(), path.parent)
    practice, course = maker.practice()
    readings, notices = tuple(maker.readings.values()), tuple(maker.notices)
    if reader.melody and reader.melody not in {melody_mark(each.tune) for each in readings}:
        notices = (_CHANGED, *notices)
    return PracticeRead(practice, course, reader.tuning, readings, notices)


def practice_in_a_set(path: Path, wish: Wish, language: str = ENGLISH) -> PracticeAsked:
    """A tune and those that follow it at once, or only the changes between them; called what it is
    in one of the LANGUAGES.

    Raises UsageError where something does not go with a set, PracticeError where it cannot be
    played.
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
        times = typed.how_often(wish.times)[0] if wish.times else None
        steps = [
            step
            for (before, one), (after, two) in pairwise(zip(steps, backings, strict=True))
            for step in change_between(before, after, (one.tune, two.tune), times=times)
        ]
    else:
        steps = in_a_set(steps)
    joint = "into" if wish.changes else "then"
    title, *others = (title_said(backing.arrangement.title, language) for backing in backings)
    for other in others:
        title = said_in(Fact(joint, {"tune": title, "next": other}), language)
    practice = Practice(title, tuple(backings), Plan(tuple(steps)))
    return PracticeAsked(practice, course_of(practice), wish)


def practice_at(path: Path, wish: Wish) -> PracticeAsked:
    """The practice of a file, tuned as was typed, else as the file says; what is odd about it, or
    about a tune, is said.

    Raises UsageError where more was typed than how it is tuned: the rest stands in the file.
    """
    if wish != Wish(a4=wish.a4, tremolo=wish.tremolo):
        raise UsageError(
            "a practice file says itself what is played",
            "change it there; here go -o, --a4, --tremolo, and ports and pedals",
        )
    read = read_practice(path)
    for reading in read.readings:
        say_reading(reading)
    say_notices(read.notices)
    return PracticeAsked(read.practice, read.course, read.tuned(wish))


_PieceOf = tuple[str, Wish]


class _Placed(NamedTuple):
    """A step of the file as a plan has it, and its tune."""

    wanted: WantedStep
    step: Step
    tune: Tune


class _PracticeMaker:
    """Reads the tunes of a practice and makes a backing for each way that one is wanted."""

    def __init__(self, reader: PracticeReader, steps: list[WantedStep], folder: Path) -> None:
        self._reader, self._steps, self._folder = reader, steps, folder
        self.readings: dict[tuple[str, ...], Reading] = {}
        self.notices: list[Notice] = []
        self._failed: set[tuple[str, ...]] = set()

    def practice(self) -> tuple[Practice, Course]:
        """All of it, and its walk.  Raises DataError with every fault."""
        pieces: dict[_PieceOf, int] = {}
        placed: list[_Placed | Step] = []
        at = 0
        for wanted in self._steps:
            if wanted.rest:
                placed.append(Step(rest=wanted.rest * 60, name=wanted.name, piece=at))
                continue
            found = self._placed(wanted)
            if found:
                piece = (wanted.tune, _of_the_piece(wanted.wish))
                at = pieces.setdefault(piece, len(pieces))
                placed.append(found._replace(step=found.step._replace(piece=at)))
        if self._steps and all(wanted.rest for wanted in self._steps):
            self._reader.fault(("step",), "all steps are rests; add one that is played")
        played = [each for each in placed if isinstance(each, _Placed)]
        backings = [self._made(piece, number, played) for piece, number in pieces.items()]
        steps = self._in_order(placed)
        self._reader.check()
        made = tuple(backing for backing in backings if backing)
        for backing in made:
            self.notices += [each for each in backing.notices if each not in self.notices]
        practice = Practice(self._reader.title, made, Plan(tuple(steps)))
        return practice, self._course(practice, played)

    def _course(self, practice: Practice, played: Sequence[_Placed]) -> Course:
        """Its walk.  Raises DataError where it cannot be played; the steps that are to
        blame are found by trying each alone."""
        try:
            return checked_course(practice)
        except BackingError as error:
            for wanted, step, _ in played:
                with self._reader.keeping(wanted.path):
                    checked_course(practice._replace(plan=Plan((step._replace(goes_on=False),))))
            if not self._reader.faults:
                self._reader.fault(("step",), in_file(error))
            self._reader.check()
            raise

    def _placed(self, wanted: WantedStep) -> _Placed | None:
        """A step with its tune; None where there are faults, which are kept."""
        tune = self._tune(wanted) if wanted.tune else None
        if tune is None:
            return None
        if not wanted.sound:
            with self._reader.keeping(wanted.path):
                find_bars(tune, span_of(wanted.wish))
            return None
        step = step_of(wanted.wish)._replace(name=wanted.name)
        if wanted.change:
            return _Placed(wanted, step, tune)
        with self._reader.keeping(wanted.path):
            return _Placed(wanted, _with_times(step, tune), tune)
        return None

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
        except BackingError as error:
            self._failed.add(known)
            self._fault(wanted, ("tune", "number", "voice", "metre", "beat"), error)
            return None
        try:
            return in_key(self.readings[known].tune, wish.key)
        except BackingError as error:
            self._fault(wanted, ("key",), error)
            return None

    def _made(self, piece: _PieceOf, number: int, played: Sequence[_Placed]) -> Backing | None:
        """The backing of a piece, None at a fault."""
        own = next(each for each in played if each.step.piece == number)
        try:
            plan = Plan((Step(tempo=own.step.tempo),))
            return make_backing(own.tune, asked_for(piece[1])._replace(plan=plan))
        except BackingError as error:
            self._fault(own.wanted, ("style", "box", "profile", "chords", "dance"), error)
            return None

    def _fault(self, wanted: WantedStep, keys: Sequence[str], error: BackingError) -> None:
        """Keep a fault at the first of these keys that the step has, else the file."""
        data = self._reader.data
        for path, table in ((wanted.path, data["step"][wanted.path[1]]), ((), data)):
            for key in keys:
                if key in table:
                    self._reader.fault((*path, key), in_file(error))
                    return
        self._reader.fault(wanted.path, in_file(error))

    def _in_order(self, placed: Sequence[_Placed | Step]) -> list[Step]:
        """The steps of the plan, those that follow at once led into."""
        found: list[Step] = []
        before: _Placed | None = None
        for each in placed:
            if isinstance(each, Step):
                found.append(each)
                continue
            wanted, step, tune = each
            if wanted.change and before:
                both = (before.tune, tune)
                with self._reader.keeping(wanted.path):
                    found += change_between(before.step, step, both, times=step.times)
            else:
                steps = [step]
                if wanted.wish.once_to_yourself:
                    steps = list(with_first_part(Plan((step,)), tune).steps)
                if wanted.follows and found:
                    steps = in_a_set([found.pop(), *steps])
                found += steps
            before = each
        return found


#: Options that are a step's own; the others make another backing.
_OF_THE_STEP = (
    "bars", "part", "ending", "join", "edges", "mute", "percent", "tempo", "times", "lead_in",
    "close", "pickup", "count_in", "click", "step", "beyond", "down", "echo", "gap", "grow",
    "less_help", "left_hand_stages", "every", "ears",
)  # fmt: skip


def _of_the_piece(wish: Wish) -> Wish:
    """What of a wish makes its backing another one."""
    return wish._replace(**{name: Wish._field_defaults[name] for name in _OF_THE_STEP})


def _with_times(step: Step, tune: Tune) -> Step:
    """The step with how often it sounds.  Raises PracticeError where it cannot be played."""
    alone = Plan((step._replace(piece=0),))
    check_plan(alone, (tune,))
    return with_times(alone, (tune,)).steps[0]._replace(piece=step.piece)
