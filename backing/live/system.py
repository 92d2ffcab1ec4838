"""The computer's MIDI system: ALSA, JACK, CoreMIDI or Windows, through python-rtmidi.

The library is an extra and is loaded only when a port is wanted.
"""

import importlib
import os
import socket
import stat
import struct
import sys
from contextlib import suppress
from types import ModuleType
from typing import Any, Literal

from backing.errors import PortError
from backing.live.native import LONGEST, bounded, hushed, undisturbed

#: One of rtmidi's clients; it has no types of its own.
Client = Any
PortKind = Literal["MidiIn", "MidiOut"]

_NAMES = {"alsa": "ALSA", "jack": "JACK", "core": "CoreMIDI", "winmm": "Windows"}
_CARD = "Without a port, backing play sounds through the sound card"
_SOCKETS, _OPEN_FILES = "/proc/net/unix", "/proc/self/fd"
_LISTENS = "00010000"  # the kernel's flag of a socket that waits for others (linux/net.h)


def rtmidi() -> ModuleType:
    """The library that the ports come through."""
    try:
        return importlib.import_module("rtmidi")
    except ModuleNotFoundError:
        raise PortError(
            "MIDI ports need python-rtmidi, which is not installed",
            "pip install python-rtmidi brings it: ready-made up to Python 3.12, beyond that "
            f"it needs a C++ compiler. {_CARD}",
        ) from None
    except ImportError as error:
        raise PortError(
            f"python-rtmidi is installed, but cannot be loaded ({error})",
            f"on Linux it needs ALSA's library: sudo apt install libasound2. {_CARD}",
        ) from None


def client(kind: PortKind, name: str, wanted: str = "") -> Client:
    """A client of the wanted system, else of the first that works here; it is on no port yet."""
    library = rtmidi()
    for api in library.get_compiled_api():
        known = _NAMES.get(library.get_api_name(api), "")
        if known and wanted in ("", known):
            with suppress(library.RtMidiError), hushed():
                return getattr(library, kind)(api, name)
    raise PortError("no MIDI system runs on this computer", _how_to_get_one())


def compiled() -> tuple[str, ...]:
    """The systems that the library can reach on this kind of computer, working or not."""
    library = rtmidi()
    names = (_NAMES.get(library.get_api_name(api), "") for api in library.get_compiled_api())
    return tuple(filter(None, names))


def system_name(of: Client) -> str:
    """What the system is called that a client belongs to."""
    return _NAMES[rtmidi().get_api_name(of.get_current_api())]


def let_go(of: Client, seconds: float = LONGEST) -> None:
    """End a client: nothing more is heard, then the port, then the client itself.

    Another order crashes, or leaves the client listed.  On JACK rtmidi waits until the last
    messages have left, at most a second; a signal would end that wait.  Where it takes longer
    than so many seconds the program ends.
    """
    with suppress(rtmidi().RtMidiError), hushed(), undisturbed(), bounded(seconds):
        if hasattr(of, "cancel_callback"):
            of.cancel_callback()
        of.close_port()
        of.delete()


def jack_server(of: Client) -> str:
    """Which JACK server a client belongs to; empty for another system or where it is not seen.

    Neither rtmidi nor the list of ports shows that a server has died.  But the socket that
    the server listens on is then no longer among the kernel's, or is there under another
    number.
    """
    if system_name(of) != "JACK":
        return ""
    path = _server_path()
    with suppress(OSError), open(_SOCKETS, encoding="utf-8", errors="replace") as sockets:
        for line in sockets:
            if path in line and f" {_LISTENS} " in line:
                return line.split()[6]
    return ""


def server_process() -> int:
    """The process of the JACK server that we are connected to; 0 where it is not seen.

    Linux tells who is at the other end of a socket (SO_PEERCRED, unix(7)).
    """
    with suppress(OSError):
        for number in map(int, os.listdir(_OPEN_FILES)):
            with suppress(OSError):
                if stat.S_ISSOCK(os.fstat(number).st_mode) and (process := _server_at(number)):
                    return process
    return 0


def _server_at(number: int) -> int:
    """The process at the other end of a socket, where that is JACK's server; else 0."""
    with socket.socket(fileno=os.dup(number)) as connected:
        if _server_path() not in str(connected.getpeername()):
            return 0
        peer = connected.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, 12)
        return int(struct.unpack("3i", peer)[0])


def is_stopped(process: int) -> bool:
    """True while a process stands still, by SIGSTOP or a debugger (proc(5), its state)."""
    with suppress(OSError), open(f"/proc/{process}/stat", "rb") as told:
        return told.read().rpartition(b")")[2].split()[0] in (b"T", b"t")
    return False


def _server_path() -> str:
    """The end of the name of the socket that JACK's server listens on."""
    server = os.environ.get("JACK_DEFAULT_SERVER", "default")
    return f"/jack_{server}_{os.getuid()}_0"


def _how_to_get_one() -> str:
    """What to do where there is no MIDI system."""
    if not sys.platform.startswith("linux"):
        return f"install python-rtmidi anew, from a ready-made package. {_CARD}"
    return (
        "sudo modprobe snd-seq brings ALSA's; in a container, or without sound hardware, start a "
        f"JACK server: jackd --no-realtime -d dummy. {_CARD}"
    )
