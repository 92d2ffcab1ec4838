"""What the commands say on stderr, and the words that they share."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from backing.arranging.arrange import Manner, own_tempo, tune_dance
from backing.errors import Notice
from backing.files import Reading
from backing.music.metre import Metre
from backing.music.tempo import Tempo, decimal
from backing.music.tune import Tune

MOST_NOTICES = 8

TuneArgument = Annotated[
    Path,
    typer.Argument(help="The tune's file, or - for standard input.", show_default=False),
]

TuneNumber = Annotated[
    str,
    typer.Option(
        "--tune",
        help="Which tune of a book: its number or part of its title.",
        show_default=False,
    ),
]
VoiceOption = Annotated[
    str,
    typer.Option(
        "--voice",
        help="Which voice of the file is the melody. Without it: the first with notes.",
        show_default=False,
    ),
]
DanceOption = Annotated[
    str,
    typer.Option(
        "--dance", help="Take it as this dance (reel, jig, waltz ...).", show_default=False
    ),
]


def say(text: str) -> None:
    """A line of talk, on stderr."""
    print(text, file=sys.stderr)


def say_notices(reading: Reading, most: int = MOST_NOTICES) -> None:
    """What was odd about the file and the tune; the first few, and how many more."""
    notices = [*reading.notices, *reading.tune.notices]
    for notice in notices[:most]:
        say(notice.text(reading.name))
    if len(notices) > most:
        say(f"and {len(notices) - most} more warnings: backing look shows them all")


def warn(message: str, hint: str = "") -> None:
    """A warning that has no place in the file."""
    say(Notice(message, hint).text())


def bars_a_minute(tempo: Tempo, metre: Metre) -> str:
    """How many bars go by in a minute, in words; nothing in free metre."""
    if metre.free:
        return ""
    return f"{decimal(tempo.wholes / metre.length)} bars a minute"


def whose_tempo(tune: Tune, manner: Manner) -> str:
    """Where the tempo comes from that is the tune's own."""
    dance = tune_dance(tune, manner)
    if tune.tempo:
        return "the tune's own"
    if dance and str(tune.metre) in dance.bars:
        return f"usual for a {dance.name}"
    return "usual in free metre" if tune.metre.free else f"usual in {tune.metre}"


def speed_words(tune: Tune, tempo: Tempo, metre: Metre, manner: Manner) -> str:
    """Tempo with unit, per cent of what, and bars a minute."""
    own = own_tempo(tune, manner)
    whose = whose_tempo(tune, manner)
    if tempo.wholes != own.wholes:
        whose = f"{decimal(100 * tempo.wholes / own.wholes)} % of {own}, {whose}"
    bars = bars_a_minute(tempo, metre)
    return f"{tempo} ({whose}{'; ' + bars if bars else ''})"


def count(number: int, thing: str) -> str:
    """A number and what is counted.

    >>> count(1, "bar"), count(3, "bar")
    ('1 bar', '3 bars')
    """
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def listed(words: list[str]) -> str:
    """Words as a list that reads well.

    >>> listed(["bass"]), listed(["melody", "bass", "click"])
    ('bass', 'melody, bass and click')
    """
    *some, last = words
    return f"{', '.join(some)} and {last}" if some else last


def lasting(seconds: float) -> str:
    """How long something lasts; minutes from two of them on.

    >>> lasting(36.42), lasting(619.3)
    ('36.4 seconds', '10 minutes 19 seconds')
    """
    if seconds < 120:
        return f"{seconds:.1f} seconds"
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} minutes {count(rest, 'second')}"
