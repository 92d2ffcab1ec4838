"""What a synthesiser is told before the first note: instruments, volumes, tuning."""

from collections.abc import Iterable, Iterator, Mapping

from backing.arranging.arrangement import CHANNELS, PROGRAMS, Role
from backing.live import wire
from backing.render.tuning import tuning_controls, tuning_reset


def opening(roles: Iterable[Role], levels: Mapping[Role, int], a4: float) -> Iterator[bytes]:
    """The messages that set up a channel for each role; the click has no instrument and no
    tuning.  Others are tuned back first: another program may have left them elsewhere."""
    for role in roles:
        channel = CHANNELS[role]
        if role is not Role.CLICK:
            yield wire.program(channel, PROGRAMS[role])
            for number, value in (*tuning_reset(), *tuning_controls(a4)):
                yield wire.controller(channel, number, value)
        yield wire.volume(channel, levels[role])
