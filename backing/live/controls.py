"""What a player steers with: which key, which pedal asks for what.

Both hands are on the instrument, so the pedals come first: one for page turning sends
Page Up and Page Down or the space bar, one for a keyboard sends MIDI.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from backing.data import DataReader, joined, shown
from backing.errors import PracticeError, did_you_mean
from backing.live.actions import Action

#: Names of keys that are no letter, digit or sign.
NAMED_KEYS = (
    "space", "enter", "escape", "tab", "backspace", "up", "down", "left", "right",
    "page up", "page down", "home", "end", "insert", "delete",
)  # fmt: skip
#: A controller counts as pressed from here on, as a pedal of MIDI does.
_PRESSED = 64
_MIDI_KINDS = {"controller": 0xB0, "note": 0x90, "program": 0xC0}


@dataclass(frozen=True, slots=True)
class Controls:
    """Actions by the name of a key, and by the kind and number of a MIDI message."""

    keys: Mapping[str, Action]
    midi: Mapping[tuple[int, int], Action]


class Pedals:
    """Hears what MIDI asks for: keys and pedals as they go down, not while they stay there.

    A pedal that tells how far it is down sends many messages on its way.
    """

    def __init__(self, controls: Controls) -> None:
        self._controls = controls
        self._down: set[bytes] = set()

    def heard(self, message: bytes) -> Action | None:
        """What a message asks for.

        >>> pedals = Pedals(CONTROLS)
        >>> [pedals.heard(bytes((0xB0, 64, value))) for value in (70, 127, 0)]
        [<Action.STOP_GO: 'stop and go'>, None, None]
        """
        if len(message) < 2:
            return None
        kind, place, value = message[0] & 0xF0, message[:2], message[-1]
        if kind == _MIDI_KINDS["controller"]:
            was_down = place in self._down
            (self._down.add if value >= _PRESSED else self._down.discard)(place)
            if was_down or value < _PRESSED:
                return None
        elif kind == _MIDI_KINDS["note"] and value == 0:  # it goes up
            return None
        return self._controls.midi.get((kind, message[1]))


CONTROLS = Controls(
    keys={
        "space": Action.STOP_GO,
        "page down": Action.STOP_GO,
        "page up": Action.AGAIN,
        "enter": Action.AGAIN,
        "home": Action.AGAIN,
        "up": Action.FASTER,
        "+": Action.FASTER,
        "down": Action.SLOWER,
        "-": Action.SLOWER,
        "left": Action.BAR_BACK,
        "right": Action.BAR_ON,
        "<": Action.SECTION_BACK,
        ",": Action.SECTION_BACK,
        ">": Action.SECTION_ON,
        ".": Action.SECTION_ON,
        "b": Action.THIS_BAR,
        "p": Action.THIS_SECTION,
        "w": Action.WHOLE,
        "o": Action.ASKED,
        "1": Action.MELODY,
        "2": Action.BASS,
        "3": Action.CHORDS,
        "4": Action.CLICK,
        "h": Action.KEYS,
        "?": Action.KEYS,
        "q": Action.END,
    },
    # the three pedals of a keyboard: sustain, sostenuto, soft
    midi={
        (0xB0, 64): Action.STOP_GO,
        (0xB0, 66): Action.AGAIN,
        (0xB0, 67): Action.THIS_BAR,
    },
)


def parse_controls(text: str, source: str) -> Controls:
    """Ours with a player's own in front, from a TOML file::

        [keys]
        "page down" = "again from the count-in"
        [midi]
        "controller 64" = "round and round in this bar"
        "note 36" = "faster"

    Raises PracticeError with every fault in it.
    """
    try:
        data = tomllib.loads(text)
    except ValueError as error:
        raise PracticeError(f"{source} is no TOML: {error}") from None
    reader = DataReader()
    reader.known(data, "", ("keys", "midi"))
    keys = {
        name: action
        for name, action in _actions(reader, data, "keys").items()
        if _is_key(reader, name)
    }
    midi = {
        place: action
        for name, action in _actions(reader, data, "midi").items()
        if (place := _midi_place(reader, name))
    }
    if reader.faults:
        faults = "".join(f"\n  {fault}" for fault in reader.faults)
        known = ", ".join(Action)
        raise PracticeError(f"{source} has faults{faults}", f"the actions are: {known}")
    return Controls({**CONTROLS.keys, **keys}, {**CONTROLS.midi, **midi})


def _actions(reader: DataReader, data: dict[str, Any], table: str) -> dict[str, Action]:
    known = {action.value: action for action in Action}
    found: dict[str, Action] = {}
    rows = data.get(table, {})
    if not isinstance(rows, dict):
        reader.fault(table, "expected a table")
        return {}
    for name, value in rows.items():
        place = name.strip().lower()
        if place in found:
            reader.fault(joined(table, name), "the same as another")
        elif isinstance(value, str) and value in known:
            found[place] = known[value]
        else:
            near = did_you_mean(value, list(known)) if isinstance(value, str) else ""
            reader.fault(joined(table, name), f"{shown(value)} is no action; {near}".rstrip("; "))
    return found


def _is_key(reader: DataReader, name: str) -> bool:
    if len(name) == 1 or name in NAMED_KEYS:
        return True
    near = did_you_mean(name, NAMED_KEYS) or f"keys are signs, or {', '.join(NAMED_KEYS)}"
    reader.fault(joined("keys", name), f"no key; {near}")
    return False


def midi_name(place: tuple[int, int]) -> str:
    """A kind and number of MIDI message, as a file of controls has it.

    >>> midi_name((0xB0, 64))
    'controller 64'
    """
    kinds = {status: kind for kind, status in _MIDI_KINDS.items()}
    return f"{kinds[place[0]]} {place[1]}"


def _midi_place(reader: DataReader, name: str) -> tuple[int, int] | None:
    kind, _, number = name.partition(" ")
    if kind in _MIDI_KINDS and number.isdecimal() and int(number) <= 127:
        return _MIDI_KINDS[kind], int(number)
    reader.fault(joined("midi", name), 'expected "controller 64", "note 36" or "program 1"')
    return None
