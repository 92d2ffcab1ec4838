"""`backing make`: from a tune and a style to a practice file."""

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Annotated

import typer

from backing.arranging.arrange import Manner, arrange, own_tempo, tune_dance
from backing.arranging.arrangement import Role
from backing.arranging.box_true import Side
from backing.arranging.melody import swing_unit
from backing.arranging.style import Style
from backing.arranging.usual import usual_style
from backing.box.layout import Layout
from backing.cli.chording import Chords, with_chords_from
from backing.cli.talk import (
    DanceOption,
    TuneArgument,
    TuneNumber,
    VoiceOption,
    bars_a_minute,
    count,
    say,
    say_notices,
    warn,
    whose_tempo,
)
from backing.errors import PracticeError
from backing.files import check_output, load_box, load_costs, load_style, read_tune, save
from backing.music.dance import felt
from backing.music.tempo import Tempo, decimal, parse_tempo
from backing.music.tune import Tune
from backing.practice.performance import Performance, perform
from backing.practice.plan import Bars, OneSection, Plan, Span, Step, Whole, find_bars
from backing.render.midi import render_midi

_MUTABLE = (Role.MELODY, Role.BASS, Role.CHORDS, Role.CLICK)
_SWING = re.compile(r"(\d{1,2}(?:\.\d)?)\s*:\s*(\d{1,2})$")
_SUFFIXES = (".mid", ".midi")


def make(
    tune: TuneArgument,
    output: Annotated[
        Path,
        typer.Option("--output", "-o", help="The MIDI file to write (.mid).", show_default=False),
    ],
    style: Annotated[
        str,
        typer.Option(
            help="The left hand: a name from 'backing styles', or a style file (.toml). Without "
            "it: the one for the dance; the drone where there are no chords.",
            show_default=False,
        ),
    ] = "",
    tempo: Annotated[
        str,
        typer.Option(
            help="Felt beats a minute: 60, or 3/8=60 to name the note that beats.",
            show_default=False,
        ),
    ] = "",
    percent: Annotated[
        float | None,
        typer.Option(
            help="Per cent of the tune's own tempo, or of the usual one.", show_default=False
        ),
    ] = None,
    count_in: Annotated[
        int | None,
        typer.Option(
            help="Bars of clicks before the start; 0 for none. Without it: at least four felt "
            "beats, three in slow three-time.",
            show_default=False,
        ),
    ] = None,
    bars: Annotated[str, typer.Option(help="Only these bars: 5-6, or 5.", show_default=False)] = "",
    section: Annotated[
        str, typer.Option(help="Only this part of the tune: A, B ...", show_default=False)
    ] = "",
    ending: Annotated[
        int | None,
        typer.Option(
            help="With --section: which time's bars end it, 1 or 2 ...", show_default=False
        ),
    ] = None,
    times: Annotated[int, typer.Option(help="How often it is played, one after the other.")] = 1,
    mute: Annotated[
        list[str] | None,
        typer.Option(
            help="Leave out melody, bass, chords or click; may be given several times.",
            show_default=False,
        ),
    ] = None,
    swing: Annotated[
        str,
        typer.Option(
            help="How uneven pairs of quavers are: 2:1, 3:2, 1:1 for even. Without it: hornpipes "
            "and schottisches 2:1.",
            show_default=False,
        ),
    ] = "",
    chords: Annotated[
        Chords | None,
        typer.Option(
            help="suggest: found for the melody. tune: those in the tune. none: only the key "
            "note's. Without it: the tune's, found where it has none.",
            show_default=False,
        ),
    ] = None,
    no_thirds: Annotated[
        bool,
        typer.Option("--no-thirds", "--thirds-out", help="Leave the third out of every chord."),
    ] = False,
    box: Annotated[
        str,
        typer.Option(
            help="Only what this box's left hand has under the melody: a name from 'backing "
            "boxes', or a box file (.toml). Without it the left hand is free.",
            show_default=False,
        ),
    ] = "",
    profile: Annotated[
        str,
        typer.Option(
            help="With --box: how the melody is fingered, as in 'backing fit'.",
            show_default=False,
        ),
    ] = "",
    full_chords: Annotated[
        bool,
        typer.Option(
            "--full-chords",
            help="Sound every note of a chord symbol, as a synth can, not only what a box has.",
        ),
    ] = False,
    plain: Annotated[
        bool, typer.Option("--plain", help="Leave out grace notes, rolls, trills and fermatas.")
    ] = False,
    dance: DanceOption = "",
    number: TuneNumber = "",
    voice: VoiceOption = "",
    single_track: Annotated[
        bool,
        typer.Option("--single-track", help="Put all into one track, for simple players."),
    ] = False,
) -> None:
    """Make a practice file from a tune: melody, bass, chords and click, as MIDI.

    Examples:

      backing make reel.abc -o reel.mid

      backing make reel.abc --percent 60 --bars 5-6 --times 4 --mute melody -o loop.mid

      backing make jig.abc --style drone --tempo 3/8=70 --section B --count-in 2 -o b.mid
    """
    check_output(output, tune, _SUFFIXES)
    reading = read_tune(tune, number, voice=voice)
    if dance and tune_dance(reading.tune, Manner(dance=dance)) is None:
        raise PracticeError(f"{dance!r} is not a dance that is known here", "try reel, jig, waltz")
    manner = Manner(
        swing=_read_swing(swing),
        thirds=not no_thirds,
        ornaments=not plain,
        dance=dance,
        full_chords=full_chords,
    )
    span = _read_span(bars, section, ending)
    step = Step(
        span=span,
        tempo=_read_tempo(tempo, percent, _unit(reading.tune, span, manner)),
        times=times,
        muted=_read_muted(mute or []),
        count_in=count_in,
    )
    asked = load_style(style) if style else None
    if asked and asked.from_key and chords is None:
        chords = Chords.TUNE
    layout = load_box(box) if box else None
    only = layout.all_chords if layout else ()
    chorded, said = with_chords_from(reading.tune, chords, only)
    chosen = asked or load_style(_usual_style(chorded, manner))
    side = _side(chorded, chosen, manner, layout, profile) if layout else None
    arrangement = arrange(chorded, chosen, manner, side=side)
    performance = perform(
        arrangement, Plan((step,)), replace(chorded, dance=dance or chorded.dance)
    )
    data = render_midi(performance, single_track=single_track)
    say_notices(reading._replace(notices=(*reading.notices, *said)))
    if not chorded.has_chords and chords is not Chords.NONE:
        if not style:
            warn("the tune gives no chords: a drone on the key note is played",
                 "write chord symbols into the tune, or choose with --style")  # fmt: skip
        elif not chosen.from_key:
            warn("the tune gives no chords: its tonic chord is played throughout",
                 "write chord symbols into the tune")  # fmt: skip
    if manner.swing and not any(swing_unit(bar.metre) for bar in arrangement.bars):
        warn(f"--swing changes nothing here: in {reading.tune.metre} no pairs are swung")
    for notice in performance.notices:
        warn(notice)
    if not any(track.events for track in performance.tracks if not track.muted):
        warn("everything is muted: the file is silent", "leave out one --mute")
    save(output, data)
    hand = f"{chosen.name}, {'playable on ' + box if box else 'band backing'}"
    say(summary(output, reading.tune, performance, step, manner, hand))


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


