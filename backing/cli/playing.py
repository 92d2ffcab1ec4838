"""What `backing play` does: port, keys, pedals, screen and player, put together."""

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from queue import SimpleQueue

from backing.arranging.arrange import make_track
from backing.arranging.arrangement import Role
from backing.cli.display import Screen
from backing.cli.key_table import key_rows
from backing.cli.printing import warn
from backing.cli.signals import ended_by_signals
from backing.cli.sizes import widest_chord
from backing.cli.speech import speed_words
from backing.cli.wish import TREMOLO_IDLE, Wish, a4_of, build, hand_words, tremolo_of
from backing.files.reading import file_name
from backing.files.toml_files import toml_text
from backing.live.actions import Action
from backing.live.clock import Clock, punctual
from backing.live.controls import (
    CONTROLS,
    CONTROLS_FILE,
    KeysAndPedals,
    Pedals,
    parse_controls,
)
from backing.live.keys import listening
from backing.live.native import own_screen
from backing.live.opening import opening
from backing.live.player import Player
from backing.live.port import Port
from backing.music.tune import Tune
from backing.practice.backing import Backing
from backing.practice.course import Course
from backing.practice.performance import levelled


def play_along(
    tune: Path,
    wish: Wish,
    *,
    port: str | None,
    virtual: bool,
    pedal: str | None,
    controls: Path | None,
    clock: bool,
) -> None:
    """Play a tune until it is over or ended; every note is ended, however that comes."""
    known = _steered_by(controls) if controls else CONTROLS
    a4, tremolo = a4_of(wish), tremolo_of(wish)
    reading, backing = build(tune, wish)
    step = backing.plan.steps[0]
    if wish.tremolo and tremolo and (port or virtual):
        warn(TREMOLO_IDLE)
    tracks = (*backing.arrangement.tracks, make_track(Role.CLICK, ()))
    if step.muted >= {track.role for track in tracks}:
        warn("everything is muted: only the count-in sounds", "keys 1 to 4 let tracks sound")
    course = Course(backing.faces, backing.tune, backing.plan, endless=not wish.times)
    inbox: SimpleQueue[Action] = SimpleQueue()
    with ExitStack() as stack:
        # Ctrl-Z is not heeded: a program that stands still leaves its notes sounding.
        stack.enter_context(ended_by_signals("SIGTSTP"))
        stack.enter_context(own_screen())
        out = _open(port, virtual, backing, a4, tremolo)
        stack.callback(out.close)
        several = len(backing.plan.steps) > 1
        screen = Screen(
            keys=key_rows(known, pedals=pedal is not None, steps=several),
            widest=widest_chord(text.text for text in backing.arrangement.chords),
        )
        stack.callback(screen.close)
        hear = _hearer(inbox, screen)
        if pedal:
            from backing.live.ports import open_input

            pedals = Pedals(known)
            heard = open_input(pedal, _pedalled(pedals, hear))
            stack.callback(heard.close)
        keys = stack.enter_context(listening(lambda key: hear(known.keys.get(key))))
        screen.tell(
            _start(reading.tune, backing, hand_words(backing, wish), course, out, keys=keys)
        )
        player = Player(
            course,
            out,
            Clock(),
            opening=opening(levelled(tracks, backing.volumes), a4),
            show=screen.show,
            sync=clock,
        )
        stack.enter_context(punctual())
        player.run(inbox)


def _steered_by(path: Path) -> KeysAndPedals:
    """What a player's own file asks for."""
    return parse_controls(toml_text(path, CONTROLS_FILE), file_name(path))


def _open(port: str | None, virtual: bool, backing: Backing, a4: float, tremolo: float) -> Port:
    """Where it sounds."""
    if port or virtual:
        from backing.live.ports import open_output, open_virtual

        return open_output(port) if port else open_virtual()
    from backing.live.speaker import RATE, Speaker
    from backing.render.reeds import Reeds

    return Speaker(Reeds(RATE, a4, tremolo), backing.arrangement.tracks)


def _hearer(inbox: "SimpleQueue[Action]", screen: Screen) -> Callable[[Action | None], None]:
    """Takes what a key asks for; the table of keys is shown at once, and goes with the next one,
    whatever that asks for."""

    def hear(action: Action | None) -> None:
        if action is Action.KEYS:
            screen.turn_keys()
            return
        screen.hide_keys()
        if action is not None:
            inbox.put(action)

    return hear


def _pedalled(pedals: Pedals, hear: Callable[[Action | None], None]) -> Callable[[bytes], None]:
    """Takes what a pedal asks for; most of what MIDI sends asks for nothing."""

    def heard(message: bytes) -> None:
        if action := pedals.heard(message):
            hear(action)

    return heard


def _start(
    tune: Tune, backing: Backing, hand: str, course: Course, port: Port, *, keys: bool
) -> str:
    """What is said at the start."""
    first = course.start
    metre = first.frame[0].metre
    tempo = speed_words(tune, first.tempo, metre, backing.manner)
    how = "? shows the keys" if keys else "Ctrl-C ends it"
    return f"playing {backing.arrangement.title} to {port.name}: {hand}, {tempo}; {how}"
