"""What to practise, as a value: which bars, how fast, how often, what is muted."""

from collections.abc import Sequence
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from backing.arranging.arrangement import Arrangement, Role
from backing.errors import PracticeError
from backing.music.tempo import FASTEST, SLOWEST, FeltBeats, Tempo
from backing.music.tune import Tune
from backing.music.unfold import unfold
from backing.practice.passages import Bars, OneSection, Passage, Whole, endings_of, find_bars

MOST_TIMES, MOST_COUNT_IN = 1000, 64
#: Quarter notes a minute that a MIDI file can hold (24 bits of microseconds) and a player use.
_SLOWEST_QUARTERS, _FASTEST_QUARTERS = 4, 1600


class LeadIn(StrEnum):
    """What comes before the tune."""

    CLICKS = "clicks"
    HELD = "held"
    CHORDS = "chords"
    TUNE = "tune"


class Close(StrEnum):
    """How the last time through ends."""

    STOP = "stop"
    HELD = "held"
    TAG = "tag"
    SLOW = "slow"


class Click(StrEnum):
    """What the click gives: every felt beat; its parts too; only what lies between the beats;
    beats in every other bar; beats in two bars, then two bars of silence, by turns."""

    BEATS = "beats"
    SUBDIVIDED = "subdivided"
    OFF_BEATS = "off-beats"
    EVERY_OTHER_BAR = "every-other-bar"
    BY_TURNS = "by-turns"


class Grow(StrEnum):
    """How a loop grows from round to round: by a bar on each side; by what is left of the phrase,
    then by the phrase on each side; from its end backwards, by a phrase, in a phrase by a bar."""

    BAR = "bar"
    PHRASE = "phrase"
    BACKWARDS = "backwards"


class Ears(StrEnum):
    """In which ear the tune sounds, the left hand in the other; both as usual."""

    LEFT = "left"
    RIGHT = "right"
    BOTH = "both"


class Step(NamedTuple):
    """One thing to practise.

    `tempo` is a tempo, felt beats a minute (10 to 400), or a factor of the tune's own (3/5
    is 60 per cent).  `times` is how often the span sounds (1 to 1000; None: as often as its
    devices take, once without any), after `count_in` bars of clicks (0 to 64; None: as many as
    make four felt beats).  `muted` tracks are silent.
    With `echo` each time is followed by one without the melody, for the player to answer;
    `gap` bars of clicks (0 to 64) come between one time and the next.  `whole_pickup` plays
    the pickup whole each time, also where the last bar has no room for it.  `lead_in` says
    what comes before it, `close` how its last time ends (bars alone never close).  Where it
    `goes_on` it does not stop: the next step follows at once.  `each` is how many bars one time
    through must have (0: any).  `click` is what the click gives (None: the beats, subdivided
    below 45 felt beats a minute).

    Devices change something every so many rounds (`every`, 1 to 1000), and stay with the last:
    `ladder` are the tempi of the rounds, as factors; the span may `grow`, to its whole section at
    most; with `less_help` first the melody leaves, then the chords, then the click; `hands` has
    the bass alone, then the chords alone, then both.  With `edges` the notes that lead into a few
    bars are played too, and the first note after them.  `ears` parts the tune and the left hand.

    `piece` is the number of its tune where a practice has several, from 0; `name` says what the
    step is for.  A step of `rest` (seconds) is silent, and nothing else.  One that is `more` of the
    step before it is no step of its own to a player.
    """

    span: Passage = Whole()
    tempo: Tempo | FeltBeats | Fraction = Fraction(1)
    times: int | None = None
    muted: frozenset[Role] = frozenset()
    count_in: int | None = None
    echo: bool = False
    gap: int = 0
    whole_pickup: bool = False
    lead_in: LeadIn = LeadIn.CLICKS
    close: Close = Close.STOP
    goes_on: bool = False
    each: int = 0
    click: Click | None = None
    ladder: tuple[Fraction, ...] = ()
    every: int = 1
    grow: Grow | None = None
    less_help: bool = False
    hands: bool = False
    edges: bool = False
    ears: Ears | None = None
    piece: int = 0
    name: str = ""
    rest: int = 0
    more: bool = False


