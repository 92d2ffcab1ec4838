"""Which line of a MIDI file is the melody."""

from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from backing.errors import Notice, TuneError, did_you_mean
from backing.parse.midi.events import PERCUSSION, ChannelLine

_NAMES = ("melody", "tune", "lead")
_MOST_NAMED = 20


def choose_melody(lines: Sequence[ChannelLine], wanted: str) -> tuple[ChannelLine, list[Notice]]:
    """The melody, and a notice that says what was taken and what else there is.

    `wanted` is a track's number (a channel's, where there is one track) or part of a name.
    Else it is a track called melody, tune or lead; else the line that scores highest.
    Raises TuneError where there is no such line, or none at all.
    """
    pitched = [line for line in lines if line.channel != PERCUSSION + 1]
    if not pitched:
        what = "only percussion" if lines else "no notes"
        raise TuneError(f"there are {what} in this MIDI file", "it needs a track with a melody")
    single = len({line.track for line in lines}) == 1
    shown = _shown(pitched, single=single)
    among = _named(pitched, wanted, shown, single=single) if wanted.strip() else _usual(pitched)
    start = min(line.presses[0].start for line in pitched)
    stop = max(line.presses[-1].start for line in pitched) + 1
    melody = max(among, key=lambda line: melody_score(line, start, stop))
    others = [shown[line] for line in pitched if line is not melody]
    if not others:
        return melody, []
    named = ", ".join(others[:_MOST_NAMED]) + (" …" if len(others) > _MOST_NAMED else "")
    return melody, [Notice(f"the melody is taken from {shown[melody]}", f"others are {named}")]


def melody_score(line: ChannelLine, start: int, stop: int) -> float:
    """How much a line looks like the melody of a piece from `start` to `stop` (ticks), in
    semitones of height.

    A line scores its mean pitch; an octave is taken off for all notes that sound together
    with another, two for all of the piece during which the line has nothing new to say.
    """
    presses = line.presses
    height = sum(press.key for press in presses) / len(presses)
    struck = {press.start for press in presses}
    together = 1 - len(struck) / len(presses)
    return height - 12 * together - 24 * (1 - _presence(line, start, stop))


def _presence(line: ChannelLine, start: int, stop: int) -> float:
    """The share of 64 pieces of the whole in which the line strikes a note."""
    starts = [press.start for press in line.presses]
    bounds = [start + (stop - start) * n // 64 for n in range(65)]
    places = [bisect_left(starts, bound) for bound in bounds]
    return sum(b > a for a, b in pairwise(places)) / 64


def _usual(lines: list[ChannelLine]) -> list[ChannelLine]:
    """The lines of tracks that are called what melodies are called, else all of them."""
    for name in _NAMES:
        named = [line for line in lines if name in line.name.lower()]
        if named:
            return named
    return lines


def _named(
    lines: list[ChannelLine], wanted: str, shown: dict[ChannelLine, str], *, single: bool
) -> list[ChannelLine]:
    """The lines that a number or part of a name means."""
    asked = wanted.strip().lower()
    if asked.isdecimal():
        number = int(asked[:6])
        found = [line for line in lines if (line.channel if single else line.track) == number]
    else:
        exact = [line for line in lines if line.name.lower() == asked]
        found = exact or [line for line in lines if asked in shown[line].lower()]
    if found:
        return found
    names = [line.name for line in lines if line.name]
    raise TuneError(
        f"there is no track {wanted[:40]!r} with notes that are no percussion",
        did_you_mean(wanted, names) or f"there are {', '.join(list(shown.values())[:_MOST_NAMED])}",
    )


def _shown(lines: Sequence[ChannelLine], *, single: bool) -> dict[ChannelLine, str]:
    """What lines are called: "track 2 (melody)", "channel 1"."""
    if single:
        return {line: f"channel {line.channel}" for line in lines}
    channels = Counter(line.track for line in lines)
    shown = {}
    for line in lines:
        name = f"track {line.track}" + (f" ({line.name})" if line.name else "")
        several = channels[line.track] > 1
        shown[line] = f"{name}, channel {line.channel}" if several else name
    return shown
