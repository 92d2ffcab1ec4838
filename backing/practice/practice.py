"""A practice of several steps, perhaps of several tunes: each tune's backing, and one plan."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import Role
from backing.errors import PracticeError
from backing.music.tune import Tune
from backing.music.unfold import unfold
from backing.practice.backing import Backing
from backing.practice.course import Course
from backing.practice.devices import laps_of
from backing.practice.passages import Bars
from backing.practice.performance import Performance, balanced, walked
from backing.practice.plan import LeadIn, Plan, Step
from backing.practice.rounds import Piece
from backing.practice.route import check_route


class Practice(NamedTuple):
    """What is practised: the backings of its tunes, and the steps, each with the number of its
    tune among them.  `title` is what it is called."""

    title: str
    backings: tuple[Backing, ...]
    plan: Plan

    @property
    def first(self) -> Backing:
        """The tune that comes first."""
        return self.backings[self.plan.steps[0].piece]

    @property
    def others(self) -> tuple[Piece, ...]:
        """The further tunes, as a course takes them."""
        return tuple(Piece(backing.faces, backing.tune) for backing in self.backings[1:])


def practice_of(backing: Backing) -> Practice:
    """A tune alone, practised as its plan says."""
    return Practice(backing.arrangement.title, (backing,), backing.plan)


def course_of(practice: Practice, *, endless: bool = False) -> Course:
    """The walk of a practice.  Raises PracticeError where a step cannot be played."""
    first = practice.backings[0]
    return Course(first.faces, first.tune, practice.plan, others=practice.others, endless=endless)


def checked_course(practice: Practice) -> Course:
    """The walk of a practice to its end.

    Raises PracticeError where a step cannot be played, or all of them take too long.
    """
    course = course_of(practice)
    check_route(course)
    return course


def performance_of_practice(practice: Practice, course: Course | None = None) -> Performance:
    """The whole practice laid end to end, at the volumes of its first tune; rests are left out.

    `course` is its walk, where there is one that has not begun.  Raises PracticeError where it
    cannot be played so slowly, so fast, or so long.
    """
    performance = walked(course or course_of(practice), rests=False)
    return balanced(performance._replace(title=practice.title), practice.backings[0].volumes)


# -- sets --------------------------------------------------------------------------------


def in_a_set(steps: Sequence[Step]) -> list[Step]:
    """Steps one after the other without a stop: only the first is counted in."""
    last = len(steps) - 1
    return [
        step._replace(goes_on=at < last, count_in=step.count_in if at == 0 else 0)
        for at, step in enumerate(steps)
    ]


def change_between(
    before: Step,
    after: Step,
    tunes: tuple[Tune, Tune],
    *,
    bars: int = 2,
    times: int | None = None,
) -> list[Step]:
    """The change from one tune into the next: the last bars of the one as it is played, and the
    first of the other, so many times (None: as often as its devices take, or four times).

    What is asked of the second goes for both, but a tempo in beats, which is its own.  A ladder,
    less help and the left hand's stages go on from one time to the next; an echo is the whole
    change without the melody.  Raises PracticeError where it should grow.
    """
    if after.grow:
        raise PracticeError("a change does not grow", "leave out that it grows")
    tail, head = _last_bars(tunes[0], bars), _first_bars(tunes[1], bars)
    laps = laps_of(after._replace(span=head), tunes[1])
    steps: list[Step] = []
    for time in range(1, (times or max(laps.rounds, _CHANGES)) + 1):
        lap = laps.at(time)
        for echo in (False, True) if after.echo else (False,):
            muted = after.muted | lap.muted | (_MELODY if echo else frozenset())
            step = after._replace(
                span=head, tempo=lap.tempo, muted=muted, times=1, each=0, ladder=(), echo=False,
                gap=0, less_help=False, hands=False, edges=False, more=True,
            )  # fmt: skip
            shared = isinstance(lap.tempo, Fraction)
            led = step._replace(
                piece=before.piece,
                span=tail,
                tempo=lap.tempo if shared else before.tempo,
                goes_on=True,
                more=bool(steps),
            )
            steps += [led, step._replace(count_in=0, lead_in=LeadIn.CLICKS)]
    return steps


#: Twice may be chance; so often a change is practised.
_CHANGES = 4
_MELODY = frozenset({Role.MELODY})


def _last_bars(tune: Tune, count: int) -> Bars:
    """The last full bars that a tune plays in a row, with the ending that they are in."""
    found = [tune.bars[each.index] for each in unfold(tune)]
    last = [bar for bar in found if not bar.begins][-count:]
    ending = max((n for bar in last if bar.ending for n in bar.ending.numbers), default=None)
    numbers = [bar.number for bar in last]
    while numbers[0] > numbers[-1]:
        numbers.pop(0)
    return Bars(numbers[0], numbers[-1], ending)


def _first_bars(tune: Tune, count: int) -> Bars:
    numbers = [bar.number for bar in tune.bars if not bar.begins][:count]
    return Bars(numbers[0], numbers[-1])