class Plan(NamedTuple):
    """A practice: its steps, one after the other."""

    steps: tuple[Step, ...] = (Step(),)

    @property
    def starts(self) -> tuple[int, ...]:
        """The numbers of the steps, from 0, that a player knows as such."""
        return tuple(at for at, step in enumerate(self.steps) if not step.more)


def with_first_part(plan: Plan, tune: Tune) -> Plan:
    """The plan with the first part of the tune before it, "once to yourself": dancers hear it
    once and begin with what follows, without a stop between."""
    first, name = plan.steps[0], tune.sections[0].name
    part = OneSection(name, min(endings_of(tune, name), default=None))
    once = first._replace(
        span=part, times=1, goes_on=True, each=0, ladder=(), grow=None, less_help=False, hands=False
    )
    dance = first._replace(count_in=0, lead_in=LeadIn.CLICKS)
    return Plan((once, dance, *plan.steps[1:]))


def check_plan(plan: Plan, tunes: Sequence[Tune]) -> None:
    """Raise PracticeError where a step cannot be played from its tune."""
    for step in plan.steps:
        tune = tunes[step.piece]
        find_bars(tune, step.span)
        if step.times is not None and not 1 <= step.times <= MOST_TIMES:
            raise PracticeError(f"{step.times} times", f"give 1 to {MOST_TIMES}")
        if not 1 <= step.every <= MOST_TIMES:
            raise PracticeError(f"every {step.every} rounds", f"give 1 to {MOST_TIMES}")
        if step.count_in is not None and not 0 <= step.count_in <= MOST_COUNT_IN:
            raise PracticeError(
                f"a count-in of {step.count_in} bars", f"give 0 to {MOST_COUNT_IN} bars"
            )
        if step.edges and not isinstance(step.span, Bars):
            raise PracticeError(
                "what leads in, and the first note after, are played of a few bars",
                "say which: bars 5-6",
            )
        if step.each:
            _check_bars(tune, step)
        if not 0 <= step.gap <= MOST_COUNT_IN:
            raise PracticeError(f"a gap of {step.gap} bars", f"give 0 to {MOST_COUNT_IN} bars")


def _check_bars(tune: Tune, step: Step) -> None:
    """Dancers count bars: once through the tune must have as many as they are told."""
    played = sum((tune.bars[played.index].length for played in unfold(tune)), Fraction(0))
    bars = round(played / tune.metre.length) if tune.metre.length else 0
    if bars != step.each:
        raise PracticeError(
            f"{step.times} times {step.each} bars: the tune has {bars} bars once through",
            f"choose a tune with {step.each} bars, or say how often: --times {step.times}",
        )


def check_tempo(tempo: Tempo) -> None:
    """Raise PracticeError where a tempo is too slow or too fast to practise at."""
    if not SLOWEST <= tempo.beats <= FASTEST:
        raise PracticeError(
            f"the tempo would be {tempo}", f"give {SLOWEST} to {FASTEST} beats a minute"
        )
    check_speed(tempo)


def check_speed(tempo: Tempo) -> None:
    """Raise PracticeError where a tempo, perhaps later in the tune, cannot be written."""
    if not _SLOWEST_QUARTERS <= tempo.wholes * 4 <= _FASTEST_QUARTERS:
        raise PracticeError(
            f"the tempo would be {tempo} somewhere in the tune", "choose one nearer to its own"
        )


def check_speeds(piece: Arrangement, factor: Fraction) -> None:
    """Raise PracticeError where a piece so scaled is too slow or too fast, at its start or
    later."""
    check_tempo(piece.tempo_at(Fraction(0)).scaled(factor))
    for placed in piece.tempos:
        check_speed(placed.tempo.scaled(factor))


def scale_of(piece: Arrangement, tempo: Tempo | FeltBeats | Fraction) -> Fraction:
    """How a tempo scales every tempo of a piece, whose own is that of its start."""
    if isinstance(tempo, Fraction):
        return tempo
    own = piece.tempo_at(Fraction(0))
    return tempo.in_unit(own.unit).wholes / own.wholes
