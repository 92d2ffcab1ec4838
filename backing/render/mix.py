"""A performance as sound of the built-in reeds: stereo blocks, from its start to its end."""

from collections.abc import Iterator, Sequence

import numpy as np

from backing.arranging.arrangement import Role, Track
from backing.practice.performance import Performance
from backing.render.blocks import Block, Wave
from backing.render.presses import Seconds, key_presses, ticks
from backing.render.reeds import MOST_FRAMES, Reeds, ReedSound, loudness_of
from backing.render.tuning import A4

#: (first frame, last frame, key, velocity) of every key of a track, by onset.
_FramedKeys = list[tuple[int, int, int, int]]

#: A key that is struck again is up for so many seconds before, for a quarter of its length
#: at most: a finger needs that long, and without it two notes would sound as one.
_LIFT = 0.03


def reed_blocks(
    performance: Performance,
    rate: int,
    *,
    a4: float = A4,
    tremolo: float = 0.0,
    loops: bool = False,
) -> Iterator[Block]:
    """The performance as blocks of frames at `rate` a second, until all has died away.

    Muted tracks are in `whole` only.  Where it `loops`, its beginning is taken to come again
    at its end.
    """
    reeds = Reeds(rate, a4, tremolo)
    tracks = (*performance.tracks, *performance.withheld)
    seam = frames_of(performance, rate)
    keys = [_keys(track, performance, rate) for track in tracks]
    again = [_again(line, seam) if loops else {} for line in keys]
    keys = [
        _lifted(line, round(_LIFT * rate), back) for line, back in zip(keys, again, strict=True)
    ]
    desks = [Desk(reeds, track.role, track.level) for track in tracks]
    muted = [track.muted for track in tracks]
    end = max([frames_of(performance, rate), *(stop for line in keys for _, stop, _, _ in line)])
    places = [0] * len(desks)
    first = 0
    while first < end or any(desk.sounding for desk in desks):
        last = end if first < end else max(desk.end for desk in desks)
        count = min(MOST_FRAMES, last - first)
        whole = _silence(count)
        wanted = _silence(count) if any(muted) else whole
        for index, desk in enumerate(desks):
            line = keys[index]
            while places[index] < len(line) and line[places[index]][0] < first + count:
                onset, stop, key, velocity = line[places[index]]
                sound = desk.press(key, velocity, onset)
                sound.let_go(stop)
                if key in again[index]:
                    sound.damp(again[index][key])
                places[index] += 1
            if desk.sounding:
                desk.add_to([whole] if muted[index] or wanted is whole else [whole, wanted], first)
        yield Block(wanted, whole)
        first += count


def _silence(count: int) -> Wave:
    """Stereo frames to add to, each side in one piece of memory."""
    return np.zeros((2, count), np.float32).T


def frames_of(performance: Performance, rate: int) -> int:
    """How many frames a performance lasts, what dies away after its end left out."""
    return round(performance.seconds * rate)


def _keys(track: Track, performance: Performance, rate: int) -> _FramedKeys:
    seconds = Seconds(performance.tempos, performance.start)
    zero = seconds.at(ticks(performance.start))
    return sorted(
        (
            round((seconds.at(press.onset) - zero) * rate),
            round((seconds.at(press.stop) - zero) * rate),
            press.key,
            press.velocity,
        )
        for press in key_presses(track.events)
    )


def _again(keys: _FramedKeys, seam: int) -> dict[int, int]:
    """Where each key is struck for the first time after a loop's seam."""
    return {key: seam + onset for onset, _, key, _ in reversed(keys)}


def _lifted(keys: _FramedKeys, lift: int, again: dict[int, int]) -> _FramedKeys:
    """The keys, each up for `lift` frames before it is struck again, also where that is after
    the end."""
    struck = dict(again)
    found = []
    for onset, stop, key, velocity in reversed(keys):
        early = max(struck.get(key, stop + lift) - lift, stop - (stop - onset) // 4)
        found.append((onset, min(stop, early), key, velocity))
        struck[key] = onset
    return found[::-1]


class Desk:
    """One track of a mix: what sounds on it now, how loud, how far left or right."""

    def __init__(self, reeds: Reeds, role: Role, level: int) -> None:
        self.role, self._reeds = role, reeds
        self.set_level(level)
        self._latest: dict[int, ReedSound] = {}
        self.sounding: list[ReedSound] = []

    def set_level(self, level: int) -> None:
        """How loud the track is, as a channel volume of 0 to 127."""
        self._gains = [np.float32(g * loudness_of(level)) for g in self._reeds.pan(self.role)]

    @property
    def end(self) -> int:
        """The frame where all that has been let go is silent."""
        return max((sound.end or 0 for sound in self.sounding), default=0)

    def press(self, key: int, velocity: int, frame: int) -> ReedSound:
        """A key goes down at a frame; what still sounds of it from before is gone at once."""
        if key in self._latest:
            self._latest[key].damp(frame)
        sound = self._latest[key] = self._reeds.sound(self.role, key, velocity, frame)
        self.sounding.append(sound)
        return sound

    def add_to(self, mixes: Sequence[Wave], first: int) -> None:
        """Add what sounds to stereo mixes whose first frame has this number."""
        count = len(mixes[0])
        bus = np.zeros(count, np.float32)
        for sound in self.sounding:
            sound.add_to(bus, first)
        for mix in mixes:
            for side, gain in enumerate(self._gains):
                mix[:, side] += gain * bus
        self.sounding = [s for s in self.sounding if s.end is None or s.end > first + count]
