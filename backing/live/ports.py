"""MIDI ports: which there are, and messages to and from them.

A port that vanishes (a cable pulled, a program closed) is noticed within half a second, and
joined again when one of its name is back.  Not noticed: a program that closes and comes back
under its name between two looks.  A JACK server that stands still without dying (SIGSTOP) is
taken as gone until it goes on: some thousands of messages later rtmidi would wait for it, with no
way out.
When a JACK server dies, its library writes a few lines to stderr itself (`native.own_screen`).
"""

from collections.abc import Callable, Sequence
from contextlib import suppress
from threading import Event, RLock, Thread
from typing import Protocol, TypeVar

from backing.errors import PortError
from backing.live import system
from backing.live.native import LONGEST, bounded
from backing.live.port_names import MEANT, bare, find
from backing.live.system import Client, PortKind

Seen = TypeVar("Seen")

OWN_NAME = "backing"
#: Seconds between two looks at whether a port is still there.
LOOK_EVERY = 0.5
#: JACK is told the ending again after so many seconds: two periods at least (4096 frames at
#: 44,100 a second last 0.093), then longer than most of the moments in which a server is late.
_AGAIN = (0.2, 0.4)

#: After so many messages JACK's server is looked at sooner, four times as many may wait for it;
#: after so many seconds, for a process that is stopped is not seen to be at once.
_UNSEEN, _SETTLES = 1_000, 0.05

#: Leaving takes ten seconds at most: so many to end the notes, to let go of what nothing has to
#: leave any more, and of an output, from which the end of a note may still have to.
_ENDING, _LEAVING_NOTHING, _LEAVING_OUTPUT = 3.0, 1.5, 5.0

#: Clients are made, looked at and ended one at a time: libjack frees those of a dead server
#: as soon as a new one is made, and whoever still uses them crashes.
_ONE_AT_A_TIME = RLock()


def system_names() -> tuple[str, ...]:
    """The MIDI systems that work here: ALSA, JACK, CoreMIDI or Windows; the first is the one
    that others are looked for after.  Raises PortError where there is none."""
    working = []
    for name in system.compiled():
        with suppress(PortError):
            working.append(_glance("MidiOut", system.system_name, name))
    return tuple(working) or (_glance("MidiOut", system.system_name),)


def output_names(of: str = "") -> tuple[str, ...]:
    """What can be played to, of one system or of all."""
    return _names("MidiOut", of)


def input_names(of: str = "") -> tuple[str, ...]:
    """What can be listened to: keyboards, pedals, controllers."""
    return _names("MidiIn", of)


def _names(kind: PortKind, of: str) -> tuple[str, ...]:
    systems = (of,) if of else system_names()
    return tuple(name for each in systems for name in _glance(kind, _listed, each))


def open_output(name: str) -> "MidiPort":
    """Play to the output of this name, or whose name holds it, of any system."""
    return _wherever(lambda of: MidiPort("MidiOut", Named("MidiOut", name), of=of))


def open_virtual(name: str = OWN_NAME) -> "MidiPort":
    """Make an output of our own, which other programs find under this name."""
    return MidiPort("MidiOut", Virtual(name))


def open_input(name: str, heard: Callable[[bytes], None]) -> "Input":
    """Listen to the input of this name; `heard` gets each message, on a thread of rtmidi's."""
    return _wherever(lambda of: Input("MidiIn", Named("MidiIn", name), heard, of=of))


def _wherever(join: Callable[[str], Seen]) -> Seen:
    """What is joined in the first system that has it; where none has, the first one's fault."""
    faults = []
    for of in system_names():
        try:
            return join(of)
        except PortError as fault:
            faults.append(fault)
    raise faults[0]


class Endpoint(Protocol):
    """What a client is joined to."""

    @property
    def name(self) -> str:
        """What a person calls it."""

    @property
    def own(self) -> str:
        """What our client is called."""

    def join(self, client: Client) -> None:
        """Open the client there; PortError where it cannot be."""

    def there(self, client: Client) -> bool:
        """True while it is still there."""


class Named:
    """A port of another program or a device, by its name or part of it."""

    own = OWN_NAME

    def __init__(self, kind: PortKind, wanted: str) -> None:
        self.name = wanted
        self._kind = kind
        self._wanted = wanted
        self._listed = ""

    def join(self, client: Client) -> None:
        """Open the port; at a return, the one that it was before if that is there."""
        names = _listed(client)
        numbered = system.system_name(client)
        back = self.name in [bare(name, numbered) for name in names]
        at = find(self.name if back else self._wanted, names, self._kind, numbered)
        try:
            client.open_port(at, OWN_NAME)
        except system.rtmidi().RtMidiError as error:
            raise PortError(
                f"the MIDI {MEANT[self._kind]} {names[at]} cannot be opened ({error})",
                "another program may hold it, and on Windows only one can: close it there",
            ) from None
        self._listed = names[at]
        self.name = bare(names[at], numbered)

    def there(self, client: Client) -> bool:
        """True while the system lists it."""
        return self._listed in _listed(client)


