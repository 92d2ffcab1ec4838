"""What a synthesiser is told before the first note: instruments, volumes, tuning."""

from collections.abc import Iterable, Iterator

from backing.arranging.arrangement import Track
from backing.live import wire
from backing.render.channels import channel_setup


def opening(tracks: Iterable[Track], a4: float) -> Iterator[bytes]:
    """The messages that set up a channel for each track.  It is tuned back first: another
    program may have left it elsewhere."""
    for track in tracks:
        setup = channel_setup(track, a4)
        if setup.program is not None:
            yield wire.program(setup.channel, setup.program)
        for number, value in (*setup.undo, *setup.controls):
            yield wire.controller(setup.channel, number, value)
