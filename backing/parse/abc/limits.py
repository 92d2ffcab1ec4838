"""How much of a tune is read: every text ends soon, or is refused with the limit named."""

from collections.abc import Iterable

from backing.errors import TuneError

MOST_SIGNS = 1_000_000
MOST_NOTES = 100_000
MOST_BARS = 20_000
MOST_VOICES = 100
#: Of all voices together, since each is filled up to the bars of the first.
MOST_VOICE_BARS = 400_000
#: A field, with what goes on from it; a line with macros.
MOST_IN_FIELD = 20_000
MOST_MACROS = 100
#: Lines of lyrics, or of symbols, under one line of music.
MOST_VERSES = 100
MOST_NOTICES = 1_000
_SPLIT = "split the tune in two"


def check_size(lines: Iterable[str], first: int) -> None:
    """Raise TuneError where a tune, whose first line has this number, is too long a text."""
    signs = 0
    for number, line in enumerate(lines, first):
        signs += len(line)
        if signs > MOST_SIGNS:
            raise TuneError(f"the tune is longer than {MOST_SIGNS:,} signs", _SPLIT, line=number)


def check_voice_bars(voices: int, bars: int) -> None:
    """Raise TuneError where the voices would have too many bars when they are filled up."""
    if voices * bars > MOST_VOICE_BARS:
        raise TuneError(
            f"all voices together have more than {MOST_VOICE_BARS:,} bars", "leave some out"
        )


class Tally:
    """Counts the notes and rests of all voices of a tune."""

    def __init__(self) -> None:
        self.notes = 0

    def add_note(self) -> None:
        """One more; ValueError where it is one too many."""
        self.notes += 1
        if self.notes > MOST_NOTES:
            raise ValueError(f"the tune has more than {MOST_NOTES:,} notes and rests: {_SPLIT}")
