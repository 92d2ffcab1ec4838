"""`backing make`: from a tune and a style to a practice file."""

from collections.abc import Iterator
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from backing.arranging.arrange import own_tempo
from backing.cli import typed
from backing.cli.asking import (
    TREMOLO_IDLE,
    a4_of,
    build,
    hand_words,
    tremolo_of,
)
from backing.cli.options import FILE, SOUND, PracticeArgument, ReplaceOption
from backing.cli.practising import practice_asked
from backing.cli.printing import say, warn
from backing.cli.speech import lasting, per_cent, speed_words
from backing.cli.step_text import devices_text, manner_text, passage_text, ways_text
from backing.cli.wish import Wish, takes_a_wish
from backing.errors import UsageError
from backing.files import check_output, name_for, save
from backing.files.codecs import AUDIO_SUFFIXES, check_audio, check_length
from backing.files.missing import no_file
from backing.files.toml_files import is_toml
from backing.music.tune import Tune
from backing.practice.backing import Backing, performance_of, seamless_of
from backing.practice.ends import LEAD_IN_BARS
from backing.practice.passages import OneSection, Whole, find_bars
from backing.practice.performance import Performance
from backing.practice.plan import LeadIn, Step
from backing.practice.practice import performance_of_practice
from backing.render.tuning import A4
from backing.wording import count, listed

if TYPE_CHECKING:
    from backing.cli.practice_making import PracticeAsked

_SUFFIXES = (".mid", ".midi", *AUDIO_SUFFIXES)
_RATE = 48000


@takes_a_wish
def make(
    tune: PracticeArgument,
    wish: Wish,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="The file to write: sound (.mp3, .wav, .flac, .ogg, .opus), or MIDI (.mid). "
            "Without it a .mp3 here, under a name that tells what is in it.",
            show_default=False,
            rich_help_panel=FILE,
        ),
    ] = None,
    seamless: Annotated[
        bool,
        typer.Option(
            "--seamless",
            help="A sound file that a phone's repeat button goes round in without a gap: no "
            "count-in, and its end dies away into its beginning.",
            rich_help_panel=FILE,
        ),
    ] = False,
    sound_font: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Sound it with this sound font (.sf2, .sf3), through FluidSynth, instead of "
            "the built-in reeds.",
            show_default=False,
            rich_help_panel=SOUND,
        ),
    ] = None,
    sample_rate: Annotated[
        str,
        typer.Option(
            help=f"Of a sound file: samples a second; usual is {_RATE}.",
            metavar=str(_RATE),
            show_default=False,
            rich_help_panel=FILE,
        ),
    ] = "",
    single_track: Annotated[
        bool,
        typer.Option(
            "--single-track",
            help="Put all into one MIDI track, for simple players.",
            rich_help_panel=FILE,
        ),
    ] = False,
    replace: ReplaceOption = False,
) -> None:
    """Make a practice file from a tune: melody, bass, chords and click, as sound or as MIDI.

    Examples:

      backing make examples/the-lock-keepers-kettle.abc

      backing make examples/the-lock-keepers-kettle.abc --percent 60 -o slow.mp3

      backing make examples/the-lock-keepers-kettle.abc --percent 60 --bars 5-6 --times 4 --mute melody -o loop.mid

      backing make examples/the-lock-keepers-kettle.abc --bars 5-6 --percent 50..100 --step 10 -o ladder.mp3

      backing make examples/the-lock-keepers-kettle.abc --part B --percent 70 --seamless -o b-part.ogg

      backing make examples/a-lesson-on-the-kettle.toml -o lesson.mp3
    """  # noqa: E501 - a command is copied whole
    suffix = output.suffix.lower() if output else _usual_suffix(seamless, single_track)
    audible = suffix in AUDIO_SUFFIXES
    if output:
        check_output(output, tune, _SUFFIXES, replace=replace)
    rate = typed.whole_number(sample_rate, "--sample-rate", str(_RATE)) if sample_rate else _RATE
    if audible:
        _check_sound(output or Path(f"sound{suffix}"), sound_font, rate, single_track=single_track)
    elif seamless or sound_font or sample_rate:
        raise UsageError(
            "--seamless, --sound-font and --sample-rate are for sound files", "say -o name.mp3"
        )
    if seamless and wish.count_in not in ("", "0"):
        raise UsageError("--seamless has no count-in", "give it without --count-in")
    if seamless and (is_toml(tune.name) or wish.then):
        raise UsageError("a practice has no loop without a seam", "give it without --seamless")
    practice = practice_asked(tune, wish)
    if practice:
        wish = practice.tuning
    a4, tremolo = a4_of(wish), tremolo_of(wish)
    if practice:
        made = _from_practice(practice, a4=a4)
    else:
        made = _from_tune(tune, wish, seamless=seamless, a4=a4)
    performance, titled, said = made.performance, made.titled, made.said
    _warn(
        performance,
        tremolo=tremolo if wish.tremolo else 0.0,
        audible=audible,
        reeds=audible and not sound_font,
    )
    if output is None:
        output = Path(name_for(performance.title, titled, suffix))
        check_output(output, tune, _SUFFIXES, replace=replace)
    if audible:
        from backing.cli.sound import SoundChoice, write_sound

        check_length(output, performance.seconds, rate)
        sound = SoundChoice(rate, sound_font, seamless, a4, tremolo)
        title = ", ".join([performance.title, *titled])
        size = write_sound(output, performance, made.tune, sound, title, said, replace=replace)
        said.append(size)
    else:
        from backing.render.midi import render_midi

        data = render_midi(performance, single_track=single_track, a4=a4)
        save(output, data, replace=replace)
    say(f"made {output}: {', '.join([performance.title, *said])}")
    for line in made.steps:
        say(f"  {line}")


