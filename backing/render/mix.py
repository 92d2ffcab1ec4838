"""A performance as sound of the built-in reeds: stereo blocks, from its start to its end."""

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import numpy as np

from backing.arranging.arrangement import Role, Track
from backing.practice.performance import Performance
from backing.render.blocks import Block, Wave
from backing.render.breath import Pressure, cycle_in
from backing.render.channels import pan_of
from backing.render.presses import Seconds, key_presses, ticks
from backing.render.reeds import MOST_FRAMES, Reeds, ReedSound, loudness_of, sides_of
from backing.render.sound_laws import BREATH_SECONDS, LIFT
from backing.render.speaking import lead_of
from backing.render.tuning import A4, TREMOLO

#: A pan that leaves a track where it always is.
_AS_USUAL = 64


class FramedKey(NamedTuple):
    """A key of a track in frames: where its reed begins to speak, where the note begins, where
    the key goes up; where it is broken off (None: nowhere)."""

    start: int
    onset: int
    stop: int
    key: int
    velocity: int
    broken: int | None = None


def reed_blocks(
    performance: Performance,
    rate: int,
    *,
    a4: float = A4,
    tremolo: float = TREMOLO,
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
    keys = [_lifted(line, round(LIFT * rate), back) for line, back in zip(keys, again, strict=True)]
    if loops:
        keys = [[*line, *_round_the_seam(line, seam)] for line in keys]
    desks = [Desk(reeds, track.role, track.level) for track in tracks]
    muted = [track.muted for track in tracks]
    end = max([seam, *(each.stop for line in keys for each in line if each.broken is None)])
    pressure = Pressure(rate, cycle_in(seam, rate) if loops else round(BREATH_SECONDS * rate))
    breaths = deque(_breaths(performance, rate, pressure.lead, seam if loops else 0))
    places = [0] * len(desks)
    at = _frame_of(performance, rate)
    turns = [(at(ticks(onset)), ears) for onset, ears in performance.ears]
    first = 0
    while first < end or any(desk.sounding for desk in desks):
        last = end if first < end else max(desk.end for desk in desks)
        while turns and turns[0][0] <= first:
            for desk in desks:
                desk.set_pan(pan_of(desk.role, turns[0][1]))
            turns.pop(0)
        count = min(MOST_FRAMES, last - first, *(at - first for at, _ in turns[:1]))
        whole = _silence(count)
        wanted = _silence(count) if any(muted) else whole
        while breaths and breaths[0] - pressure.lead < first + count:
            pressure.breathe(breaths.popleft())
        factors = pressure.over(first, count)
        for index, desk in enumerate(desks):
            line = keys[index]
            while places[index] < len(line) and line[places[index]].start < first + count:
                pressed = line[places[index]]
                _press(desk, pressed, again[index].get(pressed.key), hurries=not loops)
                places[index] += 1
            if desk.sounding:
                mixes = [whole] if muted[index] or wanted is whole else [whole, wanted]
                desk.add_to(mixes, first, factors)
        yield Block(wanted, whole)
        first += count


def _press(desk: "Desk", pressed: FramedKey, again: int | None, *, hurries: bool) -> None:
    """A key of a track, from its start to its end; `again` is where it comes after the seam."""
    earliest = 0 if hurries else None
    sound = desk.press(pressed.key, pressed.velocity, pressed.onset, earliest)
    sound.let_go(pressed.stop)
    if pressed.broken is not None:
        sound.end = pressed.broken
    elif again is not None:
        sound.damp(again)


def _silence(count: int) -> Wave:
    """Stereo frames to add to, each side in one piece of memory."""
    return np.zeros((2, count), np.float32).T


def frames_of(performance: Performance, rate: int) -> int:
    """How many frames a performance lasts, what dies away after its end left out."""
    return round(performance.seconds * rate)


def _frame_of(performance: Performance, rate: int) -> Callable[[int], int]:
    """The frame of a tick."""
    seconds = Seconds(performance.tempos, performance.start)
    zero = seconds.at(ticks(performance.start))
    return lambda tick: round((seconds.at(tick) - zero) * rate)


def _breaths(performance: Performance, rate: int, lead: int, seam: int) -> Iterator[int]:
    """The frames in which the bellows take a new breath; in a loop up to the `seam` (0: none)
    that comes before its beginning too, and what of a dip lies ahead of that at its end."""
    frame_of, spans = _frame_of(performance, rate), performance.bellows
    way = spans[-1].way if seam and spans else ""
    found = []
    for span in spans:
        if span.new_breath_after(way):
            found.append(frame_of(ticks(span.start)))
        way = span.way
    yield from found
    yield from (frame + seam for frame in found if seam and frame < lead)


def _keys(track: Track, performance: Performance, rate: int) -> list[FramedKey]:
    """The keys of a track by the frames in which they begin to speak."""
    frame_of = _frame_of(performance, rate)
    found = []
    for press in key_presses(track.events):
        onset, stop = frame_of(press.onset), frame_of(press.stop)
        lead = 0 if track.role is Role.CLICK else lead_of(press.key, rate)
        found.append(FramedKey(onset - lead, onset, stop, press.key, press.velocity))
    return sorted(found)


def _again(keys: list[FramedKey], seam: int) -> dict[int, int]:
    """Where each key begins to speak for the first time after a loop's seam."""
    return {each.key: seam + each.start for each in reversed(keys)}


def _lifted(keys: list[FramedKey], lift: int, again: dict[int, int]) -> list[FramedKey]:
    """The keys, each up for `lift` frames before it speaks again, also where that is after
    the end."""
    struck = dict(again)
    found = []
    for each in reversed(keys):
        early = struck.get(each.key, each.stop + lift) - lift
        early = max(early, each.stop - (each.stop - each.onset) // 4)
        found.append(each._replace(stop=min(each.stop, early)))
        struck[each.key] = each.start
    return found[::-1]


def _round_the_seam(keys: list[FramedKey], seam: int) -> list[FramedKey]:
    """What of a loop's first notes sounds before its start: at its end, up to the seam."""
    return [
        FramedKey(
            each.start + seam, each.onset + seam, each.stop + seam, each.key, each.velocity, seam
        )
        for each in keys
        if each.start < 0
    ]


class Desk:
    """One track of a mix: what sounds on it now, how loud, how far left or right."""

    def __init__(self, reeds: Reeds, role: Role, level: int) -> None:
        self.role, self._reeds = role, reeds
        self._pan, self._level = _AS_USUAL, level
        self._set_gains()
        self._latest: dict[int, ReedSound] = {}
        self.sounding: list[ReedSound] = []
        self._knocked: set[int] = set()  # a button sounds several reeds, and knocks once

    def set_level(self, level: int) -> None:
        """How loud the track is, as a channel volume of 0 to 127."""
        self._level = level
        self._set_gains()

    def set_pan(self, pan: int) -> None:
        """How far left or right it sounds: 0 to 127, 64 as usual."""
        self._pan = pan
        self._set_gains()

    def _set_gains(self) -> None:
        sides = self._reeds.pan(self.role) if self._pan == _AS_USUAL else sides_of(self._pan)
        self._gains = [np.float32(g * loudness_of(self._level)) for g in sides]

    @property
    def end(self) -> int:
        """The frame where all that has been let go is silent."""
        return max((sound.end or 0 for sound in self.sounding), default=0)

    def press(self, key: int, velocity: int, onset: int, earliest: int | None = None) -> ReedSound:
        """A key whose onset is at a frame; what still sounds of it from before is gone as soon
        as it speaks anew.  Nothing sounds before the frame `earliest`."""
        sound = self._reeds.sound(self.role, key, velocity, onset)
        if earliest is not None:
            sound.hurry(earliest, self._reeds.rate)
        if key in self._latest:
            self._latest[key].damp(sound.start)
        self._latest[key] = sound
        self.sounding.append(sound)
        if self.role is not Role.CLICK and onset not in self._knocked:
            self._knocked.add(onset)
            self.sounding.append(self._reeds.button(velocity, onset))
        return sound

    def add_to(self, mixes: Sequence[Wave], first: int, pressure: Wave | None = None) -> None:
        """Add what sounds to stereo mixes whose first frame has this number, reeds under so
        much pressure."""
        count = len(mixes[0])
        bus = np.zeros(count, np.float32)
        for sound in self.sounding:
            sound.add_to(bus, first)
        if pressure is not None and self.role is not Role.CLICK:
            bus *= pressure
        for mix in mixes:
            for side, gain in enumerate(self._gains):
                mix[:, side] += gain * bus
        after = first + count
        self.sounding = [s for s in self.sounding if s.end is None or s.end > after]
        self._knocked = {onset for onset in self._knocked if onset >= after}
