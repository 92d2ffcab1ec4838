"""What a player asks for, as the options of every command that plays.

`Wish` has a field for each option; a command marked with `takes_a_wish` has all of them.
"""

import inspect
from collections.abc import Callable
from typing import Annotated, Any, NamedTuple, get_type_hints

import typer

from backing.cli.options import (
    BOX,
    LEFT_HAND,
    PRACTISING,
    SOUND,
    SPEED,
    WHAT,
    BarsOption,
    BeatOption,
    DanceOption,
    EndingOption,
    MetreOption,
    PartOption,
    TuneNumber,
    VoiceOption,
)
from backing.harmony.source import ChordSource
from backing.practice.plan import Click, Close, Ears, Grow, LeadIn


def _option(group: str, help_text: str, *names: str, metavar: str | None = None) -> Any:
    return typer.Option(
        *names, help=help_text, metavar=metavar, show_default=False, rich_help_panel=group
    )


class Wish(NamedTuple):
    """What is to be played, and how, as it was typed; a field is an option."""

    number: TuneNumber = ""
    bars: BarsOption = ""
    part: PartOption = ""
    ending: EndingOption = ""
    join: Annotated[
        str,
        _option(
            WHAT,
            "The last two bars of one part and the first two of another, or of the same again: "
            "A-B, A-A. With more or fewer of each: 'A-B 4'.",
            metavar="A-B",
        ),
    ] = ""
    edges: Annotated[
        bool,
        _option(
            WHAT,
            "With --bars: the last beat before them and the first note after them too.",
            "--edges",
        ),
    ] = False
    key: Annotated[
        str, _option(WHAT, "Play it in this key, in the octave nearest by.", metavar="G")
    ] = ""
    mute: Annotated[
        list[str] | None,
        _option(
            WHAT,
            "Leave out melody, bass, chords or click: melody,click. The count-in always sounds.",
            metavar="TRACKS",
        ),
    ] = None
    plain: Annotated[
        bool, _option(WHAT, "Leave out grace notes, rolls, trills, fermatas, stress.", "--plain")
    ] = False
    dance: DanceOption = ""
    voice: VoiceOption = ""
    metre: MetreOption = ""
    beat: BeatOption = ""
    percent: Annotated[
        str,
        _option(
            SPEED,
            "Per cent of the tune's own tempo, or of the usual one. 50..100: a ladder, a step "
            "faster each round; 100..60: slower.",
            metavar="60",
        ),
    ] = ""
    tempo: Annotated[
        str,
        _option(
            SPEED, "Felt beats a minute: 60, or 3/8=60 to name the note that beats.", metavar="60"
        ),
    ] = ""
    then: Annotated[
        list[str] | None,
        _option(
            PRACTISING,
            "A set: go on with this tune at once, each so many --times; a tune of a book by its "
            "number: book.abc#3. Several times for more tunes.",
            metavar="FILE",
        ),
    ] = None
    changes: Annotated[
        bool,
        _option(
            PRACTISING,
            "With --then: only the changes, the last two bars of one tune and the first two of "
            "the next, four times or --times.",
            "--changes",
        ),
    ] = False
    times: Annotated[
        str,
        _option(
            SPEED,
            "How often it is played, one after the other; 7x32: for a dance of 7 times 32 "
            "bars. Without it once, or as often as a ladder and the like take.",
            metavar="N",
        ),
    ] = ""
    lead_in: Annotated[
        LeadIn | None,
        _option(
            SPEED,
            "What comes before it. clicks: the count-in, as without it. held: a held chord under "
            "the clicks. chords: bass and chord instead. tune: the last two bars of its first "
            "part.",
        ),
    ] = None
    close: Annotated[
        Close | None,
        _option(
            SPEED,
            "How the last time ends. stop: as the style does. held: the last chord is held. tag: "
            "two chords more. slow: slowing down, for listening only.",
        ),
    ] = None
    once_to_yourself: Annotated[
        bool,
        _option(
            SPEED,
            "Before the dance the first part once, as dancers wait for.",
            "--once-to-yourself",
        ),
    ] = False
    pickup: Annotated[
        bool,
        _option(
            SPEED,
            "Play the pickup whole each time round, also where the last bar has no room for it.",
            "--pickup",
        ),
    ] = False
    count_in: Annotated[
        str,
        _option(
            SPEED,
            "Bars of clicks before the start; 0 for none. Without it: at least four felt beats, "
            "three in slow three-time without a pickup.",
            metavar="BARS",
        ),
    ] = ""
    click: Annotated[
        Click | None,
        _option(
            SPEED,
            "beats: every felt beat. subdivided: softly what lies between too. off-beats: only "
            "that. every-other-bar: beats in one bar, none in the next. by-turns: two bars with, "
            "two without, to test your time. Without it: the beats, subdivided below 45 a minute.",
        ),
    ] = None
    step: Annotated[
        str,
        _option(PRACTISING, "Of a ladder: so many per cent each round; usual is 5.", metavar="5"),
    ] = ""
    beyond: Annotated[
        str,
        _option(
            PRACTISING,
            "Of a ladder: one round so many per cent past its last tempo, then back to that.",
            metavar="10",
        ),
    ] = ""
    down: Annotated[
        bool, _option(PRACTISING, "Of a ladder: down again by the same steps.", "--down")
    ] = False
    echo: Annotated[
        bool,
        _option(
            PRACTISING,
            "Each round is followed by one without the melody, for you to answer.",
            "--echo",
        ),
    ] = False
    gap: Annotated[
        str,
        _option(
            PRACTISING,
            "So many bars of clicks between one round and the next; silent with --mute click.",
            metavar="1",
        ),
    ] = ""
    grow: Annotated[
        Grow | None,
        _option(
            PRACTISING,
            "The loop grows from round to round. bar: from --bars, by a bar on each side. phrase: "
            "by what is left of the phrase, then by phrases. backwards: from the end of the tune, "
            "--part or --bars, a phrase more each time, within a phrase a bar.",
        ),
    ] = None
    less_help: Annotated[
        bool,
        _option(
            PRACTISING,
            "From round to round the melody leaves, then the chords, then the click; the bass "
            "stays.",
            "--less-help",
        ),
    ] = False
    left_hand_stages: Annotated[
        bool,
        _option(
            PRACTISING,
            "Of the left hand first the bass alone, then the chords alone, then both.",
            "--left-hand-stages",
        ),
    ] = False
    ears: Annotated[
        Ears | None,
        _option(
            PRACTISING,
            "left, right: the tune in that ear, the left hand in the other; for headphones. "
            "both: as usual.",
        ),
    ] = None
    every: Annotated[
        str,
        _option(
            PRACTISING,
            "So many rounds before the next step of a ladder, a loop that grows, less help or the "
            "left hand's stages; usual is 1.",
            metavar="N",
        ),
    ] = ""
    swing: Annotated[
        str,
        _option(
            SPEED,
            "How uneven pairs of quavers are: 2:1, 3:2, 1:1 for even. Without it: hornpipes and "
            "schottisches 2:1.",
            metavar="2:1",
        ),
    ] = ""
    style: Annotated[
        str,
        _option(
            LEFT_HAND,
            "A name from 'backing styles', or a style file (.toml). Several are for the times "
            "through: 'waltz, waltz:fifths'; for parts: 'A: light, B: polka'. Without it: the one "
            "for the dance; the drone where there are no chords.",
            metavar="STYLE",
        ),
    ] = ""
    chords: Annotated[
        ChordSource | None,
        _option(
            LEFT_HAND,
            "suggest: found for the melody. tune: those in the tune. none: only the key note's. "
            "Without it: the tune's, found where it has none.",
        ),
    ] = None
    no_thirds: Annotated[
        bool,
        _option(LEFT_HAND, "Leave the third out of every chord.", "--no-thirds", "--thirds-out"),
    ] = False
    full_chords: Annotated[
        bool,
        _option(
            LEFT_HAND,
            "Sound every note of a chord symbol, as a synth can, not only what a box has.",
            "--full-chords",
        ),
    ] = False
    box: Annotated[
        str,
        _option(
            BOX,
            "Only what this box's left hand has under the melody: a name from 'backing boxes', "
            "or a box file (.toml). Without it the left hand is free.",
            metavar="BOX",
        ),
    ] = ""
    profile: Annotated[
        str,
        _option(
            BOX, "With --box: how the melody is fingered, as in 'backing fit'.", metavar="PROFILE"
        ),
    ] = ""
    balance: Annotated[
        str,
        _option(
            SOUND,
            "How loud each track is, in per cent of usual: click=50,melody=120. From 0 to about "
            "130 for the melody, more for the others.",
            metavar="TRACK=60",
        ),
    ] = ""
    a4: Annotated[
        str,
        _option(SOUND, "Hertz of the A above middle C, 400 to 480; usual is 440.", metavar="440"),
    ] = ""
    tremolo: Annotated[
        str,
        _option(
            SOUND,
            "How far apart the melody's two reeds are tuned, in cents, 0 to 30; usual is 5, 0 is "
            "dry. The left hand's are half as far, 2.5 at most. For the built-in reeds.",
            metavar="CENTS",
        ),
    ] = ""


def takes_a_wish(command: Callable[..., None]) -> Callable[..., None]:
    """The command with an option for each field of the Wish that it takes as `wish`."""
    hints = get_type_hints(Wish, include_extras=True)
    options = {
        name: inspect.Parameter(
            name,
            inspect.Parameter.KEYWORD_ONLY,
            default=Wish._field_defaults[name],
            annotation=hints[name],
        )
        for name in Wish._fields
    }
    own = inspect.signature(command)
    kept = [parameter for name, parameter in own.parameters.items() if name != "wish"]

    def with_options(**given: Any) -> None:
        wanted = {name: given.pop(name) for name in options}
        command(**given, wish=Wish(**wanted))

    shown: Any = with_options
    shown.__name__, shown.__doc__ = command.__name__, command.__doc__
    shown.__signature__ = own.replace(
        parameters=[
            *(parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY) for parameter in kept),
            *options.values(),
        ]
    )
    shown.__annotations__ = {
        name: parameter.annotation for name, parameter in shown.__signature__.parameters.items()
    }
    return with_options
