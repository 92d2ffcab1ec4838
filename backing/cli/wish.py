"""What a player asks for, as the options of every command that plays.

`Wish` has a field for each option; a command marked with `takes_a_wish` has all of them.
`asked_for` reads them into the one value that a backing is made from.
"""

import inspect
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple, get_type_hints

import typer

from backing.arranging.arrange import Manner
from backing.cli import typed
from backing.cli.options import (
    BOX,
    LEFT_HAND,
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
from backing.cli.printing import say_notices
from backing.errors import UsageError
from backing.files import Reading, StyleShelf, load_style, read_tune
from backing.harmony.source import ChordSource
from backing.practice.asked import Asked
from backing.practice.backing import Backing, make_backing
from backing.practice.plan import Click, Close, LeadIn, Plan, Step, Whole
from backing.render.tuning import A4, TREMOLO, check_a4, check_tremolo
from backing.wording import listed

if TYPE_CHECKING:
    from backing.box.costs import Costs
    from backing.box.layout import Layout

TREMOLO_IDLE = "--tremolo changes nothing here: it is for the built-in reeds"


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
        _option(SPEED, "Per cent of the tune's own tempo, or of the usual one.", metavar="60"),
    ] = ""
    tempo: Annotated[
        str,
        _option(
            SPEED, "Felt beats a minute: 60, or 3/8=60 to name the note that beats.", metavar="60"
        ),
    ] = ""
    times: Annotated[
        str,
        _option(
            SPEED,
            "How often it is played, one after the other; 7x32: for a dance of 7 times 32 bars.",
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


def _box(wish: Wish) -> "tuple[Layout | None, Costs | None]":
    """The box and the costs of fingering that were asked for."""
    if not wish.box:
        return None, None
    from backing.files.boxes import load_box, load_costs

    return load_box(wish.box), load_costs(wish.profile) if wish.profile else None


def asked_for(wish: Wish) -> Asked:
    """What was typed, as one value; styles, box and costs are loaded.

    Raises BackingError where something cannot be understood or loaded.
    """
    if wish.profile and not wish.box:
        raise UsageError("--profile says how a box is fingered", "name it too: --box D/G")
    times, each = typed.how_often(wish.times) if wish.times else (1, 0)
    span = typed.span(wish.bars, wish.part, wish.ending)
    if wish.once_to_yourself and not isinstance(span, Whole):
        raise UsageError("--once-to-yourself is for the whole tune", "leave --bars and --part out")
    if each and not isinstance(span, Whole):
        raise UsageError(
            f"--times {wish.times} is for the whole tune", "leave --bars and --part out"
        )
    step = Step(
        span=span,
        tempo=typed.speed(wish.tempo, wish.percent),
        times=times,
        muted=typed.tracks(wish.mute or ()),
        count_in=typed.whole_number(wish.count_in, "--count-in", "2") if wish.count_in else None,
        whole_pickup=wish.pickup,
        lead_in=wish.lead_in or LeadIn.CLICKS,
        close=wish.close or Close.STOP,
        each=each,
        click=wish.click,
    )
    box, costs = _box(wish)
    return Asked(
        plan=Plan((step,)),
        style=typed.styles(wish.style, load_style) if wish.style else None,
        styles=StyleShelf(),
        manner=Manner(
            swing=typed.swing(wish.swing),
            thirds=not wish.no_thirds,
            ornaments=not wish.plain,
            dance=wish.dance,
            full_chords=wish.full_chords,
        ),
        chords=wish.chords,
        box=box,
        costs=costs,
        balance=typed.balance(wish.balance),
        once_to_yourself=wish.once_to_yourself,
    )


def a4_of(wish: Wish) -> float:
    """The tuning that was asked for, in hertz."""
    a4 = typed.decimal_number(wish.a4, "--a4", "442") if wish.a4 else A4
    check_a4(a4)
    return a4


def tremolo_of(wish: Wish) -> float:
    """How far apart the melody's reeds are, in cents."""
    cents = typed.decimal_number(wish.tremolo, "--tremolo", "8") if wish.tremolo else TREMOLO
    check_tremolo(cents)
    return cents


def build(path: Path, wish: Wish) -> tuple[Reading, Backing]:
    """Read a tune and make its backing; what is odd about either is said.

    Raises BackingError where something asked for cannot be had.
    """
    asked = asked_for(wish)
    told = typed.played_as(wish.metre, wish.beat)
    reading = read_tune(path, wish.number, voice=wish.voice, told=told)
    backing = make_backing(reading.tune, asked)
    say_notices((*reading.notices, *reading.tune.notices), reading.name)
    say_notices(backing.notices)
    return reading, backing


def hand_words(backing: Backing, wish: Wish) -> str:
    """What the left hand does: "jig, playable on D/G"."""
    names = listed([style.name for style in backing.styles.all])
    return f"{names}, {'playable on ' + wish.box if wish.box else 'band backing'}"
