"""Arguments and options that commands share."""

from pathlib import Path
from typing import Annotated

import typer

from backing.language.tables import LANGUAGES
from backing.wording import either

#: The groups of the options of commands that play, as a player thinks of them.
GROUPS = WHAT, SPEED, PRACTISING, LEFT_HAND, BOX, SOUND, PORTS, FILE = (
    "What is played",
    "How fast and how often",
    "Ways to practise",
    "Left hand",
    "Your box",
    "How it sounds",
    "Ports, keys and pedals",
    "The file",
)

TuneArgument = Annotated[
    Path,
    typer.Argument(help="The tune's file, or - for standard input.", show_default=False),
]
PracticeArgument = Annotated[
    Path,
    typer.Argument(
        help="The tune's file, - for standard input, or a practice file (.toml) with steps.",
        show_default=False,
    ),
]

TuneNumber = Annotated[
    str,
    typer.Option(
        "--tune",
        help="Which tune of a book: its number or part of its title.",
        metavar="TUNE",
        show_default=False,
        rich_help_panel=WHAT,
    ),
]
VoiceOption = Annotated[
    str,
    typer.Option(
        "--voice",
        metavar="VOICE",
        help="Which voice of the file is the melody. Without it: the first with notes.",
        show_default=False,
        rich_help_panel=WHAT,
    ),
]
MetreOption = Annotated[
    str,
    typer.Option(
        "--metre",
        help="In which metre a MIDI file was played, where it is heard wrong: 6/8.",
        metavar="METRE",
        show_default=False,
        rich_help_panel=WHAT,
    ),
]
BeatOption = Annotated[
    str,
    typer.Option(
        "--beat",
        help="About how fast a MIDI file was played, in felt beats a minute, where it is heard "
        "wrong: 112, or 3/8=112.",
        metavar="BEATS",
        show_default=False,
        rich_help_panel=WHAT,
    ),
]
DanceOption = Annotated[
    str,
    typer.Option(
        "--dance",
        help="Take it as this dance (reel, jig, waltz ...).",
        metavar="DANCE",
        show_default=False,
        rich_help_panel=WHAT,
    ),
]

BarsOption = Annotated[
    str,
    typer.Option(
        "--bars",
        help="Only these bars: 5-6, or 5.",
        metavar="BARS",
        show_default=False,
        rich_help_panel=WHAT,
    ),
]
PartOption = Annotated[
    str,
    typer.Option(
        "--part",
        "--section",
        help="Only this part of the tune: A, B ...",
        metavar="A",
        show_default=False,
        rich_help_panel=WHAT,
    ),
]
EndingOption = Annotated[
    str,
    typer.Option(
        "--ending",
        help="With --part: which time's bars end it, 1 or 2 ...",
        metavar="N",
        show_default=False,
        rich_help_panel=WHAT,
    ),
]

LanguageOption = Annotated[
    str,
    typer.Option(
        "--language",
        help=f"The language that it speaks to players: {either(LANGUAGES)}.",
        metavar="LANGUAGE",
        rich_help_panel=FILE,
    ),
]
ReplaceOption = Annotated[
    bool,
    typer.Option(
        "--replace",
        help="Replace a file of this name that backing did not make, or that was changed since.",
        rich_help_panel=FILE,
    ),
]
