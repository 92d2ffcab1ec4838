"""Which notes sound, which are withheld, and what waits to be sent.

All of a moment goes in one breath.  A note is known to sound before its message waits, and
until the message of its end does: none is forgotten wherever an interruption falls.
"""

from collections import deque
from collections.abc import Callable, Iterable

from backing.arranging.arrangement import CHANNELS, LEFT_HAND, Role
from backing.live import wire
from backing.live.clock import Clock
from backing.live.cues import Cue, KeyStrike, Off, Order, Release, cue
from backing.live.port import Port

#: A channel and a key.
ChannelKey = tuple[int, int]


class Notes:
    """The notes of a port.

    A track is withheld where its stretch is muted, until the player turns it: then as the
    player has it, until turned back.
    """

    def __init__(self, port: Port, clock: Clock, channels: Iterable[int]) -> None:
        self._turned: dict[Role, bool] = {}
        self._port, self._clock, self._channels = port, clock, tuple(channels)
        self._out: deque[bytes] = deque()
        self._latest = 0.0
        self._sounding: dict[ChannelKey, Cue] = {}
        self._withheld: dict[ChannelKey, Cue] = {}

    def __len__(self) -> int:
        """How many are known: they sound, or are withheld."""
        return len(self._sounding) + len(self._withheld)

    def say(self, *messages: bytes) -> None:
        """Let messages wait to be sent."""
        self._out.extend(messages)

    def send(self, due: float | None = None) -> None:
        """Send all that waits; the moments that messages are meant for never go back."""
        if self._out:
            self._latest = max(self._latest, self._clock.now() if due is None else due)
        while self._out:
            self._port.send(self._out[0], self._latest)
            self._out.popleft()

    def is_muted(self, role: Role, *, own: bool) -> bool:
        """True where a track is withheld whose stretch has it so, `own`, or not."""
        return self._turned.get(role, own)

    def strike(self, at: Cue, note: KeyStrike) -> Cue | None:
        """A key goes down; the cue of its end.  None where its track is muted."""
        place = place_of(note)
        if self.is_muted(note.role, own=note.muted) and not note.always:
            self._withheld[place] = at
            return None
        self.let_go(place)
        self._sounding[place] = at
        self.say(wire.note_on(*place, note.velocity))
        return cue(note.stop, Order.OFF, at.stretch, Off(*place, at.serial))

    def let_go(self, place: ChannelKey, serial: int | None = None) -> None:
        """A key goes up, if it is down; with a serial number only for the note of that cue."""
        sounding = self._sounding.get(place)
        if sounding is not None and serial in (None, sounding.serial):
            self.say(wire.note_off(*place))
            del self._sounding[place]

    def end(self) -> None:
        """End all notes that sound."""
        for place in list(self._sounding):
            self.let_go(place)

    def forget(self) -> None:
        """Nothing is withheld any more."""
        self._withheld = {}

    def release(self, said: Release) -> None:
        """End notes of other stretches, and what is withheld of them."""

        def goes(place: ChannelKey, at: Cue) -> bool:
            ours = said.role is None or place[0] == CHANNELS[said.role]
            return ours and at.stretch != said.keep

        for place, at in list(self._sounding.items()):
            if goes(place, at):
                self.let_go(place)
        for place, at in list(self._withheld.items()):
            if goes(place, at):
                del self._withheld[place]

    def turn(self, role: Role, *, own: bool, lasts: Callable[[KeyStrike], bool]) -> list[Cue]:
        """Withhold a track, or let it sound again: of basses and chords those that still last
        at once; the cues of their ends.  `own` is how its stretch has it."""
        muted = not self.is_muted(role, own=own)
        self._turned[role] = muted
        if muted == own:
            del self._turned[role]
        return self._withhold(role) if muted else self._strike_again(role, lasts)

    def _withhold(self, role: Role) -> list[Cue]:
        for place in [place for place in self._sounding if place[0] == CHANNELS[role]]:
            self._withheld[place] = self._sounding[place]
            self.let_go(place)
        return []

    def _strike_again(self, role: Role, lasts: Callable[[KeyStrike], bool]) -> list[Cue]:
        ends = []
        for place, at in sorted(self._withheld.items(), key=lambda held: held[1].serial):
            if place[0] == CHANNELS[role]:
                del self._withheld[place]
                note = at.said
                assert isinstance(note, KeyStrike)
                if role in LEFT_HAND and lasts(note):
                    ends.append(self.strike(at, note))
        return [end for end in ends if end is not None]

    def silence(self, *first: bytes) -> None:
        """End every note, one by one and then by all means that receivers may know; `first`
        is sent in between.  An interruption only makes it begin again."""
        try:
            self._silence(first)
        except BaseException:
            self._silence(first)
            raise

    def _silence(self, first: Iterable[bytes]) -> None:
        self._out = deque(message for message in self._out if wire.is_note_off(message))
        self.end()
        self.say(*first, *wire.quiet(self._channels))
        self._latest = max(self._latest, self._clock.now())
        self._port.end(tuple(self._out), self._latest)
        self._out.clear()


def place_of(note: KeyStrike) -> ChannelKey:
    """The channel and key of a note."""
    return CHANNELS[note.role], note.key