class _Made(NamedTuple):
    """What was made: all that sounds, of which tune, what its file's name tells, and what is
    said of it; of a practice its steps, a line each."""

    performance: Performance
    tune: Tune
    titled: tuple[str, ...]
    said: list[str]
    steps: tuple[str, ...] = ()


def _from_tune(path: Path, wish: Wish, *, seamless: bool, a4: float) -> _Made:
    reading, backing = build(path, wish)
    performance = seamless_of(backing) if seamless else performance_of(backing)
    titled = _titled(reading.tune, backing, performance)
    said = _said(reading.tune, backing, performance, wish, seamless=seamless, a4=a4)
    return _Made(performance, backing.tune, titled, said)


def _from_practice(asked: "PracticeAsked", *, a4: float) -> _Made:
    from backing.cli.practice_text import steps_text

    practice, course, _ = asked
    steps = tuple(steps_text(practice, course))
    performance = performance_of_practice(practice, course)
    rests = sum(1 for step in practice.plan.steps if step.rest)
    said = [
        count(len(practice.plan.starts) - rests, "step"),
        *(["rests left out"] if rests else []),
        *([f"A = {a4:g} Hz"] if a4 != A4 else []),
        lasting(performance.seconds),
    ]
    return _Made(performance, practice.first.tune, (), said, steps)


def _usual_suffix(seamless: bool, single_track: bool) -> str:
    """The kind of file where none is named: what every phone opens, without the silence at its
    ends where a loop must have no gap."""
    if single_track:
        return ".mid"
    return ".flac" if seamless else ".mp3"


def _warn(performance: Performance, *, tremolo: float, audible: bool, reeds: bool) -> None:
    """Say what is odd about what is made; `tremolo` is what was asked for, 0 is nothing."""
    for notice in performance.notices:
        warn(notice)
    if not audible and not any(t.events for t in performance.tracks if not t.muted):
        warn("everything is muted: the file is silent", "leave out one --mute")
    if tremolo and not reeds:
        warn(TREMOLO_IDLE)


def _check_sound(
    output: Path, sound_font: Path | None, sample_rate: int, *, single_track: bool
) -> None:
    """Refuse what cannot be written, before any work is done."""
    if single_track:
        raise UsageError("--single-track is for MIDI files", "say -o name.mid")
    check_audio(output, sample_rate)
    if sound_font is not None:
        from backing.files.sound_font import check_sound_font

        if not sound_font.exists():
            raise no_file(sound_font, ".sf2")
        check_sound_font(sound_font, sample_rate)


def _said(
    tune: Tune,
    backing: Backing,
    performance: Performance,
    wish: Wish,
    *,
    seamless: bool,
    a4: float,
) -> list[str]:
    """What was made, in words: which part of the tune, how fast, how often, and the rest."""
    step = backing.plan.steps[-1]
    counted = sum(1 for _ in takewhile(lambda bar: bar.index < 0, performance.bars))
    counted -= LEAD_IN_BARS if step.lead_in is LeadIn.TUNE else 0
    muted = _muted(backing)
    metre = next(bar.metre for bar in performance.bars if bar.index >= 0)
    tempo = performance.tempos[0].tempo
    return [
        _what(backing),
        "once" if step.times == 1 else f"{step.times} times",
        hand_words(backing, wish),
        speed_words(tune, tempo, metre, backing.manner),
        f"count-in {count(counted, 'bar')}" if counted else "no count-in",
        *(["seamless"] if seamless else []),
        *devices_text(step, backing.tune),
        *manner_text(step),
        *_silent(step, muted),
        *([f"A = {a4:g} Hz"] if a4 != A4 else []),
        lasting(performance.seconds),
    ]


def _titled(tune: Tune, backing: Backing, performance: Performance) -> tuple[str, ...]:
    """What tells a file from others of the same tune: which bars, how fast, without what."""
    span = backing.plan.steps[-1].span
    which = [_what(backing)] if not isinstance(span, Whole) else []
    speed = per_cent(performance.tempos[0].tempo, own_tempo(tune, backing.manner))
    muted = _muted(backing)
    ways = ways_text(backing.plan.steps[-1], speed)
    return (*which, *ways, *([f"without {listed(muted)}"] if muted else []))


def _silent(step: Step, muted: list[str]) -> Iterator[str]:
    """Which tracks are silent; nothing where that is said, for it changes from round to round."""
    if muted:
        yield f"{listed(muted)} muted"
    elif not (step.echo or step.less_help or step.hands):
        yield "nothing muted"


def _muted(backing: Backing) -> list[str]:
    """The tracks that are silent, by name."""
    return [name for name, role in typed.TRACKS.items() if role in backing.plan.steps[-1].muted]


def _what(backing: Backing) -> str:
    step = backing.plan.steps[-1]
    span = step.span
    if isinstance(span, OneSection):
        full = sum(
            1 for index in find_bars(backing.tune, span) if not backing.tune.bars[index].begins
        )
        return f"{passage_text(span)}, {count(full, 'bar')}"
    if not isinstance(span, Whole):
        return passage_text(span)
    full = sum(1 for bar in backing.arrangement.bars if not bar.begins)
    first = "the first part once to yourself, then " if len(backing.plan.steps) > 1 else ""
    return f"{first}the whole tune, {count(full, 'bar')}"
