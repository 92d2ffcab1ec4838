"""Which port a player means by a name, and what to say when it is none."""

import re
from collections.abc import Callable, Sequence

from backing.errors import PortError, did_you_mean
from backing.live.system import PortKind

#: What a player calls what such a client is joined to.
MEANT: dict[PortKind, str] = {"MidiOut": "output", "MidiIn": "input"}
#: The numbers that a system puts behind a name, and may change when the port is back.
NUMBERS = {"ALSA": re.compile(r" \d+:\d+$"), "Windows": re.compile(r" \d+$")}


def find(wanted: str, names: Sequence[str], kind: PortKind = "MidiOut", numbered: str = "") -> int:
    """Which of the names is meant: the same, the same without numbers, else one that holds it.

    Large and small letters are alike; `numbered` is the system whose numbers they bear.
    Ports that have the very same name cannot be told apart: the first is taken.

    >>> find("reed", ["Organ:reeds", "Reed box:out"])
    Traceback (most recent call last):
    backing.errors.PortError: "reed" fits 2 MIDI outputs: Organ:reeds, Reed box:out
    >>> find("box", ["Organ:reeds", "Reed box:out"])
    1
    """
    word = wanted.lower()
    fits: tuple[Callable[[str], bool], ...] = (
        lambda name: name.lower() == word,
        lambda name: bare(name, numbered).lower() == word,
        lambda name: word in name.lower(),
    )
    for fit in fits:
        found = [at for at, name in enumerate(names) if fit(name)]
        if len({names[at] for at in found}) > 1:
            listed = ", ".join(names[at] for at in found)
            message = f'"{wanted}" fits {len(found)} MIDI {MEANT[kind]}s: {listed}'
            raise PortError(message, "give more of the name")
        if found:
            return found[0]
    raise _not_there(wanted, names, kind)


def bare(name: str, numbered: str) -> str:
    """A port's name without the numbers that its system puts behind it.

    >>> bare("Reed box:out 128:0", "ALSA"), bare("Reed box 2", "CoreMIDI")
    ('Reed box:out', 'Reed box 2')
    """
    return NUMBERS[numbered].sub("", name) if numbered in NUMBERS else name


def no_ports(kind: PortKind) -> str:
    """What to do where there is nothing to play to, or nothing to listen to."""
    if kind == "MidiIn":
        return "plug a MIDI pedal, keyboard or controller in and switch it on"
    return (
        "switch a MIDI instrument on or start a synthesiser program. Without a port, "
        "backing play sounds through the sound card"
    )


def _not_there(wanted: str, names: Sequence[str], kind: PortKind) -> PortError:
    """That no port is called so."""
    if not names:
        return PortError(f"there is no MIDI {MEANT[kind]} on this computer", no_ports(kind))
    near = did_you_mean(wanted, list(names))
    return PortError(
        f'no MIDI {MEANT[kind]} is called "{wanted}"',
        near or f"there {'is' if len(names) == 1 else 'are'}: {', '.join(names)}",
    )
