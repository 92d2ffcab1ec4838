"""What a player asks for, the same for every command that plays: options, and the backing.

`Wish` has a field for each option; a command marked with `takes_a_wish` has all of them.
"""

import inspect
import re
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from fractions import Fraction
from pathlib import Path
from typing import Annotated, Any, NamedTuple, get_type_hints

import typer

from backing.arranging.arrange import Manner, arrange, own_tempo, tune_dance
from backing.arranging.arrangement import LEVELS, Arrangement, Role
from backing.arranging.box_true import Side
from backing.arranging.style import Style
from backing.arranging.usual import usual_style
from backing.box.layout import Layout
from backing.cli.chording import Chords, with_chords_from
from backing.cli.talk import DanceOption, TuneNumber, VoiceOption, say_notices, warn
from backing.errors import PracticeError
from backing.files import Reading, load_box, load_costs, load_style, read_tune
from backing.music.dance import felt
from backing.music.swing import swing_unit
from backing.music.tempo import Tempo, parse_tempo
from backing.music.tune import Tune
from backing.practice.plan import Bars, OneSection, Span, Step, Whole, find_bars
from backing.render.tuning import A4, MOST_TREMOLO, check_a4

MUTABLE = (Role.MELODY, Role.BASS, Role.CHORDS, Role.CLICK)
TREMOLO_IDLE = "--tremolo changes nothing here: it is for the built-in reeds"
_LOUDEST = 127
_PER_CENT = re.compile(r"\s*(\d{1,4}(?:\.\d{1,3})?)\s*%?\s*$")
_SWING = re.compile(r"(\d{1,2}(?:\.\d)?)\s*:\s*(\d{1,2})$")


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be played, and how; a field is an option of the command line."""

    style: Annotated[
        str,
        typer.Option(
            help="The left hand: a name from 'backing styles', or a style file (.toml). Without "
            "it: the one for the dance; the drone where there are no chords.",
            show_default=False,
        ),
    ] = ""
    tempo: Annotated[
        str,
        typer.Option(
            help="Felt beats a minute: 60, or 3/8=60 to name the note that beats.",
            show_default=False,
        ),
    ] = ""
    percent: Annotated[
        float | None,
        typer.Option(
            help="Per cent of the tune's own tempo, or of the usual one.", show_default=False
        ),
    ] = None
    count_in: Annotated[
        int | None,
        typer.Option(
            help="Bars of clicks before the start; 0 for none. Without it: at least four felt "
            "beats, three in slow three-time.",
            show_default=False,
        ),
    ] = None
    bars: Annotated[str, typer.Option(help="Only these bars: 5-6, or 5.", show_default=False)] = ""
    section: Annotated[
        str, typer.Option(help="Only this part of the tune: A, B ...", show_default=False)
    ] = ""
    ending: Annotated[
        int | None,
        typer.Option(
            help="With --section: which time's bars end it, 1 or 2 ...", show_default=False
        ),
    ] = None
    times: Annotated[
        int | None,
        typer.Option(help="How often it is played, one after the other.", show_default=False),
    ] = None
    mute: Annotated[
        list[str] | None,
        typer.Option(
            help="Leave out melody, bass, chords or click; may be given several times.",
            show_default=False,
        ),
    ] = None
    swing: Annotated[
        str,
        typer.Option(
            help="How uneven pairs of quavers are: 2:1, 3:2, 1:1 for even. Without it: hornpipes "
            "and schottisches 2:1.",
            show_default=False,
        ),
    ] = ""
    chords: Annotated[
        Chords | None,
        typer.Option(
            help="suggest: found for the melody. tune: those in the tune. none: only the key "
            "note's. Without it: the tune's, found where it has none.",
            show_default=False,
        ),
    ] = None
    no_thirds: Annotated[
        bool,
        typer.Option("--no-thirds", "--thirds-out", help="Leave the third out of every chord."),
    ] = False
    box: Annotated[
        str,
        typer.Option(
            help="Only what this box's left hand has under the melody: a name from 'backing "
            "boxes', or a box file (.toml). Without it the left hand is free.",
            show_default=False,
        ),
    ] = ""
    profile: Annotated[
        str,
        typer.Option(
            help="With --box: how the melody is fingered, as in 'backing fit'.",
            show_default=False,
        ),
    ] = ""
    full_chords: Annotated[
        bool,
        typer.Option(
            "--full-chords",
            help="Sound every note of a chord symbol, as a synth can, not only what a box has.",
        ),
    ] = False
    plain: Annotated[
        bool, typer.Option("--plain", help="Leave out grace notes, rolls, trills and fermatas.")
    ] = False
    balance: Annotated[
        str,
        typer.Option(
            help="How loud each track is, in per cent of usual: click=50,melody=120. From 0 to "
            "about 130 for the melody, more for the others.",
            show_default=False,
        ),
    ] = ""
    a4: Annotated[
        float, typer.Option("--a4", help="Hertz of the A above middle C, 400 to 480.")
    ] = A4
    tremolo: Annotated[
        float,
        typer.Option(
            help="How far apart the melody's two reeds are tuned, in cents, 0 to 30; 0 is dry. "
            "For the built-in reeds."
        ),
    ] = 0.0
    dance: DanceOption = ""
    number: TuneNumber = ""
    voice: VoiceOption = ""


def takes_a_wish(command: Callable[..., None]) -> Callable[..., None]:
    """The command with an option for each field of the Wish that it takes as `wish`."""
    hints = get_type_hints(Wish, include_extras=True)
    options = {
        field.name: inspect.Parameter(
            field.name,
            inspect.Parameter.KEYWORD_ONLY,
            default=field.default,
            annotation=hints[field.name],
        )
        for field in fields(Wish)
    }
    own = inspect.signature(command)
    kept = [parameter for name, parameter in own.parameters.items() if name != "wish"]

    def with_options(**given: Any) -> None:
        asked = {name: given.pop(name) for name in options}
        command(**given, wish=Wish(**asked))

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


class Backing(NamedTuple):
    """A tune arranged as it was asked for, and the step to practise; `tune` has the chords
    and the dance that are played, `hand` says in words what the left hand does; `levels` are
    the channel volumes of every track."""

    reading: Reading
    tune: Tune
    arrangement: Arrangement
    step: Step
    manner: Manner
    hand: str
    levels: dict[Role, int]


def build(path: Path, wish: Wish) -> Backing:
    """Read and arrange a tune; what is odd about it is said.

    Raises BackingError where something asked for cannot be had.
    """
    reading = read_tune(path, wish.number, voice=wish.voice)
    dance = wish.dance
    if dance and tune_dance(reading.tune, Manner(dance=dance)) is None:
        raise PracticeError(f"{dance!r} is not a dance that is known here", "try reel, jig, waltz")
    manner = Manner(
        swing=_read_swing(wish.swing),
        thirds=not wish.no_thirds,
        ornaments=not wish.plain,
        dance=dance,
        full_chords=wish.full_chords,
    )
    step = _read_step(reading.tune, wish, manner)
    levels = _read_balance(wish.balance)
    check_a4(wish.a4)
    if not 0 <= wish.tremolo <= MOST_TREMOLO:
        raise PracticeError(
            f"a tremolo of {wish.tremolo:g} cents", f"give 0 to {MOST_TREMOLO:g} cents; 0 is dry"
        )
    asked = load_style(wish.style) if wish.style else None
    chords = Chords.TUNE if asked and asked.from_key and wish.chords is None else wish.chords
    layout = load_box(wish.box) if wish.box else None
    tune, said = with_chords_from(reading.tune, chords, layout.all_chords if layout else ())
    style = asked or load_style(_usual_style(tune, manner))
    side = _side(tune, style, manner, layout, wish.profile) if layout else None
    arrangement = arrange(tune, style, manner, side=side)
    say_notices(reading._replace(notices=(*reading.notices, *said)))
    if not tune.has_chords and chords is not Chords.NONE:
        _say_no_chords(style, chosen=bool(wish.style))
    if manner.swing and not any(swing_unit(bar.metre) for bar in arrangement.bars):
        warn(f"--swing changes nothing here: in {reading.tune.metre} no pairs are swung")
    hand = f"{style.name}, {'playable on ' + wish.box if wish.box else 'band backing'}"
    return Backing(
        reading, replace(tune, dance=dance or tune.dance), arrangement, step, manner, hand, levels
    )


def _say_no_chords(style: Style, *, chosen: bool) -> None:
    if not chosen:
        warn("the tune gives no chords: a drone on the key note is played",
             "write chord symbols into the tune, or choose with --style")  # fmt: skip
    elif not style.from_key:
        warn("the tune gives no chords: its tonic chord is played throughout",
             "write chord symbols into the tune")  # fmt: skip


def _side(tune: Tune, style: Style, manner: Manner, layout: Layout, profile: str) -> Side:
    """The bass side of a box under the tune's fingering; what it lacks is said."""
    from backing.box.words import gap_words, sits
    from backing.practice.on_box import on_box

    found = on_box(tune, style, manner, layout, load_costs(profile) if profile else None)
    if not found.fit.fits:
        warn(sits(found.fit), "backing fit says what helps")
    for gap in found.fit.gaps:
        warn(f"left hand: {gap_words(found.fit.layout, gap)}")
    return found.side


