"""Performances built by hand, and what a file says, told by mido."""

import itertools
import warnings
from collections.abc import Callable
from fractions import Fraction
from io import BytesIO

import mido
import pytest

from backing.arranging.arrange import make_track
from backing.arranging.arrangement import Event, MappedBar, Origin, PlacedTempo, Role
from backing.music.key import parse_key
from backing.music.metre import parse_metre
from backing.music.tempo import Tempo
from backing.practice.performance import Performance

HERE = Origin(0, 0, 0)


def build_performance(
    tracks,
    *,
    metre="4/4",
    key="G",
    tempo=("1/4", 120),
    bars=1,
    pickup="0",
    title="Hand-made",
    **more,
):
    """A performance of so many bars; `tracks` gives (onset, length, pitches) by role."""
    shape, pickup = parse_metre(metre), Fraction(pickup)
    length = shape.length or Fraction(1)

    def bar(number, onset, length, begins=Fraction(0)):
        """One bar of the map."""
        return MappedBar(number, number, "A", 1, None, onset, length, shape, parse_key(key), begins)

    lead = (bar(0, -pickup, pickup, length - pickup),) if pickup else ()
    return Performance(
        title=title,
        start=-pickup,
        stop=length * bars,
        tracks=tuple(
            make_track(
                role,
                tuple(
                    Event(Fraction(onset), Fraction(length), tuple(pitches), velocity, HERE)
                    for onset, length, pitches, velocity in events
                ),
            )
            for role, events in tracks.items()
        ),
        bars=lead + tuple(bar(n + 1, length * n, length) for n in range(bars)),
        tempos=(PlacedTempo(-pickup, Tempo(Fraction(tempo[1]), Fraction(tempo[0]))),),
        **more,
    )


def read_tracks(data):
    """Each track of a file as (tick, message) pairs, by name."""
    found = {}
    for track in mido.MidiFile(file=BytesIO(data), charset="utf-8").tracks:
        at, messages = 0, []
        for message in track:
            at += message.time
            messages.append((at, message))
        found[track.name] = messages
    return found


@pytest.fixture(scope="session")
def build() -> Callable[..., Performance]:
    """Build a performance by hand."""
    return build_performance


@pytest.fixture(scope="session")
def tracks_of() -> Callable[[bytes], dict[str, list[tuple[int, object]]]]:
    """The tracks of a file as (tick, message) pairs."""
    return read_tracks


@pytest.fixture(scope="session")
def melody_only() -> Callable[..., Performance]:
    """A performance of nothing but melody events."""

    def melody(*events, **more):
        """Melody events (onset, length, pitch)."""
        line = [(onset, length, (pitch,), 90) for onset, length, pitch in events]
        return build_performance({Role.MELODY: line}, **more)

    return melody


def seconds_of(performance):
    """A function from positions to seconds after the start, by the performance's tempi."""

    def seconds(position):
        """Seconds from the start of the performance to a position."""
        total = 0.0
        stops = [placed.onset for placed in performance.tempos[1:]] + [position]
        for placed, stop in zip(performance.tempos, stops, strict=True):
            if placed.onset < position:
                span = min(stop, position) - placed.onset
                total += float(60 * span / placed.tempo.wholes)
        return total

    return seconds


def downbeat_positions(performance):
    """Where bars begin; a pickup that completes the bar before it is part of that bar."""
    bars = performance.bars
    return [bars[0].onset] + [
        bar.onset
        for before, bar in itertools.pairwise(bars)
        if not (bar.begins and before.room == bar.length)
    ]


def notes_by_pitch(performance, role, clock):
    """Onsets in seconds of each key that a track strikes, a key struck twice at once once."""
    found = {}
    for event in performance.track(role).events:
        for pitch in event.pitches:
            onsets = found.setdefault(pitch, [])
            if not onsets or onsets[-1] != event.onset:
                onsets.append(event.onset)
    return {pitch: [clock(onset) for onset in onsets] for pitch, onsets in found.items()}


@pytest.fixture(scope="session")
def clock() -> Callable[[Performance], Callable[[Fraction], float]]:
    """Positions to seconds."""
    return seconds_of


@pytest.fixture(scope="session")
def downbeats() -> Callable[[Performance], list[Fraction]]:
    """Where bars begin."""
    return downbeat_positions


@pytest.fixture(scope="session")
def onsets_by_pitch() -> Callable[..., dict[int, list[float]]]:
    """Onsets in seconds of each key of a track."""
    return notes_by_pitch


@pytest.fixture(scope="session")
def pretty_midi():
    """The pretty_midi package; it warns on import about a package that it uses."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*pkg_resources")
        import pretty_midi

        return pretty_midi


@pytest.fixture(scope="session")
def read_pretty(pretty_midi):
    """Read a file with pretty_midi."""
    return lambda data: pretty_midi.PrettyMIDI(BytesIO(data))
