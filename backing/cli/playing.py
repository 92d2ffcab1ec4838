"""What `backing play` does: port, keys, pedals, screen and player, put together."""

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from queue import SimpleQueue

from backing.arranging.arrange import make_track
from backing.arranging.arrangement import Role
from backing.cli.asking import TREMOLO_IDLE, a4_of, build, hand_words, tremolo_of
from backing.cli.display import Screen
from backing.cli.key_table import key_rows
from backing.cli.practising import practice_asked
from backing.cli.printing import warn
from backing.cli.signals import ended_by_signals
from backing.cli.sizes import widest_chord
from backing.cli.speech import speed_words
from backing.cli.step_text import devices_text
from backing.cli.wish import Wish
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
from backing.practice.performance import levelled
from backing.practice.practice import course_of, practice_of
from backing.practice.stretch import Stretch
from backing.wording import count


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
    asked = practice_asked(tune, wish)
    if asked:
        practice, course, wish = asked
        said = count(len(practice.plan.starts), "step")
    else:
        reading, backing = build(tune, wish)
        practice = practice_of(backing)
        course = course_of(practice, endless=not wish.times)
        said = _first_words(reading.tune, backing, course.start, wish)
    a4, tremolo = a4_of(wish), tremolo_of(wish)
    backing = practice.first
    steps = practice.plan.steps
    if wish.tremolo and tremolo and (port or virtual):
        warn(TREMOLO_IDLE)
    tracks = (*backing.arrangement.tracks, make_track(Role.CLICK, ()))
    if all(step.muted >= {track.role for track in tracks} for step in steps):
        warn("everything is muted: only the count-in sounds", "keys 1 to 4 let tracks sound")
    inbox: SimpleQueue[Action] = SimpleQueue()
    with ExitStack() as stack:
        # Ctrl-Z is not heeded: a program that stands still leaves its notes sounding.
        stack.enter_context(ended_by_signals("SIGTSTP"))
        stack.enter_context(own_screen())
        out = _open(port, virtual, backing, a4, tremolo)
        stack.callback(out.close)
        several = len(practice.plan.starts) > 1
        screen = Screen(
            keys=key_rows(known, pedals=pedal is not None, steps=several),
            widest=widest_chord(
                text.text for each in practice.backings for text in each.arrangement.chords
            ),
        )
        stack.callback(screen.close)
        hear = _hearer(inbox, screen)
        if pedal:
            from backing.live.ports import open_input

            pedals = Pedals(known)
            heard = open_input(pedal, _pedalled(pedals, hear))
            stack.callback(heard.close)
        keys = stack.enter_context(listening(lambda key: hear(known.keys.get(key))))
        how = "? shows the keys" if keys else "Ctrl-C ends it"
        screen.tell(f"playing {practice.title} to {out.name}: {said}; {how}")
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


def _first_words(tune: Tune, backing: Backing, first: Stretch, wish: Wish) -> str:
    """What is played of a tune alone, in words, by its first time through."""
    tempo = speed_words(tune, first.tempo, first.frame[0].metre, backing.manner)
    changes = devices_text(backing.plan.steps[-1], backing.tune)
    return ", ".join([hand_words(backing, wish), tempo, *changes])