def _usual_style(tune: Tune, manner: Manner) -> str:
    if not tune.has_chords:
        return "drone"
    dance = tune_dance(tune, manner)
    return usual_style(dance.name if dance else "", tune.metre)


# -- reading what was asked -----------------------------------------------------


def _read_step(tune: Tune, wish: Wish, manner: Manner) -> Step:
    span = _read_span(wish.bars, wish.section, wish.ending)
    return Step(
        span=span,
        tempo=_read_tempo(wish.tempo, wish.percent, _unit(tune, span, manner)),
        times=1 if wish.times is None else wish.times,
        muted=_read_muted(wish.mute or []),
        count_in=wish.count_in,
    )


def _read_span(bars: str, section: str, ending: int | None) -> Span:
    if bars and section:
        raise typer.BadParameter("give --bars or --section, not both")
    if ending is not None and not section:
        raise typer.BadParameter("--ending goes with --section")
    if section:
        return OneSection(section, ending)
    if not bars:
        return Whole()
    match = re.fullmatch(r"\s*(\d{1,6})\s*(?:[-–]\s*(\d{1,6})\s*)?", bars)
    if not match:
        raise typer.BadParameter(f"--bars {bars!r}: give bars like 5-6, or 5")
    return Bars(int(match[1]), int(match[2] or match[1]))