class Virtual:
    """A port of our own; it stays as long as we hold it."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.own = name

    def join(self, client: Client) -> None:
        """Make the port."""
        library = system.rtmidi()
        try:
            client.open_virtual_port(self.name)
        except library.UnsupportedOperationError:
            raise PortError(
                "Windows cannot make virtual MIDI ports",
                "a loop-back MIDI driver gives a pair of ports: play to it with --port",
            ) from None
        except library.RtMidiError as error:
            raise PortError(f"the virtual MIDI port {self.name} cannot be made ({error})") from None

    def there(self, client: Client) -> bool:
        """It is ours: always."""
        return True


class Connection:
    """A client of ours on a port, joined again when the port was away."""

    def __init__(
        self,
        kind: PortKind,
        place: Endpoint,
        heard: Callable[[bytes], None] | None = None,
        *,
        of: str = "",
    ) -> None:
        self.gone = False
        self._kind = kind
        self._place = place
        self._of = of
        self._heard = heard
        self._client: Client = None
        self._server, self._process = "", 0
        self._still = False
        self._unseen = 0
        self._fault = system.rtmidi().RtMidiError
        self._held = RLock()  # while a message is sent, its client is not ended
        self._closed = Event()
        with _ONE_AT_A_TIME:
            self._join()
            _CONNECTIONS.add(self)
        Thread(target=self._watch, name=f"port {self.name}", daemon=True).start()

    @property
    def name(self) -> str:
        """What a person calls the port, without the system's numbers."""
        return self._place.name

    def close(self) -> None:
        """Let go of the port; a second time does nothing."""
        self._closed.set()
        with _ONE_AT_A_TIME:
            _CONNECTIONS.discard(self)
            nothing = self._still or self._kind == "MidiIn"
            self._end(_LEAVING_NOTHING if nothing else _LEAVING_OUTPUT)

    def _watch(self) -> None:
        while not self._closed.wait(LOOK_EVERY):
            with _ONE_AT_A_TIME:
                if not self._closed.is_set():
                    self._look()

    def _look(self) -> None:
        """See whether the port is there, and join it again where it is back."""
        self.leave_a_dead_server()
        self._look_at_server()
        if self._still:
            return
        if self.gone:
            with suppress(PortError), bounded():
                self._join()
        elif not self._place.there(self._client):
            with self._held:
                self.gone = True
                self._client.close_port()

    def _look_at_server(self) -> None:
        """Take the port as gone while its JACK server stands still."""
        with self._held:
            self._unseen = 0
            still = system.is_stopped(self._process) if self._server else False
            if still != self._still and (self._still or not self.gone):
                self._still = self.gone = still

    def _join(self) -> None:
        fresh = self._client is None
        client = _client(self._kind, self._place.own, self._of) if fresh else self._client
        try:
            self._place.join(client)
        except PortError:
            if fresh:
                system.let_go(client)
            raise
        if self._heard is not None:
            client.set_callback(_told(self._heard))
        with self._held:
            self._client = client
            self._server = system.jack_server(client)
            self._process = system.server_process() if self._server else 0
            self.gone = False

    def leave_a_dead_server(self) -> None:
        """End the client if its JACK server has died."""
        if self._server and system.jack_server(self._client) != self._server:
            self._end()

    def _end(self, seconds: float = LONGEST) -> None:
        """End the client, if there is one; the program, where that takes longer."""
        with self._held:
            self.gone = True
            self._server, self._process, self._still = "", 0, False
            client, self._client = self._client, None
        if client is not None:
            system.let_go(client, seconds)


class MidiPort(Connection):
    """A MIDI output as a `Port`: it sends at once."""

    def send(self, message: bytes, due: float) -> None:
        """Send a message now; one to a port that is gone is dropped."""
        with self._held:
            self._unseen += 1
            if self._unseen > _UNSEEN and self._server:
                self._closed.wait(_SETTLES)
                self._look_at_server()
            if not self.gone:
                with suppress(self._fault):
                    self._client.send_message(message)

    def breathe(self, due: float) -> None:
        """Nothing to send: a synthesiser has bellows of its own."""

    def end(self, messages: Sequence[bytes], due: float) -> None:
        """Send what ends every note; to JACK three times, some periods apart.

        A JACK server that is late loses a period with all that is in it.
        """
        with bounded(_ENDING):
            self._look_at_server()
            for wait in (0.0, *_AGAIN) if self._server else (0.0,):
                if wait and not self.gone:
                    self._closed.wait(wait)
                for message in messages:
                    self.send(message, due)


class Input(Connection):
    """A MIDI input that is listened to."""


_CONNECTIONS: set[Connection] = set()


def _client(kind: PortKind, name: str, of: str) -> Client:
    """A new client; those of a dead JACK server are ended first."""
    for each in tuple(_CONNECTIONS):
        each.leave_a_dead_server()
    return system.client(kind, name, of)


def _listed(client: Client) -> tuple[str, ...]:
    """The names of the ports that this client may join; none where the system fails to tell."""
    with suppress(system.rtmidi().RtMidiError):
        return tuple(client.get_ports())
    return ()


def _glance(kind: PortKind, look: Callable[[Client], Seen], of: str = "") -> Seen:
    """What a client of ours sees that is made for this only."""
    with _ONE_AT_A_TIME:
        client = _client(kind, OWN_NAME, of)
        try:
            return look(client)
        finally:
            system.let_go(client)


def _told(heard: Callable[[bytes], None]) -> Callable[[tuple[list[int], float], object], None]:
    """A callback as rtmidi wants it: the message as numbers, with the seconds since the last."""
    return lambda event, _: heard(bytes(event[0]))