def summary(
    output: Path, tune: Tune, performance: Performance, step: Step, manner: Manner, style: str
) -> str:
    """The one line that says what was made."""
    counted = sum(1 for bar in performance.bars if bar.index < 0)
    muted = [role.value for role in _MUTABLE if role in step.muted]
    parts = [
        performance.title,
        _what(performance, step),
        "once" if step.times == 1 else f"{step.times} times",
        style,
        _speed(tune, performance, manner),
        f"count-in {count(counted, 'bar')}" if counted else "no count-in",
        f"{' and '.join(muted)} muted" if muted else "nothing muted",
        f"{performance.seconds:.1f} seconds",
    ]
    return f"made {output}: {', '.join(parts)}"


def _what(performance: Performance, step: Step) -> str:
    if isinstance(step.span, Bars):
        first, last = step.span.first, step.span.last
        return f"bar {first}" if first == last else f"bars {first}-{last}"
    full = sum(1 for bar in performance.bars if bar.index >= 0 and not bar.begins)
    bars = count(full // step.times, "bar")
    if isinstance(step.span, OneSection):
        return f"{step.span.name.upper()} part, {bars}"
    return f"the whole tune, {bars}"


def _speed(tune: Tune, performance: Performance, manner: Manner) -> str:
    """Tempo with unit, per cent of what, and bars a minute."""
    own = own_tempo(tune, manner)
    tempo = performance.tempos[0].tempo
    whose = whose_tempo(tune, manner)
    if tempo.wholes != own.wholes:
        whose = f"{decimal(100 * tempo.wholes / own.wholes)} % of {own}, {whose}"
    metre = next(bar.metre for bar in performance.bars if bar.index >= 0)
    bars = bars_a_minute(tempo, metre)
    return f"{tempo} ({whose}{'; ' + bars if bars else ''})"


# -- reading what was asked -----------------------------------------------------


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
    known = {role.value: role for role in _MUTABLE}
    for name in names:
        if name.lower() not in known:
            raise typer.BadParameter(f"--mute {name!r}: give {', '.join(known)}")
    return frozenset(known[name.lower()] for name in names)


def _read_swing(text: str) -> Fraction | None:
    if not text:
        return None
    match = _SWING.match(text.strip())
    ratio = Fraction(match[1]) / int(match[2]) if match and int(match[2]) else Fraction(0)
    if not 1 <= ratio <= 3:
        raise typer.BadParameter(f"--swing {text!r}: give a ratio from 1:1 to 3:1, like 2:1")
    return ratio
