"""What a player steers with: which key, which pedal asks for what.

Both hands are on the instrument, so the pedals come first: one for page turning sends
Page Up and Page Down or the space bar, one for a keyboard sends MIDI.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from backing.data.file_kind import FileKind
from backing.data.key_path import key_shown, shown
from backing.data.reader import DataReader
from backing.errors import DataError, did_you_mean
from backing.live.actions import Action

#: Names of keys that are no letter, digit or sign.
NAMED_KEYS = (
    "space", "enter", "escape", "tab", "backspace", "up", "down", "left", "right",
    "page up", "page down", "home", "end", "insert", "delete",
)  # fmt: skip
#: A controller counts as pressed from here on, as a pedal of MIDI does.
_PRESSED = 64
_MIDI_KINDS = {"controller": 0xB0, "note": 0x90, "program": 0xC0}
_MIDI_NAME = re.compile(r"([a-z]+) +([0-9]{1,3})$")

CONTROLS_FILE = FileKind(
    noun="controls", error=DataError, pattern=f"the actions are: {', '.join(Action)}"
)


@dataclass(frozen=True, slots=True)
class KeysAndPedals:
    """Actions by the name of a key, and by the kind and number of a MIDI message."""

    keys: Mapping[str, Action]
    midi: Mapping[tuple[int, int], Action]


class Pedals:
    """Hears what MIDI asks for: keys and pedals as they go down, not while they stay there.

    A pedal that tells how far it is down sends many messages on its way.
    """

    def __init__(self, controls: KeysAndPedals) -> None:
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


CONTROLS = KeysAndPedals(
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
        "f": Action.FROM_HERE,
        "t": Action.TO_HERE,
        "w": Action.WHOLE,
        "o": Action.ASKED,
        "l": Action.LAST_TIME,
        "backspace": Action.STEP_BACK,
        "tab": Action.STEP_ON,
        "n": Action.STEP_ON,
        "s": Action.STAY,
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


def parse_controls(text: str, source: str) -> KeysAndPedals:
    """Ours with a player's own in front, from a TOML file::

        [keys]
        "page down" = "again from the count-in"
        [midi]
        "controller 64" = "round and round in this bar"
        "note 36" = "faster"

    Raises DataError with every fault in it.
    """
    reader = _ControlsReader(text, source)
    reader.known(reader.data, (), ("keys", "midi"))
    keys, midi = reader.keys(), reader.midi()
    reader.check()
    return KeysAndPedals({**CONTROLS.keys, **keys}, {**CONTROLS.midi, **midi})


class _ControlsReader(DataReader):
    """Checks a file of controls row by row and keeps every fault."""

    kind = CONTROLS_FILE

    def keys(self) -> dict[str, Action]:
        """What each key asks for."""
        return {name: action for name, action in self.actions("keys").items() if self.is_key(name)}

    def midi(self) -> dict[tuple[int, int], Action]:
        """What each kind and number of MIDI message asks for."""
        return {
            place: action
            for name, action in self.actions("midi").items()
            if (place := self.midi_place(name))
        }

    def actions(self, table: str) -> dict[str, Action]:
        """The actions of a table, by names in small letters."""
        rows = self.table(self.data.get(table, {}), (table,), f"a table [{table}]")
        found: dict[str, Action] = {}
        #: As the file writes each name.
        self.written: dict[str, str] = {}
        for name, value in rows.items():
            place = name.strip().lower() or name
            if place in found:
                said = f"the same as {key_shown(self.written[place])}"
                self.fault((table, name), f"{said}; a key asks for one thing")
            elif action := self.action(value, table, name):
                found[place] = action
            self.written.setdefault(place, name)
        return found

    def action(self, value: object, table: str, name: str) -> Action | None:
        known = [action.value for action in Action]
        if isinstance(value, str) and value in known:
            return Action(value)
        near = did_you_mean(value[:40], known) if isinstance(value, str) else ""
        self.fault((table, name), f"{shown(value)} is no action; {near}".rstrip("; "))
        return None

    def is_key(self, name: str) -> bool:
        if len(name) == 1 or name in NAMED_KEYS:
            return True
        near = did_you_mean(name[:40], NAMED_KEYS) or f"keys are signs, or {', '.join(NAMED_KEYS)}"
        self.fault(("keys", self.written[name]), f"no key; {near}")
        return False

    def midi_place(self, name: str) -> tuple[int, int] | None:
        match = _MIDI_NAME.match(name)
        if match and match[1] in _MIDI_KINDS and int(match[2]) <= 127:
            return _MIDI_KINDS[match[1]], int(match[2])
        said = 'expected "controller 64", "note 36" or "program 1", numbers 0 to 127'
        self.fault(("midi", self.written[name]), said)
        return None


def midi_name(place: tuple[int, int]) -> str:
    """A kind and number of MIDI message, as a file of controls has it.

    >>> midi_name((0xB0, 64))
    'controller 64'
    """
    kinds = {status: kind for kind, status in _MIDI_KINDS.items()}
    return f"{kinds[place[0]]} {place[1]}"
