"""What a player says of a tune that was played without a click."""

from typing import NamedTuple

from backing.music.metre import Metre
from backing.music.tempo import FeltBeats, Tempo


class PlayedAs(NamedTuple):
    """The metre that it is in and about how fast it was played, None where that is left to be
    heard; of a MIDI file."""

    metre: Metre | None = None
    beat: Tempo | FeltBeats | None = None