def _unit(tune: Tune, span: Span, manner: Manner) -> Fraction:
    """The felt beat where the practice begins."""
    bars = [tune.bars[index] for index in find_bars(tune, span)]
    first = next((bar for bar in bars if not bar.pickup), bars[0])
    beats = felt(first.metre, tune_dance(tune, manner)).beats
    return beats[0] if beats else own_tempo(tune, manner).unit


def _read_tempo(tempo: str, percent: float | None, unit: Fraction) -> Tempo | Fraction:
    if tempo and percent is not None:
        raise typer.BadParameter("give --tempo or --percent, not both")
    if percent is not None:
        if not 1 <= percent <= 1000:
            raise PracticeError(f"{percent:g} per cent", "give 1 to 1000 per cent")
        return Fraction(str(round(percent, 3))) / 100
    if not tempo:
        return Fraction(1)
    try:
        return parse_tempo(tempo, unit)
    except ValueError as error:
        raise PracticeError(f"--tempo: {error}", "give felt beats a minute, 60 or 3/8=60") from None


def _read_muted(names: list[str]) -> frozenset[Role]:
    known = {role.value: role for role in MUTABLE}
    for name in names:
        if name.lower() not in known:
            raise typer.BadParameter(f"--mute {name!r}: give {', '.join(known)}")
    return frozenset(known[name.lower()] for name in names)


def _read_balance(text: str) -> dict[Role, int]:
    """Channel volumes from loudness in per cent of usual; a volume counts as its square."""
    levels = dict(LEVELS)
    for part in text.split(",") if text else ():
        name, _, number = part.partition("=")
        role = next((role for role in MUTABLE if role.value == name.strip().lower()), None)
        match = _PER_CENT.match(number)
        if role is None or not match:
            known = ", ".join(MUTABLE)
            raise typer.BadParameter(
                f"--balance {part.strip()!r}: give a track and per cent, like click=50 ({known})"
            )
        level = round(LEVELS[role] * (float(match[1]) / 100) ** 0.5)
        if level > _LOUDEST:
            most = int(100 * (_LOUDEST / LEVELS[role]) ** 2)
            raise typer.BadParameter(f"--balance {part.strip()}: {role} goes up to {most}")
        levels[role] = level
    return levels


def _read_swing(text: str) -> Fraction | None:
    if not text:
        return None
    match = _SWING.match(text.strip())
    ratio = Fraction(match[1]) / int(match[2]) if match and int(match[2]) else Fraction(0)
    if not 1 <= ratio <= 3:
        raise typer.BadParameter(f"--swing {text!r}: give a ratio from 1:1 to 3:1, like 2:1")
    return ratio
