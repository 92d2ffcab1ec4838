"""What `backing play` does: port, keys, pedals, screen and player, put together."""

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from queue import SimpleQueue

from backing.arranging.arrange import make_track
from backing.arranging.arrangement import Role
from backing.cli.display import Screen, key_table
from backing.cli.signals import ended_by_signals
from backing.cli.talk import speed_words, warn
from backing.cli.wish import TREMOLO_IDLE, Backing, Wish, build
from backing.errors import PracticeError
from backing.files.reading import read_bytes
from backing.live.actions import Action
from backing.live.clock import Clock, punctual
from backing.live.controls import CONTROLS, Controls, Pedals, parse_controls
from backing.live.keys import listening
from backing.live.native import own_screen
from backing.live.opening import opening
from backing.live.player import Player
from backing.live.port import Port
from backing.practice.course import Course
from backing.practice.performance import levelled
from backing.practice.plan import Plan


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
    known = _load_controls(controls) if controls else CONTROLS
    backing = build(tune, wish)
    if wish.tremolo and (port or virtual):
        warn(TREMOLO_IDLE)
    tracks = (*backing.arrangement.tracks, make_track(Role.CLICK, ()))
    if backing.step.muted >= {track.role for track in tracks}:
        warn("everything is muted: only the count-in sounds", "keys 1 to 4 let tracks sound")
    plan = Plan((backing.step,))
    course = Course(backing.arrangement, backing.tune, plan, endless=wish.times is None)
    inbox: SimpleQueue[Action] = SimpleQueue()
    with ExitStack() as stack:
        # Ctrl-Z is not heeded: a program that stands still leaves its notes sounding.
        stack.enter_context(ended_by_signals("SIGTSTP"))
        stack.enter_context(own_screen())
        out = _open(port, virtual, backing, wish)
        stack.callback(out.close)
        screen = Screen()
        stack.callback(screen.close)
        hear = _hearer(inbox, known, screen, pedals=pedal is not None)
        if pedal:
            from backing.live.ports import open_input

            pedals = Pedals(known)
            heard = open_input(pedal, lambda message: hear(pedals.heard(message)))
            stack.callback(heard.close)
        keys = stack.enter_context(listening(lambda key: hear(known.keys.get(key))))
        screen.tell(_start(backing, course, out, keys=keys))
        player = Player(
            course,
            out,
            Clock(),
            opening=opening(levelled(tracks, backing.levels), wish.a4),
            show=screen.show,
            sync=clock,
        )
        stack.enter_context(punctual())
        player.run(inbox)


def _load_controls(path: Path) -> Controls:
    try:
        return parse_controls(read_bytes(path).decode("utf-8-sig"), path.name)
    except UnicodeDecodeError:
        raise PracticeError(f"{path.name} is not UTF-8 text") from None


def _open(port: str | None, virtual: bool, backing: Backing, wish: Wish) -> Port:
    """Where it sounds."""
    if port or virtual:
        from backing.live.ports import open_output, open_virtual

        return open_output(port) if port else open_virtual()
    from backing.live.speaker import RATE, Speaker
    from backing.render.reeds import Reeds

    return Speaker(Reeds(RATE, wish.a4, wish.tremolo), backing.arrangement.tracks)


def _hearer(
    inbox: "SimpleQueue[Action]", controls: Controls, screen: Screen, *, pedals: bool
) -> Callable[[Action | None], None]:
    """Takes what is asked for; the keys are shown at once."""

    def hear(action: Action | None) -> None:
        if action is Action.KEYS:
            screen.tell(key_table(controls, pedals=pedals))
        elif action is not None:
            inbox.put(action)

    return hear


def _start(backing: Backing, course: Course, port: Port, *, keys: bool) -> str:
    """What is said at the start."""
    first = course.start
    metre = first.frame[0].metre
    tempo = speed_words(backing.reading.tune, first.tempo, metre, backing.manner)
    how = "? shows the keys" if keys else "Ctrl-C ends it"
    return f"playing {backing.arrangement.title} to {port.name}: {backing.hand}, {tempo}; {how}"
