"""A practice laid end to end: every event of every track, the bars, the tempi.

This is what files are made from.  Positions are whole notes; the first full bar starts
at 0, count-in and pickup before it are negative.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import chain
from typing import NamedTuple

from backing.arranging.arrange import make_track
from backing.arranging.arrangement import (
    Arrangement,
    Event,
    MappedBar,
    PlacedTempo,
    PlacedText,
    Role,
    Track,
)
from backing.arranging.breathing import BellowsSpan, bellows_between
from backing.arranging.faces import Faces, faces_of
from backing.errors import PracticeError
from backing.music.tune import Tune
from backing.practice.clicks import clicks
from backing.practice.course import Course
from backing.practice.devices import differs
from backing.practice.plan import MOST_TIMES, Close, Ears, LeadIn, Plan, Step, check_plan
from backing.practice.rounds import Piece
from backing.practice.route import check_route, route
from backing.practice.stretch import Kind, Stretch, tempos_of


class PlacedEars(NamedTuple):
    """From where on the tracks sound in which ears."""

    onset: Fraction
    ears: Ears


class Performance(NamedTuple):
    """All that sounds, in musical positions from `start` to `stop`.

    `bars` lie end to end; those of a count-in have index -1.  `markers` name the
    count-in, sections, times through, bars and the end; `dance` is the tune's.  `withheld`
    is what tracks that sound now and then would play where they are muted: with it, all is
    there that the loudness of a mix is measured by; `ears` are where they sound, empty where
    nothing was said of it.  `bellows` are the ways that a box's go, in the order in which they
    begin.
    """

    title: str
    start: Fraction
    stop: Fraction
    tracks: tuple[Track, ...]
    bars: tuple[MappedBar, ...]
    tempos: tuple[PlacedTempo, ...]
    markers: tuple[PlacedText, ...] = ()
    chords: tuple[PlacedText, ...] = ()
    notices: tuple[str, ...] = ()
    dance: str = ""
    withheld: tuple[Track, ...] = ()
    ears: tuple[PlacedEars, ...] = ()
    bellows: tuple[BellowsSpan, ...] = ()

    def track(self, role: Role) -> Track:
        """The track of a role."""
        return next(track for track in self.tracks if track.role is role)

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        total = 0.0
        stops = [*(placed.onset for placed in self.tempos[1:]), self.stop]
        for placed, stop in zip(self.tempos, stops, strict=True):
            total += float(60 * (stop - placed.onset) / placed.tempo.wholes)
        return total


def perform(
    arranged: Faces | Arrangement, plan: Plan, tune: Tune, others: Sequence[Piece] = ()
) -> Performance:
    """The whole practice of a plan, flattened; `others` are the further tunes of it.

    Raises PracticeError where the plan cannot be played from the tune.
    """
    return walked(Course(arranged, tune, plan, others=others))


def walked(course: Course, *, rests: bool = True) -> Performance:
    """A course that has not begun, walked to its end and flattened; without `rests` those are
    left out.

    Raises PracticeError where it takes too long.
    """
    check_route(course)
    stretches = list(iter(lambda: course.next(rests=rests), None))
    first = course.pieces[0]
    return _lay_out(first.arrangement, stretches, first.tune)


def perform_seamless(arranged: Faces | Arrangement, step: Step, tune: Tune) -> Performance:
    """A step as a loop without a seam: from its first full bar to where it comes again.

    There is no count-in; the pickup sounds at the end, as it does from the second time on.
    What sounds beyond the end belongs to the beginning.  Raises PracticeError.
    """
    check_plan(Plan((step,)), (tune,))
    if differs(step):
        raise PracticeError(
            "a loop without a seam is the same each time round",
            "leave out what changes from round to round",
        )
    times = step.times or 1
    if times == MOST_TIMES:
        raise PracticeError(f"{step.times} times in a loop", "once will do: a loop has no end")
    plain = step._replace(count_in=0, lead_in=LeadIn.CLICKS, close=Close.STOP)
    more = plain._replace(times=times + 1)
    stretches = [stretch._replace(times=times) for stretch in route(arranged, Plan((more,)), tune)]
    again = next(s for s in stretches if s.kind is Kind.PLAY and s.time > times)
    whole = len(again.frame) == len(stretches[0].frame)
    start = stretches[0].start if whole else Fraction(0)
    return _between(_lay_out(faces_of(arranged)(), stretches, tune), start, again.start)


def _between(performance: Performance, start: Fraction, stop: Fraction) -> Performance:
    """What begins between two positions."""

    def inside(text: PlacedText) -> bool:
        return start <= text.onset < stop

    def within(tracks: tuple[Track, ...]) -> tuple[Track, ...]:
        return tuple(
            track._replace(events=tuple(e for e in track.events if start <= e.onset < stop))
            for track in tracks
        )

    before = [tempo for tempo in performance.tempos if tempo.onset <= start]
    after = [tempo for tempo in performance.tempos if start < tempo.onset < stop]
    return performance._replace(
        start=start,
        stop=stop,
        tracks=within(performance.tracks),
        withheld=within(performance.withheld),
        bars=tuple(bar for bar in performance.bars if start <= bar.onset < stop),
        tempos=(before[-1]._replace(onset=start), *after),
        markers=tuple(filter(inside, performance.markers)),
        chords=tuple(filter(inside, performance.chords)),
        ears=tuple(each._replace(onset=max(each.onset, start)) for each in performance.ears),
        bellows=tuple(bellows_between(performance.bellows, start, stop)),
    )


def _lay_out(arrangement: Arrangement, stretches: list[Stretch], tune: Tune) -> Performance:
    halves = [_flatten(track, place, stretches) for place, track in enumerate(arrangement.tracks)]
    halves.append(_click_track(stretches))
    return Performance(
        title=arrangement.title,
        start=stretches[0].start,
        stop=stretches[-1].stop,
        tracks=tuple(sounds for sounds, _ in halves),
        bars=tuple(bar for stretch in stretches for bar in stretch.frame),
        tempos=tuple(tempos_of(stretches)),
        markers=tuple(_markers(stretches)),
        chords=tuple(
            text for stretch in stretches if stretch.sounding for text in stretch.sounding.chords()
        ),
        notices=tuple(notice for stretch in stretches for notice in stretch.notices),
        dance=tune.dance,
        withheld=tuple(rest for _, rest in halves if rest.events),
        ears=tuple(_ears(stretches)),
        bellows=tuple(span for stretch in stretches for span in stretch.bellows()),
    )


def _ears(stretches: list[Stretch]) -> Iterator[PlacedEars]:
    """Where the tracks go to other ears."""
    now = None
    for stretch in stretches:
        if stretch.ears and stretch.ears is not now:
            now = stretch.ears
            yield PlacedEars(stretch.start, now)


def balanced(performance: Performance, levels: Mapping[Role, int]) -> Performance:
    """The same with other channel volumes (0 to 127)."""
    return performance._replace(
        tracks=levelled(performance.tracks, levels),
        withheld=levelled(performance.withheld, levels),
    )


def levelled(tracks: Iterable[Track], levels: Mapping[Role, int]) -> tuple[Track, ...]:
    """Tracks with other channel volumes (0 to 127)."""
    return tuple(track._replace(level=levels[track.role]) for track in tracks)


def _flatten(track: Track, place: int, stretches: list[Stretch]) -> tuple[Track, Track]:
    """One track through all stretches, and what is withheld of it; muted throughout, it keeps
    its events."""
    pieces = [
        (track.role in stretch.muted, stretch.events(place))
        for stretch in stretches
        if stretch.sounding is not None
    ]
    return _halves(track, pieces)


def _click_track(stretches: list[Stretch]) -> tuple[Track, Track]:
    """The click through all stretches; a count-in sounds even where the click is muted."""
    pieces = [
        (
            Role.CLICK in stretch.muted and stretch.kind is not Kind.COUNT_IN,
            chain.from_iterable(clicks(stretch)),
        )
        for stretch in stretches
    ]
    return _halves(make_track(Role.CLICK, ()), pieces)


def _halves(track: Track, pieces: Sequence[tuple[bool, Iterable[Event]]]) -> tuple[Track, Track]:
    """Pieces of a track, each muted or not: what sounds, and the rest, muted."""
    sounds: list[Event] = []
    rest: list[Event] = []
    for muted, events in pieces:
        (rest if muted else sounds).extend(events)
    if all(muted for muted, _ in pieces):
        sounds, rest = rest, []
        track = track._replace(muted=True)
    return track._replace(events=tuple(sounds)), track._replace(muted=True, events=tuple(rest))


def _markers(stretches: list[Stretch]) -> Iterator[PlacedText]:
    """What a player sees while it sounds: count-in, part, time through, bar, the end.

    A pickup is marked where it begins, also inside the bar before.
    """
    doing = None
    for stretch in stretches:
        if stretch.name and stretch.step != doing:
            yield PlacedText(stretch.start, stretch.name)
        doing = stretch.step
        if stretch.sounding is None or not stretch.in_tune:
            yield PlacedText(stretch.start, str(stretch.kind))
            if stretch is stretches[-1]:
                yield PlacedText(stretch.stop, "end")
            continue
        if stretch.times > 1:
            yield PlacedText(stretch.start, f"time through {stretch.time} of {stretch.times}")
        before: tuple[str, int] | None = None
        for bar in (*stretch.lead, *stretch.frame):
            if (bar.section, bar.time) != before:
                again = f", time {bar.time}" if bar.time > 1 else ""
                yield PlacedText(bar.onset, f"{bar.section} part{again}")
                before = (bar.section, bar.time)
            yield PlacedText(bar.onset, f"bar {bar.number}")
        if stretch is stretches[-1]:
            yield PlacedText(stretch.sounding.stop, "end")
